package shot

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/json"
	"math"

	"pourwright/internal/ground/fault"
)

// search plays the single shots of a search and counts them.
type search struct {
	watch  Watch
	memory *Memory
	shots  int
}

// newSearch begins a search; what is remembered is gone through from its start.
func newSearch(watch Watch, m *Memory) *search {
	if m == nil {
		m = &Memory{off: true}
	}
	m.next = 0
	return &search{watch: watch, memory: m}
}

// play plays one shot from the mould's state, or recalls it.
func (q *search) play(ctx context.Context, m Mould, s Setting) (Shot, error) {
	s.Shots = 1
	x := m.Slow()
	key, past := q.memory.recall(s, x)
	if past != nil {
		q.shots++
		return past.Shot, m.SetSlow(past.end)
	}
	// Clock and balance begin anew, so that a shot hangs on nothing but its start.
	if err := m.SetSlow(x); err != nil {
		return Shot{}, err
	}
	var watch Watch
	if q.watch != nil {
		watch = func(p Progress) error {
			p.Search, p.Save = q.shots, nil
			return q.watch(p)
		}
	}
	r, err := Play(ctx, m, s, watch)
	if err != nil {
		return Shot{}, err
	}
	q.shots++
	end := m.Slow()
	q.memory.keep(key, r.Shots[0], end)
	return r.Shots[0], m.SetSlow(end)
}

// Memory holds the shots of a search, so that one that was stopped goes on where
// it was when it is called again with the same arguments: the shots that are known
// are recalled, the others computed, and the result is the same to the last bit.
// Hand the same Memory to every search of a plan, or one made by Recall. It is of
// moulds that were made the same way; that is for the caller to see to. It takes 4
// bytes per cell and shot.
type Memory struct {
	off  bool
	next int
	past []past
}

// past is a shot that was played.
type past struct {
	Key  [sha256.Size]byte // of its setting and the mould before it
	Shot Shot
	end  []float32 // Mould.Slow after it
}

// recall returns the next shot if it began like this one. A search that turns off
// from what is remembered forgets the rest.
func (m *Memory) recall(s Setting, x []float32) (key [sha256.Size]byte, p *past) {
	if m.off {
		return key, nil
	}
	text, _ := json.Marshal(s) // a setting was checked: all its numbers are finite
	h := sha256.New()
	h.Write(text)
	h.Write(packed(x))
	h.Sum(key[:0])
	if m.next < len(m.past) {
		if p := &m.past[m.next]; p.Key == key {
			m.next++
			return key, p
		}
		m.past = m.past[:m.next]
	}
	return key, nil
}

func (m *Memory) keep(key [sha256.Size]byte, x Shot, end []float32) {
	if !m.off {
		m.past = append(m.past, past{key, x, end})
		m.next = len(m.past)
	}
}

func packed(x []float32) []byte {
	b := make([]byte, 4*len(x))
	for i, v := range x {
		binary.LittleEndian.PutUint32(b[4*i:], math.Float32bits(v))
	}
	return b
}

// Shots returns how many shots are remembered.
func (m *Memory) Shots() int { return len(m.past) }

// remembered opens a saved memory; the last byte is the version of the layout.
var remembered = []byte("shots\x00m\x01")

// Save returns the memory as bytes, for Recall.
func (m *Memory) Save() ([]byte, error) {
	text, err := json.Marshal(m.past)
	if err != nil {
		return nil, fault.New(fault.Unstable, "series", "keep the job and try other cells", "a result is no number and cannot be kept: %v", err)
	}
	b := append([]byte{}, remembered...)
	b = binary.LittleEndian.AppendUint64(b, uint64(len(text)))
	b = append(b, text...)
	for _, p := range m.past {
		b = binary.LittleEndian.AppendUint64(b, uint64(len(p.end)))
		b = append(b, packed(p.end)...)
	}
	sum := sha256.Sum256(b)
	return append(b, sum[:]...), nil
}

// Recall reads a saved memory.
func Recall(data []byte) (*Memory, error) {
	bad := fault.New(fault.Input, "remembered shots", "begin anew", "these are no shots of this version, or they are damaged")
	n := len(data) - sha256.Size
	if n < len(remembered)+8 || !bytes.Equal(data[:len(remembered)], remembered) {
		return nil, bad
	}
	if sum := sha256.Sum256(data[:n]); !bytes.Equal(sum[:], data[n:]) {
		return nil, bad
	}
	b := data[len(remembered):n]
	// part cuts off what the length in front of it says, in units of some bytes.
	part := func(unit int) []byte {
		if len(b) < 8 {
			return nil
		}
		l := binary.LittleEndian.Uint64(b)
		if b = b[8:]; l > uint64(len(b)/unit) {
			return nil
		}
		p := b[:int(l)*unit]
		b = b[int(l)*unit:]
		return p
	}
	m := &Memory{}
	if err := json.Unmarshal(part(1), &m.past); err != nil {
		return nil, bad
	}
	for i := range m.past {
		p := part(4)
		m.past[i].end = make([]float32, len(p)/4)
		for k := range m.past[i].end {
			m.past[i].end[k] = math.Float32frombits(binary.LittleEndian.Uint32(p[4*k:]))
		}
	}
	if len(b) != 0 {
		return nil, bad
	}
	return m, nil
}
