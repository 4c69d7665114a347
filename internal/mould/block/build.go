package block

import (
	"fmt"
	"math"
	"strings"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/par"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/solid"
)

// Solids are the closed bodies of the mould in the block frame. They share the
// triangles between them.
type Solids struct {
	Cavity, Half1, Half2 *mesh.Mesh
	Complex              *solid.Complex
}

// Build makes the solids: the block as half 1, everything under the parting
// surface turned to half 2, keys to the half they stand on, castings and
// channels to metal, then inserts. It fails where the kernel does.
func (l *Layout) Build() (*Solids, error) {
	c := solid.Block(l.Box(), solid.Half1)
	var err error
	place := func(what string, m *mesh.Mesh, b *solid.Body, f func(solid.Label) solid.Label) {
		if err != nil {
			return
		}
		if e := c.InsertBody(b, f); e != nil {
			err = l.stuck(what, m, e)
		}
	}
	put := func(what string, m *mesh.Mesh, f func(solid.Label) solid.Label) {
		place(what, m, solid.Prepare(m), f)
	}
	castings := make([]*solid.Body, len(l.bodies))
	mended := false
	par.Do(func() {
		for i, b := range l.bodies {
			castings[i] = solid.Prepare(b)
		}
		if len(castings) > 0 && len(l.bodies[0].F) <= mostLooked {
			mended = l.unfold(castings)
		}
	}, func() {
		put("parting surface", l.lower(), swap(solid.Half1, solid.Half2))
		for _, k := range l.Keys {
			if k.Depth >= 0 {
				put("key", k.Mesh(), swap(solid.Half1, solid.Half2))
			} else {
				put("key", k.Mesh(), swap(solid.Half2, solid.Half1))
			}
		}
	})
	for i := 0; i < len(castings); i++ {
		b := castings[i]
		if err == nil && i == 0 && !mended && len(l.bodies[0].F) > mostLooked {
			// A large master is searched for folds only where the cut fails.
			before := *c
			if c.InsertBody(b, inside(solid.Metal)) == nil {
				continue
			}
			*c = before
			l.unfold(castings)
		}
		place(fmt.Sprintf("casting %d", i+1), l.bodies[i], b, inside(solid.Metal))
	}
	for i := range l.Channels {
		put(l.Channels[i].Name, l.Channels[i].Mesh(), inside(solid.Metal))
	}
	for i := range l.Inserts {
		put("insert", l.Inserts[i].mesh(), inside(solid.Void))
	}
	if err != nil {
		return nil, err
	}
	c.Crumbs(solid.Half1, solid.Half2)
	s := &Solids{Complex: c}
	par.Do(func() { s.Cavity = c.Solid(solid.Metal) }, func() { s.Half1 = c.Solid(solid.Half1) }, func() { s.Half2 = c.Solid(solid.Half2) })
	return s, nil
}

// mostLooked is the number of triangles up to which a master is searched for
// folds before it is cut in; a larger one takes half a second a time.
const mostLooked = 60000

// unfold takes the folds out of the castings, which are equal, and says so.
func (l *Layout) unfold(castings []*solid.Body) bool {
	f := castings[0].Unfold()
	if f.Pairs == 0 || f.Left > 0 {
		return false
	}
	for _, b := range castings[1:] {
		b.Unfold()
	}
	at := l.Placements[0].From(f.At)
	limited(l.finding("repair", "note", &at, fmt.Sprintf("the master runs through itself here (%d pairs of triangles); in the solids the fold is taken out, corners moved by up to %.2g mm", f.Pairs, f.Moved),
		"look at the place on the master; where it matters, mend it in the program that made the mesh and save it again"), float64(f.Pairs), 0)
	return true
}

// stuck words the kernel's error for the body m: where it runs through itself
// that is the cause and the place; else the mesh is sound, and a tilt of a
// degree brings other faces together.
func (l *Layout) stuck(what string, m *mesh.Mesh, e error) error {
	r := &fault.Error{Kind: fault.Input, Place: what, Cause: e}
	if x := solid.SelfCrossings(m); len(x) > 0 && strings.HasPrefix(what, "casting") {
		a, b, c := m.Tri(int(x[0][0]))
		p := l.Frame.From(a.Add(b).Add(c).Mul(1. / 3))
		r.Text = fmt.Sprintf("the master runs through itself: %d pairs of triangles cross, the first near %.4g, %.4g, %.4g mm, so that no solid can be cut from it", len(x), p.X, p.Y, p.Z)
		r.Hint = "repair the mesh there in the program that made it (join the bodies, take out the fold), and save it again"
		return r
	}
	box := m.Box()
	p := l.Frame.From(box.Centre())
	z := l.Frame.Z.Add(l.Frame.X.Mul(math.Tan(math.Pi / 180))).Unit()
	r.Text = fmt.Sprintf("the mesh is sound, but the cut of this body, round %.4g, %.4g, %.4g mm of the master, did not come out closed: %v", p.X, p.Y, p.Z, e)
	r.Hint = fmt.Sprintf("turn the pull by a degree: [split] pull = [%.4f, %.4f, %.4f]; report the master if that fails too", z.X+0, z.Y+0, z.Z+0)
	return r
}

func swap(from, to solid.Label) func(solid.Label) solid.Label {
	return func(x solid.Label) solid.Label {
		if x == from {
			return to
		}
		return x
	}
}

func inside(to solid.Label) func(solid.Label) solid.Label {
	return func(x solid.Label) solid.Label {
		if x == solid.Outside {
			return x
		}
		return to
	}
}

// Mesh returns the key as a body that starts 2 mm behind its foot, so that a
// foot on a slope is closed all round.
func (k Key) Mesh() *mesh.Mesh {
	const sunk = 2.0
	s, r := math.Tan(Taper*math.Pi/180), k.Diameter/2
	if k.Depth >= 0 {
		return frustum(k.At.X, k.At.Y, k.At.Z-sunk, r+s*sunk, k.At.Z+k.Depth, r-s*k.Depth)
	}
	return frustum(k.At.X, k.At.Y, k.At.Z+k.Depth, r+s*k.Depth, k.At.Z+sunk, r+s*sunk)
}

// Volume returns the volume of the key above its foot, as a round frustum.
func (k Key) Volume() float64 {
	r, h := k.Diameter/2, math.Abs(k.Depth)
	t := r - h*math.Tan(Taper*math.Pi/180)
	return math.Pi * h * (r*r + r*t + t*t) / 3
}

func (i Insert) mesh() *mesh.Mesh {
	c := Channel{Rings: []Ring{{i.At, i.Diameter / 2, i.Diameter / 2}, {i.At.Add(i.Direction.Unit().Mul(i.Length)), i.Diameter / 2, i.Diameter / 2}}}
	return c.Mesh()
}

// lower returns everything under the parting surface as one closed body that
// reaches beyond the block on all sides.
func (l *Layout) lower() *mesh.Mesh {
	b := l.Box()
	m := under(l.Surface, b.Min.Z-1-0.01*b.Longest(), l.tolerance())
	if l.Back != nil {
		// A sheet in the very plane of the back would meet all its edges at once:
		// it is laid 2.4 thousandths of a millimetre inside the metal.
		for i := range m.V {
			m.V[i].Z -= 40 * solid.Lattice * float64(l.Back.Side)
		}
	}
	return m
}
