package drawing

import (
	"image"
	"math"
	"sort"
	"strings"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// The pictures are pictureWide x pictureHigh pixels, drawn at pictureScale
// pixels for a mm of the look, so that type and hatches keep their sizes.
const (
	pictureWide  = 1440
	pictureHigh  = 1080
	pictureScale = 8.0
)

// Pictures returns three PNG pictures: split, the master with the parting line
// and the undercuts hatched and numbered; layout, the face of a half with
// channels, keys and cuts; section, a cut through the ingate. Without a block
// layout and section are nil; without a master split is nil.
func Pictures(in *Input) (split, layout, section []byte, err error) {
	if err := in.check(); err != nil {
		return nil, nil, nil, err
	}
	in.look()
	var errs [3]error
	par.Do(
		func() {
			if in.Master != nil && len(in.Master.F) > 0 {
				split, errs[0] = in.splitPicture()
			}
		},
		func() {
			if in.Plan.Block != nil {
				layout, errs[1] = in.layoutPicture()
			}
		},
		func() {
			if in.Plan.Block != nil {
				section, errs[2] = in.sectionPicture()
			}
		})
	for _, err := range errs {
		if err != nil {
			return nil, nil, nil, pictureFault(err)
		}
	}
	return split, layout, section, nil
}

func pictureFault(err error) error {
	return fault.New(fault.Internal, "pictures", "", "a picture could not be written: %v", err)
}

// blank is a page of the size of a picture.
func blankPicture() *page {
	return &page{w: pictureWide / pictureScale, h: pictureHigh / pictureScale}
}

// caption sets the title of a picture and a remark.
func (p *page) caption(title, remark string) {
	w := p.print(wordsBold, sizeHeading.pt, 6, 9.5, left, title)
	p.print(label, 8, 6+w+4, 9.5, left, cutTo(label, 8, p.w-w-16, remark))
	p.line(ruleLine, 6, 12.5, p.w-6, 12.5)
}

// standing is the frame in which the split is shown: z the pull, y up when
// poured, origin at the middle of the master.
func (in *Input) standing() vec.Frame {
	s := in.Plan.Split
	pull := vec.FromArray(s.Pull)
	up := vec.FromArray(in.Plan.Stand.Up)
	if !(pull.Len() > 0) {
		pull = vec.V3{Z: 1}
	}
	if pull.Unit().Cross(up).Len() < 1e-6 {
		up = vec.AlongZ(pull).Y
	}
	f := vec.Standing(pull, up)
	f.Origin = boxOf(in.Master).Centre()
	return f
}

// boxOf is the box of all corners of a mesh, which holds every triangle.
func boxOf(m *mesh.Mesh) vec.Box { return extent(m, vec.World()) }

// panel is one of the four views of the split: its camera's frame and its place
// on the picture in pixels.
type panel struct {
	name       string
	f          vec.Frame
	x, y, w, h int
	box        vec.Box // of the master in the camera's frame
	last       bool    // numbers that no view before could show stand here
}

// turnedView looks on half 1's side from the right and a little from above,
// with y upwards.
func turnedView() vec.Frame {
	z := vec.V3{X: 0.62, Y: 0.38, Z: 0.69}.Unit()
	x := vec.V3{Y: 1}.Cross(z).Unit()
	return vec.Frame{X: x, Y: z.Cross(x), Z: z}
}

// Room round a view: for labels at the right, for its name below.
const (
	panelSide = 120
	panelFoot = 70
)

// arranged places the views in two rows or in one, whichever shows the master
// larger, and returns the common scale in pixels per mm.
func arranged(m *mesh.Mesh, views []panel, top int) ([]panel, float64) {
	for i := range views {
		views[i].box = extent(m, views[i].f)
	}
	var best []panel
	scale := 0.0
	for _, cols := range []int{2, 4} {
		w, h := pictureWide/cols, (pictureHigh-top)/(len(views)/cols)
		k := math.Inf(1)
		for _, q := range views {
			s := q.box.Size()
			k = min(k, float64(w-panelSide)/max(s.X, 1e-9), float64(h-panelFoot)/max(s.Y, 1e-9))
		}
		if k > scale*1.001 {
			scale = k
			best = make([]panel, len(views))
			for i, q := range views {
				q.x, q.y, q.w, q.h = i%cols*w, top+i/cols*h, w, h
				best[i] = q
			}
		}
	}
	return best, scale
}

// splitPicture shows the master from four sides at one scale.
func (in *Input) splitPicture() ([]byte, error) {
	f := in.standing()
	m := in.Master.Into(f)
	img := newImage(pictureWide, pictureHigh, paperTint)
	p := blankPicture()
	p.caption("The split", in.splitRemark())
	const top, over = 112, 2
	views := []panel{
		{name: "from half 1, turned", f: turnedView()},
		{name: "from half 1", f: vec.World()},
		{name: "from the right", f: vec.Frame{X: vec.V3{Z: -1}, Y: vec.V3{Y: 1}, Z: vec.V3{X: 1}}},
		{name: "from half 2", f: vec.Frame{X: vec.V3{X: -1}, Y: vec.V3{Y: 1}, Z: vec.V3{Z: -1}}},
	}
	panels, k := arranged(m, views, top)
	t := &subject{m: m, f: f, longest: boxOf(m).Longest(), k: k, closed: in.Plan.Master.Watertight, normal: make([]vec.V3, len(m.F))}
	par.For(len(m.F), 8192, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			t.normal[i] = m.Normal(i)
		}
	})
	t.hidden = in.undercutTest(t)
	t.line = in.lineIn(t)
	t.told = map[int]bool{}
	panels[len(panels)-1].last = true
	for _, q := range panels {
		in.panel(img, p, q, t, over)
	}
	putRaster(img, p, pictureScale)
	return encode(img)
}

