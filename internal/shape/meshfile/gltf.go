package meshfile

import (
	"bytes"
	"encoding/base64"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
)

// gltfMany is how many entries a list of a glTF document may have, and how many
// numbers may stand in all lists of one entry. Scenes of a hundred thousand
// nodes are not masters.
const gltfMany = 100_000

// gltfDeep is how deep nodes may lie in each other.
const gltfDeep = 256

// many is a list of a glTF document that is held against gltfMany while it is
// read, since an empty entry of two bytes takes a hundred in memory.
type many[T any] []T

var errMany = fmt.Errorf("a list has more than %d entries", gltfMany)

func (m *many[T]) UnmarshalJSON(data []byte) error {
	d := json.NewDecoder(bytes.NewReader(data))
	if t, err := d.Token(); err != nil || t != json.Delim('[') {
		return errors.New("something stands where a list should stand")
	}
	*m = nil
	for d.More() {
		if len(*m) == gltfMany {
			return errMany
		}
		var x T
		if err := d.Decode(&x); err != nil {
			return err
		}
		*m = append(*m, x)
	}
	return nil
}

// gltfDoc is what matters of a glTF 2.0 document. Whole numbers are read as
// float64, because some programs write 36.0.
type gltfDoc struct {
	Asset struct {
		Version    string `json:"version"`
		MinVersion string `json:"minVersion"`
	} `json:"asset"`
	Required    many[string]      `json:"extensionsRequired"`
	Used        many[string]      `json:"extensionsUsed"`
	Scene       *float64          `json:"scene"`
	Scenes      many[gltfScene]   `json:"scenes"`
	Nodes       many[gltfNode]    `json:"nodes"`
	Meshes      many[gltfMesh]    `json:"meshes"`
	Accessors   many[gltfAccess]  `json:"accessors"`
	BufferViews many[gltfView]    `json:"bufferViews"`
	Buffers     many[*gltfBuffer] `json:"buffers"`
}

type gltfScene struct {
	Nodes many[float64] `json:"nodes"`
}

type gltfNode struct {
	Children    many[float64] `json:"children"`
	Mesh        *float64      `json:"mesh"`
	Skin        *float64      `json:"skin"`
	Matrix      many[float64] `json:"matrix"`
	Translation many[float64] `json:"translation"`
	Rotation    many[float64] `json:"rotation"`
	Scale       many[float64] `json:"scale"`
}

type gltfMesh struct {
	Primitives many[gltfPrimitive] `json:"primitives"`
	Weights    many[float64]       `json:"weights"`
}

type gltfPrimitive struct {
	Attributes struct {
		Position *float64 `json:"POSITION"`
	} `json:"attributes"`
	Indices *float64       `json:"indices"`
	Mode    *float64       `json:"mode"`
	Targets many[struct{}] `json:"targets"`
}

type gltfAccess struct {
	View       *float64 `json:"bufferView"`
	Offset     float64  `json:"byteOffset"`
	Component  float64  `json:"componentType"`
	Normalized bool     `json:"normalized"`
	Count      float64  `json:"count"`
	Type       string   `json:"type"`
	Sparse     *struct {
		Count   float64 `json:"count"`
		Indices struct {
			View      *float64 `json:"bufferView"`
			Offset    float64  `json:"byteOffset"`
			Component float64  `json:"componentType"`
		} `json:"indices"`
		Values struct {
			View   *float64 `json:"bufferView"`
			Offset float64  `json:"byteOffset"`
		} `json:"values"`
	} `json:"sparse"`
}

type gltfView struct {
	Buffer float64 `json:"buffer"`
	Offset float64 `json:"byteOffset"`
	Length float64 `json:"byteLength"`
	Stride float64 `json:"byteStride"`
}

type gltfBuffer struct {
	URI    *string `json:"uri"`
	Length float64 `json:"byteLength"`
	data   []byte
	ready  bool
}

