package batch

import (
	"math"

	"pourwright/internal/book/material"
	"pourwright/internal/book/plan"
)

// Sheet is the sheet of figures.
type Sheet struct {
	Rubber plan.Rubber
	Metal  plan.Metal
	Freeze plan.Freeze // estimates: computed is false
	Cycle  plan.Cycle  // estimates: computed is false
	Order  plan.Order

	Figures  []plan.Figure
	Guesses  []plan.Guess
	Findings []plan.Finding
	Bench    Bench
}

// Bench is what the sheets of the card say beside the plan; 0 where not known.
type Bench struct {
	Ratio        float64 // g of part A for one g of part B
	ScaleStep    float64 // g, of the scale that weighs part B
	ScaleStepA   float64 // g, of the scale that weighs part A
	Condensation bool
	PotMax       float64 // degC, never above
	MouldMax     float64 // degC, rating of the rubber
	PourWithin   float64 // s
	SolidAfter   float64 // s, estimate
	OpenAfter    float64 // s, estimate
	OpenAt       float64 // degC of the casting when opened
	Rest         float64 // s, estimate
	Growth       float64 // times the mix rises under vacuum, 0 without a pump
	HasPump      bool
	Stir         float64 // s
	Clay         float64 // mm3 for the bed
	Dry          float64 // s from opening to the first pour
	PerCasting   []Cost
}

// Cost is one row of the costs of one casting.
type Cost struct {
	Name   string
	Amount float64
}

// Stir is how long a mix is stirred, s (practice: 3-5 min).
const Stir = 240.0

// Make makes the sheet. The error is of kind Internal: the input has a volume
// or a size that no layout can have.
func Make(i Input) (*Sheet, error) {
	sheet, err := Estimate(i)
	if err == nil {
		s := settingsOf(&i)
		sheet.Guesses = guesses(i, s)
	}
	return sheet, err
}

// Estimate is Make without the guesses.
func Estimate(i Input) (*Sheet, error) {
	if err := i.check(); err != nil {
		return nil, err
	}
	return assess(i, settingsOf(&i)), nil
}

// maker adds figures to a sheet while it is made.
type maker struct {
	in    Input
	s     settings
	r     *material.Rubber
	a     *material.Alloy
	heats Heats
	out   *Sheet
}

// add keeps a figure and returns its value.
func (m *maker) add(f plan.Figure) float64 {
	m.out.Figures = append(m.out.Figures, f)
	return f.Value
}

// assess makes the sheet for given settings, without the guesses.
func assess(i Input, s settings) *Sheet {
	m := &maker{in: i, s: s, out: &Sheet{}}
	m.r, m.a = &m.in.Rubber, &m.in.Alloy
	m.heats = Choose(m.a, m.r, s.pourForced, s.mould)
	m.s.pour = m.heats.Pour
	m.rubber()
	m.vacuum()
	m.cure()
	m.metal()
	m.freeze()
	m.cycle()
	m.size()
	m.order()
	m.checks()
	return m.out
}

func (m *maker) rubber() {
	out, r := m.out, m.r
	h := r.Hardener.X
	out.Rubber.Kind = r.Name
	for k := range 2 {
		net := m.add(MassNet(k+1, m.in.Halves[k], r.Density.X))
		wanted := m.add(Wanted(k+1, net))
		b := m.add(PartB(k+1, wanted, h, m.s.stepB))
		a := m.add(PartA(k+1, wanted, b, m.s.step))
		mix := m.add(MassMix(k+1, a, b))
		m.add(RatioError(b, m.s.stepB))
		out.Figures[len(out.Figures)-1].Name += []string{", half 1", ", half 2"}[k]
		out.Rubber.Halves = append(out.Rubber.Halves, plan.Half{
			Volume: m.in.Halves[k], MassNet: net, MassMix: mix, Parts: plan.Parts{A: a, B: b},
		})
	}
	m.add(LeastMix(h, m.s.stepB))
	bed := m.in.Bed
	if bed <= 0 {
		bed = m.in.Halves[1]
	}
	m.add(ClayBed(bed))
	m.add(ClaySeal(m.in.Block))
	m.add(ClayWalls(m.in.Block))
	out.Bench.Clay = bed
	out.Bench.Ratio = 1 / h
	out.Bench.ScaleStep, out.Bench.ScaleStepA = m.s.stepB, m.s.step
	out.Bench.Condensation = r.Chemistry == material.Condensation
	out.Bench.Stir = Stir
}

