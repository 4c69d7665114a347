package heat

import (
	"context"
	"math"
	"testing"

	"pourwright/internal/ground/vec"
)

// A filling that is complete, one with a missing part, and one on metal in cells
// that are rubber here: volume and heat are those given, and a saved run goes on
// with them.
func TestPourFilled(t *testing.T) {
	b := ballIn(5, 24, 1, vec.V3{X: .3, Y: .2, Z: .4})
	ctx := context.Background()
	for name, missing := range map[string]func(i int) bool{
		"full": func(int) bool { return false }, "short": func(i int) bool { return i > 13 }, "a crumb": func(i int) bool { return i != 12 },
	} {
		p := Problem{Body: b, Metal: solder, Rubber: silicone, Air: 25, Start: 25}
		r := begin(t, p)
		n := b.Grid.Len()
		tab := newTable(&solder)
		f := Filled{make([]float64, n), make([]float64, n), make([]float64, n)}
		v, e := 0.0, 0.0
		for q := range n {
			i, j, k := b.Grid.Cell(q)
			if b.Share[q] > 0 && !missing(i) {
				f.Volume[q] = float64(b.Share[q]) * 1e-9
				f.Heat[q] = f.Volume[q] * tab.volume * tab.enthalpy(190+float64(j+k)/2)
				f.Rubber[q] = 0.01
				v, e = v+f.Volume[q], e+f.Heat[q]
			}
		}
		start := r.Energy()
		whole := r.Volume
		must(t, r.PourFilled(f))
		got := 0.0
		for l, c := range r.b.cell {
			if c >= 0 {
				got += r.b.vol[l] * r.e[l] * tab.volume
			}
		}
		if math.Abs(r.Volume/v-1) > 1e-12 || math.Abs(got/e-1) > 1e-12 {
			t.Errorf("%s: volume %g of %g, heat %g of %g", name, r.Volume, v, got, e)
		}
		rubber := 0.0
		for _, x := range f.Rubber {
			rubber += x
		}
		if x := r.Energy(); math.Abs((x.Rubber-start.Rubber)/rubber-1) > 1e-5 || math.Abs(x.Share()) > 1e-9 {
			t.Errorf("%s: rubber took %g J of %g, %g left", name, x.Rubber-start.Rubber, rubber, x.Share())
		}
		if name == "full" {
			temp := r.Temperature()
			for q := range temp {
				if i, j, k := b.Grid.Cell(q); b.Dist[q] < -1 && math.Abs(float64(temp[q])-190-float64(j+k)/2) > 1e-2 {
					t.Fatalf("cell %d %d %d: %g degC", i, j, k, temp[q])
				}
			}
		}
		must(t, r.Advance(ctx, 10))
		kept := r.Save()
		two := begin(t, p)
		must(t, two.Load(kept))
		for _, x := range []*Run{r, two} {
			must(t, x.Advance(ctx, 20))
			if s := x.Energy().Share(); math.Abs(s) > 1e-5 {
				t.Errorf("%s: %g of the heat left over", name, s)
			}
			must(t, x.TakeOut())
			must(t, x.Pour(200))
			if x.Volume != whole {
				t.Errorf("%s: the next pour holds %g m3, not %g", name, x.Volume, whole)
			}
		}
		if string(r.Save()) != string(two.Save()) {
			t.Errorf("%s: the saved run goes another way", name)
		}
	}
	r := begin(t, Problem{Body: b, Metal: solder, Rubber: silicone, Air: 25, Start: 25})
	n := b.Grid.Len()
	if r.PourFilled(Filled{make([]float64, n), make([]float64, n), nil}) == nil || r.PourFilled(Filled{}) == nil || r.Full() {
		t.Error("took a filling without metal")
	}
}

// Rubber that a filling warmed is nowhere warmer than the metal, however little of it a cell holds, and
// all of the heat is there: what is too much for a cell lies in those beside it.
func TestFilledRubberStaysUnderTheMetal(t *testing.T) {
	b := ballIn(5, 24, 1, vec.V3{X: .3, Y: .2, Z: .4})
	r := begin(t, Problem{Body: b, Metal: solder, Rubber: silicone, Air: 25, Start: 40})
	n := b.Grid.Len()
	tab := newTable(&solder)
	f := Filled{make([]float64, n), make([]float64, n), make([]float64, n)}
	given := 0.0
	for q := range n {
		if s := float64(b.Share[q]); s > 0 {
			f.Volume[q] = s * 1e-9
			f.Heat[q] = f.Volume[q] * tab.volume * tab.enthalpy(195)
			if s < 1 {
				f.Rubber[q] = 0.35 // some 220 K of a cell's rubber
				given += 0.35
			}
		}
	}
	start := r.Energy().Rubber
	must(t, r.PourFilled(f))
	if got := r.Energy().Rubber - start; math.Abs(got/given-1) > 1e-5 {
		t.Errorf("rubber took %g J of %g", got, given)
	}
	most := 0.0
	for q, x := range r.Temperature() {
		if b.Dist[q] >= 0 {
			most = math.Max(most, float64(x))
		}
	}
	if most > 40+0.8*(195-40)+1 || most < 100 {
		t.Errorf("rubber of %g degC by metal of 195", most)
	}
}
