package material

import (
	"sort"
	"strings"

	"pourwright/internal/ground/fault"
)

// Alloy is one row of the alloy table.
type Alloy struct {
	Name, Words string
	Parts       []Part // by weight, as the table lists them

	Solidus, Liquidus   Value // degC
	Latent              Value // J/kg, without sensible heat
	CpSolid, CpLiquid   Value // J/(kg K)
	Density             Value // kg/m3, solid at 20 degC
	DensityHot          Value // kg/m3, solid at the solidus
	DensityLiquid       Value // kg/m3, liquid at the liquidus
	FreezingChange      Value // share of volume; negative shrinks
	Expansion           Value // 1/K, linear, solid
	Contraction         Value // share of length, free, solidus to 20 degC
	KSolid, KLiquid     Value // W/(m K)
	Viscosity           Value // Pa s at liquidus + 50 K
	SurfaceTension      Value // N/m at liquidus + 50 K, clean surface
	Heat                []Heat
	LeadMax, CadmiumMax *float64 // shares from the user's certificate, in place of the composition
}

// Part is one element of an alloy and its share by weight.
type Part struct {
	Element string
	Share   float64
}

// Heat is one row of an enthalpy table: J/kg above an arbitrary zero and the
// share that is liquid (by amount) at a temperature.
type Heat struct{ T, H, Liquid float64 }

// FindAlloy returns the row of that name.
func FindAlloy(name string) (Alloy, error) {
	for _, a := range tables().alloys {
		if a.Name == name {
			return a.clone(), nil
		}
	}
	var names []string
	for _, a := range tables().alloys {
		names = append(names, a.Name)
	}
	if low := strings.ToLower(name); strings.Contains(low, "zinc") || strings.HasPrefix(low, "zn") {
		return Alloy{}, fault.New(fault.Input, "", "take a tin or bismuth alloy; the verb materials lists them",
			"no alloy %.60q: zinc alloys are poured at 400-430 °C, outside any silicone rubber", name)
	}
	return Alloy{}, unknown("alloy", name, names)
}

// Alloys returns the whole table in its order.
func Alloys() []Alloy {
	out := make([]Alloy, 0, len(tables().alloys))
	for _, a := range tables().alloys {
		out = append(out, a.clone())
	}
	return out
}

func unknown(kind, name string, names []string) error {
	hint := "the verb materials lists them: " + strings.Join(names, ", ")
	if n := fault.Nearest(name, names); n != "" {
		hint = "nearest: " + n + ". The verb materials lists all rows"
	}
	return fault.New(fault.Input, "", hint, "no %s %.60q in the table", kind, name)
}

func (a Alloy) clone() Alloy {
	a.Parts = append([]Part(nil), a.Parts...)
	a.Heat = append([]Heat(nil), a.Heat...)
	return a
}

// Share returns the share by weight of an element ("Pb"). A certificate in the
// job overrules the composition for lead and cadmium.
func (a *Alloy) Share(element string) float64 {
	if element == "Pb" && a.LeadMax != nil {
		return *a.LeadMax
	}
	if element == "Cd" && a.CadmiumMax != nil {
		return *a.CadmiumMax
	}
	for _, p := range a.Parts {
		if p.Element == element {
			return p.Share
		}
	}
	return 0
}

// Liquid returns the liquid share at T (degC): from the enthalpy table where
// the alloy has one, else a straight line from solidus to liquidus.
func (a *Alloy) Liquid(T float64) float64 {
	if n := len(a.Heat); n > 0 {
		if T <= a.Heat[0].T {
			return 0
		}
		if T >= a.Heat[n-1].T {
			return 1
		}
		i := sort.Search(n, func(i int) bool { return a.Heat[i].T > T })
		p, q := a.Heat[i-1], a.Heat[i]
		return p.Liquid + (q.Liquid-p.Liquid)*(T-p.T)/(q.T-p.T)
	}
	s, l := a.Solidus.X, a.Liquidus.X
	switch {
	case T < s:
		return 0
	case T >= l:
		return 1
	}
	return (T - s) / (l - s)
}

// Enthalpy returns J/kg above the solid at 20 degC: the enthalpy table where
// there is one, carried on by the heat capacities of solid and liquid at its
// ends, else c_s up to the solidus, the latent heat along a straight line to
// the liquidus, and c_l above. At a single melting point the value is that of
// the liquid.
func (a *Alloy) Enthalpy(T float64) float64 {
	cs, cl := a.CpSolid.X, a.CpLiquid.X
	if n := len(a.Heat); n > 0 {
		first, last := a.Heat[0], a.Heat[n-1]
		base := cs*(first.T-20) - first.H
		switch {
		case T <= first.T:
			return cs * (T - 20)
		case T >= last.T:
			return base + last.H + cl*(T-last.T)
		}
		i := sort.Search(n, func(i int) bool { return a.Heat[i].T > T })
		p, q := a.Heat[i-1], a.Heat[i]
		return base + p.H + (q.H-p.H)*(T-p.T)/(q.T-p.T)
	}
	s, l := a.Solidus.X, a.Liquidus.X
	if T < s {
		return cs * (T - 20)
	}
	h := cs * (s - 20)
	if T >= l {
		return h + a.Latent.X + (cs+cl)/2*(l-s) + cl*(T-l)
	}
	return h + (a.Latent.X*(T-s)/(l-s) + (cs+cl)/2*(T-s))
}

// Flows returns the temperature from which at least 95 % is liquid, degC.
// Pewter of 2 % copper flows 54 K below its liquidus: what is left there only
// dissolves a few per cent of Cu6Sn5.
func (a *Alloy) Flows() float64 {
	const share = 0.95
	for i := 1; i < len(a.Heat); i++ {
		p, q := a.Heat[i-1], a.Heat[i]
		if q.Liquid >= share {
			t := p.T + (q.T-p.T)*(share-p.Liquid)/(q.Liquid-p.Liquid)
			return min(max(t, a.Solidus.X), a.Liquidus.X)
		}
	}
	return a.Solidus.X + share*(a.Liquidus.X-a.Solidus.X)
}
