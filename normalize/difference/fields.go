package difference

import (
	"bytes"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"example.org/windrow/ingest"
)

// An object is a JSON object as the archive keeps it, numbers as printed.
type object = map[string]any

// objectOf is the JSON of v as an object, without what only says which line
// of a mapping something was read by.
func objectOf(v any) object {
	b, err := json.Marshal(v)
	if err != nil {
		panic(err) // types of this module, which all have a JSON form
	}
	d := json.NewDecoder(bytes.NewReader(b))
	d.UseNumber()
	var o object
	if err := d.Decode(&o); err != nil {
		panic(err) // what Marshal has just written
	}
	dropRules(o)
	return o
}

// dropRules leaves out the places in mapping files. A step's rule is the name
// of a conversion, a text and not a place, and stays.
func dropRules(v any) {
	switch v := v.(type) {
	case object:
		for k, x := range v {
			if _, place := x.(object); k == "rule" && place {
				delete(v, k)
				continue
			}
			dropRules(x)
		}
	case []any:
		for _, x := range v {
			dropRules(x)
		}
	}
}

// fieldsOf compares two objects field by field. Objects inside are entered,
// except places and quantities, which are said whole; lists are said whole.
func fieldsOf(prefix string, a, b object, skip ...string) []Field {
	var keys []string
	for k := range a {
		keys = append(keys, k)
	}
	for k := range b {
		if _, both := a[k]; !both {
			keys = append(keys, k)
		}
	}
	slices.Sort(keys)
	var out []Field
	for _, k := range keys {
		if slices.Contains(skip, k) {
			continue
		}
		if _, had := a[k]; (k == "label" || k == "method") && !had {
			continue // versions of before kept no labels and printed methods, and the value is as it was
		}
		x, y := a[k], b[k]
		if text(x) == text(y) {
			continue
		}
		ox, isX := x.(object)
		oy, isY := y.(object)
		if (isX || x == nil) && (isY || y == nil) && !whole(ox) && !whole(oy) {
			out = append(out, fieldsOf(prefix+k+".", ox, oy)...)
			continue
		}
		out = append(out, Field{prefix + k, words(k, x), words(k, y)})
	}
	return out
}

// whole reports whether an object is said in one piece: a place or a quantity.
func whole(o object) bool {
	_, unit := o["unit"]
	_, value := o["value"]
	return unit && value && len(o) == 2 || isPlace(o)
}

func isPlace(o object) bool {
	if len(o) == 0 {
		return false
	}
	for k := range o {
		if !slices.Contains([]string{"file", "page", "box", "sheet", "cell", "line", "col"}, k) {
			return false
		}
	}
	return true
}

// text is a form by which contents are compared. Go writes the keys of a map
// in order, so that the same content gives the same text.
func text(v any) string {
	b, err := json.Marshal(v)
	if err != nil {
		panic(err) // it came out of JSON
	}
	return string(b)
}

// words is a content as a person would write it.
func words(key string, v any) string {
	switch v := v.(type) {
	case nil:
		return ""
	case string:
		return v
	case object:
		if len(v) == 0 {
			return ""
		}
		if whole(v) && !isPlace(v) {
			return fmt.Sprint(v["value"], " ", v["unit"])
		}
		if isPlace(v) {
			return placeWords(v)
		}
	case []any:
		var parts []string
		for _, x := range v {
			parts = append(parts, item(key, x))
		}
		return strings.Join(parts, "; ")
	}
	return text(v)
}

func placeWords(o object) string {
	b, err := json.Marshal(o)
	if err != nil {
		panic(err) // it came out of JSON
	}
	var p ingest.Place
	if err := json.Unmarshal(b, &p); err != nil {
		return string(b)
	}
	return p.Inside()
}

// item is one entry of a list: a step of a lineage, a finding, an estimate,
// anything else.
func item(key string, v any) string {
	o, ok := v.(object)
	if !ok {
		return words(key, v)
	}
	get := func(k string) string { s, _ := o[k].(string); return s }
	switch {
	case get("check") != "":
		return get("check") + ": " + get("what")
	case get("rule") != "":
		how := get("factor")
		if how != "" {
			how = " × " + how
		} else if get("equation") != "" {
			how = " by " + get("equation")
		}
		return get("rule") + ": " + words("", o["from"]) + how + " = " + words("", o["to"])
	case get("in_domain") != "": // an estimate for another method
		out := get("equation") + ": "
		if get("value") != "" {
			out += get("value") + " " + get("unit") + " by "
		}
		return out + get("method") + " (" + get("in_domain") + ")"
	}
	return text(v)
}
