// Package heat answers how a casting freezes in its mould and how the mould
// warms: conduction in three dimensions with phase change in the metal, through
// one shot or many.
//
// Main function: New, which makes a Run from a Problem. A Run is told what
// happens to the mould (Pour, Advance, Open, TakeOut, Close) and can be asked for
// fields, readings and its balance of energy at any time.
//
//	rubber  rho c dT/dt = k lap T                explicit 7-point steps, float32 over the air
//	metal   rho dh/dt = div(k grad T), T = T(h)  super time steps (RKL2), enthalpy in float64
//	wall    q = (T_metal - T_rubber) / (d_r/k_r + d_m/k_m + 1/h_c)
//
// Wall faces carry the true place of the surface between two cell centres, mixed
// cells the true volumes, the coefficient h_c counts with the component of the
// surface's normal along the face's axis, and early on the rubber's part of the
// resistance is that of a half space (docs/numerics/heat.md). What one side of a
// wall face loses the other gets, to rounding.
//
// Units: grid and places in mm, everything else SI with degrees C. Fields are
// slices over all cells in the order of grid.Grid.
//
// References: enthalpy method, Voller & Cross 1981; RKL2, Meyer, Balsara & Aslam
// 2014, J. Comput. Phys. 257, 594; contact of a half space, Carslaw & Jaeger 1959.
// All three from memory.
//
// Limits: cubic cells; one density and no motion of the metal; rubber values do
// not depend on temperature; no gap opens between casting and rubber; radiation
// only as part of a coefficient; boards store heat per face, nothing flows along
// them. Parts that fill less than a tenth of the cells they touch are lost (Run.Lost
// says how much). Times are good to 2 % from six cells across a part, 5 % from four.
package heat
