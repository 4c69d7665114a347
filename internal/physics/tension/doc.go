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
// of metal exactly. Round each piece a paraboloid is laid that has, in the sense of
// least squares, no volume against the pieces near it and the contact angle where
// they end at a wall; the planes are then turned to its slope and the paraboloid is
// laid again (fit.go). So one rule serves whole cells, cut cells and contact lines.
//
// Units: SI; angles in degrees. Inside, lengths count in cells.
//
// References: volumes of pieces in the fit, Jibben, Carlson & Francois, Computers
// & Mathematics with Applications 78 (2019) 643; nearness weights, Evrard, Denner &
// van Wachem, J. Comput. Phys. 404 (2020) 109100; contact angle in the fit in the spirit of
// Afkhami & Bussmann, Int. J. Numer. Meth. Fluids 61 (2009) 827; meniscus of a
// slot and a hole, Young and Laplace. All from memory.
//
// Limits: docs/numerics/tension.md has the errors. The resolved curvature is held
// within 1/h: a drop of two cells across has that much. Cells without one known
// wall (porous) have no contact line; where sections are that thin the thin
// form acts.
package tension
