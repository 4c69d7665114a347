// Package relief makes closed bodies of outlines: straight plates, plates with
// a rounded or cut-off edge, and outlines of different heights one on another.
//
// Main function: Body.
//
// Unit: mm. The back lies on z = 0, the front looks along z. Every mesh is
// closed, edge-manifold and outward (sculpt.Check holds in the tests).
//
// Method: a plate is raised straight from its triangulated outline
// (sculpt.Raised), exact to its points. The others are the zero surface of a
// field over the signed distance from the outline (sculpt.Contour, dual
// contouring with sharp edges kept) on cells of 1/5 of the height, 0.2 to 1 mm.
//
// Limits: at most 16 levels; of the others at most about 4 million cells, above
// which the cells grow.
package relief

import (
	"fmt"
	"math"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/internal/shape/outline"
	"pourwright/internal/shape/sculpt"
)

// Edge is what the border of a level is like.
type Edge int

// The kinds of border.
const (
	Straight Edge = iota
	Rounded       // a quarter of an ellipse: height of the level, Run wide
	Cut           // Run is cut off at 45 degrees
)

// Level is an outline with its own height.
type Level struct {
	Outline outline.Shape
	Height  float64
	Edge    Edge
	Run     float64 // mm, for Rounded and Cut
}

const most = 16

// Body returns the union of the levels, all standing on z = 0.
func Body(levels []Level) (*mesh.Mesh, error) {
	if len(levels) == 0 || len(levels) > most {
		return nil, fault.New(fault.Input, "", fmt.Sprintf("give 1 to %d outlines with heights", most), "a body of %d levels cannot be made", len(levels))
	}
	for i, l := range levels {
		if !(l.Height > 0) || math.IsInf(l.Height, 0) || (l.Edge != Straight && !(l.Run > 0)) || (l.Edge == Cut && l.Run >= l.Height) {
			return nil, fault.New(fault.Input, "", "give a height above zero, and an edge that fits it", "level %d cannot stand %g mm high with an edge %g mm wide", i+1, l.Height, l.Run)
		}
		if !(l.Outline.Area() > 0) {
			return nil, fault.New(fault.Input, "", "give at least three points that enclose an area", "the outline of level %d encloses nothing", i+1)
		}
	}
	if len(levels) == 1 && levels[0].Edge == Straight {
		return plate(levels[0])
	}
	return grown(levels)
}

// plate raises each outer loop with the holes in it.
func plate(l Level) (*mesh.Mesh, error) {
	out := &mesh.Mesh{}
	for _, o := range l.Outline {
		if o.Area() <= 0 {
			continue
		}
		var holes []sculpt.Ring
		for _, h := range l.Outline {
			if h.Area() < 0 && o.Winding(h[0]) > 0 {
				holes = append(holes, sculpt.Ring(h))
			}
		}
		m, err := sculpt.Raised(0, l.Height, sculpt.Ring(o), holes...)
		if err != nil {
			return nil, fault.New(fault.Input, "", "look at the overlay, and take crossing points out of the outline", "the outline crosses itself")
		}
		out.Append(m)
	}
	return out, nil
}

// grown makes the body as the zero surface of a field.
func grown(levels []Level) (*mesh.Mesh, error) {
	box := vec.Empty()
	top, low := 0.0, math.Inf(1)
	for _, l := range levels {
		lo, hi := l.Outline.Box()
		box = box.Add(vec.V3{X: lo.X, Y: lo.Y}).Add(vec.V3{X: hi.X, Y: hi.Y, Z: l.Height})
		top, low = max(top, l.Height), min(low, l.Height)
	}
	h := min(1, max(0.2, low/5))
	if s := box.Size(); s.X*s.Y*s.Z/(h*h*h) > 4e6 {
		h = math.Cbrt(s.X * s.Y * s.Z / 4e6)
	}
	var part []sculpt.Field
	for _, l := range levels {
		reach := max(l.Run, l.Height) + 4*h
		f, err := l.Outline.Field(reach, 3*h, min(0.2, h))
		if err != nil {
			return nil, err
		}
		part = append(part, l.field(f))
	}
	union := func(p vec.V3) float64 {
		d := math.Inf(1)
		for _, f := range part {
			d = min(d, f(p))
		}
		return d
	}
	// Off the planes of the body, so that no face lies on the cells' corners.
	b := box.Grow(2.37 * h)
	m, err := sculpt.Contour(union, b, h)
	if err != nil {
		return nil, fault.New(fault.Input, "", "widen slits and bridges in the outline that are narrower than half a millimetre", "no closed body comes of the outline: %v", err)
	}
	return m, nil
}

// field is the body of one level over the distance d from its outline, inside
// above 0: below 0 inside, no steeper than 1.
func (l Level) field(f *outline.Field) sculpt.Field {
	t, w := l.Height, l.Run
	return func(p vec.V3) float64 {
		d := f.At(vec.V2{X: p.X, Y: p.Y})
		flat := max(-p.Z, p.Z-t, -d)
		switch l.Edge {
		case Cut:
			return max(flat, (p.Z-(t-w)-(d-0))/math.Sqrt2)
		case Rounded:
			if d < w && p.Z > 0 {
				// The ellipse of half axes w and t, scaled to be no steeper than 1.
				q := math.Hypot((w-d)/w, p.Z/t)
				return max(-p.Z, (q-1)*min(w, t))
			}
		}
		return flat
	}
}
