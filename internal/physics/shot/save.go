package shot

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"encoding/json"

	"pourwright/internal/ground/fault"
)

// magic opens every saved series; the last byte is the version of the layout.
var magic = []byte("shots\x00\x00\x01")

// written is the part of a saved series that is text.
type written struct {
	Setting Setting
	At      position
	Result  Result
}

// Save returns the series as it is now, between two stretches: text of setting,
// position and results, then the mould, then a SHA-256 of all.
func (r *Series) Save() ([]byte, error) {
	text, err := json.Marshal(written{r.set, r.at, r.res})
	if err != nil {
		return nil, fault.New(fault.Unstable, "series", "keep the job and try other cells", "a result is no number and cannot be kept: %v", err)
	}
	m, err := r.m.Save()
	if err != nil {
		return nil, err
	}
	b := make([]byte, 0, len(magic)+16+len(text)+len(m)+sha256.Size)
	b = append(b, magic...)
	b = binary.LittleEndian.AppendUint64(b, uint64(len(text)))
	b = binary.LittleEndian.AppendUint64(b, uint64(len(m)))
	b = append(append(b, text...), m...)
	sum := sha256.Sum256(b)
	return append(b, sum[:]...), nil
}

// Resume goes on with a saved series. The mould must be made as it was for the
// series that was saved; its state is replaced.
func Resume(m Mould, state []byte) (*Series, error) {
	bad := func(why string) error {
		return fault.New(fault.Input, "saved series", "begin anew", "%s", why)
	}
	head := len(magic) + 16
	if len(state) < head+sha256.Size || !bytes.Equal(state[:len(magic)], magic) {
		return nil, bad("this is no saved series of this version")
	}
	n := len(state) - sha256.Size
	if sum := sha256.Sum256(state[:n]); !bytes.Equal(sum[:], state[n:]) {
		return nil, bad("the saved series is damaged")
	}
	text, body := binary.LittleEndian.Uint64(state[len(magic):]), binary.LittleEndian.Uint64(state[len(magic)+8:])
	if text > uint64(n-head) || body != uint64(n-head)-text {
		return nil, bad("the saved series is cut short")
	}
	var w written
	if err := json.Unmarshal(state[head:head+int(text)], &w); err != nil {
		return nil, bad("the saved series cannot be read: " + err.Error())
	}
	r, err := New(m, w.Setting)
	if err != nil {
		return nil, err
	}
	r.m.Mark(r.below)
	if err := m.Load(state[head+int(text) : n]); err != nil {
		return nil, err
	}
	r.at, r.res = w.At, w.Result
	return r, nil
}
