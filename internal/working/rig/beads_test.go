package rig

import (
	"context"
	"math"
	"testing"

	"pourwright/internal/book/job"
	"pourwright/internal/book/material"
	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
	"pourwright/validation/outside"
)

// Wall, depth and points of a bead, near the bar's wide face, between the bar and
// the flow-off, under the foot of the bar's edge, and by the side of the block.
func TestLines(t *testing.T) {
	s := setting(t, "pewter-92-7-1")
	for _, c := range []struct {
		at       vec.V3
		doubt    float64
		depth    float64
		away     vec.V3
		from, to float64
		n        int
	}{
		{vec.V3{Y: -5, Z: 5}, 0.15, 2, vec.V3{Z: 1}, -0.6, 0.6, 7},
		{vec.V3{Y: -5, Z: -8}, 0.5, 5, vec.V3{Z: -1}, -2, 2, 21},
		{vec.V3{Y: -5, Z: 4}, 0.5, 1, vec.V3{Z: 1}, -0.8, 2, 15},                  // no point nearer than 0.2 mm
		{vec.V3{X: 6.5, Y: 8}, 0.4, 1.5, vec.V3{X: 1}, -1.2, 1.6, 15},             // the flow-off begins at 10
		{vec.V3{X: 8.5, Y: 8}, 0.5, 1.5, vec.V3{X: -1}, -1.2, 2, 17},              // nearer to the flow-off
		{vec.V3{X: 8, Y: -19, Z: 0}, 0, 5, vec.V3{X: 0.6, Y: -0.8}, -0.6, 0.6, 7}, // off an edge
		{vec.V3{Z: 14.7}, 0.1, 11.7, vec.V3{Z: 1}, -0.6, 0.2, 5},                  // the block ends at 15
		{vec.V3{X: 5.8, Y: 22.9}, 0.05, 0.8, vec.V3{X: 1}, -0.6, 0.6, 7},          // beside the mouth, which is no wall
	} {
		b, err := NewBeads(context.Background(), bar(), s, 0.5, 0, []Bead{{"T1", c.at, c.doubt}})
		if err != nil {
			t.Errorf("%v: %v", c.at, err)
			continue
		}
		l := b.Lines[0]
		if math.Abs(l.Depth-c.depth) > 1e-9 || l.Away.Sub(c.away).Len() > 1e-9 {
			t.Errorf("%v: %g mm off the wall, along %v", c.at, l.Depth, l.Away)
		}
		if n := len(l.Shift); n != c.n || math.Abs(l.Shift[0]-c.from) > 1e-9 || math.Abs(l.Shift[n-1]-c.to) > 1e-9 || b.Curves() != n {
			t.Errorf("%v: points %v", c.at, l.Shift)
		}
	}
}

func TestBeadsRefused(t *testing.T) {
	for name, c := range map[string]struct {
		at   vec.V3
		cell float64
		room int64
	}{
		"metal":   {at: vec.V3{Y: -5, Z: 1}},
		"outside": {at: vec.V3{X: 21}},
		"NaN":     {at: vec.V3{X: math.NaN()}},
		"touches": {at: vec.V3{Y: -5, Z: 3.1}},
		"coarse":  {at: vec.V3{X: 5.3, Y: -5, Z: 2.7}, cell: 3},
		"memory":  {at: vec.V3{Y: -5, Z: 5}, cell: 0.2, room: 80 << 20},
	} {
		if c.cell == 0 {
			c.cell = 1
		}
		m := bar()
		if name == "coarse" { // in the corner under a step
			m.Cavity.Append(outside.Brick(vec.V3{X: -5, Y: -15, Z: 3}, vec.V3{X: 15, Y: 15, Z: 8}))
		}
		_, err := NewBeads(context.Background(), m, setting(t, "tin"), c.cell, c.room, []Bead{{"T1", c.at, 0.1}})
		if fault.KindOf(err) != fault.Input || fault.HintOf(err) == "" {
			t.Errorf("%s: %v", name, err)
		}
	}
	s := setting(t, "tin")
	s.Metal = 200
	if _, err := NewBeads(context.Background(), bar(), s, 1, 0, []Bead{{"T1", vec.V3{Z: 6}, 0.1}}); fault.KindOf(err) != fault.Input {
		t.Errorf("cold metal: %v", err)
	}
}

