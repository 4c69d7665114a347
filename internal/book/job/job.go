// Package job is the job file: what was asked, of which master, in which
// rubber and alloy, with which bench. Data only; nothing here computes.
//
// Main functions: Load reads a file, Parse reads bytes. Both check every key,
// type and value and answer with file:line:column and the nearest known key.
// The materials the job names are looked up and the data sheet values of the
// job put in place.
//
// Units in the file: mm, g, degC, minutes and hours where the key's description
// says so, percent where the material tables say percent; points and lengths in
// the master frame. Keys of [rubber] and [alloy] beside kind are the property
// names and units of the tables (verb materials). A nil pointer means the job
// does not say.
//
// Limits: a job file of at most 256 KiB. schema.json is the JSON Schema of the
// file for editors, made from the same structs.
package job

import (
	"path/filepath"

	"pourwright/internal/book/material"
	"pourwright/internal/ground/fault"
)

// P3 is a point or direction as the file holds it.
type P3 = [3]float64

// Job is one job file. The tags name keys, bounds (min, over: more than, max)
// and closed lists (oneof); the schema is made from them and the reader checks
// them.
type Job struct {
	Title  string   `json:"title,omitempty" jsonschema:"Name of the job, printed on every sheet"`
	Master Master   `json:"master" jsonschema:"The object to be copied"`
	Rubber Rubber   `json:"rubber" jsonschema:"The mould rubber and what its own data sheet says"`
	Alloy  Alloy    `json:"alloy" jsonschema:"The casting alloy and what its own data sheet says"`
	Order  Order    `json:"order" jsonschema:"How many castings, and what for"`
	Split  Split    `json:"split,omitzero" jsonschema:"Overrules the search for the pull"`
	Stand  Stand    `json:"stand,omitzero" jsonschema:"Overrules the search for the way up"`
	Gate   Gate     `json:"gate,omitzero" jsonschema:"Overrules the search for the ingate"`
	Block  Block    `json:"block,omitzero" jsonschema:"Overrules margins and number of cavities"`
	Insert []Insert `json:"insert,omitempty" jsonschema:"Loose parts laid in the parting"`
	Bench  Bench    `json:"bench,omitzero" jsonschema:"What stands on the bench"`
	Stock  Stock    `json:"stock,omitzero" jsonschema:"What is on the shelf, g"`
	Prices Prices   `json:"prices,omitzero" jsonschema:"What things cost; without them costs are not computed"`

	File      string          `json:"-"` // as it was named in the call
	RubberRow material.Rubber `json:"-"` // the table's row with the job's own values in place
	AlloyRow  material.Alloy  `json:"-"`
	Interface *material.Value `json:"-"` // W/(m2 K) between metal and rubber, where the workshop measured it
}

// Master is what was scanned or measured.
type Master struct {
	Mesh      string      `json:"mesh,omitempty" jsonschema:"Mesh file, relative to the job file"`
	Unit      string      `json:"unit,omitempty" oneof:"mm cm m in um" jsonschema:"Unit of the mesh file; without it the file or a guess decides"`
	Material  string      `json:"material,omitempty" jsonschema:"What the master is made of, in plain words, as in resin print"`
	Control   []Control   `json:"control,omitempty" jsonschema:"Two points of the master and the length a caliper reads between them"`
	Thickness []Thickness `json:"thickness,omitempty" jsonschema:"A point of the master and the thickness a caliper reads there"`
	Mass      *float64    `json:"mass,omitempty" over:"0" max:"100000" jsonschema:"Mass of the master, g"`
	Density   *float64    `json:"density,omitempty" over:"0" max:"25" jsonschema:"Density of the solid master, g/cm3; with mass it checks the volume of the scan"`
	Show      []P3        `json:"show,omitempty" jsonschema:"Points on faces that must not carry a scar or a seam"`
	Hide      []P3        `json:"hide,omitempty" jsonschema:"Points on faces where a scar may go"`
	InHand    *int        `json:"in_hand,omitempty" min:"0" max:"1000" jsonschema:"Masters of this kind that lie on the bench"`
	Photo     *Photo      `json:"photo,omitempty" jsonschema:"A photograph of a flat-backed master beside a bank card or on the check sheet, in place of a mesh"`
	Measured  *Measured   `json:"measured,omitempty" jsonschema:"A master known by its measures alone, in place of a mesh"`
}

