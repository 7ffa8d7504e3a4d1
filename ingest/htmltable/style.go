package htmltable

import (
	"strconv"
	"strings"

	"golang.org/x/net/html"

	"example.org/windrow/ingest"
)

// A look is how the text at one place of the document appears.
type look struct {
	gone   bool // not laid out at all, with everything in it
	unseen bool // laid out and not visible
	pre    bool // line breaks and spaces are kept
	struck bool
	ink    string // colour as #rrggbb
	ground string // colour behind, "" when not known
}

var plain = look{ink: "#000000", ground: "#ffffff"}

func (l look) hidden() bool { return l.gone || l.unseen || l.ink != "" && l.ink == l.ground }

// A rule is a rule of a style sheet that hides something, with a selector
// that can be followed: an element, classes and an id, all of which must fit.
type rule struct {
	tag, id string
	classes []string
	style   string
}

func attr(n *html.Node, name string) (string, bool) {
	for _, a := range n.Attr {
		if a.Namespace == "" && a.Key == name {
			return a.Val, true
		}
	}
	return "", false
}

// look is how the text of an element appears in one that has the look l.
func (b *builder) look(n *html.Node, l look) look {
	if _, hidden := attr(n, "hidden"); hidden {
		l.gone = true
	}
	switch n.Data {
	case "pre", "textarea", "xmp", "listing":
		l.pre = true
	case "s", "strike", "del":
		l.struck = true
	case "dialog":
		if _, open := attr(n, "open"); !open {
			l.gone = true
		}
	}
	if c, ok := attr(n, "color"); ok && n.Data == "font" {
		l.ink = colour(c)
	}
	if c, ok := attr(n, "bgcolor"); ok {
		l.ground = colour(c)
	}
	if _, ok := attr(n, "background"); ok {
		l.ground = ""
	}
	for _, r := range b.sheet {
		if r.fits(n) {
			l.apply(r.style)
		}
	}
	if s, ok := attr(n, "style"); ok {
		l.apply(s)
	}
	return l
}

// apply changes the look by declarations.
func (l *look) apply(style string) {
	overflow, flat := false, false
	for decl := range strings.SplitSeq(strings.ToLower(style), ";") {
		key, v, ok := strings.Cut(decl, ":")
		if !ok {
			continue
		}
		key, v = strings.TrimSpace(key), strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(v), "!important"))
		switch key {
		case "display":
			l.gone = l.gone || v == "none"
		case "mso-hide":
			l.gone = l.gone || v == "all"
		case "visibility":
			l.unseen = v == "hidden" || v == "collapse"
		case "opacity":
			if f, err := strconv.ParseFloat(v, 64); err == nil && f == 0 {
				l.unseen = true
			}
		case "font-size":
			l.unseen = l.unseen || nothing(v)
		case "overflow":
			overflow = v == "hidden"
		case "max-height", "height", "max-width", "width":
			flat = flat || nothing(v)
		case "white-space":
			l.pre = strings.HasPrefix(v, "pre")
		case "text-decoration", "text-decoration-line":
			l.struck = l.struck || strings.Contains(v, "line-through")
		case "color":
			l.ink = colour(v)
		case "background-color":
			l.ground = colour(v)
		case "background":
			l.ground = ""
			for w := range strings.FieldsSeq(v) {
				if c := colour(w); c != "" {
					l.ground = c
				}
			}
			if strings.Contains(v, "url(") || strings.Contains(v, "gradient") {
				l.ground = ""
			}
		case "background-image":
			l.ground = ""
		}
	}
	l.unseen = l.unseen || overflow && flat
}

// nothing reports whether a length is zero, in any unit.
func nothing(v string) bool {
	n := strings.TrimRight(v, "abcdefghijklmnopqrstuvwxyz%")
	f, err := strconv.ParseFloat(n, 64)
	return err == nil && f == 0
}

// colours are the names of CSS level 1.
var colours = map[string]string{"black": "#000000", "silver": "#c0c0c0", "gray": "#808080", "grey": "#808080", "white": "#ffffff", "maroon": "#800000",
	"red": "#ff0000", "purple": "#800080", "fuchsia": "#ff00ff", "green": "#008000", "lime": "#00ff00", "olive": "#808000", "yellow": "#ffff00",
	"navy": "#000080", "blue": "#0000ff", "teal": "#008080", "aqua": "#00ffff", "windowtext": "#000000", "window": "#ffffff"}

