package sculpt

import (
	"math"

	"pourwright/internal/ground/vec"
)

// place returns the vertex of a patch and the mean of its roots. The vertex is
// the point x nearest to the mean c that minimises sum (n_i.(x - p_i))^2
// (Ju et al. 2002): with A = sum n n^T and b = sum n (n.(p - c)), x = c + A^+ b,
// eigenvalues under a tenth of the largest counting as zero. Where that leaves
// the cell whose lowest corner is a, the same sum is minimised inside it.
func (g *lattice) place(p, n []vec.V3, a vec.V3) (vec.V3, vec.V3) {
	var c vec.V3
	for _, q := range p {
		c = c.Add(q)
	}
	c = c.Mul(1 / float64(len(p)))
	var A [3][3]float64
	var b [3]float64
	for i, q := range p {
		u := n[i].Array()
		r := n[i].Dot(q.Sub(c))
		for j := range 3 {
			b[j] += u[j] * r
			for k := range 3 {
				A[j][k] += u[j] * u[k]
			}
		}
	}
	l, e := eigen(A)
	top := max(l[0], l[1], l[2])
	x := c
	for k := range 3 {
		if l[k] > 0.1*top {
			x = x.Add(e[k].Mul(e[k].Dot(vec.FromArray(b)) / l[k]))
		}
	}
	lo, hi := a, a.Add(vec.V3{X: g.h, Y: g.h, Z: g.h})
	if within(x, lo, hi) {
		return x, c
	}
	return bounded(A, b, x, c, lo, hi), c
}

func within(x, lo, hi vec.V3) bool {
	return x.X >= lo.X && x.Y >= lo.Y && x.Z >= lo.Z && x.X <= hi.X && x.Y <= hi.Y && x.Z <= hi.Z
}

// bounded minimises y.A y/2 - b.y + small |y|^2 with y = x - c and x between lo
// and hi, one coordinate after another.
func bounded(A [3][3]float64, b [3]float64, x, c, lo, hi vec.V3) vec.V3 {
	y, l, h := x.Sub(c).Array(), lo.Sub(c).Array(), hi.Sub(c).Array()
	small := 1e-3 * (A[0][0] + A[1][1] + A[2][2])
	for k := range 3 {
		y[k] = min(max(y[k], l[k]), h[k])
	}
	for range 40 {
		for k := range 3 {
			s := b[k]
			for j := range 3 {
				if j != k {
					s -= A[k][j] * y[j]
				}
			}
			y[k] = min(max(s/(A[k][k]+small), l[k]), h[k])
		}
	}
	return c.Add(vec.FromArray(y))
}

// eigen returns the eigenvalues and unit eigenvectors of a symmetric matrix
// by Jacobi's rotations.
func eigen(A [3][3]float64) ([3]float64, [3]vec.V3) {
	V := [3][3]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}
	for range 12 {
		off := A[0][1]*A[0][1] + A[0][2]*A[0][2] + A[1][2]*A[1][2]
		if off < 1e-24 {
			break
		}
		for p := range 2 {
			for q := p + 1; q < 3; q++ {
				if A[p][q] == 0 {
					continue
				}
				th := (A[q][q] - A[p][p]) / (2 * A[p][q])
				t := 1 / (math.Abs(th) + math.Sqrt(th*th+1))
				if th < 0 {
					t = -t
				}
				c := 1 / math.Sqrt(t*t+1)
				s := t * c
				for k := range 3 {
					A[k][p], A[k][q] = c*A[k][p]-s*A[k][q], s*A[k][p]+c*A[k][q]
				}
				for k := range 3 {
					A[p][k], A[q][k] = c*A[p][k]-s*A[q][k], s*A[p][k]+c*A[q][k]
					V[k][p], V[k][q] = c*V[k][p]-s*V[k][q], s*V[k][p]+c*V[k][q]
				}
			}
		}
	}
	var e [3]vec.V3
	for k := range 3 {
		e[k] = vec.V3{X: V[0][k], Y: V[1][k], Z: V[2][k]}
	}
	return [3]float64{A[0][0], A[1][1], A[2][2]}, e
}
