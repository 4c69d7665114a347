package solid

import "testing"

// Hits so near that they take one number can lay two edges of one cut triangle
// on each other, with a segment between them: a flap of two pieces. What lies
// on its two sides must not be taken for one part.
func TestGroupsAcrossAFlap(t *testing.T) {
	ps := []piece{
		{v: [3]int32{0, 1, 3}, part: true},
		{v: [3]int32{1, 2, 3}, part: true, cut: [3]int32{0, -7, 0}},
		{v: [3]int32{2, 1, 3}, part: true, cut: [3]int32{0, 0, 7}},
		{v: [3]int32{1, 4, 3}, part: true},
	}
	if g := groups(ps, 5); g[0] == g[3] {
		t.Errorf("both sides of the segment are one part: %v", g)
	}
	// Three triangles on one edge, as where three labels meet, are one part.
	ps = []piece{{v: [3]int32{0, 1, 2}, src: 0}, {v: [3]int32{1, 0, 3}, src: 1}, {v: [3]int32{0, 1, 4}, src: 2}}
	if g := groups(ps, 5); g[0] != g[1] || g[1] != g[2] {
		t.Errorf("triangles on one edge fall apart: %v", g)
	}
}
