package chill

import (
	"testing"
)

// A saved state goes on to the last bit; a damaged or foreign one is refused.
func TestSavedGoesOn(t *testing.T) {
	c := box(t, [3]int{12, 5, 4}, 1e-3)
	p := Problem{Cells: c, Metal: pewter(), Rubber: silicone(), Mould: 45}
	s := state(t, p)
	a := make([]float64, c.N)
	for i := range a {
		a[i] = c.Centre(int32(i)).X / 0.2
	}
	f, q := run(s, a, 0.005, 1e-3, 0.03, func(int) float64 { return 250 })
	kept := s.Save()
	two := state(t, p)
	if err := two.Load(kept); err != nil {
		t.Fatal(err)
	}
	q2 := append([]float64{}, q...)
	for range 100 {
		s.Step(1e-2, f, q, Planes{})
		two.Step(1e-2, f, q2, Planes{})
	}
	if string(s.Save()) != string(two.Save()) {
		t.Error("the saved state goes another way")
	}
	kept[len(kept)/2] ^= 1
	if two.Load(kept) == nil || two.Load(kept[:40]) == nil || two.Load(nil) == nil {
		t.Error("took a damaged state")
	}
	p.Contact = 500
	if state(t, p).Load(s.Save()) == nil {
		t.Error("took the state of another problem")
	}
}
