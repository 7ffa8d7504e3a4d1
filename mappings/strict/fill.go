package strict

import (
	"fmt"
	"reflect"
	"strings"

	"example.org/windrow/ingest"
)

// A Spot remembers where in its file a part stands, so that whatever is found
// wrong with it later can be pointed at. A struct that embeds it is told when
// it is filled.
type Spot struct {
	At   ingest.Place            // of the whole part
	keys map[string]ingest.Place // of each of its values
}

// Of is where the value of a key stands, or the whole part if the key was not
// written.
func (s Spot) Of(key string) ingest.Place {
	if p, ok := s.keys[key]; ok {
		return p
	}
	return s.At
}

// Wrote reports whether the key was written in the file.
func (s Spot) Wrote(key string) bool { _, ok := s.keys[key]; return ok }

// A Value is a text with rules of its own, such as a number. FromText sets it
// from what is written, or says why not.
type Value interface {
	FromText(s string) *Refusal
}

// A Refusal says why a text is not a Value: "x is not a plain number" has the
// Is "not a plain number".
type Refusal struct{ Code, Is, Expected, Next string }

var spotType = reflect.TypeOf(Spot{})

// Fill fills out, a pointer to a struct, from the keys of the node. A field's
// key is in its tag yaml; the tag rule:"required" asks for it to be there.
// Fields without the tag are left alone. Everything that does not fit is
// complained about, and the rest is filled.
func (n Node) Fill(out any) {
	v := reflect.ValueOf(out)
	if v.Kind() != reflect.Pointer || v.Elem().Kind() != reflect.Struct {
		n.Complain("this part of the language is not finished", "a form to fill in", fmt.Sprintf("%T", out), "send the file with this message to whoever looks after Windrow")
		return
	}
	n.struct_(v.Elem())
}

func (n Node) struct_(out reflect.Value) {
	if !n.IsMap() {
		n.wrongShape("keys with values")
		return
	}
	t := out.Type()
	spot := Spot{At: n.at, keys: map[string]ingest.Place{}}
	var missing []string
	for i := range t.NumField() {
		key := t.Field(i).Tag.Get("yaml")
		if key == "" {
			continue
		}
		c := n.Get(key)
		if c.Has() {
			spot.keys[key] = c.at
			c.fill(out.Field(i))
		} else if t.Field(i).Tag.Get("rule") == "required" && !n.wrote(key) {
			missing = append(missing, key)
		}
	}
	n.Done()
	for _, key := range missing {
		n.f.complain(CodeMissing, n.at, n.name()+" lacks the key "+fmt.Sprintf("%q", key), key, "no such line", "add the key "+fmt.Sprintf("%q", key))
	}
	if f, ok := t.FieldByName("Spot"); ok && f.Type == spotType {
		out.FieldByIndex(f.Index).Set(reflect.ValueOf(spot))
	}
}

func (n Node) fill(out reflect.Value) {
	if out.CanAddr() && out.Addr().CanInterface() {
		if v, ok := out.Addr().Interface().(Value); ok {
			n.value(v)
			return
		}
	}
	switch out.Kind() {
	case reflect.Pointer:
		out.Set(reflect.New(out.Type().Elem()))
		n.fill(out.Elem())
	case reflect.Struct:
		n.struct_(out)
	case reflect.Slice:
		if !n.IsList() {
			n.wrongShape("a list")
			return
		}
		items := n.Items()
		s := reflect.MakeSlice(out.Type(), len(items), len(items))
		for i, c := range items {
			c.fill(s.Index(i))
		}
		out.Set(s)
	case reflect.Map:
		if !n.IsMap() {
			n.wrongShape("keys with values")
			return
		}
		m := reflect.MakeMap(out.Type())
		for _, p := range n.Pairs() {
			v := reflect.New(out.Type().Elem()).Elem()
			if p.Value.Has() {
				p.Value.fill(v)
			}
			m.SetMapIndex(reflect.ValueOf(p.Key).Convert(out.Type().Key()), v)
		}
		out.Set(m)
	case reflect.String:
		if s, ok := n.scalar(); ok {
			out.SetString(s)
		}
	case reflect.Bool:
		out.SetBool(n.Bool())
	case reflect.Int:
		out.SetInt(int64(n.Int()))
	default:
		n.Complain("this part of the language is not finished", "a kind that can be filled in", out.Kind().String(), "send the file with this message to whoever looks after Windrow")
	}
}

// scalar is the one text of the node, which may not be empty.
func (n Node) scalar() (string, bool) {
	if !n.IsText() {
		n.wrongShape("a text or a number")
		return "", false
	}
	s := strings.TrimSpace(scalarText(n.n))
	if s == "" {
		n.wrongShape("a text or a number")
	}
	return s, s != ""
}

func (n Node) value(v Value) {
	s, ok := n.scalar()
	if !ok {
		return
	}
	if r := v.FromText(s); r != nil {
		n.f.complain(r.Code, n.at, n.name()+" is "+r.Is, r.Expected, s, r.Next)
	}
}

func (n Node) wrongShape(want string) {
	n.f.complain(CodeShape, n.at, n.name()+" should be "+want, want, n.kind(), "see "+n.f.lang.Guide+" for how it is written")
}
