package heat

import (
	"context"
	"errors"
	"math"
	"testing"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/grid"
)

// slabIn is a plate of thickness d mm across x, in the middle of n cells of h mm,
// off the grid by o cells.
func slabIn(d, h float64, n int, o float64) *Body {
	g := grid.Grid{H: h, NX: n, NY: 4, NZ: 4}
	c := (float64(n/2) + o) * h
	return FromDistance(func(p vec.V3) float64 { return math.Abs(p.X-c) - d/2 }, g)
}

// sane says whether a run froze its casting between times that a hand check
// allows, kept its temperatures between the coldest and the hottest that went in,
// and closed its balance.
func sane(t *testing.T, name string, r *Run, lo, hi, early, late float64) {
	t.Helper()
	x := r.Times()
	if !(x.Solid >= early && x.Solid <= late) {
		t.Errorf("%s: solid after %g s, not within %g to %g", name, x.Solid, early, late)
	}
	for q, v := range r.Temperature() {
		if !(float64(v) >= lo-0.01 && float64(v) <= hi+0.01) {
			t.Errorf("%s: %g degC in cell %d", name, v, q)
			return
		}
	}
	for q, v := range r.Peak() {
		if !(float64(v) >= lo-0.01 && float64(v) <= hi+0.01) {
			t.Errorf("%s: peak %g degC in cell %d", name, v, q)
			return
		}
	}
	if s := r.Energy().Share(); !(math.Abs(s) < 1e-5) {
		t.Errorf("%s: %g of the heat is left over", name, s)
	}
}

func TestOddCases(t *testing.T) {
	ctx := context.Background()
	tin := Metal{Density: 7180, KSolid: 60, KLiquid: 28, CpSolid: 250, CpLiquid: 247, Latent: 59200, Fraction: []Melt{{231.93, 0}, {231.93, 1}}}
	ball := func(h float64) *Body { return ballIn(5, 40, h, vec.V3{X: .3, Y: .2, Z: .4}) }
	touching := func(o float64) *Body { // a ball that the block's sides cut
		g := grid.Grid{H: 1, NX: 20, NY: 20, NZ: 20}
		return FromDistance(func(p vec.V3) float64 { return p.Dist(vec.V3{X: o, Y: 10, Z: 10}) - 5 }, g)
	}
	for _, c := range []struct {
		name        string
		body        *Body
		metal       Metal
		rubber      float64 // degC at the start
		pour, time  float64
		early, late float64
	}{
		{"no superheat", ball(1), pewter, 25, 245, 60, 20, 26},
		{"no superheat, pure metal", ball(1), tin, 25, 231.93, 60, 18, 26},
		{"pure metal", ball(1), tin, 25, 260, 60, 22, 30},
		{"bismuth alloy", ball(1), bismuth, 25, 168.5, 90, 50, 58},
		{"warm mould", ball(1), pewter, 120, 275, 200, 60, 150},
		{"rubber hotter than the metal", ball(2), solder, 200, 190, 30, -1, -1},
		{"cells of 0.2 mm", slabIn(1, 0.2, 100, 0.3), pewter, 25, 275, 30, 3, 8},
		{"one cell thick", slabIn(1, 1, 40, 0.3), pewter, 25, 275, 30, 3, 8},
		{"one cell thick, wall through the centres", slabIn(1, 1, 40, 0), pewter, 25, 275, 30, 3, 8},
		{"under one cell thick", slabIn(0.6, 1, 40, 0.4), pewter, 25, 275, 30, 0.8, 4},
		{"at the block's edge", touching(5), pewter, 25, 275, 60, 20, 35},
		{"cut by the block's edge", touching(2), pewter, 25, 275, 60, 20, 45},
		{"one row at the block's edge", touching(-4.2), pewter, 25, 275, 60, 0.3, 30},
	} {
		p := Problem{Body: c.body, Metal: c.metal, Rubber: silicone, Air: 25, Start: c.rubber}
		for i := range p.Sides {
			p.Sides[i] = Side{H: 10, Metal: 10}
		}
		r := begin(t, p)
		must(t, r.Pour(c.pour))
		must(t, r.Advance(ctx, c.time))
		sane(t, c.name, r, 25, max(c.pour, c.rubber), c.early, c.late)
		t.Logf("%-42s solid %.2f s, cold %.2f s, lost %.3g mm3, %d steps, left %.2g", c.name, r.Times().Solid, r.Times().Cold, 1e9*r.Lost, r.Steps, r.Energy().Share())
	}
}

func TestPewterTail(t *testing.T) {
	tail := pewter
	tail.Latent = 64e3
	tail.Fraction = []Melt{{235.6, 0}, {236, .12}, {237, .44}, {238, .705}, {239, .954}, {244, .966}, {260, .975}, {276, .987}, {294, 1}}
	r := begin(t, Problem{Body: ballIn(5, 60, 1, vec.V3{X: .37, Y: .21, Z: .43}), Metal: tail, Rubber: silicone, Air: 25, Start: 25})
	must(t, r.Pour(300))
	must(t, r.Advance(context.Background(), 40))
	// fine reference: 29.36 s; the straight line between solidus and liquidus gives 26.34
	if s := r.Times().Solid; math.Abs(s/29.36-1) > 0.03 {
		t.Errorf("solid after %g s", s)
	}
	// the same as a table of heat
	table := tail
	table.Heat = make([]float64, len(tail.Fraction))
	for i := 1; i < len(tail.Fraction); i++ {
		p, q := tail.Fraction[i-1], tail.Fraction[i]
		c := tail.CpSolid + (tail.CpLiquid-tail.CpSolid)*(p.F+q.F)/2
		table.Heat[i] = table.Heat[i-1] + c*(q.T-p.T) + tail.Latent*(q.F-p.F)
	}
	table.Fraction = append(append([]Melt{{200, 0}, {230, 0}}, table.Fraction...), Melt{300, 1})
	table.Heat = append(append([]float64{-9000, -1400}, table.Heat...), table.Heat[len(table.Heat)-1]+1500)
	o := begin(t, Problem{Body: r.p.Body, Metal: table, Rubber: silicone, Air: 25, Start: 25})
	must(t, o.Pour(300))
	must(t, o.Advance(context.Background(), 40))
	if a, b := r.Times(), o.Times(); math.Abs(a.Solid-b.Solid) > 1e-3 || math.Abs(a.Surface-b.Surface) > 1e-3 {
		t.Errorf("a table of heat gives %+v, not %+v", b, a)
	}
}

