package command

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// picture draws a card and a plate of 30 x 20 mm at 9 px/mm, seen straight
// from above.
func picture(t *testing.T, path string, card bool) {
	const k = 9.0
	m := image.NewRGBA(image.Rect(0, 0, 1300, 760))
	inside := func(x, y, x0, y0, x1, y1, r float64) bool {
		dx, dy := max(x0+r-x, 0, x-x1+r), max(y0+r-y, 0, y-y1+r)
		return dx*dx+dy*dy < r*r
	}
	for j := range 760 {
		for i := range 1300 {
			var c [3]float64
			for s := range 4 {
				x, y := (float64(i)+0.25+0.5*float64(s%2))/k, (float64(j)+0.25+0.5*float64(s/2))/k
				v := [3]float64{70, 95, 75}
				if card && inside(x, y, 8, 12, 93.6, 65.98, 3.18) {
					v = [3]float64{225, 225, 220}
				}
				if inside(x, y, 106, 25, 126, 55, 4) {
					v = [3]float64{170, 90, 60}
				}
				for q := range v {
					c[q] += v[q] / 4
				}
			}
			m.SetRGBA(i, j, color.RGBA{uint8(c[0]), uint8(c[1]), uint8(c[2]), 255})
		}
	}
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := png.Encode(f, m); err != nil {
		t.Fatal(err)
	}
}

func TestPhotographedMaster(t *testing.T) {
	dir := t.TempDir()
	p := func(n string) string { return filepath.Join(dir, n) }
	picture(t, p("gem.png"), true)
	picture(t, p("bare.png"), false)
	code, out, errs := do("master", p("gem.png"), "--thickness", "4", "--write", p("plate.stl"), "--outline", p("plate.txt"))
	if code != 0 || !strings.Contains(out, "by the card") || !strings.Contains(out, "4.00 mm, edge flat") {
		t.Fatalf("code %d\n%s%s", code, out, errs)
	}
	for _, n := range []string{"plate.stl", "plate.txt", "plate.overlay.png"} {
		if st, err := os.Stat(p(n)); err != nil || st.Size() == 0 {
			t.Errorf("%s: %v", n, err)
		}
	}
	// A corrected outline is never written over.
	if code, _, errs := do("master", p("gem.png"), "--thickness", "4", "--outline", p("plate.txt")); code != 1 || !strings.Contains(errs, "outline already") {
		t.Errorf("code %d: %s", code, errs)
	}
	// The outline read again gives the same body.
	if code, _, errs := do("master", p("plate.txt"), "--thickness", "4", "--write", p("again.stl")); code != 0 {
		t.Errorf("code %d: %s", code, errs)
	}
	a, _ := os.ReadFile(p("plate.stl"))
	b, _ := os.ReadFile(p("again.stl"))
	if !bytes.Equal(a, b) {
		t.Error("the outline read again gives another body")
	}
	for _, c := range []struct {
		args []string
		code int
		say  string
	}{
		{[]string{p("gem.png")}, 2, "how thick"},
		{[]string{p("gem.png"), "--thickness", "-4"}, 2, "cannot be measured"},
		{[]string{p("gem.png"), "--thickness", "4", "--edge", "wavy"}, 2, "no edge"},
		{[]string{p("gem.png"), "--thickness", "4", "--edge", "chamfer"}, 2, "chamfer"},
		{[]string{p("gem.png"), "--thickness", "4", "--unit", "in"}, 2, "mm"},
		{[]string{p("gem.png"), "--thickness", "4", "--overlay", p("gem.png")}, 2, "place of the picture"},
		{[]string{p("plate.stl"), "--thickness", "4"}, 2, "belongs to a photographed master"},
		{[]string{p("bare.png"), "--thickness", "4"}, 1, "no bank card"},
		{[]string{p("none.jpg"), "--thickness", "4"}, 1, "cannot open"},
		{[]string{p("none.txt"), "--thickness", "4"}, 1, "cannot open"},
	} {
		if code, _, errs := do(append([]string{"master"}, c.args...)...); code != c.code || !strings.Contains(errs, c.say) {
			t.Errorf("%v: code %d: %s", c.args, code, errs)
		}
	}
}

// A job of a photograph plans like one of a mesh; the plan holds the outline
// and nothing of the picture.
func TestPhotographedJob(t *testing.T) {
	dir := t.TempDir()
	picture(t, filepath.Join(dir, "gem.png"), true)
	job := filepath.Join(dir, "job.toml")
	text := "[master.photo]\nfile = \"gem.png\"\nthickness = 4\nedge = \"half-round\"\n[rubber]\nkind = \"condensation-heat-30\"\n[alloy]\nkind = \"pewter-92-7-1\"\norigin = \"certified\"\n[order]\ncastings = 3\nuse = \"decor\"\n"
	if err := os.WriteFile(job, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	out := filepath.Join(dir, "plan")
	code, _, errs := do("plan", job, "--out", out, "--no-pour")
	if code != 0 {
		t.Fatalf("code %d: %s", code, errs)
	}
	b, err := os.ReadFile(filepath.Join(out, "plan.json"))
	if err != nil || !bytes.Contains(b, []byte(`"photo": {`)) || !bytes.Contains(b, []byte(`"file": "gem.png"`)) || bytes.Contains(b, []byte(dir)) {
		t.Errorf("%v\n%.600s", err, b)
	}
	list, _ := filepath.Glob(filepath.Join(out, "*gem*"))
	if len(list) > 0 {
		t.Errorf("the folder holds %v", list)
	}
}

func TestSheetIsWritten(t *testing.T) {
	f := filepath.Join(t.TempDir(), "sheet.pdf")
	if code, _, errs := do("sheet", f, "--paper", "Letter"); code != 0 {
		t.Fatal(errs)
	}
	if b, err := os.ReadFile(f); err != nil || !bytes.HasPrefix(b, []byte("%PDF")) {
		t.Error(err)
	}
	if code, _, errs := do("sheet", f, "--paper", "A0"); code != 2 || !strings.Contains(errs, "A4") {
		t.Errorf("code %d: %s", code, errs)
	}
}
