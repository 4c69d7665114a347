package block

import (
	"fmt"
	"math"
	"slices"

	"pourwright/internal/book/plan"
	"pourwright/internal/ground/vec"
)

// feed sizes ingate, sprue and cup and sets the rim of the block.
func (k *work) feed() {
	d, l := &k.d, k.l
	thin, ends := k.thinHead()
	fill, t := k.fillTime()
	if d.FillTime <= 0 {
		l.figure("fill time wanted", fill, "s", "a sixth of the freezing time of the thinnest section, Freeze (t/2)^2 / 6, kept within 0.4 and 4 s, no faster than the ladle pours: volume / 1000 / ladle_rate",
			"planar freezing law; the share is "+ours, map[string]float64{"t, mm": t, "Freeze, s/mm2": d.Freeze, "ladle_rate, cm3/s": d.LadleRate, "volume, mm3": k.volume})
	}
	cup := k.cupFor()
	l.figure("cup volume", math.Pi*cup.depth*(cup.rim*cup.deep+math.Sqrt(cup.rim*cup.deep)*cup.throat+cup.throat*cup.throat)/3, "mm3",
		"pi d (a b + sqrt(a b) r + r^2) / 3, at least a fifth of the casting and 1.5 cm3", ours,
		map[string]float64{"d, mm": cup.depth, "a, mm": cup.rim, "b, mm": cup.deep, "r, mm": cup.throat, "wanted, mm3": math.Max(1500, 0.2*k.volume)})
	g := &k.gate
	top := math.Max(k.box.Max.Y, k.wayTop())
	head := math.Max(leastHead, top+cup.depth-k.box.Max.Y)
	rule := "least head"
	if head > leastHead {
		rule = "room for ingate, sprue and cup"
	}
	if thin.head > head {
		head, rule = thin.head, "head over a thin end"
	}
	if k.above > 0 { // under another casting: the rim is given
		head = k.rim - k.box.Max.Y
	}
	if head > mostHead && k.above == 0 {
		k.thinFinding(thin, head)
		head = math.Max(mostHead, top+cup.depth-k.box.Max.Y)
		rule = "greatest head"
	}
	if k.above == 0 {
		k.headRule = rule
		k.rim = k.box.Max.Y + head
		l.Head = head
	}
	area := k.ingateArea(fill)
	a, b := k.ingateAxes(area)
	share, high := 1.0, 2*b // of the oval that is open
	if k.lie() != Both {
		share, high = 0.5, b
	}
	if ends {
		l.Ends = append(l.Ends, End{At: *k.master(thin.s.at), Thickness: thin.s.t, Width: thin.s.w, Head: k.rim - stopUnder - thin.s.mid.Y})
	}
	l.Ends = append(l.Ends, End{At: *k.master(g.at), Thickness: math.Min(2*a, high), Width: math.Max(2*a, high), Head: k.rim - stopUnder - g.at.Y})
	got := math.Pi * a * b * share
	took := fill * area / got
	l.figure("ingate area", got, "mm2", "pi a b x share of the oval; near the area wanted, no thicker than 0.9 of the section it feeds, no less than a third of its radius", ours,
		map[string]float64{"wanted, mm2": area, "a, mm": a, "b, mm": b, "share": share})
	if took > 1.5*fill {
		limited(l.finding("gate", "should", k.master(g.at), fmt.Sprintf("the ingate fits the section only at %.0f mm2, so filling takes about %.1f s instead of %.1f s", got, took, fill),
			"warm the mould more, thicken the section at the ingate, or name a thicker place by [gate] at"), took, fill)
	}
	if need := d.SlotHead(2*a, 1) + d.SlotHead(high, 1); need > k.rim-stopUnder-g.at.Y {
		limited(l.finding("head", "must", k.master(g.at), fmt.Sprintf("metal does not enter the ingate, which asks %.0f mm of head", need),
			"name a thicker place by [gate] at"), k.rim-stopUnder-g.at.Y, need)
	}
	if !g.reached {
		l.finding("gate", "must", k.master(g.at), "no channel can be led from the ingate to the cup side clear of the casting", "name another place by [gate] at, or another way up by [stand] up")
	}
	k.channels = append(k.channels, k.sprue(a, b, cup))
}

