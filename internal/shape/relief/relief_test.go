package relief

import (
	"math"
	"testing"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/outline"
	"pourwright/internal/shape/sculpt"
)

func disc(r float64, n int, cw bool) outline.Loop {
	l := make(outline.Loop, n)
	for i := range l {
		a := 2 * math.Pi * float64(i) / float64(n)
		if cw {
			a = -a
		}
		l[i] = vec.V2{X: r * math.Cos(a), Y: r * math.Sin(a)}
	}
	return l
}

// Volumes of bodies of revolution in closed form.
func TestVolumes(t *testing.T) {
	const r, h, c = 12.0, 4.0, 1.5
	disc12 := outline.Shape{disc(r, 200, false)}
	cap12 := func(w float64) float64 { // quarter circle of radius w turned round the axis (Pappus)
		return math.Pi*(r-w)*(r-w)*w + 2*math.Pi*((r-w)*math.Pi*w*w/4+w*w*w/3)
	}
	for name, k := range map[string]struct {
		l    []Level
		want float64
		tol  float64
	}{
		"plate":   {[]Level{{Outline: disc12, Height: h}}, math.Pi * r * r * h, 1e-3},
		"washer":  {[]Level{{Outline: outline.Shape{disc(r, 200, false), disc(5, 100, true)}, Height: h}}, math.Pi * (r*r - 25) * h, 1e-3},
		"round":   {[]Level{{Outline: disc12, Height: h, Edge: Rounded, Run: h}}, cap12(h), 0.01},
		"chamfer": {[]Level{{Outline: disc12, Height: h, Edge: Cut, Run: c}}, math.Pi*r*r*(h-c) + math.Pi*c/3*(r*r+r*(r-c)+(r-c)*(r-c)), 5e-3},
		"steps":   {[]Level{{Outline: disc12, Height: 2}, {Outline: outline.Shape{disc(6, 100, false)}, Height: h}}, math.Pi * (r*r*2 + 36*2), 5e-3},
	} {
		m, err := Body(k.l)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if err := sculpt.Check(m); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		if v := m.Volume(); math.Abs(v-k.want) > k.tol*k.want {
			t.Errorf("%s: volume %.2f, want %.2f", name, v, k.want)
		}
	}
}

func TestRefused(t *testing.T) {
	d := outline.Shape{disc(5, 30, false)}
	for name, l := range map[string][]Level{
		"none":     nil,
		"no area":  {{Outline: outline.Shape{disc(5, 30, true)}, Height: 1}},
		"flat":     {{Outline: d}},
		"too deep": {{Outline: d, Height: 1, Edge: Cut, Run: 2}},
		"crossing": {{Outline: outline.Shape{{{X: 0}, {X: 10}, {X: 2, Y: 8}, {X: 8, Y: 9}, {X: 4, Y: -5}}}, Height: 1}},
	} {
		if _, err := Body(l); fault.KindOf(err) != fault.Input {
			t.Errorf("%s: %v", name, err)
		}
	}
}
