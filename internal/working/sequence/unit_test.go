package sequence

import (
	"context"
	"encoding/base64"
	"encoding/binary"
	"fmt"
	"math"
	"strings"
	"testing"
)

// cube is a glTF document of a cube of the side given.
func cube(side float32) []byte {
	var b []byte
	for i := range 8 {
		for k := range 3 {
			b = binary.LittleEndian.AppendUint32(b, math.Float32bits(side*float32(i>>k&1)))
		}
	}
	b = append(b, 0, 2, 3, 0, 3, 1, 4, 5, 7, 4, 7, 6, 0, 1, 5, 0, 5, 4, 2, 6, 7, 2, 7, 3, 0, 4, 6, 0, 6, 2, 1, 3, 7, 1, 7, 5)
	return fmt.Appendf(nil, `{"asset":{"version":"2.0"},"scenes":[{"nodes":[0]}],"nodes":[{"mesh":0}],"meshes":[{"primitives":[{"attributes":{"POSITION":0},"indices":1}]}],`+
		`"accessors":[{"bufferView":0,"componentType":5126,"count":8,"type":"VEC3"},{"bufferView":1,"componentType":5121,"count":36,"type":"SCALAR"}],`+
		`"bufferViews":[{"buffer":0,"byteLength":96},{"buffer":0,"byteOffset":96,"byteLength":36}],"buffers":[{"byteLength":%d,"uri":"data:application/gltf-buffer;base64,%s"}]}`,
		len(b), base64.StdEncoding.EncodeToString(b))
}

// TestUnitThatAFileStates takes it, says so where it fits no master, and gives
// way to the unit that a person names.
func TestUnitThatAFileStates(t *testing.T) {
	for _, c := range []struct {
		side     float32
		unit     string
		volume   float64
		saidUnit string
		from     string
		note     string
	}{
		{0.0625, "", 62.5 * 62.5 * 62.5, "m", "file", ""},
		{64, "", 64e3 * 64e3 * 64e3, "m", "file", "the file states m, so its longest side is 64000 mm, which is no master of 5 to 600 mm; taken as mm it would be 64 mm."},
		{64, "mm", 64 * 64 * 64, "mm", "flag", "the file states m; its numbers were taken as mm, as named."},
		{0.0625, "m", 62.5 * 62.5 * 62.5, "m", "flag", ""},
	} {
		said, notes, err := Inspect(context.Background(), Look{Source: Source{Path: "cube.gltf", Data: cube(c.side), Unit: c.unit, From: "flag"}}, nil)
		if err != nil {
			t.Fatal(err)
		}
		m := said.Master
		if math.Abs(m.Volume/c.volume-1) > 1e-12 || m.Unit != c.saidUnit || m.UnitFrom != c.from {
			t.Errorf("side %g, unit %q: volume %g in %s (%s)", c.side, c.unit, m.Volume, m.Unit, m.UnitFrom)
		}
		got := ""
		for _, n := range notes {
			if n.Code == "unit" {
				got += n.Say
			}
		}
		if got != c.note || c.note != "" && !strings.Contains(notes[0].Do, "measure") {
			t.Errorf("side %g, unit %q: note %q", c.side, c.unit, got)
		}
	}
}
