package judge

import (
	"fmt"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"

	"pourwright/internal/book/job"
	"pourwright/internal/book/plan"
)

func facts(t *testing.T, rubber, alloy, use, extra string) Facts {
	t.Helper()
	j, err := job.Parse("a.toml", fmt.Appendf(nil, "[master]\nmesh=\"a.stl\"\nmaterial=\"brass\"\ncontrol=[[[0,0,0],[1,0,0],1.0]]\n[rubber]\nkind=%q\n[alloy]\nkind=%q\n%s\n[order]\ncastings=3\nuse=%q\n", rubber, alloy, extra, use))
	if err != nil {
		t.Fatal(err)
	}
	return Facts{Job: j, Master: plan.Master{Thinnest: 4, Volume: 9000, Size: plan.P3{90, 30, 22}}, Fill: plan.Fill{Computed: true}, Frozen: true}
}

func said(v Verdict) string {
	var w []string
	for _, f := range v.Findings {
		w = append(w, f.Code+"/"+f.Severity)
	}
	return strings.Join(w, " ")
}

// Who may cast what: refused and warned by use, cadmium always refused.
func TestUseAndOrigin(t *testing.T) {
	const sure = "origin=\"certified\"\nlead=0.001"
	for _, c := range []struct{ alloy, use, extra, verdict, findings string }{
		{"pewter-92-7-1", "decor", sure, plan.Pour, ""},
		{"pewter-92-7-1", "jewellery", sure, plan.Pour, ""},
		{"pewter-92-7-1", "fishing", sure, plan.Pour, ""},
		{"pewter-92-7-1", "toy", sure, plan.Care, "alloy-use/should"},
		{"pewter-92-7-1", "food", sure, plan.Care, "alloy-use/should"},
		{"tin", "food", sure, plan.Pour, ""},
		{"tin", "food", "", plan.Care, "alloy-origin/should"},
		{"tin", "food", "origin=\"certified\"\nlead=0.06", plan.No, "alloy-use/must"},
		{"tin", "toy", "origin=\"certified\"\nlead=0.02", plan.No, "alloy-use/must alloy-use/should"},
		{"tin-lead-63-37", "toy", sure[:len("origin=\"certified\"")], plan.No, "alloy-use/must alloy-use/should alloy-origin/note"},
		{"tin-lead-63-37", "food", "", plan.No, "alloy-use/must alloy-origin/should"},
		{"tin-lead-63-37", "jewellery", "", plan.No, "alloy-use/must alloy-origin/should"},
		{"tin-lead-63-37", "fishing", "", plan.No, "alloy-use/must alloy-origin/note"},
		{"tin-lead-63-37", "decor", "origin=\"returns\"", plan.Care, "alloy-use/should alloy-origin/note"},
		{"bismuth-lead-tin-cadmium-50-26.7-13.3-10", "decor", "", plan.No, "alloy-use/must alloy-use/should alloy-origin/note"},
		{"pewter-92-7-1", "decor", "origin=\"unknown\"", plan.Care, "alloy-origin/should"},
		{"pewter-92-7-1", "decor", "", plan.Pour, "alloy-origin/note"},
		{"pewter-92-7-1", "jewellery", "origin=\"returns\"", plan.Care, "alloy-origin/should"},
	} {
		v := Judge(facts(t, "condensation-heat-30", c.alloy, c.use, c.extra))
		if v.Verdict != c.verdict || said(v) != c.findings {
			t.Errorf("%s for %s (%s): %s, %s", c.alloy, c.use, c.extra, v.Verdict, said(v))
		}
	}
}

