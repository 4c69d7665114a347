package command

import (
	"bytes"
	"fmt"
	"math"
	"time"

	"pourwright/internal/book/pour"
	"pourwright/internal/ground/fault"
	"pourwright/internal/working/rig"
	"pourwright/internal/working/sequence"
)

type pourVerb struct {
	Dir    string `arg:"" name:"DIR" help:"Folder of a plan."`
	Freeze bool   `help:"Compute freezing, rest and series of shots (the default, as long as nothing else can be computed)."`

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
		Moulds: v.Moulds, Shots: v.Shots, Cell: v.Cell, Fan: v.Fan}
	for _, x := range []struct {
		from *time.Duration
		to   **float64
		name string
	}{{v.Wait, &ch.Wait, "--wait"}, {v.Rest, &ch.Rest, "--rest"}} {
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
		fmt.Fprintf(c.err, "The pour is computed on %.2g million cells of %.2g mm; it takes about %d MB.\n", float64(s.Cells)/1e6, s.Cell, (s.Bytes+1<<19)>>20)
	}}
}

// tellPour says what came out.
func tellPour(c *call, d *pour.Doc, dir string) error {
	w := c.out
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
