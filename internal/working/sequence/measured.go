package sequence

import "pourwright/internal/shop/measured"

// Readings are what was read off a master without a mesh.
type Readings = measured.Readings

// Measured is what such readings give: sizes and volume as bands.
type Measured = measured.Said

// Band is a value with what it is at least and at most.
type Band = measured.Band

// MeasuredErrors are the errors the readings are taken to have.
var MeasuredErrors = measured.Usual

// InspectMeasured tells the volume of a master without a mesh. Nothing is
// computed of its shape.
func InspectMeasured(r Readings) (Measured, error) { return measured.Measure(r, MeasuredErrors) }
