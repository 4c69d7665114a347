package command

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"time"

	"pourwright/internal/book/plan"
	"pourwright/internal/book/pour"
	"pourwright/internal/ground/fault"
	"pourwright/internal/working/rig"
	"pourwright/internal/working/sequence"
)

type pourVerb struct {
	Dir    string `arg:"" name:"DIR" help:"Folder of a plan."`
	Freeze bool   `help:"Compute freezing, rest and series of shots only, from a full cavity."`
	Fill   bool   `help:"Compute the filling only."`
	Pours  *int   `placeholder:"N" help:"Pours of the filling to compute, of 7 by steady and unsteady hands: one gives a quick look, and no spread."`
	Fine   bool   `help:"Compute one pour of the filling on the full grid too, 1 mm or finer, for pictures and freezing."`

	Rate     *float64       `placeholder:"CM3/S" help:"Rate at which the ladle gives, cm3/s; by itself what the ingates take, at most 40."`
	Ladle    *float64       `placeholder:"CM3" help:"Metal that one ladle gives, cm3; a second one follows where it does not do."`
	Pause    *time.Duration `placeholder:"TIME" help:"From the end of one ladle to the next, as in 1.5s."`
	Height   *float64       `placeholder:"MM" help:"From the ladle's lip down to the rim of the cup, mm."`
	Tilt     *float64       `placeholder:"DEG" help:"The block leans towards +x, degrees."`
	TiltBack *float64       `placeholder:"DEG" help:"The block leans towards half 1, degrees."`
	Tap      *bool          `negatable:"" help:"The mould is tapped as it fills."`
	Gap      *float64       `placeholder:"MM" help:"Gap of the closed parting through which air leaves, mm (0.05); 0 is tight."`
	FillCell *float64       `placeholder:"MM" help:"Edge of a cell of the filling, mm."`

	Metal        *float64       `placeholder:"C" help:"Metal temperature when poured, C."`
	Mould        *float64       `placeholder:"C" help:"Mould temperature before the first shot, C."`
	Room         *float64       `placeholder:"C" help:"Room temperature, C."`
	Conductivity *float64       `placeholder:"W/mK" help:"Conductivity of the rubber, W/(m K)."`
	Contact      *float64       `placeholder:"W/m2K" help:"Coefficient between metal and rubber, W/(m2 K)."`
	Wait         *time.Duration `placeholder:"TIME" help:"Time from pour to opening, as in 4m30s, instead of the computed one."`
	Rest         *time.Duration `placeholder:"TIME" help:"Rest between shots, instead of the shortest that does."`
	How          *string        `enum:"closed,opened,fan" placeholder:"WAY" help:"How the mould rests: closed, opened or fan (opened, with a fan)."`
	Fan          *bool          `negatable:"" help:"A fan is at hand."`
	Moulds       *int           `placeholder:"N" help:"Moulds in rotation."`
	Shots        *int           `placeholder:"N" help:"Shots of one mould."`
	Cell         *float64       `placeholder:"MM" help:"Edge of a cell, mm."`
	JSON         bool           `name:"json" help:"Print pour.json."`
}

// Run computes the pour of a plan's folder again.
func (v pourVerb) Run(c *call) error {
	ch := sequence.Changes{Metal: v.Metal, Mould: v.Mould, Room: v.Room, Conductivity: v.Conductivity, Contact: v.Contact,
		Moulds: v.Moulds, Shots: v.Shots, Cell: v.Cell, Fan: v.Fan,
		Fill: v.Fill, Freeze: v.Freeze, Pours: v.Pours, Fine: v.Fine, Rate: times(v.Rate, 1e3), Ladle: times(v.Ladle, 1e3), Height: v.Height,
		TiltX: v.Tilt, TiltZ: v.TiltBack, Tap: v.Tap, FillCell: v.FillCell, Gap: times(v.Gap, 1e-3)}
	for _, x := range []struct {
		from *time.Duration
		to   **float64
		name string
	}{{v.Wait, &ch.Wait, "--wait"}, {v.Rest, &ch.Rest, "--rest"}, {v.Pause, &ch.Pause, "--pause"}} {
		if x.from == nil {
			continue
		}
		if *x.from < 0 {
			return fault.New(fault.Usage, "", "give a time such as 4m30s", "%s is %v", x.name, *x.from)
		}
		s := x.from.Seconds()
		*x.to = &s
	}
	if v.How != nil {
		how := *v.How
		if how == "fan" {
			how = "opened, with a fan"
		}
		ch.How = &how
	}
	bar := newProgress(c.err, "")
	d, err := sequence.Pour(c.ctx, file(v.Dir), ch, solver(c, bar, true))
	bar.end()
	if err != nil {
		return err
	}
	if v.JSON {
		var b bytes.Buffer
		if err := pour.Write(&b, d); err != nil {
			return err
		}
		_, err := c.out.Write(b.Bytes())
		return err
	}
	return tellPour(c, d, file(v.Dir))
}

