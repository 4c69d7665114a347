package filling

import (
	"context"
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/cells"
	"pourwright/internal/physics/fill"
	"pourwright/internal/physics/tension"
)

// column is a collapse of J. C. Martin & W. J. Moyce, Phil. Trans. R. Soc. A 244
// (1952) 312, as transcribed in public validation scripts: column height n2 a,
// time of front T = t sqrt(n2 g/a) and height tau = t sqrt(g/a).
type column struct {
	name   string
	a      float64 // m
	n2     float64
	front  [][2]float64 // T, Z = x/a
	height [][2]float64 // tau, H = h/(n2 a)
	deep   float64      // of the box, in a
}

var columns = []column{
	{"n2=2, a=57.15 mm", 0.05715, 2,
		[][2]float64{{1.19, 1.44}, {1.43, 1.67}, {1.63, 1.89}, {1.83, 2.11}, {1.98, 2.33}, {2.2, 2.56}, {2.32, 2.78}, {2.51, 3}, {2.65, 3.22}, {2.83, 3.44}, {2.98, 3.67}, {3.11, 3.89}, {3.33, 4.11}},
		[][2]float64{{0.56, 0.94}, {0.77, 0.89}, {0.93, 0.83}, {1.08, 0.78}, {1.28, 0.72}, {1.46, 0.67}, {1.66, 0.61}, {1.84, 0.56}, {2, 0.5}, {2.21, 0.44}}, 2.5},
	{"n2=2, a=28.6 mm", 0.028575, 2,
		[][2]float64{{1.19, 1.44}, {1.58, 1.89}, {1.91, 2.33}, {2.23, 2.78}, {2.58, 3.22}, {2.91, 3.67}, {3.26, 4.11}, {3.6, 4.56}},
		[][2]float64{{0.56, 0.94}, {0.77, 0.89}, {0.93, 0.83}, {1.08, 0.78}, {1.28, 0.72}, {1.46, 0.67}, {1.66, 0.61}, {1.84, 0.56}, {2, 0.5}, {2.21, 0.44}}, 2.5},
	{"n2=1, a=57.15 mm", 0.05715, 1,
		[][2]float64{{0.8, 1.44}, {1.02, 1.67}, {1.19, 1.89}, {1.34, 2.11}, {1.5, 2.33}, {1.66, 2.56}, {1.81, 2.78}, {1.97, 3}},
		[][2]float64{{0.8, 0.89}, {1.29, 0.78}, {1.74, 0.67}}, 1.5},
}

// late is by how much the columns of the experiment lag behind an instant release:
// the gate takes its time. Beside n2 = 2 this is the usual alignment.
const late = 0.175

// dam is a column between slip walls under open air, n cells to its width; across is
// how many cells deep it is.
func dam(t testing.TB, x column, n, across int) (*fill.Run, *cells.Cells) {
	t.Helper()
	dim := [3]int{5 * n, across, int(x.deep * float64(n))}
	c, err := cells.Box(dim, x.a/float64(n), cells.Side(dim, 2, true)...)
	if err != nil {
		t.Fatal(err)
	}
	f := make([]float64, c.Wall+1)
	for i := range int32(c.N) {
		if c.I[i][0] < int32(n) && float64(c.I[i][2]) < x.n2*float64(n) {
			f[i] = 1
		}
	}
	ports := make([]fill.Beyond, c.Ports)
	for i := range ports {
		ports[i].Kind = fill.Air
	}
	water := fill.Metal{Density: 1000, Viscosity: 1e-3, Tension: 0.072, Angle: tension.Angle{Rest: 90}}
	r, err := fill.New(fill.Problem{Cells: c, Metal: water, Gravity: vec.V3{Z: -9.81}, Slip: true, Ports: ports, Courant: number("DAM_COURANT", 0), Quick: number("DAM_QUICK", 0) > 0}, f)
	if err != nil {
		t.Fatal(err)
	}
	return r, c
}

// front is the last crossing of a share of one half on the floor, m.
func front(r *fill.Run, c *cells.Cells) float64 {
	x := 0.0
	for i := range c.Dim[0] {
		if f := r.F[c.At(i, c.Dim[1]/2, 0)]; f >= 0.5 {
			next := 0.0
			if i+1 < c.Dim[0] {
				next = r.F[c.At(i+1, c.Dim[1]/2, 0)]
			}
			x = (float64(i) + 0.5 + math.Min(1, (f-0.5)/math.Max(f-next, 1e-12))) * c.H
		}
	}
	return x
}

// course is front and height of a column in time, in units of T, a and n2 a.
type course struct{ t, z, h []float64 }

// follow runs a column to a time, s, and reads it n times on the way.
func follow(t testing.TB, x column, r *fill.Run, c *cells.Cells, until float64, n int) course {
	t.Helper()
	unit := math.Sqrt(x.a / (x.n2 * 9.81))
	var o course
	for k := 0; k <= n; k++ {
		now := until * float64(k) / float64(n)
		if err := r.Advance(context.Background(), now); err != nil {
			t.Fatal(err)
		}
		h := 0.0
		for q := range c.Dim[2] {
			h += r.F[c.At(0, c.Dim[1]/2, q)] * c.H
		}
		o.t, o.z, o.h = append(o.t, now/unit), append(o.z, front(r, c)/x.a), append(o.h, h/(x.n2*x.a))
	}
	return o
}

