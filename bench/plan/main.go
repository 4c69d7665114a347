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

	"pourwright/internal/shape/meshfile"
	"pourwright/internal/shape/sculpt"
	"pourwright/validation/outside"
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
		m = outside.Quartered(m)
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
