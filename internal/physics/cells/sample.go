package cells

import (
	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/voxel"
)

// sub is how many lines stand on the edge of a cell. The masks of a web need 8.
const sub = 8

// samples is what lines along the three axes say of a box of cells.
type samples struct {
	dim  [3]int
	step [3]int // of an index, along each axis
	v    []float64
	a    [3][]float64
	cols [3]*voxel.Columns // lines along x, y, z in cells from the low corner
	bad  int               // lines whose crossings did not balance
}

// turn returns m in cells from the low corner, its axes e, f, d as x, y, z, the
// first two drawn together by su and sv.
func turn(m *mesh.Mesh, lo vec.V3, h float64, d int, su, sv float64) *mesh.Mesh {
	e, f := (d+1)%3, (d+2)%3
	r := &mesh.Mesh{V: make([]vec.V3, len(m.V)), F: m.F}
	par.For(len(m.V), 16384, func(a, b int) {
		for i := a; i < b; i++ {
			p := m.V[i].Sub(lo).Mul(1 / h).Array()
			r.V[i] = vec.V3{X: p[e] * su, Y: p[f] * sv, Z: p[d]}
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

// sample draws the lines: 8 x 8 through each cell along every axis for the
// volumes, and 8 in each side along both its edges. m is closed, in the unit of lo and h;
// inside means winding number above 0.
func sample(m *mesh.Mesh, lo vec.V3, h float64, dim [3]int) *samples {
	s := &samples{dim: dim, step: [3]int{1, dim[0], dim[0] * dim[1]}}
	n := dim[0] * dim[1] * dim[2]
	volume := newEstimate(n)
	sides := [3]estimate{newEstimate(n), newEstimate(n), newEstimate(n)}
	for d := range 3 {
		e, f := (d+1)%3, (d+2)%3
		var across, along *voxel.Columns
		par.Do(
			func() {
				t := turn(m, lo, h, d, 1, 1)
				s.cols[d] = voxel.Cast(t, dim[e]*sub, dim[f]*sub, 0.5/sub, 0.5/sub, 1.0/sub)
			},
			func() { // in the sides across e
				t := turn(m, lo, h, d, 1.0/sub, 1)
				across = voxel.Cast(t, dim[e], dim[f]*sub, 0, 0.5/sub, 1.0/sub)
			},
			func() { // in the sides across f
				t := turn(m, lo, h, d, 1, 1.0/sub)
				along = voxel.Cast(t, dim[e]*sub, dim[f], 0.5/sub, 0, 1.0/sub)
			},
		)
		s.bad += s.cols[d].Bad
		par.For(dim[f], 2, func(j0, j1 int) {
			lines, ends := make([]float64, dim[d]), make([]float64, dim[d])
			for j := j0; j < j1; j++ {
				for i := range dim[e] {
					at := i*s.step[e] + j*s.step[f]
					clear(lines)
					clear(ends)
					for b := range sub {
						for a := range sub {
							add(s.cols[d].At(i*sub+a, j*sub+b), lines, ends)
						}
					}
					volume.take(lines, ends, sub*sub, at, s.step[d])
					clear(lines)
					clear(ends)
					for b := range sub {
						add(across.At(i, j*sub+b), lines, ends)
					}
					sides[e].take(lines, ends, sub, at, s.step[d])
					clear(lines)
					clear(ends)
					for a := range sub {
						add(along.At(i*sub+a, j), lines, ends)
					}
					sides[f].take(lines, ends, sub, at, s.step[d])
				}
			}
		})
	}
	s.v = volume.result()
	for d := range 3 {
		s.a[d] = sides[d].result()
	}
	// A side is open only where both cells are; the box has nothing beyond it.
	par.For(n, 65536, func(q0, q1 int) {
		for q := q0; q < q1; q++ {
			p := [3]int{q % dim[0], q / dim[0] % dim[1], q / s.step[2]}
			for d := range 3 {
				if p[d] == 0 || s.v[q] == 0 || s.v[q-s.step[d]] == 0 {
					s.a[d][q] = 0
				}
			}
		}
	})
	return s
}
