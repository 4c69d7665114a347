package bvh

import (
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"strings"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/validation/outside"
)

// bodies are the meshes of the random comparisons: closed and open, with
// vertices on whole numbers, far from the origin, tiny, flat, without area.
func bodies(r *rand.Rand) map[string]*mesh.Mesh {
	far := torus(20, 12, 10, 3)
	for i := range far.V {
		far.V[i] = far.V[i].Add(vec.V3{X: 1e5, Y: -3e5, Z: 2e5})
	}
	small := outside.Ball(3, 1e-6)
	flat := &mesh.Mesh{}
	for i, t := range plate(8).F {
		if i%6 < 2 {
			flat.F = append(flat.F, t)
		}
	}
	flat.V = plate(8).V
	same := &mesh.Mesh{V: []vec.V3{{}, {X: 1}, {Y: 1}}}
	for range 100 {
		same.F = append(same.F, [3]int32{0, 1, 2})
	}
	chain := &mesh.Mesh{}
	for i := range 90 { // sizes and places in a geometric row: the deepest tree
		s := math.Pow(2, -float64(i))
		k := int32(len(chain.V))
		chain.V = append(chain.V, vec.V3{X: s}, vec.V3{X: s, Y: s / 4}, vec.V3{X: s, Z: s / 4})
		chain.F = append(chain.F, [3]int32{k, k + 1, k + 2})
	}
	return map[string]*mesh.Mesh{
		"torus": torus(40, 24, 10, 3), "far": far, "small": small, "plate": plate(10),
		"flat": flat, "soup": soup(r, 500), "same": same, "one": {V: same.V, F: same.F[:1]}, "chain": chain,
		"line": {V: []vec.V3{{}, {X: 1}, {X: 2}}, F: [][3]int32{{0, 1, 2}}},
	}
}

func eachBody(t *testing.T, seed uint64, f func(t *testing.T, r *rand.Rand, m *mesh.Mesh, tr *Tree)) {
	all := bodies(rand.New(rand.NewPCG(seed, 1)))
	names := make([]string, 0, len(all))
	for n := range all {
		names = append(names, n)
	}
	slices.Sort(names)
	for _, n := range names {
		t.Run(fmt.Sprintf("%s/seed=%d", n, seed), func(t *testing.T) {
			f(t, rand.New(rand.NewPCG(seed, 2)), all[n], Build(all[n]))
		})
	}
}

// TestBoxesHoldTheirTriangles walks the tree: every triangle once, every box
// round all corners below it.
func TestBoxesHoldTheirTriangles(t *testing.T) {
	eachBody(t, 1, func(t *testing.T, _ *rand.Rand, m *mesh.Mesh, tr *Tree) {
		seen := make([]int, len(m.F))
		var walk func(code int32, lo, hi [3]float32, depth int)
		walk = func(code int32, lo, hi [3]float32, depth int) {
			if depth >= stackSize {
				t.Fatalf("depth %d", depth)
			}
			if code >= 0 {
				n := tr.node[code]
				for k := range 3 {
					if min(n.lo0()[k], n.lo1()[k]) < lo[k] || max(n.hi0()[k], n.hi1()[k]) > hi[k] {
						t.Fatal("child box sticks out")
					}
				}
				walk(n.c0, *n.lo0(), *n.hi0(), depth+1)
				walk(n.c1, *n.lo1(), *n.hi1(), depth+1)
				return
			}
			first, end := leafRange(code)
			for i := first; i < end; i++ {
				seen[tr.id[i]]++
				for _, p := range tr.tri[i] {
					q := tr.local(vec.FromArray(p))
					for k := range 3 {
						if q.At(k) < float64(lo[k]) || q.At(k) > float64(hi[k]) {
							t.Fatal("corner outside its box")
						}
					}
				}
			}
		}
		walk(tr.root, [3]float32{-2, -2, -2}, [3]float32{2, 2, 2}, 0)
		for i, n := range seen {
			if n != 1 {
				t.Fatalf("triangle %d is held %d times", i, n)
			}
		}
	})
}

