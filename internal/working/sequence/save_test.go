package sequence

import (
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"pourwright/internal/ground/fault"
)

// small is a result with two files; fail makes the second one fail.
func small(text string, fail error) *Result {
	return &Result{
		JSON: []byte(`{"schema": "pourwright/plan/1", "text": "` + text + `"}`),
		Files: []File{{"card.pdf", func(w io.Writer) error {
			_, err := io.WriteString(w, text)
			return errors.Join(err, fail)
		}}},
		clock: newClock(context.Background(), nil),
	}
}

func names(t *testing.T, dir string) []string {
	list, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var n []string
	for _, e := range list {
		n = append(n, e.Name())
	}
	return n
}

func holds(t *testing.T, dir, text string) {
	t.Helper()
	for _, f := range []string{"card.pdf", "plan.json"} {
		if b, err := os.ReadFile(filepath.Join(dir, f)); err != nil || !strings.Contains(string(b), text) {
			t.Errorf("%s: %q, %v", f, b, err)
		}
	}
	if n := names(t, dir); len(n) != 2 {
		t.Errorf("the folder holds %v", n)
	}
}

func TestSaveMakesAndReplacesAFolder(t *testing.T) {
	ctx := context.Background()
	home := t.TempDir()
	dir := filepath.Join(home, "a", "b", "plan")
	for _, text := range []string{"first", "second"} {
		if err := Save(ctx, small(text, nil), dir); err != nil {
			t.Fatal(err)
		}
		holds(t, dir, text)
		if n := names(t, filepath.Dir(dir)); !slices.Equal(n, []string{"plan"}) {
			t.Errorf("beside the folder: %v", n)
		}
	}
	if err := os.WriteFile(filepath.Join(dir, "half-1.stl"), []byte("of an older plan"), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := Save(ctx, small("third", nil), dir); err != nil {
		t.Fatal(err)
	}
	holds(t, dir, "third") // files that the new plan does not have are gone
	link := filepath.Join(home, "link")
	if err := os.Symlink(dir, link); err != nil {
		t.Fatal(err)
	}
	if err := Save(ctx, small("fourth", nil), link); err != nil {
		t.Fatal(err)
	}
	holds(t, dir, "fourth")
	empty := filepath.Join(home, "empty")
	if err := os.Mkdir(empty, 0o755); err != nil {
		t.Fatal(err)
	}
	t.Chdir(empty)
	for _, text := range []string{"fifth", "sixth"} {
		if err := Save(ctx, small(text, nil), "."); err != nil {
			t.Fatal(err)
		}
		holds(t, ".", text) // the shell's own folder stays the same one
	}
}

func TestSaveLeavesOtherThingsAlone(t *testing.T) {
	home := t.TempDir()
	write := func(name, text string) string {
		p := filepath.Join(home, name)
		if err := os.MkdirAll(filepath.Dir(p), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(p, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		return p
	}
	ours := `{"schema": "pourwright/plan/1"}`
	write("photos/me.jpg", "x")
	write("mixed/plan.json", ours)
	write("mixed/notes.txt", "x")
	write("theirs/plan.json", `{"schema": "garden/1"}`)
	write("cardonly/card.pdf", "x")
	write("sub/plan.json", ours)
	write("sub/card.pdf/inner", "x")
	write("file", "x")
	before := tree(t, home)
	for _, d := range []string{"photos", "mixed", "theirs", "cardonly", "sub", "file", "file/below"} {
		err := Save(context.Background(), small("new", nil), filepath.Join(home, d))
		if fault.KindOf(err) != fault.Input || fault.HintOf(err) == "" {
			t.Errorf("%s: %v", d, err)
		}
		if Fits(filepath.Join(home, d)) == nil && d != "file/below" {
			t.Errorf("%s fits", d)
		}
	}
	if after := tree(t, home); !slices.Equal(before, after) {
		t.Errorf("before %v, after %v", before, after)
	}
}

func tree(t *testing.T, dir string) []string {
	var r []string
	err := filepath.WalkDir(dir, func(p string, _ os.DirEntry, err error) error {
		r = append(r, p)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func TestSaveKeepsNothingHalfWritten(t *testing.T) {
	home := t.TempDir()
	dir := filepath.Join(home, "new", "plan")
	full := errors.New("no space left on device")
	err := Save(context.Background(), small("x", full), dir)
	if fault.KindOf(err) != fault.Input || !strings.Contains(err.Error(), "no space left") || fault.HintOf(err) == "" {
		t.Errorf("%v", err)
	}
	if n := names(t, home); len(n) != 0 {
		t.Errorf("left behind: %v", n)
	}
	old := filepath.Join(home, "old")
	if err := Save(context.Background(), small("kept", nil), old); err != nil {
		t.Fatal(err)
	}
	if err := Save(context.Background(), small("x", full), old); err == nil {
		t.Error("no error")
	}
	holds(t, old, "kept")
	ctx, stop := context.WithCancel(context.Background())
	r := small("x", nil)
	r.clock = newClock(ctx, func(string, string, float64) { stop() })
	if err := Save(ctx, r, old); fault.KindOf(err) != fault.Interrupted {
		t.Errorf("%v", err)
	}
	holds(t, old, "kept")
	if n := names(t, home); !slices.Equal(n, []string{"old"}) {
		t.Errorf("left behind: %v", n)
	}
}
