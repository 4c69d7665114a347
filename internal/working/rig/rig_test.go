package rig

import (
	"bytes"
	"compress/zlib"
	"context"
	"encoding/base64"
	"encoding/binary"
	"encoding/json"
	"encoding/xml"
	"io"
	"math"
	"runtime"
	"strings"
	"testing"

	"pourwright/internal/book/job"
	"pourwright/internal/book/material"
	"pourwright/internal/book/plan"
	"pourwright/internal/book/pour"
	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/grid"
	"pourwright/validation/outside"
)

// bar is a bar of 10 x 6 mm that stands open on the cup side of a block of
// 40 x 46 x 30 mm, and beside it a flow-off of 3 mm.
func bar() *Mould {
	c := outside.Brick(vec.V3{X: -5, Y: -15, Z: -3}, vec.V3{X: 5, Y: 23, Z: 3})
	c.Append(outside.Brick(vec.V3{X: 10, Y: 0, Z: -1.5}, vec.V3{X: 13, Y: 23, Z: 1.5}))
	return &Mould{Cavity: c, Half1: outside.Brick(vec.V3{X: -20, Y: -23}, vec.V3{X: 20, Y: 23, Z: 15}),
		Block: &plan.Block{Size: plan.P3{40, 46, 30}, Cavities: 1, Ingates: []plan.Ingate{{At: plan.P3{0, 10, 0}}},
			FlowOffs: []plan.FlowOff{{At: plan.P3{11.5, 0, 0}, To: plan.P3{11.5, 23, 0}, Diameter: 3}}},
		Casting: Skin{2500, 1200}}
}

func setting(t *testing.T, alloy string) pour.Setting {
	t.Helper()
	j := &job.Job{}
	var err error
	if j.AlloyRow, err = material.FindAlloy(alloy); err != nil {
		t.Fatal(err)
	}
	if j.RubberRow, err = material.FindRubber("condensation-heat-30"); err != nil {
		t.Fatal(err)
	}
	s := SettingOf(j, Ask{Metal: math.Ceil(j.AlloyRow.Liquidus.X) + 50, Mould: 40, Shots: 5, BoardName: "MDF", BoardThick: 12})
	h := 1.2
	s.Cell = &h
	return s
}

