package parting

import (
	"context"
	"math"
	"math/rand"
	"os"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

func near(a, b, tol float64) bool { return math.Abs(a-b) <= tol }

func TestClosedForms(t *testing.T) {
	const pi = math.Pi
	x, y, z := vec.V3{X: 1}, vec.V3{Y: 1}, vec.V3{Z: 1}
	skew := vec.V3{X: 1, Y: -2, Z: 0.7}
	big, small := 10.0, 3.0
	hollow := together(ball(10, 96), reversed(ball(6, 96)))
	cone := turnedBody(192, vec.V2{}, vec.V2{X: 10}, vec.V2{Y: 24})
	for _, c := range []struct {
		name           string
		m              *mesh.Mesh
		d              vec.V3
		shadow, locked float64
	}{
		{"ball", ball(10, 96), skew, pi * 100, 0},
		{"ball", ball(10, 96), z, pi * 100, 0},
		{"torus along", torus(big, small, 96), z, 4 * pi * big * small, 0},
		{"torus across", torus(big, small, 96), x, 4*big*small + pi*small*small, pi * (2*small*big*big - pi*big*small*small + 4./3*small*small*small)},
		{"cone along", cone, z, pi * 100, 0},
		{"cone across", cone, x, 240, 0},
		{"U along its slot", uBody(), z, 60 * 25, 0},
		{"U across its slot", uBody(), x, 40 * 25, 30 * 25 * 30},
		{"U through its slot", uBody(), y, 60*40 - 30*30, 0},
		{"towers across", towers(), x, 40 * 20, 20 * 20 * 30},
		{"towers along", towers(), z, 60 * 20, 0},
		{"hollow ball", hollow, skew, pi * 100, 4. / 3 * pi * 216},
		{"cup along", cupDown(), z, pi * 100, 0},
		{"cup across", cupDown(), x, 20 * 20, pi * 64 * 18},
		{"two balls that overlap", together(ball(10, 96), moved(ball(10, 96), func(p vec.V3) vec.V3 { return p.Add(vec.V3{Z: 5}) })), z, pi * 100,
			2 * pi * (250 - 2.5*93.75 - 2./3*math.Pow(6.25, 1.5))}, // the waist, from radius sqrt(93.75) to 10
	} {
		s := Measure(c.m, c.d)
		v := c.m.Volume()
		if !near(s.Silhouette, c.shadow, 3e-3*c.shadow) || !near(s.Locked, c.locked, 2e-3*v+2e-3*c.locked) {
			t.Errorf("%s: silhouette %.6g locked %.6g, want %.6g %.6g", c.name, s.Silhouette, s.Locked, c.shadow, c.locked)
		}
	}
}

func find(t *testing.T, m *mesh.Mesh, o Options) *Split {
	t.Helper()
	r, err := Find(context.Background(), m, o)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func bars(r *Split) map[string]int {
	n := map[string]int{}
	for _, b := range r.Bars {
		n[b.Code]++
	}
	return n
}

func TestBars(t *testing.T) {
	ring := torus(10, 2, 40)
	stand := func(dx float64) *mesh.Mesh {
		return moved(ring, func(p vec.V3) vec.V3 { return vec.V3{X: p.X + dx, Y: p.Z, Z: -p.Y} })
	}
	three := together(ring, stand(10), moved(stand(10), func(p vec.V3) vec.V3 { return vec.V3{X: p.X + 60, Y: p.Y, Z: p.Z} }))
	for _, c := range []struct {
		name         string
		m            *mesh.Mesh
		linked, void int
	}{
		{"ball", ball(10, 24), 0, 0},
		{"linked rings", together(ring, stand(10)), 1, 0},
		{"rings side by side", together(ring, stand(30)), 0, 0},
		{"ring inside the hole's box, not linked", together(ring, moved(torus(3, 1, 24), func(p vec.V3) vec.V3 { return p })), 0, 0},
		{"a third ring far off", three, 1, 0},
		{"hollow ball", together(ball(10, 32), reversed(ball(6, 32))), 0, 1},
		{"ball in a cup", together(cupDown(), moved(ball(3, 16), func(p vec.V3) vec.V3 { return p.Add(vec.V3{Z: 8}) })), 0, 0},
	} {
		r := find(t, c.m, Options{})
		if n := bars(r); n["linked"] != c.linked || n["closed-void"] != c.void {
			t.Errorf("%s: bars %v, want linked %d closed-void %d", c.name, n, c.linked, c.void)
		}
		if n := bars(r); (n["needs-piece"] > 0) != (c.name == "ball in a cup") {
			t.Errorf("%s: bars %v", c.name, r.Bars)
		}
		for _, b := range r.Bars {
			if b.Say == "" || b.Do == "" || !b.At.Finite() {
				t.Errorf("%s: a bar without words or place: %+v", c.name, b)
			}
		}
	}
}

func TestLinkingNumber(t *testing.T) {
	circle := func(n int, f func(c, s float64) vec.V3) []vec.V3 {
		var r []vec.V3
		for i := range n {
			s, c := math.Sincos(2 * math.Pi * float64(i) / float64(n))
			r = append(r, f(c, s))
		}
		return r
	}
	a := circle(50, func(c, s float64) vec.V3 { return vec.V3{X: c, Y: s} })
	b := circle(50, func(c, s float64) vec.V3 { return vec.V3{X: 1 + c, Z: s} })
	if n := linking(a, b); n != 1 && n != -1 {
		t.Error("two linked circles:", n)
	}
	far := circle(50, func(c, s float64) vec.V3 { return vec.V3{X: 3 + c, Z: s} })
	if n := linking(a, far); n != 0 {
		t.Error("two circles apart:", n)
	}
	// A curve that winds three times through the circle.
	w := circle(300, func(c, s float64) vec.V3 {
		u := 3 * math.Atan2(s, c)
		return vec.V3{X: (1 + 0.3*math.Cos(u)) * c, Y: (1 + 0.3*math.Cos(u)) * s, Z: 0.3 * math.Sin(u)}
	})
	if n := linking(a, w); n != 3 && n != -3 {
		t.Error("a curve wound three times round a circle:", n)
	}
}

func TestHomologyBasis(t *testing.T) {
	for _, c := range []struct {
		m    *mesh.Mesh
		want int
	}{{ball(5, 12), 0}, {torus(10, 3, 12), 2}, {cupDown(), 0}} {
		if l := loops(c.m, mesh.TopologyOf(c.m), 0); len(l) != c.want {
			t.Errorf("%d loops, want %d", len(l), c.want)
		}
	}
}

func TestRingUndercut(t *testing.T) {
	up := vec.V3{Z: 1}
	r := find(t, knob(), Options{Pull: &up})
	if len(r.Undercuts) != 1 {
		t.Fatalf("%d undercuts, want the waist alone", len(r.Undercuts))
	}
	// Under the head: 14 over a waist of 8, and 12 below it.
	u := r.Undercuts[0]
	if u.Ring == 0 || u.Through || u.Enclosed {
		t.Errorf("the waist is a ring: %+v", u)
	}
	if !near(u.depth[0], 6, 0.4) || !near(u.depth[1], 4, 0.4) {
		t.Errorf("overhang %.2f and %.2f, want 6 past the head and 4 past the foot", u.depth[0], u.depth[1])
	}
	// Between the two cones, 2 rho - 8 high from radius 8 to 12.
	want := 2 * math.Pi * (2./3*(1728-512) - 4*(144-64))
	if !near(u.Volume, want, 0.01*want) {
		t.Errorf("volume %.0f, want %.0f", u.Volume, want)
	}
	for _, p := range []float64{u.Box.Min.X + 12, u.Box.Max.X - 12, u.Box.Min.Y + 12, u.Box.Max.Y - 12} {
		if !near(p, 0, 0.3) {
			t.Errorf("box %v, want 12 to each side", u.Box)
		}
	}
}

func TestTunnelAndPiece(t *testing.T) {
	// A bar handle: an arch on two feet, pulled so that the opening is across.
	up := vec.V3{Z: 1}
	arch := extruded(12, vec.V2{X: -45}, vec.V2{X: 45}, vec.V2{X: 45, Y: 22}, vec.V2{X: -45, Y: 22})
	hole := moved(extruded(12, vec.V2{X: -30, Y: 6}, vec.V2{X: 30, Y: 6}, vec.V2{X: 30, Y: 16}, vec.V2{X: -30, Y: 16}), func(p vec.V3) vec.V3 { return p })
	// join the two prisms' side faces into one body with a through hole
	m := tube(arch, hole)
	r := find(t, m, Options{Pull: &up, Rubber: &Rubber{Shore: 40, Elongation: 3}})
	if len(r.Undercuts) != 1 || !r.Undercuts[0].Through {
		t.Fatalf("a tunnel across the pull: %+v", r.Undercuts)
	}
	if !near(r.Locked, 60*10*12, 0.01*60*10*12) {
		t.Errorf("locked %.0f, want %d", r.Locked, 60*10*12)
	}
	if bars(r)["needs-piece"] != 1 {
		t.Errorf("bars %v", r.Bars)
	}
	free := find(t, m, Options{Rubber: &Rubber{Shore: 40, Elongation: 3}})
	if len(free.Bars) != 0 || math.Abs(free.Pull.Y) < 0.999 {
		t.Errorf("pulled by itself through the opening: pull %v, bars %v", free.Pull, free.Bars)
	}
	if free.Back == nil {
		t.Error("the handle's side is flat: half 2 is a slab")
	}
}

// tube joins a prism with a hole of the same depth: side faces of both, end
// faces between their outlines (both of four corners, in the same order).
func tube(outer, inner *mesh.Mesh) *mesh.Mesh {
	m := &mesh.Mesh{V: append(append([]vec.V3(nil), outer.V...), inner.V...)}
	for e := range int32(2) {
		for i := range int32(4) {
			j := (i + 1) % 4
			a, b, c, d := 4*e+i, 4*e+j, 8+4*e+j, 8+4*e+i
			if e == 0 {
				m.F = append(m.F, [3]int32{a, b, c}, [3]int32{a, c, d})
			} else {
				m.F = append(m.F, [3]int32{a, c, b}, [3]int32{a, d, c})
			}
		}
	}
	for i := range int32(4) {
		j := (i + 1) % 4
		m.F = append(m.F, [3]int32{i, i + 4, j + 4}, [3]int32{i, j + 4, j})
		m.F = append(m.F, [3]int32{8 + i, 8 + j + 4, 8 + i + 4}, [3]int32{8 + i, 8 + j, 8 + j + 4})
	}
	if m.Volume() < 0 {
		return reversed(m)
	}
	return m
}

func TestShownFace(t *testing.T) {
	// The knob's end must not carry a seam; its waist is too deep for a hard
	// rubber, so pulled across the seam crosses the end.
	across := vec.V3{X: 1}
	face := []vec.V3{{X: 2, Y: 1, Z: 32}}
	r := find(t, knob(), Options{Pull: &across, Show: face})
	if bars(r)["needs-piece"] != 1 {
		t.Errorf("a seam across the shown face must be named: %v", r.Bars)
	}
	up := vec.V3{Z: 1}
	r = find(t, knob(), Options{Pull: &up, Show: face})
	if bars(r)["needs-piece"] != 0 {
		t.Errorf("pulled along, the face is whole: %v", r.Bars)
	}
}

func TestLimits(t *testing.T) {
	for _, c := range []struct {
		r            Rubber
		warn, refuse float64
	}{
		{Rubber{Shore: 20}, 0.6, 1.2},
		{Rubber{Shore: 30}, 0.475, 1.0},
		{Rubber{Shore: 40, Hot: true}, 0.175, 0.4},
		{Rubber{Shore: 60}, 0.2, 0.5},
		{Rubber{Shore: 80}, 0.2, 0.5},
		{Rubber{Shore: 20, Elongation: 1.5}, 0.5, 0.5},
		{Rubber{Shore: 20, Elongation: 1.5, Hot: true}, 0.25, 0.25},
	} {
		if w, l := c.r.Limits(); !near(w, c.warn, 1e-12) || !near(l, c.refuse, 1e-12) {
			t.Errorf("%+v: %g %g, want %g %g", c.r, w, l, c.warn, c.refuse)
		}
	}
	r := Rubber{Shore: 40, Free: 12}
	for _, c := range []struct {
		p    Place
		want string
	}{
		{Place{Depth: 3, Volume: 100}, Release},
		{Place{Depth: 20, Volume: 10}, Clay},
		{Place{Depth: 20, Volume: 5000}, Piece},
		{Place{Depth: 3, Volume: 10, Through: true}, Clay},
		{Place{Depth: 3, Volume: 5000, Through: true}, Piece},
		{Place{Depth: 3, Volume: 10, Enclosed: true}, Refuse},
		{Place{Depth: 5, Ring: 10, Volume: 5000}, Piece},
		{Place{Depth: 3, Ring: 30, Volume: 5000}, Release},
	} {
		if v := Judge(c.p, r, 20000, 60); v.Action != c.want {
			t.Errorf("%+v: %s (%.2f of %.2f), want %s", c.p, v.Action, v.Strain, v.Limit, c.want)
		}
	}
}

// TestTurnedMovedScaled: the same body turned at random, far from the origin
// and twice as large gives the same volumes.
func TestTurnedMovedScaled(t *testing.T) {
	m := knob()
	d := vec.V3{X: 0.3, Y: 0.1, Z: 1}.Unit()
	a := find(t, m, Options{Pull: &d})
	f := vec.AlongZ(vec.V3{X: 0.4, Y: -0.7, Z: 0.2})
	f.Origin = vec.V3{X: 3e5, Y: -1e5, Z: 2e5}
	e := f.FromDir(d)
	b := find(t, moved(m, f.From), Options{Pull: &e})
	two := find(t, moved(m, func(p vec.V3) vec.V3 { return p.Mul(2) }), Options{Pull: &d})
	v := a.Volume
	if !near(a.Locked, b.Locked, 2e-3*v) || !near(a.Silhouette, b.Silhouette, 3e-3*a.Silhouette) || !near(a.Volume, b.Volume, 1e-6*v) {
		t.Errorf("turned and moved: locked %g %g, silhouette %g %g", a.Locked, b.Locked, a.Silhouette, b.Silhouette)
	}
	if !near(8*a.Locked, two.Locked, 1e-9*v) || !near(4*a.Silhouette, two.Silhouette, 1e-9*v) {
		t.Errorf("twice as large: locked %g %g", 8*a.Locked, two.Locked)
	}
	if len(a.Undercuts) != len(b.Undercuts) || len(a.Undercuts) != len(two.Undercuts) {
		t.Errorf("undercuts %d %d %d", len(a.Undercuts), len(b.Undercuts), len(two.Undercuts))
	}
}

// TestBestAxis: the chosen axis is within 1 % of the volume of the best of
// random ones.
func TestBestAxis(t *testing.T) {
	n := 200
	if os.Getenv("POURWRIGHT_FULL") != "" {
		n = 2000
	}
	for _, o := range meshes(t, "sound") {
		r := splitOf(t, o)
		b := newBody(o.m)
		b.settle()
		p := b.proxy()
		rnd := rand.New(rand.NewSource(7))
		best, at := math.Inf(1), vec.V3{}
		for range n {
			d := vec.V3{X: rnd.NormFloat64(), Y: rnd.NormFloat64(), Z: rnd.NormFloat64()}.Unit()
			if l := p.look(d, 128).locked; l < best {
				best, at = l, d
			}
		}
		best = b.measure(at, 256).Locked
		if r.Locked > best+0.01*b.volume {
			t.Errorf("%s: chosen axis locks %.4f of the volume, the best of %d random ones %.4f", o.name, r.Locked/b.volume, n, best/b.volume)
		}
	}
}

func TestUnusable(t *testing.T) {
	nan := ball(3, 8)
	nan.V[3].X = math.NaN()
	zero := vec.V3{}
	for name, c := range map[string]struct {
		m *mesh.Mesh
		o Options
	}{
		"empty":      {&mesh.Mesh{}, Options{}},
		"not finite": {nan, Options{}},
		"inside out": {reversed(ball(3, 8)), Options{}},
		"no volume":  {&mesh.Mesh{V: []vec.V3{{}, {X: 1}, {Y: 1}}, F: [][3]int32{{0, 1, 2}, {0, 2, 1}}}, Options{}},
		"no pull":    {ball(3, 8), Options{Pull: &zero}},
	} {
		if _, err := Find(context.Background(), c.m, c.o); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}
