package fill

import (
	"math"

	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/plic"
)

// classify renews the surface and says which cells are metal.
func (r *Run) classify() {
	c := r.c
	r.surf.Moving, r.adv.Planes = r.moving, nil
	if r.moving {
		r.adv.Planes = r.surf
	}
	r.surf.Update(r.F, nil)
	r.ended(Planes)
	r.heights()
	for i := range int32(c.N) {
		r.state[i] = hollow
		f := r.F[i]
		switch h := r.height[i]; {
		case h == h: // near a plane
			// A full cell whose centre lies above its neighbours' planes is gas to the
			// pressure, unless it is more than full.
			if h <= 0 || f > 1+1e-6 {
				r.state[i] = metal
			}
		case f >= 0.5:
			r.state[i] = metal
		}
		if h := r.p.Heat; h != nil && h.Shut[i] {
			r.state[i] = shut // it stopped: a wall to what comes after
		}
	}
}

// curve renews the curvature, after the cells have their states.
func (r *Run) curve() {
	if r.ten == nil {
		return
	}
	if r.skip == nil {
		r.skip = make([]bool, r.c.Wall+1)
		r.ten.Skip(r.skip)
	}
	k := fast * r.p.Metal.Tension / (r.p.Metal.Density * r.c.H)
	par.For(r.c.N, 512, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			thin := r.p.Sections != nil && r.p.Sections[i].Blend >= 1 // no link asks for its curvature
			r.skip[i] = thin || r.p.Quick && r.F[i] > 0 && !r.curved(int32(i), k)
		}
	})
	r.ten.Swift(r.moving)
	r.ten.Update(r.ahead(), nil)
}

// fast is the Weber number of a cell from which on curvature is taken from heights alone, and nothing where there
// are none.
const fast = 20

// curved says whether the curvature in a cell counts for a quick run: the surface for the pressure passes it by,
// and the square of its speed is at most k, where rho u^2 h / sigma is fast.
func (r *Run) curved(i int32, k float64) bool {
	c := r.c
	inside, beside := r.state[i] == metal, false
	e := 0.0
	for d := range 3 {
		lo, hi := c.Nb[2*d][i], c.Nb[2*d+1][i]
		u := 0.0
		if r.valid[d][i] != 0 {
			u = math.Abs(r.U[d][i])
		}
		if int(hi) < c.Wall && r.valid[d][hi] != 0 {
			u = max(u, math.Abs(r.U[d][hi]))
		}
		e += u * u
		beside = beside || inside != (r.state[lo] == metal) && r.state[lo] != shut || inside != (r.state[hi] == metal) && r.state[hi] != shut
	}
	return beside && e <= k
}

// lead is how much of a step the surface is carried on for its tension, calm the change of a share in a
// step up to which it is.
const (
	lead = 0.5
	calm = 0.02
)

// ahead returns the shares as they will be lead of a step later, where they change little. The pressure
// of tension is then -w^2 (x + lead dt v) for a wave of frequency w: friction of lead w^2 dt/2, four
// thousand times less for a wave of 32 cells than for one of two. Without it noise of the curvature
// feeds waves of some cells, which the metal's viscosity does not damp.
func (r *Run) ahead() []float64 {
	for i := range r.c.N {
		x, was := r.F[i], r.was[i]
		if e := x - was; x > faint && x < 1-faint && was > faint && was < 1-faint && math.Abs(e) < calm {
			x = min(max(x+lead*e, faint), 1-faint)
		}
		r.soon[i] = x
	}
	copy(r.soon[r.c.N:], r.F[r.c.N:])
	return r.soon
}

// middle is the centre of a cell.
var middle = vec.V3{X: 0.5, Y: 0.5, Z: 0.5}

// speck is the area of a polygon, in sides of a cell, under which its plane says
// little of the cell's centre.
const speck = 0.05

// faint is the share up to which metal in a cell, or lack of it, is taken for what the flow left
// there: a plane along the cell's side, where the surface may be elsewhere.
const faint = 1e-5

