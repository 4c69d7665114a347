package meshfile

import (
	"bytes"
	"encoding/binary"
	"math"
	"slices"
	"strings"
	"testing"

	"pourwright/internal/ground/fault"
	"pourwright/internal/shape/mesh"
)

// tryAny parses and holds the result to what every caller relies on.
func tryAny(t *testing.T, data []byte, name string) {
	m, facts, err := Parse(data, name, Options{})
	if err != nil {
		if fault.KindOf(err) != fault.Input || fault.HintOf(err) == "" {
			t.Fatalf("error without kind or hint: %v", err)
		}
		return
	}
	if len(m.F) == 0 || facts.Triangles != len(m.F)+facts.Degenerate {
		t.Fatalf("%d triangles, facts %+v", len(m.F), facts)
	}
	for _, f := range m.F {
		if !mesh.Proper(f) {
			t.Fatal("a triangle names a corner twice")
		}
		for _, k := range f {
			if k < 0 || int(k) >= len(m.V) || !m.V[k].Finite() {
				t.Fatalf("corner %d of %d", k, len(m.V))
			}
		}
	}
	top := mesh.TopologyOf(m)
	mesh.NestOf(m, top)
	if v := m.Volume(); math.IsNaN(v) {
		t.Fatal("volume is no number")
	}
}

// Fuzz3MFModel writes the model part; the package round it is whole.
func Fuzz3MFModel(f *testing.F) {
	f.Add(resources(tetra(1, "")) + built3MF)
	f.Add(resources(tetra(1, `type="support"`)+`<object id="2"><components><component objectid="1" transform="-1 0 0 0 1 0 0 0 2 0 0 0"/><component p:path="/3D/a.model" objectid="1"/></components></object>`) +
		`<build><item objectid="2" transform="1 0 0 0 1 0 0 0 1 10 20 30"/><item objectid="1"/></build></model>`)
	f.Add("<?xml version='1.0'?><!-- x --><c:model xmlns:c='" + nsCore + "' requiredextensions='m' xmlns:m='urn:m' unit='foot'><![CDATA[<>]]>&amp;&#65;</c:model>")
	f.Add(string(wide16(resources(tetra(1, ""))+built3MF, binary.LittleEndian, true)))
	f.Add(strings.NewReplacer(` x="6"`, ` a="1" x="6"`, `y="1"`, `y="&#49;"`, `v3="1"/>`, `v3="1" />`, `v2="3"`, `v2='3'`).Replace(resources(tetra(1, "")) + built3MF))
	f.Fuzz(func(t *testing.T, text string) {
		data := model3MF(text)
		tryAny(t, data, "a.3mf")
		// The quick way through tags gives what the slow way gives.
		quick, slow := newBuilder("a", &Facts{}), newBuilder("a", &Facts{})
		err, other := read3MFAs(data, quick, false), read3MFAs(data, slow, true)
		if (err == nil) != (other == nil) || err == nil && !slices.Equal(quick.f, slow.f) || err != nil && err.Error() != other.Error() {
			t.Fatalf("%v, the slow way %v", err, other)
		}
	})
}

// Fuzz3MFPackage writes the bytes of the package.
func Fuzz3MFPackage(f *testing.F) {
	one := resources(tetra(1, "")) + built3MF
	f.Add(model3MF(one))
	f.Add(pack("_rels/.rels", rels3MF, "3D/a.model", head3MF+`<resources/><build><item p:path="/3D/b.model" objectid="5"/></build></model>`, "3D/b.model", resources(tetra(5, ""))+"</model>"))
	var b bytes.Buffer
	if err := Write3MF(&b, Object{"a", torus(3, 3)}); err != nil {
		f.Fatal(err)
	}
	f.Add(b.Bytes())
	f.Fuzz(func(t *testing.T, data []byte) {
		tryAny(t, append([]byte("PK\x03\x04"), data[min(len(data), 4):]...), "a.3mf")
	})
}

