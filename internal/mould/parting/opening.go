package parting

import (
	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/voxel"
)

// Drag is the worst overlap of a half with the master while it is moved out.
type Drag struct {
	Outside float64 // volume, away from the undercuts
	Inside  float64 // volume, in columns of an undercut or within two cells of one
	At      float64 // how far the half had moved when Outside was worst
}

// Open moves a half out along z (dir +1 for half 1, -1 for half 2) in steps and
// returns the worst overlap with the master. Both stand in a frame whose z is
// the pull. The columns are cell apart, on a grid of their own. undercut says
// whether a point of a gap belongs to a listed undercut; nil counts every gap.
func Open(half, master *mesh.Mesh, dir, step, cell float64, undercut func(vec.V3) bool) Drag {
	b := bounds(master)
	s := b.Size()
	nx, ny := int(s.X/cell)+1, int(s.Y/cell)+1
	x0, y0 := b.Min.X+0.2713*cell, b.Min.Y+0.2179*cell
	h := voxel.Cast(half, nx, ny, x0, y0, cell)
	m := voxel.Cast(master, nx, ny, x0, y0, cell)
	return drag(h.Of, m, dir, step, undercut)
}

// drag does the work of Open on columns; half gives the spans of a half in
// column q.
func drag(half func(q int) []voxel.Span, m *voxel.Columns, dir, step float64, undercut func(vec.V3) bool) Drag {
	masked := undercutColumns(m, undercut)
	lo, hi := 0.0, 0.0
	first := true
	for q := range m.Len() {
		if s := m.Of(q); len(s) > 0 {
			if a, b := s[0].Lo, s[len(s)-1].Hi; first {
				lo, hi, first = a, b, false
			} else {
				lo, hi = min(lo, a), max(hi, b)
			}
		}
	}
	steps := int((hi-lo)/step) + 1
	out, in := make([]float64, steps), make([]float64, steps)
	par.For(steps, 1, func(a, b int) {
		for n := a; n < b; n++ {
			move := dir * step * float64(n+1)
			for q := range m.Len() {
				metal := m.Of(q)
				if len(metal) == 0 {
					continue
				}
				v := 0.0
				for _, r := range half(q) {
					for _, k := range metal {
						v += max(0, min(r.Hi+move, k.Hi)-max(r.Lo+move, k.Lo))
					}
				}
				if masked[q] {
					in[n] += v
				} else {
					out[n] += v
				}
			}
		}
	})
	var d Drag
	a := m.H * m.H
	for n := range out {
		if out[n]*a > d.Outside {
			d.Outside, d.At = out[n]*a, step*float64(n+1)
		}
		d.Inside = max(d.Inside, in[n]*a)
	}
	return d
}

// undercutColumns marks the columns with a gap of an undercut and those within
// two cells of one.
func undercutColumns(m *voxel.Columns, undercut func(vec.V3) bool) []bool {
	r := make([]bool, m.Len())
	for q := range m.Len() {
		s := m.Of(q)
		x, y := q%m.NX, q/m.NX
		hit := false
		for k := 1; k < len(s); k++ {
			p := vec.V3{X: m.X0 + m.H*float64(x), Y: m.Y0 + m.H*float64(y), Z: (s[k-1].Hi + s[k].Lo) / 2}
			hit = hit || undercut == nil || undercut(p)
		}
		if !hit {
			continue
		}
		for j := max(0, y-2); j <= min(m.NY-1, y+2); j++ {
			for i := max(0, x-2); i <= min(m.NX-1, x+2); i++ {
				r[j*m.NX+i] = true
			}
		}
	}
	return r
}