// Photo is a photographed master.
type Photo struct {
	File      string   `json:"file" jsonschema:"JPEG or PNG, relative to the job file"`
	Thickness float64  `json:"thickness" over:"0" max:"60" jsonschema:"From the back to the top, mm, by caliper"`
	Edge      string   `json:"edge,omitempty" oneof:"flat half-round chamfer" jsonschema:"What the border is like; without it flat"`
	Chamfer   *float64 `json:"chamfer,omitempty" over:"0" max:"60" jsonschema:"For the edge chamfer: what is cut off at 45 degrees, mm"`
	Reference string   `json:"reference,omitempty" oneof:"card sheet" jsonschema:"What lies in the picture to measure by; without it whichever is found"`
	Outline   string   `json:"outline,omitempty" jsonschema:"Corrected outline file, relative to the job file, in place of what the picture shows"`
}

// Control is a caliper's length between two points.
type Control struct {
	From, To P3
	Length   float64 // mm
}

// Thickness is a caliper's thickness at a point.
type Thickness struct {
	At P3
	T  float64 // mm
}

// Measured is a master without a mesh. Its frame has the box of the three lengths
// from 0 to (length, width, height).
type Measured struct {
	Length   float64  `json:"length" over:"0" max:"10000" jsonschema:"Along x, over the outermost points, mm"`
	Width    float64  `json:"width" over:"0" max:"10000" jsonschema:"Along y, mm"`
	Height   float64  `json:"height" over:"0" max:"10000" jsonschema:"Along z, mm"`
	Volume   *float64 `json:"volume,omitempty" over:"0" jsonschema:"mm3, by the rise of water in a measuring glass"`
	Gain     *float64 `json:"gain,omitempty" over:"0" jsonschema:"What a scale gains with the master hung in the glass of water on it, g"`
	Water    *float64 `json:"water,omitempty" over:"0" max:"100" jsonschema:"Temperature of that water, C; 20 without it"`
	Mass     *float64 `json:"mass,omitempty" over:"0" jsonschema:"g"`
	Density  *float64 `json:"density,omitempty" over:"0" max:"25" jsonschema:"g/cm3"`
	Thinnest *float64 `json:"thinnest,omitempty" over:"0" jsonschema:"Thinnest section, mm"`
	Thickest *float64 `json:"thickest,omitempty" over:"0" jsonschema:"Thickest section, mm"`
	Bore     *float64 `json:"bore,omitempty" over:"0" jsonschema:"Across the hole of a ring, mm"`
	Class    string   `json:"class,omitempty" oneof:"bar plate ring disc cone figure" jsonschema:"Kind of piece"`
	Section  string   `json:"section,omitempty" oneof:"round half-round square" jsonschema:"A bar or a ring cut across, the others seen from above; half-round: a ring flat at its bore, the others flat at the back"`
}

// Rubber names a row of the rubber table and overrules its values.
type Rubber struct {
	Kind         string   `json:"kind" jsonschema:"Row of the rubber table (verb materials)"`
	Density      *float64 `json:"density,omitempty" sheet:"density" jsonschema:"g/cm3"`
	Shore        *float64 `json:"shore,omitempty" sheet:"shore" jsonschema:"Shore A"`
	Elongation   *float64 `json:"elongation,omitempty" sheet:"elongation" jsonschema:"At break, percent"`
	Tear         *float64 `json:"tear,omitempty" sheet:"tear" jsonschema:"kN/m"`
	Hardener     *float64 `json:"hardener,omitempty" sheet:"hardener" jsonschema:"g of part B for 100 g of part A"`
	PotLife      *float64 `json:"pot_life,omitempty" sheet:"pot_life" jsonschema:"Minutes at 23 C"`
	Cure         *float64 `json:"cure,omitempty" sheet:"cure" jsonschema:"Hours at 23 C until the mould may be opened"`
	Shrink       *float64 `json:"shrink,omitempty" sheet:"shrink" jsonschema:"Linear, percent"`
	Rating       *float64 `json:"rating,omitempty" sheet:"rating" jsonschema:"Highest temperature for short contact, C"`
	Conductivity *float64 `json:"conductivity,omitempty" sheet:"conductivity" jsonschema:"W/mK"`
	Heat         *float64 `json:"heat,omitempty" sheet:"heat" jsonschema:"J/kgK"`
	Expansion    *float64 `json:"expansion,omitempty" sheet:"expansion" jsonschema:"Linear, 1/K"`
	Doubling     *float64 `json:"doubling,omitempty" sheet:"doubling" jsonschema:"Kelvins that double the rate of cure"`
}

