// Package fill answers how metal runs into a cavity: three-dimensional flow with a
// free surface on the open cells of a uniform grid.
//
// Main function: New, which takes the cells, the metal and what lies beyond each
// opening; Run.Advance goes on to a time. SI throughout.
//
//	div u = 0                                    in the metal
//	du/dt + u . grad u = -grad p / rho + nu lap u + g - nu K u
//	p = p_gas + sigma kappa                      at its surface
//	dF/dt + div (u F) = 0
//
// One fluid, velocities on the sides of the cells (Harlow & Welch, Phys. Fluids 8
// (1965) 2182). The metal's share F moves by planes and loses no volume (room plic);
// a cell is metal where its plane leaves its centre in the metal, so that a level at
// rest is a level for the solver too, in cut cells and at any height in a cell. At
// the surface the pressure is given at the place where the plane cuts the line
// between the two centres (ghost fluid: Gibou, Fedkiw, Cheng & Kang, J. Comput.
// Phys. 176 (2002) 205; Enright, Nguyen, Gibou & Fedkiw, FEDSM 2003). What a cell
// holds above 1 goes into the next right-hand side and is not cut off.
package fill
