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
	Ends      []End      // thin ends with the head over them
	Bed       float64    // clay of the bed, mm3; half 2 and its channels where 0
	InHand    int        // masters on the bench; Job's where 0
}

// End is one thin end: it fills where Head exceeds 2 gamma / (rho g t), twice
// that for a pin. The layout finds and words it; here it only tells whether the
// surface tension, a guess, would turn the answer.
type End struct {
	Thickness float64 // mm
	Pin       bool
	Head      float64 // mm
}

// settings are the inputs that may be guessed, with what is taken.
type settings struct {
	pour, mould, room float64
	pourForced        float64
	step, stepB       float64
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
		step: or(b.ScaleStep, 0.1), altitude: or(b.Altitude, 0),
		reject: or(i.Job.Order.Reject, 15) / 100,
		life:   40, end: 30,
		pump:   b.Pump != nil || b.PumpGauge != nil || b.VacuumPot != nil,
		hasPot: b.VacuumPot != nil,
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
