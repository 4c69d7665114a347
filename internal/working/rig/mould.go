package rig

import (
	"math"

	"pourwright/internal/book/plan"
	"pourwright/internal/ground/sets"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// Mould is the mould as the plan's files hold it, in the block frame: the block is
// centred on the origin, the cup opens on its +y side, the pull is along z.
type Mould struct {
	Cavity, Half1 *mesh.Mesh
	Block         *plan.Block
	Casting       Skin // one casting with its channels

	bores   []Bore     // hanging dead ends
	parting [][]vec.V3 // the parting line on each casting, closed
}

// Skin is a volume and its surface, mm3 and mm2.
type Skin struct{ Volume, Area float64 }

// size returns the block's edges.
func (m *Mould) size() vec.V3 { return vec.FromArray(m.Block.Size) }

func (m *Mould) box() vec.Box {
	h := m.size().Mul(0.5)
	return vec.Box{Min: h.Mul(-1), Max: h}
}

// feeds returns the boxes in which metal feeds the castings: where the cavity
// opens on the cup side, but for flow-offs, and in the feeders. deep is how far a
// box reaches in from the side, mm.
func (m *Mould) feeds(deep float64) []vec.Box {
	var r []vec.Box
	for _, b := range m.mouths() {
		if !m.flowOff(b) {
			b.Min.Y -= deep
			r = append(r, b)
		}
	}
	for _, f := range m.Block.Feeders {
		at, d := vec.FromArray(f.At), f.Diameter/2
		r = append(r, vec.Box{Min: at.Sub(vec.V3{X: d, Y: d, Z: d}), Max: at.Add(vec.V3{X: d, Y: d, Z: d})})
	}
	return r
}

// flowOff tells whether an opening is that of a flow-off: one ends in it, and it is
// no wider than two of its diameters.
func (m *Mould) flowOff(b vec.Box) bool {
	for _, f := range m.Block.FlowOffs {
		g := b.Grow(f.Diameter / 4)
		x, z := f.To[0], f.To[2]
		if x >= g.Min.X && x <= g.Max.X && z >= g.Min.Z && z <= g.Max.Z && math.Max(b.Size().X, b.Size().Z) < 2*f.Diameter {
			return true
		}
	}
	return false
}

// mouths returns the boxes of the openings of the cavity on the cup side, each
// flat in y, in the order in which the mesh names them.
func (m *Mould) mouths() []vec.Box {
	top, c := m.size().Y/2, m.Cavity
	parts := sets.New(len(c.V))
	on := func(i int32) bool { return math.Abs(c.V[i].Y-top) < 1e-3 }
	var caps []int32
	for i, f := range c.F {
		if on(f[0]) && on(f[1]) && on(f[2]) {
			caps = append(caps, int32(i))
			parts.Join(f[0], f[1])
			parts.Join(f[0], f[2])
		}
	}
	at := map[int32]int{}
	var r []vec.Box
	for _, i := range caps {
		f := c.F[i]
		k := parts.Root(f[0])
		n, ok := at[k]
		if !ok {
			n = len(r)
			at[k] = n
			r = append(r, vec.Empty())
		}
		for _, v := range f {
			r[n] = r[n].Add(c.V[v])
		}
	}
	return r
}

// NewMould takes a mould from a plan and its solids.
func NewMould(p *plan.Plan, cavity, half1 *mesh.Mesh) *Mould {
	m := &Mould{Cavity: cavity, Half1: half1, Block: p.Block}
	n := float64(max(1, p.Block.Cavities))
	for _, f := range p.Block.Placements {
		frame := f.Vec()
		for _, d := range p.Stand.DeadEnds {
			m.bores = append(m.bores, Bore{At: frame.To(vec.FromArray(d.At)), Wide: d.Bore})
		}
		for _, l := range p.Split.Line {
			var line []vec.V3
			for _, q := range l {
				line = append(line, frame.To(vec.FromArray(q)))
			}
			m.parting = append(m.parting, line)
		}
	}
	m.Casting = Skin{cavity.Volume() / n, cavity.Area() / n}
	return m
}
