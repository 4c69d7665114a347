package heat

import (
	"sort"

	"pourwright/internal/ground/vec"
)

// Island is liquid that was cut off from all feeds: what it loses in volume
// while it freezes comes from nowhere.
type Island struct {
	Time   float64 // s after the pour when it was cut off
	Liquid float64 // mm3 of liquid when it was cut off, and of what joined it later
	Cells  int
	At     vec.V3 // mm, the most liquid cell when it was cut off
}

// feeds marks the lanes that feed.
func (r *Run) feeds() {
	r.feed = make([]bool, len(r.b.cell))
	mark := func(l int) {
		r.feed[l] = true
		r.fed = true
	}
	if r.p.Feed == nil {
		for l, c := range r.b.cell {
			if c < 0 {
				continue
			}
			if i, j, k := r.grid.Cell(int(c)); i == 0 || j == 0 || k == 0 || i == r.grid.NX-1 || j == r.grid.NY-1 || k == r.grid.NZ-1 {
				mark(l)
			}
		}
		return
	}
	for l, c := range r.b.cell {
		if c < 0 {
			continue
		}
		p := r.grid.Centre(r.grid.Cell(int(c)))
		for _, b := range r.p.Feed {
			if p.X >= b.Min.X && p.Y >= b.Min.Y && p.Z >= b.Min.Z && p.X <= b.Max.X && p.Y <= b.Max.Y && p.Z <= b.Max.Z {
				mark(l)
				break
			}
		}
	}
}

// beside calls f with the metal lanes that share a face with l.
func (r *Run) beside(l int32, f func(o int32)) {
	b := r.b
	n, x := l/lanes, l%lanes
	if b.geo[0][l] > 0 {
		f(l + 1)
	}
	if b.geo[0][l-1] > 0 {
		f(l - 1)
	}
	near := &b.near[n]
	if b.geo[1][l] > 0 {
		f(near[1] + x)
	}
	if o := near[0] + x; b.geo[1][o] > 0 && near[0] > 0 {
		f(o)
	}
	if b.geo[2][l] > 0 {
		f(near[3] + x)
	}
	if o := near[2] + x; b.geo[2][o] > 0 && near[2] > 0 {
		f(o)
	}
}

// Marks of lanes in the search for islands; numbers above nowhere are islands.
const (
	closed  = -2 // less liquid than Problem.FeedTo, or none
	nowhere = -1 // open and not reached yet
	reached = 0  // fed
)

// watchIslands looks for liquid that lost its way to the feeds. A cell counts as
// open while its liquid share is above Problem.FeedTo; one that closes while it
// is fed freezes sound.
func (r *Run) watchIslands() {
	if !r.fed || r.top <= 0 || r.Poured < r.looked*1.01 {
		return
	}
	r.looked = r.Poured
	open := r.tab.open(r.p.FeedTo)
	queue := r.queue[:0]
	for l, c := range r.b.cell {
		if r.mark[l] > 0 || c < 0 {
			continue
		}
		r.mark[l] = closed
		if r.e[l] > open {
			r.mark[l] = nowhere
			if r.feed[l] {
				r.mark[l] = reached
				queue = append(queue, int32(l))
			}
		}
	}
	for len(queue) > 0 {
		l := queue[len(queue)-1]
		queue = queue[:len(queue)-1]
		r.beside(l, func(o int32) {
			if r.mark[o] == nowhere {
				r.mark[o] = reached
				queue = append(queue, o)
			}
		})
	}
	for l := range r.mark {
		if r.mark[l] == nowhere {
			queue = r.cutOff(int32(l), queue)
		}
	}
	r.queue = queue
}

// cutOff gathers the open cells that hang together with l and gives them to the
// island they touch, or to a new one.
func (r *Run) cutOff(l int32, queue []int32) []int32 {
	id := int32(len(r.islands)) + 1
	queue = append(queue[:0], l)
	r.mark[l] = id
	joined := int32(0)
	for n := 0; n < len(queue); n++ {
		r.beside(queue[n], func(o int32) {
			if m := r.mark[o]; m == nowhere {
				r.mark[o] = id
				queue = append(queue, o)
			} else if m > 0 && m != id && (joined == 0 || m < joined) {
				joined = m
			}
		})
	}
	if joined == 0 {
		r.islands = append(r.islands, Island{Time: r.Poured})
		joined = id
	}
	s := &r.islands[joined-1]
	top := 0.0
	for _, o := range queue {
		r.mark[o] = joined
		s.Liquid += 1e9 * r.b.vol[o] * r.tab.liquid(r.e[o])
		s.Cells++
		if joined == id && r.e[o] > top {
			top = r.e[o]
			s.At = r.grid.Centre(r.grid.Cell(int(r.b.cell[o])))
		}
	}
	return queue[:0]
}

// open returns the enthalpy at which the liquid share is f.
func (t *table) open(f float64) float64 {
	for i := 1; i < len(t.e); i++ {
		if t.f[i] >= f && t.f[i] > t.f[i-1] {
			return t.e[i-1] + (t.e[i]-t.e[i-1])*(f-t.f[i-1])/(t.f[i]-t.f[i-1])
		}
	}
	return t.top()
}

// Islands returns the liquid that was cut off from the feeds since the last pour,
// largest first; known is false where there is no feed to be cut off from.
func (r *Run) Islands() (list []Island, known bool) {
	list = append(list, r.islands...)
	sort.SliceStable(list, func(i, j int) bool { return list[i].Liquid > list[j].Liquid })
	return list, r.fed
}
