package mesh

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pourwright/internal/ground/vec"
)

// ring returns a torus of p by q quads cut in two, radius big round z.
func ring(p, q int, big, small float64) *Mesh {
	m := &Mesh{}
	for i := range p {
		s, c := math.Sincos(2 * math.Pi * float64(i) / float64(p))
		for j := range q {
			t, d := math.Sincos(2 * math.Pi * float64(j) / float64(q))
			r := big + small*d
			m.V = append(m.V, vec.V3{X: r * c, Y: r * s, Z: small * t})
		}
	}
	at := func(i, j int) int32 { return int32(i%p*q + j%q) }
	for i := range p {
		for j := range q {
			a, b, c, d := at(i, j), at(i+1, j), at(i+1, j+1), at(i, j+1)
			m.F = append(m.F, [3]int32{a, b, c}, [3]int32{a, c, d})
		}
	}
	return m
}

// box returns a closed box of twelve triangles.
func box(lo, hi vec.V3) *Mesh {
	m := &Mesh{}
	for i := range 8 {
		p := lo
		if i&1 != 0 {
			p.X = hi.X
		}
		if i&2 != 0 {
			p.Y = hi.Y
		}
		if i&4 != 0 {
			p.Z = hi.Z
		}
		m.V = append(m.V, p)
	}
	for _, q := range [][4]int32{{0, 2, 3, 1}, {4, 5, 7, 6}, {0, 1, 5, 4}, {2, 6, 7, 3}, {0, 4, 6, 2}, {1, 3, 7, 5}} {
		m.F = append(m.F, [3]int32{q[0], q[1], q[2]}, [3]int32{q[0], q[2], q[3]})
	}
	return m
}

func turned(m *Mesh) *Mesh {
	r := &Mesh{V: append([]vec.V3{}, m.V...)}
	for _, t := range m.F {
		r.F = append(r.F, [3]int32{t[0], t[2], t[1]})
	}
	return r
}

func cube(at, side float64) *Mesh {
	return box(vec.V3{X: at, Y: at, Z: at}, vec.V3{X: at + side, Y: at + side, Z: at + side})
}

func TestTopologyOfKnownBodies(t *testing.T) {
	two := cube(0, 1)
	two.Append(cube(5, 1))
	open := cube(0, 1)
	open.F = open.F[2:]
	kiss := cube(0, 1) // two cubes that share one corner
	o := cube(1, 1)
	for _, f := range o.F {
		for k := range f {
			if f[k] == 0 {
				f[k] = 7
			} else {
				f[k] += 8
			}
		}
		kiss.F = append(kiss.F, f)
	}
	kiss.V = append(kiss.V, o.V...)
	bad := cube(0, 1)
	bad.F[3][1], bad.F[3][2] = bad.F[3][2], bad.F[3][1]
	fan := &Mesh{V: make([]vec.V3, 5), F: [][3]int32{{0, 1, 2}, {1, 0, 3}, {0, 1, 4}}}
	n := func(i int) *int { return &i }
	for _, c := range []struct {
		name                                 string
		m                                    *Mesh
		shells, open, doubled, turn, pinched int
		genus                                *int
	}{
		{"cube", cube(0, 1), 1, 0, 0, 0, 0, n(0)},
		{"torus", ring(30, 20, 3, 1), 1, 0, 0, 0, 0, n(1)},
		{"two cubes", two, 2, 0, 0, 0, 0, n(0)},
		{"cube without its floor", open, 1, 4, 0, 0, 0, nil},
		{"cubes that share a corner", kiss, 2, 0, 0, 0, 1, nil},
		{"one triangle turned", bad, 1, 0, 0, 3, 0, nil},
		{"three triangles on an edge", fan, 1, 6, 1, 1, 0, nil},
		{"nothing", &Mesh{}, 0, 0, 0, 0, 0, nil},
	} {
		g := TopologyOf(c.m)
		if g.Shells != c.shells || g.Open != c.open || g.Doubled != c.doubled || g.Misturned != c.turn || g.Pinched != c.pinched {
			t.Errorf("%s: shells %d open %d doubled %d turned %d pinched %d", c.name, g.Shells, g.Open, g.Doubled, g.Misturned, g.Pinched)
		}
		if (g.Genus == nil) != (c.genus == nil) || g.Genus != nil && *g.Genus != *c.genus {
			t.Errorf("%s: genus %v, want %v", c.name, g.Genus, c.genus)
		}
		if g.Watertight != (c.open+c.doubled+c.turn == 0 && len(c.m.F) > 0) {
			t.Errorf("%s: watertight %v", c.name, g.Watertight)
		}
	}
}

func TestNeighboursLieAcrossTheEdge(t *testing.T) {
	m := ring(12, 9, 3, 1)
	for i, nb := range Neighbours(m) {
		for k, j := range nb {
			a, b := m.F[i][k], m.F[i][(k+1)%3]
			found := false
			for l := range 3 {
				found = found || m.F[j][l] == b && m.F[j][(l+1)%3] == a
			}
			if !found {
				t.Fatalf("triangle %d edge %d: %d does not run %d-%d", i, k, j, b, a)
			}
		}
	}
}

