package shot

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"math"
)

// radial is a casting in rubber in one dimension: a plate (geom 0), rod (1) or
// ball (2) of half thickness r inside rubber out to out, both in m. It is written
// apart from the solver, as a model that is quick enough to play hundreds of
// shots: finite volumes in enthalpy, the metal in explicit sub-steps of the
// rubber's explicit step. It stands for one square metre of plate, one metre of
// rod over 2 pi, one ball over 4 pi.
type radial struct {
	geom        int
	nm, nr      int
	rho, cs, cl float64
	ks, kl      float64
	latent      float64
	ts, tl      float64
	hc, air     float64
	kr, rhoc    float64
	outer, blow float64
	rating      float64
	rf, vol     []float64 // faces; volumes
	radialState
}

type radialState struct {
	E, T                         []float64 // J/m3 over solid at the solidus; K over the air
	Full, Apart                  bool
	Inner, Out, Since, Mark      float64
	SolidAt, ColdAt, FellAt      float64
	PeakT, OverFor               float64
	Poured, Carried, Lost, Start float64
}

// newRadial lays out pewter of half thickness r and rubber out to out, m, in n
// cells of metal; rubber cells are of the same size at the wall and grow to 5
// times that.
func newRadial(geom int, r, out float64, n int, outer float64) *radial {
	m := &radial{geom: geom, nm: n, rho: 7150, cs: 256, cl: 247, ks: 50, kl: 27, latent: 66e3, ts: 236, tl: 245, hc: 1000, air: 25,
		kr: 0.25, rhoc: 1250 * 1250, outer: outer}
	d := r / float64(n)
	for i := range n + 1 {
		m.rf = append(m.rf, d*float64(i))
	}
	for x := d; m.rf[len(m.rf)-1] < out-1e-9; x = math.Min(x*1.05, 5*d) {
		m.rf = append(m.rf, math.Min(out, m.rf[len(m.rf)-1]+x))
	}
	if k := len(m.rf) - 1; m.rf[k]-m.rf[k-1] < d/2 { // no sliver at the end
		m.rf = append(m.rf[:k-1], m.rf[k])
	}
	m.nr = len(m.rf) - 1 - n
	g := float64(geom + 1)
	for i := range m.nm + m.nr {
		m.vol = append(m.vol, (math.Pow(m.rf[i+1], g)-math.Pow(m.rf[i], g))/g)
	}
	m.E, m.T, m.blow = make([]float64, n), make([]float64, m.nr), outer
	return m
}

func (m *radial) top() float64 { // J/m3 at the liquidus
	return m.rho * ((m.cs+m.cl)/2*(m.tl-m.ts) + m.latent)
}

// metal returns temperature over the solidus and liquid share.
func (m *radial) metal(e float64) (float64, float64) {
	switch {
	case e <= 0:
		return e / (m.rho * m.cs), 0
	case e < m.top():
		f := e / m.top()
		return f * (m.tl - m.ts), f
	}
	return m.tl - m.ts + (e-m.top())/(m.rho*m.cl), 1
}

func (m *radial) resist(a, b float64) float64 { // integral of dr/r^geom
	switch m.geom {
	case 0:
		return b - a
	case 1:
		return math.Log(b / math.Max(a, 1e-30))
	}
	return 1/math.Max(a, 1e-30) - 1/b
}

func (m *radial) mid(i int) float64  { return (m.rf[i] + m.rf[i+1]) / 2 }
func (m *radial) area(i int) float64 { return math.Pow(m.rf[i], float64(m.geom)) }

func (m *radial) Solidus() float64 { return m.ts }
func (m *radial) Mark(t float64)   { m.radialState.Mark = t }
func (m *radial) Fell() float64    { return m.FellAt }
func (m *radial) Close()           { m.Apart = false }
func (m *radial) Outside(h float64, _ bool) error {
	m.Out = h
	if m.outer == 0 && h == StillAir {
		m.Out = 0 // insulated for want of air, not of boards
	}
	return nil
}
func (m *radial) Open(h float64) error {
	m.Apart, m.Inner = true, h
	return nil
}

