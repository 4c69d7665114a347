package fill

import (
	"context"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/cells"
)

// plain extends the velocities as extend, by looking at all sides for every layer.
func plain(r *Run) (u [3][]float64, valid [3][]uint8) {
	for d := range 3 {
		u[d], valid[d] = append([]float64{}, r.U[d]...), make([]uint8, len(r.valid[d]))
	}
	for _, s := range r.side {
		if r.solved(s) || r.state[s.lo] == given || r.state[s.hi] == given {
			valid[s.d][s.hi] = 1
		}
	}
	for l := uint8(1); l <= layers; l++ {
		var now []int
		var found []float64
		for k, s := range r.side {
			if valid[s.d][s.hi] != 0 || r.state[s.lo] == shut || r.state[s.hi] == shut {
				continue
			}
			sum, n := 0.0, 0.0
			for _, q := range r.next[k] {
				if q >= 0 && valid[s.d][q] != 0 {
					sum += u[s.d][q]
					n++
				}
			}
			if n > 0 {
				now, found = append(now, k), append(found, sum/n)
			}
		}
		for j, k := range now {
			s := r.side[k]
			u[s.d][s.hi], valid[s.d][s.hi] = found[j], l+1
		}
	}
	return u, valid
}

func TestExtendIsThePlainOne(t *testing.T) {
	likePlain(t, slosh(t))
	// Deep metal: the sides that follow are looked for among those not known.
	c, err := cells.Box([3]int{24, 10, 48}, 1e-3)
	if err != nil {
		t.Fatal(err)
	}
	f := make([]float64, c.Wall+1)
	for i := range c.N {
		if p := c.I[i]; p[2] < 40+p[0]/16 {
			f[i] = 1
		}
	}
	r, err := New(Problem{Cells: c, Metal: Metal{Density: 7000, Viscosity: 1.8e-3}, Gravity: vec.V3{Z: -9.81}}, f)
	if err != nil {
		t.Fatal(err)
	}
	likePlain(t, r)
	known := 0
	for _, s := range r.side {
		if r.valid[s.d][s.hi] == 1 {
			known++
		}
	}
	if bare := len(r.side) - known; 3*bare >= known {
		t.Errorf("%d sides known of %d: the metal is not deep", known, len(r.side))
	}
}

// likePlain compares extend with plain after some steps.
func likePlain(t *testing.T, r *Run) {
	t.Helper()
	if err := r.Advance(context.Background(), 0.02); err != nil {
		t.Fatal(err)
	}
	u, valid := plain(r)
	r.extend()
	last := 0
	for d := range 3 {
		for i := range u[d] {
			if u[d][i] != r.U[d][i] || valid[d][i] != r.valid[d][i] {
				t.Fatalf("side %d of cell %d: %g in layer %d, should be %g in %d", d, i, r.U[d][i], r.valid[d][i], u[d][i], valid[d][i])
			}
			if valid[d][i] == layers+1 {
				last++
			}
		}
	}
	if last == 0 {
		t.Error("no side in the last layer")
	}
}
