package outside

import (
	"math"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// Brick is the box between two corners, of twelve triangles.
func Brick(lo, hi vec.V3) *mesh.Mesh {
	m := &mesh.Mesh{}
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

// Ball is an octahedron cut n times and blown up to radius r.
func Ball(n int, r float64) *mesh.Mesh {
	m := &mesh.Mesh{
		V: []vec.V3{{X: 1}, {X: -1}, {Y: 1}, {Y: -1}, {Z: 1}, {Z: -1}},
		F: [][3]int32{{0, 2, 4}, {2, 1, 4}, {1, 3, 4}, {3, 0, 4}, {2, 0, 5}, {1, 2, 5}, {3, 1, 5}, {0, 3, 5}},
	}
	for range n {
		m = Quartered(m)
		for i, p := range m.V {
			m.V[i] = p.Unit()
		}
	}
	for i, p := range m.V {
		m.V[i] = p.Mul(r)
	}
	return m
}

// Prism has n sides about z, from 0 to its length.
func Prism(n int, r, length float64) *mesh.Mesh {
	m := &mesh.Mesh{V: []vec.V3{{}, {Z: length}}}
	for i := range n {
		a := 2 * math.Pi * float64(i) / float64(n)
		p := vec.V3{X: r * math.Cos(a), Y: r * math.Sin(a)}
		m.V = append(m.V, p, p.Add(vec.V3{Z: length}))
	}
	for i := range n {
		a, b := int32(2+2*i), int32(2+2*((i+1)%n))
		m.F = append(m.F, [3]int32{0, b, a}, [3]int32{1, a + 1, b + 1}, [3]int32{a, b, b + 1}, [3]int32{a, b + 1, a + 1})
	}
	return m
}

// BarThrough is one closed bar of width 4 that turns three times and runs
// through its own beginning: there it is 4 x 4 x 4 within 4 x 4 x 6, so that
// 64 of its plain volume and 96 of its plain area lie within. It has the
// genus of a ball and corners at whole numbers.
func BarThrough() *mesh.Mesh {
	m := &mesh.Mesh{}
	for _, s := range [][5]float64{ // right and left corner, half the height
		{-20, -2, -20, 2, 2}, {22, -2, 18, 2, 2}, {22, 22, 18, 18, 3}, {-2, 22, 2, 18, 3}, {-2, -20, 2, -20, 3},
	} {
		m.V = append(m.V, vec.V3{X: s[0], Y: s[1], Z: -s[4]}, vec.V3{X: s[2], Y: s[3], Z: -s[4]},
			vec.V3{X: s[2], Y: s[3], Z: s[4]}, vec.V3{X: s[0], Y: s[1], Z: s[4]})
	}
	m.F = [][3]int32{{0, 2, 1}, {0, 3, 2}, {16, 17, 18}, {16, 18, 19}}
	for k := int32(0); k < 16; k += 4 {
		for i := range int32(4) {
			a, b := k+i, k+(i+1)%4
			m.F = append(m.F, [3]int32{a, b, b + 4}, [3]int32{a, b + 4, a + 4})
		}
	}
	return m
}

// EightTube is a closed round tube of radius 2 along a figure of eight: two
// straight arms of 20 that cross at right angles, joined by arcs of radius 10.
// Where two equal cylinders cross at right angles they share 16/3 r^3, bounded
// by 16 r^2 (Archimedes, The Method; Steinmetz's solid). n sides.
func EightTube(n int) *mesh.Mesh {
	const R, r = 10.0, 2.0
	h := R / math.Sqrt2
	m := &mesh.Mesh{}
	station := func(p, along vec.V3) {
		x := vec.V3{Z: 1}
		y := along.Cross(x)
		for i := range n {
			s, c := math.Sincos(2 * math.Pi * (float64(i) + 0.5) / float64(n))
			m.V = append(m.V, p.Add(x.Mul(r*c)).Add(y.Mul(r*s)))
		}
	}
	for side := 1.0; side >= -1; side -= 2 {
		d := vec.V3{X: side / math.Sqrt2, Y: 1 / math.Sqrt2}
		for k := range 7 { // an odd number of spans: the crossing is in the middle of one
			station(d.Mul(R*(2*float64(k)/7-1)), d)
		}
		for k := range 60 { // round (side 2h, 0), from (side h, h) over the far side to (side h, -h)
			s, c := math.Sincos(math.Pi * (0.75 - 1.5*float64(k)/60))
			station(vec.V3{X: side * (2*h + R*c), Y: R * s}, vec.V3{X: side * s, Y: -c})
		}
	}
	all := int32(len(m.V))
	for k := int32(0); k < all; k += int32(n) {
		for i := range int32(n) {
			a, b := k+i, k+(i+1)%int32(n)
			c, d := (b+int32(n))%all, (a+int32(n))%all
			m.F = append(m.F, [3]int32{a, c, b}, [3]int32{a, d, c})
		}
	}
	if m.Volume() < 0 {
		for i := range m.F {
			m.F[i][1], m.F[i][2] = m.F[i][2], m.F[i][1]
		}
	}
	return m
}
