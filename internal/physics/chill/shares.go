package chill

import (
	"math"

	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/cells"
)

// FromShares finds the walls from what the cells know of themselves. Exact for
// boxes and single flat walls; a few per cent off where slivers were merged or two
// walls share a cell. Where there is a mesh, FromMesh has the true areas.
func FromShares(c *cells.Cells) *Walls {
	sum := make([]gathered, 6*c.N)
	for k := range int32(c.N) {
		put := func(area float64, at, n vec.V3) {
			if area > 1e-3 {
				a := area * c.H * c.H
				g := &sum[6*int(k)+sixth(n)]
				g.area, g.at, g.normal = g.area+a, g.at.Add(at.Mul(a)), g.normal.Add(n.Mul(a))
			}
		}
		var open [6]float64
		for d := range 3 {
			open[2*d], open[2*d+1] = c.A[d][k], c.A[d][c.Nb[2*d+1][k]]
		}
		switch n := c.Normal[k]; {
		case c.V[k] > c.Own[k]+1e-9:
			w := vec.V3{X: open[0] - open[1], Y: open[2] - open[3], Z: open[4] - open[5]}
			if l := w.Len(); l > 1e-3 {
				w = w.Mul(1 / l)
				reach := 0.5 / (math.Abs(w.X) + math.Abs(w.Y) + math.Abs(w.Z)) * c.V[k]
				put(l, vec.V3{X: 0.5, Y: 0.5, Z: 0.5}.Add(w.Mul(reach)), w)
			}
		case n.Len() > 0.5:
			_, area, at := cells.CubeCut(n, c.Offset[k])
			put(area, at, n)
			for side, a := range open {
				put(sideUnder(n, c.Offset[k], side)-a-0.02, middle(side), outward(side))
			}
		case c.Own[k] < 1-1e-9:
			porous(c.V[k], open, put)
		default:
			for side, a := range open {
				put(1-a, middle(side), outward(side))
			}
		}
	}
	return pack(c.N, sum)
}

// porous puts the walls of a cell that holds a piece of a plate, a pin or a corner,
// taken as a box a b c: V = a b c, the open sides b c, a c and a b. What a side of
// that box does not open is wall.
func porous(v float64, open [6]float64, put func(area float64, at, n vec.V3)) {
	var side [3]float64
	for d := range 3 {
		side[d] = max(open[2*d], open[2*d+1])
	}
	for d := range 3 {
		e, f := (d+1)%3, (d+2)%3
		face := max(v, side[d]) // of the box, seen along d
		switch {
		case side[e] > 0 && side[f] > 0:
			face = max(face, v*v/(side[e]*side[f]))
		case side[d] == 0 && (side[e] > 0 || side[f] > 0):
			face = max(face, math.Sqrt(v))
		}
		face = min(face, 1)
		put(face-open[2*d], middle(2*d), outward(2*d))
		put(face-open[2*d+1], middle(2*d+1), outward(2*d+1))
	}
}

func outward(side int) vec.V3 {
	var n [3]float64
	n[side/2] = float64(2*(side%2) - 1)
	return vec.V3{X: n[0], Y: n[1], Z: n[2]}
}

func middle(side int) vec.V3 {
	return vec.V3{X: 0.5, Y: 0.5, Z: 0.5}.Add(outward(side).Mul(0.5))
}

// sideUnder returns the share of a cube's side that lies under a plane, as that of
// a cube that is wide across the side and thin along it.
func sideUnder(n vec.V3, a float64, side int) float64 {
	x := n.Array()
	d := side / 2
	a -= x[d] * float64(side%2)
	x[d] = 0
	if math.Hypot(math.Hypot(x[0], x[1]), x[2]) < 1e-12 {
		if a >= 0 {
			return 1
		}
		return 0
	}
	return cells.CubeUnder(vec.V3{X: x[0], Y: x[1], Z: x[2]}, a)
}
