// Package pour is pour.json: the computed pour of a plan, with every number it
// was computed from, so that it can be computed again with one of them changed.
// Data only.
//
// Units: mm, mm3, s, degC, J; materials in SI. Places are in the block frame,
// except where the plan's own sections are repeated. Times count from the end of
// the pour. A nil pointer means not computed.
package pour

import (
	"bytes"
	"encoding/json"
	"io"
	"math"
	"strings"

	"pourwright/internal/book/plan"
	"pourwright/internal/ground/fault"
)

// Schema names the document.
const Schema = "pourwright/pour/1"

// Name is the file in the plan's folder.
const Name = "pour.json"

// Doc is the document.
type Doc struct {
	Schema  string      `json:"schema"`
	Key     string      `json:"key"` // SHA-256 of all that the figures depend on
	Setting Setting     `json:"setting"`
	Grids   []Grid      `json:"grids"` // coarsest first; the last one is that of the fields
	Freeze  plan.Freeze `json:"freeze"`
	Cycle   plan.Cycle  `json:"cycle"`
	Islands []Island    `json:"islands"` // liquid cut off from its feed in the first shot, the largest first
	Rubber  Rubber      `json:"rubber"`
	Shots   []Shot      `json:"shots"`  // the first shots of the series
	Steady  *Shot       `json:"steady"` // the shot to which they lead; null where there is none
	Rests   []Rest      `json:"rests"`  // ways to rest that were looked at
	Moulds  []Moulds    `json:"moulds"` // shots an hour for moulds in rotation
	Touch   []Touch     `json:"touch"`
	Probes  []Probe     `json:"probes"`
	Balance Balance     `json:"balance"` // of the series
	Filling Filling     `json:"filling"`
}

// Setting is what the pour is computed from.
type Setting struct {
	Alloy  Alloy  `json:"alloy"`
	Rubber Matter `json:"rubber"`

	Metal   float64 `json:"metal"` // degC when poured
	Mould   float64 `json:"mould"` // degC before the first shot
	Room    float64 `json:"room"`  // degC
	Contact float64 `json:"contact"`
	Still   float64 `json:"still_air"` // W/(m2 K), convection and radiation
	Fan     float64 `json:"fan"`       // W/(m2 K)
	Mouth   float64 `json:"mouth"`     // W/(m2 K), where metal stands open in cup and flow-offs
	Board   Board   `json:"board"`

	Shots     int        `json:"shots"`  // of the order, for one mould
	Powder    float64    `json:"powder"` // s, open
	Close     float64    `json:"close"`  // s, closed before the pour
	Hands     [3]float64 `json:"hands"`  // s at the mould: pour; open and take out; powder and close
	Wait      *float64   `json:"wait"`   // s, given instead of found
	Rest      *float64   `json:"rest"`   // s, given instead of found
	How       *string    `json:"how"`    // given instead of found
	FanAtHand bool       `json:"fan_at_hand"`
	Moulds    *int       `json:"moulds"` // given instead of found
	Thin      float64    `json:"thin"`   // mm, thinnest wall of the master, which sets the cells; 0 where not known
	Cell      *float64   `json:"cell"`   // mm, given instead of chosen

	Fill     bool     `json:"fill"`      // the filling is computed, and freezing starts from it
	FillOnly bool     `json:"fill_only"` // freezing is left out
	Pours    *int     `json:"pours"`     // of the ensemble, given instead of all
	Fine     bool     `json:"fine"`      // one pour more is computed on the full grid, for the pictures and for freezing
	FillCell *float64 `json:"fill_cell"` // mm, of the ensemble, given instead of chosen
	Flow     Flow     `json:"flow"`
	Pouring  Pouring  `json:"pouring"`
}

// Flow is the liquid metal as its motion sees it. Angles are measured in the metal,
// degrees: where the metal's edge rests on the rubber, and between which it stands
// still unless the mould is tapped.
type Flow struct {
	Viscosity float64 `json:"viscosity"` // Pa s
	Tension   float64 `json:"tension"`   // N/m
	Rest      float64 `json:"rest"`
	Advance   float64 `json:"advance"`
	Recede    float64 `json:"recede"`
	Gap       float64 `json:"gap"` // m that the parting lets air through; 0 is tight
}

// Alloy is the metal as conduction sees it.
type Alloy struct {
	Kind          string       `json:"kind"`
	Density       float64      `json:"density"`
	KSolid        float64      `json:"k_solid"`
	KLiquid       float64      `json:"k_liquid"`
	CpSolid       float64      `json:"cp_solid"`
	CpLiquid      float64      `json:"cp_liquid"`
	Latent        float64      `json:"latent"`
	Liquid        [][2]float64 `json:"liquid"`          // degC and liquid share
	Change        float64      `json:"freezing_change"` // share of volume; negative shrinks
	LiquidDensity float64      `json:"liquid_density"`
}

// Matter is the rubber.
type Matter struct {
	Kind         string  `json:"kind"`
	Density      float64 `json:"density"`
	Conductivity float64 `json:"conductivity"`
	Capacity     float64 `json:"heat_capacity"`
	Rating       float64 `json:"rating"`
}

