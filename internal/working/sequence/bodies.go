package sequence

import (
	"fmt"
	"slices"

	"pourwright/internal/book/plan"
	"pourwright/internal/ground/sets"
	"pourwright/internal/ground/vec"
	"pourwright/internal/mould/parting"
	"pourwright/internal/shape/apart"
	"pourwright/internal/shape/bvh"
	"pourwright/internal/shape/mesh"
)

// Bodies that overlap by this count as one; our own figures.
const (
	shared     = 1e-3 // of the smaller one's volume
	sightError = 2e-4 // of the volume of both, which the measurement may be off
	sunk       = 1e-2 // of the smaller one's longest side, for a corner in the other
)

// interlocked adds a bar for every pair of bodies that no straight motion parts
// and for bodies held by several others. Pairs whose loops are linked are bars of
// the split already, and get the numbers of the bodies; they and bodies that
// overlap count as one in what is tried here.
func (m *Master) interlocked(s *parting.Split) {
	n := len(m.Nest.Bodies)
	if n < 2 {
		return
	}
	if n > apart.Parts {
		m.note("not-computed", nil, "look at the smaller ones yourself", "Of %d bodies only the %d largest were asked whether they come apart.", n, apart.Parts)
		n = apart.Parts
	}
	one := sets.New(len(m.Nest.Bodies))
	m.joined(one, n)
	whole, _ := m.groups(one, n)
	m.Largest = whole[0]
	for k := range s.Bars {
		b := &s.Bars[k]
		if b.Code != "linked" || b.Shells[0] == b.Shells[1] {
			continue
		}
		i, j := m.Nest.Body[b.Shells[0]], m.Nest.Body[b.Shells[1]]
		if i >= 0 && j >= 0 && i != j {
			one.Join(int32(i), int32(j))
			m.tie(i, j)
			b.Say = fmt.Sprintf("bodies %d and %d are linked (linking number %d); no mould opens round both", min(i, j)+1, max(i, j)+1, int(b.Computed))
		}
	}
	group, body := m.groups(one, n)
	m.bar(s, apart.Stuck(group, []vec.V3{s.Pull}), group, body)
	few(s)
}

// mostLinks is how many linked pairs are told one by one.
const mostLinks = 5

// few puts the linked pairs beyond mostLinks into one bar.
func few(s *parting.Split) {
	n := 0
	var kept []parting.Bar
	var last parting.Bar
	for _, b := range s.Bars {
		if b.Code == "linked" {
			if n++; n > mostLinks {
				last = b
				continue
			}
		}
		kept = append(kept, b)
	}
	switch n -= mostLinks; {
	case n == 1:
		kept = append(kept, last)
	case n > 1:
		last.Computed, last.Say = float64(n), fmt.Sprintf("%d more pairs of bodies are linked like these", n)
		kept = append(kept, last)
	}
	s.Bars = kept
}

// joined makes one of bodies that overlap.
func (m *Master) joined(one sets.Sets, n int) {
	single, _ := m.groups(sets.New(n), n)
	tree := make([]*bvh.Tree, n)
	box := make([]vec.Box, n)
	for b := range single {
		tree[b], box[b] = bvh.Build(single[b]), single[b].Box()
	}
	for i := range n {
		for j := i + 1; j < n; j++ {
			c := vec.Box{Min: box[i].Min.Max(box[j].Min), Max: box[i].Max.Min(box[j].Max)}
			if c.Min.X > c.Max.X || c.Min.Y > c.Max.Y || c.Min.Z > c.Max.Z || one.Root(int32(i)) == one.Root(int32(j)) {
				continue
			}
			a, b := single[i], single[j]
			if !pierces(a, tree[i], tree[j], c) && !pierces(b, tree[j], tree[i], c) {
				continue
			}
			if far := sunk * min(box[i].Longest(), box[j].Longest()); sinks(a, tree[j], c, far) || sinks(b, tree[i], c, far) || overlap(a, b) {
				one.Join(int32(i), int32(j))
			}
		}
	}
}

// sinks reports whether a corner of m lies in the body of by, further than far from
// its surface: a quick yes.
func sinks(m *mesh.Mesh, by *bvh.Tree, in vec.Box, far float64) bool {
	for _, p := range m.V {
		if p.X < in.Min.X || p.X > in.Max.X || p.Y < in.Min.Y || p.Y > in.Max.Y || p.Z < in.Min.Z || p.Z > in.Max.Z || by.Winding(p) < 0.5 {
			continue
		}
		if _, i, _ := by.Closest(p, far); i < 0 {
			return true
		}
	}
	return false
}

// pierces reports whether an edge of m within a box meets the surface of by.
func pierces(m *mesh.Mesh, own, by *bvh.Tree, in vec.Box) bool {
	hit := false
	own.BoxQuery(in, func(t int) bool {
		hit = cuts(m, t, by)
		return !hit
	})
	return hit
}

// cuts reports whether an edge of triangle t of m meets the surface of by.
func cuts(m *mesh.Mesh, t int, by *bvh.Tree) bool {
	c := [3]vec.V3{}
	c[0], c[1], c[2] = m.Tri(t)
	for e := range 3 {
		d := c[(e+1)%3].Sub(c[e])
		if l := d.Len(); l > 0 {
			if _, hit := by.First(c[e], d.Mul(1/l), l); hit {
				return true
			}
		}
	}
	return false
}

