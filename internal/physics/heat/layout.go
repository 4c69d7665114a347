package heat

import (
	"math"

	"pourwright/internal/ground/par"
	"pourwright/internal/shape/grid"
)

// lanes is the width of a block of metal cells: eight neighbours along x.
const lanes = 8

// blocks holds the metal cells, eight to a block: the cells i = 8b .. 8b+7 of one
// row (j, k) of which at least one is metal. Blocks stand in the order of (k, j,
// b), so neighbours along x stand side by side in memory. Block 0 is empty and
// stands for every missing neighbour; one empty block follows the last.
//
// All per-lane slices hold (count+2)*lanes values. A lane that is no metal has
// volume 0, no conductance and keeps its enthalpy.
type blocks struct {
	count int          // blocks with metal, numbered from 1
	row   []int32      // first block of each row (j, k), and one past the last
	at    []int32      // b of each block
	plane []int32      // first block of each plane k, and one past the last
	near  [][4]int32   // lane of the block at y-1, y+1, z-1, z+1; 0 where there is none
	cell  []int32      // grid cell of each lane, -1 if it is no metal
	cells int          // metal cells
	vol   []float64    // m3 of metal of each lane
	geo   [3][]float32 // m, conductance per conductivity to the next lane along x, y, z
}

// lane returns the lane of grid cell (i, j, k), 0 if it is no metal.
func (b *blocks) lane(i, row int) int32 {
	for n := b.row[row]; n < b.row[row+1]; n++ {
		if b.at[n] == int32(i/lanes) {
			if l := n*lanes + int32(i%lanes); b.cell[l] >= 0 {
				return l
			}
		}
	}
	return 0
}

// layBlocks finds the blocks of the cells whose distance from the wall is negative.
func layBlocks(g grid.Grid, wall []float32) *blocks {
	b := &blocks{row: make([]int32, g.NY*g.NZ+1), at: make([]int32, 1), plane: make([]int32, g.NZ+1)}
	for row := range g.NY * g.NZ {
		b.row[row] = int32(len(b.at))
		if row%g.NY == 0 {
			b.plane[row/g.NY] = int32(len(b.at))
		}
		dist := wall[row*g.NX : (row+1)*g.NX]
		for i := 0; i < g.NX; i += lanes {
			for _, d := range dist[i:min(i+lanes, g.NX)] {
				if d < 0 {
					b.at = append(b.at, int32(i/lanes))
					break
				}
			}
		}
	}
	b.row[g.NY*g.NZ], b.plane[g.NZ] = int32(len(b.at)), int32(len(b.at))
	b.count = len(b.at) - 1
	n := (b.count + 2) * lanes
	b.cell, b.vol, b.near = make([]int32, n), make([]float64, n), make([][4]int32, b.count+2)
	for l := range b.cell {
		b.cell[l] = -1
	}
	for row := range g.NY * g.NZ {
		j, k := row%g.NY, row/g.NY
		for n := b.row[row]; n < b.row[row+1]; n++ {
			i0 := int(b.at[n]) * lanes
			for i := i0; i < min(i0+lanes, g.NX); i++ {
				if wall[row*g.NX+i] < 0 {
					b.cell[int(n)*lanes+i-i0] = int32(row*g.NX + i)
					b.cells++
				}
			}
			for s, other := range [4]int{row - 1, row + 1, row - g.NY, row + g.NY} {
				if s == 0 && j == 0 || s == 1 && j == g.NY-1 || s == 2 && k == 0 || s == 3 && k == g.NZ-1 {
					continue
				}
				for m := b.row[other]; m < b.row[other+1]; m++ {
					if b.at[m] == b.at[n] {
						b.near[n][s] = m * lanes
					}
				}
			}
		}
	}
	return b
}

// wall is a face between a rubber cell and a metal cell.
type wall struct {
	lane     int32   // metal
	theta    float32 // share of the way between the centres that is rubber
	bend     float32 // how much wider the rubber conducts than the wall is, as the wall curves: 1 for a flat one
	area     float64 // m2, part of the true surface
	near     float32 // from the wall to the middle of the rubber along the axis, in cells
	normal   float32 // |component of the surface's normal along the face's axis|
	g        float64 // W/K now
	back     float64 // W/K, how much less it takes for each K that the metal is colder than foreseen
	tm, rate float64 // K over the air and K/s of the metal in this coupling step
	heat     float64 // J to the rubber in this coupling step
	half     float64 // share of the rubber's resistance that counts now: 1, less early on
	peak     float32 // K over the air, hottest surface of the rubber so far
	face     float32 // K over the air, surface of the rubber now
	over     float32 // s over the rating
}

// mend is a rubber cell that the plain kernel gets wrong: it has a wall, or a
// face in the open parting.
type mend struct {
	id    int32 // in the padded field
	w0    int32 // walls w0..w1
	w1    int32
	parts uint8      // bit a: the neighbour at off[a] belongs to the other half
	rho   [6]float32 // conductance of each face over k h; 0 at walls
	sum   float32    // of rho
	c     float64    // J/K
	air   float64    // W/K to the air in an open mould
}

// touch is a face of a plain rubber cell towards a cell with a wall, whose
// conductance is not k h.
type touch struct {
	id, near int32
	rho      float32 // over k h, less 1
}

// mouth is a face of metal on a side of the block.
type mouth struct {
	lane int32
	geo  float64 // m2/m of half a cell
	area float64 // m2
	coef float64 // W/(m2 K)
	out  float64 // K over the solidus of what lies outside
	g    float64 // W/K now
	base float32 // W, source of its lane without it
}

