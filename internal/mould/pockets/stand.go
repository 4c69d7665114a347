// Package pockets answers which way up a cavity stands when poured, and where
// air stays: the pockets of a slow rise from below (merge tree of height) and
// the hanging dead ends that metal bridges when it comes from above.
package pockets

import "pourwright/internal/ground/vec"

// Stand is one attitude and what it traps. Points are in the frame of the
// mesh that was examined.
type Stand struct {
	Up       vec.V3
	Outlet   vec.V3 // the highest point, where the air of the bare master leaves
	Pockets  []Pocket
	Trapped  float64 // sum of the pockets over 0.05 % of the volume
	DeadEnds []DeadEnd
	Tried    []Attitude
}

// Pocket is one place that keeps its air.
type Pocket struct {
	At     vec.V3  // its highest point, where a vent belongs
	Saddle float64 // height along Up at which the air is cut off
	Area   float64 // cross-section at the saddle
	Volume float64
}

// DeadEnd is a blind bore that hangs below its only entry.
type DeadEnd struct {
	At    vec.V3 // its deepest point
	Bore  float64
	Depth float64
}

// Attitude is one way up that was tried.
type Attitude struct {
	Up      vec.V3
	Trapped float64
	Score   float64
}
