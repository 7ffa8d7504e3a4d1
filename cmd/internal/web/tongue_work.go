package web

import (
	"html/template"
	"regexp"
	"strings"

	"example.org/windrow/interpret/letter"
)

// fieldWords are the fields of a mapping as a person calls them.
var fieldWords = map[string]string{
	"report_no": "report number", "lab_sample_id": "number of the sample", "client_sample_id": "label of the sample", "client_name": "client", "client_address": "address of the client", "client_email": "e-mail of the client", "client_phone": "telephone of the client",
	"county": "county", "date_sampled": "date sampled", "date_received": "date received", "date_reported": "date reported", "land_use": "use of the land", "depth": "depth", "depth_top": "depth at which it begins",
}

// fieldName is what a field was taken for, in words. The note of a mark names
// one field or several, or the label in the mapping.
func fieldName(note string) string {
	names := strings.Split(note, ", ")
	for i, n := range names {
		if w, known := fieldWords[n]; known {
			names[i] = w
		}
	}
	return strings.Join(names, ", ")
}

// besides is what is said of a test besides its name, "" where that says it, as
// K saturation does of the potassium saturation.
func besides(analyte, detail string) string {
	if lastWord(detail) == lastWord(analyteName(analyte)) {
		return ""
	}
	return detail
}

var (
	factorOf = regexp.MustCompile(`^(.+)\sby\s(.+)\s=\s(.+)$`)
	oxide    = regexp.MustCompile(`\sas\s([A-Z][A-Za-z0-9]*)`)
	inputOf  = regexp.MustCompile(`^(.+)\s(-?[0-9.]+)\s(\S+)\s\(([a-z]+)\)$`)
	latin    = regexp.MustCompile(`\pL{4,}`)
)

// worked is a step on one line, see [audit.Work], in the language; false where
// some of it has no words there.
func (d *dictionary) worked(p *letter.Phrases, s string) (string, bool) {
	head, tail, with := strings.Cut(s, ", with ")
	by, as, and := p.Own("by"), p.Own("as"), p.Own("with")
	if m := factorOf.FindStringSubmatch(head); m != nil {
		how, ok := d.formula(p, m[2])
		if !ok {
			return s, false
		}
		head = m[1] + " " + by + " " + how + " = " + m[3]
	}
	head = oxide.ReplaceAllString(head, " "+as+" $1")
	if !with {
		return head, true
	}
	inputs := strings.Split(tail, "; ")
	for i, x := range inputs {
		m := inputOf.FindStringSubmatch(x)
		if m == nil {
			return s, false
		}
		name, known := d.say(p, m[1])
		from, said := d.say(p, m[4])
		if !known && latin.MatchString(m[1]) || !said { // Ca and pH are called so in both
			return s, false
		}
		inputs[i] = name + " " + m[2] + " " + m[3] + " (" + from + ")"
	}
	return head + ", " + and + " " + strings.Join(inputs, "; "), true
}

// labelled is a result as an audit names it.
var labelled = regexp.MustCompile(`^(\w+)(?:\s\((.+)\))?\sprinted\s“(.*)”(\s\S+)?$`)

// label is a result as an audit names it, in the language.
func (d *dictionary) label(p *letter.Phrases, s string) (string, bool) {
	m := labelled.FindStringSubmatch(s)
	if m == nil {
		return s, false
	}
	name, ok := d.say(p, analyteName(m[1]))
	if m[2] != "" && besides(m[1], m[2]) != "" {
		kind, known := d.say(p, m[2])
		name, ok = name+" ("+kind+")", ok && known
	}
	return name + ", " + p.Own("printed") + " “" + m[3] + "”" + m[4], ok
}

// between is a span of numbers with its unit.
var between = regexp.MustCompile(`^([0-9.e+-]+)\sto\s([0-9.e+-]+)(\s\S+)?$`)

// bounds is what a check expected. Only there is a span of numbers the program's
// own: elsewhere it may be a quotation, and stays.
func (d *dictionary) bounds(p *letter.Phrases, s string) (string, bool) {
	if m := between.FindStringSubmatch(s); m != nil {
		return m[1] + " " + p.Own("to") + " " + m[2] + m[3], true
	}
	return d.say(p, s)
}

// formula is an equation, or what stands for one; false where it is in words
// that the language does not have.
func (d *dictionary) formula(p *letter.Phrases, s string) (string, bool) {
	if to, ok := d.say(p, s); ok {
		return to, true
	}
	return s, !latin.MatchString(strings.ReplaceAll(s, "log10", ""))
}

// source is where something comes from. Titles and names stay as they are
// printed; what the program says of them is in the language.
func (d *dictionary) source(p *letter.Phrases, s string) any {
	if to, ok := d.say(p, s); ok {
		return to
	}
	if at := strings.LastIndex(s, ". "); at >= 0 && latin.MatchString(s[at:]) {
		if to, ok := d.say(p, s[at+2:]); ok {
			return foreign(s[:at+1]) + template.HTML(" "+template.HTMLEscapeString(to))
		}
	}
	return foreign(s)
}
