package vec

import "math"

// Eigen returns the unit eigenvectors of a symmetric matrix by Jacobi's rotations.
func Eigen(a [3][3]float64) [3]V3 {
	v := [3][3]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}
	for range 20 {
		for p := range 2 {
			for q := p + 1; q < 3; q++ {
				if a[p][q] == 0 {
					continue
				}
				th := (a[q][q] - a[p][p]) / (2 * a[p][q])
				t := 1 / (math.Abs(th) + math.Sqrt(th*th+1))
				if th < 0 {
					t = -t
				}
				c := 1 / math.Sqrt(t*t+1)
				s := t * c
				for k := range 3 {
					x, y := a[k][p], a[k][q]
					a[k][p], a[k][q] = c*x-s*y, s*x+c*y
				}
				for k := range 3 {
					x, y := a[p][k], a[q][k]
					a[p][k], a[q][k] = c*x-s*y, s*x+c*y
				}
				for k := range 3 {
					x, y := v[k][p], v[k][q]
					v[k][p], v[k][q] = c*x-s*y, s*x+c*y
				}
			}
		}
	}
	var r [3]V3
	for k := range 3 {
		r[k] = V3{X: v[0][k], Y: v[1][k], Z: v[2][k]}.Unit()
	}
	return r
}
