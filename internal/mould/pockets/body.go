package pockets

import (
	"cmp"
	"math"

	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/voxel"
)

// Body is a mesh made ready for any number of attitudes.
type Body struct {
	m      *mesh.Mesh // corners about the box centre, joined where equal
	centre vec.V3
	size   float64 // longest edge of the box
	start  []int32 // per corner: where its neighbours stand in next
	next   []int32
	closed bool    // the surface sweep may be used
	to     []int32 // per corner of the mesh: the one it was joined to; nil where none was
}

// Prepare centres the mesh, lists the neighbours of each corner and decides
// whether the surface is closed, consistently turned and free of overlap.
func Prepare(m *mesh.Mesh) *Body {
	b := &Body{m: &mesh.Mesh{F: m.F}}
	if len(m.F) == 0 {
		return b
	}
	used := make([]bool, len(m.V))
	for _, t := range m.F {
		used[t[0]], used[t[1]], used[t[2]] = true, true, true
	}
	box := extent(m.V, used)
	b.centre, b.size = box.Centre(), box.Longest()
	b.m.V = make([]vec.V3, len(m.V))
	for i, p := range m.V {
		if used[i] { // the others stay at the centre, out of the way
			b.m.V[i] = p.Sub(b.centre)
		}
	}
	b.neighbours()
	if !b.balanced() {
		b.weld()
		b.neighbours()
		b.closed = b.balanced()
	} else {
		b.closed = true
	}
	b.closed = b.closed && b.apart() && b.filled()
	return b
}

// extent returns the box of the used corners.
func extent(v []vec.V3, used []bool) vec.Box {
	b := vec.Empty()
	for i, p := range v {
		if used != nil && !used[i] {
			continue
		}
		// Plain comparisons: several times as fast as math.Min.
		if p.X < b.Min.X {
			b.Min.X = p.X
		}
		if p.X > b.Max.X {
			b.Max.X = p.X
		}
		if p.Y < b.Min.Y {
			b.Min.Y = p.Y
		}
		if p.Y > b.Max.Y {
			b.Max.Y = p.Y
		}
		if p.Z < b.Min.Z {
			b.Min.Z = p.Z
		}
		if p.Z > b.Max.Z {
			b.Max.Z = p.Z
		}
	}
	return b
}

// neighbours lists, for every corner, the far ends of the directed edges that
// leave it. On a closed mesh these are all its neighbours, once each.
func (b *Body) neighbours() {
	n := len(b.m.V)
	b.start = make([]int32, n+1)
	for _, t := range b.m.F {
		for k := range 3 {
			if t[k] != t[(k+1)%3] {
				b.start[t[k]+1]++
			}
		}
	}
	for i := range n {
		b.start[i+1] += b.start[i]
	}
	b.next = make([]int32, b.start[n])
	fill := make([]int32, n)
	copy(fill, b.start)
	for _, t := range b.m.F {
		for k := range 3 {
			if q := t[(k+1)%3]; t[k] != q {
				b.next[fill[t[k]]] = q
				fill[t[k]]++
			}
		}
	}
}

// balanced reports whether every edge is run through as often one way as the
// other.
func (b *Body) balanced() bool {
	n := len(b.m.V)
	const chunk = 8192
	bad := par.Sum(n, chunk, func(lo, hi int) float64 {
		bad := 0.0
		for v := int32(lo); v < int32(hi); v++ {
			for i := b.start[v]; i < b.start[v+1]; i++ {
				w, d := b.next[i], 0
				for j := b.start[v]; j < b.start[v+1]; j++ {
					if b.next[j] == w {
						d++
					}
				}
				for j := b.start[w]; j < b.start[w+1]; j++ {
					if b.next[j] == v {
						d--
					}
				}
				if d != 0 {
					bad++
				}
			}
		}
		return bad
	})
	return bad == 0
}

// weld joins corners whose numbers are equal.
func (b *Body) weld() {
	first := make(map[vec.V3]int32, len(b.m.V)/2)
	to := make([]int32, len(b.m.V))
	for i, p := range b.m.V {
		j, ok := first[p]
		if !ok {
			j = int32(i)
			first[p] = j
		}
		to[i] = j
	}
	b.to = to
	f := make([][3]int32, len(b.m.F))
	for i, t := range b.m.F {
		f[i] = [3]int32{to[t[0]], to[t[1]], to[t[2]]}
	}
	b.m.F = f
}

// same returns the corner that v was joined to.
func (b *Body) same(v int32) int32 {
	if b.to == nil {
		return v
	}
	return b.to[v]
}

// shells numbers the parts of the surface that are joined over edges, per
// corner; -1 for corners that no triangle uses.
func (b *Body) shells() (shell []int32, count int) {
	n := len(b.m.V)
	root := make([]int32, n)
	for i := range root {
		root[i] = int32(i)
	}
	find := func(i int32) int32 {
		for root[i] != i {
			root[i] = root[root[i]]
			i = root[i]
		}
		return i
	}
	for v := range int32(n) {
		for _, w := range b.next[b.start[v]:b.start[v+1]] {
			if r, s := find(v), find(w); r != s {
				root[max(r, s)] = min(r, s)
			}
		}
	}
	shell = make([]int32, n)
	for v := range int32(n) {
		if b.start[v] == b.start[v+1] {
			shell[v] = -1
		} else if r := find(v); r == v {
			shell[v] = int32(count)
			count++
		} else {
			shell[v] = shell[r]
		}
	}
	return shell, count
}

