package material

import (
	"math"

	"pourwright/internal/ground/fault"
)

// property is one named value of a row: the unit of the tables, the factor
// from it to the unit of the field, and the bounds a value given by the user
// must keep (in the unit of the tables).
type property[T any] struct {
	name, unit string
	factor     float64
	least, top float64
	field      func(*T) *Value
}

var alloyProperties = []property[Alloy]{
	{"solidus", "C", 1, 30, 700, func(a *Alloy) *Value { return &a.Solidus }},
	{"liquidus", "C", 1, 30, 700, func(a *Alloy) *Value { return &a.Liquidus }},
	{"latent", "kJ/kg", 1e3, 1, 500, func(a *Alloy) *Value { return &a.Latent }},
	{"cp_solid", "J/kgK", 1, 50, 2000, func(a *Alloy) *Value { return &a.CpSolid }},
	{"cp_liquid", "J/kgK", 1, 50, 2000, func(a *Alloy) *Value { return &a.CpLiquid }},
	{"density", "kg/m3", 1, 1000, 25000, func(a *Alloy) *Value { return &a.Density }},
	{"density_hot", "kg/m3", 1, 1000, 25000, func(a *Alloy) *Value { return &a.DensityHot }},
	{"density_liquid", "kg/m3", 1, 1000, 25000, func(a *Alloy) *Value { return &a.DensityLiquid }},
	{"freezing_change", "%", 0.01, -10, 10, func(a *Alloy) *Value { return &a.FreezingChange }},
	{"expansion", "1/K", 1, 1e-7, 1e-3, func(a *Alloy) *Value { return &a.Expansion }},
	{"contraction", "%", 0.01, -5, 5, func(a *Alloy) *Value { return &a.Contraction }},
	{"k_solid", "W/mK", 1, 1, 500, func(a *Alloy) *Value { return &a.KSolid }},
	{"k_liquid", "W/mK", 1, 1, 500, func(a *Alloy) *Value { return &a.KLiquid }},
	{"viscosity", "mPa.s", 1e-3, 0.1, 100, func(a *Alloy) *Value { return &a.Viscosity }},
	{"surface_tension", "N/m", 1, 0.05, 3, func(a *Alloy) *Value { return &a.SurfaceTension }},
}

var rubberProperties = []property[Rubber]{
	{"density", "g/cm3", 1e3, 0.8, 2.5, func(r *Rubber) *Value { return &r.Density }},
	{"shore", "Shore A", 1, 1, 90, func(r *Rubber) *Value { return &r.Shore }},
	{"elongation", "%", 0.01, 20, 1500, func(r *Rubber) *Value { return &r.Elongation }},
	{"tear", "kN/m", 1e3, 0.5, 100, func(r *Rubber) *Value { return &r.Tear }},
	{"hardener", "g per 100 g", 0.01, 0.5, 200, func(r *Rubber) *Value { return &r.Hardener }},
	{"pot_life", "min", 60, 1, 600, func(r *Rubber) *Value { return &r.PotLife }},
	{"cure", "h", 3600, 0.1, 200, func(r *Rubber) *Value { return &r.Cure }},
	{"shrink", "%", 0.01, 0, 5, func(r *Rubber) *Value { return &r.Shrink }},
	{"rating", "C", 1, 50, 450, func(r *Rubber) *Value { return &r.Rating }},
	{"conductivity", "W/mK", 1, 0.05, 5, func(r *Rubber) *Value { return &r.Conductivity }},
	{"heat", "J/kgK", 1, 300, 4000, func(r *Rubber) *Value { return &r.HeatCapacity }},
	{"expansion", "1/K", 1, 1e-5, 2e-3, func(r *Rubber) *Value { return &r.Expansion }},
	{"doubling", "K", 1, 2, 50, func(r *Rubber) *Value { return &r.Doubling }},
}

// Row is one property of a material as a table shows it, in the table's unit.
type Row struct {
	Property, Unit string
	Value          Value
}

func rows[T any](t *T, list []property[T]) []Row {
	out := make([]Row, 0, len(list))
	for _, p := range list {
		v := *p.field(t)
		v.X, v.Low, v.High = v.X/p.factor, v.Low/p.factor, v.High/p.factor
		out = append(out, Row{p.name, p.unit, v})
	}
	return out
}

// Rows returns every property of the alloy in the unit of the table.
func (a *Alloy) Rows() []Row { return rows(a, alloyProperties) }

// Rows returns every property of the rubber in the unit of the table.
func (r *Rubber) Rows() []Row { return rows(r, rubberProperties) }

// Limits returns the unit and the bounds of a property of the user's own data
// sheet; ok is false where there is no such property.
func (a *Alloy) Limits(name string) (unit string, least, top float64, ok bool) {
	return limits(name, alloyProperties)
}

// Limits is the same for a rubber.
func (r *Rubber) Limits(name string) (unit string, least, top float64, ok bool) {
	return limits(name, rubberProperties)
}

func limits[T any](name string, list []property[T]) (string, float64, float64, bool) {
	for _, p := range list {
		if p.name == name {
			return p.unit, p.least, p.top, true
		}
	}
	return "", 0, 0, false
}

// Set puts a value of the user's own data sheet, in the unit of the table, in
// place of the table's. It is an error where the property does not exist or
// the value lies outside what any such material has.
func (a *Alloy) Set(name string, x float64) error {
	if err := set(a, name, x, alloyProperties); err != nil {
		return err
	}
	if name == "solidus" || name == "liquidus" || name == "latent" {
		a.Heat = nil // the enthalpy table belongs to the table's temperatures
	}
	return nil
}

// Set is the same for a rubber.
func (r *Rubber) Set(name string, x float64) error { return set(r, name, x, rubberProperties) }

func set[T any](t *T, name string, x float64, list []property[T]) error {
	for _, p := range list {
		if p.name != name {
			continue
		}
		if math.IsNaN(x) || x < p.least || x > p.top {
			return fault.New(fault.Input, "", "read it again from the data sheet and mind the unit",
				"%s is %g %s, outside %g to %g", name, x, p.unit, p.least, p.top)
		}
		x *= p.factor
		*p.field(t) = Value{X: x, Low: x, High: x, Grade: "S", Source: Sheet}
		return nil
	}
	var names []string
	for _, p := range list {
		names = append(names, p.name)
	}
	return unknown("property", name, names)
}

// Check reports values that cannot stand together after Set.
func (a *Alloy) Check() error {
	if a.Liquidus.X < a.Solidus.X {
		return fault.New(fault.Input, "", "give both solidus and liquidus", "%s: the liquidus %g °C lies under the solidus %g °C",
			a.Name, a.Liquidus.X, a.Solidus.X)
	}
	return nil
}
