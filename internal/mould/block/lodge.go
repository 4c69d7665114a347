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
