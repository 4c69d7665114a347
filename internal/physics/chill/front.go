package chill

import (
	"math"

	"pourwright/internal/ground/vec"
)

// A front welds where it is more than weldAbove K over the temperature at which a
// share weld of it is liquid; colder ones leave a cold shut. Common practice, no
// source: metal that is a tenth solid no longer wets the other front.
const (
	weld      = 0.9
	weldAbove = 3 // K
)

// filled and emptied are the shares at which a cell counts as filled and as empty again.
const (
	filled  = 0.5
	emptied = 0.3
)

// meet is two fronts that came together in a cell, or a surface on which more metal
// was poured.
type meet struct {
	time   float64 // s, -1 none
	T      float64 // degC of the colder
	liquid float64
	ladle  bool
}

// toward is how squarely a front must come at a cell, and apart the cosine of the
// angle between the ways of two fronts under which they meet, 60 degrees.
const (
	toward = 0.6
	apart  = 0.5
)

// fronts notes which cells were filled in this step and which fell empty, in the
// order of the cells.
func (s *State) fronts(dt float64, f []float64) {
	for c := range int32(s.c.N) {
		switch x := f[c]; {
		case !s.full[c] && x >= filled:
			s.full[c] = true
			was := float64(s.share[c])
			t := s.Time
			if x > was {
				t -= dt * min(1, (x-filled)/(x-was))
			}
			if s.First[c] < 0 {
				s.First[c] = t
			}
			s.Last[c] = t
			s.arrive(c, t, f)
		case s.full[c] && x < emptied:
			s.full[c] = false
			s.front[c] = vec.V3{}
			s.met[c].time = -1
		}
		s.share[c] = float32(f[c])
	}
}

// near lists the open cells that share a side, an edge or a corner with c and that
// a way through open sides of such cells joins to it, and the step to each.
func (s *State) near(c int32, list *[26]int32, step *[26]vec.V3) int {
	var seen [27]bool
	seen[13] = true
	n := 0
	var walk func(o int32, x, y, z int)
	walk = func(o int32, x, y, z int) {
		at := [3]int{x, y, z}
		for side := range 6 {
			to := at
			to[side/2] += 2*(side%2) - 1
			if at[side/2] != 0 {
				continue
			}
			k := s.c.Nb[side][o]
			i := 13 + to[0] + 3*to[1] + 9*to[2]
			if int(k) >= s.c.N || seen[i] {
				continue
			}
			seen[i] = true
			list[n], step[n] = k, vec.V3{X: float64(to[0]), Y: float64(to[1]), Z: float64(to[2])}
			n++
			walk(k, to[0], to[1], to[2])
		}
	}
	walk(c, 0, 0, 0)
	return n
}

// arrive finds the way by which the front came into a cell that has just been
// filled, and whether two fronts have met there. The way is that of the fronts in the
// filled cells round it, by two thirds, and down the slope of the metal's share, by one.
// Two fronts meet where both came at the cell by ways more than 60 degrees apart.
func (s *State) arrive(c int32, t float64, f []float64) {
	var around, list [26]int32
	var unit, at [26]vec.V3
	n := s.near(c, &around, &unit)
	m := 0
	for i := range n {
		unit[i] = unit[i].Unit()
		if s.full[around[i]] {
			list[m], at[m] = around[i], unit[i].Mul(-1) // towards c
			m++
		}
	}
	a, b := s.clash(list[:m], at[:m])
	var lead vec.V3 // of two fronts, the way of the one that fills more of what is round the cell
	if a >= 0 {
		p, q := list[a], list[b]
		s.met[c] = meet{time: t, T: min(s.T[p], s.T[q]), liquid: min(s.Liquid[p], s.Liquid[q])}
		with := 0
		for i := range m {
			if d := s.front[list[i]]; d.Dot(s.front[p]) > d.Dot(s.front[q]) {
				with++
			} else {
				with--
			}
		}
		if lead = s.front[p]; with < 0 {
			lead = s.front[q]
		}
	}
	var ways, slope vec.V3
	for i := range m {
		if d := s.front[list[i]]; a < 0 || d.Dot(lead) > 0 {
			ways = ways.Add(d)
		}
	}
	for i := range n {
		slope = slope.Add(unit[i].Mul(f[c] - f[around[i]]))
	}
	for side := range 6 {
		if o := int(s.c.Nb[side][c]); o >= s.c.N && o < s.c.Wall {
			slope = slope.Sub(outward(side).Mul(f[o] - f[c]))
		}
	}
	if a >= 0 && slope.Dot(lead) < 0 {
		slope = vec.V3{}
	}
	d := ways.Mul(2 / max(1, float64(m)))
	if l := slope.Len(); l > 0.3 {
		d = d.Add(slope.Mul(1 / l))
	}
	s.front[c] = vec.V3{}
	if l := d.Len(); l > 0.1 {
		s.front[c] = d.Mul(1 / l)
	}
}

// clash returns the places in list of the two fronts that come at a cell by ways most
// apart, -1 where none are apart enough to meet; at are the ways from them to the cell.
func (s *State) clash(list []int32, at []vec.V3) (a, b int) {
	worst, a, b := apart, -1, -1
	for i := range list {
		d := s.front[list[i]]
		if d.Dot(at[i]) < toward {
			continue
		}
		for j := range i {
			if e := s.front[list[j]]; e.Dot(at[j]) >= toward && d.Dot(e) < worst {
				worst, a, b = d.Dot(e), i, j
			}
		}
	}
	return a, b
}

// Again says that pouring goes on after a pause: where metal of the next ladle
// covers the surface as it lies now, a line stays.
func (s *State) Again(f []float64) {
	for c := range int32(s.c.N) {
		if f[c] < 0.02 {
			continue
		}
		free := f[c] < 0.98
		for side := range 6 {
			o := s.c.Nb[side][c]
			free = free || int(o) < s.c.N && f[o] < 0.02
		}
		if free {
			s.met[c] = meet{time: s.Time, T: s.T[c], liquid: s.Liquid[c], ladle: true}
		}
	}
}

// Speed returns how fast the front ran where it came into a cell, m/s, from the
// times at which it came to the cells round it; 0 where that cannot be told.
func (s *State) Speed(c int32) float64 {
	if s.Last[c] < 0 {
		return 0
	}
	var list [26]int32
	var step [26]vec.V3
	n := s.near(c, &list, &step)
	var late vec.V3
	var w [3]float64
	for i := range n {
		if t := s.Last[list[i]]; t >= 0 && t <= s.Last[c] {
			d := step[i]
			late = late.Sub(d.Mul((s.Last[c] - t) / d.Dot(d)))
			for e, x := range d.Array() {
				w[e] += x * x / d.Dot(d)
			}
		}
	}
	g := 0.0
	for e, x := range late.Array() {
		if w[e] > 0 {
			g += x / w[e] * x / w[e]
		}
	}
	if g == 0 {
		return 0
	}
	return s.c.H / math.Sqrt(g)
}
