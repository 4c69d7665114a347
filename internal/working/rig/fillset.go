package rig

import (
	"cmp"
	"math"
	"slices"

	"pourwright/internal/book/pour"
	"pourwright/internal/ground/vec"
)

// Gather puts the runs of the ensemble into the document: medians with their
// spread, and places that runs share. A splashing fill is sensitive to
// rounding, so no statement rests on one run.
func Gather(f *pour.Filling, runs []pour.Run) {
	f.Runs = runs
	f.Computed = len(runs) > 0
	f.Air, f.Short, f.Meetings, f.Bridged = []pour.Air{}, []pour.Place{}, []pour.Meeting{}, []pour.Place{}
	if !f.Computed {
		return
	}
	of := func(x func(r *pour.Run) float64) pour.Spread {
		v := make([]float64, len(runs))
		for i := range runs {
			v[i] = x(&runs[i])
		}
		return spreadOf(v)
	}
	f.Middle = pour.Middle{
		Time:     of(func(r *pour.Run) float64 { return r.Time }),
		Filled:   of(func(r *pour.Run) float64 { return r.Filled }),
		Castings: of(func(r *pour.Run) float64 { return r.Castings }),
		Trapped:  of(func(r *pour.Run) float64 { return r.Trapped }),
		Short:    of(func(r *pour.Run) float64 { return r.Short }),
		Fastest:  of(func(r *pour.Run) float64 { return r.Fastest }),
		Overflow: of(func(r *pour.Run) float64 { return r.Overflow }),
	}
	var cold []float64
	for i := range runs {
		if c := runs[i].Coldest; c != nil {
			cold = append(cold, *c)
		}
		f.Middle.Volume = worse(f.Middle.Volume, runs[i].Volume)
		f.Middle.Energy = worse(f.Middle.Energy, runs[i].Energy)
	}
	if len(cold) > 0 {
		s := spreadOf(cold)
		f.Middle.Coldest = &s
	}
	near := math.Max(nearCells*runs[0].Cell, nearLeast)
	air := shared(runs, near, func(r *pour.Run) []pour.Place { return r.Air })
	for _, s := range air {
		f.Air = append(f.Air, pour.Air{At: s.at.Array(), Volume: spreadOf(s.volume), Runs: s.runs})
	}
	slices.SortStableFunc(f.Air, func(a, b pour.Air) int { return cmp.Compare(b.Volume.Median, a.Volume.Median) })
	f.Short = most(shared(runs, near, func(r *pour.Run) []pour.Place { return r.Misruns }), len(runs))
	f.Bridged = most(shared(runs, near, func(r *pour.Run) []pour.Place { return r.Bridged }), len(runs))
	f.Meetings = runs[middleRun(runs)].Meetings
}

// Places of two runs are the same when they lie within so many cells, or mm.
const (
	nearCells = 4.0
	nearLeast = 5.0
)

// worse returns the balance that is further from zero.
func worse(a, b float64) float64 {
	if math.Abs(b) > math.Abs(a) || math.IsNaN(b) {
		return b
	}
	return a
}

// spreadOf returns the median, the least and the most; the median of an even number is the mean
// of the middle two.
func spreadOf(v []float64) pour.Spread {
	if len(v) == 0 {
		return pour.Spread{}
	}
	s := slices.Clone(v)
	slices.Sort(s)
	n := len(s)
	return pour.Spread{Median: (s[(n-1)/2] + s[n/2]) / 2, Low: s[0], High: s[n-1]}
}

// middleRun is the run whose trapped share is nearest to the median; the first of equals, so the steady hand where
// it is in the middle.
func middleRun(runs []pour.Run) int {
	v := make([]float64, len(runs))
	for i := range runs {
		v[i] = runs[i].Trapped
	}
	m, best := spreadOf(v).Median, 0
	for i := range runs {
		if math.Abs(v[i]-m) < math.Abs(v[best]-m) {
			best = i
		}
	}
	return best
}

// site is a place that runs share.
type site struct {
	at     vec.V3
	weight float64
	volume []float64 // by run
	frozen int
	runs   int
}

// shared joins the places of all runs that lie near each other, larger places first,
// each to the nearest site so far.
func shared(runs []pour.Run, near float64, of func(r *pour.Run) []pour.Place) []site {
	type one struct {
		p   pour.Place
		run int
	}
	var all []one
	for i := range runs {
		for _, p := range of(&runs[i]) {
			all = append(all, one{p, i})
		}
	}
	slices.SortStableFunc(all, func(a, b one) int {
		return cmp.Or(cmp.Compare(b.p.Volume, a.p.Volume), cmp.Compare(a.run, b.run), slices.Compare(a.p.At[:], b.p.At[:]))
	})
	var list []site
	for _, x := range all {
		p, best, d := vec.FromArray(x.p.At), -1, math.Max(near, math.Cbrt(x.p.Volume))
		for k := range list {
			if e := list[k].at.Mul(1 / list[k].weight).Dist(p); e < d {
				best, d = k, e
			}
		}
		if best < 0 {
			best = len(list)
			list = append(list, site{volume: make([]float64, len(runs))})
		}
		s := &list[best]
		if s.volume[x.run] == 0 {
			s.runs++
			if x.p.Frozen {
				s.frozen++
			}
		}
		s.at, s.weight = s.at.Add(p.Mul(x.p.Volume)), s.weight+x.p.Volume
		s.volume[x.run] += x.p.Volume
	}
	for k := range list {
		list[k].at = list[k].at.Mul(1 / list[k].weight)
	}
	return list
}

// most returns the sites that more than half of n runs have, with their medians, the largest first.
func most(list []site, n int) []pour.Place {
	out := []pour.Place{}
	for _, s := range list {
		if 2*s.runs > n {
			out = append(out, pour.Place{At: s.at.Array(), Volume: spreadOf(s.volume).Median, Frozen: 2*s.frozen > s.runs})
		}
	}
	slices.SortStableFunc(out, func(a, b pour.Place) int { return cmp.Compare(b.Volume, a.Volume) })
	return out
}
