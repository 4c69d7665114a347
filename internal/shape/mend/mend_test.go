package mend

import (
	"math"
	"slices"
	"strings"
	"testing"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/sculpt"
)

func box(lo, hi vec.V3) *mesh.Mesh {
	s := hi.Sub(lo)
	m := sculpt.Box(s.X, s.Y, s.Z).Mesh
	d := lo.Sub(m.Box().Min)
	for i, p := range m.V {
		m.V[i] = p.Add(d)
	}
	return m
}

// joined makes one corner of equal ones.
func joined(m *mesh.Mesh) *mesh.Mesh {
	first := map[vec.V3]int32{}
	to := make([]int32, len(m.V))
	for i, p := range m.V {
		if _, ok := first[p]; !ok {
			first[p] = int32(i)
		}
		to[i] = first[p]
	}
	return &mesh.Mesh{V: m.V, F: renamed(m.F, to)}
}

// without drops the triangles whose centroid f names.
func without(m *mesh.Mesh, f func(c vec.V3) bool) *mesh.Mesh {
	r := &mesh.Mesh{V: slices.Clone(m.V)}
	for i, t := range m.F {
		if !f(centre(m, i)) {
			r.F = append(r.F, t)
		}
	}
	return r
}

func steps(r *Result) string {
	var s []string
	for _, x := range r.Steps {
		s = append(s, x.Name)
	}
	return strings.Join(s, "; ")
}

