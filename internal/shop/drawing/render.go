package drawing

import (
	"image"
	"math"

	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// camera looks along -Z of its frame; X is right and Y is up in the picture.
// A point p stands at pixel (cx + k X.p, cy - k Y.p).
type camera struct {
	f      vec.Frame
	k      float64 // pixels per mm
	cx, cy float64
}

func (c camera) at(p vec.V3) vec.V3 {
	q := c.f.To(p)
	return vec.V3{X: c.cx + c.k*q.X, Y: c.cy - c.k*q.Y, Z: q.Z}
}

// cast is what a camera saw: for each pixel the height along the view and the
// triangle, -1 where there is none.
type cast struct {
	w, h  int
	depth []float32
	tri   []int32
}

// seeMesh draws the mesh into a z-buffer. Rows are filled in bands, each by
// one worker and in the order of the triangles. The backs of a closed mesh are
// left out, for they cannot be seen.
func seeMesh(m *mesh.Mesh, c camera, w, h int, closed bool) *cast {
	s := &cast{w: w, h: h, depth: make([]float32, w*h), tri: make([]int32, w*h)}
	p := make([]vec.V3, len(m.V))
	par.For(len(m.V), 8192, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			p[i] = c.at(m.V[i])
		}
	})
	seen := &mesh.Mesh{V: p, F: m.F}
	lists := bands(seen, h, func(q vec.V3) float64 { return q.Y })
	par.For(len(lists), 1, func(lo, hi int) {
		for b := lo; b < hi; b++ {
			r0, r1 := b*band, min(h, (b+1)*band)
			for k := r0 * w; k < r1*w; k++ {
				s.depth[k], s.tri[k] = float32(math.Inf(-1)), -1
			}
			for _, i := range lists[b] {
				t := m.F[i]
				a, b, c := p[t[0]], p[t[1]], p[t[2]]
				// y runs down, so a front face turns the other way
				if closed && (b.X-a.X)*(c.Y-a.Y)-(b.Y-a.Y)*(c.X-a.X) > 0 {
					continue
				}
				scan(a, b, c, w, r0, r1, func(k, n int, z, dz float64) {
					for end := k + n; k < end; k, z = k+1, z+dz {
						if d := float32(z); d > s.depth[k] {
							s.depth[k], s.tri[k] = d, i
						}
					}
				})
			}
		}
	})
	return s
}

// shade turns what was seen into a picture: warm paper, plain light from the
// upper left, ink where the body ends or folds by more than 35 degrees. hidden
// says whether a point of the mesh belongs to an undercut, which is hatched by
// upright lines. over pixels in each direction become one of the picture.
func (s *cast) shade(t *subject, c camera, img *image.RGBA, x0, y0, over int) {
	m, hidden := t.m, t.hidden
	normals := make([]vec.V3, len(m.F))
	light := make([]float32, len(m.F))
	l := vec.V3{X: -0.45, Y: 0.6, Z: 0.66}.Unit()
	par.For(len(m.F), 8192, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			n := c.f.ToDir(t.normal[i])
			if n.Z < 0 {
				n = n.Mul(-1)
			}
			normals[i] = n
			light[i] = float32(0.60 + 0.40*math.Max(0, n.Dot(l)))
		}
	})
	jump := float32(0)
	if c.k > 0 {
		jump = float32(6 / c.k) // a step of six pixels in depth
	}
	ink := s.inked(jump, normals)
	period := max(4, int(math.Round(0.9*pictureScale*float64(over))))
	stroke := max(1, period/3)
	wo, ho := s.w/over, s.h/over
	par.For(ho, 16, func(lo, hi int) {
		for y := lo; y < hi; y++ {
			for x := range wo {
				var r, g, b, n float32
				for sy := range over {
					for sx := range over {
						px, py := x*over+sx, y*over+sy
						k := py*s.w + px
						n++
						cr, cg, cb := paperTint.R, paperTint.G, paperTint.B
						if ink[k] != inkNone {
							cr, cg, cb = inkTint.R, inkTint.G, inkTint.B
						} else if t := s.tri[k]; t >= 0 {
							v := light[t]
							cr, cg, cb = uint8(float32(bodyTint.R)*v), uint8(float32(bodyTint.G)*v), uint8(float32(bodyTint.B)*v)
							if px%period < stroke && hidden != nil && hidden(c.back(px, py, float64(s.depth[k]))) {
								cr, cg, cb = inkTint.R, inkTint.G, inkTint.B
							}
						}
						r, g, b = r+float32(cr), g+float32(cg), b+float32(cb)
					}
				}
				o := img.PixOffset(x0+x, y0+y)
				img.Pix[o], img.Pix[o+1], img.Pix[o+2], img.Pix[o+3] = uint8(r/n), uint8(g/n), uint8(b/n), 255
			}
		}
	})
}

// bodyTint is the lightest tone of a body.
var bodyTint = colour{0xea, 0xe8, 0xe0}