func (m *radial) Hottest() float64 {
	t, _ := m.metal(m.E[0])
	return t + m.ts
}

func (m *radial) heat() float64 { // of the metal over the air
	s := 0.0
	for i, e := range m.E {
		s += (e + m.rho*m.cs*(m.ts-m.air)) * m.vol[i]
	}
	return s
}

func (m *radial) Pour(t float64) error {
	if m.Full || m.Apart {
		return errors.New("not ready")
	}
	for i := range m.E {
		m.E[i] = m.top() + m.rho*m.cl*(t-m.tl)
	}
	m.Full, m.Since, m.SolidAt, m.ColdAt, m.FellAt = true, 0, 0, 0, 0
	m.PeakT, m.OverFor = m.T[0], 0
	m.Poured += m.heat()
	return nil
}

func (m *radial) TakeOut() error {
	if !m.Full {
		return errors.New("empty")
	}
	m.Carried += m.heat()
	m.Full = false
	return nil
}

func (m *radial) Advance(_ context.Context, seconds float64) error {
	d := m.rf[m.nm+1] - m.rf[m.nm]
	step := 0.4 * d * d * m.rhoc / m.kr
	for left := seconds; left > 1e-9*seconds; {
		dt := math.Min(left, step)
		if m.Full {
			dt = math.Min(dt, 0.001+0.02*m.Since)
		}
		m.step(dt)
		left -= dt
	}
	return nil
}

func (m *radial) step(dt float64) {
	n := len(m.T)
	q := make([]float64, n+1) // out of each face of the rubber, towards the outside
	face := m.resist(m.rf[m.nm], m.mid(m.nm)) / m.kr
	if m.Full {
		k := m.ks
		t, _ := m.metal(m.E[m.nm-1])
		g := 1 / (face + 1/(m.hc*m.area(m.nm)) + m.resist(m.mid(m.nm-1), m.rf[m.nm])/k)
		q[0] = g * (t + m.ts - m.air - m.T[0])
	} else if m.Apart && m.Inner > 0 {
		q[0] = -m.T[0] / (face + 1/(m.Inner*m.area(m.nm)))
		m.Lost -= q[0] * dt
	}
	wall := m.T[0] + q[0]*face
	for i := 1; i < n; i++ {
		q[i] = m.kr * (m.T[i-1] - m.T[i]) / m.resist(m.mid(m.nm+i-1), m.mid(m.nm+i))
	}
	out := m.outer
	if m.Out > 0 {
		out = m.Out
	}
	if out > 0 {
		last := m.nm + n - 1
		q[n] = m.T[n-1] / (m.resist(m.mid(last), m.rf[last+1])/m.kr + 1/(out*m.area(last+1)))
		m.Lost += q[n] * dt
	}
	for i := range m.T {
		m.T[i] += dt * (q[i] - q[i+1]) / (m.rhoc * m.vol[m.nm+i])
	}
	m.PeakT = math.Max(m.PeakT, wall)
	if m.rating > 0 && wall+m.air > m.rating {
		m.OverFor += dt
	}
	if m.Full {
		m.freeze(dt, q[0])
	}
}

