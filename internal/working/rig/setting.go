package rig

import (
	"pourwright/internal/book/job"
	"pourwright/internal/book/material"
	"pourwright/internal/book/pour"
	"pourwright/internal/physics/heat"
	"pourwright/internal/physics/shot"
	"pourwright/internal/physics/tension"
)

// Ask is what a setting takes from the rest of the plan.
type Ask struct {
	Metal, Mould float64 // degC, of the pour
	Shots        int     // of one mould
	Moulds       *int    // in rotation; nil takes one
	Fan          bool    // a fan is at hand
	Thin         float64 // mm, thinnest wall of the master; 0 where not known
	Fill         bool    // the filling is to be computed
	BoardName    string
	BoardThick   float64 // mm; 0 is none
}

// Boards of MDF: conductivity and heat capacity are values from memory, density
// is that of usual panels (EN 622-5 asks none).
const (
	boardConductivity = 0.13
	boardDensity      = 730
	boardCapacity     = 1700
)

// Angles between which the metal's edge stands still on rubber that is not tapped,
// degrees: own figures, 15 to each side of the one at rest.
const (
	advancing = 155
	receding  = 125
)

// seam is the gap through which air leaves between powdered halves, m. Own figure: that moulds vent through
// powder and parting is common practice, how much nobody states; what leaves goes with its cube.
const seam = 50e-6

// Times at the mould, s: common practice, no source. The room is 20 degC where
// the job does not say.
const (
	powder = 60
	shut   = 30
	room   = 20
)

// hands is the time one caster stands at the mould: pour, open, powder and close.
var hands = [3]float64{30, 60, powder + shut}

// SettingOf writes down what the pour of a job is computed from.
func SettingOf(j *job.Job, a Ask) pour.Setting {
	s := pour.Setting{
		Alloy: alloy(&j.AlloyRow), Rubber: matter(&j.RubberRow),
		Metal: a.Metal, Mould: a.Mould, Room: room,
		Contact: heat.DefaultContact, Still: shot.StillAir, Fan: shot.FanAir, Mouth: shot.StillAir,
		Shots: a.Shots, Moulds: a.Moulds, FanAtHand: a.Fan, Thin: a.Thin, Powder: powder, Close: shut, Hands: hands,
		Fill: a.Fill, Pouring: PouringOf(j.Bench.Ladle, j.AlloyRow.DensityLiquid.X),
		Flow: pour.Flow{Viscosity: j.AlloyRow.Viscosity.X, Tension: j.AlloyRow.SurfaceTension.X, Rest: tension.Powdered.Rest, Advance: advancing, Recede: receding, Gap: seam},
	}
	if j.Bench.Room != nil {
		s.Room = *j.Bench.Room
	}
	if j.Interface != nil {
		s.Contact = j.Interface.X
	}
	if a.BoardThick > 0 {
		s.Board = pour.Board{Name: a.BoardName, Thick: a.BoardThick, Conductivity: boardConductivity, Density: boardDensity, Capacity: boardCapacity}
	}
	return s
}

func matter(r *material.Rubber) pour.Matter {
	return pour.Matter{Kind: r.Name, Density: r.Density.X, Conductivity: r.Conductivity.X, Capacity: r.HeatCapacity.X, Rating: r.Rating.X}
}

func alloy(a *material.Alloy) pour.Alloy {
	return pour.Alloy{
		Kind: a.Name, Density: a.DensityHot.X, LiquidDensity: a.DensityLiquid.X, Change: a.FreezingChange.X,
		KSolid: a.KSolid.X, KLiquid: a.KLiquid.X, CpSolid: a.CpSolid.X, CpLiquid: a.CpLiquid.X, Latent: a.Latent.X,
		Liquid: liquid(a),
	}
}

// liquid is the alloy's table from the last row that is all solid to the first
// that is all liquid; without a table a straight line, or a jump at one point.
func liquid(a *material.Alloy) [][2]float64 {
	var t [][2]float64
	for _, h := range a.Heat {
		if h.Liquid <= 0 {
			t = t[:0]
		}
		t = append(t, [2]float64{h.T, h.Liquid})
		if h.Liquid >= 1 {
			break
		}
	}
	if n := len(t); n < 2 || t[0][1] > 0 || t[n-1][1] < 1 {
		return [][2]float64{{a.Solidus.X, 0}, {max(a.Solidus.X, a.Liquidus.X), 1}}
	}
	return t
}
