package parting

import (
	"cmp"
	"math"
	"slices"

	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
)

// hemisphere returns n directions with z > 0, spread by the golden angle.
func hemisphere(n int) []vec.V3 {
	r := make([]vec.V3, n)
	g := math.Pi * (3 - math.Sqrt(5))
	for i := range r {
		z := (float64(i) + 0.5) / float64(n)
		q := math.Sqrt(1 - z*z)
		s, c := math.Sincos(g * float64(i))
		r[i] = vec.V3{X: q * c, Y: q * s, Z: z}
	}
	return r
}

// Directions are kept with their last clearly non-zero component positive, so
// that an axis has one sign.
func upright(d vec.V3) vec.V3 {
	for _, x := range []float64{d.Z, d.Y, d.X} {
		if x > 1e-9 {
			return d
		}
		if x < -1e-9 {
			return d.Mul(-1)
		}
	}
	return d
}

// special returns the axes that a body suggests by itself: the axes of its
// file, its principal axes of area and the normals that much of its area
// shares. Flat parts lock nothing along one axis only, and the basin of that
// axis is narrower than any grid of directions.
func (b *body) special() []vec.V3 {
	r := []vec.V3{{Z: 1}, {Y: 1}, {X: 1}}
	add := func(d vec.V3) {
		d = upright(d)
		for _, e := range r {
			if math.Abs(e.Dot(d)) > math.Cos(1e-4) {
				return
			}
		}
		r = append(r, d)
	}
	for _, d := range b.shared(8) {
		add(d)
	}
	for _, d := range b.principal() {
		add(d)
	}
	return r
}

// area2 returns twice the area vector of triangle t.
func (b *body) area2(t [3]int32) vec.V3 {
	i, j, k := t[0], t[1], t[2]
	p := vec.V3{X: b.x[j] - b.x[i], Y: b.y[j] - b.y[i], Z: b.z[j] - b.z[i]}
	q := vec.V3{X: b.x[k] - b.x[i], Y: b.y[k] - b.y[i], Z: b.z[k] - b.z[i]}
	return p.Cross(q)
}

// shared returns up to n axes round which the most area looks, each with at
// least 2 % of it within 2 degrees. Normals are gathered in the cells of a cube
// map, then each cell's mean is polished by the normals within 2 degrees.
func (b *body) shared(n int) []vec.V3 {
	const side = 24
	sum := make([]vec.V3, 3*side*side)
	weight := make([]float64, len(sum))
	total := 0.0
	normals := make([]vec.V3, len(b.f))
	cell := make([]int32, len(b.f))
	for i, t := range b.f {
		a := b.area2(t)
		l := a.Len()
		normals[i] = a
		cell[i] = -1
		if l == 0 {
			continue
		}
		total += l
		a = axisCell(a)
		q := cubeCell(a, side)
		cell[i] = int32(q)
		sum[q] = sum[q].Add(a)
		weight[q] += l
	}
	order := make([]int, len(sum))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(weight[b], weight[a]) })
	near := math.Cos(2 * math.Pi / 180)
	var r []vec.V3
	for _, q := range order[:min(len(order), 4*n)] {
		if weight[q] < 0.005*total || len(r) == n {
			break
		}
		d := sum[q].Unit()
		if slices.ContainsFunc(r, func(e vec.V3) bool { return math.Abs(e.Dot(d)) > near }) {
			continue
		}
		var held float64
		for range 2 {
			var s vec.V3
			held = 0
			for _, a := range normals {
				x, l := a.Dot(d), a.Len()
				if math.Abs(x) >= near*l && l > 0 {
					held += l
					if x < 0 {
						a = a.Mul(-1)
					}
					s = s.Add(a)
				}
			}
			if held == 0 {
				break
			}
			d = s.Unit()
		}
		if held >= 0.02*total {
			r = append(r, d)
		}
	}
	return r
}

// axisCell turns a so that its largest component is positive.
func axisCell(a vec.V3) vec.V3 {
	x, y, z := math.Abs(a.X), math.Abs(a.Y), math.Abs(a.Z)
	if x >= y && x >= z && a.X < 0 || y > x && y >= z && a.Y < 0 || z > x && z > y && a.Z < 0 {
		return a.Mul(-1)
	}
	return a
}