func TestRefuses(t *testing.T) {
	ctx := context.Background()
	good := func() Problem {
		return Problem{Body: ballIn(5, 20, 2, vec.V3{}), Metal: pewter, Rubber: silicone, Air: 25, Start: 25}
	}
	refused := func(name string, err error) {
		t.Helper()
		var f *fault.Error
		if !errors.As(err, &f) || f.Kind != fault.Input || f.Hint == "" {
			t.Errorf("%s: %v", name, err)
		}
	}
	nan, inf := math.NaN(), math.Inf(1)
	for name, spoil := range map[string]func(*Problem){
		"no body":          func(p *Problem) { p.Body = nil },
		"no cells":         func(p *Problem) { p.Body = &Body{} },
		"share":            func(p *Problem) { p.Body.Share[5] = 2 },
		"distance":         func(p *Problem) { p.Body.Dist[5] = float32(nan) },
		"density":          func(p *Problem) { p.Metal.Density = 0 },
		"latent heat":      func(p *Problem) { p.Metal.Latent = nan },
		"conductivity":     func(p *Problem) { p.Rubber.K = inf },
		"contact":          func(p *Problem) { p.Contact = -1 },
		"step":             func(p *Problem) { p.Step = nan },
		"air":              func(p *Problem) { p.Air = nan },
		"side":             func(p *Problem) { p.Sides[2].H = nan },
		"one point":        func(p *Problem) { p.Metal.Fraction = []Melt{{200, 0}} },
		"falling":          func(p *Problem) { p.Metal.Fraction = []Melt{{200, 0}, {190, 1}} },
		"not from 0":       func(p *Problem) { p.Metal.Fraction = []Melt{{200, 0.1}, {210, 1}} },
		"heat falls":       func(p *Problem) { p.Metal.Heat = []float64{2, 1} },
		"too few heats":    func(p *Problem) { p.Metal.Heat = []float64{2} },
		"field":            func(p *Problem) { p.Field = make([]float32, 3) },
		"field not number": func(p *Problem) { p.Field = make([]float32, p.Body.Grid.Len()); p.Field[7] = float32(nan) },
	} {
		p := good()
		spoil(&p)
		_, err := New(ctx, p)
		refused(name, err)
	}
	r := begin(t, good())
	refused("under the liquidus", r.Pour(244.9))
	refused("not a number", r.Pour(nan))
	refused("nothing to take out", r.TakeOut())
	refused("time", r.Advance(ctx, -1))
	refused("air", r.Open(nan))
	must(t, r.Pour(260))
	refused("poured twice", r.Pour(260))
	must(t, r.TakeOut())
	must(t, r.Open(10))
	refused("poured open", r.Pour(260))
	refused("thin", func() error {
		p := good()
		p.Body = slabIn(0.05, 1, 20, 0)
		return begin(t, p).Pour(260)
	}())
}

// A fin of six tenths of a cell on a ball stays, and stays joined to it, wherever
// it lies between the centres of cells.
func TestThinFinStaysJoined(t *testing.T) {
	for _, o := range []float64{0, 0.1, 0.25, 0.4, 0.5, 0.6, 0.9} {
		g := grid.Grid{H: 1, NX: 40, NY: 20, NZ: 20}
		c := vec.V3{X: 12.3, Y: 10.2, Z: 10 + o}
		fin := math.Pi * 25 * 4 / 3 // about the ball alone
		b := FromDistance(func(p vec.V3) float64 {
			x := math.Abs(p.Z-c.Z) - 0.3
			y := math.Abs(p.Y-c.Y) - 3
			s := math.Abs(p.X-c.X-10) - 10
			return min(p.Dist(c)-5, max(x, y, s))
		}, g)
		r := begin(t, Problem{Body: b, Metal: pewter, Rubber: silicone, Air: 25, Start: 25})
		if r.Volume*1e9 < fin*0.9+6*0.6*15*0.9 || r.Lost > 0.03*r.Volume {
			t.Errorf("fin at %g: %g mm3 of metal, %g lost", o, 1e9*r.Volume, 1e9*r.Lost)
		}
		seen := map[int32]bool{}
		queue := []int32{}
		for l, c := range r.b.cell {
			if c >= 0 {
				queue = append(queue, int32(l))
				break
			}
		}
		seen[queue[0]] = true
		for len(queue) > 0 {
			l := queue[0]
			queue = queue[1:]
			r.beside(l, func(o int32) {
				if !seen[o] {
					seen[o] = true
					queue = append(queue, o)
				}
			})
		}
		if len(seen) != r.b.cells {
			t.Errorf("fin at %g: %d of %d cells hang together", o, len(seen), r.b.cells)
		}
		must(t, r.Pour(275))
		must(t, r.Advance(context.Background(), 60))
		sane(t, "fin", r, 25, 275, 15, 40)
	}
}