// TestSteps breaks bodies of known volume in one way each.
func TestSteps(t *testing.T) {
	cube := func() *mesh.Mesh { return box(vec.V3{}, vec.V3{X: 10, Y: 10, Z: 10}) }
	ball := sculpt.Ball(10, 24).Mesh
	tee := func() *mesh.Mesh { // the lid is cut in three at two places of one edge
		m := without(cube(), func(c vec.V3) bool { return c.Z > 9.9 })
		n := int32(len(m.V))
		m.V = append(m.V, vec.V3{Z: 10}, vec.V3{X: 3, Z: 10}, vec.V3{X: 7, Z: 10}, vec.V3{X: 10, Z: 10}, vec.V3{X: 10, Y: 10, Z: 10}, vec.V3{Y: 10, Z: 10})
		m.F = append(m.F, [3]int32{n, n + 1, n + 5}, [3]int32{n + 1, n + 2, n + 5}, [3]int32{n + 2, n + 4, n + 5}, [3]int32{n + 2, n + 3, n + 4})
		return joined(m)
	}
	wall := func() *mesh.Mesh { // two boxes that share one face, once
		a := cube()
		b := without(box(vec.V3{X: 10}, vec.V3{X: 20, Y: 10, Z: 10}), func(c vec.V3) bool { return c.X < 10.1 })
		a.Append(b)
		return joined(a)
	}
	twice := func() *mesh.Mesh { // the same, once from each side
		a := wall()
		for i, f := range a.F {
			if math.Abs(centre(a, i).X-10) < 1e-9 {
				a.F = append(a.F, [3]int32{f[0], f[2], f[1]})
			}
		}
		return a
	}
	corner := func() *mesh.Mesh {
		a := cube()
		a.Append(box(vec.V3{X: 10, Y: 10, Z: 10}, vec.V3{X: 20, Y: 20, Z: 20}))
		return joined(a)
	}
	fin := func() *mesh.Mesh {
		a := cube()
		n := int32(len(a.V))
		a.V = append(a.V, vec.V3{X: -0.5, Y: -0.5, Z: 5})
		e := [2]int32{-1, -1}
		for i, p := range a.V[:n] {
			if p == (vec.V3{}) {
				e[0] = int32(i)
			}
			if p == (vec.V3{Z: 10}) {
				e[1] = int32(i)
			}
		}
		a.F = append(a.F, [3]int32{e[0], e[1], n})
		return a
	}
	bell := sculpt.Cup(10, 7, 12, 3, 48).Mesh // stands on its floor; without the ring of its lip
	lip := bell.Box().Max.Z
	torn := func() *mesh.Mesh { // one corner pulled apart by 7 % of the side
		a := cube()
		n := int32(len(a.V))
		for i, p := range a.V[:n] {
			if p == (vec.V3{X: 10, Y: 10, Z: 10}) {
				a.V = append(a.V, vec.V3{X: 9.6, Y: 9.5, Z: 9.7})
				for k := range a.F {
					if c := centre(a, k); c.X > 9.9 {
						for e := range 3 {
							if a.F[k][e] == int32(i) {
								a.F[k][e] = n
							}
						}
					}
				}
			}
		}
		return a
	}
	shell := func() *mesh.Mesh { return sculpt.HollowBall(10, 6, 24).Mesh }
	for _, c := range []struct {
		name string
		m    *mesh.Mesh
		want float64
		tol  float64
		say  string
		n    int // shells
	}{
		{"in order", cube(), 1000, 1e-12, "", 1},
		{"a hollow ball", shell(), shell().Volume(), 1e-12, "", 2},
		{"T-joints", tee(), 1000, 1e-9, "made T-joints whole", 1},
		{"a side missing", without(cube(), func(c vec.V3) bool { return c.Z < 0.1 }), 1000, 1e-9, "closed the open flat side (standing face)", 1},
		{"a wall in one sheet", wall(), 2000, 1e-9, "left out walls", 1},
		{"a wall in two sheets", twice(), 2000, 1e-9, "dropped doubled", 1},
		{"bodies at one corner", corner(), 2000, 1e-9, "parted bodies", 2},
		{"a fin", fin(), 1000, 1e-9, "left out sheets", 1},
		{"a torn corner", torn(), 1000, 3e-2, "closed holes", 1},
		{"a cup without its lip", without(bell, func(c vec.V3) bool { return c.Z > lip-1e-6 }), bell.Volume(), 1e-9, "flat side", 1},
		{"a hole in a ball", without(ball, func(c vec.V3) bool { return c.Dot(vec.V3{X: 1, Y: 0.3, Z: 0.4}.Unit()) > 9.4 }), ball.Volume(), 2e-3, "along the curve", 1},
	} {
		r, err := Mend(c.m)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if v := r.Mesh.Volume(); math.Abs(v-c.want) > c.tol*c.want || !strings.Contains(steps(r), c.say) || (c.say == "") != (len(r.Steps) == 0) || r.Topology.Shells != c.n {
			t.Errorf("%s: volume %.6g, want %.6g; %d shells; %s", c.name, v, c.want, r.Topology.Shells, steps(r))
		}
		if b, a := c.m.Area(), r.Mesh.Area(); c.name == "a cup without its lip" && a > b+math.Pi*(100-49) {
			t.Errorf("%s: the cover has %.4g mm2, more than the ring's %.4g", c.name, a-b, math.Pi*(100-49))
		}
		if top := mesh.TopologyOf(r.Mesh); !top.Watertight || top.Pinched > 0 {
			t.Errorf("%s: %+v", c.name, *top)
		}
		sum := c.m.Volume()
		for _, s := range r.Steps {
			sum += s.Volume
		}
		if v := r.Mesh.Volume(); math.Abs(sum-v) > 1e-9*v {
			t.Errorf("%s: the steps sum to %.8g, the volume is %.8g", c.name, sum, v)
		}
	}
}

// TestCoverFollowsTheCurve compares the cover of a ball's missing cap with the
// cap: a flat cover loses pi h^2 (3 r - h)/3, the one along the curve a small
// part of it, and the band holds what it misses.
func TestCoverFollowsTheCurve(t *testing.T) {
	for _, n := range []int{16, 32, 64} {
		ball := sculpt.Ball(10, n).Mesh
		open := without(ball, func(c vec.V3) bool { return c.Dot(vec.V3{X: 0.8, Y: 0.36, Z: 0.48}) > 9 })
		r, err := Mend(open)
		if err != nil {
			t.Errorf("%d: %v", n, err)
			continue
		}
		cap := math.Pi * (30 - 1) / 3 // h = 1
		off := r.Mesh.Volume() - ball.Volume()
		t.Logf("%d: %+.3f of %.1f mm3 (%.1f %%), band %.1f", n, off, cap, 100*off/cap, r.Band)
		if math.Abs(off) > 0.2*cap || math.Abs(off) > r.Band {
			t.Errorf("%d: off by %.3g of a cap of %.3g, band %.3g", n, off, cap, r.Band)
		}
	}
}

