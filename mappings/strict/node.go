package strict

import (
	"fmt"
	"sort"
	"strings"

	"example.org/windrow/ingest"
	"github.com/goccy/go-yaml/ast"
)

// A Node is one value in the file. The zero Node is "absent".
type Node struct {
	f    *File
	n    ast.Node
	at   ingest.Place
	path string
	seen map[string]bool
}

// Complain adds a reason at the node.
func (n Node) Complain(what, expected, found, next string) {
	if n.f != nil {
		n.f.complain(CodeValue, n.at, what, expected, found, next)
	}
}

func (n Node) shape(what, expected, found, next string) {
	n.f.complain(CodeShape, n.at, what, expected, found, next)
}

// Place is where the node stands.
func (n Node) Place() ingest.Place { return n.at }

// Has reports whether the node is there.
func (n Node) Has() bool { return n.n != nil }

type entry struct {
	key     string
	at      ingest.Place
	value   ast.Node
	keyNode ast.Node
}

func (n Node) entries() ([]entry, bool) {
	var vs []*ast.MappingValueNode
	switch m := n.n.(type) {
	case *ast.MappingNode:
		vs = m.Values
	case *ast.MappingValueNode:
		vs = []*ast.MappingValueNode{m}
	default:
		return nil, false
	}
	out := make([]entry, 0, len(vs))
	for _, v := range vs {
		out = append(out, entry{scalarText(v.Key), n.f.placeOf(v.Key), v.Value, v.Key})
	}
	return out, true
}

func (n Node) kind() string {
	switch n.n.(type) {
	case nil, *ast.NullNode:
		return "nothing"
	case *ast.MappingNode, *ast.MappingValueNode:
		return "keys with values"
	case *ast.SequenceNode:
		return "a list"
	case *ast.AnchorNode, *ast.AliasNode:
		return "an anchor or alias"
	case *ast.TagNode:
		return "a tag"
	case *ast.MergeKeyNode:
		return "a merge"
	}
	return fmt.Sprintf("%q", scalarText(n.n))
}

// Get is the value under the key, which is then known; absent when it is not
// there.
func (n Node) Get(key string) Node {
	if n.seen != nil {
		n.seen[key] = true
	}
	es, ok := n.entries()
	if !ok {
		return Node{f: n.f, at: n.at}
	}
	for _, e := range es {
		if e.key == key {
			return n.child(e)
		}
	}
	return Node{f: n.f, at: n.at, path: key}
}

// child is the value of an entry; absent where Parse has already complained
// about it.
func (n Node) child(e entry) Node {
	c := Node{f: n.f, n: e.value, at: e.at, path: e.key, seen: map[string]bool{}}
	if isNull(e.value) {
		c.n = nil
		return c
	}
	switch e.value.(type) {
	case *ast.AnchorNode, *ast.AliasNode, *ast.TagNode, *ast.MergeKeyNode:
		c.n = nil
		return c
	}
	c.at = n.f.placeOf(e.value)
	return c
}

// wrote reports whether the key stands in the file, with or without a value.
func (n Node) wrote(key string) bool {
	es, _ := n.entries()
	for _, e := range es {
		if e.key == key {
			return true
		}
	}
	return false
}

// name is what the node is called in a complaint.
func (n Node) name() string {
	if n.path == "" {
		return "the file"
	}
	return fmt.Sprintf("%q", n.path)
}

// Items are the values of a list. A single value counts as a list of one.
func (n Node) Items() []Node {
	if n.n == nil {
		return nil
	}
	s, ok := n.n.(*ast.SequenceNode)
	if !ok {
		return []Node{n}
	}
	out := make([]Node, 0, len(s.Values))
	for _, v := range s.Values {
		c := n.child(entry{key: n.path, at: n.f.placeOf(v), value: v})
		if c.Has() {
			out = append(out, c)
		}
	}
	return out
}

