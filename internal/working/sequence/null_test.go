package sequence

import (
	"context"
	"encoding/json"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"

	"pourwright/internal/book/job"
	"pourwright/internal/book/plan"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/meshfile"
	"pourwright/internal/shape/sculpt"
)

// zeros returns the paths of all numbers of a document that are 0.
func zeros(path string, x any, out *[]string) {
	switch x := x.(type) {
	case map[string]any:
		for k, v := range x {
			zeros(path+"."+k, v, out)
		}
	case []any:
		for i, v := range x {
			zeros(fmt.Sprintf("%s[%d]", path, i), v, out)
		}
	case float64:
		if x == 0 {
			*out = append(*out, path)
		}
	}
}

// isZero are the numbers that may be 0 because that is what they are:
// components of points, directions and loops; what is counted or measured and
// found to be none.
var isZero = regexp.MustCompile(`\[[012]\]$|^\.master\.(genus|volume_band|read\.genus|repairs\[\d+\]\.volume_change)$|^\.split\.(locked_volume|locked_share|line_rise)$|` +
	`^\.stand\.(trapped_volume|trapped_share|trapped_share_unvented)$|^\.findings\[\d+\]\.(computed|limit)$|^\.tried\[\d+\]\.score$|` +
	`^\.figures\[\d+\]\.(inputs\.(cooling, K|y, mm|V_above, mm3|V_below, mm3|h2, mm|extra, \w+|hour, \w+/h|altitude, m)|value)$|^\.timing\.`)

// What was not computed is null, never 0: every zero of a plan is one that was
// found, in plans with and without a mould.
func TestWhatWasNotComputedIsNullNeverZero(t *testing.T) {
	demo, err := sculpt.Demo()
	if err != nil {
		t.Fatal(err)
	}
	hollow := sculpt.Ball(20, 24).Mesh
	inner := sculpt.Ball(8, 16).Mesh
	for i := range inner.F {
		inner.F[i][1], inner.F[i][2] = inner.F[i][2], inner.F[i][1]
	}
	hollow.Append(inner)
	for _, c := range []struct {
		name, text, verdict string
		m                   *mesh.Mesh
	}{
		{"demo", sculpt.DemoJob, plan.Pour, demo},
		{"plain", text("condensation-heat-30", ""), plan.Pour, sculpt.Box(60, 40, 8).Mesh},
		{"hollow", text("condensation-heat-30", ""), plan.No, hollow},
		{"too hot", text("addition-20", ""), plan.No, sculpt.Box(60, 40, 8).Mesh},
		{"waist", text("condensation-heat-40", "[split]\npull=[0,0,1]\n"), plan.No, sculpt.Turned([]vec.V2{{X: 0, Y: -16}, {X: 14, Y: -16}, {X: 14, Y: -10}, {X: 5, Y: -4}, {X: 5, Y: 4}, {X: 14, Y: 10}, {X: 14, Y: 16}, {X: 0, Y: 16}}, false, 48)},
	} {
		j, err := job.Parse("a.toml", []byte(c.text))
		if err != nil {
			t.Fatal(err)
		}
		var b strings.Builder
		if err := meshfile.WriteSTL(&b, c.m); err != nil {
			t.Fatal(err)
		}
		r, err := Make(context.Background(), j, Setting{Mesh: []byte(b.String())})
		if err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		var doc map[string]any
		if err := json.Unmarshal(r.JSON, &doc); err != nil {
			t.Fatal(err)
		}
		if doc["verdict"] != c.verdict {
			t.Errorf("%s: verdict %v", c.name, doc["verdict"])
		}
		var list []string
		zeros("", doc, &list)
		slices.Sort(list)
		for _, p := range list {
			if !isZero.MatchString(p) {
				t.Errorf("%s: %s is 0", c.name, p)
			}
		}
		fill := doc["fill"].(map[string]any)
		for k, v := range fill {
			if k != "computed" && v != nil {
				t.Errorf("%s: fill.%s is %v", c.name, k, v)
			}
		}
		order := doc["order"].(map[string]any)
		if no := c.verdict == plan.No; no != (order["shots"] == nil) || no != (order["moulds"] == nil) || no != (doc["block"] == nil) || no != (doc["metal"] == nil) ||
			no != (doc["cycle"].(map[string]any)["rest"] == nil) || no != (doc["freeze"].(map[string]any)["solid_after"] == nil) || no != (doc["stand"].(map[string]any)["trapped_share_unvented"] == nil) {
			t.Errorf("%s: order %v, cycle %v, freeze %v", c.name, order, doc["cycle"], doc["freeze"])
		}
		if m, ok := doc["metal"].(map[string]any); ok && c.name == "plain" && m["ladles"] != nil {
			t.Errorf("%s: %v ladles without a ladle", c.name, m["ladles"])
		}
	}
}