// aim returns random rays: from outside at points of the box, from inside,
// along axes, exactly through corners and edge middles of the mesh.
func aim(r *rand.Rand, m *mesh.Mesh, b vec.Box) (o, d vec.V3) {
	in := func() vec.V3 {
		s := b.Size()
		return b.Min.Add(vec.V3{X: s.X * r.Float64(), Y: s.Y * r.Float64(), Z: s.Z * r.Float64()})
	}
	axes := []vec.V3{{X: 1}, {X: -1}, {Y: 1}, {Y: -1}, {Z: 1}, {Z: -1}}
	l := b.Longest()
	switch r.IntN(5) {
	case 0:
		return in(), point(r, 1)
	case 1:
		d = axes[r.IntN(6)]
		return in().Sub(d.Mul(3 * l)), d
	case 2:
		p := m.V[m.F[r.IntN(len(m.F))][r.IntN(3)]]
		d = axes[r.IntN(6)]
		return p.Sub(d.Mul(2 * l)), d
	case 3:
		f := m.F[r.IntN(len(m.F))]
		p := m.V[f[0]].Lerp(m.V[f[1]], 0.5)
		d = axes[r.IntN(6)].Add(axes[r.IntN(6)])
		return p.Sub(d.Mul(2 * l)), d
	}
	o = b.Centre().Add(point(r, 1).Unit().Mul(2 * l))
	return o, in().Sub(o)
}

func TestRaysAgainstAllTriangles(t *testing.T) {
	eachBody(t, 3, func(t *testing.T, r *rand.Rand, m *mesh.Mesh, tr *Tree) {
		var buf []Hit
		for range 2000 {
			o, d := aim(r, m, tr.Box())
			if d == (vec.V3{}) {
				continue
			}
			var ry ray
			var want []Hit
			if ry.set(tr, o, d, math.Inf(1)) {
				for k := range tr.tri {
					if x, s := ry.cross(&tr.tri[k]); s != 0 && x >= 0 {
						want = append(want, Hit{x, tr.id[k], s})
					}
				}
			}
			slices.SortFunc(want, before)
			buf = tr.AllHits(o, d, buf)
			if !slices.Equal(buf, want) {
				t.Fatalf("o %v d %v: %v, want %v", o, d, buf, want)
			}
			h, ok := tr.First(o, d, math.Inf(1))
			if ok != (len(want) > 0) || ok && h != want[0] {
				t.Fatalf("first %v %v, want %v", h, ok, want)
			}
			// The T of a triangle without area is noise between its corners.
			if ok && h.T > 0 && m.Normal(int(h.Tri)) != (vec.V3{}) {
				if g, ok := tr.First(o, d, h.T); !ok || g != h {
					t.Fatalf("tmax = T must hit: %v %v", g, h)
				}
				if g, ok := tr.First(o, d, h.T*(1-1e-9)); ok {
					t.Fatalf("tmax below T must miss: %v %v", g, h)
				}
			}
		}
	})
}

// TestHitsLieOnTheirTriangle compares the kernel itself with plain vector
// algebra, so that the comparison above does not rest on itself.
func TestHitsLieOnTheirTriangle(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 4))
	m := soup(r, 300)
	tr := Build(m)
	n := 0
	for range 20000 {
		o, d := point(r, 15), point(r, 1)
		got := map[int32]Hit{}
		for _, h := range tr.AllHits(o, d, nil) {
			got[h.Tri] = h
		}
		for i := range m.F {
			a, b, c := m.Tri(i)
			nn := b.Sub(a).Cross(c.Sub(a))
			den := nn.Dot(d)
			if math.Abs(den) < 1e-9 {
				continue
			}
			x := nn.Dot(a.Sub(o)) / den
			p := o.Add(d.Mul(x))
			in := math.Inf(1) // least barycentric weight
			for _, e := range [][2]vec.V3{{a, b}, {b, c}, {c, a}} {
				in = math.Min(in, e[1].Sub(e[0]).Cross(p.Sub(e[0])).Dot(nn)/nn.Dot(nn))
			}
			h, ok := got[int32(i)]
			if math.Abs(in) < 1e-6 || math.Abs(x) < 1e-6 {
				continue // too near an edge or the origin to know by this algebra
			}
			if want := in > 0 && x > 0; want != ok {
				t.Fatalf("triangle %d: hit %v, want %v (weight %g, T %g)", i, ok, want, in, x)
			}
			if !ok {
				continue
			}
			n++
			sign := int8(1)
			if den > 0 {
				sign = -1
			}
			if math.Abs(h.T-x) > 1e-9*(1+x) || h.Sign != sign {
				t.Fatalf("triangle %d: %v, want T %g sign %d", i, h, x, sign)
			}
		}
	}
	if n < 1000 {
		t.Fatalf("only %d hits compared", n)
	}
}

