package readings

import (
	"bytes"
	"encoding/binary"
	"strings"
	"unicode/utf16"
	"unicode/utf8"
)

// decode turns the bytes into lines.
func (r *reader) decode(data []byte) error {
	if len(data) > MaxSize {
		return r.fail(0, 0, "cut out the hour of the pour", "this log is over 16 MiB")
	}
	if len(bytes.TrimSpace(data)) == 0 {
		return r.fail(0, 0, "export the recording again", "this log is empty")
	}
	text, err := r.text(data)
	if err != nil {
		return err
	}
	text = strings.ReplaceAll(text, "\r\n", "\n")
	text = strings.ReplaceAll(text, "\r", "\n")
	r.lines = strings.Split(strings.TrimRight(text, "\n\x00\x1a"), "\n")
	return nil
}

// text finds the character set: a byte order mark, UTF-16 by its zero bytes,
// UTF-8, or else one byte per letter as in Latin-1.
func (r *reader) text(data []byte) (string, error) {
	switch {
	case bytes.HasPrefix(data, []byte{0xef, 0xbb, 0xbf}):
		data = data[3:]
	case bytes.HasPrefix(data, []byte{0xff, 0xfe}):
		return wide(data[2:], binary.LittleEndian), nil
	case bytes.HasPrefix(data, []byte{0xfe, 0xff}):
		return wide(data[2:], binary.BigEndian), nil
	case bytes.HasPrefix(data, []byte("PK\x03\x04")), bytes.HasPrefix(data, []byte{0xd0, 0xcf, 0x11, 0xe0}):
		return "", r.fail(0, 0, "save the sheet as CSV and name that file", "this is a spreadsheet, not a CSV file")
	default:
		head := data[:min(len(data), 4096)&^1]
		even, odd := 0, 0
		for i, c := range head {
			if c == 0 && i%2 == 0 {
				even++
			} else if c == 0 {
				odd++
			}
		}
		if n := len(head) / 2; odd > n*2/3 && even < n/10+1 {
			return wide(data, binary.LittleEndian), nil
		} else if even > n*2/3 && odd < n/10+1 {
			return wide(data, binary.BigEndian), nil
		} else if even+odd > 0 {
			return "", r.fail(0, 0, "export the recording as CSV text", "this is not a text file")
		}
	}
	if utf8.Valid(data) {
		return string(data), nil
	}
	var b strings.Builder
	b.Grow(len(data) + len(data)/8)
	for _, c := range data {
		b.WriteRune(rune(c))
	}
	r.note(0, 0, "not UTF-8: read one letter per byte")
	return b.String(), nil
}

// wide reads UTF-16.
func wide(data []byte, order binary.ByteOrder) string {
	u := make([]uint16, len(data)/2)
	for i := range u {
		u[i] = order.Uint16(data[2*i:])
	}
	return strings.TrimPrefix(string(utf16.Decode(u)), "\ufeff")
}
