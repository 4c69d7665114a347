package block

import (
	"fmt"
	"math"
	"slices"

	"pourwright/internal/book/plan"
	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/voxel"
)

// lump is a thick place that freezes after what joins it to the ingate.
type lump struct {
	at      vec.V3
	r       float64 // of the largest ball inside
	neck    float64 // of the largest ball that passes to thicker or fed metal
	share   float64 // of metal in a ball of twice the radius
	modulus float64 // V/A, mm
	volume  float64 // of metal in that ball
}

// Limits of feeding; our own defaults but for the 1.2 of foundry texts.
const (
	feedRatio   = 1.2
	sinkModulus = 2.5  // mm; thinner metal sinks by less than a tenth of a millimetre
	feedModulus = 4.0  // mm, V/A of a lump worth a feeder
	feedVolume  = 60.0 // mm3 of shrinkage worth a feeder
	feedMost    = 0.6  // of the casting's volume that one feeder may take
)

// depths returns, for the nodes of a grid of about 100 cells along the longest
// side, the distance in mm to the skin (0 outside), and the grid.
func (k *work) depths() (r []float64, n [3]int, o vec.V3, g float64) {
	g = k.box.Longest() / 96
	s := k.box.Size()
	n = [3]int{int(s.X/g) + 4, int(s.Y/g) + 4, int(s.Z/g) + 4}
	o = k.box.Min.Sub(vec.V3{X: g, Y: g, Z: g}.Mul(1.5))
	c := voxel.Cast(k.m, n[0], n[1], o.X, o.Y, g)
	r = make([]float64, n[0]*n[1]*n[2])
	par.For(n[1], 8, func(lo, hi int) {
		for q := lo * n[0]; q < hi*n[0]; q++ {
			col := r[q*n[2] : (q+1)*n[2]]
			for _, sp := range c.Of(q) {
				for z := max(0, int(math.Ceil((sp.Lo-o.Z)/g))); z < n[2] && o.Z+float64(z)*g < sp.Hi; z++ {
					col[z] = math.Inf(1)
				}
			}
		}
	})
	line := func(count int, at func(i int) (first, step, length int)) {
		par.For(count, 64, func(lo, hi int) {
			_, _, length := at(0)
			e := newEnvelope(length)
			for i := lo; i < hi; i++ {
				f, st, ln := at(i)
				e.run(r[f:f+st*(ln-1)+1], st)
			}
		})
	}
	line(n[0]*n[1], func(i int) (int, int, int) { return i * n[2], 1, n[2] })
	line(n[1]*n[2], func(i int) (int, int, int) { return i/n[2]*n[0]*n[2] + i%n[2], n[2], n[0] })
	line(n[0]*n[2], func(i int) (int, int, int) { return i, n[0] * n[2], n[1] })
	for i, d := range r {
		if d > 0 {
			r[i] = (math.Sqrt(d) - 0.5) * g
		}
	}
	return r, n, o, g
}

// lumps lists the thick places by the merge tree of depth: going from the
// thickest metal outwards, a place that joins thicker metal through a neck of
// less than 1/1.2 of its own radius is a lump of its own. The first is the
// thickest of all, with the ingate as its neck.
func (k *work) lumps() []lump {
	r, n, o, g := k.depths()
	var cells []int32
	for i, d := range r {
		if d > g/2 {
			cells = append(cells, int32(i))
		}
	}
	if len(cells) == 0 {
		return nil
	}
	slices.SortFunc(cells, func(a, b int32) int {
		if c := cmpFloat(r[b], r[a]); c != 0 {
			return c
		}
		return int(a - b)
	})
	root := make([]int32, len(r))
	for i := range root {
		root[i] = -1
	}
	find := func(i int32) int32 {
		for root[i] != i {
			root[i] = root[root[i]]
			i = root[i]
		}
		return i
	}
	place := func(i int32) vec.V3 {
		z, q := int(i)%n[2], int(i)/n[2]
		return o.Add(vec.V3{X: float64(q % n[0]), Y: float64(q / n[0]), Z: float64(z)}.Mul(g))
	}
	step := [6]int32{1, -1, int32(n[2]), -int32(n[2]), int32(n[0] * n[2]), -int32(n[0] * n[2])}
	list := []lump{{at: place(cells[0]), r: r[cells[0]], neck: math.Min(math.Sqrt(k.channels[0].Rings[0].A*k.channels[0].Rings[0].B), r[cells[0]])}}
	for _, i := range cells {
		root[i] = i
		for _, s := range step {
			j := i + s
			if j < 0 || int(j) >= len(r) || root[j] < 0 {
				continue
			}
			a, b := find(i), find(j)
			if a == b {
				continue
			}
			if r[a] < r[b] || r[a] == r[b] && a > b {
				a, b = b, a
			}
			if b != i && r[i] < r[b]/feedRatio && r[b] > 1.5*g {
				list = append(list, lump{at: place(b), r: r[b], neck: r[i]})
			}
			root[b] = a
		}
	}
	for i := range list {
		list[i].measure(r, n, o, g)
	}
	return list
}

