package heat

// kernel holds the inner loops. There are two sets, plain Go and vectors; both
// give the same bytes, and a test holds them to it.
type kernel struct {
	plane func(out, in []float32, at int, p *padded, ratio float32)
	stage func(s *stage, from, to int)
	first func(s *stage, from, to int)
	rate  func(out, in []float32, at int, p *padded, ratio float32)
	long  func(out, start, in []float32, at int, p *padded, x long)
	high  func(peak, t []float32)
}

var plain = kernel{plane: planePlain, stage: stagePlain, first: firstPlain, rate: ratePlain, long: longPlain, high: highPlain}

// planePlain takes one plane of the rubber forward: in holds the whole field, at
// is its first inner cell of the plane, out starts at the same cell.
//
//	out = c + ratio (((left + right) + (front + back)) + (below + above) - 6 c)
//
// Products are rounded before they are added, so that no machine fuses them.
func planePlain(out, in []float32, at int, p *padded, ratio float32) {
	for j := range p.ny {
		q := at + j*p.sx
		n := p.wide
		o := out[j*p.sx : j*p.sx+n]
		c, l, h := in[q:q+n], in[q-1:q-1+n], in[q+1:q+1+n]
		y0, y1 := in[q-p.sx:q-p.sx+n], in[q+p.sx:q+p.sx+n]
		z0, z1 := in[q-p.sxy:q-p.sxy+n], in[q+p.sxy:q+p.sxy+n]
		for i := range o {
			s := ((l[i] + h[i]) + (y0[i] + y1[i])) + (z0[i] + z1[i])
			s -= float32(6 * c[i])
			o[i] = c[i] + float32(ratio*s)
		}
	}
}

// highPlain raises peak to t where t is higher.
func highPlain(peak, t []float32) {
	t = t[:len(peak)]
	for i, x := range t {
		if x > peak[i] {
			peak[i] = x
		}
	}
}
