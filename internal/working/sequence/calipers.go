package sequence

import (
	"fmt"
	"math"

	"pourwright/internal/book/job"
	"pourwright/internal/book/plan"
	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
)

// Bounds of what calipers may say against the scan; our own figures, no source.
const (
	sameLength = 0.002 // share that no caliper tells apart on a hand-sized piece
	farLength  = 0.15  // share beyond which the unit or the points are wrong
	lightest   = 0.2   // g/cm3 of a master: below it, balsa and foam
	heaviest   = 20.0  // above it, no material of the bench
)

// calipers lets control lengths overrule the scan: master and points of the job
// are scaled by the mean ratio of caliper to scan. Lengths that disagree with
// each other, or by more than 15 % with the scan, are refused, because then a
// point or the unit is wrong.
func (t *trace) calipers() error {
	list := t.job.Master.Control
	if len(list) == 0 {
		return nil
	}
	lo, hi, sum := math.Inf(1), 0.0, 0.0
	for _, c := range list {
		scan := vec.FromArray(c.From).Dist(vec.FromArray(c.To))
		k := c.Length / scan
		if !(math.Abs(k-1) <= farLength) {
			return fault.New(fault.Input, t.job.File, "check the two points and the unit of the mesh",
				"master.control: the calipers read %.4g mm where the mesh has %.4g mm", c.Length, scan)
		}
		lo, hi, sum = math.Min(lo, k), math.Max(hi, k), sum+k
	}
	if hi-lo > 2*sameLength+0.01 {
		return fault.New(fault.Input, t.job.File, "measure them again, or leave out the ones that the scan shows badly",
			"master.control: the control lengths ask for scales from %.4f to %.4f", lo, hi)
	}
	k := sum / float64(len(list))
	if math.Abs(k-1) <= sameLength {
		t.master.note("calipers", nil, "", "The calipers agree with the scan within %.1f %%.", 100*math.Max(hi-1, 1-lo))
		return nil
	}
	m := t.master
	for i, p := range m.Mesh.V {
		m.Mesh.V[i] = p.Mul(k)
	}
	for s := range m.Nest.At {
		m.Nest.At[s] = m.Nest.At[s].Mul(k)
		m.Nest.Volume[s] *= k * k * k
	}
	m.Said.Read.Volume *= k * k * k
	m.Said.VolumeBand *= k * k * k
	t.job = scaled(t.job, k)
	m.note("calipers", nil, "points of the job were scaled along", "The calipers overrule the scan: the master was scaled by %.4f.", k)
	return m.measure(t.raw.source.Path)
}

// scaled returns a copy of the job with all points of the master frame times k.
func scaled(j *job.Job, k float64) *job.Job {
	c := *j
	mul := func(p job.P3) job.P3 { return job.P3{p[0] * k, p[1] * k, p[2] * k} }
	all := func(list []job.P3) []job.P3 {
		var r []job.P3
		for _, p := range list {
			r = append(r, mul(p))
		}
		return r
	}
	c.Master.Show, c.Master.Hide = all(j.Master.Show), all(j.Master.Hide)
	c.Master.Thickness, c.Insert = nil, nil
	for _, q := range j.Master.Thickness {
		c.Master.Thickness = append(c.Master.Thickness, job.Thickness{At: mul(q.At), T: q.T})
	}
	for _, i := range j.Insert {
		i.At = mul(i.At)
		c.Insert = append(c.Insert, i)
	}
	if j.Gate.At != nil {
		c.Gate.At = plan.Ptr(mul(*j.Gate.At))
	}
	return &c
}

// thinnest lets typed thicknesses overrule the thinnest section: one that lies
// below it, or that was measured where the scan is about as thin. It returns 0
// where no typed thickness does, and notes where calipers and scan differ.
func (t *trace) thinnest() float64 {
	if t.lump != nil {
		return t.lump.thinnest()
	}
	m := t.master
	scan := m.Wall.Length
	typed := 0.0
	for _, q := range t.job.Master.Thickness {
		at := vec.FromArray(q.At)
		_, i, far := m.Tree.Closest(at, math.Inf(1))
		if i < 0 || far > 0.02*m.Mesh.Box().Longest()+q.T {
			m.note("calipers", &at, "give points on the master", "The thickness of %.4g mm was typed for a point %.3g mm off the master.", q.T, far)
			continue
		}
		n := m.Mesh.Normal(i)
		p, _, _ := m.Tree.Closest(at, math.Inf(1))
		step := 1e-6 * m.Mesh.Box().Longest()
		h, ok := m.Tree.First(p.Sub(n.Mul(step)), n.Mul(-1), math.Inf(1))
		here := h.T + step
		if e := caliperError(q.T); ok && math.Abs(here-q.T) > e {
			do := "only the thinnest section is taken from the calipers; look at the scan there"
			if q.T < scan || here < 1.25*scan {
				do = "the calipers are taken; look at the scan there"
			}
			m.note("calipers", &at, do, "The calipers read %.4g mm where the scan is %.4g mm thick: %.2g mm apart, and a reading counts as right to %.2g.", q.T, here, math.Abs(here-q.T), e)
		}
		if q.T < scan || ok && here < 1.25*scan {
			if typed == 0 || q.T < typed {
				typed = q.T
			}
		}
	}
	return typed
}

// weighed compares the mass on the scale with the volume of the scan: by the density
// of the master where the job gives one, else by what any material may have.
func (t *trace) weighed() {
	g := t.job.Master.Mass
	if g == nil {
		return
	}
	m := t.master
	cm3 := m.Said.Volume / 1000
	d := *g / cm3
	if d < lightest || d > heaviest {
		m.note("calipers", nil, "check the unit of the mesh and the mass", "A master of %.4g g and %.4g cm3 would weigh %.3g g/cm3, which no material does.", *g, cm3, d)
		return
	}
	rho := t.job.Master.Density
	if rho == nil {
		m.note("calipers", nil, "a solid master of another density is hollow, or the unit is wrong", "Mass and scan together give %.3g g/cm3.", d)
		return
	}
	k := d / *rho // volume by the scale over volume by the scan
	most := massError + 3*jawShare
	if math.Abs(k-1) <= most {
		m.note("calipers", nil, "", "Mass and density agree with the scan's volume within %.1f %%.", 100*math.Abs(k-1))
		return
	}
	do := "weigh again and measure a length for control: lengths of the scan would be " + fmt.Sprintf("%.1f %% too %s", 100*math.Abs(math.Cbrt(k)-1), map[bool]string{true: "small", false: "large"}[k > 1])
	if k < 1 {
		do += ", or the master is hollow"
	}
	m.note("calipers", nil, do, "Mass and density ask for %.4g cm3 where the scan has %.4g, %.1f %% apart; they count as right to %.1f %%. One casting weighs %.4g g by the scan and %.4g g by them: metal, charge and freezing go by the scan.",
		k*cm3, cm3, 100*math.Abs(k-1), 100*most, cm3*t.job.AlloyRow.Density.X/1000, k*cm3*t.job.AlloyRow.Density.X/1000)
}
