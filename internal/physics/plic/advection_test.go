package plic

import (
	"math"
	"math/rand/v2"
	"runtime"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/cells"
)

// open is a box of n^3 cells of edge 1/n with ports on all sides.
func open(t testing.TB, n int) *cells.Cells {
	var o []cells.Opening
	dim := [3]int{n, n, n}
	for d := range 3 {
		o = append(o, cells.Side(dim, d, false)...)
		o = append(o, cells.Side(dim, d, true)...)
	}
	c, err := cells.Box(dim, 1/float64(n), o...)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func field(c *cells.Cells, u func(d int, x vec.V3) float64) *[3][]float64 {
	var r [3][]float64
	for d := range r {
		r[d] = make([]float64, c.Wall+1)
		for i := range int32(c.Wall) {
			x := c.Centre(i).Array()
			x[d] -= c.H / 2
			r[d][i] = u(d, vec.FromArray(x))
		}
	}
	return &r
}

func held(c *cells.Cells, f []float64) float64 {
	s := 0.0
	for i, x := range f[:c.N] {
		s += x * c.V[i]
	}
	return s * c.H * c.H * c.H
}

// ball is the share of a ball, by 8^3 points in the cells that its surface may cut.
func ball(c *cells.Cells, at vec.V3, radius float64) []float64 {
	const n = 12
	f := make([]float64, c.Wall+1)
	for i := range int32(c.N) {
		x := c.Centre(i).Sub(at)
		if l := x.Len(); l < radius-c.H {
			f[i] = 1
			continue
		} else if l > radius+c.H {
			continue
		}
		for a := range n * n * n {
			y := x.Add(vec.V3{X: (float64(a%n)+0.5)/n - 0.5, Y: (float64(a/n%n)+0.5)/n - 0.5, Z: (float64(a/n/n)+0.5)/n - 0.5}.Mul(c.H))
			if y.Dot(y) < radius*radius {
				f[i] += 1.0 / (n * n * n)
			}
		}
	}
	return f
}

// TestPlaneMovesAsPlane: a tilted plane carried over the whole box from port to port.
func TestPlaneMovesAsPlane(t *testing.T) {
	speed := vec.V3{X: 0.7, Y: -0.4, Z: 0.55}
	for _, n := range []vec.V3{{X: 1, Y: 0.3, Z: 0.2}, {X: 1, Y: -1, Z: 1}, {X: 0, Y: 0.4, Z: 1}, {X: 1}} {
		n = n.Unit()
		c := open(t, 24)
		a := NewAdvection(c)
		u := field(c, func(d int, _ vec.V3) float64 { return speed.At(d) })
		p := vec.V3{X: 0.4, Y: 0.5, Z: 0.45}
		f := cells.Level(c, n, p)
		const dt = 0.4 / 24
		worst := 0.0
		for s := range 12 {
			// At ports the plane in the middle of the step.
			port := cells.Level(c, n, p.Add(speed.Mul((float64(s)+0.5)*dt)))
			copy(f[c.N:], port[c.N:])
			before := held(c, f)
			r, err := a.Step(f, nil, u, dt, 1)
			if err != nil {
				t.Fatal(err)
			}
			in := 0.0
			for k := range r.In {
				in += r.In[k] - r.Out[k]
			}
			if e := held(c, f) - before - in - r.Dropped; math.Abs(e) > 1e-14 {
				t.Fatalf("step %d: volume off by %g", s, e)
			}
			want := cells.Level(c, n, p.Add(speed.Mul(float64(s+1)*dt)))
			for i := range c.N {
				if q := c.I[i]; min(q[0], q[1], q[2]) > 7 && max(q[0], q[1], q[2]) < 16 {
					worst = max(worst, math.Abs(f[i]-want[i]))
				}
			}
		}
		t.Logf("normal %.2g: share off by %.2g", n, worst)
		if worst > 5e-4 {
			t.Errorf("normal %v: share off by %g", n, worst)
		}
	}
}

// TestBallMovesAtSecondOrder: a ball carried along a diagonal, and round a skew axis.
func TestBallMovesAtSecondOrder(t *testing.T) {
	axis := vec.V3{X: 1, Y: 0.5, Z: 2}.Unit()
	mid := vec.V3{X: 0.5, Y: 0.5, Z: 0.5}
	for name, u := range map[string]func(d int, x vec.V3) float64{
		"along": func(d int, _ vec.V3) float64 { return vec.V3{X: 0.3, Y: 0.2, Z: 0.25}.At(d) },
		"round": func(d int, x vec.V3) float64 { return axis.Cross(x.Sub(mid)).At(d) },
	} {
		var e, carried [2]float64
		for k, n := range []int{20, 40} {
			c := open(t, n)
			a := NewAdvection(c)
			from := vec.V3{X: 0.35, Y: 0.4, Z: 0.37}
			f := ball(c, from, 0.2)
			start := held(c, f)
			v := field(c, u)
			q := append([]float64{}, f...) // carries what grows along x, as seen from the ball's middle
			for i := range int32(c.N) {
				q[i] *= 1 + c.Centre(i).X - from.X
			}
			steps := 3 * n / 2
			const turn = 0.9
			to := from.Add(vec.V3{X: 0.3, Y: 0.2, Z: 0.25}.Mul(turn))
			if name == "round" {
				x := from.Sub(mid)
				along := axis.Mul(axis.Dot(x))
				to = mid.Add(along).Add(x.Sub(along).Mul(math.Cos(turn))).Add(axis.Cross(x).Mul(math.Sin(turn)))
			}
			for range steps {
				if _, err := a.Step(f, [][]float64{q}, v, turn/float64(steps), 1); err != nil {
					t.Fatal(err)
				}
			}
			if name == "along" {
				sum, w := 0.0, 0.0
				for i := range int32(c.N) {
					if x := f[i]; x > 0.01 {
						d := q[i] - x*(1+c.Centre(i).X-to.X)
						sum, w = sum+math.Abs(d), w+x
					}
				}
				carried[k] = sum / w
			}
			if d := held(c, f)/start - 1; math.Abs(d) > 1e-13 {
				t.Errorf("%s, %d^3: volume off by %g", name, n, d)
			}
			want := ball(c, to, 0.2)
			for i := range c.N {
				e[k] += math.Abs(f[i]-want[i]) * c.H * c.H * c.H
			}
		}
		order := math.Log2(e[0] / e[1])
		t.Logf("%s: error %.3g, %.3g, order %.2f", name, e[0], e[1], order)
		if name == "along" {
			t.Logf("carried: off by %.3g, %.3g on the mean, of values from 0.8 to 1.2", carried[0], carried[1])
			if carried[1] > 0.006 || carried[0] < 1.6*carried[1] {
				t.Errorf("what it carries is off by %g and %g", carried[0], carried[1])
			}
		}
		if order < 1.7 {
			t.Errorf("%s: error %g and %g, order %.2f", name, e[0], e[1], order)
		}
	}
}

// TestVelocityOfNextToNothing: a velocity that drag has brought down to where numbers lose their places, next
// to one that is none of these, leaves shares that are numbers.
func TestVelocityOfNextToNothing(t *testing.T) {
	c := wedge(t, 10, vec.V3{X: 0.4, Y: -0.3, Z: 1}, 0.7)
	for _, tiny := range []float64{1e-60, 1e-200, 3.7e-314, 5e-324} {
		a := NewAdvection(c)
		f := make([]float64, c.Wall+1)
		for i := range c.N {
			f[i] = 1e-7 + 0.1*float64(i%7)
		}
		u := field(c, func(d int, x vec.V3) float64 { return tiny * float64(d-1) })
		before := held(c, f)
		if _, err := a.Step(f, nil, u, 0.1, 1); err != nil {
			t.Fatalf("%g m/s: %v", tiny, err)
		}
		if e := held(c, f)/before - 1; !(math.Abs(e) < 1e-12) {
			t.Errorf("%g m/s: volume off by %g", tiny, e)
		}
	}
}

// TestCutCellsKeepAll: in a wedge, a velocity that is anything but free of divergence
// moves metal and what it carries; nothing is lost, and every value stays among the old ones.
func TestCutCellsKeepAll(t *testing.T) {
	c := wedge(t, 10, vec.V3{X: 0.4, Y: -0.3, Z: 1}, 0.7)
	a := NewAdvection(c)
	r := rand.New(rand.NewPCG(9, 9))
	f := cells.Level(c, vec.V3{X: 0.3, Y: 1, Z: 0.2}.Unit(), vec.V3{X: 5e-3, Y: 4.6e-3, Z: 5e-3})
	q := make([]float64, len(f))
	for i, x := range f {
		q[i] = x * (1 + r.Float64())
	}
	heat := func() float64 { return held(c, q) }
	v0, q0 := held(c, f), heat()
	dropped := 0.0
	for range 60 {
		u := field(c, func(_ int, _ vec.V3) float64 { return 0.1 * r.NormFloat64() })
		k := a.Courant(f, u, 1)
		old := append([]float64{}, f...)
		rep, err := a.Step(f, [][]float64{q}, u, 0.4/k, 2)
		if err != nil {
			t.Fatal(err)
		}
		for i := range c.N { // Flux tells where it went, but for crumbs
			sum := 0.0
			for d := range 3 {
				sum += a.Flux[d][i]
				if o := c.Nb[2*d+1][i]; int(o) < c.Wall {
					sum -= a.Flux[d][o]
				}
			}
			if e := (f[i]-old[i])*c.V[i] - sum/(c.H*c.H*c.H); math.Abs(e) > 1e-11 {
				t.Fatalf("cell %d: share changed by %g more than flowed in", i, e)
			}
		}
		dropped += rep.Dropped
		for i, x := range f[:c.N] {
			if x > 1e-9 && (q[i] < x*(1-1e-6) || q[i] > x*(2+1e-6)) {
				t.Fatalf("share %g carries %g of its own volume", x, q[i]/x)
			}
			if x < 0 {
				t.Fatalf("share %g", x)
			}
		}
	}
	if e := held(c, f) - v0 + dropped; math.Abs(e) > 1e-13*v0 {
		t.Errorf("volume off by %g of %g", e, v0)
	}
	if e := heat() - q0; math.Abs(e) > 1e-12*q0 {
		t.Errorf("what it carries is off by %g of %g", e, q0)
	}
}

// TestRunFillsAndLeaves: a run of cells from a port to a port.
func TestRunFillsAndLeaves(t *testing.T) {
	dim := [3]int{10, 1, 1}
	c, err := cells.Box(dim, 1e-3, append(cells.Side(dim, 0, false), cells.Side(dim, 0, true)...)...)
	if err != nil {
		t.Fatal(err)
	}
	a := NewAdvection(c)
	f, q := make([]float64, c.Wall+1), make([]float64, c.Wall+1)
	in := c.Nb[0][0]
	f[in], q[in] = 0.5, 0.5*7
	u := field(c, func(d int, _ vec.V3) float64 { return [3]float64{0.1}[d] })
	sumIn, sumOut, qIn, qOut := 0.0, 0.0, 0.0, 0.0
	for range 150 { // 15 cells
		r, err := a.Step(f, [][]float64{q}, u, 1e-3, 1)
		if err != nil {
			t.Fatal(err)
		}
		for p := range r.In {
			sumIn, sumOut = sumIn+r.In[p], sumOut+r.Out[p]
			qIn, qOut = qIn+r.QIn[0][p], qOut+r.QOut[0][p]
		}
		for i, x := range f[:c.N] {
			if x > 1e-9 && math.Abs(q[i]/x-7) > 1e-9 {
				t.Fatalf("cell %d carries %g per volume", i, q[i]/x)
			}
		}
	}
	if e := sumIn - 7.5e-9; math.Abs(e) > 1e-20 {
		t.Errorf("%g came in, want 7.5e-9", sumIn)
	}
	if e := sumIn - sumOut - held(c, f); math.Abs(e) > 1e-20 {
		t.Errorf("volume off by %g", e)
	}
	if e := qIn - qOut - held(c, q); math.Abs(e) > 1e-19 {
		t.Errorf("what it carries is off by %g", e)
	}
	if !(sumOut > 2e-9 && sumOut < 3e-9) {
		t.Errorf("%g went out", sumOut)
	}
}

// TestSubstepsFollowTheSpeed: four cells in a step are no trouble; a velocity that is no
// number is one.
func TestSubstepsFollowTheSpeed(t *testing.T) {
	c := open(t, 12)
	a := NewAdvection(c)
	f := ball(c, vec.V3{X: 0.3, Y: 0.5, Z: 0.5}, 0.2)
	v := held(c, f)
	u := field(c, func(d int, _ vec.V3) float64 { return [3]float64{1, 0.1, 0.1}[d] })
	r, err := a.Step(f, nil, u, 0.3, 1)
	if err != nil || r.Substeps < 4 || math.Abs(held(c, f)/v-1) > 1e-14 || r.Most > 1+1e-9 {
		t.Errorf("%v, %d substeps, volume %g of %g, most %g", err, r.Substeps, held(c, f), v, r.Most)
	}
	for _, x := range []float64{math.NaN(), math.Inf(1), 1e12} {
		u[0][c.At(7, 6, 6)] = x
		if _, err := a.Step(f, nil, u, 0.01, 1); err == nil {
			t.Errorf("a speed of %g was taken", x)
		}
	}
	u = field(c, func(int, vec.V3) float64 { return 0 })
	f[c.At(6, 6, 6)] = math.NaN()
	if _, err := a.Step(f, nil, u, 0.01, 1); err == nil {
		t.Error("a share that is no number was taken")
	}
	if _, err := a.Step(f[1:], nil, u, 0.01, 1); err == nil {
		t.Error("a short field was taken")
	}
}

// TestOddShares: anything from crumbs to overfull cells in any order; all that was there stays.
func TestOddShares(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 12))
	odd := []float64{0, 0, 0, 1, 1, 1, 0.5, 1e-13, 1e-11, -1e-14, 1 - 1e-13, 1 + 1e-9, 1.7, 1e-300, 0.3}
	for _, c := range []*cells.Cells{open(t, 6), wedge(t, 6, vec.V3{X: 1, Y: 0.2, Z: -0.4}, 0.4)} {
		a := NewAdvection(c)
		s := NewSurface(c)
		for range 150 {
			f := make([]float64, c.Wall+1)
			for i := range c.Wall {
				f[i] = odd[r.IntN(len(odd))]
				if i >= c.N {
					f[i] = min(max(f[i], 0), 1)
				}
			}
			u := field(c, func(int, vec.V3) float64 { return r.NormFloat64() })
			before := held(c, f)
			a.Normals = Normals(r.IntN(3))
			rep, err := a.Step(f, nil, u, 0.4*c.H*r.Float64(), 1+r.IntN(2))
			if err != nil {
				t.Fatal(err)
			}
			in := 0.0
			for p := range rep.In {
				in += rep.In[p] - rep.Out[p]
			}
			whole := float64(c.N) * c.H * c.H * c.H
			if e := held(c, f) - before - in + rep.Dropped; math.Abs(e) > 1e-13*whole {
				t.Fatalf("volume off by %g", e/whole)
			}
			s.Update(f, nil)
			for k := range s.Cells {
				if !s.Normal[k].Finite() || !s.Centre[k].Finite() || math.IsNaN(s.Offset[k]+s.Area[k]) {
					t.Fatalf("a plane is no number, share %g", f[s.Cells[k]])
				}
			}
		}
	}
}