// gltfPlain tells the extensions that say nothing of the shape, or nothing that
// is not read here, by the start of their names.
var gltfPlain = []string{
	"KHR_mesh_quantization", "KHR_materials_", "KHR_texture_", "KHR_lights_", "KHR_xmp", "KHR_animation_pointer", "KHR_audio", "KHR_meshopt_fallback",
	"EXT_texture_", "EXT_lights_", "EXT_mesh_manifold", "EXT_mesh_features", "EXT_structural_metadata", "EXT_instance_features", "MSFT_texture_", "MSFT_packing_", "ADOBE_materials_", "AGI_articulations",
}

// gltf reads one document.
type gltf struct {
	b       *builder
	doc     gltfDoc
	binary  []byte // the binary chunk of a GLB
	chunked bool   // there is one
	held    int64
	placed  []bool // per node
	left    int    // primitives of points and lines
	spare   int    // corner numbers that are no whole triangle
	bent    bool   // skins or morph targets were met
	squeeze string // the extension that compresses shapes in this file, if there is one
}

func (g *gltf) fail(text string, args ...any) error {
	return g.b.fail(g.b.name, "export it again", text, args...)
}

// readGLB reads a binary glTF 2.0: a header of 12 bytes, a chunk of JSON and,
// after it, a chunk of the buffer.
func readGLB(data []byte, b *builder) error {
	g := &gltf{b: b}
	if len(data) < 20 {
		return b.fail(b.name, "the file was cut; export or copy it again", "the file holds %d bytes, less than the 20 of a GLB header", len(data))
	}
	u32 := func(at int) int64 { return int64(binary.LittleEndian.Uint32(data[at:])) }
	if v := u32(4); v != 2 {
		return b.fail(b.name, "export it as glTF 2.0", "this is GLB version %d; version 2 can be read", v)
	}
	size := u32(8)
	switch {
	case size > int64(len(data)):
		return b.fail(b.name, "the file was cut; export or copy it again", "the header says %d bytes and the file holds %d", size, len(data))
	case size < 20:
		return g.fail("the header says %d bytes, less than the header itself", size)
	}
	if n := int64(len(data)) - size; n > 0 {
		b.note("%d bytes after the end that the header names were left out.", n)
	}
	data = data[:size]
	var text []byte
	for at, k := int64(12), 0; at < size; k++ {
		if size-at < 8 {
			return g.fail("%d bytes stand after the last chunk", size-at)
		}
		n, kind := u32(int(at)), u32(int(at)+4)
		if n > size-at-8 {
			return b.fail(b.name, "the file was cut; export or copy it again", "chunk %d says %d bytes, and %d follow", k+1, n, size-at-8)
		}
		body := data[at+8 : at+8+n]
		switch {
		case k == 0 && kind != 0x4e4f534a: // JSON
			return g.fail("the first chunk is not JSON")
		case k == 0:
			text = body
		case k == 1 && kind == 0x004e4942: // BIN
			g.binary, g.chunked = body, true
		}
		at += 8 + n + (4-n%4)%4
	}
	return g.read(text)
}

// readGLTF reads a glTF 2.0 document whose buffers lie in it as data: URIs.
func readGLTF(data []byte, b *builder) error {
	g := &gltf{b: b}
	return g.read(data)
}

