package meshfile

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
)

// The namespaces of 3MF that matter here.
const (
	nsCore       = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
	nsProduction = "http://schemas.microsoft.com/3dmanufacturing/production/2015/06"
	nsRels       = "http://schemas.openxmlformats.org/package/2006/relationships"
	relModel     = "http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"
)

// extensions of 3MF by their namespaces. Those that are plain say nothing of the
// shape (colours, names of triangles), so a file that requires one can be read.
var extensions = []struct {
	space, name string
	plain       bool
}{
	{nsProduction, "production", true},
	{"http://schemas.microsoft.com/3dmanufacturing/material/2015/02", "materials and properties", true},
	{"http://schemas.microsoft.com/3dmanufacturing/trianglesets/2021/07", "triangle sets", true},
	{"http://schemas.microsoft.com/3dmanufacturing/slice/2015/07", "slice", false},
	{"http://schemas.microsoft.com/3dmanufacturing/beamlattice/2017/02", "beam lattice", false},
	{"http://schemas.microsoft.com/3dmanufacturing/beamlattice/balls/2020/07", "beam lattice balls", false},
	{"http://schemas.microsoft.com/3dmanufacturing/securecontent/2019/04", "secure content", false},
	{"http://schemas.3mf.io/3dmanufacturing/displacement/2023/10", "displacement", false},
	{"http://schemas.microsoft.com/3dmanufacturing/displacement/2022/07", "displacement", false},
	{"http://schemas.3mf.io/3dmanufacturing/booleanoperations/2023/07", "boolean operations", false},
	{"http://schemas.3mf.io/3dmanufacturing/volumetric/2022/01", "volumetric", false},
	{"http://schemas.3mf.io/3dmanufacturing/implicit/2023/12", "implicit", false},
}

// extensionName returns the name of a namespace for a person, and whether a file
// that requires it can be read all the same.
func extensionName(space string) (name string, plain bool) {
	for _, e := range extensions {
		if e.space == space {
			return e.name, e.plain
		}
	}
	if len(space) > 80 {
		space = space[:80] + "..."
	}
	return space, false
}

// units3MF gives the unit of a model as units has it, and how many of those one is.
var units3MF = map[string]struct {
	name  string
	times float64
}{
	"micron": {"um", 1}, "millimeter": {"mm", 1}, "centimeter": {"cm", 1},
	"inch": {"in", 1}, "foot": {"in", 12}, "meter": {"m", 1},
}

// affine is the transform of 3MF: a row (x y z 1) times a matrix of four rows
// and three columns.
type affine [12]float64

var straight = affine{0: 1, 4: 1, 8: 1}

func (t *affine) at(p vec.V3) vec.V3 {
	return vec.V3{
		X: p.X*t[0] + p.Y*t[3] + p.Z*t[6] + t[9],
		Y: p.X*t[1] + p.Y*t[4] + p.Z*t[7] + t[10],
		Z: p.X*t[2] + p.Y*t[5] + p.Z*t[8] + t[11],
	}
}

// then returns the transform that does t first and u after it.
func (t *affine) then(u *affine) affine {
	var r affine
	for i := range 4 {
		for k := range 3 {
			r[3*i+k] = t[3*i]*u[k] + t[3*i+1]*u[3+k] + t[3*i+2]*u[6+k]
		}
	}
	r[9], r[10], r[11] = r[9]+u[9], r[10]+u[10], r[11]+u[11]
	return r
}

// turn returns the determinant: below 0 the transform mirrors.
func (t *affine) turn() float64 {
	return t[0]*(t[4]*t[8]-t[5]*t[7]) - t[1]*(t[3]*t[8]-t[5]*t[6]) + t[2]*(t[3]*t[7]-t[4]*t[6])
}

// reference is a component of an object or an item of the build.
type reference struct {
	part string // name of the model part
	id   int
	move affine
	line int
}

// object3MF is an object of a model part: a mesh, or components.
type object3MF struct {
	kind  string // model, solidsupport, support, surface, other
	v     []vec.V3
	f     [][3]int32
	parts []reference
	busy  bool // it is being placed: met again it holds itself
}

// part3MF is a model part that was read.
type part3MF struct {
	name    string
	unit    string
	size    int // bytes of text
	objects map[int]*object3MF
	build   []reference
}

