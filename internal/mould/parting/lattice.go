package parting

import (
	"cmp"
	"math"
	"math/bits"
	"slices"
	"sync"

	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/voxel"
)

// A lattice is the columns of a body along z of a frame, in tiles of side x side
// coarse columns. A tile may be cast again with k x k columns in the place of
// each coarse one, so that slits thinner than a column are seen whole.
type lattice struct {
	c      *voxel.Columns
	turned *mesh.Mesh
	tx, ty int
	fine   []*voxel.Columns // of each tile; nil: the coarse ones stand
	base   []int32          // number of each tile's first column
	wide   []uint8          // of each tile: 2^wide columns stand along its side
	gaps   []gap            // what all has listed last; nil where the columns are others since
	start  []int32
}

const (
	sideBits = 3 // a tile is cut into 1, 4 or 16 columns for each coarse one, so that all sides are powers of two
	side     = 1 << sideBits
	mostFine = 1 << 20 // columns that one refinement may add
)

func (b *body) lattice(f vec.Frame, n int) *lattice {
	turned, c := b.columns(f, n)
	l := &lattice{c: c, turned: turned, tx: (c.NX + side - 1) / side, ty: (c.NY + side - 1) / side}
	l.fine = make([]*voxel.Columns, l.tx*l.ty)
	l.number()
	return l
}

func (l *lattice) number() {
	l.drop()
	l.base, l.wide = make([]int32, len(l.fine)+1), make([]uint8, len(l.fine))
	for t, c := range l.fine {
		l.wide[t] = sideBits
		if c != nil {
			l.wide[t] = uint8(bits.TrailingZeros(uint(c.NX)))
		}
		l.base[t+1] = l.base[t] + 1<<(2*l.wide[t])
	}
}

// parts returns how many columns of tile t stand along the side of a coarse one.
func (l *lattice) parts(t int) int { return 1 << (l.wide[t] - sideBits) }

// split returns row and place in the row of column q of tile t.
func (l *lattice) split(t, q int) (x, y int) {
	b := l.wide[t]
	return q & (1<<b - 1), q >> b
}

// of returns the spans of column q of tile t.
func (l *lattice) of(t, q int) []voxel.Span {
	if c := l.fine[t]; c != nil {
		return c.Of(q)
	}
	x, y := t%l.tx*side+q%side, t/l.tx*side+q/side
	if x >= l.c.NX || y >= l.c.NY {
		return nil
	}
	return l.c.At(x, y)
}

// step returns how far the columns of tile t are from each other.
func (l *lattice) step(t int) float64 { return l.c.H / float64(l.parts(t)) }

// volume returns what a gap holds.
func (l *lattice) volume(g *gap) float64 {
	h := l.step(int(g.tile))
	return (g.hi - g.lo) * h * h
}

// place returns where column q of tile t stands and how far it is from the next.
func (l *lattice) place(t, q int) (x, y, h float64) {
	h = l.step(t)
	i, j := l.split(t, q)
	x = l.c.X0 - l.c.H/2 + float64(t%l.tx*side)*l.c.H + (float64(i)+0.5)*h
	y = l.c.Y0 - l.c.H/2 + float64(t/l.tx*side)*l.c.H + (float64(j)+0.5)*h
	return x, y, h
}

// find returns the column in whose square a point lies; false off the lattice.
func (l *lattice) find(x, y float64) (t, q int, ok bool) {
	u, v := (x-l.c.X0)/l.c.H+0.5, (y-l.c.Y0)/l.c.H+0.5
	if !(u >= 0 && v >= 0 && u < float64(l.c.NX) && v < float64(l.c.NY)) {
		return 0, 0, false
	}
	i, j := int(u)/side, int(v)/side
	t = j*l.tx + i
	k := float64(l.parts(t))
	w := side * int(k)
	a, b := min(int((u-float64(i*side))*k), w-1), min(int((v-float64(j*side))*k), w-1)
	return t, b*w + a, true
}

var four = [4][2]int{{-1, 0}, {1, 0}, {0, -1}, {0, 1}}

// next returns the neighbour of column q of tile t in direction d; where the
// next tile is finer, one of several.
func (l *lattice) next(t, q int, d [2]int) (int, int, bool) {
	b := l.wide[t]
	w := 1 << b
	x0, y0 := l.split(t, q)
	if i, j := x0+d[0], y0+d[1]; i >= 0 && j >= 0 && i < w && j < w {
		return t, j<<b + i, true
	}
	x, y, h := l.place(t, q)
	return l.find(x+h*float64(d[0]), y+h*float64(d[1]))
}

// cell returns the coarse column in whose square column q of tile t lies.
func (l *lattice) cell(t, q int) int32 {
	x, y := l.split(t, q)
	k := l.wide[t] - sideBits
	return int32((t/l.tx*side+y>>k)*l.c.NX + t%l.tx*side + x>>k)
}

// all lists the gaps tile by tile; those of column q of tile t are
// start[base[t]+q] up to the next. The lattice keeps the list until drop.
func (l *lattice) all() (g []gap, start []int32) {
	if l.start != nil {
		return l.gaps, l.start
	}
	start = make([]int32, l.base[len(l.fine)]+1)
	for t := range l.fine {
		for q := range int(l.base[t+1] - l.base[t]) {
			k := int(l.base[t]) + q
			start[k+1] = start[k] + int32(max(0, len(l.of(t, q))-1))
		}
	}
	g = make([]gap, 0, start[len(start)-1])
	for t := range l.fine {
		for q := range int(l.base[t+1] - l.base[t]) {
			if s := l.of(t, q); len(s) > 1 {
				cell := l.cell(t, q)
				for k := 1; k < len(s); k++ {
					g = append(g, gap{lo: s[k-1].Hi, hi: s[k].Lo, cell: cell, tile: int32(t), col: int32(q)})
				}
			}
		}
	}
	l.gaps, l.start = g, start
	return g, start
}

