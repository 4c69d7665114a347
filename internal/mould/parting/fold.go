package parting

import (
	"math"

	"pourwright/internal/ground/par"
	"pourwright/internal/shape/grid"
)

const (
	foldReach  = 3 // nodes round the shadow's edge that follow it
	dots       = 8 // samples per node and direction there
	dotsOf     = dots * dots
	foldStiff  = 0.02 // of the membrane that follows; a number, as both terms are areas
	foldLeast  = 0.2  // mm at 60 mm: distances below it weigh alike
	foldRounds = 6    // of weights
	foldSweeps = 15
	foldPlain  = 1e-3 // share of the shadow up to which a plane is left alone
)

// band is the surface near the shadow's edge: nodes that may move, each with
// dots x dots samples of the columns in the square that is nearest to it.
type band struct {
	f        *field
	nodes    []int32   // that have samples
	tile     []int32   // per node of the surface: its place in nodes + 1, 0 outside the band
	in, out  []float64 // per sample: first entry and last exit; in > out where there is no metal
	lo, hi   []float64 // per sample: bounds for the height of its node
	weight   []float64 // per sample
	nlo, nhi []float64 // per node of the band: the tightest of its bounds
}

// follow draws the surface to the fold, the edge of the shadow at which the
// master's face turns from one half to the other.
//
// What a straight pull does not reach of a half's face are the columns in which
// the surface lies above the last exit or below the first entry. The penalty of
// Solve, the volume added, hardly counts them: a strip 0.05 mm wide, 0.5 mm high.
// Here each column costs the same however far the surface lies from it,
//
//	k/2 int |grad S|^2 + area of {S > hi} + area of {S < lo}
//
// with k small, on the nodes near the edge, from the membrane as the start. The
// step is solved by weights 1/distance, renewed a few times (iteratively
// reweighted least absolute deviations: Candes, Wakin & Boyd, J. Fourier Anal.
// Appl. 14 (2008) 877); a column far from the surface, as where the edge jumps,
// so hardly pulls at it. The bounds of a sample are carried to its node along
// the slope of the last round.
func (f *field) follow() {
	b := &band{f: f}
	b.mark()
	if len(b.nodes) == 0 {
		return
	}
	b.raster()
	if math.IsInf(f.s.Stiff, 1) && b.blind() <= foldPlain*f.shadow() {
		return
	}
	b.relax()
}

// mark finds the nodes of the band. Where a channel stands alone the surface
// is held.
func (b *band) mark() {
	f := b.f
	s := f.s
	on, _ := f.rim()
	on = blur(on, s.NX, s.NY, foldReach)
	alone := make([]float64, len(on))
	if f.channels {
		for q, a := range f.alone {
			if a {
				alone[q/f.sx/sub*s.NX+q%f.sx/sub] = 1
			}
		}
		alone = blur(alone, s.NX, s.NY, 1)
	}
	b.tile = make([]int32, len(on))
	for j := 1; j < s.NY-1; j++ {
		for i := 1; i < s.NX-1; i++ {
			q := j*s.NX + i
			if on[q] > 1e-3*s.H && !f.fixed[q] && alone[q] < 0.5 {
				b.nodes = append(b.nodes, int32(q))
				b.tile[q] = int32(len(b.nodes))
			}
		}
	}
}

// raster takes the lowest and the highest metal at the samples of the band.
// Sample (x, y) of a node stands ((x+1/2)/dots - 1/2) H to the right of it, and
// as far above it.
func (b *band) raster() {
	const parts = 2
	n := len(b.nodes) * dotsOf
	var in, out [parts][]float64
	par.For(parts, 1, func(lo, hi int) {
		for k := lo; k < hi; k++ {
			in[k], out[k] = make([]float64, n), make([]float64, n)
			for q := range n {
				in[k][q], out[k][q] = math.Inf(1), math.Inf(-1)
			}
			t := len(b.f.all.F)
			b.scan(b.f.all.F[k*t/parts:(k+1)*t/parts], in[k], out[k])
		}
	})
	b.in, b.out = in[0], out[0]
	for q := range n {
		b.in[q], b.out[q] = min(b.in[q], in[1][q]), max(b.out[q], out[1][q])
	}
}

func (b *band) scan(tris [][3]int32, in, out []float64) {
	s := b.f.s
	v := b.f.all.V
	inv := 1 / s.H
	var sc grid.Scan
	for _, t := range tris {
		p, q, r := v[t[0]], v[t[1]], v[t[2]]
		u0, v0 := (p.X-s.X0)*inv+0.5, (p.Y-s.Y0)*inv+0.5
		u1, v1 := (q.X-s.X0)*inv+0.5, (q.Y-s.Y0)*inv+0.5
		u2, v2 := (r.X-s.X0)*inv+0.5, (r.Y-s.Y0)*inv+0.5
		if !b.meets(min(u0, u1, u2), min(v0, v1, v2), max(u0, u1, u2), max(v0, v1, v2)) {
			continue
		}
		area := (u1-u0)*(v2-v0) - (u2-u0)*(v1-v0)
		if area == 0 || !sc.Set(u0*dots-0.5, v0*dots-0.5, u1*dots-0.5, v1*dots-0.5, u2*dots-0.5, v2*dots-0.5, 0, s.NY*dots) {
			continue
		}
		// height = p.Z + gx (u - u0) + gy (v - v0)
		w1, w2 := (q.Z-p.Z)/area, (r.Z-p.Z)/area
		gx, gy := (v2-v0)*w1-(v1-v0)*w2, (u1-u0)*w2-(u2-u0)*w1
		low, high := min(p.Z, q.Z, r.Z), max(p.Z, q.Z, r.Z)
		for y := sc.J0; y < sc.J1; y++ {
			a, e, _ := sc.Row(y)
			a, e = max(a, 0), min(e, s.NX*dots)
			row := p.Z + gy*((float64(y)+0.5)/dots-v0) - gx*u0
			for x := a; x < e; x++ {
				c := b.tile[y/dots*s.NX+x/dots]
				if c == 0 {
					x += dots - 1 - x%dots
					continue
				}
				z := min(max(row+gx*(float64(x)+0.5)/dots, low), high) // a steep triangle rounds badly
				k := int(c-1)*dotsOf + y%dots*dots + x%dots
				in[k], out[k] = min(in[k], z), max(out[k], z)
			}
		}
	}
}

