// Package bvh answers questions about a triangle mesh in space: all crossings
// of a ray, the nearest point of the surface, the triangles near a box, and
// how often the surface winds round a point.
//
// Main function: Build. A Tree keeps a permutation of the triangles and its
// own copy of their corners; the mesh is never changed or reordered. Lengths
// are in the unit of the mesh, ray parameters T in lengths of the direction.
//
// Method: a binary tree of boxes, split by the binned surface area heuristic
// (Wald 2007, On fast construction of SAH-based bounding volume hierarchies).
// Boxes are float32 in coordinates of the mesh's own box and padded by 1e-6 of
// its longest edge, so a query never loses a triangle to rounding; triangles
// are tested in float64. Rays are watertight (Woop, Benthin & Wald 2013,
// Watertight ray/triangle intersection, JCGT 2) with exact signs and a
// one-sided rule on edges and corners: on a closed mesh every line enters as
// often as it leaves. The winding number is that of Jacobson, Kavan &
// Sorkine-Hornung 2013, the fast one after Barill et al. 2018.
//
// Limits: 2^26 triangles; triangles with a corner that is not finite are left
// out. Memory: about 110 bytes per triangle, 60 more once Winding was called.
package bvh

import (
	"math"
	"sync"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// Tree is a search tree over the triangles of a mesh. Its methods may be
// called from several goroutines at once.
type Tree struct {
	box  vec.Box // box of all finite triangles, in mesh units
	mid  vec.V3  // centre of box
	inv  float64 // 1 / half of the longest edge: mesh units to tree units
	lo   [3]float64
	hi   [3]float64 // box, a little wider
	node []node
	root int32   // child code of the whole tree
	tri  []tri   // corners, in tree order
	id   []int32 // id[k] is the triangle of the mesh at tri[k]

	once   sync.Once // fills moment on the first call of Winding
	moment []moment
}

// node holds the boxes of its two children in tree units and the children's
// codes. box is, by three numbers each: lower corner of child 0, of child 1,
// upper corner of child 0, of child 1. A ray picks near and far sides by index.
type node struct {
	box    [12]float32
	c0, c1 int32
}

const upper = 6 // from a lower corner to its upper one

func (n *node) lo0() *[3]float32 { return (*[3]float32)(n.box[0:3]) }
func (n *node) lo1() *[3]float32 { return (*[3]float32)(n.box[3:6]) }
func (n *node) hi0() *[3]float32 { return (*[3]float32)(n.box[6:9]) }
func (n *node) hi1() *[3]float32 { return (*[3]float32)(n.box[9:12]) }

// A child code >= 0 is the index of a node. A code < 0 is a leaf: ^code holds
// the first triangle times 16 plus the number of triangles (0 to 15).
const leafBits = 4

func leafCode(first, count int) int32 { return ^int32(first<<leafBits | count) }

func leafRange(code int32) (first, end int) {
	k := int(^code)
	first = k >> leafBits
	return first, first + k&(1<<leafBits-1)
}

// tri is a triangle by corner, then axis.
type tri [3][3]float64

func (t *tri) corners() (a, b, c vec.V3) {
	return vec.FromArray(t[0]), vec.FromArray(t[1]), vec.FromArray(t[2])
}

// stackSize bounds the depth of any tree: build halves by count below
// maxSplitDepth levels.
const (
	stackSize     = 64
	maxSplitDepth = 36
)

// Len returns the number of triangles in the tree.
func (t *Tree) Len() int { return len(t.tri) }

// Box returns the box of the triangles in the tree; Empty if there is none.
func (t *Tree) Box() vec.Box { return t.box }

// finite reports whether all corners of triangle i are finite.
func finite(m *mesh.Mesh, i int) bool {
	a, b, c := m.Tri(i)
	return a.Finite() && b.Finite() && c.Finite()
}

// local takes a point into tree units: the box's longest edge spans [-1, 1].
func (t *Tree) local(p vec.V3) vec.V3 { return p.Sub(t.mid).Mul(t.inv) }

func scaleOf(b vec.Box) float64 {
	l := b.Longest() / 2
	if !(l > 0) || math.IsInf(1/l, 0) {
		return 1
	}
	return 1 / l
}
