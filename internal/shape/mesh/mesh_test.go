package mesh

import (
	"fmt"
	"math"
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
