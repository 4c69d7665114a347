package drawing

import (
	"math"

	"pourwright/internal/book/plan"
	"pourwright/internal/ground/vec"
	"pourwright/internal/mould/parting"
	"pourwright/internal/shape/mesh"
)

// The piece of these tests is invented: a bent drop of 78 x 30 mm with a groove
// under one flank, cast with an ingate at its thick end, two in a block where
// asked for.

func bend(x, y float64) float64 {
	return 4 * math.Cos(y/22) * math.Exp(-math.Pow(x/34, 4)-math.Pow(y/46, 4))
}

func drop(p vec.V3) float64 {
	z := p.Z - bend(p.X, p.Y)
	r := 15 - 0.09*p.Y
	d := math.Sqrt(math.Pow(p.X/r, 2)+math.Pow(p.Y/39, 2)+math.Pow(z/8.5, 2)) - 1
	d *= 8
	g := 2.6 - math.Sqrt(math.Pow(p.X-14.6, 2)+math.Pow((p.Y+6)/3.5, 2)+math.Pow(z+2.9, 2))
	return math.Max(d, g)
}

func rod(p, a, b vec.V3, ra, rb float64) float64 {
	d := b.Sub(a)
	t := p.Sub(a).Dot(d) / d.Dot(d)
	r := ra + (rb-ra)*math.Min(1, math.Max(0, t))
	q := math.Min(1, math.Max(0, t))
	return p.Dist(a.Add(d.Mul(q))) - r
}

// march makes a closed mesh of f < 0 by marching the six tetrahedra of each
// cube; test only.
func march(f func(vec.V3) float64, b vec.Box, h float64) *mesh.Mesh {
	s := b.Size()
	nx, ny, nz := int(s.X/h)+1, int(s.Y/h)+1, int(s.Z/h)+1
	at := func(i, j, k int) vec.V3 {
		return b.Min.Add(vec.V3{X: float64(i) * h, Y: float64(j) * h, Z: float64(k) * h})
	}
	id := func(i, j, k int) int { return (k*(ny+1)+j)*(nx+1) + i }
	val := make([]float64, (nx+1)*(ny+1)*(nz+1))
	pos := make([]vec.V3, len(val))
	for k := 0; k <= nz; k++ {
		for j := 0; j <= ny; j++ {
			for i := 0; i <= nx; i++ {
				q := id(i, j, k)
				pos[q] = at(i, j, k)
				val[q] = f(pos[q])
				if math.Abs(val[q]) < 1e-4 {
					val[q] = 1e-4
				}
				if i == 0 || j == 0 || k == 0 || i == nx || j == ny || k == nz {
					val[q] = math.Max(val[q], 1e-3)
				}
			}
		}
	}
	m := &mesh.Mesh{}
	seen := map[[2]int]int32{}
	cut := func(a, b int) int32 {
		if a > b {
			a, b = b, a
		}
		if v, ok := seen[[2]int{a, b}]; ok {
			return v
		}
		t := val[a] / (val[a] - val[b])
		m.V = append(m.V, pos[a].Lerp(pos[b], t))
		seen[[2]int{a, b}] = int32(len(m.V) - 1)
		return int32(len(m.V) - 1)
	}
	put := func(a, b, c int32, out vec.V3) {
		p, q, r := m.V[a], m.V[b], m.V[c]
		if q.Sub(p).Cross(r.Sub(p)).Dot(out) < 0 {
			b, c = c, b
		}
		m.F = append(m.F, [3]int32{a, b, c})
	}
	tets := [6][4]int{{0, 5, 1, 6}, {0, 1, 2, 6}, {0, 2, 3, 6}, {0, 3, 7, 6}, {0, 7, 4, 6}, {0, 4, 5, 6}}
	for k := range nz {
		for j := range ny {
			for i := range nx {
				c := [8]int{id(i, j, k), id(i+1, j, k), id(i+1, j+1, k), id(i, j+1, k), id(i, j, k+1), id(i+1, j, k+1), id(i+1, j+1, k+1), id(i, j+1, k+1)}
				for _, t := range tets {
					var in, out []int
					for _, v := range t {
						if val[c[v]] < 0 {
							in = append(in, c[v])
						} else {
							out = append(out, c[v])
						}
					}
					if len(in) == 0 || len(out) == 0 {
						continue
					}
					dir := pos[out[0]].Sub(pos[in[0]])
					switch len(in) {
					case 1:
						put(cut(in[0], out[0]), cut(in[0], out[1]), cut(in[0], out[2]), dir)
					case 3:
						put(cut(in[0], out[0]), cut(in[1], out[0]), cut(in[2], out[0]), dir)
					case 2:
						a, b2, c2, d := cut(in[0], out[0]), cut(in[0], out[1]), cut(in[1], out[1]), cut(in[1], out[0])
						put(a, b2, c2, dir)
						put(a, c2, d, dir)
					}
				}
			}
		}
	}
	return m
}

