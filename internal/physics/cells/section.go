package cells

import (
	"math"

	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
)

// Section is the cavity's section round a cell, for what happens below the size of
// a cell where the section is thin. It is the same for all shapes whose walls and
// volume are alike: wall per volume, and how the wall's normals are spread.
type Section struct {
	Width float64 // m: a slot's width, a pin's diameter, the narrow side of a duct
	Flat  float64 // narrow by wide side: 0 slot .. 1 pin or square
	Wet   float64 // 1/m, perimeter by area: 2/w in a slot, 4/d in a pin; the meniscus holds sigma cos(angle) Wet
	Drag  float64 // 1/m2, K in grad p = -mu K u, u the mean speed: 12/w2 in a slot, 32/d2 in a pin
	Blend float64 // 1 up to 4 cells across, 0 from 5 on: the part that the form under a cell's size has
}

const (
	spread = 28        // steps that spread the wall over the section
	rate   = 1.0 / 6.5 // of one step
	thin   = 4.3       // cells across up to which Blend is 1: four, and what the width may be off
	thick  = 5         // from which it is 0
)

// Sections returns the section of each cell. The wall of a cell (area by volume,
// and the fourth order of its normals) is spread by diffusion over the open sides until it is even
// over a section of five cells, some three cells along the part; what is then the wall's area by
// volume is the section's perimeter by area,
//
//	s = P / A,   K = f Re s^2 / 32,   width = 2 (1 + r) / s
//
// r being the ratio of the two larger eigenvalues of n n: narrow by wide side of a
// duct, since a wall's area goes with its length. f Re (Darcy) of rectangular ducts is from Shah & London
// (Laminar Flow Forced Convection in Ducts, 1978, eq. 341); round pins (64) are told from square
// ones (56.91) by the fourth order of the normals, by which f Re is taken between the two.
//
// s is the sum of the two larger eigenvalues: walls across the part, as at a blind end, make the third. At
// the end of a slot they make the second, and there s is up to a seventh too large. Nothing is spread
// through the mouth of a thin section (see mouthed): a slot of one cell would else have half its s there. Ports and Wall have no section: Blend 0.
func Sections(c *Cells) []Section {
	n := c.N
	now, next := make([]wall, c.Wall+1), make([]wall, c.Wall+1)
	for i := range n {
		for k, x := range c.skin[i] {
			now[i][k] = float64(x) / c.V[i]
		}
	}
	run := c.runs()
	for range spread {
		par.For(n, 4096, func(lo, hi int) {
			for i := lo; i < hi; i++ {
				own := now[i]
				sum := wall{}
				for k := range c.Nb {
					o := c.Nb[k][i]
					if int(o) >= n || c.mouthed(&run, i, k) {
						continue
					}
					face := int32(i)
					if k%2 == 1 {
						face = o
					}
					g := min(c.A[k/2][face], c.V[i], c.V[o])
					other := &now[o]
					for j := range sum {
						sum[j] += g * (other[j] - own[j])
					}
				}
				f := rate / c.V[i]
				for j := range sum {
					next[i][j] = own[j] + f*sum[j]
				}
			}
		})
		now, next = next, now
	}
	r := make([]Section, c.Wall+1)
	par.For(n, 4096, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			r[i] = sectionOf(&now[i], c.H)
		}
	})
	return r
}

// wideRun is up to how many cells runs are counted.
const wideRun = 10

// runs returns how many cells, by volume, the cavity goes on through each cell along x, y and z.
func (c *Cells) runs() [3][]float32 {
	var r [3][]float32
	par.Do(func() { r[0] = c.along(0) }, func() { r[1] = c.along(1) }, func() { r[2] = c.along(2) })
	return r
}

func (c *Cells) along(d int) []float32 {
	r := make([]float32, c.N)
	for i := range int32(c.N) {
		if int(c.Nb[2*d][i]) < c.N {
			continue
		}
		sum := 0.0
		for j := i; int(j) < c.N; j = c.Nb[2*d+1][j] {
			sum += c.V[j]
		}
		sum = min(sum, wideRun)
		for j := i; int(j) < c.N; j = c.Nb[2*d+1][j] {
			r[j] = float32(sum)
		}
	}
	return r
}

// mouthed reports whether cell i opens through its side k into a thin section, or out of one: across the
// side's axis the cavity widens at once from under five cells to more than twice and a cell and
// a half, and the narrow part goes on, which the outermost cells of something round do not.
func (c *Cells) mouthed(run *[3][]float32, i, k int) bool {
	o := int(c.Nb[k][i])
	for e := range 3 {
		if e == k/2 {
			continue
		}
		wide, thin, on := run[e][i], run[e][o], c.Nb[k][o]
		if wide < thin {
			wide, thin, on = thin, wide, c.Nb[k^1][i]
		}
		if wide > 5.5 && thin < 5 && wide > 2*thin+1.5 && int(on) < c.N && run[e][on] < thin+1.5 && c.V[on] > 0.3 {
			return true
		}
	}
	return false
}

// sectionOf reads a section from the spread wall.
func sectionOf(w *wall, h float64) Section {
	t := w.second()
	e, axis := eigen(&t)
	s := (e[0] + e[1]) / h
	if !(s > 1e-6/h) {
		return Section{Width: math.Inf(1)}
	}
	flat := min(max(e[1]/e[0], 0), 1)
	x := Section{Width: 2 * (1 + flat) / s, Flat: flat, Wet: s}
	x.Blend = min(max((thick-x.Width/h)/(thick-thin), 0), 1)
	round := 0.0
	if x.Blend > 0 {
		round = 1 - w.square(axis)
	}
	x.Drag = Friction(flat, round) * s * s / 32
	return x
}

// Friction returns f Re (Darcy, on the hydraulic diameter) of laminar flow in a
// duct whose narrow side is flat times the wide one, and which is round by a share; see Sections.
func Friction(flat, round float64) float64 {
	r := flat
	f := 96 * (1 - r*(1.3553-r*(1.9467-r*(1.7012-r*(0.9564-r*0.2537)))))
	return f * (1 + (64/56.91-1)*r*round)
}

// skins finds the walls of cells of which only the shares are known: of a cut
// cell the section of its half space, of others what their sides lack.
func (c *Cells) skins() {
	for i := range int32(c.N) {
		if c.part[i] >= 0 {
			_, area, _ := CubeCut(c.Normal[i], c.Offset[i])
			c.skin[i].add(c.Normal[i].Mul(area))
			continue
		}
		for k := range c.Nb {
			a := c.A[k/2][i]
			if k%2 == 1 {
				a = c.A[k/2][c.Nb[k][i]] // 0 at Wall
			}
			var n [3]float64
			n[k/2] = max(1-a, 0)
			c.skin[i].add(vec.FromArray(n))
		}
	}
}
