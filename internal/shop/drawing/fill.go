package drawing

import (
	"math"
	"slices"

	"pourwright/internal/book/plan"
	"pourwright/internal/book/pour"
	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
	cells "pourwright/internal/shape/grid"
)

// Filling is a computed filling as the paper needs it. Lengths are mm in the block
// frame. The fields hold one value per cell in the order of the grid.
type Filling struct {
	Doc    *pour.Filling
	Grid   cells.Grid
	Dist   []float32 // mm to the cavity's wall, negative in it
	Time   []float32 // s since the first metal at which metal came; below 0 where none did
	Closed []bool    // air that stays there in the run that the picture shows
	Half   []uint8   // 1 or 2, of the rubber; nil where it is not known
	Plan   *plan.Plan
}

func (f *Filling) check() error {
	if f == nil || f.Doc == nil || f.Doc.Picture == nil {
		return fault.New(fault.Internal, "pictures", "", "there is no computed filling to draw")
	}
	n := f.Grid.Len()
	if n == 0 || len(f.Dist) != n || len(f.Time) != n || len(f.Closed) != n || f.Half != nil && len(f.Half) != n {
		return fault.New(fault.Internal, "pictures", "", "the fields of the filling have %d, %d, %d and %d values for %d cells", len(f.Dist), len(f.Time), len(f.Closed), len(f.Half), n)
	}
	return nil
}

// FillPicture returns a PNG picture of when metal came, as labelled lines on two
// sections, with the places that metal does not reach and the lines where fronts meet. The
// sections go through the largest air that the ensemble keeps, if it is no mere bubble, else where the most metal lies. It is nil where no cell lies in the metal.
func FillPicture(f *Filling) ([]byte, error) {
	if err := f.check(); err != nil {
		return nil, err
	}
	s := f.see()
	if s == nil {
		return nil, nil
	}
	return s.h.picture(s.page())
}

// flowing is what the pictures of a filling share.
type flowing struct {
	seen
	f     *Filling
	time  [2][]float32 // s, also where none came: the latest
	empty [2][]float32 // above 0 where no metal came
	shut  [2][]float32 // above 0 where air is closed in
}

func (f *Filling) see() *flowing {
	f = f.padded()
	h := &Heat{Grid: f.Grid, Dist: f.Dist, Half: f.Half, Plan: f.Plan, Doc: &pour.Doc{}}
	at, ok := f.through()
	if !ok {
		return nil
	}
	s := &flowing{f: f, seen: seen{h: h, at: at, size: f.Grid.Box().Size()}}
	if b := h.blockPlan(); b != nil && b.Size[0] > 0 && b.Size[1] > 0 && b.Size[2] > 0 {
		s.size = vec.FromArray(b.Size)
	}
	s.cut = [2]*plane{h.cut(0, at.X, s.size), h.cut(2, at.Z, s.size)}
	if h.blockPlan() != nil {
		for _, c := range s.cut {
			c.centre()
		}
	}
	for k, c := range s.cut {
		s.time[k] = c.sample(func(q int) (float32, bool) { return f.Time[q], f.Dist[q] < 0 && f.Time[q] >= 0 })
		mark := func(on func(q int) bool) []float32 {
			v := c.sample(func(q int) (float32, bool) {
				if on(q) {
					return 0.5, f.Dist[q] < 0
				}
				return -0.5, f.Dist[q] < 0
			})
			c.spread(v)
			return v
		}
		s.empty[k] = mark(func(q int) bool { return f.Time[q] < 0 })
		s.shut[k] = mark(func(q int) bool { return f.Time[q] < 0 && f.Closed[q] })
		c.spread(s.time[k])
		c.smooth(s.time[k], 1)
	}
	return s
}

// airCut is the share of the cavity from which air is worth a section of its own: a bubble would
// show a corner of the mould and nothing else.
const airCut = 0.002

// through is where the sections cut: at the largest air that the median keeps, else
// in the layers with the most metal, the middle one of equals.
func (f *Filling) through() (vec.V3, bool) {
	count := [3][]int{make([]int, f.Grid.NX), make([]int, f.Grid.NY), make([]int, f.Grid.NZ)}
	any := false
	for q, d := range f.Dist {
		if d < 0 {
			i, j, k := f.Grid.Cell(q)
			count[0][i]++
			count[1][j]++
			count[2][k]++
			any = true
		}
	}
	if !any {
		return vec.V3{}, false
	}
	if a := f.Doc.Air; len(a) > 0 && a[0].Volume.Median > airCut*f.Doc.Open {
		return vec.FromArray(a[0].At), true
	}
	at := [3]int{}
	for d, c := range count {
		lo, hi, most := 0, 0, -1
		for i, n := range c {
			if n > most {
				lo, most = i, n
			}
			if n == most {
				hi = i
			}
		}
		at[d] = (lo + hi) / 2
	}
	return f.Grid.Centre(at[0], at[1], at[2]), true
}