// TestClosedBodiesBalance sends rays exactly through corners and edges: signs
// add to zero on the whole line.
func TestClosedBodiesBalance(t *testing.T) {
	eachBody(t, 5, func(t *testing.T, r *rand.Rand, m *mesh.Mesh, tr *Tree) {
		if n := t.Name(); !containsAny(n, "/torus", "/far", "/small", "/plate") {
			return
		}
		l := tr.Box().Longest()
		for range 5000 {
			f := m.F[r.IntN(len(m.F))]
			a, b := m.V[f[0]], m.V[f[1]]
			p := a
			if r.IntN(2) == 0 {
				p = a.Lerp(b, 0.5)
			}
			var d vec.V3
			switch r.IntN(3) {
			case 0:
				d = []vec.V3{{X: 1}, {Y: 1}, {Z: 1}, {X: 1, Y: 1}, {Y: 1, Z: -1}}[r.IntN(5)]
			case 1:
				d = b.Sub(a) // along an edge
			default:
				d = point(r, 1)
			}
			o := p.Sub(d.Mul(4 * l / d.Len()))
			sum := 0
			for _, h := range tr.AllHits(o, d, nil) {
				sum += int(h.Sign)
			}
			if sum != 0 {
				t.Fatalf("o %v d %v: signs add to %d", o, d, sum)
			}
		}
	})
}

func containsAny(s string, parts ...string) bool {
	return slices.ContainsFunc(parts, func(p string) bool { return strings.Contains(s, p) })
}

func TestClosestAgainstAllTriangles(t *testing.T) {
	eachBody(t, 7, func(t *testing.T, r *rand.Rand, m *mesh.Mesh, tr *Tree) {
		l, c := tr.Box().Longest(), tr.Box().Centre()
		for k := range 1000 {
			p := c.Add(point(r, l*[]float64{0.6, 3, 1000}[k%3]))
			want, at := math.Inf(1), -1
			for i := range m.F {
				a, b, cc := m.Tri(i)
				if d := nearest(p, a, b, cc).Sub(p); d.Dot(d) < want {
					want, at = d.Dot(d), i
				}
			}
			q, i, d := tr.Closest(p, math.Inf(1))
			if i != at || d != math.Sqrt(want) || math.Abs(q.Dist(p)-d) > 1e-12*d {
				t.Fatalf("%v: triangle %d at %g, want %d at %g", p, i, d, at, math.Sqrt(want))
			}
			if _, i, _ := tr.Closest(p, d*(1+1e-12)); i != at {
				t.Fatalf("maxDist just above: triangle %d", i)
			}
			if d > 0 {
				if _, i, e := tr.Closest(p, d*(1-1e-12)); i != -1 || e != d*(1-1e-12) {
					t.Fatalf("maxDist just below: triangle %d at %g", i, e)
				}
			}
		}
	})
}

// TestNearestPoint checks the kernel: no sampled point of the triangle is
// nearer, and the answer is in the triangle.
func TestNearestPoint(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 8))
	for k := range 3000 {
		a, b, c, p := point(r, 1), point(r, 1), point(r, 1), point(r, 2)
		if k%5 == 0 {
			c = a.Lerp(b, r.Float64())
		}
		q := nearest(p, a, b, c)
		d := q.Dist(p)
		best := math.Inf(1)
		for i := range 41 {
			for j := range 41 - i {
				u, v := float64(i)/40, float64(j)/40
				s := a.Mul(1 - u - v).Add(b.Mul(u)).Add(c.Mul(v))
				best = math.Min(best, s.Dist(p))
				if s.Dist(p) < d-1e-9 {
					t.Fatalf("sample %v nearer than %v", s, q)
				}
			}
		}
		if best > d+0.1 {
			t.Fatalf("answer %v lies outside its triangle", q)
		}
	}
}

func TestBoxQueryAgainstAllTriangles(t *testing.T) {
	eachBody(t, 9, func(t *testing.T, r *rand.Rand, m *mesh.Mesh, tr *Tree) {
		l, c := tr.Box().Longest(), tr.Box().Centre()
		for range 300 {
			p := c.Add(point(r, l))
			b := vec.Empty().Add(p).Add(p.Add(point(r, l*r.Float64())))
			if r.IntN(4) == 0 { // a box that ends exactly at a corner
				b = vec.Empty().Add(m.V[m.F[0][0]]).Add(p)
			}
			var want, got []int
			for i := range m.F {
				x, y, z := m.Tri(i)
				lo, hi := x.Min(y).Min(z), x.Max(y).Max(z)
				if lo.X <= b.Max.X && hi.X >= b.Min.X && lo.Y <= b.Max.Y && hi.Y >= b.Min.Y && lo.Z <= b.Max.Z && hi.Z >= b.Min.Z {
					want = append(want, i)
				}
			}
			tr.BoxQuery(b, func(i int) bool { got = append(got, i); return true })
			slices.Sort(got)
			if !slices.Equal(got, want) {
				t.Fatalf("%v: %v, want %v", b, got, want)
			}
			n := 0
			tr.BoxQuery(b, func(int) bool { n++; return false })
			if n != min(1, len(want)) {
				t.Fatalf("stop was not obeyed: %d calls", n)
			}
		}
	})
}

