// Package examples holds the pieces of Pennywhin Castings, a workshop that we
// invented: for each a master made by code, a job, and what a mould maker
// expects of the plan. The figures were set by ourselves; common practice, no
// source.
package examples

import (
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/sculpt"
)

// Piece is one example: a folder of that name with a job, and its master.
type Piece struct {
	Name string
	Mesh string // file that the job names
	Make func() (*mesh.Mesh, error)
}

// Pieces lists the examples in a fixed order.
func Pieces() []Piece {
	return []Piece{
		{"fern-pull", sculpt.DemoFile, sculpt.Demo},
		{"drawer-pull", "piece.stl", drawerPull},
		{"escutcheon", "piece.stl", func() (*mesh.Mesh, error) { return escutcheon(1.5) }},
		{"escutcheon-thin", "piece.stl", func() (*mesh.Mesh, error) { return escutcheon(1.0) }},
		{"figurine", "piece.stl", func() (*mesh.Mesh, error) { return figurine(1.2) }},
		{"figurine-thin", "piece.stl", func() (*mesh.Mesh, error) { return figurine(0.8) }},
		{"buckle", "piece.stl", buckle},
		{"stop-knob", "piece.stl", stopKnob},
		{"bell", "piece.stl", bell},
		{"hollow-ball", "piece.stl", func() (*mesh.Mesh, error) { return sculpt.HollowBall(18, 15, 96).Mesh, nil }},
		{"chain", "piece.stl", func() (*mesh.Mesh, error) { return sculpt.Links(12, 2.5, 3, 96, 32).Mesh, nil }},
	}
}

func v(x, y, z float64) vec.V3 { return vec.V3{X: x, Y: y, Z: z} }
