package cells

import (
	"math"

	"pourwright/internal/ground/vec"
)

// nearest finds cells from points in mm.
type nearest struct {
	c         *Cells
	of, first []int32
	corner    vec.V3
	h         float64
}

// find returns the cell that holds what lies nearest to p, within reach cells, or -1.
func (n *nearest) find(p vec.V3, reach int) int32 {
	x := p.Sub(n.corner).Mul(1 / n.h)
	if !x.Finite() || x.Len() > 1e7 {
		return -1
	}
	at := [3]int{int(math.Floor(x.X)), int(math.Floor(x.Y)), int(math.Floor(x.Z))}
	best, r := math.Inf(1), int32(-1)
	dim := n.c.Dim
	for k := max(at[2]-reach, 0); k <= min(at[2]+reach, dim[2]-1); k++ {
		for j := max(at[1]-reach, 0); j <= min(at[1]+reach, dim[1]-1); j++ {
			for i := max(at[0]-reach, 0); i <= min(at[0]+reach, dim[0]-1); i++ {
				f := n.first[i+dim[0]*(j+dim[1]*k)]
				if f < 0 || n.of[f] < 0 {
					continue
				}
				lo := vec.V3{X: float64(i), Y: float64(j), Z: float64(k)}
				d := x.Max(lo).Min(lo.Add(vec.V3{X: 1, Y: 1, Z: 1})).Dist(x)
				if d < best && d <= float64(reach) {
					best, r = d, n.of[f]
				}
			}
		}
	}
	return r
}

// along shares out the length of closed lines among the cells that they pass by.
func (n *nearest) along(lines [][]vec.V3) []Touch {
	if len(lines) == 0 {
		return nil
	}
	size := make([]float64, n.c.N)
	for _, l := range lines {
		for i, a := range l {
			b := l[(i+1)%len(l)]
			length := a.Dist(b)
			if !(length > 0) || math.IsInf(length, 0) {
				continue
			}
			steps := int(min(math.Ceil(4*length/n.h), 1e6))
			for k := range steps {
				if c := n.find(a.Lerp(b, (float64(k)+0.5)/float64(steps)), 1); c >= 0 {
					size[c] += length / float64(steps) * 1e-3
				}
			}
		}
	}
	var r []Touch
	for c, s := range size {
		if s > 0 {
			r = append(r, Touch{int32(c), s})
		}
	}
	return r
}
