// Command plan writes what bench/run measures: a body of 280 000 triangles, 60 mm
// long (a scan with each triangle cut into four; without the scan a ball of
// about as many), and its job.
//
//	go run ./bench/plan SCAN.obj DIR
package main

import (
	"fmt"
	"os"
	"path/filepath"

	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/meshfile"
	"pourwright/internal/shape/sculpt"
)

const job = `title = "Bust"
[master]
mesh = "part.stl"
unit = "mm"
[rubber]
kind = "condensation-heat-30"
[alloy]
kind = "pewter-92-7-1"
[order]
castings = 4
use = "decor"
`

func main() {
	if len(os.Args) != 3 {
		fmt.Fprintln(os.Stderr, "usage: plan SCAN.obj DIR")
		os.Exit(2)
	}
	if err := run(os.Args[1], os.Args[2]); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

func run(scan, dir string) error {
	m, _, err := meshfile.Read(scan, meshfile.Options{})
	if err == nil {
		m = quartered(m)
	} else {
		fmt.Fprintln(os.Stderr, "without the scan, a ball:", err)
		m = sculpt.Ball(30, 390).Mesh
	}
	k := 60 / m.Box().Longest()
	for i := range m.V {
		m.V[i] = m.V[i].Mul(k)
	}
	if err := meshfile.SaveSTL(filepath.Join(dir, "part.stl"), m); err != nil {
		return err
	}
	fmt.Printf("%d triangles\n", len(m.F))
	return os.WriteFile(filepath.Join(dir, "job.toml"), []byte(job), 0o644)
}

// quartered cuts every triangle into four.
func quartered(m *mesh.Mesh) *mesh.Mesh {
	r := &mesh.Mesh{V: m.V}
	opp := mesh.Opposite(m)
	mid := make([]int32, len(opp))
	for h := range opp {
		if o := opp[h]; o >= 0 && int(o) < h {
			mid[h] = mid[o]
			continue
		}
		mid[h] = int32(len(r.V))
		r.V = append(r.V, m.V[m.Tail(int32(h))].Lerp(m.V[m.Head(int32(h))], 0.5))
	}
	for i, f := range m.F {
		x, y, z := mid[3*i], mid[3*i+1], mid[3*i+2]
		r.F = append(r.F, [3]int32{f[0], x, z}, [3]int32{x, f[1], y}, [3]int32{z, y, f[2]}, [3]int32{x, y, z})
	}
	return r
}