// read reads glTF 2.0 (ISO/IEC 12113:2022): the nodes of the scene with their
// transforms multiplied through, and of each mesh the triangles, strips and
// fans. Unit is the metre. Axes stay as they are in the file.
func (g *gltf) read(text []byte) error {
	b := g.b
	g.held = b.most
	if err := json.Unmarshal(text, &g.doc); err != nil {
		return g.fail("the glTF document cannot be read: %s", jsonSays(err))
	}
	d := &g.doc
	if v := d.Asset.Version; !strings.HasPrefix(v, "2.") || d.Asset.MinVersion != "" && d.Asset.MinVersion != "2.0" {
		return b.fail(b.name, "export it as glTF 2.0", "this is glTF version %s; version 2.0 can be read", quote([]byte(v+d.Asset.MinVersion)))
	}
	for _, name := range d.Required {
		if !slices.ContainsFunc(gltfPlain, func(p string) bool { return strings.HasPrefix(name, p) }) {
			return b.fail(b.name, "export it without compression or extensions, or as binary STL", "the file requires the extension %s of glTF, which is not read", quote([]byte(name)))
		}
	}
	for _, name := range d.Used {
		if name == "KHR_draco_mesh_compression" || name == "EXT_meshopt_compression" || name == "KHR_meshopt_compression" {
			g.squeeze = name
		}
	}
	g.placed = make([]bool, len(d.Nodes))
	if err := g.scene(); err != nil {
		return err
	}
	if g.left > 0 {
		b.note("%d pieces of points or lines were left out.", g.left)
	}
	if g.spare > 0 {
		b.note("%d corners at the ends of lists make no whole triangle and were left out.", g.spare)
	}
	if g.bent {
		b.note("The file has skins or morph targets; the shape without them was read.")
	}
	b.facts.Unit = "m"
	return nil
}

// squeezed says that what should stand here lies in a compressed form.
func (g *gltf) squeezed(what string) error {
	return g.b.fail(g.b.name, "export it without compression, or as binary STL", "%s is compressed by the extension %s of glTF, which is not read", what, g.squeeze)
}

// jsonSays cuts the words of the json package short.
func jsonSays(err error) string {
	var s *json.SyntaxError
	var u *json.UnmarshalTypeError
	switch {
	case errors.As(err, &s):
		return fmt.Sprintf("byte %d: %s", s.Offset, s)
	case errors.As(err, &u):
		return fmt.Sprintf("%q is a %s", u.Field, u.Value)
	}
	return err.Error()
}

// whole returns a whole number from 0 to below limit.
func whole(x float64, limit int) (int, bool) {
	if !(x >= 0 && x < float64(limit)) || x != math.Trunc(x) {
		return 0, false
	}
	return int(x), true
}

// scene places the nodes of the scene. A document without scenes is a library
// of nodes or meshes; all of them are taken.
func (g *gltf) scene() error {
	d := &g.doc
	var roots many[float64]
	switch {
	case len(d.Scenes) > 0:
		k := 0
		if d.Scene != nil {
			var ok bool
			if k, ok = whole(*d.Scene, len(d.Scenes)); !ok {
				return g.fail("the file starts with scene %g of %d", *d.Scene, len(d.Scenes))
			}
		} else if len(d.Scenes) > 1 {
			g.b.note("The file holds %d scenes and names none to start with; the first was read.", len(d.Scenes))
		}
		roots = d.Scenes[k].Nodes
	case len(d.Nodes) > 0:
		child := make([]bool, len(d.Nodes))
		for _, n := range d.Nodes {
			for _, c := range n.Children {
				if k, ok := whole(c, len(child)); ok {
					child[k] = true
				}
			}
		}
		for k, is := range child {
			if !is {
				roots = append(roots, float64(k))
			}
		}
		g.b.note("The file names no scene; all of its nodes were read.")
	default:
		for k := range d.Meshes {
			if err := g.mesh(k, &straight); err != nil {
				return err
			}
		}
		if len(d.Meshes) > 0 {
			g.b.note("The file names no scene; all of its meshes were read.")
		}
	}
	for _, n := range roots {
		if err := g.node(n, &straight, 0); err != nil {
			return err
		}
	}
	return nil
}

