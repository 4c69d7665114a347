// Package parting answers where a master parts: the pull, the rubber that a
// straight pull would lock, the parting line on the master and the parting
// surface from the line to the block's edge.
package parting

import (
	"pourwright/internal/ground/vec"
)

// Split is the answer for one bare master. Points and directions are in the
// master frame.
type Split struct {
	Pull       vec.V3 // unit; half 1 leaves along +Pull, half 2 along -Pull
	Silhouette float64
	Locked     float64
	Label      []uint8 // per triangle of the master: the half (1 or 2) whose rubber touches it
	Line       [][]vec.V3
	Rise       float64
	Undercuts  []Place
	Back       *Back   // the flat back, where there is one
	Bars       []Bar   // what forbids a two-part mould; empty for most masters
	Tried      []Axis  // the pulls that competed, the chosen one first
	Volume     float64 // of the points with winding number above 0
	Sheet      *Surface
	Frame      vec.Frame // the frame of Sheet, z = Pull, in the master frame
}

// Place is one connected body of locked rubber.
type Place struct {
	At       vec.V3 // a point in it
	Box      vec.Box
	Volume   float64
	Depth    float64    // overhang across the pull that the rubber must pass, of the half that takes it
	Half     int        // the half whose rubber fills it
	Ring     float64    // diameter of the ring the rubber must stretch over, 0 where it is no ring
	Through  bool       // a tunnel: the rubber closes round metal and needs a cut, clay or a piece
	Enclosed bool       // shut in metal on all sides, as far as the columns show
	Share    [2]float64 // of the volume above and below the parting surface, in half 1 and half 2
	depth    [2]float64 // overhang if half 1, if half 2 took it
}

// Back is a flat face on which the parting lies; half 2 is then a plain slab
// (Side -1: the back looks along -Pull) or half 1 is (Side +1). Heights are
// distances along Pull from the origin of the master frame.
type Back struct {
	Height float64 // of the face
	Plane  float64 // of the parting, a hair inside the metal, so that it cuts the walls and not the face
	Side   int
	Area   float64
}

// Bar is a reason why no two-part mould exists.
type Bar struct {
	Code     string // closed-void, linked, needs-piece
	At       vec.V3
	Computed float64
	Limit    float64
	Say, Do  string
	Shells   [2]int // of linked, the two shells; 0, 0 else
}

// Axis is one pull that was tried.
type Axis struct {
	Pull   vec.V3
	Locked float64
	Score  float64
}
