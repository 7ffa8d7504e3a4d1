package web

import (
	"fmt"
	"html/template"
	"regexp"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"example.org/windrow/normalize/archive/index"
	"example.org/windrow/normalize/method"
)

// words are what templates say things with.
var words = template.FuncMap{
	"count": count, "date": longDate, "sentence": sentence, "became": became, "analyte": analyteName, "plain": plain, "unit": unitWords, "add": func(a, b int) int { return a + b }, "short": short, "spot": unboxed, "figure": numeral, "stopless": func(s any) string { return strings.TrimSuffix(fmt.Sprint(s), ".") },
	"say": func(x any) string { return fmt.Sprint(x) }, "title": func(s string) string { return s }, "heading": func(s string) string { return s }, "printed": func(s string) string { return s }, "code": func(string, string) string { return "" },
	"work": func(s string) string { return s }, "formula": func(s string) string { return s }, "source": func(s string) string { return s }, "bounds": func(s string) string { return s }, "label": func(s string) string { return s }, "besides": besides,
	"uncommanded": uncommanded, "proofPage": pageFor("proof", "/proof"), "rulePage": pageFor("ruling", "/look#h-decide"),
	"day": func(t time.Time) string { return t.Format("2 Jan 2006") }, "dayrow": dateIn("Mon 2 Jan"), "longday": dateIn("Monday 2 January 2006"),
}

// count is a number with its noun.
func count(n int, one string) string {
	switch {
	case n == 1:
		return "1 " + one
	case strings.HasSuffix(one, "y"):
		return thousands(n) + " " + strings.TrimSuffix(one, "y") + "ies"
	}
	return thousands(n) + " " + one + "s"
}

func thousands(n int) string {
	s := strconv.Itoa(n)
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	return s
}

// longDate is a date, or a time, of the archive as people write it; anything
// else as it is.
func longDate(s string) string { return dateIn("2 Jan 2006")(s) }

// dateIn writes a date, or a time, of the archive in a form of package time;
// anything else stays as it is.
func dateIn(form string) func(string) string {
	return func(s string) string {
		if t, ok := dateOf(s); ok {
			return t.Format(form)
		}
		return s
	}
}

// dateOf is the day of a date or time of the archive.
func dateOf(s string) (time.Time, bool) {
	if len(s) < 10 {
		return time.Time{}, false
	}
	t, err := time.Parse(time.DateOnly, s[:10])
	return t, err == nil
}

// sentence begins with a capital and ends with a full stop. A unit or a pH stays
// as it is written, since Mg/kg is another than mg/kg.
func sentence(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	if n == 0 {
		return ""
	}
	if first, _, _ := strings.Cut(s, " "); !symbol.MatchString(first) {
		s = string(unicode.ToUpper(r)) + s[n:]
	}
	if !strings.ContainsAny(s[len(s)-1:], ".?!") {
		s += "."
	}
	return s
}

// symbol is a first word that is no word: one with a capital, a digit or a stroke
// in it, or the name of a unit.
var symbol = regexp.MustCompile(`^\pL+[^\pL.,:;!?’'“”"-]|^\pL+\p{Lu}|^(?:pp[mb]|mg|g|kg|lb|meq|cmol|dm3|cm)$`)

// became says what became of a report or a file, in a word or two.
func became(status any) string {
	switch s := fmt.Sprint(status); s {
	case "ok":
		return "used"
	case "flagged":
		return "used, marked"
	case "held":
		return "waits"
	case index.Aside:
		return "set aside"
	case "again", "duplicate":
		return "came before"
	case "failed":
		return "not worked on"
	default:
		return s
	}
}

func analyteName(id string) string {
	if a, ok := method.Standard().Analyte(id); ok {
		return a.Name
	}
	return id
}

// plain is an id in words.
func plain(s string) string { return strings.ReplaceAll(s, "-", " ") }

// unitWords is a unit after a number; pH and the like stand without.
func unitWords(u string) string {
	switch u {
	case "pH", "index", "class":
		return ""
	}
	return u
}

// box is where on a page something stands, to a point.
var box = regexp.MustCompile(` box [0-9.,-]+$`)

// unboxed is a place as a person looks for it: the page has a frame there, and what
// frame that is in points of the page says nothing to anybody.
func unboxed(place string) string { return box.ReplaceAllString(place, "") }

// short is the beginning of a hash.
func short(hash string) string { return hash[:min(len(hash), 8)] }

// command is how a reason names the command that settles it; the id is that of
// its report, where it is known.
var command = regexp.MustCompile(`\s\(windrow\s(proof|ruling|versions)(?:\s(R[0-9a-f]{16}))?[^()]*\)`)

// uncommanded is what to do next without the command for it: on a page a person
// is led to the page that does the same.
func uncommanded(next string) string {
	next = strings.Replace(next, "; windrow ruling --withdraw takes the decision back", "; under Decide the decision can be withdrawn", 1)
	return command.ReplaceAllString(next, "")
}

// pageFor gives the page that does what a command does, for the report that it is
// given for; "" where a reason names no such command.
func pageFor(name, page string) func(next string) string {
	return func(next string) string {
		for _, m := range command.FindAllStringSubmatch(next, -1) {
			if m[1] == name && m[2] != "" {
				return "/report/" + m[2] + page
			}
		}
		return ""
	}
}