// padded is the shape of the rubber's field: one ghost cell on each side, rows
// of whole vectors.
type padded struct {
	nx, ny, nz int
	wide       int // floats computed per row, a multiple of 8
	sx, sxy, n int
	off        [6]int
}

func pad(nx, ny, nz int) padded {
	p := padded{nx: nx, ny: ny, nz: nz, wide: (nx + 7) / 8 * 8}
	p.sx = (p.wide + 2 + 15) / 16 * 16
	if p.sx%512 == 0 { // rows a multiple of 2 KiB apart would fall on the same cache lines
		p.sx += 16
	}
	p.sxy = p.sx * (ny + 2)
	p.n = p.sxy*(nz+2) + 16
	p.off = [6]int{-1, 1, -p.sx, p.sx, -p.sxy, p.sxy}
	return p
}

// id returns the place of cell (i, j, k); -1 and nx are ghosts.
func (p *padded) id(i, j, k int) int { return i + 1 + (j+1)*p.sx + (k+1)*p.sxy }

// around visits the neighbours of a cell inside the grid: a is the direction in
// the order of padded.off.
func (r *Run) around(q int, visit func(a, o int)) {
	g := r.grid
	i, j, k := g.Cell(q)
	in := [6]bool{i > 0, i < g.NX-1, j > 0, j < g.NY-1, k > 0, k < g.NZ-1}
	stride := [6]int{-1, 1, -g.NX, g.NX, -g.NX * g.NY, g.NX * g.NY}
	for a, ok := range in {
		if ok {
			visit(a, q+stride[a])
		}
	}
}

// others counts the neighbours of the other kind.
func (r *Run) others(q int) int {
	n, metal := 0, r.dist[q] < 0
	r.around(q, func(_, o int) {
		if (r.dist[o] < 0) != metal {
			n++
		}
	})
	return n
}

// owns returns the share of cell volumes that a cell answers for: its own part of
// its kind, and equal parts of what its neighbours of the other kind hold of it. A
// neighbour gives to those that share a face with it, or if there are none to those
// that share an edge or a corner (beyond an edge of the cavity).
func (r *Run) owns(q int) float64 {
	metal := r.dist[q] < 0
	part := func(q int) float64 { // of the metal's or rubber's kind in cell q
		if metal {
			return float64(r.p.Body.Share[q])
		}
		return 1 - float64(r.p.Body.Share[q])
	}
	s := part(q)
	r.around(q, func(_, o int) {
		if (r.dist[o] < 0) == metal {
			return
		}
		if f := part(o); f > 0 {
			s += f / float64(r.others(o))
		}
	})
	around26(r.grid, q, func(o int) {
		if f := part(o); f > 0 && (r.dist[o] < 0) != metal && r.others(o) == 0 {
			n := 0
			around26(r.grid, o, func(x int) {
				if (r.dist[x] < 0) == metal {
					n++
				}
			})
			s += f / float64(n)
		}
	})
	return s
}

// volumes fills the metal's volumes and finds the metal that no cell answers
// for: parts too thin to hold the centre of a cell or to touch one that does.
func (r *Run) volumes() {
	b, v := r.b, r.h*r.h*r.h
	par.For(b.count, 64, func(lo, hi int) {
		for l := (lo + 1) * lanes; l < (hi+1)*lanes; l++ {
			if c := b.cell[l]; c >= 0 {
				// A cell whose share is nearly nothing still has a temperature.
				b.vol[l] = v * max(0.02, r.owns(int(c)))
			}
		}
	})
	all := par.Sum(len(r.p.Body.Share), 1<<16, func(lo, hi int) float64 {
		s := 0.0
		for _, f := range r.p.Body.Share[lo:hi] {
			s += float64(f)
		}
		return s
	})
	r.Volume = 0
	for _, x := range b.vol {
		r.Volume += x
	}
	r.Lost = v*all - r.Volume
}

// conductances fills geo: h times the harmonic mean of the two cells' shares, so
// that a sliver beside a whole cell does not cut the metal's explicit step. It
// returns that step, s.
func (r *Run) conductances() float64 {
	g, b := r.grid, r.b
	v := r.h * r.h * r.h
	sum := make([]float64, len(b.cell))
	for a := range 3 {
		b.geo[a] = make([]float32, len(b.cell))
	}
	join := func(a int, l, o int32) {
		x, y := b.vol[l]/v, b.vol[o]/v
		c := float32(r.h * 2 * x * y / (x + y))
		b.geo[a][l] = c
		sum[l] += float64(c)
		sum[o] += float64(c)
	}
	for l, c := range b.cell {
		if c < 0 {
			continue
		}
		n, at := l/lanes, int32(l)
		if o := at + 1; int(c)%g.NX != g.NX-1 && b.cell[o] == c+1 {
			join(0, at, o)
		}
		if o := b.near[n][1]; o > 0 && b.cell[o+at%lanes] >= 0 {
			join(1, at, o+at%lanes)
		}
		if o := b.near[n][3]; o > 0 && b.cell[o+at%lanes] >= 0 {
			join(2, at, o+at%lanes)
		}
	}
	for i := range r.mouths {
		sum[r.mouths[i].lane] += r.mouths[i].geo
	}
	k := max(r.p.Metal.KSolid, r.p.Metal.KLiquid)
	step := math.Inf(1)
	for l, c := range b.cell {
		if c >= 0 && sum[l] > 0 {
			step = min(step, b.vol[l]/sum[l])
		}
	}
	return 0.95 * step * r.tab.volume / (k * r.tab.steep)
}
