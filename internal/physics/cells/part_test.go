package cells

import (
	"math"
	"math/big"
	"math/rand/v2"
	"testing"

	"pourwright/internal/ground/vec"
)

// normal draws a direction; one in three has parts that are zero, tiny or equal.
func normal(r *rand.Rand) vec.V3 {
	var a [3]float64
	for i := range a {
		a[i] = r.NormFloat64()
		switch r.IntN(12) {
		case 0:
			a[i] = 0
		case 1:
			a[i] *= math.Pow(10, -16*r.Float64())
		case 2:
			a[i] = a[0]
		case 3:
			a[i] = -a[0]
		}
	}
	n := vec.FromArray(a)
	if n.Len() == 0 {
		return vec.V3{Z: 1}
	}
	return n.Unit()
}

// height draws an a whose plane meets the cube, one in three through a corner or
// near one.
func height(r *rand.Rand, n vec.V3) float64 {
	lo, hi := CubePlane(n, 0), CubePlane(n, 1)
	a := lo + (hi-lo)*r.Float64()
	switch r.IntN(6) {
	case 0, 1:
		a = n.Dot(vec.V3{X: float64(r.IntN(2)), Y: float64(r.IntN(2)), Z: float64(r.IntN(2))})
	case 2:
		a = lo + (hi-lo)*math.Pow(10, -15*r.Float64())
	}
	return a
}

// underExact sums the corners' cubes (inclusion and exclusion) with 600 bits.
func underExact(n vec.V3, a float64) float64 {
	f := func(x float64) *big.Float { return new(big.Float).SetPrec(600).SetFloat64(x) }
	m := [3]*big.Float{f(math.Abs(n.X)), f(math.Abs(n.Y)), f(math.Abs(n.Z))}
	t := f(a)
	for i, x := range n.Array() {
		if x < 0 {
			t.Add(t, m[i])
		}
		if x == 0 {
			m[i] = f(1e-40)
		}
	}
	sum := f(0)
	for c := range 8 {
		x := new(big.Float).SetPrec(600).Set(t)
		odd := false
		for i := range 3 {
			if c>>i&1 != 0 {
				x.Sub(x, m[i])
				odd = !odd
			}
		}
		if x.Sign() <= 0 {
			continue
		}
		y := new(big.Float).SetPrec(600).Mul(x, x)
		y.Mul(y, x)
		if odd {
			y.Neg(y)
		}
		sum.Add(sum, y)
	}
	for i := range m {
		sum.Quo(sum, m[i])
	}
	v, _ := sum.Quo(sum, f(6)).Float64()
	return v
}

func TestShareOfCubeAgainstExactSum(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 4000 {
		n := normal(r)
		a := height(r, n)
		want, got := underExact(n, a), CubeUnder(n, a)
		if !(math.Abs(got-want) <= 1e-14) {
			t.Fatalf("n %v, a %g: %.17g, want %.17g", n, a, got, want)
		}
		if b := CubePlane(n, want); !(math.Abs(CubeUnder(n, b)-want) <= 2e-15) {
			t.Fatalf("n %v, share %g: a %g holds %g", n, want, b, CubeUnder(n, b))
		}
		p := PartOf(n, a)
		if !(math.Abs(p.Volume()-want) <= 1e-14) {
			t.Fatalf("n %v, a %g: the part has %.17g, want %.17g", n, a, p.Volume(), want)
		}
	}
}

// TestTwoPlanes: the wall and the surface may change places, the two sides of the
// surface add up, and the inverse leads back.
func TestTwoPlanes(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	worst := 0.0
	for range 40000 {
		w, n := normal(r), normal(r)
		switch r.IntN(10) {
		case 0:
			n = w
		case 1:
			n = w.Mul(-1)
		case 2:
			n = w.Add(normal(r).Mul(math.Pow(10, -16*r.Float64())))
		}
		b, a := height(r, w), height(r, n)
		if r.IntN(5) == 0 {
			a = b
		}
		p, q := PartOf(w, b), PartOf(n, a)
		u := p.Under(n, a)
		if !(u >= 0 && u <= 1) {
			t.Fatalf("wall %v %g, plane %v %g: share %g", w, b, n, a, u)
		}
		both := p.Volume() * u
		if p.Volume() == 0 {
			both = 0
		}
		other := q.Volume() * q.Under(w, b)
		if q.Volume() == 0 {
			other = 0
		}
		rest := p.Volume() * p.Under(n.Mul(-1), -a)
		if !(math.Abs(both-other) <= 1e-13) || p.Volume() > 0 && !(math.Abs(both+rest-p.Volume()) <= 1e-14) {
			t.Fatalf("wall %v %g, plane %v %g: %.17g, the other way %.17g, above %.17g of %.17g", w, b, n, a, both, other, rest, p.Volume())
		}
		if p.Volume() > 0 {
			s := r.Float64()
			if r.IntN(4) == 0 {
				s = math.Pow(10, -12*s)
			}
			at := p.Plane(n, s)
			miss := math.Abs(p.Under(n, at)-s) * p.Volume()
			worst = max(worst, miss)
			if !(miss <= 1e-14) {
				t.Fatalf("wall %v %g, plane %v: share %g is held under %g by %g; volume %g", w, b, n, s, at, p.Under(n, at), p.Volume())
			}
		}
	}
	t.Logf("inverse within %.1e of the cube", worst)
}

