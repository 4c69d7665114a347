package plic

import (
	"math"

	"pourwright/internal/ground/par"
	"pourwright/internal/physics/cells"
)

// web finds the 26 neighbours of a cell.
type web struct {
	c     *cells.Cells
	inner []bool      // all neighbours are open, in rows of three along x
	rim   []int32     // place of the others in round, -1 for inner ones
	round [][27]int32 // the cells round them, as around
}

func newWeb(c *cells.Cells) web {
	w := web{c: c, inner: make([]bool, c.Wall+1), rim: make([]int32, c.Wall+1)}
	var list []int32
	for i := range w.rim {
		w.rim[i] = -1
		if i < c.N {
			if w.inner[i] = w.rows(int32(i)); !w.inner[i] {
				w.rim[i] = int32(len(list))
				list = append(list, int32(i))
			}
		}
	}
	w.round = make([][27]int32, len(list))
	par.For(len(list), 256, func(lo, hi int) {
		for k := lo; k < hi; k++ {
			w.around(list[k], &w.round[k])
		}
	})
	return w
}

// deep reports whether a cell is nearly full and so are all that it opens into: what a loose
// pressure solver leaves of void inside the metal makes no surface, and there may be more such cells than
// others.
func (w *web) deep(i int32, f []float64) bool {
	if !(f[i] > 0.995) {
		return false
	}
	for d := range 6 {
		if o := w.c.Nb[d][i]; int(o) < w.c.Wall && !(f[o] > 0.9) {
			return false
		}
	}
	return true
}

// rows reports whether the nine rows of three round cell i follow each other in the
// list and are open from cell to cell.
func (w *web) rows(i int32) bool {
	nb := &w.c.Nb
	n := int32(w.c.N)
	y0, y1, z0, z1 := nb[2][i], nb[3][i], nb[4][i], nb[5][i]
	if y0 >= n || y1 >= n || z0 >= n || z1 >= n {
		return false
	}
	for _, r := range [9]int32{nb[2][z0], z0, nb[3][z0], y0, i, y1, nb[2][z1], z1, nb[3][z1]} {
		if r >= n || nb[0][r] != r-1 || nb[1][r] != r+1 || r+1 >= n {
			return false
		}
	}
	// The same cells by the other way round.
	return nb[4][y0] == nb[2][z0] && nb[4][y1] == nb[3][z0] && nb[5][y0] == nb[2][z1] && nb[5][y1] == nb[3][z1]
}

// centres returns the middles of the nine rows round an inner cell.
func (w *web) centres(i int32) [9]int32 {
	nb := &w.c.Nb
	z0, z1 := nb[4][i], nb[5][i]
	return [9]int32{nb[2][z0], z0, nb[3][z0], nb[2][i], i, nb[3][i], nb[2][z1], z1, nb[3][z1]}
}

// around fills the indices of the 3 x 3 x 3 cells round i, x fastest; Wall where no
// path of open sides within them leads along the axes.
func (w *web) around(i int32, at *[27]int32) {
	nb := &w.c.Nb
	wall := int32(w.c.Wall)
	for k := range at {
		at[k] = wall
	}
	at[13] = i
	step := [3]int{1, 3, 9}
	for turn := 1; turn <= 3; turn++ {
		for k := range at {
			d := [3]int{k%3 - 1, k/3%3 - 1, k/9 - 1}
			if d[0]*d[0]+d[1]*d[1]+d[2]*d[2] != turn {
				continue
			}
			for e := range 3 {
				if d[e] == 0 || at[k] != wall {
					continue
				}
				if from := at[k-d[e]*step[e]]; from != wall {
					at[k] = nb[2*e+(d[e]+1)/2][from]
				}
			}
		}
	}
}

// gather takes the shares of the 3 x 3 x 3 cells round i, x fastest.
func (w *web) gather(i int32, f []float64, g *[27]float64) {
	if !w.inner[i] {
		w.gatherPlain(&w.round[w.rim[i]], f, g)
		return
	}
	for k, r := range w.centres(i) {
		s := f[r-1 : r+2 : r+2]
		g[3*k], g[3*k+1], g[3*k+2] = s[0], s[1], s[2]
	}
	for _, x := range g {
		if x < -Empty || x > 1+Empty {
			clamp(g)
			return
		}
	}
}

func clamp(g *[27]float64) {
	for k, x := range g {
		g[k] = min(max(x, 0), 1)
	}
}

