package batch

import (
	"math"

	"pourwright/internal/book/plan"
)

const (
	warmUp   = 2        // shots that warm the mould and are remelted (practice: the first two to four)
	workday  = 6 * 3600 // s of casting in a day
	dross    = 0.02     // share of a melt lost (practice: 1-3 %)
	makeTime = 3.0      // hours of work for one mould, own figure
)

// Shots returns the shots of an order: good castings over cavities and the
// share that turns out, and two to warm each mould.
func Shots(castings, cavities int, reject float64, moulds int) plan.Figure {
	n := math.Ceil(float64(castings)/(float64(cavities)*(1-reject))-1e-9) + float64(warmUp*moulds)
	return figure("shots for the order", n, "", "castings / (cavities x (1 - reject)), up, + 2 x moulds", craft,
		in{"castings", float64(castings)}, in{"cavities", float64(cavities)}, in{"reject, share", reject}, in{"moulds", float64(moulds)})
}

// MouldsForLife returns the moulds an order wears out.
func MouldsForLife(shots, life float64) plan.Figure {
	return figure("moulds by their life", math.Max(1, math.Ceil(shots/life-1e-9)), "", "shots / life, up",
		"value from memory, 20-60 shots of tin alloy near 300 C, 100 and more of bismuth alloy near 180 C: a guess, the log replaces it",
		in{"shots", shots}, in{"life", life})
}

// AlloyUsed returns the alloy in g that an order takes off the shelf: good
// castings, 2 % of every melt as dross, and one charge that goes round as
// returns.
func AlloyUsed(castings int, casting, shots, charge float64) plan.Figure {
	x := float64(castings)*casting + dross*shots*charge + math.Max(0, charge-casting)
	return figure("alloy for the order", x, "g", "castings x casting + 0.02 shots x charge + charge - casting (at least 0)", craft,
		in{"castings", float64(castings)}, in{"casting, g", casting}, in{"shots", shots}, in{"charge, g", charge})
}

func (m *maker) order() {
	o, job := &m.out.Order, m.in.Job
	o.Castings = job.Order.Castings
	cav := len(m.in.Castings)
	// moulds: those the shots wear out, then as many more (three at most) as
	// bring a long series near one day
	moulds := 1
	for range 50 {
		shots := Shots(o.Castings, cav, m.s.reject, moulds).Value
		need := int(math.Min(1e6, MouldsForLife(shots, m.s.life).Value))
		if need <= moulds {
			break
		}
		moulds = need
	}
	cycle := 0.0
	if m.out.Cycle.Rest != nil {
		cycle = handling + *m.out.Freeze.OpenAfter + *m.out.Cycle.Rest
		for moulds < 3 && Shots(o.Castings, cav, m.s.reject, moulds).Value*3600/PerHour(moulds, cycle).Value > workday {
			moulds++
		}
	}
	shots := m.add(Shots(o.Castings, cav, m.s.reject, moulds))
	m.add(MouldsForLife(shots, m.s.life))
	o.Shots, o.Moulds = plan.Ptr(int(shots)), plan.Ptr(moulds)
	turn := min(moulds, 4)
	if cycle > 0 {
		rate := m.add(PerHour(turn, cycle))
		m.out.Cycle.ShotsPerHour = plan.Ptr(rate)
		m.out.Cycle.Moulds = plan.Ptr(turn)
		o.Time = plan.Ptr(m.add(m.time(shots, rate, moulds)))
	}
	alloy := m.add(AlloyUsed(o.Castings, m.out.Metal.CastingMass, shots, m.out.Metal.ChargeMass))
	m.cost(shots, alloy)
	m.stock(alloy)
}

// time returns the time of the whole order: each mould takes two cures, as
// many at once as there are sets of masters, then drying, then the shots.
func (m *maker) time(shots, rate float64, moulds int) plan.Figure {
	inHand := m.in.InHand
	if inHand == 0 {
		inHand = 1
		if p := m.in.Job.Master.InHand; p != nil {
			inHand = max(1, *p)
		}
	}
	sets := max(1, inHand/len(m.in.Castings))
	rounds := float64((moulds + sets - 1) / sets)
	cure, dry := m.out.Rubber.Cure, m.out.Bench.Dry
	return figure("time for the order", rounds*2*cure+dry+shots*3600/rate, "s", "rounds x 2 cure + dry + shots x 3600 / shots an hour", craft,
		in{"rounds", rounds}, in{"cure, s", cure}, in{"dry, s", dry}, in{"shots", shots}, in{"shots an hour, 1/h", rate})
}

