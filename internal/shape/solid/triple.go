package solid

import (
	"cmp"
	"errors"
	"math"
	"slices"
)

// mostTriples bounds the triples of triangles that are asked; our own figure, no
// source.
const mostTriples = 5_000_000

// triples divides the segments where three triangles meet in one point: each of
// their three segments gets that point, the same for all, as a hit on no edge.
// special are the corners of triples that the point does not lie clearly in or
// out of.
func (s *side) triples(segs []segment, hits []hit) (_ []segment, _ []hit, special []int32, err error) {
	of := make(map[[2]int32]int32, len(segs)) // looked up only
	with := make([][]int32, len(s.t))
	for i, g := range segs {
		of[[2]int32{g.a, g.b}] = int32(i)
		with[g.a] = append(with[g.a], g.b) // a is the lower, the list rises
	}
	on := make([][]int32, len(segs)) // hits within a segment
	asked := 0
	for a, list := range with {
		for i, b := range list {
			for _, c := range list[i+1:] {
				if asked++; asked > mostTriples {
					return nil, nil, nil, errors.New("too many triangles cross")
				}
				bc, ok := of[[2]int32{b, c}]
				if !ok {
					continue
				}
				three := [3]int32{int32(a), b, c}
				p, in, sure := s.meeting(three)
				if !sure {
					for _, t := range three {
						special = append(special, s.t[t][:]...)
					}
				}
				if !in {
					continue
				}
				h := int32(len(hits))
				hits = append(hits, hit{lo: -1, hi: -2, tri: c, pos: p})
				for _, g := range [3]int32{of[[2]int32{int32(a), b}], of[[2]int32{int32(a), c}], bc} {
					on[g] = append(on[g], h)
				}
			}
		}
	}
	var out []segment
	for i, g := range segs {
		o, d := hits[g.from].pos, hits[g.to].pos
		along := func(h int32) float64 {
			x := 0.0
			for k := range 3 {
				x += (hits[h].pos[k] - o[k]) * (d[k] - o[k])
			}
			return x
		}
		slices.SortFunc(on[i], func(x, y int32) int { return cmp.Or(cmp.Compare(along(x), along(y)), cmp.Compare(x, y)) })
		from := g.from
		for _, h := range append(on[i], g.to) {
			out = append(out, segment{g.a, g.b, from, h})
			from = h
		}
	}
	return out, hits, special, nil
}

// meeting returns the point in the planes of three triangles and whether it lies
// in all three; sure is false where it lies on a side of one, or where the planes
// are all but parallel to one line.
func (s *side) meeting(three [3]int32) (p [3]float64, in, sure bool) {
	o := s.v[s.t[three[0]][0]]
	var n [3][3]float64
	var d [3]float64
	for i, t := range three {
		q := s.t[t]
		m := normal(s.v[q[0]], s.v[q[1]], s.v[q[2]])
		d[i] = m.dot(diff(s.v[q[0]], o))
		l := math.Sqrt(dot3([3]float64{float64(m[0]), float64(m[1]), float64(m[2])}, [3]float64{float64(m[0]), float64(m[1]), float64(m[2])}))
		d[i] /= l
		for k := range 3 {
			n[i][k] = float64(m[k]) / l
		}
	}
	c0, c1, c2 := cross3(n[1], n[2]), cross3(n[2], n[0]), cross3(n[0], n[1])
	det := dot3(n[0], c0)
	if math.Abs(det) < 1e-9 {
		return p, false, true // no one point; a cut that needs it fails
	}
	var x [3]float64
	for k := range 3 {
		x[k] = (d[0]*c0[k] + d[1]*c1[k] + d[2]*c2[k]) / det
		p[k] = math.Round((x[k]+float64(o[k]))*fine) / fine
	}
	in, sure = true, true
	for i, t := range three {
		q := s.t[t]
		for k := range 3 {
			a, b := diff(s.v[q[k]], o), diff(s.v[q[(k+1)%3]], o)
			u := [3]float64{float64(b[0] - a[0]), float64(b[1] - a[1]), float64(b[2] - a[2])}
			w := [3]float64{x[0] - float64(a[0]), x[1] - float64(a[1]), x[2] - float64(a[2])}
			// Lattice steps on the inner side of this side of the triangle.
			y := dot3(n[i], cross3(u, w)) / math.Sqrt(dot3(u, u))
			if y < -0.01 {
				return p, false, true
			}
			if y < 0.01 {
				sure = false
			}
		}
	}
	return p, in && sure, sure
}

func cross3(a, b [3]float64) [3]float64 {
	return [3]float64{a[1]*b[2] - a[2]*b[1], a[2]*b[0] - a[0]*b[2], a[0]*b[1] - a[1]*b[0]}
}

func dot3(a, b [3]float64) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }
