package sculpt

import (
	"math"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

func outward(m *mesh.Mesh) *mesh.Mesh {
	if m.Volume() < 0 {
		for i, t := range m.F {
			m.F[i] = [3]int32{t[0], t[2], t[1]}
		}
	}
	return m
}

// Turned returns the body that profile (X the radius >= 0, Y the height)
// sweeps round the z axis in n flat sectors. An open profile starts and ends
// on the axis (radius 0); a closed one never touches it. Points between the
// ends must not lie on the axis. The volume is that of TurnedVolume, exactly.
func Turned(profile []vec.V2, closed bool, n int) *mesh.Mesh {
	m := &mesh.Mesh{}
	start := make([]int32, len(profile))
	for i, p := range profile {
		start[i] = int32(len(m.V))
		if p.X == 0 {
			m.V = append(m.V, vec.V3{Z: p.Y})
			continue
		}
		for k := range n {
			s, c := math.Sincos(2 * math.Pi * float64(k) / float64(n))
			m.V = append(m.V, vec.V3{X: p.X * c, Y: p.X * s, Z: p.Y})
		}
	}
	last := len(profile) - 1
	if closed {
		last++
	}
	for i := range last {
		j := (i + 1) % len(profile)
		for k := range n {
			k2 := int32((k + 1) % n)
			a, b := start[i], start[j]
			switch {
			case profile[i].X == 0:
				m.F = append(m.F, [3]int32{a, b + int32(k), b + k2})
			case profile[j].X == 0:
				m.F = append(m.F, [3]int32{a + int32(k), b, a + k2})
			default:
				m.F = append(m.F, [3]int32{a + int32(k), b + int32(k), b + k2}, [3]int32{a + int32(k), b + k2, a + k2})
			}
		}
	}
	return outward(m)
}

// TurnedVolume returns the volume of Turned: frusta (r0^2 + r0 r1 + r1^2)/3 dz
// times n sin(2 pi/n)/2, the area of the n-gon in the unit circle; pi for n = 0.
func TurnedVolume(profile []vec.V2, closed bool, n int) float64 {
	area := math.Pi
	if n > 0 {
		area = float64(n) * math.Sin(2*math.Pi/float64(n)) / 2
	}
	s := 0.0
	for i, a := range profile {
		if i == len(profile)-1 && !closed {
			break
		}
		b := profile[(i+1)%len(profile)]
		s += (a.X*a.X + a.X*b.X + b.X*b.X) / 3 * (b.Y - a.Y)
	}
	return math.Abs(s) * area
}

// Raised returns the prism over the region inside outer and outside the holes
// from z0 to z1. Its volume is (area of outer - areas of holes) (z1 - z0).
func Raised(z0, z1 float64, outer Ring, holes ...Ring) (*mesh.Mesh, error) {
	rings := append([]Ring{outer}, holes...)
	tri, err := fill(outer, holes...)
	if err != nil {
		return nil, err
	}
	m := &mesh.Mesh{}
	for _, z := range []float64{z0, z1} {
		for _, r := range rings {
			for _, p := range r {
				m.V = append(m.V, vec.V3{X: p.X, Y: p.Y, Z: z})
			}
		}
	}
	n := int32(len(m.V) / 2)
	for _, t := range tri {
		m.F = append(m.F, [3]int32{t[0], t[2], t[1]}, [3]int32{t[0] + n, t[1] + n, t[2] + n})
	}
	first := int32(0)
	for k, r := range rings {
		l := int32(len(r))
		ccw := (r.Area() > 0) == (k == 0)
		for i := range l {
			a, b := first+i, first+(i+1)%l
			if !ccw {
				a, b = b, a
			}
			m.F = append(m.F, [3]int32{a, b, b + n}, [3]int32{a, b + n, a + n})
		}
		first += l
	}
	return outward(m), nil
}

// Level is one ring of a loft at its height.
type Level struct {
	Ring Ring
	Z    float64
}

// Lofted returns the body whose outer face joins the levels (all with the same
// number of points) one after another, closed at both ends by flat faces that
// both carry the straight holes.
func Lofted(levels []Level, holes ...Ring) (*mesh.Mesh, error) {
	m := &mesh.Mesh{}
	n := int32(len(levels[0].Ring))
	for _, l := range levels {
		if int32(len(l.Ring)) != n {
			return nil, ringFault("loft", "the levels have different numbers of points")
		}
		for _, p := range l.Ring {
			m.V = append(m.V, vec.V3{X: p.X, Y: p.Y, Z: l.Z})
		}
	}
	last := int32(len(levels)-1) * n
	for k := int32(0); k < last; k += n {
		for i := range n {
			a, b := k+i, k+(i+1)%n
			m.F = append(m.F, [3]int32{a, b, b + n}, [3]int32{a, b + n, a + n})
		}
	}
	ccw := levels[0].Ring.Area() > 0
	lo, hi := levels[0], levels[len(levels)-1]
	h0 := int32(len(m.V))
	for _, z := range []float64{lo.Z, hi.Z} {
		for _, r := range holes {
			for _, p := range r {
				m.V = append(m.V, vec.V3{X: p.X, Y: p.Y, Z: z})
			}
		}
	}
	nh := (int32(len(m.V)) - h0) / 2
	for end, l := range []Level{lo, hi} {
		tri, err := fill(l.Ring, holes...)
		if err != nil {
			return nil, err
		}
		id := func(k int32) int32 {
			if k < n {
				return int32(end)*last + k
			}
			return h0 + int32(end)*nh + k - n
		}
		for _, t := range tri {
			a, b, c := id(t[0]), id(t[1]), id(t[2])
			if (end == 0) == ccw {
				b, c = c, b
			}
			m.F = append(m.F, [3]int32{a, b, c})
		}
	}
	first := h0
	for _, r := range holes {
		k := int32(len(r))
		for i := range k {
			a, b := first+i, first+(i+1)%k
			if (r.Area() > 0) == ccw {
				a, b = b, a
			}
			m.F = append(m.F, [3]int32{a, b, b + nh}, [3]int32{a, b + nh, a + nh})
		}
		first += k
	}
	return outward(m), nil
}

// Swept returns the body of sections, all with the same number of points,
// standing in the x-y planes of the frames and joined one after another. An
// open sweep is closed by flat ends, a closed one joins the last to the first.
func Swept(frames []vec.Frame, sections []Ring, closed bool) (*mesh.Mesh, error) {
	m := &mesh.Mesh{}
	n := int32(len(sections[0]))
	for i, f := range frames {
		if int32(len(sections[i])) != n {
			return nil, ringFault("sweep", "the sections have different numbers of points")
		}
		for _, p := range sections[i] {
			m.V = append(m.V, f.From(vec.V3{X: p.X, Y: p.Y}))
		}
	}
	all := int32(len(frames))
	last := all - 1
	if closed {
		last = all
	}
	for k := range last {
		k0, k1 := k*n, (k+1)%all*n
		for i := range n {
			a, b := k0+i, k0+(i+1)%n
			c, d := k1+(i+1)%n, k1+i
			if m.V[a].Dist(m.V[c]) <= m.V[b].Dist(m.V[d]) {
				m.F = append(m.F, [3]int32{a, b, c}, [3]int32{a, c, d})
			} else {
				m.F = append(m.F, [3]int32{a, b, d}, [3]int32{b, c, d})
			}
		}
	}
	if closed {
		return outward(m), nil
	}
	ccw := sections[0].Area() > 0
	for end, k := range []int32{0, all - 1} {
		tri, err := fill(sections[k])
		if err != nil {
			return nil, err
		}
		for _, t := range tri {
			a, b, c := k*n+t[0], k*n+t[1], k*n+t[2]
			if (end == 0) == ccw {
				b, c = c, b
			}
			m.F = append(m.F, [3]int32{a, b, c})
		}
	}
	return outward(m), nil
}

// Path returns frames along the polyline p, z forward, turned as little as
// possible from one to the next; the first x is x0 made square to the first
// direction.
func Path(p []vec.V3, x0 vec.V3) []vec.Frame {
	f := make([]vec.Frame, len(p))
	x := x0
	for i, q := range p {
		z := p[min(i+1, len(p)-1)].Sub(q).Unit().Add(q.Sub(p[max(i-1, 0)]).Unit()).Unit()
		x = x.Sub(z.Mul(x.Dot(z))).Unit()
		f[i] = vec.Frame{Origin: q, X: x, Y: z.Cross(x), Z: z}
	}
	return f
}