// TestNoBody lists what is no body, with the reason.
func TestNoBody(t *testing.T) {
	ball := sculpt.Ball(10, 24).Mesh
	band := &mesh.Mesh{}
	const k = 40
	for i := range k {
		a := 2 * math.Pi * float64(i) / k
		d := vec.V3{X: math.Cos(a/2) * math.Cos(a), Y: math.Cos(a/2) * math.Sin(a), Z: math.Sin(a / 2)}
		o := vec.V3{X: 10 * math.Cos(a), Y: 10 * math.Sin(a)}
		band.V = append(band.V, o.Sub(d), o.Add(d))
	}
	for i := range int32(k) {
		a, b, c, d := 2*i, 2*i+1, (2*i+2)%(2*k), (2*i+3)%(2*k)
		if i == k-1 {
			c, d = d, c
		}
		band.F = append(band.F, [3]int32{a, b, c}, [3]int32{b, d, c})
	}
	for _, c := range []struct {
		name, say string
		m         *mesh.Mesh
	}{
		{"a Moebius band", "only one side", band},
		{"a bowl", "too large to guess", without(ball, func(c vec.V3) bool { return c.X+0.3*math.Sin(c.Y) > -5 })},
		{"one triangle", "encloses nothing", &mesh.Mesh{V: []vec.V3{{}, {X: 1}, {Y: 1, Z: 1}}, F: [][3]int32{{0, 1, 2}}}},
		{"a sheet from both sides", "encloses nothing", &mesh.Mesh{V: []vec.V3{{}, {X: 1}, {Y: 1, Z: 1}}, F: [][3]int32{{0, 1, 2}, {0, 2, 1}}}},
		{"no triangle", "three different corners", &mesh.Mesh{V: []vec.V3{{}}, F: [][3]int32{{0, 0, 0}}}},
	} {
		r, err := Mend(c.m)
		if err == nil {
			t.Errorf("%s: volume %g, %s", c.name, r.Mesh.Volume(), steps(r))
		} else if !strings.Contains(err.Error(), c.say) || fault.KindOf(err) != fault.Input || fault.HintOf(err) == "" {
			t.Errorf("%s: %v", c.name, err)
		}
	}
}

// TestBuiltAnew ties a ball and a cube into a knot that no gentler step undoes:
// three triangles on an edge, and a hole.
func TestBuiltAnew(t *testing.T) {
	ball := sculpt.Ball(10, 48).Mesh
	w := newWork(ball)
	if err := w.rebuild(ball, nil); err != nil || w.cell == 0 {
		t.Fatalf("%v, cells of %g", err, w.cell)
	}
	off := w.m.Volume()/ball.Volume() - 1
	t.Logf("a ball on cells of %.3g: %+.2e, band %.2e", w.cell, off, w.band/ball.Volume())
	if math.Abs(off) > 2e-3 || math.Abs(off) > w.band/ball.Volume() {
		t.Errorf("off by %g, band %g", off, w.band)
	}
}

// TestUnite makes one of two boxes that overlap by a known volume, of a ball
// swallowed by a box, and keeps a void.
func TestUnite(t *testing.T) {
	two := box(vec.V3{}, vec.V3{X: 10, Y: 10, Z: 10})
	two.Append(box(vec.V3{X: 6, Y: 5, Z: 4}, vec.V3{X: 16, Y: 15, Z: 14}))
	in := box(vec.V3{X: 100}, vec.V3{X: 130, Y: 30, Z: 30})
	ball := sculpt.Ball(5, 12).Mesh
	for i, p := range ball.V {
		ball.V[i] = p.Add(vec.V3{X: 115, Y: 15, Z: 15})
	}
	in.Append(ball)
	hollow := sculpt.HollowBall(10, 6, 24).Mesh
	for _, c := range []struct {
		name   string
		m      *mesh.Mesh
		want   float64
		shells int
	}{
		{"two boxes", two, 2000 - 4*5*6, 1},
		{"a box with a ball in it", in, 27000, 1},
		{"a hollow ball", hollow, hollow.Volume(), 2},
	} {
		r, ok := Unite(c.m, c.want)
		if !ok {
			t.Errorf("%s: not united", c.name)
			continue
		}
		if top := mesh.TopologyOf(r); !top.Watertight || top.Shells != c.shells || math.Abs(r.Volume()-c.want) > 1e-4*c.want {
			t.Errorf("%s: volume %g, want %g, %d shells", c.name, r.Volume(), c.want, top.Shells)
		}
	}
	if _, ok := Unite(two, 2000); ok {
		t.Error("a union of another volume was taken")
	}
}
