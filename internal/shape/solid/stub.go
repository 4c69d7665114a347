package solid

import (
	"errors"
	"math"

	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

func pointOf(p vec.V3) Point {
	r := func(x float64) int32 { return int32(math.RoundToEven(x / Lattice)) }
	return Point{r(p.X), r(p.Y), r(p.Z)}
}

func (p Point) vec() vec.V3 {
	return vec.V3{X: float64(p[0]) * Lattice, Y: float64(p[1]) * Lattice, Z: float64(p[2]) * Lattice}
}

func block(b vec.Box, l Label) *Complex { return &Complex{} }

func (c *Complex) insert(*mesh.Mesh, func(Label) Label) error { return errors.New("being built") }

func (c *Complex) solid(l Label) *mesh.Mesh { return &mesh.Mesh{} }
