package fit

import "sort"

// lowest searches the lowest value of f near x by the simplex of Nelder and Mead,
// Computer J. 7 (1965) 308 (from memory), with edges of size at first. It ends
// when the corners differ by less than tol, or after so many values.
func lowest(f func([]float64) float64, x []float64, size, tol float64, most int) []float64 {
	type corner struct {
		x []float64
		f float64
	}
	n, count := len(x), 0
	at := func(x []float64) corner {
		count++
		return corner{x, f(x)}
	}
	list := []corner{at(append([]float64(nil), x...))}
	for i := range n {
		y := append([]float64(nil), x...)
		y[i] += size
		list = append(list, at(y))
	}
	for {
		sort.SliceStable(list, func(i, j int) bool { return list[i].f < list[j].f })
		if count >= most || list[n].f-list[0].f < tol {
			return list[0].x
		}
		along := func(s float64) corner { // from the mean of the others away from the worst
			y := make([]float64, n)
			for k := range y {
				for i := range n {
					y[k] += list[i].x[k] / float64(n)
				}
				y[k] += s * (y[k] - list[n].x[k])
			}
			return at(y)
		}
		r := along(1)
		switch {
		case r.f < list[0].f:
			if e := along(2); e.f < r.f {
				r = e
			}
			list[n] = r
		case r.f < list[n-1].f:
			list[n] = r
		default:
			s := -0.5
			if r.f < list[n].f {
				s = 0.5
			}
			if c := along(s); c.f < min(r.f, list[n].f) {
				list[n] = c
				continue
			}
			for i := 1; i <= n; i++ {
				y := make([]float64, n)
				for k := range y {
					y[k] = (list[0].x[k] + list[i].x[k]) / 2
				}
				list[i] = at(y)
			}
		}
	}
}
