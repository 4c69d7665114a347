package followboard

import (
	"math"
	"runtime"
	"testing"

	"github.com/google/go-cmp/cmp"

	"pourwright/internal/ground/vec"
	"pourwright/internal/mould/block"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/voxel"
)

// closed fails unless every edge has two faces of opposite sense.
func closed(t *testing.T, what string, m *mesh.Mesh) {
	t.Helper()
	n := map[[2]int32]int{}
	for _, f := range m.F {
		for k := range 3 {
			n[[2]int32{f[k], f[(k+1)%3]}]++
		}
	}
	for e, c := range n {
		if c != 1 || n[[2]int32{e[1], e[0]}] != 1 {
			t.Fatalf("%s: edge %v between %v and %v has %d and %d faces", what, e, m.V[e[0]], m.V[e[1]], c, n[[2]int32{e[1], e[0]}])
		}
	}
	if v := m.Volume(); !(v > 0) {
		t.Errorf("%s: volume %g", what, v)
	}
}

// ball returns a ball about c.
func ball(c vec.V3, r float64) *mesh.Mesh {
	const n = 40
	m := &mesh.Mesh{}
	for i := range n + 1 {
		s, z := math.Sincos(math.Pi * float64(i) / n)
		for k := range 2 * n {
			y, x := math.Sincos(math.Pi * float64(k) / n)
			m.V = append(m.V, c.Add(vec.V3{X: r * s * x, Y: r * s * y, Z: -r * z}))
		}
	}
	for i := range int32(n) {
		for k := range int32(2 * n) {
			a, b := i*2*n+k, i*2*n+(k+1)%(2*n)
			c, d := a+2*n, b+2*n
			if i > 0 {
				m.F = append(m.F, [3]int32{a, b, d})
			}
			if i < n-1 {
				m.F = append(m.F, [3]int32{a, d, c})
			}
		}
	}
	return m
}

// brick returns a box.
func brick(b vec.Box) *mesh.Mesh {
	m := &mesh.Mesh{}
	for i := range 8 {
		p := b.Min
		if i&1 != 0 {
			p.X = b.Max.X
		}
		if i&2 != 0 {
			p.Y = b.Max.Y
		}
		if i&4 != 0 {
			p.Z = b.Max.Z
		}
		m.V = append(m.V, p)
	}
	for _, q := range [][4]int32{{0, 2, 3, 1}, {4, 5, 7, 6}, {0, 1, 5, 4}, {2, 6, 7, 3}, {0, 4, 6, 2}, {1, 3, 7, 5}} {
		m.F = append(m.F, [3]int32{q[0], q[1], q[2]}, [3]int32{q[0], q[2], q[3]})
	}
	return m
}

// overlap returns the volume that board and body share when the body has been
// lifted by dz, on lines 0.11 mm apart.
func overlap(board, body *mesh.Mesh, dz float64) float64 {
	const h = 0.11
	b := body.Box()
	nx, ny := int(b.Size().X/h)+2, int(b.Size().Y/h)+2
	x0, y0 := b.Min.X-0.031, b.Min.Y-0.047
	p, q := voxel.Cast(board, nx, ny, x0, y0, h), voxel.Cast(body, nx, ny, x0, y0, h)
	v := 0.0
	for i := range p.Len() {
		for _, s := range p.Of(i) {
			for _, r := range q.Of(i) {
				v += max(0, min(s.Hi, r.Hi+dz)-max(s.Lo, r.Lo+dz))
			}
		}
	}
	return v * h * h
}

var box = vec.Box{Min: vec.V3{X: -40, Y: -50, Z: -25}, Max: vec.V3{X: 40, Y: 50, Z: 25}}

func tilted(x, y float64) float64 { return 0.05*x + 1.5*math.Sin(y/15) }

func made(t *testing.T, in Input) *Result {
	t.Helper()
	r, err := Board(in)
	if err != nil {
		t.Fatal(err)
	}
	closed(t, "board", r.Mesh)
	b := r.Mesh.Box()
	for axis := range 2 {
		if b.Min.At(axis) != in.Box.Min.At(axis) || b.Max.At(axis) != in.Box.Max.At(axis) {
			t.Errorf("the board measures %v, the block %v", b, in.Box)
		}
	}
	return r
}

