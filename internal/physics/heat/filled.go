package heat

import (
	"math"

	"pourwright/internal/ground/fault"
)

// Filled is what a filling leaves, for each cell of the grid.
type Filled struct {
	Volume []float64 // m3 of metal
	Heat   []float64 // J it holds, from solid metal at its solidus
	Rubber []float64 // J that the rubber in and round the cell has got so far; nil is none
}

// PourFilled goes on from a filling. The cavity then holds the volume and the heat
// that it is given, to rounding, also where metal is missing (a part that did not
// fill, air that stayed): cells that got none keep a fiftieth of their room, which
// all others give up in proportion, and the heat of their neighbours. What lies in
// cells that are no metal here goes in equal parts to the metal cells beside them.
// The rubber's heat goes likewise, as float32 allows (about 1e-7 of it). Volumes
// are those of a full cavity again with the next pour.
func (r *Run) PourFilled(f Filled) error {
	n := r.grid.Len()
	if len(f.Volume) != n || len(f.Heat) != n || f.Rubber != nil && len(f.Rubber) != n {
		return fault.New(fault.Input, "pour", "give one volume and one heat per cell", "%d volumes, %d heats and %d of the rubber for %d cells",
			len(f.Volume), len(f.Heat), len(f.Rubber), n)
	}
	volume, heat := 0.0, 0.0
	for q, v := range f.Volume {
		if !(v >= 0) || v > 10*r.h*r.h*r.h || f.Heat[q]-f.Heat[q] != 0 || v == 0 && f.Heat[q] != 0 {
			return fault.New(fault.Input, "pour", "give m3 of metal and J", "cell %d holds %g m3 and %g J", q, v, f.Heat[q])
		}
		volume, heat = volume+v, heat+f.Heat[q]
	}
	if volume == 0 || r.b.cells == 0 {
		return fault.New(fault.Input, "pour", "let the metal run in first, or use smaller cells", "%d cells of the cavity get %g m3 of metal", r.b.cells, volume)
	}
	before := r.sum.Poured
	if err := r.pour(func(int) float64 { return 1 }); err != nil {
		return err
	}
	r.whole = append([]float64{}, r.b.vol...)
	metal := func(q int) bool { return r.dist[q] < 0 }
	v, e := make([]float64, n), make([]float64, n)
	r.deal(f.Volume, v, metal)
	r.deal(f.Heat, e, metal)
	r.spreadHeat(v, e, volume, heat)
	r.refill()
	rubber := 0.0
	if f.Rubber != nil {
		got := make([]float64, n)
		r.deal(f.Rubber, got, func(q int) bool { return r.dist[q] >= 0 })
		rubber = r.warm(got, r.tab.temperature(heat/(volume*r.tab.volume))+r.tab.solidus-r.p.Air)
	}
	r.hottest, r.top = math.Inf(-1), math.Inf(-1)
	for l, c := range r.b.cell {
		if c < 0 {
			continue
		}
		r.hottest = max(r.hottest, r.tab.temperature(r.e[l]))
		r.top = max(r.top, r.e[l])
		r.solid[l] = -1
		if r.e[l] <= 0 {
			r.solid[l] = 0
		}
		r.temp[l] = r.st.temperature(float32(r.e[l]))
	}
	r.sum.Poured = before + r.metalHeat() + rubber
	return nil
}

// spreadHeat sets volumes and enthalpies of all lanes from what each cell got.
func (r *Run) spreadHeat(v, e []float64, volume, heat float64) {
	b := r.b
	var empty []int
	all := 0.0
	for l, c := range b.cell {
		if c < 0 {
			continue
		}
		least := 0.02 * r.whole[l]
		if v[c] < least {
			b.vol[l] = least
			empty = append(empty, l)
		} else {
			b.vol[l], r.e[l] = v[c], e[c]/(v[c]*r.tab.volume)
		}
		all += b.vol[l]
	}
	r.lend(empty, heat/(volume*r.tab.volume))
	scale, got := volume/all, 0.0
	for l, c := range b.cell {
		if c >= 0 {
			b.vol[l] *= scale
			got += b.vol[l] * r.e[l]
		}
	}
	shift := (heat/r.tab.volume - got) / volume
	for l, c := range b.cell {
		if c >= 0 {
			r.e[l] += shift
		}
	}
}