// TestThinSaysWhatThePourDoes: where the rule of thumb refuses a section, the computed filling stands beside it.
func TestThinSaysWhatThePourDoes(t *testing.T) {
	for _, c := range []struct {
		mesh, calipers float64
		share          *float64
		says           []string
		no             string
	}{
		{2, 1, plan.Ptr(0.982), []string{"high risk, it freezes"}, "Computed"},
		{0.92, 0.9, plan.Ptr(0.982), []string{"0.9 mm by the calipers", "Computed"}, "scans"},
		{1, 0, plan.Ptr(0.982), []string{"by experience", "Computed, the castings fill to 98.2 %.", "try one shot"}, "it freezes before it fills by experience"},
		{1, 0, plan.Ptr(0.71), []string{"by experience", "Computed, the castings fill to 71 %."}, "try one shot"},
		{1, 0, nil, []string{"high risk, it freezes"}, "Computed"},
	} {
		f := facts(t, "condensation-heat-30", "pewter-92-7-1", "decor", `origin="certified"`)
		f.Master.Thinnest, f.Thinnest = c.mesh, c.calipers
		f.Fill = plan.Fill{Computed: c.share != nil, CastShare: c.share}
		v := Judge(f)
		i := slices.IndexFunc(v.Findings, func(x plan.Finding) bool { return x.Code == "thin" })
		if i < 0 || v.Findings[i].Severity != plan.Must || v.Verdict != plan.Care {
			t.Fatalf("%+v", v)
		}
		text := v.Findings[i].Say + " " + v.Findings[i].Do
		for _, s := range c.says {
			if !strings.Contains(text, s) {
				t.Errorf("%q lacks %q", text, s)
			}
		}
		if strings.Contains(text, c.no) {
			t.Errorf("%q has %q", text, c.no)
		}
	}
}

func TestPiece(t *testing.T) {
	const sure = "origin=\"certified\""
	clay, release := "clay", "release"
	for _, c := range []struct {
		name, rubber, verdict, findings string
		change                          func(*Facts)
	}{
		{"sound", "condensation-heat-30", plan.Pour, "", func(*Facts) {}},
		{"1.5 mm", "condensation-heat-30", plan.Care, "thin/should", func(f *Facts) { f.Master.Thinnest = 1.5 }},
		{"1.6 mm", "condensation-heat-30", plan.Pour, "", func(f *Facts) { f.Master.Thinnest = 1.6 }},
		{"1.0 mm", "condensation-heat-30", plan.Care, "thin/must", func(f *Facts) { f.Master.Thinnest = 1.0 }},
		{"calipers overrule", "condensation-heat-30", plan.Pour, "", func(f *Facts) { f.Master.Thinnest, f.Thinnest = 1.0, 2.0 }},
		{"resin print in addition rubber", "addition-heat-40", plan.Care, "inhibition/should", func(f *Facts) { f.Job.Master.Material = "Resin print" }},
		{"sealed print in addition rubber", "addition-heat-40", plan.Pour, "inhibition/note", func(f *Facts) { f.Job.Master.Material = "resin print, sealed" }},
		{"resin print in condensation rubber", "condensation-heat-30", plan.Pour, "", func(f *Facts) { f.Job.Master.Material = "resin print" }},
		{"unknown in addition rubber", "addition-heat-40", plan.Pour, "inhibition/note", func(f *Facts) { f.Job.Master.Material = "" }},
		{"plaster", "condensation-heat-30", plan.Pour, "release/note", func(f *Facts) { f.Job.Master.Material = "plaster" }},
		{"lacquered wood", "condensation-heat-30", plan.Pour, "", func(f *Facts) { f.Job.Master.Material = "box wood, lacquered" }},
		{"unsealed wood", "condensation-heat-30", plan.Pour, "release/note", func(f *Facts) { f.Job.Master.Material = "unsealed wood" }},
		{"no calipers", "condensation-heat-30", plan.Pour, "calipers/note", func(f *Facts) { f.Job.Master.Control = nil }},
		{"clay", "condensation-heat-30", plan.Care, "undercut/should", func(f *Facts) {
			f.Split.Undercuts = []plan.Undercut{{Volume: 20, Depth: 2, Strain: plan.Ptr(0.7), Action: &clay}, {Volume: 0.1, Depth: 2, Strain: plan.Ptr(0.7), Action: &clay}}
		}},
		{"easy release", "condensation-heat-30", plan.Pour, "", func(f *Facts) {
			f.Care = 0.4
			f.Split.Undercuts = []plan.Undercut{{Volume: 20, Depth: 2, Strain: plan.Ptr(0.2), Action: &release}}
		}},
		{"hard release", "condensation-heat-30", plan.Care, "undercut/should", func(f *Facts) {
			f.Care = 0.4
			f.Split.Undercuts = []plan.Undercut{{Volume: 20, Depth: 2, Strain: plan.Ptr(0.6), Action: &release}}
		}},
		{"seam over the face", "condensation-heat-30", plan.Care, "seam/must", func(f *Facts) {
			f.Job.Master.Show = []plan.P3{{5, 0.5, 0}, {5, 9, 0}}
			f.Split.Line = [][]plan.P3{{{0, 0, 0}, {10, 0, 0}, {10, 0, 5}}}
		}},
		{"not computed", "condensation-heat-30", plan.Pour, "not-computed/note", func(f *Facts) { f.Fill.Computed = false }},
		{"linked", "condensation-heat-30", plan.No, "linked/must", func(f *Facts) { f.Findings = []plan.Finding{{Code: "linked", Severity: plan.Must}} }},
		{"shopping", "condensation-heat-30", plan.Pour, "masters/should ladle/should", func(f *Facts) {
			f.Findings = []plan.Finding{{Code: "ladle", Severity: plan.Should}, {Code: "masters", Severity: plan.Should}}
		}},
		{"short of rubber", "condensation-heat-30", plan.Care, "stock/must", func(f *Facts) { f.Findings = []plan.Finding{{Code: "stock", Severity: plan.Must}} }},
	} {
		f := facts(t, c.rubber, "pewter-92-7-1", "decor", sure)
		c.change(&f)
		v := Judge(f)
		if v.Verdict != c.verdict || said(v) != c.findings {
			t.Errorf("%s: %s, %s", c.name, v.Verdict, said(v))
		}
		for _, x := range v.Findings {
			if len(f.Findings) == 0 && (x.Say == "" || x.Do == "" || strings.ContainsAny(x.Say+x.Do, "!") || strings.Contains(x.Say, "%!")) {
				t.Errorf("%s: %q %q", c.name, x.Say, x.Do)
			}
		}
	}
}

