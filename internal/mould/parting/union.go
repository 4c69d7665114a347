package parting

import (
	"math"
	"slices"

	"pourwright/internal/ground/vec"
)

type hit struct {
	z float64
	d int32 // +1 where the line, going up, enters; -1 where it leaves
}

// lookUnion does what look does by sorting the crossings of every sample:
// inside is winding number above 0. It also returns the plain signed length,
// summed over the samples, as a volume.
func (b *body) lookUnion(f vec.Frame, n int) (r shade, signed float64) {
	k := pool.Get().(*scratch)
	defer pool.Put(k)
	lo, hi := k.project(b, f)
	r.extent = hi.Z - lo.Z
	h, nx, ny := k.cells(lo, hi, n)
	if h == 0 {
		return r, 0
	}
	start := make([]int32, nx*ny+1)
	for _, t := range b.f {
		list, _ := k.triangle(t, nx, ny)
		for _, c := range list {
			start[c.q+1]++
		}
	}
	for q := range nx * ny {
		start[q+1] += start[q]
	}
	hits := make([]hit, start[nx*ny])
	fill := slices.Clone(start)
	for _, t := range b.f {
		list, up := k.triangle(t, nx, ny)
		d := int32(1)
		if up {
			d = -1
		}
		for _, c := range list {
			hits[fill[c.q]] = hit{c.z, d}
			fill[c.q]++
		}
	}
	tiny := 1e-9 * b.long
	for q := range nx * ny {
		first, last, in, sum := inside(hits[start[q]:start[q+1]])
		signed += sum
		if last <= first {
			continue
		}
		r.shadow++
		r.solid += in
		if g := last - first - in; g > tiny {
			r.locked += g
		}
	}
	a := h * h
	r.shadow *= a
	r.locked *= a
	r.solid *= a
	return r, signed * a
}

// inside sorts the crossings of one line and returns its first entry, its last
// exit, the length with winding number above 0 and the signed length.
func inside(x []hit) (first, last, in, signed float64) {
	slices.SortFunc(x, func(a, b hit) int {
		switch {
		case a.z < b.z:
			return -1
		case a.z > b.z:
			return 1
		}
		return int(b.d - a.d)
	})
	first, last = math.Inf(1), math.Inf(-1)
	w, from := int32(0), 0.0
	for _, c := range x {
		was := w
		w += c.d
		signed -= float64(c.d) * c.z
		if was <= 0 && w > 0 {
			from = c.z
		}
		if was > 0 && w <= 0 && c.z > from {
			in += c.z - from
			first, last = min(first, from), max(last, c.z)
		}
	}
	return first, last, in, signed
}

// settle finds out whether shells overlap, by the length inside against the
// signed length of the same samples, and takes the union's volume if they do.
func (b *body) settle() {
	r, signed := b.lookUnion(aim(vec.V3{}, vec.V3{X: 0.36, Y: 0.48, Z: 0.8}), 192)
	if math.Abs(r.solid-signed) > 1e-5*math.Abs(signed) {
		b.union = true
		b.volume += r.solid - signed
	}
}
