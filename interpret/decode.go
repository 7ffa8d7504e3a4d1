package interpret

import (
	"errors"
	"fmt"
	"reflect"
	"sort"
	"strings"

	"example.org/windrow/ingest"
	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
	"github.com/goccy/go-yaml/token"
)

// MaxRuleFile is the size in bytes above which a rule or source file is
// refused unread.
const MaxRuleFile = 1 << 20

// A Spot remembers where in its file a part of a rule set stands, so that
// whatever is found wrong with it later can be pointed at.
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

// wrote reports whether the key was written in the file.
func (s Spot) wrote(key string) bool { _, ok := s.keys[key]; return ok }

var spotType = reflect.TypeOf(Spot{})
var numType = reflect.TypeOf(Num(""))

// decoder fills a value from a YAML file and gathers every fault instead of
// stopping at the first. It knows the plain part of YAML only: no anchors,
// aliases, tags, merges or second documents, because none of them helps a
// person who reads a table and each can hide what a table says.
type decoder struct {
	file   string
	faults []*ingest.Reason
}

// decodeStrict reads one YAML document into out, a pointer to a struct.
func decodeStrict(file string, b []byte, out any) []*ingest.Reason {
	d := &decoder{file: file}
	if len(b) > MaxRuleFile {
		d.fault("too-large", ingest.Place{}, "the file is larger than a rule file may be", fmt.Sprintf("at most %d bytes", MaxRuleFile), fmt.Sprintf("%d bytes", len(b)), "split the tables over several rule sets")
		return d.faults
	}
	f, err := parser.ParseBytes(b, 0)
	if err != nil {
		var se yaml.Error
		if errors.As(err, &se) && se.GetToken() != nil {
			d.fault("not-yaml", d.spot(se.GetToken()), "the file is not well-formed YAML", "", se.GetMessage(), "look at the indentation and the quotes on that line and the one above it")
		} else {
			d.fault("not-yaml", ingest.Place{}, "the file is not well-formed YAML", "", err.Error(), "look at its indentation and quotes")
		}
		return d.faults
	}
	if len(f.Docs) != 1 || f.Docs[0].Body == nil {
		d.fault("not-yaml", ingest.Place{}, "a rule file holds exactly one document", "one document", fmt.Sprintf("%d", len(f.Docs)), "take the --- lines out")
		return d.faults
	}
	d.value(f.Docs[0].Body, reflect.ValueOf(out).Elem(), "the file")
	return d.faults
}

func (d *decoder) fault(code string, at ingest.Place, what, expected, found, next string) {
	at.File = d.file
	d.faults = append(d.faults, &ingest.Reason{Code: code, Severity: ingest.Fail, Rule: at, What: what, Expected: expected, Found: found, Next: next})
}

func (d *decoder) spot(t *token.Token) ingest.Place {
	if t == nil || t.Position == nil {
		return ingest.Place{File: d.file}
	}
	return ingest.Place{File: d.file, Line: t.Position.Line, Col: t.Position.Column}
}

// start is where a node's first visible token stands; a block mapping's own
// token is the colon of its first entry.
func (d *decoder) start(n ast.Node) ingest.Place {
	switch v := n.(type) {
	case *ast.MappingNode:
		if !v.IsFlowStyle && len(v.Values) > 0 {
			return d.spot(v.Values[0].Key.GetToken())
		}
	case *ast.MappingValueNode:
		return d.spot(v.Key.GetToken())
	}
	return d.spot(n.GetToken())
}

func (d *decoder) value(n ast.Node, out reflect.Value, name string) {
	switch n.(type) {
	case *ast.AnchorNode, *ast.AliasNode, *ast.TagNode, *ast.MergeKeyNode:
		d.fault("yaml-shortcut", d.start(n), "anchors, aliases, tags and merges may not be used in a rule file", "the value written out", n.GetToken().Value, "write the value in full where it is used")
		return
	}
	switch out.Kind() {
	case reflect.Pointer:
		out.Set(reflect.New(out.Type().Elem()))
		d.value(n, out.Elem(), name)
	case reflect.Struct:
		d.fields(n, out, name)
	case reflect.Slice:
		seq, ok := n.(*ast.SequenceNode)
		if !ok {
			d.wrongShape(n, name, "a list")
			return
		}
		s := reflect.MakeSlice(out.Type(), len(seq.Values), len(seq.Values))
		for i, v := range seq.Values {
			d.value(v, s.Index(i), name)
		}
		out.Set(s)
	case reflect.Map:
		pairs, ok := pairsOf(n)
		if !ok {
			d.wrongShape(n, name, "keys with values")
			return
		}
		m := reflect.MakeMap(out.Type())
		for _, p := range pairs {
			k, _ := scalar(p.Key)
			v := reflect.New(out.Type().Elem()).Elem()
			d.value(p.Value, v, name+" "+k)
			m.SetMapIndex(reflect.ValueOf(k).Convert(out.Type().Key()), v)
		}
		out.Set(m)
	case reflect.String:
		s, ok := scalar(n)
		if !ok || strings.TrimSpace(s) == "" {
			d.wrongShape(n, name, "a text or a number")
			return
		}
		if out.Type() == numType {
			if _, ok := parseNum(s); !ok {
				d.fault("not-a-number", d.start(n), name+" is not a plain decimal number", "digits, such as 6.5 or 138", s, "write the number without thousands separators, units or exponents")
				return
			}
		}
		out.SetString(s)
	case reflect.Bool:
		b, ok := n.(*ast.BoolNode)
		if !ok {
			d.wrongShape(n, name, "true or false")
			return
		}
		out.SetBool(b.Value)
	case reflect.Int:
		s, ok := scalar(n)
		r, isNum := parseNum(s)
		if !ok || !isNum || !r.IsInt() || !r.Num().IsInt64() {
			d.wrongShape(n, name, "a whole number")
			return
		}
		out.SetInt(r.Num().Int64())
	default:
		d.fault("failed", d.start(n), "this part of the rule language is not finished", "", out.Kind().String(), "")
	}
}