// lend gives empty lanes the mean enthalpy of the cells round them that know
// theirs, ring by ring; rooms of their own without metal get the mean.
func (r *Run) lend(empty []int, mean float64) {
	const none, unknown = -1, -2
	lane := make([]int32, r.grid.Len()) // of each cell, below 0 where it knows nothing
	for q := range lane {
		lane[q] = none
	}
	for l, c := range r.b.cell {
		if c >= 0 {
			lane[c] = int32(l)
		}
	}
	for _, l := range empty {
		lane[r.b.cell[l]] = unknown
	}
	for len(empty) > 0 {
		var rest, done []int
		for _, l := range empty {
			s, n := 0.0, 0
			around26(r.grid, int(r.b.cell[l]), func(o int) {
				if lane[o] >= 0 {
					s, n = s+r.e[lane[o]], n+1
				}
			})
			if n == 0 {
				rest = append(rest, l)
				continue
			}
			r.e[l] = s / float64(n)
			done = append(done, l)
		}
		for _, l := range done {
			lane[r.b.cell[l]] = int32(l)
		}
		if len(done) == 0 {
			for _, l := range rest {
				r.e[l] = mean
			}
			return
		}
		empty = rest
	}
}

// deal gives what each cell holds to cells that take it: to itself, else to those
// that share a side, an edge or a corner, else to the nearest in growing boxes, in
// equal parts.
func (r *Run) deal(from, to []float64, takes func(q int) bool) {
	g := r.grid
	for q, x := range from {
		if x == 0 {
			continue
		}
		if takes(q) {
			to[q] += x
			continue
		}
		var list []int
		g.Beside(q, func(o int) {
			if takes(o) {
				list = append(list, o)
			}
		})
		i, j, k := g.Cell(q)
		for d := 1; len(list) == 0 && d <= max(g.NX, g.NY, g.NZ); d++ {
			for z := max(k-d, 0); z <= min(k+d, g.NZ-1); z++ {
				for y := max(j-d, 0); y <= min(j+d, g.NY-1); y++ {
					for x := max(i-d, 0); x <= min(i+d, g.NX-1); x++ {
						if o := g.At(x, y, z); takes(o) {
							list = append(list, o)
						}
					}
				}
			}
		}
		for _, o := range list {
			to[o] += x / float64(len(list))
		}
	}
}

// warmMost is how far a cell of rubber is warmed at most by a filling, on its way from what it
// has to the metal's mean temperature. A face that metal touches comes to some nine tenths;
// what a small cell would get over that went deeper.
const warmMost = 0.8

// warm puts heat into rubber cells and returns what they took, J. What is too much for a
// cell goes on to the rubber beside it, by its capacity. metal is the metal's temperature over
// the air's.
func (r *Run) warm(heat []float64, metal float64) float64 {
	capacity := map[int]float64{} // of cells at a wall; looked up only
	for _, m := range r.shut.cells {
		capacity[r.index(m.id)] = m.c
	}
	of := func(q int) float64 {
		if c, ok := capacity[q]; ok {
			return c
		}
		return r.cell
	}
	now := func(q int) float64 { return float64(r.t[r.pad.id(r.grid.Cell(q))]) }
	for range 100 {
		var list []int
		var more []float64
		for q, x := range heat {
			if x == 0 {
				continue
			}
			if most := of(q) * warmMost * (metal - now(q)); most > 0 && x > most {
				list, more = append(list, q), append(more, x-most)
				heat[q] = most
			}
		}
		if len(list) == 0 {
			break
		}
		for k, q := range list {
			sum := 0.0
			r.grid.Beside(q, func(o int) {
				if r.dist[o] >= 0 {
					sum += of(o)
				}
			})
			if sum == 0 {
				heat[q] += more[k]
				continue
			}
			r.grid.Beside(q, func(o int) {
				if r.dist[o] >= 0 {
					heat[o] += more[k] * of(o) / sum
				}
			})
		}
	}
	took := 0.0
	for q, x := range heat {
		if x == 0 || r.dist[q] < 0 {
			continue
		}
		id, c := r.pad.id(r.grid.Cell(q)), of(q)
		t := float32(float64(r.t[id]) + x/c)
		took += c * (float64(t) - float64(r.t[id]))
		r.t[id] = t
	}
	copy(r.u, r.t)
	return took
}

// refill makes ready what hangs on the metal's volumes.
func (r *Run) refill() {
	r.Volume = 0
	for _, x := range r.b.vol {
		r.Volume += x
	}
	r.metalStep1 = r.conductances()
}

// restore takes the volumes of a full cavity again.
func (r *Run) restore() {
	if r.whole != nil {
		copy(r.b.vol, r.whole)
		r.whole = nil
		r.refill()
	}
}
