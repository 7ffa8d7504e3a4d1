// Package strict reads YAML the way a careful clerk reads a form: every key
// must be known, every value must be of the kind asked for, and every
// complaint names the file, the line and the column.
//
// Enters: the bytes of one YAML file. Leaves: a tree of Nodes, asked for key
// by key or filled into a struct (Fill), and the list of Reasons collected on
// the way. Never: it guesses no type (a number is what is written, "no" is a
// word), follows no anchor, and reads no second document.
//
// It is a leaf: it knows no mapping and no rule set. What the two differ in
// is in a Language.
package strict

import (
	"errors"
	"fmt"
	"strings"

	"example.org/windrow/ingest"
	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
	"github.com/goccy/go-yaml/token"
)

// Beyond these bounds a file is refused before it is parsed, since the time
// the YAML parser takes grows with the square of how deep values are nested.
const (
	MaxBytes = 256 << 10 // of a file
	MaxDepth = 24        // brackets open at one place
	MaxLine  = 4096      // bytes of a line, which can open a list with every two of them
)

// A Language is what is written in a file, as far as its reader must know.
type Language struct {
	Code   string // code of every reason, such as mapping-error; "" gives each kind of mistake a code of its own
	InRule bool   // whether places go to Reason.Rule instead of Reason.Where
	Guide  string // where a person sees how it is written, such as "the mapping guide"
}

// The codes of the kinds of mistake, where the Language has no code for all.
const (
	CodeTooLarge   = "too-large"     // too many bytes, too deep, too long a line
	CodeNotYAML    = "not-yaml"      // not well-formed, empty, or more than one document
	CodeShortcut   = "yaml-shortcut" // an anchor, alias, tag or merge
	CodeUnknownKey = "unknown-key"
	CodeKeyTwice   = "key-twice"
	CodeNoValue    = "no-value"
	CodeMissing    = "missing-key"
	CodeShape      = "wrong-shape" // a list where a text is due, and so on
	CodeValue      = "wrong-value" // the complaints of those who read the nodes
)

// A File is one YAML file being read, and the complaints about it.
type File struct {
	Name    string
	Reasons []*ingest.Reason
	lang    Language
}

// Parse parses b, which must hold exactly one mapping. Mistakes that lie in
// the YAML itself - a key written twice, an anchor, a key without a value -
// are found here, wherever in the file they stand; the node is absent if any
// of them keeps the file from being read.
func Parse(name string, b []byte, lang Language) (*File, Node) {
	f := &File{Name: name, lang: lang}
	top := ingest.Place{File: name, Line: 1, Col: 1}
	none := Node{f: f, at: top}
	if len(b) > MaxBytes {
		f.complain(CodeTooLarge, top, "the file is too large", fmt.Sprintf("at most %d bytes", MaxBytes), fmt.Sprintf("%d bytes", len(b)), "split it into several files")
		return f, none
	}
	if !f.bounded(b) {
		return f, none
	}
	// The parser's own refusal of a second key is one English sentence
	// without advice, and ends the reading; ours comes with all the others.
	tree, err := parser.ParseBytes(b, 0, parser.AllowDuplicateMapKey())
	if err != nil {
		at, msg := f.placeInError(err)
		f.complain(CodeNotYAML, at, "this is not well-formed YAML", "key: value, with equal indents for lines of one level", msg,
			"look at the indents and the quotes of this line and the one above it; a text with a colon or a hash in it needs quotes")
		return f, none
	}
	var docs []ast.Node
	for _, d := range tree.Docs {
		if d.Body != nil {
			docs = append(docs, d.Body)
		}
	}
	if len(docs) == 0 {
		f.complain(CodeNotYAML, top, "the file is empty", "a mapping of keys", "nothing", "write the file, or delete it")
		return f, none
	}
	if _, ok := docs[0].(*ast.DirectiveNode); ok {
		f.complain(CodeShortcut, f.placeOf(docs[0]), "directives are not used here", "key: value", "%", "take the line out, and the --- below it")
		return f, none
	}
	if len(docs) > 1 {
		f.complain(CodeNotYAML, f.placeOf(docs[1]), "a second document begins here", "one document a file", "---", "put it in a file of its own")
	}
	nd := Node{f: f, n: docs[0], at: f.placeOf(docs[0]), seen: map[string]bool{}}
	if _, ok := nd.entries(); !ok {
		f.complain(CodeNotYAML, nd.at, "the file does not begin with keys", "key: value", nd.kind(), "see "+lang.Guide+" for the first lines of a file")
		return f, none
	}
	f.plain(docs[0], "")
	return f, nd
}