// apart reports whether no two outward shells overlap. Where they do, only the
// columns know their union. Shells whose boxes meet are sorted into classes
// without such meetings; nothing overlaps if the columns of the classes add up
// to those of all outward shells together.
func (b *Body) apart() bool {
	shell, count := b.shells()
	if count < 2 {
		return true
	}
	const most = 2000
	if count > most {
		return false
	}
	boxes := make([]vec.Box, count)
	for i := range boxes {
		boxes[i] = vec.Empty()
	}
	for v, s := range shell {
		if s >= 0 {
			boxes[s] = boxes[s].Add(b.m.V[v])
		}
	}
	volume := make([]float64, count)
	for _, t := range b.m.F {
		if s := shell[t[0]]; s >= 0 {
			volume[s] += b.m.V[t[0]].Dot(b.m.V[t[1]].Cross(b.m.V[t[2]]))
		}
	}
	class := make([]int, count)
	classes := 0
	for i := range boxes {
		if volume[i] <= 0 {
			class[i] = -1
			continue
		}
		var taken [most + 1]bool
		for j := range i {
			if class[j] >= 0 && meet(boxes[i], boxes[j]) {
				taken[class[j]] = true
			}
		}
		for taken[class[i]] {
			class[i]++
		}
		classes = max(classes, class[i]+1)
	}
	if classes < 2 {
		return true
	}
	if classes > 8 {
		return false
	}
	parts := make([]mesh.Mesh, classes)
	all := mesh.Mesh{V: b.m.V}
	for _, t := range b.m.F {
		if s := shell[t[0]]; s >= 0 && class[s] >= 0 {
			parts[class[s]].F = append(parts[class[s]].F, t)
			all.F = append(all.F, t)
		}
	}
	sum := -b.filling(&all)
	for i := range parts {
		parts[i].V = b.m.V
		sum += b.filling(&parts[i])
	}
	return math.Abs(sum) <= 1e-9*b.size
}

// filling returns the sum of the lengths inside m of 256 x 256 columns; m has
// the corners of the body, so that the grid is the same for all its parts.
func (b *Body) filling(m *mesh.Mesh) float64 {
	c, _ := columns(m, vec.V3{X: 0.36, Y: 0.48, Z: 0.8}, 256)
	s := 0.0
	for q := range c.Len() {
		for _, p := range c.Of(q) {
			s += p.Hi - p.Lo
		}
	}
	return s
}

func meet(a, b vec.Box) bool {
	return a.Min.X <= b.Max.X && b.Min.X <= a.Max.X &&
		a.Min.Y <= b.Max.Y && b.Min.Y <= a.Max.Y &&
		a.Min.Z <= b.Max.Z && b.Min.Z <= a.Max.Z
}

// filled compares the signed volume with that of the points of winding number
// above 0. They differ where a shell overlaps itself or is turned inside out.
func (b *Body) filled() bool {
	signed := par.Sum(len(b.m.F), 32768, func(lo, hi int) float64 {
		s := 0.0
		for _, t := range b.m.F[lo:hi] {
			s += b.m.V[t[0]].Dot(b.m.V[t[1]].Cross(b.m.V[t[2]]))
		}
		return s
	}) / 6
	if !(signed > 0) {
		return false
	}
	c, h := columns(b.m, vec.V3{X: 0.36, Y: 0.48, Z: 0.8}, 96)
	s := 0.0
	for q := range c.Len() {
		for _, p := range c.Of(q) {
			s += p.Hi - p.Lo
		}
	}
	return math.Abs(s*h*h-signed) <= 0.03*signed+0.1*h*h*h
}

// columns casts lines along up through the body, n along its longest side
// square to up, and returns them with their distance. The frame is turned about up by a fixed odd angle, so that
// walls that stand square in the file do not run along rows of columns.
func columns(m *mesh.Mesh, up vec.V3, n int) (*voxel.Columns, float64) {
	t := m.Into(turned(up))
	box := extent(t.V, nil)
	s := box.Size()
	h := math.Max(s.X, s.Y) / float64(n)
	if h == 0 {
		h = 1
	}
	nx, ny := int(s.X/h)+2, int(s.Y/h)+2
	// The lines stand off the box's corner by odd shares of a cell.
	return voxel.Cast(t, nx, ny, box.Min.X+0.2871*h-0.5*h, box.Min.Y+0.3617*h-0.5*h, h), h
}

// turned returns a frame at the origin with z along up whose other axes run
// askew.
func turned(up vec.V3) vec.Frame {
	f := vec.AlongZ(up)
	s, c := math.Sincos(0.4636)
	return vec.Frame{X: f.X.Mul(c).Add(f.Y.Mul(s)), Y: f.Y.Mul(c).Sub(f.X.Mul(s)), Z: f.Z}
}

// byPlace orders corners by their coordinates.
func (b *Body) byPlace(i, j int32) int {
	p, q := b.m.V[i], b.m.V[j]
	if c := cmp.Compare(p.X, q.X); c != 0 {
		return c
	}
	if c := cmp.Compare(p.Y, q.Y); c != 0 {
		return c
	}
	if c := cmp.Compare(p.Z, q.Z); c != 0 {
		return c
	}
	return int(i) - int(j)
}
