package photo

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/jpeg"
	"math"
	"math/rand/v2"
)

// The renderer: rays from a pinhole with radial distortion (Brown 1971) onto a
// table, a card or a printed sheet, and a piece; light from one side with soft
// shadows, blur, noise, JPEG. Nothing here is shared with internal/shape.

type p2 struct{ x, y float64 }
type p3 struct{ x, y, z float64 }

func (a p3) dot(b p3) float64     { return a.x*b.x + a.y*b.y + a.z*b.z }
func (a p3) mul(s float64) p3     { return p3{a.x * s, a.y * s, a.z * s} }
func (a p3) add(b p3) p3          { return p3{a.x + b.x, a.y + b.y, a.z + b.z} }
func (a p3) cross(b p3) p3        { return p3{a.y*b.z - a.z*b.y, a.z*b.x - a.x*b.z, a.x*b.y - a.y*b.x} }
func lerp3(a, b p3, t float64) p3 { return a.mul(1 - t).add(b.mul(t)) }

// field is the signed distance of a closed polygon on a raster, inside above 0.
type field struct {
	x0, y0, step float64
	nx, ny       int
	v            []float64
}

func distances(loops [][]p2, margin, step float64) *field {
	f := &field{step: step, x0: 1e9, y0: 1e9}
	x1, y1 := -1e9, -1e9
	for _, l := range loops {
		for _, p := range l {
			f.x0, f.y0 = min(f.x0, p.x), min(f.y0, p.y)
			x1, y1 = max(x1, p.x), max(y1, p.y)
		}
	}
	f.x0, f.y0 = f.x0-margin, f.y0-margin
	f.nx, f.ny = int((x1+margin-f.x0)/step)+2, int((y1+margin-f.y0)/step)+2
	f.v = make([]float64, f.nx*f.ny)
	for j := range f.ny {
		for i := range f.nx {
			x, y := f.x0+float64(i)*step, f.y0+float64(j)*step
			best, in := 1e18, false
			for _, l := range loops {
				for k, a := range l {
					b := l[(k+1)%len(l)]
					dx, dy := b.x-a.x, b.y-a.y
					t := min(1, max(0, ((x-a.x)*dx+(y-a.y)*dy)/(dx*dx+dy*dy)))
					ex, ey := x-a.x-t*dx, y-a.y-t*dy
					best = min(best, ex*ex+ey*ey)
					if (a.y > y) != (b.y > y) && x < a.x+(y-a.y)/(b.y-a.y)*dx {
						in = !in
					}
				}
			}
			d := math.Sqrt(best)
			if !in {
				d = -d
			}
			f.v[j*f.nx+i] = d
		}
	}
	return f
}

func (f *field) at(x, y float64) float64 {
	u, v := (x-f.x0)/f.step, (y-f.y0)/f.step
	if !(u >= 0) || !(v >= 0) || u >= float64(f.nx-1) || v >= float64(f.ny-1) {
		return -8
	}
	i, j := int(u), int(v)
	a, b := u-float64(i), v-float64(j)
	q := f.v[j*f.nx+i:]
	return (1-b)*((1-a)*q[0]+a*q[1]) + b*((1-a)*q[f.nx]+a*q[f.nx+1])
}

type edge int

const (
	flat edge = iota
	round
	chamfered
)

// scene is one picture.
type scene struct {
	w, h        int
	f, k1       float64
	eye         p3
	right, down p3
	fwd         p3
	exif        bool

	piece     *field
	loops     [][]p2 // the truth, mm
	thick     float64
	edge      edge
	run       float64 // of the rounding or the chamfer
	card      *field  // nil on a sheet
	cardLoops [][]p2
	marks     func(x, y float64) float64
	ground    func(x, y float64) p3 // albedo, linear
	pieceCol  p3
	cardCol   p3
	light     p3 // towards it
	soft      float64
	dark      float64 // how much of the light the shadow takes
	contact   float64
	tone      p3
	falloff   p2
	blur      float64
	noise     float64
	grain     float64
	rng       *rand.Rand
	tilt      float64
	name      string
}

func (s *scene) look(target p3, tilt, turn, roll, dist float64) {
	st, ct := math.Sincos(tilt)
	sa, ca := math.Sincos(turn)
	s.fwd = p3{st * ca, st * sa, -ct}
	r := p3{sa, -ca, 0}
	d := s.fwd.cross(r)
	sr, cr := math.Sincos(roll)
	s.right = r.mul(cr).add(d.mul(sr))
	s.down = s.fwd.cross(s.right)
	s.eye = target.add(s.fwd.mul(-dist))
}