func (in *Input) splitRemark() string {
	s := in.Plan.Split
	n := len(s.Undercuts)
	var l []string
	if n == 1 {
		l = append(l, "one undercut")
	} else {
		l = append(l, counted(n)+" undercuts")
	}
	l = append(l, Share(s.LockedShare)+" of the volume locked", "heavy line: where the mould parts", "cup edge up")
	return strings.Join(l, "; ")
}

// extent is the box of the corners of a mesh in a frame.
func extent(m *mesh.Mesh, f vec.Frame) vec.Box {
	const chunk = 8192
	part := make([]vec.Box, (len(m.V)+chunk-1)/chunk)
	par.For(len(m.V), chunk, func(lo, hi int) {
		b := vec.Empty()
		for _, v := range m.V[lo:hi] {
			q := f.To(v)
			b.Min = vec.V3{X: min(b.Min.X, q.X), Y: min(b.Min.Y, q.Y), Z: min(b.Min.Z, q.Z)}
			b.Max = vec.V3{X: max(b.Max.X, q.X), Y: max(b.Max.Y, q.Y), Z: max(b.Max.Z, q.Z)}
		}
		part[lo/chunk] = b
	})
	b := vec.Empty()
	for _, p := range part {
		b = b.Join(p)
	}
	return b
}

// subject is the master as the split shows it, with what all views share.
type subject struct {
	m       *mesh.Mesh // in the standing frame
	f       vec.Frame
	longest float64
	normal  []vec.V3 // of the triangles
	line    [][]vec.V3
	hidden  func(vec.V3) bool
	k       float64      // pixels of the picture per mm
	closed  bool         // the master is watertight
	told    map[int]bool // numbers that stand in a view already
}

func (in *Input) panel(img *image.RGBA, p *page, q panel, t *subject, over int) {
	m := t.m
	// only the window that the master fills is drawn, with a rim for the ink
	const rim = 4
	b := q.box
	sw, sh := int(b.Size().X*t.k)+2*rim, int(b.Size().Y*t.k)+2*rim
	ox, oy := q.x+(q.w-panelSide/3-sw)/2, q.y+(q.h-panelFoot/2-sh)/2
	c := camera{f: q.f, k: t.k * float64(over)}
	c.cx = float64(sw*over)/2 - c.k*b.Centre().X
	c.cy = float64(sh*over)/2 + c.k*b.Centre().Y
	s := seeMesh(m, c, sw*over, sh*over, t.closed)
	s.shade(t, c, img, ox, oy, over)
	place := func(v vec.V3) vec.V2 {
		a := c.at(v)
		return vec.V2{X: (a.X/float64(over) + float64(ox)) / pictureScale, Y: (a.Y/float64(over) + float64(oy)) / pictureScale}
	}
	slack := 0.02 * t.longest
	for _, l := range t.line {
		var cur []vec.V2
		flush := func() {
			if len(cur) > 1 {
				p.strokeIn(inkTint, cutLine, nil, false, cur)
			}
			cur = nil
		}
		for i := range len(l) + 1 {
			v := l[i%len(l)]
			if !s.visible(c, v, slack) {
				flush()
				continue
			}
			cur = append(cur, place(v))
		}
		flush()
	}
	var tags []tag
	for _, i := range in.largestUndercuts(8) {
		u := in.Plan.Split.Undercuts[i]
		at := t.f.To(vec.FromArray(u.At))
		no := in.look().under[i]
		seen := s.visible(c, at, slack)
		if no > 0 && (seen || (q.last && !t.told[no])) {
			t.told[no] = true
			tags = append(tags, tag{at: place(at), text: grouped(float64(no), 0), strong: true})
		}
	}
	x0, y0 := float64(q.x)/pictureScale, float64(q.y)/pictureScale
	w, h := float64(q.w)/pictureScale, float64(q.h)/pictureScale
	p.leaders(tags, x0+w-8, x0+w+1, y0+4, y0+h-8)
	p.print(label, 8, x0+6, y0+h-2.5, left, cutTo(label, 8, w-6, q.name))
}

