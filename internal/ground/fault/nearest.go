package fault

import "strings"

// Nearest returns the known word closest to word by edit distance (insert,
// delete, change, swap of neighbours; case aside), or "" where none is near
// enough to be meant: more than a third of the letters differ. Ties go to the
// first of known.
func Nearest(word string, known []string) string {
	best, at := "", 0
	w := []rune(strings.ToLower(word))
	if len(w) > 64 {
		return ""
	}
	for _, k := range known {
		r := []rune(strings.ToLower(k))
		d := distance(w, r)
		if d > max(2, (max(len(w), len(r))+2)/3) || d >= max(len(w), len(r)) {
			continue
		}
		if best == "" || d < at {
			best, at = k, d
		}
	}
	return best
}

// distance is the restricted Damerau-Levenshtein distance of a and b.
func distance(a, b []rune) int {
	var prev2 []int
	prev := make([]int, len(b)+1)
	for j := range prev {
		prev[j] = j
	}
	for i := 1; i <= len(a); i++ {
		row := make([]int, len(b)+1)
		row[0] = i
		for j := 1; j <= len(b); j++ {
			cost := 1
			if a[i-1] == b[j-1] {
				cost = 0
			}
			row[j] = min(prev[j]+1, row[j-1]+1, prev[j-1]+cost)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				row[j] = min(row[j], prev2[j-2]+1)
			}
		}
		prev2, prev = prev, row
	}
	return prev[len(b)]
}
