package parting

import (
	"bufio"
	"encoding/binary"
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// load reads the plain STL, OBJ, PLY and OFF files of the mesh set; corners are
// joined where their numbers are equal.
func load(t testing.TB, name string) *mesh.Mesh {
	raw, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	var p []vec.V3
	var f [][]int
	switch {
	case strings.HasSuffix(name, ".stl"):
		n := int(binary.LittleEndian.Uint32(raw[80:]))
		if len(raw) != 84+50*n { // the text form
			for line := range strings.Lines(string(raw)) {
				if w := strings.Fields(line); len(w) == 4 && w[0] == "vertex" {
					p = append(p, vec.V3{X: num(w[1]), Y: num(w[2]), Z: num(w[3])})
				}
			}
			for i := 0; i+2 < len(p); i += 3 {
				f = append(f, []int{i, i + 1, i + 2})
			}
			break
		}
		for i := range n {
			q := raw[84+50*i+12:]
			for k := range 3 {
				g := func(c int) float64 {
					return float64(math.Float32frombits(binary.LittleEndian.Uint32(q[12*k+4*c:])))
				}
				p = append(p, vec.V3{X: g(0), Y: g(1), Z: g(2)})
			}
			f = append(f, []int{3 * i, 3*i + 1, 3*i + 2})
		}
	case strings.HasSuffix(name, ".obj"):
		for line := range strings.Lines(string(raw)) {
			w := strings.Fields(line)
			if len(w) == 0 {
				continue
			}
			switch w[0] {
			case "v":
				p = append(p, vec.V3{X: num(w[1]), Y: num(w[2]), Z: num(w[3])})
			case "f":
				var g []int
				for _, s := range w[1:] {
					s, _, _ = strings.Cut(s, "/")
					k := int(num(s))
					if k < 0 {
						k += len(p) + 1
					}
					g = append(g, k-1)
				}
				f = append(f, g)
			}
		}
	case strings.HasSuffix(name, ".off"), strings.HasSuffix(name, ".ply"):
		p, f = polygons(t, name, raw)
	default:
		t.Fatal("format of ", name)
	}
	id := map[vec.V3]int32{}
	m := &mesh.Mesh{}
	at := make([]int32, len(p))
	for i, q := range p {
		k, ok := id[q]
		if !ok {
			k = int32(len(m.V))
			id[q] = k
			m.V = append(m.V, q)
		}
		at[i] = k
	}
	for _, g := range f {
		for k := 2; k < len(g); k++ {
			m.F = append(m.F, [3]int32{at[g[0]], at[g[k-1]], at[g[k]]})
		}
	}
	return m
}

func num(s string) float64 {
	x, _ := strconv.ParseFloat(s, 64)
	return x
}

func polygons(t testing.TB, name string, raw []byte) (p []vec.V3, f [][]int) {
	r := bufio.NewReader(strings.NewReader(string(raw)))
	var nv, nf, props, extra int
	bin := false
	if strings.HasSuffix(name, ".off") {
		r.ReadString('\n')
		fmt.Fscan(r, &nv, &nf, new(int))
		props = 3
	} else {
		for {
			line, err := r.ReadString('\n')
			if err != nil {
				t.Fatal(err)
			}
			w := strings.Fields(line)
			switch {
			case w[0] == "format":
				bin = w[1] == "binary_little_endian"
			case w[0] == "element" && w[1] == "vertex":
				nv = int(num(w[2]))
			case w[0] == "element":
				nf = int(num(w[2]))
			case w[0] == "property" && w[1] == "float":
				props++
			case w[0] == "property" && w[1] == "uchar":
				extra++ // of a face, after its corners
			}
			if w[0] == "end_header" {
				break
			}
		}
	}
	read := func() float64 {
		if bin {
			var x float32
			binary.Read(r, binary.LittleEndian, &x)
			return float64(x)
		}
		var x float64
		fmt.Fscan(r, &x)
		return x
	}
	for range nv {
		q := make([]float64, props)
		for k := range q {
			q[k] = read()
		}
		p = append(p, vec.V3{X: q[0], Y: q[1], Z: q[2]})
	}
	for range nf {
		n := 0
		if bin {
			b, _ := r.ReadByte()
			n = int(b)
		} else {
			fmt.Fscan(r, &n)
		}
		g := make([]int, n)
		for k := range g {
			if bin {
				var x int32
				binary.Read(r, binary.LittleEndian, &x)
				g[k] = int(x)
			} else {
				fmt.Fscan(r, &g[k])
			}
		}
		r.Discard(extra)
		f = append(f, g)
	}
	return p, f
}
