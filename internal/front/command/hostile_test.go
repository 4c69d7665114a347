package command

import (
	"bytes"
	"context"
	"encoding/binary"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"
)

// ascii is a slab as ASCII STL.
const ascii = "solid a\nfacet normal 0 0 1\nouter loop\nvertex 0 0 0\nvertex %s 0 0\nvertex 0 1 0\nendloop\nendfacet\nendsolid a\n"

// claims is a binary STL that says n triangles and holds the given bytes of
// them.
func claims(n uint32, body int) string {
	b := make([]byte, 84+body)
	binary.LittleEndian.PutUint32(b[80:], n)
	return string(b)
}

// Whatever is handed in as a mesh: exit code 1, one message with a next step,
// nothing on standard output, no stack.
func TestHostileMeshes(t *testing.T) {
	dir := t.TempDir()
	flat := slab(t, dir, "flat.stl", 40, 30, 0)
	flatten(t, flat)
	for _, c := range []struct{ name, data, say string }{
		{"empty.stl", "", "the file is empty"},
		{"cut.stl", claims(12, 500), "holds 10"},
		{"head.stl", claims(12, 0)[:60], "60 bytes"},
		{"claims.stl", claims(4e9, 600), "4000000000 triangles"},
		{"none.stl", claims(0, 0), "no triangles"},
		{"zero.stl", claims(3, 150), "fewer than three different corners"},
		{"nan.stl", strings.Replace(ascii, "%s", "nan", 1), "not a finite number"},
		{"inf.stl", strings.Replace(ascii, "%s", "1e999", 1), "not a finite number"},
		{"one.stl", strings.Replace(ascii, "%s", "1", 1), "no thickness along z"},
		{"open.obj", "v 0 0 0\nv 1 0 0\nv 0 1 0\nv 0 0 1\nf 1 2 3\nf 1 2 4\n", "4 open edges"},
		{"short.stl", strings.Replace(ascii, "%s", "1", 1)[:70], "where a number should stand"},
		{"picture.stl", "\x89PNG\r\n\x1a\n" + strings.Repeat("\x01\x02", 500), "a PNG picture"},
		{"photo.obj", "\xff\xd8\xff\xe0" + strings.Repeat("\x01\x02", 500), "a JPEG picture"},
		{"paper.ply", "%PDF-1.7\n", "a PDF document"},
		{"huge.obj", "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 2000000000\n", "corner 2000000000"},
		{"huger.obj", "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 99999999999999999999\n", "no corner of a face"},
		{"back.obj", "v 0 0 0\nv 1 0 0\nv 0 1 0\nf -1 -2 -9\n", "before the first"},
		{"huge.ply", "ply\nformat binary_little_endian 1.0\nelement vertex 4000000000\nproperty float x\nproperty float y\nproperty float z\nend_header\n" + strings.Repeat("\x00", 99), "4000000000 of element vertex"},
		{"minus.ply", "ply\nformat ascii 1.0\nelement vertex -5\nproperty float x\nend_header\n", "no count"},
		{"huge.off", "OFF\n1000000000 1000000000 0\n", "1000000000 corners"},
		{"pack.3mf", "PK\x03\x04rest", "no whole zip archive"},
		{"words.xyz", "1 2 3\n", "no mesh of a format"},
	} {
		path := filepath.Join(dir, c.name)
		if err := os.WriteFile(path, []byte(c.data), 0o644); err != nil {
			t.Fatal(err)
		}
		refused(t, c.name, c.say, 1, "master", path)
	}
	refused(t, "flat", "no thickness along z", 1, "master", flat)
	refused(t, "no name", "empty", 2, "master", "")
	refused(t, "no job", "empty", 2, "plan", "")
}

// flatten sets the height of all corners of a binary STL to 0: a closed sheet
// folded on itself.
func flatten(t *testing.T, path string) {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for i := 84; i+50 <= len(b); i += 50 {
		for k := range 3 {
			binary.LittleEndian.PutUint32(b[i+12+12*k+8:], math.Float32bits(0))
		}
	}
	if err := os.WriteFile(path, b, 0o644); err != nil {
		t.Fatal(err)
	}
}

func refused(t *testing.T, name, say string, want int, args ...string) {
	t.Helper()
	code, out, err := do(args...)
	if code != want || out != "" || !strings.Contains(err, say) {
		t.Errorf("%s: exit code %d, want %d with %q\n%s%s", name, code, want, say, out, err)
	}
	if !strings.HasPrefix(err, "pourwright: ") || strings.Contains(err, "goroutine") || strings.Contains(err, "fault of pourwright") || strings.Count(err, "\n") < 2 || strings.Count(err, "pourwright: ") > 1 {
		t.Errorf("%s: the message is %q", name, err)
	}
}

