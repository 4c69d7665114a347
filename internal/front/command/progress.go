package command

import (
	"fmt"
	"io"
	"os"
	"time"

	"golang.org/x/term"

	"pourwright/internal/ground/fault"
	"pourwright/internal/working/sequence"
)

// progress shows the stage, how far the work is and how long it may still take
// on one line of a terminal; on anything else it is silent.
type progress struct {
	w     io.Writer
	show  bool
	start time.Time
}

// share is roughly how much of a plan's time is over when a stage begins,
// measured on a master of 300 k triangles.
var share = map[string]float64{"read": 0, "check": 0.05, "split": 0.1, "stand": 0.4, "lay out": 0.5, "build": 0.6, "figures": 0.75, "judge": 0.76, "draw": 0.77, "write": 0.93}

func newProgress(w io.Writer) *progress {
	f, ok := w.(*os.File)
	return &progress{w: w, show: ok && term.IsTerminal(int(f.Fd())), start: time.Now()}
}

// stage is a sequence.Progress.
func (p *progress) stage(name string) {
	if !p.show {
		return
	}
	done := share[name]
	left := ""
	if spent := time.Since(p.start).Seconds(); done > 0.05 && spent > 2 {
		left = fmt.Sprintf(", about %.0f s left", spent*(1-done)/done)
	}
	at := 1
	for i, s := range sequence.Stages {
		if s == name {
			at = i + 1
		}
	}
	fmt.Fprintf(p.w, "\r\x1b[K%3.0f %%  %s (%d of %d)%s", 100*done, name, at, len(sequence.Stages), left)
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
