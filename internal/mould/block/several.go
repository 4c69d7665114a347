package block

import (
	"fmt"
	"math"

	"pourwright/internal/ground/vec"
)

const (
	castingGap = 10.0 // mm between two castings; our own default
	channelGap = 8.0  // mm between the channels of two castings; our own default
)

// several chooses how many cavities, and places them side by side, each with
// its own cup, so that no cavity takes the head of another.
func (k *work) several() {
	d, l := &k.d, k.l
	metal := k.volume
	for i := range k.channels {
		metal += k.channels[i].Volume()
	}
	shot := metal * d.DensityLiquid * 1e-6
	n := d.Cavities
	if n <= 0 {
		n = min(d.MastersInHand, d.Castings, 4)
		if d.Ladle > 0 {
			n = min(n, int(0.8*d.Ladle/shot))
		}
		n = max(n, 1)
	}
	l.figure("charge of one cavity", shot, "g", "(casting + cup + ingate + feeders + flow-offs) x density of the liquid", practice, map[string]float64{"volume": metal, "rho": d.DensityLiquid})
	castings, ways := k.box, k.waysBox()
	pitch := castings.Size().X + castingGap
	if x := ways.Size().X + channelGap; x > pitch {
		pitch = x
	}
	if x := math.Max(castings.Max.X, ways.Max.X) - math.Min(castings.Min.X, ways.Min.X) + channelGap; x > pitch && k.sideWays() {
		pitch = x
	}
	pitch = math.Ceil(pitch/k.f.h) * k.f.h
	k.shifts = nil
	for i := range n {
		k.shifts = append(k.shifts, vec.V3{X: float64(i) * pitch})
	}
	if n > 1 {
		l.figure("pitch of the cavities", pitch, "mm", "the larger of casting + 10 mm and channels + 8 mm", ours, map[string]float64{"casting": castings.Size().X, "channels": ways.Size().X})
	}
	l.MastersNeeded = n
	if n > d.MastersInHand {
		limited(l.finding("masters", "should", nil, fmt.Sprintf("%d cavities in one block need %d masters in hand; there are %d", n, n, d.MastersInHand),
			fmt.Sprintf("set [block] cavities = %d, or cast working copies first: one more mould, two more cures, and shrinkage counts twice", d.MastersInHand)), float64(d.MastersInHand), float64(n))
	}
	if d.Ladle > 0 && shot*float64(n) > 0.8*d.Ladle {
		limited(l.finding("ladle", "should", nil, fmt.Sprintf("one shot takes %.0f g, more than 0.8 of the ladle's %.0f g", shot*float64(n), d.Ladle),
			"take a bigger ladle or fewer cavities: two small pours do not weld"), shot*float64(n), 0.8*d.Ladle)
	}
}

func (k *work) waysBox() vec.Box {
	b := vec.Empty()
	for i := range k.channels {
		b = b.Join(k.channels[i].Mesh().Box())
	}
	b.Max.Y = math.Min(b.Max.Y, k.rim)
	return b
}

// sideWays reports whether a channel runs beside the casting, below its top.
func (k *work) sideWays() bool {
	for _, c := range k.channels {
		for _, r := range c.Rings {
			if r.P.Y < k.box.Max.Y && (r.P.X+r.A > k.box.Max.X || r.P.X-r.A < k.box.Min.X) {
				return true
			}
		}
	}
	return false
}
