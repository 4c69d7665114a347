package command

import (
	"encoding/json"
	"path/filepath"
	"strings"
	"testing"

	"pourwright/internal/shape/meshfile"
	"pourwright/internal/shape/sculpt"
)

// A chain of two rings is told ring by ring, with its links and three places to
// measure, in words and in JSON.
func TestMasterOfAChain(t *testing.T) {
	path := filepath.Join(t.TempDir(), "chain.stl")
	if err := meshfile.SaveSTL(path, sculpt.Links(15, 3, 2, 48, 24).Mesh); err != nil {
		t.Fatal(err)
	}
	args := []string{"master", path, "--unit", "mm", "--up", "1,0,0", "--pull", "0,0,1"}
	code, out, msg := do(args...)
	if code != 0 {
		t.Fatal(msg)
	}
	for _, want := range []string{"\nbodies       2\n", "body 1: 36.00 x ", ", linked with 2\n", ", linked with 1\n",
		"\ncalipers     1: the thinnest wall", "2: the longest clear length", "3: the ", "control = [[["} {
		if !strings.Contains(out, want) {
			t.Errorf("no %q in\n%s", want, out)
		}
	}
	if !strings.Contains(msg, "bodies 1 and 2 are linked") {
		t.Error(msg)
	}
	// One of the rings alone is linked with nothing.
	if _, out, msg = do(append(args, "--body", "2")...); strings.Contains(out+msg, "linked") || strings.Contains(out, "\nbodies") {
		t.Errorf("%s%s", out, msg)
	}
	_, out, _ = do(append(args, "--json")...)
	var got struct {
		Bodies  []map[string]any `json:"bodies"`
		Measure []map[string]any `json:"measure"`
	}
	if err := json.Unmarshal([]byte(out), &got); err != nil || len(got.Bodies) != 2 || len(got.Measure) != 3 {
		t.Fatalf("%v, %d bodies, %d places", err, len(got.Bodies), len(got.Measure))
	}
	if l, ok := got.Bodies[0]["linked"].([]any); !ok || len(l) != 1 || l[0] != 2.0 {
		t.Errorf("%v", got.Bodies[0])
	}
}
