package photo

import (
	"math"

	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/outline"
	"pourwright/internal/shape/snapshot"
)

// border is a loop of the piece's border in the picture, with how sharp it is.
type border struct {
	loop  outline.Loop
	steep []float64 // of each point: slope over height of the step, 1/px
	step  []float64 // height of the step, levels
}

// trace returns the loops of the mask in the picture's pixels, points about
// gap px apart, the piece to the left in x right, y down coordinates taken as
// a plane.
func trace(s *small, p *part, gap float64) outline.Shape {
	v := make([]float64, s.w*s.h)
	for q, b := range p.in {
		if b {
			v[q] = 1
		}
	}
	// Smoothed, so that the staircase of the pixels goes.
	for range 2 {
		for _, d := range [2]int{1, s.w} {
			u := make([]float64, len(v))
			for q := range v {
				a, b := max(0, q-d), min(len(v)-1, q+d)
				u[q] = 0.5*v[q] + 0.25*(v[a]+v[b])
			}
			v = u
		}
	}
	var out outline.Shape
	for _, l := range outline.Contour(v, s.w, s.h, 0.5) {
		for i, q := range l {
			l[i] = s.up(q.X, q.Y)
		}
		if r := even(l, gap); len(r) >= 12 {
			out = append(out, r)
		}
	}
	return out
}

// even returns the loop with points gap apart along it.
func even(l outline.Loop, gap float64) outline.Loop {
	n := int(l.Length()/gap + 0.5)
	if n < 3 {
		return nil
	}
	d := l.Length() / float64(n)
	r := make(outline.Loop, 0, n)
	left := 0.0
	for i, a := range l {
		b := l[(i+1)%len(l)]
		e := b.Sub(a)
		k := e.Len()
		for ; left < k && len(r) < n; left += d {
			r = append(r, a.Add(e.Mul(left/k)))
		}
		left -= k
	}
	return r
}

// normals returns unit vectors outwards, from chords over 2 k points.
func normals(l outline.Loop, k int) []vec.V2 {
	n := len(l)
	out := make([]vec.V2, n)
	for i := range l {
		e := l[(i+k)%n].Sub(l[(i-k+n)%n])
		u := e.Len()
		if u == 0 {
			u = 1
		}
		out[i] = vec.V2{X: e.Y / u, Y: -e.X / u}
	}
	return out
}

// lead takes a loop to the steepest change of colour within reach px of it. On
// each normal the slope of the colour along the step from inside to outside is
// measured; the offsets along the loop are those with the largest sum of slopes
// less a price for jumps (dynamic programming round the loop, Amini, Weymouth
// & Jain 1990), then taken to parts of a pixel by a parabola.
func lead(p *snapshot.Picture, l outline.Loop, reach int, blur float64) border {
	n := len(l)
	nrm := normals(l, 3)
	m := 2*reach + 1
	wing := int(math.Ceil(2 + 1.5*blur)) // px beyond the search on either side
	long := 2*(reach+wing) + 1
	line := make([]rgb, n*long)
	par.For(n, 32, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			along := vec.V2{X: -nrm[i].Y, Y: nrm[i].X}
			for k := range long {
				q := l[i].Add(nrm[i].Mul(float64(k - reach - wing)))
				line[i*long+k] = sample(p, q.Sub(along.Mul(0.8))).add(sample(p, q.Add(along.Mul(0.8)))).mul(0.5)
			}
		}
	})
	gain := make([]float64, n*m)
	rel := make([]float64, n*m)
	high := make([]float64, n*m)
	for i := range n {
		for k := range m {
			c := k + wing
			var in, out, d rgb
			for e := 2; e <= wing; e++ {
				in = in.add(line[i*long+c-e])
				out = out.add(line[i*long+c+e])
			}
			in, out = in.mul(1/float32(wing-1)), out.mul(1/float32(wing-1))
			s := out.sub(in)
			h := s.len()
			d = line[i*long+c+1].sub(line[i*long+c-1]).mul(0.5)
			g := float32(0)
			if h > 1 {
				g = d.dot(s) / h
			}
			gain[i*m+k] = math.Sqrt(max(0, float64(g)))
			rel[i*m+k] = float64(g) / max(1, float64(h))
			high[i*m+k] = float64(h)
		}
	}
	const jump = 0.6
	pathFrom := func(fixed int) []int {
		best := make([]float64, n*m)
		from := make([]int8, n*m)
		for k := range m {
			best[k] = gain[k]
			if fixed >= 0 && k != fixed {
				best[k] = math.Inf(-1)
			}
		}
		for i := 1; i < n; i++ {
			for k := range m {
				b, at := math.Inf(-1), 0
				for d := -1; d <= 1; d++ {
					if j := k + d; j >= 0 && j < m {
						if x := best[(i-1)*m+j] - jump*math.Abs(float64(d)); x > b {
							b, at = x, d
						}
					}
				}
				best[i*m+k] = b + gain[i*m+k]
				from[i*m+k] = int8(at)
			}
		}
		end := 0
		for k := range m {
			if fixed >= 0 && (k < fixed-1 || k > fixed+1) {
				continue
			}
			if best[(n-1)*m+k] > best[(n-1)*m+end] || (fixed >= 0 && (end < fixed-1 || end > fixed+1)) {
				end = k
			}
		}
		path := make([]int, n)
		for i := n - 1; i >= 0; i-- {
			path[i] = end
			end += int(from[i*m+end])
		}
		return path
	}
	free := pathFrom(-1)
	// Start again where the first walk has long left its free ends behind.
	turn := n / 2
	rot := func(x []float64) []float64 { return append(append([]float64{}, x[turn*m:]...), x[:turn*m]...) }
	gain = rot(gain)
	path := pathFrom(free[turn])
	gain = append(append([]float64{}, gain[(n-turn)*m:]...), gain[:(n-turn)*m]...)
	b := border{loop: make(outline.Loop, n), steep: make([]float64, n), step: make([]float64, n)}
	off := make([]float64, n)
	for i := range n {
		k := path[(i-turn+n)%n]
		x := float64(k - reach)
		if k > 0 && k+1 < m {
			y0, y1, y2 := gain[i*m+k-1], gain[i*m+k], gain[i*m+k+1]
			y0, y1, y2 = y0*y0, y1*y1, y2*y2
			if y1 >= y0 && y1 >= y2 && y0-2*y1+y2 < 0 {
				x += 0.5 * (y0 - y2) / (y0 - 2*y1 + y2)
			}
		}
		off[i] = x
		b.steep[i] = rel[i*m+k]
		b.step[i] = high[i*m+k]
	}
	for i := range n { // a running median of five takes out single slips
		a := []float64{off[(i+n-2)%n], off[(i+n-1)%n], off[i], off[(i+1)%n], off[(i+2)%n]}
		x := 0.5*quantile(a, 0.5) + 0.5*(a[0]+2*a[1]+3*a[2]+2*a[3]+a[4])/9
		b.loop[i] = l[i].Add(nrm[i].Mul(x))
	}
	return b
}
