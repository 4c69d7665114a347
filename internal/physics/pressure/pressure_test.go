package pressure

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

// cavity is a random system: cells of a box of n, each open with the given odds, a level of metal, pockets that
// touch some cells, sealed parts where nothing touches. closed leaves all surfaces out.
func cavity(r *rand.Rand, n [3]int, odds float64, pockets int, closed bool) *System {
	s := &System{}
	row := make([]int32, n[0]*n[1]*n[2])
	for q := range row {
		row[q] = -1
		if r.Float64() < odds {
			row[q] = int32(len(s.Place))
			s.Place = append(s.Place, [3]int32{int32(q % n[0]), int32(q / n[0] % n[1]), int32(q / n[0] / n[1])})
		}
	}
	m := len(s.Place)
	s.Nb, s.W = make([][6]int32, m), make([][6]float64, m)
	for _, x := range []*[]float64{&s.Diag, &s.B, &s.X} {
		*x = make([]float64, m+pockets)
	}
	step := [3]int{1, n[0], n[0] * n[1]}
	for i := range m {
		for k := range 6 {
			s.Nb[i][k] = -1
		}
	}
	for i, p := range s.Place {
		q := int(p[0]) + n[0]*(int(p[1])+n[1]*int(p[2]))
		for d := range 3 {
			if int(p[d])+1 >= n[d] {
				continue
			}
			j := row[q+step[d]]
			if j < 0 || r.Float64() < 0.05 {
				continue
			}
			w := 1e-6 * (0.05 + r.Float64())
			s.Nb[i][2*d+1], s.W[i][2*d+1] = j, w
			s.Nb[j][2*d], s.W[j][2*d] = int32(i), w
			s.Diag[i] += w
			s.Diag[j] += w
		}
		if closed {
			continue
		}
		if x := r.Float64(); x < 0.05 { // a surface, now and then at the centre itself
			s.Diag[i] += 1e-6 * math.Pow(10, 6*r.Float64())
		} else if x < 0.1 && pockets > 0 {
			k := int32(m + r.IntN(pockets))
			w := 1e-6 * r.Float64()
			s.Link = append(s.Link, Link{int32(i), k, w})
			s.Diag[i] += w
			s.Diag[k] += w
		}
	}
	for k := range pockets {
		s.Diag[m+k] += 1e-7 * math.Pow(10, 4*r.Float64())
	}
	// A right-hand side that has an answer: that of one.
	x := make([]float64, m+pockets)
	for i := range x {
		x[i] = 1e3 * r.NormFloat64()
	}
	s.apply(x, s.B)
	return s
}

func share(e float64) func(float64) float64 {
	return func(first float64) float64 { return e * first }
}

// TestSolvers: both solvers reach the residual they say, and the same answer, on random cavities with walls,
// pockets, and parts that nothing bounds.
func TestSolvers(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	var v Solver
	for _, x := range []struct {
		n       [3]int
		odds    float64
		pockets int
		closed  bool
	}{{[3]int{12, 11, 10}, 1, 0, false}, {[3]int{20, 15, 9}, 0.8, 3, false}, {[3]int{40, 30, 1}, 1, 2, false}, {[3]int{9, 9, 9}, 0.5, 5, false}, {[3]int{1, 1, 1}, 1, 0, false}, {[3]int{10, 10, 10}, 0.7, 0, true}, {[3]int{30, 2, 2}, 1, 1, false}} {
		a := cavity(r, x.n, x.odds, x.pockets, x.closed)
		b := *a
		b.X = append([]float64{}, a.X...)
		fast, err := v.Solve(a, share(1e-9))
		if err != nil {
			t.Fatal(err)
		}
		slow, err := Plain(&b, share(1e-9))
		if err != nil {
			t.Fatal(err)
		}
		work := make([]float64, len(a.X))
		a.apply(a.X, work)
		for i := range work {
			work[i] -= a.B[i]
		}
		left := largest(work)
		t.Logf("%v %.1f: %d cells, %d pockets: %d iterations, plain %d; residual %.1e", x.n, x.odds, len(a.Nb), x.pockets, fast.Iterations, slow.Iterations, left/fast.First)
		if !fast.Converged || !slow.Converged || left > 1e-7*fast.First {
			t.Errorf("%v: %+v, plain %+v, residual %g", x, fast, slow, left)
		}
		if x.closed {
			continue // known but for a constant
		}
		far, size := 0.0, 0.0
		for i := range a.X {
			// Cells that nothing bounds have no one answer.
			far, size = math.Max(far, math.Abs(a.Diag[i]*(a.X[i]-b.X[i]))), math.Max(size, math.Abs(a.Diag[i]*b.X[i]))
		}
		if far > 1e-5*size && x.odds > 0.9 {
			t.Errorf("%v: answers differ by %g of %g", x, far, size)
		}
	}
}