func TestMasterLiftsOut(t *testing.T) {
	flat := func(x, y float64) float64 { return 0 }
	hook := brick(vec.Box{Min: vec.V3{X: -10, Y: -10, Z: -2}, Max: vec.V3{X: 10, Y: 10, Z: 8}})
	hook.Append(brick(vec.Box{Min: vec.V3{X: -10, Y: -10, Z: -9}, Max: vec.V3{X: 20, Y: 10, Z: -6}}))
	hook.Append(brick(vec.Box{Min: vec.V3{X: -10, Y: -10, Z: -9}, Max: vec.V3{X: -6, Y: 10, Z: 8}}))
	cases := []struct {
		name   string
		height func(x, y float64) float64
		body   *mesh.Mesh
		deep   float64
		clay   float64
		within float64
	}{
		{"ball in a plane", flat, ball(vec.V3{X: 3, Y: 7}, 12), 12, 0, 1},
		{"ball on a wavy surface", tilted, ball(vec.V3{X: 3, Y: 7, Z: 2}, 12), 11, 0, 20},
		{"brick", flat, brick(vec.Box{Min: vec.V3{X: -10, Y: -10, Z: -5}, Max: vec.V3{X: 10, Y: 15, Z: 5}}), 5, 0, 1},
		{"flat back", flat, brick(vec.Box{Min: vec.V3{X: -10, Y: -10}, Max: vec.V3{X: 10, Y: 15, Z: 5}}), 0, 0, 0},
		// The notch of the hook, 16 x 20 from -6 up to -2, and the air over its
		// tip, 10 x 20 from -6 up to 0.
		{"hook below", flat, hook, 9, 16*20*4 + 10*20*6 - 30, 60},
		{"ball above the surface", flat, ball(vec.V3{Z: 20}, 12), 0, 0, 0},
		{"ball whose middle is under the surface", flat, ball(vec.V3{Z: -4}, 12), 16, 60, 15},
	}
	for _, c := range cases {
		r := made(t, Input{Height: c.height, Box: box, Bodies: []*mesh.Mesh{c.body}})
		v := c.body.Volume()
		for _, dz := range []float64{0, 0.1, 0.3, 1, 3, 6, 10} {
			if o := overlap(r.Mesh, c.body, dz); o > 2e-5*v {
				t.Errorf("%s: lifted by %g it meets %g mm3 of the board", c.name, dz, o)
			}
		}
		if math.Abs(r.Deep-c.deep) > 0.5 {
			t.Errorf("%s: %g deep, want %g", c.name, r.Deep, c.deep)
		}
		if r.Clay < c.clay || r.Clay > c.clay+c.within {
			t.Errorf("%s: clay %g, want %g to %g", c.name, r.Clay, c.clay, c.clay+c.within)
		}
	}
}

// The rim stands off an upright wall by the clearance, no less and not much
// more.
func TestRimStandsOffByTheClearance(t *testing.T) {
	body := brick(vec.Box{Min: vec.V3{X: -10.03, Y: -10.11, Z: -5}, Max: vec.V3{X: 10.17, Y: 15.26, Z: 5}})
	for _, clear := range []float64{0.15, 0.4} {
		r := made(t, Input{Height: func(x, y float64) float64 { return 0 }, Box: box, Bodies: []*mesh.Mesh{body}, Clearance: clear})
		for _, y := range []float64{-3.3, 0.17, 4.44} {
			c := voxel.Cast(r.Mesh, 1200, 1, 0.003, y, 0.01)
			for i := range 1200 {
				x := 0.003 + 0.01*float64(i)
				s := c.At(i, 0)
				if top := s[len(s)-1].Hi; top > -0.01 {
					if d := x - 10.17; d < clear-0.01 || d > clear+0.4*r.Cell+0.01 {
						t.Errorf("the rim stands off by %g, want %g to %g", d, clear, clear+0.4*r.Cell)
					}
					break
				}
			}
		}
	}
}

