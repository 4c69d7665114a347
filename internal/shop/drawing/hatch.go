package drawing

import (
	"math"
	"sort"

	"pourwright/internal/ground/vec"
)

// tone is a hatch of the look: a name that means one thing only.
type tone int

const (
	toneHalf1 tone = iota
	toneHalf2
	toneUndercut
	toneClay
	toneBoard
	toneOffcut
)

// hatch fills the even-odd inside of the loops with tone t. Widths and
// spacings are mm on the page, also in reduced pictures.
func (p *page) hatch(t tone, loops [][]vec.V2) {
	switch t {
	case toneHalf1:
		p.stroke(thinLine, nil, false, rulings(loops, 45, 2, 0)...)
	case toneHalf2:
		p.stroke(thinLine, nil, false, rulings(loops, 135, 3, 0)...)
		p.stroke(thinLine, nil, false, rulings(loops, 135, 3, 0.7)...)
	case toneUndercut:
		p.stroke(0.30, nil, false, rulings(loops, 90, 0.9, 0)...)
	case toneOffcut:
		p.stroke(hairLine, nil, false, rulings(loops, 75, 2.6, 0)...)
	case toneBoard:
		p.stroke(thinLine, []float64{14, 3}, false, rulings(loops, 0, 3, 0)...)
	case toneClay:
		p.dots(loops)
	}
}

// rulings returns parallel lines at deg (counter-clockwise on the page) every
// spacing mm, moved by shift, inside the loops (even-odd). The lines of equal
// settings fall together on a whole page, whatever the loops.
func rulings(loops [][]vec.V2, deg, spacing, shift float64) [][]vec.V2 {
	s, c := math.Sincos(deg * math.Pi / 180)
	// along the line and across it; y runs down, so the angle turns over.
	across := func(q vec.V2) (u, v float64) { return q.X*c - q.Y*s, q.X*s + q.Y*c }
	back := func(u, v float64) vec.V2 { return vec.V2{X: u*c + v*s, Y: -u*s + v*c} }
	vlo, vhi := math.Inf(1), math.Inf(-1)
	for _, l := range loops {
		for _, q := range l {
			_, v := across(q)
			vlo, vhi = math.Min(vlo, v), math.Max(vhi, v)
		}
	}
	if vhi < vlo {
		return nil
	}
	k0 := int(math.Ceil((vlo - shift) / spacing))
	k1 := int(math.Floor((vhi - shift) / spacing))
	if k1 < k0 || k1-k0 > 20000 {
		return nil
	}
	hits := make([][]float64, k1-k0+1)
	for _, l := range loops {
		for i, q := range l {
			r := l[(i+1)%len(l)]
			u0, v0 := across(q)
			u1, v1 := across(r)
			if v0 > v1 {
				u0, v0, u1, v1 = u1, v1, u0, v0
			}
			for k := max(k0, int(math.Ceil((v0-shift)/spacing))); k <= k1; k++ {
				v := float64(k)*spacing + shift
				if v >= v1 {
					break
				}
				if v >= v0 {
					hits[k-k0] = append(hits[k-k0], u0+(u1-u0)*(v-v0)/(v1-v0))
				}
			}
		}
	}
	var out [][]vec.V2
	for i, h := range hits {
		sort.Float64s(h)
		v := float64(k0+i)*spacing + shift
		for j := 0; j+1 < len(h); j += 2 {
			if h[j+1]-h[j] > 0.05 {
				out = append(out, []vec.V2{back(h[j], v), back(h[j+1], v)})
			}
		}
	}
	return out
}

// dots sets the clay: dots 0.6 across on a grid of 2.2 turned by 30 degrees.
func (p *page) dots(loops [][]vec.V2) {
	const pitch, r = 2.2, 0.3
	var all [][]vec.V2
	for _, l := range rulings(loops, 30, pitch, 0) {
		d := l[1].Sub(l[0])
		n := d.Len()
		d = d.Mul(1 / n)
		u0 := l[0].Dot(d)
		for k := math.Ceil((u0 + r) / pitch); k*pitch <= u0+n-r; k++ {
			q := l[0].Add(d.Mul(k*pitch - u0))
			all = append(all, octagon(q, r))
		}
	}
	if len(all) > 0 {
		p.fill(black, all...)
	}
}

func octagon(q vec.V2, r float64) []vec.V2 {
	loop := make([]vec.V2, 8)
	for i := range loop {
		s, c := math.Sincos(math.Pi * (float64(i) + 0.5) / 4)
		loop[i] = vec.V2{X: q.X + r*c, Y: q.Y + r*s}
	}
	return loop
}