func cubeCell(a vec.V3, side int) int {
	x, y, z := math.Abs(a.X), math.Abs(a.Y), math.Abs(a.Z)
	g := func(s, t, l float64) int {
		i := min(side-1, int((s/l+1)/2*float64(side)))
		j := min(side-1, int((t/l+1)/2*float64(side)))
		return i*side + j
	}
	switch {
	case x >= y && x >= z:
		return g(a.Y, a.Z, a.X)
	case y >= z:
		return side*side + g(a.Z, a.X, a.Y)
	}
	return 2*side*side + g(a.X, a.Y, a.Z)
}

// principal returns the eigenvectors of the surface's second moments: the
// normals of a body's planes of symmetry are among them.
func (b *body) principal() []vec.V3 {
	var c vec.V3
	total := 0.0
	mid := func(t [3]int32) vec.V3 {
		return vec.V3{X: b.x[t[0]] + b.x[t[1]] + b.x[t[2]], Y: b.y[t[0]] + b.y[t[1]] + b.y[t[2]], Z: b.z[t[0]] + b.z[t[1]] + b.z[t[2]]}.Mul(1. / 3)
	}
	for _, t := range b.f {
		w := b.area2(t).Len()
		c = c.Add(mid(t).Mul(w))
		total += w
	}
	if total == 0 {
		return nil
	}
	c = c.Mul(1 / total)
	var a [3][3]float64
	for _, t := range b.f {
		w := b.area2(t).Len()
		p := mid(t).Sub(c).Array()
		for i := range 3 {
			for j := range 3 {
				a[i][j] += w * p[i] * p[j]
			}
		}
	}
	e := vec.Eigen(a)
	return e[:]
}

// tried is one direction with what it shows on the stand-in.
type tried struct {
	d vec.V3
	shade
}

// Samples on the longer side of the shadow in the search.
const searchSamples = 72

// survey looks along the special axes and count directions of the hemisphere,
// then refines round the three best that lie apart by a pattern search: eight
// neighbours on the tangent plane, the step halved when none is better. The
// rank is the locked volume plus, against ties, a ten-thousandth of the volume
// for each whole length of the body along the pull.
func (b *body) survey(count int) []tried {
	dirs := b.special()
	own := len(dirs)
	dirs = append(dirs, hemisphere(count)...)
	all := make([]tried, len(dirs))
	par.For(len(dirs), 4, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			all[i] = tried{dirs[i], b.look(dirs[i], searchSamples)}
		}
	})
	spacing := math.Sqrt(2 * math.Pi / float64(count))
	rank := func(t tried) float64 { return round6((t.locked + 1e-4*b.volume*t.extent/b.long) / b.volume) }
	order := make([]int, len(all))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(i, j int) int { return cmp.Compare(rank(all[i]), rank(all[j])) })
	var starts []tried
	for _, i := range order {
		apart := !slices.ContainsFunc(starts, func(s tried) bool {
			return math.Abs(s.d.Dot(all[i].d)) > math.Cos(1.2*spacing)
		})
		if apart {
			starts = append(starts, all[i])
		}
		if len(starts) == 3 {
			break
		}
	}
	for i := range starts {
		starts[i] = b.descend(starts[i], 0.7*spacing, rank)
	}
	return slices.Concat(all[:own], starts, all[own:])
}

func (b *body) descend(t tried, step float64, rank func(tried) float64) tried {
	for step > 0.01 {
		f := vec.AlongZ(t.d)
		var ring [8]tried
		par.For(8, 1, func(lo, hi int) {
			for k := lo; k < hi; k++ {
				s, c := math.Sincos(float64(k) * math.Pi / 4)
				d := t.d.Add(f.X.Mul(step * c)).Add(f.Y.Mul(step * s)).Unit()
				ring[k] = tried{d, b.look(d, searchSamples)}
			}
		})
		best := t
		for _, x := range ring {
			if rank(x) < rank(best) {
				best = x
			}
		}
		if best.d == t.d {
			step /= 2
		} else {
			t = best
		}
	}
	return t
}

// round6 rounds a score to 1e-6 before it is compared.
func round6(x float64) float64 { return math.Round(x*1e6) / 1e6 }