// colour is a colour as #rrggbb, or "" where it isn't understood.
func colour(v string) string {
	v = strings.ToLower(strings.TrimSpace(v))
	if c, ok := colours[v]; ok {
		return c
	}
	if in, ok := strings.CutPrefix(v, "rgb("); ok {
		out := "#"
		for p := range strings.SplitSeq(strings.TrimSuffix(in, ")"), ",") {
			n, err := strconv.Atoi(strings.TrimSpace(p))
			if err != nil || n < 0 || n > 255 {
				return ""
			}
			out += string("0123456789abcdef"[n>>4]) + string("0123456789abcdef"[n&15])
		}
		if len(out) == 7 {
			return out
		}
		return ""
	}
	hex := strings.TrimPrefix(v, "#")
	if strings.Trim(hex, "0123456789abcdef") != "" {
		return ""
	}
	switch len(hex) {
	case 3:
		return "#" + hex[:1] + hex[:1] + hex[1:2] + hex[1:2] + hex[2:] + hex[2:]
	case 6:
		return "#" + hex
	}
	return ""
}

func (r rule) fits(n *html.Node) bool {
	if r.tag != "" && r.tag != n.Data {
		return false
	}
	if r.id != "" {
		if id, _ := attr(n, "id"); id != r.id {
			return false
		}
	}
	if len(r.classes) == 0 {
		return true
	}
	v, _ := attr(n, "class")
	has := strings.Fields(v)
	for _, want := range r.classes {
		found := false
		for _, h := range has {
			found = found || h == want
		}
		if !found {
			return false
		}
	}
	return true
}

// mostRules bounds the rules that are followed; each is held against every
// element.
const mostRules = 200

// rules gathers the rules of the document's own style sheets that hide
// something.
func (b *builder) rules(root *html.Node) {
	for n := range root.Descendants() {
		if n.Type != html.ElementNode || n.Data != "style" {
			continue
		}
		if media, ok := attr(n, "media"); ok && !strings.Contains(media, "screen") && !strings.Contains(media, "all") && media != "" {
			continue
		}
		var css strings.Builder
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			css.WriteString(c.Data)
		}
		b.styleSheet(css.String())
	}
}

func (b *builder) styleSheet(css string) {
	css = strings.ReplaceAll(strings.ReplaceAll(css, "<!--", ""), "-->", "")
	var bare strings.Builder
	for css != "" {
		before, comment, ok := strings.Cut(css, "/*")
		bare.WriteString(before)
		if !ok {
			break
		}
		bare.WriteByte(' ')
		_, css, _ = strings.Cut(comment, "*/")
	}
	css = bare.String()
	for css != "" {
		open := strings.IndexByte(css, '{')
		if open < 0 {
			return
		}
		selector := strings.TrimSpace(css[:open])
		// The body ends at the brace that closes it; only those of @ rules
		// hold braces themselves.
		end, depth := open+1, 1
		for ; end < len(css) && depth > 0; end++ {
			switch css[end] {
			case '{':
				depth++
			case '}':
				depth--
			}
		}
		body := strings.TrimSuffix(css[open+1:end], "}")
		css = css[end:]
		if i := strings.LastIndexByte(selector, ';'); i >= 0 { // after an @import
			selector = strings.TrimSpace(selector[i+1:])
		}
		if hides(body) {
			b.addRules(selector, body)
		}
	}
}

// hides reports whether declarations may hide text.
func hides(body string) bool {
	l := plain
	l.ground = ""
	l.apply(body)
	return l.gone || l.unseen
}

func (b *builder) addRules(selector, body string) {
	if strings.HasPrefix(selector, "@media print") || strings.HasPrefix(selector, "@page") {
		return
	}
	for s := range strings.SplitSeq(selector, ",") {
		s = strings.TrimSpace(s)
		r, ok := parseSelector(s)
		if !ok || len(b.sheet) >= mostRules {
			b.notes.Add(&ingest.Reason{Code: CodeStyle, Severity: ingest.Flag,
				What:  "the web page hides something in a way that Windrow can't follow, so text may have been read that a browser doesn't show",
				Found: s, Next: "open the file in a browser and compare what it shows with what was read"})
			continue
		}
		r.style = body
		b.sheet = append(b.sheet, r)
	}
}

// parseSelector takes a selector of one element apart; false for anything
// that depends on where an element stands.
func parseSelector(s string) (rule, bool) {
	var r rule
	if s == "" || strings.ContainsAny(s, " >+~:[*@") {
		return r, false
	}
	for s != "" {
		n := 1 + strings.IndexAny(s[1:], ".#")
		if n == 0 {
			n = len(s)
		}
		switch word := s[:n]; {
		case word[0] == '.' && n > 1:
			r.classes = append(r.classes, word[1:])
		case word[0] == '#' && n > 1:
			r.id = word[1:]
		case word[0] != '.' && word[0] != '#' && r.tag == "" && r.id == "" && r.classes == nil:
			r.tag = strings.ToLower(word)
		default:
			return r, false
		}
		s = s[n:]
	}
	return r, true
}
