package analytic

import (
	"context"
	"math"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/mould/parting"
	"pourwright/internal/shape/mesh"
)

// TestBars lets the split search its own pull. Every body here but the two
// that no mould can be made of has a pull that locks nothing, so the search
// must find one; linked rings and a closed void must be refused by their name.
func TestBars(t *testing.T) {
	rubber := &parting.Rubber{Shore: 30, Elongation: 3, Free: 12, Hot: true}
	for i, b := range bodies() {
		moved, _ := placed(b.mesh, uint64(100+i))
		for k, m := range []*mesh.Mesh{b.mesh, moved} {
			where := []string{"", ", turned"}[k]
			s, err := parting.Find(context.Background(), m, parting.Options{Rubber: rubber})
			if err != nil {
				t.Errorf("%s%s: %v", b.name, where, err)
				continue
			}
			codes := map[string]bool{}
			for _, x := range s.Bars {
				codes[x.Code] = true
				if x.Say == "" || x.Do == "" {
					t.Errorf("%s%s: bar %s without a reason or a way out: %+v", b.name, where, x.Code, x)
				}
			}
			if b.bar != "" {
				if !codes[b.bar] {
					t.Errorf("%s%s: bars %v, want %s", b.name, where, codes, b.bar)
				}
				continue
			}
			if len(codes) > 0 {
				t.Errorf("%s%s: bars %v, want none", b.name, where, codes)
			}
			if s.Locked > lockedTol*b.volume {
				t.Errorf("%s%s: locked %.4g (%.2g of the volume) along %v, a pull that locks nothing exists", b.name, where, s.Locked, s.Locked/b.volume, s.Pull)
			}
			sum := 0.0
			for _, u := range s.Undercuts {
				sum += u.Volume
			}
			if math.Abs(sum-s.Locked) > 0.05*s.Locked+1e-3*b.volume {
				t.Errorf("%s%s: undercuts hold %.4g, locked is %.4g", b.name, where, sum, s.Locked)
			}
		}
	}
}

// TestUndercutsOfGivenPulls holds the places of a pull against the closed
// forms: their volumes add up to the locked volume.
func TestUndercutsOfGivenPulls(t *testing.T) {
	for _, b := range bodies() {
		for k, w := range b.views {
			if k > 0 && w.locked == 0 {
				continue // one free pull of each body is enough here
			}
			s, err := parting.Find(context.Background(), b.mesh, parting.Options{Pull: &w.along})
			if err != nil {
				t.Errorf("%s: %v", b.name, err)
				continue
			}
			sum := 0.0
			for _, u := range s.Undercuts {
				sum += u.Volume
			}
			if math.Abs(s.Locked-w.locked) > lockedTol*b.volume || math.Abs(sum-w.locked) > 0.05*w.locked+1e-3*b.volume {
				t.Errorf("%s along %v: locked %.5g, places %.5g, want %.5g", b.name, w.along, s.Locked, sum, w.locked)
			}
		}
	}
}

// TestPlaces holds box and depth of single places against geometry: depth is
// the largest way across the pull from a line through the gap to a line that
// is free.
func TestPlaces(t *testing.T) {
	for _, c := range []struct {
		name  string
		along vec.V3
		box   vec.Box
		depth float64
	}{
		// The gap of the U is 7 mm deep along y, open on both sides.
		{"U", v(1, 0, 0), vec.Box{Min: v(6, 0, 6), Max: v(14, 7, 20)}, 3.5},
		// Between the towers, 8 mm wide along y.
		{"two towers", v(1, 0, 0), vec.Box{Min: v(12, 4, 6), Max: v(28, 12, 18)}, 4},
		// The cup's bore: lines are free 12 mm to the sides, at z < 0 and at
		// z > 20, so the middle at z = 10 is the worst.
		{"cup", v(1, 0, 0), vec.Box{Min: v(-9, -9, 3), Max: v(9, 9, 20)}, 10},
		// The torus' hole: from the middle up or down to the tube's top. Its lip
		// thins out to nothing at radius 12.
		{"torus", v(1, 0, 0), vec.Box{Min: v(-11.5, -11.5, -4), Max: v(11.5, 11.5, 4)}, 4},
	} {
		for _, b := range bodies() {
			if b.name != c.name {
				continue
			}
			s, err := parting.Find(context.Background(), b.mesh, parting.Options{Pull: &c.along})
			if err != nil {
				t.Fatal(err)
			}
			if len(s.Undercuts) != 1 {
				t.Errorf("%s: %d places, want 1", c.name, len(s.Undercuts))
				continue
			}
			u := s.Undercuts[0]
			edge := 0.0
			if c.name == "torus" {
				edge = 0.5
			}
			cell := 2 * b.mesh.Box().Longest() / 240
			lo, hi := u.Box.Min.Sub(c.box.Min), u.Box.Max.Sub(c.box.Max)
			for _, d := range []float64{lo.X, lo.Y, lo.Z, hi.X, hi.Y, hi.Z} {
				if math.Abs(d) > cell+edge {
					t.Errorf("%s: box %v, want %v within %.2g", c.name, u.Box, c.box, cell)
					break
				}
			}
			if math.Abs(u.Depth-c.depth) > cell+0.03*c.depth {
				t.Errorf("%s: depth %.3g, want %.3g", c.name, u.Depth, c.depth)
			}
		}
	}
}
