package chill

import (
	"math"
	"sort"

	"pourwright/internal/ground/vec"
)

// Meeting is a line or a face at which two fronts met, or on which a second ladle
// was poured.
type Meeting struct {
	At      vec.V3  // mm, the cell that was coldest
	Length  float64 // mm, from end to end
	Area    float64 // mm2
	Time    float64 // s, when it began
	Coldest float64 // degC, of the colder front
	Liquid  float64 // its liquid share
	Cold    bool    // too cold to weld: a cold shut
	Ladle   bool    // a pause in the pouring
	Cells   []int32
}

// Stop is metal that stands still because it froze.
type Stop struct {
	At     vec.V3  // mm, the cell that stopped first
	Time   float64 // s, when it did
	T      float64 // degC there now
	Volume float64 // mm3 of metal in all cells of this stop
	Cell   int32
}

// Misrun is room that metal cannot reach since the way is shut.
type Misrun struct {
	At     vec.V3  // mm, middle of the room
	Volume float64 // mm3
	Shut   float64 // share of its faces to metal that are shut
	Time   float64 // s, when the first of the cells at its edge stopped
}

// clusters calls each with the cells of each group of cells that pass, joined by
// sides, edges or corners, in the order of their first cells.
func (s *State) clusters(pass func(c int32) bool, each func(group []int32)) {
	seen := make([]bool, s.c.N)
	var list [26]int32
	var step [26]vec.V3
	for c := range int32(s.c.N) {
		if seen[c] || !pass(c) {
			continue
		}
		group := []int32{c}
		seen[c] = true
		for i := 0; i < len(group); i++ {
			for _, o := range list[:s.near(group[i], &list, &step)] {
				if !seen[o] && pass(o) {
					seen[o] = true
					group = append(group, o)
				}
			}
		}
		sort.Slice(group, func(i, j int) bool { return group[i] < group[j] })
		each(group)
	}
}

// long returns about the largest distance in a group of cells, m, cells included.
func (s *State) long(group []int32) float64 {
	far := func(from int32) (at int32, d float64) {
		p := s.c.Centre(from)
		for _, c := range group {
			if x := s.c.Centre(c).Sub(p).Len(); x > d || at == 0 && d == 0 {
				at, d = c, x
			}
		}
		return at, d
	}
	a, _ := far(group[0])
	_, d := far(a)
	return d + s.c.H
}

// Meetings returns the places where fronts met, cold shuts first, then by length.
// Lines shorter than three cells count only where they go through a thin part from
// wall to wall.
func (s *State) Meetings() []Meeting {
	var r []Meeting
	for _, ladle := range []bool{false, true} {
		of := func(c int32) bool {
			return s.full[c] && s.met[c].time >= 0 && s.met[c].ladle == ladle && (!ladle || s.covered(c))
		}
		s.clusters(func(c int32) bool { return of(c) || !ladle && s.full[c] && s.between(c, of) }, func(group []int32) {
			m := Meeting{Length: s.long(group) * 1e3, Time: math.Inf(1), Coldest: math.Inf(1), Ladle: ladle, Cells: group}
			for _, c := range group {
				x := &s.met[c]
				m.Area += math.Pow(s.c.V[c], 2./3) * s.c.H * s.c.H * 1e6
				if !of(c) {
					continue
				}
				m.Time = min(m.Time, x.time)
				if x.T < m.Coldest {
					m.Coldest, m.Liquid, m.At = x.T, x.liquid, s.place(c)
				}
			}
			m.Cold = m.Coldest < s.cold
			if m.Length >= 2.9*s.c.H*1e3 || s.cuts(group) {
				r = append(r, m)
			}
		})
	}
	sort.SliceStable(r, func(i, j int) bool {
		if r[i].Cold != r[j].Cold {
			return r[i].Cold
		}
		return r[i].Length > r[j].Length
	})
	return r
}

// between reports whether a cell lies in the middle of two, on either side of it, that pass: a line is not broken by one
// cell in which its two fronts came as one.
func (s *State) between(c int32, pass func(c int32) bool) bool {
	q := s.c.I[c]
	at := func(x, y, z int) bool {
		o := s.c.At(int(q[0])+x, int(q[1])+y, int(q[2])+z)
		return int(o) < s.c.N && pass(o)
	}
	for k := range 13 { // half of the 26 directions
		x, y, z := k%3-1, k/3%3-1, k/9-1
		if at(x, y, z) && at(-x, -y, -z) {
			return true
		}
	}
	return false
}