// FuzzXML holds the reader of XML to encoding/xml: what both take, both take
// alike.
func FuzzXML(f *testing.F) {
	f.Add(resources(tetra(1, "")) + built3MF)
	f.Add(`<a b="1" c='2'><!-- x --><d e="&lt;&gt;&amp;&quot;&apos;&#65;&#x42;"/>text<![CDATA[<z>]]></a>`)
	f.Add(`<x:a xmlns:x="urn:1" xmlns="urn:2"><b x:c="3" d="4"/><x:b xmlns:x="urn:5" x:e="6"/><b xmlns=""/></x:a>`)
	f.Add(`<a xmlns:x="urn:1" :x="1" y:="2" x:y:z="3"/>`)
	f.Fuzz(func(t *testing.T, text string) {
		text = strings.ReplaceAll(text, "\r", " ") // encoding/xml makes line ends of them
		ours, err := walkOurs(text)
		theirs, other := walkTheirs(text)
		if err == nil && other == nil && ours != theirs {
			t.Errorf("%q:\nours   %s\ntheirs %s", text, ours, theirs)
		}
	})
}

// FuzzGLTF writes the document; its buffers are data: URIs or the bytes.
func FuzzGLTF(f *testing.F) {
	for _, c := range gltfTests() {
		if text, rest, ok := bytes.Cut(c.data, []byte("BIN\x00")); ok && len(text) > 24 {
			f.Add(string(text[20:len(text)-4]), rest)
		} else {
			f.Add(string(c.data), []byte(nil))
		}
	}
	f.Fuzz(func(t *testing.T, text string, buffer []byte) { tryAny(t, glbOf(text, buffer), "a.glb") })
}

// FuzzGLB writes the bytes of the file.
func FuzzGLB(f *testing.F) {
	f.Add(tetraScene().glb())
	f.Add(tetraScene().gltf())
	f.Fuzz(func(t *testing.T, data []byte) {
		tryAny(t, append([]byte("glTF\x02\x00\x00\x00"), data[min(len(data), 8):]...), "a.glb")
	})
}

// FuzzText tries what every text goes through: gzip, UTF-16, commas.
func FuzzText(f *testing.F) {
	for k, name := range []string{"a.obj", "a.off", "a.stl", "a.ply"} {
		text := [][]byte{objText17(torus(3, 3)), offBytes(torus(3, 3)), stlText(torus(3, 3)), plyBytes(torus(3, 3), "ascii")}[k]
		f.Add(name, text, byte(0))
		f.Add(name, bytes.ReplaceAll(text, []byte("."), []byte(",")), byte(1))
		f.Add(name, wide16(string(text), binary.BigEndian, false), byte(1))
		f.Add(name, gzipped(text), byte(0))
	}
	f.Fuzz(func(t *testing.T, name string, data []byte, packed byte) {
		if packed == 1 {
			data = gzipped(data)
		}
		tryAny(t, data, name)
	})
}

func FuzzSTL(f *testing.F) {
	m := torus(3, 3)
	f.Add(stlBytes(m))
	f.Add(stlText(m))
	f.Add([]byte("solid a\nfacet normal 0 0 1\nouter loop\nvertex 0 0 0\nvertex 1 0 0\nvertex 0 1 0\nendloop\nendfacet\nendsolid"))
	f.Add([]byte("solid\n"))
	f.Fuzz(func(t *testing.T, data []byte) { tryAny(t, data, "a.stl") })
}

func FuzzOBJ(f *testing.F) {
	f.Add(objText17(torus(3, 3)))
	f.Add([]byte("v 0 0 0\nv 1 0 0\nv 0 \\\n1 0\nf -1 -2 -3\nf 1/1 2/2/2 3//3\no x\nl 1 2"))
	f.Add([]byte("\xff\xfev\x00 \x001\x00"))
	f.Fuzz(func(t *testing.T, data []byte) { tryAny(t, data, "a.obj") })
}

func FuzzPLY(f *testing.F) {
	m := torus(3, 3)
	for _, form := range []string{"ascii", "binary_little_endian", "binary_big_endian"} {
		f.Add(plyBytes(m, form))
	}
	f.Add([]byte("ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty float z\nelement tristrips 1\nproperty list int int vertex_indices\nend_header\n0 0 0\n1 0 0\n0 1 0\n3 0 1 2\n"))
	f.Fuzz(func(t *testing.T, data []byte) { tryAny(t, data, "a.ply") })
}

func FuzzOFF(f *testing.F) {
	f.Add(offBytes(torus(3, 3)))
	f.Add([]byte("OFF 3 1 0\n0 0 0\n1 0 0\n0 1 0\n3 0 1 2"))
	f.Fuzz(func(t *testing.T, data []byte) { tryAny(t, data, "a.off") })
}
