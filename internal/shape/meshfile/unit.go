package meshfile

import (
	"fmt"
	"strconv"

	"pourwright/internal/ground/fault"
)

// units in millimetres, in the order in which they are told to a person.
var units = []struct {
	name string
	mm   float64
}{{"mm", 1}, {"cm", 10}, {"m", 1000}, {"in", 25.4}, {"um", 0.001}}

// UnitScale returns the millimetres in one unit: mm, cm, m, in or um. Any other
// name is a fault.Usage.
func UnitScale(name string) (float64, error) {
	for _, u := range units {
		if u.name == name {
			return u.mm, nil
		}
	}
	return 0, fault.New(fault.Usage, "", "use mm, cm, m, in or um", "%q is no unit of length", name)
}

// GuessUnit guesses the unit of a file that states none from the longest side
// of its box, and says why. A master for a hand-held mould is some 8 to 600 mm
// long, and files are mostly in millimetres, in inches or in metres: from 8 to
// 2000 the numbers are taken as mm, from 0.6 to 8 as in (15 to 203 mm), below
// as m, above 5000 as um. Centimetres are never guessed, because their numbers
// also make sense in one of the others. Common practice, no source.
func GuessUnit(longest float64) (unit, why string) {
	switch {
	case longest < 0.6:
		unit = "m"
	case longest < 8:
		unit = "in"
	case longest < 5000:
		unit = "mm"
	default:
		unit = "um"
	}
	mm, _ := UnitScale(unit)
	why = fmt.Sprintf("the file states no unit; its longest side is %.4g, taken in %s, which makes %.4g mm, a size a hand can hold", longest, unit, longest*mm)
	if l := longest * mm; l < 5 || l > 600 {
		why = fmt.Sprintf("the file states no unit; its longest side of %.4g fits a master of 5 to 600 mm in none that is likely, and is taken as %s (%.4g mm)", longest, unit, l)
	}
	return unit, why
}

// Implausible says why a unit that a file states does not fit a master of 5 to
// 600 mm, "" where it does. Many programs write millimetres into formats whose
// unit is fixed.
func Implausible(unit string, longest float64) string {
	mm, err := UnitScale(unit)
	if l := longest * mm; err != nil || l >= 5 && l <= 600 || l == 0 {
		return ""
	}
	why := fmt.Sprintf("the file states %s, so its longest side is %s mm, which is no master of 5 to 600 mm", unit, plain(longest*mm))
	guess, _ := GuessUnit(longest)
	if k, _ := UnitScale(guess); guess != unit && longest*k >= 5 && longest*k <= 600 {
		why += fmt.Sprintf("; taken as %s it would be %.4g mm", guess, longest*k)
	}
	return why
}

// plain writes a number with four digits and no exponent.
func plain(x float64) string {
	y, _ := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 4, 64), 64)
	return strconv.FormatFloat(y, 'f', -1, 64)
}
