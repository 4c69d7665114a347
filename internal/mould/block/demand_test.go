package block

import (
	"bytes"
	"encoding/json"
	"math"
	"runtime"
	"testing"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
	"pourwright/internal/mould/parting"
	"pourwright/internal/mould/pockets"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/sculpt"
	"pourwright/internal/shape/solid"
)

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol*math.Abs(want)) {
		t.Errorf("%s: %g, want %g", what, got, want)
	}
}

// TestClosedForms compares the formulas with published worked examples and
// with values computed apart.
func TestClosedForms(t *testing.T) {
	// Gent 1958, values of the formula in MPa by Shore A.
	for s, e := range map[float64]float64{10: 0.413, 20: 0.732, 30: 1.142, 40: 1.69, 60: 3.605} {
		near(t, "Gent", Gent(s)/1e6, e, 2e-3)
	}
	// Entry head of pewter, gamma 0.54 N/m: computed from Young and Laplace.
	d := Demand{Tension: 0.54, DensityLiquid: 6973}.filled()
	for x, h := range map[float64]float64{0.5: 63, 0.8: 40, 1: 32, 1.5: 21, 2: 16} {
		near(t, "pin", d.PinHead(x, 1), h, 0.02)
	}
	for x, h := range map[float64]float64{0.5: 32, 1: 16, 1.5: 11} {
		near(t, "slot", d.SlotHead(x, 1), h, 0.05)
	}
	near(t, "vent slit at 50 mm", d.VentSlit(50), 0.77*0.32, 0.03)
	near(t, "bridging bore", d.BridgeBore(), 5.1, 0.03)
	s := section{t: 1, w: 1}
	near(t, "square section", s.head(&d), d.PinHead(1, 1), 1e-12)
	// Mould 50 x 25 x 15 cm, gate 5 cm2, head 15 cm: filled from the top in
	// 21.8593 s, from the bottom in 43.7186 s (textbook example with g = 9.81).
	v := 500.0 * 250 * 150
	near(t, "top gate", torricelli(v, 0, 150, 0, 1)/500, 21.8593, 3e-4)
	near(t, "bottom gate", torricelli(0, v, 150, 0, 1)/500, 43.7186, 3e-4)
	// Board 150 x 100 x 12 mm, E 3 GPa, 5 kPa: 0.0763 mm in the middle.
	near(t, "board", beam(5000, 150, 3e9, 12), 0.0763, 1e-3)
	// V/A over the inscribed radius of ball, rod and plate.
	near(t, "ball", shapeOf(0.125), 1.0/3, 1e-9)
	near(t, "plate", shapeOf(0.7), 1, 1e-9)
}

// TestOpeningForce holds the force on a block whose metal is known: a plate
// standing upright and its channel, against the integral of depth.
func TestOpeningForce(t *testing.T) {
	l := layOut(t, sculpt.Box(60, 40, 8).Mesh, Demand{DensityLiquid: 7000})
	plate := 60 * 40 * (l.Head + 20) // area x depth of its middle, mm3
	way := 0.0
	for _, c := range l.Channels {
		for i := 1; i < len(c.Rings); i++ {
			a, b := c.Rings[i-1], c.Rings[i]
			top := l.Size.Y / 2
			way += (b.P.Y - a.P.Y) * (a.A + b.A) * (top - (a.P.Y+b.P.Y)/2)
		}
	}
	near(t, "opening force", l.Clamps.Opening, 7000*Gravity*(plate+way)*1e-9, 0.03)
	if l.Clamps.Force < 3*l.Clamps.Opening-1e-9 || l.Clamps.Force > 5*l.Clamps.Opening || l.Clamps.Strain > 0.01 || l.Clamps.Deflexion > l.Clamps.Gap {
		t.Errorf("clamps %+v", l.Clamps)
	}
	if has(l, "clamp") {
		t.Error("an ordinary plate asks no word about clamps")
	}
	soft := layOut(t, sculpt.Box(60, 40, 8).Mesh, Demand{Modulus: 2e5})
	if !has(soft, "clamp") || soft.Clamps.Strain <= 0.01 {
		t.Errorf("a rubber of 0.2 MPa is squeezed by %g and nothing is said", soft.Clamps.Strain)
	}
}

func TestOverrides(t *testing.T) {
	m := sculpt.Box(60, 40, 20).Mesh
	margin := 20.0
	at := vec.V3{X: 10, Y: 40, Z: 10}
	sp := &parting.Split{Pull: vec.V3{Z: 1}, Locked: 5, Tried: []parting.Axis{{Pull: vec.V3{X: 1}, Locked: 1}}}
	st := &pockets.Stand{Up: vec.V3{Y: 1}, Trapped: 50, Best: pockets.Attitude{Up: vec.V3{X: 1}, Trapped: 2}}
	l, err := Lay(m, sp, st, Demand{Margin: &margin, GateAt: &at, UpForced: true, PullForced: true})
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range []Side{Left, Right, Bottom, Back1, Back2} {
		near(t, "margin on the "+s.String(), l.Margins[s], 20, 1e-4)
	}
	g := l.Frame.From(vec.FromArray(l.Ingates[0].At))
	if math.Hypot(g.X-at.X, g.Y-at.Y) > 0.5 {
		t.Errorf("the ingate stands at %v, the job asks %v", g, at)
	}
	n := 0
	for _, f := range l.Findings {
		if f.Code == "overruled" {
			n++
		}
	}
	if n != 4 {
		t.Errorf("%d of four overrides are named", n)
	}
	checkMould(t, "overruled", m, l)
	off := vec.V3{X: 30, Y: 20, Z: 20} // on the flat front: moved to the parting line
	l = layOut(t, m, Demand{GateAt: &off})
	if len(l.Channels) == 0 || !has(l, "overruled") {
		t.Error("an ingate off the line is not moved to it")
	}
}

