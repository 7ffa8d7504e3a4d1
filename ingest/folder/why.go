package folder

import (
	"fmt"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"example.org/windrow/ingest"
)

// whyEnd ends the name of the note beside a held file.
const whyEnd = ".why.txt"

// IsNote reports whether a name is that of a note beside a held file.
func IsNote(name string) bool { return strings.HasSuffix(name, whyEnd) }

// noteWidth is the width of a note in characters.
const noteWidth = 76

// mostReasons is how many reasons a note writes out.
const mostReasons = 20

// mostQuoted is how many characters of the file or of a mapping a note
// quotes at once.
const mostQuoted = 300

// A Note is what stands beside a held file.
type Note struct {
	Name    string    // of the file as it arrived
	Folder  Settings  // where it arrived
	Lies    string    // path where it lies now
	When    time.Time // when it was held
	Reasons []*ingest.Reason
	Used    []string // files in it whose numbers are used all the same, such as other reports in one archive
}

// Why writes the note for a person who has the file before them and has
// never heard of this program's insides: what happened, what was expected and
// found, what to do, and where the file lies.
func Why(n Note) string {
	var p page
	p.text("", "Windrow, the program that reads laboratory reports here, has set this one aside for a person to look at:")
	p.path(n.Name)
	p.used(n.Used)
	p.blank()
	from := "It arrived in"
	if n.Folder.Office != "" {
		from = "It arrived for " + clean(n.Folder.Office) + " in"
	}
	p.text("", from)
	p.path(n.Folder.Dir)
	p.text("", "and was set aside on "+n.When.Format("Monday, 2 January 2006, at 15:04")+". The file itself was not changed. It now lies here:")
	p.path(n.Lies)
	p.blank()

	stops, rest := parted(n.Reasons)
	switch len(stops) {
	case 0:
		p.text("", "No reason was given. That should not happen: please send the file and this note to whoever looks after Windrow.")
	case 1:
		p.text("", "WHY")
	default:
		p.text("", fmt.Sprintf("WHY: %d REASONS", len(stops)))
	}
	p.reasons(stops, n.Name)
	if len(rest) > 0 {
		p.blank()
		p.text("", "ALSO NOTICED (this alone would not have held the report)")
		p.reasons(rest, n.Name)
	}
	p.blank()
	p.text("", "AFTERWARDS")
	p.text("  ", "Put the file, or the new one that the laboratory sent, back into the folder where it arrived. It will be read again from the start, and set aside again if nothing has changed. This note can then be thrown away.")
	return p.out.String()
}

// parted separates what holds a report from what was only noticed.
func parted(rs []*ingest.Reason) (stops, rest []*ingest.Reason) {
	for _, r := range rs {
		switch {
		case r == nil:
		case r.Severity == ingest.Note || r.Severity == ingest.Flag:
			rest = append(rest, r)
		default:
			stops = append(stops, r)
		}
	}
	return stops, rest
}

// used says what is used of the file until a person has looked at it.
func (p *page) used(names []string) {
	if len(names) == 0 {
		p.text("", "Until then, none of its numbers are used.")
		return
	}
	p.text("", "It holds several reports. These were read and are used:")
	for i, name := range names {
		if i == mostReasons {
			p.text("    ", fmt.Sprintf("… and %d more", len(names)-i))
			break
		}
		p.path(name)
	}
	p.text("", "Until a person has looked, none of the other numbers in it are used.")
}

// A page is a text as it is set.
type page struct{ out strings.Builder }

func (p *page) blank() { p.out.WriteByte('\n') }