// nearly is the share from which a cell among such with metal is taken for full; one with less
// stands in a corner that a wall cuts off, where its own plane has too few others to lean on.
const nearly = 0.9

// tells says whether the plane of cell i, the j-th of the surface, says where the surface lies.
func (r *Run) tells(i int32, j int) bool {
	return r.surf.Area[j] >= speck && r.F[i] > faint && r.F[i] < 1-faint
}

// heights finds how far the centre of a cell stands above the surface, in cells,
// below zero in metal: by its own plane; for a cut cell that is full or empty, and
// for specks, by the planes round it. Elsewhere it is not a number.
//
// A cell that a wall cuts may be full though its centre stands above the level, and
// empty though it stands below: for a level at rest to be one for the pressure, the
// centre decides.
func (r *Run) heights() {
	for i := range r.height {
		r.height[i] = math.NaN()
	}
	par.For(len(r.surf.Cells), 256, func(lo, hi int) {
		for j := lo; j < hi; j++ {
			i := r.surf.Cells[j]
			deep := r.deep(i)
			own := r.tells(i, j) && !deep
			if !own && !(deep && r.F[i] >= nearly) {
				if h, ok := r.round(i); ok {
					r.height[i] = h
					continue
				}
				own = !deep
			}
			if own {
				r.height[i], _ = r.surf.Height(i, middle)
			}
		}
	})
	par.For(len(r.cut), 1024, func(lo, hi int) {
		for _, i := range r.cut[lo:hi] {
			if f := r.F[i]; f > plic.Empty && f < 1-plic.Empty {
				continue
			}
			if h, ok := r.round(i); ok {
				r.height[i] = h
			}
		}
	})
}

// deep says whether a cell and all that it opens into hold more metal than gas: what
// the solver's tolerance takes from a full cell there makes no surface.
func (r *Run) deep(i int32) bool {
	if r.F[i] < 0.5 {
		return false
	}
	for k := range 6 {
		n := r.c.Nb[k][i]
		if int(n) < r.c.N && r.F[n] < 0.5 || int(n) >= r.c.N && int(n) < r.c.Wall && r.state[n] == open {
			return false
		}
	}
	return true
}

// round is the height of a cell's centre over the planes of the 26 cells round it,
// their mean by area.
func (r *Run) round(i int32) (float64, bool) {
	p := r.c.I[i]
	sum, w := 0.0, 0.0
	for z := int32(-1); z <= 1; z++ {
		for y := int32(-1); y <= 1; y++ {
			for x := int32(-1); x <= 1; x++ {
				n := r.c.At(int(p[0]+x), int(p[1]+y), int(p[2]+z))
				j := int32(-1)
				if int(n) < r.c.N && n != i {
					j = int32(r.surf.At(n))
				}
				if j < 0 || !r.tells(n, int(j)) || r.deep(n) {
					continue
				}
				h, _ := r.surf.Height(n, middle.Sub(vec.V3{X: float64(x), Y: float64(y), Z: float64(z)}))
				a := r.surf.Area[j]
				sum, w = sum+a*h, w+a
			}
		}
	}
	return sum / w, w > 0
}

// distance returns where between the centres of metal cell i and its neighbour n
// over side k the surface lies, in cells from i: where the heights of both are zero
// between them.
func (r *Run) distance(i, n int32, k int) float64 {
	step := [3]float64{}
	step[k/2] = float64(2*(k%2) - 1)
	d := vec.FromArray(step)
	a, b := r.height[i], math.NaN()
	if int(n) < r.c.N {
		b = r.height[n]
		if a != a {
			if h, ok := r.surf.Height(n, middle.Sub(d)); ok {
				a = h
			}
		}
	}
	if b != b {
		if h, ok := r.surf.Height(i, middle.Add(d)); ok {
			b = h
		}
	}
	if a != a {
		a = -0.5
	}
	if b != b {
		b = 0.5
	}
	// The same least depth for all links of a cell: were only a short way made longer, the others
	// would see the pressure it leaves in the cell.
	a, b = min(a, -nearest), max(b, 0)
	return -a / (b - a)
}
