package par

import (
	"runtime"
	"slices"
	"testing"
)

func TestForCoversEachIndexOnce(t *testing.T) {
	for _, n := range []int{0, 1, 7, 100, 1001} {
		for _, chunk := range []int{0, 1, 3, 100, 5000} {
			seen := make([]int, n)
			For(n, chunk, func(lo, hi int) {
				for i := lo; i < hi; i++ {
					seen[i]++
				}
			})
			if slices.ContainsFunc(seen, func(k int) bool { return k != 1 }) {
				t.Errorf("n %d, chunk %d: %v", n, chunk, seen)
			}
		}
	}
}

func TestSumIsTheSameOnOneCore(t *testing.T) {
	f := func(lo, hi int) float64 {
		s := 0.0
		for i := lo; i < hi; i++ {
			s += 1 / float64(i+1)
		}
		return s
	}
	a := Sum(100000, 37, f)
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	if b := Sum(100000, 37, f); a != b {
		t.Errorf("%v and %v", a, b)
	}
}

func TestPanicOfAWorkerReachesTheCaller(t *testing.T) {
	defer func() {
		if x := recover(); x != "broken" {
			t.Errorf("recovered %v", x)
		}
	}()
	old := runtime.GOMAXPROCS(2)
	defer runtime.GOMAXPROCS(old)
	Do(func() {}, func() { panic("broken") })
	t.Error("no panic")
}