// TestCycleIsSymmetric: conjugate gradients ask for (a, M b) = (M a, b).
func TestCycleIsSymmetric(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	s := cavity(r, [3]int{12, 10, 11}, 0.8, 2, false)
	// Two rows of one colour that are linked, as where a sliver was taken in.
	for i := range s.Nb {
		if j := s.Nb[i][1]; j >= 0 && s.Nb[j][1] >= 0 {
			k := s.Nb[j][1]
			s.Nb[i][1], s.Nb[k][0] = k, int32(i)
			s.W[k][0] = s.W[i][1]
			s.Nb[j][0], s.W[j][0] = -1, 0
			s.Nb[j][1], s.W[j][1] = -1, 0
			break
		}
	}
	var v Solver
	v.sort(s)
	v.prepare()
	if len(v.level[0].extra) == 0 {
		t.Error("no link between cells of one colour is left")
	}
	m := len(s.Diag)
	apply := func(b []float64) []float64 {
		for k, i := range v.order {
			v.level[0].b[k] = float32(b[i])
		}
		v.cycle(0)
		x := make([]float64, m)
		for k, i := range v.order {
			x[i] = float64(v.level[0].x[k])
		}
		return x
	}
	a, b := make([]float64, m), make([]float64, m)
	for i := range a {
		a[i], b[i] = r.NormFloat64(), r.NormFloat64()
	}
	x, y := dot(a, apply(b)), dot(apply(a), b)
	if math.Abs(x-y) > 1e-4*(math.Abs(x)+math.Abs(y)+math.Sqrt(dot(a, a))) {
		t.Errorf("(a, M b) = %g, (M a, b) = %g", x, y)
	}
}

// TestNotANumber: a right-hand side that is none is an error, not an answer.
func TestNotANumber(t *testing.T) {
	s := cavity(rand.New(rand.NewPCG(5, 6)), [3]int{5, 5, 5}, 1, 1, false)
	s.B[3] = math.NaN()
	var v Solver
	if _, err := v.Solve(s, share(1e-3)); err == nil {
		t.Error("no error")
	}
}

