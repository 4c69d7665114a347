package block

import (
	"math"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// showing lists the measured places on the faces that must not carry a scar:
// from each point of the job over the skin, as far as neighbours fold by less
// than 30 degrees, normals stay within 60 degrees of the point's own and the
// way from it is under 0.35 of the master's longest side.
func (k *work) showing() []vec.V3 {
	if len(k.d.Show) == 0 {
		return nil
	}
	long := k.box.Longest()
	next := mesh.Neighbours(k.m)
	on := make([]bool, len(k.m.F))
	fold, wide := math.Cos(30*math.Pi/180), math.Cos(60*math.Pi/180)
	var list []vec.V3
	for _, p := range k.d.Show {
		q := k.w.To(p)
		at, seed, _ := k.tree.Closest(q, math.Inf(1))
		if seed < 0 {
			continue
		}
		list = append(list, at)
		n := k.m.Normal(seed)
		stack := []int32{int32(seed)}
		on[seed] = true
		for len(stack) > 0 {
			t := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			m := k.m.Normal(int(t))
			for _, o := range next[t] {
				if o < 0 || on[o] {
					continue
				}
				f := k.m.Normal(int(o))
				a, _, _ := k.m.Tri(int(o))
				if f.Dot(m) > fold && f.Dot(n) > wide && a.Dist(at) < 0.35*long {
					on[o] = true
					stack = append(stack, o)
				}
			}
		}
	}
	for i := range k.sections {
		if s := &k.sections[i]; on[s.tri] {
			list = append(list, s.at)
		}
	}
	return list
}

// scar is the worth of a scar at p: less near a face that must not carry one,
// more near a point where one may be.
func (k *work) scar(p vec.V3) float64 {
	long := k.box.Longest()
	s := 0.0
	for _, q := range k.d.Hide {
		s = math.Max(s, 1.5*math.Max(0, 1-k.w.To(q).Dist(p)/(0.3*long)))
	}
	near := math.Inf(1)
	for _, q := range k.shown {
		near = math.Min(near, q.Dist(p))
	}
	return s - 2.5*math.Max(0, 1-near/(0.12*long))
}
