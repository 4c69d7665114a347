package sequence

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"

	"pourwright/internal/book/job"
	"pourwright/internal/book/plan"
	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/meshfile"
	"pourwright/internal/shape/standin"
	"pourwright/internal/shop/batch"
	"pourwright/internal/shop/measured"
)

// Readings are what was read off a master without a mesh.
type Readings = measured.Readings

// Measured is what such readings give: sizes and volume as bands.
type Measured = measured.Said

// Band is a value with what it is at least and at most.
type Band = measured.Band

// MeasuredErrors are the errors the readings are taken to have.
var MeasuredErrors = measured.Usual

// InspectMeasured tells the volume of a master without a mesh. Nothing is
// computed of its shape.
func InspectMeasured(r Readings) (Measured, error) { return measured.Measure(r, MeasuredErrors) }

// lump is a master known by measures alone, with the plain body that stands in
// for it.
type lump struct {
	read  measured.Readings
	said  measured.Said
	body  *mesh.Mesh
	form  string
	sha   string
	flat  bool // the back is flat
	share Band // of the master, what lies in half 1
	still [2]float64
	metal float64 // mm3 of channels and cup
	area  float64 // mm2 of the stand-in
}

// wideVolume is half a band of the volume, as a share, from which a closer reading
// is asked for.
const wideVolume = 0.1

// WeighIt is what brings a wide volume down.
const WeighIt = "hang it in a glass of water on the scale and give the gain, or give its mass and density"

// WideVolume reports whether a volume by measures asks for a closer reading.
func WideVolume(b Band) bool { return b.Wide() > wideVolume }

// lumpOf reads the job's measures. The scale is that of the bench, the finer one
// where there are two.
func lumpOf(j *job.Job) (*lump, error) {
	k := j.Master.Measured
	r := measured.Readings{
		Length: k.Length, Width: k.Width, Height: k.Height, Volume: k.Volume, Gain: k.Gain, Water: 20, Mass: k.Mass, Density: k.Density,
		Thinnest: k.Thinnest, Thickest: k.Thickest, Bore: k.Bore, Class: k.Class, Section: k.Section,
	}
	if k.Water != nil {
		r.Water = *k.Water
	}
	e := measured.Usual
	for _, step := range []*float64{j.Bench.ScaleStep, j.Bench.HardenerStep} {
		if step != nil && (*step < e.Scale || j.Bench.ScaleStep == step) {
			e.Scale = *step
		}
	}
	placed := func(err error) error {
		var f *fault.Error
		if errors.As(err, &f) && f.Place != "" {
			f.Place = j.File + ", master.measured." + f.Place
		}
		return err
	}
	l := &lump{read: r, flat: k.Section == "half-round" && k.Class != "ring"}
	var err error
	if l.said, err = measured.Measure(r, e); err != nil {
		return nil, placed(err)
	}
	text, err := json.Marshal(k)
	if err != nil {
		return nil, fault.New(fault.Internal, "measures", "", "%v", err)
	}
	sum := sha256.Sum256(text)
	l.sha = hex.EncodeToString(sum[:])
	size := [3]float64{r.Length, r.Width, r.Height}
	// What the readings give beyond the box lies within the caliper's error.
	f := standin.Form{Size: vec.FromArray(size), Volume: math.Min(l.said.Volume.Value, l.said.Box.Value), Kind: r.Class, Axis: measured.Odd(size), Flat: l.flat,
		Round: r.Section == "round" || r.Section == "half-round" || r.Class == "cone" && r.Section == ""}
	if r.Bore != nil {
		f.Bore = *r.Bore
	} else if r.Class == "ring" {
		f.Bore = boreOf(size, f.Axis, l.said.Volume.Value)
	}
	l.body, l.form, err = standin.Body(f)
	return l, placed(err)
}

// boreOf returns the bore of a ring that was weighed and not measured across its
// hole, from V = S pi/4 (D1 D2 - d2) h with S midway between a round and a square
// section; 0 where that leaves none.
func boreOf(size [3]float64, axis int, volume float64) float64 {
	d1, d2, h := size[(axis+1)%3], size[(axis+2)%3], size[axis]
	q := d1*d2 - volume*4/(math.Pi*h*(1+math.Pi/4)/2)
	if q <= 0 {
		return 0
	}
	return math.Min(math.Sqrt(q), 0.98*math.Min(d1, d2))
}

// raw is the stand-in as if it had been read.
func (l *lump) raw() raw {
	return raw{mesh: l.body, facts: meshfile.Facts{Triangles: len(l.body.F), SHA256: l.sha, Unit: "mm"}, source: Source{Path: "master by measures", From: "job"}}
}

