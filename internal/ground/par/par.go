// Package par runs loops on several cores with results that do not depend on
// how many: chunks are fixed by the length alone and sums are taken in order.
package par

import (
	"runtime"
	"sync"
	"sync/atomic"
)

// For calls f(lo, hi) for consecutive chunks of [0, n), each chunk once, on up
// to GOMAXPROCS goroutines. Chunk borders depend on n and chunk only. The
// caller works too, with as many of the pool's hands as are idle: loops within
// loops share the cores and never wait for each other.
func For(n, chunk int, f func(lo, hi int)) {
	if n <= 0 {
		return
	}
	if chunk < 1 {
		chunk = 1
	}
	parts := (n + chunk - 1) / chunk
	workers := min(runtime.GOMAXPROCS(0), parts)
	if workers == 1 {
		for p := range parts {
			f(p*chunk, min(n, (p+1)*chunk))
		}
		return
	}
	l := &loop{n: n, chunk: chunk, parts: parts, f: f}
	called := crew.call(l, workers-1)
	l.work()
	for _, h := range called {
		h.release(l)
	}
	for spins := 0; l.inside.Load() != 0; spins++ {
		if spins > watch+yields { // a long chunk: leave the core to whoever needs it
			l.gone.Wait()
			break
		}
		if spins > watch {
			runtime.Gosched()
		}
	}
	l.broke.raise()
}

// loop is one call of For.
type loop struct {
	n, chunk, parts int
	f               func(lo, hi int)
	next            atomic.Int64
	inside          atomic.Int32   // hands that took the loop or still may
	gone            sync.WaitGroup // of the same hands
	broke           carrier
}

// work does chunks until none is left.
func (l *loop) work() {
	defer l.broke.take()
	for {
		p := int(l.next.Add(1)) - 1
		if p >= l.parts {
			return
		}
		l.f(p*l.chunk, min(l.n, (p+1)*l.chunk))
	}
}

// Do runs the functions side by side and returns when all are done. They must
// not depend on each other.
func Do(f ...func()) {
	For(len(f), 1, func(i, _ int) { f[i]() })
}

// carrier takes a panic from a worker to the caller, who may recover from it.
type carrier struct {
	once sync.Once
	what any
}

func (c *carrier) take() {
	if x := recover(); x != nil {
		c.once.Do(func() { c.what = x })
	}
}

func (c *carrier) raise() {
	if c.what != nil {
		panic(c.what)
	}
}

// Sum adds f over the chunks of [0, n) in the order of the chunks, whatever
// the order they were computed in.
func Sum(n, chunk int, f func(lo, hi int) float64) float64 {
	if n <= 0 {
		return 0
	}
	if chunk < 1 {
		chunk = 1
	}
	part := make([]float64, (n+chunk-1)/chunk)
	For(n, chunk, func(lo, hi int) { part[lo/chunk] = f(lo, hi) })
	s := 0.0
	for _, x := range part {
		s += x
	}
	return s
}
