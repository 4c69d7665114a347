package block

import (
	"math"

	"pourwright/internal/ground/vec"
)

// buckets finds the parting line's point nearest to a place of the face.
type buckets struct {
	f    *face
	step float64
	nx   int
	ny   int
	at   [][]vec.V3
}

func newBuckets(k *work) *buckets {
	f := k.f
	b := &buckets{f: f, step: 4 * f.h}
	b.nx = int(float64(f.nx)*f.h/b.step) + 2
	b.ny = int(float64(f.ny)*f.h/b.step) + 2
	b.at = make([][]vec.V3, b.nx*b.ny)
	for _, loop := range k.split.Line {
		for i, p := range loop {
			p, q := k.w.To(p), k.w.To(loop[(i+1)%len(loop)])
			n := int(p.Dist(q)/f.h) + 1
			for s := range n { // long edges are walked in steps of a cell
				r := p.Lerp(q, float64(s)/float64(n))
				c := b.cell(r.X, r.Y)
				b.at[c] = append(b.at[c], r)
			}
		}
	}
	return b
}

func (b *buckets) cell(x, y float64) int {
	i := min(max(int((x-b.f.x0)/b.step), 0), b.nx-1)
	j := min(max(int((y-b.f.y0)/b.step), 0), b.ny-1)
	return j*b.nx + i
}

// near returns the height of the line's point nearest to (x, y) within one
// bucket's width.
func (b *buckets) near(x, y float64) (z float64, ok bool) {
	c := b.cell(x, y)
	best := b.step
	for dj := -1; dj <= 1; dj++ {
		for di := -1; di <= 1; di++ {
			i, j := c%b.nx+di, c/b.nx+dj
			if i < 0 || j < 0 || i >= b.nx || j >= b.ny {
				continue
			}
			for _, p := range b.at[j*b.nx+i] {
				if d := math.Hypot(p.X-x, p.Y-y); d < best {
					best, z, ok = d, p.Z, true
				}
			}
		}
	}
	return z, ok
}