const sampleDepth = 44.0

// sampleMesh keeps the meshes of the sample between tests; nothing changes them.
var sampleMesh = map[[2]float64][2]*mesh.Mesh{}

// sample makes an Input for n cavities (1 or 2); h is the cell of the meshes.
func sample(n int, h float64) *Input {
	kept, ok := sampleMesh[[2]float64{float64(n), h}]
	if !ok {
		kept[0] = march(drop, vec.Box{Min: vec.V3{X: -22, Y: -42, Z: -12}, Max: vec.V3{X: 22, Y: 42, Z: 16}}, h)
	}
	master := kept[0]
	size := vec.V3{X: 74, Y: 142, Z: sampleDepth}
	shift := []vec.V3{{Y: -12}}
	if n == 2 {
		size.X = 118
		shift = []vec.V3{{X: -23, Y: -12}, {X: 23, Y: -12}}
	}
	surf := &parting.Surface{X0: -size.X / 2, Y0: -size.Y / 2, H: 1}
	surf.NX, surf.NY = int(size.X)+1, int(size.Y)+1
	for j := range surf.NY {
		for i := range surf.NX {
			x, y := surf.X0+float64(i), surf.Y0+float64(j)
			z := 0.0
			for _, s := range shift {
				z += bend(x-s.X, y-s.Y)
			}
			surf.Z = append(surf.Z, z)
		}
	}
	top := size.Y / 2
	metal := func(p vec.V3) float64 {
		d := rod(p, vec.V3{Y: top - 18}, vec.V3{Y: top + 3}, 5, 14)
		for _, s := range shift {
			d = math.Min(d, drop(p.Sub(s)))
			d = math.Min(d, rod(p, vec.V3{X: 0, Y: top - 18}, vec.V3{X: s.X, Y: s.Y + 34, Z: 2}, 4, 4.5))
		}
		d = math.Min(d, rod(p, vec.V3{X: shift[0].X - 8, Y: shift[0].Y - 20, Z: 1}, vec.V3{X: -size.X/2 + 8, Y: -20}, 1.6, 1.6))
		d = math.Min(d, rod(p, vec.V3{X: -size.X/2 + 8, Y: -20}, vec.V3{X: -size.X/2 + 8, Y: top + 4}, 1.6, 1.6))
		return math.Max(d, p.Y-top)
	}
	if !ok {
		kept[1] = march(metal, vec.Box{Min: vec.V3{X: -size.X / 2, Y: -size.Y / 2, Z: -14}, Max: vec.V3{X: size.X / 2, Y: top + 1.5, Z: 18}}, math.Max(h, 0.45))
		sampleMesh[[2]float64{float64(n), h}] = kept
	}
	m := kept[1]
	in := &Input{Plan: samplePlan(n, size, shift), Master: master, Metal: m, Surface: surf}
	in.Names = Names{Workshop: "Rill Yard", Job: "0231", Mould: "0231-A", Version: "no. 3", Title: "Bent drop pull", Alloy: "pewter 92-7-1", Rubber: "Condensation rubber, 30 Shore A", Use: "decor", Material: "resin print"}
	in.Bench = Bench{Ratio: 20, ScaleStep: 0.1, Condensation: true, PotMax: 310, MouldMax: 230, PourWithin: 2.64, SolidAfter: 131, OpenAfter: 204, OpenAt: 190, Rest: 1290, Growth: 3.6, HasPump: true, Clay: 212000}
	in.Bench.PerCasting = []Cost{{"Rubber", 1.18}, {"Metal", 2.96}, {"Hands, 4 h 30 min", 5.63}}
	return in
}