// Curves begin at the mould's temperature, fall with depth at first, answer to both
// values, and differ from those on coarser cells by about what is stated.
func TestBeadsPour(t *testing.T) {
	ctx := context.Background()
	s := setting(t, "pewter-92-7-1")
	b, err := NewBeads(ctx, bar(), s, 1.2, 0, []Bead{{"T1", vec.V3{Y: -2, Z: 5}, 0.15}, {"T2", vec.V3{Y: -6, Z: -8}, 0.15}})
	if err != nil {
		t.Fatal(err)
	}
	times := Times(200)
	if n := len(times); times[0] != 0 || times[n-1] != 200 || n < 60 || n > 200 {
		t.Fatalf("%d times to %g", n, times[n-1])
	}
	for i := 1; i < len(times); i++ {
		if d := times[i] - times[i-1]; !(d > 0.1 && d < 16) {
			t.Errorf("times %g and %g", times[i-1], times[i])
		}
	}
	told := 0.0
	y, err := b.Pour(ctx, 0.3, 1000, times, func(done float64) { told = done })
	if err != nil || len(y) != 14 || told != 1 {
		t.Fatal(len(y), told, err)
	}
	at := func(c []float64, s float64) float64 {
		for i, x := range times {
			if x >= s {
				return c[i]
			}
		}
		return math.NaN()
	}
	for c := range y {
		if y[c][0] != s.Mould {
			t.Errorf("curve %d begins at %g", c, y[c][0])
		}
		if c%7 > 0 && !(at(y[c], 10) < at(y[c-1], 10)) {
			t.Errorf("after 10 s: %g at %d, %g further in", at(y[c-1], 10), c-1, at(y[c], 10))
		}
	}
	k, _ := b.Pour(ctx, 0.4, 1000, times, nil)
	h, _ := b.Pour(ctx, 0.3, 300, times, nil)
	if !(at(k[10], 30) > at(y[10], 30)+2) || !(at(h[3], 5) < at(y[3], 5)-5) {
		t.Errorf("more conductive %g, %g; less contact %g, %g", at(k[10], 30), at(y[10], 30), at(h[3], 5), at(y[3], 5))
	}
	e, err := b.GridError(ctx, 0.3, 1000, times, y, nil)
	if err != nil || !(e >= leastError && e < 4) {
		t.Errorf("stated error %g, %v", e, err)
	}
	f, err := NewBeads(ctx, bar(), s, 0.6, 0, []Bead{{"T1", vec.V3{Y: -2, Z: 5}, 0}, {"T2", vec.V3{Y: -6, Z: -8}, 0}})
	if err != nil {
		t.Fatal(err)
	}
	fine, err := f.Pour(ctx, 0.3, 1000, times, nil)
	if err != nil {
		t.Fatal(err)
	}
	for c, n := range [2]int{3, 3} {
		sum := 0.0
		for i := range times[1:] {
			d := fine[c*7+n][i] - y[c*7+n][i]
			sum += d * d * (times[i+1] - times[i])
		}
		t.Logf("off by %.2f K against cells of half the size, stated %.2f", math.Sqrt(sum/200), e)
		if off := math.Sqrt(sum / 200); off > 1.5*e {
			t.Errorf("bead %d is %g K off, stated %g", c+1, off, e)
		}
	}
	stopped, stop := context.WithCancel(ctx)
	stop()
	if _, err := b.Pour(stopped, 0.3, 1000, times, nil); fault.KindOf(err) != fault.Interrupted {
		t.Errorf("stopped: %v", err)
	}
}

// A coefficient that the workshop measured takes the place of the usual one.
func TestOwnContact(t *testing.T) {
	j := &job.Job{Interface: &material.Value{X: 1800}}
	if s := SettingOf(j, Ask{}); s.Contact != 1800 {
		t.Errorf("contact %g", s.Contact)
	}
	j.Interface = nil
	if s := SettingOf(j, Ask{}); s.Contact != 1000 {
		t.Errorf("contact %g", s.Contact)
	}
}
