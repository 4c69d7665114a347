// Command make writes the meshes of the examples beside their jobs:
//
//	go run ./examples/make
//
// The meshes are made by code, so none is kept in the repository.
package main

import (
	"fmt"
	"os"
	"path/filepath"

	"pourwright/examples"
	"pourwright/internal/shape/meshfile"
)

func main() {
	root := "examples"
	if len(os.Args) > 1 {
		root = os.Args[1]
	}
	for _, p := range examples.Pieces() {
		m, err := p.Make()
		if err == nil {
			err = os.MkdirAll(filepath.Join(root, p.Name), 0o755)
		}
		if err == nil {
			err = meshfile.SaveSTL(filepath.Join(root, p.Name, p.Mesh), m)
		}
		if err != nil {
			fmt.Fprintf(os.Stderr, "%s: %v\n", p.Name, err)
			os.Exit(1)
		}
		s := m.Box().Size()
		fmt.Printf("%-22s %6d triangles  %5.1f x %5.1f x %5.1f mm  %8.1f mm3\n", p.Name, len(m.F), s.X, s.Y, s.Z, m.Volume())
	}
}
