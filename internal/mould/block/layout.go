package block

import (
	"pourwright/internal/book/plan"
	"pourwright/internal/ground/vec"
	"pourwright/internal/mould/parting"
	"pourwright/internal/mould/pockets"
	"pourwright/internal/shape/mesh"
)

// Side is one of the six sides of the block.
type Side int

// The sides in the order of plan.json's margins. Up is the side of the cup,
// Back2 and Back1 the backs of half 2 and half 1.
const (
	Left Side = iota
	Right
	Bottom
	Up
	Back2
	Back1
)

var sideNames = [6]string{"left (-x)", "right (+x)", "bottom (-y)", "cup side (+y)", "back of half 2 (-z)", "back of half 1 (+z)"}

// String names the side as the plan does.
func (s Side) String() string { return sideNames[s] }

// out is the sense in which the side looks along its axis.
func (s Side) out() float64 { return float64(2*(int(s)%2) - 1) }

// of returns the coordinate of that side of a box.
func (s Side) of(b vec.Box) float64 {
	if int(s)%2 == 1 {
		return b.Max.At(int(s) / 2)
	}
	return b.Min.At(int(s) / 2)
}

// Rule is what fixes one side of the block: were the side any nearer, the rule
// would be broken.
type Rule struct {
	Side  Side
	Name  string  // "rubber beside a key", "head over a thin end", ..
	Value float64 // mm, what the rule asks
	From  string  // from what the value is measured to the side
	At    float64 // block coordinate of the side, along its axis
}

// beyond returns how far outside a side at x the rule wants it.
func (r Rule) beyond(x float64) float64 { return r.Side.out() * (r.At - x) }

// Key is one frustum. It stands on half 2 and enters half 1 where Depth > 0,
// the other way round where Depth < 0. Its axis is along z.
type Key struct {
	At       vec.V3 // middle of the foot, on the parting surface
	Diameter float64
	Depth    float64
}

// Taper is the slope of a key's flank from its axis, degrees.
const Taper = 20.0

// Cut is one vent made by a knife in the parting face of a half.
type Cut struct {
	No           int
	Half         int
	Cavity       int
	Path         []vec.V3 // on the parting surface, from the pocket to open air
	Width, Depth float64  // along and across the parting face
	When         string   // "now" or "if short"
	Why          string
}

// End is a narrow place that metal must be pushed into: it fills where Head
// exceeds 2 gamma (1/Thickness + 1/Width) / (rho g).
type End struct {
	At               vec.V3  // master frame
	Thickness, Width float64 // mm
	Head             float64 // from it to 3 mm under the rim, mm
}

// Clamps is how the halves are held together.
type Clamps struct {
	Opening, Force, Squeeze, Strain float64 // N, N, mm, share
	Count                           int
	BoardSize                       vec.V3
	BoardName                       string
	Deflexion, Gap                  float64 // mm between clamps, and the gap that metal enters
}

// Layout is the mould as laid out. Frame is the block frame in the master
// frame of the first cavity; Placements the same for every cavity. All other
// points are in the block frame.
type Layout struct {
	Frame         vec.Frame
	Placements    []vec.Frame
	Size          vec.V3
	Margins       [6]float64
	Rules         [6]Rule
	Head          float64
	Channels      []Channel
	Ingates       []plan.Ingate
	Feeders       []plan.Feeder
	FlowOffs      []plan.FlowOff
	Thick         float64 // V/A of the thickest place of a casting, mm; 0 where not found
	ThickAt       *vec.V3 // that place, master frame of its cavity
	Keys          []Key
	Cuts          []Cut
	Inserts       []Insert
	Clamps        Clamps
	Ends          []End // the thin end that asks the most head, and the ingate, of the first cavity
	MastersNeeded int
	Surface       *parting.Surface
	Edge          float64 // height of the parting surface at the block's sides
	Back          *parting.Back
	Metal         *mesh.Mesh // castings and channels as separate closed parts, untrimmed
	After         *pockets.Stand
	Findings      []plan.Finding
	Figures       []plan.Figure
	Tried         []plan.Trial

	asked  []Rule       // all rules of all sides; At is how near each lets its side come
	bodies []*mesh.Mesh // the castings, block frame
	rim    float64      // lowest height of the parting surface at the block's left, right and bottom
	away   *face        // castings and channels on the parting face
}

// Box returns the block in its own frame.
func (l *Layout) Box() vec.Box {
	h := l.Size.Mul(0.5)
	return vec.Box{Min: h.Mul(-1), Max: h}
}

// Plan returns the layout as the plan's section.
func (l *Layout) Plan() *plan.Block {
	b := &plan.Block{
		Size: l.Size.Array(), Frame: frameOf(l.Frame), Margins: l.Margins, Cavities: len(l.Placements),
		MastersNeeded: l.MastersNeeded, Head: l.Head,
		Placements: []plan.Frame{}, Keys: []plan.Key{}, Ingates: append([]plan.Ingate{}, l.Ingates...),
		Feeders: append([]plan.Feeder{}, l.Feeders...), FlowOffs: append([]plan.FlowOff{}, l.FlowOffs...),
		Cuts: []plan.Cut{}, Inserts: []plan.Insert{},
	}
	for _, f := range l.Placements {
		b.Placements = append(b.Placements, frameOf(f))
	}
	for _, k := range l.Keys {
		b.Keys = append(b.Keys, plan.Key{At: k.At.Array(), Diameter: k.Diameter, Depth: k.Depth})
	}
	for _, c := range l.Cuts {
		p := plan.Cut{No: c.No, Half: c.Half, Width: c.Width, Depth: c.Depth, When: c.When, Path: []plan.P3{}}
		for _, q := range c.Path {
			p.Path = append(p.Path, q.Array())
		}
		if len(p.Path) > 0 {
			p.At = p.Path[0]
		}
		b.Cuts = append(b.Cuts, p)
	}
	for _, i := range l.Inserts {
		b.Inserts = append(b.Inserts, plan.Insert{Kind: i.Kind, At: i.At.Array(), Direction: i.Direction.Array(), Diameter: i.Diameter, Length: i.Length})
	}
	c := l.Clamps
	b.Clamps = plan.Clamps{Opening: c.Opening, Force: c.Force, Squeeze: c.Squeeze, Count: c.Count,
		Board: plan.Board{Size: c.BoardSize.Array(), Material: c.BoardName, Deflexion: c.Deflexion}}
	return b
}

func frameOf(f vec.Frame) plan.Frame {
	return plan.Frame{Origin: f.Origin.Array(), X: f.X.Array(), Y: f.Y.Array(), Z: f.Z.Array()}
}
