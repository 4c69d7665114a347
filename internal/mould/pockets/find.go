package pockets

import (
	"math"
	"slices"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// Options steers the search for a stand. All points are in the frame of the
// mesh, lengths in its unit (mm).
type Options struct {
	Up         *vec.V3  // the job's own direction; it is judged beside the best one
	Show       []vec.V3 // points on faces that must not carry a scar
	Hide       []vec.V3 // points where a scar may go
	Label      []uint8  // per triangle, the half that touches it: where the halves meet a knife can vent
	Margin     float64  // rubber round the master; 12
	Widest     float64  // dead ends up to this bore count; Widest
	Bore       float64  // bore below which metal bridges; 5.1 (pewter)
	Resolution int      // columns for meshes that are not closed; 400
}

// Weights of the score. Air counts as the share of the volume that stays
// trapped; where a knife can vent it a twentieth of it, and each pocket a cut,
// 1 %. The others are set against that: a dead end that metal bridges is as bad
// as 3 % of trapped air, a thin end at the very top 6 %, the heavy part at the
// very bottom 8 %, a block half as large again 2 %, a scar on a face that must
// show 30 %. Judgement, no source.
const (
	knife     = 0.05
	perPocket = 0.01
	perEnd    = 0.03
	perThin   = 0.06
	perHeavy  = 0.08
	perBlock  = 0.04
	perShow   = 0.30
	perHide   = 0.06
)

// Find searches the rotation of the block about the pull: which side of the
// master is up. 72 directions are judged on columns cast once along the pull,
// whose stretches lie level whichever of these directions is up; the best ones
// are refined and swept over the surface, with their dead ends. The score is
// the sum of Terms, rounded to 1e-6; of equal ones the first in the fixed order
// wins, which starts along the longer side of the smallest rectangle round the
// shadow. Errors: no pull, an Up along the pull, a mesh that encloses nothing.
func Find(m *mesh.Mesh, pull vec.V3, o Options) (*Stand, error) {
	return Prepare(m).Find(pull, o)
}

// Find is Find for a body made ready before.
func (b *Body) Find(pull vec.V3, o Options) (*Stand, error) {
	pull, err := direction(pull)
	if err != nil {
		return nil, err
	}
	if len(b.m.F) == 0 {
		return nil, fault.New(fault.Input, "mesh", "give a mesh that encloses a body", "there is no triangle in it")
	}
	if o.Margin <= 0 {
		o.Margin = 12
	}
	if o.Widest <= 0 {
		o.Widest = Widest
	}
	if o.Bore <= 0 {
		o.Bore = 5.1
	}
	v, err := newView(b, pull, o)
	if err != nil {
		return nil, err
	}
	var given *vec.V3
	if o.Up != nil {
		u, err := direction(*o.Up)
		if err != nil {
			return nil, err
		}
		if u = u.Sub(pull.Mul(u.Dot(pull))); u.Len() < 1e-3 {
			return nil, fault.New(fault.Input, "up", "give a direction across the pull", "the direction up lies along the pull")
		}
		u = u.Unit()
		given = &u
	}
	tried, last := v.search()
	if given != nil {
		last = append(last, *given)
	}
	stands := make([]*Stand, len(last))
	errs := make([]error, len(last))
	par.For(len(last), 1, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			stands[i], errs[i] = b.Evaluate(last[i], Outlets{Knife: v.knife}, o.Resolution)
		}
	})
	for _, err := range errs {
		if err != nil {
			return nil, err
		}
	}
	best, top, more := v.finish(stands, given != nil)
	tried = append(tried, more...)
	if given != nil {
		best = stands[len(stands)-1]
	}
	best.Best, best.Tried = top, tried
	return best, nil
}

