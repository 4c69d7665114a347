package solid

import (
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/meshfile"
)

func TestProbe(t *testing.T) {
	dir := "/work/shared/meshes/files"
	es, _ := os.ReadDir(dir)
	for _, e := range es {
		n := e.Name()
		switch filepath.Ext(n) {
		case ".stl", ".obj", ".ply", ".off":
		default:
			continue
		}
		m, _, err := meshfile.Read(filepath.Join(dir, n), meshfile.Options{})
		if err != nil {
			continue
		}
		b := m.Box()
		if m.Volume() <= 0 {
			continue
		}
		s := 60 / b.Longest()
		q := &mesh.Mesh{F: m.F}
		for _, p := range m.V {
			q.V = append(q.V, p.Sub(b.Centre()).Mul(s))
		}
		z := q.Box().Size().Mul(0.5)
		for _, mode := range []string{"wavy", "flat", "back"} {
			c := Block(vec.Box{Min: z.Mul(-1).Sub(vec.V3{X: 12, Y: 12, Z: 12}), Max: z.Add(vec.V3{X: 12, Y: 12, Z: 12})}, Half1)
			bv := c.Volume(Half1)
			f := func(x, y float64) float64 { return 2 * math.Sin(x/7) * math.Cos(y/9) }
			re := metal
			if mode == "flat" {
				f = func(x, y float64) float64 { return 0 }
			}
			if mode == "back" {
				f = func(x, y float64) float64 { return -z.Z }
				re = func(l Label) Label {
					if l == Half1 {
						return Metal
					}
					return l
				}
			}
			if err := c.Insert(sheetMesh(50, 100, f), below); err != nil {
				t.Errorf("%s %s: sheet: %v", n, mode, err)
				continue
			}
			t0 := time.Now()
			if err := c.Insert(q, re); err != nil {
				t.Errorf("%s %s: %v", n, mode, err)
				continue
			}
			d := time.Since(t0)
			sum := 0.0
			for l := Metal; l <= Void; l++ {
				sum += c.Volume(l)
			}
			t.Logf("%-28s %s %6d tris %8.1f ms  V %+.2e  sum %+.1e  crossings %d", n, mode, len(q.F), d.Seconds()*1e3, c.Volume(Metal)/q.Volume()-1, sum/bv-1, len(c.Crossings()))
		}
	}
}
