package mend

import (
	"cmp"
	"math"
	"slices"

	"pourwright/internal/ground/sets"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// orient turns triangles so that all that hang together over edges of two
// triangles agree; in each part the sense of the larger share of the surface
// stays. A part that cannot agree has only one side.
func (w *work) orient() error {
	opp, odd := w.edges(), w.groups()
	same := make(map[int32]int32) // half-edges of two triangles that disagree
	for _, g := range odd {
		if len(g) == 2 {
			same[g[0]], same[g[1]] = g[1], g[0]
		}
	}
	if len(same) == 0 {
		return nil
	}
	n := len(w.m.F)
	part := make([]int32, n)
	turn := make([]bool, n)
	for i := range part {
		part[i] = -1
	}
	var queue []int32
	var area [][2]float64
	var twist int32 = -1
	for s := range n {
		if part[s] >= 0 {
			continue
		}
		p := int32(len(area))
		area = append(area, [2]float64{})
		part[s] = p
		queue = append(queue[:0], int32(s))
		for len(queue) > 0 {
			i := queue[len(queue)-1]
			queue = queue[:len(queue)-1]
			k := 0
			if turn[i] {
				k = 1
			}
			area[p][k] += areaOf(w.m, int(i))
			for h := 3 * i; h < 3*i+3; h++ {
				o, flip := opp[h], false
				if o < 0 {
					var ok bool
					if o, ok = same[h]; !ok {
						continue
					}
					flip = true
				}
				j := o / 3
				want := turn[i] != flip
				if part[j] < 0 {
					part[j], turn[j] = p, want
					queue = append(queue, j)
				} else if turn[j] != want && twist < 0 {
					twist = h
				}
			}
		}
	}
	if twist >= 0 {
		return refuse("model the master as a body with a thickness; a strip with a twist has only one side",
			"the surface has only one side (as a Moebius band has), so it has no inside; it turns over near %s", place(middle(w.m, twist)))
	}
	count := 0
	var at vec.V3
	for i := range w.m.F {
		if a := area[part[i]]; turn[i] == (a[1] <= a[0]) {
			f := &w.m.F[i]
			f[1], f[2] = f[2], f[1]
			if count++; count == 1 {
				at = centre(w.m, i)
			}
		}
	}
	w.changed()
	w.did("turned triangles that disagreed about the outside", count, at)
	return nil
}

// part gives every fan of triangles round a corner a corner of its own where
// fans only touch, and does the same at edges of more than two triangles:
// those are sorted by their angle round the edge and paired across the
// material (Gueziec, Taubin, Lazarus & Horn 2001, Cutting and stitching). Fans
// that end at open edges stay together: a hole runs through the corner.
func (w *work) part() {
	opp, odd := w.edges(), w.groups()
	u := sets.New(3 * len(w.m.F))
	over := func(a, b int32) { // two half-edges of opposite sense
		u.Join(a, mesh.NextHalf(b))
		u.Join(mesh.NextHalf(a), b)
	}
	for h, o := range opp {
		if int(o) > h {
			over(int32(h), o)
		}
	}
	loose := make(map[int32]int32) // corner: a half-edge of an open fan there
	tie := func(v, h int32) {
		if o, ok := loose[v]; ok {
			u.Join(o, h)
		} else {
			loose[v] = h
		}
	}
	edges := 0
	for _, g := range odd {
		pairs := radial(w.m, g)
		if pairs == nil {
			for _, h := range g {
				tie(w.m.Tail(h), h)
				tie(w.m.Head(h), mesh.NextHalf(h))
			}
			continue
		}
		edges++
		for _, p := range pairs {
			over(p[0], p[1])
		}
	}
	first := make([]int32, len(w.m.V)) // root of the fan that keeps the corner
	for v := range first {
		first[v] = -1
	}
	fresh := make(map[int32]int32)
	old := len(w.m.V)
	count := 0
	var at vec.V3
	split := make(map[int32]bool)
	for h := range int32(3 * len(w.m.F)) {
		v := w.m.F[h/3][h%3]
		r := u.Root(h)
		if int(v) >= old {
			continue
		}
		switch {
		case first[v] < 0:
			first[v] = r
		case first[v] != r:
			to, ok := fresh[r]
			if !ok {
				to = int32(len(w.m.V))
				fresh[r] = to
				w.m.V = append(w.m.V, w.m.V[v])
				if !split[v] {
					split[v] = true
					if count++; count == 1 {
						at = w.m.V[v]
					}
				}
			}
			w.m.F[h/3][h%3] = to
		}
	}
	if count == 0 {
		return
	}
	w.changed()
	w.did("parted bodies that touch in a corner or an edge", count, at)
}

// radial pairs the half-edges of one edge across the material between them; nil
// where they do not balance, or there are only two.
func radial(m *mesh.Mesh, g []int32) [][2]int32 {
	if len(g) < 4 || len(g)%2 != 0 {
		return nil
	}
	a, b := m.Tail(g[0]), m.Head(g[0])
	lo := m.V[min(a, b)]
	d := m.V[max(a, b)].Sub(lo)
	f := vec.AlongZ(d.Unit())
	type fin struct {
		h     int32
		along bool
		angle float64
	}
	list := make([]fin, len(g))
	net := 0
	for i, h := range g {
		q := f.ToDir(m.V[m.Tail(mesh.PrevHalf(h))].Sub(lo))
		list[i] = fin{h, m.Tail(h) == min(a, b), math.Atan2(q.Y, q.X)}
		if list[i].along {
			net++
		} else {
			net--
		}
	}
	if net != 0 {
		return nil
	}
	// At equal angles the closing one comes first, so that bodies that share a
	// face stay apart.
	slices.SortFunc(list, func(x, y fin) int {
		c := cmp.Compare(x.angle, y.angle)
		if c == 0 && x.along != y.along {
			if x.along {
				return -1
			}
			return 1
		}
		return cmp.Or(c, cmp.Compare(x.h, y.h))
	})
	// Material lies from a face that runs against the edge to the next that runs
	// along it: brackets, matched on the circle.
	var stack []fin
	var pairs [][2]int32
	used := make([]bool, len(list))
	for range 2 {
		for i, x := range list {
			if used[i] {
				continue
			}
			if !x.along {
				if !slices.ContainsFunc(stack, func(y fin) bool { return y.h == x.h }) {
					stack = append(stack, x)
				}
			} else if len(stack) > 0 {
				y := stack[len(stack)-1]
				stack = stack[:len(stack)-1]
				pairs = append(pairs, [2]int32{y.h, x.h})
				used[i] = true
				for k := range list {
					if list[k].h == y.h {
						used[k] = true
					}
				}
			}
		}
	}
	if len(pairs)*2 != len(g) {
		return nil
	}
	return pairs
}

// turnOutward turns shells that face inward and lie in no other.
func (w *work) turnOutward() (*mesh.Topology, error) {
	w.m.Compact()
	t := mesh.TopologyOf(w.m)
	if !t.Watertight {
		return nil, w.tangled()
	}
	if count, at := Outward(w.m, t, mesh.NestOf(w.m, t)); count > 0 {
		w.did("turned inside out", count, at)
		t = mesh.TopologyOf(w.m)
	}
	return t, nil
}

// Outward turns the shells of m that face inward and lie in no other, and
// returns how many there were and a point on the first. What was known of m's
// edges no longer holds where it is not 0.
func Outward(m *mesh.Mesh, t *mesh.Topology, n *mesh.Nest) (count int, at vec.V3) {
	for s := range n.Role {
		if n.Role[s] == mesh.Inverted {
			if count++; count == 1 {
				at = n.At[s]
			}
		}
	}
	if count == 0 {
		return 0, at
	}
	for i, s := range t.Shell {
		if s >= 0 && n.Role[s] == mesh.Inverted {
			f := &m.F[i]
			f[1], f[2] = f[2], f[1]
		}
	}
	return count, at
}

// tangled says where the surface still hangs together wrongly.
func (w *work) tangled() error {
	for _, g := range w.groups() {
		if len(g) > 2 {
			return refuse("repair it in the program that made it: a body has two triangles on every edge",
				"%d triangles share one edge near %s, and they enclose nothing", len(g), place(middle(w.m, g[0])))
		}
	}
	for _, g := range w.groups() {
		return refuse("repair it in the program that made it: a body has two triangles on every edge",
			"the surface does not close near %s", place(middle(w.m, g[0])))
	}
	return refuse("scan or model the master as a closed body; single faces and sheets are none", "the surface encloses nothing: all its triangles lie on each other")
}
