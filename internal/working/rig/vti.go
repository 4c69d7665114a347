package rig

import (
	"bufio"
	"bytes"
	"compress/zlib"
	"encoding/base64"
	"encoding/binary"
	"fmt"
	"io"
	"math"
)

// WriteVTI writes the fields as an image of the VTK XML file format (serial
// ImageData, cell data, zlib, VTK File Formats, section XML): time to solid and
// peak of the rubber as float32, the cavity's share and the half as bytes. mm in
// the block frame; NaN where a field has no value.
func (f *Fields) WriteVTI(w io.Writer) error {
	b := bufio.NewWriter(w)
	g := f.Grid
	fmt.Fprintf(b, `<?xml version="1.0"?>
<VTKFile type="ImageData" version="1.0" byte_order="LittleEndian" header_type="UInt32" compressor="vtkZLibDataCompressor">
<ImageData WholeExtent="0 %[1]d 0 %[2]d 0 %[3]d" Origin="%[4]g %[5]g %[6]g" Spacing="%[7]g %[7]g %[7]g">
<Piece Extent="0 %[1]d 0 %[2]d 0 %[3]d">
<CellData>
`, g.NX, g.NY, g.NZ, g.Origin.X, g.Origin.Y, g.Origin.Z, g.H)
	n := g.Len()
	solid, peak, share, half := make([]float32, n), make([]float32, n), make([]uint8, n), make([]uint8, n)
	nan := float32(math.NaN())
	for q := range n {
		solid[q], peak[q] = nan, nan
		if f.Solid[q] >= 0 {
			solid[q] = f.Solid[q]
		}
		if f.Dist[q] >= 0 {
			peak[q], half[q] = f.Peak[q], f.Half[q]
		}
		share[q] = uint8(math.Round(float64(f.Share[q]) * 100))
	}
	for _, x := range []struct {
		kind, name string
		data       any
	}{
		{"Float32", "time to solid, s", solid}, {"Float32", "peak of the rubber, degC", peak},
		{"UInt8", "cavity, percent of the cell", share}, {"UInt8", "half", half},
	} {
		fmt.Fprintf(b, "<DataArray type=%q Name=%q format=\"binary\">\n", x.kind, x.name)
		if err := block(b, x.data); err != nil {
			return err
		}
		fmt.Fprint(b, "\n</DataArray>\n")
	}
	fmt.Fprint(b, "</CellData>\n</Piece>\n</ImageData>\n</VTKFile>\n")
	return b.Flush()
}

// block writes one array: a header of the number of blocks, their size, the size
// of the last one if it is not whole, and their compressed sizes, then the blocks,
// header and blocks each in base64.
func block(w io.Writer, data any) error {
	var raw bytes.Buffer
	if err := binary.Write(&raw, binary.LittleEndian, data); err != nil {
		return err
	}
	const size = 1 << 20
	all := raw.Bytes()
	n := (len(all) + size - 1) / size
	head := []uint32{uint32(n), size, uint32(len(all) % size)}
	var body bytes.Buffer
	for k := range n {
		was := body.Len()
		z, err := zlib.NewWriterLevel(&body, 3)
		if err != nil {
			return err
		}
		if _, err := z.Write(all[k*size : min((k+1)*size, len(all))]); err != nil {
			return err
		}
		if err := z.Close(); err != nil {
			return err
		}
		head = append(head, uint32(body.Len()-was))
	}
	var h bytes.Buffer
	if err := binary.Write(&h, binary.LittleEndian, head); err != nil {
		return err
	}
	for _, x := range [][]byte{h.Bytes(), body.Bytes()} {
		if _, err := io.WriteString(w, base64.StdEncoding.EncodeToString(x)); err != nil {
			return err
		}
	}
	return nil
}