// Paced returns the time for the order again for a computed pace, shots an hour of
// all moulds in turn; false where there was none to begin with.
func (s *Sheet) Paced(rate float64) (plan.Figure, bool) {
	for _, f := range s.Figures {
		if f.Name != "time for the order" || !(rate > 0) {
			continue
		}
		in := map[string]float64{}
		for k, x := range f.Inputs {
			in[k] = x
		}
		old := in["shots an hour, 1/h"]
		in["shots an hour, 1/h"] = rate
		f.Inputs, f.Name = in, "time for the order, computed pace"
		f.Value += in["shots"] * 3600 * (1/rate - 1/old)
		return f, true
	}
	return plan.Figure{}, false
}

// cost needs a currency and the prices of rubber and alloy; work counts where
// an hour has a price.
func (m *maker) cost(shots, alloy float64) {
	p, o := &m.in.Job.Prices, &m.out.Order
	if p.Currency == "" || p.Rubber == nil || p.Alloy == nil {
		return
	}
	val := func(x *float64) float64 {
		if x == nil {
			return 0
		}
		return *x
	}
	mix := m.out.Rubber.Halves[0].MassMix + m.out.Rubber.Halves[1].MassMix
	mould := m.add(figure("cost of one mould", mix/1000**p.Rubber+val(p.MouldExtra)+makeTime*val(p.Hour), p.Currency,
		"mix / 1000 x rubber + extra + 3 h x hour", craft+"; 3 h of work is an own figure",
		in{"mix, g", mix}, in{"rubber, " + p.Currency + "/kg", *p.Rubber}, in{"extra, " + p.Currency, val(p.MouldExtra)}, in{"hour, " + p.Currency + "/h", val(p.Hour)}))
	n := float64(o.Castings)
	metal := alloy / 1000 * *p.Alloy / n
	work := shots * handling / 3600 * val(p.Hour) / n
	one := m.add(figure("cost of one casting, without the mould", metal+work+val(p.CastingExtra), p.Currency,
		"(alloy / 1000 x price + shots x 180 / 3600 x hour) / castings + extra", craft,
		in{"alloy, g", alloy}, in{"price, " + p.Currency + "/kg", *p.Alloy}, in{"shots", shots}, in{"hour, " + p.Currency + "/h", val(p.Hour)}, in{"castings", n}, in{"extra, " + p.Currency, val(p.CastingExtra)}))
	total := m.add(figure("cost of the order", float64(*o.Moulds)*mould+n*one, p.Currency, "moulds x mould + castings x casting", law,
		in{"moulds", float64(*o.Moulds)}, in{"mould, " + p.Currency, mould}, in{"castings", n}, in{"casting, " + p.Currency, one}))
	o.Cost = &plan.Cost{Currency: p.Currency, Mould: mould, Casting: one, Total: total}
	rows := &m.out.Bench.PerCasting
	*rows = append(*rows, Cost{"alloy, dross and returns in it", metal})
	if p.Hour != nil {
		*rows = append(*rows, Cost{"work at the mould", work})
	}
	if p.CastingExtra != nil {
		*rows = append(*rows, Cost{"finishing and packing", *p.CastingExtra})
	}
	*rows = append(*rows, Cost{"share of the moulds", float64(*o.Moulds) * mould / n})
}

// stock compares what the order takes with the shelf.
func (m *maker) stock(alloy float64) {
	var a, b float64
	halves := m.out.Rubber.Halves
	all := func(what string, x, one, two float64) {
		m.add(figure(what+" for all moulds", x, "g", "(half 1 + half 2) x moulds", law, in{"half 1, g", one}, in{"half 2, g", two}, in{"moulds", float64(*m.out.Order.Moulds)}))
	}
	for _, h := range halves {
		a += h.Parts.A * float64(*m.out.Order.Moulds)
		b += h.Parts.B * float64(*m.out.Order.Moulds)
	}
	all("part A", a, halves[0].Parts.A, halves[1].Parts.A)
	all("part B", b, halves[0].Parts.B, halves[1].Parts.B)
	st := &m.in.Job.Stock
	for _, c := range []struct {
		what string
		have *float64
		need float64
	}{{"rubber part A", st.RubberA, a}, {"rubber part B", st.RubberB, b}, {"alloy", st.Alloy, alloy}} {
		if c.have != nil && *c.have < c.need {
			m.find("stock", plan.Must, plan.Ptr(*c.have), plan.Ptr(c.need),
				say("The shelf holds %s g of %s, the order takes %s g.", whole(*c.have), c.what, whole(math.Ceil(c.need))),
				say("Get %s g more before the first mix.", whole(math.Ceil(c.need-*c.have))))
		}
	}
}