// cuts reports whether a group of cells parts the open cells that lie within two of
// it: without it they fall into pieces, of which two at least are no mere corners.
func (s *State) cuts(group []int32) bool {
	const far = 2
	mark := map[int32]int{} // looked up only: -1 of the group, 0 near it, above 0 the piece
	var near []int32
	for _, c := range group {
		mark[c] = -1
	}
	for _, c := range group {
		q := s.c.I[c]
		for z := int(q[2]) - far; z <= int(q[2])+far; z++ {
			for y := int(q[1]) - far; y <= int(q[1])+far; y++ {
				for x := int(q[0]) - far; x <= int(q[0])+far; x++ {
					o := s.c.At(x, y, z)
					if _, known := mark[o]; int(o) < s.c.N && !known {
						mark[o] = 0
						near = append(near, o)
					}
				}
			}
		}
	}
	pieces, large := 0, 0
	for _, c := range near {
		if mark[c] != 0 {
			continue
		}
		pieces++
		mark[c] = pieces
		size, todo := 0, []int32{c}
		for len(todo) > 0 {
			k := todo[len(todo)-1]
			todo = todo[:len(todo)-1]
			size++
			for side := range 6 {
				if o := s.c.Nb[side][k]; int(o) < s.c.N {
					if m, known := mark[o]; known && m == 0 {
						mark[o] = pieces
						todo = append(todo, o)
					}
				}
			}
		}
		if size > 1 {
			large++
		}
	}
	return large > 1
}

// covered reports whether there is metal on more than one side of a cell along
// some axis: a surface that was poured over.
func (s *State) covered(c int32) bool {
	for side := range 6 {
		if o := s.c.Nb[side][c]; int(o) < s.c.N && s.full[o] && s.Last[o] > s.met[c].time {
			return true
		}
	}
	return false
}

// Field returns for each open cell the temperature of the colder front that met
// there, degC, NaN where none did.
func (s *State) Field() []float32 {
	r := make([]float32, s.c.N)
	for c := range r {
		r[c] = float32(math.NaN())
		if m := &s.met[c]; s.full[c] && m.time >= 0 {
			r[c] = float32(m.T)
		}
	}
	return r
}

// Stops returns where metal stands still because it froze, in the order in which it
// did.
func (s *State) Stops(f []float64) []Stop {
	var r []Stop
	s.clusters(func(c int32) bool { return s.Shut[c] }, func(group []int32) {
		p := Stop{Time: math.Inf(1)}
		for _, c := range group {
			p.Volume += f[c] * s.c.V[c] * math.Pow(s.c.H*1e3, 3)
			if s.shutAt[c] < p.Time {
				p.Time, p.T, p.Cell, p.At = s.shutAt[c], s.T[c], c, s.place(c)
			}
		}
		r = append(r, p)
	})
	sort.SliceStable(r, func(i, j int) bool { return r[i].Time < r[j].Time })
	return r
}

// Misruns returns the rooms without metal at whose edge at least half of the metal
// stands still, largest first. Other rooms without metal hold air, or have not been
// filled yet.
func (s *State) Misruns(f []float64) []Misrun {
	var r []Misrun
	h := s.c.H * 1e3
	s.clusters(func(c int32) bool { return f[c] < filled }, func(group []int32) {
		m := Misrun{Time: math.Inf(1)}
		edge, shut := 0.0, 0.0
		for _, c := range group {
			v := (1 - f[c]) * s.c.V[c] * h * h * h
			m.Volume += v
			m.At = m.At.Add(s.place(c).Mul(v))
			for side := range 6 {
				o := s.c.Nb[side][c]
				if int(o) >= s.c.N || f[o] < filled {
					continue
				}
				a := s.c.A[side/2][c]
				if side%2 == 1 {
					a = s.c.A[side/2][o]
				}
				if edge += a; s.Shut[o] {
					shut += a
					m.Time = min(m.Time, s.shutAt[o])
				}
			}
		}
		if edge > 0 && shut >= edge/2 && m.Volume > 0 {
			m.At, m.Shut = m.At.Mul(1/m.Volume), shut/edge
			r = append(r, m)
		}
	})
	sort.SliceStable(r, func(i, j int) bool { return r[i].Volume > r[j].Volume })
	return r
}