func BenchmarkTopology(b *testing.B) {
	for _, n := range []int{50, 200, 390} {
		m := ring(2*n, n, 3, 1)
		b.Run(fmt.Sprint(len(m.F)), func(b *testing.B) {
			for b.Loop() {
				TopologyOf(m)
			}
		})
	}
}

func TestNestTellsBodiesFromVoids(t *testing.T) {
	build := func(parts ...*Mesh) *Mesh {
		m := &Mesh{}
		for _, p := range parts {
			m.Append(p)
		}
		return m
	}
	open := cube(20, 1)
	open.F = open.F[1:]
	for _, c := range []struct {
		name          string
		m             *Mesh
		bodies, voids int
		roles         []Role
	}{
		{"one", cube(0, 1), 1, 0, []Role{Outer}},
		{"two apart", build(cube(0, 1), cube(2, 1)), 2, 0, []Role{Outer, Outer}},
		{"hollow", build(cube(0, 9), turned(cube(3, 2))), 1, 1, []Role{Outer, Hollow}},
		{"two voids, one with a loose ball", build(cube(0, 20), turned(cube(3, 6)), turned(cube(12, 3)), cube(5, 1)), 2, 2, []Role{Outer, Hollow, Hollow, Outer}},
		{"inside out", turned(cube(0, 1)), 0, 0, []Role{Inverted}},
		{"body in a body", build(cube(0, 9), cube(3, 2)), 1, 0, []Role{Outer, Swallowed}},
		{"open beside closed", build(cube(0, 9), open), 1, 0, []Role{Outer, Loose}},
		{"linked rings", build(ring(40, 20, 3, 0.5), func() *Mesh {
			r := ring(40, 20, 3, 0.5)
			for i, p := range r.V {
				r.V[i] = vec.V3{X: p.X + 3, Y: p.Z, Z: -p.Y}
			}
			return r
		}()), 2, 0, []Role{Outer, Outer}},
	} {
		n := NestOf(c.m, TopologyOf(c.m))
		if len(n.Bodies) != c.bodies || n.Voids != c.voids {
			t.Errorf("%s: %d bodies, %d voids", c.name, len(n.Bodies), n.Voids)
		}
		for i, r := range n.Role {
			if r != c.roles[i] {
				t.Errorf("%s: shell %d has role %d, want %d", c.name, i, r, c.roles[i])
			}
		}
	}
	m := build(cube(0, 1), cube(10, 9), turned(cube(12, 2)))
	top := TopologyOf(m)
	n := NestOf(m, top)
	b := Pick(m, top, n.Bodies[0])
	if got, want := b.Volume(), 9.*9*9-8; math.Abs(got-want) > 1e-9 {
		t.Errorf("largest body with its void: volume %g, want %g", got, want)
	}
	if c := m.Centroid(); math.Abs(c.X-(0.5+721*14.5+8*1.5)/(722)) > 1e-9 {
		t.Errorf("centroid %v", c)
	}
}

func TestCanonicalForgetsTheOrderOfTheFile(t *testing.T) {
	m := ring(37, 21, 3, 1)
	m.Append(cube(10, 1))
	m.V = append(m.V, vec.V3{X: 99}) // used by no triangle
	a := Canonical(m)
	if len(a.V) != len(m.V)-1 || a.Volume() == 0 || math.Abs(a.Volume()-m.Volume()) > 1e-12*m.Volume() {
		t.Fatalf("%d corners, volume %g, want %g", len(a.V), a.Volume(), m.Volume())
	}
	rng := rand.New(rand.NewPCG(1, 2))
	for range 5 {
		s := &Mesh{V: slices.Clone(m.V)}
		place := rng.Perm(len(m.V))
		for i, p := range place {
			s.V[p] = m.V[i]
		}
		for _, i := range rng.Perm(len(m.F)) {
			f, k := m.F[i], rng.IntN(3)
			s.F = append(s.F, [3]int32{int32(place[f[k]]), int32(place[f[(k+1)%3]]), int32(place[f[(k+2)%3]])})
		}
		if b := Canonical(s); !slices.Equal(a.V, b.V) || !slices.Equal(a.F, b.F) {
			t.Fatal("a shuffled mesh came out in another order")
		}
	}
}

func BenchmarkCanonical(b *testing.B) {
	m := ring(780, 200, 3, 1)
	for b.Loop() {
		Canonical(m)
	}
}

func BenchmarkNest(b *testing.B) {
	m := ring(780, 200, 3, 1)
	m.Append(cube(10, 1))
	t := TopologyOf(m)
	for b.Loop() {
		NestOf(m, t)
	}
}

func BenchmarkVolume(b *testing.B) {
	m := ring(780, 200, 3, 1)
	for b.Loop() {
		m.Volume()
	}
}
