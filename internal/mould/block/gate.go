package block

import (
	"math"
	"slices"

	"pourwright/internal/ground/vec"
)

const (
	ingateLength = 3.0  // mm; common practice 2-5
	cupRubber    = 8.0  // mm round cups and channels; our own default
	wayRubber    = 5.0  // mm between a channel and the casting beside it; our own default
	stopUnder    = 3.0  // mm that the metal stops under the rim; common practice 2-3
	leastHead    = 30.0 // mm from the casting's top to the rim; our own default
	mostHead     = 100.0
	discharge    = 0.6 // of a sharp-edged opening; textbook value
)

// gate is a place where metal could enter one cavity, work frame.
type gate struct {
	at      vec.V3  // on the master, on the parting line
	out     vec.V2  // away from the casting
	depth   float64 // thickness along the pull of the section behind it
	width   float64 // of that section along the line
	lump    float64 // radius of the metal behind it
	flat    float64 // area of the flat face it stands on, share of the skin
	score   float64
	why     [4]float64 // lump, height, scar and flat, way: the parts of the score
	way     way        // from the ingate's end to the foot of the cup
	moved   float64    // mm from the place that the job asked for
	forced  bool
	reached bool
}

// rims lists the places on the rim of the shadow from which the open air is
// reached across the parting face, clear of the inserts where there are such.
func (k *work) rims() []gate {
	f := k.f
	open := f.open()
	within := distance(f.nx, f.ny, f.h, func(q int) bool { return !f.metal(q) })
	var list, crowded []gate
	for j := 1; j < f.ny-1; j++ {
		for i := 1; i < f.nx-1; i++ {
			q := j*f.nx + i
			if !f.metal(q) || !(open[q-1] || open[q+1] || open[q-f.nx] || open[q+f.nx]) {
				continue
			}
			g := gate{out: f.outward(q, 4)}
			if g.out.Len() == 0 {
				continue
			}
			p := f.xy(q)
			g.at = vec.V3{X: p.X, Y: p.Y, Z: k.lineAt(p.X, p.Y)}
			k.seat(&g)
			reach := math.Max(8, 0.12*k.box.Longest())
			for s := 0.0; s <= reach; s += f.h {
				b := f.node(p.X-s*g.out.X, p.Y-s*g.out.Y)
				if !f.metal(b) {
					break
				}
				t := k.chord(b, g.at.Z)
				g.lump = math.Max(g.lump, math.Min(within[b], t/2))
				if s <= 3 {
					g.depth = math.Max(g.depth, t)
				}
			}
			for _, sign := range []float64{-1, 1} {
				for s := f.h; s <= 12; s += f.h {
					x, y := p.X-1.5*g.out.X-sign*s*g.out.Y, p.Y-1.5*g.out.Y+sign*s*g.out.X
					if !f.metal(f.node(x, y)) {
						break
					}
					g.width += f.h
				}
			}
			if fromInserts(k.inserts, vec.V2{X: p.X, Y: p.Y}) < insertRoom {
				crowded = append(crowded, g)
				continue
			}
			list = append(list, g)
		}
	}
	if len(list) == 0 {
		return crowded
	}
	return list
}

// seat moves the place along the pull so that an ingate stands with both sides
// in the metal a little inside the rim. Where the rim is an upright face, on
// which the parting line may run anywhere, the height of the block's edge is
// taken, so that the parting stays flat.
func (k *work) seat(g *gate) {
	if k.split.Back != nil {
		return
	}
	lo, hi, ok := k.stretch(k.f.node(g.at.X-1.2*g.out.X, g.at.Y-1.2*g.out.Y), g.at.Z)
	if !ok {
		return
	}
	z := g.at.Z
	// On a round rim the stretch 0.5 mm inside is 0.65 of that 1.2 mm inside.
	l, h, _ := k.stretch(k.f.node(g.at.X-0.5*g.out.X, g.at.Y-0.5*g.out.Y), z)
	if h-l > 0.85*(hi-lo) {
		z = k.edge
	}
	m := math.Min((hi-lo)/2, 2.5)
	g.at.Z = min(max(z, lo+m), hi-m)
}

