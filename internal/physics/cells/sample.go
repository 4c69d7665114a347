package cells

import (
	"math"

	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/voxel"
)

// sub is how many lines stand on the edge of a cell. The masks of a web need 8.
const sub = 8

// samples is what is known of a box of cells.
type samples struct {
	dim  [3]int
	step [3]int // of an index, along each axis
	v    []float64
	a    [3][]float64 // low sides
	area [3][]float64 // of the wall as a vector, out of the body, lids included
	skin []skin
	sure []bool            // the triangles' pieces hold here, not the lines
	cols [3]*voxel.Columns // lines along x, y, z in cells from the low corner
	bad  int               // lines whose crossings did not balance
}

// turn returns m, in cells, with its axes e, f, d as x, y, z.
func turn(m *mesh.Mesh, d int) *mesh.Mesh {
	e, f := (d+1)%3, (d+2)%3
	r := &mesh.Mesh{V: make([]vec.V3, len(m.V)), F: m.F}
	par.For(len(m.V), 16384, func(a, b int) {
		for i := a; i < b; i++ {
			p := m.V[i].Array()
			r.V[i] = vec.V3{X: p[e], Y: p[f], Z: p[d]}
		}
	})
	return r
}

// local returns m in cells from the low corner.
func local(m *mesh.Mesh, lo vec.V3, h float64) *mesh.Mesh {
	r := &mesh.Mesh{V: make([]vec.V3, len(m.V)), F: m.F}
	par.For(len(m.V), 16384, func(a, b int) {
		for i := a; i < b; i++ {
			r.V[i] = m.V[i].Sub(lo).Mul(1 / h)
		}
	})
	return r
}

// estimate gathers what several directions say of one share. A line sees a wall
// exactly where it meets it, and misjudges by up to half the lines' distance a wall
// along it; the ends of spans in the cell count the wall as seen along the line, so they are the weight.
type estimate struct{ sum, weight []float32 }

func newEstimate(n int) estimate { return estimate{make([]float32, n), make([]float32, n)} }

// weigh is the weight of a direction from the ends per line.
func weigh(ends float64) float64 {
	w := ends*ends + 1e-6
	return w * w
}

// take folds in the mean over count lines: length and ends by cell.
func (e estimate) take(lines []float64, ends []float64, count float64, at, step int) {
	for k, l := range lines {
		w := weigh(ends[k] / count)
		e.sum[at] += float32(w * (l / count))
		e.weight[at] += float32(w)
		at += step
	}
}

func (e estimate) result() []float64 {
	r := make([]float64, len(e.sum))
	for q, s := range e.sum {
		r[q] = min(max(float64(s)/float64(e.weight[q]), 0), 1)
		if r[q] > 1-1e-6 {
			r[q] = 1
		}
		if r[q] < 1e-6 {
			r[q] = 0
		}
	}
	return r
}

// add adds to each cell the length of the spans that lies in it, and the ends.
func add(spans []voxel.Span, lines, ends []float64) {
	n := float64(len(lines))
	for _, s := range spans {
		lo, hi := max(s.Lo, 0), min(s.Hi, n)
		if !(lo < hi) {
			continue
		}
		i, j := int(lo), int(hi)
		ends[i]++
		if j < len(lines) {
			ends[j]++
		}
		if i == j {
			lines[i] += hi - lo
			continue
		}
		lines[i] += float64(i+1) - lo
		for k := i + 1; k < j; k++ {
			lines[k]++
		}
		if j < len(lines) {
			lines[j] += hi - float64(j)
		}
	}
}

// How far the volume by lines may lie from that of the triangles' pieces before a
// place counts as covered twice, or turned inside out: then the lines have it, as they have all of a
// mesh that is not closed. Lines may misjudge an edge along them by a tenth of a cell; where some cell is
// beyond 0 .. 1, the mesh does cover places twice and less is believed.
const (
	once  = 0.15
	twice = 0.06
)

// sample measures volumes and sides of the cells of a box. m is closed, in cells
// from the low corner; inside means winding number above 0. Triangles are cut up by cells, which is exact where the
// mesh covers each place once; 8 x 8 lines through each cell along every axis
// say where that is so, and stand in where it is not.
func sample(m *mesh.Mesh, dim [3]int, block lids) *samples {
	s := &samples{dim: dim, step: [3]int{1, dim[0], dim[0] * dim[1]}}
	n := dim[0] * dim[1] * dim[2]
	volume := newEstimate(n)
	var cut *surface
	par.Do(
		func() { cut = cutUp(m, dim, block) },
		func() { s.cast(m, 0) }, func() { s.cast(m, 1) }, func() { s.cast(m, 2) },
	)
	for d := range 3 {
		s.bad += s.cols[d].Bad
		s.lengths(volume, d)
	}
	lines := volume.result()
	s.v, s.a = cut.shares(dim)
	s.area, s.skin, s.sure = cut.area, cut.skin, make([]bool, n)
	limit := once
	for q, v := range s.v {
		if v < -1e-6 || v > 1+1e-6 || s.a[0][q] > 1+1e-6 || s.a[1][q] > 1+1e-6 || s.a[2][q] > 1+1e-6 {
			limit = twice
			break
		}
	}
	par.For(n, 65536, func(q0, q1 int) {
		for q := q0; q < q1; q++ {
			if s.sure[q] = s.bad == 0 && math.Abs(s.v[q]-lines[q]) <= limit; !s.sure[q] {
				s.v[q], s.skin[q] = lines[q], skin{}
			}
			s.v[q] = whole(s.v[q])
		}
	})
	return s
}

// whole holds a share to 0..1, and takes it as 0 or 1 where it is so but for rounding.
func whole(x float64) float64 {
	if !(x > 1e-9) {
		return 0
	}
	if x > 1-1e-9 {
		return 1
	}
	return x
}

func (s *samples) cast(m *mesh.Mesh, d int) {
	s.cols[d] = voxel.Cast(turn(m, d), s.dim[(d+1)%3]*sub, s.dim[(d+2)%3]*sub, 0.5/sub, 0.5/sub, 1.0/sub)
}

// lengths folds in the volumes that the lines along d see.
func (s *samples) lengths(volume estimate, d int) {
	e, f := (d+1)%3, (d+2)%3
	par.For(s.dim[f], 2, func(j0, j1 int) {
		lines, ends := make([]float64, s.dim[d]), make([]float64, s.dim[d])
		for j := j0; j < j1; j++ {
			for i := range s.dim[e] {
				clear(lines)
				clear(ends)
				for b := range sub {
					for a := range sub {
						add(s.cols[d].At(i*sub+a, j*sub+b), lines, ends)
					}
				}
				volume.take(lines, ends, sub*sub, i*s.step[e]+j*s.step[f], s.step[d])
			}
		}
	})
}
