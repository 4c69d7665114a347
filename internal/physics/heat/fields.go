package heat

import (
	"math"

	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
)

// Hottest returns the temperature of the hottest metal, degC; NaN while the
// cavity is empty.
func (r *Run) Hottest() float64 {
	if !r.full {
		return math.NaN()
	}
	return r.hottest + r.tab.solidus
}

// Liquid returns the share of the metal's volume that is liquid.
func (r *Run) Liquid() float64 {
	if !r.full {
		return 0
	}
	s, v := 0.0, 0.0
	for l, c := range r.b.cell {
		if c >= 0 {
			s += r.b.vol[l] * r.tab.liquid(r.e[l])
			v += r.b.vol[l]
		}
	}
	return s / v
}

// Times of the casting that is in the mould, or was last.
type Times struct {
	Solid     float64 // s after the pour, no liquid anywhere; -1 not yet
	Cold      float64 // s after the pour, every point solid and 20 K colder; -1 not yet
	Last      vec.V3  // mm, middle of the cell that froze last, or of the most liquid one
	Surface   float64 // degC, hottest face of the rubber so far
	SurfaceAt vec.V3  // mm
	Over      float64 // s, longest time that a face of the rubber was over the rating
}

// Times returns when the casting was solid and cold and where it froze last.
func (r *Run) Times() Times {
	t := Times{Surface: math.Inf(-1)}
	last, cold := -1.0, -1.0
	liquid := math.Inf(-1)
	waiting, warm := false, false
	for l, c := range r.b.cell {
		if c < 0 {
			continue
		}
		if r.solid[l] < 0 {
			waiting = true
			if r.e[l] > liquid {
				liquid = r.e[l]
				t.Last = r.grid.Centre(r.grid.Cell(int(c)))
			}
		} else if s := float64(r.solid[l]); s > last && !waiting {
			last = s
			t.Last = r.grid.Centre(r.grid.Cell(int(c)))
		}
		if r.cold[l] < 0 {
			warm = true
		}
		cold = max(cold, float64(r.cold[l]))
	}
	t.Solid, t.Cold = last, cold
	if waiting {
		t.Solid = -1
	}
	if warm {
		t.Cold = -1
	}
	for c := range r.shut.cells {
		m := &r.shut.cells[c]
		for w := m.w0; w < m.w1; w++ {
			f := &r.walls[w]
			if s := float64(f.peak) + r.p.Air; s > t.Surface {
				t.Surface, t.SurfaceAt = s, r.place(m.id)
			}
			t.Over = max(t.Over, float64(f.over))
		}
	}
	return t
}

// place returns the middle of a cell given by its place in the padded field.
func (r *Run) place(id int32) vec.V3 {
	p := &r.pad
	q := int(id)
	return r.grid.Centre(q%p.sx-1, q%p.sxy/p.sx-1, q/p.sxy-1)
}

// Solid returns for each cell of the grid the time after the last pour at which
// it froze, s; -1 where there is no metal or it is not solid yet.
func (r *Run) Solid() []float32 { return r.spread(r.solid) }

// Cold is Solid for the time at which the metal was 20 K under its solidus.
func (r *Run) Cold() []float32 { return r.spread(r.cold) }

// Fraction returns the liquid share of each metal cell; -1 elsewhere, and
// everywhere while the cavity is empty.
func (r *Run) Fraction() []float32 {
	f := make([]float32, r.grid.Len())
	for q := range f {
		f[q] = -1
	}
	if r.full {
		for l, c := range r.b.cell {
			if c >= 0 {
				f[c] = float32(r.tab.liquid(r.e[l]))
			}
		}
	}
	return f
}

func (r *Run) spread(lane []float32) []float32 {
	f := make([]float32, r.grid.Len())
	for q := range f {
		f[q] = -1
	}
	for l, c := range r.b.cell {
		if c >= 0 {
			f[c] = lane[l]
		}
	}
	return f
}

// Temperature returns degC for each cell of the grid: metal where there is some,
// else rubber; in an empty cavity the air.
func (r *Run) Temperature() []float32 {
	f := r.gather(r.t)
	for l, c := range r.b.cell {
		if c >= 0 {
			f[c] = float32(r.p.Air)
			if r.full {
				f[c] = r.temp[l] + float32(r.tab.solidus)
			}
		}
	}
	return f
}

// Peak returns for each rubber cell the highest temperature since the Run was
// made or ForgetPeaks was called, degC; in metal cells the hottest face of the
// rubber round them, or the air where there is none.
func (r *Run) Peak() []float32 {
	f := r.gather(r.peak)
	for _, c := range r.b.cell {
		if c >= 0 {
			f[c] = float32(r.p.Air)
		}
	}
	for i := range r.walls {
		w := &r.walls[i]
		c := r.b.cell[w.lane]
		f[c] = max(f[c], w.peak+float32(r.p.Air))
	}
	return f
}

// Over returns for each rubber cell at a wall how long the face of the rubber there
// was over Problem.Rating, s, since the Run was made or ForgetPeaks was called; 0
// elsewhere. Deeper in it is colder, so the faces hold the longest times.
func (r *Run) Over() []float32 {
	f := make([]float32, r.grid.Len())
	for c := range r.shut.cells {
		m := &r.shut.cells[c]
		q := r.index(m.id)
		for w := m.w0; w < m.w1; w++ {
			f[q] = max(f[q], r.walls[w].over)
		}
	}
	return f
}

// ForgetPeaks starts peaks and times over the rating afresh.
func (r *Run) ForgetPeaks() {
	copy(r.peak, r.t)
	for i := range r.walls {
		r.walls[i].peak, r.walls[i].over = float32(math.Inf(-1)), 0
	}
}

func (r *Run) gather(t []float32) []float32 {
	g := r.grid
	f := make([]float32, g.Len())
	air := float32(r.p.Air)
	par.For(g.NY*g.NZ, 64, func(lo, hi int) {
		for row := lo; row < hi; row++ {
			at := r.pad.id(0, row%g.NY, row/g.NY)
			for i := range g.NX {
				f[row*g.NX+i] = t[at+i] + air
			}
		}
	})
	return f
}

// At returns the temperature at a place in mm, degC, read from the cells of the
// same kind: a reading in rubber never mixes in metal.
func (r *Run) At(p vec.V3) float64 { return r.read(p) }
