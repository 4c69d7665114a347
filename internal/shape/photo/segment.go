package photo

import (
	"math"

	"pourwright/internal/ground/par"
)

// tints is a histogram of colours in 32 x 32 x 32 bins.
type tints []float32

const bins = 32

func binOf(c rgb) int {
	q := func(x float32) int { return min(bins-1, max(0, int(x)*bins/256)) }
	return (q(c[0])*bins+q(c[1]))*bins + q(c[2])
}

// spread smooths a histogram with the weights 1 4 6 4 1 along each colour and
// makes its sum 1.
func (t tints) spread() tints {
	w := [5]float32{1.0 / 16, 4.0 / 16, 6.0 / 16, 4.0 / 16, 1.0 / 16}
	cur := t
	for _, step := range [3]int{1, bins, bins * bins} {
		next := make(tints, len(cur))
		for q, v := range cur {
			if v == 0 {
				continue
			}
			i := q / step % bins
			for k, f := range w {
				j := min(bins-1, max(0, i+k-2))
				next[q+(j-i)*step] += f * v
			}
		}
		cur = next
	}
	sum := float32(0)
	for _, v := range cur {
		sum += v
	}
	if sum > 0 {
		for q := range cur {
			cur[q] /= sum
		}
	}
	return cur
}

// shades are the factors on the levels of the ground by which a soft shadow or
// the lamp's falling off may change it, with how likely each is.
var shades = []struct{ k, w float32 }{{1.08, 0.15}, {1, 1}, {0.93, 0.3}, {0.86, 0.2}, {0.79, 0.15}, {0.72, 0.1}, {0.65, 0.06}}

// walls are the factors on the levels of the piece by which a wall that looks
// away from the light may be darker.
var walls = []float32{0.9, 0.8, 0.7, 0.6}

// part is the piece in the small picture.
type part struct {
	in     []bool
	area   int
	border bool // it touches the picture's edge
	card   bool // it touches the reference
	cut    int  // pixels of the largest other thing that the picture's edge cuts off
	others int  // pixels of the next largest thing that lies in the picture
}

// segment parts the piece from the ground. Where nothing stands out from what
// lies along the picture's edge and round the reference, one of the two may be
// hidden by the piece: then each is tried alone. fixed marks the pixels of the
// reference. least is the smallest area of a piece, pixels.
func segment(s *small, fixed []bool, least int) (*part, bool) {
	for _, use := range [3][2]bool{{true, true}, {true, false}, {false, true}} {
		if p, ok := segmentBy(s, fixed, least, use[0], use[1]); ok {
			return p, true
		}
	}
	return nil, false
}

func segmentBy(s *small, fixed []bool, least int, byEdge, byReference bool) (*part, bool) {
	w, h := s.w, s.h
	t := s.smoothed()
	// How much neighbours differ decides what an edge costs (Rother et al. 2004, eq. 5).
	sum, cnt := 0.0, 0.0
	for j := range h {
		for i := 0; i+1 < w; i++ {
			d := t.c[j*w+i].sub(t.c[j*w+i+1])
			sum += float64(d.dot(d))
			cnt++
		}
	}
	beta := 1 / (2*sum/cnt + 4)
	ground, piece := make(tints, bins*bins*bins), make(tints, bins*bins*bins)
	band, ring := 0, make([]bool, w*h)
	if byEdge {
		band = max(3, min(w, h)/45)
	}
	if byReference {
		ring = near(fixed, w, h, max(4, min(w, h)/60))
	}
	for j := range h {
		for i := range w {
			if q := j*w + i; !fixed[q] && (ring[q] || i < band || j < band || i >= w-band || j >= h-band) {
				for _, f := range shades {
					ground[binOf(t.c[q].mul(f.k))] += f.w
				}
			}
		}
	}
	ground = ground.spread()
	for q := range piece {
		piece[q] = 1.0 / (bins * bins * bins)
	}
	var p *part
	const unit = 64 // of the capacities for one nat
	for round := range 5 {
		g := newGrid(w, h)
		cost := 9.0 * unit
		par.For(h, 16, func(lo, hi int) {
			for j := lo; j < hi; j++ {
				for i := range w {
					q := j*w + i
					b := binOf(t.c[q])
					r := math.Log((float64(piece[b])+1e-6)/(float64(ground[b])+1e-6)) * unit
					if fixed[q] || i == 0 || j == 0 || i == w-1 || j == h-1 {
						r = min(r, -2*unit)
						if fixed[q] {
							r = -1 << 20
						}
					}
					g.term[q] = int32(min(max(r, -8*unit), 8*unit))
					if fixed[q] {
						g.term[q] = -1 << 20
					}
				}
			}
		})
		for j := range h {
			for i := range w {
				for d := 0; d < 8; d += 2 {
					x, y := i+stepX[d], j+stepY[d]
					if x < 0 || y < 0 || x >= w || y >= h {
						continue
					}
					e := t.c[j*w+i].sub(t.c[y*w+x])
					c := cost * (0.06 + math.Exp(-beta*float64(e.dot(e))))
					if d >= 4 {
						c /= math.Sqrt2
					}
					g.link(j*w+i, d, int32(c))
				}
			}
		}
		in := g.solve()
		next := pick(s, in, fixed, least)
		if next == nil {
			if p == nil {
				return nil, false
			}
			break
		}
		same := p != nil
		if same {
			diff := 0
			for q := range in {
				if next.in[q] != p.in[q] {
					diff++
				}
			}
			same = diff*500 < next.area
		}
		p = next
		if same && round > 1 {
			break
		}
		ground, piece = make(tints, bins*bins*bins), make(tints, bins*bins*bins)
		for q := range in {
			switch b := binOf(t.c[q]); {
			case fixed[q]:
			case p.in[q]:
				piece[b]++
				for _, k := range walls { // a wall in its own shade
					piece[binOf(t.c[q].mul(k))] += 0.08
				}
			case !in[q]:
				for _, f := range shades {
					k := f.w
					if f.k != 1 {
						k *= 0.15
					}
					ground[binOf(t.c[q].mul(f.k))] += k
				}
			}
		}
		ground, piece = ground.spread(), piece.spread()
	}
	return p, true
}

