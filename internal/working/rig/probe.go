package rig

import (
	"math"

	"pourwright/internal/book/pour"
	"pourwright/internal/ground/vec"
	"pourwright/internal/physics/heat"
)

// mostPoints is how many points a curve keeps.
const mostPoints = 600

// log follows the marks during a series. Points stand at least apart seconds from
// each other; that doubles, and every other point goes, when there are too many.
type log struct {
	Apart float64
	marks []mark
	done  bool // nothing more is taken down
	Times []float64
	Temps [][]float64 // by mark
}

// mark is a place to follow.
type mark struct {
	name string
	at   vec.V3 // mm, block frame
}

// probes makes the log of the places that tell most: the heaviest place of a
// casting and the first to freeze, and the rubber beside the heaviest.
func (w *work) probes() *log {
	m := w.marks()
	return &log{Apart: 0.5, marks: m, Temps: make([][]float64, len(m))}
}

// Depths in mm at which the rubber beside the heaviest place is followed.
var depths = []float64{1, 5, 15}

// marks finds those places on the finest grid.
func (w *work) marks() []mark {
	f := w.f
	g := f.Grid
	low := math.Inf(1)
	for _, i := range w.m.Block.Ingates {
		low = math.Min(low, i.At[1])
	}
	deep := layers(f)
	heavy, first := -1, -1
	for q, d := range deep {
		_, j, _ := g.Cell(q)
		if d == 0 || g.Centre(0, j, 0).Y > low {
			continue
		}
		if heavy < 0 || d > deep[heavy] {
			heavy = q
		}
		if f.Solid[q] >= 0 && (first < 0 || f.Solid[q] < f.Solid[first]) {
			first = q
		}
	}
	var r []mark
	if first >= 0 {
		r = append(r, mark{"the metal that freezes first", g.Centre(g.Cell(first))})
	}
	if heavy < 0 {
		return r
	}
	i, j, k := g.Cell(heavy)
	r = append(r, mark{"the metal where it is thickest", g.Centre(i, j, k)})
	for k < g.NZ && f.Dist[g.At(i, j, k)] < 0 {
		k++
	}
	if k == g.NZ {
		return r
	}
	wall := g.Centre(i, j, k)
	wall.Z -= float64(f.Dist[g.At(i, j, k)])
	for _, d := range depths {
		p := wall
		p.Z += d
		if a, b, c, ok := g.Find(p); ok && f.Dist[g.At(a, b, c)] >= 0 {
			r = append(r, mark{sprint("rubber %g mm from there", d), p})
		}
	}
	return r
}

// layers returns for each metal cell how many layers of cells lie between it and
// the rubber, from 1; 0 in rubber.
func layers(f *Fields) []uint16 {
	g := f.Grid
	deep := make([]uint16, g.Len())
	var now, next []int32
	for q, d := range f.Dist {
		if d >= 0 {
			continue
		}
		edge := false
		g.Beside(q, func(x int) { edge = edge || f.Dist[x] >= 0 })
		if edge {
			deep[q] = 1
			now = append(now, int32(q))
		}
	}
	for len(now) > 0 {
		next = next[:0]
		for _, q := range now {
			g.Beside(int(q), func(x int) {
				if f.Dist[x] < 0 && deep[x] == 0 {
					deep[x] = deep[q] + 1
					next = append(next, int32(x))
				}
			})
		}
		now, next = next, now
	}
	return deep
}

// resume goes on with the curves of a run that was kept at the time t, and keep
// keeps them.
func (l *log) resume(w *work, t float64) {
	if !w.o.Store.value(w.key, "probes", l) {
		return
	}
	n := len(l.Times)
	for n > 0 && l.Times[n-1] > t {
		n--
	}
	l.Times = l.Times[:n]
	for k := range l.Temps {
		l.Temps[k] = l.Temps[k][:n]
	}
}

func (l *log) keep(w *work) { w.o.Store.setValue(w.key, "probes", l) }

func (l *log) see(r *heat.Run) {
	n := len(l.Times)
	if l.done || n > 0 && r.Time < l.Times[n-1]+l.Apart {
		return
	}
	l.Times = append(l.Times, r.Time)
	for k, m := range l.marks {
		l.Temps[k] = append(l.Temps[k], r.At(m.at))
	}
	if len(l.Times) > 2*mostPoints {
		l.thin()
	}
}

// thin drops every other point.
func (l *log) thin() {
	l.Apart *= 2
	n := 0
	for i := 0; i < len(l.Times); i += 2 {
		l.Times[n] = l.Times[i]
		for k := range l.Temps {
			l.Temps[k][n] = l.Temps[k][i]
		}
		n++
	}
	l.Times = l.Times[:n]
	for k := range l.Temps {
		l.Temps[k] = l.Temps[k][:n]
	}
}

// curves returns the document's probes.
func (l *log) curves(w *work) []pour.Probe {
	r := []pour.Probe{}
	for k, m := range l.marks {
		p := pour.Probe{Name: m.name, At: m.at.Array(), Curve: [][2]float64{}}
		for i, t := range l.Times {
			if x := l.Temps[k][i]; x == x {
				p.Curve = append(p.Curve, [2]float64{t, x})
			}
		}
		r = append(r, p)
	}
	return r
}
