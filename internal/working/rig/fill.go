package rig

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"math"
	"slices"

	"pourwright/internal/book/plan"
	"pourwright/internal/book/pour"
	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/cells"
	"pourwright/internal/physics/chill"
	"pourwright/internal/physics/fill"
	"pourwright/internal/physics/gas"
	"pourwright/internal/physics/heat"
	"pourwright/internal/shape/grid"
	"pourwright/internal/shape/voxel"
)

// Cells of the filling: 2 mm for the ensemble, coarser where the cavity would take
// more than a plan can wait for, finer where it is so small that its parts would be
// lost; the full grid 1 mm, or two cells in the thinnest wall down to 0.5 mm.
const (
	previewCell  = 2.0
	previewMost  = 12000 // open cells
	previewLeast = 700
	previewFine  = 0.8 // mm
	fullCell     = 1.0
	fullFinest   = 0.5
	fullMost     = 120000

	mostFillCells = 1e6 // that anybody waits for
)

// FillCells returns the edges of the cells of the ensemble and of the full grid, mm.
// thin is the thinnest wall, 0 where it is not known.
func FillCells(m *Mould, thin float64) (preview, full float64) {
	v := m.Cavity.Volume()
	preview = math.Max(math.Min(previewCell, math.Cbrt(v/previewLeast)), previewFine)
	preview = math.Max(preview, math.Cbrt(v/previewMost))
	full = fullCell
	if thin > 0 {
		full = math.Min(fullCell, math.Max(thin/2, fullFinest))
	}
	full = math.Min(math.Max(full, math.Cbrt(v/fullMost)), preview)
	round := func(h float64) float64 { return math.Round(h*1000) / 1000 }
	return round(preview), round(full)
}

// Filled is a computed filling.
type Filled struct {
	Doc    pour.Filling
	Fields *FillFields // of Doc.Picture
	trace  *trace
	bed    *bed
}

// FillFields are the fields of one pour: values per cell of a grid over the cavity,
// in the order of grid.Grid, and how it went.
type FillFields struct {
	Grid   grid.Grid
	Dist   []float32 // mm to the cavity's wall, negative in it
	Time   []float32 // s since the first metal at which metal came; -1 where none did
	Closed []bool    // air stays there
	Half   []uint8   // of the rubber
	Frames *pour.Frames
}

// bed is a cavity laid on cells of the filling, with all that the pours on it share.
type bed struct {
	m      *Mould
	s      *pour.Setting
	h      float64 // mm
	grid   grid.Grid
	cav    *cells.Cavity
	walls  *chill.Walls
	cups   []mouth
	vents  []fill.Vent
	mouth  []bool  // open cells beneath a port
	below  []bool  // open cells under cup and gate: castings
	open   float64 // mm3
	charge float64 // mm3, into all cups
	rate   float64 // mm3/s of the steady hand, into each cup
	bores  []Bore
}

// mouth is one opening under a ladle.
type mouth struct {
	ports  []int   // nearest to its middle first
	area   float64 // mm2
	charge float64 // mm3: what it opens into, shared by the mouths that do
}

// lay lays a mould on cells of h mm.
func lay(ctx context.Context, m *Mould, s *pour.Setting, h float64) (*bed, error) {
	g, err := cells.Lay(m.Cavity, m.box(), h)
	if err != nil {
		return nil, err
	}
	b := &bed{m: m, s: s, h: h, grid: g}
	if b.cav, err = cells.FromMesh(ctx, m.Cavity, g, m.box(), m.extra()); err != nil {
		return nil, err
	}
	b.walls, _ = chill.FromMesh(b.cav.Cells, m.Cavity, m.box())
	b.walls.Curve(b.cav.Section)
	b.ports()
	if len(b.cups) == 0 {
		return nil, fault.New(fault.Unstable, "fill", "make the plan again", "the cavity opens nowhere on the cup's side")
	}
	b.open = b.cav.Volume() * 1e9
	for _, x := range b.cups {
		b.charge += x.charge
	}
	if b.rate = RateOf(&s.Pouring, m.Block); s.Pouring.Rate == nil {
		b.rate /= float64(len(b.cups))
	}
	b.bores = m.bores
	return b, nil
}

