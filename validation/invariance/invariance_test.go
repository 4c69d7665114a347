// Package invariance plans the same master as it is, turned at random and moved
// by 10 000 times its size, and twice as large. Geometry must not notice.
package invariance

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"pourwright/examples"
	"pourwright/internal/book/job"
	"pourwright/internal/book/plan"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/meshfile"
	"pourwright/internal/shape/sculpt"
	"pourwright/internal/working/sequence"
	"pourwright/validation/outside"
)

// Bands: of the volume.
const volumeTol, lockedTol, pocketTol = 1e-5, 2e-3, 5e-3

type master struct {
	name     string
	mesh     *mesh.Mesh
	pull, up vec.V3
}

// obj writes the mesh with 17 digits.
func obj(m *mesh.Mesh) []byte {
	var b bytes.Buffer
	put := func(x float64) { b.WriteByte(' '); b.WriteString(strconv.FormatFloat(x, 'g', 17, 64)) }
	for _, p := range m.V {
		b.WriteByte('v')
		put(p.X)
		put(p.Y)
		put(p.Z)
		b.WriteByte('\n')
	}
	for _, t := range m.F {
		fmt.Fprintf(&b, "f %d %d %d\n", t[0]+1, t[1]+1, t[2]+1)
	}
	return b.Bytes()
}

// planOf plans the mesh with pull and up given.
func planOf(t *testing.T, m *mesh.Mesh, pull, up vec.V3) *plan.Plan {
	text := fmt.Sprintf(`[master]
mesh = "piece.obj"
unit = "mm"
[rubber]
kind = "condensation-heat-30"
[alloy]
kind = "pewter-92-7-1"
origin = "certified"
[order]
castings = 10
use = "decor"
[split]
pull = [%.17g, %.17g, %.17g]
[stand]
up = [%.17g, %.17g, %.17g]
`, pull.X, pull.Y, pull.Z, up.X, up.Y, up.Z)
	j, err := job.Parse(filepath.Join(t.TempDir(), "job.toml"), []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	r, err := sequence.Make(context.Background(), j, sequence.Setting{Mesh: obj(m)})
	if err != nil {
		t.Fatal(err)
	}
	var p plan.Plan
	if err := json.Unmarshal(r.JSON, &p); err != nil {
		t.Fatal(err)
	}
	return &p
}

func masters(t *testing.T) []master {
	y, z := vec.V3{Y: 1}, vec.V3{Z: 1}
	list := []master{
		{"U", sculpt.U(6, 8, 20, 14, 7).Mesh, y, z},
		{"linked rings", sculpt.Links(10, 2.5, 2, 96, 32).Mesh, z, y},
	}
	full := os.Getenv("POURWRIGHT_FULL") == "1"
	for _, p := range examples.Pieces() {
		if p.Name == "fern-pull" || p.Name == "drawer-pull" || full {
			m, err := p.Make()
			if err != nil {
				t.Fatal(err)
			}
			list = append(list, master{p.Name, m, z, y.Mul(-1)})
		}
	}
	dir := outside.Meshes(t)
	if dir == "" {
		return list
	}
	names := []string{"goathead.obj", "spot_low.obj"}
	if full {
		names = whole(t, dir)
	}
	for _, n := range names {
		m, _, err := meshfile.Read(filepath.Join(dir, "files", n), meshfile.Options{})
		if err != nil {
			t.Fatal(err)
		}
		k := 60 / m.Box().Longest()
		list = append(list, master{n, scaled(m, k), vec.V3{X: 1, Y: 0.2, Z: 0.1}.Unit(), vec.V3{X: -0.2, Y: 1}.Unit()})
	}
	return list
}

// whole lists the exact and the sound meshes of the set.
func whole(t *testing.T, dir string) []string {
	names, files := outside.Values[struct{ Kind, Format string }](t, dir)
	var list []string
	for _, n := range names {
		if x := files[n]; (x.Kind == "sound" || x.Kind == "exact") && x.Format != "3mf" && x.Format != "glb" {
			list = append(list, n)
		}
	}
	return list
}

func scaled(m *mesh.Mesh, k float64) *mesh.Mesh {
	r := &mesh.Mesh{V: make([]vec.V3, len(m.V)), F: m.F}
	for i, p := range m.V {
		r.V[i] = p.Mul(k)
	}
	return r
}

// same compares two plans whose volumes should be k to one.
func same(t *testing.T, what string, a, b *plan.Plan, k float64) {
	t.Helper()
	v := a.Master.Volume * k
	for _, c := range []struct {
		name      string
		got, want float64
		tol       float64
	}{
		{"volume", b.Master.Volume, v, volumeTol},
		{"locked volume", b.Split.LockedVolume, a.Split.LockedVolume * k, lockedTol},
		{"trapped volume", b.Stand.TrappedVolume, a.Stand.TrappedVolume * k, pocketTol},
	} {
		if math.Abs(c.got-c.want) > c.tol*v {
			t.Errorf("%s: %s %.8g, want %.8g (%.2g of the volume)", what, c.name, c.got, c.want, (c.got-c.want)/v)
		}
	}
}

func TestTurnedAndMoved(t *testing.T) {
	for i, m := range masters(t) {
		t.Run(m.name, func(t *testing.T) {
			r := rand.New(rand.NewPCG(uint64(i), 11))
			g := func() vec.V3 { return vec.V3{X: r.NormFloat64(), Y: r.NormFloat64(), Z: r.NormFloat64()} }
			f := vec.Standing(g(), g())
			f.Origin = g().Unit().Mul(1e4 * m.mesh.Box().Longest())
			base := planOf(t, m.mesh, m.pull, m.up)
			away := planOf(t, m.mesh.OutOf(f), f.FromDir(m.pull), f.FromDir(m.up))
			same(t, "turned and moved", base, away, 1)
			if base.Verdict != away.Verdict {
				t.Errorf("verdict %s, turned and moved %s", base.Verdict, away.Verdict)
				for _, p := range []*plan.Plan{base, away} {
					for _, x := range p.Findings {
						if x.Severity != plan.Note {
							t.Logf("%s: %s %s: %s", p.Verdict, x.Severity, x.Code, x.Say)
						}
					}
				}
			}
			same(t, "twice as large", base, planOf(t, scaled(m.mesh, 2), m.pull, m.up), 8)
		})
	}
}
