package fill

// Part names a piece of the work of a step.
type Part int

const (
	Choice    Part = iota // of the length of the step
	Momentum              // velocities without the pressure
	Pressure              // its equation, and what it does to the velocities
	Extension             // velocities carried on into the gas
	Transport             // of the metal and its heat
	Tension               // curvature
	Planes                // of the surface
	Labels                // which cells are metal
	Heat                  // what the walls take
	Parts                 // how many there are
)

// String names a part.
func (p Part) String() string {
	return [...]string{"choice", "momentum", "pressure", "extension", "transport", "tension", "planes", "labels", "heat"}[p]
}

// ended tells whoever watches that a part's work is done. The run itself has no clock.
func (r *Run) ended(p Part) {
	if r.p.Ended != nil {
		r.p.Ended(p)
	}
}
