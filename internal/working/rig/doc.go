// Package rig turns a mould into a problem for the solvers and their answers into
// the words of a plan. It is the one place that knows both: which face of the
// block lies against a board, where the cup stands open, which metal feeds, how
// fine the cells must be, and what error to state.
//
// Main functions: SettingOf writes down every number that the pour of a job is
// computed from; Freeze computes the freezing, the series of shots, the rest and
// the moulds in rotation, and returns the document pour.json with its fields. NewBeads
// lays a mould with thermocouples, whose curves Beads.Pour computes.
//
// Method: the first shot on three grids, each finer by Ratio; the finest gives
// the figures, the differences their error (stated). The shortest rest that the
// mould bears is found on the coarsest grid and proved on the middle one. Results are
// kept by the SHA-256 of all that they depend on, the state of an unfinished run
// too, so that it goes on where it was stopped.
//
// Units: mm, s, degC; materials in SI. Places are in the block frame.
//
// Limits: the metal stands in the cavity at one temperature at the end of the
// pour; boards lie on both backs all the time; the mould is the same in every shot.
package rig
