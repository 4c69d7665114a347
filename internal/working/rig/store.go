package rig

import (
	"bytes"
	"compress/zlib"
	"crypto/sha256"
	"encoding/binary"
	"encoding/gob"
	"encoding/hex"
	"encoding/json"
	"io"
	"math"
	"os"
	"path/filepath"
	"sort"
	"strings"
	"time"

	"pourwright/internal/book/pour"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/grid"
	"pourwright/internal/shape/mesh"
)

// revision counts changes of the method after which kept results no longer hold.
const revision = 6

// Key returns the SHA-256, in hex, of all that a pour's figures depend on: the
// method's revision, the setting, and the solids to the last bit.
func Key(m *Mould, s *pour.Setting) string {
	h := sha256.New()
	put := func(x ...float64) {
		var b [8]byte
		for _, v := range x {
			binary.LittleEndian.PutUint64(b[:], math.Float64bits(v))
			h.Write(b[:])
		}
	}
	text, err := json.Marshal(s)
	if err != nil { // a setting with no number in it is refused before
		return ""
	}
	put(revision, float64(len(text)))
	h.Write(text)
	for _, b := range []*mesh.Mesh{m.Cavity, m.Half1} {
		put(float64(len(b.V)), float64(len(b.F)))
		for _, v := range b.V {
			put(v.X, v.Y, v.Z)
		}
		for _, f := range b.F {
			put(float64(f[0]), float64(f[1]), float64(f[2]))
		}
	}
	text, _ = json.Marshal(m.Block)
	h.Write(text)
	put(m.Casting.Volume, m.Casting.Area)
	return hex.EncodeToString(h.Sum(nil))
}

// Store keeps results and the states of unfinished runs in a folder. All its
// methods do nothing on a nil Store, and a store that cannot be read or written
// is as good as none: what it holds can be computed again.
type Store struct {
	Dir  string
	Most int64 // bytes that results may take; the oldest are dropped
}

// Open returns the user's own store, nil where there can be none. The environment
// variable POURWRIGHT_CACHE names another folder, or "off".
func Open() *Store {
	dir := os.Getenv("POURWRIGHT_CACHE")
	if dir == "off" {
		return nil
	}
	if dir == "" {
		d, err := os.UserCacheDir()
		if err != nil {
			return nil
		}
		dir = filepath.Join(d, "pourwright", "pour")
	}
	if os.MkdirAll(dir, 0o755) != nil {
		return nil
	}
	return &Store{Dir: dir, Most: 2 << 30}
}

// write puts a file in its place in one step.
func (s *Store) write(name string, data []byte) {
	path := filepath.Join(s.Dir, name)
	if os.MkdirAll(filepath.Dir(path), 0o755) != nil {
		return
	}
	f, err := os.CreateTemp(filepath.Dir(path), ".new-")
	if err != nil {
		return
	}
	_, err = f.Write(data)
	if e := f.Close(); err == nil {
		err = e
	}
	if err == nil {
		err = os.Rename(f.Name(), path)
	}
	if err != nil {
		os.Remove(f.Name())
	}
}

// state returns what was kept of a stage of an unfinished run, nil if nothing.
func (s *Store) state(key, stage string) []byte {
	if s == nil {
		return nil
	}
	b, err := os.ReadFile(filepath.Join(s.Dir, key+".part", stage))
	if err != nil || len(b) < sha256.Size {
		return nil
	}
	n := len(b) - sha256.Size
	if sum := sha256.Sum256(b[:n]); !bytes.Equal(sum[:], b[n:]) {
		return nil
	}
	return b[:n]
}

func (s *Store) setState(key, stage string, state []byte) {
	if s == nil {
		return
	}
	sum := sha256.Sum256(state)
	s.write(filepath.Join(key+".part", stage), append(state[:len(state):len(state)], sum[:]...))
}

// drop forgets what was kept of a stage.
func (s *Store) drop(key, stage string) {
	if s != nil {
		os.Remove(filepath.Join(s.Dir, key+".part", stage))
	}
}

// value and setValue keep a Go value of a stage.
func (s *Store) value(key, stage string, to any) bool {
	b := s.state(key, stage)
	return b != nil && gob.NewDecoder(bytes.NewReader(b)).Decode(to) == nil
}

func (s *Store) setValue(key, stage string, x any) {
	var b bytes.Buffer
	if s != nil && gob.NewEncoder(&b).Encode(x) == nil {
		s.setState(key, stage, b.Bytes())
	}
}

// keep keeps a result, drops the states that led to it, and the oldest results
// where there are too many.
func (s *Store) keep(key string, r *Result) {
	if s == nil {
		return
	}
	if b, err := pack(r); err == nil {
		s.write(key+".pour", b)
	}
	os.RemoveAll(filepath.Join(s.Dir, key+".part"))
	s.trim()
}

