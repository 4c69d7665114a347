package mend

import (
	"cmp"
	"math"
	"slices"

	"pourwright/internal/ground/sets"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// What is taken of a hole; our own figures, no source.
const (
	planar    = 0.01 // of the rim's size: deviation from its plane up to which a rim is flat
	smooth    = 0.7  // mean cosine between cover and surface at the rim above which the cover follows the curvature
	gaping    = 0.35 // cover over surface of its part, from which a hole that is not flat is too large
	crumbArea = 0.03 // share of the surface under which a part that cannot be closed is left out
	follows   = 0.5  // share of its dome that a cover along the curve may miss
	enclosed  = 1e-4 // volume over area^1.5 under which a part encloses nothing
)

// rim is a closed walk along open edges, in the sense of the cover: the edge
// from v[i] to v[i+1] belongs to the cover, half[i] is the open half-edge that
// runs the other way, or -1 on a bridge.
type rim struct {
	v, half []int32
	cover   [][3]int32
	area    float64 // of the cover
	size    float64 // of the rim
	cosine  float64 // mean over the rim, between cover and surface
	flat    bool
	stands  bool
	curved  bool
}

// closeHoles covers every hole. An error says why the surface has no inside.
func (w *work) closeHoles() error {
	odd := w.groups()
	open, _ := faults(odd)
	if open == 0 {
		return nil
	}
	w.open = open
	rims := w.rims(odd)
	part, area := w.parts()
	used := chords(w.m, rims)
	rims = w.islands(rims, part, area)
	rims = w.rings(rims, part, area, used)
	top := w.reachOf(rims, part)
	w.most = longest(rims)
	for i := range rims {
		for k, h := range rims[i].half {
			if h < 0 {
				used[pair(rims[i].v[k], rims[i].v[(k+1)%len(rims[i].v)])] = true
			}
		}
	}
	covered := make(map[int32]float64) // per part: covers of holes that are not flat
	var list, curved []*rim
	old := len(w.m.V)
	for i := range rims {
		r := &rims[i]
		if len(r.v) < 3 {
			continue
		}
		w.cover(r, top[i], used)
		for _, t := range r.cover {
			for k := range 3 {
				used[pair(t[k], t[(k+1)%3])] = true
			}
		}
		if p := part[r.half[0]/3]; !r.stands {
			covered[p] += r.area
		}
		list = append(list, r)
	}
	if crumb := w.crumbs(part, area, covered); crumb != nil {
		list = slices.DeleteFunc(list, func(r *rim) bool { return crumb[part[r.half[0]/3]] })
		var at vec.V3
		for i := len(part) - 1; i >= 0; i-- {
			if crumb[part[i]] {
				at = centre(w.m, i)
			}
		}
		box := make(map[int32]vec.Box)
		for i, q := range part {
			if crumb[q] {
				b, ok := box[q]
				if !ok {
					b = vec.Empty()
				}
				x, y, z := w.m.Tri(i)
				box[q] = b.Add(x).Add(y).Add(z)
			}
		}
		for p, a := range area {
			if crumb[int32(p)] {
				w.lost(a, box[int32(p)])
			}
		}
		w.keep(func(i int) bool { return !crumb[part[i]] })
		w.did("left out open pieces", len(crumb), at)
	}
	for _, r := range list {
		if p := part[r.half[0]/3]; covered[p] > gaping*area[p] {
			return w.huge(r)
		}
	}
	w.doubt(list)
	for _, r := range list {
		if r.curved {
			curved = append(curved, r)
			r.cover = w.refine(r.cover, w.fineness(r), used)
		}
	}
	for _, kind := range []struct {
		name string
		is   func(r *rim) bool
	}{
		{"closed holes flat", func(r *rim) bool { return !r.stands && !r.curved }},
		{"closed holes along the curve of the surface", func(r *rim) bool { return r.curved }},
		{"closed the open flat side (standing face)", func(r *rim) bool { return r.stands }},
	} {
		n := 0
		var at vec.V3
		for _, r := range list {
			if kind.is(r) {
				w.m.F = append(w.m.F, r.cover...)
				if n++; n == 1 {
					at = w.middleOf(r)
				}
			}
		}
		if n == 0 {
			continue
		}
		w.changed()
		if kind.is(curvedRim) {
			w.fair(old, curved)
		}
		w.did(kind.name, n, at)
	}
	return w.hollow()
}

// lost adds to the band a piece of surface that was left out: twice what a ball
// of that surface holds, or half of its box.
func (w *work) lost(area float64, box vec.Box) {
	s := box.Size()
	b, at := math.Max(math.Pow(area, 1.5)/5, s.X*s.Y*s.Z/2), box.Centre()
	if w.band += b; b > w.worst {
		w.worst, w.at = b, at
	}
}

// crumbs returns the parts, by their first triangle, that are too open to close and too small to matter;
// nil where there is none.
func (w *work) crumbs(part []int32, area []float64, covered map[int32]float64) map[int32]bool {
	all := 0.0
	for _, a := range area {
		all += a
	}
	var crumb map[int32]bool
	for p, a := range area {
		if p := int32(p); a > 0 && part[p] == p && covered[p] > gaping*a && a < crumbArea*all {
			if crumb == nil {
				crumb = make(map[int32]bool)
			}
			crumb[p] = true
		}
	}
	return crumb
}

var curvedRim = &rim{curved: true}

// fineness returns, for each corner of a rim, the mean length of its edges.
func (w *work) fineness(r *rim) map[int32]float64 {
	f := make(map[int32]float64, len(r.v))
	for i, v := range r.v {
		if r.half[i] < 0 {
			continue
		}
		n := r.v[(i+1)%len(r.v)]
		l := w.m.V[v].Dist(w.m.V[n]) / 2
		f[v] += l
		f[n] += l
	}
	return f
}

// doubt adds to the band what the covers may miss. With phi the mean angle
// between cover and surface at the rim, a dome that leaves the rim along the
// surface rises tan(phi/2) rims' radii and holds about half of cover times rise
// (exact for a flat dome on a circle). A cover that follows the curve misses a
// part of that, one that does not may miss all of it. A part that stood out may
// be missing too: up to half a ball on a disc of the cover's area, the less likely
// the fewer edges the rim has. The flat cover of a flat hole with sharp sides, or a standing
// face, is taken as it is.
func (w *work) doubt(list []*rim) {
	for _, r := range list {
		if r.stands || r.flat && !r.curved {
			continue
		}
		phi := math.Acos(math.Max(math.Min(r.cosine, 1), 0))
		b := 0.5 * r.area * r.size / 2 * math.Tan(phi/2)
		if r.curved {
			b *= follows
		}
		few := math.Min(float64(len(r.v)-3)/6, 1)
		wide := 2 * math.Sqrt(r.area/math.Pi)
		if slices.Contains(r.half, -1) { // a ring round an island: its hydraulic diameter
			per := 0.0
			for i, v := range r.v {
				per += w.m.V[v].Dist(w.m.V[r.v[(i+1)%len(r.v)]])
			}
			wide = 4 * r.area / per
		}
		b = math.Max(b, few*r.area*wide/3)
		w.band += b
		if b > w.worst {
			w.worst, w.at = b, w.middleOf(r)
		}
	}
}

// huge says that a hole is too large to guess its cover.
func (w *work) huge(r *rim) error {
	return refuse("scan or model the missing side, or close it flat in the program that made the mesh",
		"the surface is not closed: it has %d open edges, and the hole of %d edges near %s is too large to guess what was there", w.open, len(r.v), place(w.middleOf(r)))
}

func (w *work) middleOf(r *rim) vec.V3 {
	var s vec.V3
	for _, v := range r.v {
		s = s.Add(w.m.V[v])
	}
	return s.Mul(1 / float64(len(r.v)))
}

// rims walks the open edges. A walk that comes back to a corner it has passed
// ends there, so that holes that touch in a corner are apart.
func (w *work) rims(odd [][]int32) []rim {
	type arc struct{ from, to, h int32 }
	var arcs []arc
	for _, g := range odd {
		if len(g) == 1 {
			arcs = append(arcs, arc{w.m.Head(g[0]), w.m.Tail(g[0]), g[0]})
		}
	}
	slices.SortFunc(arcs, func(a, b arc) int {
		return cmp.Or(cmp.Compare(a.from, b.from), cmp.Compare(a.to, b.to), cmp.Compare(a.h, b.h))
	})
	at := make(map[int32]int, len(arcs)) // next unused arc from a corner
	for i := len(arcs) - 1; i >= 0; i-- {
		at[arcs[i].from] = i
	}
	used := make([]bool, len(arcs))
	var out []rim
	for s := range arcs {
		if used[s] {
			continue
		}
		var path []int
		where := map[int32]int{arcs[s].from: 0}
		for k := s; ; {
			used[k] = true
			path = append(path, k)
			v := arcs[k].to
			if p, ok := where[v]; ok {
				var r rim
				for _, q := range path[p:] {
					r.v = append(r.v, arcs[q].from)
					r.half = append(r.half, arcs[q].h)
					if q != path[p] {
						delete(where, arcs[q].from)
					}
				}
				out = append(out, r)
				path = path[:p]
			} else {
				where[v] = len(path)
			}
			i := at[v]
			for i < len(arcs) && arcs[i].from == v && used[i] {
				i++
			}
			if i >= len(arcs) || arcs[i].from != v {
				break
			}
			at[v] = i
			k = i
		}
	}
	return out
}

// parts numbers the parts that hang together over clean pairs and sums their
// areas.
func (w *work) parts() ([]int32, []float64) {
	u := sets.New(len(w.m.F))
	for h, o := range w.edges() {
		if int(o) > h {
			u.Join(int32(h)/3, o/3)
		}
	}
	part := u.Roots()
	area := make([]float64, len(part))
	for i := range w.m.F {
		area[part[i]] += areaOf(w.m, i)
	}
	return part, area
}

// plane returns the centre and unit normal of a rim's plane (Newell), the
// largest deviation from it and the rim's size.
func (w *work) plane(r *rim) (c, n vec.V3, off, size float64) {
	c = w.middleOf(r)
	for i, v := range r.v {
		a, b := w.m.V[v].Sub(c), w.m.V[r.v[(i+1)%len(r.v)]].Sub(c)
		n = n.Add(a.Cross(b))
		size = math.Max(size, 2*a.Len())
	}
	n = n.Unit()
	for _, v := range r.v {
		off = math.Max(off, math.Abs(w.m.V[v].Sub(c).Dot(n)))
	}
	return c, n, off, size
}

// reachOf returns, per rim, how far its part reaches beyond the rim's plane.
func (w *work) reachOf(rims []rim, part []int32) []float64 {
	top := make([]float64, len(rims))
	byPart := make(map[int32][]int)
	type pl struct{ c, n vec.V3 }
	planes := make([]pl, len(rims))
	for i := range rims {
		r := &rims[i]
		c, n, off, size := w.plane(r)
		planes[i] = pl{c, n}
		// Only large flat rims can be a standing face.
		if off <= planar*size && size > 0.2*w.size {
			p := part[r.half[0]/3]
			byPart[p] = append(byPart[p], i)
		} else {
			top[i] = math.Inf(1)
		}
	}
	for f, t := range w.m.F {
		for _, i := range byPart[part[f]] {
			for _, v := range t {
				top[i] = math.Max(top[i], w.m.V[v].Sub(planes[i].c).Dot(planes[i].n))
			}
		}
	}
	return top
}

// most is the longest rim whose cover is found by dynamic programming, fewest
// where the rims are so many that it would take too long; mostFlat the longest
// that is clipped ear by ear.
const (
	most     = 160
	fewest   = 32
	mostFlat = 20_000
)

// longest returns the longest rim whose cover is found by dynamic programming.
func longest(rims []rim) int {
	sum := 0.0
	for i := range rims {
		sum += math.Pow(math.Min(float64(len(rims[i].v)), most), 3) / 6
	}
	if sum > 2e8 {
		return fewest
	}
	return most
}

// cover triangulates a rim.
func (w *work) cover(r *rim, top float64, used map[[2]int32]bool) {
	_, n, off, size := w.plane(r)
	r.flat, r.size = off <= planar*size, size
	loop := slices.Clone(r.v)
	half := slices.Clone(r.half)
	if len(loop) > w.most {
		if r.flat && len(loop) <= mostFlat {
			if t := clipFlat(w.m, loop, n); t != nil {
				r.cover = t
			}
		}
		if r.cover == nil {
			r.cover, loop, half = w.clip(loop, half, n)
		}
	}
	if len(loop) <= w.most {
		r.cover = append(r.cover, w.least(loop, half, used)...)
	}
	// How the cover meets the surface.
	sum, all := 0.0, 0.0
	edge := make(map[[2]int32]vec.V3)
	for _, t := range r.cover {
		a, b, c := w.m.V[t[0]], w.m.V[t[1]], w.m.V[t[2]]
		x := b.Sub(a).Cross(c.Sub(a))
		nn := x.Unit()
		r.area += x.Len() / 2
		for k := range 3 {
			edge[[2]int32{t[k], t[(k+1)%3]}] = nn
		}
	}
	for i, h := range r.half {
		if h < 0 {
			continue
		}
		a, b := r.v[i], r.v[(i+1)%len(r.v)]
		l := w.m.V[a].Dist(w.m.V[b])
		sum += l * edge[[2]int32{a, b}].Dot(w.m.Normal(int(h/3)))
		all += l
	}
	if all > 0 {
		r.cosine = sum / all
	}
	r.curved = r.cosine > smooth
	r.stands = r.flat && top <= 2*planar*size && !r.curved
}

// least is the triangulation of the smallest area (Barequet & Sharir 1995,
// Filling gaps in the boundary of a polyhedron, CAGD 12; dynamic programming
// over the sub-rims i..j):
//
//	W(i,j) = min over i < m < j of W(i,m) + W(m,j) + area(i,m,j) + folds,
//
// where two triangles that fold back on each other cost the area of the rim's
// own square (after Liepa 2003, Filling holes in meshes, who takes the angle
// first), so that covers of rims that wind about do not turn over.
func (w *work) least(v, half []int32, used map[[2]int32]bool) [][3]int32 {
	n := len(v)
	if n == 3 {
		return [][3]int32{{v[0], v[1], v[2]}}
	}
	p := make([]vec.V3, n)
	per := 0.0
	for i := range v {
		p[i] = w.m.V[v[i]]
	}
	for i := range p {
		per += p[i].Dist(p[(i+1)%n])
	}
	fold := per * per
	rimNormal := make([]vec.V3, n)
	for i, h := range half {
		if h >= 0 {
			rimNormal[i] = w.m.Normal(int(h / 3))
		}
	}
	cost := make([]float64, n*n)
	pick := make([]int32, n*n)
	norm := func(i, j int) vec.V3 { // of what lies beyond the edge i-j of a sub-rim
		if j == i+1 {
			return rimNormal[i]
		}
		m := int(pick[i*n+j])
		return p[m].Sub(p[i]).Cross(p[j].Sub(p[i])).Unit()
	}
	back := func(a, b vec.V3) float64 {
		if c := a.Dot(b); c < -0.5 {
			return fold * (0.5 - c)
		}
		return 0
	}
	for d := 2; d < n; d++ {
		for i := 0; i+d < n; i++ {
			j := i + d
			best, at := math.Inf(1), i+1
			e := p[j].Sub(p[i])
			again := 0.0
			if d < n-1 && used[pair(v[i], v[j])] {
				again = 4 * fold // an edge of four triangles
			}
			for m := i + 1; m < j; m++ {
				c := cost[i*n+m] + cost[m*n+j]
				if c >= best {
					continue
				}
				x := p[m].Sub(p[i]).Cross(e)
				l := x.Len()
				c += l / 2
				if c >= best {
					continue
				}
				if l > 0 {
					u := x.Mul(1 / l)
					c += back(u, norm(i, m)) + back(u, norm(m, j))
					if d == n-1 {
						c += back(u, rimNormal[n-1])
					}
				}
				if c < best {
					best, at = c, m
				}
			}
			cost[i*n+j], pick[i*n+j] = best+again, int32(at)
		}
	}
	var out [][3]int32
	stack := [][2]int{{0, n - 1}}
	for len(stack) > 0 {
		i, j := stack[len(stack)-1][0], stack[len(stack)-1][1]
		stack = stack[:len(stack)-1]
		if j-i < 2 {
			continue
		}
		m := int(pick[i*n+j])
		out = append(out, [3]int32{v[i], v[m], v[j]})
		stack = append(stack, [2]int{i, m}, [2]int{m, j})
	}
	return out
}

// clip cuts ears off a long rim that is not flat, the shortest cut first, until
// it is short enough for the dynamic programming.
func (w *work) clip(v, half []int32, n vec.V3) ([][3]int32, []int32, []int32) {
	var out [][3]int32
	for len(v) > w.most {
		// One round cuts ears that do not touch, those under the median cut.
		k := len(v)
		length := make([]float64, k)
		for i := range v {
			a, b, c := w.m.V[v[(i+k-1)%k]], w.m.V[v[i]], w.m.V[v[(i+1)%k]]
			length[i] = a.Dist(c)
			if b.Sub(a).Cross(c.Sub(b)).Dot(n) < 0 {
				length[i] *= 3 // a corner that looks inward waits
			}
		}
		sorted := slices.Clone(length)
		slices.Sort(sorted)
		limit := sorted[k/2]
		gone := make([]bool, k)
		cut := 0
		for i := range v {
			if length[i] > limit || gone[(i+k-1)%k] || gone[(i+1)%k] || k-cut <= w.most {
				continue
			}
			gone[i] = true
			cut++
			out = append(out, [3]int32{v[(i+k-1)%k], v[i], v[(i+1)%k]})
		}
		if cut == 0 {
			break
		}
		var nv, nh []int32
		for i := range v {
			if gone[i] {
				continue
			}
			nv = append(nv, v[i])
			if gone[(i+1)%k] {
				nh = append(nh, -1)
			} else {
				nh = append(nh, half[i])
			}
		}
		v, half = nv, nh
	}
	return out, v, half
}

// clipFlat triangulates a flat rim by ear clipping in its plane (Meisters
// 1975); nil where the rim crosses itself there.
func clipFlat(m *mesh.Mesh, v []int32, n vec.V3) [][3]int32 {
	f := vec.AlongZ(n)
	p := make([]vec.V2, len(v))
	for i := range v {
		q := f.ToDir(m.V[v[i]])
		p[i] = vec.V2{X: q.X, Y: q.Y}
	}
	k := len(v)
	next, prev := make([]int, k), make([]int, k)
	for i := range v {
		next[i], prev[i] = (i+1)%k, (i+k-1)%k
	}
	turn := func(a, b, c int) float64 { return p[b].Sub(p[a]).Cross(p[c].Sub(p[a])) }
	bulge := func(i int) bool { return turn(prev[i], i, next[i]) <= 0 }
	hollow := make(map[int]bool) // corners that look inward
	for i := range v {
		if bulge(i) {
			hollow[i] = true
		}
	}
	var inward []int
	for i := range v {
		if hollow[i] {
			inward = append(inward, i)
		}
	}
	ear := func(i int) bool {
		if hollow[i] {
			return false
		}
		a, c := prev[i], next[i]
		for _, q := range inward {
			if !hollow[q] || q == a || q == c || q == i {
				continue
			}
			if turn(a, i, q) >= 0 && turn(i, c, q) >= 0 && turn(c, a, q) >= 0 && v[q] != v[a] && v[q] != v[c] && v[q] != v[i] {
				return false
			}
		}
		return true
	}
	var out [][3]int32
	left, idle := k, 0
	for i := 0; left > 3; {
		if !ear(i) {
			if idle++; idle > left {
				return nil
			}
			i = next[i]
			continue
		}
		idle = 0
		a, c := prev[i], next[i]
		out = append(out, [3]int32{v[a], v[i], v[c]})
		next[a], prev[c] = c, a
		left--
		for _, q := range [2]int{a, c} {
			if hollow[q] && !bulge(q) {
				delete(hollow, q)
			}
		}
		i = next[c] // not its neighbour, so that no fan of needles grows
		if left == 3 {
			i = c
		}
	}
	for i := range next {
		a := i
		if next[prev[a]] == a && prev[next[a]] == a && next[next[next[a]]] == a {
			out = append(out, [3]int32{v[a], v[next[a]], v[next[next[a]]]})
			break
		}
	}
	if len(out) != k-2 {
		return nil
	}
	return out
}

// hollow refuses a surface whose closed parts enclose nothing.
func (w *work) hollow() error {
	_, area := w.parts()
	all := 0.0
	for _, a := range area {
		all += a
	}
	if v := math.Abs(w.m.Volume()); v < enclosed*math.Pow(all, 1.5) {
		return refuse("scan or model the master as a closed body; single faces and sheets are none",
			"the surface encloses nothing: its pieces do not stand round a body")
	}
	return nil
}
