package parting

// Rubber is what the halves are made of, as far as the split asks.
type Rubber struct {
	Shore      float64 // hardness A
	Elongation float64 // at break, a share (3 = 300 %); 0: not known
	Free       float64 // thickness into which the rubber can bulge, mm
	Hot        bool    // castings are lifted while the rubber is hot
}

// Actions.
const (
	Release = "release" // the rubber stretches over it
	Clay    = "clay"    // fill it with clay before half 1 is cast
	Trim    = "trim"    // take the overhang off the master
	Piece   = "piece"   // a third piece, or a cut through the rubber
	Refuse  = "refuse"  // no piece reaches it
)

// Limits returns the local strain above which a maker is warned and above
// which the release is refused.
//
// By hardness A 20, 40, 60: warn 0.6, 0.35, 0.2 and refuse 1.2, 0.8, 0.5, with
// straight lines between and constant beyond; no more than a third of the
// elongation at break; halved where the casting is lifted hot, since hot rubber
// tears more easily. A proposal of the trade notes: common practice, no source.
func (r Rubber) Limits() (warn, refuse float64) {
	at := func(a, b, c float64) float64 {
		s := min(max(r.Shore, 20), 60)
		if s < 40 {
			return a + (b-a)*(s-20)/20
		}
		return b + (c-b)*(s-40)/20
	}
	warn, refuse = at(0.6, 0.35, 0.2), at(1.2, 0.8, 0.5)
	if r.Elongation > 0 {
		warn, refuse = min(warn, r.Elongation/3), min(refuse, r.Elongation/3)
	}
	if r.Hot {
		warn, refuse = warn/2, refuse/2
	}
	return warn, refuse
}

// Verdict is what the rubber can do at one place.
type Verdict struct {
	Strain float64 // local: depth / free thickness, or 2 depth / diameter for a ring
	Warn   float64
	Limit  float64 // above which the release is refused
	Action string
}

// Judge says how the rubber gets out of a place. volume is the master's and
// long its longest edge, against which a place is small.
//
// Strain is depth over the free thickness that the rubber can bulge into; a
// ring stretches as a hoop, 2 depth / diameter. A place that stretches within
// the limit is released. What does not is filled with clay where it is
// under 0.4 % of the volume, trimmed where the overhang is under 2 % of the
// length and the volume under 2 %, and needs a piece otherwise. A tunnel cannot
// be released at any strain: its rubber closes round metal.
func Judge(p Place, r Rubber, volume, long float64) Verdict {
	v := Verdict{}
	v.Warn, v.Limit = r.Limits()
	free := r.Free
	if !(free > 0) {
		free = 12 // mm, the default margin
	}
	v.Strain = p.Depth / free
	if p.Ring > 0 {
		v.Strain = 2 * p.Depth / p.Ring
	}
	switch {
	case p.Enclosed:
		v.Action = Refuse
	case !p.Through && v.Strain <= v.Limit:
		v.Action = Release
	case p.Volume <= 0.004*volume:
		v.Action = Clay
	case !p.Through && p.Depth <= 0.02*long && p.Volume <= 0.02*volume:
		v.Action = Trim
	default:
		v.Action = Piece
	}
	return v
}
