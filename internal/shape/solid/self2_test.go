package solid

import (
	"math"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/sculpt"
)

func knot(p, q int, big, small, r float64, along, round int) *mesh.Mesh {
	m := &mesh.Mesh{}
	at := func(t float64) vec.V3 {
		s, c := math.Sincos(float64(p) * t)
		s2, c2 := math.Sincos(float64(q) * t)
		return vec.V3{X: (big + small*c2) * c, Y: (big + small*c2) * s, Z: small * s2}
	}
	for i := range along {
		t := 2 * math.Pi * float64(i) / float64(along)
		o, d := at(t), at(t+1e-4).Sub(at(t-1e-4)).Unit()
		x := d.Cross(vec.V3{X: 0.1, Y: 0.2, Z: 1}).Unit()
		y := d.Cross(x)
		for j := range round {
			s, c := math.Sincos(2 * math.Pi * float64(j) / float64(round))
			m.V = append(m.V, o.Add(x.Mul(r*c)).Add(y.Mul(r*s)))
		}
	}
	for i := range along {
		for j := range round {
			a, b := int32(i*round+j), int32(i*round+(j+1)%round)
			c, d := int32((i+1)%along*round+j), int32((i+1)%along*round+(j+1)%round)
			m.F = append(m.F, [3]int32{a, b, d}, [3]int32{a, d, c})
		}
	}
	if m.Volume() < 0 {
		for i := range m.F {
			m.F[i][1], m.F[i][2] = m.F[i][2], m.F[i][1]
		}
	}
	return m
}

func lobe() *mesh.Mesh {
	m := &mesh.Mesh{}
	for _, z := range []float64{0, 5} {
		m.V = append(m.V, vec.V3{X: -10, Y: -10, Z: z}, vec.V3{X: 6, Y: 6, Z: z}, vec.V3{X: 6, Y: -6, Z: z}, vec.V3{X: -10, Y: 10, Z: z})
	}
	m.F = [][3]int32{{0, 1, 2}, {0, 2, 3}, {4, 6, 5}, {4, 7, 6}}
	for i := range int32(4) {
		j := (i + 1) % 4
		m.F = append(m.F, [3]int32{i, i + 4, j}, [3]int32{j, i + 4, j + 4})
	}
	if m.Volume() < 0 {
		for i := range m.F {
			m.F[i][1], m.F[i][2] = m.F[i][2], m.F[i][1]
		}
	}
	return m
}

func pushed(d float64) *mesh.Mesh {
	m := sculpt.Ball(10, 40).Mesh
	// a bump pushed through the surface: corners near the pole go down and sideways
	for i, p := range m.V {
		if p.Z > 7 {
			m.V[i] = vec.V3{X: p.X + d*(p.Z-7), Y: p.Y, Z: p.Z - 0.4*d*(p.Z-7)}
		}
	}
	return m
}

func TestProbe(t *testing.T) {
	three := &mesh.Mesh{}
	for k := range 3 {
		b := knot(1, 0, 10, 0, 2, 60, 24)
		c := &mesh.Mesh{F: b.F}
		for _, p := range b.V {
			p.X -= 10
			q := vec.V3{X: p.X + 0.3*float64(k), Y: p.Y, Z: p.Z}
			switch k {
			case 1:
				q = vec.V3{X: p.Y, Y: p.Z, Z: p.X}
			case 2:
				q = vec.V3{X: p.Z, Y: p.X + 0.2, Z: p.Y + 0.1}
			}
			c.V = append(c.V, q)
		}
		three.Append(c)
	}
	for _, c := range []struct {
		name string
		m    *mesh.Mesh
	}{
		{"trefoil apart", knot(2, 3, 10, 4, 1.5, 200, 24)},
		{"trefoil through", knot(2, 3, 10, 3, 2.6, 200, 24)},
		{"trefoil 5", knot(3, 5, 10, 3, 3, 300, 24)},
		{"three tori", three},
		{"lobe", lobe()},
		{"fold 1", pushed(1)},
		{"fold 4", pushed(4)},
		{"fold 8", pushed(8)},
	} {
		r, n, err := Outer(c.m)
		if err != nil {
			t.Logf("%s: %d pairs, %v", c.name, n, err)
			continue
		}
		top := mesh.TopologyOf(r)
		t.Logf("%s: %d pairs, %d triangles of %d, %d shells, wt %t pinched %d crossings %d volume %.6g of %.6g", c.name, n, len(r.F), len(c.m.F), top.Shells, top.Watertight, top.Pinched, len(SelfCrossings(r)), r.Volume(), c.m.Volume())
	}
}
