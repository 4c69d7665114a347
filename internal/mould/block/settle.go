package block

import (
	"math"

	"pourwright/internal/book/plan"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// settle fixes the block frame, takes everything into it and solves the
// parting surface over the whole block.
func (k *work) settle() {
	l := k.l
	c := k.block.Centre()
	for _, s := range k.shifts {
		f := k.w
		f.Origin = k.w.From(c.Sub(s))
		l.Placements = append(l.Placements, f)
	}
	l.Frame = l.Placements[0]
	l.Edge = k.edge - c.Z
	l.Metal = &mesh.Mesh{}
	for n, s := range k.shifts {
		b := moved(k.m, s.Sub(c))
		l.bodies = append(l.bodies, b)
		l.Metal.Append(b)
		for _, ch := range k.channels {
			ch = ch.Moved(s.Sub(c))
			ch.Cavity = n
			l.Channels = append(l.Channels, ch)
			l.Metal.Append(ch.Mesh())
		}
		g := k.gate.at.Add(s).Sub(c)
		l.Ingates = append(l.Ingates, plan.Ingate{At: g.Array(), Direction: plan.P3{0, -1, 0}, Area: l.Channels[len(l.Channels)-1].Area(0)})
	}
	box := l.Box()
	h := k.f.h
	e := vec.V2{X: 2 * h, Y: 2 * h}
	f := look(l.Metal, vec.V2{X: box.Min.X, Y: box.Min.Y}.Add(e.Mul(-1)), vec.V2{X: box.Max.X, Y: box.Max.Y}.Add(e), h)
	l.Surface = f.membrane(l.Edge)
	l.away = f
	for i := range l.Keys {
		p := l.Keys[i].At.Sub(c)
		p.Z = l.Surface.At(p.X, p.Y)
		l.Keys[i].At = p
	}
	l.MastersNeeded = len(l.Placements)
}

// tolerance returns how far the sheet of the solids may lie from the parting
// surface at a node: little at the line, more in the open and inside metal.
func (l *Layout) tolerance() func(i, j int) float64 {
	f := l.away
	return func(i, j int) float64 {
		if i >= f.nx || j >= f.ny {
			return 0.05
		}
		if a := f.away[j*f.nx+i]; a > 0 && a < 2.5*f.h {
			return 0.002
		}
		return 0.02
	}
}

// clamp works out the force that opens the mould and what holds it.
func (k *work) clamp() {
	l := k.l
	f := l.away
	top := l.Size.Y / 2
	area, depth := 0.0, 0.0
	for q := range f.lo {
		if p := f.xy(q); f.metal(q) && p.Y <= top {
			area += f.h * f.h
			depth += f.h * f.h * (top - p.Y)
		}
	}
	l.Clamps.Opening = k.d.DensityLiquid * Gravity * depth * 1e-9
	l.Clamps.Force = 4 * l.Clamps.Opening
	l.Clamps.Count = 2
	face := l.Size.X*l.Size.Y - area
	l.Clamps.Strain = l.Clamps.Force / (face * 1e-6) / k.d.Modulus
	l.Clamps.Squeeze = l.Clamps.Strain * l.Size.Z
	l.Clamps.BoardSize = vec.V3{X: math.Ceil(l.Size.X/5)*5 + 20, Y: math.Ceil(l.Size.Y / 5 * 5), Z: 18}
	l.Clamps.BoardName = k.d.BoardName
}
