package sequence

import (
	"context"
	"errors"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/par"
	"pourwright/internal/ground/vec"
	"pourwright/internal/mould/parting"
	"pourwright/internal/mould/pockets"
)

// split finds the pull, the line and what a straight pull locks. Beside it the
// master is made ready for the stand.
func split(ctx context.Context, m *Master, o parting.Options) (s *parting.Split, err error) {
	par.Do(func() { s, err = parting.Find(ctx, m.Mesh, o) }, m.prepare)
	if err != nil && ctx.Err() != nil && errors.Is(err, ctx.Err()) {
		err = fault.New(fault.Interrupted, "", "", "interrupted")
	}
	if err == nil {
		m.interlocked(s)
	}
	return s, err
}

// standing is what the job asks of the stand.
type standing struct {
	up         *vec.V3
	bare       bool // up need not stand across the pull
	show, hide []vec.V3
	bore       float64 // below which the metal bridges, mm; 0 where no metal is known
}

// stand finds the way up and the air it traps.
func stand(m *Master, s *parting.Split, o standing) (*pockets.Stand, error) {
	body := m.Air
	if o.bare && o.up != nil {
		t, err := body.Evaluate(*o.up, pockets.Outlets{}, 0)
		if err == nil {
			t.DeadEnds = body.Hanging(*o.up, pockets.Widest)
		}
		return t, err
	}
	return body.Find(s.Pull, pockets.Options{Up: o.up, Show: o.show, Hide: o.hide, Label: s.Label, Bore: o.bore})
}
