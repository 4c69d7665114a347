package sequence

import (
	"bytes"
	"context"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pourwright/internal/book/job"
	"pourwright/internal/book/plan"
	"pourwright/internal/ground/fault"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/meshfile"
	"pourwright/internal/shape/sculpt"
	"pourwright/validation/outside"
)

const head = "[master]\nmesh = \"part.stl\"\nunit = \"mm\"\n"
const rest = "[rubber]\nkind = \"condensation-heat-30\"\n[alloy]\nkind = \"pewter-92-7-1\"\n[order]\ncastings = 4\nuse = \"decor\"\n"

func parse(t testing.TB, text string) *job.Job {
	j, err := job.Parse("job.toml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return j
}

func stl(t *testing.T, m *mesh.Mesh) []byte {
	var b bytes.Buffer
	if err := meshfile.WriteSTL(&b, m); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestPlanOfAnEgg(t *testing.T) {
	body := sculpt.Ball(15, 24).Mesh
	for i := range body.V {
		body.V[i].X *= 1.4
		body.V[i].Z *= 0.6
	}
	want := body.Volume()
	r, err := Make(context.Background(), parse(t, head+rest), Setting{Version: "test", Mesh: stl(t, body)})
	if err != nil {
		t.Fatal(err)
	}
	p := r.Plan
	if p.Verdict == plan.No || p.Block == nil || p.Rubber == nil || p.Metal == nil {
		t.Fatalf("verdict %s", p.Verdict)
	}
	near := func(what string, got, want, rel float64) {
		if math.Abs(got-want) > rel*math.Abs(want) {
			t.Errorf("%s %.9g, want %.9g", what, got, want)
		}
	}
	near("volume", p.Master.Volume, want, 1e-6)
	near("volume as read", p.Master.Read.Volume, want, 1e-6)
	solid := func(name string) *mesh.Mesh {
		for _, f := range r.Files {
			if f.Name == name {
				var b bytes.Buffer
				if err := f.Write(&b); err != nil {
					t.Fatal(err)
				}
				m, _, err := meshfile.Parse(b.Bytes(), name, meshfile.Options{})
				if err != nil {
					t.Fatal(err)
				}
				if !mesh.TopologyOf(m).Watertight {
					t.Errorf("%s is not closed", name)
				}
				return m
			}
		}
		t.Fatalf("no %s", name)
		return nil
	}
	v1, v2, vc := solid("half-1.stl").Volume(), solid("half-2.stl").Volume(), solid("cavity.stl").Volume()
	s := p.Block.Size
	near("halves and cavity", v1+v2+vc, s[0]*s[1]*s[2], 1e-6)
	near("half 1", p.Rubber.Halves[0].Volume, v1, 1e-6)
	near("half 2", p.Rubber.Halves[1].Volume, v2, 1e-6)
	if vc < want*float64(p.Block.Cavities) {
		t.Errorf("the cavity holds %g mm3, %d castings %g", vc, p.Block.Cavities, want*float64(p.Block.Cavities))
	}
	for _, st := range Stages {
		if _, ok := p.Timing[st]; !ok && st != "write" {
			t.Errorf("no time for %s", st)
		}
	}
	if !slices.ContainsFunc(p.Findings, func(f plan.Finding) bool { return f.Code == "not-computed" }) {
		t.Error("the plan does not say that the pour was not computed")
	}
}

// A body that two halves cannot give is a plan too: card and plan.json, no
// solids.
func TestPlanOfAHollowBallSaysNo(t *testing.T) {
	r, err := Make(context.Background(), parse(t, head+rest), Setting{Version: "test", Mesh: stl(t, sculpt.HollowBall(18, 12, 24).Mesh)})
	if err != nil {
		t.Fatal(err)
	}
	if r.Plan.Verdict != plan.No || r.Plan.Block != nil || r.Plan.Findings[0].Severity != plan.Must {
		t.Errorf("verdict %s", r.Plan.Verdict)
	}
	for _, f := range r.Files {
		if strings.HasSuffix(f.Name, ".stl") || strings.HasSuffix(f.Name, ".3mf") {
			t.Errorf("%s was made", f.Name)
		}
	}
	if !slices.ContainsFunc(r.Files, func(f File) bool { return f.Name == "card.pdf" }) {
		t.Error("no card")
	}
}

// TestShuffledTriangles: the order of the file's triangles changes the hash and
// nothing else.
func TestShuffledTriangles(t *testing.T) {
	j, data, err := Demo()
	if err != nil {
		t.Fatal(err)
	}
	m, _, err := meshfile.Parse(data, "a.stl", meshfile.Options{KeepOrder: true})
	if err != nil {
		t.Fatal(err)
	}
	s := &mesh.Mesh{V: m.V}
	rng := rand.New(rand.NewPCG(7, 8))
	for _, i := range rng.Perm(len(m.F)) {
		f, k := m.F[i], rng.IntN(3)
		s.F = append(s.F, [3]int32{f[k], f[(k+1)%3], f[(k+2)%3]})
	}
	a, err := Make(context.Background(), j, Setting{Version: "test", Mesh: data})
	if err != nil {
		t.Fatal(err)
	}
	b, err := Make(context.Background(), j, Setting{Version: "test", Mesh: stl(t, s)})
	if err != nil {
		t.Fatal(err)
	}
	if a.Plan.Master.SHA256 == b.Plan.Master.SHA256 {
		t.Error("the hash is the same")
	}
	b.Plan.Master.SHA256 = a.Plan.Master.SHA256
	a.Plan.Timing, b.Plan.Timing = nil, nil
	var x, y bytes.Buffer
	if err := plan.Write(&x, a.Plan); err != nil {
		t.Fatal(err)
	}
	if err := plan.Write(&y, b.Plan); err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(x.Bytes(), y.Bytes()) {
		t.Error("plan.json differs in more than the hash")
	}
	for i := range a.Files {
		x.Reset()
		y.Reset()
		if err := a.Files[i].Write(&x); err != nil {
			t.Fatal(err)
		}
		if err := b.Files[i].Write(&y); err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(x.Bytes(), y.Bytes()) && a.Files[i].Name != "card.pdf" { // the card shows the hash
			t.Errorf("%s differs", a.Files[i].Name)
		}
	}
}

// checked runs the first two stages.
func checked(t *testing.T, text string, data []byte) (*trace, error) {
	w := &trace{job: parse(t, text), set: Setting{Mesh: data}, current: newClock(context.Background(), nil)}
	if err := w.readMaster(); err != nil {
		t.Fatal(err)
	}
	return w, w.checkMaster()
}

func TestCalipersOverruleTheScan(t *testing.T) {
	data := stl(t, sculpt.Box(40, 30, 8).Mesh)
	p := func(x, y, z string) string { return "[" + x + "," + y + "," + z + "]" }
	m, _, err := meshfile.Parse(data, "a.stl", meshfile.Options{})
	if err != nil {
		t.Fatal(err)
	}
	x0 := m.Box().Min
	from, to := p(num(x0.X), num(x0.Y), num(x0.Z)), p(num(x0.X+40), num(x0.Y), num(x0.Z))
	control := func(l string) string {
		return head + "control = [[" + from + ", " + to + ", " + l + "]]\nmass = 75\nshow = [" + to + "]\n" + rest
	}
	w, err := checked(t, control("40.8"), data)
	if err != nil {
		t.Fatal(err)
	}
	said := w.master.Said
	if math.Abs(said.Size[0]-40.8) > 1e-9 || math.Abs(said.Volume-9600*1.02*1.02*1.02) > 1e-5 || math.Abs(said.Read.Volume-said.Volume) > 1e-5 {
		t.Errorf("size %v, volume %g", said.Size, said.Volume)
	}
	if got, want := w.job.Master.Show[0][0], (x0.X+40)*1.02; math.Abs(got-want) > 1e-9 {
		t.Errorf("a point of the job lies at %g, want %g", got, want)
	}
	if w, err = checked(t, control("40.02"), data); err != nil || w.master.Said.Size[0] != 40 {
		t.Errorf("%v: a length within the caliper's error changed the master", err)
	}
	for _, l := range []string{"400", "30"} {
		if _, err := checked(t, control(l), data); fault.KindOf(err) != fault.Input || fault.HintOf(err) == "" {
			t.Errorf("%s mm: %v", l, err)
		}
	}
	two := head + "control = [[" + from + ", " + to + ", 40.8], [" + to + ", " + from + ", 39.5]]\n" + rest
	if _, err := checked(t, two, data); err == nil || !strings.Contains(err.Error(), "from 0.98") {
		t.Errorf("lengths that disagree: %v", err)
	}
}

func TestTypedThickness(t *testing.T) {
	data := stl(t, sculpt.Box(40, 30, 8).Mesh)
	for _, c := range []struct {
		at   string
		mm   string
		want float64
	}{{"[5,5,%]", "7.6", 7.6}, {"[5,5,%]", "2", 2}, {"[#,5,4]", "39", 0}} {
		m, _, err := meshfile.Parse(data, "a.stl", meshfile.Options{})
		if err != nil {
			t.Fatal(err)
		}
		b := m.Box()
		at := strings.NewReplacer("%", num(b.Max.Z), "#", num(b.Max.X)).Replace(c.at)
		w, err := checked(t, head+"thickness = [["+at+", "+c.mm+"]]\n"+rest, data)
		if err != nil {
			t.Fatal(err)
		}
		w.master.prepare()
		if got := w.thinnest(); got != c.want {
			t.Errorf("%s mm at %s: thinnest %g, want %g (the scan says %g)", c.mm, at, got, c.want, w.master.Said.Thinnest)
		}
	}
}

func num(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

// TestMeshSetIsMeasuredOrRefused inspects every body of the set that a plan
// could be asked of, with pull and up given so that no search is needed.
func TestMeshSetIsMeasuredOrRefused(t *testing.T) {
	dir := outside.Meshes(t)
	if dir == "" {
		return
	}
	list, err := os.ReadDir(filepath.Join(dir, "files"))
	if err != nil {
		t.Fatal(err)
	}
	done := 0
	for _, e := range list {
		name := e.Name()
		r, err := read(Source{Path: filepath.Join(dir, "files", name), Unit: "mm", From: "flag"})
		if err == nil {
			var m *Master
			if m, err = check(r); err == nil {
				done++
				if v := m.Said.Volume; !(v > 0) || m.Said.Bodies < 1 {
					t.Errorf("%s: volume %g, %d bodies", name, v, m.Said.Bodies)
				}
			}
		}
		if err != nil && (fault.KindOf(err) != fault.Input || fault.HintOf(err) == "") {
			t.Errorf("%s: %v", name, err)
		}
	}
	if done < 40 {
		t.Errorf("%d of %d files were measured", done, len(list))
	}
}
