package sequence

import (
	"context"

	"pourwright/internal/book/plan"
	"pourwright/internal/ground/vec"
	"pourwright/internal/mould/parting"
	"pourwright/internal/mould/pockets"
)

// Look is what to inspect, and how. Pull and Up stand in for the best ones,
// each for itself; they are unit vectors.
type Look struct {
	Source   Source
	Pull, Up *vec.V3
}

// Inspect reads and measures a bare master: no channels, no vents, no rubber.
func Inspect(ctx context.Context, l Look, tell Progress) (*plan.Inspection, []Note, error) {
	c := newClock(ctx, tell)
	var (
		r   raw
		m   *Master
		s   *parting.Split
		t   *pockets.Stand
		err error
	)
	if err := c.run("read", func() error { r, err = read(l.Source); return err }); err != nil {
		return nil, nil, err
	}
	if err := c.run("check", func() error { m, err = check(r); return err }); err != nil {
		return nil, nil, err
	}
	if err := c.run("split", func() error { s, err = split(ctx, m, parting.Options{Pull: l.Pull}); return err }); err != nil {
		return nil, nil, err
	}
	if err := c.run("stand", func() error { t, err = stand(m, s, standing{up: l.Up, bare: true}); return err }); err != nil {
		return nil, nil, err
	}
	for _, b := range s.Bars {
		if b.Code == "linked" {
			m.note(b.Code, &b.At, b.Do, "%s.", b.Say)
		}
	}
	return &plan.Inspection{Master: m.Said, Split: saidSplit(m, s), Stand: saidStand(m, t), Bodies: saidBodies(m), Measure: spots(m)}, m.Notes, nil
}

// saidSplit puts a split into the plan's words; strain and action follow when
// the rubber is known.
func saidSplit(m *Master, s *parting.Split) plan.Split {
	p := plan.Split{
		Pull: s.Pull.Array(), SilhouetteArea: s.Silhouette, LockedVolume: s.Locked, LockedShare: s.Locked / m.Said.Volume,
		LineRise: s.Rise, Line: [][]plan.P3{}, Undercuts: []plan.Undercut{},
	}
	for _, l := range s.Line {
		loop := make([]plan.P3, len(l))
		for i, q := range l {
			loop[i] = q.Array()
		}
		p.Line = append(p.Line, loop)
	}
	for _, u := range s.Undercuts {
		p.Undercuts = append(p.Undercuts, plan.Undercut{
			At: u.At.Array(), Box: [2]plan.P3{u.Box.Min.Array(), u.Box.Max.Array()}, Volume: u.Volume, Depth: u.Depth,
		})
	}
	return p
}

// saidStand does the same for the stand.
func saidStand(m *Master, t *pockets.Stand) plan.Stand {
	p := plan.Stand{Up: t.Up.Array(), Pockets: []plan.Pocket{}, DeadEnds: []plan.DeadEnd{}, TrappedVolume: t.Trapped, TrappedShare: t.Trapped / m.Said.Volume}
	for _, k := range t.Pockets {
		p.Pockets = append(p.Pockets, plan.Pocket{At: k.At.Array(), Saddle: k.Saddle, Volume: k.Volume})
	}
	for _, d := range t.DeadEnds {
		p.DeadEnds = append(p.DeadEnds, plan.DeadEnd{At: d.At.Array(), Bore: d.Bore})
	}
	return p
}
