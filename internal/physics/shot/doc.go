// Package shot answers how a mould fares over a series of shots: when each
// casting may be lifted and touched, how warm the rubber gets, how long it has to
// rest, and how many moulds keep one caster busy.
//
// Main functions: Play (or New, Series.Play) walks a series shot by shot, the
// rubber's field carried on and the heat of the castings taken out; Settle finds
// the state to which shots of a given rest lead; FindRest the shortest rest that a
// mould stands or the one that makes shots follow each other soonest, Prove tries
// that rest on a finer grid and RestOf does both; Warm counts the shots until
// castings are alike; Rotate gives shots per hour of n moulds; OpenAfter is the time
// until a casting may be lifted, Touch until it may then be touched.
//
// One shot:
//
//	pour -> wait (metal in, closed) -> open, take out -> rest (as How says)
//	     -> powder (open, still air) -> close -> pour
//
// What conducts the heat is behind the interface Mould; Of makes one of a
// heat.Run.
//
// A casting may be lifted when its hottest point is solid, Opening.Margin colder,
// and colder than Opening.LiftBelow. The state of the rubber before a pour, x, is
// carried by one shot into G(x), a map that shrinks differences by the slowest
// mode of the block, 0.6 to 0.95 per shot. Its fixed point is found by Anderson's
// mixing of the last shots (Anderson 1965, J. ACM 12, 547; from memory), about
// three times as fast as playing them; the error that is left is held by
// |G(x) - x| / (1 - slow), slow being the largest Ritz value of the shots seen.
//
// Units: s, degC, mm for places, mm3 for volumes, J, W/(m2 K). docs/numerics/cycle.md
// has the measurements.
//
// Limits: one metal and one How per series; a mould is the same in every shot (no
// wear, no powder layer that grows); searches take it that the mould starts no
// warmer than the steady shot finds it, and that it loses heat: a block that keeps
// more than 0.99 of a difference from shot to shot (insulated all round) may have
// several steady states, of which one is found.
package shot