// node places a node under the transform of its parent.
func (g *gltf) node(number float64, outer *affine, depth int) error {
	k, ok := whole(number, len(g.doc.Nodes))
	if !ok {
		return g.fail("node %g is named, and there are %d", number, len(g.doc.Nodes))
	}
	if g.placed[k] {
		return g.fail("node %d is named twice; nodes must form trees", k)
	}
	g.placed[k] = true
	if depth > gltfDeep {
		return g.fail("nodes lie more than %d deep in each other", gltfDeep)
	}
	n := &g.doc.Nodes[k]
	own, err := g.transform(k, n)
	if err != nil {
		return err
	}
	move := own.then(outer)
	if n.Mesh != nil {
		m, ok := whole(*n.Mesh, len(g.doc.Meshes))
		if !ok {
			return g.fail("node %d names mesh %g, and there are %d", k, *n.Mesh, len(g.doc.Meshes))
		}
		g.bent = g.bent || n.Skin != nil
		if err := g.mesh(m, &move); err != nil {
			return err
		}
	}
	for _, c := range n.Children {
		if err := g.node(c, &move, depth+1); err != nil {
			return err
		}
	}
	return nil
}

// transform returns the transform of a node: its matrix (columns first), or
// scale, rotation (a unit quaternion x y z w) and translation in that order.
func (g *gltf) transform(k int, n *gltfNode) (affine, error) {
	size := func(v many[float64], want int) bool { return v == nil || len(v) == want }
	if !size(n.Matrix, 16) || !size(n.Translation, 3) || !size(n.Rotation, 4) || !size(n.Scale, 3) {
		return affine{}, g.fail("the transform of node %d has a wrong number of numbers", k)
	}
	t := straight
	if m := n.Matrix; m != nil {
		if m[3] != 0 || m[7] != 0 || m[11] != 0 || m[15] != 1 {
			return affine{}, g.fail("the matrix of node %d is no affine transform", k)
		}
		t = affine{m[0], m[1], m[2], m[4], m[5], m[6], m[8], m[9], m[10], m[12], m[13], m[14]}
	} else {
		if s := n.Scale; s != nil {
			t[0], t[4], t[8] = s[0], s[1], s[2]
		}
		if q := n.Rotation; q != nil {
			x, y, z, w := q[0], q[1], q[2], q[3]
			l := x*x + y*y + z*z + w*w
			if !(l > 0.5 && l < 2) {
				return affine{}, g.fail("the rotation of node %d is no unit quaternion", k)
			}
			s := 2 / l
			turn := affine{
				1 - s*(y*y+z*z), s * (x*y + z*w), s * (x*z - y*w),
				s * (x*y - z*w), 1 - s*(x*x+z*z), s * (y*z + x*w),
				s * (x*z + y*w), s * (y*z - x*w), 1 - s*(x*x+y*y),
			}
			t = t.then(&turn)
		}
		if v := n.Translation; v != nil {
			t[9], t[10], t[11] = v[0], v[1], v[2]
		}
	}
	return t, nil
}

// mesh adds the triangles of a mesh under a transform.
func (g *gltf) mesh(k int, move *affine) error {
	m := &g.doc.Meshes[k]
	for _, w := range m.Weights {
		g.bent = g.bent || w != 0
	}
	// Primitives of one mesh often share their corners.
	corners := map[int]int{}
	for i := range m.Primitives {
		p := &m.Primitives[i]
		if g.held -= 32; g.held < 0 {
			return g.b.full()
		}
		where := fmt.Sprintf("piece %d of mesh %d", i, k)
		mode := 4.0
		if p.Mode != nil {
			mode = *p.Mode
		}
		switch mode {
		case 0, 1, 2, 3:
			g.left++
			continue
		case 4, 5, 6:
		default:
			return g.fail("%s has mode %g, which glTF does not know", where, mode)
		}
		if p.Attributes.Position == nil {
			continue // allowed: an extension may bring the corners
		}
		at, ok := whole(*p.Attributes.Position, len(g.doc.Accessors))
		if !ok {
			return g.fail("%s takes its corners from accessor %g, and there are %d", where, *p.Attributes.Position, len(g.doc.Accessors))
		}
		first, ok := corners[at]
		if !ok {
			first = len(g.b.v)
			if err := g.positions(at, move); err != nil {
				return err
			}
			corners[at] = first
		}
		count, _ := whole(g.doc.Accessors[at].Count, math.MaxInt32)
		if err := g.faces(p, int(mode), where, first, count, move.turn() < 0); err != nil {
			return err
		}
	}
	return nil
}

