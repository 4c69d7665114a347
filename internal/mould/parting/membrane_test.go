package parting

import (
	"math"
	"testing"
)

// sweepPlain is sweep row by row.
func (f *field) sweepPlain(k float64, sweeps int) {
	s := f.s
	nx := s.NX
	omega := min(2/(1+math.Sin(math.Pi/float64(max(s.NX, s.NY)))), 1.9)
	pull := omega * f.cell / (4 * k)
	for range sweeps {
		moved := 0.0
		for j := 1; j < s.NY-1; j++ {
			for i := 1; i < nx-1; i++ {
				q := j*nx + i
				if f.fixed[q] {
					continue
				}
				m := (s.Z[q-1] + s.Z[q+1] + s.Z[q-nx] + s.Z[q+nx]) / 4
				z := s.Z[q] + omega*(m-s.Z[q])
				if f.has[q] > 0 && (z > f.nhi[q] || z < f.nlo[q]) {
					z = f.settleNode(i, j, z, pull*f.weight[q])
				}
				moved = max(moved, math.Abs(z-s.Z[q]))
				s.Z[q] = z
			}
		}
		if moved < 5e-4*f.scale {
			return
		}
	}
}

// obstacle is the problem of a surface round a ball and a rod.
func obstacle(r Rect) *field {
	f := newField([]Body{{Mesh: ball(10, 32)}, {Mesh: rod(0, 2, 2.5, 5, 40), Channel: true}}, r, Setting{})
	f.s.Edge = f.middle()
	f.border()
	f.plane(f.s.Edge)
	f.weight = make([]float64, len(f.s.Z))
	for q := range f.weight {
		f.weight[q] = 1 + float64(q%7)
	}
	return f
}

func TestSweepSideBySide(t *testing.T) {
	for _, r := range []Rect{{-24, -24, 52, 36}, {-24, -24, 23.5, 36.7}, {-24, -24, 24.4, 37.1}, {-1, -24, -0.7, 36}, {-24, 0, 36, 0.4}} {
		for _, sweeps := range []int{1, 2, 400} {
			a, b := obstacle(r), obstacle(r)
			a.sweep(4, sweeps)
			b.sweepPlain(4, sweeps)
			for q := range a.s.Z {
				if a.s.Z[q] != b.s.Z[q] {
					t.Fatalf("%v, %d x %d nodes, %d sweeps: node %d at %g side by side, %g row by row", r, a.s.NX, a.s.NY, sweeps, q, a.s.Z[q], b.s.Z[q])
				}
			}
		}
	}
}

func BenchmarkSolve(b *testing.B) {
	bodies := []Body{{Mesh: ball(10, 64)}, {Mesh: rod(0, 2, 2.5, 5, 40), Channel: true}}
	for b.Loop() {
		Solve(bodies, Rect{-24, -24, 52, 36}, Setting{})
	}
}

func BenchmarkSweep(b *testing.B) {
	for _, k := range []struct {
		name string
		run  func(f *field)
	}{
		{"side by side", func(f *field) { f.sweep(4, 50) }},
		{"row by row", func(f *field) { f.sweepPlain(4, 50) }},
	} {
		b.Run(k.name, func(b *testing.B) {
			f := obstacle(Rect{-24, -24, 52, 36})
			b.Logf("%d nodes", len(f.s.Z))
			for b.Loop() {
				f.plane(f.s.Edge)
				k.run(f)
			}
		})
	}
}
