package mesh

import (
	"cmp"
	"math"
	"slices"

	"pourwright/internal/ground/vec"
)

// Centroid returns the centroid of the solid, the sum over the triangles of
// det(a, b, c)/24 (a + b + c) about the box centre, divided by the volume. The
// box centre is returned where the volume is zero.
func (m *Mesh) Centroid() vec.V3 {
	o := m.Box().Centre()
	var s vec.V3
	v := 0.0
	for i := range m.F {
		a, b, c := m.Tri(i)
		a, b, c = a.Sub(o), b.Sub(o), c.Sub(o)
		d := a.Dot(b.Cross(c))
		v += d
		s = s.Add(a.Add(b).Add(c).Mul(d / 4))
	}
	if len(m.F) == 0 {
		return vec.V3{}
	}
	if v == 0 {
		return o
	}
	return o.Add(s.Mul(1 / v))
}

// Role is what a shell is to the solid.
type Role uint8

// The roles. Only closed shells, those without an edge fault, have one other
// than Loose.
const (
	Loose     Role = iota // open or badly turned: no inside of its own
	Outer                 // turned outward, not inside the solid of another: a body
	Hollow                // turned inward, inside the solid of another: a closed void
	Inverted              // turned inward, inside nothing: the wrong way round
	Swallowed             // turned outward, wholly in the solid of another
)

// Nest says how the shells of a mesh lie in each other.
type Nest struct {
	Role   []Role    // per shell
	Volume []float64 // per shell, signed
	At     []vec.V3  // per shell, a point on it
	Body   []int     // per shell, the body it belongs to, -1 for Loose, Inverted and Swallowed
	Bodies [][]int32 // shells of each body, its outer one first; largest volume first
	Voids  int       // Hollow shells
}

// NestOf finds the bodies: outer shells and the closed voids in them. Which
// shell lies in which is read at one point of each (the number of signed
// crossings above it), so shells that cut through each other may count either
// way; bodies that only touch are told apart.
func NestOf(m *Mesh, t *Topology) *Nest {
	n := &Nest{
		Role: make([]Role, t.Shells), Volume: make([]float64, t.Shells),
		At: make([]vec.V3, t.Shells), Body: make([]int, t.Shells),
	}
	closed := n.measure(m, t)
	winding := func(s int32) []crossing { return nil }
	if t.Shells > 1 {
		winding = newTower(m, t, closed).over
	}
	inside := make([][]crossing, t.Shells)
	for s := range n.Role {
		n.Body[s] = -1
		if !closed[s] {
			continue
		}
		inside[s] = winding(int32(s))
		deep := 0
		for _, c := range inside[s] {
			deep += c.times
		}
		switch {
		case n.Volume[s] >= 0 && deep <= 0:
			n.Role[s] = Outer
		case n.Volume[s] >= 0:
			n.Role[s] = Swallowed
		case deep > 0:
			n.Role[s] = Hollow
			n.Voids++
		default:
			n.Role[s] = Inverted
		}
	}
	n.gather(inside)
	return n
}

// measure fills Volume and At and tells which shells are closed.
func (n *Nest) measure(m *Mesh, t *Topology) []bool {
	closed := make([]bool, t.Shells)
	seen := make([]bool, t.Shells)
	for i, s := range t.Shell {
		if s < 0 {
			continue
		}
		a, b, c := m.Tri(i)
		if !seen[s] {
			seen[s], closed[s] = true, true
			n.At[s] = a.Add(b).Add(c).Mul(1.0 / 3)
		}
		o := n.At[s]
		n.Volume[s] += a.Sub(o).Dot(b.Sub(o).Cross(c.Sub(o))) / 6
		for k := range 3 {
			closed[s] = closed[s] && t.Opp[3*i+k] >= 0
		}
	}
	return closed
}

// gather lists the bodies and gives each void to the smallest body round it.
func (n *Nest) gather(inside [][]crossing) {
	for s, r := range n.Role {
		if r == Outer {
			n.Bodies = append(n.Bodies, []int32{int32(s)})
		}
	}
	slices.SortStableFunc(n.Bodies, func(a, b []int32) int { return cmp.Compare(n.Volume[b[0]], n.Volume[a[0]]) })
	for i, b := range n.Bodies {
		n.Body[b[0]] = i
	}
	for s, r := range n.Role {
		if r != Hollow {
			continue
		}
		for _, c := range inside[s] {
			if b := n.Body[c.shell]; n.Role[c.shell] == Outer && c.times > 0 && b > n.Body[s] {
				n.Body[s] = b
			}
		}
		if b := n.Body[s]; b >= 0 {
			n.Bodies[b] = append(n.Bodies[b], int32(s))
		}
	}
}

