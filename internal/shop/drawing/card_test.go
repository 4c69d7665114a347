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