func TestScarAndHide(t *testing.T) {
	m := sculpt.Box(60, 40, 20).Mesh
	shown := layOut(t, m, Demand{Show: []vec.V3{{X: 30, Y: 40, Z: 10}}})
	hidden := layOut(t, m, Demand{Hide: []vec.V3{{X: 0, Y: 20, Z: 10}}})
	g := shown.Frame.From(vec.FromArray(shown.Ingates[0].At))
	if d := g.Dist(vec.V3{X: 30, Y: 40, Z: 10}); d < 8 {
		t.Errorf("the ingate stands %.1f mm from a face that must show", d)
	}
	if g = hidden.Frame.From(vec.FromArray(hidden.Ingates[0].At)); g.X > 1 {
		t.Errorf("the ingate stands at %v, the hidden face is x = 0", g)
	}
	checkMould(t, "shown", m, shown)
	checkMould(t, "hidden", m, hidden)
}

func TestThinEndsRaiseTheHead(t *testing.T) {
	thick := layOut(t, sculpt.Box(60, 32, 3).Mesh, Demand{})
	thin := layOut(t, sculpt.Box(60, 32, 0.5).Mesh, Demand{})
	d := Demand{}.filled()
	if want := d.SlotHead(0.5, 1); thin.Head < want || thin.Head > want+8 || thin.Rules[Up].Name != "head over a thin end" {
		t.Errorf("a plate of 0.5 mm asks %.1f mm of head, %.1f are laid out by the rule %q", want, thin.Head, thin.Rules[Up].Name)
	}
	if thick.Head > 40 || has(thick, "head") {
		t.Errorf("a plate of 3 mm gets %.1f mm of head", thick.Head)
	}
	if foil := layOut(t, sculpt.Box(60, 32, 0.1).Mesh, Demand{}); !has(foil, "head") {
		t.Error("a foil of 0.1 mm is laid out without a word")
	}
	typed := layOut(t, sculpt.Box(60, 32, 3).Mesh, Demand{Thinnest: 0.5})
	near(t, "head by calipers", typed.Head, thin.Head, 0.02)
}