// largestUndercuts returns the indices of the n largest undercuts.
func (in *Input) largestUndercuts(n int) []int {
	u := in.Plan.Split.Undercuts
	l := make([]int, len(u))
	for i := range l {
		l[i] = i
	}
	sort.SliceStable(l, func(a, b int) bool { return u[l[a]].Volume > u[l[b]].Volume })
	return l[:min(n, len(l))]
}

// lineIn returns the parting line in the standing frame, cut into pieces of at
// most a hundredth of the master so that hidden parts can be left out.
func (in *Input) lineIn(t *subject) [][]vec.V3 {
	most := max(t.longest/100, 1e-9)
	f := t.f
	var out [][]vec.V3
	for _, l := range in.Plan.Split.Line {
		b := vec.Empty()
		for _, q := range l {
			b = b.Add(vec.FromArray(q))
		}
		if b.Longest() < t.longest/50 {
			continue // a speck of the line would look like a dot of a leader
		}
		var r []vec.V3
		for i := range l {
			a, b := f.To(vec.FromArray(l[i])), f.To(vec.FromArray(l[(i+1)%len(l)]))
			n := max(1, int(math.Ceil(a.Dist(b)/most)))
			n = min(n, 1000)
			for j := range n {
				r = append(r, a.Lerp(b, float64(j)/float64(n)))
			}
		}
		if len(r) > 1 {
			out = append(out, r)
		}
	}
	return out
}

// undercutTest returns a test for points of the mesh (already in the standing
// frame) that a straight pull cannot reach from either side, inside the boxes
// of the listed undercuts. A point is hidden where there is body above and
// below it in its own cell and all cells round it, so that plain upright walls
// are not.
func (in *Input) undercutTest(t *subject) func(vec.V3) bool {
	m, f := t.m, t.f
	if len(in.Plan.Split.Undercuts) == 0 {
		return nil
	}
	var boxes []vec.Box
	for _, u := range in.Plan.Split.Undercuts {
		b := vec.Box{Min: vec.FromArray(u.Box[0]), Max: vec.FromArray(u.Box[1])}
		boxes = append(boxes, b.Grow(0.01*t.longest))
	}
	e := envelopeOf([]*mesh.Mesh{m}, 500)
	tol := 2 * e.h
	return func(p vec.V3) bool {
		q := f.From(p)
		ok := false
		for _, b := range boxes {
			if q.X >= b.Min.X && q.Y >= b.Min.Y && q.Z >= b.Min.Z && q.X <= b.Max.X && q.Y <= b.Max.Y && q.Z <= b.Max.Z {
				ok = true
				break
			}
		}
		if !ok {
			return false
		}
		i, j := int((p.X-e.x0)/e.h), int((p.Y-e.y0)/e.h)
		if i < 2 || j < 2 || i >= e.nx-2 || j >= e.ny-2 {
			return false
		}
		for dj := -2; dj <= 2; dj++ {
			for di := -2; di <= 2; di++ {
				k := (j+dj)*e.nx + i + di
				if float64(e.top[k]) < p.Z+tol || float64(e.bot[k]) > p.Z-tol {
					return false
				}
			}
		}
		return true
	}
}

// layoutPicture shows the face of the half that holds more of the metal.
func (in *Input) layoutPicture() ([]byte, error) {
	p := blankPicture()
	half := in.betterHalf()
	name := [2]string{"Half 1, seen from half 2", "Half 2, seen from half 1"}[half]
	v := in.look()
	p.caption(name, Built(v.size.X)+" × "+Built(v.size.Y)+" × "+Built(v.size.Z)+nb+"mm; full vents now, broken ones only if it stays short")
	m := faceMap{half: half, size: v.size, oy: 21}
	const labels = 32
	m.scale = min((p.w-14-labels)/v.size.X, (p.h-21-7)/v.size.Y)
	m.ox = max(8, (p.w-labels-v.size.X*m.scale)/2)
	in.drawFace(p, m, m.ox+v.size.X*m.scale+8, p.w-4)
	img := newImage(pictureWide, pictureHigh, white)
	putRaster(img, p, pictureScale)
	return encode(img)
}