// Board lies on each back.
type Board struct {
	Name         string  `json:"name"`
	Thick        float64 `json:"thick"` // mm; 0 is none
	Conductivity float64 `json:"conductivity"`
	Density      float64 `json:"density"`
	Capacity     float64 `json:"heat_capacity"`
}

// Grid is one grid on which the first shot was computed.
type Grid struct {
	Cell       float64  `json:"cell"`
	Cells      int      `json:"cells"`
	MetalCells int      `json:"metal_cells"`
	Lost       float64  `json:"lost"` // mm3 in parts too thin for the cells
	SolidAfter *float64 `json:"solid_after"`
	OpenAfter  *float64 `json:"open_after"`
	RubberPeak *float64 `json:"rubber_peak"`
	Unfed      *float64 `json:"unfed_volume"`
	Balance    *float64 `json:"balance"` // share of the heat poured
}

// Rubber says how hot the rubber gets in the first shot.
type Rubber struct {
	Peak     *float64 `json:"peak"`
	PeakAt   *plan.P3 `json:"peak_at"`
	OverFor  *float64 `json:"over_for"`  // s, longest time that a place was over the rating
	OverMost *float64 `json:"over_most"` // mm3 of rubber that was over the rating at some time
}

// Island is liquid that was cut off from cup and feeders.
type Island struct {
	At     plan.P3 `json:"at"`
	After  float64 `json:"after"`  // s after the pour
	Liquid float64 `json:"liquid"` // mm3 of liquid then
	Unfed  float64 `json:"unfed"`  // mm3 that it falls short by; below zero where the alloy grows
}

// Shot is one shot of the series.
type Shot struct {
	Mould           float64  `json:"mould"` // degC, mean of the rubber just before the pour
	SolidAfter      *float64 `json:"solid_after"`
	OpenAfter       *float64 `json:"open_after"` // when it may be opened
	Opened          float64  `json:"opened"`
	OpenTemperature float64  `json:"open_temperature"` // hottest point when it was opened
	RubberPeak      float64  `json:"rubber_peak"`
	OverFor         float64  `json:"over_for"`
	Unfed           float64  `json:"unfed_volume"`
	Balance         float64  `json:"balance"` // share of the heat poured
}

// Rest is one way to rest.
type Rest struct {
	How       string   `json:"how"`
	Rest      *float64 `json:"rest"`
	OpenAfter *float64 `json:"open_after"` // in the steady shot
	Held      string   `json:"held_by"`    // what holds it where it is
	Why       string   `json:"why"`        // found, or why not
}

// Moulds is a rotation.
type Moulds struct {
	Moulds  int     `json:"moulds"`
	PerHour float64 `json:"shots_per_hour"`
	Period  float64 `json:"period"` // s from shot to shot
	Rest    float64 `json:"rest"`   // s that each mould really rests
	Idle    float64 `json:"idle"`   // share of the time in which the caster waits
}

// Touch is when a lifted casting may be touched.
type Touch struct {
	Contact float64  `json:"contact"` // s of contact
	Below   float64  `json:"below"`   // degC
	After   *float64 `json:"after"`   // s after it was lifted; null if never
	Source  string   `json:"source"`
}

// Probe is a place whose temperature is followed.
type Probe struct {
	Name  string       `json:"name"`
	At    plan.P3      `json:"at"`
	Curve [][2]float64 `json:"curve"` // s since the first pour, degC
}

// Balance is a balance of heat, J over the room.
type Balance struct {
	Poured  float64 `json:"poured"`
	Carried float64 `json:"carried_out"`
	Lost    float64 `json:"lost"`
	Stored  float64 `json:"stored"`
	Left    float64 `json:"left"`
	Share   float64 `json:"share"` // left of poured
}

// Empty returns the document of a pour that was not computed.
func Empty(s Setting) *Doc {
	return &Doc{Schema: Schema, Setting: s, Grids: []Grid{}, Islands: []Island{}, Shots: []Shot{}, Rests: []Rest{},
		Moulds: []Moulds{}, Touch: []Touch{}, Probes: []Probe{}, Filling: NoFilling(s.Pouring)}
}

// Write writes the document as indented JSON.
func Write(w io.Writer, d *Doc) error {
	b, err := json.MarshalIndent(d, "", "  ")
	if err != nil {
		return &fault.Error{Kind: fault.Internal, Place: Name, Text: "a figure of the pour is not a number: " + err.Error(),
			Hint: "report this with the job and the master", Cause: err}
	}
	_, err = w.Write(append(b, '\n'))
	return err
}

// Parse reads a document and checks its setting.
func Parse(data []byte, file string) (*Doc, error) {
	d := &Doc{}
	j := json.NewDecoder(bytes.NewReader(data))
	if err := j.Decode(d); err != nil {
		return nil, &fault.Error{Kind: fault.Input, Place: file, Text: "this is no pour of ours: " + err.Error(),
			Hint: "make the plan again with the verb plan", Cause: err}
	}
	if d.Schema != Schema {
		return nil, fault.New(fault.Input, file, "make the plan again with the verb plan", "its schema is %.60q, not %q", d.Schema, Schema)
	}
	return d, d.Setting.Check(file)
}