func TestKeys(t *testing.T) {
	keys := []block.Key{
		{At: vec.V3{X: 30, Y: 35, Z: tilted(30, 35)}, Diameter: 8, Depth: 5},
		{At: vec.V3{X: -30, Y: 35, Z: tilted(-30, 35)}, Diameter: 8, Depth: -5},
	}
	r := made(t, Input{Height: tilted, Box: box, Keys: keys})
	for _, k := range keys {
		c := voxel.Cast(r.Mesh, 1, 1, k.At.X+0.013, k.At.Y+0.017, 1)
		s := c.At(0, 0)
		if top := s[len(s)-1].Hi; math.Abs(top-(k.At.Z+k.Depth)) > 0.05 {
			t.Errorf("key %+v: board at %g", k, top)
		}
	}
	plain := made(t, Input{Height: tilted, Box: box})
	one := made(t, Input{Height: tilted, Box: box, Keys: keys[:1]})
	if d := one.Mesh.Volume() - plain.Mesh.Volume(); math.Abs(d-keys[0].Volume()) > 0.02*keys[0].Volume() {
		t.Errorf("the key adds %g, its frustum holds %g", d, keys[0].Volume())
	}
	if r.Thick < 10+3 {
		t.Errorf("thickness %g", r.Thick)
	}
}

func TestFloorUnderTheDeepestImprint(t *testing.T) {
	body := ball(vec.V3{}, 15)
	r := made(t, Input{Height: tilted, Box: box, Bodies: []*mesh.Mesh{body}, Floor: 4})
	if b := r.Mesh.Box(); math.Abs(b.Min.Z-(-15-4)) > 0.1 {
		t.Errorf("underside at %g", b.Min.Z)
	}
}

// An imprint may run out of the block: the side is open there and the board
// still closed.
func TestImprintAtTheSide(t *testing.T) {
	body := brick(vec.Box{Min: vec.V3{X: 20, Y: -5.07, Z: -6}, Max: vec.V3{X: 60, Y: 11.13, Z: 6}})
	r := made(t, Input{Height: tilted, Box: box, Bodies: []*mesh.Mesh{body}})
	if o := overlap(r.Mesh, body, 0); o > 0.1 {
		t.Errorf("overlap %g", o)
	}
}

func TestBoardIsTheSameOnOneCore(t *testing.T) {
	in := Input{Height: tilted, Box: box, Bodies: []*mesh.Mesh{ball(vec.V3{}, 15)}}
	a := made(t, in)
	old := runtime.GOMAXPROCS(1)
	b := made(t, in)
	runtime.GOMAXPROCS(old)
	if diff := cmp.Diff(a, b); diff != "" {
		t.Error(diff[:min(len(diff), 500)])
	}
}

func TestBoardRefuses(t *testing.T) {
	if _, err := Board(Input{Height: tilted}); err == nil {
		t.Error("a block without a face was accepted")
	}
	if _, err := Board(Input{Height: func(x, y float64) float64 { return math.NaN() }, Box: box}); err == nil {
		t.Error("a surface that is no number was accepted")
	}
}

