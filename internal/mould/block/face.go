package block

import (
	"math"
	"slices"

	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/voxel"
)

// face is the parting face seen along the pull: per node the lowest and the
// highest metal, and the distance to the nearest metal.
type face struct {
	nx, ny    int
	x0, y0, h float64
	lo, hi    []float64 // of metal; lo > hi where there is none
	away      []float64 // mm to the nearest node with metal, 0 on metal
	cols      *voxel.Columns
}

// spacing returns the grid's cell for a face of the given longest side: 0.5 mm
// for blocks up to 200 mm, coarser or finer by powers of two, so that every
// node stands on the lattice of the solids.
func spacing(longest float64) float64 {
	h := 0.25
	for longest/h > 400 && h < 4 {
		h *= 2
	}
	return h
}

func look(m *mesh.Mesh, lo, hi vec.V2, h float64) *face {
	f := &face{h: h, x0: math.Floor(lo.X/h) * h, y0: math.Floor(lo.Y/h) * h}
	f.nx = int(math.Ceil((hi.X-f.x0)/h)) + 1
	f.ny = int(math.Ceil((hi.Y-f.y0)/h)) + 1
	f.cols = voxel.Cast(m, f.nx, f.ny, f.x0, f.y0, h)
	n := f.nx * f.ny
	f.lo, f.hi = make([]float64, n), make([]float64, n)
	for q := range n {
		f.lo[q], f.hi[q] = math.Inf(1), math.Inf(-1)
		if s := f.cols.Of(q); len(s) > 0 {
			f.lo[q], f.hi[q] = s[0].Lo, s[len(s)-1].Hi
		}
	}
	f.away = distance(f.nx, f.ny, h, func(q int) bool { return f.lo[q] <= f.hi[q] })
	return f
}

func (f *face) metal(q int) bool { return f.lo[q] <= f.hi[q] }

func (f *face) xy(q int) vec.V2 {
	return vec.V2{X: f.x0 + float64(q%f.nx)*f.h, Y: f.y0 + float64(q/f.nx)*f.h}
}

// node returns the node nearest to (x, y), kept on the grid.
func (f *face) node(x, y float64) int {
	i := min(max(int(math.Round((x-f.x0)/f.h)), 0), f.nx-1)
	j := min(max(int(math.Round((y-f.y0)/f.h)), 0), f.ny-1)
	return j*f.nx + i
}

// free returns the distance to the nearest node with metal at (x, y), linear
// between nodes; beyond the grid that of its rim plus the way to it. The skin
// may stand up to 1.42 cells nearer.
func (f *face) free(x, y float64) float64 {
	u, v := (x-f.x0)/f.h, (y-f.y0)/f.h
	cu, cv := min(max(u, 0), float64(f.nx-1)), min(max(v, 0), float64(f.ny-1))
	i, j := min(int(cu), f.nx-2), min(int(cv), f.ny-2)
	a, b := cu-float64(i), cv-float64(j)
	q := j*f.nx + i
	d := (f.away[q]*(1-a)+f.away[q+1]*a)*(1-b) + (f.away[q+f.nx]*(1-a)+f.away[q+f.nx+1]*a)*b
	if u != cu || v != cv {
		d += math.Hypot(u-cu, v-cv) * f.h
	}
	return d
}

// distance is the exact Euclidean distance of every node to the nearest node
// that is on (P. Felzenszwalb & D. Huttenlocher, Distance transforms of sampled
// functions, Theory of Computing 8 (2012) 415). Inf where none is on.
func distance(nx, ny int, h float64, on func(q int) bool) []float64 {
	d := make([]float64, nx*ny)
	par.For(nx, 32, func(lo, hi int) {
		for i := lo; i < hi; i++ { // along y, by two scans
			last := math.Inf(-1)
			for j := range ny {
				if on(j*nx + i) {
					last = float64(j)
				}
				d[j*nx+i] = float64(j) - last
			}
			last = math.Inf(1)
			for j := ny - 1; j >= 0; j-- {
				if on(j*nx + i) {
					last = float64(j)
				}
				v := math.Min(d[j*nx+i], last-float64(j))
				d[j*nx+i] = v * v
			}
		}
	})
	par.For(ny, 32, func(lo, hi int) {
		e := newEnvelope(nx)
		for j := lo; j < hi; j++ {
			row := d[j*nx : (j+1)*nx]
			e.run(row, 1)
			for i, v := range row {
				row[i] = math.Sqrt(v) * h
			}
		}
	})
	return d
}

// envelope holds the parabolas of one line of the distance transform.
type envelope struct {
	v []int
	z []float64
	f []float64
}

func newEnvelope(n int) *envelope {
	return &envelope{make([]int, n), make([]float64, n+1), make([]float64, n)}
}

// run replaces d, taken every step entries, by min over k of d[k] + (i-k)^2.
func (e *envelope) run(d []float64, step int) {
	n := (len(d) + step - 1) / step
	k := -1
	for q := range n {
		fq := d[q*step]
		e.f[q] = fq
		if math.IsInf(fq, 1) {
			continue
		}
		s := math.Inf(-1)
		for k >= 0 {
			p := e.v[k]
			s = (fq + float64(q*q) - e.f[p] - float64(p*p)) / float64(2*(q-p))
			if s > e.z[k] {
				break
			}
			k--
			s = math.Inf(-1)
		}
		k++
		e.v[k], e.z[k] = q, s
	}
	if k < 0 {
		return
	}
	last := k
	k = 0
	for q := range n {
		for k < last && e.z[k+1] < float64(q) {
			k++
		}
		p := e.v[k]
		d[q*step] = e.f[p] + float64((q-p)*(q-p))
	}
}

// level returns the height of the parting surface at the block's sides: the
// median of the lowest and highest metal along the rim of the shadow.
func (f *face) level() float64 {
	var ends []float64
	for j := 1; j < f.ny-1; j++ {
		for i := 1; i < f.nx-1; i++ {
			q := j*f.nx + i
			if f.metal(q) && !(f.metal(q-1) && f.metal(q+1) && f.metal(q-f.nx) && f.metal(q+f.nx)) {
				ends = append(ends, f.lo[q], f.hi[q])
			}
		}
	}
	if len(ends) == 0 {
		return 0
	}
	slices.Sort(ends)
	n := len(ends) / 2
	return (ends[n-1] + ends[n]) / 2
}