func (p *page) reasons(rs []*ingest.Reason, name string) {
	for i, r := range rs {
		if i == mostReasons {
			p.blank()
			p.text("  ", fmt.Sprintf("… and %d more. The pages of Windrow show all of them.", len(rs)-i))
			return
		}
		p.blank()
		p.hanging(fmt.Sprintf("%3d. ", i+1), sentence(r.What))
		p.labelled("Where", inWords(r.Where, name))
		expected := clean(r.Expected)
		if expected != "" && !r.Rule.IsZero() {
			expected += " (as written in " + inWords(r.Rule, "") + ")"
		} else if expected == "" && !r.Rule.IsZero() {
			p.labelled("Rule", inWords(r.Rule, ""))
		}
		p.labelled("Expected", expected)
		p.labelled("Found", clean(r.Found))
		p.labelled("To do", sentence(r.Next))
		p.labelled("Code", clean(r.Code))
	}
}

func (p *page) labelled(label, text string) {
	if text != "" {
		p.hanging(fmt.Sprintf("     %-10s", label+":"), text)
	}
}

// path stands on a line of its own, however long, so that it can be copied.
func (p *page) path(s string) { p.out.WriteString("    " + clean(s) + "\n") }

func (p *page) text(indent, s string) { p.hanging(indent, s) }

// hanging sets a paragraph whose later lines are indented as far as its first
// words are. A word that is longer than a line is not broken.
func (p *page) hanging(first, s string) {
	indent := strings.Repeat(" ", utf8.RuneCountInString(first))
	line, words := first, 0
	for _, w := range strings.Fields(s) {
		if words > 0 && utf8.RuneCountInString(line)+1+utf8.RuneCountInString(w) > noteWidth {
			p.out.WriteString(line + "\n")
			line, words = indent, 0
		}
		if words > 0 {
			line += " "
		}
		line += w
		words++
	}
	p.out.WriteString(strings.TrimRight(line, " ") + "\n")
}

// sentence begins with a capital letter and ends with a full stop.
func sentence(s string) string {
	s = clean(s)
	if s == "" {
		return ""
	}
	r, n := utf8.DecodeRuneInString(s)
	s = string(unicode.ToUpper(r)) + s[n:]
	if !strings.HasSuffix(s, ".") && !strings.HasSuffix(s, "?") && !strings.HasSuffix(s, "!") && !strings.HasSuffix(s, "…") {
		s += "."
	}
	return s
}

// clean makes a text that may come from a hostile file safe to show: control
// and direction characters become spaces, and a long text is cut.
func clean(s string) string {
	s = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || unicode.Is(unicode.Cf, r) {
			return ' '
		}
		return r
	}, strings.ToValidUTF8(s, "\uFFFD"))
	if rs := []rune(s); len(rs) > mostQuoted {
		s = string(rs[:mostQuoted]) + " …"
	}
	return s
}

// inWords says a place to a person. The file's own name goes without saying.
func inWords(p ingest.Place, name string) string {
	var parts []string
	switch {
	case p.Line > 0 && p.Col > 0:
		parts = append(parts, fmt.Sprintf("line %d, character %d", p.Line, p.Col))
	case p.Line > 0:
		parts = append(parts, fmt.Sprintf("line %d", p.Line))
	case p.Cell != "":
		parts = append(parts, "cell "+p.Cell+" of the sheet “"+clean(p.Sheet)+"”")
	case p.Sheet != "":
		parts = append(parts, "the sheet “"+clean(p.Sheet)+"”")
	case p.Page > 0 && p.Box != nil:
		// Points are 1/72 inch.
		parts = append(parts, fmt.Sprintf("page %d, %.1f inches from the left edge and %.1f from the top", p.Page, p.Box.X0/72, p.Box.Y0/72))
	case p.Page > 0:
		parts = append(parts, fmt.Sprintf("page %d", p.Page))
	}
	if p.File != "" && p.File != name {
		file := clean(p.File)
		if outer, inner, ok := strings.Cut(file, " > "); ok && outer == clean(name) {
			file = inner + " inside " + outer
		}
		if parts = append(parts, file); len(parts) == 2 {
			return parts[0] + ", in " + parts[1]
		}
	}
	return strings.Join(parts, "")
}
