package examples

import (
	"context"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"pourwright/internal/book/job"
	"pourwright/internal/book/plan"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/meshfile"
	"pourwright/internal/working/sequence"
)

// expected is what a mould maker asks of a plan; expected.json of each piece.
// Points are in the master frame, ranges are from, to; the why is for people.
type expected struct {
	Verdict     []string    `json:"verdict"` // any of these
	Pull        *axis       `json:"pull"`    // either sense
	Up          *axis       `json:"up"`
	Gate        *gate       `json:"gate"`
	LockedShare *[2]float64 `json:"locked_share"`
	Thinnest    *[2]float64 `json:"thinnest"`
	Cavities    int         `json:"cavities"`
	Masters     int         `json:"masters_needed"`
	CastingMass *[2]float64 `json:"casting_mass"`
	Rubber      *[2]float64 `json:"rubber"` // net mass of both halves
	Head        float64     `json:"head"`   // at least
	Feeder      bool        `json:"feeder"` // one is planned, or a finding says why not
	FarOutlet   bool        `json:"far_outlet"`
	FarVent     []plan.P3   `json:"far_vent"` // places with a cut or flow-off within 3 mm
	Undercuts   []undercut  `json:"undercuts"`
	Vented      []vented    `json:"vented"`
	Codes       []finding   `json:"codes"`
}

type axis struct {
	Along  plan.P3 `json:"along"`
	Within float64 `json:"within"` // degrees
	Why    string  `json:"why"`
}

// gate holds where metal may enter: in a box, or at most rim mm inside the
// ellipse that the master's box holds in the x-y plane.
type gate struct {
	Box *[2]plan.P3 `json:"box"`
	Rim float64     `json:"rim"`
	Why string      `json:"why"`
}

// undercut is one that must be listed: its point in the box, with one of the
// actions.
type undercut struct {
	Box     [2]plan.P3 `json:"box"`
	Actions []string   `json:"actions"`
	Why     string     `json:"why"`
}

// vented asks for at least one pocket over the share of the volume, and that
// every such pocket is vented.
type vented struct {
	Share float64 `json:"share"`
	Why   string  `json:"why"`
}

type finding struct {
	Any      []string `json:"any"`
	Severity []string `json:"severity"`
	Say      string   `json:"say"` // words that say or do must hold
	Why      string   `json:"why"`
}

