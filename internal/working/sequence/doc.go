// Package sequence is the working order: it alone knows which stage follows
// which. Each stage is a plain function of another room from one typed value to
// the next; sequence hands them on, watches for an interruption between them,
// tells how far it is, and writes the plan's folder whole or not at all.
//
// Main functions: Inspect for a bare master, Make for a plan, Save for its
// folder, Pour to compute the pour of a folder again.
//
//	read -> check -> split -> stand -> lay out -> build -> figures -> pour -> judge -> draw -> write
//
// Lengths are mm, in the master frame up to the layout and in the block frame
// from there.
package sequence

import (
	"context"
	"time"

	"pourwright/internal/ground/fault"
)

// Stages in their order, as Progress names them.
var Stages = []string{"read", "check", "split", "stand", "lay out", "build", "figures", "pour", "judge", "draw", "write"}

// Progress is told that a stage begins, and how far a long one is: what it is at,
// and the share of it that is done. It may be nil.
type Progress func(stage, at string, done float64)

// clock runs the stages one after another.
type clock struct {
	ctx    context.Context
	tell   Progress
	timing map[string]float64
}

func newClock(ctx context.Context, tell Progress) *clock {
	return &clock{ctx: ctx, tell: tell, timing: map[string]float64{}}
}

// run does one stage, unless the work was interrupted. An interruption does not
// wait for the stage: it is left to itself, and nothing of it is used.
func (c *clock) run(stage string, f func() error) error {
	return c.whole(stage, func() error {
		type end struct {
			err   error
			fault any // a panic
		}
		done := make(chan end, 1)
		go func() {
			var e end
			defer func() {
				e.fault = recover()
				done <- e
			}()
			e.err = f()
		}()
		select {
		case e := <-done:
			if e.fault != nil {
				panic(e.fault)
			}
			return e.err
		case <-c.ctx.Done():
			return c.stopped()
		}
	})
}

// whole does one stage that is not left half-way, as that of writing.
func (c *clock) whole(stage string, f func() error) error {
	if err := c.stopped(); err != nil {
		return err
	}
	if c.tell != nil {
		c.tell(stage, "", 0)
	}
	start := time.Now()
	err := f()
	c.timing[stage] += time.Since(start).Seconds()
	if err != nil {
		return err
	}
	return c.stopped()
}

// part tells how far the pour is.
func (c *clock) part(at string, done float64) {
	if c.tell != nil {
		c.tell("pour", at, done)
	}
}

func (c *clock) stopped() error {
	if c.ctx.Err() != nil {
		return fault.New(fault.Interrupted, "", "", "interrupted")
	}
	return nil
}
