package par

import (
	"runtime"
	"sync"
	"sync/atomic"
)

// patience is how often an idle hand looks for work before it sleeps: about
// a millisecond. To wake a sleeper costs some tens of microseconds, more than a
// short loop takes, and between loops that follow each other there is often that much
// to do for one: with a 32nd of it a filling took 9.4 s on two cores, and 6.6 with this.
const patience = 1 << 20

// watch is how often a caller whose own chunks are done looks whether the hands are before it gives way.
const watch = 1 << 17

// yields is how often a caller whose own chunks are done gives way before it
// sleeps until the hands are done too: some tens of microseconds.
const yields = 200

// crew is the one pool of the program. Its hands start when first needed and
// stay.
var crew pool

type pool struct {
	mu    sync.Mutex
	hands atomic.Pointer[[]*hand]
}

// hand is a goroutine that helps with loops.
type hand struct {
	busy   atomic.Bool          // called and not yet released
	asleep atomic.Bool          // waits for wake, or is about to
	todo   atomic.Pointer[loop] // the loop it is called to, until it takes it or is released
	wake   chan struct{}
}

// call offers l to at most most idle hands and returns them.
func (p *pool) call(l *loop, most int) []*hand {
	var called []*hand
	for _, h := range p.atLeast(most) {
		if len(called) == most {
			break
		}
		if h.busy.Load() || !h.busy.CompareAndSwap(false, true) {
			continue
		}
		l.inside.Add(1)
		l.gone.Add(1)
		h.todo.Store(l)
		if h.asleep.CompareAndSwap(true, false) {
			h.wake <- struct{}{}
		}
		called = append(called, h)
	}
	return called
}

// release takes l back from a hand that has not begun.
func (h *hand) release(l *loop) {
	if h.todo.CompareAndSwap(l, nil) {
		h.busy.Store(false)
		l.inside.Add(-1)
		l.gone.Done()
	}
}

// atLeast is all hands, n or more.
func (p *pool) atLeast(n int) []*hand {
	if hands := p.hands.Load(); hands != nil && len(*hands) >= n {
		return *hands
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	var all []*hand
	if hands := p.hands.Load(); hands != nil {
		all = append(all, *hands...)
	}
	for len(all) < n {
		h := &hand{wake: make(chan struct{}, 1)}
		go h.live()
		all = append(all, h)
	}
	p.hands.Store(&all)
	return all
}

func (h *hand) live() {
	for {
		h.help(h.await())
	}
}

// help works at l. A chunk that ends its goroutine ends the hand: another takes its place.
func (h *hand) help(l *loop) {
	whole := false
	defer func() {
		if !whole {
			go h.live()
		}
		h.busy.Store(false)
		l.inside.Add(-1)
		l.gone.Done()
	}()
	l.work()
	whole = true
}

// await returns the next loop the hand is called to.
func (h *hand) await() *loop {
	for {
		for range patience {
			if l := h.todo.Load(); l != nil && h.todo.CompareAndSwap(l, nil) {
				return l
			}
		}
		h.asleep.Store(true)
		if h.todo.Load() != nil && h.asleep.CompareAndSwap(true, false) {
			continue
		}
		<-h.wake
	}
}

// Idle reports whether a core is free to help: what it is asked for may go
// another way, but must come to the same.
func Idle() bool {
	n := runtime.GOMAXPROCS(0) - 1
	if n < 1 {
		return false
	}
	busy := 0
	for _, h := range crew.atLeast(n) {
		if h.busy.Load() {
			busy++
		}
	}
	return busy < n
}
