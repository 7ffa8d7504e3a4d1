package config

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
	"github.com/goccy/go-yaml/token"

	"example.org/windrow/ingest"
)

// A real settings file has four kilobytes and a few brackets. The bounds are
// those within which the YAML parser ends soon: on brackets within brackets
// its time grows with the square of their number (measured: 60,000 took 14 s,
// 250,000 all the memory there was).
const (
	maxFile     = 64 << 10
	maxBrackets = 400
)

// A fileValues is what windrow.yaml says, before it meets the other sources.
type fileValues struct {
	values  map[string]any          // by dotted key, each of its field's own type
	folders []map[string]any        // nil when the file does not say
	places  map[string]ingest.Place // by dotted key; of folders also folders[0].path
	reasons []*ingest.Reason
}

// readFile reads the settings file of an office folder.
func readFile(dir string) ([]byte, *ingest.Reason) {
	fail := func(code, what, next string, err error) ([]byte, *ingest.Reason) {
		r := &ingest.Reason{Code: code, Severity: ingest.Fail, Where: ingest.Place{File: FileName}, What: what, Next: next}
		if err != nil {
			r.Found = ingest.Cause(err)
		}
		return nil, r
	}
	f, err := os.Open(filepath.Join(dir, FileName))
	if errors.Is(err, os.ErrNotExist) {
		_, r := fail(NoOffice, "this folder is not an office: it holds no "+FileName,
			"go into an office folder, or name one with --office DIR; windrow demo makes one to look at", nil)
		r.Expected, r.Found = "a folder with a file "+FileName, dir
		if dir == "." {
			r.Found = "the current folder, which has none"
		}
		if _, err := os.Stat(dir); errors.Is(err, os.ErrNotExist) {
			r.What, r.Found = "there is no office: the folder itself is not there", dir+", which does not exist"
		}
		return nil, r
	}
	const look = "see that it is a file and that you may read it"
	if err != nil {
		return fail("settings-unreadable", "the settings file cannot be opened", look, err)
	}
	defer f.Close()
	if st, err := f.Stat(); err != nil || !st.Mode().IsRegular() {
		return fail("settings-unreadable", "the settings file is not an ordinary file", look, err)
	}
	b, err := io.ReadAll(io.LimitReader(f, maxFile+1))
	switch {
	case err != nil:
		return fail("settings-unreadable", "the settings file cannot be read", look, err)
	case len(b) > maxFile:
		return fail("settings-unreadable", "the settings file is larger than 64 KiB, so it is most likely another file", look, nil)
	case !utf8.Valid(b):
		return fail("settings-unreadable", "the settings file is not UTF-8 text", "save it again as UTF-8", nil)
	}
	return b, nil
}

// parseFile reads the text of a settings file. It goes on after an error, so
// that a person sees all of them at once.
func parseFile(b []byte) *fileValues {
	fv := &fileValues{values: map[string]any{}, places: map[string]ingest.Place{}}
	b = []byte(strings.TrimPrefix(string(b), "\ufeff"))
	if n := bytes.Count(b, []byte("[")) + bytes.Count(b, []byte("{")); n > maxBrackets {
		fv.add("settings-syntax", nil, "the file holds more brackets than settings could need, so it is most likely another file",
			fmt.Sprintf("at most %d", maxBrackets), strconv.Itoa(n), "see that it is the settings file of an office")
		return fv
	}
	file, err := parser.ParseBytes(b, 0)
	if err != nil {
		fv.syntax(err)
		return fv
	}
	var body ast.Node
	for _, d := range file.Docs {
		switch {
		case d.Body == nil || d.Body.Type() == ast.CommentType:
		case body != nil:
			fv.add("settings-syntax", tokenOf(d.Body), "a second document begins here; it would be read by nobody", "one document of settings", "a line --- with more behind it",
				"remove the line ---, so that the settings are one document")
		default:
			body = d.Body
		}
	}
	if body == nil || body.Type() == ast.NullType {
		return fv
	}
	fv.block("", body)
	return fv
}

// wantsLines is what a settings file is made of.
const wantsLines = `lines such as "name: value", two spaces further in for what belongs to the line above`