// Pairs are the keys and values in the order of the file; all keys are then
// known.
func (n Node) Pairs() []Pair {
	if n.n == nil {
		return nil
	}
	es, ok := n.entries()
	if !ok {
		n.shape("a list of names with values is expected here", "name: value", n.kind(), "write one name and its value a line")
		return nil
	}
	var out []Pair
	seen := map[string]bool{}
	for _, e := range es {
		if seen[e.key] {
			continue // Parse has complained
		}
		seen[e.key] = true
		if n.seen != nil {
			n.seen[e.key] = true
		}
		kn := Node{f: n.f, n: e.value, at: e.at, path: e.key}
		out = append(out, Pair{Key: e.key, KeyAt: e.at, Value: n.child(e), key: kn})
	}
	return out
}

// A Pair is a key with its value.
type Pair struct {
	Key   string
	KeyAt ingest.Place
	Value Node
	key   Node
}

// Complain adds a reason at the key.
func (p Pair) Complain(what, expected, found, next string) {
	p.key.Complain(what, expected, found, next)
}

// IsMap reports whether the node is keys with values.
func (n Node) IsMap() bool { _, ok := n.entries(); return ok && n.n != nil }

// IsList reports whether the node is a list.
func (n Node) IsList() bool { _, ok := n.n.(*ast.SequenceNode); return ok }

// IsText reports whether the node is a single value.
func (n Node) IsText() bool { return n.n != nil && !n.IsMap() && !n.IsList() }

// Text is the node's text, "" when absent.
func (n Node) Text() string {
	if n.n == nil {
		return ""
	}
	if !n.IsText() {
		n.shape(fmt.Sprintf("%q takes one text", n.path), "a text", n.kind(), "write a single value; use quotes if it holds a colon, a hash or a brace")
		return ""
	}
	return strings.TrimSpace(scalarText(n.n))
}

// Texts are the texts of a list, or the one text.
func (n Node) Texts() []string {
	var out []string
	for _, c := range n.Items() {
		if t := c.Text(); t != "" {
			out = append(out, t)
		}
	}
	return out
}

// Bool is a yes or no.
func (n Node) Bool() bool {
	if n.n == nil {
		return false
	}
	switch t := n.Text(); t {
	case "yes", "true":
		return true
	case "no", "false":
		return false
	default:
		n.shape(fmt.Sprintf("%q takes yes or no", n.path), "yes or no", fmt.Sprintf("%q", t), "write yes or no")
		return false
	}
}

// Int is a whole number of at least zero.
func (n Node) Int() int {
	if n.n == nil {
		return 0
	}
	t := n.Text()
	v := 0
	for _, r := range t {
		if r < '0' || r > '9' || v > 1<<24 {
			n.shape(fmt.Sprintf("%q takes a whole number", n.path), "a number such as 8", fmt.Sprintf("%q", t), "write the number in plain digits")
			return 0
		}
		v = v*10 + int(r-'0')
	}
	return v
}

// OneOf is a text out of a list of allowed ones.
func (n Node) OneOf(allowed ...string) string {
	t := n.Text()
	if n.n == nil || t == "" {
		return ""
	}
	for _, a := range allowed {
		if a == t {
			return t
		}
	}
	n.Complain(fmt.Sprintf("%q is not one of the words for %q", t, n.path), strings.Join(allowed, ", "), t, DidYouMean(t, allowed))
	return ""
}

// Done complains about every key of the node that was never asked for.
func (n Node) Done() {
	es, ok := n.entries()
	if !ok {
		if n.n != nil {
			n.wrongShape("keys with values")
		}
		return
	}
	var known []string
	for k := range n.seen {
		known = append(known, k)
	}
	sort.Strings(known)
	for _, e := range es {
		if !n.seen[e.key] {
			n.f.complain(CodeUnknownKey, e.at, fmt.Sprintf("the key %q is not known in %s", e.key, n.name()), strings.Join(known, ", "), e.key, DidYouMean(e.key, known))
		}
	}
}
