package fill

import (
	"fmt"
	"math"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/cells"
	"pourwright/internal/physics/chill"
	"pourwright/internal/physics/gas"
	"pourwright/internal/physics/tension"
)

// Metal is the fluid.
type Metal struct {
	Density   float64 // kg/m3
	Viscosity float64 // Pa s
	Tension   float64 // N/m; 0 leaves tension out
	Angle     tension.Angle
}

// Kind says what lies beyond an opening.
type Kind int

const (
	Shut  Kind = iota // a wall
	Jet               // metal that comes in at a speed
	Head              // metal at a pressure
	Air               // gas at a pressure; metal that comes there runs over
	Gauze             // gas at the air's pressure; metal falls back, and is let go where it pulls
)

// Beyond is what lies beyond one port.
type Beyond struct {
	Kind     Kind
	Speed    float64 // m/s into the cavity, Jet
	Pressure float64 // Pa over the air's, at the opening: Head, Air
}

// Problem is what a run starts from.
type Problem struct {
	Cells    *cells.Cells
	Metal    Metal
	Gravity  vec.V3                          // m/s2
	Slip     bool                            // walls without friction
	Slide    [6]vec.V3                       // m/s of the walls on the low and high side of cells along x, y, z; zero: they stand
	Ports    []Beyond                        // one for each port of the cells; nil: all shut
	Sections []cells.Section                 // of thin parts; nil: everything is resolved
	Given    [3][]float64                    // velocities at the start, through the low sides; nil: at rest
	Vents    []Vent                          // ways out for closed air; metal does not pass them
	Drive    func(t float64, ports []Beyond) // changes what lies beyond the ports, before each step; nil: nothing
	Heat     *chill.State                    // heat of the metal and what it loses; nil: none
	Pour     float64                         // degC of the metal at the start and of what comes in
	Quick    bool                            // a third of the time for a looser answer: longer steps, planes turned once, curvature only where the metal is slow
	Rise     float64                         // m/s at which void that metal holds goes up through it, say Metal.Bubbles; 0: it stays
	Courant  float64                         // of what passes a cell in a step; 0: 0.5, or 1.5 where Quick
	Share    float64                         // of its first residual at which a pressure may stop; 0: 1e-4
	Ended    func(Part)                      // called when a part of a step's work is done, for who measures; nil: nobody does
}