// extra is what the cavity's mesh does not say: where cuts let air out.
func (m *Mould) extra() cells.Extra {
	var e cells.Extra
	for _, c := range m.cuts() {
		e.Vents = append(e.Vents, cells.Vent{At: vec.FromArray(c.At), Area: c.Width * c.Depth})
	}
	e.Parting = m.parting
	return e
}

// cuts are those made before the first shot.
func (m *Mould) cuts() []plan.Cut {
	var r []plan.Cut
	for _, c := range m.Block.Cuts {
		if c.When == "now" {
			r = append(r, c)
		}
	}
	return r
}

// ports tells the mouths under the ladle from those of flow-offs.
func (b *bed) ports() {
	c := b.cav.Cells
	var cup, off []vec.Box
	for _, x := range b.m.mouths() {
		if b.m.flowOff(x) {
			off = append(off, x)
		} else {
			cup = append(cup, x)
		}
	}
	apart := func(x vec.Box, p vec.V3) float64 {
		return math.Hypot(math.Max(0, math.Max(x.Min.X-p.X, p.X-x.Max.X)), math.Max(0, math.Max(x.Min.Z-p.Z, p.Z-x.Max.Z)))
	}
	list := make([]mouth, len(cup))
	for k := range c.Ports {
		p := c.Centre(int32(c.N + k)).Mul(1e3)
		best, d := -1, math.Inf(1)
		for i, x := range cup {
			if e := apart(x, p); e < d {
				best, d = i, e
			}
		}
		for _, x := range off {
			if apart(x, p) < d {
				best = -1
			}
		}
		if best >= 0 {
			list[best].ports = append(list[best].ports, k)
			list[best].area += b.portArea(k)
		}
	}
	for i := range list {
		if x := &list[i]; len(x.ports) > 0 {
			b.inward(x)
			b.cups = append(b.cups, *x)
		}
	}
	b.charges()
	// A level is one between cells, and a cup that slops over a casting at rest is at rest.
	b.below = make([]bool, c.Wall+1)
	under := b.m.size().Y/2 - b.m.Block.Head
	for i := range c.N {
		b.below[i] = c.Centre(int32(i)).Y*1e3 < under
	}
	b.outlets()
}

// inward sorts the ports of a mouth by their way to its middle.
func (b *bed) inward(m *mouth) {
	c := b.cav.Cells
	middle := vec.V3{}
	for _, k := range m.ports {
		middle = middle.Add(c.Centre(int32(c.N + k)).Mul(1e3 * b.portArea(k) / m.area))
	}
	far := func(k int) float64 {
		p := c.Centre(int32(c.N + k)).Mul(1e3)
		return math.Round(1e6 * math.Hypot(p.X-middle.X, p.Z-middle.Z))
	}
	slices.SortStableFunc(m.ports, func(x, y int) int { return cmp.Or(cmp.Compare(far(x), far(y)), cmp.Compare(x, y)) })
}

// charges shares out what the ladles give: to each mouth the volume that it opens into.
func (b *bed) charges() {
	c := b.cav.Cells
	room := make([]int, c.N)
	var volume []float64
	for i := range c.N {
		if room[i] != 0 {
			continue
		}
		n := len(volume) + 1
		v, list := 0.0, []int32{int32(i)}
		room[i] = n
		for k := 0; k < len(list); k++ {
			v += c.V[list[k]]
			for side := range 6 {
				if o := c.Nb[side][list[k]]; int(o) < c.N && room[o] == 0 {
					room[o] = n
					list = append(list, o)
				}
			}
		}
		volume = append(volume, v*b.h*b.h*b.h)
	}
	shared := make([]float64, len(volume)+1)
	for _, m := range b.cups {
		shared[room[b.beneath(m.ports[0])]]++
	}
	for i := range b.cups {
		n := room[b.beneath(b.cups[i].ports[0])]
		b.cups[i].charge = volume[n-1] / shared[n]
	}
}

