package parting

import (
	"context"
	"fmt"
	"math"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// Options says what the split must respect.
type Options struct {
	Pull   *vec.V3  // overrules the search; any length but zero
	Rubber *Rubber  // nil: places carry no strain and no piece is asked for
	Show   []vec.V3 // points on faces that must not carry a seam
	Step   float64  // spacing of the parting surface's nodes; 0: 1/120 of the master's longest edge
}

// Find returns the split of a bare master.
//
// The pull is searched unless Options.Pull gives it; then follow the shadow and
// the locked volume (Measure), the undercuts as separate places, the parting
// surface (Solve) with its line on the master, the half that each triangle and
// each undercut belongs to, and what forbids a two-part mould. A master that
// cannot be moulded is measured like any other; Bars says why.
//
// It fails with fault.Input where the mesh has no volume or coordinates that
// are not finite, with fault.Usage where the pull is zero or not finite, and
// with the context's error when that ends.
func Find(ctx context.Context, m *mesh.Mesh, o Options) (*Split, error) {
	if err := usable(m); err != nil {
		return nil, err
	}
	b := newBody(m)
	b.settle()
	if !(b.volume > 1e-9*b.long*b.long*b.long) {
		return nil, fault.New(fault.Input, "", "turn the triangles so that they look outward, or close the mesh", "the mesh holds no volume (%.3g mm3)", b.volume)
	}
	top := mesh.TopologyOf(m)
	var show []patch
	for _, p := range o.Show {
		show = append(show, patchAt(m, top.Opp, p, b.long))
	}
	r := &Split{Volume: b.volume}
	if o.Pull != nil {
		if !o.Pull.Finite() || o.Pull.Len() == 0 {
			return nil, fault.New(fault.Usage, "", "give three numbers, not all zero", "the pull %v is not a direction", o.Pull.Array())
		}
		r.Pull = o.Pull.Unit()
	} else {
		for _, c := range b.choose(show, o) {
			r.Tried = append(r.Tried, Axis{Pull: c.d, Locked: c.locked, Score: c.score})
		}
		r.Pull = r.Tried[0].Pull
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	var shells []shell
	var linked []Bar
	par.Do(func() { b.part(m, r, o) }, func() {
		shells = shellsOf(m, top)
		linked = links(m, top, shells)
	})
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	r.Bars = append(b.voids(m, shells, r.Undercuts), linked...)
	r.Bars = append(r.Bars, b.buried(m, top, shells, r)...)
	if o.Rubber != nil {
		r.Bars = append(r.Bars, b.pieces(r, *o.Rubber)...)
	}
	r.Bars = append(r.Bars, b.seams(r, show)...)
	return r, nil
}

func usable(m *mesh.Mesh) error {
	if len(m.F) == 0 {
		return fault.New(fault.Input, "", "give a closed mesh", "the mesh has no triangles")
	}
	for i, p := range m.V {
		if !p.Finite() {
			return fault.New(fault.Input, "", "export the mesh again", "corner %d of the mesh is not finite", i)
		}
	}
	return nil
}

// part measures, lists the places, lays the surface and draws the line.
func (b *body) part(m *mesh.Mesh, r *Split, o Options) {
	f := vec.AlongZ(r.Pull)
	turned := b.mesh.Into(f)
	box := bounds(turned)
	g := 0.2 * b.long
	rect := Rect{box.Min.X - g, box.Min.Y - g, box.Max.X + g, box.Max.Y + g}
	var (
		s     *Surface
		back  *flat
		sight Sight
		seen  gaps
	)
	par.Do(func() { s, back = b.sheet(turned, rect, Setting{Step: o.Step}) },
		func() { seen = b.gaps(r.Pull) },
		func() { sight = b.measure(r.Pull, 512) })
	if back != nil && back.side > 0 && o.Pull == nil {
		// The bed is cast on the flat face: let it look along -pull.
		r.Pull = vec.V3{}.Sub(r.Pull) // no negative zero
		r.Tried[0].Pull = r.Pull
		b.part(m, r, Options{Pull: &r.Pull, Step: o.Step})
		return
	}
	lift := b.origin.Dot(f.Z)
	if back != nil {
		r.Back = &Back{Height: back.z + lift, Plane: back.height() + lift, Side: back.side, Area: back.area}
	}
	r.Frame = vec.Frame{Origin: b.origin, X: f.X, Y: f.Y, Z: f.Z}
	r.Sheet = s
	r.Silhouette, r.Locked = sight.Silhouette, sight.Locked
	par.Do(func() { r.Line = withoutCrumbs(s.Lines(turned)) }, func() {
		b.undercuts(r, f, seen)
		r.Label = labels(turned, s)
	})
	r.Rise, _ = lineFigures(r.Line)
	for _, l := range r.Line {
		for i, p := range l {
			l[i] = r.Frame.From(p)
		}
	}
}

// labels says of each triangle in which half it lies.
func labels(turned *mesh.Mesh, s *Surface) []uint8 {
	r := make([]uint8, len(turned.F))
	for t := range turned.F {
		p, q, e := turned.Tri(t)
		c := p.Add(q).Add(e).Mul(1. / 3)
		r[t] = 2
		if c.Z >= s.At(c.X, c.Y) {
			r[t] = 1
		}
	}
	return r
}

// gaps are the places along a pull, before the surface is known.
type gaps struct {
	aim  vec.Frame
	list []Place
	held []hollow
}

func (b *body) gaps(pull vec.V3) gaps {
	a := aim(vec.V3{}, pull)
	l := b.lattice(a, b.samples(pull, 240, 20000, 1500))
	l.refine(math.Abs(b.volume))
	g := gaps{aim: a}
	g.list, g.held = b.places(l, a, true)
	return g
}

// undercuts lists the places and which half takes each.
func (b *body) undercuts(r *Split, f vec.Frame, seen gaps) {
	a, list, held := seen.aim, seen.list, seen.held
	for i := range list {
		takeHalf(&list[i], &held[i], r.Sheet, func(x, y float64) (float64, float64) {
			p := f.To(a.From(vec.V3{X: x, Y: y}))
			return p.X, p.Y
		})
	}
	for i := range list {
		p := &list[i]
		p.At = p.At.Add(b.origin)
		p.Box = vec.Box{Min: p.Box.Min.Add(b.origin), Max: p.Box.Max.Add(b.origin)}
	}
	r.Undercuts = list
}

// told words two numbers, a > b, with as many digits as tell them apart.
func told(a, b float64) (string, string) {
	for d := 0; ; d++ {
		x, y := fmt.Sprintf("%.*f", d, a), fmt.Sprintf("%.*f", d, b)
		if x != y || d == 6 {
			return x, y
		}
	}
}

// pieces returns a bar for each undercut that neither the rubber's stretch nor
// clay nor a trim cures.
func (b *body) pieces(r *Split, rubber Rubber) []Bar {
	var bars []Bar
	for _, p := range r.Undercuts {
		v := Judge(p, rubber, b.volume, b.long)
		if v.Action != Piece || p.Enclosed {
			continue
		}
		asks, may := told(100*v.Strain, 100*v.Limit)
		say := fmt.Sprintf("an undercut %.2g mm deep asks the rubber for %s %% of stretch, more than the %s %% it may have", p.Depth, asks, may)
		if p.Through {
			say = fmt.Sprintf("the rubber of half %d runs through the master and closes round it (%.3g mm3)", p.Half, p.Volume)
		}
		bars = append(bars, Bar{
			Code: "needs-piece", At: p.At, Computed: v.Strain, Limit: v.Limit, Say: say,
			Do: "make a third piece or a core for this place, cast the part in two and join it, or slit a one-piece mould of softer rubber",
		})
	}
	return bars
}

// seams returns a bar for each shown face that the line parts. The least share
// that counts is 2 % of the face.
func (b *body) seams(r *Split, show []patch) []Bar {
	var bars []Bar
	f := r.Frame
	f.Origin = vec.V3{}
	for _, p := range show {
		if x := p.parted(b.origin, f, r.Sheet); x > 0.02 {
			bars = append(bars, Bar{
				Code: "needs-piece", At: p.at, Computed: x, Limit: 0.02,
				Say: fmt.Sprintf("the seam would run across the face at (%.1f, %.1f, %.1f), which must not carry one: %.0f %% of it would lie in the other half", p.at.X, p.at.Y, p.at.Z, math.Round(100*x)),
				Do:  "give the face a piece of its own (a cap and two sides), take a one-piece mould with a slit in softer rubber, or allow the seam",
			})
		}
	}
	return bars
}