// tell puts what was read into the master, in the place of what its stand-in has.
func (l *lump) tell(m *Master) {
	s := &m.Said
	s.UnitFrom, s.Read, s.Triangles, s.Shells, s.Watertight, s.Genus = "job", plan.Read{}, 0, 0, false, nil
	s.Volume, s.VolumeBand = l.said.Volume.Value, math.Max(l.said.Volume.High-l.said.Volume.Value, l.said.Volume.Value-l.said.Volume.Low)
	s.Measured = &plan.Measured{Class: l.read.Class, Section: l.read.Section, VolumeFrom: l.said.How, StandIn: l.form, Bands: []plan.Band{}}
	l.area = s.Area
	m.Notes = append(m.Notes, Note{Code: "measured", Severity: plan.Should,
		Say: "No shape is known. A plain body of the same size and volume stands in for the master: its outline, parting line, gates and cuts are not those of the piece. Undercuts, trapped air, thin ends and the pour were not computed.",
		Do:  "Draw the parting line on the piece by hand, look for undercuts along the pull, and lead gate and vents to its own ends. Scan or model it before an order that matters."})
	if w := l.said.Volume.Wide(); WideVolume(l.said.Volume) {
		m.Notes = append(m.Notes, Note{Code: "measured", Severity: plan.Should,
			Say: fmt.Sprintf("By %s the volume is known only to %.0f %% either way: metal and rubber with it.", l.said.How, 100*w),
			Do:  WeighIt})
	}
	if l.read.Thinnest == nil {
		m.note("measured", nil, "measure it and give it under [master.measured]", "The thinnest section was not measured; whether it fills was not asked.")
	}
}

// sections puts the thinnest section by the calipers in the place of the
// stand-in's.
func (l *lump) sections(m *Master) {
	m.Wall.Length, m.Wall.At = l.thinnest(), vec.V3{}
	m.Said.Thinnest, m.Said.ThinnestAt = l.thinnest(), plan.P3{}
}

func (l *lump) thinnest() float64 {
	if l.read.Thinnest == nil {
		return 0
	}
	return *l.read.Thinnest
}

// weigh takes the castings out of the solids, and says what share of one lies in
// half 1.
//
// The stand-in's part over the flat parting z = z0 follows from its faces that
// half 1 touches, V1 = sum of the integrals of (z - z0) n_z over them (divergence
// theorem). The master's own part is certain only to lie in the box on either
// side. Within that it is taken as that of the stand-in, by 0.07 for bars,
// plates, discs and rings, by 0.1 for cones and by 0.2 for the rest; a flat back
// by 0.03. These are our choice, no source.
func (l *lump) weigh(t *trace) {
	pull, m := t.split.Pull, t.master.Mesh
	lo, hi, at, n := math.Inf(1), math.Inf(-1), 0.0, 0.0
	for _, p := range m.V {
		lo, hi = math.Min(lo, pull.Dot(p)), math.Max(hi, pull.Dot(p))
	}
	for _, loop := range t.split.Line {
		for _, p := range loop {
			at, n = at+pull.Dot(p), n+1
		}
	}
	at /= math.Max(n, 1)
	one, whole := 0.0, m.Volume()
	for i, label := range t.split.Label {
		if label != 1 {
			continue
		}
		a, b, c := m.Tri(i)
		one += b.Sub(a).Cross(c.Sub(a)).Dot(pull) / 2 * (pull.Dot(a.Add(b).Add(c))/3 - at)
	}
	s := math.Min(math.Max(one/whole, 0), 1)
	if t.split.Back != nil {
		s = math.Round(s)
	}
	slack := 0.2
	switch {
	case s == 0 || s == 1:
		slack = 0.03
	case l.read.Class == "cone":
		slack = 0.1
	case l.read.Class != "" && l.read.Class != "figure":
		slack = 0.07
	}
	// the box on either side holds what lies there
	v := l.said.Volume.Value
	up := l.said.Box.Value * math.Min(math.Max((hi-at)/(hi-lo), 0), 1)
	down := l.said.Box.Value - up
	l.share = Band{Low: math.Min(math.Max(math.Max(s-slack, 0), 1-down/v), s), Value: s, High: math.Max(math.Min(math.Min(s+slack, 1), up/v), s)}
	k := float64(len(t.layout.Placements))
	l.still = [2]float64{t.solids.Half1.Volume() + k*s*whole, t.solids.Half2.Volume() + k*(1-s)*whole}
	l.metal = t.solids.Cavity.Volume() - k*whole
}

