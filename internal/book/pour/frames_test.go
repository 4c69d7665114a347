package pour

import (
	"bytes"
	"errors"
	"math"
	"math/rand/v2"
	"reflect"
	"testing"

	"pourwright/internal/ground/fault"
)

// rising is a ball of open cells that fills from below, with a front one cell thick.
func rising(n, frames int) *Frames {
	f := &Frames{Cells: [3]int{n, n, n}, Origin: [3]float64{-3, 1e-3, 7}, H: 0.75}
	var height []float64
	for q := range n * n * n {
		x, y, z := float64(q%n)-float64(n-1)/2, float64(q/n%n)-float64(n-1)/2, float64(q/n/n)-float64(n-1)/2
		if x*x+y*y+z*z < float64(n*n)/4 {
			f.Open = append(f.Open, int32(q))
			height = append(height, float64(q/n%n))
		}
	}
	for k := range frames {
		level := float64(n) * float64(k) / float64(frames-1)
		s := make([]float64, len(f.Open))
		for i, h := range height {
			s[i] = math.Max(0, math.Min(1, level-h))
		}
		f.Add(0.04*float64(k), s)
	}
	return f
}

func TestFramesThereAndBack(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	noise := rising(9, 3)
	for _, s := range noise.Shares {
		for i := range s {
			if rng.IntN(3) > 0 {
				s[i] = uint8(rng.Uint32())
			}
		}
	}
	whole := &Frames{Cells: [3]int{2, 1, 1}, H: 1, Open: []int32{0, 1}}
	whole.Add(0, []float64{0, 2})
	whole.Add(1, []float64{math.NaN(), 0.5})
	for name, f := range map[string]*Frames{
		"rising": rising(20, 30), "noise": noise, "all open": whole,
		"last open": {Cells: [3]int{3, 1, 1}, H: 1, Open: []int32{2}}, "none open": {Cells: [3]int{3, 2, 1}, H: 1}, "no box": {H: 1},
	} {
		b := f.Encode()
		got, err := ParseFrames(b, "f")
		if err != nil || !reflect.DeepEqual(f, got) {
			t.Errorf("%s: %v\n%+v\n%+v", name, err, f, got)
			continue
		}
		if !bytes.Equal(b, got.Encode()) {
			t.Errorf("%s: other bytes the second time", name)
		}
		for cut := 0; cut < len(b); cut += 1 + len(b)/300 {
			if _, err := ParseFrames(b[:cut], "f"); err == nil {
				t.Errorf("%s: cut to %d of %d bytes and taken", name, cut, len(b))
			}
		}
	}
	if whole.Shares[0][1] != 255 || whole.Shares[1][0] != 0 || whole.Shares[1][1] != 128 {
		t.Error(whole.Shares)
	}
}

// A front that moves costs about the cells it passes, not all of them.
func TestFramesAreCompact(t *testing.T) {
	f := rising(40, 60)
	if n, all := len(f.Encode()), len(f.Open)*len(f.Times); n > all/10 {
		t.Errorf("%d bytes for %d shares", n, all)
	}
}

func TestFramesRefused(t *testing.T) {
	good := rising(6, 4).Encode()
	rng := rand.New(rand.NewPCG(3, 4))
	for range 3000 { // any change of bytes: an error or frames, no panic and no large memory
		b := bytes.Clone(good)
		for range 1 + rng.IntN(4) {
			b[rng.IntN(len(b))] = uint8(rng.Uint32())
		}
		_, err := ParseFrames(b, "f")
		var e *fault.Error
		if err != nil && (!errors.As(err, &e) || e.Kind != fault.Input) {
			t.Fatal(err)
		}
	}
	if _, err := ParseFrames(append(bytes.Clone(good), 0), "f"); err == nil {
		t.Error("a byte too many")
	}
	huge := bytes.Clone(good)
	for i := 8; i < 20; i++ {
		huge[i] = 0xff
	}
	if _, err := ParseFrames(huge, "f"); err == nil {
		t.Error("a huge box")
	}
}
