package block

import (
	"math"

	"pourwright/internal/ground/vec"
)

// Gravity is the standard acceleration of free fall, m/s2.
const Gravity = 9.80665

// Demand is what the layout must meet, as plain numbers. The zero value of a
// field takes the default in its comment.
type Demand struct {
	DensityLiquid float64 // kg/m3 at the liquidus; 6973 (pewter 92-7-1)
	DensitySolid  float64 // kg/m3 at the solidus; 7150
	Tension       float64 // surface tension, N/m; 0.533
	CosVent       float64 // |cos| of the contact angle for vents; 0.77
	Freeze        float64 // s/mm2: freezing time of a section is Freeze * (V/A)^2; 12.9 (3 mm of pewter plate: 29 s)

	Modulus float64 // Young's modulus of the rubber, Pa; from Shore where 0
	Shore   float64 // Shore A; 30

	Cavities      int // wanted in one block; 0 = choose
	Castings      int // in the order; 1
	MastersInHand int // 1

	Margin     *float64 // rubber on the five sides without the cup, mm
	GateAt     *vec.V3  // where the ingate must be, master frame
	UpForced   bool     // the job fixed the stand
	PullForced bool     // the job fixed the pull
	Show, Hide []vec.V3 // points on faces that must not, or may, carry a scar; master frame
	Inserts    []Insert // At and Direction in the master frame

	FillTime  float64 // s wanted; from the thinnest section where 0
	LadleRate float64 // what a hand pours, cm3/s; 40
	Ladle     float64 // g that the ladle holds; 0 = not known
	Thinnest  float64 // typed thickness of the thinnest section, mm; measured where 0

	Clamps       int     // clamps at the bench; 0 = choose
	BoardModulus float64 // Pa; 2.8e9 (MDF, the minimum of its standard)
	BoardThick   float64 // mm; chosen where 0
	BoardName    string  // "MDF"
}

// Insert is a loose part laid in the parting.
type Insert struct {
	Kind             string
	At, Direction    vec.V3 // the end that stands in the metal, and the way to the other end
	Diameter, Length float64
}

// Gent returns Young's modulus in Pa of a rubber of Shore A hardness s,
// E = 0.0981 (56 + 7.62336 s) / (0.137505 (254 - 2.54 s)) MPa, for 0 < s < 100
// (A. N. Gent, Rubber Chem. Technol. 31 (1958) 896; value from memory).
func Gent(s float64) float64 {
	return 0.0981e6 * (56 + 7.62336*s) / (0.137505 * (254 - 2.54*s))
}

func (d Demand) filled() Demand {
	set := func(x *float64, y float64) {
		if !(*x > 0) || math.IsInf(*x, 0) {
			*x = y
		}
	}
	set(&d.DensityLiquid, 6973)
	set(&d.DensitySolid, 7150)
	set(&d.Tension, 0.533)
	set(&d.CosVent, 0.77)
	set(&d.Freeze, 12.9)
	set(&d.Shore, 30)
	set(&d.Modulus, Gent(min(d.Shore, 95)))
	set(&d.LadleRate, 40)
	set(&d.BoardModulus, 2.8e9)
	if d.BoardName == "" {
		d.BoardName = "MDF"
	}
	d.Castings = max(1, d.Castings)
	d.MastersInHand = max(1, d.MastersInHand)
	return d
}

// SlotHead returns the head in mm that pushes metal into a slot of thickness
// t mm which it does not wet, 2 gamma |cos| / (rho g t) (Young and Laplace).
func (d *Demand) SlotHead(t, cos float64) float64 {
	return 2e6 * d.Tension * cos / (d.DensityLiquid * Gravity * t)
}

// PinHead is the same for a round bore of diameter t, 4 gamma |cos| / (rho g t).
func (d *Demand) PinHead(t, cos float64) float64 { return 2 * d.SlotHead(t, cos) }

// VentSlit returns the thickest slit in mm that still holds metal under a head
// of h mm, 2 gamma |cos| / (rho g h).
func (d *Demand) VentSlit(h float64) float64 { return d.SlotHead(h, d.CosVent) }
