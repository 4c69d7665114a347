// Package plic answers: where inside a cell the metal's surface lies, and how
// the metal moves with a given velocity.
//
// The metal of a cell is a share F of its open volume (0 .. 1, or a little more
// where the velocity pushes more in than out). Cells that are neither empty nor full hold a plane,
// n . x <= a with n out of the metal and x in cells from the cell's low corner.
// Advection.Step carries the shares, and anything that the metal carries with it,
// through the open sides: direction by direction, geometrically (Weymouth & Yue,
// J. Comput. Phys. 229 (2010) 2853, here with the volume swept in so far in place of
// their dilation term), with the planes of Scardovelli & Zaleski (J. Comput. Phys.
// 164 (2000) 228). Surface finds the planes for those who ask for them:
// exact in cut cells, with centroid and area of each polygon.
//
// A cell over 0.995 whose neighbours all hold more than 0.9 counts as full: it has no plane and
// keeps its void where it is.
//
// Volume: what a cell holds afterwards is what it held before and the
// fluxes through its sides, to rounding, whatever the velocity's divergence; nothing is clipped.
//
// Limits: with a velocity free of divergence no cell leaves 0 .. 1, to rounding, as long as none gives
// away more than its volume in a substep; Step sees to that. In cut cells the order of directions
// shows: a level carried along a wall is off by 0.03 of a share there at a Courant number of
// 0.4, 0.005 at 0.08. Cells with two walls in them (cells.Normal zero) count as porous
// cubes.
package plic
