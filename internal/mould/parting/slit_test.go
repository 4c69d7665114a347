package parting

import (
	"fmt"
	"math"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/voxel"
)

// slitted is a plate of 60 x d x 10 with slits of width w and depth deep in its
// end, n of them, tilted by angle against the level.
func slitted(w, deep, angle, d float64, n int) *mesh.Mesh {
	p := []vec.V2{{}, {X: 60}}
	s, c := math.Sincos(angle)
	for i := range n {
		z := 10 * (float64(i) + 0.5) / float64(n)
		up := w / c / 2
		p = append(p, vec.V2{X: 60, Y: z - up}, vec.V2{X: 60 - deep*c, Y: z - up + deep*s}, vec.V2{X: 60 - deep*c, Y: z + up + deep*s}, vec.V2{X: 60, Y: z + up})
	}
	p = append(p, vec.V2{X: 60, Y: 10}, vec.V2{Y: 10})
	return extruded(d, p...)
}

// grooved is a rod of radius 10 and length 60 with n grooves of width w and
// depth deep.
func grooved(w, deep float64, n int) *mesh.Mesh {
	p := []vec.V2{{}, {X: 10}}
	for i := range n {
		z := 60 * (float64(i) + 0.5) / float64(n)
		p = append(p, vec.V2{X: 10, Y: z - w/2}, vec.V2{X: 10 - deep, Y: z - w/2}, vec.V2{X: 10 - deep, Y: z + w/2}, vec.V2{X: 10, Y: z + w/2})
	}
	return turnedBody(96, append(p, vec.V2{X: 10, Y: 60}, vec.V2{Y: 60})...)
}

// fir is a stem of 4 x 8 x 60 with n fins of 20 x 8 and thickness t that rise
// by angle on both sides.
func fir(t, angle float64, n int) *mesh.Mesh {
	rise := 8 * math.Tan(angle)
	var right, left []vec.V2
	for i := range n {
		z := 2 + 46*(float64(i)+0.5)/float64(n)
		right = append(right, vec.V2{X: 2, Y: z - t/2}, vec.V2{X: 10, Y: z - t/2 + rise}, vec.V2{X: 10, Y: z + t/2 + rise}, vec.V2{X: 2, Y: z + t/2})
	}
	for i := len(right) - 1; i >= 0; i-- {
		left = append(left, vec.V2{X: -right[i].X, Y: right[i].Y})
	}
	p := append([]vec.V2{{X: -2}, {X: 2}}, right...)
	p = append(append(p, vec.V2{X: 2, Y: 60}, vec.V2{X: -2, Y: 60}), left...)
	return extruded(8, p...)
}

// outsideView casts m along the pull on a grid that is not the split's own, n columns
// on the longest edge, and holds the places of r to what it sees: boxes within two
// of the split's own columns.
func outsideView(t *testing.T, name string, m *mesh.Mesh, r *Split, n float64) {
	t.Helper()
	v := r.Volume
	sum := 0.0
	for _, u := range r.Undercuts {
		sum += u.Volume
	}
	if d := math.Abs(sum - r.Locked); d > 0.05*r.Locked+1e-3*v {
		t.Errorf("%s: places add up to %.4g of %.4g locked", name, sum, r.Locked)
	}
	f := vec.AlongZ(r.Pull)
	turned := m.Into(f)
	b := bounds(turned)
	h := m.Box().Longest() / n
	c := voxel.Cast(turned, int(b.Size().X/h)+1, int(b.Size().Y/h)+1, b.Min.X+0.31*h, b.Min.Y+0.43*h, h)
	type end struct {
		lo, hi, mid vec.V3
		volume      float64
		in          bool
	}
	var ends []end
	for q := range c.Len() {
		s := c.Of(q)
		x, y := c.X0+h*float64(q%c.NX), c.Y0+h*float64(q/c.NX)
		for k := 1; k < len(s); k++ {
			at := func(z float64) vec.V3 { return f.From(vec.V3{X: x, Y: y, Z: z}) }
			ends = append(ends, end{lo: at(s[k-1].Hi), hi: at(s[k].Lo), mid: at((s[k-1].Hi + s[k].Lo) / 2), volume: (s[k].Lo - s[k-1].Hi) * h * h})
		}
	}
	worst, cell := 0.0, m.Box().Longest()/240
	for i, u := range r.Undercuts {
		if u.Volume < 1e-5*v {
			continue
		}
		wide, seen := u.Box.Grow(cell), vec.Empty()
		for k := range ends {
			e := &ends[k]
			if e.mid == e.mid.Max(wide.Min).Min(wide.Max) {
				e.in = true
				seen = seen.Add(e.lo.Max(wide.Min).Min(wide.Max)).Add(e.hi.Max(wide.Min).Min(wide.Max))
			}
		}
		lo, hi := seen.Min.Sub(u.Box.Min), u.Box.Max.Sub(seen.Max)
		w := max(lo.X, lo.Y, lo.Z, hi.X, hi.Y, hi.Z) / cell
		if worst = max(worst, w); w > 2 {
			t.Errorf("%s: box %d of %d (%.2e V) reaches %.1f columns beyond its gaps", name, i+1, len(r.Undercuts), u.Volume/v, w)
		}
	}
	rest := 0.0
	for _, e := range ends {
		if !e.in {
			rest += e.volume
		}
	}
	t.Logf("%-28s %3d places, locked %.2e V, listed %+.1e of it, %.1e V in no box, boxes within %.2f columns", name, len(r.Undercuts), r.Locked/v, sum/max(r.Locked, 1e-300)-1, rest/v, worst)
	if rest > 1e-3*v {
		t.Errorf("%s: %.2e of the volume lies in gaps that are in no box", name, rest/v)
	}
}

