package drawing

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// nb is the no-break space between a figure and its unit, thin the space
// between groups of three digits from 10 000 on.
const (
	nb   = "\u00a0"
	thin = "\u2009"
)

// grouped writes x with the given decimals, in groups of three from 10 000 on.
func grouped(x float64, decimals int) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return "?"
	}
	s := strconv.FormatFloat(x, 'f', decimals, 64)
	if s == "-0" || strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	whole, frac, _ := strings.Cut(s, ".")
	sign := ""
	if strings.HasPrefix(whole, "-") {
		sign, whole = "−", whole[1:]
	}
	if len(whole) >= 5 {
		var parts []string
		for len(whole) > 3 {
			parts = append([]string{whole[len(whole)-3:]}, parts...)
			whole = whole[:len(whole)-3]
		}
		whole = whole + thin + strings.Join(parts, thin)
	}
	if frac != "" {
		return sign + whole + "." + frac
	}
	return sign + whole
}

// slack keeps a value that stands on a step, but for rounding of the machine,
// from being pushed to the next one.
const slack = 1e-9

func upTo(x, step float64) float64   { return math.Ceil(x/step-slack) * step }
func downTo(x, step float64) float64 { return math.Floor(x/step+slack) * step }

// decimalsOf returns the decimals that a step of a scale shows: 2 for 0.05.
func decimalsOf(step float64) int {
	for d := 0; d < 4; d++ {
		p := math.Pow(10, float64(d))
		if math.Abs(step*p-math.Round(step*p)) < 1e-6 {
			return d
		}
	}
	return 4
}

// Part says the mass of part A or part B to the step of its scale, so that
// what is read adds up to the mix.
func Part(g, step float64) string {
	if step <= 0 {
		step = 0.1
	}
	return grouped(math.Round(g/step)*step, decimalsOf(step))
}

// Ladle says a charge of metal, up to the next 10 g.
func Ladle(g float64) string { return grouped(upTo(g, 10), 0) }

// Grams says any other mass: whole from 10 g on, else to 0.1 g.
func Grams(g float64) string {
	if math.Abs(g) < 9.95 {
		return grouped(g, 1)
	}
	return grouped(g, 0)
}

// Within says a limit on a short time in seconds, rounded down: to 0.1 s under
// 10 s, else whole.
func Within(s float64) string {
	if s < 10 {
		return trimmed(downTo(s, 0.1))
	}
	return grouped(downTo(s, 1), 0)
}

// trimmed writes one decimal, none where it is zero.
func trimmed(x float64) string { return strings.TrimSuffix(grouped(x, 1), ".0") }

// Wait says a time to wait, seconds, rounded up: seconds by 5 under 90 s,
// minutes, from 90 min hours and minutes by 5, from 10 h hours, from 48 h days.
// The figure and the unit come apart, for the two may stand in two sizes; the
// unit is empty where the figure holds it already.
func Wait(s float64) (figure, unit string) {
	switch {
	case s <= 0:
		return "0", "min"
	case upTo(s, 5) < 60:
		return grouped(upTo(s, 5), 0), "s"
	case upTo(s, 60) < 90*60:
		return grouped(upTo(s, 60)/60, 0), "min"
	case upTo(s, 300) < 10*3600:
		m := int(math.Round(upTo(s, 300) / 60))
		if m%60 == 0 {
			return strconv.Itoa(m / 60), "h"
		}
		return fmt.Sprintf("%d%sh %d%smin", m/60, nb, m%60, nb), ""
	case upTo(s, 3600) < 48*3600:
		return grouped(upTo(s, 3600)/3600, 0), "h"
	}
	return grouped(upTo(s, 86400)/86400, 0), "days"
}

// WaitWords is Wait in one string.
func WaitWords(s float64) string { return joined(Wait(s)) }

// Temperature says degrees Celsius to the nearest 5.
func Temperature(c float64) string { return grouped(math.Round(c/5)*5, 0) }

// NeverAbove says an upper limit in degrees Celsius, down to a 5.
func NeverAbove(c float64) string { return grouped(downTo(c, 5), 0) }

// Length says a measured length in mm, to 0.1 mm.
func Length(mm float64) string { return grouped(mm, 1) }

// Thin says the thickness of a thin section, to 0.1 mm, under 1 mm to 0.01.
func Thin(mm float64) string {
	if mm < 0.995 {
		return grouped(mm, 2)
	}
	return grouped(mm, 1)
}

// Built says a length that is built, whole mm.
func Built(mm float64) string { return grouped(mm, 0) }

// Share says a share 0..1 in per cent: whole, under 1 % to 0.1.
func Share(x float64) string {
	if p := 100 * x; p != 0 && math.Abs(p) < 0.95 {
		if math.Abs(p) < 0.05 {
			return "under 0.1" + nb + "%"
		}
		return grouped(p, 1) + nb + "%"
	}
	return grouped(100*x, 0) + nb + "%"
}

// Cubic says a volume given in mm3 as cm3, to 0.1 under 10 cm3, else whole.
func Cubic(mm3 float64) string {
	if c := mm3 / 1000; math.Abs(c) < 9.95 {
		return grouped(c, 1) + nb + "cm³"
	}
	return grouped(mm3/1000, 0) + nb + "cm³"
}

// noCents are the currencies without a smaller unit in use (ISO 4217).
var noCents = map[string]bool{"JPY": true, "KRW": true, "CLP": true, "ISK": true, "VND": true, "HUF": true}

// Money says an amount in the currency's own smallest unit.
func Money(x float64, currency string) string {
	d := 2
	if noCents[currency] {
		d = 0
	}
	sign, ok := map[string]string{"EUR": "€", "GBP": "£", "USD": "$"}[currency]
	if !ok {
		sign = currency
	}
	if sign == "" {
		return grouped(x, d)
	}
	return grouped(x, d) + nb + sign
}

// Between says a range, with an en dash between spaces.
func Between(a, b string) string { return a + nb + "–" + nb + b }

// joined puts a figure and its unit together.
func joined(figure, unit string) string {
	if unit == "" {
		return figure
	}
	return figure + nb + unit
}

// plain says a value of any kind to three figures that count, for the table
// that shows how a figure was got.
func plain(x float64) string {
	a := math.Abs(x)
	switch {
	case math.IsNaN(x) || math.IsInf(x, 0):
		return "?"
	case a == 0:
		return "0"
	case a >= 1e7 || a < 1e-3:
		e := int(math.Floor(math.Log10(a)))
		m := x / math.Pow(10, float64(e))
		if math.Abs(m) >= 9.995 {
			m /= 10
			e++
		}
		return strings.TrimSuffix(strings.TrimRight(grouped(m, 2), "0"), ".") + "e" + strconv.Itoa(e)
	case a >= 100:
		return grouped(x, 0)
	}
	d := 2 - int(math.Floor(math.Log10(a)))
	s := grouped(x, d)
	if strings.Contains(s, ".") {
		s = strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
	}
	return s
}

// counted writes a number of things in words up to twelve.
func counted(n int) string {
	w := []string{"no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"}
	if n >= 0 && n < len(w) {
		return w[n]
	}
	return strconv.Itoa(n)
}