// outlets are the ways out for air, beside the mouths. At a cut: the slit that the knife leaves. Along the
// parting line: the gap that powder and rubber leave.
func (b *bed) outlets() {
	c := b.cav.Cells
	b.mouth = make([]bool, c.Wall+1)
	for k := range c.Ports {
		if i := b.beneath(k); int(i) < c.N {
			b.mouth[i] = true
		}
	}
	for k, x := range b.m.cuts() {
		v := b.cav.Vents[k]
		if v.Cell < 0 || !(x.Width > 0 && x.Depth > 0) {
			continue
		}
		long := 0.0
		for i := 1; i < len(x.Path); i++ {
			long += vec.FromArray(x.Path[i]).Dist(vec.FromArray(x.Path[i-1]))
		}
		b.vents = append(b.vents, fill.Vent{Cell: v.Cell, Outlet: gas.Outlet{Form: gas.Slit, Area: v.Size, Gap: x.Depth * 1e-3, Length: math.Max(long, 1) * 1e-3}})
	}
	if gap := b.s.Flow.Gap; gap > 0 {
		way := math.Inf(1) // to the outside
		for _, x := range b.m.Block.Margins[:4] {
			way = math.Min(way, x)
		}
		for _, t := range b.cav.Parting {
			b.vents = append(b.vents, fill.Vent{Cell: t.Cell, Outlet: gas.Outlet{Form: gas.Slit, Area: t.Size * gap, Gap: gap, Length: math.Max(way, 3) * 1e-3}})
		}
	}
}

// portArea is the open area of a port, mm2; beneath is the cell under it.
func (b *bed) portArea(k int) float64 {
	c := b.cav.Cells
	i := int32(c.N + k)
	for d := range 3 {
		if n := c.Nb[2*d][i]; int(n) < c.N {
			return c.A[d][i] * b.h * b.h
		}
		if n := c.Nb[2*d+1][i]; int(n) < c.N {
			return c.A[d][n] * b.h * b.h
		}
	}
	return 0
}

func (b *bed) beneath(k int) int32 {
	c := b.cav.Cells
	for side := range 6 {
		if n := c.Nb[side][c.N+k]; int(n) < c.N {
			return n
		}
	}
	return int32(c.Wall)
}

// fillMemory is about what pours side by side on cells of h mm take, bytes.
func fillMemory(m *Mould, h float64, sides int) int64 {
	open := int64(m.Cavity.Volume() / (h * h * h))
	g, err := cells.Lay(m.Cavity, m.box(), h)
	if err != nil {
		return 0
	}
	return max(cells.Memory(m.Cavity, g), open*int64(800+sides*1800)+chill.Memory(int(open), int(open))*int64(sides)) + 32<<20
}

// fillKey is the SHA-256 of all that the pours on cells of h mm depend on.
func fillKey(m *Mould, s *pour.Setting, h float64) string {
	sum := sha256.New()
	put := func(x ...float64) {
		for _, v := range x {
			var b [8]byte
			binary.LittleEndian.PutUint64(b[:], math.Float64bits(v))
			sum.Write(b[:])
		}
	}
	put(fillRevision, h, s.Metal, s.Mould, s.Contact)
	for _, x := range []any{s.Alloy, s.Rubber, s.Flow, s.Pouring, m.Block, m.bores, m.parting} {
		text, err := json.Marshal(x)
		if err != nil {
			return ""
		}
		put(float64(len(text)))
		sum.Write(text)
	}
	put(float64(len(m.Cavity.V)), float64(len(m.Cavity.F)))
	for _, v := range m.Cavity.V {
		put(v.X, v.Y, v.Z)
	}
	for _, f := range m.Cavity.F {
		put(float64(f[0]), float64(f[1]), float64(f[2]))
	}
	return hex.EncodeToString(sum.Sum(nil))
}

// fillRevision counts changes of the method after which kept pours no longer hold.
const fillRevision = 9

// Fill computes the filling of a mould by the ensemble of hands, and where the
// setting asks for it one pour of the steady hand on the full grid. Errors: kind Input where
// nothing can be computed or the memory does not do, Interrupted when ctx is done (what
// is done stays kept), Internal where a pour broke down.
func Fill(ctx context.Context, m *Mould, s pour.Setting, o Options) (*Filled, error) {
	hands := Hands
	if s.Pours != nil {
		hands = hands[:min(len(hands), max(1, *s.Pours))]
	}
	return fillBy(ctx, m, s, o, hands)
}

