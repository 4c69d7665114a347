package lens

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"pourwright/internal/ground/vec"
)

// Homography returns the map of the plane that takes a[i] to b[i] by least
// squares on the linear equations (Hartley & Zisserman 2004, 4.1), points
// scaled first; ok is false where they do not fix one.
func Homography(a, b []vec.V2) (h [9]float64, ok bool) {
	if len(a) < 4 || len(a) != len(b) {
		return h, false
	}
	ma, sa := norm(a)
	mb, sb := norm(b)
	m := mat.NewDense(2*len(a), 8, nil)
	y := mat.NewVecDense(2*len(a), nil)
	for i := range a {
		p, q := a[i].Sub(ma).Mul(sa), b[i].Sub(mb).Mul(sb)
		m.SetRow(2*i, []float64{p.X, p.Y, 1, 0, 0, 0, -p.X * q.X, -p.Y * q.X})
		m.SetRow(2*i+1, []float64{0, 0, 0, p.X, p.Y, 1, -p.X * q.Y, -p.Y * q.Y})
		y.SetVec(2*i, q.X)
		y.SetVec(2*i+1, q.Y)
	}
	var x mat.VecDense
	if err := x.SolveVec(m, y); err != nil {
		return h, false
	}
	g := mat.NewDense(3, 3, append(append([]float64{}, x.RawVector().Data...), 1))
	in := mat.NewDense(3, 3, []float64{sa, 0, -sa * ma.X, 0, sa, -sa * ma.Y, 0, 0, 1})
	out := mat.NewDense(3, 3, []float64{1 / sb, 0, mb.X, 0, 1 / sb, mb.Y, 0, 0, 1})
	g.Product(out, g, in)
	copy(h[:], g.RawMatrix().Data)
	for _, v := range h {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return h, false
		}
	}
	return h, true
}

func norm(p []vec.V2) (m vec.V2, s float64) {
	for _, q := range p {
		m = m.Add(q)
	}
	m = m.Mul(1 / float64(len(p)))
	for _, q := range p {
		s += q.Sub(m).Len()
	}
	return m, float64(len(p)) / max(s, 1e-12)
}

// Apply takes a point through h.
func Apply(h [9]float64, p vec.V2) vec.V2 {
	w := h[6]*p.X + h[7]*p.Y + h[8]
	return vec.V2{X: (h[0]*p.X + h[1]*p.Y + h[2]) / w, Y: (h[3]*p.X + h[4]*p.Y + h[5]) / w}
}

// Begin returns the camera of focal length f that sees the points a of the
// plane z = 0 at the pixels b, as nearly as a homography says.
func Begin(a, b []vec.V2, f float64, c vec.V2) (Camera, bool) {
	h, ok := Homography(a, b)
	if !ok {
		return Camera{}, false
	}
	col := func(k int) vec.V3 {
		return vec.V3{X: (h[k] - c.X*h[6+k]) / f, Y: (h[3+k] - c.Y*h[6+k]) / f, Z: h[6+k]}
	}
	x, y, t := col(0), col(1), col(2)
	s := 2 / (x.Len() + y.Len())
	if t.Z < 0 {
		s = -s
	}
	x, y, t = x.Mul(s), y.Mul(s), t.Mul(s)
	// The nearest pair of unit vectors across each other lies in their plane,
	// alike to both.
	p, q := x.Unit().Add(y.Unit()).Unit(), x.Unit().Sub(y.Unit()).Unit()
	x, y = p.Add(q).Mul(math.Sqrt2/2), p.Sub(q).Mul(math.Sqrt2/2)
	z := x.Cross(y)
	cam := Camera{F: f, C: c, T: t, R: [3]vec.V3{{X: x.X, Y: y.X, Z: z.X}, {X: x.Y, Y: y.Y, Z: z.Y}, {X: x.Z, Y: y.Z, Z: z.Z}}}
	return cam, cam.Centre().Z > 0 && t.Z > 0 && !math.IsNaN(t.Z)
}

// Prior is what is known of the lens before the picture is looked at.
type Prior struct {
	F, SpreadF float64 // focal length, px, and its standard deviation as a share
	Radial     float64 // standard deviation of k1 about 0
}

