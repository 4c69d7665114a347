package block

import (
	"fmt"
	"math"

	"pourwright/internal/ground/vec"
	"pourwright/internal/mould/pockets"
	"pourwright/internal/shape/mesh"
)

const (
	jetHead     = 50.0  // mm of free fall from ladle to cup, counts as head; common practice
	thickSlit   = 0.3   // mm, the widest knife slit
	thinSlit    = 0.05  // mm, narrower is the knife's own slit
	cutDepth    = 1.0   // mm into the half; our own default
	cutClear    = 3.0   // mm from metal other than the pocket; our own default
	airLeft     = 5e-4  // share of the volume that may stay unvented
	bridgeBond  = 0.842 // critical Bond number of long bubbles in tubes, J. Fluid Mech. 10 (1961)
	mostCuts    = 24
	ballOfKnife = 0.5 // mm round a cut's end that it opens
)

// BridgeBore returns the bore in mm under which metal from above bridges a
// hanging dead end, 2 sqrt(Bo gamma / (rho g)) with Bo = 0.842: an analogy from
// bubbles in tubes that wet.
func (d *Demand) BridgeBore() float64 {
	return 2e3 * math.Sqrt(bridgeBond*d.Tension/(d.DensityLiquid*Gravity))
}

// vent cuts the remaining pockets of every cavity open along the parting face,
// and says which it cannot reach. Cavities side by side are equal and take the
// same cuts.
func (k *work) vent() {
	l := k.l
	c := k.block.Centre()
	before, after := 0.0, 0.0
	var first []Cut
	for n := range k.cavities {
		y := &k.cavities[n]
		if n > 0 && !k.stacked {
			for _, x := range first {
				l.Cuts = append(l.Cuts, k.copyCut(x, n, y.shift.Sub(k.cavities[0].shift)))
			}
			continue
		}
		v := venter{work: k, n: n, shift: y.shift.Sub(c), rim: k.openRim(n), balls: k.mouths(y.channels)}
		for i := range v.balls { // as the master stands in its own file
			v.balls[i].At = v.balls[i].At.Sub(y.shift)
		}
		v.now = k.trapped(v.balls)
		before += v.now.Trapped
		v.pockets()
		v.deadEnds()
		v.spare(len(y.flows) + len(y.feeds))
		if n == 0 {
			first = v.cuts
			l.After = k.stated(v.now)
		}
		after += v.now.Trapped
		l.Cuts = append(l.Cuts, v.cuts...)
		k.pocketFindings(v.now, n)
	}
	low := math.Inf(1)
	for i := range l.Cuts {
		l.Cuts[i].No = i + 1
		for _, p := range l.Cuts[i].Path {
			low = math.Min(low, p.Y)
		}
	}
	if len(l.Cuts) > 0 {
		h := l.Size.Y/2 - low + jetHead
		l.figure("vent slit that does not flood, at the lowest cut", k.d.VentSlit(h), "mm", "2 gamma |cos| / (rho g h), h with 50 mm of jet", youngLap,
			map[string]float64{"gamma, N/m": k.d.Tension, "cos": k.d.CosVent, "rho, kg/m3": k.d.DensityLiquid, "h, mm": h})
	}
	l.figure("hanging bore that metal bridges, under", k.d.BridgeBore(), "mm", "2 sqrt(0.842 gamma / (rho g))", "critical Bond number of long bubbles in tubes, J. Fluid Mech. 10 (1961), an analogy",
		map[string]float64{"gamma, N/m": k.d.Tension, "rho, kg/m3": k.d.DensityLiquid})
	l.figure("air left before cuts", before, "mm3", "merge tree of height, air leaving by cup, feeders and flow-offs", "own method: metal that rises slowly from below", nil)
	l.figure("air left after cuts", after, "mm3", "merge tree of height, air leaving by cup, feeders, flow-offs and cuts", "own method: metal that rises slowly from below", map[string]float64{"limit, mm3": airLeft * k.volume})
}

// venter cuts the vents of one cavity. shift takes the work frame of its master
// to the block frame.
type venter struct {
	*work
	n     int
	shift vec.V3
	rim   []vec.V3 // the parting line where open air is beside it, block frame
	balls []pockets.Ball
	now   *pockets.Stand
	cuts  []Cut
}

