package mould

import (
	"math"
	"testing"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/voxel"
)

// rise fills a cavity slowly from below, as numbers only: layers h apart, in
// each the stretches of metal along z on lines h apart. Stretches that overlap
// on neighbouring lines of one layer or of the next lower one are joined, from
// the top down; a body of stretches without an outlet that meets one with an
// outlet keeps its air. It shares no code with the product but the casting of
// columns.
type rise struct {
	h         float64
	nx, ny    int
	top, left float64
	cols      *voxel.Columns
	start     []int // of the columns' stretches
	up        []int // union-find
	volume    []float64
	open      []bool
}

func newRise(f *finished, h float64) *rise {
	s := f.plan.Block.Size
	r := &rise{h: h, nx: int(math.Ceil(s[0]/h)) + 1, ny: int(math.Ceil(s[1]/h)) + 1}
	// the first layer lies half a cell under the block's upper side
	r.left, r.top = -s[0]/2+0.283*h, s[1]/2-0.5*h
	r.cols = voxel.Cast(f.cavity, r.nx, r.ny, r.left, r.top-float64(r.ny-1)*h, h)
	r.start = make([]int, r.nx*r.ny+1)
	for q := range r.nx * r.ny {
		r.start[q+1] = r.start[q] + len(r.cols.Of(q))
	}
	n := r.start[r.nx*r.ny]
	r.up, r.volume, r.open = make([]int, n), make([]float64, n), make([]bool, n)
	for q := range r.nx * r.ny {
		for k, x := range r.cols.Of(q) {
			r.up[r.start[q]+k], r.volume[r.start[q]+k] = r.start[q]+k, (x.Hi-x.Lo)*h*h*h
		}
	}
	return r
}

func (r *rise) root(k int) int {
	for r.up[k] != k {
		r.up[k] = r.up[r.up[k]]
		k = r.up[k]
	}
	return k
}

// place returns where line i of row j (rows count from below) stands.
func (r *rise) place(i, j int) (x, y float64) {
	return r.left + float64(i)*r.h, r.top - float64(r.ny-1-j)*r.h
}

// openNear lets air out of every stretch within d of p.
func (r *rise) openNear(p vec.V3, d float64) (n int) {
	r.near(p, d, func(k int) { r.open[k] = true; n++ })
	return n
}

func (r *rise) near(p vec.V3, d float64, do func(k int)) {
	w := int(d/r.h) + 1
	ci, cj := int(math.Round((p.X-r.left)/r.h)), r.ny-1-int(math.Round((r.top-p.Y)/r.h))
	for j := max(0, cj-w); j <= min(r.ny-1, cj+w); j++ {
		for i := max(0, ci-w); i <= min(r.nx-1, ci+w); i++ {
			x, y := r.place(i, j)
			for k, s := range r.cols.At(i, j) {
				if math.Hypot(math.Hypot(x-p.X, y-p.Y), p.Z-min(max(p.Z, s.Lo), s.Hi)) <= d {
					do(r.start[j*r.nx+i] + k)
				}
			}
		}
	}
}

// join makes one body of two stretches.
func (r *rise) join(a, b int) {
	a, b = r.root(a), r.root(b)
	if a == b {
		return
	}
	if r.volume[a] < r.volume[b] {
		a, b = b, a
	}
	r.up[b] = a
	r.volume[a] += r.volume[b]
	r.open[a] = r.open[a] || r.open[b]
}

// branch is a body without an outlet as it stands over the next layer.
type branch struct {
	root, stretch int
	volume, low   float64
	marks         []int
}

// shut lists the closed bodies that have stretches in row j.
func (r *rise) shut(j int, marks []int) []branch {
	var list []branch
	seen := map[int]bool{}
	for k := r.start[j*r.nx]; k < r.start[(j+1)*r.nx]; k++ {
		a := r.root(k)
		if r.open[a] || seen[a] {
			continue
		}
		seen[a] = true
		b := branch{root: a, stretch: k, volume: r.volume[a], low: r.top - float64(r.ny-1-j)*r.h}
		for n, m := range marks {
			if m >= 0 && r.root(m) == a {
				b.marks = append(b.marks, n)
			}
		}
		list = append(list, b)
	}
	return list
}