// TestSameBytesOnOneCore: shares, what is carried and planes do not depend on the cores.
func TestSameBytesOnOneCore(t *testing.T) {
	for _, c := range []*cells.Cells{open(t, 24), wedge(t, 24, vec.V3{X: 1, Y: 0.4, Z: 0.7}, 3.1)} {
		sameBytes(t, c)
	}
}

func sameBytes(t *testing.T, c *cells.Cells) {
	n := float64(c.Dim[0]) * c.H
	run := func(cores int) (f, q []float64, s *Surface) {
		defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(cores))
		a := NewAdvection(c)
		f = ball(c, vec.V3{X: 0.4, Y: 0.5, Z: 0.5}.Mul(n), 0.3*n)
		q = append([]float64{}, f...)
		for i := range q {
			q[i] *= 1 + c.Centre(int32(i)).X
		}
		u := field(c, func(d int, x vec.V3) float64 { return math.Sin(7*x.At((d+1)%3)/n) * 0.5 * n })
		for range 20 {
			if _, err := a.Step(f, [][]float64{q}, u, 0.01, 1); err != nil {
				t.Fatal(err)
			}
		}
		s = NewSurface(c)
		s.Update(f, nil)
		return f, q, s
	}
	f1, q1, s1 := run(1)
	f2, q2, s2 := run(2)
	for i := range f1 {
		if f1[i] != f2[i] || q1[i] != q2[i] {
			t.Fatalf("cell %d: %v and %v, %v and %v", i, f1[i], f2[i], q1[i], q2[i])
		}
	}
	for k := range s1.Cells {
		if s1.Normal[k] != s2.Normal[k] || s1.Offset[k] != s2.Offset[k] || s1.Centre[k] != s2.Centre[k] {
			t.Fatalf("plane %d differs", k)
		}
	}
}