// openRim returns the points of the parting line of cavity n that have open air
// beside them, block frame.
func (k *work) openRim(n int) []vec.V3 {
	a := k.l.away
	if k.open == nil {
		k.open = a.open()
	}
	var rim []vec.V3
	var loops [][]vec.V3
	if k.split.Back == nil {
		loops = k.l.Surface.Lines(k.l.bodies[n])
	} else { // the surface lies in the back, so the split's own line is taken
		t := k.cavities[n].shift.Sub(k.block.Centre())
		for _, loop := range k.split.Line {
			var r []vec.V3
			for i, p := range loop {
				p, q := k.w.To(p).Add(t), k.w.To(loop[(i+1)%len(loop)]).Add(t)
				m := int(p.Dist(q)/a.h) + 1
				for s := range m {
					r = append(r, p.Lerp(q, float64(s)/float64(m)))
				}
			}
			loops = append(loops, r)
		}
	}
	for _, loop := range loops {
		for _, p := range loop {
			if fromInserts(k.l.Inserts, vec.V2{X: p.X, Y: p.Y}) < 0.5 { // the insert shuts it
				continue
			}
			q := a.node(p.X, p.Y)
			for _, r := range [9]int{0, 1, -1, a.nx, -a.nx, a.nx + 1, a.nx - 1, -a.nx + 1, -a.nx - 1} {
				if s := q + r; s >= 0 && s < len(k.open) && k.open[s] {
					rim = append(rim, p)
					break
				}
			}
		}
	}
	return rim
}

// pockets cuts one pocket after another, the largest first, each time on what
// the cuts before left.
func (v *venter) pockets() {
	var off []pockets.Pocket
	for len(v.cuts) < mostCuts {
		i := 0
		for i < len(v.now.Pockets) && known(off, v.now.Pockets[i]) {
			i++
		}
		if i == len(v.now.Pockets) {
			return
		}
		p := v.now.Pockets[i]
		at, ok := ventPoint(v.rim, p, v.shift)
		var cut Cut
		if ok {
			cut, ok = v.cutFrom(at)
		}
		if !ok {
			off = append(off, p)
			continue
		}
		try := append(v.balls[:len(v.balls):len(v.balls)], pockets.Ball{At: at.Sub(v.shift), Radius: ballOfKnife})
		t := v.trapped(try)
		if gain := v.now.Trapped - t.Trapped; gain < 0.5*p.Volume {
			off = append(off, p)
			if gain < 0.1*p.Volume {
				continue
			}
		}
		cut.Why, cut.When, cut.Cavity = fmt.Sprintf("pocket of %.0f mm3", p.Volume), "now", v.n
		v.cuts = append(v.cuts, cut)
		v.balls, v.now = try, t
	}
}

// spare cuts one vent to either side of an ingate at the top where nothing else
// lets air out there, to be made if the casting stays short: air then need not
// leave against the stream.
func (v *venter) spare(others int) {
	if others+len(v.cuts) > 0 {
		return
	}
	g := v.cavities[v.n].gate.Sub(v.block.Centre())
	apart := math.Max(8, 0.2*v.box.Size().X)
	for _, side := range []float64{-1, 1} {
		best, high := -1, math.Inf(-1)
		for i, p := range v.rim {
			if dx := side * (p.X - g.X); dx >= apart && p.Y-0.1*dx > high {
				best, high = i, p.Y-0.1*dx
			}
		}
		if best < 0 || v.box.Max.Y+v.shift.Y-v.rim[best].Y > 0.3*v.box.Size().Y {
			continue
		}
		if c, ok := v.cutFrom(v.rim[best]); ok {
			c.Why, c.When, c.Cavity = "air beside the stream", "if short", v.n
			v.cuts = append(v.cuts, c)
		}
	}
}

func known(list []pockets.Pocket, p pockets.Pocket) bool {
	for _, q := range list {
		if q.At.Dist(p.At) < 1e-3+0.02*math.Cbrt(p.Volume) {
			return true
		}
	}
	return false
}

