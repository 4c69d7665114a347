package block

import (
	"bytes"
	"encoding/json"
	"math"
	"slices"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/sculpt"
	"pourwright/internal/shape/solid"
	"pourwright/internal/shape/voxel"
)

// checkMould holds a layout and its solids against every rule that the plan
// promises.
func checkMould(t *testing.T, name string, master *mesh.Mesh, l *Layout) {
	t.Helper()
	s, err := l.Build()
	if err != nil {
		t.Errorf("%s: %v", name, err)
		return
	}
	b := l.Size
	v := b.X * b.Y * b.Z
	if sum := s.Cavity.Volume() + s.Half1.Volume() + s.Half2.Volume(); math.Abs(sum/v-1) > 1e-6 {
		t.Errorf("%s: cavity and halves hold %g mm3 of the block's %g", name, sum, v)
	}
	for i, x := range []*mesh.Mesh{s.Cavity, s.Half1, s.Half2} {
		if top := mesh.TopologyOf(x); !top.Watertight {
			t.Errorf("%s: solid %d is not closed", name, i)
		}
	}
	if got := s.Cavity.Volume(); got < 0.999*float64(len(l.Placements))*master.Volume() {
		t.Errorf("%s: the cavity holds %g mm3, its castings %g", name, got, float64(len(l.Placements))*master.Volume())
	}
	checkAir(t, name, master, l, s)
	checkKeys(t, name, l, s)
	checkSides(t, name, l)
	checkCuts(t, name, l)
	for _, c := range l.Channels {
		if x := sculpt.Crossings(c.Mesh()); len(x) > 0 {
			t.Errorf("%s: the %s runs through itself: %v", name, c.Name, c.Rings)
		}
		if c.Name != "ingate" {
			continue
		}
		for i := 1; i < len(c.Rings); i++ {
			if c.Rings[i].A < c.Rings[i-1].A-1e-9 || c.Rings[i].B < c.Rings[i-1].B-1e-9 {
				t.Errorf("%s: the ingate's channel narrows upwards at ring %d: %v", name, i, c.Rings)
			}
		}
	}
	if share := l.Surface.Added / master.Volume(); share > 2e-3 {
		t.Errorf("%s: the parting surface over block and channels locks %.2g of the master beyond its gaps", name, share)
	}
}

// checkAir evaluates the pockets of the finished cavity again. What stays must
// be named by a finding near it.
func checkAir(t *testing.T, name string, master *mesh.Mesh, l *Layout, s *Solids) {
	t.Helper()
	air, err := l.Air(s.Cavity)
	if err != nil {
		t.Errorf("%s: %v", name, err)
		return
	}
	left := 0.0
	for _, p := range air.Pockets {
		said := false
		for _, f := range l.Findings {
			if f.Code != "pocket" || f.At == nil {
				continue
			}
			for _, fr := range l.Placements {
				said = said || fr.To(vec.FromArray(*f.At)).Dist(p.At) < 1+math.Cbrt(p.Volume)
			}
		}
		if !said {
			left += p.Volume
		}
	}
	if limit := airLeft * master.Volume() * float64(len(l.Placements)); left > limit {
		t.Errorf("%s: %.2f mm3 of air stay unsaid, %.2f are allowed: %v", name, left, limit, air.Pockets)
	}
}

