package batch

import (
	"math"

	"pourwright/internal/book/job"
	"pourwright/internal/book/material"
	"pourwright/internal/book/plan"
	"pourwright/internal/ground/fault"
)

// Input is what the layout and the job give: plain volumes, areas and lengths.
type Input struct {
	Job    *job.Job
	Rubber material.Rubber // Job.RubberRow unless a trial says otherwise
	Alloy  material.Alloy  // Job.AlloyRow

	Block     plan.P3    // size of the block, mm, x y z of the block frame
	Halves    [2]float64 // rubber of half 1 and half 2, mm3
	Cavity    float64    // everything the metal fills, mm3
	Castings  []float64  // one volume for each cavity, without channels, mm3
	Area      float64    // surface of one master, mm2
	Size      plan.P3    // size of one casting, mm
	Modulus   float64    // V/A of the heaviest place, mm; that of the whole casting where 0
	ModulusAt *plan.P3   // that place, master frame
	Thinnest  float64    // thinnest section, mm; 0 where not known
	Scanned   bool       // Thinnest comes from the scan, no caliper was there
	Ends      []End      // narrow places with the head over them, as laid out
	Contact   float64    // contact angle at thin ends, degrees; ContactEnd where 0
	Gap       float64    // contact angle at vents and in the parting, degrees; ContactGap where 0
	Bed       float64    // clay of the bed, mm3; half 2 and its channels where 0
	InHand    int        // masters on the bench; Job's where 0

	// Verdict gives the verdict of the whole plan for a changed input and the
	// findings of its sheet; nil lets the sheet's own musts stand for it. It must
	// not change what it is given. The guesses are judged by it.
	Verdict func(i *Input, sheet []plan.Finding) string
}

// End is one narrow place that metal must be pushed into, as it was laid out:
// it fills where Head exceeds 2 gamma |cos| (1/Thickness + 1/Width) / (rho g).
type End struct {
	Thickness, Width float64 // mm; a slot where Width is far larger, a pin where both are equal
	Head             float64 // mm
}

// Fills reports whether metal enters the end with the alloy and the contact
// angle of the input. A head that was laid out to what is asked counts.
func (i *Input) Fills(e End) bool {
	return e.Head >= i.capillary()*(1/e.Thickness+1/e.Width)*(1-1e-9)
}

// capillary returns 2 gamma |cos| / (rho g) at a thin end, mm2.
func (i *Input) capillary() float64 {
	return 2e6 * i.Alloy.SurfaceTension.X * Cos(i.Contact) / (i.Alloy.DensityLiquid.X * gravity)
}

// gravity is the standard acceleration of free fall, m/s2.
const gravity = 9.80665

// Contact angles of metal on rubber, degrees. Thin ends are laid out for a metal
// that the rubber does not wet at all (an oxide skin), vents and gaps for the
// angle on powdered rubber.
const (
	ContactEnd = 180.0
	ContactGap = 140.0
	ContactLow = 130.0 // own figure, the least that either may be
)

// Cos returns |cos| of a contact angle in degrees.
func Cos(angle float64) float64 { return math.Abs(math.Cos(angle * math.Pi / 180)) }

// settings are the inputs that may be guessed, with what is taken.
type settings struct {
	pour, mould, room float64
	pourForced        float64
	step, stepB       float64
	humidity          float64 // share, of the room
	altitude          float64
	reject            float64 // share
	life              float64 // shots of one mould
	end               float64 // mbar that a pump of unknown end pressure reaches
	pump, hasPot      bool
}

// settingsOf takes the job's values and the usual ones for the rest.
func settingsOf(i *Input) settings {
	b := &i.Job.Bench
	or := func(p *float64, x float64) float64 {
		if p != nil {
			return *p
		}
		return x
	}
	s := settings{
		mould: or(b.Mould, MouldWarm), room: or(b.Room, 20), pourForced: or(b.Pour, 0),
		step: or(b.ScaleStep, 0.1), humidity: or(b.Humidity, HumidityUsual) / 100, altitude: or(b.Altitude, 0),
		reject: or(i.Job.Order.Reject, 15) / 100,
		life:   40, end: 30,
		pump:   b.Pump != nil || b.PumpGauge != nil || b.VacuumPot != nil,
		hasPot: b.VacuumPot != nil,
	}
	if i.Contact == 0 {
		i.Contact = ContactEnd
	}
	if i.Gap == 0 {
		i.Gap = ContactGap
	}
	s.stepB = or(b.HardenerStep, s.step)
	if i.Alloy.Flows() < 200 {
		s.life = 100
	}
	return s
}

// check refuses what no figure can be made of.
func (i *Input) check() error {
	bad := func(what string, x float64) error {
		return fault.New(fault.Internal, "figures", "report this with the job and the master", "%s is %g", what, x)
	}
	ok := func(x float64) bool { return x > 0 && !math.IsInf(x, 0) }
	if i.Job == nil {
		return fault.New(fault.Internal, "figures", "", "there is no job")
	}
	if !ok(i.Cavity) || len(i.Castings) == 0 {
		return bad("the cavity's volume", i.Cavity)
	}
	for k := range 2 {
		if !ok(i.Halves[k]) {
			return bad("a half's volume", i.Halves[k])
		}
	}
	for _, v := range i.Castings {
		if !ok(v) {
			return bad("a casting's volume", v)
		}
	}
	for k := range 3 {
		if !ok(i.Block[k]) || !ok(i.Size[k]) {
			return bad("a size of block or casting", min(i.Block[k], i.Size[k]))
		}
	}
	if !ok(i.Area) {
		return bad("the master's surface", i.Area)
	}
	return nil
}

// modulus returns V/A of the heaviest place.
func (i *Input) modulus() float64 {
	whole := i.Castings[0] / i.Area
	return math.Max(i.Modulus, whole)
}