// pixel is where a point shows.
func (s *scene) pixel(p p3) p2 {
	d := p.add(s.eye.mul(-1))
	z := d.dot(s.fwd)
	x, y := d.dot(s.right)/z, d.dot(s.down)/z
	k := s.f * (1 + s.k1*(x*x+y*y))
	return p2{float64(s.w)/2 + k*x, float64(s.h)/2 + k*y}
}

// ray is where pixel u, v looks: fixed-point iteration on the distortion.
func (s *scene) ray(u, v float64) p3 {
	xd, yd := (u-float64(s.w)/2)/s.f, (v-float64(s.h)/2)/s.f
	x, y := xd, yd
	for range 6 {
		k := 1 + s.k1*(x*x+y*y)
		x, y = xd/k, yd/k
	}
	return s.fwd.add(s.right.mul(x)).add(s.down.mul(y))
}

// height of the piece at depth d inside its outline.
func (s *scene) height(d float64) float64 {
	if d < 0 {
		return -1
	}
	switch s.edge {
	case round:
		if d < s.run {
			q := 1 - d/s.run
			return s.thick * math.Sqrt(1-q*q)
		}
	case chamfered:
		if d < s.run {
			return s.thick - s.run + d
		}
	}
	return s.thick
}

func (s *scene) shade(n p3) float64 { return 0.45 + 0.55*max(0, n.dot(s.light)) }

// dimmed is the share of the light that arrives at a point of the table.
func (s *scene) dimmed(x, y float64) float64 {
	occ, near := 0.0, -99.0
	cast := func(f *field, t float64) {
		if f == nil {
			return
		}
		for k := range 4 {
			z := t * (float64(k) + 0.5) / 4
			d := f.at(x+s.light.x/s.light.z*z, y+s.light.y/s.light.z*z)
			w := 0.3 + s.soft*z
			occ = max(occ, min(1, max(0, 0.5+d/(2*w))))
		}
		near = max(near, f.at(x, y))
	}
	cast(s.piece, s.thick)
	cast(s.card, 0.76)
	return (1 - s.dark*occ) * (1 - s.contact*math.Exp(min(0, near)/1.5))
}

// colour is the linear light that comes along a ray.
func (s *scene) colour(d p3) p3 {
	at := func(z float64) (float64, float64) {
		t := (z - s.eye.z) / d.z
		return s.eye.x + t*d.x, s.eye.y + t*d.y
	}
	gx, gy := at(0)
	lamp := max(0.3, 1+s.falloff.x*gx+s.falloff.y*gy)
	tint := func(c p3, k float64) p3 {
		k *= lamp
		return p3{c.x * k * s.tone.x, c.y * k * s.tone.y, c.z * k * s.tone.z}
	}
	normal := func(f *field, x, y, nz float64) p3 {
		const e = 0.3
		gx, gy := f.at(x+e, y)-f.at(x-e, y), f.at(x, y+e)-f.at(x, y-e)
		l := math.Hypot(gx, gy) + 1e-12
		h := math.Sqrt(1 - nz*nz)
		return p3{-gx / l * h, -gy / l * h, nz}
	}
	up := s.shade(p3{z: 1})
	// the piece, from its top down
	if s.piece.at(gx, gy) > -1.3*s.thick-1 {
		const steps = 24
		prev := s.thick
		for k := 0; k <= steps; k++ {
			z := s.thick * (1 - float64(k)/steps)
			x, y := at(z)
			if s.height(s.piece.at(x, y)) < z {
				prev = z
				continue
			}
			if k > 0 { // between prev and z
				a, b := prev, z
				for range 8 {
					m := (a + b) / 2
					if mx, my := at(m); s.height(s.piece.at(mx, my)) < m {
						a = m
					} else {
						b = m
					}
				}
				z = b
				x, y = at(z)
			}
			c := s.pieceCol
			if s.grain > 0 {
				g := 1 + s.grain*wave(x*1.7, y*1.7)
				c = c.mul(g)
			}
			n := p3{z: 1}
			depth := s.piece.at(x, y)
			switch {
			case k == 0 && s.edge != round:
			case s.edge == round && depth < s.run:
				q := 1 - depth/s.run
				slope := s.thick / s.run * q / math.Sqrt(max(1e-6, 1-q*q))
				n = normal(s.piece, x, y, 1/math.Sqrt(1+slope*slope))
			case s.edge == chamfered && z > s.thick-s.run:
				n = normal(s.piece, x, y, math.Sqrt2/2)
			case s.edge != round:
				n = normal(s.piece, x, y, 0)
			}
			return tint(c, s.shade(n))
		}
	}
	if s.card != nil && s.card.at(gx, gy) > -2 {
		x, y := at(0.76)
		if s.card.at(x, y) >= 0 {
			return tint(s.cardCol, up)
		}
		for k := 1; k <= 8; k++ {
			x, y = at(0.76 * (1 - float64(k)/8))
			if s.card.at(x, y) >= 0 {
				return tint(s.cardCol, s.shade(normal(s.card, x, y, 0)))
			}
		}
	}
	c := s.ground(gx, gy)
	if s.marks != nil {
		c = c.mul(1 - 0.93*s.marks(gx, gy))
	}
	return tint(c, up*s.dimmed(gx, gy))
}