// groups returns the bodies that count as one as meshes, with their numbers.
func (m *Master) groups(one sets.Sets, n int) ([]*mesh.Mesh, [][]int) {
	place := map[int32]int{}
	var list [][]int
	for b := range n {
		r := one.Root(int32(b))
		k, ok := place[r]
		if !ok {
			k = len(list)
			place[r] = k
			list = append(list, nil)
		}
		list[k] = append(list[k], b)
	}
	var group []*mesh.Mesh
	for _, l := range list {
		var shells []int32
		for _, b := range l {
			shells = append(shells, m.Nest.Bodies[b]...)
		}
		group = append(group, mesh.Pick(m.Mesh, m.Topology, shells))
	}
	return group, list
}

// overlap reports whether two bodies hold less together than apart.
func overlap(a, b *mesh.Mesh) bool {
	va, vb := a.Volume(), b.Volume()
	both := &mesh.Mesh{V: slices.Clone(a.V), F: slices.Clone(a.F)}
	both.Append(b)
	return va+vb-parting.Volume(both) > shared*min(va, vb)+sightError*(va+vb)
}

// bar words what is stuck.
func (m *Master) bar(s *parting.Split, r apart.Result, group []*mesh.Mesh, body [][]int) {
	const do = "mould the bodies one by one with one of them cut open, and close the cut after casting"
	told := map[int]bool{}
	for _, p := range r.Pairs {
		told[p[0]], told[p[1]] = true, true
		a, b := group[p[0]].Box(), group[p[1]].Box()
		i, j := body[p[0]][0], body[p[1]][0]
		m.tie(i, j)
		s.Bars = append(s.Bars, parting.Bar{
			Code: "linked", At: vec.Box{Min: a.Min.Max(b.Min), Max: a.Max.Min(b.Max)}.Centre(), Computed: 1, Limit: 0,
			Say: fmt.Sprintf("bodies %d and %d are caught in each other: no straight motion takes one from the other, and no mould opens round both", min(i, j)+1, max(i, j)+1), Do: do,
		})
	}
	for _, h := range r.Held {
		if told[h] {
			continue
		}
		for _, o := range r.Held {
			if o != h {
				m.tie(body[h][0], body[o][0])
			}
		}
		s.Bars = append(s.Bars, parting.Bar{
			Code: "linked", At: group[h].Box().Centre(), Computed: float64(len(r.Held) - 1), Limit: 0,
			Say: fmt.Sprintf("body %d is held by %d others together: no straight motion takes it from them", body[h][0]+1, len(r.Held)-1), Do: do,
		})
	}
}

// tie notes that bodies i and j are linked.
func (m *Master) tie(i, j int) {
	if m.Linked == nil {
		m.Linked = make([][]int, len(m.Nest.Bodies))
	}
	for _, p := range [2][2]int{{i, j}, {j, i}} {
		if !slices.Contains(m.Linked[p[0]], p[1]) {
			m.Linked[p[0]] = append(m.Linked[p[0]], p[1])
			slices.Sort(m.Linked[p[0]])
		}
	}
}

// saidBodies puts the bodies into the plan's words, in one pass over the triangles:
// a scan may be of thousands. Volume and centroid are sums of det/6 and
// det (a + b + c)/24 about a point of each body.
func saidBodies(m *Master) []plan.Body {
	type sum struct {
		box    vec.Box
		volume float64
		moment vec.V3
	}
	list := make([]sum, len(m.Nest.Bodies))
	for k := range list {
		list[k].box = vec.Empty()
	}
	for t, shell := range m.Topology.Shell {
		if shell < 0 || m.Nest.Body[shell] < 0 {
			continue
		}
		k := m.Nest.Body[shell]
		s := &list[k]
		a, b, c := m.Mesh.Tri(t)
		s.box = s.box.Add(a).Add(b).Add(c)
		o := m.Nest.At[m.Nest.Bodies[k][0]]
		a, b, c = a.Sub(o), b.Sub(o), c.Sub(o)
		d := a.Dot(b.Cross(c))
		s.volume += d / 6
		s.moment = s.moment.Add(a.Add(b).Add(c).Mul(d / 24))
	}
	r := []plan.Body{}
	for k := range list {
		s := &list[k]
		middle := s.box.Centre()
		if s.volume > 0 {
			middle = m.Nest.At[m.Nest.Bodies[k][0]].Add(s.moment.Mul(1 / s.volume))
		}
		said := plan.Body{No: k + 1, Shells: len(m.Nest.Bodies[k]), Volume: s.volume, Size: s.box.Size().Array(),
			Box: [2]plan.P3{s.box.Min.Array(), s.box.Max.Array()}, Centroid: middle.Array(), Linked: []int{}}
		if m.Linked != nil {
			for _, o := range m.Linked[k] {
				said.Linked = append(said.Linked, o+1)
			}
		}
		r = append(r, said)
	}
	return r
}