// Alloy names a row of the alloy table and overrules its values.
type Alloy struct {
	Kind           string   `json:"kind" jsonschema:"Row of the alloy table (verb materials)"`
	Origin         string   `json:"origin,omitempty" oneof:"certified returns unknown" jsonschema:"Where the metal comes from"`
	Lead           *float64 `json:"lead,omitempty" min:"0" max:"100" jsonschema:"Lead by the certificate, percent by weight"`
	Cadmium        *float64 `json:"cadmium,omitempty" min:"0" max:"100" jsonschema:"Cadmium by the certificate, percent by weight"`
	Solidus        *float64 `json:"solidus,omitempty" sheet:"solidus" jsonschema:"C"`
	Liquidus       *float64 `json:"liquidus,omitempty" sheet:"liquidus" jsonschema:"C"`
	Latent         *float64 `json:"latent,omitempty" sheet:"latent" jsonschema:"kJ/kg"`
	CpSolid        *float64 `json:"cp_solid,omitempty" sheet:"cp_solid" jsonschema:"J/kgK"`
	CpLiquid       *float64 `json:"cp_liquid,omitempty" sheet:"cp_liquid" jsonschema:"J/kgK"`
	Density        *float64 `json:"density,omitempty" sheet:"density" jsonschema:"Solid at 20 C, kg/m3"`
	DensityHot     *float64 `json:"density_hot,omitempty" sheet:"density_hot" jsonschema:"Solid at the solidus, kg/m3"`
	DensityLiquid  *float64 `json:"density_liquid,omitempty" sheet:"density_liquid" jsonschema:"Liquid at the liquidus, kg/m3"`
	FreezingChange *float64 `json:"freezing_change,omitempty" sheet:"freezing_change" jsonschema:"Volume, percent; negative shrinks"`
	Expansion      *float64 `json:"expansion,omitempty" sheet:"expansion" jsonschema:"Linear, 1/K"`
	Contraction    *float64 `json:"contraction,omitempty" sheet:"contraction" jsonschema:"Linear, solidus to 20 C, percent"`
	KSolid         *float64 `json:"k_solid,omitempty" sheet:"k_solid" jsonschema:"W/mK"`
	KLiquid        *float64 `json:"k_liquid,omitempty" sheet:"k_liquid" jsonschema:"W/mK"`
	Viscosity      *float64 `json:"viscosity,omitempty" sheet:"viscosity" jsonschema:"mPa.s at liquidus + 50 K"`
	SurfaceTension *float64 `json:"surface_tension,omitempty" sheet:"surface_tension" jsonschema:"N/m"`
}

// Order is what the customer wants.
type Order struct {
	Castings int      `json:"castings" min:"1" max:"1000000" jsonschema:"Good castings wanted"`
	Use      string   `json:"use" oneof:"toy food jewellery fishing decor" jsonschema:"What the castings are for; it decides which alloys are refused"`
	Reject   *float64 `json:"reject_pct,omitempty" min:"0" max:"95" jsonschema:"Castings that fail, percent, from the logbook"`
}

// Split overrules the search for the pull.
type Split struct {
	Pull *P3 `json:"pull,omitempty" jsonschema:"Direction in which half 1 leaves, master frame"`
}

// Stand overrules the search for the way up.
type Stand struct {
	Up *P3 `json:"up,omitempty" jsonschema:"Up when poured, master frame"`
}

// Gate overrules the search for the ingate.
type Gate struct {
	At *P3 `json:"at,omitempty" jsonschema:"Point on the master where the metal enters"`
}

// Block overrules margins and cavities.
type Block struct {
	Margin   *float64 `json:"margin,omitempty" min:"3" max:"200" jsonschema:"Rubber round the castings on every side, mm"`
	Cavities *int     `json:"cavities,omitempty" min:"1" max:"24" jsonschema:"Castings in one mould"`
}

// Insert is a loose part laid in the parting.
type Insert struct {
	Kind      string  `json:"kind" oneof:"pin hook bolt wire" jsonschema:"What it is"`
	At        P3      `json:"at" jsonschema:"A point on its axis at the casting, master frame"`
	Direction P3      `json:"direction" jsonschema:"Along its axis, away from the casting"`
	Diameter  float64 `json:"diameter" over:"0" max:"100" jsonschema:"mm"`
	Length    float64 `json:"length" over:"0" max:"1000" jsonschema:"mm"`
}