// put puts a master of another volume, share in half 1 and modulus into what is
// weighed.
func (l *lump) put(i *batch.Input, volume, share, modulus float64) {
	k := float64(len(i.Castings))
	i.Halves = [2]float64{l.still[0] - k*share*volume, l.still[1] - k*(1-share)*volume}
	i.Cavity = l.metal + k*volume
	i.Castings = append([]float64(nil), i.Castings...)
	for c := range i.Castings {
		i.Castings[c] = volume
	}
	i.Modulus = modulus
	i.Area = math.Max(l.area, volume/modulus) // no body has more V/A than its heaviest place
}

// bands makes the sheet at the ends of volume, share and modulus, and keeps of
// every figure the least and the most.
func (l *lump) bands(t *trace, i batch.Input) error {
	p := t.plan
	both := plan.Figure{Name: "rubber of both halves", Unit: "g", Formula: "half 1 + half 2", Source: "definition", Inputs: map[string]float64{}}
	for k, h := range p.Rubber.Halves {
		both.Inputs[[]string{"half 1, g", "half 2, g"}[k]] = h.MassNet
		both.Value += h.MassNet
	}
	p.Figures = append(p.Figures, both)
	type ends struct{ lo, hi float64 }
	found := map[string]ends{}
	see := func(name string, x float64) {
		e, ok := found[name]
		if !ok {
			e = ends{x, x}
		}
		found[name] = ends{math.Min(e.lo, x), math.Max(e.hi, x)}
	}
	three := func(b Band) [3]float64 { return [3]float64{b.Low, b.Value, b.High} }
	var verdict [3][3][3]string
	for a, v := range three(l.said.Volume) {
		for b, s := range three(l.share) {
			for c, mod := range three(l.said.Modulus) {
				j := i
				l.put(&j, v, s, mod)
				e, err := batch.Estimate(j)
				if err != nil {
					return err
				}
				sum := 0.0
				for _, f := range e.Figures {
					see(f.Name, f.Value)
				}
				for _, h := range e.Rubber.Halves {
					sum += h.MassNet
				}
				see(both.Name, sum)
				verdict[a][b][c] = t.verdict(&j, e.Findings)
			}
		}
	}
	list := &p.Master.Measured.Bands
	add := func(name, unit string, b Band) {
		*list = append(*list, plan.Band{Name: name, Unit: unit, Low: b.Low, Value: b.Value, High: b.High})
	}
	for k, name := range []string{"longest side", "middle side", "shortest side"} {
		add(name, "mm", l.said.Size[k])
	}
	add("volume", "mm3", l.said.Volume)
	add("share in half 1", "", l.share)
	add("modulus of the heaviest place", "mm", l.said.Modulus)
	for _, f := range p.Figures {
		if e, ok := found[f.Name]; ok && e.hi-e.lo > 1e-9*math.Abs(f.Value) {
			add(f.Name, f.Unit, Band{Low: math.Min(e.lo, f.Value), Value: f.Value, High: math.Max(e.hi, f.Value)})
		}
	}
	for k, h := range p.Rubber.Halves {
		name := fmt.Sprintf("rubber of half %d", k+1)
		if most := found[name].hi; most > h.MassMix {
			t.sheet.Findings = append(t.sheet.Findings, plan.Finding{Code: "rubber-batch", Severity: plan.Should, Half: plan.Ptr(k + 1), Computed: plan.Ptr(most), Limit: plan.Ptr(h.MassMix),
				Say: fmt.Sprintf("By its measures half %d may take %.0f g of rubber, and %.0f g are mixed.", k+1, most, h.MassMix),
				Do:  "Weigh the piece or hang it in water for a closer figure, or have that much more at hand while this mix can be poured."})
		}
	}
	var guessed []plan.Guess
	guess := func(name string, b Band, by float64, low, high string) {
		guessed = append(guessed, plan.Guess{Input: name, Used: b.Value * by, Range: [2]float64{b.Low * by, b.High * by}, Flips: plan.Ptr(low != verdict[1][1][1] || high != verdict[1][1][1])})
	}
	guess("volume of the master, cm3", l.said.Volume, 1e-3, verdict[0][1][1], verdict[2][1][1])
	guess("V/A of the heaviest place, mm", l.said.Modulus, 1, verdict[1][1][0], verdict[1][1][2])
	guess("of the master in half 1, share", l.share, 1, verdict[1][0][1], verdict[1][2][1])
	p.Guessed = append(guessed, p.Guessed...)
	slices.SortStableFunc(p.Guessed, func(a, b plan.Guess) int { // those that flip first
		f := func(g plan.Guess) int {
			if g.Flips != nil && *g.Flips {
				return 0
			}
			return 1
		}
		return cmp.Compare(f(a), f(b))
	})
	return nil
}
