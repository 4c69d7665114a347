package drawing

import (
	"math"

	"pourwright/internal/book/plan"
	"pourwright/internal/book/pour"
	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
	cells "pourwright/internal/shape/grid"
)

// Heat is a computed pour as the paper needs it. Lengths are mm in the block
// frame. The fields hold one value per cell in the order of the grid; they may
// all be nil, then there are no sections, only what Doc says.
type Heat struct {
	Doc   *pour.Doc
	Grid  cells.Grid
	Dist  []float32 // mm to the cavity's wall, negative in the metal
	Solid []float32 // s after the pour at which the metal froze; below 0 where it did not
	Peak  []float32 // degrees C, hottest that rubber gets in the first shot
	Half  []uint8   // 1 or 2, of the rubber; nil where it is not known

	// Plan tells where in the metal the castings lie and which numbers its
	// findings have. Where nil, all metal is taken for the casting.
	Plan *plan.Plan
}

// HeatPictures returns three PNG pictures of a computed pour: solid, time to
// solid in the metal on two sections through the place of the castings that
// freezes last; peak, the hottest that the rubber gets on the same sections;
// series, the temperatures at the probes over the first shots. Without fields
// solid and peak are nil, without probes series is nil.
func HeatPictures(h *Heat) (solid, peak, series []byte, err error) {
	if err := h.check(); err != nil {
		return nil, nil, nil, err
	}
	s := h.see()
	if s != nil {
		if solid, err = h.picture(s.solidPage()); err != nil {
			return nil, nil, nil, err
		}
		if peak, err = h.picture(s.peakPage()); err != nil {
			return nil, nil, nil, err
		}
	}
	if p := h.seriesPage(); p != nil {
		if series, err = h.picture(p); err != nil {
			return nil, nil, nil, err
		}
	}
	return solid, peak, series, nil
}

func (h *Heat) picture(p *page) ([]byte, error) {
	img := newImage(pictureWide, pictureHigh, white)
	putRaster(img, p, pictureScale)
	b, err := encode(img)
	if err != nil {
		return nil, pictureFault(err)
	}
	return b, nil
}

func (h *Heat) check() error {
	if h == nil || h.Doc == nil {
		return fault.New(fault.Internal, "pictures", "", "there is no computed pour to draw")
	}
	n := h.Grid.Len()
	for _, k := range []int{len(h.Dist), len(h.Solid), len(h.Peak)} {
		if k != len(h.Dist) || k != 0 && k != n {
			return fault.New(fault.Internal, "pictures", "", "the fields of the pour have %d, %d and %d values for %d cells", len(h.Dist), len(h.Solid), len(h.Peak), n)
		}
	}
	if h.Half != nil && len(h.Half) != len(h.Dist) {
		return fault.New(fault.Internal, "pictures", "", "the halves are told for %d cells of %d", len(h.Half), len(h.Dist))
	}
	return nil
}

// castings marks the cells of the castings: those that metal reaches from the
// ingates without going back through them, inside the boxes of the masters; where
// nothing is reached so, all metal in those boxes. Without a plan, or with no metal
// in the boxes, all metal cells are marked and all is true.
func (h *Heat) castings() (in []bool, all bool) {
	in = make([]bool, h.Grid.Len())
	if h.blockPlan() != nil && (h.flood(in) || h.boxed(in)) {
		return in, false
	}
	for q, d := range h.Dist {
		in[q] = d < 0
	}
	return in, true
}

// boxes returns a test for places in the boxes of the masters, half a cell wider;
// where the plan does not tell them, every place is in them and ok is false.
func (h *Heat) boxes() (in func(p vec.V3) bool, ok bool) {
	b := h.Plan.Master.Box
	if b[0] == b[1] {
		return func(vec.V3) bool { return true }, false
	}
	frames := (&Input{Plan: h.Plan}).placements()
	lo, hi := vec.FromArray(b[0]), vec.FromArray(b[1])
	rim := vec.V3{X: h.Grid.H, Y: h.Grid.H, Z: h.Grid.H}.Mul(0.5)
	lo, hi = lo.Sub(rim), hi.Add(rim)
	return func(p vec.V3) bool {
		for _, f := range frames {
			q := f.From(p)
			if q.X >= lo.X && q.Y >= lo.Y && q.Z >= lo.Z && q.X <= hi.X && q.Y <= hi.Y && q.Z <= hi.Z {
				return true
			}
		}
		return false
	}, true
}

