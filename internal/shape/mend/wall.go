package mend

import (
	"cmp"
	"math"
	"slices"

	"pourwright/internal/ground/sets"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/bvh"
	"pourwright/internal/shape/mesh"
)

// mostWalls and mostWallLooks bound the patches that are tried as walls; finArea is the share of
// the surface under which an open sheet that hangs on the surface is left out.
// Our own figures, no source.
const (
	mostWalls     = 24
	mostWallLooks = 20_000_000 // triangles looked at in all tries
	finArea       = 0.03
)

// dropWalls leaves out patches that end on all sides at edges of more than two
// triangles and lie inside what closes without them: walls within a body. Open
// sheets that hang on such an edge go too, where they are small. Patches are
// parts that hang together over clean pairs.
func (w *work) dropWalls() error {
	walls, fins, looks := 0, 0, 0
	var wallAt, finAt vec.V3
	for range mostWalls {
		odd := w.groups()
		if _, many := faults(odd); many == 0 {
			break
		}
		part, area := w.parts()
		all := 0.0
		for _, a := range area {
			all += a
		}
		open, edge, spare := make(map[int32]bool), make(map[int32]bool), make(map[int32]bool)
		for _, g := range odd {
			inner := make(map[int32]int)
			for _, h := range g {
				inner[part[h/3]]++
			}
			for _, h := range g {
				p := part[h/3]
				switch {
				case len(g) == 1:
					open[p] = true
				case len(g) > 2:
					edge[p] = true
					if len(g)-inner[p] != 2 {
						spare[p] = true // what is left would not close
					}
				}
			}
		}
		var list []int32
		for p := range edge {
			if !spare[p] && (!open[p] || area[p] < finArea*all) {
				list = append(list, p)
			}
		}
		slices.SortFunc(list, func(a, b int32) int { return cmp.Or(cmp.Compare(area[a], area[b]), cmp.Compare(a, b)) })
		if len(list) > mostWalls {
			list = list[:mostWalls]
		}
		gone := int32(-1)
		for _, p := range list {
			if looks += len(w.m.F); looks > mostWallLooks {
				break
			}
			if open[p] || w.within(part, p) {
				gone = p
				break
			}
		}
		if gone < 0 {
			break
		}
		at := centre(w.m, int(gone))
		if open[gone] {
			if fins++; fins == 1 {
				finAt = at
			}
			w.lostFin(part, gone, area[gone])
		} else if walls++; walls == 1 {
			wallAt = at
		}
		w.keep(func(i int) bool { return part[i] != gone })
	}
	if walls > 0 {
		w.did("left out walls within the body", walls, wallAt)
	}
	if fins > 0 {
		w.did("left out sheets that hang on the surface", fins, finAt)
	}
	if walls+fins > 0 {
		return w.orient()
	}
	return nil
}

// lostFin adds an open sheet to the band.
func (w *work) lostFin(part []int32, p int32, area float64) {
	box := vec.Empty()
	for i := range w.m.F {
		if part[i] == p {
			a, b, c := w.m.Tri(i)
			box = box.Add(a).Add(b).Add(c)
		}
	}
	w.lost(area, box)
}

// within reports whether patch p lies inside what is left without it: both
// sides of its largest triangle have a winding number of one about them.
func (w *work) within(part []int32, p int32) bool {
	rest := &work{m: &mesh.Mesh{V: w.m.V}, size: w.size}
	big, most := -1, 0.0
	for i, f := range w.m.F {
		if part[i] != p {
			rest.m.F = append(rest.m.F, f)
		} else if a := areaOf(w.m, i); a > most {
			big, most = i, a
		}
	}
	if big < 0 || len(rest.m.F) == 0 || rest.orient() != nil {
		return false
	}
	near := func(r *work) bool { // closed about the patch
		u := sets.New(len(r.m.V))
		for _, f := range r.m.F {
			u.Join(f[0], f[1])
			u.Join(f[1], f[2])
		}
		root := u.Root(w.m.F[big][0])
		for _, g := range r.groups() {
			if u.Root(r.m.Tail(g[0])) == root && len(g) == 1 {
				return false
			}
		}
		return true
	}
	if !near(rest) {
		return false
	}
	tree := bvh.Build(rest.m)
	c, n := centre(w.m, big), w.m.Normal(big).Mul(1e-3*math.Sqrt(most))
	a, b := math.Abs(tree.WindingExact(c.Add(n))), math.Abs(tree.WindingExact(c.Sub(n)))
	return a > 0.9 && b > 0.9
}