func (p *Problem) check(f []float64) error {
	bad := func(format string, args ...any) error {
		return fault.New(fault.Input, "fill", "", format, args...)
	}
	finite := func(list ...float64) bool {
		for _, x := range list {
			if x-x != 0 {
				return false
			}
		}
		return true
	}
	c, m := p.Cells, p.Metal
	if c == nil || c.N == 0 {
		return bad("the cavity has no open cell")
	}
	if len(f) != c.Wall+1 {
		return bad("%d shares for %d cells", len(f), c.Wall+1)
	}
	for i, x := range f {
		if !(x >= 0 && x <= 1+1e-9) {
			return bad("the share of the cell at %s is %g", place(c, int32(i)), x)
		}
	}
	if !(m.Density > 0) || !(m.Viscosity >= 0) || !(m.Tension >= 0) || math.IsInf(m.Density+m.Viscosity+m.Tension, 0) {
		return bad("density %g, viscosity %g or tension %g of the metal is no sensible number", m.Density, m.Viscosity, m.Tension)
	}
	if !p.Gravity.Finite() {
		return bad("gravity is not a number")
	}
	for _, v := range p.Slide {
		if !v.Finite() {
			return bad("the speed of a wall is not a number")
		}
	}
	if p.Ports != nil && len(p.Ports) != c.Ports {
		return bad("%d openings are described, the cavity has %d", len(p.Ports), c.Ports)
	}
	if err := sensible(c, p.Ports); err != nil {
		return err
	}
	for d, u := range p.Given {
		if u == nil {
			continue
		}
		if len(u) != c.Wall+1 {
			return bad("%d velocities along %c are given for %d cells", len(u), 'x'+d, c.Wall+1)
		}
		for i := range int32(c.N) {
			if !finite(u[i]) {
				return bad("the velocity given along %c at %s is %g", 'x'+d, place(c, i), u[i])
			}
		}
	}
	most := 0.9
	if p.Quick {
		most = 1.5
	}
	if !(p.Courant >= 0 && p.Courant <= most) {
		return bad("a step may move %g of a cell: give 0 to %g", p.Courant, most)
	}
	if !(p.Rise >= 0 && p.Rise < math.MaxFloat64) {
		return bad("void rises at %g m/s: give 0 or more", p.Rise)
	}
	if !(p.Share >= 0 && p.Share < 1) {
		return bad("a pressure may stop at %g of its first residual: give 0 to 1", p.Share)
	}
	if p.Heat != nil {
		if p.Heat.Cells() != c {
			return bad("the metal's heat is that of other cells")
		}
		if !finite(p.Pour, p.Heat.Poured(p.Pour)) {
			return bad("the metal is poured at %g degC", p.Pour)
		}
	}
	for k, v := range p.Vents {
		if v.Cell < 0 || int(v.Cell) >= c.N {
			return bad("vent %d lies in cell %d, the cavity has %d", k+1, v.Cell, c.N)
		}
		if err := v.Outlet.Check(); err != nil {
			return fmt.Errorf("vent %d: %w", k+1, err)
		}
	}
	if p.Sections != nil && len(p.Sections) != c.Wall+1 {
		return bad("%d sections for %d cells", len(p.Sections), c.Wall+1)
	}
	for i, x := range p.Sections {
		if !(x.Blend >= 0 && x.Blend <= 1 && x.Drag >= 0 && finite(x.Drag, x.Wet)) {
			return bad("the thin section at %s is no sensible one: %+v", place(c, int32(i)), x)
		}
	}
	return nil
}

// narrow is the part that the thin form has of the meniscus, beyond where friction needs it: in round and
// square sections all of it up to eleven cells across (the middle of eight reads as wider) and none
// from fourteen on, in slots none, and only in sections under 1.5 capillary lengths
// sqrt(sigma/(rho g)), which a meniscus spans whatever its weight. Resolved curvature alone lets metal through
// the mouth of a hole of six cells at half its head; it holds it at that of a slot. The thin form alone lets a
// thread through the middle of a hole of eight cells at 0.6 of its head, so from shown cells on the larger of
// the two acts.
func (p *Problem) narrow(s cells.Section) float64 {
	const all, none, spans = 11, 14, 1.5
	if m := p.Metal; s.Width > spans*math.Sqrt(m.Tension/(m.Density*p.Gravity.Len())) {
		return 0
	}
	return s.Flat * min(max((none-s.Width/p.Cells.H)/(none-all), 0), 1)
}

// shown is the width, cells, from which a narrow section shows a surface of its own.
const shown = 5.5

// sensible says whether what lies beyond the ports can be.
func sensible(c *cells.Cells, ports []Beyond) error {
	for k, b := range ports {
		bad := func(format string, args ...any) error {
			return fault.New(fault.Input, "fill", "", "beyond the opening at %s "+format, append([]any{place(c, int32(c.N+k))}, args...)...)
		}
		switch {
		case b.Kind == Jet && !(b.Speed >= 0 && b.Speed < math.MaxFloat64):
			return bad("metal comes in at %g m/s: it must be 0 or more", b.Speed)
		case b.Pressure-b.Pressure != 0:
			return bad("the pressure is %g Pa", b.Pressure)
		case b.Kind >= Air && b.Pressure <= -gas.Atmosphere:
			return bad("the pressure of the air is %g Pa: less than none", b.Pressure)
		}
	}
	return nil
}

// place is a cell's centre, or that of a cell beyond an opening, in words.
func place(c *cells.Cells, i int32) string {
	if int(i) >= c.Wall {
		return "the wall"
	}
	q := c.Centre(i).Mul(1e3)
	return fmt.Sprintf("%.1f, %.1f, %.1f mm", q.X, q.Y, q.Z)
}
