package plan

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"reflect"
	"sort"
	"strconv"
	"strings"

	"pourwright/internal/ground/fault"
)

// digits is the number of significant digits a number is written with: enough
// for a relative error of 5e-13, few enough to hide the last bits in which two
// orders of summation differ.
const digits = 12

// Write writes plan.json: keys in the order of the types, timing last, every
// key present, empty lists as [], numbers with 12 significant digits, each
// point on one line. The same plan gives the same bytes. A number that is not
// finite is an error of kind Internal that names its path, and nothing is
// written.
func Write(w io.Writer, p *Plan) error { return write(w, p) }

// WriteInspection does the same for the sections that the verb master prints.
func WriteInspection(w io.Writer, i *Inspection) error { return write(w, i) }

func write(w io.Writer, v any) error {
	if err := Finite(v); err != nil {
		return err
	}
	b := bufio.NewWriter(w)
	e := encoder{b}
	e.value(reflect.ValueOf(v), 0)
	b.WriteByte('\n')
	return b.Flush()
}

// Finite returns an error that names the first number of v that is NaN or
// infinite, by its path in the JSON.
func Finite(v any) error {
	if path, x, bad := notFinite(reflect.ValueOf(v)); bad {
		return fault.New(fault.Internal, "plan"+path, "report this with the job and the master", "a number is %s", strconv.FormatFloat(x, 'g', -1, 64))
	}
	return nil
}

func notFinite(v reflect.Value) (string, float64, bool) {
	switch v.Kind() {
	case reflect.Float64:
		x := v.Float()
		return "", x, math.IsNaN(x) || math.IsInf(x, 0)
	case reflect.Pointer, reflect.Interface:
		if !v.IsNil() {
			return notFinite(v.Elem())
		}
	case reflect.Struct:
		for i := range v.NumField() {
			if path, x, bad := notFinite(v.Field(i)); bad {
				return "." + keyOf(v.Type().Field(i)) + path, x, true
			}
		}
	case reflect.Slice, reflect.Array:
		for i := range v.Len() {
			if path, x, bad := notFinite(v.Index(i)); bad {
				return "[" + strconv.Itoa(i) + "]" + path, x, true
			}
		}
	case reflect.Map:
		for _, k := range sortedKeys(v) {
			if path, x, bad := notFinite(v.MapIndex(reflect.ValueOf(k))); bad {
				return "." + k + path, x, true
			}
		}
	}
	return "", 0, false
}

func keyOf(f reflect.StructField) string {
	key, _, _ := strings.Cut(f.Tag.Get("json"), ",")
	return key
}

func sortedKeys(m reflect.Value) []string {
	keys := make([]string, 0, m.Len())
	for _, k := range m.MapKeys() {
		keys = append(keys, k.String())
	}
	sort.Strings(keys)
	return keys
}

type encoder struct{ w *bufio.Writer }

func (e encoder) line(depth int) {
	e.w.WriteByte('\n')
	for range depth {
		e.w.WriteString("  ")
	}
}

func (e encoder) value(v reflect.Value, depth int) {
	switch v.Kind() {
	case reflect.Pointer, reflect.Interface:
		if v.IsNil() {
			e.w.WriteString("null")
			return
		}
		e.value(v.Elem(), depth)
	case reflect.Struct:
		e.w.WriteByte('{')
		for i := range v.NumField() {
			if i > 0 {
				e.w.WriteByte(',')
			}
			e.line(depth + 1)
			e.text(keyOf(v.Type().Field(i)))
			e.w.WriteString(": ")
			e.value(v.Field(i), depth+1)
		}
		e.line(depth)
		e.w.WriteByte('}')
	case reflect.Map:
		e.table(v, depth)
	case reflect.Slice, reflect.Array:
		e.list(v, depth)
	case reflect.String:
		e.text(v.String())
	case reflect.Bool:
		e.w.WriteString(strconv.FormatBool(v.Bool()))
	case reflect.Int:
		e.w.WriteString(strconv.FormatInt(v.Int(), 10))
	case reflect.Float64:
		e.w.Write(Number(nil, v.Float()))
	default:
		panic(fmt.Sprintf("plan: no way to write a %s", v.Type()))
	}
}

// table writes a map with its keys sorted, numbers on one line.
func (e encoder) table(v reflect.Value, depth int) {
	e.w.WriteByte('{')
	for i, k := range sortedKeys(v) {
		if i > 0 {
			e.w.WriteString(", ")
		}
		e.text(k)
		e.w.WriteString(": ")
		e.value(v.MapIndex(reflect.ValueOf(k)), depth)
	}
	e.w.WriteByte('}')
}

// list writes numbers on one line and everything else one entry a line.
func (e encoder) list(v reflect.Value, depth int) {
	n := v.Len()
	kind := v.Type().Elem().Kind()
	flat := kind == reflect.Float64 || kind == reflect.Int || kind == reflect.String
	e.w.WriteByte('[')
	for i := range n {
		switch {
		case flat && i > 0:
			e.w.WriteString(", ")
		case !flat:
			if i > 0 {
				e.w.WriteByte(',')
			}
			e.line(depth + 1)
		}
		e.value(v.Index(i), depth+1)
	}
	if !flat && n > 0 {
		e.line(depth)
	}
	e.w.WriteByte(']')
}

// text writes a JSON string; invalid UTF-8 becomes the replacement character.
func (e encoder) text(s string) {
	b, err := json.Marshal(s)
	if err != nil { // cannot happen for a string
		panic(err)
	}
	e.w.Write(b)
}

// Number appends x as plan.json writes it: 12 significant digits, no trailing
// zeros, never a minus sign before zero.
func Number(b []byte, x float64) []byte {
	if x == 0 {
		return append(b, '0')
	}
	s := strconv.FormatFloat(x, 'g', digits, 64)
	mantissa, exponent, has := strings.Cut(s, "e")
	if strings.Contains(mantissa, ".") {
		mantissa = strings.TrimRight(strings.TrimRight(mantissa, "0"), ".")
	}
	b = append(b, mantissa...)
	if has {
		b = append(b, 'e')
		b = append(b, exponent...)
	}
	return b
}
