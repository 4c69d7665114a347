package photo

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"pourwright/internal/ground/fault"
	"pourwright/internal/shape/photo"
	"pourwright/internal/shape/snapshot"
)

// shifted moves the piece, not the camera.
func (s *scene) shifted(dx, dy float64) {
	for i, l := range s.loops {
		for k := range l {
			s.loops[i][k].x += dx
			s.loops[i][k].y += dy
		}
	}
	s.piece = distances(s.loops, 8, 0.2)
}

// What cannot be measured is refused or flagged, with the reason a person can
// act on.
func TestRefusedOrFlagged(t *testing.T) {
	for name, c := range map[string]struct {
		n      uint64
		spoil  func(s *scene)
		say    string
		refuse bool
	}{
		"no card":    {5, func(s *scene) { s.card = nil }, "no bank card", true},
		"touches":    {5, func(s *scene) { s.shifted(-14, 0) }, "touches the card", true},
		"cut off":    {5, func(s *scene) { s.shifted(19, 0) }, "touches the edge of the picture", true},
		"blurred":    {5, func(s *scene) { s.blur = 5 }, "blurred", false},
		"far away":   {5, func(s *scene) { s.f *= 0.62; s.w, s.h = s.w*7/10, s.h*7/10 }, "pixels to the millimetre", true},
		"a bit far":  {5, func(s *scene) { s.f *= 0.84 }, "pixels to the millimetre", false},
		"too tilted": {5, func(s *scene) { s.tilt = 1.05; s.aim(p3{27, 0, 0}, s.loops, s.cardLoops) }, "too slanted", true},
	} {
		s := cardScene(c.n)
		c.spoil(s)
		pic, err := snapshot.Parse(s.shoot(), "p.jpg")
		if err != nil {
			t.Fatal(err)
		}
		r, err := photo.Find(pic, "p.jpg", photo.Options{Thickness: s.thick})
		said := ""
		if err != nil {
			said = err.Error()
			if fault.KindOf(err) != fault.Input || fault.HintOf(err) == "" {
				t.Errorf("%s: %v", name, err)
			}
		} else {
			for _, f := range r.Flags {
				said += f.Say + "; "
			}
		}
		if !strings.Contains(said, c.say) || (err != nil) != c.refuse {
			t.Errorf("%s: %q, want %q", name, said, c.say)
		}
	}
}

// Noise, flat grey and stripes are no pictures of a piece; none may panic.
func TestNothingThere(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for k := range 6 {
		p := &snapshot.Picture{W: 400, H: 300, Pix: make([]uint8, 3*400*300)}
		for i := range p.Pix {
			x := i / 3 % 400
			switch k {
			case 0:
				p.Pix[i] = 128
			case 1:
				p.Pix[i] = uint8(rng.IntN(256))
			case 2:
				p.Pix[i] = uint8(128 + 100*math.Sin(float64(x)/5))
			case 3:
				p.Pix[i] = uint8(x / 2)
			case 4:
				p.Pix[i] = 255 * uint8(x/200)
			}
		}
		if _, err := photo.Find(p, "p.png", photo.Options{Thickness: 3}); fault.KindOf(err) != fault.Input {
			t.Errorf("picture %d: %v", k, err)
		}
	}
}

func BenchmarkFind12MP(b *testing.B) {
	s := cardScene(5)
	k := 4000 / float64(max(s.w, s.h))
	s.f, s.w, s.h = s.f*k, int(float64(s.w)*k), int(float64(s.h)*k)
	s.blur *= k
	pic, err := snapshot.Parse(s.shoot(), "p.jpg")
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	b.ReportMetric(float64(s.w*s.h)/1e6, "MP")
	for b.Loop() {
		if _, err := photo.Find(pic, "p.jpg", photo.Options{Thickness: s.thick}); err != nil {
			b.Fatal(err)
		}
	}
}
