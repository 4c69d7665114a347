// Package block lays the mould out: the smallest block of rubber that holds
// one or several cavities with all that is formed or cut in it, and the closed
// solids that follow from it.
//
// Lay goes from a master, its split and its stand to a Layout; Build goes from
// the Layout to the cavity and the two halves, which share their common faces.
//
// Lengths are mm, forces N; the properties of alloy and rubber in a Demand are
// SI. The block frame has z along the pull, y up when poured and x across, with
// its origin in the middle of the block.
//
// Rules and where they come from: margins, keys, ingate, vents and clamps are
// common practice with figures of our own where practice gives none
// (docs/numerics/block.md lists each); heads and vents follow Young and
// Laplace, flow through the ingate Torricelli, the stiffness of rubber Gent
// (1958), the boards the beam of Euler and Bernoulli.
//
// Limits: channels are round, oval or half round and lie in the parting
// surface; a knife vent is a line with a width and a depth and is never part of
// the solids. Everything on the parting face is laid out on a grid of 0.5 mm
// (0.25 to 2 mm by the size of the block), so distances between features hold
// within one cell.
package block
