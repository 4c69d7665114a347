package command

import (
	"fmt"
	"io"
	"os"
	"slices"
	"time"

	"golang.org/x/term"

	"pourwright/internal/ground/fault"
	"pourwright/internal/working/sequence"
)

// progress shows the stage, how far the work is and how long it may still take
// on one line of a terminal; on anything else it is silent.
type progress struct {
	w      io.Writer
	show   bool
	start  time.Time
	stages []string
	whole  float64 // share of a plan that these stages make up
}

// share is roughly how much of a plan's time is over when a stage begins,
// measured on a master of 280 k triangles.
var share = map[string]float64{"read": 0, "check": 0.01, "split": 0.03, "stand": 0.47, "lay out": 0.53, "build": 0.68, "figures": 0.82, "judge": 0.84, "draw": 0.84, "write": 0.98}

// newProgress shows the work up to the stage named last.
func newProgress(w io.Writer, last string) *progress {
	f, ok := w.(*os.File)
	p := &progress{w: w, show: ok && term.IsTerminal(int(f.Fd())), start: time.Now(), stages: sequence.Stages, whole: 1}
	if i := slices.Index(p.stages, last) + 1; i < len(p.stages) {
		p.whole = share[p.stages[i]]
		p.stages = p.stages[:i]
	}
	return p
}

// stage is a sequence.Progress.
func (p *progress) stage(name string) {
	if !p.show {
		return
	}
	done := share[name] / p.whole
	left := ""
	if spent := time.Since(p.start).Seconds(); done > 0.05 && spent > 2 {
		left = fmt.Sprintf(", about %.0f s left", spent*(1-done)/done)
	}
	fmt.Fprintf(p.w, "\r\x1b[K%3.0f %%  %s (%d of %d)%s", 100*done, name, slices.Index(p.stages, name)+1, len(p.stages), left)
}

// end clears the line.
func (p *progress) end() {
	if p.show {
		fmt.Fprint(p.w, "\r\x1b[K")
	}
}

func unknownRow(name string, names []string) error {
	hint := "the verb materials without a name lists them all"
	if n := fault.Nearest(name, names); n != "" {
		hint = "nearest: " + n
	}
	return fault.New(fault.Input, "", hint, "no alloy or rubber %q in the tables", name)
}