// checkKeys measures the room round the keys on the finished cavity, and turns
// half 2 for real: columns of it against columns of half 1 within the keys.
func checkKeys(t *testing.T, name string, l *Layout, s *Solids) {
	t.Helper()
	if l.Keys == nil {
		for _, f := range l.Findings {
			if f.Code == "keys" {
				return
			}
		}
		t.Errorf("%s: no keys and no word of it", name)
		return
	}
	const h = 0.25
	f := look(s.Cavity, vec.V2{X: -l.Size.X / 2, Y: -l.Size.Y / 2}, vec.V2{X: l.Size.X / 2, Y: l.Size.Y / 2}, h)
	for i, k := range l.Keys {
		r := k.Diameter / 2
		edge := math.Min(l.Size.X/2-math.Abs(k.At.X), l.Size.Y/2-math.Abs(k.At.Y)) - r
		if free := f.free(k.At.X, k.At.Y) - r; free < keyClear-h || edge < keyClear-1e-6 {
			t.Errorf("%s: key %d keeps %.2f mm from metal and %.2f from the edge", name, i, free, edge)
		}
		for j := range i {
			if d := math.Hypot(k.At.X-l.Keys[j].At.X, k.At.Y-l.Keys[j].At.Y); d < k.Diameter {
				t.Errorf("%s: keys %d and %d overlap", name, i, j)
			}
		}
	}
	for _, axis := range []byte{'x', 'y', 'z'} {
		if v := turnedSolid(l, s, axis); v < 50 || l.Turned(axis) < 50 {
			t.Errorf("%s: half 2 turned about %c meets %.0f mm3 of keys (%.0f by the plan)", name, axis, v, l.Turned(axis))
		}
	}
}

// turnedSolid turns the solid of half 2 and returns its overlap with half 1
// over the keys of both and the places to which the turn takes them.
func turnedSolid(l *Layout, s *Solids, axis byte) float64 {
	m := &mesh.Mesh{V: make([]vec.V3, len(s.Half2.V)), F: s.Half2.F}
	for i, p := range s.Half2.V {
		switch axis {
		case 'x':
			p.Y, p.Z = -p.Y, -p.Z+l.rim-l.Size.Z/2
		case 'y':
			p.X, p.Z = -p.X, -p.Z+l.rim-l.Size.Z/2
		case 'z':
			p.X, p.Y = -p.X, -p.Y
		}
		m.V[i] = p
	}
	const h = 0.5
	v := 0.0
	seen := map[[2]int]bool{}
	for _, k := range l.Keys {
		for _, at := range []vec.V2{{X: k.At.X, Y: k.At.Y}, {X: -k.At.X, Y: -k.At.Y}} {
			r := k.Diameter / 2
			n := int(2*r/h) + 1
			x0, y0 := math.Floor((at.X-r)/h)*h+h/3, math.Floor((at.Y-r)/h)*h+h/7
			a := voxel.Cast(s.Half1, n, n, x0, y0, h)
			b := voxel.Cast(m, n, n, x0, y0, h)
			for j := range n {
				for i := range n {
					q := [2]int{int(math.Floor((x0 + float64(i)*h) / h)), int(math.Floor((y0 + float64(j)*h) / h))}
					if seen[q] || math.Hypot(x0+float64(i)*h-at.X, y0+float64(j)*h-at.Y) > r {
						continue
					}
					seen[q] = true
					for _, p := range a.At(i, j) {
						for _, o := range b.At(i, j) {
							v += math.Max(0, math.Min(p.Hi, o.Hi)-math.Max(p.Lo, o.Lo)) * h * h
						}
					}
				}
			}
		}
	}
	return v
}

// checkSides measures each side against the rule that the plan names for it,
// and brings each 1 mm nearer: that rule must be among the broken ones.
func checkSides(t *testing.T, name string, l *Layout) {
	t.Helper()
	castings, ways := vec.Empty(), waysBox(l.Channels, l.Size.Y/2)
	for _, b := range l.bodies {
		castings = castings.Join(b.Box())
	}
	half := l.Size.Mul(0.5)
	for s, r := range l.Rules {
		axis, out := s/2, float64(2*(s%2)-1)
		from := castings
		if r.From == "the channel" {
			from = ways
		}
		at := from.Min.At(axis)
		if out > 0 {
			at = from.Max.At(axis)
		}
		if r.From == "the parting surface" {
			at = l.Edge
		}
		if side := out * half.At(axis); math.Abs(out*(side-at)-r.Value) > 3*solid.Lattice || r.Name == "" || r.Value <= 0 {
			t.Errorf("%s: the %v side stands %.4f mm from %s, its rule (%s) asks %.4f", name, r.Side, out*(side-at), r.From, r.Name, r.Value)
		}
		b := l.Box()
		if x := l.Broken(b); len(x) > 0 {
			t.Errorf("%s: the block as laid out breaks %v", name, x)
		}
		nearer := vec.V3{}
		switch axis {
		case 0:
			nearer.X = out
		case 1:
			nearer.Y = out
		case 2:
			nearer.Z = out
		}
		if out > 0 {
			b.Max = b.Max.Sub(nearer)
		} else {
			b.Min = b.Min.Sub(nearer)
		}
		if x := l.Broken(b); !slices.ContainsFunc(x, func(q Rule) bool { return q.Side == r.Side && q.Name == r.Name && q.From == r.From }) {
			t.Errorf("%s: the %v side 1 mm nearer breaks %v, not %s", name, r.Side, x, r.Name)
		}
	}
}

