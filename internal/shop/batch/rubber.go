package batch

import (
	"fmt"
	"math"

	"pourwright/internal/book/plan"
)

// Waste of a mix: what stays in cup and on the stick.
const (
	WasteShare = 0.05
	WasteMass  = 10.0 // g
)

// RatioTolerance is the error of part B a mix stands, as a share.
const RatioTolerance = 0.05

// MassNet returns the rubber of one half in g: volume (mm3) x density (kg/m3).
func MassNet(half int, volume, density float64) plan.Figure {
	return figure(fmt.Sprintf("rubber of half %d", half), volume*density*1e-6, "g", "volume x density x 1e-6", law,
		in{"volume, mm3", volume}, in{"density, kg/m3", density})
}

// Wanted returns the mix in g that one half asks: 5 % and 10 g more than net.
func Wanted(half int, net float64) plan.Figure {
	return figure(fmt.Sprintf("mix wanted for half %d", half), net*(1+WasteShare)+WasteMass, "g", "net x 1.05 + 10", own, in{"net, g", net})
}

// PartB returns the hardener of a mix in g, to the step of its scale and at
// least one step. hardener is g of B for 1 g of A.
func PartB(half int, wanted, hardener, step float64) plan.Figure {
	b := math.Max(step, near(wanted*hardener/(1+hardener), step))
	return figure(fmt.Sprintf("part B for half %d", half), b, "g", "wanted x hardener / (1 + hardener), to the step of its scale, at least one", law,
		in{"wanted, g", wanted}, in{"hardener, g/g", hardener}, in{"step, g", step})
}

// PartA returns the rest of the mix in g, up to the step of the scale, so that
// each part can be weighed as it stands and both together are the mix.
func PartA(half int, wanted, b, step float64) plan.Figure {
	return figure(fmt.Sprintf("part A for half %d", half), math.Max(step, up(wanted-b, step)), "g", "wanted - part B, up to the scale's step", law,
		in{"wanted, g", wanted}, in{"part B, g", b}, in{"step, g", step})
}

// MassMix returns what is mixed for one half in g, the two parts together: no
// less than wanted, and less than a step of the scale more.
func MassMix(half int, a, b float64) plan.Figure {
	return figure(fmt.Sprintf("mix for half %d", half), tidy(a+b), "g", "part A + part B", law, in{"part A, g", a}, in{"part B, g", b})
}

// LeastMix returns the smallest mix in g whose part B the scale weighs within
// RatioTolerance: one step of error on B.
func LeastMix(hardener, step float64) plan.Figure {
	b := step / RatioTolerance
	return figure("smallest mix this scale can weigh", b*(1+hardener)/hardener, "g", "step / 0.05 x (1 + hardener) / hardener", own,
		in{"step, g", step}, in{"hardener, g/g", hardener})
}

// RatioError returns the worst error of part B as a share: one step of its
// scale (a 1 g scale is 17 % off on 6 g).
func RatioError(b, step float64) plan.Figure {
	return figure("error of part B", step/b, "share", "step / part B", law, in{"step, g", step}, in{"part B, g", b})
}

// PotLife returns the pot life in s at the room's temperature, from the sheet's
// at 23 degC: the rate of cure doubles every d kelvins between 18 and 30 degC.
// slowing is material.Rubber.Slowing.
func PotLife(at23, room, d, slowing float64) plan.Figure {
	return figure("pot life in this room", at23*slowing, "s", "at 23 C x 2^((23 - room) / d), room held between 18 and 30", craft,
		in{"at 23 C, s", at23}, in{"room, C", room}, in{"d, K", d})
}

// Cure is the same for the time until a half may be opened.
func Cure(at23, room, d, slowing float64) plan.Figure {
	return figure("cure of one half in this room", at23*slowing, "s", "at 23 C x 2^((23 - room) / d), room held between 18 and 30", craft,
		in{"at 23 C, s", at23}, in{"room, C", room}, in{"d, K", d})
}

// ClayBed returns the clay of the bed in g: it takes the place of half 2 while
// half 1 is poured. Density 1.7 g/cm3 (value from memory, 1.5-1.9: weigh it).
func ClayBed(volume float64) plan.Figure {
	return figure("clay for the bed", volume*1.7e-3, "g", "volume x 1.7e-3", "value from memory, 1.5-1.9 g/cm3", in{"volume, mm3", volume})
}

// ClaySeal returns the clay that seals the box in g: a fillet of 10 mm along
// the foot and the four upright edges, inside and out of reach of the rubber.
func ClaySeal(size plan.P3) plan.Figure {
	edge := 2*(size[0]+size[1]) + 4*size[2]
	return figure("clay to seal the walls", edge*50*1.7e-3, "g", "(2 (x + y) + 4 z) x 50 x 1.7e-3", craft,
		in{"x, mm", size[0]}, in{"y, mm", size[1]}, in{"z, mm", size[2]})
}

// ClayWalls returns the clay of four walls 10 mm thick in g, where no boards
// are at hand.
func ClayWalls(size plan.P3) plan.Figure {
	v := 2 * (size[0] + size[1] + 20) * (size[2] + 10) * 10
	return figure("clay for walls of clay", v*1.7e-3, "g", "2 (x + y + 20) (z + 10) x 10 x 1.7e-3", craft,
		in{"x, mm", size[0]}, in{"y, mm", size[1]}, in{"z, mm", size[2]})
}
