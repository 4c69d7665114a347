package meshfile

import (
	"fmt"
	"math"
	"math/bits"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// builder takes the corners and triangles of a file.
type builder struct {
	name   string
	facts  *Facts
	v      []vec.V3
	f      [][3]int32
	over   bool  // more than maxTriangles
	lack   bool  // more than may be held
	most   int64 // bytes of corners and triangles that may be held
	packed bool  // the file was packed with gzip
	commas commas
}

// maxTriangles keeps half-edge numbers within 31 bits. No polygon has maxCorners.
const (
	maxTriangles = 200_000_000
	maxCorners   = 1 << 20
)

// What is held of a file: heldFloor bytes of corners and triangles, or heldRatio
// times the file where that is more. Files of whole meshes need up to five times.
const (
	heldFloor = 40 << 20
	heldRatio = 12

	cornerBytes   = 24
	triangleBytes = 12
)

func newBuilder(name string, facts *Facts) *builder {
	return &builder{name: name, facts: facts, most: max(heldFloor, heldRatio*facts.Bytes)}
}

// room reports whether so many more corners and triangles may be held.
func (b *builder) room(corners, triangles int) bool {
	return cornerBytes*int64(len(b.v)+corners)+triangleBytes*int64(len(b.f)+triangles) <= b.most
}

// full says that they may not.
func (b *builder) full() error {
	return b.fail(b.name, "thin the mesh out, or save it as binary STL", "corners and triangles take more than the %d bytes of memory that a file of %d bytes may fill", b.most, b.facts.Bytes)
}

func (b *builder) note(text string, args ...any) {
	b.facts.Notes = append(b.facts.Notes, fmt.Sprintf(text, args...))
}

// fail makes an input fault at a place in the file.
func (b *builder) fail(place, hint, text string, args ...any) error {
	return fault.New(fault.Input, place, hint, text, args...)
}

// tooMany refuses a polygon.
func (b *builder) tooMany(place string) error {
	return b.fail(place, "cut it into triangles in the program that made it", "a face has more than %d corners", maxCorners)
}

// fan adds a polygon as triangles from its first corner.
func (b *builder) fan(corner []int32) {
	if len(corner) < 3 {
		return
	}
	b.facts.Polygons++
	b.over = b.over || len(b.f)+len(corner) > maxTriangles
	b.lack = b.lack || !b.room(0, len(corner)-2)
	if b.over || b.lack {
		return
	}
	for k := 2; k < len(corner); k++ {
		b.f = append(b.f, [3]int32{corner[0], corner[k-1], corner[k]})
	}
}

// finish checks the numbers, joins equal corners and drops triangles without
// three different ones.
func (b *builder) finish(opt Options) (*mesh.Mesh, error) {
	b.facts.Triangles = len(b.f)
	if b.lack {
		return nil, b.full()
	}
	if b.over {
		return nil, b.fail(b.name, "thin the mesh out to a few million triangles and save it again", "the file holds more than %d triangles", maxTriangles)
	}
	if len(b.f) == 0 {
		if len(b.v) > 0 {
			return nil, b.fail(b.name, "save the master as a surface of triangles, not as a cloud of points", "the file holds %d points but no face", len(b.v))
		}
		return nil, b.fail(b.name, "export the master again", "the file holds no triangles")
	}
	if err := b.checkFinite(); err != nil {
		return nil, err
	}
	place := join(b.v)
	m := &mesh.Mesh{V: b.v, F: b.f[:0]}
	for _, t := range b.f {
		t = [3]int32{place[t[0]], place[t[1]], place[t[2]]}
		if mesh.Proper(t) {
			m.F = append(m.F, t)
		}
	}
	b.facts.Degenerate = b.facts.Triangles - len(m.F)
	if len(m.F) == 0 {
		return nil, b.fail(b.name, "export the master again", "all %d triangles of the file have fewer than three different corners", b.facts.Triangles)
	}
	if opt.KeepOrder {
		m.Compact()
		return m, nil
	}
	return mesh.Canonical(m), nil
}

// checkFinite names the first triangle with a corner that is no number. It
// also makes -0 to 0, and refuses numbers whose products would overflow.
func (b *builder) checkFinite() error {
	const limit = 1e60
	bad := par.Sum(len(b.v), 16384, func(lo, hi int) float64 {
		n := 0.0
		for i := lo; i < hi; i++ {
			p := &b.v[i]
			if !(math.Abs(p.X) < limit && math.Abs(p.Y) < limit && math.Abs(p.Z) < limit) {
				n++
			}
			p.X, p.Y, p.Z = p.X+0, p.Y+0, p.Z+0
		}
		return n
	})
	if bad == 0 {
		return nil
	}
	for i, t := range b.f {
		for _, k := range t {
			p := b.v[k]
			if !p.Finite() {
				return b.fail(b.name, "repair the mesh or export it again", "triangle %d has a corner that is not a finite number (%g, %g, %g)", i+1, p.X, p.Y, p.Z)
			}
			if !(math.Abs(p.X) < limit && math.Abs(p.Y) < limit && math.Abs(p.Z) < limit) {
				return b.fail(b.name, "check the export", "triangle %d has a corner beyond all use (%g, %g, %g)", i+1, p.X, p.Y, p.Z)
			}
		}
	}
	return nil // only corners that no triangle uses
}

// join returns, for every corner, the first corner of the same three numbers.
// Open addressing with linear steps; each slot holds a corner and the upper
// half of its hash, so that most misses are told apart without a look at v.
func join(v []vec.V3) []int32 {
	place := make([]int32, len(v))
	hash := make([]uint64, len(v))
	par.For(len(v), 16384, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			hash[i] = hashOf(v[i])
		}
	})
	log := max(bits.Len(uint(len(v)))-2, 4) // an STL file names every corner about six times
	slot := make([]uint64, 1<<log)          // hash tag above, corner + 1 below; 0 is free
	mask := uint64(len(slot) - 1)
	grow := len(slot) * 3 / 4
	used := 0
	for i, h := range hash {
		for k := h & mask; ; k = (k + 1) & mask {
			s := slot[k]
			if s == 0 {
				slot[k] = h&^(1<<32-1) | uint64(i+1)
				place[i] = int32(i)
				used++
				break
			}
			if (s^h)>>32 == 0 && v[uint32(s)-1] == v[i] {
				place[i] = int32(uint32(s) - 1)
				break
			}
		}
		if used > grow {
			slot, mask = rehash(slot, hash)
			grow = len(slot) * 3 / 4
		}
	}
	return place
}

func rehash(old []uint64, hash []uint64) ([]uint64, uint64) {
	slot := make([]uint64, 2*len(old))
	mask := uint64(len(slot) - 1)
	for _, s := range old {
		if s == 0 {
			continue
		}
		k := hash[uint32(s)-1] & mask
		for slot[k] != 0 {
			k = (k + 1) & mask
		}
		slot[k] = s
	}
	return slot, mask
}

// hashOf mixes the bits of three numbers (multiply-fold, constants from the
// fractional part of the golden ratio and of pi).
func hashOf(p vec.V3) uint64 {
	const k0, k1, k2 = 0x9e3779b97f4a7c15, 0x243f6a8885a308d3, 0x13198a2e03707344
	fold := func(a, b uint64) uint64 {
		hi, lo := bits.Mul64(a, b)
		return hi ^ lo
	}
	h := fold(math.Float64bits(p.X)^k0, k1)
	h = fold(h^math.Float64bits(p.Y), k2^k0)
	return fold(h^math.Float64bits(p.Z), k1^k2|1)
}