func checkCuts(t *testing.T, name string, l *Layout) {
	t.Helper()
	for i, c := range l.Cuts {
		end := c.Path[len(c.Path)-1]
		if c.No != i+1 || math.Abs(end.Y-l.Size.Y/2) > 1e-9 || c.Half < 1 || c.Half > 2 || c.Width <= 0 || c.Depth <= 0 {
			t.Errorf("%s: cut %d: %+v", name, i, c)
		}
		for _, p := range c.Path[1:] {
			if math.Abs(p.Z-l.Surface.At(p.X, p.Y)) > 1e-9 {
				t.Errorf("%s: cut %d leaves the parting surface", name, c.No)
				break
			}
			for _, k := range l.Keys {
				if math.Hypot(p.X-k.At.X, p.Y-k.At.Y) < k.Diameter/2+2 {
					t.Errorf("%s: cut %d runs into a key", name, c.No)
				}
			}
		}
	}
}

func TestRulesOnOwnBodies(t *testing.T) {
	for _, b := range bodies() {
		checkMould(t, b.name, b.m, layOut(t, b.m, Demand{}))
	}
}

func TestSeveralCavities(t *testing.T) {
	for _, b := range bodies() {
		if b.name == "hanging" || b.name == "plate" {
			l := layOut(t, b.m, Demand{Cavities: 2})
			if len(l.Placements) != 2 || l.MastersNeeded != 2 || !has(l, "masters") {
				t.Errorf("%s: %d cavities, %d masters, said: %v", b.name, len(l.Placements), l.MastersNeeded, has(l, "masters"))
			}
			gap := l.bodies[1].Box()
			d := gap.Min.Sub(l.bodies[0].Box().Max)
			if e := l.bodies[0].Box().Min.Sub(gap.Max); math.Max(math.Max(d.X, d.Y), math.Max(e.X, e.Y)) < castingGap-1e-6 {
				t.Errorf("%s: the castings stand %v apart", b.name, d)
			}
			checkMould(t, b.name, b.m, l)
		}
	}
}

func has(l *Layout, code string) bool {
	for _, f := range l.Findings {
		if f.Code == code {
			return true
		}
	}
	return false
}

func TestSameLayoutTwice(t *testing.T) {
	b := bodies()[4]
	one, _ := json.Marshal(layOut(t, b.m, Demand{}).Plan())
	two, _ := json.Marshal(layOut(t, b.m, Demand{}).Plan())
	if !bytes.Equal(one, two) {
		t.Error("the same master gives two layouts")
	}
}

func TestPairInOneUnit(t *testing.T) {
	for _, c := range []struct {
		a, b float64
		want string
	}{{1234, 800, "1.23 cm3, 0.80 cm3"}, {12.4, 3, "12 mm3, 3 mm3"}, {40, 999.6, "0.04 cm3, 1.00 cm3"}} {
		if got := pair(c.a, c.b, "%s, %s", 0); got != c.want {
			t.Errorf("%g and %g: %q, want %q", c.a, c.b, got, c.want)
		}
	}
}