// dumbbell is two balls on a thin bar, the second far below the ingate.
func dumbbell(t *testing.T, r float64) *mesh.Mesh {
	t.Helper()
	f := sculpt.Union(sculpt.Sphere(vec.V3{Y: 30}, r), sculpt.Sphere(vec.V3{Y: -30}, r), sculpt.Rod(vec.V3{Y: 30}, vec.V3{Y: -30}, 3))
	m, err := sculpt.Contour(f, vec.Box{Min: vec.V3{X: -20, Y: -50, Z: -20}, Max: vec.V3{X: 20, Y: 50, Z: 20}}, 1)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func TestLumpsAreFed(t *testing.T) {
	m := dumbbell(t, 14)
	l := layOut(t, m, Demand{})
	if len(l.Feeders) == 0 && !has(l, "feeder") {
		t.Errorf("a ball of 28 mm behind a bar of 6 mm gets no feeder and no word: %v", l.Findings)
	}
	for _, f := range l.Feeders {
		near(t, "feeder's V/A", f.Modulus, f.Diameter/4, 1e-9)
		if f.Modulus < feedRatio*14/3*0.9 {
			t.Errorf("a feeder of V/A %.2f mm feeds a ball of %.2f mm", f.Modulus, 14.0/3)
		}
	}
	checkMould(t, "dumbbell", m, l)
	// The same lying level: the second ball has the cup side above it.
	level := &mesh.Mesh{F: m.F}
	for _, p := range m.V {
		level.V = append(level.V, vec.V3{X: p.Y, Y: -p.X, Z: p.Z})
	}
	l = layOut(t, level, Demand{})
	if len(l.Feeders) != 1 {
		t.Errorf("the second ball of a level dumbbell has %d feeders: %v", len(l.Feeders), l.Findings)
	}
	checkMould(t, "level dumbbell", level, l)
	grows := layOut(t, m, Demand{DensityLiquid: 8594, DensitySolid: 8510, Tension: 0.479})
	if len(grows.Feeders) > 0 || has(grows, "feeder") || has(grows, "sink") {
		t.Error("an alloy that grows on freezing is fed")
	}
}

func TestInserts(t *testing.T) {
	m := sculpt.Box(60, 40, 20).Mesh
	pin := Insert{Kind: "pin", At: vec.V3{X: 50, Y: 20, Z: 10}, Direction: vec.V3{X: 1}, Diameter: 4, Length: 18}
	l := layOut(t, m, Demand{Inserts: []Insert{pin}})
	s, err := l.Build()
	if err != nil {
		t.Fatal(err)
	}
	void := s.Complex.Solid(solid.Void).Volume()
	b := l.Size
	sum := s.Cavity.Volume() + s.Half1.Volume() + s.Half2.Volume() + void
	near(t, "volumes with the insert", sum, b.X*b.Y*b.Z, 1e-6)
	near(t, "insert", void, 0.5*Sides*math.Sin(2*math.Pi/Sides)*4*18, 1e-3)
	if has(l, "insert") {
		t.Errorf("a pin in the parting is refused: %v", l.Findings)
	}
	checkInserts(t, l)
	// Across the way of the ingate at the top, in two cavities.
	for _, at := range []float64{30, 12, 55} {
		top := Insert{Kind: "rod", At: vec.V3{X: at, Y: 36, Z: 10}, Direction: vec.V3{Y: 1}, Diameter: 6, Length: 40}
		l = layOut(t, m, Demand{Inserts: []Insert{pin, top}, Cavities: 2, MastersInHand: 2})
		checkInserts(t, l)
		if has(l, "insert") {
			t.Errorf("rod at %g: %v", at, l.Findings)
		}
	}
	pin.Direction = vec.V3{Z: 1}
	if l = layOut(t, m, Demand{Inserts: []Insert{pin}}); !has(l, "insert") {
		t.Error("a pin along the pull is accepted")
	}
}

// checkInserts asks that no channel and no cut runs through an insert.
func checkInserts(t *testing.T, l *Layout) {
	t.Helper()
	for _, in := range l.Inserts {
		for i := range l.Channels {
			if d := l.Channels[i].clearOf(in); d < 1 {
				t.Errorf("the %s passes the %s at %.2f mm", l.Channels[i].Name, in.Kind, d)
			}
		}
		for _, c := range l.Cuts {
			for _, p := range c.Path {
				if d := in.from(vec.V2{X: p.X, Y: p.Y}); d < 0.25 {
					t.Errorf("cut %d passes the %s at %.2f mm", c.No, in.Kind, d)
				}
			}
		}
	}
}

func TestStackWhereSmaller(t *testing.T) {
	m := sculpt.Box(80, 12, 10).Mesh
	l := layOut(t, m, Demand{Cavities: 2, MastersInHand: 2})
	d := vec.FromArray(l.Plan().Placements[1].Origin).Sub(vec.FromArray(l.Plan().Placements[0].Origin))
	if math.Abs(d.X) > 1e-9 || math.Abs(d.Y) < 12+castingGap {
		t.Errorf("a long bar is not stacked: placements %v apart", d)
	}
	if has(l, "masters") {
		t.Error("two masters lie on the bench and two are missed")
	}
	checkMould(t, "stack", m, l)
}

func TestFlatBack(t *testing.T) {
	m := sculpt.Cone(20, 15, 48).Mesh
	var line []vec.V3
	for i := range 48 {
		s, c := math.Sincos(2 * math.Pi * float64(i) / 48)
		line = append(line, vec.V3{X: 20 * c, Y: 20 * s})
	}
	sp := &parting.Split{Pull: vec.V3{Z: 1}, Line: [][]vec.V3{line}, Back: &parting.Back{Height: 0, Side: -1, Area: 1256}}
	l, err := Lay(m, sp, &pockets.Stand{Up: vec.V3{Y: 1}}, Demand{})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range l.Channels {
		if b := c.Mesh().Box(); b.Min.Z < l.Edge-1e-6 {
			t.Errorf("the %s reaches %.2f mm into the plain half", c.Name, l.Edge-b.Min.Z)
		}
	}
	checkMould(t, "flat back", m, l)
}

func TestRefusals(t *testing.T) {
	m := sculpt.Ball(20, 32).Mesh
	sp, st := given(vec.V3{Z: 1}, vec.V3{Z: 1})
	if _, err := Lay(m, sp, st, Demand{}); fault.KindOf(err) != fault.Input || fault.HintOf(err) == "" {
		t.Errorf("up along the pull: %v", err)
	}
	sp, st = given(vec.V3{Z: 1}, vec.V3{Y: 1})
	if _, err := Lay(&mesh.Mesh{}, sp, st, Demand{}); fault.KindOf(err) != fault.Input || err == nil {
		t.Errorf("no mesh: %v", err)
	}
	bad := -1.0
	if _, err := Lay(m, sp, st, Demand{Margin: &bad}); fault.KindOf(err) != fault.Input || err == nil {
		t.Errorf("a margin below 0: %v", err)
	}
}

func TestSameOnOneCore(t *testing.T) {
	m := dumbbell(t, 12)
	many, _ := json.Marshal(layOut(t, m, Demand{Cavities: 2}).Plan())
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	one, _ := json.Marshal(layOut(t, m, Demand{Cavities: 2}).Plan())
	if !bytes.Equal(many, one) {
		t.Error("one core lays out another mould than two")
	}
}