// meets reports whether a node of the band lies in the squares u0..u1, v0..v1.
func (b *band) meets(u0, v0, u1, v1 float64) bool {
	s := b.f.s
	if !(u1 >= 0 && v1 >= 0 && u0 < float64(s.NX) && v0 < float64(s.NY)) {
		return false
	}
	i0, i1 := max(0, int(u0)), min(s.NX-1, int(min(u1, 1e9)))
	j0, j1 := max(0, int(v0)), min(s.NY-1, int(min(v1, 1e9)))
	for j := j0; j <= j1; j++ {
		for _, c := range b.tile[j*s.NX+i0 : j*s.NX+i1+1] {
			if c > 0 {
				return true
			}
		}
	}
	return false
}

// height returns the surface at sample k of node q.
func (b *band) height(q int32, k int) float64 {
	s := b.f.s
	x := (float64(k%dots)+0.5)/dots - 0.5
	y := (float64(k/dots)+0.5)/dots - 0.5
	return s.At(s.X0+s.H*(float64(int(q)%s.NX)+x), s.Y0+s.H*(float64(int(q)/s.NX)+y))
}

// blind returns the area of the band's columns that the surface does not meet
// between their ends.
func (b *band) blind() float64 {
	n := 0
	for i, q := range b.nodes {
		for k := range dotsOf {
			if p := i*dotsOf + k; b.in[p] <= b.out[p] {
				if z := b.height(q, k); z > b.out[p] || z < b.in[p] {
					n++
				}
			}
		}
	}
	return float64(n) * b.f.s.H * b.f.s.H / dotsOf
}

// shadow returns the area of the samples with metal.
func (f *field) shadow() float64 {
	n := 0
	for _, k := range f.has {
		n += int(k)
	}
	return float64(n) * f.cell
}

// aim renews weights and bounds from the surface as it stands.
func (b *band) aim() {
	f := b.f
	area := f.s.H * f.s.H / dotsOf
	off, least := 0.3*f.scale, foldLeast*f.scale
	par.For(len(b.nodes), 64, func(from, to int) {
		for i := from; i < to; i++ {
			q := b.nodes[i]
			z := f.s.Z[q]
			l, h := math.Inf(-1), math.Inf(1)
			for k := range dotsOf {
				p := i*dotsOf + k
				if b.in[p] > b.out[p] {
					b.lo[p], b.hi[p], b.weight[p] = math.Inf(-1), math.Inf(1), 0
					continue
				}
				t := b.height(q, k)
				d := min(off, (b.out[p]-b.in[p])/4)
				b.weight[p] = area / max(t-b.out[p], b.in[p]-t, least)
				b.lo[p], b.hi[p] = b.in[p]+d-(t-z), b.out[p]-d-(t-z)
				l, h = max(l, b.lo[p]), min(h, b.hi[p])
			}
			b.nlo[i], b.nhi[i] = l, h
		}
	})
}

func (b *band) relax() {
	n := len(b.in)
	b.lo, b.hi, b.weight = make([]float64, n), make([]float64, n), make([]float64, n)
	b.nlo, b.nhi = make([]float64, len(b.nodes)), make([]float64, len(b.nodes))
	z, nx := b.f.s.Z, b.f.s.NX
	const omega = 1.6
	pull := omega / (4 * foldStiff)
	for range foldRounds {
		b.aim()
		for range foldSweeps {
			moved := 0.0
			for i, q := range b.nodes {
				was := z[q]
				t := was + omega*((z[q-1]+z[q+1]+z[int(q)-nx]+z[int(q)+nx])/4-was)
				if t > b.nhi[i] || t < b.nlo[i] {
					t = b.settle(i, t, pull)
				}
				moved = max(moved, math.Abs(t-was))
				z[q] = t
			}
			if moved < 1e-3*b.f.scale {
				break
			}
		}
	}
}

// settle returns the height t of node i of the band that minimises
// (t - z)^2 / (2 pull) + the weighted distances by which t passes the bounds: a
// convex function, whose slope has one zero.
func (b *band) settle(i int, z, pull float64) float64 {
	lo, hi := b.lo[i*dotsOf:(i+1)*dotsOf], b.hi[i*dotsOf:(i+1)*dotsOf]
	w := b.weight[i*dotsOf : (i+1)*dotsOf]
	slope := func(t float64) float64 {
		g := 0.0
		for k, h := range hi {
			if t > h {
				g += w[k]
			} else if t < lo[k] {
				g -= w[k]
			}
		}
		return g
	}
	g := slope(z)
	if g == 0 {
		return z
	}
	// The zero lies between z and z - pull times the slope of the penalty at z,
	// and not beyond the last bound on that side.
	a, e := z, max(z-pull*g, b.nhi[i])
	if g < 0 {
		e = min(z-pull*g, b.nlo[i])
	}
	for range 10 {
		t := (a + e) / 2
		if d := (t-z)/pull + slope(t); d == 0 {
			return t
		} else if d > 0 == (g > 0) {
			a = t
		} else {
			e = t
		}
	}
	return (a + e) / 2
}
