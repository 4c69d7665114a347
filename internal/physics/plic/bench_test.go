package plic

import (
	"fmt"
	"math"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/cells"
)

// vortex is the velocity of LeVeque 1996 in the unit cube.
func vortex(d int, x vec.V3) float64 {
	s := func(x float64) float64 { return math.Sin(math.Pi * x) }
	switch d {
	case 0:
		return 2 * s(x.X) * s(x.X) * s(2*x.Y) * s(2*x.Z)
	case 1:
		return -s(2*x.X) * s(x.Y) * s(x.Y) * s(2*x.Z)
	}
	return -s(2*x.X) * s(2*x.Y) * s(x.Z) * s(x.Z)
}

// BenchmarkStep moves the ball of the 3D deformation; ns/plane is all time per mixed cell and
// sweep.
func BenchmarkStep(b *testing.B) {
	for _, n := range []int{32, 64} {
		for k, name := range []string{"fitted", "mixed", "youngs"} {
			b.Run(fmt.Sprintf("%s/%d", name, n), func(b *testing.B) {
				c, err := cells.Box([3]int{n, n, n}, 1/float64(n))
				if err != nil {
					b.Fatal(err)
				}
				a := NewAdvection(c)
				a.Normals = Normals(k)
				f := ball(c, vec.V3{X: 0.35, Y: 0.35, Z: 0.35}, 0.15)
				u := field(c, vortex)
				planes := 0
				b.ResetTimer()
				for i := range b.N {
					dt := 0.2 / float64(n)
					if i/20%2 == 1 {
						dt = -dt
					}
					if dt < 0 {
						for d := range u {
							for i := range u[d] {
								u[d][i] = -u[d][i]
							}
						}
						dt = -dt
					}
					r, err := a.Step(f, nil, u, dt, 1)
					if err != nil {
						b.Fatal(err)
					}
					planes += r.Mixed
				}
				b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(planes), "ns/plane")
			})
		}
	}
}

// BenchmarkSurface finds the planes of a ball and of a level in a wedge.
func BenchmarkSurface(b *testing.B) {
	n := vec.V3{X: 0.2, Y: 1, Z: -0.1}.Unit()
	for _, name := range []string{"ball", "wedge"} {
		c := open(b, 48)
		if name == "wedge" {
			c = wedge(b, 48, vec.V3{X: 0.3, Y: 0.8, Z: 1}, 4)
		}
		b.Run(name, func(b *testing.B) {
			f := ball(c, vec.V3{X: 0.5, Y: 0.5, Z: 0.5}, 0.4)
			if name == "wedge" {
				f = cells.Level(c, n, vec.V3{X: 24e-3, Y: 24.3e-3, Z: 24e-3})
			}
			s := NewSurface(c)
			b.ResetTimer()
			for range b.N {
				s.Update(f, nil)
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(len(s.Cells)), "ns/plane")
		})
	}
}
