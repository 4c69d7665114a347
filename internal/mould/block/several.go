package block

import (
	"fmt"
	"math"

	"pourwright/internal/book/plan"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

const (
	castingGap = 10.0 // mm between two castings; our own default
	channelGap = 8.0  // mm between the channels of two castings; our own default
)

// several chooses how many cavities and places them: side by side or one above
// the other, whichever takes the smaller block. Each has its own cup, so that
// no cavity takes the head of another.
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
	n = min(n, 24)
	l.figure("charge of one cavity, before the block is built", shot, "g", "volume x rho x 1e-6, casting, cup, ingate, feeders and flow-offs together", practice, map[string]float64{"volume, mm3": metal, "rho, kg/m3": d.DensityLiquid})
	k.cavities = k.row(n)
	if n > 1 {
		side := k.roughly(k.cavities)
		trial := plan.Trial{What: fmt.Sprintf("%d cavities side by side", n), Result: fmt.Sprintf("about %.0f cm3", side/1e3), Score: plan.Ptr(side), Kept: true}
		other := plan.Trial{What: fmt.Sprintf("%d cavities one above the other", n), Result: "no way to a cup for the lower ones"}
		if c, ok := k.stack(n); ok {
			high := k.roughly(c)
			other.Result, other.Score = fmt.Sprintf("about %.0f cm3", high/1e3), plan.Ptr(high)
			if high < side {
				k.cavities, k.stacked = c, true
				trial.Kept, other.Kept = false, true
			}
		}
		l.Tried = append(l.Tried, trial, other)
	}
	l.MastersNeeded = n
	if n > d.MastersInHand {
		limited(l.finding("masters", "should", nil, fmt.Sprintf("%d cavities in one block need %d masters in hand; there is only %d", n, n, d.MastersInHand),
			fmt.Sprintf("set [block] cavities = %d, or cast working copies first: one more mould, two more cures, and shrinkage counts twice", d.MastersInHand)), float64(d.MastersInHand), float64(n))
	}
}

// own is the cavity just laid out, moved by t.
func (k *work) own(t vec.V3) cavity {
	c := cavity{shift: t, gate: k.gate.at.Add(t)}
	for _, x := range k.channels {
		c.channels = append(c.channels, x.Moved(t))
	}
	for _, x := range k.feeds {
		x.At = vec.FromArray(x.At).Add(t).Array()
		c.feeds = append(c.feeds, x)
	}
	for _, x := range k.flows {
		x.At, x.To = vec.FromArray(x.At).Add(t).Array(), vec.FromArray(x.To).Add(t).Array()
		c.flows = append(c.flows, x)
	}
	return c
}

// row places n equal cavities side by side.
func (k *work) row(n int) []cavity {
	castings, ways := k.box.Join(k.insertsBox()), waysBox(k.channels, k.rim)
	pitch := math.Max(castings.Size().X+castingGap, ways.Size().X+channelGap)
	if k.sideWays() {
		pitch = math.Max(pitch, math.Max(castings.Max.X, ways.Max.X)-math.Min(castings.Min.X, ways.Min.X)+channelGap)
	}
	pitch = math.Ceil(pitch/k.f.h) * k.f.h
	var list []cavity
	for i := range n {
		list = append(list, k.own(vec.V3{X: float64(i) * pitch}))
	}
	return list
}

// stack places n cavities one above the other; the lower ones are led past the
// upper ones to cups of their own.
func (k *work) stack(n int) ([]cavity, bool) {
	dy := math.Ceil((k.box.Join(k.insertsBox()).Size().Y+castingGap)/k.f.h) * k.f.h
	list := []cavity{k.own(vec.V3{})}
	for j := 1; j < n; j++ {
		s := *k
		s.l = &Layout{}
		s.channels, s.feeds, s.flows, s.others = nil, nil, nil, nil
		s.above = float64(j) * dy
		s.rim = k.rim + s.above
		for i, c := range list {
			o := obstacle{dy: float64(j-i) * dy}
			for _, x := range c.channels {
				o.channels = append(o.channels, x.Moved(vec.V3{Y: s.above}))
			}
			s.others = append(s.others, o)
		}
		s.findGate()
		if w := s.gate.way.p; !s.gate.reached || w[len(w)-1].Y > s.rim-8 {
			return nil, false
		}
		s.feed()
		for _, f := range s.l.Findings {
			if f.Severity == plan.Must {
				return nil, false
			}
		}
		s.feeders()
		s.flowOff()
		list = append(list, s.own(vec.V3{Y: -s.above}))
	}
	return list, true
}

// roughly returns the volume of the block with default margins and no keys.
func (k *work) roughly(list []cavity) float64 {
	castings, ways, _ := k.union(list, false)
	plain := plainMargin
	if k.d.Margin != nil {
		plain = *k.d.Margin
	}
	b, _, _ := k.sides(castings, ways, 0, plain, plain)
	return volumeOf(b)
}

// union returns the boxes of castings and channels, and their meshes as one
// where met is set.
func (k *work) union(list []cavity, met bool) (castings, ways vec.Box, m *mesh.Mesh) {
	castings, ways, m = vec.Empty(), vec.Empty(), &mesh.Mesh{}
	for _, c := range list {
		castings = castings.Add(k.box.Min.Add(c.shift)).Add(k.box.Max.Add(c.shift))
		ways = ways.Join(waysBox(c.channels, k.rim))
		if !met {
			continue
		}
		m.Append(moved(k.m, c.shift))
		for i := range c.channels {
			m.Append(c.channels[i].Mesh())
		}
		for i := range k.inserts {
			m.Append(k.inserts[i].moved(c.shift).mesh())
		}
	}
	return castings, ways, m
}

// waysBox returns the box of what of the channels lies below the rim.
func waysBox(channels []Channel, rim float64) vec.Box {
	b := vec.Empty()
	for i := range channels {
		m := channels[i].Mesh()
		for _, p := range m.V {
			if p.Y <= rim {
				b = b.Add(p)
			}
		}
		for _, t := range m.F {
			for e := range 3 {
				p, q := m.V[t[e]], m.V[t[(e+1)%3]]
				if p.Y <= rim && q.Y > rim {
					b = b.Add(p.Lerp(q, (rim-p.Y)/(q.Y-p.Y)))
				}
			}
		}
	}
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