// larger returns the heavier of the two mixes, g.
func (m *maker) larger() float64 {
	h := m.out.Rubber.Halves
	return math.Max(h[0].MassMix, h[1].MassMix)
}

func (m *maker) vacuum() {
	b := &m.in.Job.Bench
	mix := m.larger()
	m.out.Rubber.VacuumPot = m.add(PotVolume(mix, m.r.Density.X))
	// the way without a pump is always there
	m.add(BrushCoat(m.in.Area*float64(len(m.in.Castings))/2, m.r.Density.X))
	depth := m.in.Block[2]/2 + 10
	m.add(BubbleLeft(depth, m.r.Density.X, m.r.PotLife.X*m.r.Slowing(m.s.room)))
	if !m.s.pump {
		return
	}
	m.out.Bench.HasPump = true
	outside := m.add(Outside(m.s.altitude))
	pot := m.s.end
	switch {
	case b.Pump != nil:
		pot = *b.Pump
	case b.PumpGauge != nil:
		pot = m.add(PotPressure(outside, *b.PumpGauge))
	}
	if pot <= 0 || pot >= outside {
		m.find("vacuum", plan.Should, plan.Ptr(pot), plan.Ptr(outside),
			say("The pot would stand at %s mbar; the air outside has %s.", whole(pot), whole(outside)),
			"Check gauge and altitude. Ask for the absolute pressure.")
		return
	}
	m.out.Bench.Growth = m.add(Growth(outside, pot))
	if b.PumpSpeed != nil && b.VacuumPot != nil {
		m.add(PumpDown(*b.VacuumPot, *b.PumpSpeed, outside, pot))
	}
	if b.LidSpan != nil {
		stress, sag := Lid(*b.LidSpan, *b.LidThickness, (outside-pot)*100)
		m.add(stress)
		m.add(sag)
		if stress.Value > LidStress {
			m.find("vacuum", plan.Must, plan.Ptr(stress.Value), plan.Ptr(LidStress),
				say("This lid is too thin: %s MPa in it, 5 is the limit.", one(stress.Value/1e6)),
				"Do not put it under vacuum. Take a vessel and lid made and rated for vacuum; a lid that passes the formula is not approved by it.")
		}
	}
}

func (m *maker) cure() {
	slow := m.r.Slowing(m.s.room)
	m.out.Rubber.PotLife = m.add(PotLife(m.r.PotLife.X, m.s.room, m.r.Doubling.X, slow))
	m.out.Rubber.Cure = m.add(Cure(m.r.Cure.X, m.s.room, m.r.Doubling.X, slow))
	m.out.Bench.Dry = 24 * 3600
	if m.r.Chemistry == material.Condensation {
		m.out.Bench.Dry = 48 * 3600
	}
	m.add(figure("dry before the first pour", m.out.Bench.Dry, "s", "hours x 3600: 24 h after opening, 48 h for condensation rubber", own, in{"hours, h", m.out.Bench.Dry / 3600}))
}

