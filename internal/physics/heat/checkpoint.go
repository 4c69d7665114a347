package heat

import (
	"encoding/binary"
	"hash/fnv"
	"math"
	"slices"

	"pourwright/internal/ground/sealed"
)

// magic opens a checkpoint; its last letter is the version.
const magic = "pourwright heat C"

// print is a fingerprint of everything that a Run is made of.
func (r *Run) print() uint64 {
	h := fnv.New64a()
	put := func(v any) { _ = binary.Write(h, binary.LittleEndian, v) }
	p, g := &r.p, r.grid
	m := &p.Metal
	put([]float64{g.Origin.X, g.Origin.Y, g.Origin.Z, g.H, m.Density, m.KSolid, m.KLiquid, m.CpSolid, m.CpLiquid, m.Latent,
		p.Rubber.Density, p.Rubber.Cp, p.Rubber.K, p.Contact, p.Air, p.Start, p.FeedTo, p.Rating, p.Step, p.Growth, p.Rest})
	put([]int64{int64(g.NX), int64(g.NY), int64(g.NZ)})
	put(m.Fraction)
	put(m.Heat)
	put(p.Sides)
	put(p.Feed)
	put(p.Field)
	put(p.Body.Dist)
	put(p.Body.Share)
	put(p.Body.Half)
	return h.Sum64()
}

// state lists everything that changes in a Run, in the order of a checkpoint.
func (r *Run) state(each func(v any)) {
	each(&r.Time)
	each(&r.Poured)
	each(&r.openH)
	each(&r.lastDt)
	each(&r.hottest)
	each(&r.top)
	each(&r.rest)
	each(&r.grown)
	each(&r.event)
	each(&r.peaked)
	each(&r.looked)
	each(&r.sum)
	for _, s := range [][]float32{r.t, r.temp, r.delta, r.last, r.solid, r.cold, r.peak} {
		each(s)
	}
	each(r.e)
	each(r.b.vol)
	each(r.mark)
	for i := range r.edges {
		each(r.boards(i))
	}
	r.sizeBoards()
	each(&r.long.event)
	for i := range r.long.rate {
		each(r.long.rate[i])
	}
	for i := range r.walls {
		w := &r.walls[i]
		each(&w.peak)
		each(&w.over)
		each(&w.face)
	}
}

// Save returns the Run's state as bytes: a Run made by New from the same Problem
// goes on from it as if nothing had happened, to the last bit.
func (r *Run) Save() []byte {
	r.trim(r.t)
	r.trim(r.peak)
	return sealed.Write(magic, r.print(), func(put func(any)) {
		put([]int64{int64(r.Shots), int64(r.Steps), int64(r.Sweeps), int64(len(r.islands))})
		put([]bool{r.full, r.apart, r.aside.off})
		put([]float64{r.aside.h, r.aside.since})
		for i := range r.islands {
			s := &r.islands[i]
			put([]float64{s.Time, s.Liquid, s.At.X, s.At.Y, s.At.Z, float64(s.Cells)})
		}
		r.state(put)
	})
}

// trim clears all that is no cell of the grid: ghosts, and what the kernels leave
// beside the rows. It is filled before it is read, so that only its bytes matter.
func (r *Run) trim(t []float32) {
	p, n := &r.pad, 0
	for k := range p.nz {
		for j := range p.ny {
			at := p.id(0, j, k)
			clear(t[n:at])
			n = at + p.nx
		}
	}
	clear(t[n:])
}

// Load takes over a state from Save. The Run must come from New with the same
// Problem; on an error it must not be used any more.
func (r *Run) Load(data []byte) error {
	in, err := sealed.Open(magic, r.print(), data)
	if err != nil {
		return err
	}
	get := in.Get
	var counts [4]int64
	var flags [3]bool
	var outside [2]float64
	get(&counts)
	get(&flags)
	get(&outside)
	if in.Failed() || counts[3] < 0 || counts[3] > int64(len(r.mark)) {
		return sealed.Misfit()
	}
	r.Shots, r.Steps, r.Sweeps = int(counts[0]), int(counts[1]), int(counts[2])
	r.full, r.apart = flags[0], flags[1]
	r.dress(outside[0], flags[2])
	r.aside.since = outside[1]
	r.islands = make([]Island, counts[3])
	for i := range r.islands {
		var f [6]float64
		get(&f)
		s := &r.islands[i]
		s.Time, s.Liquid, s.At.X, s.At.Y, s.At.Z, s.Cells = f[0], f[1], f[2], f[3], f[4], int(f[5])
	}
	whole := slices.Clone(r.b.vol)
	r.state(get)
	if !slices.Equal(whole, r.b.vol) {
		r.whole = whole
		r.refill()
	}
	if !in.Done() || math.IsNaN(r.Time) {
		return sealed.Misfit()
	}
	r.settled = false
	return nil
}