// fillBy is Fill by some hands only, the steady one first.
func fillBy(ctx context.Context, m *Mould, s pour.Setting, o Options, hands []Hand) (*Filled, error) {
	if err := s.Check("pour"); err != nil {
		return nil, err
	}
	coarse, fine := FillCells(m, s.Thin)
	if s.FillCell != nil {
		coarse = *s.FillCell
		fine = math.Min(fine, coarse)
	}
	steps := []float64{coarse}
	if s.Fine && fine < coarse {
		steps = append(steps, fine)
	}
	last := steps[len(steps)-1]
	if n := m.Cavity.Volume() / (last * last * last); n > mostFillCells {
		return nil, fault.New(fault.Input, "fill", "take larger cells (--fill-cell)", "the filling on cells of %.3g mm has %.2g million of them, which takes days", last, n/1e6)
	}
	need := max(fillMemory(m, coarse, min(len(hands), cores())), fillMemory(m, last, 1))
	if o.Room > 0 && need > o.Room {
		return nil, fault.New(fault.Input, "fill", "take larger cells (--fill-cell), leave --fine out, or close other programs",
			"the filling on cells of %.3g mm takes %s, and %s are free", last, bytesOf(need), bytesOf(o.Room))
	}
	if o.Before != nil {
		o.Before(Size{Part: "filling", Cell: last, Cells: int(m.Cavity.Volume() / (last * last * last)), Bytes: need, Runs: len(hands)})
	}
	r := &Filled{Doc: pour.NoFilling(s.Pouring)}
	key := fillKey(m, &s, coarse)
	b, err := lay(ctx, m, &s, coarse)
	if err != nil {
		return nil, err
	}
	r.Doc.Open, r.Doc.Charge, r.Doc.Rate = b.open, b.charge, b.rate
	r.Doc.Grids = append(r.Doc.Grids, b.said())
	all, err := PourRuns(ctx, key, hands, b.pour(o.Store, key), o)
	if err != nil {
		return nil, err
	}
	var runs []pour.Run
	var whole []int // hands whose pour came to its end
	for i := range all {
		if all[i].broke != "" {
			r.Doc.Broken = append(r.Doc.Broken, hands[i].Name+": "+all[i].broke)
			continue
		}
		whole = append(whole, i)
		runs = append(runs, all[i].Run)
	}
	if 2*len(whole) <= len(hands) {
		return nil, fault.New(fault.Unstable, "fill", "try other cells (--fill-cell), or leave the filling out (--no-fill)", "%d of %d pours broke down; %s", len(hands)-len(whole), len(hands), r.Doc.Broken[0])
	}
	Gather(&r.Doc, runs)
	mid := whole[middleRun(runs)]
	r.bed, r.trace = b, all[mid].trace
	r.Doc.Picture = plan.Ptr(all[mid].Run)
	if len(steps) > 1 {
		if b, err = lay(ctx, m, &s, fine); err != nil {
			return nil, err
		}
		r.Doc.Grids = append(r.Doc.Grids, b.said())
		key = fillKey(m, &s, fine)
		say := o
		if o.Progress != nil {
			say.Progress = func(_ string, done float64) { o.Progress("fill, full grid", done) }
		}
		one, err := PourRuns(ctx, key, []Hand{hands[mid]}, b.pour(o.Store, key), say)
		if err != nil {
			return nil, err
		}
		if one[0].broke != "" { // the ensemble stands all the same
			r.Doc.Broken = append(r.Doc.Broken, "full grid: "+one[0].broke)
		} else {
			r.bed, r.trace = b, one[0].trace
			r.Doc.Picture = plan.Ptr(one[0].Run)
		}
	}
	if r.Fields, err = r.bed.fields(ctx, r.trace); err != nil {
		return nil, err
	}
	return r, nil
}

// said is the grid for the document.
func (b *bed) said() pour.FillGrid {
	return pour.FillGrid{Cell: b.h, Cells: b.cav.N, Lost: b.cav.Dropped * b.open}
}

// Cells of the pictures: those of the filling are halved until they are no larger than
// pictureCell, mm, as long as no more than pictureMost come out.
const (
	pictureCell = 1.0
	pictureMost = 3000000
)