// padded returns the filling with one layer of rubber more on each side on which the block
// goes on beyond the grid: what lies outside a grid is taken to be as its edge is.
func (f *Filling) padded() *Filling {
	if f.Plan == nil || f.Plan.Block == nil {
		return f
	}
	b := vec.FromArray(f.Plan.Block.Size).Mul(0.5)
	box, h := f.Grid.Box(), f.Grid.H
	var lo, hi [3]int
	any := false
	for d := range 3 {
		if box.Min.At(d) > -b.At(d)+h/2 {
			lo[d], any = 1, true
		}
		if box.Max.At(d) < b.At(d)-h/2 {
			hi[d], any = 1, true
		}
	}
	if !any {
		return f
	}
	g := f.Grid
	g.Origin = g.Origin.Sub(vec.V3{X: float64(lo[0]), Y: float64(lo[1]), Z: float64(lo[2])}.Mul(h))
	g.NX, g.NY, g.NZ = g.NX+lo[0]+hi[0], g.NY+lo[1]+hi[1], g.NZ+lo[2]+hi[2]
	n := g.Len()
	r := &Filling{Doc: f.Doc, Plan: f.Plan, Grid: g, Dist: make([]float32, n), Time: make([]float32, n), Closed: make([]bool, n)}
	for q := range n {
		r.Dist[q], r.Time[q] = float32(h/2), -1
	}
	if f.Half != nil {
		r.Half = make([]uint8, n)
	}
	for q := range n {
		i, j, k := g.Cell(q)
		edge := func(i, lo, n int) int { return min(max(i-lo, 0), n-1) }
		a := f.Grid.At(edge(i, lo[0], f.Grid.NX), edge(j, lo[1], f.Grid.NY), edge(k, lo[2], f.Grid.NZ))
		if f.Half != nil {
			r.Half[q] = f.Half[a]
		}
		if i >= lo[0] && j >= lo[1] && k >= lo[2] && i < g.NX-hi[0] && j < g.NY-hi[1] && k < g.NZ-hi[2] {
			r.Dist[q], r.Time[q], r.Closed[q] = f.Dist[a], f.Time[a], f.Closed[a]
		}
	}
	return r
}

// centre moves a section to the block's own middle, the origin of its frame, where the grid is
// laid over the cavity and has another.
func (s *plane) centre() {
	if u, v := -s.wide/2, -s.high/2; math.Abs(u-s.u0)+math.Abs(v-s.v0) > 1e-9 {
		s.u0, s.v0 = u, v
		s.dist = s.sample(func(q int) (float32, bool) { return s.h.Dist[q], true })
		s.metal = s.region(s.dist, func(d float32) float32 { return -d })
	}
}

// page draws the picture.
func (s *flowing) page() *page {
	p := blankPicture()
	p.caption("When metal comes", s.f.poured())
	g, x := s.onPicture(p)
	lo, hi := s.came()
	sc := fillBands(lo, hi, s.f.most(0.9))
	for k := range g {
		g[k].bands(p, sc, s.time[k], true)
		s.lack(p, g[k], k)
		g[k].outlines(p)
		s.meetings(p, g[k], k)
	}
	s.frame(p, g)
	p.noteTags(s.tags(g), x, p.w-4, heatTop, p.h-heatFoot-4)
	for k := range g {
		g[k].nameLines(p, g[k].room(heatSide-2), sc, s.time[k], true)
	}
	sc.draw(p, 6+heatSide, p.h-heatFoot+7, p.w-heatSide-16, s.words())
	return p
}

// fillBands lays the bands over the times by which most has been filled; what fills
// later, as the cup does, is one band.
func fillBands(lo, hi, most float64) scale {
	sc := timeBands(lo, hi, most)
	if sc.below { // the first moments count most
		sc.from, sc.below, sc.n = math.Floor(lo/sc.div/sc.step+1e-9)*sc.step, false, 6
		sc.above = hi > sc.edge(sc.n)
	}
	return sc
}

// most is the time by which a share of what was filled had metal.
func (f *Filling) most(share float64) float64 {
	var all []float32
	for q, t := range f.Time {
		if t >= 0 && f.Dist[q] < 0 {
			all = append(all, t)
		}
	}
	if len(all) == 0 {
		return 0
	}
	slices.Sort(all)
	return float64(all[min(int(share*float64(len(all))), len(all)-1)])
}

// came is the range of the times on both sections.
func (s *flowing) came() (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for k, c := range s.cut {
		for q, t := range s.time[k] {
			if c.dist[q] < 0 && !(s.empty[k][q] > 0) && t == t {
				lo, hi = math.Min(lo, float64(t)), math.Max(hi, float64(t))
			}
		}
	}
	return lo, hi
}

