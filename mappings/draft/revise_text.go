package draft

import (
	"regexp"
	"slices"
	"strings"

	"example.org/windrow/mappings"
)

// A mappingText is a mapping's file in lines, so that what need not change
// stays as its author wrote it. Questions are kept beside their lines: they
// are written only at the end, as a reading is tried without them.
type mappingText struct {
	lines []textOf
}

type textOf struct {
	text string
	ask  []string
}

func newMappingText(text []byte) *mappingText {
	f := &mappingText{}
	for _, l := range strings.Split(strings.TrimRight(string(text), "\n"), "\n") {
		f.lines = append(f.lines, textOf{text: l})
	}
	return f
}

func (f *mappingText) clone() *mappingText {
	g := &mappingText{lines: slices.Clone(f.lines)}
	for i := range g.lines {
		g.lines[i].ask = slices.Clone(g.lines[i].ask)
	}
	return g
}

// plain is the text without the questions that were added.
func (f *mappingText) plain() []byte {
	var b strings.Builder
	for _, l := range f.lines {
		b.WriteString(l.text + "\n")
	}
	return []byte(b.String())
}

// String is the text with its questions.
func (f *mappingText) String() string {
	var b strings.Builder
	for _, l := range f.lines {
		b.WriteString(l.text + note(0, "", l.ask) + "\n")
	}
	return b.String()
}

// asked writes the questions into the lines, so that they are part of the
// text for whatever comes next.
func (f *mappingText) asked() *mappingText { return newMappingText([]byte(f.String())) }

// insert puts lines before the i-th, counted from 0.
func (f *mappingText) insert(i int, lines ...textOf) { f.lines = slices.Insert(f.lines, i, lines...) }

func (f *mappingText) remove(from, to int) { f.lines = slices.Delete(f.lines, from, to) }

func indentOf(s string) int { return len(s) - len(strings.TrimLeft(s, " ")) }

// end is the index behind the item or key that begins at line i: all lines
// indented deeper belong to it, and a list's items may stand right under
// their key. Blank lines and comments at its end do not.
func (f *mappingText) end(i int) int {
	depth := indentOf(f.lines[i].text)
	key := !strings.HasPrefix(strings.TrimLeft(f.lines[i].text, " "), "-")
	end := i + 1
	for j := i + 1; j < len(f.lines); j++ {
		t := strings.TrimLeft(f.lines[j].text, " ")
		switch n := indentOf(f.lines[j].text); {
		case t == "":
			continue
		case n > depth || key && n == depth && strings.HasPrefix(t, "- "):
			end = j + 1
		case strings.HasPrefix(t, "#"):
			continue
		default:
			return end
		}
	}
	return end
}

// key is the line of a key of the layout that begins at line i, or -1.
func (f *mappingText) key(i int, name string) int {
	if strings.HasPrefix(strings.TrimLeft(f.lines[i].text, " -"), name+":") {
		return i
	}
	depth := keyIndent(f.lines[i].text)
	for j := i + 1; j < f.end(i); j++ {
		if indentOf(f.lines[j].text) == depth && strings.HasPrefix(f.lines[j].text[depth:], name+":") {
			return j
		}
	}
	return -1
}

// topKey is the line of a key of the whole file, or -1.
func (f *mappingText) topKey(name string) int {
	return slices.IndexFunc(f.lines, func(l textOf) bool { return strings.HasPrefix(l.text, name+":") })
}

// keyIndent is how deep the keys of an item stand that begins with a dash.
func keyIndent(item string) int { return len(item) - len(strings.TrimLeft(item, " -")) }

// setKey writes a key of the layout that begins at line i, on one line, in
// the place of the old one or behind its format.
func (f *mappingText) setKey(i int, name, value string) {
	line := textOf{text: strings.Repeat(" ", keyIndent(f.lines[i].text)) + name + ": " + value}
	if k := f.key(i, name); k > i {
		f.remove(k, f.end(k))
		f.insert(k, line)
		return
	}
	k := f.key(i, "format")
	f.insert(max(i, k)+1, line)
}

// addItems puts items at the end of a list of the layout that begins at line
// i, with the list's key if it is not there yet.
func (f *mappingText) addItems(i int, name string, items ...textOf) {
	k := f.key(i, name)
	if k < 0 {
		k = f.end(i)
		f.insert(k, textOf{text: strings.Repeat(" ", keyIndent(f.lines[i].text)) + name + ":"})
	}
	f.insert(f.end(k), items...)
}