// freeze takes the metal forward with the heat q leaving at its wall.
func (m *radial) freeze(dt, q float64) {
	d := m.rf[1]
	sub := int(math.Ceil(dt / (0.2 * d * d * m.rho * m.cl / m.ks)))
	h := dt / float64(sub)
	t, k, f := make([]float64, m.nm), make([]float64, m.nm), make([]float64, m.nm+1)
	g := make([]float64, m.nm)
	for i := 1; i < m.nm; i++ {
		g[i] = 1 / m.resist(m.mid(i-1), m.mid(i))
	}
	old := m.E[0]
	for range sub {
		for i, e := range m.E {
			x, l := m.metal(e)
			t[i], k[i] = x, m.ks+(m.kl-m.ks)*l
		}
		for i := 1; i < m.nm; i++ {
			f[i] = g[i] * (k[i-1] + k[i]) / 2 * (t[i-1] - t[i])
		}
		f[m.nm] = q
		for i := range m.E {
			m.E[i] += h * (f[i] - f[i+1]) / m.vol[i]
		}
	}
	pass := func(x float64) float64 { return m.Since + dt*(old-x)/(old-m.E[0]) }
	if old > 0 && m.E[0] <= 0 {
		m.SolidAt = pass(0)
	}
	for _, p := range []struct{ at, t *float64 }{{&m.ColdAt, new(float64)}, {&m.FellAt, &m.radialState.Mark}} {
		x := -20 * m.rho * m.cs
		if *p.t != 0 {
			x = (*p.t - m.ts) * m.rho * m.cs
		}
		if old > x && m.E[0] <= x {
			*p.at = pass(x)
		}
	}
	m.Since += dt
}

func (m *radial) Look() State {
	s := State{Solid: m.SolidAt, Cold: m.ColdAt, Peak: m.PeakT + m.air, Over: m.OverFor}
	v, r := 0.0, 0.0
	for i, t := range m.T {
		r += t * m.rhoc * m.vol[m.nm+i]
		v += m.rhoc * m.vol[m.nm+i]
	}
	s.Rubber = m.air + r/v
	s.Heat = Heat{Poured: m.Poured, Carried: m.Carried, Lost: m.Lost, Stored: r}
	if m.Full {
		s.Heat.Stored += m.heat()
		w, e := 0.0, 0.0
		for i, x := range m.E {
			_, l := m.metal(x)
			s.Liquid += l * m.vol[i]
			e += x * m.vol[i]
			w += m.vol[i]
		}
		s.Liquid /= w
		t, _ := m.metal(e / w)
		s.Casting = t + m.ts
	}
	s.Heat.Left = m.Start + m.Poured - m.Carried - m.Lost - s.Heat.Stored
	return s
}

func (m *radial) Slow() []float32 {
	x := make([]float32, len(m.T))
	for i, t := range m.T {
		x[i] = float32(t)
	}
	return x
}

func (m *radial) SetSlow(x []float32) error {
	if len(x) != len(m.T) || m.Full {
		return errors.New("another mould's state")
	}
	m.Poured, m.Carried, m.Lost, m.Start = 0, 0, 0, 0
	for i, t := range x {
		m.T[i] = float64(t)
		m.Start += m.T[i] * m.rhoc * m.vol[m.nm+i]
	}
	return nil
}

func (m *radial) Rested() []float32 { return make([]float32, len(m.T)) }

func (m *radial) floats() []*float64 {
	s := &m.radialState
	f := []*float64{&s.Inner, &s.Out, &s.Since, &s.Mark, &s.SolidAt, &s.ColdAt, &s.FellAt, &s.PeakT, &s.OverFor, &s.Poured, &s.Carried, &s.Lost, &s.Start}
	for i := range s.E {
		f = append(f, &s.E[i])
	}
	for i := range s.T {
		f = append(f, &s.T[i])
	}
	return f
}

func (m *radial) Save() ([]byte, error) {
	var b bytes.Buffer
	for _, f := range m.floats() {
		binary.Write(&b, binary.LittleEndian, *f)
	}
	binary.Write(&b, binary.LittleEndian, []bool{m.Full, m.Apart})
	return b.Bytes(), nil
}

func (m *radial) Load(state []byte) error {
	f := m.floats()
	if len(state) != 8*len(f)+2 {
		return errors.New("another mould's state")
	}
	for i, x := range f {
		*x = math.Float64frombits(binary.LittleEndian.Uint64(state[8*i:]))
	}
	m.Full, m.Apart = state[8*len(f)] != 0, state[8*len(f)+1] != 0
	return nil
}
