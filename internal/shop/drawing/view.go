package drawing

import (
	"math"
	"sync"

	"pourwright/internal/book/plan"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// view is what the sheets and pictures share: outlines in the faces of the
// halves, the shadow and heights of the masters, the numbers of the findings.
// All in the block frame.
type view struct {
	size    vec.V3
	masters []*mesh.Mesh
	face    [2][][]vec.V2 // outlines of all metal in the face of half 1 and half 2
	piece   [2][][]vec.V2 // outlines of the masters there
	env     *envelope     // of all masters
	shadow  [][]vec.V2
	numbers []int  // per finding: its number on the paper, 0 for notes
	under   []int  // per undercut: the number of the finding that speaks of it, else a number of its own; 0 where it is too small to be told by itself
	spoken  []bool // per undercut: a finding speaks of it
	marks   []mark

	padOnce sync.Once
	pads    []pad
	own     []ownEnvelope // of single masters, made when asked for
}

type ownEnvelope struct {
	once sync.Once
	env  *envelope
}

// mark is the place of a finding or an undercut with its number.
type mark struct {
	no int
	at vec.V3
}

// faceStep is how far beside the parting surface an outline is taken, mm: far
// enough that a flat back in the parting belongs to one half alone.
const faceStep = 0.03

// look derives the shared view once.
func (in *Input) look() *view {
	in.once.Do(func() { in.seen = in.derive() })
	return in.seen
}

func (in *Input) derive() *view {
	v := &view{}
	v.number(in)
	v.numberUndercuts(in)
	b := in.Plan.Block
	if b == nil {
		return v
	}
	v.size = vec.FromArray(b.Size)
	v.masters = in.Masters
	if v.masters == nil && in.Master != nil && len(in.Master.F) > 0 {
		for _, f := range in.placements() {
			v.masters = append(v.masters, in.Master.Into(f))
		}
	}
	v.own = make([]ownEnvelope, len(v.masters))
	if s := in.Surface; s != nil && len(s.Z) > 0 {
		for k := range 2 {
			e := faceStep
			if k == 1 {
				e = -faceStep
			}
			f := func(p vec.V3) float64 { return p.Z - s.At(p.X, p.Y) - e }
			v.face[k] = turned(thinned(flat(levelSet(in.Metal, f)), 0.01, 0.3))
			for _, m := range v.masters {
				v.piece[k] = append(v.piece[k], turned(thinned(flat(levelSet(m, f)), 0.01, 0.3))...)
			}
		}
	}
	if len(v.masters) > 0 {
		v.env = envelopeOf(v.masters, 1400)
		v.shadow = v.env.shadow()
	} else {
		v.env = &envelope{}
	}
	v.mark(in)
	return v
}

// number gives every finding that asks for something its number, in the order
// of the plan, and so does every remark that has a place in the mould, for it
// could not be found otherwise.
func (v *view) number(in *Input) {
	n := 0
	v.numbers = make([]int, len(in.Plan.Findings))
	for i, f := range in.Plan.Findings {
		if f.Severity == plan.Must || f.Severity == plan.Should || (f.At != nil && in.Plan.Block != nil) {
			n++
			v.numbers[i] = n
		}
	}
}

// Undercuts that are peeled off and of which no finding speaks are told one by
// one where they are among the toldAlways largest, or stretch the rubber by
// easyStrain or more and are among the toldMost largest; the rest together.
const (
	easyStrain = 0.05
	toldAlways = 3
	toldMost   = 8
)

// numberUndercuts gives every undercut the number of its finding, and those of
// which no finding speaks the numbers after the last finding; small ones that
// the rubber passes easily get none.
func (v *view) numberUndercuts(in *Input) {
	last := 0
	for _, n := range v.numbers {
		last = max(last, n)
	}
	list := in.Plan.Split.Undercuts
	v.under, v.spoken = make([]int, len(list)), make([]bool, len(list))
	v.claim(in)
	rank := make([]int, len(list))
	for n, i := range in.largestUndercuts(len(list)) {
		rank[i] = n
	}
	for i, u := range list {
		easy := u.Action != nil && *u.Action == "release" && u.Strain != nil && *u.Strain < easyStrain
		peeled := u.Action == nil || *u.Action == "release"
		if v.under[i] > 0 || (easy && rank[i] >= toldAlways) || (peeled && rank[i] >= toldMost) {
			continue
		}
		last++
		v.under[i] = last
	}
}

// claim gives each finding on an undercut to the one nearest to its place, if
// that is no farther than the undercut's own size.
func (v *view) claim(in *Input) {
	list := in.Plan.Split.Undercuts
	for i, f := range in.Plan.Findings {
		if v.numbers[i] == 0 || f.At == nil || (f.Code != "undercut" && f.Code != "needs-piece") {
			continue
		}
		best, k := math.Inf(1), -1
		for j, u := range list {
			if d := vec.FromArray(*f.At).Dist(vec.FromArray(u.At)); d < best && !v.spoken[j] {
				best, k = d, j
			}
		}
		if k < 0 || best > max(vec.FromArray(list[k].Box[1]).Sub(vec.FromArray(list[k].Box[0])).Len(), 0.1) {
			continue
		}
		v.under[k], v.spoken[k] = v.numbers[i], true
	}
}

// mark collects the places of numbered findings and undercuts in the block.
func (v *view) mark(in *Input) {
	frames := in.placements()
	for i, f := range in.Plan.Findings {
		if v.numbers[i] == 0 || f.At == nil || len(frames) == 0 {
			continue
		}
		c := 0
		if f.Cavity != nil {
			c = min(max(*f.Cavity-1, 0), len(frames)-1) // counted from 1
		}
		v.marks = append(v.marks, mark{no: v.numbers[i], at: frames[c].To(vec.FromArray(*f.At))})
	}
	for i, u := range in.Plan.Split.Undercuts {
		if v.spoken[i] || v.under[i] == 0 {
			continue
		}
		// all pieces of a mould are alike: the number stands in the first
		if len(frames) > 0 {
			v.marks = append(v.marks, mark{no: v.under[i], at: frames[0].To(vec.FromArray(u.At))})
		}
	}
}

// placeName says where q lies on a box in words, x to the right and y up.
func placeName(q vec.V2, lo, hi vec.V2) string {
	third := func(t, lo, hi float64, names [3]string) string {
		if hi <= lo {
			return ""
		}
		switch u := (t - lo) / (hi - lo); {
		case u < 0.36:
			return names[0]
		case u > 0.64:
			return names[2]
		}
		return names[1]
	}
	h := third(q.X, lo.X, hi.X, [3]string{"left", "", "right"})
	w := third(q.Y, lo.Y, hi.Y, [3]string{"lower", "", "upper"})
	switch {
	case h == "" && w == "":
		return "middle"
	case h == "":
		return w + " middle"
	case w == "":
		return h + " middle"
	}
	return w + " " + h
}

func dist(a, b plan.P3) float64 { return vec.FromArray(a).Dist(vec.FromArray(b)) }
