package sculpt

import (
	"math"
	"testing"

	"pourwright/internal/ground/vec"
)

func v3(x, y, z float64) vec.V3 { return vec.V3{X: x, Y: y, Z: z} }

func TestContourVolumes(t *testing.T) {
	b := vec.Box{Min: v3(-13, -13, -13), Max: v3(13, 13, 13)}
	box := Cuboid(v3(-10, -7, -4.5), v3(10, 7, 4.5))
	for _, c := range []struct {
		name string
		f    Field
		h    float64
		want float64
		tol  float64
	}{
		{"ball", Sphere(v3(0.1, 0.2, 0.3), 10), 0.5, 4000 * math.Pi / 3, 2e-3},
		{"box", box, 0.7, 20 * 14 * 9, 1e-9},
		{"torus", Hoop(vec.V3{}, v3(0, 0, 1), 9, 3), 0.5, 2 * math.Pi * math.Pi * 81, 5e-3},
		{"box with a bore", Cut(box, Rod(v3(0, 0, -9), v3(0, 0, 9), 4)), 0.7, 20*14*9 - 9*16*math.Pi, 3e-3},
		{"corner cut", Common(box, Below(v3(1, 1, 1).Unit(), 15/math.Sqrt(3))), 0.7, 20*14*9 - math.Pow(6.5, 3)/6, 5e-5},
		{"rod", Rod(v3(-8, -6, -4), v3(7, 8, 5), 2), 0.5, 4 * math.Pi * math.Sqrt(225+196+81), 6e-3},
	} {
		m, err := Contour(c.f, b, c.h)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if err := Check(m); err != nil {
			t.Errorf("%s: %v", c.name, err)
		}
		if v := m.Volume(); math.Abs(v-c.want) > c.tol*c.want {
			t.Errorf("%s: volume %.9g, want %.9g (%.2g off, allowed %.2g)", c.name, v, c.want, v/c.want-1, c.tol)
		}
	}
}

func TestContourKeepsEdges(t *testing.T) {
	m, err := Contour(Cuboid(v3(-10, -7, -4.5), v3(10, 7, 4.5)), vec.Box{Min: v3(-10, -7, -5), Max: v3(10, 7, 5)}, 0.7)
	if err != nil {
		t.Fatal(err)
	}
	got := m.Box()
	if d := max(got.Min.Dist(v3(-10, -7, -4.5)), got.Max.Dist(v3(10, 7, 4.5))); d > 1e-6 {
		t.Errorf("corners are %.2g mm off", d)
	}
	// Every vertex lies on the box, those of the edges on two faces.
	edges := 0
	for _, p := range m.V {
		x, y, z := math.Abs(math.Abs(p.X)-10), math.Abs(math.Abs(p.Y)-7), math.Abs(math.Abs(p.Z)-4.5)
		if min(x, y, z) > 1e-6 {
			t.Fatalf("vertex %v is off the box", p)
		}
		if x+y < 1e-6 || y+z < 1e-6 || z+x < 1e-6 {
			edges++
		}
	}
	if want := 4 * (20 + 14 + 9) / 0.7; float64(edges) < 0.9*want {
		t.Errorf("%d vertices on the edges, want about %.0f", edges, want)
	}
}

func TestContourRefuses(t *testing.T) {
	if _, err := Contour(Sphere(vec.V3{}, 5), vec.Box{Min: v3(-2, -2, -2), Max: v3(2, 2, 2)}, 0.5); err == nil {
		t.Error("a body that leaves its box was taken")
	}
	if _, err := Contour(Sphere(v3(9, 9, 9), 1), vec.Box{Min: v3(-2, -2, -2), Max: v3(2, 2, 2)}, 0.5); err == nil {
		t.Error("an empty box was taken")
	}
	if _, err := Contour(Sphere(vec.V3{}, 5), vec.Box{Min: v3(-9, -9, -9), Max: v3(9, 9, 9)}, 1e-4); err == nil {
		t.Error("6e15 cells were taken")
	}
}
