// Package plan is the result document of pourwright: the types behind
// plan.json, their JSON Schema, and the one way they are written. Data only;
// nothing here computes.
//
// Units: mm, mm2, mm3, g, N, degrees C, s; shares and strains 0..1. Points and
// directions stand in the master frame, those of Block (other than Frame and
// Placements) in the block frame. A nil pointer is null: not computed.
package plan

import (
	"math"

	"pourwright/internal/ground/vec"
)

// Schema is the name and version of the document.
const Schema = "pourwright/plan/1"

// P3 is a point or direction as JSON holds it.
type P3 = [3]float64

// Verdicts.
const (
	Pour = "pour"
	Care = "care"
	No   = "no"
)

// Severities of findings.
const (
	Must   = "must"
	Should = "should"
	Note   = "note"
)

// Plan is plan.json, keys in the order they are written.
type Plan struct {
	Schema   string             `json:"schema"`
	Verdict  string             `json:"verdict"`
	Computed bool               `json:"computed"`
	Master   Master             `json:"master"`
	Split    Split              `json:"split"`
	Stand    Stand              `json:"stand"`
	Block    *Block             `json:"block"`  // null where the verdict is no
	Rubber   *Rubber            `json:"rubber"` // null where the verdict is no
	Metal    *Metal             `json:"metal"`  // null where the verdict is no
	Fill     Fill               `json:"fill"`
	Freeze   Freeze             `json:"freeze"`
	Cycle    Cycle              `json:"cycle"`
	Order    Order              `json:"order"`
	Guessed  []Guess            `json:"guessed"`
	Figures  []Figure           `json:"figures"`
	Findings []Finding          `json:"findings"`
	Tried    []Trial            `json:"tried"`
	Timing   map[string]float64 `json:"timing"` // seconds by stage; the only value that differs between equal runs
}

// Master says what was read and what it measures after repair.
type Master struct {
	File       string   `json:"file"`
	SHA256     string   `json:"sha256"`
	Unit       string   `json:"unit"`      // mm cm m in um
	UnitFrom   string   `json:"unit_from"` // file flag job guess
	Triangles  int      `json:"triangles"`
	Shells     int      `json:"shells"`
	Watertight bool     `json:"watertight"`
	Genus      *int     `json:"genus"`
	Volume     float64  `json:"volume"`
	VolumeBand float64  `json:"volume_band"` // the volume may be off by this much, either way: surface that a repair had to guess
	Area       float64  `json:"area"`
	Centroid   P3       `json:"centroid"`
	Box        [2]P3    `json:"box"`
	Size       P3       `json:"size"`
	Thinnest   float64  `json:"thinnest"` // 1 % quantile, by area, of the chord along the inward normal
	ThinnestAt P3       `json:"thinnest_at"`
	Bodies     int      `json:"bodies"`
	Read       Read     `json:"read"`
	Repairs    []Repair `json:"repairs"`
	Thinned    *Thinned `json:"thinned"` // null where the mesh was used as it is
	Photo      *Photo   `json:"photo"`   // null where the master was not photographed

	// Measured is null where there is a mesh. Else triangles, shells and read are 0,
	// area, centroid, split and stand are those of a plain stand-in, and the figures
	// that hang on the readings have bands.
	Measured *Measured `json:"measured"`
}

// Measured is a master known by its measures alone. The stand-in fills the box
// from 0 to the three lengths.
type Measured struct {
	Class      string `json:"class"`   // bar plate ring disc cone figure, empty where not said
	Section    string `json:"section"` // round half-round square, empty where not said
	VolumeFrom string `json:"volume_from"`
	StandIn    string `json:"stand_in"` // superellipsoid frustum ring limbs
	Bands      []Band `json:"bands"`    // readings first, then every figure that hangs on them
}

// Band is a figure with what it is at least and at most.
type Band struct {
	Name  string  `json:"name"` // as in figures, where it is one
	Unit  string  `json:"unit"`
	Low   float64 `json:"low"`
	Value float64 `json:"value"`
	High  float64 `json:"high"`
}

// Thinned is the coarser mesh that stands in for a fine one from the split on;
// the master's own figures are those of the fine one.
type Thinned struct {
	Triangles int     `json:"triangles"`
	Apart     float64 `json:"apart"` // no point of either surface is further from the other
	Found     float64 `json:"found"` // the largest distance met
	At        P3      `json:"at"`    // there
}

