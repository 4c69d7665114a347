package meshfile

import (
	"bytes"
	"compress/gzip"
	"encoding/binary"
	"io"
	"strings"
	"testing"

	"pourwright/internal/ground/fault"
	"pourwright/internal/shape/mesh"
)

func gzipped(data []byte) []byte {
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	z.Write(data)
	z.Close()
	return b.Bytes()
}

// zeros packs n zero bytes behind a head.
func zeros(head string, n int64) []byte {
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	io.WriteString(z, head)
	io.CopyN(z, zero{}, n)
	z.Close()
	return b.Bytes()
}

type zero struct{}

func (zero) Read(p []byte) (int, error) { clear(p); return len(p), nil }

func TestPackedFilesGiveTheSameMesh(t *testing.T) {
	m := torus(40, 24)
	want := mesh.Canonical(m)
	for name, data := range map[string][]byte{
		"binary.stl.gz": stlBytes(m), "text.stl.gz": stlText(m), "a.obj.gz": objText17(m), "a.off.GZ": offBytes(m), "no-ending": objText17(m), "still.obj": objText17(m),
		"ascii.ply.gz": plyBytes(m, "ascii"), "little.ply.gz": plyBytes(m, "binary_little_endian"), "wide.obj.gz": wide16(string(objText17(m)), binary.BigEndian, true),
	} {
		packed := gzipped(data)
		if name == "a.obj.gz" { // two members, one after the other
			packed = append(gzipped(data[:1000]), gzipped(data[1000:])...)
		}
		got, facts, err := Parse(packed, name, Options{})
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		same(t, name, want, got)
		if facts.Bytes != int64(len(packed)) || (len(facts.Notes) > 0) != (name == "wide.obj.gz") {
			t.Errorf("%s: facts %+v", name, facts)
		}
	}
}

func TestWideTextGivesTheSameMesh(t *testing.T) {
	m := torus(40, 24)
	want := mesh.Canonical(m)
	for name, text := range map[string][]byte{"a.obj": objText17(m), "a.off": offBytes(m), "a.stl": stlText(m), "a.ply": plyBytes(m, "ascii")} {
		for _, order := range []binary.AppendByteOrder{binary.LittleEndian, binary.BigEndian} {
			for _, mark := range []bool{true, false} {
				got, facts, err := Parse(wide16(string(text), order, mark), name, Options{})
				if err != nil {
					t.Errorf("%s, %v, mark %v: %v", name, order, mark, err)
					continue
				}
				same(t, name, want, got)
				if len(facts.Notes) != 1 || !strings.Contains(facts.Notes[0], "UTF-16") {
					t.Errorf("%s: notes %q", name, facts.Notes)
				}
			}
		}
	}
}

func TestDecimalCommas(t *testing.T) {
	m := torus(40, 24)
	want := mesh.Canonical(m)
	for name, text := range map[string][]byte{"a.obj": objText17(m), "a.off": offBytes(m), "a.stl": stlText(m), "a.ply": plyBytes(m, "ascii")} {
		with := strings.ReplaceAll(string(text), ".", ",")
		if name == "a.ply" {
			with = strings.Replace(with, " 1,0", " 1.0", 1) // of the format itself
		}
		if name == "a.obj" {
			with = "# written by 3.14\n" + with
		}
		got, facts, err := Parse([]byte(with), name, Options{})
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		same(t, name, want, got)
		if len(facts.Notes) != 1 || !strings.Contains(facts.Notes[0], "decimal commas") {
			t.Errorf("%s: notes %q", name, facts.Notes)
		}
	}
	faces := "f 1 2 3\nf 1 2 4\n"
	for _, c := range []struct{ text, say string }{
		{"v 0,5 0 0\nv 1 0.5 0\nv 0 1 0\nv 0 0 1\n" + faces, "a.obj:2: the file has numbers with decimal commas and"},
		{"v 0.5 0 0\nv 1 0,5 0\nv 0 1 0\nv 0 0 1\n" + faces, "a.obj:2: the file has numbers with decimal commas and"},
		{"v 1,250 0 0\nv 12,500 0 0\nv 0 -1,000 0\nv 0 0 1\n" + faces, "between thousands"},
		{"v 1,250,000 0 0\n" + faces, "a.obj:1: \"1,250,000\" has commas where"},
		{"v 1,2,3\n" + faces, "a.obj:1: \"1,2,3\" has commas where"},
		{"v 1,5.2 0 0\n" + faces, "a.obj:1: \"1,5.2\" has commas where"},
		{"v 1,x 0 0\n" + faces, "has commas where"},
	} {
		_, _, err := Parse([]byte(c.text), "a.obj", Options{})
		if err == nil || fault.KindOf(err) != fault.Input || fault.HintOf(err) == "" || !strings.Contains(err.Error(), c.say) {
			t.Errorf("%q: said %v; want %q", c.text, err, c.say)
		}
	}
	// One number tells that all commas are decimal.
	got, _, err := Parse([]byte("v 1,250 0 0\nv 12,500 0 0\nv 0 -1,000 0\nv 0 0 0,500\n"+faces), "a.obj", Options{})
	if err != nil || got.Box().Max.X != 12.5 {
		t.Errorf("%v", err)
	}
}

func TestPackedFilesThatAreRefused(t *testing.T) {
	good := gzipped(stlBytes(torus(40, 24)))
	torn := bytes.Clone(good)
	torn[len(torn)-6] ^= 1
	for _, c := range []struct {
		what, say string
		data      []byte
	}{
		{"half", "damaged or was cut", good[:len(good)/2]},
		{"header", "no whole gzip file", good[:7]},
		{"checksum", "damaged or was cut", torn},
		{"bomb", "unfolds to more than the", zeros("", 200<<20)},
		{"bomb with a small size at its end", "unfolds to more than the", append(zeros("", 100<<20), zeros("", 1)...)},
		{"packed twice", "compressed file", gzipped(good)},
		{"3MF in gzip", "inside a gzip file", gzipped(model3MF(resources(tetra(1, "")) + built3MF))},
		{"no mesh", "no mesh of a format", gzipped([]byte("dear reader"))},
		{"nothing", "empty", gzipped(nil)},
	} {
		_, _, err := Parse(c.data, "a.stl.gz", Options{})
		if c.what == "no mesh" {
			_, _, err = Parse(c.data, "a.gz", Options{})
		}
		if err == nil || fault.KindOf(err) != fault.Input || fault.HintOf(err) == "" || !strings.Contains(err.Error(), c.say) {
			t.Errorf("%s: said %v; want %q", c.what, err, c.say)
		}
	}
}