// errors are those of the front against T + late, rms and most, of Z, and the most of the height, of n2 a.
func (x column) errors(o course) (rms, most, off float64) {
	n := 0.0
	for _, p := range x.front {
		if q := p[0] - late; q <= o.t[len(o.t)-1] {
			e := read(o.t, o.z, q)/p[1] - 1
			rms += e * e
			most, n = math.Max(most, math.Abs(e)), n+1
		}
	}
	for _, p := range x.height {
		if q := p[0] * math.Sqrt(x.n2); q <= o.t[len(o.t)-1] {
			off = math.Max(off, math.Abs(read(o.t, o.h, q)-p[1]))
		}
	}
	return math.Sqrt(rms / n), most, off
}

// TestDam holds front and height of three columns within bands that another honest
// solver set (its prototype: 4.0, 4.2 and 2.2 % rms at 16 cells); what is left is
// gate, floor friction and reading of the experiment. Between grids of one column Z at
// T = 2.5 (or at the end, where that is earlier) differs by 1 % at most.
func TestDam(t *testing.T) {
	grids := [][2]int{{16, 1}}
	if full() {
		grids = append(grids, [][2]int{{32, 1}, {64, 1}, {16, 16}, {24, 24}}...)
	}
	for _, x := range columns {
		before := 0.0
		for _, g := range grids {
			if g[1] > 1 && !(x.n2 == 2 && x.a > 0.05) { // the third dimension adds nothing but time
				continue
			}
			r, c := dam(t, x, g[0], g[1])
			v0 := r.Volume()
			o := follow(t, x, r, c, x.front[len(x.front)-1][0]*math.Sqrt(x.a/(x.n2*9.81)), 100)
			if d := math.Abs(r.Volume()/v0 - 1); d > 1e-12 {
				t.Errorf("%s, %v cells: volume off by %.1e", x.name, g, d)
			}
			rms, most, off := x.errors(o)
			end := math.Min(2.5, o.t[len(o.t)-1]) // the low column ends before
			z := read(o.t, o.z, end)
			t.Logf("%s, %d x %d cells: front rms %.1f %%, most %.1f %%; height within %.3f; Z(%.2f) = %.3f; %d steps, %d again, %d iterations, %d unsolved", x.name, g[0], g[1], 100*rms, 100*most, off, end, z,
				r.Sum.Steps, r.Sum.Rejected, r.Sum.Iterations, r.Sum.Unsolved)
			bandRMS, bandMost, bandOff := 0.05, 0.09, 0.035
			if g[0] >= 24 {
				bandRMS, bandMost, bandOff = 0.045, 0.08, 0.03
			}
			if rms > bandRMS || most > bandMost || off > bandOff {
				t.Errorf("%s, %v cells: front rms %.1f %%, most %.1f %%, height %.3f", x.name, g, 100*rms, 100*most, off)
			}
			if before > 0 && math.Abs(z/before-1) > 0.01 {
				t.Errorf("%s, %v cells: Z at T = %.2f is %.3f, %.3f on the grid before", x.name, g, end, z, before)
			}
			before = z
		}
	}
}

// TestDamPeer tells the same errors of another solver: DAM_PEER is a table of t (s), Z and H, one reading a
// line, of the first column. bench/fill/dam makes it.
func TestDamPeer(t *testing.T) {
	name := os.Getenv("DAM_PEER")
	if name == "" {
		t.Skip("no table is given")
	}
	data, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	x := columns[0]
	var o course
	for _, line := range strings.Split(strings.TrimSpace(string(data)), "\n") {
		var s, z, h float64
		if _, err := fmt.Sscan(line, &s, &z, &h); err != nil {
			t.Fatalf("%q: %v", line, err)
		}
		o.t, o.z, o.h = append(o.t, s*math.Sqrt(x.n2*9.81/x.a)), append(o.z, z), append(o.h, h)
	}
	rms, most, off := x.errors(o)
	t.Logf("front rms %.2f %%, most %.2f %%; height within %.4f", 100*rms, 100*most, off)
}

// BenchmarkDam is the first column in three dimensions, DAM_CELLS (16) to its width, for 0.18 s, read every
// 0.01 s: processor time for a second of the flow, and its errors. DAM_COURANT is another Courant number, DAM_QUICK=1 a quick run.
func BenchmarkDam(b *testing.B) {
	n := 16
	if k, err := strconv.Atoi(os.Getenv("DAM_CELLS")); err == nil {
		n = k
	}
	x := columns[0]
	const until = 0.18
	var o course
	var sum fill.Summary
	size := 0
	start := processor()
	for b.Loop() {
		r, c := dam(b, x, n, n)
		o = follow(b, x, r, c, until, 18)
		sum, size = r.Sum, c.N
	}
	rms, most, off := x.errors(o)
	b.ReportMetric((processor()-start)/float64(b.N)/until, "cpu-s/s")
	b.ReportMetric(float64(size), "cells")
	b.ReportMetric(float64(sum.Steps), "steps")
	b.ReportMetric(float64(sum.Iterations)/float64(sum.Steps), "iterations/step")
	b.ReportMetric(100*rms, "%front-rms")
	b.ReportMetric(100*most, "%front-most")
	b.ReportMetric(off, "height")
}

// read is linear between the readings y at rising x.
func read(x, y []float64, at float64) float64 {
	for i := 1; i < len(x); i++ {
		if at <= x[i] {
			return y[i-1] + (y[i]-y[i-1])*(at-x[i-1])/(x[i]-x[i-1])
		}
	}
	return y[len(y)-1]
}
