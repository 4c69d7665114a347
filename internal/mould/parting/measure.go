package parting

import (
	"math"

	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
)

// Sight is what a master shows along one direction. Lengths in the mesh's unit.
type Sight struct {
	Silhouette float64 // area of the shadow
	Locked     float64 // volume of the gaps between first entry and last exit
	Extent     float64 // length along the direction
	Volume     float64 // of the points with winding number above 0
}

// Measure returns the silhouette's area and the locked volume of a master
// along pull, which need not be of unit length but must be finite and not
// zero. Both are means over four rasters of jittered samples, 512 on the longer
// side or as many as put 40 000 into the shadow, 3000 at most. Against
// independent values of 30 bodies along seven axes the silhouette is within
// 6e-4 of itself and the locked volume within 7e-4 of the volume.
func Measure(m *mesh.Mesh, pull vec.V3) Sight {
	b := newBody(m)
	b.settle()
	return b.measure(pull.Unit(), 512)
}

// Volume returns the volume of the points of m with winding number above 0, as
// Measure does: the plain sum, with what overlaps taken from one raster of 192
// samples on the longer side of the shadow.
func Volume(m *mesh.Mesh) float64 {
	b := newBody(m)
	b.settle()
	return b.volume
}

// measure takes the mean over four spacings close to n, finer where the shadow
// is a narrow strip.
func (b *body) measure(pull vec.V3, n int) Sight {
	const runs = 4
	n = b.samples(pull, n, 40000, 3000)
	var r [runs]shade
	par.For(runs, 1, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			r[i] = b.look(pull, n-7*i)
		}
	})
	s := Sight{Extent: r[0].extent, Volume: b.volume}
	for _, x := range r {
		s.Silhouette += x.shadow / runs
		s.Locked += x.locked / runs
	}
	return s
}

// samples returns how many samples on the longer side of the shadow put about
// want into it, no fewer than least and no more than most.
func (b *body) samples(pull vec.V3, least, want, most int) int {
	f := aim(vec.V3{}, pull)
	wide := 0.0
	for _, d := range []vec.V3{f.X, f.Y} {
		lo, hi := math.Inf(1), math.Inf(-1)
		for i := range b.x {
			w := b.x[i]*d.X + b.y[i]*d.Y + b.z[i]*d.Z
			lo, hi = min(lo, w), max(hi, w)
		}
		wide = max(wide, hi-lo)
	}
	if first := b.look(pull, 128); first.shadow > 0 {
		return min(most, max(least, int(wide/math.Sqrt(first.shadow/float64(want)))))
	}
	return least
}
