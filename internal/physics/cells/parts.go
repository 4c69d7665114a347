package cells

import (
	"math"

	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/voxel"
)

// parts is a graph with the web of its nodes.
type parts struct {
	graph
	step  [3]int
	first []int32 // of the nodes at each place, -1 where there is none
	mask  []int32 // of each node in masks, -1 in a whole cell
	masks [][sub]uint64
}

// graph finds what hangs together within the cells and between them.
func (s *samples) graph() *parts {
	n := len(s.v)
	f := &parts{graph: graph{dim: s.dim}, step: s.step, first: make([]int32, n)}
	number := make([]int32, n)
	var list []int32
	for q, v := range s.v {
		number[q] = -1
		if v > 0 && v < 1 {
			number[q] = int32(len(list))
			list = append(list, int32(q))
		}
	}
	webs := s.webs(list, number)
	s.cols = [3]*voxel.Columns{}
	pieces := make([][][sub]uint64, len(list))
	par.For(len(list), 512, func(lo, hi int) {
		for k := lo; k < hi; k++ {
			pieces[k] = webs[k].pieces()
		}
	})
	for q, v := range s.v {
		f.first[q] = -1
		k := number[q]
		if v == 0 || k >= 0 && len(pieces[k]) == 0 {
			continue
		}
		f.first[q] = int32(len(f.place))
		if k < 0 {
			f.node(q, v, -1)
			continue
		}
		all := 0
		for i := range pieces[k] {
			all += count(&pieces[k][i])
		}
		for i := range pieces[k] {
			f.masks = append(f.masks, pieces[k][i])
			f.node(q, v*float64(count(&pieces[k][i]))/float64(all), int32(len(f.masks)-1))
		}
	}
	f.normal, f.skin = make([]vec.V3, len(f.place)), make([]skin, len(f.place))
	f.sides(s, webs, number)
	f.dust(s)
	f.crumbs(s)
	return f
}

func (f *parts) node(q int, v float64, mask int32) {
	f.place, f.own, f.v, f.mask = append(f.place, int32(q)), append(f.own, v), append(f.v, v), append(f.mask, mask)
}

// at returns the nodes at a place, from the first to before the second result.
func (f *parts) at(q int) (lo, hi int32) {
	lo = f.first[q]
	if lo < 0 {
		return 0, 0
	}
	for hi = lo; int(hi) < len(f.place) && int(f.place[hi]) == q; hi++ {
	}
	return lo, hi
}

func (f *parts) maskOf(i int32) *[sub]uint64 {
	if k := f.mask[i]; k >= 0 {
		return &f.masks[k]
	}
	return nil
}

// sides makes the edges: the share of each side goes to the parts that are joined
// over it, by the lines that join them. Where the lines and the triangles' pieces
// differ by more than the lines can err, the lines have it.
func (f *parts) sides(s *samples, webs []web, number []int32) {
	const lines = sub * sub
	for q := range s.v {
		b0, b1 := f.at(q)
		for d := range 3 {
			if b0 == b1 || q/s.step[d]%s.dim[d] == 0 {
				continue
			}
			o := q - s.step[d]
			a0, a1 := f.at(o)
			all := 0
			from := len(f.edges)
			for a := a0; a < a1; a++ {
				for b := b0; b < b1; b++ {
					var w *web
					if k := number[o]; k >= 0 {
						w = &webs[k]
					}
					if n := links(f.maskOf(a), w, f.maskOf(b), d); n > 0 {
						all += n
						f.edges = append(f.edges, edge{a, b, int8(d), float64(n)})
					}
				}
			}
			area := whole(s.a[d][q])
			if s.bad > 0 || math.Abs(s.a[d][q]-float64(all)/lines) > coarse {
				area = float64(all) / lines
			}
			if !(area > thinnest) {
				f.edges = f.edges[:from]
			}
			for k := from; k < len(f.edges); k++ {
				f.edges[k].a *= area / float64(all)
			}
		}
	}
}

// coarse is how far 64 lines may misjudge a side: by half the distance of two on either edge.
const coarse = 0.2

// dust gives volumes that no point of a web lies in to the cell over the widest
// side, or to the fullest among the 26 round it.
func (f *parts) dust(s *samples) {
	for q, v := range s.v {
		if v == 0 || f.first[q] >= 0 {
			continue
		}
		best, to := 0.0, -1
		p := [3]int{q % s.dim[0], q / s.dim[0] % s.dim[1], q / s.step[2]}
		for d := range 3 {
			if a, o := s.a[d][q], q-s.step[d]; p[d] > 0 && a > best && f.first[o] >= 0 {
				best, to = a, o
			}
			if o := q + s.step[d]; p[d]+1 < s.dim[d] && s.a[d][o] > best && f.first[o] >= 0 {
				best, to = s.a[d][o], o
			}
		}
		if to < 0 {
			to = f.fullest(s, p)
		}
		if to < 0 {
			f.dropped += v
			continue
		}
		f.v[f.first[to]] += v
		if s.sure[q] {
			for k, t := range s.skin[q] {
				f.skin[f.first[to]][k] += t
			}
		}
	}
}

// crumbs gives parts of a few points that the lines join to nothing, as at the rim of a thin
// part, to the fullest of the places round them.
func (f *parts) crumbs(s *samples) {
	joined := make([]bool, len(f.place))
	for _, e := range f.edges {
		joined[e.lo], joined[e.hi] = true, true
	}
	for i, q := range f.place {
		if joined[i] || f.own[i] > 0.05 {
			continue
		}
		p := [3]int{int(q) % s.dim[0], int(q) / s.dim[0] % s.dim[1], int(q) / s.step[2]}
		if to := f.fullest(s, p); to >= 0 && joined[f.first[to]] {
			f.v[f.first[to]] += f.v[i]
			f.v[i] = 0
		}
	}
}

// fullest returns the place with the largest share round p that has a node, or -1.
func (f *parts) fullest(s *samples, p [3]int) int {
	best, to := 0.0, -1
	for k := max(p[2]-1, 0); k <= min(p[2]+1, s.dim[2]-1); k++ {
		for j := max(p[1]-1, 0); j <= min(p[1]+1, s.dim[1]-1); j++ {
			for i := max(p[0]-1, 0); i <= min(p[0]+1, s.dim[0]-1); i++ {
				if o := i + j*s.step[1] + k*s.step[2]; f.first[o] >= 0 && s.v[o] > best {
					best, to = s.v[o], o
				}
			}
		}
	}
	return to
}
