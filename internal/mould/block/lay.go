package block

import (
	"fmt"
	"math"

	"pourwright/internal/book/plan"
	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/mould/parting"
	"pourwright/internal/mould/pockets"
	"pourwright/internal/shape/bvh"
	"pourwright/internal/shape/mesh"
)

// work is a layout on its way. Points are in the work frame: the axes of the
// block, the origin of the master's file.
type work struct {
	d        Demand
	l        *Layout
	split    *parting.Split
	stand    *pockets.Stand
	w        vec.Frame
	m        *mesh.Mesh // the master
	air      *pockets.Body
	line     *buckets
	box      vec.Box
	volume   float64
	f        *face // the master alone
	tree     *bvh.Tree
	sections []section
	shown    []vec.V3 // places on the faces that must not carry a scar

	// The cavity being laid out; for the others see cavities.
	gate     gate
	rim      float64 // height of the block's upper side
	headRule string
	channels []Channel // of the first cavity
	feeds    []plan.Feeder
	flows    []plan.FlowOff
	inserts  []Insert
	above    float64    // height of the castings stacked over this one
	others   []obstacle // castings and channels laid before this one
	cavities []cavity
	stacked  bool
	all      *face   // castings and channels
	open     []bool  // of all: joined to the face's rim
	edge     float64 // height of the parting surface at the block's sides
	block    vec.Box
}

// cavity is one casting with all that is formed for it, work frame.
type cavity struct {
	shift    vec.V3 // from the master's own place
	gate     vec.V3
	channels []Channel
	feeds    []plan.Feeder
	flows    []plan.FlowOff
}

// obstacle is a casting that stands dx, dy away, and its channels.
type obstacle struct {
	dx, dy   float64
	channels []Channel
}

// places is how many places of the skin are measured for thickness: the share
// of thin skin is known to about 0.3 %.
const places = 3000

// Lay lays out the mould for master m (closed, outward, mm, master frame),
// whose split and stand are known. The errors are those of input: no metal, or
// a pull and an up that do not stand across each other.
func Lay(m *mesh.Mesh, split *parting.Split, stand *pockets.Stand, d Demand) (*Layout, error) {
	k, err := begin(m, split, stand, d.filled())
	if err != nil {
		return nil, err
	}
	k.overruled()
	k.lodge()
	k.findGate()
	k.feed()
	k.feeders()
	k.flowOff()
	k.several()
	k.beside()
	if err := k.enclose(); err != nil {
		return nil, err
	}
	k.vent()
	k.clamp()
	return k.l, nil
}

func begin(m *mesh.Mesh, split *parting.Split, stand *pockets.Stand, d Demand) (*work, error) {
	k := &work{d: d, l: &Layout{}, split: split, stand: stand, w: vec.Standing(split.Pull, stand.Up)}
	if math.Abs(k.w.Y.Len()-1) > 1e-6 || !k.w.Y.Finite() || math.Abs(k.w.Z.Len()-1) > 1e-6 {
		return nil, fault.New(fault.Input, "[stand] up", "give an up that does not lie along the pull", "the way up and the pull lie along one line")
	}
	k.m = m.Into(k.w)
	k.box = k.m.Box()
	k.volume = k.m.Volume()
	if !(k.volume > 0) {
		return nil, fault.New(fault.Input, "", "repair the mesh so that it closes", "the master holds no volume")
	}
	s := k.box.Size()
	h := spacing(math.Max(s.X, s.Y))
	par.Do(
		func() {
			k.tree = bvh.Build(k.m)
			k.sections = sections(k.m, k.tree, places)
		},
		func() {
			k.f = look(k.m, vec.V2{X: k.box.Min.X - 2*h, Y: k.box.Min.Y - 2*h}, vec.V2{X: k.box.Max.X + 2*h, Y: k.box.Max.Y + 2*h}, h)
		},
		func() { k.air = pockets.Prepare(k.m) })
	k.shown = k.showing()
	k.edge = k.f.level()
	if b := split.Back; b != nil {
		k.edge = b.Height
		k.l.Back = b
	}
	return k, nil
}

// overruled says what a pull and an up that the job fixed cost.
func (k *work) overruled() {
	l := k.l
	if k.d.UpForced {
		best := k.stand.Best
		if best.Up.Len() > 0 {
			l.Tried = append(l.Tried, plan.Trial{What: "way up of the search", Result: fmt.Sprintf("up %.3f, %.3f, %.3f traps %.0f mm3", best.Up.X, best.Up.Y, best.Up.Z, best.Trapped), Score: plan.Ptr(best.Score)},
				plan.Trial{What: "way up of the job", Result: fmt.Sprintf("traps %.0f mm3", k.stand.Trapped), Score: plan.Ptr(k.stand.Score), Kept: true})
			limited(l.finding("overruled", "note", nil, "[stand] up overrules the search: before vents it traps "+pair(k.stand.Trapped, best.Trapped, "%s of air, the search's own way up %s", 0),
				"leave [stand] out to take the search's way up"), k.stand.Trapped, best.Trapped)
		}
	}
	if k.d.PullForced {
		best := -1
		for i, a := range k.split.Tried {
			if best < 0 || a.Locked < k.split.Tried[best].Locked {
				best = i
			}
		}
		if best >= 0 {
			a := k.split.Tried[best]
			l.Tried = append(l.Tried, plan.Trial{What: "pull of the search", Result: fmt.Sprintf("along %.3f, %.3f, %.3f locks %.1f mm3", a.Pull.X, a.Pull.Y, a.Pull.Z, a.Locked), Score: plan.Ptr(a.Score)},
				plan.Trial{What: "pull of the job", Result: fmt.Sprintf("locks %.1f mm3", k.split.Locked), Score: plan.Ptr(k.split.Locked), Kept: true})
			limited(l.finding("overruled", "note", nil, "[split] pull overrules the search: it locks "+pair(k.split.Locked, a.Locked, "%s of rubber, the best pull tried %s", 1),
				"leave [split] out to take the search's pull"), k.split.Locked, a.Locked)
		}
	}
}

// lie says where channels lie: in both halves, or in the one that holds the
// cavity of a piece with a flat back.
func (k *work) lie() Lie {
	switch b := k.split.Back; {
	case b == nil:
		return Both
	case b.Side < 0:
		return InHalf1
	default:
		return InHalf2
	}
}

// lineAt returns the height of the parting line nearest to (x, y).
func (k *work) lineAt(x, y float64) float64 {
	if b := k.split.Back; b != nil {
		return b.Height
	}
	if k.line == nil {
		k.line = newBuckets(k)
	}
	if z, ok := k.line.near(x, y); ok {
		return z
	}
	q := k.f.node(x, y)
	if !k.f.metal(q) {
		return k.edge
	}
	return min(max(k.edge, k.f.lo[q]), k.f.hi[q])
}