// A scan with a thousand undercuts tells the twelve largest and counts the
// rest.
func TestManyUndercutsAreCounted(t *testing.T) {
	clay := "clay"
	f := facts(t, "condensation-heat-30", "tin", "decor", "origin=\"certified\"")
	for i := range 1000 {
		f.Split.Undercuts = append(f.Split.Undercuts, plan.Undercut{Volume: 10 + float64(i), Depth: 1, Action: &clay})
	}
	v := Judge(f)
	if len(v.Findings) != most+1 || !strings.Contains(said(v), "undercut/should") {
		t.Errorf("%d findings", len(v.Findings))
	}
	if !slices.ContainsFunc(v.Findings, func(x plan.Finding) bool { return strings.Contains(x.Say, "988 smaller") }) {
		t.Error("the rest is not counted")
	}
}

// The order does not depend on the order in which the rooms spoke, and all
// codes are in the closed list.
func TestOrderIsFixed(t *testing.T) {
	f := facts(t, "addition-heat-40", "tin-lead-63-37", "decor", "")
	f.Master.Thinnest, f.Frozen, f.Job.Master.Material = 1.2, false, "wood"
	for i := range 40 {
		x := plan.Finding{Code: plan.Codes[i%len(plan.Codes)], Severity: []string{plan.Must, plan.Should, plan.Note}[i%3], Say: fmt.Sprint(i % 5)}
		if i%2 == 0 {
			x.Cavity = plan.Ptr(i % 4)
		}
		if i%4 == 1 {
			x.At = plan.Ptr(plan.P3{float64(i % 3), 1, 2})
		}
		f.Findings = append(f.Findings, x)
	}
	want := Judge(f)
	r := rand.New(rand.NewPCG(1, 2))
	for range 20 {
		r.Shuffle(len(f.Findings), func(i, j int) { f.Findings[i], f.Findings[j] = f.Findings[j], f.Findings[i] })
		if !reflect.DeepEqual(Judge(f), want) {
			t.Fatal("the order of the findings depends on the order they came in")
		}
	}
	for _, x := range want.Findings {
		if !slices.Contains(plan.Codes, x.Code) {
			t.Errorf("code %q is not in the closed list", x.Code)
		}
	}
	for _, l := range [][]string{bars, careful} {
		for _, c := range l {
			if !slices.Contains(plan.Codes, c) {
				t.Errorf("rule for unknown code %q", c)
			}
		}
	}
}
