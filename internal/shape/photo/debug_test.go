package photo

import (
	"testing"
	"os"
	"math"
	"pourwright/internal/shape/lens"
	"pourwright/internal/shape/snapshot"
)

func TestDebug(t *testing.T) {
	p, err := snapshot.Read(os.Getenv("DBG"))
	if err != nil { t.Skip() }
	prior := lens.Prior{F: 28 * math.Hypot(float64(p.W), float64(p.H)) / math.Hypot(36, 24) * 1.4, SpreadF: 0.4, Radial: 0.04}
	for _, q := range quads(reduce(p, max(1, (max(p.W, p.H)+799)/800))) {
		r, s, ok := cardIn(p, q, prior)
		t.Log(q, s, ok)
		_ = r
	}
}
