package heat

import (
	"context"
	"math"
	"os"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/grid"
)

// offsets of a body's centre against the grid, in cells.
var offsets = []vec.V3{{X: .37, Y: .21, Z: .43}, {}, {X: .5, Y: .5, Z: .5}, {X: .11, Y: .64, Z: .82}, {X: .73, Y: .35, Z: .08}, {X: .92, Y: .57, Z: .29}}

// piece is one of the three bodies of the fine reference: kind 2 ball, 1 rod along x, 0 plate across x.
type shape struct {
	kind int
	d    float64 // mm
	n    int     // cells across
	deep float64 // mm of rubber on each side
}

func (s shape) body(o vec.V3) (*Body, func(dir int, depth float64) vec.V3) {
	h := s.d / float64(s.n)
	n := 2 * int(math.Ceil((s.d/2+s.deep)/h))
	g := grid.Grid{H: h, NX: n, NY: n, NZ: n}
	if s.kind == 1 {
		g.NX = 3
	}
	if s.kind == 0 {
		g.NY, g.NZ = 3, 3
	}
	c := vec.V3{X: float64(g.NX / 2), Y: float64(g.NY / 2), Z: float64(g.NZ / 2)}.Add(o).Mul(h)
	dist := func(p vec.V3) float64 {
		p = p.Sub(c)
		switch s.kind {
		case 2:
			return p.Len() - s.d/2
		case 1:
			return math.Hypot(p.Y, p.Z) - s.d/2
		}
		return math.Abs(p.X) - s.d/2
	}
	return FromDistance(dist, g), func(dir int, depth float64) vec.V3 {
		u := vec.V3{X: 1 - 2*float64(dir%2)}
		a := 2.4 * float64(dir)
		if s.kind == 1 {
			u = vec.V3{Y: math.Cos(a), Z: math.Sin(a)}
		}
		if s.kind == 2 {
			z := 1 - 2*(float64(dir)+0.5)/6
			u = vec.V3{X: z, Y: math.Sqrt(1-z*z) * math.Cos(a), Z: math.Sqrt(1-z*z) * math.Sin(a)}
		}
		p := c.Add(u.Mul(s.d/2 + depth))
		if s.kind == 1 {
			p.X = 1.5 * h
		}
		if s.kind == 0 {
			p.Y, p.Z = 1.5*h, 1.5*h
		}
		return p
	}
}

func TestStudy(t *testing.T) {
	if os.Getenv("STUDY") == "" {
		return
	}
	solid := []float64{35.02, 24.51, 26.75}
	cold := []float64{41.22, 27.67, 29.72}
	p1 := []float64{176.8, 145.0, 139.2}
	p2 := []float64{140.3, 102.7, 95.7}
	name := []string{"plate", "rod", "ball"}
	for kind := 2; kind >= 0; kind-- {
		for _, n := range []int{4, 6, 10} {
			d := []float64{3, 6, 10}[kind]
			var es, ec, e1, e2, e0 []float64
			steps, sweeps := 0, 0
			for _, o := range offsets {
				b, at := shape{kind, d, n, 12}.body(o)
				hcs := 1000.0
				if os.Getenv("STUDY") == "2" {
					hcs = 1e6
				}
				r, err := New(context.Background(), Problem{Body: b, Metal: pewter, Rubber: silicone, Air: 25, Start: 25, Contact: hcs})
				if err != nil {
					t.Fatal(err)
				}
				r.Pour(275)
				var peak [6][3]float64
				r.Watch = func(r *Run) {
					for d := range 6 {
						for q := range 2 {
							peak[d][q] = max(peak[d][q], r.At(at(d, float64(q+1))))
						}
					}
				}
				r.Advance(context.Background(), solid[kind]*1.5)
				x := r.Times()
				es = append(es, 100*(x.Solid/solid[kind]-1))
				ec = append(ec, 100*(x.Cold/cold[kind]-1))
				for d := range 6 {
					e1 = append(e1, peak[d][0]-p1[kind])
					e2 = append(e2, peak[d][1]-p2[kind])
				}
				e0 = append(e0, x.Surface-[]float64{223.6, 214.6, 212.7}[kind])
				steps, sweeps = r.Steps, r.Sweeps
			}
			t.Logf("%.2f", es)
			t.Logf("%-5s d/%-2d solid %s cold %s peak1 %s peak2 %s face %s  steps %d sweeps %d", name[kind], n, spread(es), spread(ec), spread(e1), spread(e2), spread(e0), steps, sweeps)
		}
	}
}

func spread(x []float64) string {
	lo, hi, s := math.Inf(1), math.Inf(-1), 0.0
	for _, v := range x {
		lo, hi, s = min(lo, v), max(hi, v), s+v
	}
	return fmtSpread(s/float64(len(x)), lo, hi)
}
