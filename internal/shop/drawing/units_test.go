package drawing

import (
	"testing"

	"pourwright/internal/book/plan"
)

func TestInputsAreSaidWithTheirUnits(t *testing.T) {
	g := plan.Figure{Formula: "net x rho", Inputs: map[string]float64{"net, share": 0.0125, "rho, kg/m3": 6973, "h, W/m2K": 10, "room, C": 21, "E, Pa": 2.8e9, "shots": 17, "hour, EUR/h": 20}}
	want := "E" + nb + "2800" + nb + "MPa, h" + nb + "10" + nb + "W/m²K, hour" + nb + "20" + nb + "EUR/h, net" + nb + "1.25" + nb + "%, rho" + nb + "6973" + nb + "kg/m³, room" + nb + "21" + nb + "°C, shots" + nb + "17"
	if got := inputsWords(g); got != want {
		t.Errorf("%q, want %q", got, want)
	}
}
