// Package plic answers: where inside a cell the metal's surface lies, and how
// the metal moves with a given velocity.
//
// The metal of a cell is a share F of its open volume (0 .. 1, or a little more
// where the velocity pushes more in than out). Cells that are neither empty nor full hold a plane,
// n . x <= a with n out of the metal and x in cells from the cell's low corner.
// Advection.Step carries the shares, and anything that the metal carries with it,
// through the open sides: direction by direction, geometrically (Weymouth & Yue,
// J. Comput. Phys. 229 (2010) 2853), with the planes of Scardovelli & Zaleski (J. Comput. Phys.
// 164 (2000) 228). Surface finds the planes for those who ask for them:
// exact in cut cells, with centroid and area of each polygon.
//
// Volume: what a cell holds afterwards is what it held before and the
// fluxes through its sides, to rounding, whatever the velocity's divergence; nothing is clipped.
//
// Limits: up to a Courant number of 1/2 no cell leaves 0 .. 1 while the velocity is
// free of divergence; above, by a few percent. In transport a cut cell is a
// porous cube: its shares move exactly as much volume as its sides let through,
// but its surface is that of a whole cube with the same share.
package plic