func TestWinding(t *testing.T) {
	two := torus(40, 24, 10, 3)
	two.Append(torus(40, 24, 10, 3)) // two bodies in one place: 2 inside
	open := outside.Ball(4, 5)
	open.F = open.F[:len(open.F)*3/4]
	for _, c := range []struct {
		name string
		m    *mesh.Mesh
		tol  float64 // fast against exact at the default accuracy
	}{{"ball", outside.Ball(4, 5), 0.06}, {"torus", torus(80, 48, 10, 3), 0.03}, {"two", two, 0.06}, {"open", open, 0.05}, {"plate", plate(20), 0.03}} {
		t.Run(c.name, func(t *testing.T) {
			r := rand.New(rand.NewPCG(11, 11))
			tr := Build(c.m)
			l := tr.Box().Longest()
			var worst [3]float64
			acc := [3]float64{Accurate, 2 * Accurate, 1e9}
			for range 2000 {
				p := tr.Box().Centre().Add(point(r, l*0.7))
				want := tr.WindingExact(p)
				for k, a := range acc {
					worst[k] = math.Max(worst[k], math.Abs(tr.WindingTo(p, a)-want))
				}
			}
			t.Logf("largest error at accuracy 2, 4, all: %.2g", worst)
			if worst[0] > c.tol || worst[1] > worst[0]/3 || worst[2] > 1e-9 {
				t.Fatalf("fast against exact: %g", worst)
			}
		})
	}
	tr := Build(outside.Ball(5, 5))
	for _, c := range []struct {
		p    vec.V3
		want float64
	}{{vec.V3{}, 1}, {vec.V3{X: 4.9}, 1}, {vec.V3{X: 5.1}, 0}, {vec.V3{X: 500}, 0}} {
		if w := tr.Winding(c.p); math.Abs(w-c.want) > 0.06 {
			t.Errorf("ball at %v: %g", c.p, w)
		}
		if w := tr.WindingExact(c.p); math.Abs(w-c.want) > 1e-9 {
			t.Errorf("ball at %v, exact: %g", c.p, w)
		}
	}
}

// TestNothing: no triangles, not finite triangles, senseless queries.
func TestNothing(t *testing.T) {
	nan := math.NaN()
	for _, m := range []*mesh.Mesh{{}, {V: []vec.V3{{}, {X: nan}, {Y: 1}}, F: [][3]int32{{0, 1, 2}}}} {
		tr := Build(m)
		if h := tr.AllHits(vec.V3{Z: -1}, vec.V3{Z: 1}, nil); len(h) != 0 {
			t.Error(h)
		}
		if _, ok := tr.First(vec.V3{Z: -1}, vec.V3{Z: 1}, 5); ok {
			t.Error("hit")
		}
		if _, i, d := tr.Closest(vec.V3{}, 5); i != -1 || d != 5 {
			t.Error(i, d)
		}
		tr.BoxQuery(vec.Box{}, func(int) bool { t.Error("found"); return true })
		if tr.Winding(vec.V3{}) != 0 || tr.Len() != 0 {
			t.Error("winding")
		}
	}
	tr := Build(outside.Ball(2, 1))
	for _, c := range [][2]vec.V3{{{X: nan}, {Z: 1}}, {{}, {Z: nan}}, {{}, {}}, {{X: math.Inf(1)}, {X: -1}}} {
		if h := tr.AllHits(c[0], c[1], nil); len(h) != 0 {
			t.Error(c, h)
		}
	}
	if _, i, _ := tr.Closest(vec.V3{X: nan}, 1); i != -1 {
		t.Error("closest of NaN")
	}
}

func TestSameTreeOnOneCore(t *testing.T) {
	m := torus(300, 100, 10, 3)
	a := Build(m)
	old := runtime.GOMAXPROCS(1)
	b := Build(m)
	runtime.GOMAXPROCS(old)
	if !slices.Equal(a.node, b.node) || !slices.Equal(a.id, b.id) || a.root != b.root {
		t.Fatal("the tree depends on the number of cores")
	}
}