// body is a shape with metal under a gentle wave, on cells of h mm, 16 lines through each cut side, and a
// right-hand side that belongs to a known answer with a long wave and noise: the system of the C twin
// (bench/fill/pressure).
func body(name string, h, scale float64) *System {
	limbs := [][7]float64{{-50, 0, 0, 0, 0, 0, 9}, {0, 0, 0, 45, 10, 5, 6}, {0, 0, 0, 30, -22, -3, 4}, {-30, 0, 0, -10, 25, 8, 2.5},
		{-30, 0, 0, -20, -28, -8, 1.5}, {10, 4, 2, 40, 28, 0, 1}, {-60, -20, -10, -60, 20, 10, 5}, {-80, 0, 0, -45, 0, 0, 5}}
	brick := func(x, y, z, a, b, c float64) float64 {
		return math.Max(math.Max(math.Abs(x)-a*scale, math.Abs(y)-b*scale), math.Abs(z)-c*scale)
	}
	level := map[string]float64{"figure": -75, "plate": -30, "box": -25}[name] * scale
	far := func(x, y, z float64) float64 {
		switch name {
		case "plate":
			s, c := math.Sincos(0.35)
			return brick(c*x+s*y, c*y-s*x, z, 60, 40, 1.5)
		case "box":
			return brick(x, y, z, 50, 30, 20)
		}
		m := 1e9
		for _, l := range limbs {
			bx, by, bz := l[3]-l[0], l[4]-l[1], l[5]-l[2]
			px, py, pz := x/scale-l[0], y/scale-l[1], z/scale-l[2]
			t := math.Min(1, math.Max(0, (px*bx+py*by+pz*bz)/(bx*bx+by*by+bz*bz)))
			m = math.Min(m, math.Sqrt((px-t*bx)*(px-t*bx)+(py-t*by)*(py-t*by)+(pz-t*bz)*(pz-t*bz))-l[6])
		}
		return m * scale
	}
	e := [3]float64{100 * scale, 75 * scale, 25 * scale}
	var n [3]int
	for d := range n {
		n[d] = int(2*e[d]/h) + 2
	}
	step := [3]int{1, n[0], n[0] * n[1]}
	open, full := make([]float64, n[0]*n[1]*n[2]), make([]float64, n[0]*n[1]*n[2])
	row := make([]int32, len(open))
	s := &System{}
	centre := func(q int) (x [3]float64) {
		for d := range 3 {
			x[d] = (float64(q/step[d]%n[d])-0.5)*h - e[d]
		}
		return x
	}
	for q := range open {
		row[q] = -1
		edge := false
		for d := range 3 {
			k := q / step[d] % n[d]
			edge = edge || k == 0 || k == n[d]-1
		}
		if edge {
			continue
		}
		x := centre(q)
		switch f := far(x[0], x[1], x[2]); {
		case f < -h:
			open[q] = 1
		case f <= h:
			for a := range 64 {
				if far(x[0]+(float64(a&3)-1.5)*h/4, x[1]+(float64(a>>2&3)-1.5)*h/4, x[2]+(float64(a>>4)-1.5)*h/4) < 0 {
					open[q] += 1. / 64
				}
			}
		}
		wave := x[0] - level - 2*scale*math.Sin(x[1]*.15/scale) - scale*math.Cos(x[2]*.2/scale)
		full[q] = math.Min(1, math.Max(0, wave/h+0.5))
		if open[q] >= 0.1 && full[q] >= 0.5 {
			row[q] = int32(len(s.Place))
			s.Place = append(s.Place, [3]int32{int32(q % n[0]), int32(q / n[0] % n[1]), int32(q / step[2])})
		}
	}
	m := len(s.Place)
	s.Nb, s.W, s.Diag, s.B, s.X = make([][6]int32, m), make([][6]float64, m), make([]float64, m), make([]float64, m), make([]float64, m)
	for q, i := range row {
		if i < 0 {
			continue
		}
		x := centre(q)
		for k := range 6 {
			d, side := k/2, float64(k%2)-0.5
			t := q - step[d]
			if k%2 == 1 {
				t = q + step[d]
			}
			s.Nb[i][k] = -1
			if open[t] < 0.1 {
				continue
			}
			w := 1.0
			if open[t] < 1 || open[q] < 1 {
				c := 0.0
				for a := range 16 {
					p := x
					p[d] += side * h
					p[(d+1)%3] += (float64(a&3) - 1.5) * h / 4
					p[(d+2)%3] += (float64(a>>2) - 1.5) * h / 4
					if far(p[0], p[1], p[2]) < 0 {
						c++
					}
				}
				w = math.Max(c/16, 0.02)
			}
			if row[t] >= 0 {
				s.Nb[i][k], s.W[i][k] = row[t], w
				s.Diag[i] += w
			} else {
				s.Diag[i] += w / math.Max(0.1, math.Min(1.2, full[q]+full[t]-0.5))
			}
		}
		if s.Diag[i] <= 0 {
			s.Diag[i] = 1
		}
	}
	r := rand.New(rand.NewPCG(7, 8))
	x := make([]float64, m)
	for i, p := range s.Place {
		x[i] = .1*float64(p[0]) + 5*math.Sin(float64(p[0])*.13*h)*math.Cos(float64(p[1])*.1*h) + .2*(r.Float64()-0.5)
	}
	s.apply(x, s.B)
	return s
}

// BenchmarkSolve tells iterations and ns a cell and iteration, set-up in it, to a share of the first residual.
func BenchmarkSolve(b *testing.B) {
	for _, x := range []struct {
		name     string
		h, scale float64
	}{{"figure", 1, 1.1}, {"plate", 1, 1.1}, {"box", 1.5, 1.1}} {
		s := body(x.name, x.h, x.scale)
		var v Solver
		for _, e := range []float64{1e-3, 1e-6} {
			for _, way := range []struct {
				name  string
				solve func() (Report, error)
			}{
				{"fast", func() (Report, error) { return v.Solve(s, share(e)) }},
				{"plain", func() (Report, error) { return Plain(s, share(e)) }},
			} {
				b.Run(fmt.Sprintf("%s-%d/%g/%s", x.name, len(s.Nb), e, way.name), func(b *testing.B) {
					its := 0
					for b.Loop() {
						clear(s.X)
						r, err := way.solve()
						if err != nil {
							b.Fatal(err)
						}
						its += r.Iterations
					}
					b.ReportMetric(float64(its)/float64(b.N), "iterations")
					b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(its)/float64(len(s.Nb)), "ns/cell-iteration")
				})
			}
		}
	}
}
