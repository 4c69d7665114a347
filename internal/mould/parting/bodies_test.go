package parting

import (
	"math"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// turnedBody revolves a profile of (radius, height) about z in n steps. A
// closed profile that stays off the axis gives a ring; an open one must start
// and end on the axis. It runs with the body on its left, seen with the radius
// to the right.
func turnedBody(n int, profile ...vec.V2) *mesh.Mesh {
	m := &mesh.Mesh{}
	id := make([][]int32, len(profile))
	for i, p := range profile {
		id[i] = make([]int32, n)
		for k := range n {
			if p.X == 0 && k > 0 {
				id[i][k] = id[i][0]
				continue
			}
			s, c := math.Sincos(2 * math.Pi * float64(k) / float64(n))
			id[i][k] = int32(len(m.V))
			m.V = append(m.V, vec.V3{X: p.X * c, Y: p.X * s, Z: p.Y})
		}
	}
	for i := range profile {
		j := (i + 1) % len(profile)
		for k := range n {
			l := (k + 1) % n
			for _, t := range [2][3]int32{{id[i][k], id[i][l], id[j][l]}, {id[i][k], id[j][l], id[j][k]}} {
				if mesh.Proper(t) {
					m.F = append(m.F, t)
				}
			}
		}
	}
	if m.Volume() < 0 {
		return reversed(m)
	}
	return m
}

func reversed(m *mesh.Mesh) *mesh.Mesh {
	r := &mesh.Mesh{V: m.V}
	for _, t := range m.F {
		r.F = append(r.F, [3]int32{t[0], t[2], t[1]})
	}
	return r
}

func ball(r float64, n int) *mesh.Mesh {
	var p []vec.V2
	for i := 0; i <= n; i++ {
		s, c := math.Sincos(math.Pi * float64(i) / float64(n))
		if i == 0 || i == n {
			s = 0
		}
		p = append(p, vec.V2{X: r * s, Y: -r * c})
	}
	return turnedBody(2*n, p...)
}

func torus(big, small float64, n int) *mesh.Mesh {
	var p []vec.V2
	for i := range n {
		s, c := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		p = append(p, vec.V2{X: big + small*c, Y: small * s})
	}
	return turnedBody(2*n, p...)
}

// extruded makes a prism of depth d along y from a polygon in x and z without
// holes (ear clipping).
func extruded(d float64, poly ...vec.V2) *mesh.Mesh {
	n := int32(len(poly))
	m := &mesh.Mesh{}
	for _, y := range [2]float64{0, d} {
		for _, p := range poly {
			m.V = append(m.V, vec.V3{X: p.X, Y: y, Z: p.Y})
		}
	}
	left := make([]int32, n)
	for i := range left {
		left[i] = int32(i)
	}
	for len(left) > 2 {
		for i := range left {
			a, b, c := left[(i+len(left)-1)%len(left)], left[i], left[(i+1)%len(left)]
			p, q, r := poly[a], poly[b], poly[c]
			if q.Sub(p).Cross(r.Sub(q)) <= 0 {
				continue
			}
			free := true
			for _, o := range left {
				if o != a && o != b && o != c {
					x := poly[o]
					if q.Sub(p).Cross(x.Sub(p)) >= 0 && r.Sub(q).Cross(x.Sub(q)) >= 0 && p.Sub(r).Cross(x.Sub(r)) >= 0 {
						free = false
					}
				}
			}
			if free {
				m.F = append(m.F, [3]int32{a, b, c}, [3]int32{a + n, c + n, b + n})
				left = append(left[:i:i], left[i+1:]...)
				break
			}
		}
	}
	for i := range n {
		j := (i + 1) % n
		m.F = append(m.F, [3]int32{i, i + n, j + n}, [3]int32{i, j + n, j})
	}
	if m.Volume() < 0 {
		return reversed(m)
	}
	return m
}

func moved(m *mesh.Mesh, f func(vec.V3) vec.V3) *mesh.Mesh {
	r := &mesh.Mesh{F: m.F}
	for _, p := range m.V {
		r.V = append(r.V, f(p))
	}
	return r
}

func together(parts ...*mesh.Mesh) *mesh.Mesh {
	r := &mesh.Mesh{}
	for _, p := range parts {
		r.Append(p)
	}
	return r
}

// A U of 60 x 25 x 40 with a slot of 30 x 25 x 30, open upwards.
func uBody() *mesh.Mesh {
	return extruded(25, vec.V2{}, vec.V2{X: 60}, vec.V2{X: 60, Y: 40}, vec.V2{X: 45, Y: 40}, vec.V2{X: 45, Y: 10}, vec.V2{X: 15, Y: 10}, vec.V2{X: 15, Y: 40}, vec.V2{Y: 40})
}

// Two towers of 20 x 20 x 30, 20 apart, on a plate of 60 x 20 x 10.
func towers() *mesh.Mesh {
	return extruded(20, vec.V2{}, vec.V2{X: 60}, vec.V2{X: 60, Y: 40}, vec.V2{X: 40, Y: 40}, vec.V2{X: 40, Y: 10}, vec.V2{X: 20, Y: 10}, vec.V2{X: 20, Y: 40}, vec.V2{Y: 40})
}

// A cup, mouth down: outer radius 10, inner 8, height 20, roof 2.
func cupDown() *mesh.Mesh {
	return turnedBody(96, vec.V2{Y: 18}, vec.V2{X: 8, Y: 18}, vec.V2{X: 8}, vec.V2{X: 10}, vec.V2{X: 10, Y: 20}, vec.V2{Y: 20})
}

// A turned knob of radius 14 and height 32 with a waist of radius 8.
func knob() *mesh.Mesh {
	return turnedBody(96, vec.V2{}, vec.V2{X: 12}, vec.V2{X: 12, Y: 6}, vec.V2{X: 8, Y: 10}, vec.V2{X: 8, Y: 18}, vec.V2{X: 14, Y: 24}, vec.V2{X: 14, Y: 32}, vec.V2{Y: 32})
}
