package mould

import (
	"fmt"
	"math/rand/v2"
	"os"
	"testing"

	"pourwright/internal/book/plan"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/sculpt"
)

// grown makes a smooth body by chance from a seed: limbs and eggs grown on each
// other within a ball of 30 mm, a few bores, hoops and dents in them, then
// scaled to 15 to 120 mm.
func grown(t *testing.T, seed uint64) *mesh.Mesh {
	t.Helper()
	r := rand.New(rand.NewPCG(seed, 2026))
	in := func(lo, hi float64) float64 { return lo + (hi-lo)*r.Float64() }
	dir := func() vec.V3 { return vec.V3{X: r.NormFloat64(), Y: r.NormFloat64(), Z: r.NormFloat64()}.Unit() }
	at := []vec.V3{{}}
	thick := []float64{in(5, 11)}
	f := sculpt.Egg(vec.V3{}, vec.V3{X: in(5, 14), Y: in(5, 14), Z: in(5, 14)})
	for range 2 + r.IntN(6) {
		k := r.IntN(len(at))
		from, ra := at[k], thick[k]
		to := from.Add(dir().Mul(in(8, 20)))
		if to.Len() > 30 {
			to = to.Unit().Mul(30)
		}
		rb := in(1.2, 0.9*ra+1)
		var g sculpt.Field
		switch r.IntN(5) {
		case 0:
			g = sculpt.Egg(to, vec.V3{X: in(2, 9), Y: in(2, 9), Z: in(2, 9)})
			g = sculpt.Union(g, sculpt.Limb(from, 0.7*min(ra, rb)+0.5, to, 0.7*rb+0.5))
		case 1:
			g = sculpt.Hoop(from.Lerp(to, 0.5), dir(), in(5, 11), in(1.2, 3))
			g = sculpt.Union(g, sculpt.Limb(from, 0.7*rb+0.5, to, rb))
		default:
			g = sculpt.Limb(from, min(ra, 1.3*rb), to, rb)
		}
		f = sculpt.Blend(in(0.5, 4), f, g)
		at, thick = append(at, to), append(thick, rb)
	}
	for range r.IntN(4) {
		k := r.IntN(len(at))
		if r.IntN(2) == 0 {
			d := dir()
			f = sculpt.Carve(in(0.3, 1.5), f, sculpt.Rod(at[k].Sub(d.Mul(in(2, 30))), at[k].Add(d.Mul(40)), in(0.8, 3)))
		} else {
			f = sculpt.Carve(in(0.3, 1.5), f, sculpt.Sphere(at[k].Add(dir().Mul(thick[k]*in(0.8, 1.3))), in(1.5, 5)))
		}
	}
	if r.IntN(3) == 0 { // stands on a cut foot
		f = sculpt.Common(f, sculpt.Below(dir(), in(3, 15)))
	}
	e := vec.V3{X: 46, Y: 46, Z: 46}
	m, err := sculpt.Contour(f, vec.Box{Min: e.Mul(-1), Max: e}, in(0.6, 1.1))
	if err != nil {
		return nil // not manifold at this cell: another body
	}
	k := in(15, 120) / m.Box().Longest()
	for i := range m.V {
		m.V[i] = m.V[i].Mul(k)
	}
	return m
}

var rubbers = []string{"condensation-heat-20", "condensation-heat-30", "condensation-heat-40", "addition-heat-40"}
var alloys = []string{"pewter-92-7-1", "tin-bismuth-58-42", "tin"}

// TestGrown plans masters made by chance: each must plan whole, or say no with
// a reason and a remedy. Four in CI, forty at full size.
func TestGrown(t *testing.T) {
	n := uint64(4)
	if os.Getenv("POURWRIGHT_FULL") == "1" {
		n = 40
	}
	no, made := 0, 0
	for seed := range n {
		m := grown(t, seed)
		if m == nil {
			continue
		}
		made++
		t.Run(fmt.Sprint(seed), func(t *testing.T) {
			r := rand.New(rand.NewPCG(seed, 5))
			text := fmt.Sprintf("[master]\nmesh = \"piece.stl\"\nunit = \"mm\"\n[rubber]\nkind = %q\n[alloy]\nkind = %q\norigin = \"certified\"\n[order]\ncastings = %d\nuse = \"decor\"\n",
				rubbers[r.IntN(len(rubbers))], alloys[r.IntN(len(alloys))], 1+r.IntN(60))
			if r.IntN(4) == 0 {
				text += fmt.Sprintf("[block]\ncavities = %d\n", 2+r.IntN(2))
			}
			f := finish(t, m, text)
			if f.plan.Verdict == plan.No {
				no++
				reason := false
				for _, x := range f.plan.Findings {
					reason = reason || x.Severity == plan.Must && x.Say != "" && x.Do != ""
				}
				if !reason {
					t.Error("no without a reason that says what to do")
				}
			}
			f.check(t, m)
		})
	}
	t.Logf("%d bodies, %d refused", made, no)
	if made < int(n)*3/4 {
		t.Errorf("only %d of %d seeds give a body", made, n)
	}
}
