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
	hu, hv, huu, hvv, huv = round(hu, hv, huu, hvv, huv)
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

// round takes from the differences of the heights, which are means over columns,
// what they hold of higher derivatives,
//
//	h_u + 5/24 h_uuu + h_uvv/24    h_uu + h_uuuu/8 + h_uuvv/24    h_uv + 5/24 (h_uuuv + h_uvvv),
//
// on a sphere (or a cylinder along an axis), where with w = h_uu / (1 + h_u^2) = -1/h
//
//	h_uuu = 3 w^2 h_u (1 + h_u^2)        h_uuuu = w^3 (3 + 18 h_u^2 + 15 h_u^4)    h_uuv = w^2 h_v (1 + 3 h_u^2)
//	h_uuuv = w^3 h_u h_v (9 + 15 h_u^2)  h_uuvv = w^3 ((1 + 3 h_u^2)(1 + 3 h_v^2) + 6 h_u^2 h_v^2)
//
// On shallow waves this is of third order in the height. Beyond w = 1/3 it is held.
func round(hu, hv, huu, hvv, huv float64) (float64, float64, float64, float64, float64) {
	const most = 1. / 3
	a, b := hu*hu, hv*hv
	wu := min(max(huu/(1+a), -most), most)
	wv := min(max(hvv/(1+b), -most), most)
	both := wu * wv
	cross := both * (wu + wv) / 2 * ((1+3*a)*(1+3*b) + 6*a*b)
	ku := 5./8*wu*wu*(1+a) + both*(1+3*b)/24
	kv := 5./8*wv*wv*(1+b) + both*(1+3*a)/24
	return hu * (1 - min(ku, 0.5)), hv * (1 - min(kv, 0.5)),
		huu - wu*wu*wu*(3+18*a+15*a*a)/8 - cross/24,
		hvv - wv*wv*wv*(3+18*b+15*b*b)/8 - cross/24,
		huv - 5./24*both*(wu+wv)/2*hu*hv*(18+15*(a+b))
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
			if k == tall || int(q) >= f.c.N || !f.whole[q] || F[q] < last-loose {
				return 0, false
			}
			// Two nearly full ones in a row: what the second lacks is noise.
			if F[q] >= 1-clean || F[q] >= 1-loose && last >= 1-loose {
				break
			}
			last = F[q]
			h -= 1 - last
		}
	}
	if F[i] > clean {
		last := F[i]
		for k, q := 0, i; ; k++ {
			q = f.c.Nb[up][q]
			if k == tall || int(q) >= f.c.N || !f.whole[q] || F[q] > last+loose {
				return 0, false
			}
			if F[q] <= clean || F[q] <= loose && last <= loose {
				break
			}
			last = F[q]
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