// faces adds the triangles of a piece whose count corners begin at first.
func (g *gltf) faces(p *gltfPrimitive, mode int, where string, first, count int, mirror bool) error {
	b := g.b
	var index []int32
	n := count
	if p.Indices != nil {
		at, ok := whole(*p.Indices, len(g.doc.Accessors))
		if !ok {
			return g.fail("%s takes its triangles from accessor %g, and there are %d", where, *p.Indices, len(g.doc.Accessors))
		}
		var err error
		if index, err = g.indices(at); err != nil {
			return err
		}
		for i, x := range index {
			if int(x) >= count || x < 0 {
				return g.fail("%s names corner %d at place %d; corners are numbered from 0 to %d", where, uint32(x), i, count-1)
			}
		}
		n = len(index)
	}
	many := max(n-2, 0)
	if mode == 4 {
		if n%3 != 0 {
			g.spare += n % 3
		}
		many = n / 3
	}
	if g.held -= triangleBytes * int64(many); g.held < 0 {
		return g.b.full()
	}
	if len(b.f)+many > maxTriangles {
		b.over = true
		return nil
	}
	at := func(i int) int32 {
		if index != nil {
			return int32(first) + index[i]
		}
		return int32(first + i)
	}
	b.facts.Polygons += many
	b.f = slices.Grow(b.f, many)
	for i := range many {
		var t [3]int32
		switch {
		case mode == 4:
			t = [3]int32{at(3 * i), at(3*i + 1), at(3*i + 2)}
		case mode == 5 && i%2 == 0:
			t = [3]int32{at(i), at(i + 1), at(i + 2)}
		case mode == 5:
			t = [3]int32{at(i), at(i + 2), at(i + 1)}
		default:
			t = [3]int32{at(i + 1), at(i + 2), at(0)}
		}
		if mirror {
			t[1], t[2] = t[2], t[1]
		}
		b.f = append(b.f, t)
	}
	return nil
}

// gltfSize gives the bytes of a component type, 0 for one that is not known.
func gltfSize(component float64) int {
	switch component {
	case 5120, 5121:
		return 1
	case 5122, 5123:
		return 2
	case 5125, 5126:
		return 4
	}
	return 0
}

// gltfNumber decodes the number at the start of d; normalized whole numbers
// become shares of their largest.
func gltfNumber(d []byte, component int, normalized bool) float64 {
	var x, most float64
	switch component {
	case 5120:
		x, most = float64(int8(d[0])), 127
	case 5121:
		x, most = float64(d[0]), 255
	case 5122:
		x, most = float64(int16(binary.LittleEndian.Uint16(d))), 32767
	case 5123:
		x, most = float64(binary.LittleEndian.Uint16(d)), 65535
	case 5125:
		return float64(binary.LittleEndian.Uint32(d))
	default:
		return float64(math.Float32frombits(binary.LittleEndian.Uint32(d)))
	}
	if normalized {
		return max(x/most, -1)
	}
	return x
}

