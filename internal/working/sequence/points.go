package sequence

import (
	"fmt"
	"math"

	"pourwright/internal/book/job"
	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
)

// farOff is how far a point of the job may lie off the master, as a share of
// its longest side: a point picked on a screen is not exact, one in another
// unit is far beyond. Our own figure.
const farOff = 0.1

// pointed refuses points of the job that lie nowhere near the master: they
// would be taken for the nearest place of it, and protect or gate that.
func (t *trace) pointed() error {
	m := t.master.Mesh
	box := m.Box()
	check := func(key string, p job.P3) error {
		_, _, off := t.master.Tree.Closest(vec.FromArray(p), math.Inf(1))
		if off <= farOff*box.Longest() {
			return nil
		}
		return fault.New(fault.Input, t.job.File, fmt.Sprintf("points are mm in the master's frame: x %.4g to %.4g, y %.4g to %.4g, z %.4g to %.4g",
			box.Min.X, box.Max.X, box.Min.Y, box.Max.Y, box.Min.Z, box.Max.Z), "%s lies %.3g mm off the master", key, off)
	}
	type point struct {
		key string
		at  job.P3
	}
	var list []point
	if t.job.Gate.At != nil {
		list = append(list, point{"gate.at", *t.job.Gate.At})
	}
	for i, p := range t.job.Master.Show {
		list = append(list, point{fmt.Sprintf("master.show[%d]", i), p})
	}
	for i, p := range t.job.Master.Hide {
		list = append(list, point{fmt.Sprintf("master.hide[%d]", i), p})
	}
	for i, p := range t.job.Insert {
		list = append(list, point{fmt.Sprintf("insert[%d].at", i), p.At})
	}
	for _, p := range list {
		if err := check(p.key, p.at); err != nil {
			return err
		}
	}
	return nil
}
