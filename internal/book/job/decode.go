package job

import (
	"fmt"
	"math"
	"reflect"
	"sort"
	"strconv"
	"strings"

	"pourwright/internal/book/material"
	"pourwright/internal/ground/fault"
)

// decoder fills the structs from the parsed tree and keeps the first error in
// the order of the structs.
type decoder struct {
	places *places
	own    func() (*material.Own, error) // nil: the table alone
	err    error
}

func (d *decoder) fail(path, hint, format string, args ...any) {
	if d.err == nil {
		d.err = fault.New(fault.Input, d.places.place(path), hint, format, args...)
	}
}

// keyOf returns the key of a field and whether it must be given; "" for fields
// that are not in the file.
func keyOf(f reflect.StructField) (key string, required bool) {
	key, rest, _ := strings.Cut(f.Tag.Get("json"), ",")
	if key == "-" {
		return "", false
	}
	return key, rest == ""
}

func join(path, key string) string {
	key = clip(key)
	if path == "" {
		return key
	}
	return path + "." + key
}

// table fills the struct that out points to.
func (d *decoder) table(path string, tree map[string]any, out any) {
	v := reflect.ValueOf(out).Elem()
	t := v.Type()
	var known []string
	index := map[string]int{}
	for i := range t.NumField() {
		if key, _ := keyOf(t.Field(i)); key != "" {
			known = append(known, key)
			index[key] = i
		}
	}
	keys := make([]string, 0, len(tree))
	for k := range tree {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	for _, k := range keys {
		if _, ok := index[k]; !ok {
			d.fail(join(path, k), nearestKey(path, k, known), "unknown key %s", join(path, k))
		}
	}
	for _, key := range known {
		f := t.Field(index[key])
		_, required := keyOf(f)
		x, ok := tree[key]
		if !ok {
			if required && f.Type.Kind() == reflect.Struct { // its own missing keys say more
				x, ok = map[string]any{}, true
			} else if required {
				d.fail(path, fmt.Sprintf("add %s under %s: %s", key, section(path), f.Tag.Get("jsonschema")), "%s is missing", join(path, key))
			}
		}
		if ok {
			d.put(join(path, key), x, v.Field(index[key]), f.Tag)
		}
	}
}

// nearestKey says which key may have been meant: one of this section, or the
// same key of another.
func nearestKey(path, key string, known []string) string {
	t := reflect.TypeFor[Job]()
	for i := range t.NumField() {
		f := t.Field(i)
		section, _ := keyOf(f)
		ft := f.Type
		if ft.Kind() == reflect.Slice {
			ft = ft.Elem()
		}
		if section == "" || section == path || ft.Kind() != reflect.Struct {
			continue
		}
		for k := range ft.NumField() {
			if name, _ := keyOf(ft.Field(k)); name == key && fault.Nearest(key, known) == "" {
				return fmt.Sprintf("%s stands under [%s]", key, section)
			}
		}
	}
	if n := fault.Nearest(key, known); n != "" {
		return "nearest: " + join(path, n)
	}
	return "known here: " + strings.Join(known, ", ")
}

// put stores one value, with type, length and bounds checked.
func (d *decoder) put(path string, x any, v reflect.Value, tag reflect.StructTag) {
	if v.Kind() == reflect.Pointer {
		v.Set(reflect.New(v.Type().Elem()))
		d.put(path, x, v.Elem(), tag)
		return
	}
	switch v.Interface().(type) {
	case Control:
		d.control(path, x, v)
		return
	case Thickness:
		d.thickness(path, x, v)
		return
	}
	switch v.Kind() {
	case reflect.String:
		d.text(path, x, v, tag)
	case reflect.Bool:
		b, ok := x.(bool)
		if !ok {
			d.wrong(path, "true or false", x)
			return
		}
		v.SetBool(b)
	case reflect.Float64:
		f, ok := number(x)
		if !ok {
			d.wrong(path, "a number", x)
			return
		}
		if math.IsNaN(f) || math.IsInf(f, 0) {
			d.fail(path, "give a finite number", "%s is %s", path, strconv.FormatFloat(f, 'g', -1, 64))
			return
		}
		d.bounds(path, f, tag)
		v.SetFloat(f)
	case reflect.Int:
		f, ok := number(x)
		if !ok || f != math.Trunc(f) || math.Abs(f) > 1e9 {
			d.wrong(path, "a whole number", x)
			return
		}
		d.bounds(path, f, tag)
		v.SetInt(int64(f))
	case reflect.Array, reflect.Slice:
		d.list(path, x, v)
	case reflect.Struct:
		m, ok := x.(map[string]any)
		if !ok {
			d.fail(path, fmt.Sprintf("write [%s] and its keys below it", path), "%s is a section, not %s", path, kindOf(x))
			return
		}
		d.table(path, m, v.Addr().Interface())
	}
}

func (d *decoder) text(path string, x any, v reflect.Value, tag reflect.StructTag) {
	s, ok := x.(string)
	if !ok {
		d.wrong(path, "text in quotes", x)
		return
	}
	if len(s) > 1000 {
		d.fail(path, "shorten it", "%s is longer than 1000 letters", path)
		return
	}
	if list := strings.Fields(tag.Get("oneof")); len(list) > 0 {
		found := false
		for _, w := range list {
			found = found || w == s
		}
		if !found {
			hint := "one of " + strings.Join(list, ", ")
			if n := fault.Nearest(s, list); n != "" {
				hint = "nearest: " + n + "; " + hint
			}
			d.fail(path, hint, "%s cannot be %.60q", path, s)
		}
	}
	v.SetString(s)
}

// bounds checks min, over and max of a tag.
func (d *decoder) bounds(path string, f float64, tag reflect.StructTag) {
	if s := tag.Get("min"); s != "" {
		if b, _ := strconv.ParseFloat(s, 64); f < b {
			d.fail(path, "give at least "+s, "%s is %g", path, f)
		}
	}
	if s := tag.Get("over"); s != "" {
		if b, _ := strconv.ParseFloat(s, 64); f <= b {
			d.fail(path, "give more than "+s, "%s is %g", path, f)
		}
	}
	if s := tag.Get("max"); s != "" {
		if b, _ := strconv.ParseFloat(s, 64); f > b {
			d.fail(path, "give at most "+s+" and mind the unit", "%s is %g", path, f)
		}
	}
}

func (d *decoder) list(path string, x any, v reflect.Value) {
	var items []any
	switch l := x.(type) {
	case []any:
		items = l
	case []map[string]any:
		for _, m := range l {
			items = append(items, m)
		}
	default:
		d.wrong(path, listWords(v), x)
		return
	}
	if v.Kind() == reflect.Array {
		if len(items) != v.Len() {
			d.fail(path, "write it as in [12, 4, 9]", "%s holds %d values, want %s", path, len(items), listWords(v))
			return
		}
	} else {
		v.Set(reflect.MakeSlice(v.Type(), len(items), len(items)))
	}
	for i, it := range items {
		d.put(path+"["+strconv.Itoa(i)+"]", it, v.Index(i), "")
	}
}

func listWords(v reflect.Value) string {
	if v.Kind() == reflect.Array {
		return "three numbers"
	}
	return "a list in brackets"
}

// control takes [[x, y, z], [x, y, z], length].
func (d *decoder) control(path string, x any, v reflect.Value) {
	const words = "[[x, y, z], [x, y, z], length]"
	l, ok := x.([]any)
	if !ok || len(l) != 3 {
		d.fail(path, "write it as "+words+", mm", "%s is not two points and a length", path)
		return
	}
	var c Control
	d.put(path+"[0]", l[0], reflect.ValueOf(&c.From).Elem(), "")
	d.put(path+"[1]", l[1], reflect.ValueOf(&c.To).Elem(), "")
	d.put(path+"[2]", l[2], reflect.ValueOf(&c.Length).Elem(), `over:"0" max:"10000"`)
	v.Set(reflect.ValueOf(c))
}

// thickness takes [[x, y, z], t].
func (d *decoder) thickness(path string, x any, v reflect.Value) {
	l, ok := x.([]any)
	if !ok || len(l) != 2 {
		d.fail(path, "write it as [[x, y, z], thickness], mm", "%s is not a point and a thickness", path)
		return
	}
	var c Thickness
	d.put(path+"[0]", l[0], reflect.ValueOf(&c.At).Elem(), "")
	d.put(path+"[1]", l[1], reflect.ValueOf(&c.T).Elem(), `over:"0" max:"1000"`)
	v.Set(reflect.ValueOf(c))
}

func (d *decoder) wrong(path, want string, x any) {
	d.fail(path, "write "+want, "%s must be %s, not %s", path, want, kindOf(x))
}

func number(x any) (float64, bool) {
	switch n := x.(type) {
	case float64:
		return n, true
	case int64:
		return float64(n), true
	}
	return 0, false
}

func kindOf(x any) string {
	switch x := x.(type) {
	case string:
		return "text"
	case bool:
		return "true or false"
	case int64, float64:
		return fmt.Sprintf("the number %v", x)
	case []any, []map[string]any:
		return "a list"
	case map[string]any:
		return "a section"
	}
	return "a date"
}

// sheet hands every data sheet value of a section to set, in the order of the
// struct.
func (d *decoder) sheet(path string, values any, set func(string, float64) error) {
	v := reflect.ValueOf(values).Elem()
	for i := range v.NumField() {
		f := v.Type().Field(i)
		name := f.Tag.Get("sheet")
		if name == "" || v.Field(i).IsNil() {
			continue
		}
		if err := set(name, v.Field(i).Elem().Float()); err != nil {
			key, _ := keyOf(f)
			d.wrap(join(path, key), err)
		}
	}
}

// section writes a path as the header of its section.
func section(path string) string {
	if p, _, ok := strings.Cut(path, "["); ok {
		return "[[" + p + "]]"
	}
	return "[" + path + "]"
}
