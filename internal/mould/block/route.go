package block

import (
	"container/heap"
	"math"

	"pourwright/internal/ground/vec"
)

// router finds ways across the parting face. Step is its grid, free tells how
// far a place is from what must be kept clear of.
type router struct {
	lo, hi vec.V2
	step   float64
	slack  float64 // mm by which free may be short near the start
	easy   float64 // mm: straightening does not come nearer than this where the way did not
	free   func(x, y float64) float64
	extra  func(x, y float64) float64 // added cost per mm, 0 or more
}

// way is one path, from its start to its goal, with its cost in mm.
type way struct {
	p    []vec.V2
	cost float64
}

type visit struct {
	cost float64
	q    int
}

type queue []visit

func (h queue) Len() int { return len(h) }
func (h queue) Less(i, j int) bool {
	return h[i].cost < h[j].cost || h[i].cost == h[j].cost && h[i].q < h[j].q
}
func (h queue) Swap(i, j int) { h[i], h[j] = h[j], h[i] }
func (h *queue) Push(x any)   { *h = append(*h, x.(visit)) }
func (h *queue) Pop() any {
	o := *h
	x := o[len(o)-1]
	*h = o[:len(o)-1]
	return x
}

// find returns the cheapest way from start to the first place for which goal
// holds, keeping clear mm from what must be kept clear of; near the start,
// where the way leaves the metal, 0.75 of the distance from leave is enough.
// Dijkstra over eight neighbours, then straightened where the clearance
// allows.
func (r *router) find(start, leave vec.V2, clear float64, goal func(p vec.V2) bool) (way, bool) {
	nx := int((r.hi.X-r.lo.X)/r.step) + 2
	ny := int((r.hi.Y-r.lo.Y)/r.step) + 2
	// The grid is laid so that the start is a node: straight ways stay straight.
	ox := start.X - r.step*math.Floor((start.X-r.lo.X)/r.step)
	oy := start.Y - r.step*math.Floor((start.Y-r.lo.Y)/r.step)
	at := func(q int) vec.V2 {
		return vec.V2{X: ox + float64(q%nx)*r.step, Y: oy + float64(q/nx)*r.step}
	}
	may := func(p vec.V2) bool {
		return r.free(p.X, p.Y) >= math.Min(clear, 0.75*p.Add(leave.Mul(-1)).Len()-r.slack)-1e-9
	}
	cost := make([]float64, nx*ny)
	from := make([]int32, nx*ny)
	state := make([]uint8, nx*ny) // 1 free, 2 blocked, 3 done
	for q := range cost {
		cost[q] = math.Inf(1)
	}
	si := int(math.Round((start.X - ox) / r.step))
	sj := int(math.Round((start.Y - oy) / r.step))
	if si < 0 || sj < 0 || si >= nx || sj >= ny {
		return way{}, false
	}
	s := sj*nx + si
	cost[s], from[s] = 0, -1
	h := &queue{{0, s}}
	for h.Len() > 0 {
		v := heap.Pop(h).(visit)
		if state[v.q] == 3 {
			continue
		}
		state[v.q] = 3
		p := at(v.q)
		if goal(p) {
			return r.straighten(v, from, at, may), true
		}
		i, j := v.q%nx, v.q/nx
		for k := range 8 {
			di, dj := [8]int{1, 0, -1, 0, 1, 1, -1, -1}[k], [8]int{0, 1, 0, -1, 1, -1, 1, -1}[k]
			if i+di < 0 || j+dj < 0 || i+di >= nx || j+dj >= ny {
				continue
			}
			q := (j+dj)*nx + i + di
			if state[q] == 0 {
				state[q] = 2
				if may(at(q)) {
					state[q] = 1
				}
			}
			if state[q] != 1 {
				continue
			}
			b := at(q)
			c := v.cost + math.Hypot(b.X-p.X, b.Y-p.Y)*(1+r.extra(b.X, b.Y))
			if c < cost[q]-1e-12 {
				cost[q] = c
				from[q] = int32(v.q)
				heap.Push(h, visit{c, q})
			}
		}
	}
	return way{}, false
}

// straighten pulls the string: from each kept point on to the last one that a
// straight line reaches with the clearance kept.
func (r *router) straighten(v visit, from []int32, at func(int) vec.V2, may func(vec.V2) bool) way {
	var p []vec.V2
	for q := v.q; q >= 0; q = int(from[q]) {
		p = append(p, at(q))
	}
	for i, j := 0, len(p)-1; i < j; i, j = i+1, j-1 {
		p[i], p[j] = p[j], p[i]
	}
	sees := func(a, b vec.V2, room float64) bool {
		d := b.Add(a.Mul(-1))
		n := int(d.Len()/(r.step/2)) + 1
		for k := 0; k <= n; k++ {
			q := a.Add(d.Mul(float64(k) / float64(n)))
			if !may(q) || r.free(q.X, q.Y) < room {
				return false
			}
		}
		return true
	}
	room := make([]float64, len(p)) // from point i on to j, set anew for each i
	w := way{cost: v.cost, p: []vec.V2{p[0]}}
	for i := 0; i < len(p)-1; {
		least := r.easy
		for j := i; j < len(p); j++ {
			if r.easy > 0 {
				least = math.Min(least, r.free(p[j].X, p[j].Y))
			}
			room[j] = least - r.step/2
		}
		j := len(p) - 1
		for j > i+1 && !sees(p[i], p[j], room[j]) {
			j--
		}
		w.p = append(w.p, p[j])
		i = j
	}
	return w
}

// length returns the length of the way.
func (w *way) length() float64 {
	s := 0.0
	for i := 1; i < len(w.p); i++ {
		s += w.p[i].Add(w.p[i-1].Mul(-1)).Len()
	}
	return s
}