// stretch returns the stretch of metal of column q that holds z or lies within
// 2 mm of it.
func (k *work) stretch(q int, z float64) (lo, hi float64, ok bool) {
	best := 2.0
	for _, s := range k.f.cols.Of(q) {
		if d := math.Max(0, math.Max(s.Lo-z, z-s.Hi)); d < best {
			best, lo, hi, ok = d, s.Lo, s.Hi, true
		}
	}
	return lo, hi, ok
}

// chord returns the length of the stretch of metal of column q that holds z,
// or of the nearest one.
func (k *work) chord(q int, z float64) float64 {
	best, t := math.Inf(1), 0.0
	for _, s := range k.f.cols.Of(q) {
		if d := math.Max(0, math.Max(s.Lo-z, z-s.Hi)); d < best {
			best, t = d, s.Hi-s.Lo
		}
	}
	return t
}

// findGate chooses the place of the ingate and the way to the cup.
func (k *work) findGate() {
	list := k.rims()
	most := 1e-9
	for _, g := range list {
		most = math.Max(most, g.lump)
	}
	size := k.box.Size()
	fill, _ := k.fillTime()
	want := torricelli(0, k.volume, size.Y/2+leastHead, leastHead, discharge) / fill
	for i := range list {
		g := &list[i]
		g.flat = k.flatAt(g)
		fits := math.Pi * 0.2 * math.Max(g.depth, 0.5) * math.Min(math.Max(g.width, 1), 22) // 0.45 of both
		g.why[0] = g.lump/most - math.Max(0, 1-fits/want)
		g.why[1] = -0.8 * (k.box.Max.Y - g.at.Y) / math.Max(size.Y, 1e-9)
		g.why[2] = k.scar(g.at) + 0.4*math.Min(1, g.flat/0.02)
		g.score = g.why[0] + g.why[1] + g.why[2] + 0.3*g.out.Y - 0.1*math.Abs(g.at.X-k.box.Centre().X)/math.Max(size.X, 1e-9)
	}
	free := k.best(list)
	k.gate = free
	if k.d.GateAt == nil {
		return
	}
	a := k.w.To(*k.d.GateAt)
	for i := range list {
		list[i].score = -list[i].at.Dist(a)
	}
	g := k.best(list)
	g.forced, g.moved = true, g.at.Dist(a)
	for i := range list {
		if list[i].at == g.at {
			g.why = list[i].why
		}
	}
	k.gate = g
	k.overruledGate(free)
}

// best returns the first of the best places, no two of them near each other,
// to which a channel can be led.
func (k *work) best(list []gate) gate {
	order := make([]int, len(list))
	for i := range order {
		order[i] = i
	}
	round := func(x float64) float64 { return math.Round(x * 1e6) }
	slices.SortStableFunc(order, func(a, b int) int {
		return -cmpFloat(round(list[a].score), round(list[b].score))
	})
	apart := math.Max(3, 0.04*k.box.Longest())
	most := 16
	if k.above > 0 { // the upper rim lies under another casting
		most = 64
	}
	var tried []gate
	best := gate{score: math.Inf(-1)}
	for _, i := range order {
		g := list[i]
		if slices.ContainsFunc(tried, func(o gate) bool { return o.at.Dist(g.at) < apart }) {
			continue
		}
		if len(tried) == most || len(tried) > 3 && g.score < best.score {
			break
		}
		tried = append(tried, g)
		w, ok := k.lead(&g)
		if !ok {
			continue
		}
		g.reached, g.way = true, w
		g.why[3] = -0.5 * w.cost / math.Max(k.box.Longest(), 1e-9)
		g.score += g.why[3]
		if g.score > best.score {
			best = g
		}
	}
	if !best.reached && len(order) > 0 {
		best = list[order[0]]
	}
	return best
}