// positions adds the corners of an accessor under a transform.
func (g *gltf) positions(at int, move *affine) error {
	a := &g.doc.Accessors[at]
	size := gltfSize(a.Component)
	if a.Type != "VEC3" || size == 0 || a.Component == 5125 {
		return g.fail("accessor %d is no list of corners (%s of component type %g)", at, quote([]byte(a.Type)), a.Component)
	}
	if a.View == nil && a.Sparse == nil && g.squeeze != "" {
		return g.squeezed(fmt.Sprintf("accessor %d", at))
	}
	// A float must not be normalized; some programs say so all the same.
	normalized := a.Normalized && a.Component != 5126
	count, ok := whole(a.Count, math.MaxInt32)
	if !ok {
		return g.fail("accessor %d says %g corners", at, a.Count)
	}
	if g.held -= cornerBytes * int64(count); g.held < 0 {
		return g.b.full()
	}
	b := g.b
	if len(b.v)+count > 3*maxTriangles {
		b.over = true
		return nil
	}
	data, stride, err := g.elements(a.View, a.Offset, count, 3*size, fmt.Sprintf("accessor %d", at))
	if err != nil {
		return err
	}
	first := len(b.v)
	b.v = append(b.v, make([]vec.V3, count)...)
	own := b.v[first:]
	kind := int(a.Component)
	one := func(d []byte) vec.V3 {
		return vec.V3{X: gltfNumber(d, kind, normalized), Y: gltfNumber(d[size:], kind, normalized), Z: gltfNumber(d[2*size:], kind, normalized)}
	}
	if data != nil {
		par.For(count, 8192, func(lo, hi int) {
			for i := lo; i < hi; i++ {
				own[i] = one(data[i*stride:])
			}
		})
	}
	if a.Sparse != nil {
		to, values, err := g.sparse(a, at, count, 3*size)
		if err != nil {
			return err
		}
		for i, k := range to {
			own[k] = one(values[i*3*size:])
		}
	}
	if *move == straight {
		return nil
	}
	par.For(count, 8192, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			own[i] = move.at(own[i])
		}
	})
	return nil
}

// indices returns the corner numbers of an accessor.
func (g *gltf) indices(at int) ([]int32, error) {
	a := &g.doc.Accessors[at]
	size := gltfSize(a.Component)
	if a.Type != "SCALAR" || a.Component != 5121 && a.Component != 5123 && a.Component != 5125 || a.Normalized {
		return nil, g.fail("accessor %d is no list of corner numbers (%s of component type %g)", at, quote([]byte(a.Type)), a.Component)
	}
	count, ok := whole(a.Count, math.MaxInt32)
	if !ok {
		return nil, g.fail("accessor %d says %g corner numbers", at, a.Count)
	}
	data, stride, err := g.elements(a.View, a.Offset, count, size, fmt.Sprintf("accessor %d", at))
	if err != nil {
		return nil, err
	}
	if data == nil && int64(count)*4 > g.held {
		return nil, g.b.full()
	}
	out := make([]int32, count)
	if data != nil {
		gltfIndices(out, data, stride, size)
	}
	if a.Sparse != nil {
		to, values, err := g.sparse(a, at, count, size)
		if err != nil {
			return nil, err
		}
		var one [1]int32
		for i, k := range to {
			gltfIndices(one[:], values[i*size:], size, size)
			out[k] = one[0]
		}
	}
	return out, nil
}

// gltfIndices decodes numbers without a sign; those from 2^31 on become negative.
func gltfIndices(out []int32, data []byte, stride, size int) {
	for i := range out {
		switch d := data[i*stride:]; size {
		case 1:
			out[i] = int32(d[0])
		case 2:
			out[i] = int32(binary.LittleEndian.Uint16(d))
		default:
			out[i] = int32(binary.LittleEndian.Uint32(d))
		}
	}
}

// sparse returns the places that the accessor's values are put to, and the
// values, size bytes each.
func (g *gltf) sparse(a *gltfAccess, at, count, size int) ([]int32, []byte, error) {
	s := a.Sparse
	what := fmt.Sprintf("the sparse part of accessor %d", at)
	n, ok := whole(s.Count, count+1)
	wide := gltfSize(s.Indices.Component)
	if !ok || s.Indices.View == nil || s.Values.View == nil || s.Indices.Component != 5121 && s.Indices.Component != 5123 && s.Indices.Component != 5125 {
		return nil, nil, g.fail("%s is wrong", what)
	}
	data, stride, err := g.elements(s.Indices.View, s.Indices.Offset, n, wide, what)
	if err != nil {
		return nil, nil, err
	}
	values, step, err := g.elements(s.Values.View, s.Values.Offset, n, size, what)
	if err != nil {
		return nil, nil, err
	}
	if stride != wide || step != size {
		return nil, nil, g.fail("%s lies in a buffer view with a stride", what)
	}
	where := make([]int32, n)
	gltfIndices(where, data, wide, wide)
	for i, k := range where {
		if k < 0 || int(k) >= count || i > 0 && k <= where[i-1] {
			return nil, nil, g.fail("%s names place %d after %d of %d; they must rise", what, uint32(k), where[max(i-1, 0)], count)
		}
	}
	return where, values, nil
}