func (s *Store) result(key string) *Result {
	if s == nil {
		return nil
	}
	path := filepath.Join(s.Dir, key+".pour")
	b, err := os.ReadFile(path)
	if err != nil {
		return nil
	}
	r, err := unpack(b)
	if err != nil || r.Doc.Key != key {
		return nil
	}
	now := time.Now()
	os.Chtimes(path, now, now) // lately used; not part of any result
	return r
}

// trim drops the results and states that were used longest ago until what is left
// fits.
func (s *Store) trim() {
	type kept struct {
		path string
		size int64
		used time.Time
	}
	var all []kept
	sum := int64(0)
	list, _ := os.ReadDir(s.Dir)
	for _, e := range list {
		k := kept{path: filepath.Join(s.Dir, e.Name())}
		if !strings.HasSuffix(e.Name(), ".pour") && !strings.HasSuffix(e.Name(), ".part") {
			continue
		}
		filepath.Walk(k.path, func(_ string, i os.FileInfo, err error) error {
			if err == nil {
				k.size += i.Size()
				if i.ModTime().After(k.used) {
					k.used = i.ModTime()
				}
			}
			return nil
		})
		all = append(all, k)
		sum += k.size
	}
	sort.Slice(all, func(i, j int) bool { return all[i].used.Before(all[j].used) })
	for _, k := range all {
		if sum <= s.Most {
			break
		}
		os.RemoveAll(k.path)
		sum -= k.size
	}
}

// pack writes a result: length and text of the document, then grid and fields,
// all compressed, then a SHA-256.
func pack(r *Result) ([]byte, error) {
	var b bytes.Buffer
	z, err := zlib.NewWriterLevel(&b, zlib.BestSpeed)
	if err != nil {
		return nil, err
	}
	text, err := json.Marshal(r.Doc)
	if err != nil {
		return nil, err
	}
	f := r.Fields
	if f == nil {
		f = &Fields{}
	}
	for _, x := range []any{
		int64(len(text)), text, f.Grid.Origin.Array(), f.Grid.H, [3]int64{int64(f.Grid.NX), int64(f.Grid.NY), int64(f.Grid.NZ)},
		f.Share, f.Dist, f.Solid, f.Peak, f.Half,
	} {
		if err := binary.Write(z, binary.LittleEndian, x); err != nil {
			return nil, err
		}
	}
	if r.Filling != nil {
		if err := gob.NewEncoder(z).Encode(r.Filling); err != nil {
			return nil, err
		}
	}
	if err := z.Close(); err != nil {
		return nil, err
	}
	sum := sha256.Sum256(b.Bytes())
	return append(b.Bytes(), sum[:]...), nil
}

func unpack(b []byte) (*Result, error) {
	if len(b) < sha256.Size {
		return nil, io.ErrUnexpectedEOF
	}
	n := len(b) - sha256.Size
	if sum := sha256.Sum256(b[:n]); !bytes.Equal(sum[:], b[n:]) {
		return nil, io.ErrUnexpectedEOF
	}
	z, err := zlib.NewReader(bytes.NewReader(b[:n]))
	if err != nil {
		return nil, err
	}
	var size int64
	if err := binary.Read(z, binary.LittleEndian, &size); err != nil || size < 0 || size > 1<<28 {
		return nil, io.ErrUnexpectedEOF
	}
	text := make([]byte, size)
	if _, err := io.ReadFull(z, text); err != nil {
		return nil, err
	}
	r := &Result{Doc: &pour.Doc{}, Fields: &Fields{}}
	if err := json.Unmarshal(text, r.Doc); err != nil {
		return nil, err
	}
	var at [3]float64
	var cells [3]int64
	f := r.Fields
	for _, x := range []any{&at, &f.Grid.H, &cells} {
		if err := binary.Read(z, binary.LittleEndian, x); err != nil {
			return nil, err
		}
	}
	f.Grid = grid.Grid{Origin: vec.FromArray(at), H: f.Grid.H, NX: int(cells[0]), NY: int(cells[1]), NZ: int(cells[2])}
	m := f.Grid.Len()
	if m < 0 || m > math.MaxInt32 {
		return nil, io.ErrUnexpectedEOF
	}
	for _, x := range []*[]float32{&f.Share, &f.Dist, &f.Solid, &f.Peak} {
		*x = make([]float32, m)
		if err := binary.Read(z, binary.LittleEndian, *x); err != nil {
			return nil, err
		}
	}
	f.Half = make([]uint8, m)
	if _, err := io.ReadFull(z, f.Half); err != nil {
		return nil, err
	}
	if m == 0 {
		r.Fields = nil
	}
	if r.Doc.Filling.Computed {
		r.Filling = &FillFields{}
		return r, gob.NewDecoder(z).Decode(r.Filling)
	}
	return r, nil
}