// Liquidus is the temperature from which the alloy is all liquid, degC.
func (a *Alloy) Liquidus() float64 { return a.Liquid[len(a.Liquid)-1][0] }

// WarmMargin is by how much two fronts must be warmer than the liquidus to leave no line, K; own figure.
const WarmMargin = 10.0

// Flows tells whether the metal is all liquid when it is poured.
func (s *Setting) Flows() bool { return s.Metal > s.Alloy.Liquidus() }

// Check refuses settings that nothing can be computed from.
func (s *Setting) Check(place string) error {
	bad := func(what string, x float64) error {
		return fault.New(fault.Input, place, "give a value in the unit the key's name goes with", "%s is %g", what, x)
	}
	for _, x := range []struct {
		what      string
		x, lo, hi float64
	}{
		{"the alloy's density, kg/m3,", s.Alloy.Density, 500, 25000},
		{"the alloy's conductivity when solid, W/(m K),", s.Alloy.KSolid, 0.1, 500}, {"the alloy's conductivity when liquid, W/(m K),", s.Alloy.KLiquid, 0.1, 500},
		{"the alloy's heat capacity when solid, J/(kg K),", s.Alloy.CpSolid, 20, 5000}, {"the alloy's heat capacity when liquid, J/(kg K),", s.Alloy.CpLiquid, 20, 5000},
		{"the alloy's latent heat, J/kg,", s.Alloy.Latent, 100, 1e6},
		{"the rubber's density, kg/m3,", s.Rubber.Density, 200, 10000}, {"the rubber's conductivity, W/(m K),", s.Rubber.Conductivity, 0.01, 20},
		{"the rubber's heat capacity, J/(kg K),", s.Rubber.Capacity, 100, 10000},
		{"the metal's temperature, °C,", s.Metal, 0, 1000}, {"the mould's temperature, °C,", s.Mould, -40, 400}, {"the room's temperature, °C,", s.Room, -40, 80},
		{"the coefficient between metal and rubber, W/(m2 K),", s.Contact, 1, 1e6},
		{"the coefficient of still air, W/(m2 K),", s.Still, 0, 1000}, {"the coefficient of the fan, W/(m2 K),", s.Fan, 0, 1000},
		{"the coefficient of open metal, W/(m2 K),", s.Mouth, 0, 1000},
		{"the board's thickness, mm,", s.Board.Thick, 0, 200}, {"the thinnest wall, mm,", s.Thin, 0, 1000},
		{"the number of shots", float64(s.Shots), 0, 100000},
		{"the time of powdering, s,", s.Powder, 0, 36000}, {"the time closed before the pour, s,", s.Close, 0, 36000},
	} {
		if !(x.x >= x.lo && x.x <= x.hi) {
			return bad(x.what, x.x)
		}
	}
	if n := len(s.Alloy.Liquid); n == 0 || n > 1000 {
		return bad("the number of rows of the alloy's liquid share", float64(n))
	}
	if !s.Flows() {
		return fault.New(fault.Input, place, "pour hotter", "metal of %.5g °C is not all liquid: that takes %.5g", s.Metal, s.Alloy.Liquidus())
	}
	if s.Board.Thick > 0 && !(s.Board.Conductivity > 0 && s.Board.Density >= 0 && s.Board.Capacity >= 0) {
		return bad("the board's conductivity, W/(m K),", s.Board.Conductivity)
	}
	for what, p := range map[string]*float64{"wait": s.Wait, "rest": s.Rest} {
		if p != nil && !(*p >= 0 && *p <= 86400) {
			return bad("the "+what+", s,", *p)
		}
	}
	if s.Wait != nil && *s.Wait < 1 {
		return bad("the wait, s,", *s.Wait)
	}
	if s.Moulds != nil && (*s.Moulds < 1 || *s.Moulds > 50) {
		return bad("the number of moulds", float64(*s.Moulds))
	}
	if s.Cell != nil && !(*s.Cell >= 0.05 && *s.Cell <= 20) {
		return bad("the cell, mm,", *s.Cell)
	}
	for _, h := range s.Hands {
		if !(h >= 0 && h <= 36000) {
			return bad("a time at the mould, s,", h)
		}
	}
	if s.Fill {
		if err := s.flows(place, bad); err != nil {
			return err
		}
	}
	if math.IsNaN(s.Alloy.Change) || !(s.Alloy.Change > -0.2 && s.Alloy.Change < 0.2) {
		return bad("the change of volume in freezing, share,", s.Alloy.Change)
	}
	if s.How != nil {
		for _, w := range Ways {
			if *s.How == w {
				return nil
			}
		}
		return fault.New(fault.Input, place, "write one of: "+strings.Join(Ways, "; "), "no way to rest is called %.60q", *s.How)
	}
	return nil
}

// Ways are the ways to let a mould rest.
var Ways = []string{"closed", "opened", "opened, with a fan"}
