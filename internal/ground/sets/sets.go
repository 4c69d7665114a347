// Package sets joins numbers into disjoint sets.
//
// Main function: New. Each set is known by its least member, so that the answer
// does not depend on the order in which sets were joined. Path halving (Tarjan &
// van Leeuwen 1984, J. ACM 31, 245; from memory).
package sets

// Sets holds for each number another of its set; a root is its own.
type Sets []int32

// New returns n sets of one number each.
func New(n int) Sets {
	s := make(Sets, n)
	for i := range s {
		s[i] = int32(i)
	}
	return s
}

// Root returns the least member of the set of i.
func (s Sets) Root(i int32) int32 {
	for s[i] != i {
		s[i] = s[s[i]]
		i = s[i]
	}
	return i
}

// Join makes one set of those of a and b.
func (s Sets) Join(a, b int32) {
	x, y := s.Root(a), s.Root(b)
	s[max(x, y)] = min(x, y)
}

// Roots replaces every number by the least member of its set.
func (s Sets) Roots() []int32 {
	for i := range s {
		s[i] = s.Root(int32(i))
	}
	return s
}
