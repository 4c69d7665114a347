package block

import (
	"math"

	"pourwright/internal/book/plan"
	"pourwright/internal/ground/vec"
	"pourwright/internal/mould/pockets"
)

// mouths lists where channels open into their casting.
func (k *work) mouths(channels []Channel) []pockets.Ball {
	var list []pockets.Ball
	for _, c := range channels {
		r := c.Rings[0]
		q := c.Rings[1].P
		d := q.Sub(r.P).Unit()
		at := q.Sub(d.Mul(ingateLength))
		list = append(list, pockets.Ball{At: at, Radius: math.Max(math.Min(r.A, r.B), k.f.h)})
	}
	return list
}

// trapped evaluates the first cavity with air leaving by the given mouths only.
func (k *work) trapped(balls []pockets.Ball) *pockets.Stand {
	s, err := k.air.Evaluate(vec.V3{Y: 1}, pockets.Outlets{Balls: balls, Only: true}, 0)
	if err != nil {
		return &pockets.Stand{}
	}
	return s
}

// freeOfAll is the distance to the casting, its inserts and its channels.
func (k *work) freeOfAll(x, y float64) float64 {
	p := vec.V2{X: x, Y: y}
	d := math.Min(k.f.free(x, y), fromInserts(k.inserts, p))
	for _, c := range k.channels {
		d = math.Min(d, c.from(p))
	}
	for _, o := range k.others {
		d = math.Min(d, k.f.free(x-o.dx, y-o.dy))
		d = math.Min(d, fromInserts(k.inserts, vec.V2{X: x - o.dx, Y: y - o.dy}))
		for _, c := range o.channels {
			d = math.Min(d, c.from(p))
		}
	}
	return d
}

func (k *work) nearChannel(p vec.V2, r float64) bool {
	if fromInserts(k.inserts, p) < r {
		return true
	}
	for _, c := range k.channels {
		if c.from(p) < r {
			return true
		}
	}
	for _, o := range k.others {
		for _, c := range o.channels {
			if c.from(p) < r {
				return true
			}
		}
	}
	return false
}

// from returns the distance from p to the channel seen along the pull,
// negative inside it.
func (c *Channel) from(p vec.V2) float64 {
	best := math.Inf(1)
	for i := 1; i < len(c.Rings); i++ {
		a, b := c.Rings[i-1], c.Rings[i]
		p0, p1 := vec.V2{X: a.P.X, Y: a.P.Y}, vec.V2{X: b.P.X, Y: b.P.Y}
		d := p1.Add(p0.Mul(-1))
		l := d.Dot(d)
		s := 0.0
		if l > 0 {
			s = min(max(p.Add(p0.Mul(-1)).Dot(d)/l, 0), 1)
		}
		best = math.Min(best, p.Add(p0.Add(d.Mul(s)).Mul(-1)).Len()-(a.A+(b.A-a.A)*s))
	}
	return best
}

// flowOff leads one flow-off from the largest pocket, or from the highest far
// place where there is none, to the cup side. Where metal would not enter it a
// knife vent serves.
func (k *work) flowOff() {
	d := &k.d
	r, ok := k.flowOffAt()
	rad := math.Min(2, 0.45*r.depth)
	p := vec.V2{X: r.at.X, Y: r.at.Y}
	if !ok || rad < 0.6 || d.PinHead(2*rad, 1) > k.rim-stopUnder-r.at.Y || k.scar(r.at) < -0.5 || k.nearChannel(p, rad+wayRubber) {
		return
	}
	out := r.out
	if out.Y > 0.7 {
		out = vec.V2{Y: 1}
	}
	rt := k.router()
	rt.hi.Y = k.rim + rt.step
	w, ok := rt.find(p.Add(out.Mul(ingateLength)), p, rad+wayRubber, func(q vec.V2) bool { return q.Y >= k.rim })
	if !ok {
		return
	}
	pts := []vec.V2{p.Add(out.Mul(-math.Max(0.8, math.Min(1.5, r.lump/2)))), p.Add(out.Mul(ingateLength))}
	pts = append(pts, w.p[1:]...)
	pts[len(pts)-1].Y = k.rim + 1
	a := make([]float64, len(pts))
	for i := range a {
		a[i] = rad
	}
	c := k.chain("flow-off", pts, a, a, r.at.Z, k.edge, len(pts)-1)
	k.channels = append(k.channels, c)
	top := c.Rings[len(c.Rings)-1].P
	top.Y = k.rim
	k.flows = append(k.flows, plan.FlowOff{At: r.at.Array(), To: top.Array(), Diameter: 2 * rad})
	k.l.figure("flow-off, metal shows below the rim by", d.PinHead(2*rad, 1)+stopUnder, "mm", "4 gamma / (rho g d) + 3 mm", youngLap, map[string]float64{"d, mm": 2 * rad, "gamma, N/m": d.Tension, "rho, kg/m3": d.DensityLiquid})
}

// flowOffAt chooses the place: by the largest pocket of more than half a
// percent of the volume, else high up and far from the ingate.
func (k *work) flowOffAt() (gate, bool) {
	s := k.trapped(k.mouths(k.channels))
	list := k.rims()
	g := k.channels[0].Rings[0].P
	long := k.box.Longest()
	pocket := len(s.Pockets) > 0 && s.Pockets[0].Volume > 0.005*k.volume
	best, cost := -1, math.Inf(1)
	for i, r := range list {
		var c float64
		if pocket {
			p := s.Pockets[0]
			if c = p.At.Y - r.at.Y + 0.3*r.at.Dist(p.At); r.at.Y <= p.Saddle || r.at.Y > p.At.Y+2*k.f.h || c >= 0.1*long {
				continue
			}
		} else {
			far := math.Hypot(r.at.X-g.X, r.at.Y-g.Y)
			if c = k.box.Max.Y - r.at.Y - 0.3*far; far < 0.35*long || k.box.Max.Y-r.at.Y > 0.04*k.box.Size().Y {
				continue
			}
		}
		if c < cost-1e-9 {
			best, cost = i, c
		}
	}
	if best < 0 {
		return gate{}, false
	}
	return list[best], true
}