func TestFormers(t *testing.T) {
	flat := func(x, y float64) float64 { return 0 }
	straight := block.Channel{Name: "ingate", Rings: []block.Ring{{P: vec.V3{Y: 20}, A: 2, B: 2}, {P: vec.V3{Y: 30}, A: 3, B: 3}, {P: vec.V3{Y: 60}, A: 12, B: 12}}}
	bent := block.Channel{Name: "flow-off", Rings: []block.Ring{{P: vec.V3{X: 20, Y: 0}, A: 1.5, B: 1.5}, {P: vec.V3{X: 25, Y: 20}, A: 1.5, B: 1.5}, {P: vec.V3{X: 25, Y: 55}, A: 2, B: 2}}}
	half := block.Channel{Name: "ingate", Lie: block.InHalf1, Rings: []block.Ring{{P: vec.V3{X: -20, Y: 0}, A: 3, B: 3}, {P: vec.V3{X: -20, Y: 50}, A: 3, B: 3}}}
	channels := []block.Channel{straight, bent, half}
	list := Formers(channels, box, flat)
	if len(list) != 3 {
		t.Fatalf("%d formers", len(list))
	}
	pieces := 0
	for i, f := range list {
		closed(t, f.Name, f.Mesh)
		if b := f.Mesh.Box(); b.Max.Y > box.Max.Y+0.5 {
			t.Errorf("%s runs %g out of the block", f.Name, b.Max.Y-box.Max.Y)
		}
		if f.Sunk != nil {
			t.Errorf("%s is sunk in a flat board", f.Name)
		}
		sum := 0.0
		for _, p := range f.pieces {
			closed(t, f.Name, p)
			if b := p.Box(); math.Abs(b.Min.Z) > 1e-9 {
				t.Errorf("%s does not stand on the bed: %v", f.Name, b)
			}
			sum += p.Volume()
		}
		if v := f.Mesh.Volume(); math.Abs(sum-v) > 0.02*v {
			t.Errorf("channel %d: pieces %g, whole %g", i, sum, v)
		}
		pieces += len(f.pieces)
	}
	if pieces != 5 {
		t.Errorf("%d pieces, want 2 + 2 + 1", pieces)
	}
	climbing := block.Channel{Name: "flow-off", Rings: []block.Ring{{P: vec.V3{X: 20, Z: -4}, A: 2, B: 2}, {P: vec.V3{X: 20, Y: 40, Z: 4}, A: 3, B: 3}}}
	skew := block.Channel{Name: "flow-off", Rings: []block.Ring{{P: vec.V3{X: 20, Z: -4}, A: 2, B: 2}, {P: vec.V3{X: 22, Y: 20}, A: 2, B: 2}, {P: vec.V3{X: 20, Y: 40, Z: 4}, A: 3, B: 3}}}
	for i, f := range Formers([]block.Channel{climbing, skew}, box, flat) {
		if f.Sunk == nil || len(f.pieces) != 2-i {
			t.Errorf("a climbing former: %d pieces", len(f.pieces))
		}
		sum := 0.0
		for _, p := range f.pieces {
			closed(t, f.Name, p)
			sum += p.Volume()
			if i == 1 {
				continue
			}
			flat := 0.0 // area of the underside: 40 long, 4 to 6 wide
			for k := range p.F {
				if a, b, c := p.Tri(k); max(a.Z, b.Z, c.Z) < 1e-6 {
					flat += b.Sub(a).Cross(c.Sub(a)).Len() / 2
				}
			}
			if math.Abs(flat-5*math.Hypot(40, 8)) > 1 {
				t.Errorf("a half of the climbing former stands on %g mm2", flat)
			}
		}
		if v := f.Mesh.Volume(); math.Abs(sum-v) > 1e-6*v {
			t.Errorf("pieces %g, whole %g", sum, v)
		}
	}
	bed := Bed(list, 60)
	closed(t, "bed", bed)
	if b := bed.Box(); b.Size().X > 60 {
		t.Errorf("the bed is %v", b)
	}
	// On a board that is not flat round formers lie sunk, and lift out.
	for _, f := range Formers(channels[:2], box, tilted) {
		if f.Sunk == nil || f.Gap <= flatness {
			t.Errorf("%s: gap %g, not sunk", f.Name, f.Gap)
			continue
		}
		r := made(t, Input{Height: tilted, Box: box, Bodies: []*mesh.Mesh{f.Sunk}})
		if o := overlap(r.Mesh, f.Sunk, 0); o > 1e-4*f.Sunk.Volume() {
			t.Errorf("%s meets %g mm3 of the board", f.Name, o)
		}
	}
}

func TestPiecesKeepApart(t *testing.T) {
	var c []block.Channel
	for i := range 7 {
		x := float64(i)*9 - 30
		c = append(c, block.Channel{Name: "vent", Rings: []block.Ring{{P: vec.V3{X: x}, A: 1 + 0.2*float64(i), B: 1.5}, {P: vec.V3{X: x, Y: 20 + float64(i)}, A: 2, B: 2}}})
	}
	list := Formers(c, box, func(x, y float64) float64 { return 0 })
	bed := Bed(list, 70)
	// Boxes of the connected bodies, in order of their corners.
	var boxes []vec.Box
	at := 0
	for range 14 {
		n := 0
		for _, f := range list {
			n = len(f.pieces[0].V)
		}
		b := vec.Empty()
		for _, p := range bed.V[at : at+n] {
			b = b.Add(p)
		}
		boxes = append(boxes, b)
		at += n
	}
	if at != len(bed.V) {
		t.Fatalf("%d corners of %d", at, len(bed.V))
	}
	for i, p := range boxes {
		for _, q := range boxes[:i] {
			dx, dy := max(p.Min.X-q.Max.X, q.Min.X-p.Max.X), max(p.Min.Y-q.Max.Y, q.Min.Y-p.Max.Y)
			if max(dx, dy) < apart-1e-9 {
				t.Errorf("bodies %v and %v stand too near", p, q)
			}
		}
	}
}

func BenchmarkBoard(b *testing.B) {
	in := Input{Height: tilted, Box: box, Bodies: []*mesh.Mesh{ball(vec.V3{}, 15)}}
	for b.Loop() {
		if _, err := Board(in); err != nil {
			b.Fatal(err)
		}
	}
}
