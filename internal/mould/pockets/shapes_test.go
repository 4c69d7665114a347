package pockets

import (
	"math"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// turn returns the closed body that the profile (radius, height) makes when
// turned about z: the profile runs so that the metal is on its left when the
// radius points right and the height up. Points of radius 0 become one corner.
func turn(profile [][2]float64, n int) *mesh.Mesh {
	m := &mesh.Mesh{}
	ring := make([][]int32, len(profile))
	for i, p := range profile {
		k := n
		if p[0] == 0 {
			k = 1
		}
		for a := range k {
			s, c := math.Sincos(2 * math.Pi * float64(a) / float64(n))
			ring[i] = append(ring[i], int32(len(m.V)))
			m.V = append(m.V, vec.V3{X: p[0] * c, Y: p[0] * s, Z: p[1]})
		}
	}
	at := func(i, a int) int32 { return ring[i][a%len(ring[i])] }
	for i := range profile {
		j := (i + 1) % len(profile)
		if len(ring[i]) == 1 && len(ring[j]) == 1 {
			continue // along the axis
		}
		for a := range n {
			p, q, r, s := at(i, a), at(i, a+1), at(j, a), at(j, a+1)
			if p != q {
				m.F = append(m.F, [3]int32{p, q, s})
			}
			if r != s {
				m.F = append(m.F, [3]int32{p, s, r})
			}
		}
	}
	if m.Volume() < 0 {
		for i, t := range m.F {
			m.F[i] = [3]int32{t[0], t[2], t[1]}
		}
	}
	return m
}

// cells returns the union of unit cells of a lattice as one closed surface:
// the faces between a cell that is full and one that is not, each cut into
// 2 n^2 triangles. full is indexed [z][y][x] by rows of text, '#' for metal.
func cells(size vec.V3, layers ...[]string) *mesh.Mesh {
	m := &mesh.Mesh{}
	seen := map[[3]int]int32{}
	full := func(x, y, z int) bool {
		return z >= 0 && z < len(layers) && y >= 0 && y < len(layers[z]) && x >= 0 && x < len(layers[z][y]) && layers[z][y][x] == '#'
	}
	put := func(p [3]int) int32 {
		i, ok := seen[p]
		if !ok {
			i = int32(len(m.V))
			seen[p] = i
			m.V = append(m.V, vec.V3{X: float64(p[0]) * size.X, Y: float64(p[1]) * size.Y, Z: float64(p[2]) * size.Z})
		}
		return i
	}
	for z := range layers {
		for y := range layers[z] {
			for x := range layers[z][y] {
				if !full(x, y, z) {
					continue
				}
				for d := range 3 {
					for s := range 2 {
						var n [3]int
						n[d] = 2*s - 1
						if full(x+n[0], y+n[1], z+n[2]) {
							continue
						}
						var e, f [3]int
						e[(d+1)%3], f[(d+2)%3] = 1, 1
						o := [3]int{x, y, z}
						o[d] += s
						add := func(a, b [3]int) [3]int { return [3]int{a[0] + b[0], a[1] + b[1], a[2] + b[2]} }
						p, q, r, t := put(o), put(add(o, e)), put(add(add(o, e), f)), put(add(o, f))
						if s == 0 {
							q, t = t, q
						}
						m.F = append(m.F, [3]int32{p, q, r}, [3]int32{p, r, t})
					}
				}
			}
		}
	}
	return m
}

// ball returns a ball of n rings about the origin.
func ball(r float64, n int) *mesh.Mesh {
	var p [][2]float64
	for i := range n + 1 {
		s, c := math.Sincos(math.Pi * float64(i) / float64(n))
		p = append(p, [2]float64{r * s, -r * c})
	}
	p[0][0], p[n][0] = 0, 0
	return turn(p, 2*n)
}

// torus returns a torus about z.
func torus(big, small float64, n int) *mesh.Mesh {
	var p [][2]float64
	for i := range n {
		s, c := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		p = append(p, [2]float64{big + small*c, small * s})
	}
	return turn(p, 3*n)
}

// flip turns a mesh inside out.
func flip(m *mesh.Mesh) *mesh.Mesh {
	r := &mesh.Mesh{V: m.V}
	for _, t := range m.F {
		r.F = append(r.F, [3]int32{t[0], t[2], t[1]})
	}
	return r
}

// moved turns, scales and shifts a mesh.
func moved(m *mesh.Mesh, f vec.Frame, scale float64) *mesh.Mesh {
	r := &mesh.Mesh{F: m.F}
	for _, p := range m.V {
		r.V = append(r.V, f.From(p.Mul(scale)))
	}
	return r
}
