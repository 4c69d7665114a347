package rig

import (
	"cmp"
	"math"
	"slices"

	"pourwright/internal/book/plan"
	"pourwright/internal/book/pour"
	"pourwright/internal/ground/vec"
)

// Poured is how a cavity stands when nothing more goes in, one entry per open
// cell: all that the words of a plan need of a solver.
type Poured struct {
	Cell    float64   // mm, edge
	At      []vec.V3  // mm, middles
	Open    []float64 // mm3 that metal could fill
	Share   []float64 // of that, metal
	Time    []float64 // s at which metal came; -1 never
	Warm    []float64 // degC of the metal
	Pocket  []int32   // label of the closed air in it, -1: none, or open to the outside
	Stopped []bool    // metal that stands for cold
	Below   []bool    // below the cups; nil: all
	Mouth   []bool    // beneath an opening; nil: none known
	Speed   []float64 // mm/s of the front when it came; 0 never
	Beside  func(c int, visit func(o int))

	Meetings []pour.Meeting
	Poured   float64 // mm3 that left the ladles
	Overflow float64
	Steps    int
	Volume   float64 // left of poured
	Energy   float64
	Taken    float64 // s until nothing more went in
}

// A place is not worth a word below this share of a cell's volume.
const speckShare = 0.5

// Run puts what a solver left into a run of the document. Empty space under an opening that is
// neither closed air nor cut off by stopped metal counts as not poured: the
// ladle was empty, or the metal lies level with its vents. Other empty space stays empty
// for cold or for want of head.
func (e *Poured) Run(name string, rate float64) pour.Run {
	r := pour.Run{Name: name, Cell: e.Cell, Rate: rate, Time: e.Taken, Poured: e.Poured, Overflow: e.Overflow, Steps: e.Steps,
		Volume: e.Volume, Energy: e.Energy, Air: []pour.Place{}, Misruns: []pour.Place{}, Meetings: e.Meetings, Bridged: []pour.Place{}}
	if r.Meetings == nil {
		r.Meetings = []pour.Meeting{}
	}
	all, metal := 0.0, 0.0
	below, cast := 0.0, 0.0
	cold := math.Inf(1)
	for c, v := range e.Open {
		all += v
		metal += v * e.Share[c]
		if e.Below == nil || e.Below[c] {
			below, cast = below+v, cast+v*e.Share[c]
		}
		if e.Share[c] > 0.5 {
			cold = math.Min(cold, e.Warm[c])
		}
	}
	if !(all > 0) {
		return r
	}
	r.Filled = metal / all
	if below > 0 {
		r.Castings = cast / below
	}
	r.Coldest = plan.Known(cold)
	r.Fastest = e.quick(0.95)
	r.Air = e.places(func(c int) int32 { return e.Pocket[c] })
	for _, p := range r.Air {
		r.Trapped += p.Volume / all
	}
	r.Misruns = e.places(e.short())
	for _, p := range r.Misruns {
		r.Short += p.Volume / all
	}
	return r
}

// quick is a quantile of the front's speed by the volume it passed, mm/s.
func (e *Poured) quick(share float64) float64 {
	var order []int
	all := 0.0
	for c, u := range e.Speed {
		if u > 0 {
			order = append(order, c)
			all += e.Open[c]
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(e.Speed[a], e.Speed[b]) })
	sum := 0.0
	for _, c := range order {
		if sum += e.Open[c]; sum >= share*all {
			return e.Speed[c]
		}
	}
	return 0
}

// short labels empty space that metal did not reach: connected cells less than half full,
// without closed air, at least one of which lies beside a cell that stopped, or none of
// which lies under an opening.
func (e *Poured) short() func(c int) int32 {
	label := make([]int32, len(e.Open))
	for c := range label {
		label[c] = -1
	}
	empty := func(c int) bool { return e.Share[c] < 0.5 && e.Pocket[c] < 0 && !e.Stopped[c] }
	n := int32(0)
	for c := range label {
		if label[c] >= 0 || !empty(c) {
			continue
		}
		stack, mine, cold, mouth := []int{c}, []int{}, false, e.Mouth == nil
		label[c] = n
		for len(stack) > 0 {
			q := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			mine = append(mine, q)
			mouth = mouth || e.Mouth != nil && e.Mouth[q]
			e.Beside(q, func(o int) {
				cold = cold || e.Stopped[o]
				if label[o] < 0 && empty(o) {
					label[o] = n
					stack = append(stack, o)
				}
			})
		}
		if !cold && mouth {
			for _, q := range mine {
				label[q] = math.MaxInt32
			}
			continue
		}
		n++
	}
	return func(c int) int32 {
		if label[c] == math.MaxInt32 {
			return -1
		}
		return label[c]
	}
}

// places gathers the empty volume of the cells by label, the largest first.
func (e *Poured) places(of func(c int) int32) []pour.Place {
	type sum struct {
		at     vec.V3
		v      float64
		frozen bool
		first  int
	}
	at := map[int32]int{}
	var list []sum
	for c, v := range e.Open {
		l := of(c)
		air := v * (1 - e.Share[c])
		if l < 0 || !(air > 0) {
			continue
		}
		k, ok := at[l]
		if !ok {
			k = len(list)
			at[l] = k
			list = append(list, sum{first: c})
		}
		s := &list[k]
		s.at, s.v = s.at.Add(e.At[c].Mul(air)), s.v+air
		e.Beside(c, func(o int) { s.frozen = s.frozen || e.Stopped[o] })
	}
	slices.SortStableFunc(list, func(a, b sum) int { return cmp.Or(cmp.Compare(b.v, a.v), cmp.Compare(a.first, b.first)) })
	out := []pour.Place{}
	for _, s := range list {
		if s.v >= speckShare*e.Cell*e.Cell*e.Cell {
			out = append(out, pour.Place{At: s.at.Mul(1 / s.v).Array(), Volume: s.v, Frozen: s.frozen})
		}
	}
	return out
}
