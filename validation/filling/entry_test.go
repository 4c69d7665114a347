package filling

import (
	"context"
	"math"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/cells"
	"pourwright/internal/physics/fill"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/sculpt"
)

// round is the body that steps of (radius, height) sweep about z, mm.
func round(steps ...vec.V2) *mesh.Mesh {
	const n = 48
	m := &mesh.Mesh{}
	first, last := steps[0], steps[len(steps)-1]
	for _, s := range steps {
		for k := range n {
			y, x := math.Sincos(2 * math.Pi * float64(k) / n)
			m.V = append(m.V, vec.V3{X: s.X * x, Y: s.X * y, Z: s.Y})
		}
	}
	m.V = append(m.V, vec.V3{Z: first.Y}, vec.V3{Z: last.Y})
	foot, head := int32(len(m.V)-2), int32(len(m.V)-1)
	for k := range int32(n) {
		next := (k + 1) % n
		m.F = append(m.F, [3]int32{foot, next, k}, [3]int32{head, int32(len(steps)-1)*n + k, int32(len(steps)-1)*n + next})
		for s := range int32(len(steps) - 1) {
			a, b := s*n, (s+1)*n
			m.F = append(m.F, [3]int32{a + k, a + next, b + next}, [3]int32{a + k, b + next, b + k})
		}
	}
	return m
}

// sampled is a body in mm on cells of h mm from the origin o, open at both ends along d.
func sampled(t *testing.T, m *mesh.Mesh, h float64, o vec.V3, d int) *cells.Cavity {
	t.Helper()
	b := m.Box()
	box := b.Grow(3 * h)
	switch d {
	case 1:
		box.Min.Y, box.Max.Y = b.Min.Y, b.Max.Y
	case 2:
		box.Min.Z, box.Max.Z = b.Min.Z, b.Max.Z
	}
	g, err := cells.Lay(m, box, h)
	if err != nil {
		t.Fatal(err)
	}
	g.Origin = o
	c, err := cells.FromMesh(context.Background(), m, g, box, cells.Extra{})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// TestEntry: metal that does not wet stands at the mouth of a slot and of a hole until its head is
//
//	H = -2 sigma cos(angle) / (rho g w)    slot
//	H = -4 sigma cos(angle) / (rho g d)    hole
//
// (Young and Laplace), the head raised from two fifths of that at 2 mm/s (slot) and 4 mm/s (hole), at which what must be set
// in motion adds some 5 %: it enters within 10 % of it at 1 to 8 cells across, no sooner (false
// filling) and no later (false lock). Metal is in when a tenth of what one width holds is further in than a width.
func TestEntry(t *testing.T) {
	const (
		width, g = 2.0, 9.81
	)
	for _, hole := range []bool{false, true} {
		list, rate := []int{1, 2, 3, 4}, 2e-3
		if hole {
			list, rate = []int{1, 2}, 4e-3
		}
		if full() {
			list = []int{1, 2, 3, 4, 6, 8}
		}
		for _, n := range list {
			h := width / float64(n)
			side := float64(max(n, 3)) * h
			deep, long := float64(max(n, 4))*h, max(4*width, 10*h)
			var c *cells.Cells
			var sec []cells.Section
			axis, want := 1, 2/width
			name := "slot"
			if hole {
				name, axis, want = "hole", 2, 4/width
				half := width/2 + side
				// The hole's middle lies in the middle of a cell for odd n, on a side for even n.
				x := round(vec.V2{X: half}, vec.V2{X: half, Y: deep}, vec.V2{X: width / 2, Y: deep}, vec.V2{X: width / 2, Y: deep + long})
				v := sampled(t, x, h, vec.V3{X: -half, Y: -half}, axis)
				c, sec = v.Cells, v.Section
			} else {
				all := 2*side + width
				ring := sculpt.Ring{{}, {X: all}, {X: all, Y: deep}, {X: side + width, Y: deep}, {X: side + width, Y: deep + long},
					{X: side, Y: deep + long}, {X: side, Y: deep}, {Y: deep}}
				// The sections are those of the middle of a long slot, the flow is in the plane.
				const through = 24
				m, err := sculpt.Raised(0, through*h, ring)
				if err != nil {
					t.Fatal(err)
				}
				v := sampled(t, m, h, vec.V3{}, axis)
				if m, err = sculpt.Raised(0, h, ring); err != nil {
					t.Fatal(err)
				}
				c = sampled(t, m, h, vec.V3{}, axis).Cells
				sec = make([]cells.Section, c.Wall+1)
				for i := range c.N {
					sec[i] = v.Section[v.At(int(c.I[i][0]), int(c.I[i][1]), through/2)]
				}
			}
			f := make([]float64, c.Wall+1)
			room := 0.0
			var behind []int
			for i := range c.N {
				z := c.Centre(int32(i)).At(axis) * 1e3
				if z < deep {
					f[i] = 1
				} else if z > deep+width {
					behind = append(behind, i)
				}
				if z > deep && z < deep+width {
					room += c.V[i]
				}
			}
			want *= -pewter.Tension * math.Cos(pewter.Angle.Rest*math.Pi/180) / (pewter.Density * g) * 1e3
			head := func(at float64) float64 { return 0.4*want + rate*at }
			drive := func(at float64, ports []fill.Beyond) {
				for k := range ports {
					ports[k] = fill.Beyond{Kind: fill.Air}
					if c.I[c.N+k][axis] < 0 {
						ports[k] = fill.Beyond{Kind: fill.Head, Pressure: pewter.Density * g * head(at)}
					}
				}
			}
			r, err := fill.New(fill.Problem{Cells: c, Metal: pewter, Ports: make([]fill.Beyond, c.Ports), Sections: sec, Drive: drive}, f)
			if err != nil {
				t.Fatal(err)
			}
			in := func() float64 {
				v := 0.0
				for _, i := range behind {
					v += r.F[i] * c.V[i]
				}
				return v / room
			}
			for in() < 0.1 && head(r.Time) < 1.5*want {
				if err := r.Advance(context.Background(), r.Time+0.01*want/rate); err != nil {
					t.Fatal(err)
				}
			}
			got := head(r.Time)
			t.Logf("%s, %d cells across: enters at %.2f mm of head, %+.1f %% of %.2f; %+v", name, n, got*1e3, 100*(got/want-1), want*1e3, r.Sum)
			if !(math.Abs(got/want-1) <= 0.1) {
				t.Errorf("%s, %d cells across: enters at %.2f mm of head, %+.1f %%", name, n, got*1e3, 100*(got/want-1))
			}
		}
	}
}
