package shot

import (
	"context"

	"pourwright/internal/ground/vec"
)

// Mould is what a series needs of a mould and its casting. Times are since the
// last pour, temperatures in degC.
type Mould interface {
	Pour(degC float64) error                            // fills the closed, empty mould at once
	Advance(ctx context.Context, seconds float64) error // goes on
	Open(h float64) error                               // halves apart, inner faces to air with h W/(m2 K)
	TakeOut() error                                     // the casting leaves with its heat
	Close()                                             // halves together
	Outside(h float64, bare bool) error                 // what the outside meets from now on: W/(m2 K), 0 for what it was made with; bare is without boards

	Solidus() float64  // of the metal
	Hottest() float64  // hottest point of the metal in the mould; cheap
	Mark(degC float64) // from the next pour on note when the hottest point falls below this
	Fell() float64     // s after the pour at which it did; 0 not yet; cheap
	Look() State       // sums over fields: a millisecond per million cells

	// Slow is what one shot hands on to the next: temperatures of rubber and boards,
	// in a fixed order that is the same for moulds of one shape. SetSlow puts such a
	// state in its place, in an empty mould, and begins clock and balance anew: what
	// follows hangs on nothing that was before.
	Slow() []float32
	SetSlow([]float32) error
	Rested() []float32 // the state of a mould that has rested for ever

	Save() ([]byte, error) // everything that a later Load needs to go on with the same results
	Load([]byte) error
}

// State is what can be read of a mould.
type State struct {
	Rubber  float64 // mean of the rubber
	Casting float64 // mean of the metal in the mould, by its heat; meaningless without metal
	Liquid  float64 // share of the metal's volume that is liquid
	Solid   float64 // s, last point solid; 0 while it is not
	Cold    float64 // s, last point 20 K under the solidus; 0 while it is not

	Last   vec.V3  // mm, the place that froze last
	Unfed  float64 // mm3 of metal that was cut off from its feeder while still liquid; 0 where no feeder is known
	Peak   float64 // hottest rubber since the last pour
	PeakAt vec.V3  // mm
	Over   float64 // s, longest time since the last pour that a place was over the rating

	Heat Heat // since the mould was made
}

// Heat is a balance in J, over the air's temperature.
type Heat struct {
	Poured  float64 // in with the metal
	Carried float64 // out with castings
	Lost    float64 // to the air, from outside and inside
	Stored  float64 // in the mould now
	Left    float64 // what does not add up
}