// ventPoint returns the rim's point that opens the most of the pocket: high,
// above the saddle, and near the pocket's top.
func ventPoint(rim []vec.V3, p pockets.Pocket, shift vec.V3) (vec.V3, bool) {
	at := p.At.Add(shift)
	saddle := p.Saddle + shift.Y
	best, cost := -1, math.Inf(1)
	for i, r := range rim {
		if r.Y <= saddle+1e-9 || r.Y > at.Y+1e-6 { // higher than its top is not the pocket
			continue
		}
		if c := at.Y - r.Y + 0.3*r.Dist(at); c < cost-1e-12 {
			best, cost = i, c
		}
	}
	if best < 0 || cost > 3*math.Cbrt(p.Volume)+0.5*(at.Y-saddle)+5 {
		return vec.V3{}, false
	}
	return rim[best], true
}

// cutFrom leads a cut from v on the parting line to the block's upper side,
// clear of other metal and of keys.
func (k *work) cutFrom(v vec.V3) (Cut, bool) {
	l := k.l
	f := l.away
	top := l.Size.Y / 2
	free := func(x, y float64) float64 {
		d := f.free(x, y)
		for _, q := range l.Keys {
			p := q.At
			d = math.Min(d, math.Hypot(x-p.X, y-p.Y)-q.Diameter/2-(keyClear-cutClear))
		}
		d = math.Min(d, fromInserts(l.Inserts, vec.V2{X: x, Y: y}))
		return math.Min(d, l.Size.X/2-math.Abs(x))
	}
	r := &router{lo: vec.V2{X: -l.Size.X / 2, Y: -l.Size.Y / 2}, hi: vec.V2{X: l.Size.X / 2, Y: top + 1},
		step: math.Max(0.5, f.h), slack: 1.5 * f.h, easy: cutClear, free: free, extra: func(x, y float64) float64 { return math.Max(0, cutClear-free(x, y)) }}
	q := f.node(v.X, v.Y)
	out := f.outward(q, 3)
	p := vec.V2{X: v.X, Y: v.Y}
	start := p.Add(out.Mul(f.h))
	var w way
	ok := false
	for _, clear := range []float64{cutClear, cutClear / 2, cutClear / 4} { // narrow gaps let less
		if w, ok = r.find(start, p, clear, func(q vec.V2) bool { return q.Y >= top }); ok {
			break
		}
	}
	if !ok {
		return Cut{}, false
	}
	c := Cut{Half: 1, Depth: cutDepth}
	c.Path = append(c.Path, v)
	for i, a := range w.p {
		if i > 0 { // along the parting surface, in steps that follow it
			b := w.p[i-1]
			n := int(a.Add(b.Mul(-1)).Len()/2) + 1
			for s := 1; s <= n; s++ {
				x := b.Add(a.Add(b.Mul(-1)).Mul(float64(s) / float64(n)))
				x.Y = math.Min(x.Y, top)
				c.Path = append(c.Path, vec.V3{X: x.X, Y: x.Y, Z: l.Surface.At(x.X, x.Y)})
			}
		}
	}
	low := v.Y
	for _, x := range c.Path {
		low = math.Min(low, x.Y)
	}
	slit := k.d.VentSlit(top - low + jetHead)
	c.Width = math.Max(thinSlit, math.Floor(math.Min(slit, thickSlit)/0.01)*0.01)
	if l.Back != nil && l.Back.Side > 0 {
		c.Half = 2
	}
	return c, true
}