// measure counts the metal in a ball of twice the lump's radius on the grid of
// depths.
func (l *lump) measure(r []float64, n [3]int, o vec.V3, g float64) {
	in, all := 0, 0
	reach := int(2*l.r/g) + 1
	c := l.at.Sub(o).Mul(1 / g)
	ci, cj, cz := int(math.Round(c.X)), int(math.Round(c.Y)), int(math.Round(c.Z))
	for dj := -reach; dj <= reach; dj++ {
		for di := -reach; di <= reach; di++ {
			for dz := -reach; dz <= reach; dz++ {
				if float64(di*di+dj*dj+dz*dz)*g*g > 4*l.r*l.r {
					continue
				}
				all++
				x, y, z := ci+di, cj+dj, cz+dz
				if x >= 0 && y >= 0 && z >= 0 && x < n[0] && y < n[1] && z < n[2] && r[(y*n[0]+x)*n[2]+z] > 0 {
					in++
				}
			}
		}
	}
	l.share = float64(in) / float64(max(1, all))
	l.modulus = l.r * shapeOf(l.share)
	l.volume = float64(in) * g * g * g
}

// shapeOf returns V/A over the inscribed radius by the share of metal in a ball
// of twice that radius: a ball (1/8) has 1/3, a long rod (0.35) 1/2, a wide
// plate (0.69) 1; linear between (closed forms of the three).
func shapeOf(share float64) float64 {
	switch {
	case share < 0.125:
		return 1.0 / 3
	case share < 0.35:
		return 1.0/3 + (share-0.125)/(0.35-0.125)*(1.0/2-1.0/3)
	case share < 0.69:
		return 1.0/2 + (share-0.35)/(0.69-0.35)*0.5
	}
	return 1
}

// feeders adds a feeder to every lump that shrinks visibly and freezes after
// the metal between it and the ingate.
func (k *work) feeders() {
	l := k.l
	shrink := 1 - k.d.DensityLiquid/k.d.DensitySolid
	l.figure("volume change on freezing", -shrink, "share", "rho_liquid / rho_solid - 1", "the alloy's densities", map[string]float64{"rho_liquid, kg/m3": k.d.DensityLiquid, "rho_solid, kg/m3": k.d.DensitySolid})
	list := k.lumps()
	fed, best := 0, math.Inf(1) // the lump that the ingate feeds
	for i, p := range list {
		if d := k.gate.at.Dist(p.at) - p.r; d < best-1e-9 {
			fed, best = i, d
		}
	}
	if fed > 0 { // the thickest lies beyond the neck of the fed one
		list[0].neck = list[fed].neck
	}
	for _, p := range list {
		if p.modulus > l.Thick {
			l.Thick, l.ThickAt = p.modulus, k.master(p.at)
		}
	}
	if shrink <= 0.002 {
		return
	}
	for i, p := range list {
		lost := shrink * p.volume
		if p.modulus < sinkModulus || lost < feedVolume/3 {
			continue
		}
		if i != fed && (p.modulus < feedModulus || lost < feedVolume) {
			limited(l.finding("sink", "note", k.master(p.at), fmt.Sprintf("a lump with a ball of %.1f mm inside is joined by a neck of %.1f mm, freezes after it and lacks about %.0f mm3: a small sink there", 2*p.r, 2*p.neck, lost),
				"put the ingate there, "+k.gateKey(p.at)+", hollow the lump, or accept it"), p.neck*feedRatio, p.r)
			continue
		}
		if i == fed {
			k.mainLump(p, lost)
			continue
		}
		if !k.addFeeder(p) {
			limited(l.finding("feeder", "should", k.master(p.at), fmt.Sprintf("a lump with a ball of %.1f mm inside is joined by a neck of %.1f mm, so it freezes last and lacks about %.0f mm3; no feeder fits on the parting line beside it", 2*p.r, 2*p.neck, lost),
				"put the ingate there, "+k.gateKey(p.at)+", hollow the lump, or accept a sink"), p.neck*feedRatio, p.r)
		}
	}
}