// fillTime returns the time in s in which one cavity should fill, and the
// thinnest section, mm.
func (k *work) fillTime() (fill, t float64) {
	d := &k.d
	t = k.thinnest()
	if d.Thinnest > 0 {
		t = math.Min(t, d.Thinnest)
	}
	fill = d.FillTime
	if fill <= 0 {
		fill = min(max(d.Freeze*t*t/4/6, 0.4), 4)
	}
	return math.Max(fill, k.volume/1e3/d.LadleRate), t
}

// thinnest returns the thickness that 2 % of the skin undercut, sharp edges
// apart.
func (k *work) thinnest() float64 {
	var ts []float64
	for i := range k.sections {
		if !k.sections[i].edge {
			ts = append(ts, k.sections[i].t)
		}
	}
	if len(ts) == 0 {
		return k.box.Longest()
	}
	slices.Sort(ts)
	return quantile(ts, 0.02)
}

// thin is the place that asks the most head.
type thin struct {
	head float64 // above the casting's top
	s    section
}

// thinHead returns the head that all but half a percent of the skin asks; the
// rest are sharp edges, which surface tension rounds. ok is false where there
// are no sections but edges; then the head is what an edge asks, none over it.
func (k *work) thinHead() (t thin, ok bool) {
	n := len(k.sections)
	if n == 0 {
		return thin{}, false
	}
	order := make([]int, n)
	need := make([]float64, n)
	least := k.thinnest()
	for i := range order {
		s := &k.sections[i]
		if k.d.Thinnest > 0 && s.t < 1.2*least { // calipers overrule the scan
			s.t = math.Min(s.t, math.Max(k.d.Thinnest, 0.05))
		}
		order[i] = i
		need[i] = s.mid.Y + s.head(&k.d) + stopUnder - k.box.Max.Y
	}
	slices.SortFunc(order, func(a, b int) int {
		if c := cmpFloat(need[a], need[b]); c != 0 {
			return c
		}
		return a - b
	})
	q := int(0.995 * float64(n-1))
	t.head = need[order[q]]
	for ; q >= 0 && k.sections[order[q]].edge; q-- { // an edge asks nothing: the section below it governs
	}
	if q < 0 {
		return t, false
	}
	t.s = k.sections[order[q]]
	s := &t.s
	asks := s.head(&k.d)
	k.l.figure("head over a thin end", asks, "mm", "2 gamma (1/t + 1/w) / (rho g), |cos| = 1", youngLap,
		map[string]float64{"t, mm": s.t, "w, mm": s.w, "gamma, N/m": k.d.Tension, "rho, kg/m3": k.d.DensityLiquid})
	k.l.figure("rim over the casting's top for that end", math.Max(0, need[order[q]]), "mm", "y + head + 3, at least 0; y is the end's height over the top", ours,
		map[string]float64{"y, mm": s.mid.Y - k.box.Max.Y, "head, mm": asks})
	return t, true
}

func (k *work) thinFinding(t thin, head float64) {
	have := mostHead
	limited(k.l.finding("head", "must", k.master(t.s.at),
		fmt.Sprintf("a section of %.1f mm asks a rim %.0f mm above the casting's top; %.0f mm is the most laid out", t.s.t, head, have),
		"thicken it, turn the piece by [stand] up so that it lies lower, or set a wire insert there"), have, head)
}

// bowl is the cup: a cone from its throat to the rim.
// It is an oval where the casting is thin along the pull, so that it does not
// thicken the block.
type bowl struct{ depth, rim, deep, throat float64 }

// cupFor sizes the cup by the metal it must hold in reserve.
func (k *work) cupFor() bowl {
	want := math.Max(1500, 0.2*k.volume)
	throat := min(max(0.35*k.gate.depth, 3.5), 8)
	r := 8.0
	hold := func(r float64) float64 { return math.Pi * 1.6 * r * (r*r + r*throat + throat*throat) / 3 }
	for hold(r) < want && r < 20 {
		r += 0.5
	}
	deep := r
	if most := math.Max(6, k.box.Size().Z/2+plainMargin-cupRubber); k.lie() == Both && deep > most {
		deep = most
	}
	wide := math.Min(r*r/deep, 2*r)
	throat = math.Min(throat, deep)
	return bowl{depth: 1.6 * r, rim: wide, deep: deep, throat: throat}
}

