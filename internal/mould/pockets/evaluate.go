package pockets

import (
	"math"
	"slices"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// Evaluate says what the cavity m traps when it stands with up upwards. up
// need not be a unit vector. resolution is the number of columns along the
// longest side for meshes that are open or overlap (0: 400); closed meshes are
// exact and do not use it. Errors: up zero or not finite, a mesh that encloses
// nothing.
func Evaluate(m *mesh.Mesh, up vec.V3, out Outlets, resolution int) (*Stand, error) {
	return Prepare(m).Evaluate(up, out, resolution)
}

// Evaluate is Evaluate for a body made ready before.
func (b *Body) Evaluate(up vec.V3, out Outlets, resolution int) (*Stand, error) {
	up, err := direction(up)
	if err != nil {
		return nil, err
	}
	if resolution <= 0 {
		resolution = 400
	}
	if b.closed {
		if t, h, ok := b.sweep(up, out, nil, nil); ok {
			s := b.stand(t, up, h, h, out, b.integral(up, h, t, 1e-9*b.size))
			s.Exact = true
			at := func(i int32) vec.V3 { return b.m.V[i].Add(b.centre) }
			s.finish(t, at, b.centre.Dot(up))
			return &s.Stand, nil
		}
	}
	return b.byColumns(up, out, resolution)
}

func direction(up vec.V3) (vec.V3, error) {
	if l := up.Len(); !(l > 0) || math.IsInf(l, 0) {
		return up, fault.New(fault.Usage, "up", "give three numbers that are not all zero, such as 0,1,0", "the direction %v has no length", up.Array())
	}
	return up.Unit(), nil
}

// draft is a stand whose tops are still items.
type draft struct {
	Stand
	held  []held
	left  []held
	parts []part
}

// stand solves the tree. top and foot are the heights of the items' upper and
// lower ends about the centre.
func (b *Body) stand(t *tree, up vec.V3, top, foot []float64, out Outlets, sum integral) *draft {
	lo, hi := math.Inf(1), math.Inf(-1)
	for i := range top {
		if t.par[i] >= 0 {
			lo, hi = min(lo, foot[i]), max(hi, top[i])
		}
	}
	eps := 1e-6 * max(hi-lo, 1e-3*b.size)
	d := &draft{Stand: Stand{Up: up}}
	d.held, d.parts = t.solve(!out.Only, false, lo, eps, sum)
	d.left = d.held
	if len(out.Knife) > 0 {
		d.left, _ = t.solve(!out.Only, true, lo, eps, sum)
	}
	return d
}

// finish turns items into points and sorts what was found by size.
func (d *draft) finish(t *tree, at func(int32) vec.V3, lift float64) {
	d.Parts = len(d.parts)
	for _, p := range d.parts {
		d.Volume += p.volume
	}
	if d.Parts > 0 {
		best := d.parts[0]
		for _, p := range d.parts {
			if p.volume > best.volume {
				best = p
			}
		}
		d.Outlet = at(best.top)
	}
	slices.SortStableFunc(d.held, largest)
	for _, p := range d.left {
		if p.volume > Least*d.Volume {
			d.Left += p.volume
		}
	}
	for _, p := range d.held {
		if p.volume <= Least*d.Volume {
			d.Small += max(0, p.volume)
			continue
		}
		d.Trapped += p.volume
		d.Pockets = append(d.Pockets, Pocket{At: at(p.top), Saddle: p.saddle + lift, Area: p.area, Volume: p.volume})
	}
}
