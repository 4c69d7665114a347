package filling

import (
	"context"
	"math"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/cells"
	"pourwright/internal/physics/chill"
	"pourwright/internal/physics/fill"
	"pourwright/internal/physics/heat"
)

// TestPlateFreezesShort: a plate of 1.5 mm, 60 mm long, fed from its edge, stops
// short when it is poured slowly and fills when it is poured fast, as a caster finds
// (common practice, no source); what came in is in it, and its heat in metal and
// rubber.
func TestPlateFreezesShort(t *testing.T) {
	const h = 0.75e-3
	dim := [3]int{80, 4, 2}
	for _, x := range []struct {
		name        string
		speed       float64 // m/s of the metal coming in
		least, most float64 // of the plate that fills
	}{{"slow", 0.015, 0.2, 0.9}, {"fast", 0.2, 0.99, 1.01}} {
		c, err := cells.Box(dim, h, append(cells.Side(dim, 0, false), cells.Side(dim, 0, true)...)...)
		if err != nil {
			t.Fatal(err)
		}
		s, err := chill.New(chill.Problem{Cells: c, Walls: chill.FromShares(c), Metal: chilledMetal, Rubber: heat.Rubber{Density: 1250, Cp: 1250, K: 0.25}, Mould: 45})
		if err != nil {
			t.Fatal(err)
		}
		m := fill.Metal{Density: chilledMetal.Density, Viscosity: 1.8e-3}
		ports := make([]fill.Beyond, c.Ports)
		// A hand feeds it at a speed and stops when a twentieth of the plate has stopped.
		drive := func(_ float64, ports []fill.Beyond) {
			stopped := halted(s.Shut) > c.N/20
			for k := range ports {
				switch {
				case c.I[c.N+k][0] >= 0:
					ports[k].Kind = fill.Air
				case stopped:
					ports[k] = fill.Beyond{Kind: fill.Shut}
				default:
					ports[k] = fill.Beyond{Kind: fill.Jet, Speed: x.speed}
				}
			}
		}
		r, err := fill.New(fill.Problem{Cells: c, Metal: m, Gravity: vec.V3{Z: -9.81}, Ports: ports, Drive: drive, Heat: s, Pour: 280}, make([]float64, c.Wall+1))
		if err != nil {
			t.Fatal(err)
		}
		for left := 60; left > 0 && r.Volume() < 0.995*c.Volume(); left-- {
			if halted(s.Shut) > c.N/20 {
				left = min(left, 2)
			}
			if err := r.Advance(context.Background(), r.Time+0.05); err != nil {
				t.Fatal(err)
			}
		}
		stopped := halted(s.Shut)
		share := r.Volume() / c.Volume()
		t.Logf("%s: %.0f %% full after %.2f s, %d cells stopped, volume %.0e, heat %.0e, %+v", x.name, 100*share, r.Time, stopped, (r.Volume()-r.Sum.In+r.Sum.Out)/c.Volume(), s.Left(r.Heat)/s.Balance.In, r.Sum)
		if share < x.least || share > x.most {
			t.Errorf("%s: %.0f %% full", x.name, 100*share)
		}
		if d := math.Abs(r.Volume()+r.Sum.Dropped-r.Sum.In+r.Sum.Out) / c.Volume(); d > 1e-10 {
			t.Errorf("%s: volume off by %.1e", x.name, d)
		}
		if d := math.Abs(s.Left(r.Heat) / s.Balance.In); d > 1e-6 {
			t.Errorf("%s: heat off by %.1e", x.name, d)
		}
	}
}

func halted(shut []bool) (n int) {
	for _, x := range shut {
		if x {
			n++
		}
	}
	return n
}
