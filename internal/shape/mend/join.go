package mend

import (
	"fmt"
	"math"
	"slices"

	"pourwright/internal/ground/sets"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

func place(p vec.V3) string { return fmt.Sprintf("%.5g, %.5g, %.5g", p.X, p.Y, p.Z) }

// reaches are the tolerances tried for corners and T-joints, as shares of the
// box diagonal: rounding of single precision first, sloppy export last. Our
// own figures, no source.
var reaches = [...]float64{1e-7, 1e-6, 1e-5, 1e-4}

// sizeOf returns the diagonal of the mesh's box, or 1.5 of that of the middle
// 98 % of its corners along each axis where that is less, so that a speck far
// away does not make the tolerances wide.
func sizeOf(m *mesh.Mesh) float64 {
	step := max(len(m.V)/20000, 1)
	var x [3][]float64
	for i := 0; i < len(m.V); i += step {
		for k, c := range m.V[i].Array() {
			x[k] = append(x[k], c)
		}
	}
	s := 0.0
	for k := range x {
		slices.Sort(x[k])
		n := len(x[k])
		d := x[k][n-1-n/100] - x[k][n/100]
		s += d * d
	}
	whole := m.Box().Size().Len()
	if s > 0 {
		return math.Min(whole, 1.5*math.Sqrt(s))
	}
	return whole
}

// join makes one corner of those that lie all but together. Only corners of
// open edges are touched; of the tolerances, the smallest that leaves the
// fewest faulty edges is taken, and none where it does not help.
func (w *work) join() {
	open, many := faults(w.groups())
	if open == 0 {
		return
	}
	free := openCorners(w.m, w.groups())
	best, at := open+many, []int32(nil)
	count := 0
	for _, r := range reaches {
		to, n := cluster(w.m.V, free, r*w.size)
		if n < 0 {
			break
		}
		if n <= count {
			continue
		}
		count = n
		f := renamed(w.m.F, to)
		trial := &mesh.Mesh{V: w.m.V, F: f}
		o, k := faults(oddEdges(trial, mesh.Opposite(trial)))
		if o+k < best {
			best, at = o+k, to
		}
		if best == 0 {
			break
		}
	}
	if at == nil {
		return
	}
	// Each corner goes to the mean of its cluster.
	sum := make(map[int32]vec.V3)
	num := make(map[int32]float64)
	n := 0
	var where vec.V3
	for _, v := range free {
		if at[v] != v && n == 0 {
			where = w.m.V[v]
		}
		if at[v] != v {
			n++
		}
		sum[at[v]] = sum[at[v]].Add(w.m.V[v])
		num[at[v]]++
	}
	for _, v := range free {
		if at[v] == v && num[v] > 1 {
			w.m.V[v] = sum[v].Mul(1 / num[v])
		}
	}
	w.m.F = renamed(w.m.F, at)
	w.changed()
	w.did("joined corners that lie all but together", n, where)
	w.dropDoubles()
}

// renamed returns the triangles with corner v renamed to to[v], without those
// that then name a corner twice.
func renamed(f [][3]int32, to []int32) [][3]int32 {
	r := make([][3]int32, 0, len(f))
	for _, t := range f {
		t = [3]int32{to[t[0]], to[t[1]], to[t[2]]}
		if mesh.Proper(t) {
			r = append(r, t)
		}
	}
	return r
}

// openCorners lists the corners of edges of one triangle, rising.
func openCorners(m *mesh.Mesh, odd [][]int32) []int32 {
	var list []int32
	for _, g := range odd {
		if len(g) == 1 {
			list = append(list, m.Tail(g[0]), m.Head(g[0]))
		}
	}
	slices.Sort(list)
	return slices.Compact(list)
}

// cluster joins the listed corners within reach of each other and returns, for
// every corner, the one that stands for it, and how many were joined to another;
// -1 where so many lie so close that a reach this long would join whole parts.
func cluster(v []vec.V3, list []int32, reach float64) ([]int32, int) {
	u := sets.New(len(v))
	cell := 4 * reach
	type key [3]int64
	of := func(p vec.V3) key {
		return key{int64(math.Floor(p.X / cell)), int64(math.Floor(p.Y / cell)), int64(math.Floor(p.Z / cell))}
	}
	last := make(map[key]int32, len(list)) // newest corner of a cell
	next := make(map[int32]int32)          // the one before it
	looks := 0
	for _, i := range list {
		p := v[i]
		lo := of(p.Sub(vec.V3{X: reach, Y: reach, Z: reach}))
		hi := of(p.Add(vec.V3{X: reach, Y: reach, Z: reach}))
		for x := lo[0]; x <= hi[0]; x++ {
			for y := lo[1]; y <= hi[1]; y++ {
				for z := lo[2]; z <= hi[2]; z++ {
					j, ok := last[key{x, y, z}]
					for ok {
						looks++
						if v[j].Dist(p) <= reach {
							u.Join(i, j)
						}
						j, ok = next[j]
					}
				}
			}
		}
		if looks > 1000+40*len(list) {
			return nil, -1
		}
		k := of(p)
		if j, ok := last[k]; ok {
			next[i] = j
		}
		last[k] = i
	}
	n := 0
	to := u.Roots()
	for _, i := range list {
		if to[i] != i {
			n++
		}
	}
	return to, n
}
