// Package sequence is the working order: it alone knows which stage follows
// which. Each stage is a plain function of another room from one typed value to
// the next; sequence hands them on, watches for an interruption between them,
// tells how far it is, and writes the plan's folder whole or not at all.
//
// Main functions: Inspect for a bare master, Make for a plan, Save for its
// folder.
//
//	read -> check -> split -> stand -> lay out -> build -> figures -> judge -> draw -> write
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
var Stages = []string{"read", "check", "split", "stand", "lay out", "build", "figures", "judge", "draw", "write"}

// Progress is told that a stage begins. It may be nil.
type Progress func(stage string)

// clock runs the stages one after another.
type clock struct {
	ctx    context.Context
	tell   Progress
	timing map[string]float64
}

func newClock(ctx context.Context, tell Progress) *clock {
	return &clock{ctx: ctx, tell: tell, timing: map[string]float64{}}
}

// run does one stage, unless the work was interrupted.
func (c *clock) run(stage string, f func() error) error {
	if err := c.stopped(); err != nil {
		return err
	}
	if c.tell != nil {
		c.tell(stage)
	}
	start := time.Now()
	err := f()
	c.timing[stage] += time.Since(start).Seconds()
	if err != nil {
		return err
	}
	return c.stopped()
}

func (c *clock) stopped() error {
	if c.ctx.Err() != nil {
		return fault.New(fault.Interrupted, "", "", "interrupted")
	}
	return nil
}