// textsOf makes lines of rendered ones, as questions and all.
func textsOf(rendered []string) []textOf {
	var out []textOf
	for _, l := range rendered {
		for _, x := range strings.Split(l, "\n") {
			text, q, ok := strings.Cut(x, "  # ")
			if _, after, found := strings.Cut(q, "QUESTION: "); ok && found {
				out = append(out, textOf{text: text, ask: strings.Split(after, "; QUESTION: ")})
				continue
			}
			if ok {
				x = text
			}
			out = append(out, textOf{text: x})
		}
	}
	return out
}

// copyLayout puts a copy of a layout, by its new name, behind the layout
// itself. What the layout takes from another one is written out. It gives
// the index of the copy's first line.
func (f *mappingText) copyLayout(m *mappings.Mapping, l *mappings.Layout, name string) int {
	i := l.Place.Line - 1
	at := f.end(i)
	lines := f.layoutLines(m, l)
	f.insert(at, append([]textOf{{}}, lines...)...)
	at++
	head := f.lines[at].text
	if k := f.key(at, "name"); k >= 0 {
		t := f.lines[k].text
		f.lines[k].text = t[:strings.Index(t, "name:")] + "name: " + yamlText(name)
	} else {
		f.insert(at+1, textOf{text: strings.Repeat(" ", keyIndent(head)) + "name: " + yamlText(name)})
	}
	for _, k := range []string{"until", "from"} {
		if j := f.key(at, k); j > at {
			f.remove(j, f.end(j))
		}
	}
	return at
}

// ownStyle are the keys that a layout does not take from another one.
var ownStyle = map[string]bool{"name": true, "format": true, "from": true, "until": true, "separator": true, "encoding": true, "dates": true, "numbers": true, "missing": true, "marks": true}

func (f *mappingText) layoutLines(m *mappings.Mapping, l *mappings.Layout) []textOf {
	i := l.Place.Line - 1
	lines := slices.Clone(f.lines[i:f.end(i)])
	k := f.key(i, "as in")
	if k < 0 {
		return lines
	}
	from := strings.Trim(strings.TrimSpace(strings.TrimPrefix(strings.TrimLeft(f.lines[k].text, " -"), "as in:")), `"'`)
	for _, o := range m.Layouts {
		if o.Name != from || o.Place.Line >= l.Place.Line {
			continue
		}
		own := map[string]bool{}
		depth := keyIndent(f.lines[i].text)
		for _, x := range lines {
			if key, _, ok := strings.Cut(strings.TrimLeft(x.text, " -"), ":"); ok && keyIndent(x.text) == depth {
				own[key] = true
			}
		}
		lines = slices.Delete(lines, k-i, f.end(k)-i)
		base := &mappingText{lines: f.layoutLines(m, o)}
		for j := 0; j < len(base.lines); j = base.end(j) {
			if j == 0 {
				// The first key stands behind the dash.
				first := base.lines[0].text
				base.lines[0].text = strings.Repeat(" ", keyIndent(first)) + strings.TrimLeft(first, " -")
			}
			key, _, _ := strings.Cut(strings.TrimSpace(base.lines[j].text), ":")
			if !ownStyle[key] && !own[key] && !strings.HasPrefix(key, "#") && key != "" {
				lines = append(lines, base.lines[j:base.end(j)]...)
			}
		}
	}
	return lines
}

// flowValue finds the value of a key in an item written in braces.
func flowValue(key string) *regexp.Regexp {
	return regexp.MustCompile(`([{,]\s*)` + regexp.QuoteMeta(key) + `:\s*(\[[^\]]*\]|"(?:[^"\\]|\\.)*"|[^,}\]]+)`)
}

// setFlow writes the value of a key in an item in braces, which gets the key
// at its end if it has none. It reports whether it could.
func setFlow(line, key, value string) (string, bool) {
	if g := flowValue(key).FindStringSubmatchIndex(line); g != nil {
		return line[:g[4]] + value + line[g[5]:], true
	}
	open := strings.IndexByte(line, '{')
	if open < 0 {
		return line, false
	}
	end := strings.LastIndexByte(line, '}')
	if end < open {
		return line, false
	}
	return line[:end] + ", " + key + ": " + value + line[end:], true
}

// dropFlow takes a key out of an item in braces.
func dropFlow(line, key string) string {
	g := flowValue(key).FindStringSubmatchIndex(line)
	if g == nil {
		return line
	}
	if line[g[0]] == '{' {
		rest := strings.TrimLeft(line[g[1]:], " ,")
		return line[:g[0]+1] + rest
	}
	return line[:g[0]] + line[g[1]:]
}

func hasFlow(line, key string) bool { return flowValue(key).MatchString(line) }