// search judges 72 directions on the columns and refines round the best dips
// of the score: neighbours of the best are not worth a place, another basin
// is, since dead ends are not yet counted. It returns all it tried and the
// best direction of each dip.
func (v *view) search() (tried []Attitude, last []vec.V3) {
	const steps = 72
	ups := make([]vec.V3, steps)
	for k := range ups {
		ups[k] = v.at(2 * math.Pi * float64(k) / steps)
	}
	tried = v.judge(ups)
	var angles []float64
	for _, k := range ranked(tried) {
		before, after := tried[(k+steps-1)%steps].Score, tried[(k+1)%steps].Score
		if s := tried[k].Score; s < before && s <= after || len(angles) == 0 {
			angles = append(angles, 2*math.Pi*float64(k)/steps)
		}
		if len(angles) == 4 {
			break
		}
	}
	var finer []vec.V3
	for _, a := range angles {
		for _, d := range []float64{-2.5, -1.25, 1.25, 2.5} {
			finer = append(finer, v.at(a+d*math.Pi/180))
		}
	}
	tried = append(tried, v.judge(finer)...)
	for _, a := range angles {
		for _, k := range ranked(tried) {
			if math.Abs(math.Remainder(v.angle(tried[k].Up)-a, 2*math.Pi)) < 3*math.Pi/180 {
				last = append(last, tried[k].Up)
				break
			}
		}
	}
	return tried, last
}

// finish adds the dead ends and returns the best stand. given says that the
// last stand is the job's own, which is finished whether it can win or not.
func (v *view) finish(stands []*Stand, given bool) (best *Stand, top Attitude, tried []Attitude) {
	full := make([]Attitude, len(stands))
	for i, s := range stands {
		full[i] = s.attitude(v)
	}
	// Dead ends only add to a score: two at a time, from the best down, until
	// none that is left can win.
	ix := ranked(full)
	if own := len(stands) - 1; given { // the job's own always
		k := slices.Index(ix, own)
		ix = slices.Insert(slices.Delete(ix, k, k+1), 0, own)
	}
	for ; len(ix) > 0; ix = ix[min(2, len(ix)):] {
		pair := ix[:min(2, len(ix))]
		if best != nil && full[pair[0]].Score >= top.Score {
			break
		}
		par.For(len(pair), 1, func(lo, hi int) {
			for _, i := range pair[lo:hi] {
				stands[i].DeadEnds = v.b.Hanging(stands[i].Up, v.o.Widest)
			}
		})
		for _, i := range pair {
			s := stands[i]
			a := s.attitude(v)
			s.Score = a.Score
			if best == nil || a.Score < top.Score {
				best, top = s, a
			}
			tried = append(tried, a)
		}
	}
	return best, top, tried
}

// ranked lists the attitudes from the best to the worst; equal scores keep
// their order.
func ranked(a []Attitude) []int {
	ix := make([]int, len(a))
	for i := range ix {
		ix[i] = i
	}
	slices.SortStableFunc(ix, func(p, q int) int {
		switch {
		case a[p].Score < a[q].Score:
			return -1
		case a[p].Score > a[q].Score:
			return 1
		}
		return 0
	})
	return ix
}

// attitude scores a stand, with the dead ends found so far.
func (s *Stand) attitude(v *view) Attitude {
	t := v.shape(s.Up)
	t.Air = air(s.Trapped/s.Volume, s.Left/s.Volume, len(s.Pockets))
	for _, d := range s.DeadEnds {
		if d.Bore < v.o.Bore {
			t.DeadEnds += perEnd
		}
	}
	t.Scar = v.scar(s.Outlet)
	return Attitude{Up: s.Up, Trapped: s.Trapped, Score: t.sum(), Terms: t}
}

// air weighs trapped air, given as shares of the volume: what the knife cannot
// reach counts whole.
func air(trapped, left float64, pockets int) float64 {
	return left + knife*(trapped-left) + perPocket*float64(pockets)
}

func (t Terms) sum() float64 {
	return math.Round((t.Air+t.DeadEnds+t.Thin+t.Heavy+t.Block+t.Scar)*1e6) / 1e6
}