// elements returns the bytes of count elements of size bytes in a buffer view,
// and the step from one to the next. Without a view all are zero: nil.
func (g *gltf) elements(view *float64, offset float64, count, size int, what string) ([]byte, int, error) {
	if view == nil {
		return nil, size, nil
	}
	k, ok := whole(*view, len(g.doc.BufferViews))
	if !ok {
		return nil, 0, g.fail("%s names buffer view %g, and there are %d", what, *view, len(g.doc.BufferViews))
	}
	v := &g.doc.BufferViews[k]
	data, err := g.buffer(v.Buffer, what)
	if err != nil {
		return nil, 0, err
	}
	from, ok1 := whole(v.Offset, len(data)+1)
	long, ok2 := whole(v.Length, len(data)+1)
	if !ok1 || !ok2 || long > len(data)-from {
		return nil, 0, g.fail("buffer view %d takes %g bytes from %g on out of %d", k, v.Length, v.Offset, len(data))
	}
	data = data[from : from+long]
	stride := size
	if v.Stride != 0 {
		if stride, ok = whole(v.Stride, 256); !ok || stride < size {
			return nil, 0, g.fail("buffer view %d has a stride of %g bytes for elements of %d", k, v.Stride, size)
		}
	}
	skip, ok := whole(offset, long+1)
	if !ok || count > 0 && (long-skip < size || (long-skip-size)/stride < count-1) {
		return nil, 0, g.fail("%s takes %d elements of %d bytes from byte %g of buffer view %d, which has %d bytes", what, count, size, offset, k, long)
	}
	return data[skip:], stride, nil
}

// buffer returns the bytes of a buffer.
func (g *gltf) buffer(number float64, what string) ([]byte, error) {
	k, ok := whole(number, len(g.doc.Buffers))
	if !ok || g.doc.Buffers[k] == nil {
		return nil, g.fail("%s lies in buffer %g, and there are %d", what, number, len(g.doc.Buffers))
	}
	u := g.doc.Buffers[k]
	if u.ready {
		return u.data, nil
	}
	switch {
	case u.URI == nil && k == 0 && g.chunked:
		u.data = g.binary
	case u.URI == nil && g.squeeze != "":
		return nil, g.squeezed(fmt.Sprintf("buffer %d", k))
	case u.URI == nil:
		return nil, g.fail("buffer %d has no bytes", k)
	default:
		rest, ok := strings.CutPrefix(*u.URI, "data:")
		if !ok {
			return nil, g.b.fail(g.b.name, "save it as .glb, or as .gltf with everything in one file", "buffer %d lies in another file, %s, and other files are not opened", k, quote([]byte(*u.URI)))
		}
		head, body, ok := strings.Cut(rest, ",")
		if !ok || !strings.HasSuffix(head, ";base64") {
			return nil, g.fail("buffer %d is a data: URI that is not in base64", k)
		}
		data, err := base64.StdEncoding.DecodeString(body)
		if err != nil {
			return nil, g.fail("buffer %d is damaged: %s", k, err)
		}
		u.data, u.URI = data, nil
	}
	long, ok := whole(u.Length, math.MaxInt32)
	if !ok || long > len(u.data) {
		return nil, g.b.fail(g.b.name, "the file was cut; export or copy it again", "buffer %d says %g bytes and holds %d", k, u.Length, len(u.data))
	}
	u.data, u.ready = u.data[:long], true
	return u.data, nil
}
