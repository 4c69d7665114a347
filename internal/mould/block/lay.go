package block

import (
	"math"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
	"pourwright/internal/mould/parting"
	"pourwright/internal/mould/pockets"
	"pourwright/internal/shape/mesh"
)

// work is a layout on its way. Points are in the work frame: the axes of the
// block, the origin of the master's file.
type work struct {
	d      Demand
	l      *Layout
	split  *parting.Split
	stand  *pockets.Stand
	w      vec.Frame
	m      *mesh.Mesh // the master
	box    vec.Box
	volume float64
	f      *face // the master alone

	gate     gate
	rim      float64   // height of the block's upper side
	channels []Channel // of the first cavity
	shifts   []vec.V3  // from the first cavity to each
	all      *face     // castings and channels
	edge     float64   // height of the parting surface at the block's sides
	block    vec.Box
}

// Lay lays out the mould for master m (closed, outward, mm, master frame),
// whose split and stand are known. The errors are those of input: no metal, or
// a pull and an up that do not stand across each other.
func Lay(m *mesh.Mesh, split *parting.Split, stand *pockets.Stand, d Demand) (*Layout, error) {
	k, err := begin(m, split, stand, d.filled())
	if err != nil {
		return nil, err
	}
	k.findGate()
	k.feed()
	k.several()
	if err := k.enclose(); err != nil {
		return nil, err
	}
	k.settle()
	k.clamp()
	return k.l, nil
}

func begin(m *mesh.Mesh, split *parting.Split, stand *pockets.Stand, d Demand) (*work, error) {
	k := &work{d: d, l: &Layout{}, split: split, stand: stand, w: vec.Standing(split.Pull, stand.Up)}
	if math.Abs(k.w.Y.Len()-1) > 1e-6 || !k.w.Y.Finite() || math.Abs(k.w.Z.Len()-1) > 1e-6 {
		return nil, fault.New(fault.Input, "[stand] up", "give an up that does not lie along the pull", "the way up and the pull lie along one line")
	}
	k.m = m.Into(k.w)
	k.box = k.m.Box()
	k.volume = k.m.Volume()
	if !(k.volume > 0) {
		return nil, fault.New(fault.Input, "", "repair the mesh so that it closes", "the master holds no volume")
	}
	s := k.box.Size()
	h := spacing(math.Max(s.X, s.Y) * 2)
	k.f = look(k.m, vec.V2{X: k.box.Min.X - 2*h, Y: k.box.Min.Y - 2*h}, vec.V2{X: k.box.Max.X + 2*h, Y: k.box.Max.Y + 2*h}, h)
	k.edge = k.f.level()
	if b := split.Back; b != nil {
		k.edge = b.Height
		k.l.Back = b
	}
	return k, nil
}

// lie says where channels lie: in both halves, or in the one that holds the
// cavity of a piece with a flat back.
func (k *work) lie() Lie {
	switch b := k.split.Back; {
	case b == nil:
		return Both
	case b.Side < 0:
		return InHalf1
	default:
		return InHalf2
	}
}

// lineAt returns the height of the parting line nearest to (x, y).
func (k *work) lineAt(x, y float64) float64 {
	if b := k.split.Back; b != nil {
		return b.Height
	}
	best, z := math.Inf(1), math.NaN()
	for _, loop := range k.split.Line {
		for _, p := range loop {
			q := k.w.To(p)
			if d := math.Hypot(q.X-x, q.Y-y); d < best {
				best, z = d, q.Z
			}
		}
	}
	if best < 4*k.f.h {
		return z
	}
	q := k.f.node(x, y)
	if !k.f.metal(q) {
		return k.edge
	}
	return min(max(k.edge, k.f.lo[q]), k.f.hi[q])
}
