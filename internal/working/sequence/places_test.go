package sequence

import (
	"context"
	"math"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/sculpt"
)

// A turned pin with plates of 2 and 3 mm at its ends: the plates are the thin
// places, and the longest extent runs over opposite rims.
func TestPlacesToMeasure(t *testing.T) {
	pin := sculpt.Turned([]vec.V2{{X: 0, Y: 0}, {X: 20, Y: 0}, {X: 20, Y: 2}, {X: 5, Y: 2}, {X: 5, Y: 57}, {X: 20, Y: 57}, {X: 20, Y: 60}, {X: 0, Y: 60}}, false, 48)
	look := func(m *mesh.Mesh) []struct {
		what   string
		length float64
	} {
		i, _, err := Inspect(context.Background(), Look{Source: Source{Path: "pin.stl", Data: stl(t, m), Unit: "mm", From: "flag"}}, nil)
		if err != nil {
			t.Fatal(err)
		}
		var r []struct {
			what   string
			length float64
		}
		for _, p := range i.Measure {
			if d := vec.FromArray(p.From).Dist(vec.FromArray(p.To)); math.Abs(d-p.Length) > 1e-6 {
				t.Errorf("%s: %g mm between points %g mm apart", p.What, p.Length, d)
			}
			r = append(r, struct {
				what   string
				length float64
			}{p.What, p.Length})
		}
		return r
	}
	for k, want := range []struct {
		what   string
		length float64
	}{{"thinnest wall", 2}, {"longest extent", math.Hypot(40, 60)}, {"next thin wall", 3}} {
		got := look(pin)
		if len(got) != 3 || got[k].what != want.what || math.Abs(got[k].length-want.length) > 1e-4*want.length {
			t.Errorf("place %d: %v, want %v", k, got, want)
		}
	}
}
