package tension

import (
	"math"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/cells"
)

// Angle is the angle between surface and wall, degrees, measured in the metal.
// A contact line moves on where its angle passes Advance and back where it falls under
// Recede, and stands still between them. Zero for these two: Rest, no hysteresis.
type Angle struct{ Rest, Advance, Recede float64 }

// Powdered is the angle of tin alloys on powdered silicone: common practice, no source.
var Powdered = Angle{Rest: 140}

// Thin is what is known of a section of few cells: Wet is cut perimeter over area,
// 1/m (2/w of a slot, 4/d of a round hole); Blend is 1 where the thin form acts
// alone and 0 where the surface is resolved. Both: the cells could show the surface
// too, and the larger of the two pressures acts. The thin form alone is the same all
// over the section, so nothing of it holds a thread of metal that runs ahead in the
// middle, whose own curvature would.
type Thin struct {
	Wet, Blend float64
	Both       bool
}

// Field is the surface of the metal at one moment. Its arrays are kept from one
// Update to the next.
type Field struct {
	c     *cells.Cells
	sigma float64
	angle Angle
	thin  []Thin
	tap   bool
	skip  []bool
	swift bool
	walls *walls
	whole []bool // of open cells: no wall cuts them
	plane int    // the direction in which there is one cell only, or -1

	kind  []uint8 // of open cells: 1 partly filled, 2 full beside empty, 0 neither
	slot  []int32 // of cells: place in patch, -1 where there is no surface
	patch []patch
	ring  []ring
	near  []around
	fit   []fit
	f     []float64
}

// passes is how often the paraboloids are laid, on planes turned to the ones before.
const passes = 3

// enough is the turn, radians, up to which a plane is left as it is.
const enough = 0.01

// clean is the fraction from which a cell counts as all metal or all gas; loose is what the
// flow may leave a cell short of that away from the surface.
const (
	clean = 1e-6
	loose = 5e-3
)

// chunk is how many pieces of surface one task takes.
const chunk = 128

// New makes a Field. sigma is the surface tension, N/m; thin has one entry per
// cell, port and Wall, or is nil.
func New(c *cells.Cells, sigma float64, angle Angle, thin []Thin) (*Field, error) {
	if angle.Advance == 0 {
		angle.Advance = angle.Rest
	}
	if angle.Recede == 0 {
		angle.Recede = angle.Rest
	}
	in := func(a float64) bool { return a >= 5 && a <= 175 }
	switch {
	case !(sigma >= 0) || math.IsInf(sigma, 0):
		return nil, fault.New(fault.Internal, "tension", "", "surface tension %g N/m is no length of pull", sigma)
	case !in(angle.Rest) || !in(angle.Advance) || !in(angle.Recede):
		return nil, fault.New(fault.Input, "contact angle", "give angles from 5 to 175 degrees", "a contact angle lies outside 5 to 175 degrees: rest %g, advancing %g, receding %g", angle.Rest, angle.Advance, angle.Recede)
	case angle.Recede > angle.Rest || angle.Rest > angle.Advance:
		return nil, fault.New(fault.Input, "contact angle", "give receding <= rest <= advancing", "the resting angle %g does not lie between receding %g and advancing %g", angle.Rest, angle.Recede, angle.Advance)
	case thin != nil && len(thin) != c.Wall+1:
		return nil, fault.New(fault.Internal, "tension", "", "%d thin sections for %d cells", len(thin), c.Wall+1)
	}
	f := &Field{c: c, sigma: sigma, angle: angle, thin: thin, plane: -1, walls: newWalls(c), whole: wholes(c), slot: make([]int32, c.Wall+1)}
	for i := range f.slot {
		f.slot[i] = -1
	}
	for d, n := range c.Dim {
		if n == 1 {
			f.plane = d
		}
	}
	return f, nil
}

// Tap says whether the mould is being tapped: contact lines then move at the
// resting angle, whichever way.
func (f *Field) Tap(on bool) { f.tap = on }