// Photo is a master's photograph and what was measured in it. Nothing of the
// picture is kept but its outline.
type Photo struct {
	File          string         `json:"file"` // base name, empty where only an outline was given
	SHA256        string         `json:"sha256"`
	OutlineFile   *string        `json:"outline_file"` // the corrected outline, null where the picture's own was taken
	OutlineSHA256 *string        `json:"outline_sha256"`
	Reference     *string        `json:"reference"` // card sheet, null where the picture was not measured
	Thickness     float64        `json:"thickness"`
	Edge          string         `json:"edge"` // flat half-round chamfer
	Chamfer       *float64       `json:"chamfer"`
	Tilt          *float64       `json:"tilt"`     // degrees from above
	Scale         *float64       `json:"scale"`    // px/mm, the least along the outline
	Residual      *float64       `json:"residual"` // of the reference's edges or marks, RMS
	Spread        *float64       `json:"spread"`   // standard deviation that the camera gives the outline
	Flags         []string       `json:"flags"`
	Outline       [][][2]float64 `json:"outline"` // loops, outer ones counter-clockwise
}

// Read is the file as it stands.
type Read struct {
	Triangles  int     `json:"triangles"`
	Shells     int     `json:"shells"`
	Watertight bool    `json:"watertight"`
	Genus      *int    `json:"genus"`
	Volume     float64 `json:"volume"` // the plain signed sum
}

// Repair is one step done to the mesh.
type Repair struct {
	Step         string  `json:"step"`
	Count        int     `json:"count"`
	At           P3      `json:"at"`
	VolumeChange float64 `json:"volume_change"` // of the plain signed sum
}

// Split is the pull, the line and what the line leaves locked.
type Split struct {
	Pull           P3         `json:"pull"`
	SilhouetteArea float64    `json:"silhouette_area"`
	LockedVolume   float64    `json:"locked_volume"`
	LockedShare    float64    `json:"locked_share"` // of the master's volume
	LineRise       float64    `json:"line_rise"`    // range of the line along the pull
	Line           [][]P3     `json:"line"`         // closed loops; the first point is not repeated
	Undercuts      []Undercut `json:"undercuts"`
}

// Undercut is one place of locked rubber.
type Undercut struct {
	At     P3       `json:"at"`
	Box    [2]P3    `json:"box"`
	Volume float64  `json:"volume"`
	Depth  float64  `json:"depth"`  // overhang across the pull
	Strain *float64 `json:"strain"` // of the chosen rubber
	Action *string  `json:"action"` // release clay trim piece refuse
}

// Stand is which side is up when poured, and the air that would stay.
type Stand struct {
	Up                   P3        `json:"up"`
	Pockets              []Pocket  `json:"pockets"`
	TrappedVolume        float64   `json:"trapped_volume"` // bare master, pockets over 0.05 % of the volume
	TrappedShare         float64   `json:"trapped_share"`
	TrappedShareUnvented *float64  `json:"trapped_share_unvented"` // after the layout's vents
	DeadEnds             []DeadEnd `json:"dead_ends"`
}

// Pocket is one place where air stays when metal rises slowly from below.
type Pocket struct {
	At     P3      `json:"at"`     // its top
	Saddle float64 `json:"saddle"` // height of the meeting with the outlet's branch, along up
	Volume float64 `json:"volume"`
	Vented *bool   `json:"vented"`
}

// DeadEnd is a blind bore that hangs below its entry and may be bridged.
type DeadEnd struct {
	At      P3      `json:"at"`
	Bore    float64 `json:"bore"`
	Bridged *bool   `json:"bridged"`
}

// Frame is a right-handed frame in the master frame of one cavity.
type Frame struct {
	Origin P3 `json:"origin"`
	X      P3 `json:"x"`
	Y      P3 `json:"y"`
	Z      P3 `json:"z"`
}

// Vec returns the frame as geometry takes it.
func (f Frame) Vec() vec.Frame {
	return vec.Frame{Origin: vec.FromArray(f.Origin), X: vec.FromArray(f.X), Y: vec.FromArray(f.Y), Z: vec.FromArray(f.Z)}
}

// Block is the mould block and everything formed or cut in it.
type Block struct {
	Size          P3         `json:"size"`
	Frame         Frame      `json:"frame"`
	Placements    []Frame    `json:"placements"`
	Margins       [6]float64 `json:"margins"` // -x +x -y +y -z +z, least rubber from the metal of the castings to that side
	Cavities      int        `json:"cavities"`
	MastersNeeded int        `json:"masters_needed"`
	Head          float64    `json:"head"` // from the cavity's top to the rim of the cup
	Keys          []Key      `json:"keys"`
	Ingates       []Ingate   `json:"ingates"`
	Feeders       []Feeder   `json:"feeders"`
	FlowOffs      []FlowOff  `json:"flow_offs"`
	Cuts          []Cut      `json:"cuts"`
	Inserts       []Insert   `json:"inserts"`
	Clamps        Clamps     `json:"clamps"`
}