// wave is smooth noise in -1..1.
func wave(x, y float64) float64 {
	h := func(i, j int64) float64 {
		n := uint64(i)*0x9E3779B97F4A7C15 ^ uint64(j)*0xC2B2AE3D27D4EB4F
		n ^= n >> 29
		n *= 0xBF58476D1CE4E5B9
		n ^= n >> 32
		return float64(n&0xFFFFFF)/float64(0x800000) - 1
	}
	i, j := math.Floor(x), math.Floor(y)
	a, b := x-i, y-j
	a, b = a*a*(3-2*a), b*b*(3-2*b)
	k, l := int64(i), int64(j)
	return (1-b)*((1-a)*h(k, l)+a*h(k+1, l)) + b*((1-a)*h(k, l+1)+a*h(k+1, l+1))
}

func srgb(x float64) float64 {
	if x <= 0.0031308 {
		return 12.92 * max(0, x)
	}
	return 1.055*math.Pow(min(x, 1), 1/2.4) - 0.055
}

// shoot renders the scene and returns a JPEG file.
func (s *scene) shoot() []byte {
	w, h := s.w, s.h
	lin := make([]float32, 3*w*h)
	sub := [2]p2{{0.25, 0.25}, {0.75, 0.75}} // two rays a pixel; the blur below joins them
	for j := range h {
		for i := range w {
			var c p3
			for _, o := range sub {
				c = c.add(s.colour(s.ray(float64(i)+o.x, float64(j)+o.y)))
			}
			k := 3 * (j*w + i)
			lin[k], lin[k+1], lin[k+2] = float32(c.x/2), float32(c.y/2), float32(c.z/2)
		}
	}
	lin = soften(lin, w, h, s.blur)
	var table [4096]float64
	for i := range table {
		table[i] = 255 * srgb(float64(i)/4095)
	}
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	for q := range w * h {
		for c := range 3 {
			v := table[int(4095*min(1, max(0, lin[3*q+c])))] + s.noise*s.rng.NormFloat64()
			m.Pix[4*q+c] = uint8(min(255, max(0, v+0.5)))
		}
		m.Pix[4*q+3] = 255
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, m, &jpeg.Options{Quality: 92}); err != nil {
		panic(err)
	}
	if !s.exif {
		return b.Bytes()
	}
	// Exif with the focal length for film, rounded as cameras do.
	f35 := uint16(math.Round(s.f / math.Hypot(float64(w), float64(h)) * math.Hypot(36, 24)))
	t := []byte("Exif\x00\x00MM\x00\x2a\x00\x00\x00\x08\x00\x01\x87\x69\x00\x04\x00\x00\x00\x01\x00\x00\x00\x1a\x00\x00\x00\x00" +
		"\x00\x01\xa4\x05\x00\x03\x00\x00\x00\x01")
	t = binary.BigEndian.AppendUint16(t, f35)
	t = append(t, 0, 0, 0, 0, 0, 0)
	out := append([]byte{0xFF, 0xD8, 0xFF, 0xE1}, byte((len(t)+2)>>8), byte(len(t)+2))
	out = append(out, t...)
	return append(out, b.Bytes()[2:]...)
}

// soften blurs with a Gaussian of sigma px.
func soften(p []float32, w, h int, sigma float64) []float32 {
	r := int(math.Ceil(3 * sigma))
	k := make([]float32, 2*r+1)
	sum := float32(0)
	for i := range k {
		x := float64(i-r) / sigma
		k[i] = float32(math.Exp(-x * x / 2))
		sum += k[i]
	}
	for i := range k {
		k[i] /= sum
	}
	q := make([]float32, len(p))
	for j := range h {
		for i := range w {
			var a, b, c float32
			for t, g := range k {
				x := min(w-1, max(0, i+t-r))
				o := 3 * (j*w + x)
				a, b, c = a+g*p[o], b+g*p[o+1], c+g*p[o+2]
			}
			o := 3 * (j*w + i)
			q[o], q[o+1], q[o+2] = a, b, c
		}
	}
	for j := range h {
		for i := range 3 * w {
			var a float32
			for t, g := range k {
				y := min(h-1, max(0, j+t-r))
				a += g * q[3*y*w+i]
			}
			p[3*j*w+i] = a
		}
	}
	return p
}
