package plan

// Inspection is what the verb master prints: three sections of a plan for a
// bare master, without rubber, block or alloy, its bodies and where to measure it.
type Inspection struct {
	Master  Master `json:"master"`
	Split   Split  `json:"split"`
	Stand   Stand  `json:"stand"`
	Bodies  []Body `json:"bodies"`  // the largest first, as --body counts them
	Measure []Spot `json:"measure"` // where calipers tell most, the most telling first
}

// Body is one of the bodies that a master is of.
type Body struct {
	No       int     `json:"no"` // from 1
	Shells   int     `json:"shells"`
	Volume   float64 `json:"volume"` // hollows taken off
	Size     P3      `json:"size"`
	Box      [2]P3   `json:"box"`
	Centroid P3      `json:"centroid"`
	Linked   []int   `json:"linked"` // the bodies from which no straight motion takes it
}

// Kinds of a Spot.
const (
	SpotWall     = "wall"     // the thinnest wall
	SpotLength   = "length"   // the longest clear length
	SpotNextWall = "next"     // the thinnest wall well apart from the first
	SpotThick    = "thickest" // the thickest section
)

// Spots is the closed list of kinds.
var Spots = []string{SpotWall, SpotLength, SpotNextWall, SpotThick}

// Spot is a place where calipers are to be set.
type Spot struct {
	Kind string  `json:"kind"` // one of Spots
	At   P3      `json:"at"`   // one jaw
	To   P3      `json:"to"`   // the other
	Scan float64 `json:"scan"` // what the scan has there, mm
	Key  string  `json:"key"`  // what to write under [master], with X for the reading
	Why  string  `json:"why"`
}
