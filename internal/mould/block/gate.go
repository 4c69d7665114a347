package block

import (
	"math"

	"pourwright/internal/ground/vec"
)

// gate is where metal enters one cavity, work frame.
type gate struct {
	at      vec.V3 // on the master, on the parting line
	section float64
	width   float64 // of the master along the parting line there
	a, b    float64 // half axes of the ingate
	forced  bool
	score   float64
}

const (
	ingateLength = 3.0 // mm; common practice 2-5
	gateInto     = 1.0 // mm the ingate's end stands in the metal, at least
	cupRubber    = 8.0 // mm round cups and sprues; our own default
)

// findGate chooses the place of the ingate on the upper rim of the shadow,
// where a channel straight to the cup side stays clear of the casting.
func (k *work) findGate() {
	f := k.f
	within := distance(f.nx, f.ny, f.h, func(q int) bool { return !f.metal(q) })
	top := make([]int, f.nx)
	for i := range top {
		top[i] = -1
		for j := f.ny - 1; j >= 0; j-- {
			if f.metal(j*f.nx + i) {
				top[i] = j
				break
			}
		}
	}
	height := k.box.Size().Y
	reach := 12.0
	best := gate{score: math.Inf(-1)}
	span := int(math.Ceil(reach / f.h))
	lump := make([]float64, f.nx)
	most := 0.0
	for i, j := range top {
		if j < 0 {
			continue
		}
		for s := j; s >= 0 && float64(j-s)*f.h <= 6; s-- {
			q := s*f.nx + i
			if !f.metal(q) {
				break
			}
			lump[i] = math.Max(lump[i], math.Min(within[q], (f.hi[q]-f.lo[q])/2))
		}
		most = math.Max(most, lump[i])
	}
	for i, j := range top {
		if j < 0 {
			continue
		}
		rise := 0
		for s := max(0, i-span); s <= min(f.nx-1, i+span); s++ {
			rise = max(rise, top[s]-j)
		}
		p := f.xy(j*f.nx + i)
		g := gate{section: 2 * lump[i]}
		g.at = vec.V3{X: p.X, Y: p.Y, Z: k.lineAt(p.X, p.Y)}
		g.score = lump[i]/most - (k.box.Max.Y-p.Y)/height - 2*float64(rise)*f.h/reach -
			0.2*math.Abs(p.X-k.box.Centre().X)/math.Max(k.box.Size().X, 1e-9) + k.scar(g.at)
		if at := k.d.GateAt; at != nil {
			g.forced = true
			a := k.w.To(*at)
			g.score = -math.Hypot(a.X-p.X, a.Y-p.Y)
		}
		if g.score > best.score+1e-9 {
			best = g
		}
	}
	k.gate = best
}

// scar is the worth of a scar at p: less near a face that must not carry one,
// more near one that may.
func (k *work) scar(p vec.V3) float64 {
	r := 0.15 * k.box.Longest()
	s := 0.0
	for _, q := range k.d.Show {
		s -= 2 * math.Max(0, 1-k.w.To(q).Dist(p)/r)
	}
	for _, q := range k.d.Hide {
		s = math.Max(s, 1.5*math.Max(0, 1-k.w.To(q).Dist(p)/(2*r)))
	}
	return s
}

// feed sizes ingate, sprue and cup and sets the rim.
func (k *work) feed() {
	d := &k.d
	g := &k.gate
	t := math.Max(g.section, 1)
	head := math.Max(30, d.SlotHead(t, 1)+15)
	k.rim = k.box.Max.Y + head
	k.l.Head = head
	h := k.rim - g.at.Y
	fill := d.FillTime
	if fill <= 0 {
		fill = min(max(d.Freeze*t*t/4/3, 0.5), 4)
	}
	const discharge = 0.6
	area := k.volume / (fill * discharge * math.Sqrt(2*Gravity*1e3*h))
	r := math.Sqrt(area / math.Pi)
	g.b = min(max(r, 1.25), max(0.45*t, 1))
	g.a = min(max(area/(math.Pi*g.b), 1.5), 6)
	into := math.Max(gateInto, 0.25*t)
	rimR := max(9, 1.3*g.a)
	throat := max(1.25*g.a, 3)
	z := g.at.Z
	c := Channel{Name: "ingate", Lie: k.lie(), Rings: []Ring{
		{vec.V3{X: g.at.X, Y: g.at.Y - into, Z: z}, g.a, g.b},
		{vec.V3{X: g.at.X, Y: g.at.Y + ingateLength, Z: z}, g.a * 1.1, g.b * 1.1},
		{vec.V3{X: g.at.X, Y: g.at.Y + ingateLength + 4, Z: z}, throat, throat},
		{vec.V3{X: g.at.X, Y: max(k.rim-18, g.at.Y+ingateLength+6), Z: k.edge}, throat * 1.1, throat * 1.1},
		{vec.V3{X: g.at.X, Y: k.rim + 1, Z: k.edge}, rimR, rimR},
	}}
	k.channels = []Channel{c}
	_ = fill
}

// several places the cavities side by side.
func (k *work) several() {
	n := max(1, k.d.Cavities)
	b := vec.Empty()
	b = b.Join(k.box)
	for i := range k.channels {
		b = b.Join(k.channels[i].Mesh().Box())
	}
	h := k.f.h
	step := math.Ceil((b.Size().X+10)/h) * h
	k.shifts = nil
	for i := range n {
		k.shifts = append(k.shifts, vec.V3{X: float64(i) * step})
	}
}