// gatherPlain does so near walls too: where no open cell is, the shares go on as a
// plane field would, within 0 .. 1.
func (w *web) gatherPlain(at *[27]int32, f []float64, g *[27]float64) {
	wall, wild, shut := int32(w.c.Wall), false, false
	for k, c := range at {
		x := f[c]
		g[k] = x
		wild = wild || x < -Empty || x > 1+Empty
		shut = shut || c == wall
	}
	if wild {
		clamp(g)
	}
	if !shut {
		return
	}
	for n := range spread {
		s := &spread[n]
		if at[s.k] != wall {
			continue
		}
		x := 0.0
		switch s.turn {
		case 1:
			x = g[13]
			if at[26-s.k] != wall {
				x = 2*g[13] - g[26-s.k]
			}
		case 2:
			x = g[s.from[0]] + g[s.from[1]] - g[13]
		case 3:
			x = g[s.from[0]] + g[s.from[1]] + g[s.from[2]] - 2*g[13]
		}
		g[s.k] = min(max(x, 0), 1)
	}
}

// spread lists the 26 neighbours, those over a side first, then over an edge, then over a
// corner, with the sides that lead there.
var spread = func() (list [26]struct {
	k, turn int
	from    [3]int
}) {
	n := 0
	for turn := 1; turn <= 3; turn++ {
		for k := range 27 {
			d := [3]int{k%3 - 1, k/3%3 - 1, k/9 - 1}
			if d[0]*d[0]+d[1]*d[1]+d[2]*d[2] != turn {
				continue
			}
			s := &list[n]
			s.k, s.turn = k, turn
			m := 0
			for e, step := range [3]int{1, 3, 9} {
				if d[e] != 0 {
					s.from[m] = 13 + d[e]*step
					m++
				}
			}
			n++
		}
	}
	return list
}()

// youngs returns the downhill slope of the shares, 1-2-1 means over the 27 cells
// (Youngs 1982), from the sums of the nine rows.
func youngs(g *[27]float64) [3]float64 {
	var lo, hi, row [9]float64
	for k := range 9 {
		lo[k], hi[k] = g[3*k], g[3*k+2]
		row[k] = lo[k] + 2*g[3*k+1] + hi[k]
	}
	sum := func(s *[9]float64) float64 {
		return (s[0] + s[2]) + (s[6] + s[8]) + 2*((s[1]+s[7])+(s[3]+s[5])) + 4*s[4]
	}
	return [3]float64{
		sum(&lo) - sum(&hi),
		(row[0] - row[2]) + 2*(row[3]-row[5]) + (row[6] - row[8]),
		(row[0] - row[6]) + 2*(row[1]-row[7]) + (row[2] - row[8]),
	}
}

// mixed returns the normal of the mixed Youngs-centred scheme (Aulisa et al., J.
// Comput. Phys. 225 (2007) 2301): of three normals by centred differences of
// columns, the one that lies closest along its columns; Youngs' where that is
// less steep. Its parts add up to 1 but for sign; zero where the shares have no slope.
func mixed(g *[27]float64) [3]float64 {
	y := youngs(g)
	s := math.Abs(y[0]) + math.Abs(y[1]) + math.Abs(y[2])
	if s > 0 {
		s = 1 / s
		y[0], y[1], y[2] = y[0]*s, y[1]*s, y[2]*s
	}
	steep := max(math.Abs(y[0]), math.Abs(y[1]), math.Abs(y[2]))
	// Columns along x, y, z through the centre cross, and the cross beside the centre.
	colX := func(k int) float64 { return g[k-1] + g[k] + g[k+1] }
	colY := func(k int) float64 { return g[k-3] + g[k] + g[k+3] }
	colZ := func(k int) float64 { return g[k-9] + g[k] + g[k+9] }
	cross := func(k, a, b int) float64 { return g[k] + (g[k-a] + g[k+a]) + (g[k-b] + g[k+b]) }
	x := [3]float64{side(cross(14, 3, 9) - cross(12, 3, 9)), (colX(10) - colX(16)) / 2, (colX(4) - colX(22)) / 2}
	v := [3]float64{(colY(12) - colY(14)) / 2, side(cross(16, 1, 9) - cross(10, 1, 9)), (colY(4) - colY(22)) / 2}
	z := [3]float64{(colZ(12) - colZ(14)) / 2, (colZ(10) - colZ(16)) / 2, side(cross(22, 1, 3) - cross(4, 1, 3))}
	sx, sv, sz := 1+math.Abs(x[1])+math.Abs(x[2]), 1+math.Abs(v[0])+math.Abs(v[2]), 1+math.Abs(z[0])+math.Abs(z[1])
	best, n := sx, &x
	if sv < best {
		best, n = sv, &v
	}
	if sz < best {
		best, n = sz, &z
	}
	if s > 0 && 1 > steep*best {
		return y
	}
	r := 1 / best
	if s == 0 && best == 1 {
		return [3]float64{}
	}
	return [3]float64{n[0] * r, n[1] * r, n[2] * r}
}

// side is the sign of a normal whose shares rise by x.
func side(x float64) float64 {
	if x > 0 {
		return -1
	}
	return 1
}