// Job files with a wrong line are refused with its place, and no folder is made.
func TestHostileJobs(t *testing.T) {
	dir := t.TempDir()
	slab(t, dir, "part.stl", 40, 30, 8)
	with := func(old, new string) string { return strings.Replace(fivekeys, old, new, 1) }
	for _, c := range []struct{ name, text, say string }{
		{"unknown section", with("[order]", "[ordre]"), ":7:2: unknown key ordre"},
		{"unknown key", with("castings", "casting"), ":8:1: unknown key order.casting"},
		{"key twice", fivekeys + "use = \"toy\"\n", ":10:1: "},
		{"section twice", fivekeys + "[master]\nmesh = \"x\"\n", ":10:2: "},
		{"text for a number", with("= 4", "= \"four\""), ":8:1: order.castings must be a whole number"},
		{"fraction", with("= 4", "= 2.5"), "whole number"},
		{"date", with("= 4", "= 2020-01-01"), "not a date"},
		{"minus", with("= 4", "= -3"), "order.castings is -3"},
		{"none", with("= 4", "= 0"), "order.castings is 0"},
		{"not a number", fivekeys + "[bench]\nroom_c = nan\n", ":11:1: bench.room_c is NaN"},
		{"no use", with("use = \"decor\"\n", ""), "order.use is missing"},
		{"other use", with("decor", "weapon"), "one of toy"},
		{"other alloy", with("pewter-92-7-1", "gold"), "no alloy"},
		{"no such mesh", with("part.stl", "none.stl"), "cannot be opened"},
		{"a folder for a mesh", with("part.stl", "."), "not a file name"},
		{"unit", with("[rubber]", "unit = \"ft\"\n[rubber]"), "master.unit"},
		{"no direction", fivekeys + "[split]\npull = [0, 0, 0]\n", "has no length"},
		{"two numbers", fivekeys + "[split]\npull = [1, 2]\n", "three numbers"},
		{"up along pull", fivekeys + "[split]\npull = [0, 0, 1]\n[stand]\nup = [0, 0, -2]\n", ":13:1: stand.up lies along"},
		{"up along the found pull", fivekeys + "[stand]\nup = [0, 0, 1]\n", "stand.up lies along the pull"},
		{"gate elsewhere", fivekeys + "[gate]\nat = [900, 900, 900]\n", "gate.at lies"},
		{"show elsewhere", with("[rubber]", "show = [[20, 15, 8], [0, 0, 99]]\n[rubber]"), "master.show[1] lies"},
		{"too many", fivekeys + "[block]\ncavities = 64\n", "at most 24"},
		{"not TOML", "{\"master\": {}}", ":1:1: not a job file"},
		{"a picture", "\x89PNG\r\n\x1a\n", ":1:1: not a job file"},
		{"zero byte", fivekeys + "\x00", "not a job file"},
		{"long", strings.Repeat("x", 300000), "256 KiB"},
		{"other letters", with("part.stl", "p\xe9.stl"), "UTF-8"},
	} {
		path := filepath.Join(dir, "job.toml")
		if err := os.WriteFile(path, []byte(c.text), 0o644); err != nil {
			t.Fatal(err)
		}
		out := filepath.Join(dir, "out")
		refused(t, c.name, c.say, 1, "plan", path, "--out", out)
		if _, err := os.Stat(out); err == nil {
			t.Fatalf("%s: a folder was made", c.name)
		}
	}
}

// A job as some editors write it, in a folder with a space, and names that are
// no UTF-8, are planned all the same.
func TestJobsOfOtherEditorsAndNames(t *testing.T) {
	names := []string{"two words"}
	if runtime.GOOS == "linux" {
		names = append(names, "n\xff\xfe")
	}
	for _, name := range names {
		dir := filepath.Join(t.TempDir(), name)
		if err := os.Mkdir(dir, 0o755); err != nil {
			t.Fatal(err)
		}
		slab(t, dir, "part.stl", 40, 30, 8)
		path := filepath.Join(dir, "job.toml")
		if err := os.WriteFile(path, []byte("\ufeff"+strings.ReplaceAll(fivekeys, "\n", "\r\n")), 0o644); err != nil {
			t.Fatal(err)
		}
		out := filepath.Join(dir, "out")
		if code, _, err := do("plan", path, "--no-pour", "--out", out); code != 0 {
			t.Errorf("%q: exit code %d, %s", name, code, err)
		}
		if b, err := os.ReadFile(filepath.Join(out, "plan.json")); err != nil || !json.Valid(b) || strings.Contains(string(b), "two words") {
			t.Errorf("%q: plan.json: %v", name, err)
		}
		if code, out, err := do("master", filepath.Join(dir, "part.stl"), "--json"); code != 0 || !json.Valid([]byte(out)) {
			t.Errorf("%q: master: exit code %d, %s", name, code, err)
		}
	}
}

// An interruption at any moment ends the work at once: exit code 130, and the
// folder is either whole or not there.
func TestInterruptedAtAnyMoment(t *testing.T) {
	dir := t.TempDir()
	for k := range 10 {
		out := filepath.Join(dir, "plan")
		ctx, stop := context.WithTimeout(context.Background(), time.Duration(k*k)*25*time.Millisecond)
		var stdout, stderr bytes.Buffer
		code := run(ctx, []string{"demo", "--out", out}, &stdout, &stderr)
		stop()
		list, err := os.ReadDir(dir)
		if err != nil {
			t.Fatal(err)
		}
		switch {
		case code == 130 && len(list) > 0:
			t.Errorf("after %d: %v was left", k, list)
		case code == 130 && !strings.Contains(stderr.String(), "interrupted"):
			t.Errorf("after %d: %q", k, stderr.String())
		case code != 130 && code != 0:
			t.Errorf("after %d: exit code %d, %s", k, code, stderr.String())
		case code == 0:
			if files, err := os.ReadDir(out); err != nil || len(files) != 13 {
				t.Errorf("after %d: %d files, %v", k, len(files), err)
			}
			if err := os.RemoveAll(out); err != nil {
				t.Fatal(err)
			}
		}
	}
}
