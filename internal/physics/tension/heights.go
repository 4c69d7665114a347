package tension

import (
	"math"

	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/cells"
)

// tall is how many cells a column may reach up and down from its middle.
const tall = 3

// heights takes curvature and normal from the heights of the metal in 3 x 3
// columns along the axis nearest the normal (Popinet 2009), each summed over as
// many cells as it takes to come from full to empty:
//
//	kappa = -(h_xx (1 + h_y^2) + h_yy (1 + h_x^2) - 2 h_xy h_x h_y) / (1 + h_x^2 + h_y^2)^(3/2)
//
// ok is false where a column is not complete, meets a wall or is not ordered.
func (f *Field) heights(b *block, n vec.V3, F []float64) (r fit, ok bool) {
	a := [3]float64{math.Abs(n.X), math.Abs(n.Y), math.Abs(n.Z)}
	d := 0
	if a[1] > a[d] {
		d = 1
	}
	if a[2] > a[d] {
		d = 2
	}
	up := 2*d + 1
	if n.At(d) < 0 {
		up = 2 * d
	}
	u, v := (d+1)%3, (d+2)%3
	stride := [3]int{1, 3, 9}
	su, sv := stride[u], stride[v]
	if u == f.plane {
		su = 0
	}
	if v == f.plane {
		sv = 0
	}
	var h [3][3]float64
	for p := range 3 {
		for q := range 3 {
			if su == 0 && p != 1 || sv == 0 && q != 1 {
				continue
			}
			x, ok := f.column(b[13+(p-1)*su+(q-1)*sv], up, F)
			if !ok {
				return r, false
			}
			h[p][q] = x
		}
	}
	var hu, hv, huu, hvv, huv float64
	if su != 0 {
		hu, huu = (h[2][1]-h[0][1])/2, h[2][1]-2*h[1][1]+h[0][1]
	}
	if sv != 0 {
		hv, hvv = (h[1][2]-h[1][0])/2, h[1][2]-2*h[1][1]+h[1][0]
	}
	if su != 0 && sv != 0 {
		huv = (h[2][2] - h[2][0] - h[0][2] + h[0][0]) / 4
	}
	g := 1 + hu*hu + hv*hv
	s := 1 / math.Sqrt(g)
	kappa := -(huu*(1+hv*hv) + hvv*(1+hu*hu) - 2*huv*hu*hv) / g * s
	var m [3]float64
	m[d], m[u], m[v] = s, -hu*s, -hv*s
	if up&1 == 0 {
		m[d] = -s
	}
	return fit{vec.FromArray(m), min(max(kappa, -bound), bound)}, true
}

// column is the height of the metal over the low side of cell i, in the direction
// up (a side).
func (f *Field) column(i int32, up int, F []float64) (h float64, ok bool) {
	if i < 0 || int(i) >= f.c.N || !f.whole[i] {
		return 0, false
	}
	h = F[i]
	if h < 1-clean {
		last := h
		for k, q := 0, i; ; k++ {
			q = f.c.Nb[up^1][q]
			if k == tall || int(q) >= f.c.N || !f.whole[q] || F[q] < last {
				return 0, false
			}
			if last = F[q]; last >= 1-clean {
				break
			}
			h -= 1 - last
		}
	}
	if F[i] > clean {
		last := F[i]
		for k, q := 0, i; ; k++ {
			q = f.c.Nb[up][q]
			if k == tall || int(q) >= f.c.N || !f.whole[q] || F[q] > last {
				return 0, false
			}
			if last = F[q]; last <= clean {
				break
			}
			h += last
		}
	}
	return h, true
}

// wholes marks the cells that no wall cuts.
func wholes(c *cells.Cells) []bool {
	w := make([]bool, c.N)
	for i := range w {
		w[i] = c.Normal[i] == (vec.V3{}) && math.Abs(c.Own[i]-1) < 1e-9 && math.Abs(c.V[i]-1) < 1e-9
	}
	return w
}