// solver is how the command line computes a pour: results kept, memory watched and
// said before it starts, on a terminal or where told to.
func solver(c *call, bar *progress, tell bool) rig.Options {
	return rig.Options{Store: rig.Open(), Room: rig.Free(), Progress: bar.part, Before: func(s rig.Size) {
		if !tell && !bar.show {
			return
		}
		bar.end()
		on := fmt.Sprintf("%d", s.Cells)
		if s.Cells >= 1e5 {
			on = fmt.Sprintf("%.2g million", float64(s.Cells)/1e6)
		}
		pours := ""
		if s.Runs > 1 {
			pours = fmt.Sprintf(" in %d pours", s.Runs)
		}
		fmt.Fprintf(c.err, "The %s is computed%s on %s cells of %.2g mm; it takes about %d MB.\n", s.Part, pours, on, s.Cell, (s.Bytes+1<<19)>>20)
	}}
}

// tellPour says what came out.
func tellPour(c *call, d *pour.Doc, dir string) error {
	w := c.out
	tellFilling(w, d)
	if !d.Freeze.Computed {
		_, err := fmt.Fprintf(w, "pour.json, the fields and the pictures in %s are new; the plan itself is as it was.\n", dir)
		return err
	}
	f := &d.Freeze
	err := ""
	if e := f.Error; e != nil {
		err = fmt.Sprintf(", within %s", clock(e.OpenAfter))
	}
	if f.OpenAfter == nil {
		fmt.Fprintln(w, "The first casting cannot be lifted within an hour.")
	} else {
		fmt.Fprintf(w, "Solid %s after the pour; open after %s%s, at %.0f °C.\n", clock(*f.SolidAfter), clock(*f.OpenAfter), err, *f.OpenTemperature)
	}
	if f.TouchAfter != nil {
		fmt.Fprintf(w, "Touch after %s.\n", clock(*f.TouchAfter))
	}
	fmt.Fprintf(w, "The rubber reaches %.0f °C; it stands %.0f.\n", *f.RubberPeak, d.Setting.Rubber.Rating)
	if y := d.Cycle; y.Computed {
		fmt.Fprintf(w, "Rest %s, %s; %.1f shots an hour with %d.\n", clock(*y.Rest), *y.How, *y.ShotsPerHour, *y.Moulds)
		if s := d.Steady; s != nil && s.OpenAfter != nil {
			fmt.Fprintf(w, "The mould settles at %.0f °C; then open after %s.\n", s.Mould, clock(*s.OpenAfter))
		}
	}
	fmt.Fprintf(w, "Heat left over: %.1e of what was poured.\n", math.Abs(d.Balance.Share))
	_, e := fmt.Fprintf(w, "pour.json, the fields and the pictures in %s are new; the plan itself is as it was.\n", dir)
	return e
}

// times returns a value in another unit, nil where there is none.
func times(x *float64, by float64) *float64 {
	if x == nil {
		return nil
	}
	y := *x * by
	return &y
}

