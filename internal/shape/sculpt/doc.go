// Package sculpt models bodies by code: masters for the demo, the examples and
// the tests, exact enough that their volumes can be written down.
//
// Main functions: Turned (surfaces of revolution), Swept (a varying section
// carried along frames), Raised (polygons with holes, straight up), Lofted
// (rings one above the other) and Contour (anything that a signed field
// describes, sharp edges kept). Demo is the piece behind the verb demo.
//
// Unit: millimetres. Every mesh returned is closed, edge-manifold and
// outward; Check tells whether a mesh is, and whether triangles cross.
//
// Method of Contour: dual contouring of Hermite data (Ju, Losasso, Schaefer &
// Warren 2002) with one vertex for each surface patch of a cell (Nielson 2004,
// Dual marching cubes), vertices kept inside their cell, and a guard that
// takes vertices of crossing triangles back to the mean of their edge points.
// Measured (see the tests): a box of 20 x 14 x 9 mm at 0.7 mm cells keeps its
// edges within 1e-6 mm; a ball of 10 mm radius at 0.5 mm cells has its volume
// within 2e-3.
//
// Limits: features thinner than about two cells are lost or joined; Contour
// then reports the edge that is not manifold instead of returning a mesh that
// looks right. Fields must not change faster than distance (|grad f| <= 1).
package sculpt
