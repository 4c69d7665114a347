// Package followboard makes the printable bed: a rigid board that carries the
// parting surface, the keys and the master's imprint while half 1 is poured
// over it, and the formers that lie on it for ingate, cup and flow-offs.
//
// Main functions: Board, Formers. Lengths are mm, in the block frame (z along
// the pull, half 1 above the board).
//
// Method. The board is a height field over the block's rectangle: the parting
// surface with its keys where no master is above, and in the imprint no higher
// than the lowest metal of any line within reach, so that a stiff master lifts
// straight out along +z. Overhangs of the master's lower side, which rubber
// would fill, stay open: clay fills them to the line (Result.Clay). The field is
// linear on the triangles of a square grid; where the imprint begins, the
// triangles are cut along the line that stands off the master's shadow by the
// clearance, with an upright wall between the two heights, so that the rim is
// not a staircase. (A plain grid gives ramps one cell wide at the rim; labels
// marched over cells round the rim.)
//
// Limits: grid 0.4 mm, wider on blocks of more than 300 000 nodes; the rim
// stands off the shadow by the clearance plus at most 0.4 of a cell; on a
// slope the imprint is wider than the master by up to 1.4 cells.
package followboard
