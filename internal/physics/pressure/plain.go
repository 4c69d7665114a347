package pressure

// Plain solves a system with a symmetric Gauss-Seidel sweep as preconditioner: the plain version
// of Solver.
func Plain(s *System, stop func(first float64) float64) (Report, error) {
	n, m := len(s.X), len(s.Nb)
	var work room
	back := make([]float64, m)
	apply := func(x, out []float64) float64 {
		s.apply(x, out)
		return dot(x, out)
	}
	return work.iterate(s.X, s.B, stop, 5000, apply, func(r, z []float64, _ float64) float64 {
		for i := range m {
			t := r[i]
			for k, j := range s.Nb[i] {
				if j >= 0 && int(j) < i {
					t += s.W[i][k] * z[j]
				}
			}
			z[i] = 0
			if s.Diag[i] > 0 {
				z[i] = t / s.Diag[i]
			}
		}
		// Pockets are the last rows of the sweep, and the first on the way back.
		copy(z[m:], r[m:])
		for _, l := range s.Link {
			z[l.Pocket] += l.W * z[l.Row]
		}
		for i := m; i < n; i++ {
			z[i] /= s.Diag[i]
		}
		for _, l := range s.Link {
			back[l.Row] += l.W * z[l.Pocket]
		}
		for i := m - 1; i >= 0; i-- {
			t := back[i]
			back[i] = 0
			for k, j := range s.Nb[i] {
				if int(j) > i {
					t += s.W[i][k] * z[j]
				}
			}
			if s.Diag[i] > 0 {
				z[i] += t / s.Diag[i]
			}
		}
		return dot(r, z)
	})
}
