package tension

import (
	"math"
	"math/rand"
	"runtime"
	"testing"

	"pourwright/internal/ground/vec"
)

// TestOddSurfaces: noise, checkerboards, single cells and films: numbers within the bound,
// and the same for one and two threads.
func TestOddSurfaces(t *testing.T) {
	c := cavity(t, [3]int{24, 20, 22}, 1e-3, wall{vec.V3{X: 0.3, Y: 0.1, Z: -1}.Unit(), -6}, wall{vec.V3{X: 1, Y: 0.2}.Unit(), 20})
	r := rand.New(rand.NewSource(7))
	at := func(i int) (x, y, z int) { p := c.I[i]; return int(p[0]), int(p[1]), int(p[2]) }
	for name, f := range map[string]func(i int) float64{
		"noise":        func(int) float64 { return r.Float64() },
		"rare":         func(int) float64 { return max(0, r.Float64()*20-19) },
		"checkerboard": func(i int) float64 { x, y, z := at(i); return float64((x + y + z) & 1) },
		"half":         func(int) float64 { return 0.5 },
		"film":         func(i int) float64 { _, _, z := at(i); return 0.3 * max(0, float64(1-(z-12)*(z-12))) },
		"pins":         func(i int) float64 { x, y, _ := at(i); return float64((x & 3) * (y & 3) / 9) },
		"not a number": func(i int) float64 {
			if i%7 == 0 {
				return math.NaN()
			}
			return r.Float64()
		},
		"too full":    func(i int) float64 { return 1.4 * r.Float64() },
		"nearly full": func(int) float64 { return 1 - 1e-7*r.Float64() },
	} {
		F := make([]float64, c.Wall+1)
		for i := range c.N {
			F[i] = f(i)
		}
		var first []float64
		for _, threads := range []int{1, 2} {
			was := runtime.GOMAXPROCS(threads)
			g, err := New(c, 0.5, Angle{Rest: 140, Advance: 150, Recede: 100}, nil)
			if err != nil {
				t.Fatal(err)
			}
			g.Update(F, nil)
			runtime.GOMAXPROCS(was)
			var all []float64
			for i := range int32(c.N) {
				k, ok := g.Curvature(i)
				n, _ := g.Normal(i)
				if ok && (!(math.Abs(k) <= bound/c.H) || math.Abs(n.Len()-1) > 1e-9) {
					t.Fatalf("%s: curvature %g, normal %v in cell %v", name, k, n, c.I[i])
				}
				for s := range 6 {
					j := g.Jump(i, s, F[i])
					if !(math.Abs(j) <= 0.5*bound/c.H*(1+1e-12)) {
						t.Fatalf("%s: jump %g", name, j)
					}
					all = append(all, j)
				}
				all = append(all, k, n.X, n.Y, n.Z)
			}
			if first == nil {
				first = all
				continue
			}
			for i := range all {
				if all[i] != first[i] {
					t.Fatalf("%s: two threads differ from one", name)
				}
			}
		}
	}
}

// TestStaticDrop: the metal of a drop, pressed by the jumps alone (ghost fluid: the jump
// stands where the surface cuts the line of centres): mean pressure, and the
// acceleration that is left, largest and rms, times rho R^2/sigma.
func TestStaticDrop(t *testing.T) {
	const sigma = 0.5
	radii := []float64{4, 8, 16}
	last := 0.0
	for _, R := range radii {
		n := int(2*R) + 6
		c := cavity(t, [3]int{n, n, n}, 1e-3)
		mid := float64(n) / 2
		F := fill(c, ball(vec.V3{X: mid + 0.13, Y: mid - 0.21, Z: mid + 0.34}, R), 4)
		f := laid(t, c, F, 140)
		p, most, rms := press(f, F)
		R *= c.H
		sum, m := 0.0, 0.0
		for i := range c.N {
			if F[i] >= 0.5 {
				sum += p[i] * F[i]
				m += F[i]
			}
		}
		ratio := sum / m / (2 * sigma / R)
		most, rms = most*R*R/sigma, rms*R*R/sigma
		t.Logf("R/h %g: pressure over 2 sigma/R %.4f, acceleration left %.4f, rms %.5f sigma/(rho R^2)", R/c.H, ratio, most, rms)
		if R/c.H >= 7.9 && math.Abs(ratio-1) > 0.02 {
			t.Errorf("R/h %g: pressure %.4f of 2 sigma/R", R/c.H, ratio)
		}
		if most > 0.08 || last > 0 && rms > 0.6*last {
			t.Errorf("R/h %g: acceleration left %.3f, rms %.4f, before %.4f", R/c.H, most, rms, last)
		}
		last = rms
	}
}

