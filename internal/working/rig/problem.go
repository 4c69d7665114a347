package rig

import (
	"context"
	"math"

	"pourwright/internal/book/pour"
	"pourwright/internal/physics/heat"
	"pourwright/internal/shape/grid"
	"pourwright/internal/shape/voxel"
)

// Cells of a grid: what is looked for, and what no grid passes.
const (
	thirds     = 3       // cells in the thinnest wall
	finest     = 0.5     // mm
	coarsest   = 1.5     // mm
	mostCells  = 2000000 // in the block, so that a pour takes a minute or two on two cores; --cell asks for more
	leastCells = 300000
)

// Cell returns the edge of a cell for a mould, mm: a third of the thinnest wall
// (0 where it is not known) within 0.5 and 1.5, so that the block holds 0.3 to 2
// million cells.
func Cell(m *Mould, thin float64) float64 {
	h := coarsest
	if thin > 0 {
		h = min(max(thin/thirds, finest), coarsest)
	}
	s := m.size()
	v := s.X * s.Y * s.Z
	h = math.Min(h, math.Cbrt(v/leastCells))
	h = math.Max(h, math.Cbrt(v/mostCells))
	return math.Round(h*1000) / 1000
}

// bytesPerCell is what a run takes, by measurement, with what is needed while it
// is laid out.
const bytesPerCell = 80

// Memory returns the bytes that a run with cells of h mm takes, roughly.
func Memory(m *Mould, h float64) int64 {
	s := m.size()
	return int64(s.X*s.Y*s.Z/(h*h*h)*bytesPerCell) + 64<<20
}

// Problem lays a mould on cells of h mm.
func Problem(ctx context.Context, m *Mould, s *pour.Setting, h float64) (*heat.Problem, error) {
	g, err := grid.Over(m.box(), h)
	if err != nil {
		return nil, err
	}
	body, err := heat.FromMesh(ctx, m.Cavity, m.box(), g)
	if err != nil {
		return nil, err
	}
	body.Half = voxel.Cells(m.Half1, g)
	for q, in := range body.Half {
		body.Half[q] = 2 - min(in, 1)
	}
	p := &heat.Problem{
		Body: body, Metal: metal(&s.Alloy),
		Rubber:  heat.Rubber{Density: s.Rubber.Density, Cp: s.Rubber.Capacity, K: s.Rubber.Conductivity},
		Contact: s.Contact, Air: s.Room, Start: s.Mould, Rating: s.Rubber.Rating, Feed: m.feeds(1.6 * h),
	}
	for i := range p.Sides {
		p.Sides[i] = heat.Side{H: s.Still, Metal: s.Mouth}
		if b := s.Board; b.Thick > 0 && (i == heat.ZLow || i == heat.ZHigh) {
			p.Sides[i].Board = b.Thick * 1e-3 / b.Conductivity
			p.Sides[i].Capacity = b.Thick * 1e-3 * b.Density * b.Capacity
		}
	}
	return p, nil
}

func metal(a *pour.Alloy) heat.Metal {
	m := heat.Metal{Density: a.Density, KSolid: a.KSolid, KLiquid: a.KLiquid, CpSolid: a.CpSolid, CpLiquid: a.CpLiquid, Latent: a.Latent}
	for _, p := range a.Liquid {
		m.Fraction = append(m.Fraction, heat.Melt{T: p[0], F: p[1]})
	}
	return m
}