func (m *maker) metal() {
	o, a := &m.out.Metal, m.a
	o.Kind = a.Name
	sum := 0.0
	for _, v := range m.in.Castings {
		sum += v
	}
	mean := sum / float64(len(m.in.Castings))
	o.CastingMass = m.add(CastingMass(mean, a.DensityHot.X))
	o.ChargeMass = m.add(ChargeMass(m.in.Cavity, a.DensityLiquid.X))
	o.WholeMass = m.add(WholeMass(o.ChargeMass))
	o.Yield = m.add(Yield(math.Min(o.ChargeMass, sum*a.DensityHot.X*1e-6), o.ChargeMass))
	o.PourTemperature, o.MouldTemperature = m.s.pour, m.s.mould
	if m.heats.PourForced {
		m.add(figure("metal when poured", m.s.pour, "C", "job", "the job", in{"job, C", m.s.pourForced}, in{"rating, C", m.r.Rating.X}))
	} else {
		m.add(figure("metal when poured", m.s.pour, "C", "flows + 50, up to the next 5; above the rating the 5 below it; where that is under flows + 25, the next 5 above flows + 25, and the plan says that it is too hot or just pours", own,
			in{"flows, C", m.a.Flows()}, in{"rating, C", m.r.Rating.X}))
	}
	m.out.Bench.PotMax = math.Min(m.r.Rating.X, m.s.pour+20)
	m.out.Bench.MouldMax = m.r.Rating.X
	if l := m.in.Job.Bench.Ladle; l != nil {
		o.Ladles = plan.Ptr(int(m.add(Ladles(o.ChargeMass, *l))))
	}
}

func (m *maker) freeze() {
	f := &m.out.Freeze
	c := m.add(FreezeConstant(m.a, m.r, m.s.pour, m.s.mould))
	co := m.add(OpenConstant(m.a, m.r, m.s.pour, m.s.mould))
	if math.IsInf(c, 0) { // the checks say so; nothing of it is a figure
		m.out.Figures = m.out.Figures[:len(m.out.Figures)-2]
		return
	}
	mod := m.in.modulus()
	solid := m.add(TimeOf("heaviest place solid", c, mod))
	open := m.add(TimeOf("open the mould", co, mod))
	f.SolidAfter, f.OpenAfter = plan.Ptr(solid), plan.Ptr(open)
	f.OpenTemperature = plan.Ptr(m.a.Solidus.X - OpenCooling)
	f.LastPlace = m.in.ModulusAt
	if t := m.in.Thinnest; t > 0 {
		thin := m.add(TimeOf("thinnest section solid", c, t/2))
		m.out.Bench.PourWithin = m.add(figure("fill within", thin/3, "s", "thinnest section solid / 3", own, in{"thinnest section solid, s", thin}))
	}
	b := &m.out.Bench
	b.SolidAfter, b.OpenAfter, b.OpenAt = solid, open, *f.OpenTemperature
}

func (m *maker) cycle() {
	f := &m.out.Freeze
	if f.OpenAfter == nil {
		return
	}
	c := &m.out.Cycle
	volume := m.in.Halves[0] + m.in.Halves[1]
	mass := m.out.Rubber.Halves[0].MassNet + m.out.Rubber.Halves[1].MassNet
	heat := m.add(HeatOfShot(m.a, m.out.Metal.ChargeMass, m.s.pour, *f.OpenTemperature))
	rise := m.add(Rise(heat, mass, m.r.HeatCapacity.X))
	warm := m.s.mould + warming
	shut := m.add(TimeConstant("cooling, closed", m.r, volume, m.in.Block, stillAir, false))
	open := m.add(TimeConstant("cooling, opened", m.r, volume, m.in.Block, stillAir, true))
	fan := m.add(TimeConstant("cooling, opened, with a fan", m.r, volume, m.in.Block, fanAir, true))
	m.add(Rest("rest, closed", shut, rise, warm, m.s.room))
	rest, how := m.add(Rest("rest, opened", open, rise, warm, m.s.room)), "opened"
	fanned := m.add(Rest("rest, opened, with a fan", fan, rise, warm, m.s.room))
	if m.in.Job.Bench.Fan {
		rest, how = fanned, "opened, with a fan"
	}
	c.Rest, c.How = plan.Ptr(rest), plan.Ptr(how)
	c.SteadyMouldTemperature = plan.Ptr(warm)
	c.WarmUpShots = plan.Ptr(warmUp)
	m.out.Bench.Rest = rest
}

func (m *maker) size() {
	longest := math.Max(m.in.Size[0], math.Max(m.in.Size[1], m.in.Size[2]))
	net := m.add(NetShrink(m.a.Contraction.X, m.r.Shrink.X, m.r.Expansion.X, m.s.mould, m.s.room))
	off := m.add(OffSize(longest, net))
	m.add(Grade(longest, off))
}