// What a pixel is inked for.
const (
	inkNone = iota
	inkFold // the faces fold there
	inkEdge // the body ends or steps in depth there
)

// speck is the longest side, in pixels of the cast, of a piece of fold lines
// that hangs on nothing and is left out: broken stretches of a rib that hardly
// folds look like dirt.
const speck = 60

// inked returns for each pixel what it is inked for. Pieces of fold lines
// shorter than speck that meet no outline are taken out.
func (s *cast) inked(jump float32, normals []vec.V3) []uint8 {
	ink := make([]uint8, s.w*s.h)
	par.For(s.h, 32, func(lo, hi int) {
		for y := lo; y < hi; y++ {
			for x := range s.w {
				ink[y*s.w+x] = s.inky(y*s.w+x, x, y, jump, normals)
			}
		}
	})
	s.dropSpecks(ink)
	return ink
}

// dropSpecks takes out the pieces of fold lines that are shorter than speck and
// meet no edge.
func (s *cast) dropSpecks(ink []uint8) {
	seen := make([]bool, len(ink))
	var piece []int32
	for k0 := range ink {
		if ink[k0] != inkFold || seen[k0] {
			continue
		}
		piece = append(piece[:0], int32(k0))
		seen[k0] = true
		hangs := false
		x0, x1, y0, y1 := s.w, 0, s.h, 0
		for n := 0; n < len(piece); n++ {
			k := int(piece[n])
			px, py := k%s.w, k/s.w
			x0, x1, y0, y1 = min(x0, px), max(x1, px), min(y0, py), max(y1, py)
			for y := max(0, py-2); y <= min(s.h-1, py+2); y++ {
				for x := max(0, px-2); x <= min(s.w-1, px+2); x++ {
					q := y*s.w + x
					hangs = hangs || ink[q] == inkEdge
					if ink[q] == inkFold && !seen[q] {
						seen[q] = true
						piece = append(piece, int32(q))
					}
				}
			}
		}
		if !hangs && x1-x0 < speck && y1-y0 < speck {
			for _, k := range piece {
				ink[k] = inkNone
			}
		}
	}
}

// inky says whether pixel k stands on an edge: an outline, a step in depth or a
// fold. Depth may change by the slope of the face itself.
func (s *cast) inky(k, px, py int, jump float32, normals []vec.V3) uint8 {
	t := s.tri[k]
	fold := uint8(inkNone)
	for _, d := range [2][2]int{{1, 0}, {0, 1}} {
		x, y := px+d[0], py+d[1]
		if x >= s.w || y >= s.h {
			continue
		}
		q := y*s.w + x
		u := s.tri[q]
		if (t < 0) != (u < 0) {
			return inkEdge
		}
		if t < 0 || t == u {
			continue
		}
		n, o := normals[t], normals[u]
		if dz := s.depth[k] - s.depth[q]; dz > jump || dz < -jump {
			if slope := 2 / max(0.05, min(n.Z, o.Z)); float64(max(dz, -dz)) > float64(jump)/6*slope+float64(jump) {
				return inkEdge
			}
		}
		if n.Dot(o) < foldCos && s.folds(px, py, d, normals) {
			fold = inkFold
		}
	}
	return fold
}

// foldCos is the cosine of the angle from which a fold is drawn.
const foldCos = 0.82

// folds reports whether the faces fold between the two sides of a pixel as well
// as at it: a sliver or a wrinkle of the mesh narrower than that is none.
func (s *cast) folds(px, py int, d [2]int, normals []vec.V3) bool {
	const aside = 3
	x0, y0, x1, y1 := px-aside*d[0], py-aside*d[1], px+(aside+1)*d[0], py+(aside+1)*d[1]
	if x0 < 0 || y0 < 0 || x1 >= s.w || y1 >= s.h {
		return true
	}
	t, u := s.tri[y0*s.w+x0], s.tri[y1*s.w+x1]
	return t < 0 || u < 0 || normals[t].Dot(normals[u]) < foldCos
}

// back takes a pixel and its depth back to the mesh's frame.
func (c camera) back(px, py int, depth float64) vec.V3 {
	return c.f.From(vec.V3{X: (float64(px) - c.cx) / c.k, Y: (c.cy - float64(py)) / c.k, Z: depth})
}

// visible reports whether p is the foremost point at its pixel, within slack.
func (s *cast) visible(c camera, p vec.V3, slack float64) bool {
	q := c.at(p)
	x, y := int(math.Round(q.X)), int(math.Round(q.Y))
	if x < 1 || y < 1 || x >= s.w-1 || y >= s.h-1 {
		return false
	}
	low := float32(math.Inf(1))
	for dy := -1; dy <= 1; dy++ {
		for dx := -1; dx <= 1; dx++ {
			low = min(low, s.depth[(y+dy)*s.w+x+dx])
		}
	}
	return float64(low) <= q.Z+slack
}
