// Package pockets answers which way up a cavity stands when poured, and where
// air stays: the pockets of a slow rise from below (merge tree of height) and
// the hanging dead ends that metal bridges when it comes from above.
//
// Main functions: Evaluate for one attitude, Find for the best one about a
// pull. Lengths are in the unit of the mesh, millimetres inside pourwright;
// every tolerance is a share of the body's extent.
//
// Definition of a pocket. Metal rises slowly with one common level; air leaves
// only at an outlet. A point keeps its air when the part of the cavity at or
// above its own height that is connected to it holds no outlet.
//
// Method. The height along up has no critical point inside a solid, so pieces
// of the cavity above a level appear and join only at corners of its surface
// (Milnor 1963, Morse Theory, sections 3 and 1.3 for manifolds with boundary:
// Braess 1974, Morse-Theorie fuer berandete Mannigfaltigkeiten, Math. Ann. 208;
// values from memory). The sweep over the corners from the top down with
// union-find (Carr, Snoeyink & Axen 2003, Computing contour trees in all
// dimensions, Comput. Geom. 24) is therefore exact for a closed mesh; a corner
// from which a hole opens inside metal is tied to the metal above it by one
// upward ray. Volume and cross-section of a pocket are surface integrals
// (divergence theorem) and exact as well. Meshes that are open or overlap
// are swept over columns of voxel.Cast instead, with an error of about one
// column width times the saddle's area.
package pockets

import "pourwright/internal/ground/vec"

// Stand is one attitude and what it traps. Points are in the frame of the
// mesh that was examined.
type Stand struct {
	Up       vec.V3
	Outlet   vec.V3   // highest point of the largest connected part, where the air of the bare master leaves
	Pockets  []Pocket // over Least of the volume, largest first
	Trapped  float64  // sum of the pockets
	Left     float64  // of Trapped, what would stay if a knife opened every place it can reach (Outlets.Knife)
	Small    float64  // sum of the pockets not listed
	Volume   float64  // of the cavity, as this method saw it
	Parts    int      // connected parts of the cavity
	Exact    bool     // swept over the surface; otherwise over columns
	DeadEnds []DeadEnd
	Score    float64    // of this attitude, see Find; lower is better
	Best     Attitude   // the best attitude found; differs from Up where the job gave one
	Tried    []Attitude // by Find, in the order of the search
}

// Least is the share of the cavity's volume over which a pocket is listed.
const Least = 5e-4

// Pocket is one place that keeps its air.
type Pocket struct {
	At     vec.V3  // its highest point, where a vent belongs
	Saddle float64 // height along Up at which the air is cut off
	Area   float64 // cross-section at the saddle
	Volume float64
}

// DeadEnd is a blind bore that hangs below its only entry.
type DeadEnd struct {
	At    vec.V3  // its deepest point
	Entry vec.V3  // the middle of the narrowest section counted
	Bore  float64 // the diameter of the round bore that keeps its air as that section does
	Depth float64 // from the entry down to At
}

// Attitude is one way up that was tried, with the parts of its score.
type Attitude struct {
	Up      vec.V3
	Trapped float64
	Score   float64
	Terms   Terms
}

// Terms are the parts of an attitude's score, each weighted; see Find.
type Terms struct {
	Air, DeadEnds, Thin, Heavy, Block, Scar float64
}
