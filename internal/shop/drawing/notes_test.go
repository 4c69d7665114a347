package drawing

import (
	"strings"
	"testing"
)

// A measure is never parted, however narrow the column of notes is.
func TestEntryKeepsMeasuresWhole(t *testing.T) {
	for _, wide := range []float64{notesLeast, 42, 50, notesWide} {
		p := &page{}
		entry("vent 12", []string{strong("only if short") + ", 103" + nb + "mm" + nb + "long,", "knife slit, 1.0" + nb + "mm" + nb + "deep"}, true)(p, 0, wide)
		var all []string
		for _, o := range p.ops {
			all = append(all, o.text)
		}
		s := strings.ReplaceAll(strings.Join(all, "|"), nb, " ")
		for _, whole := range []string{"103 mm long,", "1.0 mm deep"} {
			if !strings.Contains(s, whole) {
				t.Errorf("%g mm wide: %q is parted in %q", wide, whole, s)
			}
		}
	}
}
