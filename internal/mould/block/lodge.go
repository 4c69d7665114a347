package block

import (
	"fmt"
	"math"

	"pourwright/internal/ground/vec"
)

// lodge takes the inserts into the work frame and says which do not lie in the
// parting.
func (k *work) lodge() {
	for _, in := range k.d.Inserts {
		if !(in.Diameter > 0) || !(in.Length > 0) || in.Direction.Len() == 0 {
			continue
		}
		r := Insert{Kind: in.Kind, At: k.w.To(in.At), Direction: k.w.ToDir(in.Direction.Unit()), Diameter: in.Diameter, Length: in.Length}
		k.inserts = append(k.inserts, r)
		end := r.At.Add(r.Direction.Mul(r.Length))
		tilt := math.Abs(r.Direction.Z)
		off := math.Abs(end.Z - k.lineAt(end.X, end.Y))
		if tilt > 0.5 || !k.f.metal(k.f.node(end.X, end.Y)) && off > math.Max(r.Diameter/2, 1) && tilt > 0.1 {
			limited(k.l.finding("insert", "must", &in.At, fmt.Sprintf("the %s runs %.0f degrees out of the parting, so neither half can hold it and let it go", in.Kind, math.Asin(math.Min(1, tilt))*180/math.Pi),
				"lay it across the pull, in the parting, or drill the hole later"), tilt, 0.1)
		}
		if hold := k.held(r); hold < 2*r.Diameter && hold < 6 {
			limited(k.l.finding("insert", "should", &in.At, fmt.Sprintf("only %.1f mm of the %s lie in rubber", hold, in.Kind),
				"make it longer, so that at least twice its diameter is held"), hold, 2*r.Diameter)
		}
	}
}

// held returns the length of the insert's axis that lies outside the casting.
func (k *work) held(r Insert) float64 {
	n := 100
	free := 0
	for i := range n {
		p := r.At.Add(r.Direction.Mul(r.Length * (float64(i) + 0.5) / float64(n)))
		in := false
		for _, s := range k.f.cols.Of(k.f.node(p.X, p.Y)) {
			in = in || p.Z >= s.Lo && p.Z <= s.Hi
		}
		if !in {
			free++
		}
	}
	return r.Length * float64(free) / float64(n)
}

func (i Insert) moved(t vec.V3) Insert {
	i.At = i.At.Add(t)
	return i
}

// from returns the distance from p to the insert seen along the pull, negative
// inside it.
func (i Insert) from(p vec.V2) float64 {
	a := vec.V2{X: i.At.X, Y: i.At.Y}
	d := vec.V2{X: i.Direction.X, Y: i.Direction.Y}.Mul(i.Length)
	s := 0.0
	if l := d.Dot(d); l > 0 {
		s = min(max(p.Add(a.Mul(-1)).Dot(d)/l, 0), 1)
	}
	return p.Add(a.Add(d.Mul(s)).Mul(-1)).Len() - i.Diameter/2
}

// fromInserts is the distance from p to the nearest of the inserts.
func fromInserts(list []Insert, p vec.V2) float64 {
	d := math.Inf(1)
	for _, i := range list {
		d = math.Min(d, i.from(p))
	}
	return d
}

// insertRoom is the rubber between an insert and the place of an ingate, a feeder
// or a flow-off on the parting line, mm; our own default.
const insertRoom = 6.0

// beside says of channels that run through an insert: the job's own ingate may,
// or there is no other place.
func (k *work) beside() {
	for _, c := range k.cavities {
		for i := range c.channels {
			for _, in := range k.inserts {
				if d := c.channels[i].clearOf(in.moved(c.shift)); d < 0 {
					limited(k.l.finding("insert", "must", k.master(in.At), fmt.Sprintf("the %s runs through the %s: metal would close round it", c.channels[i].Name, in.Kind),
						"name an ingate away from it by [gate] at, move the [[insert]], or turn the piece by [stand] up"), d, 0)
					return
				}
			}
		}
	}
}

// clearOf returns how far the channel and an insert stand apart seen along the
// pull.
func (c *Channel) clearOf(in Insert) float64 {
	n := int(in.Length/0.5) + 1
	d := math.Inf(1)
	for s := range n + 1 {
		p := in.At.Add(in.Direction.Mul(in.Length * float64(s) / float64(n)))
		d = math.Min(d, c.from(vec.V2{X: p.X, Y: p.Y}))
	}
	return d - in.Diameter/2
}

// insertsBox returns the box of the inserts of one cavity, work frame.
func (k *work) insertsBox() vec.Box {
	b := vec.Empty()
	for _, i := range k.inserts {
		b = b.Join(i.mesh().Box())
	}
	return b
}