// TestCut compares the polygon with differences of the share, and its centroid with
// its own plane and the wall.
func TestCut(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	for range 5000 {
		w, n := normal(r), normal(r)
		p := PartOf(w, height(r, w))
		if p.Volume() < 1e-3 {
			continue
		}
		lo, hi := p.Plane(n, 0), p.Plane(n, 1)
		a := lo + (hi-lo)*(0.05+0.9*r.Float64())
		share, area, c := p.Cut(n, a)
		if math.Abs(share-p.Under(n, a)) > 1e-15 {
			t.Fatal("Cut and Under differ")
		}
		// The volume is a cubic in pieces: the area lies between the slopes at both
		// sides, up to the area's own change.
		e := 1e-5
		d := (p.Under(n, a+e) - p.Under(n, a-e)) * p.Volume() / (2 * e)
		_, before, _ := p.Cut(n, a-e)
		_, after, _ := p.Cut(n, a+e)
		if math.Abs(area-d) > 1e-8+2*max(math.Abs(before-area), math.Abs(after-area)) {
			t.Fatalf("area %g, slope %g (%g .. %g)", area, d, before, after)
		}
		if math.Abs(n.Dot(c)-a) > 1e-12 || p.Under(vec.V3{X: 1}, c.X) < -1e-12 || c.X < p.lo.X-1e-12 || c.X > p.hi.X+1e-12 {
			t.Fatalf("centre %v lies %g off the plane", c, n.Dot(c)-a)
		}
	}
	if _, area, c := CubeCut(vec.V3{X: 1, Y: 1, Z: 1}, 1.5); math.Abs(area-math.Sqrt(27)/4) > 1e-14 || c.Dist(vec.V3{X: 0.5, Y: 0.5, Z: 0.5}) > 1e-14 {
		t.Errorf("the middle hexagon has %g at %v", area, c)
	}
	if share, area, c := CubeCut(vec.V3{Z: 1}, 0); share != 0 || area != 0 || c.Z != 0 || c.X != 0.5 {
		t.Errorf("a plane in the floor: %g %g %v", share, area, c)
	}
	if share, area, c := CubeCut(vec.V3{Z: -1}, 0.5); share != 1 || area != 0 || !c.Finite() {
		t.Errorf("a plane beside the cube: %g %g %v", share, area, c)
	}
}

// TestSlab: the slabs of a cut cell add up to it.
func TestSlab(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 8))
	for range 5000 {
		w := normal(r)
		b := height(r, w)
		x := r.Float64()
		p, l, h := PartOf(w, b), PartIn(vec.V3{}, vec.V3{X: 1, Y: x, Z: 1}, w, b), PartIn(vec.V3{Y: x}, vec.V3{X: 1, Y: 1, Z: 1}, w, b)
		if math.Abs(p.Volume()-l.Volume()-h.Volume()) > 1e-14 || p.Volume() > 1e-9 && math.Abs(p.Volume()*p.Under(vec.V3{Y: 1}, x)-l.Volume()) > 1e-14 {
			t.Fatalf("wall %v %g: %g + %g is not %g", w, b, l.Volume(), h.Volume(), p.Volume())
		}
	}
}

var sink float64

func BenchmarkPart(b *testing.B) {
	r := rand.New(rand.NewPCG(1, 1))
	const k = 1024
	var w, n [k]vec.V3
	var o, a, s [k]float64
	var parts [k]Part
	for i := range k {
		for {
			w[i] = vec.V3{X: r.NormFloat64(), Y: r.NormFloat64(), Z: r.NormFloat64()}.Unit()
			n[i] = vec.V3{X: r.NormFloat64(), Y: r.NormFloat64(), Z: r.NormFloat64()}.Unit()
			o[i] = CubePlane(w[i], 0.3+0.7*r.Float64())
			s[i] = r.Float64()
			parts[i] = PartOf(w[i], o[i])
			a[i] = parts[i].Plane(n[i], s[i])
			break
		}
	}
	b.Run("make", func(b *testing.B) {
		for i := 0; b.Loop(); i++ {
			p := PartOf(w[i%k], o[i%k])
			sink += p.volume
		}
	})
	b.Run("under", func(b *testing.B) {
		for i := 0; b.Loop(); i++ {
			sink += parts[i%k].Under(n[i%k], a[i%k])
		}
	})
	b.Run("plane", func(b *testing.B) {
		for i := 0; b.Loop(); i++ {
			sink += parts[i%k].Plane(n[i%k], s[i%k])
		}
	})
	b.Run("cut", func(b *testing.B) {
		for i := 0; b.Loop(); i++ {
			_, x, _ := parts[i%k].Cut(n[i%k], a[i%k])
			sink += x
		}
	})
	b.Run("cube under", func(b *testing.B) {
		for i := 0; b.Loop(); i++ {
			sink += CubeUnder(n[i%k], a[i%k])
		}
	})
	b.Run("cube plane", func(b *testing.B) {
		for i := 0; b.Loop(); i++ {
			sink += CubePlane(n[i%k], s[i%k])
		}
	})
}