func (fv *fileValues) syntax(err error) {
	var se *yaml.SyntaxError
	var de *yaml.DuplicateKeyError
	switch {
	case errors.As(err, &de):
		fv.add("settings-twice", de.Token, "this setting stands here for the second time", "each setting once", de.Token.Value, "keep one of the two")
	case errors.As(err, &se):
		if strings.Contains(se.Message, "already defined") {
			fv.add("settings-twice", se.Token, "this setting stands here for the second time", "each setting once", se.Token.Value, "keep one of the two")
			return
		}
		if strings.Contains(se.Message, "character '\t'") {
			fv.add("settings-syntax", se.Token, "this line is indented with a tab", "spaces", "a tab", "put two spaces in its place")
			return
		}
		fv.add("settings-syntax", se.Token, "the file cannot be understood from here on", wantsLines, se.Message,
			"look at the indentation, at the quotes and at the colons of this line and the one before")
	default:
		fv.reasons = append(fv.reasons, &ingest.Reason{Code: "settings-syntax", Severity: ingest.Fail,
			Where: ingest.Place{File: FileName}, What: "the file cannot be understood", Expected: wantsLines, Found: err.Error(),
			Next: "look at the indentation, at the quotes and at the colons"})
	}
}

func (fv *fileValues) add(code string, t *token.Token, what, expected, found, next string) {
	fv.reasons = append(fv.reasons, &ingest.Reason{Code: code, Severity: ingest.Fail, Where: placeOf(t),
		What: what, Expected: expected, Found: found, Next: next})
}

func placeOf(t *token.Token) ingest.Place {
	p := ingest.Place{File: FileName}
	if t != nil && t.Position != nil {
		p.Line, p.Col = t.Position.Line, t.Position.Column
	}
	return p
}

// tokenOf is the first token of a node, where a person looks for it.
func tokenOf(n ast.Node) *token.Token {
	switch n := n.(type) {
	case *ast.MappingNode:
		if len(n.Values) > 0 {
			return n.Values[0].Key.GetToken()
		}
	case *ast.MappingValueNode:
		return n.Key.GetToken()
	}
	return n.GetToken()
}

// pairs are the entries of a block, however the parser shaped it.
func pairs(n ast.Node) ([]*ast.MappingValueNode, bool) {
	switch n := n.(type) {
	case *ast.MappingNode:
		return n.Values, true
	case *ast.MappingValueNode:
		return []*ast.MappingValueNode{n}, true
	}
	return nil, false
}

// block reads the settings of one block; name is "" at the top level.
func (fv *fileValues) block(name string, n ast.Node) {
	list, ok := pairs(n)
	if !ok {
		what := "the settings under " + name + " must each stand on a line of their own"
		if name == "" {
			what = "this is not a list of settings"
		}
		fv.add("setting-type", tokenOf(n), what, "lines such as \"name: value\"", described(n), "see the comments of a new "+FileName+", which windrow demo writes")
		return
	}
	for _, kv := range list {
		key, ok := fv.key(kv)
		if !ok {
			continue
		}
		full := key
		if name != "" {
			full = name + "." + key
		}
		if f, ok := field(full); ok && !strings.Contains(key, ".") {
			fv.places[full] = placeOf(kv.Key.GetToken())
			if f.Kind == List {
				fv.list(kv.Value)
			} else if v, ok := fv.value(f, kv); ok {
				fv.values[full] = v
			}
			continue
		}
		if name == "" && isBlock(key) {
			// A block whose every line is commented out is an empty one.
			if kv.Value.Type() != ast.NullType {
				fv.block(key, kv.Value)
			}
			continue
		}
		fv.unknown(name, key, kv.Key.GetToken())
	}
}

func (fv *fileValues) unknown(block, key string, t *token.Token) {
	where := ""
	if block != "" {
		where = " under " + block
	}
	// The value is not shown: under a mistyped name it may be a secret.
	fv.add("setting-unknown", t, "there is no such setting"+where, "a setting that windrow config check prints", quoted(key), meant(block, key))
}

// key is the name of a setting, which must be plain text.
func (fv *fileValues) key(kv *ast.MappingValueNode) (string, bool) {
	if s, ok := kv.Key.(*ast.StringNode); ok {
		return s.Value, true
	}
	fv.add("setting-unknown", kv.Key.GetToken(), "the name of a setting must be plain text", "a word such as mappings", described(kv.Key), "write the setting's name before the colon")
	return "", false
}

func isBlock(key string) bool {
	for _, f := range Spec() {
		if strings.HasPrefix(f.Key, key+".") {
			return true
		}
	}
	return false
}