// Pick returns the triangles of some shells as a mesh of their own, corners
// and triangles in the order of m.
func Pick(m *Mesh, t *Topology, shells []int32) *Mesh {
	want := make([]bool, t.Shells)
	for _, s := range shells {
		want[s] = true
	}
	place := make([]int32, len(m.V))
	for i, s := range t.Shell {
		if s >= 0 && want[s] {
			for _, v := range m.F[i] {
				place[v] = 1
			}
		}
	}
	r := &Mesh{}
	for v, u := range place {
		if u > 0 {
			place[v] = int32(len(r.V))
			r.V = append(r.V, m.V[v])
		}
	}
	for i, s := range t.Shell {
		if s >= 0 && want[s] {
			f := m.F[i]
			r.F = append(r.F, [3]int32{place[f[0]], place[f[1]], place[f[2]]})
		}
	}
	return r
}

// crossing is how often a shell winds round a point.
type crossing struct {
	shell int32
	times int
}

// tower is a square grid over x and y with the triangles of the closed shells
// over each square.
type tower struct {
	m     *Mesh
	shell []int32
	first []int32 // a triangle of each shell
	lo    vec.V3
	per   float64 // squares per length
	n     int
	at    []int32 // first entry of each square
	tri   []int32
	sum   []int32 // scratch, per shell
}

func newTower(m *Mesh, t *Topology, closed []bool) *tower {
	w := &tower{m: m, shell: t.Shell, sum: make([]int32, t.Shells), first: make([]int32, t.Shells)}
	box := m.Box()
	w.lo = box.Min
	w.n = min(max(int(math.Sqrt(float64(len(m.F)))/2), 1), 512)
	if l := box.Longest(); l > 0 {
		w.per = float64(w.n) / l
	}
	w.at = make([]int32, w.n*w.n+1)
	for i := len(t.Shell) - 1; i >= 0; i-- {
		if s := t.Shell[i]; s >= 0 {
			w.first[s] = int32(i)
		}
	}
	each := func(f func(square int, i int32)) {
		for i, s := range t.Shell {
			if s < 0 || !closed[s] {
				continue
			}
			a, b, c := m.Tri(i)
			x0, y0 := w.square(a.Min(b).Min(c))
			x1, y1 := w.square(a.Max(b).Max(c))
			for y := y0; y <= y1; y++ {
				for x := x0; x <= x1; x++ {
					f(y*w.n+x, int32(i))
				}
			}
		}
	}
	each(func(q int, _ int32) { w.at[q+1]++ })
	for i := 1; i < len(w.at); i++ {
		w.at[i] += w.at[i-1]
	}
	w.tri = make([]int32, w.at[len(w.at)-1])
	fill := slices.Clone(w.at)
	each(func(q int, i int32) { w.tri[fill[q]] = i; fill[q]++ })
	return w
}

func (w *tower) square(p vec.V3) (x, y int) {
	return min(int((p.X-w.lo.X)*w.per), w.n-1), min(int((p.Y-w.lo.Y)*w.per), w.n-1)
}

// over returns how often every other shell winds round a point of shell s: the
// signed crossings of the vertical line above the point, counted with the
// half-open rule so that a line through an edge or corner counts once.
func (w *tower) over(s int32) []crossing {
	a, b, c := w.m.Tri(int(w.first[s]))
	p := a.Mul(0.437).Add(b.Mul(0.338)).Add(c.Mul(0.225))
	x, y := w.square(p)
	var met []int32
	for _, i := range w.tri[w.at[y*w.n+x]:w.at[y*w.n+x+1]] {
		o := w.shell[i]
		if o == s {
			continue
		}
		if k := w.cross(p, int(i)); k != 0 {
			if !slices.Contains(met, o) {
				met = append(met, o)
			}
			w.sum[o] += int32(k)
		}
	}
	slices.Sort(met)
	var r []crossing
	for _, o := range met {
		if w.sum[o] != 0 {
			r = append(r, crossing{o, int(w.sum[o])})
		}
		w.sum[o] = 0
	}
	return r
}

// cross returns +1 where triangle i lies above p and looks up, -1 where it
// looks down, 0 where it is not above.
func (w *tower) cross(p vec.V3, i int) int {
	a, b, c := w.m.Tri(i)
	if p.Z > math.Max(a.Z, math.Max(b.Z, c.Z)) {
		return 0
	}
	turn := leftOf(p, a, b) + leftOf(p, b, c) + leftOf(p, c, a)
	if turn == 0 {
		return 0
	}
	n := b.Sub(a).Cross(c.Sub(a))
	if n.Z == 0 || n.Dot(p.Sub(a))*n.Z > 0 {
		return 0
	}
	return turn
}

// leftOf returns the signed crossing of the half line from p along +x with the
// edge a-b seen from above: +1 for an edge that runs up in y, -1 down. The
// edge is always taken from its lower end, so both of its triangles agree.
func leftOf(p, a, b vec.V3) int {
	s := 1
	if a.Y > b.Y {
		a, b, s = b, a, -1
	}
	if p.Y < a.Y || p.Y >= b.Y {
		return 0
	}
	if (b.X-a.X)*(p.Y-a.Y)-(p.X-a.X)*(b.Y-a.Y) > 0 {
		return s
	}
	return 0
}
