package command

import (
	"encoding/json"
	"fmt"

	"pourwright/internal/ground/fault"
	"pourwright/internal/working/sequence"
)

// measures are the readings of a master that has no mesh.
type measures struct {
	Length   *float64 `placeholder:"MM" help:"Length over the outermost points."`
	Width    *float64 `placeholder:"MM" help:"Width across it."`
	Height   *float64 `placeholder:"MM" help:"Height across both."`
	Mass     *float64 `placeholder:"G" help:"Mass; with --density it tells the volume."`
	Density  *float64 `placeholder:"G/CM3" help:"Density of what the master is made of."`
	Volume   *float64 `placeholder:"MM3" help:"Volume by the rise of water in a measuring glass."`
	Gain     *float64 `placeholder:"G" help:"What a scale gains when the master hangs in the glass of water that stands on it."`
	Water    *float64 `placeholder:"C" help:"Temperature of that water; 20 without it."`
	Thinnest *float64 `placeholder:"MM" help:"Thinnest section."`
	Thickest *float64 `placeholder:"MM" help:"Thickest section."`
	Bore     *float64 `placeholder:"MM" help:"Across the hole of a ring."`
	Class    *string  `placeholder:"WORD" help:"bar, plate, ring, disc, cone or figure."`
	Section  *string  `placeholder:"WORD" help:"round, half-round or square: a bar or a ring cut across, the others seen from above."`
}

// measuredSaid is what --json prints: mm and mm3.
type measuredSaid struct {
	Computed bool          `json:"computed"` // always false: no shape, no pour
	Size     [3][3]float64 `json:"size"`     // each low, value, high; the longest first
	Box      [3]float64    `json:"box_volume"`
	Volume   [3]float64    `json:"volume"`
	From     string        `json:"volume_from"`
	Modulus  [3]float64    `json:"modulus"` // V/A of the heaviest place, mm
}

func (v measures) run(c *call, m master) error {
	if m.File != "" || m.Pull != "" || m.Up != "" || m.Unit != "" || m.Body != 0 {
		return fault.New(fault.Usage, "", "give either a mesh file or measures; --pull, --up, --unit and --body need a mesh", "measures do not go with a mesh file or its options")
	}
	r := sequence.Readings{Volume: v.Volume, Gain: v.Gain, Water: 20, Mass: v.Mass, Density: v.Density, Thinnest: v.Thinnest, Thickest: v.Thickest, Bore: v.Bore}
	for _, q := range []struct {
		from *float64
		to   *float64
	}{{v.Length, &r.Length}, {v.Width, &r.Width}, {v.Height, &r.Height}, {v.Water, &r.Water}} {
		if q.from != nil {
			*q.to = *q.from
		}
	}
	for _, q := range []struct {
		from *string
		to   *string
	}{{v.Class, &r.Class}, {v.Section, &r.Section}} {
		if q.from != nil {
			*q.to = *q.from
		}
	}
	s, err := sequence.InspectMeasured(r)
	if err != nil {
		return err
	}
	three := func(b sequence.Band) [3]float64 { return [3]float64{b.Low, b.Value, b.High} }
	if m.JSON {
		w := json.NewEncoder(c.out)
		w.SetIndent("", "  ")
		return w.Encode(map[string]measuredSaid{"measured": {
			Size: [3][3]float64{three(s.Size[0]), three(s.Size[1]), three(s.Size[2])},
			Box:  three(s.Box), Volume: three(s.Volume), From: s.How, Modulus: three(s.Modulus),
		}})
	}
	if sequence.WideVolume(s.Volume) {
		fmt.Fprintf(c.err, "note: the volume is known only to %.0f %% either way.\n  %s\n", 100*s.Volume.Wide(), sequence.WeighIt)
	}
	_, err = fmt.Fprintf(c.out, "%-12s %.2f x %.2f x %.2f mm, each by %.2g mm\n%-12s %.3f cm3 by %s; %.3f to %.3f cm3\n%-12s %.2f mm at the heaviest place; %.2f to %.2f mm\n%-12s %s\n%-12s %s\n",
		"size", s.Size[0].Value, s.Size[1].Value, s.Size[2].Value, sequence.MeasuredErrors.Caliper,
		"volume", s.Volume.Value/1000, s.How, s.Volume.Low/1000, s.Volume.High/1000,
		"V/A", s.Modulus.Value, s.Modulus.Low, s.Modulus.High,
		"not computed", "pull, undercuts, trapped air and the pour need a mesh",
		"to plan", "write these readings under [master.measured] of a job: rubber, metal, times and a block round a plain stand-in")
	return err
}
