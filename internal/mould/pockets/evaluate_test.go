package pockets

import (
	"bufio"
	"bytes"
	"encoding/binary"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// meshes returns the folder of outside meshes, or "" with a line in the log.
func meshes(t testing.TB) string {
	dir := os.Getenv("POURWRIGHT_MESHES")
	if dir == "" {
		at, _ := os.Getwd()
		for at != "/" && at != "." {
			if _, err := os.Stat(filepath.Join(at, "go.mod")); err == nil {
				dir = filepath.Join(at, "..", "shared", "meshes")
				break
			}
			at = filepath.Dir(at)
		}
	}
	if _, err := os.Stat(filepath.Join(dir, "values.json")); err != nil {
		if os.Getenv("CI") != "" {
			t.Fatalf("the mesh set is missing: %v", err)
		}
		t.Log("not run: pockets of the outside meshes (needs the mesh set)")
		return ""
	}
	return dir
}

type values struct {
	Files map[string]struct {
		Kind string
		Read struct{ Volume float64 }
		Unit struct {
			Stated any
		}
		Pockets []struct {
			Up      [3]float64
			Trapped float64
			Tol     float64 `json:"trapped_tol"`
			Small   float64
			Good    bool `json:"reliable"`
			Tied    bool `json:"tied_tops"`
			Pockets []struct {
				Volume float64
				Top    *[3]float64
				Saddle float64
			}
		}
	}
}

func TestPocketsOfOutsideMeshes(t *testing.T) {
	dir := meshes(t)
	if dir == "" {
		return
	}
	raw, err := os.ReadFile(filepath.Join(dir, "values.json"))
	if err != nil {
		t.Fatal(err)
	}
	var v values
	if err := json.Unmarshal(raw, &v); err != nil {
		t.Fatal(err)
	}
	tested := 0
	for name, f := range v.Files {
		if f.Kind != "exact" && f.Kind != "sound" {
			continue
		}
		m := load(t, filepath.Join(dir, "files", name))
		if m == nil {
			continue
		}
		body := Prepare(m)
		if !body.closed {
			t.Errorf("%s: not taken as closed", name)
		}
		for _, p := range f.Pockets {
			s, err := body.Evaluate(vec.FromArray(p.Up), Outlets{}, 0)
			if err != nil {
				t.Fatal(err)
			}
			if d := math.Abs(s.Volume-f.Read.Volume) / f.Read.Volume; d > 1e-6 {
				t.Errorf("%s: volume %g, want %g", name, s.Volume, f.Read.Volume)
			}
			if !p.Good || p.Tied {
				continue
			}
			tested++
			d := math.Abs(s.Trapped - p.Trapped)
			t.Logf("%s up %v: trapped %g, theirs %g, off %.2g of V (band %.2g)", name, p.Up, s.Trapped, p.Trapped, d/f.Read.Volume, p.Tol/f.Read.Volume)
			if d > p.Tol+5e-3*f.Read.Volume {
				t.Errorf("%s up %v: trapped %g, want %g", name, p.Up, s.Trapped, p.Trapped)
			}
			if f.Kind == "exact" && len(s.Pockets) != len(p.Pockets) {
				t.Errorf("%s: %d pockets, want %d", name, len(s.Pockets), len(p.Pockets))
			}
			g, err := body.byColumns(vec.FromArray(p.Up).Unit(), Outlets{}, 400)
			if err != nil {
				t.Fatal(err)
			}
			area := 0.0
			for _, q := range s.Pockets {
				area += q.Area
			}
			band := p.Tol + 5e-3*f.Read.Volume + area*body.size/200
			if d := math.Abs(g.Trapped - p.Trapped); d > band {
				t.Errorf("%s up %v: by columns %g, want %g, band %g", name, p.Up, g.Trapped, p.Trapped, band)
			}
		}
	}
	t.Logf("%d directions", tested)
}

// load reads the little that these tests need; nil for other formats.
func load(t testing.TB, path string) *mesh.Mesh {
	raw, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	m := &mesh.Mesh{}
	face := func(ix []int32) {
		for k := 2; k < len(ix); k++ {
			m.F = append(m.F, [3]int32{ix[0], ix[k-1], ix[k]})
		}
	}
	num := func(s string) float64 {
		x, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(path, err)
		}
		return x
	}
	seen := map[vec.V3]int32{}
	put := func(p vec.V3) int32 {
		i, ok := seen[p]
		if !ok {
			i = int32(len(m.V))
			seen[p] = i
			m.V = append(m.V, p)
		}
		return i
	}
	sc := bufio.NewScanner(bytes.NewReader(raw))
	sc.Buffer(nil, 1<<24)
	switch filepath.Ext(path) {
	case ".obj":
		var to []int32
		for sc.Scan() {
			w := strings.Fields(sc.Text())
			if len(w) > 3 && w[0] == "v" {
				to = append(to, put(vec.V3{X: num(w[1]), Y: num(w[2]), Z: num(w[3])}))
			}
			if len(w) > 3 && w[0] == "f" {
				var ix []int32
				for _, s := range w[1:] {
					i, _ := strconv.Atoi(strings.SplitN(s, "/", 2)[0])
					if i < 0 {
						i += len(to) + 1
					}
					ix = append(ix, to[i-1])
				}
				face(ix)
			}
		}
	case ".off":
		var w []string
		for sc.Scan() {
			w = append(w, strings.Fields(strings.SplitN(sc.Text(), "#", 2)[0])...)
		}
		nv, nf := int(num(w[1])), int(num(w[2]))
		w = w[4:]
		var to []int32
		for range nv {
			to = append(to, put(vec.V3{X: num(w[0]), Y: num(w[1]), Z: num(w[2])}))
			w = w[3:]
		}
		for range nf {
			k := int(num(w[0]))
			var ix []int32
			for _, s := range w[1 : k+1] {
				ix = append(ix, to[int(num(s))])
			}
			face(ix)
			w = w[k+1:]
		}
	case ".stl":
		if n := binary.LittleEndian.Uint32(raw[80:]); len(raw) == 84+50*int(n) {
			for i := range int(n) {
				r := raw[84+50*i+12:]
				var ix []int32
				for k := range 3 {
					f := func(o int) float64 {
						return float64(math.Float32frombits(binary.LittleEndian.Uint32(r[12*k+o:])))
					}
					ix = append(ix, put(vec.V3{X: f(0), Y: f(4), Z: f(8)}))
				}
				face(ix)
			}
			break
		}
		var ix []int32
		for sc.Scan() {
			w := strings.Fields(sc.Text())
			if len(w) == 4 && w[0] == "vertex" {
				ix = append(ix, put(vec.V3{X: num(w[1]), Y: num(w[2]), Z: num(w[3])}))
			}
			if len(ix) == 3 {
				face(ix)
				ix = nil
			}
		}
	default:
		return nil
	}
	return m
}
