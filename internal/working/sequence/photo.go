package sequence

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"pourwright/internal/book/job"
	"pourwright/internal/book/plan"
	"pourwright/internal/ground/fault"
	"pourwright/internal/shape/meshfile"
	"pourwright/internal/shape/photo"
	"pourwright/internal/shape/relief"
	"pourwright/internal/shape/snapshot"
	"pourwright/internal/shop/drawing"
)

// Photo is a master made of a photograph, or of the outline found in one.
type Photo struct {
	File      string // the photograph; empty where only an outline is given
	Outline   string // an outline file, taken in place of what the picture shows
	Thickness float64
	Edge      string // flat, half-round, chamfer; empty is flat
	Chamfer   float64
	Reference string // card, sheet; empty is whichever is found
}

// Photographed is what came of a photograph.
type Photographed struct {
	Said    plan.Photo
	STL     []byte // the body, as it is planned
	Text    []byte // the outline as a text to be corrected; nil where it was read from one
	Overlay []byte // PNG of the outline over a small grey part of the picture; nil without a picture
	Notes   []Note
	sha256  string
}

// IsPhoto reports whether a file name is that of a photograph.
func IsPhoto(name string) bool {
	switch strings.ToLower(filepath.Ext(name)) {
	case ".jpg", ".jpeg", ".png":
		return true
	}
	return false
}

// IsOutline reports whether a file name is that of an outline file.
func IsOutline(name string) bool { return strings.ToLower(filepath.Ext(name)) == ".txt" }

// Photograph makes the master.
func Photograph(p Photo) (*Photographed, error) {
	o := photo.Options{Thickness: p.Thickness, Edge: photo.Edge(p.Edge), Chamfer: p.Chamfer, Reference: p.Reference}
	if err := o.Check(); err != nil {
		return nil, err
	}
	out := &Photographed{Said: plan.Photo{Thickness: p.Thickness, Edge: string(o.Edge), Flags: []string{}}}
	s := &out.Said
	if o.Edge == photo.Chamfer {
		s.Chamfer = plan.Ptr(p.Chamfer)
	}
	var drawn photo.Drawn
	if p.Outline != "" {
		d, data, err := photo.ReadOutline(p.Outline)
		if err != nil {
			return nil, err
		}
		sum := sha256.Sum256(data)
		s.OutlineFile, out.sha256 = plan.Ptr(filepath.Base(p.Outline)), hex.EncodeToString(sum[:])
		s.OutlineSHA256 = plan.Ptr(out.sha256)
		drawn = d
	}
	if p.File != "" {
		pic, err := snapshot.Read(p.File)
		if err != nil {
			return nil, err
		}
		out.sha256 = pic.SHA256
		s.File, s.SHA256 = filepath.Base(p.File), pic.SHA256
		if drawn == nil {
			if drawn, err = out.find(pic, p.File, o); err != nil {
				return nil, err
			}
		}
	}
	if drawn == nil {
		return nil, fault.New(fault.Usage, "", "name a JPEG or PNG, or an outline file", "no photograph is named")
	}
	var levels []relief.Level
	for _, d := range drawn {
		l := relief.Level{Outline: d.Outline, Height: p.Thickness}
		if d.Height > 0 {
			l.Height = d.Height
		}
		switch o.Edge {
		case photo.Round:
			l.Edge, l.Run = relief.Rounded, photo.Run(l.Outline, l.Height)
		case photo.Chamfer:
			l.Edge, l.Run = relief.Cut, min(p.Chamfer, 0.9*l.Height)
		}
		levels = append(levels, l)
		for _, loop := range d.Outline {
			pts := make([][2]float64, len(loop))
			for i, q := range loop {
				pts[i] = [2]float64{q.X, q.Y}
			}
			s.Outline = append(s.Outline, pts)
		}
	}
	m, err := relief.Body(levels)
	if err != nil {
		var f *fault.Error
		if errors.As(err, &f) && f.Place == "" {
			f.Place = p.Outline
			if f.Place == "" {
				f.Place = p.File
			}
		}
		return nil, err
	}
	out.STL, err = meshfile.STL(m)
	return out, err
}

// find measures the picture.
func (out *Photographed) find(pic *snapshot.Picture, path string, o photo.Options) (photo.Drawn, error) {
	r, err := photo.Find(pic, path, o)
	if err != nil {
		return nil, err
	}
	s := &out.Said
	s.Reference, s.Tilt, s.Scale = plan.Ptr(r.Reference), plan.Ptr(r.Tilt), plan.Ptr(r.Scale)
	s.Residual, s.Spread = plan.Ptr(r.Residual), plan.Ptr(r.Spread)
	for _, f := range r.Flags {
		s.Flags = append(s.Flags, f.Say)
		out.Notes = append(out.Notes, Note{Code: "photo", Severity: plan.Should, Say: strings.ToUpper(f.Say[:1]) + f.Say[1:] + ".", Do: f.Do})
	}
	var b bytes.Buffer
	edge := string(o.Edge)
	if o.Edge == photo.Chamfer {
		edge += fmt.Sprintf(" %g", o.Chamfer)
	}
	err = photo.WriteOutline(&b, r.Outline, "outline of "+filepath.Base(path)+", sha256 "+pic.SHA256, fmt.Sprintf("thickness %g, edge %s", o.Thickness, edge))
	if err != nil {
		return nil, err
	}
	out.Text = b.Bytes()
	if out.Overlay, err = r.Overlay(); err != nil {
		return nil, err
	}
	// The body is made of the text, so that the text read again gives the same body.
	return photo.ParseOutline(out.Text, path)
}

// read makes a raw master of the photograph.
func (out *Photographed) raw(s Source) (raw, error) {
	r := raw{source: s}
	var err error
	r.mesh, r.facts, err = meshfile.Parse(out.STL, "photograph.stl", meshfile.Options{})
	r.facts.SHA256, r.facts.Unit, r.photo = out.sha256, "mm", out
	r.source.Unit = ""
	return r, err
}

// photoOf is the job's photograph with its paths beside the job file.
func photoOf(j *job.Job) Photo {
	k := j.Master.Photo
	p := Photo{File: j.Beside(k.File), Thickness: k.Thickness, Edge: k.Edge, Reference: k.Reference}
	if k.Outline != "" {
		p.Outline = j.Beside(k.Outline)
	}
	if k.Chamfer != nil {
		p.Chamfer = *k.Chamfer
	}
	return p
}

// PutNew writes a file that a person may have changed since: one that is there
// already stays, and that is an error.
func PutNew(path string, data []byte) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if errors.Is(err, os.ErrExist) {
		return fault.New(fault.Input, path, "name another file, or take it away; to use it as it is, name it in place of the picture",
			"there is an outline already, perhaps a corrected one")
	}
	if err == nil {
		if _, err = f.Write(data); err != nil {
			f.Close()
			os.Remove(path)
		} else {
			err = f.Close()
		}
	}
	if err != nil {
		return &fault.Error{Kind: fault.Input, Place: path, Text: "cannot be written", Hint: "check that the folder may be written and the disk has room", Cause: err}
	}
	return nil
}

// Put writes a file anew.
func Put(path string, data []byte) error {
	if err := os.WriteFile(path, data, 0o644); err != nil {
		return &fault.Error{Kind: fault.Input, Place: path, Text: "cannot be written", Hint: "check that the folder may be written and the disk has room", Cause: err}
	}
	return nil
}

// CheckSheet returns the PDF of the sheet to photograph masters on.
func CheckSheet(paper string) ([]byte, error) { return drawing.CheckSheet(paper) }