// reader3MF reads a package.
type reader3MF struct {
	b       *builder
	parts   *parts
	read    map[string]*part3MF
	ignored []string // names of extensions that were met and not read
	left    [2]int   // supports and objects of type other left out
	held    int64    // bytes of corners and triangles that may still be taken
	slow    bool     // without xmlReader.quick, to hold it to the rest
}

// read3MF reads a 3MF package: 3MF Core Specification 1.3 and the Production
// Extension 1.1. The build is read, not the resources: every item with its
// transform, the components of its object with theirs, in whatever part they
// lie. A transform that mirrors turns the triangles round, so that outside stays
// outside. Supports and objects of type other are no part of the master and are
// left out with a note.
func read3MF(data []byte, b *builder) error { return read3MFAs(data, b, false) }

func read3MFAs(data []byte, b *builder, slow bool) error {
	p, err := b.openParts(data)
	if err != nil {
		return err
	}
	r := &reader3MF{b: b, parts: p, read: map[string]*part3MF{}, held: b.most, slow: slow}
	name, err := r.root()
	if err != nil {
		return err
	}
	root, err := r.part(name)
	if err != nil {
		return err
	}
	if len(root.build) == 0 {
		return b.fail(b.name, "put the master on the plate in the program that made the file, and save it again",
			"the build of the 3MF file is empty: %d objects are there and none of them is to be made", len(root.objects))
	}
	for i := range root.build {
		if err := r.place(root, &root.build[i], &straight, 0); err != nil {
			return err
		}
	}
	u := units3MF[root.unit]
	if u.times != 1 {
		for i, q := range b.v {
			b.v[i] = q.Mul(u.times)
		}
		b.note("The file is in feet and was read in inches, 12 to a foot.")
	}
	b.facts.Unit = u.name
	return r.notes()
}

// notes says what was left out.
func (r *reader3MF) notes() error {
	plural := func(n int, what string) string {
		if n == 1 {
			return "1 object of type " + what + " was"
		}
		return fmt.Sprintf("%d objects of type %s were", n, what)
	}
	for i, what := range []string{"support", "other"} {
		if n := r.left[i]; n > 0 {
			r.b.note("%s left out: only models and surfaces are a master.", plural(n, what))
		}
	}
	if len(r.ignored) > 0 {
		r.b.note("The file also uses what is not read: %s.", strings.Join(r.ignored, ", "))
	}
	if len(r.b.f) == 0 && r.left != [2]int{} {
		return r.b.fail(r.b.name, "save the master itself as an object of type model", "the build holds only supports and objects of type other")
	}
	return nil
}

// root finds the name of the model part that the package starts with.
func (r *reader3MF) root() (string, error) {
	b := r.b
	f, err := r.parts.find("/_rels/.rels")
	if err != nil {
		return "", err
	}
	if f == nil {
		return "", b.fail(b.name, "unpack it and name the mesh file in it", "this is a zip archive without _rels/.rels, so it is no 3MF file")
	}
	target, count := "", 0
	err = r.walk(f, "/_rels/.rels", func(x *xmlReader) error {
		start, err := x.next()
		if err != nil || !start {
			return err
		}
		for {
			start, err := x.next()
			if err != nil || !start {
				return err
			}
			kind, _ := x.get("Type")
			if string(x.local) == "Relationship" && string(x.space) == nsRels && string(kind) == relModel {
				to, _ := x.get("Target")
				mode, _ := x.get("TargetMode")
				if bytes.EqualFold(mode, []byte("External")) {
					return b.fail(b.name, "save the whole model in one file", "the model of the package lies outside it, at %s", quote(to))
				}
				target = string(to)
				count++
			}
			if err := x.pass(); err != nil {
				return err
			}
		}
	})
	switch {
	case err != nil:
		return "", err
	case count == 0:
		return "", b.fail(b.name, "export it again", "the package names no 3D model in _rels/.rels, so it is no 3MF file that can be read")
	case count > 1:
		return "", b.fail(b.name, "export it again", "the package names %d 3D models to start with, and only one is allowed", count)
	}
	name, ok := partName("/", target)
	if !ok {
		return "", b.fail(b.name, "export it again", "the package starts with a part outside it, %s", quote([]byte(target)))
	}
	return name, nil
}