// fields spreads what a pour left over cells for the pictures. Parts of the cavity whose cell
// was given to a neighbour show what is nearest.
func (b *bed) fields(ctx context.Context, t *trace) (*FillFields, error) {
	g, k := b.grid, 1
	for g.H > pictureCell+1e-9 && 8*g.Len() <= pictureMost {
		g.H, g.NX, g.NY, g.NZ, k = g.H/2, 2*g.NX, 2*g.NY, 2*g.NZ, 2*k
	}
	body, err := heat.FromMesh(ctx, b.m.Cavity, b.m.box(), g)
	if err != nil {
		return nil, err
	}
	n := g.Len()
	f := &FillFields{Grid: g, Dist: body.Dist, Time: make([]float32, n), Closed: make([]bool, n), Half: voxel.Cells(b.m.Half1, g)}
	if f.Frames, err = pour.ParseFrames(t.Frames, pour.FramesName); err != nil {
		return nil, err
	}
	open := make([]int32, b.grid.Len()) // place in the list, 1 more
	for c := range b.cav.N {
		if q := b.place(c); q >= 0 {
			open[q] = int32(c) + 1
		}
	}
	par.For(n, 4096, func(lo, hi int) {
		for q := lo; q < hi; q++ {
			f.Time[q] = -1
			f.Half[q] = 2 - min(f.Half[q], 1)
			if f.Dist[q] >= 0 {
				continue
			}
			x, y, z := g.Cell(q)
			if c := b.nearest(open, x/k, y/k, z/k, g.Centre(x, y, z)); c >= 0 {
				f.Time[q], f.Closed[q] = t.Time[c], t.Closed[c]
				if k > 1 && t.Time[c] >= 0 {
					f.Time[q] = b.between(open, t.Time, g.Centre(x, y, z))
				}
			}
		}
	})
	return f, nil
}

// nearest is the open cell at a place or the nearest one beside it, -1 where there is none.
func (b *bed) nearest(open []int32, i, j, k int, p vec.V3) int32 {
	g := b.grid
	if c := open[g.At(i, j, k)]; c > 0 {
		return c - 1
	}
	best, d := int32(0), math.Inf(1)
	for z := max(k-1, 0); z <= min(k+1, g.NZ-1); z++ {
		for y := max(j-1, 0); y <= min(j+1, g.NY-1); y++ {
			for x := max(i-1, 0); x <= min(i+1, g.NX-1); x++ {
				if c := open[g.At(x, y, z)]; c > 0 && g.Centre(x, y, z).Dist(p) < d {
					best, d = c, g.Centre(x, y, z).Dist(p)
				}
			}
		}
	}
	return best - 1
}

// between reads the times on the cells round a place, linear along each axis; cells to which no metal
// came are left out.
func (b *bed) between(open []int32, time []float32, p vec.V3) float32 {
	x := p.Sub(b.grid.Origin).Mul(1 / b.grid.H).Array()
	var at [3]int
	var part [3]float64
	for d := range 3 {
		at[d] = int(math.Floor(x[d] - 0.5))
		part[d] = x[d] - 0.5 - float64(at[d])
	}
	n := [3]int{b.grid.NX, b.grid.NY, b.grid.NZ}
	sum, all := 0.0, 0.0
	for m := range 8 {
		w, q := 1.0, [3]int{}
		for d := range 3 {
			if q[d] = at[d]; m>>d&1 == 1 {
				q[d]++
				w *= part[d]
			} else {
				w *= 1 - part[d]
			}
			if q[d] < 0 || q[d] >= n[d] {
				w = 0
			}
		}
		if w == 0 {
			continue
		}
		if c := open[b.grid.At(q[0], q[1], q[2])]; c > 0 && time[c-1] >= 0 {
			sum, all = sum+w*float64(time[c-1]), all+w
		}
	}
	if all == 0 {
		return 0
	}
	return float32(sum / all)
}

// place is the index of an open cell in the grid, -1 outside it.
func (b *bed) place(c int) int {
	i, j, k := int(b.cav.I[c][0])+b.cav.Corner[0], int(b.cav.I[c][1])+b.cav.Corner[1], int(b.cav.I[c][2])+b.cav.Corner[2]
	if i < 0 || j < 0 || k < 0 || i >= b.grid.NX || j >= b.grid.NY || k >= b.grid.NZ {
		return -1
	}
	return b.grid.At(i, j, k)
}
