// Body writes a mesh as the plain numbers that the peer programs read: two
// uint32 counts (corners, triangles), the corners as float64 x y z, the
// triangles as uint32 x 3, little endian. Every triangle may be cut into four
// first, so that a larger body of the same shape comes out.
//
//	go run ./bench/peers/body MESH CUTS OUT
package main

import (
	"bufio"
	"encoding/binary"
	"fmt"
	"os"
	"strconv"

	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/meshfile"
)

func main() {
	if err := run(os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

func run(args []string) error {
	if len(args) != 3 {
		return fmt.Errorf("usage: body MESH CUTS OUT")
	}
	cuts, err := strconv.Atoi(args[1])
	if err != nil {
		return err
	}
	m, _, err := meshfile.Read(args[0], meshfile.Options{KeepOrder: true})
	if err != nil {
		return err
	}
	for range cuts {
		m = cut(m)
	}
	f, err := os.Create(args[2])
	if err != nil {
		return err
	}
	w := bufio.NewWriter(f)
	for _, part := range []any{[2]uint32{uint32(len(m.V)), uint32(len(m.F))}, m.V, m.F} {
		if err := binary.Write(w, binary.LittleEndian, part); err != nil {
			return err
		}
	}
	if err := w.Flush(); err != nil {
		return err
	}
	return f.Close()
}

// cut parts every triangle into four at the middles of its edges.
func cut(m *mesh.Mesh) *mesh.Mesh {
	r := &mesh.Mesh{V: m.V}
	seen := map[[2]int32]int32{}
	mid := func(a, b int32) int32 {
		k := [2]int32{min(a, b), max(a, b)}
		i, ok := seen[k]
		if !ok {
			i = int32(len(r.V))
			seen[k] = i
			r.V = append(r.V, m.V[a].Lerp(m.V[b], 0.5))
		}
		return i
	}
	for _, t := range m.F {
		ab, bc, ca := mid(t[0], t[1]), mid(t[1], t[2]), mid(t[2], t[0])
		r.F = append(r.F, [3]int32{t[0], ab, ca}, [3]int32{ab, t[1], bc}, [3]int32{ca, bc, t[2]}, [3]int32{ab, bc, ca})
	}
	return r
}
