package sealed

import (
	"testing"

	"pourwright/internal/ground/fault"
)

func TestWriteAndOpen(t *testing.T) {
	x := []float64{1, -2.5, 3e-300}
	data := Write("room A", 7, func(put func(any)) { put(int64(len(x))); put(x) })
	r, err := Open("room A", 7, data)
	if err != nil {
		t.Fatal(err)
	}
	var n int64
	r.Get(&n)
	if r.Done() {
		t.Error("done before the end")
	}
	r, _ = Open("room A", 7, data)
	r.Get(&n)
	y := make([]float64, n)
	r.Get(y)
	if r.Failed() || !r.Done() || n != 3 || y[0] != x[0] || y[1] != x[1] || y[2] != x[2] {
		t.Errorf("%d numbers, %v", n, y)
	}
	if r.Get(&n); !r.Failed() || r.Done() {
		t.Error("more was read than there is")
	}
}

func TestOpenRefuses(t *testing.T) {
	data := Write("room A", 7, func(put func(any)) { put(int64(1)) })
	damaged := append([]byte{}, data...)
	damaged[9] ^= 1
	for name, f := range map[string]func() error{
		"empty":         func() error { _, err := Open("room A", 7, nil); return err },
		"another room":  func() error { _, err := Open("room B", 7, data); return err },
		"another print": func() error { _, err := Open("room A", 8, data); return err },
		"cut":           func() error { _, err := Open("room A", 7, data[:len(data)-1]); return err },
		"damaged":       func() error { _, err := Open("room A", 7, damaged); return err },
		"a bare name":   func() error { _, err := Open("room A", 7, data[:6]); return err },
	} {
		if err := f(); fault.KindOf(err) != fault.Input || fault.HintOf(err) == "" {
			t.Errorf("%s: %v", name, err)
		}
	}
}