// flood marks what the ingates lead to and reports whether that is anything.
func (h *Heat) flood(in []bool) bool {
	g := h.Grid
	gates := h.gates(h.Plan.Block)
	boxed, _ := h.boxes()
	var queue []int32
	try := func(q int) {
		if h.Dist[q] >= 0 || in[q] {
			return
		}
		p := g.Centre(g.Cell(q))
		for i := range gates {
			if gates[i].shut(p) {
				return
			}
		}
		if boxed(p) {
			in[q] = true
			queue = append(queue, int32(q))
		}
	}
	for i := range gates {
		near(g, gates[i].at.Add(gates[i].dir.Mul(g.H)), 1, try)
	}
	for k := 0; k < len(queue); k++ {
		beside(g, int(queue[k]), try)
	}
	return len(queue) > 0
}

// boxed marks all metal in the boxes of the masters and reports whether that is
// anything.
func (h *Heat) boxed(in []bool) bool {
	test, ok := h.boxes()
	if !ok {
		return false
	}
	found := false
	for q, d := range h.Dist {
		if d < 0 && test(h.Grid.Centre(h.Grid.Cell(q))) {
			in[q], found = true, true
		}
	}
	return found
}

func (h *Heat) blockPlan() *plan.Block {
	if h.Plan == nil {
		return nil
	}
	return h.Plan.Block
}

// gate is where metal enters a casting, or where a feeder or flow-off leaves it.
type gate struct {
	at, dir vec.V3  // dir points into the casting
	r       float64 // how far from its middle it bars the way
	deep    float64 // how far outside
}

// shut reports whether p lies just outside the gate.
func (g *gate) shut(p vec.V3) bool {
	d := p.Sub(g.at)
	s := d.Dot(g.dir)
	return s < 0 && s > -g.deep && d.Sub(g.dir.Mul(s)).Len() < g.r
}

// gates returns the ingates of a block.
func (h *Heat) gates(b *plan.Block) []gate {
	var list []gate
	for _, i := range b.Ingates {
		d := vec.FromArray(i.Direction)
		if !(d.Len() > 0) || !(i.Area >= 0) {
			continue
		}
		list = append(list, gate{at: vec.FromArray(i.At), dir: d.Unit(), r: 2*math.Sqrt(i.Area/math.Pi) + 2*h.Grid.H, deep: 2.5 * h.Grid.H})
	}
	return list
}

// near calls f for the cells within n of the cell that holds p.
func near(g cells.Grid, p vec.V3, n int, f func(q int)) {
	i, j, k, ok := g.Find(p)
	if !ok {
		return
	}
	for c := max(0, k-n); c <= min(g.NZ-1, k+n); c++ {
		for b := max(0, j-n); b <= min(g.NY-1, j+n); b++ {
			for a := max(0, i-n); a <= min(g.NX-1, i+n); a++ {
				f(g.At(a, b, c))
			}
		}
	}
}

// beside calls f for the six neighbours of a cell.
func beside(g cells.Grid, q int, f func(q int)) {
	i, j, k := g.Cell(q)
	if i > 0 {
		f(q - 1)
	}
	if i < g.NX-1 {
		f(q + 1)
	}
	if j > 0 {
		f(q - g.NX)
	}
	if j < g.NY-1 {
		f(q + g.NX)
	}
	if k > 0 {
		f(q - g.NX*g.NY)
	}
	if k < g.NZ-1 {
		f(q + g.NX*g.NY)
	}
}

// last is the cell of the castings that freezes last and its time; one that is
// not solid at all comes before any that is. all is true where castings could not
// be told from cup and channels. ok is false without metal.
func (h *Heat) last() (at vec.V3, after float64, all, ok bool) {
	best := -1
	later := func(a, b float32) bool { // a later than b; below 0 is never
		return b >= 0 && (a < 0 || a > b)
	}
	cast, all := h.castings()
	for q, in := range cast {
		if in && (best < 0 || later(h.Solid[q], h.Solid[best])) {
			best = q
		}
	}
	if best < 0 {
		return vec.V3{}, 0, all, false
	}
	return h.Grid.Centre(h.Grid.Cell(best)), float64(h.Solid[best]), all, true
}
