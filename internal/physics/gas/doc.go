// Package gas answers how fast air leaves a cavity through an opening that metal does
// not pass: a cut in the rubber, a bored hole, the parting line, a layer of powder.
//
// Main function: Outlet.Flow, the volume that leaves at a pressure; Outlet.Conductance, that over the pressure. SI.
//
//	slit    dp = 12 mu L v / t^2 + 3/2 rho v^2 / 2     (plane Poiseuille; entry 1/2 and exit 1)
//	hole    dp = 32 mu L v / d^2 + 3/2 rho v^2 / 2     (Hagen-Poiseuille)
//	powder  dp = mu L v / k                            (Darcy)
//
// v is held under what isothermal gas chokes at, sqrt(R T / e) into free air. The pressure is
// that over the air outside, below zero where air is drawn in.
//
// References: Batchelor, An Introduction to Fluid Dynamics, 4.2 and 4.8; entry and exit
// losses, Idelchik, Handbook of Hydraulic Resistance; Shapiro, Compressible Fluid Flow I,
// ch. 6, isothermal flow. From memory.
package gas