func read(t *testing.T, name string) expected {
	f, err := os.Open(filepath.Join(name, "expected.json"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	d := json.NewDecoder(f)
	d.DisallowUnknownFields()
	var e expected
	if err := d.Decode(&e); err != nil {
		t.Fatalf("%s: %v", f.Name(), err)
	}
	return e
}

// planOf writes the piece and its job to a folder of its own and plans it.
func planOf(t *testing.T, p Piece) *plan.Plan {
	dir := t.TempDir()
	m, err := p.Make()
	if err != nil {
		t.Fatal(err)
	}
	if err := meshfile.SaveSTL(filepath.Join(dir, p.Mesh), m); err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(filepath.Join(p.Name, "job.toml"))
	if err != nil {
		t.Fatal(err)
	}
	name := filepath.Join(dir, "job.toml")
	if err := os.WriteFile(name, b, 0o644); err != nil {
		t.Fatal(err)
	}
	j, err := job.Load(name)
	if err != nil {
		t.Fatal(err)
	}
	r, err := sequence.Make(context.Background(), j, sequence.Setting{})
	if err != nil {
		t.Fatal(err)
	}
	var q plan.Plan
	if err := json.Unmarshal(r.JSON, &q); err != nil {
		t.Fatal(err)
	}
	return &q
}

func TestPlans(t *testing.T) {
	for _, p := range Pieces() {
		t.Run(p.Name, func(t *testing.T) {
			e := read(t, p.Name)
			q := planOf(t, p)
			if !slices.Contains(e.Verdict, q.Verdict) {
				t.Errorf("verdict %s, want %v", q.Verdict, e.Verdict)
			}
			e.master(t, q)
			e.findings(t, q)
			if (q.Verdict == plan.No) != (q.Block == nil) {
				t.Errorf("verdict %s with block %v", q.Verdict, q.Block != nil)
			}
			if q.Block != nil {
				e.block(t, q)
			}
			if t.Failed() {
				for _, f := range q.Findings {
					t.Logf("%s %s: %s; %s", f.Severity, f.Code, f.Say, f.Do)
				}
			}
		})
	}
}

func in(x float64, r *[2]float64) bool { return r == nil || (x >= r[0] && x <= r[1]) }

func inBox(p plan.P3, b [2]plan.P3) bool {
	for k := range 3 {
		if p[k] < b[0][k] || p[k] > b[1][k] {
			return false
		}
	}
	return true
}

func between(a, b plan.P3) float64 {
	c := vec.FromArray(a).Unit().Dot(vec.FromArray(b).Unit())
	return math.Acos(min(max(c, -1), 1)) * 180 / math.Pi
}

// master holds what concerns the bare master.
func (e expected) master(t *testing.T, q *plan.Plan) {
	if a := e.Pull; a != nil {
		if d := between(q.Split.Pull, a.Along); min(d, 180-d) > a.Within {
			t.Errorf("pull %.3f, %.0f degrees from %v: %s", q.Split.Pull, min(d, 180-d), a.Along, a.Why)
		}
	}
	if a := e.Up; a != nil && between(q.Stand.Up, a.Along) > a.Within {
		t.Errorf("up %.3f, want %v: %s", q.Stand.Up, a.Along, a.Why)
	}
	if !in(q.Split.LockedShare, e.LockedShare) {
		t.Errorf("locked share %.4f, want %v", q.Split.LockedShare, *e.LockedShare)
	}
	if !in(q.Master.Thinnest, e.Thinnest) {
		t.Errorf("thinnest %.3f, want %v", q.Master.Thinnest, *e.Thinnest)
	}
	for _, u := range e.Undercuts {
		if !slices.ContainsFunc(q.Split.Undercuts, func(x plan.Undercut) bool {
			return inBox(x.At, u.Box) && x.Action != nil && slices.Contains(u.Actions, *x.Action)
		}) {
			t.Errorf("no undercut in %v with %v: %s", u.Box, u.Actions, u.Why)
			for _, x := range q.Split.Undercuts {
				a, s := "null", math.NaN()
				if x.Action != nil {
					a = *x.Action
				}
				if x.Strain != nil {
					s = *x.Strain
				}
				t.Logf("undercut at %.1f, %.1f mm3, depth %.2f, strain %.2f, %s", x.At, x.Volume, x.Depth, s, a)
			}
		}
	}
}

func (e expected) findings(t *testing.T, q *plan.Plan) {
	for _, c := range e.Codes {
		if !slices.ContainsFunc(q.Findings, func(f plan.Finding) bool {
			return slices.Contains(c.Any, f.Code) && slices.Contains(c.Severity, f.Severity) && strings.Contains(f.Say+f.Do, c.Say)
		}) {
			t.Errorf("no finding of %v, %v %q: %s", c.Any, c.Severity, c.Say, c.Why)
		}
	}
}

// block holds what concerns the mould.
func (e expected) block(t *testing.T, q *plan.Plan) {
	b := q.Block
	frame := b.Placements[0].Vec()
	master := func(p plan.P3) vec.V3 { return frame.From(vec.FromArray(p)) }
	box := vec.Box{Min: vec.FromArray(q.Master.Box[0]), Max: vec.FromArray(q.Master.Box[1])}
	var in0 vec.V3 // the ingate of the first cavity: the one nearest to its master
	near := math.Inf(1)
	for _, g := range b.Ingates {
		if p := master(g.At); p.Dist(box.Centre()) < near {
			near, in0 = p.Dist(box.Centre()), p
		}
	}
	if len(b.Ingates) < b.Cavities {
		t.Errorf("%d ingates for %d cavities", len(b.Ingates), b.Cavities)
	}
	if g := e.Gate; g != nil {
		if g.Box != nil && !inBox(in0.Array(), *g.Box) {
			t.Errorf("ingate at %.1f, want in %v: %s", in0, *g.Box, g.Why)
		}
		c, s := box.Centre(), box.Size()
		if k := math.Hypot((in0.X-c.X)/(s.X/2-g.Rim), (in0.Y-c.Y)/(s.Y/2-g.Rim)); g.Rim > 0 && k < 1 {
			t.Errorf("ingate at %.1f, want within %g mm of the edge: %s", in0, g.Rim, g.Why)
		}
	}
	if e.Cavities > 0 && b.Cavities != e.Cavities || e.Masters > 0 && b.MastersNeeded != e.Masters {
		t.Errorf("%d cavities, %d masters; want %d, %d", b.Cavities, b.MastersNeeded, e.Cavities, e.Masters)
	}
	if b.Head < e.Head {
		t.Errorf("head %.1f mm, want %.1f", b.Head, e.Head)
	}
	if q.Metal == nil || q.Rubber == nil {
		t.Fatalf("a block without metal or rubber")
	}
	if !in(q.Metal.CastingMass, e.CastingMass) {
		t.Errorf("casting %.1f g, want %v", q.Metal.CastingMass, *e.CastingMass)
	}
	net := 0.0
	for _, h := range q.Rubber.Halves {
		net += h.MassNet
	}
	if !in(net, e.Rubber) {
		t.Errorf("rubber %.0f g, want %v", net, *e.Rubber)
	}
	if e.Feeder && len(b.Feeders) == 0 && !slices.ContainsFunc(q.Findings, func(f plan.Finding) bool { return f.Code == "feeder" || f.Code == "sink" }) {
		t.Error("no feeder, and no finding on feeding")
	}
	var outlets []plan.P3
	for _, o := range b.FlowOffs {
		outlets = append(outlets, o.At)
	}
	for _, o := range b.Cuts {
		outlets = append(outlets, o.At)
	}
	for _, x := range e.FarVent {
		if !slices.ContainsFunc(outlets, func(p plan.P3) bool { return master(p).Dist(vec.FromArray(x)) < 3 }) {
			t.Errorf("no outlet at %v", x)
		}
	}
	if e.FarOutlet {
		if !slices.ContainsFunc(outlets, func(p plan.P3) bool { return master(p).Sub(box.Centre()).Dot(in0.Sub(box.Centre())) < 0 }) {
			t.Errorf("no outlet opposite the ingate at %.1f", in0)
		}
	}
	for _, v := range e.Vented {
		n := 0
		for _, p := range q.Stand.Pockets {
			if p.Volume >= v.Share*q.Master.Volume {
				n++
				if p.Vented == nil || !*p.Vented {
					t.Errorf("the pocket of %.0f mm3 at %.1f is not vented: %s", p.Volume, p.At, v.Why)
				}
			}
		}
		if n == 0 {
			t.Errorf("no pocket over %g of the volume: %s", v.Share, v.Why)
		}
	}
}
