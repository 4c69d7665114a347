package sequence

import (
	"context"
	"encoding/json"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/par"
)

// File is one file of a plan's folder.
type File struct {
	Name  string
	Write func(io.Writer) error
}

// ours are the names that a plan's folder may hold.
var ours = append([]string{
	"plan.json", "card.pdf", "templates.pdf", "half-1.stl", "half-1.3mf", "half-2.stl", "half-2.3mf", "cavity.stl",
	"follow-board.stl", "formers.stl", "split.png", "layout.png", "section.png",
}, ofPour...)

// Fits reports whether a plan may be written to dir: it is absent, empty, or
// holds a plan and nothing else.
func Fits(dir string) error {
	_, err := look(dir)
	return err
}

// asidePrefix begins the name of the hidden folder in which a plan is written
// before it takes its place; one that a killed run left behind is no reason to
// leave a folder alone.
const asidePrefix = ".pourwright-"

// look returns whether dir is there.
func look(dir string) (there bool, err error) {
	st, err := os.Lstat(dir)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return false, nil
	case err != nil:
		return false, folderFault(dir, err)
	}
	if st.Mode()&fs.ModeSymlink != 0 {
		if st, err = os.Stat(dir); err != nil {
			return false, folderFault(dir, err)
		}
	}
	if !st.IsDir() {
		return true, fault.New(fault.Input, dir, "name another folder with --out", "there is a file of that name, not a folder")
	}
	list, err := os.ReadDir(dir)
	if err != nil {
		return true, folderFault(dir, err)
	}
	list = slices.DeleteFunc(list, func(e fs.DirEntry) bool { return e.IsDir() && strings.HasPrefix(e.Name(), asidePrefix) })
	if len(list) == 0 {
		return true, nil
	}
	for _, e := range list {
		if !slices.Contains(ours, e.Name()) || !e.Type().IsRegular() {
			return true, other(dir, "it holds "+e.Name()+", which is not part of a plan")
		}
	}
	var head struct {
		Schema string `json:"schema"`
	}
	data, err := os.ReadFile(filepath.Join(dir, "plan.json"))
	if err != nil || json.Unmarshal(data, &head) != nil || !strings.HasPrefix(head.Schema, "pourwright/plan/") {
		return true, other(dir, "it is not empty and holds no plan.json of ours")
	}
	return true, nil
}

func other(dir, why string) error {
	return fault.New(fault.Input, dir, "name an empty or a new folder with --out", "this folder is left alone: %s", why)
}

func folderFault(dir string, err error) error {
	var p *fs.PathError
	text := err.Error()
	if errors.As(err, &p) {
		text = p.Err.Error()
	}
	var l *os.LinkError
	if errors.As(err, &l) {
		text = l.Err.Error()
	}
	return &fault.Error{Kind: fault.Input, Place: dir, Text: "the plan cannot be written: " + text, Hint: "check that the folder may be written and the disk has room, or name another with --out", Cause: err}
}

// Save writes the folder of a plan. All files are written to a hidden folder
// beside it, which then takes its place; where any of that fails, what was at
// dir before is still there and nothing else is.
func Save(ctx context.Context, r *Result, dir string) error {
	dir = filepath.Clean(dir)
	return r.clock.whole("write", func() error {
		there, err := look(dir)
		if err != nil {
			return err
		}
		// A link is followed, so that the folder it names is replaced, not it.
		if there {
			if dir, err = filepath.EvalSymlinks(dir); err != nil {
				return folderFault(dir, err)
			}
		}
		if dir, err = filepath.Abs(dir); err != nil {
			return folderFault(dir, err)
		}
		made, err := makeParents(filepath.Dir(dir))
		if err != nil {
			return folderFault(dir, err)
		}
		if err = put(ctx, r, dir, there); err != nil {
			for _, d := range made {
				os.Remove(d)
			}
		}
		return err
	})
}

// makeParents makes the folders above the plan's and returns those that were
// not there, the deepest first.
func makeParents(dir string) ([]string, error) {
	var made []string
	for d := dir; ; d = filepath.Dir(d) {
		if _, err := os.Stat(d); err == nil || d == filepath.Dir(d) {
			break
		}
		made = append(made, d)
	}
	err := os.MkdirAll(dir, 0o755)
	if err != nil {
		for _, d := range made {
			os.Remove(d)
		}
	}
	return made, err
}

// put writes the files aside and moves them into place.
func put(ctx context.Context, r *Result, dir string, there bool) error {
	beside := filepath.Dir(dir)
	if there && !sameDevice(beside, dir) { // a mount: nothing can be moved into it from beside it
		beside = dir
	}
	aside, err := os.MkdirTemp(beside, asidePrefix)
	if err != nil {
		return folderFault(dir, err)
	}
	defer os.RemoveAll(aside)
	fresh := filepath.Join(aside, "new")
	if err := os.Mkdir(fresh, 0o755); err != nil {
		return folderFault(dir, err)
	}
	if err := writeFiles(ctx, r, fresh); err != nil {
		if fault.KindOf(err) == fault.Interrupted {
			return err
		}
		return folderFault(dir, err)
	}
	if there {
		return replace(fresh, dir, filepath.Join(aside, "old"))
	}
	if err := os.Rename(fresh, dir); err != nil {
		return folderFault(dir, err)
	}
	return nil
}

// replace puts fresh in the place of dir, and dir back where that fails. The
// folder of this process, and one that cannot be moved (a mount), keeps its
// place: its files are replaced one by one, plan.json last.
func replace(fresh, dir, old string) error {
	here, _ := os.Getwd()
	if real, err := filepath.EvalSymlinks(here); err == nil {
		here = real
	}
	if dir != here && os.Rename(dir, old) == nil {
		if err := os.Rename(fresh, dir); err != nil {
			return folderFault(dir, errors.Join(err, os.Rename(old, dir)))
		}
		return nil
	}
	for _, name := range ours {
		from, to := filepath.Join(fresh, name), filepath.Join(dir, name)
		if name == "plan.json" {
			continue
		}
		err := os.Rename(from, to)
		if errors.Is(err, fs.ErrNotExist) {
			err = os.Remove(to)
		}
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return folderFault(dir, err)
		}
	}
	if err := os.Rename(filepath.Join(fresh, "plan.json"), filepath.Join(dir, "plan.json")); err != nil {
		return folderFault(dir, err)
	}
	return nil
}

// writeFiles writes every file of the plan to dir.
func writeFiles(ctx context.Context, r *Result, dir string) error {
	files := append([]File{{"plan.json", func(w io.Writer) error { _, err := w.Write(r.JSON); return err }}}, r.Files...)
	var lock sync.Mutex
	var first error
	par.For(len(files), 1, func(i, _ int) {
		err := ctx.Err()
		if err == nil {
			err = writeFile(filepath.Join(dir, files[i].Name), files[i].Write)
		} else {
			err = fault.New(fault.Interrupted, "", "", "interrupted")
		}
		if err != nil {
			lock.Lock()
			defer lock.Unlock()
			if first == nil {
				first = err
			}
		}
	})
	return first
}

func writeFile(path string, write func(io.Writer) error) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return err
	}
	return errors.Join(write(f), f.Close())
}