// TestSlits: undercuts much thinner than a column of the list.
func TestSlits(t *testing.T) {
	up, across, skew := vec.V3{Z: 1}, vec.V3{X: 1}, vec.V3{X: 0.2, Y: 0.3, Z: 1}
	for _, w := range []float64{0.05, 0.3} {
		for _, c := range []struct {
			name string
			m    *mesh.Mesh
			pull vec.V3
			want int     // places; 0: not told
			vol  float64 // closed form; 0: not told
		}{
			{"level slit, deep", slitted(w, 20, 0, 10, 1), up, 1, w * 20 * 10},
			{"level slit, shallow", slitted(w, 1, 0, 10, 1), up, 0, 0},
			{"five slits", slitted(w, 20, 0, 10, 5), up, 5, 5 * w * 20 * 10},
			{"slit at 10 degrees", slitted(w, 15, 10*math.Pi/180, 10, 1), up, 1, w / math.Cos(10*math.Pi/180) * 15 * math.Cos(10*math.Pi/180) * 10},
			{"slit seen on edge, skew", slitted(w, 20, 0, 10, 1), skew, 1, 0},
			{"steep slit", slitted(w, 4, 75*math.Pi/180, 10, 1), up, 1, 0},
			{"slits across", slitted(w, 8, 10*math.Pi/180, 10, 3), across, 0, 0},
			{"slits through", slitted(w, 8, 10*math.Pi/180, 10, 3), vec.V3{X: 0.1, Y: 1}, 0, 0},
			{"grooves along", grooved(w, 3, 12), up, 12, 12 * w * math.Pi * (100 - 49)},
			{"grooves, pulled across", grooved(w, 3, 12), across, 0, 0},
			{"grooves, skew", grooved(w, 3, 12), skew, 0, 0},
			{"fir along", fir(w, 0.3, 12), up, 0, 0},
			{"fir across", fir(w, 0.3, 12), vec.V3{X: 1, Y: 0.1}, 0, 0},
		} {
			name := fmt.Sprintf("%s, %.2f mm", c.name, w)
			r := find(t, c.m, Options{Pull: &c.pull})
			outsideView(t, name, c.m, r, 1200)
			if c.want > 0 && r.Locked > 4e-4*r.Volume && len(r.Undercuts) != c.want {
				t.Errorf("%s: %d places, want %d", name, len(r.Undercuts), c.want)
			}
			sum := 0.0
			for _, u := range r.Undercuts {
				sum += u.Volume
			}
			if c.vol > 0 && !near(sum, c.vol, 0.02*c.vol+2e-4*r.Volume) {
				t.Errorf("%s: places of %.4g mm3, want %.4g", name, sum, c.vol)
			}
		}
	}
}

// TestPlacesOutside holds the places of the scans to the same.
func TestPlacesOutside(t *testing.T) {
	for _, o := range meshes(t, "exact", "sound") {
		outsideView(t, o.name, o.m, splitOf(t, o), 800)
	}
}