// drop forgets the list of the gaps.
func (l *lattice) drop() { l.gaps, l.start = nil, nil }

// beside calls f for every gap k of a column beside gap i's that overlaps it, with the
// direction.
func (l *lattice) beside(g []gap, start []int32, i int, f func(d int, k int32)) {
	a := &g[i]
	for d, s := range four {
		t, q, ok := l.next(int(a.tile), int(a.col), s)
		if !ok {
			continue
		}
		n := int(l.base[t]) + q
		for k := start[n]; k < start[n+1]; k++ {
			if g[k].lo < a.hi && a.lo < g[k].hi {
				f(d, k)
			}
		}
	}
}

// refine casts the tiles again in which gaps are one column wide: with 4 columns
// along the side of each coarse one where such gaps hold more than 0.2 % of all
// gaps and 2e-5 of the volume v, then with 16 where they still hold 2 % and 1e-4.
//
// Where a slit of width w crosses columns h apart, the columns that meet it are a share w/h
// of those along it: its volume is a matter of chance and its pieces hang together
// only from w = 1.4 h on.
func (l *lattice) refine(v float64) {
	for n, k := range [2]int{4, 16} {
		g, start := l.all()
		thin := make([]bool, len(g))
		share := make([]float64, len(l.fine))
		all, sum := 0.0, 0.0
		for i := range g {
			var met [4]bool
			l.beside(g, start, i, func(d int, _ int32) { met[d] = true })
			w := l.volume(&g[i])
			all += w
			if thin[i] = !(met[0] || met[1]) || !(met[2] || met[3]); thin[i] {
				sum += w
				share[g[i].tile] += w
			}
		}
		if sum <= [2]float64{2e-3, 0.02}[n]*all+[2]float64{2e-5, 1e-4}[n]*v {
			return
		}
		mark := make([]bool, len(l.fine))
		for i := range g {
			if thin[i] && share[g[i].tile] > 1e-6*v {
				x, y := int(g[i].cell)%l.c.NX, int(g[i].cell)/l.c.NX
				for _, d := range [4][2]int{{-2, -2}, {2, -2}, {-2, 2}, {2, 2}} {
					a, b := min(max(0, x+d[0]), l.c.NX-1)/side, min(max(0, y+d[1]), l.c.NY-1)/side
					mark[b*l.tx+a] = true
				}
			}
		}
		var list []int
		for t := range mark {
			if mark[t] && l.parts(t) < k {
				list = append(list, t)
			}
		}
		if most := mostFine / (side * side * k * k); len(list) > most {
			slices.SortStableFunc(list, func(a, b int) int { return cmp.Compare(share[b], share[a]) })
			list = list[:most]
		}
		l.drop()
		l.again(list, k)
	}
}

// again casts tiles with k x k columns for each coarse one.
func (l *lattice) again(list []int, k int) {
	at := make([]int32, len(l.fine)) // 1 + place in list
	for i, t := range list {
		at[t] = int32(i + 1)
	}
	own := make([][]int32, len(list))
	cell := func(w, w0 float64, n int) int {
		return min(max(0, int(math.Floor((w-w0)/l.c.H+0.5))), n-1) / side
	}
	for f := range l.turned.F {
		a, b, c := l.turned.Tri(f)
		// A hair wider, so that no column on the tile's rim loses a triangle to rounding.
		e := 1e-6 * l.c.H
		i0, i1 := cell(min(a.X, b.X, c.X)-e, l.c.X0, l.c.NX), cell(max(a.X, b.X, c.X)+e, l.c.X0, l.c.NX)
		j0, j1 := cell(min(a.Y, b.Y, c.Y)-e, l.c.Y0, l.c.NY), cell(max(a.Y, b.Y, c.Y)+e, l.c.Y0, l.c.NY)
		for j := j0; j <= j1; j++ {
			for i := i0; i <= i1; i++ {
				if n := at[j*l.tx+i]; n > 0 {
					own[n-1] = append(own[n-1], int32(f))
				}
			}
		}
	}
	numbers := sync.Pool{New: func() any { s := make([]int32, len(l.turned.V)); return &s }} // all zero between uses
	par.For(len(list), 1, func(lo, hi int) {
		id := numbers.Get().(*[]int32)
		defer numbers.Put(id)
		for n := lo; n < hi; n++ {
			l.fine[list[n]] = l.cast(list[n], k, own[n], *id)
		}
	})
	l.number()
}

// cast casts tile t from the triangles that reach it. id is zero for every
// corner and is left so.
func (l *lattice) cast(t, k int, own []int32, id []int32) *voxel.Columns {
	m := &mesh.Mesh{F: make([][3]int32, len(own))}
	for i, f := range own {
		for j, v := range l.turned.F[f] {
			if id[v] == 0 {
				m.V = append(m.V, l.turned.V[v])
				id[v] = int32(len(m.V))
			}
			m.F[i][j] = id[v] - 1
		}
	}
	for _, f := range own {
		for _, v := range l.turned.F[f] {
			id[v] = 0
		}
	}
	h := l.c.H / float64(k)
	x := l.c.X0 - l.c.H/2 + float64(t%l.tx*side)*l.c.H + h/2
	y := l.c.Y0 - l.c.H/2 + float64(t/l.tx*side)*l.c.H + h/2
	return voxel.Cast(m, side*k, side*k, x, y, h)
}
