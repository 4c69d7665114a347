package photo

import (
	"math"

	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/snapshot"
)

// rgb is a colour in levels of 255.
type rgb [3]float32

func (a rgb) add(b rgb) rgb       { return rgb{a[0] + b[0], a[1] + b[1], a[2] + b[2]} }
func (a rgb) sub(b rgb) rgb       { return rgb{a[0] - b[0], a[1] - b[1], a[2] - b[2]} }
func (a rgb) mul(s float32) rgb   { return rgb{a[0] * s, a[1] * s, a[2] * s} }
func (a rgb) dot(b rgb) float32   { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }
func (a rgb) len() float32        { return float32(math.Sqrt(float64(a.dot(a)))) }
func mix(a, b rgb, t float32) rgb { return a.mul(1 - t).add(b.mul(t)) }
func at(p *snapshot.Picture, x, y int) rgb {
	x, y = min(p.W-1, max(0, x)), min(p.H-1, max(0, y))
	c := p.Pix[3*(y*p.W+x):]
	return rgb{float32(c[0]), float32(c[1]), float32(c[2])}
}

// sample reads the picture between pixels, linearly; the middle of the first
// pixel lies at (0.5, 0.5).
func sample(p *snapshot.Picture, q vec.V2) rgb {
	x, y := min(max(q.X-0.5, -1), float64(p.W)), min(max(q.Y-0.5, -1), float64(p.H))
	i, j := int(math.Floor(x)), int(math.Floor(y))
	a, b := float32(x-float64(i)), float32(y-float64(j))
	return mix(mix(at(p, i, j), at(p, i+1, j), a), mix(at(p, i, j+1), at(p, i+1, j+1), a), b)
}

// small is a picture reduced by a whole factor.
type small struct {
	w, h, k int
	c       []rgb
}

// reduce takes means over squares of k x k pixels.
func reduce(p *snapshot.Picture, k int) *small {
	s := &small{w: p.W / k, h: p.H / k, k: k}
	s.c = make([]rgb, s.w*s.h)
	par.For(s.h, 16, func(lo, hi int) {
		for j := lo; j < hi; j++ {
			for i := range s.w {
				var sum [3]int
				for y := j * k; y < (j+1)*k; y++ {
					row := p.Pix[3*(y*p.W+i*k):][:3*k]
					for x := 0; x < 3*k; x += 3 {
						sum[0] += int(row[x])
						sum[1] += int(row[x+1])
						sum[2] += int(row[x+2])
					}
				}
				f := 1 / float32(k*k)
				s.c[j*s.w+i] = rgb{float32(sum[0]) * f, float32(sum[1]) * f, float32(sum[2]) * f}
			}
		}
	})
	return s
}

// smoothed returns the picture under the weights 1 2 1 both ways.
func (s *small) smoothed() *small {
	t := &small{w: s.w, h: s.h, k: s.k, c: make([]rgb, len(s.c))}
	pass := func(from, to []rgb, di, dj int) {
		par.For(s.h, 16, func(lo, hi int) {
			for j := lo; j < hi; j++ {
				for i := range s.w {
					a := from[max(0, j-dj)*s.w+max(0, i-di)]
					b := from[min(s.h-1, j+dj)*s.w+min(s.w-1, i+di)]
					to[j*s.w+i] = from[j*s.w+i].mul(0.5).add(a.add(b).mul(0.25))
				}
			}
		})
	}
	half := make([]rgb, len(s.c))
	pass(s.c, half, 1, 0)
	pass(half, t.c, 0, 1)
	return t
}

// up takes a place in the small picture to one in the full picture; i, j count
// from the middle of the first small pixel.
func (s *small) up(i, j float64) vec.V2 {
	k := float64(s.k)
	return vec.V2{X: (i + 0.5) * k, Y: (j + 0.5) * k}
}

// parts numbers the connected sets of pixels that are in, four neighbours
// each; -1 elsewhere. Numbers follow the first pixel.
func parts(in []bool, w, h int) (label []int32, size []int) {
	label = make([]int32, w*h)
	for q := range label {
		label[q] = -1
	}
	var stack []int32
	for q := range label {
		if !in[q] || label[q] >= 0 {
			continue
		}
		n := int32(len(size))
		size = append(size, 0)
		label[q] = n
		stack = append(stack[:0], int32(q))
		for len(stack) > 0 {
			p := int(stack[len(stack)-1])
			stack = stack[:len(stack)-1]
			size[n]++
			x := p % w
			for _, d := range [4]int{-1, 1, -w, w} {
				r := p + d
				if r < 0 || r >= w*h || (d == -1 && x == 0) || (d == 1 && x == w-1) || !in[r] || label[r] >= 0 {
					continue
				}
				label[r] = n
				stack = append(stack, int32(r))
			}
		}
	}
	return label, size
}
