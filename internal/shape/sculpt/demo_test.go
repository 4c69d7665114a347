package sculpt

import (
	"runtime"
	"slices"
	"testing"
)

func TestDemo(t *testing.T) {
	m, err := Demo()
	if err != nil {
		t.Fatal(err)
	}
	if err := Check(m); err != nil {
		t.Error(err)
	}
	s := m.Box().Size()
	t.Logf("%d triangles, %.1f x %.1f x %.1f mm, %.1f mm3", len(m.F), s.X, s.Y, s.Z, m.Volume())
	if n := len(m.F); n < 20000 || n > 60000 {
		t.Errorf("%d triangles", n)
	}
	if m.Box().Longest() < 55 || m.Box().Longest() > 65 {
		t.Errorf("size %v", s)
	}
	if shells, euler := shellsOf(m); shells != 1 || euler != 2 {
		t.Errorf("%d shells, Euler number %d", shells, euler)
	}
}

func BenchmarkDemo(b *testing.B) {
	for b.Loop() {
		if _, err := Demo(); err != nil {
			b.Fatal(err)
		}
	}
}

func TestDemoSameOnOneCore(t *testing.T) {
	a, err := Demo()
	if err != nil {
		t.Fatal(err)
	}
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	b, err := Demo()
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(a.V, b.V) || !slices.Equal(a.F, b.F) {
		t.Error("the mesh depends on the number of cores")
	}
}