// list reads the watched folders.
func (fv *fileValues) list(n ast.Node) {
	seq, ok := n.(*ast.SequenceNode)
	if !ok || len(seq.Values) == 0 {
		f, _ := field("folders")
		fv.add("setting-type", tokenOf(n), "folders must be a list with at least one folder", f.Wants(), described(n),
			"write \"folders:\" and below it \"  - path: inbox\"")
		return
	}
	fv.folders = []map[string]any{}
	for i, item := range seq.Values {
		kvs, ok := pairs(item)
		if !ok {
			fv.add("setting-type", tokenOf(item), "each folder in the list needs the name of what is said of it", "\"- path: inbox\"", described(item),
				"write \"- path:\" before the folder")
			continue
		}
		m := map[string]any{}
		for _, kv := range kvs {
			key, ok := fv.key(kv)
			if !ok {
				continue
			}
			if !contains(folderKeys, key) {
				fv.unknown("folders", key, kv.Key.GetToken())
				continue
			}
			full := fmt.Sprintf("folders[%d].%s", i, key)
			fv.places[full] = placeOf(kv.Key.GetToken())
			f := Field{Key: "folders." + key, Kind: Text}
			if key == "path" {
				f.Kind = Path
			}
			if v, ok := fv.value(f, kv); ok {
				m[key] = v
			}
		}
		fv.places[fmt.Sprintf("folders[%d]", i)] = placeOf(tokenOf(item))
		fv.folders = append(fv.folders, m)
	}
}

func contains(list []string, s string) bool {
	for _, x := range list {
		if x == s {
			return true
		}
	}
	return false
}

// value reads one value of the field's own type; nothing is converted.
func (fv *fileValues) value(f Field, kv *ast.MappingValueNode) (any, bool) {
	n := kv.Value
	bad := func(found, next string) (any, bool) {
		if f.Secret {
			found = "a value that is not shown"
		}
		fv.add("setting-type", tokenOf(n), "the value of "+f.Key+" is not of the kind it must be", f.Wants(), found, next)
		return nil, false
	}
	var text string
	switch v := n.(type) {
	case *ast.StringNode:
		text = v.Value
	case *ast.LiteralNode:
		text = strings.TrimRight(v.Value.Value, "\n")
	case *ast.IntegerNode:
		if f.Kind != Count {
			next := "put the value in quotes"
			if f.Kind == Bytes || f.Kind == Duration {
				next = "write the unit behind the number"
			}
			return bad("the number "+v.Token.Value, next)
		}
		if x, ok := f.parse(v.Token.Value); ok {
			return x, true
		}
		return bad("the number "+v.Token.Value, "write a number within these bounds, in plain digits")
	case *ast.NullNode:
		return bad("nothing", "write a value, or take the line out to use the default")
	case *ast.AnchorNode, *ast.AliasNode, *ast.MergeKeyNode, *ast.TagNode:
		return bad(described(n), "write the value itself")
	default:
		next := "see windrow config check for the settings and their values"
		if f.Kind == Text || f.Kind == Path {
			next = "put the value in quotes"
		}
		return bad(described(n), next)
	}
	if f.Kind == Count {
		next := "write a number within these bounds, in plain digits"
		if t := n.GetToken().Type; t == token.DoubleQuoteType || t == token.SingleQuoteType {
			next = "write the number without quotes"
		}
		return bad("the text "+quoted(text), next)
	}
	if x, ok := f.parse(text); ok {
		return x, true
	}
	next := "write a value of this form"
	switch f.Kind {
	case Text, Path:
		next = "take out line breaks and invisible characters"
	case Word:
		if m := near(text, f.Choices); m != "" {
			next = "did you mean " + m + "?"
		}
	}
	return bad("the text "+quoted(text), next)
}

// described says in words what kind of thing stands somewhere.
func described(n ast.Node) string {
	switch n := n.(type) {
	case *ast.NullNode:
		return "nothing"
	case *ast.IntegerNode:
		return "the number " + n.Token.Value
	case *ast.FloatNode:
		return "the number " + n.Token.Value
	case *ast.InfinityNode, *ast.NanNode:
		return "something that is not a number one can count with"
	case *ast.BoolNode:
		return "the word " + n.Token.Value + ", which stands for yes or no"
	case *ast.StringNode:
		return "the text " + quoted(n.Value)
	case *ast.LiteralNode:
		return "a text of several lines"
	case *ast.MappingNode, *ast.MappingValueNode:
		return "a block of settings"
	case *ast.SequenceNode:
		if len(n.Values) == 0 {
			return "an empty list"
		}
		return "a list"
	case *ast.AnchorNode, *ast.AliasNode, *ast.MergeKeyNode:
		return "a reference to another place (& or *), which settings do not use"
	case *ast.TagNode:
		return "a type mark (!), which settings do not use"
	}
	return "something else"
}