// wayTop is the height of the foot of the cup.
func (k *work) wayTop() float64 {
	if w := k.gate.way.p; len(w) > 0 {
		return w[len(w)-1].Y
	}
	return k.gate.at.Y + ingateLength + 4
}

// ingateArea returns the area in mm2 that fills the casting in the given time:
// the part below the ingate under the full head, the part above it under a head
// that falls from h1 to h2.
func (k *work) ingateArea(fill float64) float64 {
	f := k.f
	below := 0.0
	for q := range f.lo {
		if f.xy(q).Y <= k.gate.at.Y {
			for _, s := range f.cols.Of(q) {
				below += s.Hi - s.Lo
			}
		}
	}
	below = math.Min(below*f.h*f.h, k.volume)
	h1 := k.rim - stopUnder - k.gate.at.Y
	h2 := math.Max(0, k.rim-stopUnder-k.box.Max.Y)
	area := torricelli(below, k.volume-below, h1, h2, discharge) / fill
	k.l.figure("ingate area wanted", area, "mm2", "[V_below / sqrt(h1) + 2 V_above / (sqrt(h1) + sqrt(h2))] / (C_d fill_time sqrt(2 g))",
		"Torricelli; above the ingate the head falls, mean of the two roots",
		map[string]float64{"V_below, mm3": below, "V_above, mm3": k.volume - below, "h1, mm": h1, "h2, mm": h2, "C_d": discharge, "fill_time, s": fill})
	return area
}

// torricelli returns A t in mm2 s for volumes (mm3) below and above the
// ingate, heads (mm) over the ingate and over the casting's top, and a
// discharge coefficient: the upper part has a constant cross-section, so its
// mean speed is that of the mean of the two roots.
func torricelli(below, above, h1, h2, cd float64) float64 {
	g := math.Sqrt(2 * Gravity * 1e3)
	return (below/math.Sqrt(h1) + above*2/(math.Sqrt(h1)+math.Sqrt(h2))) / (cd * g)
}

// ingateAxes gives the half axes of an oval of the area, no higher than 0.9 of
// the section that it feeds and no wider than 0.9 of it.
func (k *work) ingateAxes(area float64) (a, b float64) {
	g := &k.gate
	if k.lie() != Both {
		area *= 2 // half of the oval is used
	}
	most := 0.45 * math.Max(g.depth, 1)
	if k.lie() != Both {
		most *= 2
	}
	wide := min(max(0.45*g.width, 1), 10)
	// A thick place is fed by no less than a third of its radius, up to 3 mm.
	r := math.Max(math.Sqrt(area/math.Pi), math.Min(g.lump/3, 3))
	area = math.Max(area, math.Pi*r*r)
	b = min(max(r, 1.25), most)
	a = min(max(area/(math.Pi*b), 1.25), wide)
	b = min(max(area/(math.Pi*a), b), most)
	return a, b
}

