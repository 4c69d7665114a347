package drawing

import (
	"os"
	"path/filepath"
	"testing"
)

// keep writes files for a look where POURWRIGHT_KEEP names a folder.
func keep(t testing.TB, name string, b []byte) {
	dir := os.Getenv("POURWRIGHT_KEEP")
	if dir == "" || len(b) == 0 {
		return
	}
	if err := os.WriteFile(filepath.Join(dir, name), b, 0o644); err != nil {
		t.Fatal(err)
	}
}

func TestCardIsMade(t *testing.T) {
	for _, paper := range []string{"A4", "Letter"} {
		for n := 1; n <= 2; n++ {
			in := sample(n, 1)
			in.Paper = paper
			b, err := Card(in)
			if err != nil {
				t.Fatal(err)
			}
			keep(t, "card-"+paper+"-"+string(rune('0'+n))+".pdf", b)
			b, err = Templates(in)
			if err != nil {
				t.Fatal(err)
			}
			keep(t, "templates-"+paper+"-"+string(rune('0'+n))+".pdf", b)
			s, l, c, err := Pictures(in)
			if err != nil {
				t.Fatal(err)
			}
			k := paper + "-" + string(rune('0'+n)) + ".png"
			keep(t, "split-"+k, s)
			keep(t, "layout-"+k, l)
			keep(t, "section-"+k, c)
		}
	}
	in := refused()
	b, err := Card(in)
	if err != nil {
		t.Fatal(err)
	}
	keep(t, "card-no.pdf", b)
}

// A finer sample: master and metal have about 300 000 triangles each.
func BenchmarkPaper(b *testing.B) {
	in := sample(1, 0.375)
	b.Logf("%d triangles in the master, %d in the metal", len(in.Master.F), len(in.Metal.F))
	fresh := func() *Input {
		return &Input{Plan: in.Plan, Names: in.Names, Bench: in.Bench, Master: in.Master, Metal: in.Metal, Surface: in.Surface}
	}
	b.Run("view", func(b *testing.B) {
		for b.Loop() {
			fresh().look()
		}
	})
	b.Run("card", func(b *testing.B) {
		x := fresh()
		x.look()
		for b.Loop() {
			if _, err := Card(x); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("templates", func(b *testing.B) {
		x := fresh()
		x.look()
		for b.Loop() {
			if _, err := Templates(x); err != nil {
				b.Fatal(err)
			}
		}
	})
	x := fresh()
	x.look()
	for _, p := range []struct {
		name string
		f    func() ([]byte, error)
	}{{"split", x.splitPicture}, {"layout", x.layoutPicture}, {"section", x.sectionPicture}} {
		b.Run(p.name, func(b *testing.B) {
			for b.Loop() {
				if _, err := p.f(); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
	b.Run("all", func(b *testing.B) {
		for b.Loop() {
			x := fresh()
			if _, err := Card(x); err != nil {
				b.Fatal(err)
			}
			if _, err := Templates(x); err != nil {
				b.Fatal(err)
			}
			if _, _, _, err := Pictures(x); err != nil {
				b.Fatal(err)
			}
		}
	})
}
