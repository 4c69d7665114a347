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

	"pourwright/internal/shape/meshfile"
	"pourwright/validation/outside"
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
		m = outside.Quartered(m)
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
