// Package strict reads YAML the way a careful clerk reads a form: every key
// must be known, every value must be of the kind asked for, and every
// complaint names the file, the line and the column.
//
// Enters: the bytes of one YAML file. Leaves: a tree of Nodes, asked for key
// by key, and the list of Reasons collected on the way. Never: it guesses no
// type (a number is what is written, "no" is a word), follows no anchor, and
// reads no second document.
//
// It is a leaf: it knows no mapping and no rule set.
package strict

import (
	"fmt"
	"sort"
	"strings"

	"example.org/windrow/ingest"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
	"github.com/goccy/go-yaml/token"
)

// MaxBytes bounds a file and MaxDepth the brackets open at one place: beyond
// them a file is refused before it is parsed, since the time the YAML parser
// takes grows with the square of the depth.
const (
	MaxBytes = 256 << 10
	MaxDepth = 24
)

// A File is one YAML file being read, and the complaints about it.
type File struct {
	Name    string
	Code    string // code of the reasons made here, such as mapping-error
	Reasons []*ingest.Reason
}

// A Node is one value in the file. The zero Node is "absent".
type Node struct {
	f    *File
	n    ast.Node
	at   ingest.Place
	path string
	seen map[string]bool
}

// Parse parses b, which must hold exactly one mapping.
func Parse(name, code string, b []byte) (*File, Node) {
	f := &File{Name: name, Code: code}
	top := ingest.Place{File: name, Line: 1, Col: 1}
	if len(b) > MaxBytes {
		f.complain(top, "the file is too large", fmt.Sprintf("at most %d bytes", MaxBytes), fmt.Sprintf("%d bytes", len(b)), "split it into several files")
		return f, Node{f: f, at: top}
	}
	if at, deep := tooDeep(name, b); deep {
		f.complain(at, "brackets are nested too deep", fmt.Sprintf("at most %d open at one place", MaxDepth), "more", "write the values out as lines of their own, and quote texts with brackets in them")
		return f, Node{f: f, at: top}
	}
	tree, err := parser.ParseBytes(b, 0)
	if err != nil {
		at, msg := placeInError(name, err.Error())
		f.complain(at, "this is not well-formed YAML", "key: value, with equal indents for lines of one level", msg, "correct the line; a text with a colon or a hash in it needs quotes")
		return f, Node{f: f, at: top}
	}
	var docs []ast.Node
	for _, d := range tree.Docs {
		if d.Body != nil {
			docs = append(docs, d.Body)
		}
	}
	if len(docs) == 0 {
		f.complain(top, "the file is empty", "a mapping of keys", "nothing", "write the file, or delete it")
		return f, Node{f: f, at: top}
	}
	if len(docs) > 1 {
		f.complain(placeOf(name, docs[1]), "a second document begins here", "one document a file", "---", "put it in a file of its own")
	}
	nd := Node{f: f, n: docs[0], at: placeOf(name, docs[0]), seen: map[string]bool{}}
	if _, ok := nd.entries(); !ok {
		f.complain(nd.at, "the file does not begin with keys", "key: value", nd.kind(), "see the mapping guide for the first lines of a file")
		return f, Node{f: f, at: top}
	}
	return f, nd
}

// tooDeep finds where more than MaxDepth brackets are open. Quotes and
// comments are not looked into: a file that needs so many is refused anyway.
func tooDeep(name string, b []byte) (ingest.Place, bool) {
	depth, line, col := 0, 1, 0
	for _, c := range b {
		col++
		switch c {
		case '[', '{':
			if depth++; depth > MaxDepth {
				return ingest.Place{File: name, Line: line, Col: col}, true
			}
		case ']', '}':
			depth = max(0, depth-1)
		case '\n':
			line, col = line+1, 0
			depth = min(depth, MaxDepth/2) // an unclosed bracket in a text does not add up for ever
		}
	}
	return ingest.Place{}, false
}

// placeInError takes the place from the parser's "[12:3] message" text.
func placeInError(name, s string) (ingest.Place, string) {
	at := ingest.Place{File: name, Line: 1, Col: 1}
	first, _, _ := strings.Cut(s, "\n")
	var l, c int
	if n, _ := fmt.Sscanf(first, "[%d:%d]", &l, &c); n == 2 {
		at.Line, at.Col = l, c
		_, first, _ = strings.Cut(first, "] ")
	}
	return at, first
}

func placeOf(name string, n ast.Node) ingest.Place {
	at := ingest.Place{File: name, Line: 1, Col: 1}
	if n == nil {
		return at
	}
	if m, ok := n.(*ast.MappingNode); ok && len(m.Values) > 0 && !m.IsFlowStyle {
		n = m.Values[0].Key
	}
	if m, ok := n.(*ast.MappingValueNode); ok {
		n = m.Key
	}
	if t := n.GetToken(); t != nil && t.Position != nil {
		at.Line, at.Col = t.Position.Line, t.Position.Column
	}
	return at
}

func (f *File) complain(at ingest.Place, what, expected, found, next string) {
	f.Reasons = append(f.Reasons, &ingest.Reason{Code: f.Code, Severity: ingest.Fail, Where: at, What: what, Expected: expected, Found: found, Next: next})
}

// Complain adds a reason at the node.
func (n Node) Complain(what, expected, found, next string) {
	if n.f != nil {
		n.f.complain(n.at, what, expected, found, next)
	}
}

