package tension

import (
	"math"
	"os"
	"testing"

	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/cells"
)

// wall is the half space n . x <= a that is open; x in cells.
type wall struct {
	n vec.V3
	a float64
}

// cavity is a box of cells of edge h cut by up to two walls.
func cavity(t testing.TB, dim [3]int, h float64, walls ...wall) *cells.Cells {
	t.Helper()
	n := dim[0] * dim[1] * dim[2]
	s := cells.Shares{H: h, Dim: dim, V: make([]float64, n), Normal: make([]vec.V3, n)}
	for d := range s.A {
		s.A[d] = make([]float64, n)
	}
	share := func(lo vec.V3, d int) (v float64, by vec.V3) {
		var n [2]vec.V3
		var a [2]float64
		cut := 0
		for k, w := range walls {
			m, off := w.n, w.a-w.n.Dot(lo)
			if d >= 0 {
				m = drop(m, d)
			}
			n[k], a[k] = m, off
			if cells.CubeUnder(m, off) < 1 {
				cut++
				by = w.n
			}
		}
		if cut > 1 {
			by = vec.V3{}
		}
		p := cells.PartOf(n[0], a[0])
		if p.Volume() == 0 {
			if len(walls) > 0 {
				return 0, by
			}
			return 1, by
		}
		v = p.Volume()
		if len(walls) > 1 {
			v *= p.Under(n[1], a[1])
		}
		return v, by
	}
	q := 0
	for k := range dim[2] {
		for j := range dim[1] {
			for i := range dim[0] {
				lo := vec.V3{X: float64(i), Y: float64(j), Z: float64(k)}
				s.V[q], s.Normal[q] = share(lo, -1)
				for d := range 3 {
					s.A[d][q], _ = share(lo, d)
				}
				q++
			}
		}
	}
	c, _, err := cells.New(s)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func drop(m vec.V3, d int) vec.V3 {
	a := m.Array()
	a[d] = 0
	return vec.FromArray(a)
}

// shape is a surface by its distance (about) and its slope; metal where it is
// under 0; x in cells.
type shape func(x vec.V3) (d float64, n vec.V3)

// fill returns the share of metal of each cell, by planes in cells cut in 2^depth
// along each axis.
func fill(c *cells.Cells, s shape, depth int) []float64 {
	F := make([]float64, c.Wall+1)
	par.For(c.Wall, 64, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			p := c.I[i]
			low := vec.V3{X: float64(p[0]), Y: float64(p[1]), Z: float64(p[2])}
			w, o := vec.V3{}, 0.0
			if c.Part(int32(i)) != nil {
				w, o = c.Normal[i], c.Offset[i]
			}
			v, m := metal(s, low, vec.V3{}, 1, w, o, depth)
			if v > 0 {
				F[i] = m / v
			}
			if F[i] > 1-1e-12 {
				F[i] = 1
			}
		}
	})
	return F
}

func metal(s shape, low, lo vec.V3, size float64, w vec.V3, o float64, depth int) (open, in float64) {
	half := vec.V3{X: size / 2, Y: size / 2, Z: size / 2}
	d, n := s(low.Add(lo).Add(half))
	if math.Abs(d) > 1.2*size || depth == 0 {
		if w == (vec.V3{}) {
			open = size * size * size
			if d > 1.2*size {
				return open, 0
			}
			return open, open * cells.CubeUnder(n.Mul(size), n.Dot(half)-d)
		}
		p := cells.PartIn(lo, lo.Add(half.Mul(2)), w, o)
		open = p.Volume()
		switch {
		case open == 0:
		case d > 1.2*size:
		case d < -1.2*size:
			in = open
		default:
			in = open * p.Under(n, n.Dot(lo.Add(half))-d)
		}
		return open, in
	}
	for k := range 8 {
		q := lo
		if k&1 != 0 {
			q.X += size / 2
		}
		if k&2 != 0 {
			q.Y += size / 2
		}
		if k&4 != 0 {
			q.Z += size / 2
		}
		a, b := metal(s, low, q, size/2, w, o, depth-1)
		open, in = open+a, in+b
	}
	return open, in
}

// ball is a sphere of metal.
func ball(at vec.V3, r float64) shape {
	return func(x vec.V3) (float64, vec.V3) {
		d := x.Sub(at)
		l := d.Len()
		return l - r, d.Mul(1 / max(l, 1e-9))
	}
}

// rod is a cylinder of metal along y.
func rod(at vec.V3, r float64) shape {
	return func(x vec.V3) (float64, vec.V3) {
		d := x.Sub(at)
		d.Y = 0
		l := d.Len()
		return l - r, d.Mul(1 / max(l, 1e-9))
	}
}

// spread is the largest and the rms deviation of kappa h from a value over the sides
// between metal and gas, relative to it (or absolute for 0), where pick holds.
func spread(f *Field, F []float64, want func(x vec.V3) float64, pick func(i int32) bool) (worst, rms float64, n int) {
	c := f.c
	for i := range int32(c.N) {
		if F[i] < 0.5 || pick != nil && !pick(i) {
			continue
		}
		for s := range 6 {
			o := c.Nb[s][i]
			if int(o) >= c.N || F[o] >= 0.5 {
				continue
			}
			theta := F[i] + F[o] - 0.5
			p := c.I[i]
			x := [3]float64{float64(p[0]) + 0.5, float64(p[1]) + 0.5, float64(p[2]) + 0.5}
			x[s/2] += theta * float64(2*(s%2)-1)
			k := f.Jump(i, s, theta) / f.sigma * c.H
			w := want(vec.FromArray(x))
			e := k - w
			if w != 0 {
				e /= w
			}
			worst = max(worst, math.Abs(e))
			rms += e * e
			n++
		}
	}
	return worst, math.Sqrt(rms / float64(max(n, 1))), n
}

func steady(k float64) func(vec.V3) float64 { return func(vec.V3) float64 { return k } }

// full says whether the long variants are asked for.
func full() bool { return os.Getenv("POURWRIGHT_FULL") != "" }
