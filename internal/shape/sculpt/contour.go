package sculpt

import (
	"math"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// Contour returns the surface of f inside box, on cubic cells of side h. The
// body must lie inside the box. An error says where the surface is not
// manifold or crosses itself at this h.
func Contour(f Field, box vec.Box, h float64) (*mesh.Mesh, error) {
	s := box.Size()
	if !(h > 0) || !s.Finite() || s.X/h*s.Y/h*s.Z/h > 2e8 {
		return nil, fault.New(fault.Internal, "contour", "give a finite box and a larger cell", "a box of %.3g x %.3g x %.3g cannot be cut into cells of %.3g", s.X, s.Y, s.Z, h)
	}
	// The grid stands off by an odd share of a cell, so that faces at round
	// numbers do not fall on nodes.
	g := &lattice{f: f, h: h, o: box.Min.Sub(vec.V3{X: 1.37 * h, Y: 1.41 * h, Z: 1.43 * h})}
	g.nx, g.ny, g.nz = int(s.X/h)+5, int(s.Y/h)+5, int(s.Z/h)+5
	g.sample()
	if err := g.rim(); err != nil {
		return nil, err
	}
	g.roots()
	m, mean := g.vertices()
	g.quads(m)
	if len(m.F) == 0 {
		return nil, fault.New(fault.Internal, "contour", "give a smaller cell or another box", "no surface in the box")
	}
	if err := closed(m); err != nil {
		return nil, err
	}
	for range 6 {
		x := Crossings(m)
		if len(x) == 0 {
			return outward(m), nil
		}
		for _, p := range x {
			for _, t := range p {
				for _, v := range m.F[t] {
					m.V[v] = mean[v]
				}
			}
		}
	}
	return outward(m), Check(m)
}

type lattice struct {
	f          Field
	h          float64
	o          vec.V3
	nx, ny, nz int
	d          []float64  // field at the nodes, a bound of it far from the surface
	edge       [3][]int32 // per axis and node: index of the root on the edge that starts there, or -1
	at         []vec.V3   // roots
	n          []vec.V3   // unit gradients there
	cell       []int32    // per cell: its first vertex, or -1
	mask       []uint16   // per vertex: the edges of its cell that its patch crosses
}

func (g *lattice) node(i, j, k int) vec.V3 {
	return g.o.Add(vec.V3{X: float64(i) * g.h, Y: float64(j) * g.h, Z: float64(k) * g.h})
}

// sample evaluates the field at the nodes, whole blocks of 6 x 6 x 6 at once
// where the middle shows that the surface is far.
func (g *lattice) sample() {
	const b = 6
	g.d = make([]float64, g.nx*g.ny*g.nz)
	bx, by, bz := (g.nx+b-1)/b, (g.ny+b-1)/b, (g.nz+b-1)/b
	far := 1.3 * math.Sqrt(3) * (b + 1) / 2 * g.h
	par.For(bx*by*bz, 16, func(lo, hi int) {
		for q := lo; q < hi; q++ {
			i0, j0, k0 := q%bx*b, q/bx%by*b, q/bx/by*b
			mid := g.f(g.node(i0, j0, k0).Add(vec.V3{X: 1, Y: 1, Z: 1}.Mul((b - 1) / 2. * g.h)))
			for k := k0; k < min(k0+b, g.nz); k++ {
				for j := j0; j < min(j0+b, g.ny); j++ {
					for i := i0; i < min(i0+b, g.nx); i++ {
						x := mid
						if math.Abs(mid) < far {
							x = g.f(g.node(i, j, k))
						}
						g.d[(k*g.ny+j)*g.nx+i] = x
					}
				}
			}
		}
	})
}

// rim refuses a body that reaches the outermost nodes.
func (g *lattice) rim() error {
	for k := range g.nz {
		for j := range g.ny {
			step := g.nx - 1
			if j == 0 || k == 0 || j == g.ny-1 || k == g.nz-1 {
				step = 1
			}
			for i := 0; i < g.nx; i += step {
				if g.d[(k*g.ny+j)*g.nx+i] < 0 {
					p := g.node(i, j, k)
					return fault.New(fault.Internal, "contour", "give a larger box", "the body leaves the box at (%.3f, %.3f, %.3f)", p.X, p.Y, p.Z)
				}
			}
		}
	}
	return nil
}

// roots finds where the edges of the grid cross the surface.
func (g *lattice) roots() {
	step := [3]int{1, g.nx, g.nx * g.ny}
	type start struct {
		q    int32
		axis uint8
	}
	var list []start
	for a := range 3 {
		g.edge[a] = make([]int32, len(g.d))
		for q := range g.d {
			g.edge[a][q] = -1
		}
	}
	for q, d := range g.d {
		for a := range 3 {
			if r := q + step[a]; r < len(g.d) && (d < 0) != (g.d[r] < 0) {
				g.edge[a][q] = int32(len(list))
				list = append(list, start{int32(q), uint8(a)})
			}
		}
	}
	g.at, g.n = make([]vec.V3, len(list)), make([]vec.V3, len(list))
	par.For(len(list), 256, func(lo, hi int) {
		for e := lo; e < hi; e++ {
			q := int(list[e].q)
			p := g.node(q%g.nx, q/g.nx%g.ny, q/g.nx/g.ny)
			var along vec.V3
			switch list[e].axis {
			case 0:
				along.X = g.h
			case 1:
				along.Y = g.h
			default:
				along.Z = g.h
			}
			t := root(func(t float64) float64 { return g.f(p.Add(along.Mul(t))) }, g.d[q], g.d[q+step[list[e].axis]])
			g.at[e] = p.Add(along.Mul(t))
			g.n[e] = g.gradient(g.at[e])
		}
	})
}

// root finds the sign change of f between 0 and 1 by the Illinois rule (Dowell
// & Jarratt 1971), to about 1e-9.
func root(f func(float64) float64, f0, f1 float64) float64 {
	a, b := 0.0, 1.0
	side := 0
	for range 40 {
		t := (a*f1 - b*f0) / (f1 - f0)
		if !(t > a && t < b) {
			t = (a + b) / 2
		}
		x := f(t)
		if math.Abs(x) < 1e-12 || b-a < 1e-9 {
			return t
		}
		if (x < 0) == (f0 < 0) {
			a, f0 = t, x
			if side == -1 {
				f1 /= 2
			}
			side = -1
		} else {
			b, f1 = t, x
			if side == 1 {
				f0 /= 2
			}
			side = 1
		}
	}
	return (a + b) / 2
}

// gradient returns the unit gradient by central differences.
func (g *lattice) gradient(p vec.V3) vec.V3 {
	e := g.h * 1e-4
	x, y, z := vec.V3{X: e}, vec.V3{Y: e}, vec.V3{Z: e}
	return vec.V3{
		X: g.f(p.Add(x)) - g.f(p.Sub(x)),
		Y: g.f(p.Add(y)) - g.f(p.Sub(y)),
		Z: g.f(p.Add(z)) - g.f(p.Sub(z)),
	}.Unit()
}

// A cell has corner c at (c&1, c>>1&1, c>>2) and edge 4a+k along axis a, k
// counting the other two axes.
var corners [12][2]int
var patches [256][]uint16

func init() {
	for a := range 3 {
		for k := range 4 {
			lo := 0
			o1, o2 := (a+1)%3, (a+2)%3
			lo |= (k&1)<<o1 | (k>>1)<<o2
			corners[4*a+k] = [2]int{lo, lo | 1<<a}
		}
	}
	for c := range patches {
		patches[c] = patchesOf(c)
	}
}

// patchesOf splits the crossed edges of a cell with inside corners c into the
// patches of its surface: in every face the two crossed edges belong together,
// and in a face with four the two round each inside corner.
func patchesOf(c int) []uint16 {
	in := func(k int) bool { return c>>k&1 == 1 }
	var group [12]int
	for e := range group {
		group[e] = e
	}
	join := func(x, y int) {
		from, to := group[x], group[y]
		for e := range group {
			if group[e] == from {
				group[e] = to
			}
		}
	}
	cross := func(e int) bool { return in(corners[e][0]) != in(corners[e][1]) }
	for a := range 3 {
		for s := range 2 {
			var face []int
			for e, k := range corners {
				if e/4 != a && k[0]>>a&1 == s && cross(e) {
					face = append(face, e)
				}
			}
			if len(face) == 2 {
				join(face[0], face[1])
			}
			if len(face) == 4 {
				for i, x := range face {
					for _, y := range face[:i] {
						for _, k := range corners[x] {
							if in(k) && (k == corners[y][0] || k == corners[y][1]) {
								join(x, y)
							}
						}
					}
				}
			}
		}
	}
	var out []uint16
	for g := range 12 {
		m := uint16(0)
		for e := range 12 {
			if cross(e) && group[e] == g {
				m |= 1 << e
			}
		}
		if m != 0 {
			out = append(out, m)
		}
	}
	return out
}

// edgeOf returns the root on edge e of the cell that starts at node q.
func (g *lattice) edgeOf(q, e int) int32 {
	c := corners[e][0]
	return g.edge[e/4][q+c&1+(c>>1&1)*g.nx+(c>>2)*g.nx*g.ny]
}

// vertices places one vertex for each patch of each cell; mean holds the means
// of the patches' roots.
func (g *lattice) vertices() (*mesh.Mesh, []vec.V3) {
	g.cell = make([]int32, len(g.d))
	type work struct {
		q int32
		m uint16
	}
	var list []work
	off := [8]int{}
	for c := range off {
		off[c] = c&1 + (c>>1&1)*g.nx + (c>>2)*g.nx*g.ny
	}
	for q := range g.cell {
		g.cell[q] = -1
		if q+off[7] >= len(g.d) {
			continue
		}
		c := 0
		for k, o := range off {
			if g.d[q+o] < 0 {
				c |= 1 << k
			}
		}
		if c != 0 && c != 255 {
			g.cell[q] = int32(len(list))
			for _, m := range patches[c] {
				list = append(list, work{int32(q), m})
			}
		}
	}
	m := &mesh.Mesh{V: make([]vec.V3, len(list))}
	mean := make([]vec.V3, len(list))
	g.mask = make([]uint16, len(list))
	par.For(len(list), 256, func(lo, hi int) {
		for v := lo; v < hi; v++ {
			q := int(list[v].q)
			g.mask[v] = list[v].m
			var p, n [12]vec.V3
			k := 0
			for e := range 12 {
				if list[v].m>>e&1 == 1 {
					r := g.edgeOf(q, e)
					p[k], n[k] = g.at[r], g.n[r]
					k++
				}
			}
			a := g.node(q%g.nx, q/g.nx%g.ny, q/g.nx/g.ny)
			m.V[v], mean[v] = g.place(p[:k], n[:k], a)
		}
	})
	return m, mean
}

// quads joins the four patches round every crossed edge.
func (g *lattice) quads(m *mesh.Mesh) {
	step := [3]int{1, g.nx, g.nx * g.ny}
	m.F = make([][3]int32, 0, 2*len(g.at))
	for q := range g.d {
		for a := range 3 {
			if g.edge[a][q] < 0 {
				continue
			}
			o1, o2 := (a+1)%3, (a+2)%3
			var v [4]int32
			// Round the edge: cells before it in both other axes, then turning.
			for i, k := range [4]int{3, 2, 0, 1} {
				c := q - (k&1)*step[o1] - (k>>1)*step[o2]
				bit := uint16(1) << (4*a + k)
				v[i] = g.cell[c]
				for g.mask[v[i]]&bit == 0 {
					v[i]++
				}
			}
			if g.d[q] >= 0 {
				v[1], v[3] = v[3], v[1]
			}
			m.F = append(m.F, split(m, v)...)
		}
	}
}

// split cuts a quad along the diagonal that leaves its two triangles nearest
// to one plane.
func split(m *mesh.Mesh, v [4]int32) [][3]int32 {
	n := func(a, b, c int32) vec.V3 {
		return m.V[b].Sub(m.V[a]).Cross(m.V[c].Sub(m.V[a])).Unit()
	}
	x := n(v[0], v[1], v[2]).Dot(n(v[0], v[2], v[3]))
	y := n(v[0], v[1], v[3]).Dot(n(v[1], v[2], v[3]))
	short := m.V[v[0]].Dist(m.V[v[2]]) <= m.V[v[1]].Dist(m.V[v[3]])
	if x > y+1e-6 || (x > y-1e-6 && short) {
		return [][3]int32{{v[0], v[1], v[2]}, {v[0], v[2], v[3]}}
	}
	return [][3]int32{{v[0], v[1], v[3]}, {v[1], v[2], v[3]}}
}
