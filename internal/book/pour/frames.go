package pour

import (
	"bytes"
	"encoding/binary"
	"io"
	"math"
	"math/bits"

	"pourwright/internal/ground/fault"
)

// FramesName is the file of frames in the plan's folder.
const FramesName = "filling.frames"

// Frames is a filling as a picture that moves: how much metal stands in each open
// cell at each of a row of times.
//
// The file, little-endian, with unsigned LEB128 numbers ("count"):
//
//	8 bytes   "pwfill\x01\n": the byte after the letters is the version
//	3 uint32  cells along x, y, z of the box
//	4 float64 low corner of cell 0, 0, 0 in the block frame, and edge of a cell, mm
//	counts    which cells are open, x fastest, then y, then z: shut, open, shut, ... in turn until
//	          the box is done; the first may be 0
//	uint32    frames
//	then for each frame
//	float64   s since the first metal
//	counts    in turn until all open cells are done: how many stay as they were in the frame before (0 before
//	          the first), how many change, then as many bytes: the new share less the old one, modulo 256
//
// A share is kept in 1/255, within 0.002 of what was computed.
type Frames struct {
	Cells  [3]int
	Origin [3]float64 // mm
	H      float64    // mm
	Open   []int32    // places of the open cells in the box, rising
	Times  []float64  // s, rising
	Shares [][]uint8  // by frame and open cell, 255 is full
}

const framesMagic = "pwfill\x01\n"

// What a file may ask for: cells of its box, and shares in all its frames.
const (
	mostBox    = 1 << 25
	mostShares = 1 << 29
)

// Share returns the byte that stands for a share of metal.
func Share(f float64) uint8 {
	if !(f > 0) {
		return 0
	}
	return uint8(math.Min(255, math.Round(255*f)))
}

// Add puts in one more frame; share holds the metal per open cell, 0 .. 1.
func (f *Frames) Add(t float64, share []float64) {
	b := make([]uint8, len(f.Open))
	for i := range b {
		b[i] = Share(share[i])
	}
	f.Times, f.Shares = append(f.Times, t), append(f.Shares, b)
}

// Encode returns the bytes of the file.
func (f *Frames) Encode() []byte {
	b := append([]byte(nil), framesMagic...)
	for _, n := range f.Cells {
		b = binary.LittleEndian.AppendUint32(b, uint32(n))
	}
	for _, x := range append(f.Origin[:], f.H) {
		b = binary.LittleEndian.AppendUint64(b, math.Float64bits(x))
	}
	at, all := 0, f.Cells[0]*f.Cells[1]*f.Cells[2]
	for i := 0; i < len(f.Open); {
		b = binary.AppendUvarint(b, uint64(int(f.Open[i])-at))
		n := 1
		for i+n < len(f.Open) && f.Open[i+n] == f.Open[i]+int32(n) {
			n++
		}
		b = binary.AppendUvarint(b, uint64(n))
		at = int(f.Open[i]) + n
		i += n
	}
	if at < all {
		b = binary.AppendUvarint(b, uint64(all-at))
	}
	b = binary.LittleEndian.AppendUint32(b, uint32(len(f.Times)))
	was := make([]uint8, len(f.Open))
	for k, t := range f.Times {
		b = binary.LittleEndian.AppendUint64(b, math.Float64bits(t))
		b = changes(b, was, f.Shares[k])
		was = f.Shares[k]
	}
	return b
}

// quiet is how many unchanged cells end a row of changes; fewer are cheaper
// written as changes by 0.
const quiet = 3

// changes appends the runs of one frame.
func changes(b []byte, was, now []uint8) []byte {
	for i := 0; i < len(now); {
		j := i
		for j < len(now) && now[j] == was[j] {
			j++
		}
		end, still := j, 0 // one after the last change of the row
		for k := j; k < len(now) && still < quiet; k++ {
			if now[k] == was[k] {
				still++
				continue
			}
			still, end = 0, k+1
		}
		b = binary.AppendUvarint(b, uint64(j-i))
		b = binary.AppendUvarint(b, uint64(end-j))
		for k := j; k < end; k++ {
			b = append(b, now[k]-was[k])
		}
		i = end
	}
	return b
}

// ParseFrames reads a file of frames. Errors are of kind Input.
func ParseFrames(data []byte, file string) (*Frames, error) {
	bad := func(what string) (*Frames, error) {
		return nil, fault.New(fault.Input, file, "compute the pour again", "these are no frames of ours: %s", what)
	}
	if !bytes.HasPrefix(data, []byte(framesMagic)) {
		return bad("they begin otherwise")
	}
	r := bytes.NewReader(data[len(framesMagic):])
	var head struct {
		Cells  [3]uint32
		Origin [3]float64
		H      float64
	}
	if err := binary.Read(r, binary.LittleEndian, &head); err != nil {
		return bad("they end in their head")
	}
	f := &Frames{Origin: head.Origin, H: head.H}
	all := uint64(1)
	for d, n := range head.Cells {
		hi, lo := bits.Mul64(all, uint64(n))
		if all = lo; hi != 0 || all > mostBox {
			return bad("the box of cells is too large")
		}
		f.Cells[d] = int(n)
	}
	if !(f.H > 0) || math.IsInf(f.H, 0) {
		return bad("the edge of a cell is no length")
	}
	for at, open := uint64(0), false; at < all; open = !open {
		n, err := binary.ReadUvarint(r)
		if err != nil || n > all-at || n == 0 && at > 0 {
			return bad("the list of open cells breaks off")
		}
		for q := at; open && q < at+n; q++ {
			f.Open = append(f.Open, int32(q))
		}
		at += n
	}
	var frames uint32
	if err := binary.Read(r, binary.LittleEndian, &frames); err != nil ||
		uint64(frames)*uint64(len(f.Open)) > mostShares || uint64(frames)*9 > uint64(r.Len()) && len(f.Open) > 0 || uint64(frames)*8 > uint64(r.Len()) {
		return bad("there are fewer frames than they say, or too many")
	}
	was := make([]uint8, len(f.Open))
	for range frames {
		now := append([]uint8(nil), was...)
		t, err := frame(r, now)
		if err != nil || math.IsNaN(t) || len(f.Times) > 0 && !(t > f.Times[len(f.Times)-1]) {
			return bad("a frame breaks off or goes back in time")
		}
		f.Times, f.Shares = append(f.Times, t), append(f.Shares, now)
		was = now
	}
	if r.Len() > 0 {
		return bad("more follows the last frame")
	}
	return f, nil
}

// frame reads one frame over the shares of the one before.
func frame(r *bytes.Reader, now []uint8) (float64, error) {
	var t float64
	if err := binary.Read(r, binary.LittleEndian, &t); err != nil {
		return 0, err
	}
	for i := uint64(0); i < uint64(len(now)); {
		stay, e1 := binary.ReadUvarint(r)
		n, e2 := binary.ReadUvarint(r)
		left := uint64(len(now)) - i
		if e1 != nil || e2 != nil || stay > left || n > left-stay || n > uint64(r.Len()) || stay+n == 0 {
			return 0, io.ErrUnexpectedEOF
		}
		i += stay
		for k := range n {
			d, _ := r.ReadByte()
			now[i+k] += d
		}
		i += n
	}
	return t, nil
}

// Slots returns for every cell of the box its number among the open ones, -1
// where it is shut.
func (f *Frames) Slots() []int32 {
	s := make([]int32, f.Cells[0]*f.Cells[1]*f.Cells[2])
	for q := range s {
		s[q] = -1
	}
	for i, q := range f.Open {
		s[q] = int32(i)
	}
	return s
}