// Skip names cells (one entry per cell, port and Wall; nil for none) where tension
// hardly counts, say since the metal is fast (rho u^2 h >> sigma): there the curvature is that
// of the heights, and 0 where there are none. It costs under a third of the full work. The slice is
// read at the next Updates.
func (f *Field) Skip(cells []bool) { f.skip = cells }

// Swift says whether the metal is on the move, where one turn of the planes fewer will do.
func (f *Field) Swift(on bool) { f.swift = on }

// limits are the cosines between which a contact line stands still, least first.
func (f *Field) limits() (lo, hi float64) {
	a, r := f.angle.Advance, f.angle.Recede
	if f.tap {
		a, r = f.angle.Rest, f.angle.Rest
	}
	return math.Cos(a * math.Pi / 180), math.Cos(r * math.Pi / 180)
}

// Update lays the surface for the fractions F (one per cell, port and Wall: share
// of the open volume). normal is a first guess per cell, out of the metal, of any
// length, zero where there is none; or nil.
func (f *Field) Update(F []float64, normal []vec.V3) {
	f.f = F
	f.find(F)
	n := len(f.patch)
	f.ring = sized(f.ring, n)
	f.near = sized(f.near, n)
	f.fit = sized(f.fit, n)
	par.For(n, chunk, func(lo, hi int) {
		var b block
		for k := lo; k < hi; k++ {
			f.start(k, &b, normal)
		}
	})
	// A piece counts in a fit up to two rings away.
	f.mark(func(p *patch) bool { return p.fitted }, func(p *patch) { p.beside = true })
	f.mark(func(p *patch) bool { return p.beside }, func(p *patch) { p.wanted = true })
	lo, hi := f.limits()
	held := lo < hi
	first := &rule{lo: lo, hi: hi, contact: !held}
	par.For(n, chunk, func(from, to int) {
		for k := from; k < to; k++ {
			if p := &f.patch[k]; p.wanted {
				f.cut(p, F[p.i])
			}
		}
	})
	par.For(n, chunk, func(from, to int) {
		for k := from; k < to; k++ {
			if f.patch[k].fitted {
				f.near[k].fill(int32(k), f.ring, f.patch)
				f.fit[k] = f.lay(int32(k), first)
			}
		}
	})
	n = passes
	if f.swift {
		n--
	}
	for pass := 1; pass < n; pass++ {
		f.again(F, &rule{lo: lo, hi: hi, contact: true, last: pass == n-1}, held && pass == 1)
	}
}

// start finds what lies round piece k, its first normal, and its curvature where heights
// give it.
func (f *Field) start(k int, b *block, normal []vec.V3) {
	p := &f.patch[k]
	b.fill(f.c, p.i)
	f.ring[k].fill(b, f.slot)
	g := vec.V3{}
	if normal != nil {
		g = normal[p.i]
	}
	if !(g.Dot(g) > 0) || !g.Finite() {
		g = b.slope(f.f)
	}
	if p.bare {
		g = f.bareSide(p.i, f.f)
	}
	p.n = f.flat(g)
	f.fit[k], p.high = f.heights(b, p.n, f.f)
	switch {
	case !p.high:
		f.fit[k] = fit{normal: p.n}
		p.fitted = f.skip == nil || !f.skip[p.i]
	case !p.bare:
		p.n = f.fit[k].normal
	}
}

// mark calls set for each piece for which is holds or does in its ring.
func (f *Field) mark(is func(p *patch) bool, set func(p *patch)) {
	par.For(len(f.patch), chunk, func(from, to int) {
		for k := from; k < to; k++ {
			r := &f.ring[k]
			found := is(&f.patch[k])
			for a := int32(0); a < r.n && !found; a++ {
				found = is(&f.patch[r.at[a]])
			}
			if found {
				set(&f.patch[k])
			}
		}
	})
}

// again turns the pieces whose paraboloid says so, and lays the paraboloids
// round them again; all where contact lines may be held.
func (f *Field) again(F []float64, r *rule, all bool) {
	n := len(f.patch)
	par.For(n, chunk, func(from, to int) {
		for k := from; k < to; k++ {
			p := &f.patch[k]
			p.turned = false
			if !p.fitted || p.bare {
				continue
			}
			d := p.n.Sub(f.fit[k].normal)
			if d.Dot(d) > enough*enough {
				p.turned = true
				p.n = f.fit[k].normal
				f.recut(p, F[p.i])
			}
		}
	})
	par.For(n, chunk, func(from, to int) {
		for k := from; k < to; k++ {
			if p := &f.patch[k]; p.fitted && (all || p.turned || f.stirred(int32(k))) {
				f.fit[k] = f.lay(int32(k), r)
			}
		}
	})
}