// press solves div grad p = 0 in the metal with the jumps on its surface (whole
// cells only), by conjugate gradients, and returns p and
// the largest and the rms grad p.
func press(f *Field, F []float64) (p []float64, steepest, rms float64) {
	c := f.c
	in := func(i int32) bool { return int(i) < c.N && F[i] >= 0.5 }
	theta := func(i, o int32) float64 { return min(max(F[i]+F[o]-0.5, 0.1), 1.2) }
	apply := func(x, y []float64) {
		for i := range int32(c.N) {
			y[i] = 0
			if !in(i) {
				continue
			}
			for s := range 6 {
				if o := c.Nb[s][i]; in(o) {
					y[i] += x[i] - x[o]
				} else if int(o) < c.N {
					y[i] += x[i] / theta(i, o)
				}
			}
		}
	}
	p = make([]float64, c.Wall+1)
	r, d, q := make([]float64, c.N), make([]float64, c.N), make([]float64, c.N)
	for i := range int32(c.N) {
		if in(i) {
			for s := range 6 {
				if o := c.Nb[s][i]; !in(o) && int(o) < c.N {
					r[i] += f.Jump(i, s, theta(i, o)) / theta(i, o)
				}
			}
		}
	}
	dot := func(a, b []float64) (s float64) {
		for i := range a {
			s += a[i] * b[i]
		}
		return s
	}
	copy(d, r)
	rr := dot(r, r)
	for stop := rr * 1e-24; rr > stop; {
		apply(d, q)
		a := rr / dot(d, q)
		for i := range r {
			p[i] += a * d[i]
			r[i] -= a * q[i]
		}
		next := dot(r, r)
		for i := range d {
			d[i] = r[i] + next/rr*d[i]
		}
		rr = next
	}
	n := 0.0
	for i := range int32(c.N) {
		if !in(i) {
			continue
		}
		for s := range 6 {
			o := c.Nb[s][i]
			g := 0.0
			if in(o) {
				g = p[o] - p[i]
			} else if int(o) < c.N {
				t := theta(i, o)
				g = (f.Jump(i, s, t) - p[i]) / t
			}
			steepest = max(steepest, math.Abs(g)/c.H)
			rms += g * g / (c.H * c.H)
			n++
		}
	}
	return p, steepest, math.Sqrt(rms / n)
}

// TestSkippedCells: what is not skipped is as before; what is skipped has the curvature
// of the heights or none.
func TestSkippedCells(t *testing.T) {
	c, _, s := onWall(t, 8, 140, 30)
	F := fill(c, s, 3)
	full, part := laid(t, c, F, 140), laid(t, c, F, 140)
	skip := make([]bool, c.Wall+1)
	for i := range c.N {
		skip[i] = c.I[i][1]*2 > int32(c.Dim[1])
	}
	part.Skip(skip)
	part.Update(F, nil)
	none := 0
	for k := range full.patch {
		p := &full.patch[k]
		a, b := full.fit[k].kappa, part.fit[k].kappa
		far := float64(c.I[p.i][1])*2 < float64(c.Dim[1])-8
		switch {
		case far && a != b, skip[p.i] && p.high && a != b, skip[p.i] && !p.high && b != 0:
			t.Fatalf("cell %v: kappa %g, %g with skipped cells", c.I[p.i], a, b)
		case b == 0:
			none++
		}
	}
	if none < 20 {
		t.Errorf("%d pieces were skipped", none)
	}
	part.Skip(nil)
	part.Update(F, nil)
	for k := range full.patch {
		if full.fit[k] != part.fit[k] {
			t.Fatal("an update remembers what was skipped")
		}
	}
}
