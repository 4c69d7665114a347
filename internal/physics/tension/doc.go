// Package tension answers how far the metal's pressure stands above the gas at
// each place of its surface: sigma kappa, also in cells that a wall cuts and
// where the surface meets a wall.
//
// Main function: New, which makes a Field for a list of cells; Field.Update takes
// the fractions of a moment, Field.Jump gives the jump over one side of a cell.
//
//	jump    p_metal - p_gas = sigma kappa           kappa = div n, n out of the metal; 2/R of a drop
//	angle   n . w = -cos(theta)  at a wall           w out of the open part; theta measured in the metal
//	thin    p_metal - p_gas = -sigma cos(theta) P/A  P/A = 2/w of a slot, 4/d of a round hole
//
// The surface is known as one piece of plane per cell that holds the cell's volume
// of metal exactly. Where columns of whole cells are complete, heights give the
// curvature (heights.go). Elsewhere a paraboloid is laid round each piece that has, in
// the sense of least squares, no volume against the pieces near it and the contact
// angle where they end at a wall; the planes are turned to its slope and it is laid
// again (fit.go). So one rule serves cut cells and contact lines at any tilt.
//
// Units: SI; angles in degrees. Inside, lengths count in cells.
//
// References: heights, Popinet, J. Comput. Phys. 228 (2009) 5838; volumes of pieces
// in the fit, Jibben, Carlson & Francois, Computers & Mathematics with Applications
// 78 (2019) 643; the angle as a condition at the wall, Afkhami & Bussmann, Int. J.
// Numer. Meth. Fluids 61 (2009) 827; meniscus of a slot and a hole, Young and
// Laplace. All from memory.
//
// Limits (docs/numerics/tension.md): a sphere of four cells radius within 0.7 %, of
// eight 0.2 %; caps on tilted walls within 1.1 % at the contact line at ten cells
// radius. The resolved curvature is held within 1/h, which a drop of two cells across
// has. Cells without one known wall (porous) have no contact line; where sections
// are that thin the thin form acts.
package tension
