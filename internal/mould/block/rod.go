package block

import (
	"math"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// Sides is the number of sides of a full round; half rounds have half of them.
const Sides = 24

// Ring is one section of a channel: an oval about P, A wide to either side
// across the axis in the parting face and B high to either side of it.
type Ring struct {
	P    vec.V3
	A, B float64
}

// Lie says on which side of the parting surface a channel lies.
type Lie int

// A channel lies in both halves, or wholly in one where the back is flat.
const (
	Both    Lie = 0
	InHalf1 Lie = +1
	InHalf2 Lie = -1
)

// Channel is a chain of frusta, from the cavity outwards.
type Channel struct {
	Name   string // ingate, cup, feeder, flow-off, runner, insert
	Cavity int    // -1 where it serves all
	Rings  []Ring
	Lie    Lie
}

// Area returns the area of ring i of the channel as it is built (a polygon).
func (c *Channel) Area(i int) float64 {
	r := c.Rings[i]
	full := 0.5 * Sides * math.Sin(2*math.Pi/Sides) * r.A * r.B
	if c.Lie == Both {
		return full
	}
	return full / 2
}

// Volume returns the volume of the chain, each frustum by its end areas,
// L (A0 + sqrt(A0 A1) + A1) / 3 (exact where A and B keep their ratio).
func (c *Channel) Volume() float64 {
	v := 0.0
	for i := 1; i < len(c.Rings); i++ {
		a, b := c.Area(i-1), c.Area(i)
		v += c.Rings[i].P.Dist(c.Rings[i-1].P) * (a + math.Sqrt(a*b) + b) / 3
	}
	return v
}

// Moved returns the channel moved by t.
func (c Channel) Moved(t vec.V3) Channel {
	r := make([]Ring, len(c.Rings))
	for i, x := range c.Rings {
		x.P = x.P.Add(t)
		r[i] = x
	}
	c.Rings = r
	return c
}

// ease drops rings that stand so near to the next bend that their planes would
// cross inside the channel: a frustum must be longer than the sum of radius
// times tan(bend / 2) over its two ends. The first two and the last ring stay.
func (c *Channel) ease() {
	bend := func(i int) float64 {
		if i <= 0 || i >= len(c.Rings)-1 {
			return 0
		}
		d := c.Rings[i].P.Sub(c.Rings[i-1].P).Unit()
		e := c.Rings[i+1].P.Sub(c.Rings[i].P).Unit()
		half := math.Acos(min(max(d.Dot(e), -1), 1)) / 2
		return math.Max(c.Rings[i].A, c.Rings[i].B) * math.Tan(math.Min(half, 1.4))
	}
	for i := 1; i < len(c.Rings); i++ {
		if c.Rings[i].P.Dist(c.Rings[i-1].P) > 1.1*(bend(i-1)+bend(i))+1e-3 {
			continue
		}
		drop := i
		if i == len(c.Rings)-1 || i-1 >= 2 && bend(i-1) < bend(i) {
			drop = i - 1
		}
		if drop < 2 || drop == len(c.Rings)-1 {
			continue
		}
		c.Rings = append(c.Rings[:drop:drop], c.Rings[drop+1:]...)
		i = 0
	}
}

// Mesh returns the channel as one closed mesh. The section stands square to
// the axis (between two frusta on the plane that halves their angle), its
// first corner in the parting face, so that a channel with its axis along the
// parting releases both ways. A half round has its flat on the axis.
func (c *Channel) Mesh() *mesh.Mesh {
	n := len(c.Rings)
	m := &mesh.Mesh{}
	if n < 2 {
		return m
	}
	k := Sides
	if c.Lie != Both {
		k = Sides/2 + 1
	}
	dir := make([]vec.V3, n-1)
	for i := range dir {
		dir[i] = c.Rings[i+1].P.Sub(c.Rings[i].P).Unit()
	}
	z := vec.V3{Z: 1}
	for i, r := range c.Rings {
		d := dir[min(i, n-2)]
		if i > 0 && i < n-1 {
			d = dir[i-1].Add(dir[i]).Unit()
		}
		a := d.Cross(z)
		if a.Len() < 1e-9 {
			a = vec.V3{X: 1}
		}
		a = a.Unit()
		b := a.Cross(d)
		if c.Lie != Both {
			b = z // the flat stays on the back, however the axis runs
		}
		stretch := 1.0
		if i > 0 && i < n-1 { // keep the width across a kink
			stretch = 1 / max(0.5, d.Dot(dir[i]))
		}
		for s := range k {
			t := 2 * math.Pi * float64(s) / Sides
			sn, cs := math.Sincos(t)
			if c.Lie != Both && s == k-1 {
				sn, cs = 0, -1
			}
			if c.Lie == InHalf2 {
				sn = -sn
			}
			m.V = append(m.V, r.P.Add(a.Mul(r.A*cs*stretch)).Add(b.Mul(r.B*sn)))
		}
	}
	c.faces(m, n, k)
	return m
}

// faces joins n rings of k corners and closes both ends.
func (c *Channel) faces(m *mesh.Mesh, n, k int) {
	quad := func(p, q, r, s int32) {
		m.F = append(m.F, [3]int32{p, q, r}, [3]int32{p, r, s})
	}
	flip := c.Lie == InHalf2
	at := func(i, s int) int32 { return int32(i*k + s%k) }
	for i := range n - 1 {
		for s := range k {
			if flip {
				quad(at(i, s), at(i, s+1), at(i+1, s+1), at(i+1, s))
			} else {
				quad(at(i, s), at(i+1, s), at(i+1, s+1), at(i, s+1))
			}
		}
	}
	for s := 1; s+1 < k; s++ {
		lo, hi := [3]int32{at(0, 0), at(0, s), at(0, s+1)}, [3]int32{at(n-1, 0), at(n-1, s+1), at(n-1, s)}
		if flip {
			lo[1], lo[2], hi[1], hi[2] = lo[2], lo[1], hi[2], hi[1]
		}
		m.F = append(m.F, lo, hi)
	}
}

// frustum returns an upright round frustum about (x, y) from z0 (radius r0) to
// z1 > z0 (radius r1).
func frustum(x, y, z0, r0, z1, r1 float64) *mesh.Mesh {
	m := &mesh.Mesh{}
	for s := range Sides {
		sn, cs := math.Sincos(2 * math.Pi * float64(s) / Sides)
		m.V = append(m.V, vec.V3{X: x + r0*cs, Y: y + r0*sn, Z: z0}, vec.V3{X: x + r1*cs, Y: y + r1*sn, Z: z1})
	}
	for s := range int32(Sides) {
		t := (s + 1) % Sides
		m.F = append(m.F, [3]int32{2 * s, 2 * t, 2*t + 1}, [3]int32{2 * s, 2*t + 1, 2*s + 1})
	}
	for s := int32(1); s+1 < Sides; s++ {
		m.F = append(m.F, [3]int32{0, 2 * (s + 1), 2 * s}, [3]int32{1, 2*s + 1, 2*s + 3})
	}
	return m
}