// walk hands the text of a part to do, and puts what is wrong with it as XML or
// as packed bytes into words.
func (r *reader3MF) walk(f *zip.File, name string, do func(x *xmlReader) error) error {
	text, done, err := r.parts.open(f, name)
	if err != nil {
		return err
	}
	x := newXML(text)
	if err = do(x); err == nil {
		err = done()
	}
	var said *fault.Error
	switch {
	case err == nil || errors.As(err, &said):
		return err
	case errors.Is(err, errBomb):
		return r.parts.bomb(name)
	case errors.Is(err, zip.ErrChecksum):
		return r.b.fail(r.b.name, "the file was damaged; export or copy it again", "part %s does not match its checksum", name)
	case err == io.EOF:
		err = errXMLEnd
	}
	return r.b.fail(at(r.b.name+":"+name, x.line()), "export it again", "%s", err)
}

// part reads a model part, once.
func (r *reader3MF) part(name string) (*part3MF, error) {
	key := strings.ToLower(name)
	if p := r.read[key]; p != nil {
		return p, nil
	}
	f, err := r.parts.find(name)
	if err != nil {
		return nil, err
	}
	if f == nil {
		return nil, r.b.fail(r.b.name, "export it again", "the package has no part %s, but names it as a model", name)
	}
	p := &part3MF{name: name, unit: "millimeter", size: int(min(f.UncompressedSize64, uint64(r.parts.budget.left))), objects: map[int]*object3MF{}}
	r.read[key] = p
	return p, r.walk(f, name, func(x *xmlReader) error { return r.model(x, p) })
}

// fail makes a fault at the line of a part.
func (r *reader3MF) fail(p *part3MF, line int, text string, args ...any) error {
	return r.b.fail(at(r.b.name+":"+p.name, line), "export it again", text, args...)
}

// core reports whether x stands at an element of the core specification, and
// keeps in mind what else it meets.
func (r *reader3MF) core(x *xmlReader) bool {
	for i := range x.attr {
		if s := x.attr[i].space; s != nil {
			r.ignore(s)
		}
	}
	if string(x.space) == nsCore {
		return true
	}
	r.ignore(x.space)
	return false
}

// ignore notes an extension that is not read and may say something of the shape.
func (r *reader3MF) ignore(space []byte) {
	if len(space) == 0 || bytes.HasPrefix(space, []byte("http://www.w3.org/")) {
		return
	}
	name, plain := extensionName(string(space))
	if !plain && !slices.Contains(r.ignored, name) && len(r.ignored) < 20 {
		r.ignored = append(r.ignored, name)
	}
}

// each calls do for every child of the element that x stands at.
func (r *reader3MF) each(x *xmlReader, do func(name []byte) error) error {
	for {
		start, err := x.next()
		if err != nil || !start {
			return err
		}
		if !r.core(x) {
			err = x.pass()
		} else {
			err = do(x.local)
		}
		if err != nil {
			return err
		}
	}
}

// model reads a model part from its first element on.
func (r *reader3MF) model(x *xmlReader, p *part3MF) error {
	start, err := x.next()
	if err != nil {
		return err
	}
	if !start || string(x.local) != "model" || string(x.space) != nsCore {
		return r.fail(p, x.line(), "the part does not begin with a model of the 3MF core specification")
	}
	if u, ok := x.get("unit"); ok {
		p.unit = string(bytes.TrimSpace(u))
		if _, ok := units3MF[p.unit]; !ok {
			return r.fail(p, x.line(), "%s is no unit of 3MF", quote(u))
		}
	}
	need, _ := x.get("requiredextensions")
	for _, prefix := range bytes.Fields(need) {
		space := x.namespace(prefix)
		if space == nil {
			return r.fail(p, x.line(), "the model requires an extension %s and does not say what that is", quote(prefix))
		}
		if name, plain := extensionName(string(space)); !plain && string(space) != nsCore {
			return r.b.fail(at(r.b.name+":"+p.name, x.line()), "save the master as plain triangles: binary STL, or 3MF without that extension",
				"the file requires the extension %q of 3MF, which is not read", name)
		}
	}
	return r.each(x, func(name []byte) error {
		switch string(name) {
		case "resources":
			return r.each(x, func(name []byte) error {
				if string(name) == "object" {
					return r.object(x, p)
				}
				return x.pass()
			})
		case "build":
			return r.each(x, func(name []byte) error {
				if string(name) != "item" {
					return x.pass()
				}
				return r.reference(x, p, &p.build)
			})
		}
		return x.pass()
	})
}