func cmpFloat(a, b float64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

// lead finds the way from the ingate's end at g to a place clear above the
// casting.
func (k *work) lead(g *gate) (way, bool) {
	r := 4.0 // half width of the channel that the way must hold
	p := vec.V2{X: g.at.X, Y: g.at.Y}
	start := p.Add(g.out.Mul(ingateLength + 1))
	if g.out.Y > 0.95 { // straight up, so that the sprue stands upright
		start = p.Add(vec.V2{Y: ingateLength + 1})
	}
	goal := math.Max(k.box.Max.Y+r+wayRubber, start.Y)
	if k.above > 0 {
		goal = k.box.Max.Y + k.above + r + wayRubber
	}
	return k.router().find(start, p, r+wayRubber, func(q vec.V2) bool { return q.Y >= goal-1e-9 && k.roomForCup(q.X) })
}

// router returns the router round one casting; ways beside it cost more, since
// they widen the block.
func (k *work) router() *router {
	out := 24.0
	return &router{
		lo: vec.V2{X: k.box.Min.X - out, Y: k.box.Min.Y - out}, hi: vec.V2{X: k.box.Max.X + out, Y: k.box.Max.Y + k.above + out},
		step: math.Max(1, k.box.Longest()/120),
		free: k.freeOfAll,
		extra: func(x, y float64) float64 {
			if x < k.box.Min.X || x > k.box.Max.X || y < k.box.Min.Y {
				return 1
			}
			return 0
		},
	}
}

// open marks the nodes without metal that are joined to the grid's rim.
func (f *face) open() []bool {
	seen := make([]bool, f.nx*f.ny)
	var stack []int
	push := func(q int) {
		if !seen[q] && !f.metal(q) {
			seen[q] = true
			stack = append(stack, q)
		}
	}
	for i := range f.nx {
		push(i)
		push((f.ny-1)*f.nx + i)
	}
	for j := range f.ny {
		push(j * f.nx)
		push(j*f.nx + f.nx - 1)
	}
	for len(stack) > 0 {
		q := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		i, j := q%f.nx, q/f.nx
		if i > 0 {
			push(q - 1)
		}
		if i < f.nx-1 {
			push(q + 1)
		}
		if j > 0 {
			push(q - f.nx)
		}
		if j < f.ny-1 {
			push(q + f.nx)
		}
	}
	return seen
}

// outward returns the unit direction from metal to air at node q, the mean
// over a square of r nodes to either side; zero where there is none.
func (f *face) outward(q, r int) vec.V2 {
	i, j := q%f.nx, q/f.nx
	var s vec.V2
	for dj := -r; dj <= r; dj++ {
		for di := -r; di <= r; di++ {
			if di*di+dj*dj > r*r {
				continue
			}
			x, y := i+di, j+dj
			if x < 0 || y < 0 || x >= f.nx || y >= f.ny || !f.metal(y*f.nx+x) {
				s = s.Add(vec.V2{X: float64(di), Y: float64(dj)})
			}
		}
	}
	if l := s.Len(); l > 1e-9 {
		return s.Mul(1 / l)
	}
	return vec.V2{}
}

// flatAt returns the share of the skin that lies in the plane through g square
// to its way out: a flat foot hides a scar and files easily.
func (k *work) flatAt(g *gate) float64 {
	n := 0
	tol := 2e-3*k.box.Longest() + k.f.h
	for i := range k.sections {
		s := &k.sections[i]
		if s.n.X*g.out.X+s.n.Y*g.out.Y > 0.999 && math.Abs((s.at.X-g.at.X)*g.out.X+(s.at.Y-g.at.Y)*g.out.Y) < tol {
			n++
		}
	}
	return float64(n) / float64(max(1, len(k.sections)))
}

// roomForCup reports whether a cup about x keeps rubber between it and what
// other cavities lead to the cup side, and inserts that stand above the casting.
func (k *work) roomForCup(x float64) bool {
	for _, in := range k.inserts {
		lo, hi := in.At, in.At.Add(in.Direction.Mul(in.Length))
		if lo.Y > hi.Y {
			lo, hi = hi, lo
		}
		if hi.Y <= k.box.Max.Y+wayRubber {
			continue
		}
		if lo.Y < k.box.Max.Y { // only what stands above
			lo = lo.Lerp(hi, (k.box.Max.Y-lo.Y)/(hi.Y-lo.Y))
		}
		r := in.Diameter/2 + k.cupFor().rim + wayRubber
		if x > math.Min(lo.X, hi.X)-r && x < math.Max(lo.X, hi.X)+r {
			return false
		}
	}
	for _, o := range k.others {
		for _, c := range o.channels {
			r := c.Rings[len(c.Rings)-1]
			if math.Abs(r.P.X-x) < r.A+k.cupFor().rim+wayRubber {
				return false
			}
		}
	}
	return true
}
