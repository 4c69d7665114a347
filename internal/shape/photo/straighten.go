package photo

import (
	"math"

	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/lens"
	"pourwright/internal/shape/outline"
)

// finest is the raster on which the parallax is undone, mm.
const finest = 0.1

// straighten undoes the parallax of the thickness. s is the silhouette thrown
// from the camera onto the table.
//
// A point at height z above the table point p is seen at T_z(p) = e + (p - e)
// H/(H - z), with e below the camera and H its height. The silhouette of a
// vertical wall from 0 to t is the union of T_z(P) over 0 <= z <= t; the largest
// outline with that silhouette is the intersection of T_z^-1(S),
//
//	P = { p : T_z(p) in S for all z in [0, t] },
//
// which is P itself but for what the wall hides: it is P closed along the line
// of sight. With a chamfer c the wall ends at t - c, and the top, smaller by c, must lie
// in T_t^-1(S): P lies in that set grown by c as well. A half-round edge, a quarter ellipse of run w and
// height t, touches the line of sight where its tangent does: the silhouette
// lies sqrt(w^2 + tau^2 t^2) - w outside the outline, tau the slope of the line
// of sight along the outward normal, where tau > 0, and on it elsewhere.
func straighten(cam *lens.Camera, s outline.Shape, o Options) (outline.Shape, error) {
	eye := cam.Centre()
	e := vec.V2{X: eye.X, Y: eye.Y}
	if o.Edge == Round {
		return rounded(e, eye.Z, s, o.Thickness)
	}
	t := o.Thickness
	if o.Edge == Chamfer {
		t -= o.Chamfer
	}
	step := finest
	if lo, hi := s.Box(); max(hi.X-lo.X, hi.Y-lo.Y) > 250 {
		step = max(hi.X-lo.X, hi.Y-lo.Y) / 2500
	}
	f, err := s.Field(3+1.5*o.Chamfer, 3*step+1.5*o.Chamfer, step)
	if err != nil || f == nil {
		return nil, err
	}
	// T_z moves no point of the shape by more than this.
	lo, hi := s.Box()
	shift := 0.0
	for _, c := range []vec.V2{lo, hi, {X: lo.X, Y: hi.Y}, {X: hi.X, Y: lo.Y}} {
		shift = max(shift, c.Sub(e).Len()*t/(eye.Z-t))
	}
	n := 1 + int(math.Ceil(shift/0.4))
	v := make([]float64, len(f.V))
	par.For(f.NY, 16, func(a, b int) {
		for j := a; j < b; j++ {
			for i := range f.NX {
				p := f.O.Add(vec.V2{X: float64(i), Y: float64(j)}.Mul(step))
				d := f.V[j*f.NX+i]
				for k := 1; k <= n && d > -2.9-o.Chamfer; k++ {
					z := t * float64(k) / float64(n)
					m := eye.Z / (eye.Z - z)
					d = min(d, f.At(e.Add(p.Sub(e).Mul(m)))/m)
				}
				if o.Edge == Chamfer { // the top's outline, the chamfer inside, shows where the sight is flatter than the cut
					m := eye.Z / (eye.Z - o.Thickness)
					d = min(d, f.At(e.Add(p.Sub(e).Mul(m)))/m+o.Chamfer)
				}
				v[j*f.NX+i] = d
			}
		}
	})
	f.V = v
	return tidy(f.Contour(0)), nil
}

// rounded undoes the tangent plane of a half-round edge, point by point.
func rounded(e vec.V2, h float64, s outline.Shape, t float64) (outline.Shape, error) {
	w := Run(s, t)
	var out outline.Shape
	for _, l := range s {
		l = even(l, 0.15)
		if len(l) < 12 {
			continue
		}
		n := normals(l, 6)
		r := make(outline.Loop, len(l))
		for i, p := range l {
			// The line of sight touches at height z; begin with the middle.
			tau := p.Sub(e).Mul(1 / h).Dot(n[i])
			d := 0.0
			if tau > 0 {
				z := tau * t * t / math.Sqrt(w*w+tau*tau*t*t)
				tau = p.Sub(e).Mul(1 / (h - z)).Dot(n[i])
				d = math.Sqrt(w*w+tau*tau*t*t) - w
			}
			r[i] = p.Sub(n[i].Mul(d))
		}
		out = append(out, r)
	}
	return tidy(out), nil
}

// Run returns how far a half-round edge of height t reaches in from the
// outline: t, or the radius of the largest circle inside where that is less.
func Run(s outline.Shape, t float64) float64 {
	lo, hi := s.Box()
	step := max(0.1, max(hi.X-lo.X, hi.Y-lo.Y)/400)
	f, err := s.Field(t+2*step, step, step)
	if err != nil || f == nil {
		return t
	}
	most := 0.0
	for _, d := range f.V {
		most = max(most, d)
	}
	return min(t, max(most, step))
}

// tidy drops specks, takes the raster's steps off and thins the points.
func tidy(s outline.Shape) outline.Shape {
	var out outline.Shape
	for _, l := range s {
		if math.Abs(l.Area()) < 0.5 {
			continue
		}
		if l = l.Simplify(0.015); len(l) >= 3 {
			out = append(out, l)
		}
	}
	return out
}

// spreadOf returns the standard deviation of the outline that the camera's
// gives it, at 95 % of its points, mm. A shift and a turn of the whole outline
// do not count. Errors of the reference's points go together along a side, so
// the covariance of the fit is taken three times, in standard deviations.
func spreadOf(fit *lens.Fitted, s outline.Shape, t float64, seen outline.Shape) float64 {
	var px []vec.V2
	for _, l := range seen {
		for i := 0; i < len(l); i += max(1, len(l)/60) {
			px = append(px, l[i])
		}
	}
	base := make([]vec.V2, 0, len(px))
	for _, q := range px {
		w, _ := fit.On(q, t/2)
		base = append(base, w)
	}
	depth := max(1, fit.T.Z)
	h := [8]float64{1e-5, 1e-5, 1e-5, 1e-5 * depth, 1e-5 * depth, 1e-5 * depth, 1e-5, 1e-5}
	var d [8][]vec.V2
	for k := range 8 {
		var step [8]float64
		step[k] = h[k]
		c := fit.Step(step)
		d[k] = make([]vec.V2, len(px))
		for i, q := range px {
			// Half the parallax moves with the camera, in the mean over the outline.
			w, _ := c.On(q, t/2)
			d[k][i] = w.Sub(base[i]).Mul(1 / h[k])
		}
		rigid(base, d[k])
	}
	var sd []float64
	for i := range px {
		v := 0.0
		for a := range 8 {
			for b := range 8 {
				v += fit.Cov.At(a, b) * d[a][i].Dot(d[b][i])
			}
		}
		sd = append(sd, 3*math.Sqrt(max(0, v)))
	}
	return quantile(sd, 0.95)
}

// rigid takes the shift and the turn that fit best out of small moves d.
func rigid(p, d []vec.V2) {
	if len(p) == 0 {
		return
	}
	var m, s vec.V2
	for i := range p {
		m, s = m.Add(p[i]), s.Add(d[i])
	}
	k := 1 / float64(len(p))
	m, s = m.Mul(k), s.Mul(k)
	num, den := 0.0, 1e-12
	for i := range p {
		q := p[i].Sub(m)
		num += q.Cross(d[i].Sub(s))
		den += q.Dot(q)
	}
	for i := range p {
		q := p[i].Sub(m)
		d[i] = d[i].Sub(s).Sub(vec.V2{X: -q.Y, Y: q.X}.Mul(num / den))
	}
}
