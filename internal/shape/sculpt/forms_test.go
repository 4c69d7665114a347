package sculpt

import (
	"math"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// forms are bodies whose mesh volume is known in closed form; shells counts
// their closed surfaces, euler the sum of V - E + F.
func forms() map[string]struct {
	b             Body
	shells, euler int
	near          float64 // relative distance of the mesh from the ideal
} {
	type row = struct {
		b             Body
		shells, euler int
		near          float64
	}
	return map[string]row{
		"ball":     {Ball(10, 96), 1, 2, 4e-3},
		"torus":    {Torus(12, 4, 96, 48), 1, 0, 5e-3},
		"cone":     {Cone(10, 25, 96), 1, 2, 2e-3},
		"cylinder": {Cylinder(7, 20, 96), 1, 2, 2e-3},
		"box":      {Box(20, 14, 9), 1, 2, 0},
		"hollow":   {HollowBall(12, 8, 96), 2, 4, 5e-3},
		"cup":      {Cup(12, 9, 20, 3, 96), 1, 2, 2e-3},
		"hang 3":   {Hanging(12, 8, 3, 12, 96), 1, 2, 2e-3},
		"hang 8":   {Hanging(12, 8, 8, 12, 96), 1, 2, 2e-3},
		"u":        {U(6, 8, 20, 14, 7), 1, 2, 0},
		"towers":   {Towers(40, 6, 8, 4, 20, 12), 1, 2, 0},
		"links":    {Links(10, 2.5, 3, 96, 32), 3, 0, 8e-3},
		"pierced":  {Pierced(60, 20, 4, 8, 3, 64), 1, 2 - 2*3, 2e-3},
	}
}

func shellsOf(m *mesh.Mesh) (shells, euler int) {
	parent := make([]int32, len(m.V))
	for i := range parent {
		parent[i] = int32(i)
	}
	root := func(i int32) int32 {
		for parent[i] != i {
			parent[i] = parent[parent[i]]
			i = parent[i]
		}
		return i
	}
	used := map[int32]bool{}
	for _, t := range m.F {
		for _, v := range t {
			used[v] = true
			parent[root(v)] = root(t[0])
		}
	}
	for v := range used {
		if root(v) == v {
			shells++
		}
	}
	return shells, len(used) - len(m.F)/2
}

func TestForms(t *testing.T) {
	for name, c := range forms() {
		if err := Check(c.b.Mesh); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		if v := c.b.Mesh.Volume(); math.Abs(v-c.b.Volume) > 1e-11*c.b.Volume {
			t.Errorf("%s: mesh volume %.12g, closed form %.12g", name, v, c.b.Volume)
		}
		if d := math.Abs(c.b.Volume-c.b.Ideal) / c.b.Ideal; d > c.near {
			t.Errorf("%s: mesh is %.2g from the ideal, allowed %.2g", name, d, c.near)
		}
		if s, e := shellsOf(c.b.Mesh); s != c.shells || e != c.euler {
			t.Errorf("%s: %d shells, Euler number %d; want %d, %d", name, s, e, c.shells, c.euler)
		}
	}
}

func TestCheckFindsFaults(t *testing.T) {
	open := Box(1, 1, 1).Mesh
	open.F = open.F[1:]
	twice := Box(1, 1, 1).Mesh
	twice.Append(Box(1, 1, 1).Mesh.OutOf(vec.Frame{Origin: vec.V3{X: 0.5, Y: 0.3, Z: 0.2}, X: vec.V3{X: 1}, Y: vec.V3{Y: 1}, Z: vec.V3{Z: 1}}))
	inside := Box(1, 1, 1).Mesh
	for i, f := range inside.F {
		inside.F[i] = [3]int32{f[0], f[2], f[1]}
	}
	pinch := Cone(1, 1, 12).Mesh
	other := Cone(1, -1, 12).Mesh
	other = other.OutOf(vec.Frame{Origin: vec.V3{Z: 2}, X: vec.V3{X: 1}, Y: vec.V3{Y: 1}, Z: vec.V3{Z: 1}})
	n := int32(len(pinch.V))
	pinch.Append(other)
	tip := n - 1
	for i, f := range pinch.F {
		for k, v := range f {
			if v == int32(len(pinch.V))-1 {
				pinch.F[i][k] = tip
			}
		}
	}
	for name, m := range map[string]*mesh.Mesh{"open": open, "overlapping": twice, "inside out": inside, "pinched": pinch} {
		if Check(m) == nil {
			t.Errorf("%s: no fault found", name)
		}
	}
	if err := Check(Box(1, 2, 3).Mesh); err != nil {
		t.Error(err)
	}
}

func TestFillArea(t *testing.T) {
	star := make(Ring, 40)
	for i := range star {
		r := 10.0
		if i%2 == 1 {
			r = 6
		}
		s, c := math.Sincos(2 * math.Pi * float64(i) / 40)
		star[i] = vec.V2{X: r * c, Y: r * s}
	}
	holes := []Ring{Oval(1.5, 1, 24).Move(vec.V2{X: 3}), Oval(1, 1.5, 24).Move(vec.V2{X: -3, Y: 0.5}), Oval(0.7, 0.7, 12).Move(vec.V2{Y: -4})}
	tri, err := fill(star, holes...)
	if err != nil {
		t.Fatal(err)
	}
	var p []vec.V2
	p = append(p, star...)
	want := star.Area()
	for _, h := range holes {
		p = append(p, h...)
		want -= h.Area()
	}
	got := 0.0
	for _, f := range tri {
		a := turn(p[f[0]], p[f[1]], p[f[2]]) / 2
		if a <= 0 {
			t.Fatalf("triangle %v has area %g", f, a)
		}
		got += a
	}
	if math.Abs(got-want) > 1e-9 {
		t.Errorf("area %.12g, want %.12g", got, want)
	}
	if _, err := fill(Oval(1, 1, 8), Oval(0.2, 0.2, 8).Move(vec.V2{X: 5})); err == nil {
		t.Error("a hole outside its ring was taken")
	}
}