// near marks the pixels within d of a marked one, along rows and columns.
func near(in []bool, w, h, d int) []bool {
	out := make([]bool, w*h)
	for j := range h {
		for i := range w {
			if !in[j*w+i] {
				continue
			}
			edge := i > 0 && !in[j*w+i-1] || i+1 < w && !in[j*w+i+1] || j > 0 && !in[(j-1)*w+i] || j+1 < h && !in[(j+1)*w+i]
			if !edge {
				continue
			}
			for y := max(0, j-d); y <= min(h-1, j+d); y++ {
				for x := max(0, i-d); x <= min(w-1, i+d); x++ {
					out[y*w+x] = true
				}
			}
		}
	}
	return out
}

// pick takes the largest connected thing that stands free in the picture, its
// small holes filled, and notes what it touches.
func pick(s *small, in, fixed []bool, least int) *part {
	w, h := s.w, s.h
	label, size := parts(in, w, h)
	edge, near := make([]bool, len(size)), make([]bool, len(size))
	for q, l := range label {
		if l < 0 {
			continue
		}
		x, y := q%w, q/w
		if x <= 1 || y <= 1 || x >= w-2 || y >= h-2 {
			edge[l] = true
		}
		for d := range 8 {
			i, j := x+stepX[d], y+stepY[d]
			if i >= 0 && j >= 0 && i < w && j < h && fixed[j*w+i] {
				near[l] = true
			}
		}
	}
	best, second := -1, 0
	score := func(n int) float64 {
		k := float64(size[n])
		if edge[n] { // a thing that is cut off counts for less: it may be a fold of the cloth
			k *= 0.25
		}
		if near[n] {
			k *= 0.5
		}
		return k
	}
	for n := range size {
		if best < 0 || score(n) > score(best) {
			best = n
		}
	}
	if best < 0 || size[best] < least {
		return nil
	}
	cut := 0
	for n := range size {
		switch {
		case n == best:
		case edge[n]:
			cut = max(cut, size[n])
		case !near[n]:
			second = max(second, size[n])
		}
	}
	p := &part{in: make([]bool, w*h), cut: cut, border: edge[best], card: near[best], others: second}
	for q, l := range label {
		p.in[q] = int(l) == best
	}
	// Holes smaller than a thirtieth of the least piece are specks.
	out := make([]bool, w*h)
	for q := range out {
		out[q] = !p.in[q]
	}
	hole, hs := parts(out, w, h)
	for q, l := range hole {
		if l >= 0 && hs[l] < max(6, least/8) {
			p.in[q] = true
		}
	}
	for _, b := range p.in {
		if b {
			p.area++
		}
	}
	return p
}