// Place is where the node stands.
func (n Node) Place() ingest.Place { return n.at }

// Has reports whether the node is there.
func (n Node) Has() bool { return n.n != nil }

type entry struct {
	key   string
	at    ingest.Place
	value ast.Node
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
		out = append(out, entry{scalarText(v.Key), placeOf(n.f.Name, v.Key), v.Value})
	}
	return out, true
}

// scalarText is the text of a scalar as the author wrote it, never as the
// YAML library would type it: 6.50 stays 6.50 and no stays no.
func scalarText(n ast.Node) string {
	switch s := n.(type) {
	case nil:
		return ""
	case *ast.StringNode:
		return s.Value
	case *ast.LiteralNode:
		return strings.TrimRight(s.Value.Value, "\n")
	case *ast.MappingKeyNode:
		return scalarText(s.Value)
	}
	t := n.GetToken()
	if t == nil {
		return ""
	}
	if t.Type == token.NullType && (t.Value == "" || t.Value == "null" || t.Value == "~") {
		return ""
	}
	return strings.TrimSpace(t.Value)
}

func isNull(n ast.Node) bool { _, ok := n.(*ast.NullNode); return n == nil || ok }

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

func (n Node) child(e entry) Node {
	c := Node{f: n.f, n: e.value, at: e.at, path: e.key, seen: map[string]bool{}}
	if isNull(e.value) {
		c.n = nil
		n.f.complain(e.at, fmt.Sprintf("%q has no value", e.key), "a value", "nothing", "write the value or remove the line")
		return c
	}
	switch e.value.(type) {
	case *ast.AnchorNode, *ast.AliasNode, *ast.TagNode:
		n.f.complain(e.at, "anchors, aliases and tags are not used here", "plain values", c.kind(), "write the value out")
		c.n = nil
		return c
	}
	if at := placeOf(n.f.Name, e.value); at.Line > 0 {
		c.at = at
	}
	return c
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
		c := n.child(entry{key: n.path, at: placeOf(n.f.Name, v), value: v})
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
		n.Complain("a list of names with values is expected here", "name: value", n.kind(), "write one name and its value a line")
		return nil
	}
	var out []Pair
	seen := map[string]ingest.Place{}
	for _, e := range es {
		if before, dup := seen[e.key]; dup {
			n.f.complain(e.at, fmt.Sprintf("%q stands here twice", e.key), "each name once", "first at line "+before.Inside(), "remove one of them")
			continue
		}
		seen[e.key] = e.at
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

// IsMap, IsList and IsText say what the node is.
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
		n.Complain(fmt.Sprintf("%q takes one text", n.path), "a text", n.kind(), "write a single value; use quotes if it holds a colon, a hash or a brace")
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
		n.Complain(fmt.Sprintf("%q takes yes or no", n.path), "yes or no", fmt.Sprintf("%q", t), "write yes or no")
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
			n.Complain(fmt.Sprintf("%q takes a whole number", n.path), "a number such as 8", fmt.Sprintf("%q", t), "write the number in plain digits")
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
	if !ok || n.n == nil {
		if n.n != nil {
			n.Complain("keys with values are expected here", "key: value", n.kind(), "see the mapping guide")
		}
		return
	}
	var known []string
	for k := range n.seen {
		known = append(known, k)
	}
	sort.Strings(known)
	dup := map[string]bool{}
	for _, e := range es {
		if !n.seen[e.key] {
			n.f.complain(e.at, fmt.Sprintf("the key %q is not known here", e.key), strings.Join(known, ", "), e.key, DidYouMean(e.key, known))
		} else if dup[e.key] {
			n.f.complain(e.at, fmt.Sprintf("the key %q stands here twice", e.key), "each key once", e.key, "remove one of them")
		}
		dup[e.key] = true
	}
}

// DidYouMean is advice that names the nearest of the known words.
func DidYouMean(word string, known []string) string {
	if near := Nearest(word, known, 1); len(near) > 0 {
		return fmt.Sprintf("did you mean %q?", near[0])
	}
	return "use one of the expected words"
}

// Nearest lists up to n of the known words that lie within a third of the
// word's length in edits, nearest first.
func Nearest(word string, known []string, n int) []string {
	type hit struct {
		w string
		d int
	}
	lw := strings.ToLower(word)
	var hits []hit
	for _, k := range known {
		d := distance(lw, strings.ToLower(k))
		if d <= max(1, max(len(lw), len(k))/3) {
			hits = append(hits, hit{k, d})
		}
	}
	sort.SliceStable(hits, func(i, j int) bool { return hits[i].d < hits[j].d })
	var out []string
	for _, h := range hits[:min(n, len(hits))] {
		out = append(out, h.w)
	}
	return out
}

// distance is the number of single-character edits between two texts
// (Levenshtein), in runes.
func distance(a, b string) int {
	x, y := []rune(a), []rune(b)
	prev := make([]int, len(y)+1)
	for j := range prev {
		prev[j] = j
	}
	for i := 1; i <= len(x); i++ {
		cur := make([]int, len(y)+1)
		cur[0] = i
		for j := 1; j <= len(y); j++ {
			c := 1
			if x[i-1] == y[j-1] {
				c = 0
			}
			cur[j] = min(prev[j]+1, cur[j-1]+1, prev[j-1]+c)
		}
		prev = cur
	}
	return prev[len(y)]
}