// gateKey is the line of a job that puts the ingate at a place.
func (k *work) gateKey(p vec.V3) string {
	q := k.master(p)
	return fmt.Sprintf("[gate] at = [%.1f, %.1f, %.1f]", q.X+0, q.Y+0, q.Z+0)
}

// mainLump judges the lump that the ingate feeds.
func (k *work) mainLump(p lump, lost float64) {
	l := k.l
	c := k.channels[0].Rings
	neck := math.Min(c[0].A, c[0].B)
	if neck*feedRatio < p.modulus*2/feedRatio {
		limited(l.finding("sink", "note", k.master(p.at), fmt.Sprintf("the thick place behind the ingate (V/A %.1f mm) freezes after the ingate of %.1f mm and lacks about %.0f mm3: a sink or a void there", p.modulus, 2*neck, lost),
			"thicken the section at the ingate, hollow the lump, or put the ingate on it, "+k.gateKey(p.at)), 2*neck, 2*p.modulus*feedRatio)
	}
}

// addFeeder leads an open feeder from the rim of the shadow nearest to the
// lump up to the cup side: a rod whose V/A = r/2 is 1.2 times the lump's.
func (k *work) addFeeder(p lump) bool {
	r := 2 * feedRatio * p.modulus
	list := k.rims()
	best, cost := -1, 2.2*p.r+2
	for i, g := range list {
		if d := g.at.Dist(p.at) - 2*g.out.Y; d < cost && g.lump > 0.5*p.r {
			best, cost = i, d
		}
	}
	if best < 0 {
		return false
	}
	g := list[best]
	q := vec.V2{X: g.at.X, Y: g.at.Y}
	if k.nearChannel(q, r+wayRubber) {
		return false
	}
	out := g.out
	if out.Y > 0.7 {
		out = vec.V2{Y: 1}
	}
	rt := k.router()
	w, ok := rt.find(q.Add(out.Mul(ingateLength+r)), q, r+wayRubber, func(s vec.V2) bool { return s.Y >= k.box.Max.Y+k.above+r+wayRubber })
	if !ok {
		return false
	}
	neck := math.Min(0.45*g.depth, 0.8*p.r)
	into := math.Min(2, g.lump/2)
	pts := []vec.V2{q.Add(out.Mul(-into)), q.Add(out.Mul(ingateLength))}
	a := []float64{neck, neck}
	// The body is 2.2 r long; from there a thinner rod leads to the open air.
	run, thin := 0.0, math.Max(2, r/2)
	for i, x := range w.p {
		if i > 0 {
			run += x.Add(w.p[i-1].Mul(-1)).Len()
		}
		if run > 2.2*r {
			pts, a = append(pts, x), append(a, thin)
		} else {
			pts, a = append(pts, x), append(a, r)
		}
	}
	last := a[len(a)-1]
	end := pts[len(pts)-1]
	if k.rim-end.Y > 1 {
		pts, a = append(pts, vec.V2{X: end.X, Y: k.rim + 1}), append(a, last)
	}
	c := k.chain("feeder", pts, a, a, g.at.Z, k.edge, len(pts)-1)
	if c.Volume() > feedMost*k.volume {
		return false
	}
	k.channels = append(k.channels, c)
	k.feeds = append(k.feeds, plan.Feeder{At: g.at.Array(), Diameter: 2 * r, Length: w.length() + k.rim - end.Y, Modulus: r / 2})
	k.l.figure("feeder", r/2, "mm", "V/A of the feeder, diameter / 4; 1.2 x V/A of the lump it feeds is wanted", "foundry texts for the 1.2; value from memory", map[string]float64{"diameter, mm": 2 * r, "lump, mm": p.modulus, "ball, mm": 2 * p.r, "neck, mm": 2 * p.neck})
	return true
}