// run goes from the top down and returns every body of air that stays. marks
// are stretches; a body says which of them it holds.
func (r *rise) run(marks []int) []branch {
	var stays []branch
	for j := r.ny - 1; j >= 0; j-- {
		var closed []branch
		if j < r.ny-1 {
			closed = r.shut(j+1, marks)
		}
		for i := range r.nx {
			q := j*r.nx + i
			if i > 0 {
				r.touch(q, q-1)
			}
			if j < r.ny-1 {
				r.touch(q, q+r.nx)
			}
		}
		for _, b := range closed {
			if r.open[r.root(b.stretch)] {
				stays = append(stays, b)
			}
		}
	}
	for k := range r.up {
		if r.up[k] == k && !r.open[k] {
			stays = append(stays, branch{root: k, stretch: k, volume: r.volume[k], low: math.Inf(-1)})
		}
	}
	return stays
}

// touch joins what overlaps on lines p and q.
func (r *rise) touch(q, p int) {
	for k, a := range r.cols.Of(q) {
		for l, b := range r.cols.Of(p) {
			if a.Lo < b.Hi && b.Lo < a.Hi {
				r.join(r.start[q]+k, r.start[p]+l)
			}
		}
	}
}

// checkAir computes the pockets of cavity.stl again with what opens at the
// block's upper side (cups, feeders, flow-offs) and the knife cuts that are
// made from the start as outlets. But for pockets that a finding names, less
// than 0.05 % of the castings' volume may stay.
func (f *finished) checkAir(t *testing.T) {
	const h = 0.25
	r := newRise(f, h)
	top := 0
	for k := r.start[(r.ny-1)*r.nx]; k < r.start[r.ny*r.nx]; k++ {
		r.open[k] = true
		top++
	}
	if top == 0 {
		t.Error("the cavity does not reach the block's upper side")
	}
	for _, c := range f.plan.Block.Cuts {
		if c.When == "now" && r.openNear(vec.FromArray(c.At), 0.5) == 0 {
			t.Errorf("cut %d at %v does not meet the cavity", c.No, c.At)
		}
	}
	var marks []int
	for _, x := range f.plan.Findings {
		if x.Code != "pocket" || x.At == nil || x.Do == "" {
			continue
		}
		for _, p := range f.plan.Block.Placements {
			m, best := -1, math.Inf(1)
			at := p.Vec().To(vec.FromArray(*x.At))
			r.near(at, 1.5, func(k int) {
				if d := r.from(at, k); d < best {
					m, best = k, d
				}
			})
			marks = append(marks, m)
		}
	}
	left, named := 0.0, 0.0
	for _, b := range r.run(marks) {
		if len(b.marks) > 0 {
			named += b.volume
		} else {
			left += b.volume
			if b.volume > 1e-4*f.plan.Master.Volume {
				x, y, z := r.where(b.stretch)
				t.Logf("%.2f mm3 of air stay over (%.1f, %.1f, %.1f)", b.volume, x, y, z)
			}
		}
	}
	v := f.plan.Master.Volume * float64(f.plan.Block.Cavities)
	t.Logf("air: %.4f %% stays, %.4f %% named; %d cuts", 100*left/v, 100*named/v, len(f.plan.Block.Cuts))
	if left >= 5e-4*v {
		t.Errorf("%.4f %% of the volume stays as air", 100*left/v)
	}
}

// where returns the middle of stretch k.
func (r *rise) where(k int) (x, y, z float64) {
	q := 0
	for r.start[q+1] <= k {
		q++
	}
	x, y = r.place(q%r.nx, q/r.nx)
	s := r.cols.Of(q)[k-r.start[q]]
	return x, y, (s.Lo + s.Hi) / 2
}

func (r *rise) from(p vec.V3, k int) float64 {
	x, y, z := r.where(k)
	return vec.V3{X: x, Y: y, Z: z}.Dist(p)
}