// Fitted is a camera with how sure it is.
type Fitted struct {
	Camera
	RMS  float64    // of the residuals, mm
	Cov  *mat.Dense // of turn (3), shift (3), log f, k1
	Step func(s [8]float64) Camera
}

// Fit improves a camera: residuals fills the distances (mm) of what was seen
// from what is there, always the same number of them. sigma is the standard
// deviation of one residual, huge the distance from which residuals count less
// (Huber 1964). Minimum of sum (r/sigma)^2 + prior by Levenberg's and
// Marquardt's damped steps with differences for the derivatives.
func Fit(begin Camera, prior Prior, n int, sigma, huge float64, residuals func(c *Camera, r []float64)) (Fitted, bool) {
	const p = 8
	rows := n + 2
	f0 := math.Log(prior.F)
	eval := func(c *Camera, r []float64) float64 {
		residuals(c, r[:n])
		sum := 0.0
		for i, v := range r[:n] {
			if math.IsNaN(v) || math.Abs(v) > 1e6 {
				return math.Inf(1)
			}
			a := math.Abs(v)
			if a > huge { // weight so that the square is Huber's loss
				v *= math.Sqrt(huge*(2*a-huge)) / a
			}
			r[i] = v / sigma
			sum += r[i] * r[i]
		}
		r[n] = (math.Log(c.F) - f0) / prior.SpreadF
		r[n+1] = c.Radial / prior.Radial
		return sum + r[n]*r[n] + r[n+1]*r[n+1]
	}
	r, q := make([]float64, rows), make([]float64, rows)
	cur := begin
	cost := eval(&cur, r)
	if math.IsInf(cost, 1) || math.IsNaN(cost) {
		return Fitted{}, false
	}
	jac := mat.NewDense(rows, p, nil)
	depth := max(1, begin.T.Z)
	h := [p]float64{1e-6, 1e-6, 1e-6, 1e-6 * depth, 1e-6 * depth, 1e-6 * depth, 1e-6, 1e-6}
	derive := func() bool {
		back := make([]float64, rows)
		for k := range p {
			var s [p]float64
			s[k] = h[k]
			up := cur.turned(&s)
			s[k] = -h[k]
			dn := cur.turned(&s)
			if math.IsInf(eval(&up, q), 1) || math.IsInf(eval(&dn, back), 1) {
				return false
			}
			for i := range rows {
				jac.Set(i, k, (q[i]-back[i])/(2*h[k]))
			}
		}
		return true
	}
	lambda := 1e-3
	var jtj mat.Dense
	for range 60 {
		if !derive() {
			return Fitted{}, false
		}
		jtj.Mul(jac.T(), jac)
		var g mat.VecDense
		g.MulVec(jac.T(), mat.NewVecDense(rows, r))
		better := false
		for range 12 {
			a := mat.DenseCopyOf(&jtj)
			for k := range p {
				a.Set(k, k, a.At(k, k)*(1+lambda)+1e-12)
			}
			var d mat.VecDense
			if err := d.SolveVec(a, &g); err != nil {
				lambda *= 10
				continue
			}
			var s [p]float64
			for k := range p {
				s[k] = -d.AtVec(k)
			}
			try := cur.turned(&s)
			if c := eval(&try, q); c < cost {
				better = cost-c > 1e-9*cost
				cur, cost = try, c
				copy(r, q)
				lambda = max(lambda/5, 1e-9)
				break
			}
			lambda *= 5
		}
		if !better {
			break
		}
	}
	if !derive() {
		return Fitted{}, false
	}
	jtj.Mul(jac.T(), jac)
	var cov mat.Dense
	if err := cov.Inverse(&jtj); err != nil {
		if _, bad := err.(mat.Condition); !bad {
			return Fitted{}, false
		}
	}
	sum := 0.0
	for _, v := range r[:n] {
		sum += v * v
	}
	out := Fitted{Camera: cur, RMS: sigma * math.Sqrt(sum/float64(max(1, n))), Cov: &cov}
	out.Step = func(s [8]float64) Camera { return out.Camera.turned(&s) }
	return out, true
}