// lack covers what no metal reached: closed air white with upright lines, the rest white.
func (s *flowing) lack(p *page, g sight, k int) {
	metal := g.s.metal
	in := func(f []float32) [][]vec.V2 {
		both := make([]float32, len(f))
		for q := range f {
			both[q] = float32(math.Min(float64(f[q]), -float64(g.s.dist[q])))
		}
		return g.lines(g.s.region(both, func(v float32) float32 { return v }))
	}
	if len(metal) == 0 {
		return
	}
	if l := in(s.empty[k]); len(l) > 0 {
		p.fill(white, turned(l)...)
		p.stroke(ruleLine, nil, true, l...)
	}
	if l := in(s.shut[k]); len(l) > 0 {
		p.hatch(toneUndercut, l)
	}
}

// meetings draws the lines where fronts meet that lie within two cells of the
// section, broken; cold shuts whole and heavy.
func (s *flowing) meetings(p *page, g sight, k int) {
	near := 2 * s.f.Doc.Picture.Cell
	for _, m := range s.f.Doc.Picture.Meetings {
		var cur []vec.V2
		done := func() {
			if len(cur) > 1 {
				p.strokeIn(white, cutLine+0.7, nil, false, cur) // so that it shows on dark bands
				if m.Cold {
					p.stroke(cutLine, nil, false, cur)
				} else {
					p.stroke(outlineLine, []float64{0.9, 0.7}, false, cur)
				}
			}
			cur = nil
		}
		for _, a := range m.Line {
			q := vec.FromArray(a)
			off, u := q.X-s.at.X, q.Z
			if k == 1 {
				off, u = q.Z-s.at.Z, q.X
			}
			if math.Abs(off) > near {
				done()
				continue
			}
			cur = append(cur, g.at(vec.V2{X: u, Y: q.Y}))
		}
		done()
	}
}

// tags are the labels at the right: air, misruns, meetings; the largest of each.
func (s *flowing) tags(g [2]sight) []noteTag {
	var list []noteTag
	add := func(at plan.P3, code string, figure float64, lines ...string) {
		q := vec.FromArray(at)
		t := noteTag{at: g[1].at(vec.V2{X: q.X, Y: q.Y}), no: s.h.numberAt(q, code, figure), lines: lines}
		if o := aside(q.Z-s.at.Z, 1.5*s.f.Doc.Picture.Cell); o != "" {
			t.lines = append(t.lines, o)
		}
		list = append(list, t)
	}
	for i, a := range s.f.Doc.Air {
		if v := a.Volume; i < mostNamed && v.Median >= poreLeast {
			if v.High-v.Low < 0.01*v.Median {
				add(a.At, "pocket", v.Median, "air stays: "+volume(v.Median))
				continue
			}
			add(a.At, "pocket", v.Median, "air stays: "+volume(v.Median)+",", volume(v.Low)+" to "+volume(v.High)+" by the hand that pours")
		}
	}
	for i, m := range s.f.Doc.Short {
		if i < mostNamed && m.Volume >= poreLeast {
			add(m.At, "misrun", m.Volume, "runs short for cold:", volume(m.Volume)+" not filled")
		}
	}
	n := 0
	for _, m := range s.f.Doc.Picture.Meetings {
		if n == mostNamed || !m.Cold && m.Length < 5 {
			continue
		}
		n++
		w := "fronts meet, "
		switch {
		case m.Ladle:
			w = "second ladle on the first, "
		case m.Cold:
			w = "cold shut, "
		}
		add(m.At, "cold-shut", m.Coldest, w+plain(math.Round(m.Length))+nb+"mm long,", "the colder at "+grouped(m.Coldest, 0)+nb+"°C")
	}
	return list
}

// poured says what the picture shows.
func (f *Filling) poured() string {
	r := f.Doc.Picture
	t := r.Name + ", " + Cubic(r.Rate) + " a second; computed, cells of " + plain(r.Cell) + nb + "mm"
	if n := len(f.Doc.Runs); n > 1 {
		t += "; air from " + plain(float64(n)) + " pours"
	}
	return t
}

func (s *flowing) words() string {
	w := "The bands: seconds since the first metal came into the cup."
	if len(s.f.Doc.Picture.Meetings) > 0 {
		w += " Short dashes: fronts meet there; heavy: they stay apart."
	}
	lack := false
	for k, c := range s.cut {
		for q, e := range s.empty[k] {
			lack = lack || e > 0 && c.dist[q] < 0
		}
	}
	if lack {
		w += " White: no metal came; upright lines: air that stays."
	}
	if s.f.Half != nil {
		w += " Broken line: where the halves meet."
	}
	return w
}
