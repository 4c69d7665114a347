package followboard

import (
	"pourwright/internal/mould/block"
	"pourwright/internal/shape/mesh"
)

// FromLayout makes the board and the formers of a layout for the master m
// (master frame), with a master in every cavity.
func FromLayout(l *block.Layout, m *mesh.Mesh) (*Result, []Former, error) {
	height := func(x, y float64) float64 {
		if l.Surface == nil || len(l.Surface.Z) == 0 {
			return l.Edge
		}
		return l.Surface.At(x, y)
	}
	formers := Formers(l.Channels, l.Box(), height)
	in := Input{Height: height, Box: l.Box(), Keys: l.Keys}
	for _, f := range l.Placements {
		in.Bodies = append(in.Bodies, m.Into(f))
	}
	for _, f := range formers {
		if f.Sunk != nil {
			in.Bodies = append(in.Bodies, f.Sunk)
		}
	}
	r, err := Board(in)
	if err != nil {
		return nil, nil, err
	}
	return r, formers, nil
}
