package block

import (
	"pourwright/internal/book/plan"
	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/mould/parting"
	"pourwright/internal/shape/mesh"
)

// settle fixes the block frame, takes everything into it and solves the
// parting surface over the whole block.
func (k *work) settle(ch choice) {
	l := k.l
	k.block = ch.box
	c := k.block.Centre()
	l.Size = k.block.Size()
	l.Placements, l.bodies, l.Channels, l.Ingates, l.Inserts, l.Feeders, l.FlowOffs = nil, nil, nil, nil, nil, nil, nil
	l.Edge = k.edge - c.Z
	l.Metal = &mesh.Mesh{}
	var parts []parting.Body
	for n, y := range k.cavities {
		t := y.shift.Sub(c)
		f := k.w
		f.Origin = k.w.From(t.Mul(-1))
		l.Placements = append(l.Placements, f)
		b := moved(k.m, t)
		l.bodies = append(l.bodies, b)
		l.Metal.Append(b)
		parts = append(parts, parting.Body{Mesh: b})
		for i, x := range y.channels {
			x = x.Moved(c.Mul(-1))
			x.Cavity = n
			l.Channels = append(l.Channels, x)
			m := x.Mesh()
			l.Metal.Append(m)
			parts = append(parts, parting.Body{Mesh: m, Channel: true})
			if i == 0 {
				p := x.Rings[1].P.Sub(x.Rings[0].P).Unit()
				l.Ingates = append(l.Ingates, plan.Ingate{At: y.gate.Sub(c).Array(), Direction: p.Mul(-1).Array(), Area: x.Area(0)})
			}
		}
		for _, x := range k.inserts {
			x = x.moved(t)
			l.Inserts = append(l.Inserts, x)
			parts = append(parts, parting.Body{Mesh: x.mesh(), Channel: true})
		}
		for _, x := range y.feeds {
			x.At = vec.FromArray(x.At).Sub(c).Array()
			l.Feeders = append(l.Feeders, x)
		}
		for _, x := range y.flows {
			x.At, x.To = vec.FromArray(x.At).Sub(c).Array(), vec.FromArray(x.To).Sub(c).Array()
			l.FlowOffs = append(l.FlowOffs, x)
		}
	}
	l.Frame = l.Placements[0]
	box := l.Box()
	over := 2.0
	set := parting.Setting{Edge: &l.Edge}
	if l.Back != nil {
		z := k.edge - c.Z
		set.Back = &z
	}
	h := k.f.h
	e := vec.V2{X: 2 * h, Y: 2 * h}
	par.Do(
		func() {
			l.Surface = parting.Solve(parts, parting.Rect{X0: box.Min.X - over, Y0: box.Min.Y - over, X1: box.Max.X + over, Y1: box.Max.Y + over}, set)
			l.rim = l.lowest()
		},
		func() {
			l.away = look(l.Metal, vec.V2{X: box.Min.X, Y: box.Min.Y}.Add(e.Mul(-1)), vec.V2{X: box.Max.X, Y: box.Max.Y}.Add(e), h)
		})
}

// tolerance returns how far the sheet of the solids may lie from the parting
// surface at one of its nodes: little at the line, more in the open and inside
// metal.
func (l *Layout) tolerance() func(i, j int) float64 {
	f, s := l.away, l.Surface
	return func(i, j int) float64 {
		if i >= s.NX || j >= s.NY {
			return 0.05
		}
		q := f.node(s.X0+float64(i)*s.H, s.Y0+float64(j)*s.H)
		if a := f.away[q]; a > 0 && a < 2.5*s.H {
			return 0.002
		}
		return 0.02
	}
}
