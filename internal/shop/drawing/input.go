package drawing

import (
	"math"
	"sync"

	"pourwright/internal/book/plan"
	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
	"pourwright/internal/mould/parting"
	"pourwright/internal/shape/mesh"
)

// Input is everything the paper is made from. It must not change between the
// calls of Card, Templates and Pictures, which share what they derive from it
// and may run side by side.
type Input struct {
	Plan  *plan.Plan
	Paper string // A4 (also where empty) or Letter
	Names Names
	Bench Bench

	// Master is the master in its own frame, nil where it is not at hand (then
	// there is no picture of the split).
	Master *mesh.Mesh
	// Masters are the masters in the block frame, one for each cavity. Where
	// nil, Master is put at each of the plan's placements.
	Masters []*mesh.Mesh
	// Metal is everything the metal fills, closed, in the block frame; nil
	// where the plan has no block.
	Metal *mesh.Mesh
	// Surface is the parting surface in the block frame.
	Surface *parting.Surface
	// Heat is the computed pour, nil where it was not computed.
	Heat *Heat

	once sync.Once
	seen *view
}

// Names are the words of the heads. All may be empty but Title.
type Names struct {
	Workshop, Job, Mould string
	Version              string // number of the plan
	Title                string
	Alloy                string // as a person says it: pewter 92-7-1
	Rubber               string // condensation rubber, 30 Shore A
	Use                  string // toy food jewellery fishing decor
	Material             string // of the master
	Sentence             string // the verdict in a sentence; made from the findings where empty
	CastTimes            int    // shots in the logbook for this plan
}

// Bench is what the sheets say beside the plan. A zero means not known, and
// the sheet then leaves the figure out or gives a line to write it on.
type Bench struct {
	Ratio        float64 // g of part A for one g of part B
	ScaleStep    float64 // g, of the scale for part B
	ScaleStepA   float64 // g, of the scale for part A
	Condensation bool    // the rubber gives off alcohol while it cures
	Lead         bool    // the alloy holds lead
	PotMax       float64 // degrees C, never above
	MouldMax     float64 // degrees C, rating of the rubber
	PourWithin   float64 // s
	SolidAfter   float64 // s, estimate where the freeze is not computed
	OpenAfter    float64 // s, the same
	OpenAt       float64 // degrees C of the casting when opened
	Rest         float64 // s between two shots of one mould, estimate
	Growth       float64 // times the mix rises under vacuum
	HasPump      bool    // a pump is on the bench
	Stir         float64 // s
	Clay         float64 // mm3 for the bed
	Dry          float64 // s from opening to the first pour
	Caliper      float64 // mm, a length to check on the master; 0 takes the longest edge of its box
	PerCasting   []Cost  // rows of the cost table, empty where no prices are known
}

// Cost is one row of the table of costs, for one casting.
type Cost struct {
	Name   string
	Amount float64
}

// check refuses what cannot be drawn at all.
func (in *Input) check() error {
	if in == nil || in.Plan == nil {
		return fault.New(fault.Internal, "paper", "", "there is no plan to draw")
	}
	if _, ok := stockOf(in.Paper); !ok {
		return fault.New(fault.Usage, "paper", "Use A4 or Letter.", "the paper %q is not known", in.Paper)
	}
	return nil
}

func (in *Input) cavities() int {
	if in.Plan.Block == nil {
		return 1
	}
	return max(1, in.Plan.Block.Cavities)
}

// state is what the foot and the stamp say of the plan.
func (in *Input) state() string {
	switch n := in.Names.CastTimes; {
	case n == 1:
		return "Cast once"
	case n > 1:
		return "Cast " + grouped(float64(n), 0) + " times"
	case in.Plan.Verdict == plan.No:
		return "Do not pour"
	case !in.Plan.Fill.Computed || !in.Plan.Freeze.Computed:
		return "Estimated, not yet cast"
	}
	return "Computed, not yet cast"
}

// solidAfter, openAfter and rest take the plan's time, else the bench's
// estimate; ok is false where neither is known, sure where it was computed.
func (in *Input) solidAfter() (s float64, ok, sure bool) {
	return timeOf(in.Plan.Freeze.SolidAfter, in.Bench.SolidAfter, in.Plan.Freeze.Computed)
}

func (in *Input) openAfter() (s float64, ok, sure bool) {
	return timeOf(in.Plan.Freeze.OpenAfter, in.Bench.OpenAfter, in.Plan.Freeze.Computed)
}

func (in *Input) rest() (s float64, ok, sure bool) {
	return timeOf(in.Plan.Cycle.Rest, in.Bench.Rest, in.Plan.Cycle.Computed)
}

// how says in which way the mould rests between two shots.
func (in *Input) how() string {
	if h := in.Plan.Cycle.How; h != nil {
		return *h
	}
	return "opened"
}

// restName names the rest on the front, restStep on the sheet of the shots, by
// the way of resting.
var (
	restName = map[string]string{"closed": "Rest, closed", "opened": "Rest, halves apart", "opened, with a fan": "Rest, apart, fan on"}
	restStep = map[string]string{"closed": "Leave it closed", "opened": "Halves apart", "opened, with a fan": "Halves apart, fan on"}
)

func timeOf(planned *float64, estimate float64, computed bool) (s float64, ok, sure bool) {
	if planned != nil && finite(*planned) && *planned > 0 {
		return *planned, true, computed
	}
	return estimate, estimate > 0 && finite(estimate), false
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

// placements returns the frames that take a master's points into the block.
func (in *Input) placements() []vec.Frame {
	b := in.Plan.Block
	if b == nil {
		return nil
	}
	if len(b.Placements) == 0 {
		return []vec.Frame{b.Frame.Vec()}
	}
	out := make([]vec.Frame, len(b.Placements))
	for i, p := range b.Placements {
		out[i] = p.Vec()
	}
	return out
}
