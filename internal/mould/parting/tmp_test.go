package parting

import (
	"context"
	"image"
	"image/color"
	"image/png"
	"math"
	"os"
	"sort"
	"strconv"
	"strings"
	"testing"
	"time"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

func scaled60(m *mesh.Mesh) *mesh.Mesh {
	b := m.Box()
	s := 60 / b.Longest()
	c := b.Centre()
	r := &mesh.Mesh{F: m.F}
	for _, p := range m.V {
		r.V = append(r.V, p.Sub(c).Mul(s))
	}
	return r
}
func lineStats(L [][]vec.V3) (loops, big int, length, turns, rise float64) {
	z0, z1 := 1e9, -1e9
	for _, l := range L {
		s := 0.0
		for i := range l {
			s += l[i].Dist(l[(i+1)%len(l)])
			z0, z1 = min(z0, l[i].Z), max(z1, l[i].Z)
		}
		loops++
		if s > 5 {
			big++
		}
		length += s
		k := max(4, int(math.Round(s)))
		var p []vec.V3
		st := s / float64(k)
		acc := 0.0
		i := 0
		seg := l[0].Dist(l[1%len(l)])
		for q := 0; q < k; q++ {
			t := float64(q) * st
			for acc+seg < t && i < len(l)-1 {
				acc += seg
				i++
				seg = l[i].Dist(l[(i+1)%len(l)])
			}
			f := 0.0
			if seg > 0 {
				f = (t - acc) / seg
			}
			p = append(p, l[i].Lerp(l[(i+1)%len(l)], f))
		}
		if s > 1 {
			for q := range p {
				a, b := p[(q+1)%k].Sub(p[q]), p[(q+2)%k].Sub(p[(q+1)%k])
				turns += math.Acos(max(-1, min(1, a.Dot(b)/(a.Len()*b.Len()+1e-30))))
			}
		}
	}
	return loops, big, length, turns / 2 / math.Pi, z1 - z0
}

func draw(name string, m *mesh.Mesh, L [][]vec.V3, views ...vec.V3) {
	const W = 620
	img := image.NewRGBA(image.Rect(0, 0, W*len(views), W))
	for k, d := range views {
		d = d.Unit()
		up := vec.V3{Z: 1}
		if math.Abs(d.Z) > 0.9 {
			up = vec.V3{Y: 1}
		}
		x := up.Cross(d).Unit()
		y := d.Cross(x)
		sc := float64(W) / 78
		zb := make([]float64, W*W)
		for i := range zb {
			zb[i] = -1e9
		}
		set := func(i, j int, z float64, c color.RGBA) {
			if i < 0 || j < 0 || i >= W || j >= W || zb[j*W+i] > z {
				return
			}
			zb[j*W+i] = z
			img.SetRGBA(k*W+i, j, c)
		}
		for j := 0; j < W; j++ {
			for i := 0; i < W; i++ {
				img.SetRGBA(k*W+i, j, color.RGBA{255, 255, 255, 255})
			}
		}
		for t := range m.F {
			a, b, c := m.Tri(t)
			n := m.Normal(t)
			sh := uint8(90 + 150*max(0, n.Dot(d.Add(vec.V3{X: 0.3, Y: 0.2, Z: 0.4}).Unit())))
			pr := func(p vec.V3) (float64, float64, float64) {
				return W/2 + sc*p.Dot(x), W/2 - sc*p.Dot(y), p.Dot(d)
			}
			x0, y0, z0 := pr(a)
			x1, y1, z1 := pr(b)
			x2, y2, z2 := pr(c)
			ar := (x1-x0)*(y2-y0) - (x2-x0)*(y1-y0)
			if ar >= 0 {
				continue
			}
			for j := int(min(y0, y1, y2)); j <= int(max(y0, y1, y2)); j++ {
				for i := int(min(x0, x1, x2)); i <= int(max(x0, x1, x2)); i++ {
					px, py := float64(i), float64(j)
					w1 := ((px-x0)*(y2-y0) - (x2-x0)*(py-y0)) / ar
					w2 := ((x1-x0)*(py-y0) - (px-x0)*(y1-y0)) / ar
					if w1 < -1e-9 || w2 < -1e-9 || w1+w2 > 1+1e-9 {
						continue
					}
					set(i, j, z0+w1*(z1-z0)+w2*(z2-z0), color.RGBA{sh, sh, uint8(float64(sh) * 0.93), 255})
				}
			}
		}
		for _, l := range L {
			for i := range l {
				a, b := l[i], l[(i+1)%len(l)]
				n := int(a.Dist(b)*sc) + 1
				for q := 0; q <= n; q++ {
					p := a.Lerp(b, float64(q)/float64(n))
					for dx := -1; dx <= 1; dx++ {
						for dy := -1; dy <= 1; dy++ {
							set(int(W/2+sc*p.Dot(x))+dx, int(W/2-sc*p.Dot(y))+dy, p.Dot(d)+0.4, color.RGBA{200, 20, 30, 255})
						}
					}
				}
			}
		}
	}
	f, _ := os.Create(name)
	png.Encode(f, img)
	f.Close()
}

func tmpSetting() Setting { v, _ := strconv.ParseFloat(os.Getenv("K"), 64); return Setting{Stiff: v} }
func TestTmpSolve(t *testing.T) {
	only := os.Getenv("ONLY")
	for _, o := range meshes(t, "sound") {
		if only != "" && !strings.Contains(o.name, only) {
			continue
		}
		m := scaled60(o.m)
		b := newBody(m)
		t0 := time.Now()
		b.settle()
		p := b.proxy()
		s := p.survey(100)
		t1 := time.Now()
		sort.SliceStable(s, func(i, j int) bool { return s[i].locked+1e-3*b.volume/60*s[i].extent < s[j].locked+1e-3*b.volume/60*s[j].extent })
		fr := vec.AlongZ(s[0].d)
		q := m.Into(fr)
		bx := q.Box()
		t2 := time.Now()
		S := Solve([]Body{{Mesh: q}}, Rect{bx.Min.X - 12, bx.Min.Y - 12, bx.Max.X + 12, bx.Max.Y + 12}, tmpSetting())
		t3 := time.Now()
		L := S.Lines(q)
		t4 := time.Now()
		lo, big, le, tu, ri := lineStats(L)
		t.Logf("%-16s lock %.4f search %v solve %v line %v | nodes %d h %.2f stiff %.3f | loops %d (%d) len %.0f turns %.1f rise %.1f steep %.0f added %.5f", o.name, s[0].locked/b.volume, t1.Sub(t0).Round(1e6), t3.Sub(t2).Round(1e6), t4.Sub(t3).Round(1e6), len(S.Z), S.H, S.Stiff, lo, big, le, tu, ri, S.Steep, S.Added/b.volume)
		if only != "" {
			draw("/tmp/pw/line-"+o.name+".png", q, L, vec.V3{X: 0.45, Y: -0.8, Z: 0.35}, vec.V3{X: -0.45, Y: 0.8, Z: 0.35}, vec.V3{Z: 1})
		}
	}
}

func TestTmpFind(t *testing.T) {
	only := os.Getenv("ONLY")
	for _, o := range meshes(t, "exact", "sound", "near") {
		if only != "" && !strings.Contains(o.name, only) {
			continue
		}
		m := scaled60(o.m)
		t0 := time.Now()
		r, err := Find(context.Background(), m, Options{Rubber: &Rubber{Shore: 30, Elongation: 3, Hot: true}})
		t1 := time.Now()
		if err != nil {
			t.Log(o.name, err)
			continue
		}
		in := m.Into(r.Frame)
		var L [][]vec.V3
		for _, l := range r.Line {
			var k []vec.V3
			for _, p := range l {
				k = append(k, r.Frame.To(p))
			}
			L = append(L, k)
		}
		lo, big, le, tu, ri := lineStats(L)
		sum := 0.0
		for _, u := range r.Undercuts {
			sum += u.Volume
		}
		t.Logf("%-16s %v lock %.4f listed %.4f (%d) pull %.2f %.2f %.2f nodes %d stiff %.3f | loops %d (%d) len %.0f turns %.1f rise %.1f steep %.0f added %.5f tried %d", o.name, t1.Sub(t0).Round(1e6), r.Locked/r.Volume, sum/r.Volume, len(r.Undercuts), r.Pull.X, r.Pull.Y, r.Pull.Z, len(r.Sheet.Z), r.Sheet.Stiff, lo, big, le, tu, ri, r.Sheet.Steep, r.Sheet.Added/r.Volume, len(r.Tried))
		if r.Back != nil {
			t.Logf("      back %+v", *r.Back)
		}
		for i, u := range r.Undercuts {
			if i < 6 && (only != "" || i < 1) {
				v := Judge(u, Rubber{Shore: 30, Elongation: 3, Hot: true}, r.Volume, 60)
				t.Logf("      vol %.2f%% depth %.2f (%.2f %.2f) half %d share %.2f ring %.1f through %v enclosed %v -> %.2f/%.2f %s", u.Volume/r.Volume*100, u.Depth, u.depth[0], u.depth[1], u.Half, u.Share[0], u.Ring, u.Through, u.Enclosed, v.Strain, v.Limit, v.Action)
			}
		}
		for _, x := range r.Bars {
			t.Logf("      BAR %s: %s", x.Code, x.Say)
		}
		if only != "" {
			for i, a := range r.Tried {
				if i < 6 {
					t.Logf("      tried %.3f %.3f %.3f lock %.5f score %.6f", a.Pull.X, a.Pull.Y, a.Pull.Z, a.Locked/r.Volume, a.Score)
				}
			}
			draw("/tmp/pw/find-"+o.name+".png", in, L, vec.V3{X: 0.45, Y: -0.8, Z: 0.35}, vec.V3{X: -0.45, Y: 0.8, Z: 0.35}, vec.V3{Z: 1})
		}
	}
}

func TestTmpStiff(t *testing.T) {
	for _, o := range meshes(t, "sound") {
		if !strings.Contains("bracket_top.ply cat.obj fish.obj spot_low.obj", o.name) {
			continue
		}
		m := scaled60(o.m)
		r, _ := Find(context.Background(), m, Options{})
		b := newBody(m)
		q := b.mesh.Into(vec.AlongZ(r.Pull))
		bx := q.Box()
		for _, k := range []float64{0.3, 1, 3, 10, 30} {
			S := Solve([]Body{{Mesh: q}}, Rect{bx.Min.X - 12, bx.Min.Y - 12, bx.Max.X + 12, bx.Max.Y + 12}, Setting{Stiff: k})
			f := newField([]Body{{Mesh: q}}, Rect{bx.Min.X - 12, bx.Min.Y - 12, bx.Max.X + 12, bx.Max.Y + 12}, Setting{Stiff: k})
			c := f.middle()
			f.plane(c)
			lo, big, le, tu, ri := lineStats(S.Lines(q))
			t.Logf("%-16s k %4.1f | loops %d (%d) len %.0f turns %.1f rise %.1f steep %.0f added %.5f plane %.5f at %.2f", o.name, k, lo, big, le, tu, ri, S.Steep, S.Added/b.volume, f.added()/b.volume, c)
		}
	}
}

func subdivide(m *mesh.Mesh) *mesh.Mesh {
	e := 1e300
	for range 1 {
		opp := mesh.Opposite(m)
		mid := make([]int32, len(opp))
		r := &mesh.Mesh{V: append([]vec.V3(nil), m.V...)}
		for h := range opp {
			if opp[h] < int32(h) {
				mid[h] = mid[opp[h]]
				continue
			}
			mid[h] = int32(len(r.V))
			r.V = append(r.V, m.V[m.Tail(int32(h))].Lerp(m.V[m.Head(int32(h))], 0.5))
		}
		for t, f := range m.F {
			r.F = append(r.F, pieces(f, [3]int32{mid[3*t], mid[3*t+1], mid[3*t+2]})...)
		}
		m = r
	}
	_ = e
	return m
}

func BenchmarkTmpFind(b *testing.B) {
	m := subdivide(scaled60(one(b, "nefertiti.obj")))
	for b.Loop() {
		Find(context.Background(), m, Options{Rubber: &Rubber{Shore: 30}})
	}
}