// id reads the number of an object.
func (r *reader3MF) id(x *xmlReader, p *part3MF, attr string) (int, error) {
	v, _ := x.get(attr)
	n, ok := integer(bytes.TrimSpace(v))
	if !ok || n < 1 || n > math.MaxInt32 {
		return 0, r.fail(p, x.line(), "%s is no number of an object", quote(v))
	}
	return n, nil
}

// reference reads a component or an item of the build.
func (r *reader3MF) reference(x *xmlReader, p *part3MF, list *[]reference) error {
	id, err := r.id(x, p, "objectid")
	if err != nil {
		return err
	}
	if r.held -= 160; r.held < 0 {
		return r.b.full()
	}
	to := reference{part: p.name, id: id, move: straight, line: x.line()}
	for _, a := range x.attr {
		if string(a.space) == nsProduction && string(a.local) == "path" {
			name, ok := partName(p.name[:strings.LastIndexByte(p.name, '/')+1], string(a.value))
			if !ok {
				return r.fail(p, x.line(), "%s is no part of the package", quote(a.value))
			}
			to.part = name
		}
	}
	if v, ok := x.get("transform"); ok {
		f := bytes.Fields(v)
		if len(f) != len(to.move) {
			return r.fail(p, x.line(), "a transform has %d numbers and not 12", len(f))
		}
		for i, w := range f {
			if to.move[i], ok = number(w); !ok {
				return r.fail(p, x.line(), "%s in a transform is not a number", quote(w))
			}
		}
		if d := to.move.turn(); d == 0 || math.IsNaN(d) || math.IsInf(d, 0) {
			return r.fail(p, x.line(), "a transform flattens the object or throws it out of all bounds (determinant %g)", d)
		}
	}
	*list = append(*list, to)
	return x.pass()
}

// object reads an object of the resources.
func (r *reader3MF) object(x *xmlReader, p *part3MF) error {
	id, err := r.id(x, p, "id")
	if err != nil {
		return err
	}
	if p.objects[id] != nil {
		return r.fail(p, x.line(), "two objects have the number %d", id)
	}
	if r.held -= 256; r.held < 0 {
		return r.b.full()
	}
	o := &object3MF{kind: "model"}
	p.objects[id] = o
	if v, ok := x.get("type"); ok {
		o.kind = string(bytes.TrimSpace(v))
	}
	switch o.kind {
	case "model", "surface", "support", "solidsupport", "other":
	default:
		return r.fail(p, x.line(), "%s is no type of object", quote([]byte(o.kind)))
	}
	return r.each(x, func(name []byte) error {
		switch string(name) {
		case "mesh":
			return r.each(x, func(name []byte) error {
				switch string(name) {
				case "vertices":
					return r.corners(x, p, o)
				case "triangles":
					return r.triangles(x, p, o)
				}
				return x.pass()
			})
		case "components":
			return r.each(x, func(name []byte) error {
				if string(name) != "component" {
					return x.pass()
				}
				return r.reference(x, p, &o.parts)
			})
		}
		return x.pass()
	})
}

// rows calls do for every child of a name, with the values of three attributes.
func (r *reader3MF) rows(x *xmlReader, name string, attr [3]string, do func(v *[3][]byte) error) error {
	plain := string(x.namespace(nil)) == nsCore && !r.slow
	var v [3][]byte
	for {
		if plain && x.quick(name, &attr, &v) {
			if err := do(&v); err != nil {
				return err
			}
			continue
		}
		start, err := x.next()
		if err != nil || !start {
			return err
		}
		if r.core(x) && string(x.local) == name {
			for k, a := range attr {
				v[k], _ = x.get(a)
			}
			if err := do(&v); err != nil {
				return err
			}
		}
		if err := x.pass(); err != nil {
			return err
		}
	}
}

func (r *reader3MF) corners(x *xmlReader, p *part3MF, o *object3MF) error {
	axes := [3]string{"x", "y", "z"}
	if len(p.objects) == 1 && o.v == nil {
		o.v = make([]vec.V3, 0, p.size/130) // what the first object takes if it is the only one
	}
	return r.rows(x, "vertex", axes, func(v *[3][]byte) error {
		var q [3]float64
		for k, w := range v {
			n, ok := number(w)
			if !ok {
				n, ok = number(bytes.TrimSpace(w))
			}
			if !ok {
				return r.fail(p, x.line(), "corner %d has no number %s: %s", len(o.v), axes[k], quote(w))
			}
			q[k] = n
		}
		if r.held -= cornerBytes; r.held < 0 {
			return r.b.full()
		}
		o.v = append(o.v, vec.FromArray(q))
		return nil
	})
}

