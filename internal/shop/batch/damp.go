package batch

import (
	"math"

	"pourwright/internal/book/plan"
)

// Relative humidities as shares: condensation rubber cures slowly in air drier
// than DryAir, talc cakes and cold metal draws water in air damper than DampAir
// (that it does is practice, the two figures are our own).
const (
	DryAir  = 0.40
	DampAir = 0.65
)

// DewPoint returns the temperature in degC under which things draw water from
// the air of a room (degC) of a relative humidity (share): Magnus' formula over
// water, b = 17.62, c = 243.12 degC,
//
//	g = ln(humidity) + b room / (c + room),  dew point = c g / (b - g)
func DewPoint(room, humidity float64) plan.Figure {
	const b, c = 17.62, 243.12
	g := math.Log(humidity) + b*room/(c+room)
	return figure("dew point of this room", c*g/(b-g), "C", "243.12 g / (17.62 - g), g = ln(humidity) + 17.62 room / (243.12 + room)",
		"Magnus over water, constants of the WMO guide to instruments, from memory", in{"room, C", room}, in{"humidity, share", humidity})
}

// damp says what the air of the room does to rubber, powder and metal.
func (m *maker) damp() {
	h := m.s.humidity
	if m.in.Job.Bench.Humidity != nil && h > 0 {
		m.add(DewPoint(m.s.room, h))
	}
	switch {
	case h < DryAir && m.out.Bench.Condensation:
		m.find("rubber-batch", plan.Should, plan.Ptr(h), plan.Ptr(DryAir),
			say("The air is dry (%s %%): condensation rubber takes its water from it and cures slower than its sheet says.", whole(100*h)),
			"Hang up wet cloths beside the box and leave it longer. Do not heat it. The witness cup overrules any clock.")
	case h > DampAir:
		do := "Warm ingots, ladle and tools before they touch metal: water under metal throws it. Dry and warm the talc, keep the halves open in the warm."
		if m.out.Bench.Condensation {
			do += " Condensation rubber sets sooner in damp air: have all at hand before you mix."
		}
		m.find("release", plan.Note, plan.Ptr(h), plan.Ptr(DampAir),
			say("The air is damp (%s %%): talc cakes, and what is colder than %s °C draws water.", whole(100*h), whole(DewPoint(m.s.room, h).Value)), do)
	}
}