// Key is one frustum that stands on half 2 (the face looking along +z) and
// enters half 1; a negative depth stands on half 1 and enters half 2.
type Key struct {
	At       P3      `json:"at"` // middle of the foot, on the parting surface
	Diameter float64 `json:"diameter"`
	Depth    float64 `json:"depth"`
}

// Ingate is where metal enters one cavity.
type Ingate struct {
	At        P3      `json:"at"`
	Direction P3      `json:"direction"` // of the metal
	Area      float64 `json:"area"`
}

// Feeder is a lump that freezes after the place it feeds.
type Feeder struct {
	At       P3      `json:"at"`
	Diameter float64 `json:"diameter"`
	Length   float64 `json:"length"`
	Modulus  float64 `json:"modulus"` // V/A, mm
}

// FlowOff is a channel from a high or far place to the block's top, where air
// leaves and metal shows itself.
type FlowOff struct {
	At       P3      `json:"at"` // at the cavity
	To       P3      `json:"to"` // at the block's upper edge
	Diameter float64 `json:"diameter"`
}

// Cut is a vent made by a knife in the parting face.
type Cut struct {
	No    int     `json:"no"`
	Half  int     `json:"half"`
	At    P3      `json:"at"`
	Width float64 `json:"width"`
	Depth float64 `json:"depth"`
	When  string  `json:"when"` // now, if short
	Path  []P3    `json:"path"` // from the pocket to the open air, on the parting surface
}

// Insert is a loose part laid in the parting.
type Insert struct {
	Kind      string  `json:"kind"`
	At        P3      `json:"at"`
	Direction P3      `json:"direction"`
	Diameter  float64 `json:"diameter"`
	Length    float64 `json:"length"`
}

// Clamps is how the halves are held together.
type Clamps struct {
	Opening float64 `json:"opening"` // N, metal pressure on the projected area
	Force   float64 `json:"force"`   // N, to be held by the clamps together
	Squeeze float64 `json:"squeeze"` // mm that the boards come closer
	Count   int     `json:"count"`
	Board   Board   `json:"board"`
}

// Board is one of the two boards.
type Board struct {
	Size      P3      `json:"size"`
	Material  string  `json:"material"`
	Deflexion float64 `json:"deflexion"` // mm between the clamps
}

// Rubber is what to weigh for the two halves.
type Rubber struct {
	Kind      string  `json:"kind"`
	Halves    []Half  `json:"halves"`
	PotLife   float64 `json:"pot_life"`   // s at the room's temperature
	Cure      float64 `json:"cure"`       // s at the room's temperature, one half
	VacuumPot float64 `json:"vacuum_pot"` // litres that pot and mixing cup must hold at least for the larger half
}

// Half is one rubber half.
type Half struct {
	Volume  float64 `json:"volume"`
	MassNet float64 `json:"mass_net"` // volume x density
	MassMix float64 `json:"mass_mix"` // with 5 % and 10 g for what stays in the cup, up to the step of the scale
	Parts   Parts   `json:"parts"`
}

// Parts are the two components of one mix, in grams.
type Parts struct {
	A float64 `json:"A"`
	B float64 `json:"B"`
}

// Metal is what to melt and how hot.
type Metal struct {
	Kind             string  `json:"kind"`
	CastingMass      float64 `json:"casting_mass"` // one casting, cut off
	WholeMass        float64 `json:"whole_mass"`   // what comes out of one shot, uncut
	ChargeMass       float64 `json:"charge_mass"`  // metal melted for one shot
	Yield            float64 `json:"yield"`        // castings of one shot over the charge
	PourTemperature  float64 `json:"pour_temperature"`
	MouldTemperature float64 `json:"mould_temperature"`
	Ladles           *int    `json:"ladles"` // for one shot; null where the job names no ladle
}

// Fill is the computed filling.
type Fill struct {
	Computed     bool         `json:"computed"`
	Cell         *float64     `json:"cell"`
	Time         *float64     `json:"time"`
	FilledShare  *float64     `json:"filled_share"`   // of all that is open, cups and gates too
	CastShare    *float64     `json:"castings_share"` // of what lies below the gates
	TrappedShare *float64     `json:"trapped_share"`
	MisrunShare  *float64     `json:"misrun_share"`
	Coldest      *float64     `json:"coldest"`
	Overflow     *float64     `json:"overflow"`
	Balance      *FillBalance `json:"balance"`
	Spread       *float64     `json:"spread"`
	Meeting      *[][]P3      `json:"meeting"` // null while filling is not computed
}

