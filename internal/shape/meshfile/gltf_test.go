package meshfile

import (
	"encoding/base64"
	"encoding/binary"
	"fmt"
	"math"
	"strings"
	"testing"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// glbOf packs a document and a buffer.
func glbOf(text string, buffer []byte) []byte {
	for len(text)%4 != 0 {
		text += " "
	}
	for len(buffer)%4 != 0 {
		buffer = append(buffer, 0)
	}
	b := []byte("glTF\x02\x00\x00\x00")
	size := 20 + len(text)
	if buffer != nil {
		size += 8 + len(buffer)
	}
	b = binary.LittleEndian.AppendUint32(b, uint32(size))
	b = binary.LittleEndian.AppendUint32(b, uint32(len(text)))
	b = append(append(b, "JSON"...), text...)
	if buffer != nil {
		b = binary.LittleEndian.AppendUint32(b, uint32(len(buffer)))
		b = append(append(b, "BIN\x00"...), buffer...)
	}
	return b
}

// scene is a document of one buffer: positions from accessor 0, corner numbers
// from accessor 1.
type scene struct {
	buffer    []byte
	views     []string
	accessors []string
	primitive string
	nodes     string
	more      string
}

// add puts bytes into the buffer as a view and returns its number.
func (s *scene) add(data []byte, extra string) int {
	for len(s.buffer)%4 != 0 {
		s.buffer = append(s.buffer, 0xee)
	}
	s.views = append(s.views, fmt.Sprintf(`{"buffer":0,"byteOffset":%d,"byteLength":%d%s}`, len(s.buffer), len(data), extra))
	s.buffer = append(s.buffer, data...)
	return len(s.views) - 1
}

func (s *scene) text(buffer string) string {
	nodes := s.nodes
	if nodes == "" {
		nodes = `{"mesh":0}`
	}
	return fmt.Sprintf(`{"asset":{"version":"2.0"},%s"scene":0,"scenes":[{"nodes":[0]}],"nodes":[%s],"meshes":[{"primitives":[%s]}],"accessors":[%s],"bufferViews":[%s],"buffers":[{%s"byteLength":%d}]}`,
		s.more, nodes, s.primitive, strings.Join(s.accessors, ","), strings.Join(s.views, ","), buffer, len(s.buffer))
}

func (s *scene) glb() []byte { return glbOf(s.text(""), s.buffer) }

func (s *scene) gltf() []byte {
	return []byte(s.text(`"uri":"data:application/octet-stream;base64,` + base64.StdEncoding.EncodeToString(s.buffer) + `",`))
}

// tetraPoints and tetraFaces are the tetrahedron of volume 1/6 with corners at
// the origin and one along each axis.
var (
	tetraPoints = []vec.V3{{}, {X: 1}, {Y: 1}, {Z: 1}}
	tetraFaces  = []uint32{0, 2, 1, 0, 1, 3, 1, 2, 3, 2, 0, 3}
)

func floats(points []vec.V3, gap int) []byte {
	var b []byte
	for _, p := range points {
		for _, x := range p.Array() {
			b = binary.LittleEndian.AppendUint32(b, math.Float32bits(float32(x)))
		}
		b = append(b, make([]byte, gap)...)
	}
	return b
}

func wholes(numbers []uint32, size int) []byte {
	var b []byte
	for _, n := range numbers {
		for k := range size {
			b = append(b, byte(n>>(8*k)))
		}
	}
	return b
}

const tetraPrimitive = `{"attributes":{"POSITION":0},"indices":1}`

// tetraScene holds the tetrahedron as float32 with corner numbers of uint16.
func tetraScene() *scene {
	s := &scene{primitive: tetraPrimitive}
	s.add(floats(tetraPoints, 0), "")
	s.add(wholes(tetraFaces, 2), "")
	s.accessors = []string{`{"bufferView":0,"componentType":5126,"count":4,"type":"VEC3"}`, `{"bufferView":1,"componentType":5123,"count":12,"type":"SCALAR"}`}
	return s
}

func nodes(s string) *scene {
	t := tetraScene()
	t.nodes = s
	return t
}

// gltfTest is a document with the volume, the shells and the highest corner that
// the specification gives it, and the number of notes.
type gltfTest struct {
	what   string
	data   []byte
	volume float64
	shells int
	top    vec.V3
	notes  int
}

func gltfTests() []gltfTest {
	one := vec.V3{X: 1, Y: 1, Z: 1}
	tests := []gltfTest{
		{"glb", tetraScene().glb(), 1. / 6, 1, one, 0},
		{"gltf", tetraScene().gltf(), 1. / 6, 1, one, 0},
		{"moved", nodes(`{"mesh":0,"translation":[1,2,3]}`).glb(), 1. / 6, 1, vec.V3{X: 2, Y: 3, Z: 4}, 0},
		{"scaled", nodes(`{"mesh":0,"scale":[2,3,4]}`).glb(), 4, 1, vec.V3{X: 2, Y: 3, Z: 4}, 0},
		{"mirrored", nodes(`{"mesh":0,"scale":[-2,3,4]}`).glb(), 4, 1, vec.V3{X: 0, Y: 3, Z: 4}, 0},
		// A quarter turn about z takes x to y and y to -x; scale comes first, translation last.
		{"turned", nodes(`{"mesh":0,"rotation":[0,0,0.70710678118654752,0.70710678118654752],"scale":[5,1,1],"translation":[0,0,7]}`).glb(), 5. / 6, 1, vec.V3{X: 0, Y: 5, Z: 8}, 0},
		{"matrix", nodes(`{"mesh":0,"matrix":[0,5,0,0, -1,0,0,0, 0,0,1,0, 0,0,7,1]}`).glb(), 5. / 6, 1, vec.V3{X: 0, Y: 5, Z: 8}, 0},
		{"nested", nodes(`{"children":[1,2],"scale":[2,2,2]},{"mesh":0,"translation":[10,0,0]},{"children":[3],"scale":[-1,1,1]},{"mesh":0}`).glb(), 2 * 8. / 6, 2, vec.V3{X: 22, Y: 2, Z: 2}, 0},
		{"one mesh in two nodes", nodes(`{"children":[1,2]},{"mesh":0},{"mesh":0,"translation":[0,5,0]}`).glb(), 2. / 6, 2, vec.V3{X: 1, Y: 6, Z: 1}, 0},
		{"node outside the scene", nodes(`{"mesh":0},{"mesh":0,"translation":[9,9,9]}`).glb(), 1. / 6, 1, one, 0},
		{"plain extension", func() []byte {
			s := tetraScene()
			s.more = `"extensionsRequired":["KHR_materials_unlit","KHR_mesh_quantization"],`
			return s.glb()
		}(), 1. / 6, 1, one, 0},
		{"36.0", func() []byte {
			s := tetraScene()
			s.accessors[1] = `{"bufferView":1.0,"componentType":5123.0,"count":12.0,"type":"SCALAR","byteOffset":0.0}`
			return s.glb()
		}(), 1. / 6, 1, one, 0},
		{"points too", func() []byte {
			s := tetraScene()
			s.primitive += `,{"attributes":{"POSITION":0},"mode":0},{"attributes":{"POSITION":0},"mode":1}`
			return s.glb()
		}(), 1. / 6, 1, one, 1},
		{"morph targets", func() []byte { s := tetraScene(); s.primitive += `],"weights":[0.5`; return s.glb() }(), 1. / 6, 1, one, 1},
		{"skin", nodes(`{"mesh":0,"skin":0}`).glb(), 1. / 6, 1, one, 1},
		{"no scene", []byte(strings.Replace(string(tetraScene().gltf()), `"scene":0,"scenes":[{"nodes":[0]}],`, "", 1)), 1. / 6, 1, one, 1},
		{"no nodes", []byte(strings.Replace(string(tetraScene().gltf()), `"scene":0,"scenes":[{"nodes":[0]}],"nodes":[{"mesh":0}],`, "", 1)), 1. / 6, 1, one, 1},
		{"gltf, marked and indented", []byte("\xef\xbb\xbf\n\t" + strings.ReplaceAll(string(tetraScene().gltf()), `,"`, ",\n  \"")), 1. / 6, 1, one, 0},
		{"bytes after the end", append(tetraScene().glb(), 1, 2, 3), 1. / 6, 1, one, 1},
	}
	for size, component := range map[int]int{1: 5121, 2: 5123, 4: 5125} {
		s := &scene{primitive: tetraPrimitive}
		s.add(append([]byte("skip"), floats(tetraPoints, 8)...), `,"byteStride":20`)
		s.add(append(make([]byte, 4), wholes(tetraFaces, size)...), "")
		s.accessors = []string{`{"bufferView":0,"byteOffset":4,"componentType":5126,"count":4,"type":"VEC3"}`, fmt.Sprintf(`{"bufferView":1,"byteOffset":4,"componentType":%d,"count":12,"type":"SCALAR"}`, component)}
		tests = append(tests, gltfTest{fmt.Sprintf("stride, indices of %d bytes", size), s.glb(), 1. / 6, 1, one, 0})
	}
	// Quantised corners: 100 of each unit, or shares of the largest.
	for _, q := range []struct {
		component, size int
		normalized      bool
		full            uint32
		edge            float64
	}{{5120, 1, false, 100, 100}, {5120, 1, true, 127, 1}, {5121, 1, false, 200, 200}, {5121, 1, true, 255, 1}, {5122, 2, false, 30000, 30000}, {5122, 2, true, 32767, 1}, {5123, 2, false, 60000, 60000}, {5123, 2, true, 65535, 1}} {
		s := &scene{primitive: tetraPrimitive}
		var n []uint32
		for _, p := range tetraPoints {
			n = append(n, uint32(p.X)*q.full, uint32(p.Y)*q.full, uint32(p.Z)*q.full)
		}
		s.add(wholes(n, q.size), "")
		s.add(wholes(tetraFaces, 1), "")
		s.accessors = []string{fmt.Sprintf(`{"bufferView":0,"componentType":%d,"normalized":%v,"count":4,"type":"VEC3"}`, q.component, q.normalized), `{"bufferView":1,"componentType":5121,"count":12,"type":"SCALAR"}`}
		tests = append(tests, gltfTest{fmt.Sprintf("component %d, normalized %v", q.component, q.normalized), s.glb(), q.edge * q.edge * q.edge / 6, 1, one.Mul(q.edge), 0})
	}
	// Strip, fan and bare corners.
	for _, p := range []struct {
		mode  int
		order []uint32
	}{{5, []uint32{0, 2, 1, 3, 0, 2}}, {4, tetraFaces}} {
		for _, bare := range []bool{false, true} {
			s := &scene{primitive: fmt.Sprintf(`{"attributes":{"POSITION":0},"indices":1,"mode":%d}`, p.mode)}
			points := tetraPoints
			if bare {
				s.primitive = fmt.Sprintf(`{"attributes":{"POSITION":0},"mode":%d}`, p.mode)
				points = nil
				for _, k := range p.order {
					points = append(points, tetraPoints[k])
				}
			}
			s.add(floats(points, 0), "")
			s.add(wholes(p.order, 4), "")
			s.accessors = []string{fmt.Sprintf(`{"bufferView":0,"componentType":5126,"count":%d,"type":"VEC3"}`, len(points)), fmt.Sprintf(`{"bufferView":1,"componentType":5125,"count":%d,"type":"SCALAR"}`, len(p.order))}
			tests = append(tests, gltfTest{fmt.Sprintf("mode %d, bare %v", p.mode, bare), s.glb(), 1. / 6, 1, one, 0})
		}
	}
	// A fan of the three sides at the origin, and the fourth side as a list.
	s := &scene{primitive: `{"attributes":{"POSITION":0},"indices":1,"mode":6},{"attributes":{"POSITION":0},"indices":2}`}
	s.add(floats(tetraPoints, 0), "")
	s.add(wholes([]uint32{0, 2, 1, 3, 2, 1, 2, 3}, 1), "")
	s.accessors = []string{`{"bufferView":0,"componentType":5126,"count":4,"type":"VEC3"}`, `{"bufferView":1,"componentType":5121,"count":5,"type":"SCALAR"}`, `{"bufferView":1,"byteOffset":5,"componentType":5121,"count":3,"type":"SCALAR"}`}
	tests = append(tests, gltfTest{"fan", s.glb(), 1. / 6, 1, one, 0})
	// Sparse: corner 3 is put at height 5, and the corner numbers are all sparse.
	s = tetraScene()
	at, values := s.add([]byte{3}, ""), s.add(floats([]vec.V3{{Z: 5}}, 0), "")
	s.accessors[0] = fmt.Sprintf(`{"bufferView":0,"componentType":5126,"count":4,"type":"VEC3","sparse":{"count":1,"indices":{"bufferView":%d,"componentType":5121},"values":{"bufferView":%d}}}`, at, values)
	at = s.add(wholes([]uint32{1, 2, 4, 5, 6, 7, 8, 9, 11}, 2), "")
	values = s.add(wholes([]uint32{2, 1, 1, 3, 1, 2, 3, 2, 3}, 2), "")
	s.accessors[1] = fmt.Sprintf(`{"componentType":5123,"count":12,"type":"SCALAR","sparse":{"count":9,"indices":{"bufferView":%d,"componentType":5123},"values":{"bufferView":%d}}}`, at, values)
	tests = append(tests, gltfTest{"sparse", s.glb(), 5. / 6, 1, vec.V3{X: 1, Y: 1, Z: 5}, 0})

	return tests
}

func TestReadingGLTF(t *testing.T) {
	for _, c := range gltfTests() {
		m, facts, err := Parse(c.data, "a.bin", Options{})
		if err != nil {
			t.Errorf("%s: %v", c.what, err)
			continue
		}
		top := mesh.TopologyOf(m)
		if !top.Watertight || top.Shells != c.shells || math.Abs(m.Volume()/c.volume-1) > 1e-12 || m.Box().Max.Dist(c.top) > 1e-12*c.top.Len() || facts.Unit != "m" || len(facts.Notes) != c.notes {
			t.Errorf("%s: volume %g, %d shells, top %v, unit %s, notes %q; want %g, %d, %v", c.what, m.Volume(), top.Shells, m.Box().Max, facts.Unit, facts.Notes, c.volume, c.shells, c.top)
		}
	}
}

// TestGLTFThatIsRefused holds each message to the words that matter.
func TestGLTFThatIsRefused(t *testing.T) {
	good := string(tetraScene().gltf())
	in := func(old, new string) []byte {
		if !strings.Contains(good, old) {
			t.Fatalf("%q is not in the document", old)
		}
		return []byte(strings.Replace(good, old, new, 1))
	}
	with := func(change func(s *scene)) []byte {
		s := tetraScene()
		change(s)
		return s.glb()
	}
	glb := tetraScene().glb()
	deep := `{"children":[1]}`
	for i := 2; i < 400; i++ {
		deep += fmt.Sprintf(`,{"children":[%d]}`, i)
	}
	many := func(one string, n int) string { return strings.Repeat(one+",", n-1) + one }
	sparse := func(text string) []byte {
		return with(func(s *scene) {
			s.add([]byte{3, 2, 9, 9}, "")
			s.accessors[0] = `{"bufferView":0,"componentType":5126,"count":4,"type":"VEC3","sparse":` + text + `}`
		})
	}
	for _, c := range []struct {
		what string
		data []byte
		say  string
	}{
		{"half", glb[:len(glb)/2], "the header says"},
		{"version 1", append([]byte("glTF\x01"), glb[5:]...), "GLB version 1"},
		{"size", append(append([]byte("glTF\x02\x00\x00\x00"), 9, 0, 0, 0), glb[12:]...), "less than the header itself"},
		{"chunk", append(append(append([]byte{}, glb[:12]...), 0xff, 0xff, 0, 0), glb[16:]...), "chunk 1 says 65535 bytes"},
		{"first chunk", append(append(append([]byte{}, glb[:16]...), "BIN\x00"...), glb[20:]...), "first chunk is not JSON"},
		{"no JSON", glbOf("{", nil), "cannot be read: byte 4"},
		{"text", []byte(`{"asset":{"version":"2.0"}, "nodes":[}`), "cannot be read: byte"},
		{"a number for a list", in(`"nodes":[{"mesh":0}]`, `"nodes":7`), "should stand"},
		{"a word for a number", in(`"count":12`, `"count":"x"`), "is a string"},
		{"version 3", in(`"version":"2.0"`, `"version":"3.0"`), "version 2.0 can be read"},
		{"needs more", in(`"version":"2.0"`, `"version":"2.1","minVersion":"2.1"`), "version 2.0 can be read"},
		{"nothing", []byte(`{"asset":{"version":"2.0"}}`), "no triangles"},
		{"compressed", with(func(s *scene) { s.more = `"extensionsRequired":["KHR_draco_mesh_compression"],` }), `extension "KHR_draco_mesh_compression"`},
		{"squeezed", with(func(s *scene) { s.more = `"extensionsRequired":["EXT_meshopt_compression"],` }), "EXT_meshopt_compression"},
		{"compressed, not required", with(func(s *scene) {
			s.more = `"extensionsUsed":["KHR_draco_mesh_compression"],`
			s.accessors[0] = `{"componentType":5126,"count":4,"type":"VEC3"}`
		}), "accessor 0 is compressed by the extension KHR_draco_mesh_compression"},
		{"squeezed, not required", []byte(strings.Replace(strings.Replace(good, `"uri"`, `"url"`, 1), `"scene":0`, `"scene":0,"extensionsUsed":["EXT_meshopt_compression"]`, 1)), "buffer 0 is compressed by the extension EXT_meshopt"},
		{"scene", in(`"scene":0`, `"scene":5`), "scene 5 of 1"},
		{"node", in(`"nodes":[0]`, `"nodes":[1]`), "node 1 is named, and there are 1"},
		{"half node", in(`"nodes":[0]`, `"nodes":[0.5]`), "node 0.5 is named"},
		{"circle", with(func(s *scene) { s.nodes = `{"children":[1]},{"children":[0]}` }), "node 0 is named twice"},
		{"two parents", with(func(s *scene) { s.nodes = `{"children":[1,2]},{"children":[3]},{"children":[3]},{"mesh":0}` }), "node 3 is named twice"},
		{"deep", with(func(s *scene) { s.nodes = deep }), "256 deep"},
		{"many nodes", with(func(s *scene) { s.nodes = many(`{}`, 100_001) }), "more than 100000 entries"},
		{"many meshes placed", with(func(s *scene) {
			s.primitive = many(tetraPrimitive, 90_000)
			var b strings.Builder
			for i := 2; i < 99_000; i++ {
				fmt.Fprintf(&b, ",%d", i)
			}
			s.nodes = `{"children":[1` + b.String() + `]},` + many(`{"mesh":0}`, 98_999)
		}), "more than the"},
		{"mesh", in(`"nodes":[{"mesh":0}]`, `"nodes":[{"mesh":4}]`), "names mesh 4"},
		{"matrix", in(`{"mesh":0}`, `{"mesh":0,"matrix":[1,2,3]}`), "wrong number of numbers"},
		{"projective", in(`{"mesh":0}`, `{"mesh":0,"matrix":[1,0,0,1,0,1,0,0,0,0,1,0,0,0,0,1]}`), "no affine transform"},
		{"quaternion", in(`{"mesh":0}`, `{"mesh":0,"rotation":[0,0,0,0]}`), "no unit quaternion"},
		{"mode", in(`"indices":1`, `"indices":1,"mode":9`), "mode 9"},
		{"only points", in(`"indices":1`, `"indices":1,"mode":0`), "no triangles"},
		{"position", in(`"POSITION":0`, `"POSITION":-1`), "accessor -1"},
		{"indices", in(`"indices":1`, `"indices":2`), "accessor 2"},
		{"type", in(`"VEC3"`, `"VEC4"`), `"VEC4" of component type 5126`},
		{"component", in(`5126`, `5125`), "component type 5125"},
		{"index component", in(`5123`, `5126`), "component type 5126"},
		{"count", in(`"count":12`, `"count":13`), "takes 13 elements of 2 bytes"},
		{"huge count", in(`"count":12`, `"count":1e300`), "says 1e+300 corner numbers"},
		{"large count", in(`"count":4`, `"count":2000000000`), "more than the"},
		{"minus", in(`"count":4`, `"count":-4`), "says -4 corners"},
		{"zeros of no view", in(`"bufferView":1,"componentType":5123,"count":12`, `"componentType":5123,"count":2000000000`), "more than the"},
		{"view", in(`"bufferView":1`, `"bufferView":7`), "buffer view 7, and there are 2"},
		{"view of no buffer", in(`{"buffer":0,`, `{"buffer":3,`), "buffer 3, and there are 1"},
		{"view too long", in(`"byteLength":48`, `"byteLength":4800`), "takes 4800 bytes"},
		{"view below", in(`"byteOffset":0`, `"byteOffset":-8`), "from -8 on"},
		{"stride", in(`"byteLength":48`, `"byteLength":48,"byteStride":4`), "stride of 4 bytes for elements of 12"},
		{"offset", in(`"bufferView":0,`, `"bufferView":0,"byteOffset":4,`), "from byte 4"},
		{"index", with(func(s *scene) { s.buffer[48] = 4 }), "names corner 4 at place 0"},
		{"index, large", with(func(s *scene) {
			s.views[1] = s.views[0]
			s.accessors[1] = `{"bufferView":1,"componentType":5125,"count":12,"type":"SCALAR"}`
		}), "names corner 1065353216"},
		{"NaN", with(func(s *scene) { copy(s.buffer, "\xff\xff\xff\xff") }), "not a finite number"},
		{"Inf", with(func(s *scene) { copy(s.buffer, "\x00\x00\x80\x7f") }), "not a finite number"},
		{"other file", in("data:application/octet-stream;base64,", "tetra.bin?"), "other files are not opened"},
		{"address", in("data:application/octet-stream;base64,", "https://example.org/"), "other files are not opened"},
		{"up", in("data:application/octet-stream;base64,", "../../../etc/"), "other files are not opened"},
		{"not base64", in(";base64,", ","), "not in base64"},
		{"bad base64", in(";base64,", ";base64,!"), "damaged"},
		{"no uri", in(`"uri"`, `"url"`), "has no bytes"},
		{"short buffer", in(`"byteLength":72}]`, `"byteLength":720}]`), "says 720 bytes and holds 72"},
		{"sparse order", sparse(`{"count":2,"indices":{"bufferView":2,"componentType":5121},"values":{"bufferView":0}}`), "they must rise"},
		{"sparse place", sparse(`{"count":1,"indices":{"bufferView":2,"byteOffset":2,"componentType":5121},"values":{"bufferView":0}}`), "names place 9"},
		{"sparse count", sparse(`{"count":9,"indices":{"bufferView":2,"componentType":5121},"values":{"bufferView":0}}`), "sparse part of accessor 0 is wrong"},
		{"sparse values", sparse(`{"count":1,"indices":{"bufferView":2,"componentType":5121},"values":{"bufferView":2}}`), "takes 1 elements of 12 bytes"},
		{"deep JSON", []byte(`{"asset":{"version":"2.0"},"extras":` + strings.Repeat("[", 100000) + strings.Repeat("]", 100000) + `}`), "exceeded max depth"},
	} {
		_, _, err := Parse(c.data, "a.gltf", Options{})
		if err == nil {
			t.Errorf("%s was read; want %q", c.what, c.say)
			continue
		}
		if fault.KindOf(err) != fault.Input || fault.HintOf(err) == "" || !strings.HasPrefix(err.Error(), "a.gltf: ") {
			t.Errorf("%s: %.200q: kind %d, hint %q", c.what, err, fault.KindOf(err), fault.HintOf(err))
		}
		if !strings.Contains(err.Error(), c.say) {
			t.Errorf("%s: said %.300q; want %q", c.what, err, c.say)
		}
	}
}