// Bench is what the maker works with.
type Bench struct {
	ScaleStep    *float64 `json:"scale_step,omitempty" over:"0" max:"100" jsonschema:"Step of the scale, g"`
	HardenerStep *float64 `json:"hardener_step,omitempty" over:"0" max:"100" jsonschema:"Step of the finer scale for part B, g"`
	VacuumPot    *float64 `json:"vacuum_pot_l,omitempty" over:"0" max:"1000" jsonschema:"Volume of the vacuum pot, l; without it the way without a pump is planned"`
	Pump         *float64 `json:"pump_mbar,omitempty" over:"0" max:"1000" jsonschema:"Pressure the pump reaches, mbar absolute"`
	PumpGauge    *float64 `json:"pump_gauge_mbar,omitempty" over:"0" max:"1100" jsonschema:"What the gauge shows below the outside pressure, mbar; give altitude too"`
	PumpSpeed    *float64 `json:"pump_l_min,omitempty" over:"0" max:"10000" jsonschema:"Speed of the pump, l/min"`
	LidSpan      *float64 `json:"lid_span,omitempty" over:"0" max:"2000" jsonschema:"Diameter on which a flat acrylic lid rests, mm"`
	LidThickness *float64 `json:"lid_thickness,omitempty" over:"0" max:"200" jsonschema:"Thickness of that lid, mm"`
	Altitude     *float64 `json:"altitude,omitempty" min:"-430" max:"6000" jsonschema:"Height above the sea, m"`
	MeltingPot   *float64 `json:"melting_pot_kg,omitempty" over:"0" max:"1000" jsonschema:"Metal the melting pot holds, kg"`
	Ladle        *float64 `json:"ladle_g,omitempty" over:"0" max:"100000" jsonschema:"Metal the ladle holds, g"`
	Clamps       *int     `json:"clamps,omitempty" min:"0" max:"100" jsonschema:"Clamps at hand"`
	Fan          bool     `json:"fan,omitempty" jsonschema:"A fan cools the open halves"`
	Room         *float64 `json:"room_c,omitempty" min:"-10" max:"50" jsonschema:"Room temperature, C"`
	Humidity     *float64 `json:"humidity,omitempty" min:"0" max:"100" jsonschema:"Relative humidity, percent"`
	Pour         *float64 `json:"pour_c,omitempty" min:"50" max:"700" jsonschema:"Metal temperature when poured, C"`
	Mould        *float64 `json:"mould_c,omitempty" min:"0" max:"200" jsonschema:"Mould temperature when poured, C"`
	Paper        string   `json:"paper,omitempty" oneof:"A4 Letter" jsonschema:"Paper of card and templates"`
}

// Stock is what is on the shelf, g.
type Stock struct {
	RubberA *float64 `json:"rubber_a_g,omitempty" min:"0" jsonschema:"Part A"`
	RubberB *float64 `json:"rubber_b_g,omitempty" min:"0" jsonschema:"Part B"`
	Alloy   *float64 `json:"alloy_g,omitempty" min:"0" jsonschema:"Metal"`
}

// Prices are in one currency.
type Prices struct {
	Currency     string   `json:"currency,omitempty" jsonschema:"As it is printed, as in EUR"`
	Rubber       *float64 `json:"rubber_kg,omitempty" min:"0" jsonschema:"One kg of mixed rubber"`
	Alloy        *float64 `json:"alloy_kg,omitempty" min:"0" jsonschema:"One kg of alloy"`
	Hour         *float64 `json:"hour,omitempty" min:"0" jsonschema:"One hour of work"`
	MouldExtra   *float64 `json:"mould_extra,omitempty" min:"0" jsonschema:"Clay, box and release for one mould"`
	CastingExtra *float64 `json:"casting_extra,omitempty" min:"0" jsonschema:"Finishing and packing of one casting"`
}

// MeshPath returns the mesh's path: as it stands where it is absolute, else
// beside the job file. It is an error for a master without a mesh.
func (j *Job) MeshPath() (string, error) {
	if j.Master.Mesh == "" {
		return "", fault.New(fault.Input, j.File, "name the mesh file under [master] mesh", "this job's master has no mesh")
	}
	return j.Beside(j.Master.Mesh), nil
}

// Beside returns a file's path: as it stands where it is absolute, else beside
// the job file.
func (j *Job) Beside(file string) string {
	if filepath.IsAbs(file) {
		return file
	}
	return filepath.Join(filepath.Dir(j.File), filepath.FromSlash(file))
}

// Paper returns the paper of card and templates, A4 unless the job says
// otherwise.
func (j *Job) Paper() string {
	if j.Bench.Paper == "" {
		return "A4"
	}
	return j.Bench.Paper
}