// deadEnds cuts a way round to the top from hanging tips that metal from above
// would bridge (J vent), or says why there is none.
func (v *venter) deadEnds() {
	l := v.l
	limit := v.d.BridgeBore()
	for _, e := range v.stand.DeadEnds {
		if e.Bore >= limit {
			continue
		}
		at := v.w.To(e.At)
		if v.cavities[v.n].gate.Sub(v.cavities[v.n].shift).Dist(at) < e.Depth { // it is filled from its tip
			continue
		}
		best, cost := -1, 0.5*e.Bore+1
		for i, r := range v.rim {
			if d := r.Dist(at.Add(v.shift)); d < cost {
				best, cost = i, d
			}
		}
		if best >= 0 {
			if c, ok := v.cutFrom(v.rim[best]); ok {
				c.When, c.Why, c.Cavity = "now", fmt.Sprintf("hanging bore of %.1f mm", e.Bore), v.n
				v.cuts = append(v.cuts, c)
				continue
			}
		}
		n := v.n + 1
		f := limited(l.finding("dead-end", "should", &e.At, fmt.Sprintf("metal from above bridges this hanging bore of %.1f mm (under %.1f mm) and shuts its air in; no knife reaches its tip on the parting face", e.Bore, limit),
			"turn the piece by [stand] up so that it fills from below, move the parting line to the tip, or set a wire insert"), e.Bore, limit)
		f.Cavity = &n
	}
}

// copyCut gives cavity n a cut of the first, moved by t; led anew, since keys
// stand elsewhere beside it.
func (k *work) copyCut(c Cut, n int, t vec.V3) Cut {
	if r, ok := k.cutFrom(c.Path[0].Add(t)); ok {
		r.Why, r.When, r.Cavity = c.Why, c.When, n
		return r
	}
	p := make([]vec.V3, len(c.Path))
	crossed := false
	for i, x := range c.Path {
		x = x.Add(t)
		if i > 0 {
			x.Z = k.l.Surface.At(x.X, x.Y)
		}
		p[i] = x
		crossed = crossed || fromInserts(k.l.Inserts, vec.V2{X: x.X, Y: x.Y}) < 0
	}
	c.Path, c.Cavity = p, n
	if crossed {
		k.l.finding("insert", "should", nil, fmt.Sprintf("a vent of cavity %d runs through an insert", n+1), "lead the cut round it at the bench, or ask more room by [block] margin")
	}
	return c
}

// stated takes a stand of the work frame to the master frame.
func (k *work) stated(s *pockets.Stand) *pockets.Stand {
	r := *s
	r.Up = k.w.Y
	r.Outlet = k.w.From(s.Outlet)
	r.Pockets = nil
	for _, p := range s.Pockets {
		p.At = k.w.From(p.At)
		r.Pockets = append(r.Pockets, p)
	}
	r.DeadEnds = k.stand.DeadEnds
	r.Tried = nil
	return &r
}

// pocketFindings names the pockets that no cut reaches, with their remedy.
func (k *work) pocketFindings(s *pockets.Stand, cavity int) {
	for _, p := range s.Pockets {
		if p.Volume <= airLeft*k.volume {
			continue
		}
		z := p.At.Z
		half, to := 1, k.block.Max.Z-z
		if z < k.lineAt(p.At.X, p.At.Y) {
			half, to = 2, z-k.block.Min.Z
		}
		sev := "should"
		if p.Volume > 0.02*k.volume {
			sev = "must"
		}
		f := limited(k.l.finding("pocket", sev, k.master(p.At),
			fmt.Sprintf("%.0f mm3 of air stay under this place, which lies off the parting face, so that no knife reaches it", p.Volume),
			fmt.Sprintf("prick through the back of half %d (%.0f mm of rubber) with a needle and relieve the board there, set an insert, tilt the mould, or move the parting line to it", half, to)), p.Volume, airLeft*k.volume)
		n := cavity + 1
		f.Half, f.Cavity = &half, &n
	}
}

// Air evaluates the air that stays in the cavity as built (Solids.Cavity, block
// frame) when it leaves by the block's upper side, where cups, feeders and
// flow-offs open, and by the cuts. Points are in the block frame.
func (l *Layout) Air(cavity *mesh.Mesh) (*pockets.Stand, error) {
	o := pockets.Outlets{Only: true, Slabs: []pockets.Slab{{At: vec.V3{Y: l.Size.Y / 2}, Normal: vec.V3{Y: 1}, Half: 0.01}}}
	for _, c := range l.Cuts {
		o.Balls = append(o.Balls, pockets.Ball{At: c.Path[0], Radius: ballOfKnife})
	}
	return pockets.Evaluate(cavity, vec.V3{Y: 1}, o, 0)
}