// sprue builds the chain of frusta from the casting to beyond the rim: no
// section is narrower than the one below it.
func (k *work) sprue(a, b float64, cup bowl) Channel {
	g := &k.gate
	p := vec.V2{X: g.at.X, Y: g.at.Y}
	w := g.way.p
	if len(w) == 0 {
		w = []vec.V2{p.Add(vec.V2{Y: ingateLength + 1}), {X: p.X, Y: k.wayTop()}}
	}
	out := w[0].Add(p.Mul(-1)).Mul(1 / (ingateLength + 1))
	into := math.Max(1, math.Min(0.5*g.lump, 3))
	r := min(max(math.Sqrt(a*b)*1.2, 2.5), 4)
	throat := math.Max(math.Max(cup.throat, r), 1.05*math.Max(a, b))
	from := k.rim - cup.depth
	pts := []vec.V2{p.Add(out.Mul(-into)), p.Add(out.Mul(ingateLength))}
	ax := []float64{a, 1.05 * a}
	bx := []float64{b, 1.05 * b}
	last := len(w) - 1
	total := 0.0
	for i := 1; i <= last; i++ {
		total += w[i].Add(w[i-1].Mul(-1)).Len()
	}
	total += math.Max(0, from-w[last].Y)
	run := 0.0
	grow := func(q vec.V2) {
		s := run / math.Max(total, 1e-9)
		pts = append(pts, q)
		x := r + (throat-r)*s
		ax = append(ax, math.Max(x, ax[1]+(throat-ax[1])*math.Min(1, s)))
		bx = append(bx, math.Max(x, bx[1]))
	}
	for i := 1; i <= last; i++ {
		run += w[i].Add(w[i-1].Mul(-1)).Len()
		if run > 4 && w[i].Y < from-1 || i < last {
			grow(w[i])
		}
	}
	run = total
	foot := vec.V2{X: w[last].X, Y: math.Max(from, w[last].Y+1e-3)}
	pts, ax, bx = append(pts, foot), append(ax, math.Max(throat, ax[len(ax)-1])), append(bx, math.Max(throat, bx[len(bx)-1]))
	over := 1.0
	ta, tb := ax[len(ax)-1], bx[len(bx)-1]
	ra, rb := math.Max(cup.rim, 1.3*ta), math.Max(cup.deep, 1.05*tb)
	more := 1 + over/(k.rim-foot.Y)
	pts, ax, bx = append(pts, vec.V2{X: foot.X, Y: k.rim + over}), append(ax, ta+(ra-ta)*more), append(bx, tb+(rb-tb)*more)
	return k.chain("ingate", pts, ax, bx, g.at.Z, k.edge, len(pts)-2)
}

// chain makes a channel through points of the parting face. Its height goes
// from z0 at the first point evenly to z1 at point flat and stays there; on a
// flat back it lies on the back.
func (k *work) chain(name string, p []vec.V2, a, b []float64, z0, z1 float64, flat int) Channel {
	c := Channel{Name: name, Lie: k.lie()}
	run := make([]float64, len(p))
	for i := 1; i < len(p); i++ {
		run[i] = run[i-1] + p[i].Add(p[i-1].Mul(-1)).Len()
	}
	for i := range p {
		s := 0.0
		if i > 0 && run[flat] > run[1] {
			s = min(max((run[i]-run[1])/(run[flat]-run[1]), 0), 1)
		}
		z := z0 + (z1-z0)*s
		if k.split.Back != nil {
			z = k.edge
		}
		c.Rings = append(c.Rings, Ring{vec.V3{X: p[i].X, Y: p[i].Y, Z: z}, a[i], b[i]})
	}
	c.ease()
	return c
}

// master takes a point of the work frame to the master frame.
func (k *work) master(p vec.V3) *vec.V3 {
	q := k.w.From(p)
	return &q
}

// overruledGate says what the job's ingate costs against the search's own.
func (k *work) overruledGate(free gate) {
	g := k.gate
	t := plan.Trial{What: "ingate where the search puts it", Result: fmt.Sprintf("at (%.1f, %.1f, %.1f), feeds a lump of %.1f mm, sprue %.0f mm", k.master(free.at).X, k.master(free.at).Y, k.master(free.at).Z, 2*free.lump, free.way.length()), Score: plan.Ptr(sum4(free.why))}
	u := plan.Trial{What: "ingate where the job puts it", Result: fmt.Sprintf("feeds a lump of %.1f mm, sprue %.0f mm", 2*g.lump, g.way.length()), Score: plan.Ptr(sum4(g.why)), Kept: true}
	k.l.Tried = append(k.l.Tried, t, u)
	say := fmt.Sprintf("the ingate of [gate] at overrules the search: it feeds a section of %.1f mm where %.1f mm was open to it, by a sprue of %.0f mm instead of %.0f mm", 2*g.lump, 2*free.lump, g.way.length(), free.way.length())
	if g.moved > 2*k.f.h {
		say += fmt.Sprintf("; the point lies off the parting line and was moved by %.1f mm", g.moved)
	}
	limited(k.l.finding("overruled", "note", k.master(g.at), say, "leave [gate] out to take the search's place"), sum4(g.why), sum4(free.why))
}

func sum4(x [4]float64) float64 { return x[0] + x[1] + x[2] + x[3] }