// TestGivenNormalsStand: with the plane's own normals a plane is carried exactly in every cell away from ports.
func TestGivenNormalsStand(t *testing.T) {
	n, speed := vec.V3{X: 0.5, Y: -0.8, Z: 0.6}.Unit(), vec.V3{X: 0.3, Y: 0.25, Z: -0.35}
	c := open(t, 16)
	a := NewAdvection(c)
	a.Given = make([]vec.V3, c.Wall+1)
	for i := range a.Given {
		a.Given[i] = n
	}
	u := field(c, func(d int, _ vec.V3) float64 { return speed.At(d) })
	p := vec.V3{X: 0.5, Y: 0.5, Z: 0.5}
	f := cells.Level(c, n, p)
	const dt = 0.6 / 16
	for s := range 4 {
		if _, err := a.Step(f, nil, u, dt, 1); err != nil {
			t.Fatal(err)
		}
		want := cells.Level(c, n, p.Add(speed.Mul(float64(s+1)*dt)))
		for i := range c.N {
			if q := c.I[i]; int(min(q[0], q[1], q[2])) > s+1 && int(max(q[0], q[1], q[2])) < 14-s && math.Abs(f[i]-want[i]) > 1e-12 {
				t.Fatalf("step %d, cell %v: share %g, want %g", s, q, f[i], want[i])
			}
		}
	}
	a.Given = a.Given[1:]
	if _, err := a.Step(f, nil, u, dt, 1); err == nil {
		t.Error("a short list of normals was taken")
	}
}
