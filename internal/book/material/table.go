package material

import (
	"embed"
	"encoding/csv"
	"fmt"
	"strconv"
	"strings"
	"sync"
)

//go:embed data/*.csv
var files embed.FS

type book struct {
	alloys  []Alloy
	rubbers []Rubber
	sources []Source
}

// tables reads the embedded files once. A fault in them is a fault of the
// program, found by the tests, so it panics.
var tables = sync.OnceValue(func() *book {
	b, err := read()
	if err != nil {
		panic("material tables: " + err.Error())
	}
	return b
})

func read() (*book, error) {
	b := &book{}
	for _, r := range mustLines("sources.csv", 2) {
		b.sources = append(b.sources, Source{r[0], r[1]})
	}
	if err := readAlloys(b); err != nil {
		return nil, err
	}
	return b, readRubbers(b)
}

// mustLines returns the rows of an embedded file without its header.
func mustLines(name string, columns int) [][]string {
	f, err := files.Open("data/" + name)
	if err != nil {
		panic(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.FieldsPerRecord = columns
	all, err := r.ReadAll()
	if err != nil {
		panic(fmt.Sprintf("%s: %v", name, err))
	}
	return all[1:]
}

func readAlloys(b *book) error {
	at := map[string]int{}
	for _, r := range mustLines("alloys.csv", 3) {
		a := Alloy{Name: r[0], Words: r[2]}
		f := strings.Fields(r[1])
		for i := 0; i+1 < len(f); i += 2 {
			x, err := strconv.ParseFloat(f[i+1], 64)
			if err != nil {
				return err
			}
			a.Parts = append(a.Parts, Part{f[i], x / 100})
		}
		at[a.Name] = len(b.alloys)
		b.alloys = append(b.alloys, a)
	}
	for _, r := range mustLines("alloy_values.csv", 8) {
		i, ok := at[r[0]]
		if !ok {
			return fmt.Errorf("alloy_values: no alloy %q", r[0])
		}
		if err := place(&b.alloys[i], alloyProperties, r[1], r[2], "", "", r[3:]); err != nil {
			return fmt.Errorf("%s: %w", r[0], err)
		}
	}
	for _, r := range mustLines("alloy_heat.csv", 4) {
		i, ok := at[r[0]]
		if !ok {
			return fmt.Errorf("alloy_heat: no alloy %q", r[0])
		}
		var h Heat
		for k, p := range []*float64{&h.T, &h.H, &h.Liquid} {
			x, err := strconv.ParseFloat(r[k+1], 64)
			if err != nil {
				return err
			}
			*p = x
		}
		h.H *= 1e3
		a := &b.alloys[i]
		if n := len(a.Heat); n > 0 { // the computed tables carry 0.1 kJ/kg of noise: keep them rising
			h.H = max(h.H, a.Heat[n-1].H)
			h.Liquid = max(h.Liquid, a.Heat[n-1].Liquid)
		}
		a.Heat = append(a.Heat, h)
	}
	return nil
}

func readRubbers(b *book) error {
	at := map[string]int{}
	for _, r := range mustLines("rubbers.csv", 4) {
		at[r[0]] = len(b.rubbers)
		b.rubbers = append(b.rubbers, Rubber{Name: r[0], Chemistry: r[1], ForHeat: r[2] == "yes", Words: r[3]})
	}
	for _, r := range mustLines("rubber_values.csv", 10) {
		i, ok := at[r[0]]
		if !ok {
			return fmt.Errorf("rubber_values: no rubber %q", r[0])
		}
		if err := place(&b.rubbers[i], rubberProperties, r[1], r[2], r[3], r[4], r[5:]); err != nil {
			return fmt.Errorf("%s: %w", r[0], err)
		}
	}
	return nil
}

// place stores one value; rest is unit, grade, source, memory, note.
func place[T any](t *T, list []property[T], name, x, low, high string, rest []string) error {
	for _, p := range list {
		if p.name != name {
			continue
		}
		if p.unit != rest[0] {
			return fmt.Errorf("%s is in %q, want %q", name, rest[0], p.unit)
		}
		v := Value{Grade: rest[1], Source: rest[2], Memory: rest[3] == "yes", Note: rest[4]}
		var err error
		if v.X, err = strconv.ParseFloat(x, 64); err != nil {
			return err
		}
		v.X *= p.factor
		d := spread(v.Grade) * max(v.X, -v.X)
		v.Low, v.High = v.X-d, v.X+d
		if low != "" {
			lo, err1 := strconv.ParseFloat(low, 64)
			hi, err2 := strconv.ParseFloat(high, 64)
			if err1 != nil || err2 != nil {
				return fmt.Errorf("%s: range %q to %q", name, low, high)
			}
			v.Low, v.High = lo*p.factor, hi*p.factor
		}
		*p.field(t) = v
		return nil
	}
	return fmt.Errorf("no property %q", name)
}