func (r *reader3MF) triangles(x *xmlReader, p *part3MF, o *object3MF) error {
	names := [3]string{"v1", "v2", "v3"}
	if len(p.objects) == 1 && o.f == nil {
		o.f = make([][3]int32, 0, p.size/65)
	}
	return r.rows(x, "triangle", names, func(v *[3][]byte) error {
		var t [3]int32
		for k, w := range v {
			n, ok := integer(w)
			if !ok {
				n, ok = integer(bytes.TrimSpace(w))
			}
			if !ok || n < 0 || n > math.MaxInt32 {
				return r.fail(p, x.line(), "triangle %d has no number %s: %s", len(o.f), names[k], quote(w))
			}
			t[k] = int32(n)
		}
		if r.held -= triangleBytes; r.held < 0 {
			return r.b.full()
		}
		o.f = append(o.f, t)
		return nil
	})
}

// place adds the object that a reference of part p names, under the transform of
// what holds it.
func (r *reader3MF) place(p *part3MF, to *reference, outer *affine, depth int) error {
	from := p
	if to.part != p.name {
		var err error
		if p, err = r.part(to.part); err != nil {
			return err
		}
		if p.unit != from.unit {
			return r.b.fail(r.b.name, "export it again with one unit", "part %s is in the unit %s and part %s in the unit %s", from.name, from.unit, p.name, p.unit)
		}
	}
	o := p.objects[to.id]
	switch {
	case o == nil:
		return r.fail(from, to.line, "object %d is named here, and %s has none of that number", to.id, p.name)
	case o.busy || depth > 100:
		return r.fail(from, to.line, "object %d holds itself, or components lie more than 100 deep in each other", to.id)
	case o.kind == "support" || o.kind == "solidsupport":
		r.left[0]++
		return nil
	case o.kind == "other":
		r.left[1]++
		return nil
	}
	if r.held -= 64; r.held < 0 {
		return r.b.full()
	}
	move := to.move.then(outer)
	o.busy = true
	defer func() { o.busy = false }()
	for i := range o.parts {
		if err := r.place(p, &o.parts[i], &move, depth+1); err != nil {
			return err
		}
	}
	return r.add(p, to.id, o, &move)
}

// add takes a copy of a mesh into the builder.
func (r *reader3MF) add(p *part3MF, id int, o *object3MF, move *affine) error {
	b := r.b
	if bad := outOfRange(o.f, len(o.v)); bad >= 0 {
		return b.fail(b.name+":"+p.name, "export it again", "triangle %d of object %d names corners %v; corners are numbered from 0 to %d", bad, id, o.f[bad], len(o.v)-1)
	}
	b.facts.Polygons += len(o.f)
	if len(b.f)+len(o.f) > maxTriangles {
		b.over = true
		return nil
	}
	if len(b.f) == 0 && *move == straight {
		b.v, b.f = o.v, o.f
		return nil
	}
	if r.held -= int64(cornerBytes*len(o.v) + triangleBytes*len(o.f)); r.held < 0 {
		return r.b.full()
	}
	n, m := len(b.v), len(b.f)
	b.v, b.f = append(b.v, o.v...), append(b.f, o.f...)
	mirror := move.turn() < 0
	par.For(len(o.v), 16384, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			b.v[n+i] = move.at(o.v[i])
		}
	})
	for i := m; i < len(b.f); i++ {
		t := &b.f[i]
		t[0], t[1], t[2] = t[0]+int32(n), t[1]+int32(n), t[2]+int32(n)
		if mirror {
			t[1], t[2] = t[2], t[1]
		}
	}
	return nil
}

// outOfRange returns the first triangle that names a corner from n on, -1 if none.
func outOfRange(f [][3]int32, n int) int {
	for i := range f {
		if t := &f[i]; uint(t[0]) >= uint(n) || uint(t[1]) >= uint(n) || uint(t[2]) >= uint(n) {
			return i
		}
	}
	return -1
}