// stirred says whether a piece in the ring was turned.
func (f *Field) stirred(k int32) bool {
	r := &f.ring[k]
	for _, j := range r.at[:r.n] {
		if f.patch[j].turned {
			return true
		}
	}
	return false
}

// flat takes out of a normal what points across a plane problem, and makes it of
// length 1.
func (f *Field) flat(n vec.V3) vec.V3 {
	switch f.plane {
	case 0:
		n.X = 0
	case 1:
		n.Y = 0
	case 2:
		n.Z = 0
	}
	if n = n.Mul(1 / max(n.Len(), 1e-300)); !(n.Len() > 0.5) {
		n = vec.V3{Z: 1}
		if f.plane == 2 {
			n = vec.V3{Y: 1}
		}
	}
	return n
}

// find lists the cells that hold a piece of surface: partly filled ones, and full
// ones beside empty ones.
func (f *Field) find(F []float64) {
	for k := range f.patch {
		f.slot[f.patch[k].i] = -1
	}
	f.patch = f.patch[:0]
	n := f.c.N
	f.kind = sized(f.kind, n)
	par.For(n, 8192, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			f.kind[i] = f.kindOf(int32(i), F)
		}
	})
	for i, kind := range f.kind {
		if kind == 0 {
			continue
		}
		f.slot[i] = int32(len(f.patch))
		if len(f.patch) < cap(f.patch) {
			f.patch = f.patch[:len(f.patch)+1]
		} else {
			f.patch = append(f.patch, patch{})
		}
		p := &f.patch[len(f.patch)-1]
		*p = patch{i: int32(i), bare: kind == 2}
	}
}

// kindOf says whether a cell holds a piece: 1, or 2 where it is full beside an empty
// one. A nearly full cell does only beside a nearly empty one, and the other way
// round: else the surface is elsewhere, and what is lacking is noise of the flow.
func (f *Field) kindOf(i int32, F []float64) uint8 {
	x := F[i]
	switch {
	case !(x > clean):
		return 0
	case x < loose:
		for s := range f.c.Nb {
			if o := f.c.Nb[s][i]; int(o) < f.c.N && F[o] >= 1-loose {
				return 1
			}
		}
		return 0
	case x <= 1-loose:
		return 1
	case x < 1-clean:
		for s := range f.c.Nb {
			if o := f.c.Nb[s][i]; int(o) < f.c.Wall && F[o] <= loose {
				return 1
			}
		}
		return 0
	}
	if f.bareSide(i, F) != (vec.V3{}) {
		return 2
	}
	return 0
}

// bareSide is the sum of the directions in which a full cell lies beside an empty
// one.
func (f *Field) bareSide(i int32, F []float64) vec.V3 {
	var n [3]float64
	for s := range f.c.Nb {
		if o := f.c.Nb[s][i]; int(o) < f.c.Wall && F[o] <= clean {
			n[s/2] += float64(2*(s%2) - 1)
		}
	}
	return vec.FromArray(n)
}

func sized[T any](s []T, n int) []T {
	if cap(s) < n {
		return make([]T, n, n+n/4)
	}
	return s[:n]
}

// Curvature returns the curvature of the piece of surface in cell i, 1/m, and
// whether there is one.
func (f *Field) Curvature(i int32) (kappa float64, ok bool) {
	k := f.slot[i]
	if k < 0 {
		return 0, false
	}
	return f.fit[k].kappa / f.c.H, true
}

// Normal returns the paraboloid's normal in cell i, out of the metal, length 1.
func (f *Field) Normal(i int32) (n vec.V3, ok bool) {
	k := f.slot[i]
	if k < 0 {
		return vec.V3{}, false
	}
	return f.fit[k].normal, true
}
