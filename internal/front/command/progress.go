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

	at    string // part of the pour that is shown, since when, and when last
	since time.Time
	told  time.Time
}

// share is roughly how much of a plan's time is over when a stage begins,
// measured on a master of 280 k triangles.
var share = map[string]float64{"read": 0, "check": 0.01, "split": 0.03, "stand": 0.47, "lay out": 0.53, "build": 0.68, "figures": 0.82, "pour": 0.84, "judge": 0.84, "draw": 0.84, "write": 0.98}

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
func (p *progress) stage(name, at string, part float64) {
	if !p.show {
		return
	}
	if at != "" {
		p.part(at, part)
		return
	}
	done := share[name] / p.whole
	fmt.Fprintf(p.w, "\r\x1b[K%3.0f %%  %s (%d of %d)%s", 100*done, name, slices.Index(p.stages, name)+1, len(p.stages), left(time.Since(p.start), done))
}

// part shows how far one part of the pour is, with the time left of that part.
func (p *progress) part(at string, done float64) {
	if !p.show || at == p.at && time.Since(p.told) < 200*time.Millisecond {
		return
	}
	if at != p.at {
		p.at, p.since = at, time.Now()
	}
	p.told = time.Now()
	fmt.Fprintf(p.w, "\r\x1b[K%3.0f %%  pour: %s%s", 100*done, at, left(time.Since(p.since), done))
}

// left says how long work may still take, where that can be told.
func left(spent time.Duration, done float64) string {
	if s := spent.Seconds(); done > 0.05 && done < 1 && s > 2 {
		return fmt.Sprintf(", about %.0f s left", s*(1-done)/done)
	}
	return ""
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