func (d *decoder) fields(n ast.Node, out reflect.Value, name string) {
	pairs, ok := pairsOf(n)
	if !ok {
		d.wrongShape(n, name, "keys with values")
		return
	}
	t := out.Type()
	known := map[string]int{}
	var names []string
	for i := range t.NumField() {
		if tag := t.Field(i).Tag.Get("yaml"); tag != "" {
			known[tag] = i
			names = append(names, tag)
		}
	}
	spot := Spot{At: d.start(n), keys: map[string]ingest.Place{}}
	for _, p := range pairs {
		k, _ := scalar(p.Key)
		at := d.spot(p.Key.GetToken())
		i, ok := known[k]
		if !ok {
			next := "the keys here are " + strings.Join(names, ", ")
			if near := nearest(k, names); near != "" {
				next = "did you mean " + near + "? " + next
			}
			d.fault("unknown-key", at, "there is no key "+quote(k)+" in "+name, "", k, next)
			continue
		}
		if _, twice := spot.keys[k]; twice {
			d.fault("key-twice", at, "the key "+quote(k)+" stands twice in "+name, "one value", "two", "remove one of them")
			continue
		}
		if p.Value == nil {
			d.fault("no-value", at, "the key "+quote(k)+" has no value", "", "", "give it a value or remove the key")
			continue
		}
		if _, null := p.Value.(*ast.NullNode); null {
			d.fault("no-value", at, "the key "+quote(k)+" has no value", "", "", "give it a value or remove the key")
			continue
		}
		spot.keys[k] = d.start(p.Value)
		d.value(p.Value, out.Field(i), k)
	}
	for _, k := range names {
		if t.Field(known[k]).Tag.Get("rule") == "required" && !spot.wrote(k) {
			d.fault("missing-key", spot.At, name+" lacks "+quote(k), k, "", "add the key "+quote(k))
		}
	}
	if f, ok := t.FieldByName("Spot"); ok && f.Type == spotType {
		out.FieldByIndex(f.Index).Set(reflect.ValueOf(spot))
	}
}

func (d *decoder) wrongShape(n ast.Node, name, want string) {
	found := n.Type().String()
	if s, ok := scalar(n); ok {
		found = s
	}
	d.fault("wrong-shape", d.start(n), quote(name)+" should be "+want, want, found, "")
}

func pairsOf(n ast.Node) ([]*ast.MappingValueNode, bool) {
	switch v := n.(type) {
	case *ast.MappingNode:
		return v.Values, true
	case *ast.MappingValueNode:
		return []*ast.MappingValueNode{v}, true
	}
	return nil, false
}

// scalar is the text of a single value as written, so that 6.50 keeps its
// digits and NO stays a word.
func scalar(n ast.Node) (string, bool) {
	switch v := n.(type) {
	case *ast.StringNode:
		return v.Value, true
	case *ast.LiteralNode:
		return strings.TrimSpace(v.Value.Value), true
	case *ast.IntegerNode, *ast.FloatNode, *ast.BoolNode:
		return v.GetToken().Value, true
	case ast.MapKeyNode:
		return v.GetToken().Value, true
	}
	return "", false
}

func quote(s string) string { return "“" + s + "”" }

// nearest is the known word that differs least from w, or "" when none is
// close enough to be a slip of the hand.
func nearest(w string, known []string) string {
	best, at := 3, ""
	sorted := append([]string(nil), known...)
	sort.Strings(sorted)
	for _, k := range sorted {
		if n := distance(strings.ToLower(w), strings.ToLower(k)); n < best && n < len([]rune(w)) {
			best, at = n, k
		}
	}
	return at
}

// distance counts the letters to insert, remove, change or swap to make b
// from a.
func distance(a, b string) int {
	x, y := []rune(a), []rune(b)
	d := make([][]int, len(x)+1)
	for i := range d {
		d[i] = make([]int, len(y)+1)
		d[i][0] = i
	}
	for j := range y {
		d[0][j+1] = j + 1
	}
	for i := 1; i <= len(x); i++ {
		for j := 1; j <= len(y); j++ {
			cost := 1
			if x[i-1] == y[j-1] {
				cost = 0
			}
			d[i][j] = min(d[i-1][j]+1, d[i][j-1]+1, d[i-1][j-1]+cost)
			if i > 1 && j > 1 && x[i-1] == y[j-2] && x[i-2] == y[j-1] {
				d[i][j] = min(d[i][j], d[i-2][j-2]+1)
			}
		}
	}
	return d[len(x)][len(y)]
}