func textOf(t *testing.T, r *Result) string {
	t.Helper()
	var b bytes.Buffer
	if err := pour.Write(&b, r.Doc); err != nil {
		t.Fatal(err)
	}
	if err := r.Fields.WriteVTI(&b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// A pour that is stopped again and again goes on to the same bytes as one that is
// not, on one core or all, and a kept result is the same too.
func TestGoesOnWhereItWasStopped(t *testing.T) {
	s := setting(t, "pewter-92-7-1")
	h := 1.9
	s.Cell = &h
	whole, err := Freeze(context.Background(), bar(), s, Options{})
	if err != nil {
		t.Fatal(err)
	}
	want := textOf(t, whole)
	runtime.GOMAXPROCS(1)
	defer runtime.GOMAXPROCS(runtime.NumCPU())
	store := &Store{Dir: t.TempDir(), Most: 1 << 30}
	stops, stages := 0, map[string]bool{}
	for {
		ctx, stop := context.WithCancel(context.Background())
		told := 0
		r, err := Freeze(ctx, bar(), s, Options{Store: store, Progress: func(stage string, done float64) {
			if told++; told == 6 && !stages[stage+string(rune('0'+int(done*4)))] { // once in each quarter of a stage
				stages[stage+string(rune('0'+int(done*4)))] = true
				stop()
			}
			if told > 6 {
				told = 0
			}
		}})
		stop()
		if err == nil {
			if textOf(t, r) != want {
				t.Error("the stopped run ends differently")
			}
			break
		}
		if fault.KindOf(err) != fault.Interrupted {
			t.Fatal(err)
		}
		if stops++; stops > 60 {
			t.Fatal("it does not come to an end")
		}
	}
	if stops < 4 {
		t.Errorf("stopped only %d times: %v", stops, stages)
	}
	ctx, stop := context.WithCancel(context.Background())
	stop() // a kept result needs no time
	r, err := Freeze(ctx, bar(), s, Options{Store: store})
	if err != nil {
		t.Fatal(err)
	}
	if textOf(t, r) != want {
		t.Error("the kept result differs")
	}
	other := s
	other.Rubber.Conductivity *= 1.01
	if Key(bar(), &other) == Key(bar(), &s) || Key(bar(), &s) != whole.Doc.Key {
		t.Error("the key does not tell settings apart")
	}
	moved := bar()
	moved.Cavity.V[0].X += 1e-9
	if Key(moved, &s) == whole.Doc.Key {
		t.Error("the key does not tell solids apart")
	}
}

// Every alloy of the table makes a setting that can be computed, and a denser
// reading of its table gives back its latent heat.
func TestEveryAlloy(t *testing.T) {
	h := 2.0
	for _, a := range material.Alloys() {
		s := setting(t, a.Name)
		s.Cell = &h
		if err := s.Check("x"); err != nil {
			t.Errorf("%s: %v", a.Name, err)
			continue
		}
		l := s.Alloy.Liquid
		if l[0][1] != 0 || l[len(l)-1][1] != 1 {
			t.Errorf("%s: %v", a.Name, l)
		}
		for i := 1; i < len(l); i++ {
			if l[i][0] < l[i-1][0] || l[i][1] < l[i-1][1] {
				t.Errorf("%s: row %d of %v", a.Name, i, l)
			}
		}
		if a.Name != "pewter-92-7-1" && !strings.HasPrefix(a.Name, "tin") {
			continue
		}
		r, err := Freeze(context.Background(), bar(), s, Options{First: true})
		if err != nil {
			t.Errorf("%s: %v", a.Name, err)
			continue
		}
		f := r.Doc.Freeze
		if f.SolidAfter == nil || f.OpenAfter == nil || !(*f.OpenAfter > *f.SolidAfter) || f.Error == nil || f.TouchAfter == nil {
			t.Errorf("%s: %+v", a.Name, f)
		}
		if grows := a.FreezingChange.X > 0; grows != (*f.UnfedVolume < 0) && *f.UnfedVolume != 0 {
			t.Errorf("%s: changes by %g, unfed %g", a.Name, a.FreezingChange.X, *f.UnfedVolume)
		}
	}
}

// The cup feeds, a flow-off does not, a feeder does.
func TestFeeds(t *testing.T) {
	m := bar()
	f := m.feeds(2)
	if len(f) != 1 || f[0].Min != (vec.V3{X: -5, Y: 21, Z: -3}) || f[0].Max != (vec.V3{X: 5, Y: 23, Z: 3}) {
		t.Errorf("%v", f)
	}
	m.Block.FlowOffs = nil
	m.Block.Feeders = []plan.Feeder{{At: plan.P3{1, 2, 3}, Diameter: 4}}
	if f = m.feeds(2); len(f) != 3 || f[2].Centre() != (vec.V3{X: 1, Y: 2, Z: 3}) {
		t.Errorf("%v", f)
	}
}

func TestCells(t *testing.T) {
	m := bar()
	for _, c := range []struct{ thin, size, want float64 }{
		{0, 160, 1.5}, {3, 120, 1}, {1, 60, 0.5}, {0.2, 60, 0.5}, {0.2, 126, 1}, {9, 160, 1.5}, {3, 30, 0.448}, {1.5, 378, 3},
	} {
		m.Block.Size = plan.P3{c.size, c.size, c.size}
		if h := Cell(m, c.thin); math.Abs(h-c.want) > 1e-9 {
			t.Errorf("wall %g in a block of %g: cells of %g, want %g", c.thin, c.size, h, c.want)
		}
	}
}

// Too little memory is refused with the cells that would do.
func TestMemory(t *testing.T) {
	s := setting(t, "tin")
	_, err := Freeze(context.Background(), bar(), s, Options{Room: 65 << 20})
	if fault.KindOf(err) != fault.Input || !strings.Contains(fault.HintOf(err), "--cell") {
		t.Errorf("%v", err)
	}
	if n := Free(); runtime.GOOS == "linux" && n < 1<<20 {
		t.Errorf("%d bytes are free", n)
	}
}

// Settings that nothing can be computed from.
func TestRefused(t *testing.T) {
	for name, f := range map[string]func(*pour.Setting){
		"liquidus": func(s *pour.Setting) { s.Metal = 200 },
		"rubber":   func(s *pour.Setting) { s.Rubber.Conductivity = 0 },
		"room":     func(s *pour.Setting) { s.Room = math.NaN() },
		"how":      func(s *pour.Setting) { h := "wet"; s.How = &h },
		"wait":     func(s *pour.Setting) { h := -1.0; s.Wait = &h },
		"cell":     func(s *pour.Setting) { h := 0.0; s.Cell = &h },
		"table":    func(s *pour.Setting) { s.Alloy.Liquid = nil },
	} {
		s := setting(t, "pewter-92-7-1")
		f(&s)
		if _, err := Freeze(context.Background(), bar(), s, Options{}); fault.KindOf(err) != fault.Input || fault.HintOf(err) == "" {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestSpread(t *testing.T) {
	p := func(x float64) *float64 { return &x }
	for _, c := range []struct{ t1, t2, t3, want float64 }{
		{100, 100, 100, 2},          // the floor
		{100, 104, 112, 10},         // 1.25 x 4 / 0.5
		{100, 100.1, 109.1, 3},      // by chance near: half of what 9 leads to expect
		{100, 98.8, 98, 1.25 * 2.4}, // from below
	} {
		e, ok := spread([]*float64{p(c.t3), p(c.t2), p(c.t1)})
		if !ok || math.Abs(e-c.want) > 1e-9 {
			t.Errorf("%v: %g", c, e)
		}
	}
	if _, ok := spread([]*float64{p(1), nil, p(1)}); ok {
		t.Error("an error without a time")
	}
}

// The image file holds the fields again when it is read as its format says.
func TestVTI(t *testing.T) {
	g := grid.Grid{Origin: vec.V3{X: 1, Y: 2, Z: 3}, H: 0.5, NX: 80, NY: 70, NZ: 60}
	f := &Fields{Grid: g}
	for q := range g.Len() {
		f.Share = append(f.Share, float32(q%2))
		f.Dist = append(f.Dist, 0.5-float32(q%2))
		f.Solid = append(f.Solid, float32(q))
		f.Peak = append(f.Peak, float32(q)/2)
		f.Half = append(f.Half, uint8(1+q%3/2))
	}
	var b bytes.Buffer
	if err := f.WriteVTI(&b); err != nil {
		t.Fatal(err)
	}
	var x struct {
		Image struct {
			Whole   string `xml:"WholeExtent,attr"`
			Spacing string `xml:",attr"`
			Arrays  []struct {
				Name string `xml:",attr"`
				Text string `xml:",chardata"`
			} `xml:"Piece>CellData>DataArray"`
		} `xml:"ImageData"`
	}
	if err := xml.Unmarshal(b.Bytes(), &x); err != nil {
		t.Fatal(err)
	}
	if x.Image.Whole != "0 80 0 70 0 60" || x.Image.Spacing != "0.5 0.5 0.5" || len(x.Image.Arrays) != 4 {
		t.Fatalf("%+v", x.Image.Whole)
	}
	text := strings.TrimSpace(x.Image.Arrays[0].Text)
	n := (g.Len()*4 + 1<<20 - 1) >> 20
	size := base64.StdEncoding.EncodedLen(4 * (3 + n))
	head, err := base64.StdEncoding.DecodeString(text[:size])
	if err != nil || binary.LittleEndian.Uint32(head) != uint32(n) || n < 2 {
		t.Fatalf("%v %v", err, head)
	}
	body, err := base64.StdEncoding.DecodeString(text[size:])
	if err != nil {
		t.Fatal(err)
	}
	var raw []byte
	for k := range n {
		c := binary.LittleEndian.Uint32(head[12+4*k:])
		z, err := zlib.NewReader(bytes.NewReader(body[:c]))
		if err != nil {
			t.Fatal(err)
		}
		part, err := io.ReadAll(z)
		if err != nil {
			t.Fatal(err)
		}
		raw, body = append(raw, part...), body[c:]
	}
	if len(raw) != 4*g.Len() || len(body) != 0 {
		t.Fatalf("%d bytes, %d left", len(raw), len(body))
	}
	for q := range g.Len() {
		if v := math.Float32frombits(binary.LittleEndian.Uint32(raw[4*q:])); v != float32(q) {
			t.Fatalf("cell %d: %g", q, v)
		}
	}
}

// A document survives being written and read.
func TestDocument(t *testing.T) {
	d := pour.Empty(setting(t, "tin"))
	var b bytes.Buffer
	if err := pour.Write(&b, d); err != nil {
		t.Fatal(err)
	}
	e, err := pour.Parse(b.Bytes(), "pour.json")
	if err != nil {
		t.Fatal(err)
	}
	x, _ := json.Marshal(d)
	y, _ := json.Marshal(e)
	if string(x) != string(y) {
		t.Errorf("%s\n%s", x, y)
	}
	for _, bad := range []string{"", "{", `{"schema":"pourwright/pour/9"}`, strings.Replace(b.String(), `"room": 20`, `"room": 200`, 1)} {
		if _, err := pour.Parse([]byte(bad), "pour.json"); fault.KindOf(err) != fault.Input {
			t.Errorf("%.40q: %v", bad, err)
		}
	}
}