// FillBalance is how well volume and energy close.
type FillBalance struct {
	Volume float64 `json:"volume"`
	Energy float64 `json:"energy"`
}

// Freeze is the freezing, from the end of the pour.
type Freeze struct {
	Computed        bool         `json:"computed"`
	Cell            *float64     `json:"cell"`
	SolidAfter      *float64     `json:"solid_after"`
	OpenAfter       *float64     `json:"open_after"`
	OpenTemperature *float64     `json:"open_temperature"`
	TouchAfter      *float64     `json:"touch_after"`
	LastPlace       *P3          `json:"last_place"`
	UnfedVolume     *float64     `json:"unfed_volume"`
	RubberPeak      *float64     `json:"rubber_peak"`
	Error           *FreezeError `json:"error"`
	Balance         *float64     `json:"balance"`
}

// FreezeError is the stated error of the two times.
type FreezeError struct {
	SolidAfter float64 `json:"solid_after"`
	OpenAfter  float64 `json:"open_after"`
}

// Cycle is the series of shots.
type Cycle struct {
	Computed               bool     `json:"computed"`
	Rest                   *float64 `json:"rest"`
	How                    *string  `json:"how"`
	ShotsPerHour           *float64 `json:"shots_per_hour"`
	Moulds                 *int     `json:"moulds"`
	SteadyMouldTemperature *float64 `json:"steady_mould_temperature"`
	WarmUpShots            *int     `json:"warm_up_shots"`
}

// Order is the order as a whole.
type Order struct {
	Castings int      `json:"castings"`
	Shots    *int     `json:"shots"`
	Moulds   *int     `json:"moulds"`
	Time     *float64 `json:"time"` // from the first mix to the last casting, curing included
	Cost     *Cost    `json:"cost"`
}

// Cost is in the currency of the job's prices.
type Cost struct {
	Currency string  `json:"currency"`
	Mould    float64 `json:"mould"`   // one mould
	Casting  float64 `json:"casting"` // one good casting, without its share of the mould
	Total    float64 `json:"total"`   // the order, moulds included
}

// Guess is an input that was not measured.
type Guess struct {
	Input string     `json:"input"`
	Used  float64    `json:"used"`
	Range [2]float64 `json:"range"`
	Flips *bool      `json:"flips"`
}

// Figure is one number with how it was got.
type Figure struct {
	Name    string             `json:"name"`
	Value   float64            `json:"value"`
	Unit    string             `json:"unit"`
	Formula string             `json:"formula"`
	Inputs  map[string]float64 `json:"inputs"`
	Source  string             `json:"source"`
}

// Finding is one thing the plan says about itself.
type Finding struct {
	Code     string   `json:"code"` // one of Codes
	Severity string   `json:"severity"`
	At       *P3      `json:"at"`
	Cavity   *int     `json:"cavity"`
	Half     *int     `json:"half"`
	Computed *float64 `json:"computed"`
	Limit    *float64 `json:"limit"`
	Say      string   `json:"say"`
	Do       string   `json:"do"`
}

// Trial is one layout or setting that was computed and not kept, or kept.
type Trial struct {
	What   string   `json:"what"`
	Result string   `json:"result"`
	Score  *float64 `json:"score"` // the less the better, to be compared with its like; null where it failed before it had one
	Kept   bool     `json:"kept"`
}

// Actions is the closed list of what to do about an undercut.
var Actions = []string{"release", "clay", "trim", "piece", "refuse"}

// Codes is the closed list of finding codes.
var Codes = []string{
	"closed-void", "linked", "needs-piece", "seam", "undercut", "flat-back", "thin", "head", "pocket", "dead-end", "misrun", "cold-shut",
	"edge", "margin", "keys", "gate", "sink", "feeder", "flow-off", "clamp", "insert", "masters",
	"alloy-use", "alloy-origin", "too-hot", "mould-hot", "inhibition", "release", "rubber-batch", "scale", "vacuum", "pot-life",
	"stock", "ladle", "overruled", "tolerance", "calipers", "unit", "photo", "measured", "size", "repair", "not-computed",
}

// Known returns a pointer to x, nil where it is no finite number.
func Known(x float64) *float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return &x
}

// Ptr returns a pointer to x, for the fields that may be null.
func Ptr[T any](x T) *T { return &x }