// tellFilling says what came out of the filling.
func tellFilling(w io.Writer, d *pour.Doc) {
	f := &d.Filling
	if f.Failed != "" {
		fmt.Fprintf(w, "The filling could not be computed: %s.\n", f.Failed)
	}
	if !f.Computed {
		return
	}
	m := &f.Middle
	ladles := ""
	if l := f.Pouring.Ladle; l != nil && *l < f.Charge {
		ladles = fmt.Sprintf(" from %.0f ladles", math.Ceil(f.Charge / *l))
	}
	hands := fmt.Sprintf("%d pours by steady and unsteady hands", len(f.Runs))
	if len(f.Runs) == 1 {
		hands = "one pour by a steady hand"
	}
	fmt.Fprintf(w, "Castings filled to %s, with cup and gates %s, in %s, at %.2g cm3/s%s from %.0f mm; %s on cells of %.2g mm.\n",
		percent(m.Castings), percent(m.Filled), seconds(m.Time), f.Rate/1e3, ladles, f.Pouring.Height, hands, f.Runs[0].Cell)
	fmt.Fprintf(w, "Air that stays: %s of the cavity", percent(m.Trapped))
	if len(f.Air) == 0 {
		fmt.Fprintln(w, ".")
	} else {
		fmt.Fprintln(w, "; places in the block's frame, mm:")
	}
	for i, a := range f.Air {
		if i == mostTold {
			fmt.Fprintf(w, "  and %d smaller places\n", len(f.Air)-i)
			break
		}
		fmt.Fprintf(w, "  %.0f mm3 (%.0f to %.0f) at %s, in %d of %d pours\n", a.Volume.Median, a.Volume.Low, a.Volume.High, spot(a.At), a.Runs, len(f.Runs))
	}
	if len(f.Short) == 0 {
		fmt.Fprintln(w, "No place stays empty for cold.")
	}
	for i, p := range f.Short {
		if i == mostTold {
			break
		}
		fmt.Fprintf(w, "Runs short for cold: %.0f mm3 at %s.\n", p.Volume, spot(p.At))
	}
	for _, p := range f.Bridged {
		fmt.Fprintf(w, "Metal lies over a hanging bore at %s, with %.0f mm3 of air.\n", spot(p.At), p.Volume)
	}
	n, warm := 0, math.Inf(1)
	for _, x := range f.Meetings {
		what := "Fronts meet"
		switch {
		case x.Ladle:
			what = "The second ladle meets the first"
		case x.Cold:
			what = "Cold shut"
		}
		if !x.Ladle && !x.Cold && x.Coldest >= d.Setting.Alloy.Liquidus()+pour.WarmMargin {
			warm = math.Min(warm, x.Coldest)
			continue
		}
		if n++; n > mostTold {
			continue
		}
		fmt.Fprintf(w, "%s at %s: %.0f mm, the colder front at %.0f °C.\n", what, spot(x.At), x.Length, x.Coldest)
	}
	if n > mostTold {
		fmt.Fprintf(w, "And %d more lines.\n", n-mostTold)
	}
	if n == 0 && !math.IsInf(warm, 1) {
		fmt.Fprintf(w, "Where fronts meet they are %.0f °C and more: no line is left.\n", warm)
	}
	if c := m.Coldest; c != nil {
		fmt.Fprintf(w, "Coldest metal at the end %.0f °C (%.0f to %.0f).\n", c.Median, c.Low, c.High)
	}
	if o := m.Overflow; o.High > 0.01*f.Charge {
		fmt.Fprintf(w, "Over the cup run %.2g cm3 (%.2g to %.2g) of %.2g poured.\n", o.Median/1e3, o.Low/1e3, o.High/1e3, f.Charge/1e3)
	}
	for _, b := range f.Broken {
		fmt.Fprintf(w, "A pour broke down: %s.\n", b)
	}
	fmt.Fprintf(w, "Metal left over: %.1e of what was poured; heat %.1e", math.Abs(m.Volume), math.Abs(m.Energy))
	if h := f.Handover; h != nil {
		fmt.Fprintf(w, "; handed on to freezing within %.1e and %.1e", h.Volume, h.Energy)
	}
	fmt.Fprintln(w, ".")
}

// mostTold is how many places of one kind are told on a terminal.
const mostTold = 4

func percent(s pour.Spread) string {
	if s.High-s.Low < 0.0005 {
		return fmt.Sprintf("%.1f %%", 100*s.Median)
	}
	return fmt.Sprintf("%.1f %% (%.1f to %.1f)", 100*s.Median, 100*s.Low, 100*s.High)
}

func seconds(s pour.Spread) string {
	if s.High-s.Low < 0.05 {
		return fmt.Sprintf("%.2f s", s.Median)
	}
	return fmt.Sprintf("%.2f s (%.2f to %.2f)", s.Median, s.Low, s.High)
}

func spot(p plan.P3) string {
	return fmt.Sprintf("%.0f, %.0f, %.0f", math.Round(p[0])+0, math.Round(p[1])+0, math.Round(p[2])+0)
}

// clock writes seconds for a person.
func clock(s float64) string {
	switch {
	case s < 10:
		return fmt.Sprintf("%.1f s", s)
	case s < 120:
		return fmt.Sprintf("%.0f s", s)
	}
	return fmt.Sprintf("%.0f min %02.0f s", math.Floor(s/60), math.Floor(math.Mod(s, 60)))
}