func samplePlan(n int, size vec.V3, shift []vec.V3) *plan.Plan {
	p := &plan.Plan{Schema: plan.Schema, Verdict: plan.Care}
	p.Master = plan.Master{Size: plan.P3{31.2, 78, 20.4}, Volume: 19240, Thinnest: 4.1, Watertight: true}
	p.Split = plan.Split{Pull: plan.P3{0, 0, 1}, LockedVolume: 38, LockedShare: 0.0021, LineRise: 4}
	var loop []plan.P3
	for i := range 240 {
		s, c := math.Sincos(2 * math.Pi * float64(i) / 240)
		r := 15.0
		y := 39 * s
		r -= 0.09 * y
		x := r * c
		loop = append(loop, plan.P3{x, y, bend(x, y)})
	}
	p.Split.Line = [][]plan.P3{loop}
	p.Split.Undercuts = []plan.Undercut{{At: plan.P3{14, -6, 0.4}, Box: [2]plan.P3{{11, -16, -4}, {17, 4, 4}}, Volume: 38, Depth: 0.8, Strain: plan.Ptr(0.11), Action: plan.Ptr("release")}}
	p.Stand = plan.Stand{Up: plan.P3{0, 1, 0}}
	b := &plan.Block{Size: size.Array(), Cavities: n, MastersNeeded: n, Head: 38}
	for _, s := range shift {
		b.Placements = append(b.Placements, plan.Frame{Origin: plan.P3{-s.X, -s.Y, -s.Z}, X: plan.P3{1, 0, 0}, Y: plan.P3{0, 1, 0}, Z: plan.P3{0, 0, 1}})
	}
	b.Frame = b.Placements[0]
	hx, hy := size.X/2, size.Y/2
	b.Keys = []plan.Key{{At: plan.P3{hx - 9, -hy + 10}, Diameter: 9, Depth: 6}, {At: plan.P3{-hx + 9, -hy + 11}, Diameter: 8, Depth: -6}, {At: plan.P3{hx - 9, hy - 16}, Diameter: 8, Depth: 6}}
	b.Ingates = []plan.Ingate{{At: plan.P3{shift[0].X, shift[0].Y + 37, 2}, Direction: plan.P3{0, -1, 0}, Area: 52}}
	b.FlowOffs = []plan.FlowOff{{At: plan.P3{shift[0].X - 8, shift[0].Y - 20, 1}, To: plan.P3{-hx + 8, hy, 0}, Diameter: 3.2}}
	b.Cuts = []plan.Cut{{No: 1, Half: 1, At: plan.P3{10, shift[0].Y + 20}, Width: 4, Depth: 0.3, When: "now", Path: []plan.P3{{10 + shift[0].X, shift[0].Y + 20, 0}, {18, 30, 0}, {18, hy, 0}}},
		{No: 2, Half: 1, At: plan.P3{0, -50}, Width: 3, Depth: 0.2, When: "if short", Path: []plan.P3{{shift[0].X, shift[0].Y - 38, 0}, {shift[0].X, -hy + 12, 0}, {hx - 4, -hy + 12 + 8, 0}, {hx - 4, hy, 0}}}}
	b.Clamps = plan.Clamps{Opening: 11, Force: 45, Squeeze: 0.3, Count: 2, Board: plan.Board{Size: plan.P3{size.X + 30, size.Y + 10, 18}, Material: "plywood", Deflexion: 0.02}}
	p.Block = b
	p.Rubber = &plan.Rubber{Kind: "condensation-heat-30", PotLife: 1530, Cure: 64800, VacuumPot: 2.3}
	for i := range 2 {
		a := 453.6 + 4*float64(i)
		p.Rubber.Halves = append(p.Rubber.Halves, plan.Half{Volume: 3.4e5, MassNet: 450, MassMix: a * 1.05, Parts: plan.Parts{A: a, B: a / 20}})
	}
	p.Metal = &plan.Metal{Kind: "pewter-92-7-1", CastingMass: 138, WholeMass: 200.4, ChargeMass: 226, Yield: 0.64, PourTemperature: 291, MouldTemperature: 45, Ladles: plan.Ptr(1)}
	p.Order = plan.Order{Castings: 24, Shots: plan.Ptr(14), Moulds: plan.Ptr(2), Cost: &plan.Cost{Currency: "EUR", Mould: 42, Casting: 9.77, Total: 234.5}}
	p.Cycle.WarmUpShots = plan.Ptr(2)
	p.Guessed = []plan.Guess{{Input: "thinnest place of the master, mm", Used: 4.1, Range: [2]float64{3.8, 4.3}, Flips: plan.Ptr(false)},
		{Input: "conductivity of the rubber, W/(m K)", Used: 0.23, Range: [2]float64{0.18, 0.29}, Flips: plan.Ptr(false)},
		{Input: "skin on the metal at the vents, share", Used: 0.77, Range: [2]float64{0.5, 1}, Flips: plan.Ptr(true)}, {Input: "altitude, m", Used: 100, Range: [2]float64{0, 1000}}}
	p.Findings = []plan.Finding{
		{Code: "undercut", Severity: plan.Should, At: &plan.P3{14, -6, 0.4}, Cavity: plan.Ptr(0), Half: plan.Ptr(2), Computed: plan.Ptr(0.11), Limit: plan.Ptr(0.48), Say: "The groove under the flank is 0.8 mm deep and stretches the rubber by 11 %", Do: "Peel the rubber from the lower end; do not pull it straight"},
		{Code: "pocket", Severity: plan.Must, At: &plan.P3{10, 20, 3}, Cavity: plan.Ptr(0), Half: plan.Ptr(1), Computed: plan.Ptr(0.31), Limit: plan.Ptr(0.05), Say: "0.3 cm³ of air stays at the upper right flank", Do: "Cut vent 1 before the first shot"},
		{Code: "not-computed", Severity: plan.Note, Say: "Fill and freeze are not computed; times come from the short formula", Do: "Compute the pour before a long run"},
		{Code: "tolerance", Severity: plan.Note, Computed: plan.Ptr(0.9), Limit: plan.Ptr(1.3), Say: "Castings come out 0.9 % smaller than the master, grade DCTG 8 asks for 1.3 %", Do: ""},
	}
	p.Figures = []plan.Figure{
		{Name: "rubber.half_1.mass_mix", Value: 476.3, Unit: "g", Formula: "(half block - master - formers) x density x 1.05 + 10 g", Inputs: map[string]float64{"volume": 340123, "density": 1.3e-3, "waste": 0.05}, Source: "common practice, no source"},
		{Name: "clamp.force", Value: 45.2, Unit: "N", Formula: "4 rho g int depth dA", Inputs: map[string]float64{"rho": 7280, "area": 0.0021, "head": 0.072}, Source: "hydrostatics; factor 3 to 5 is common practice, no source"},
		{Name: "freeze.solid_after", Value: 131, Unit: "s", Formula: "t = (pi/4) [rho (L + c dT) / ((Tf - T0) b)]^2 (V/A)^2", Inputs: map[string]float64{"rho": 7280, "L": 60000, "b": 525, "VA": 0.0032, "Tf": 239, "T0": 45}, Source: "plane front with constant wall temperature, textbook"},
	}
	return p
}

// refused is the sample with the verdict no.
func refused() *Input {
	in := sample(1, 2)
	p := in.Plan
	p.Verdict, p.Block, p.Rubber, p.Metal = plan.No, nil, nil, nil
	p.Findings = []plan.Finding{{Code: "closed-void", Severity: plan.Must, At: &plan.P3{1, 2, 3}, Computed: plan.Ptr(4.2), Say: "A hollow of 4.2 cm³ lies inside the piece and opens nowhere", Do: "Give it an opening and a core, or cast it in two parts and solder them"},
		{Code: "not-computed", Severity: plan.Note, Say: "Fill and freeze are not computed", Do: ""}}
	in.Metal, in.Surface = nil, nil
	in.Names.Title = "Hollow ball"
	return in
}