// plain complains about everything in n that is not the plain part of YAML:
// scalars, lists and keys with values, each key once. Anchors, tags and
// merges help nobody who reads a table, and each can hide what it says.
func (f *File) plain(n ast.Node, key string) {
	switch v := n.(type) {
	case *ast.AnchorNode, *ast.AliasNode, *ast.TagNode, *ast.MergeKeyNode:
		f.complain(CodeShortcut, f.placeOf(n), "anchors, aliases, tags and merges are not used here", "the value written out", Node{f: f, n: n}.kind(), "write the value in full where it is used")
	case *ast.SequenceNode:
		for _, x := range v.Values {
			if isNull(x) {
				f.complain(CodeNoValue, f.placeOf(x), fmt.Sprintf("the list %q has an item without a value", key), "a value", "nothing", "write the value or remove the line")
				continue
			}
			f.plain(x, key)
		}
	case *ast.MappingNode, *ast.MappingValueNode:
		es, _ := Node{f: f, n: n}.entries()
		first := map[string]ingest.Place{}
		for _, e := range es {
			switch e.keyNode.(type) {
			case *ast.MergeKeyNode, *ast.AnchorNode, *ast.AliasNode, *ast.TagNode:
				f.plain(e.keyNode, "")
				continue
			}
			if !plainKey(e.keyNode) {
				f.complain(CodeShape, e.at, "a key is one word or text", "key: value", "a list or keys as a key", "write the key as a text")
				continue
			}
			if before, twice := first[e.key]; twice {
				f.complain(CodeKeyTwice, e.at, fmt.Sprintf("the key %q stands here twice", e.key), "each key once", "first at line "+before.Inside(), "remove one of them")
				continue
			}
			first[e.key] = e.at
			if isNull(e.value) {
				f.complain(CodeNoValue, e.at, fmt.Sprintf("the key %q has no value", e.key), "a value", "nothing", "write the value or remove the line")
				continue
			}
			f.plain(e.value, e.key)
		}
	}
}

// plainKey reports whether a key is a single value.
func plainKey(n ast.Node) bool {
	if k, ok := n.(*ast.MappingKeyNode); ok {
		n = k.Value
	}
	switch n.(type) {
	case nil, *ast.MappingNode, *ast.MappingValueNode, *ast.SequenceNode, *ast.AnchorNode, *ast.AliasNode, *ast.TagNode:
		return false
	}
	return true
}

// bounded complains where more than MaxDepth brackets are open or a line is
// too long. Quotes and comments are not looked into: a file that needs so
// many brackets is refused anyway.
func (f *File) bounded(b []byte) bool {
	depth, line, col := 0, 1, 0
	for _, c := range b {
		col++
		if col > MaxLine {
			f.complain(CodeTooLarge, ingest.Place{File: f.Name, Line: line, Col: col}, "the line is too long", fmt.Sprintf("at most %d bytes", MaxLine), "more", "write it as several lines")
			return false
		}
		switch c {
		case '[', '{':
			if depth++; depth > MaxDepth {
				f.complain(CodeTooLarge, ingest.Place{File: f.Name, Line: line, Col: col}, "brackets are nested too deep", fmt.Sprintf("at most %d open at one place", MaxDepth), "more", "write the values out as lines of their own, and quote texts with brackets in them")
				return false
			}
		case ']', '}':
			depth = max(0, depth-1)
		case '\n':
			line, col = line+1, 0
			depth = min(depth, MaxDepth/2) // an unclosed bracket in a text does not add up for ever
		}
	}
	return true
}

// placeInError takes the place and the sentence out of the parser's error,
// which else draws a picture of the lines around it.
func (f *File) placeInError(err error) (ingest.Place, string) {
	at := ingest.Place{File: f.Name, Line: 1, Col: 1}
	var se yaml.Error
	if errors.As(err, &se) {
		if t := se.GetToken(); t != nil && t.Position != nil {
			at.Line, at.Col = t.Position.Line, t.Position.Column
		}
		return at, se.GetMessage()
	}
	first, _, _ := strings.Cut(err.Error(), "\n")
	return at, first
}

// placeOf is where the first visible letter of a node stands; a block of
// keys has the colon of its first entry for a token.
func (f *File) placeOf(n ast.Node) ingest.Place {
	at := ingest.Place{File: f.Name, Line: 1, Col: 1}
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

func (f *File) complain(code string, at ingest.Place, what, expected, found, next string) {
	if f.lang.Code != "" {
		code = f.lang.Code
	}
	r := &ingest.Reason{Code: code, Severity: ingest.Fail, What: what, Expected: expected, Found: found, Next: next}
	if f.lang.InRule {
		r.Rule = at
	} else {
		r.Where = at
	}
	f.Reasons = append(f.Reasons, r)
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
