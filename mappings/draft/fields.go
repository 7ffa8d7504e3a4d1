package draft

import (
	"regexp"
	"slices"
	"strings"
	"unicode"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
)

// A foundField is a label with its value.
type foundField struct {
	ids      []mappings.FieldID
	how      string // after, below
	label    string // as printed
	value    string
	box      ingest.Box
	line     int
	word     int
	page     int
	conf     float64
	ask      string
	optional bool
	tail     string // pattern of what follows the value in the same piece of text
}

func (f *foundField) reads() string {
	if len(f.ids) == 1 {
		return string(f.ids[0])
	}
	sep := ", "
	if !strings.Contains(f.value, ", ") && strings.Contains(f.value, " / ") {
		sep = " / "
	}
	return "{" + string(f.ids[0]) + "}" + sep + "{" + string(f.ids[1]) + "}"
}

// pageFields finds labels with their values on the lines of a sheet that
// belong to no table.
func (d *drafter) pageFields(s *sheet, taken map[int]bool, page int) []foundField {
	var out []foundField
	for i := range s.lines {
		l := &s.lines[i]
		if taken[i] || l.longText() && !s.grid && len(l.runs) == 1 && !strings.Contains(l.text(), ":") && fieldStart(l) == 0 {
			continue
		}
		out = append(out, d.lineFields(s, i, page)...)
	}
	return out
}

// proseNumber finds the sample's number in running text, "for sample QH-1204
// (upper field)", with the words around it by which it is found again.
var proseNumber = regexp.MustCompile(`((?:[A-Za-z]+ ){1,4}sample(?: no\.| number)?) ([A-Z]{1,4}[-/]?\d[\dA-Za-z/-]*)( [^ \pL\d]|[,.;:]|(?: [a-z]+){1,2})`)

// proseNumbers reads the number of the sample of a page that tells it in a
// sentence only; it is asked about.
func proseNumbers(s *sheet, fs []foundField, taken map[int]bool, page int) []foundField {
	if s.grid || slices.ContainsFunc(fs, func(f foundField) bool { return f.ids[0] == mappings.LabSampleID }) {
		return nil
	}
	for i := range s.lines {
		g := proseNumber.FindStringSubmatch(s.lines[i].text())
		if g == nil || taken[i] || !longNumber(g[2]) {
			continue
		}
		after := mappings.Literal(g[3])
		if strings.HasPrefix(after, " ") && !strings.ContainsFunc(after, unicode.IsLetter) {
			after += "*" // a bracket opens, and belongs to the word behind it
		}
		return []foundField{{ids: []mappings.FieldID{mappings.LabSampleID}, how: "text", label: mappings.Literal(g[1]) + " {lab_sample_id}" + after, value: g[2], line: i, page: page, conf: 0.6, ask: "is " + quoted(g[2]) + " the laboratory's number of the sample?"}}
	}
	return nil
}

// fieldStart is how many words at a line's beginning are a field's label.
func fieldStart(l *textLine) int {
	for n := min(5, len(l.words)); n > 0; n-- {
		text, _, ok := joinWords(l.words[:n], false)
		if ok && (fieldOf(text) != "" || compoundField(text) != nil) {
			return n
		}
	}
	return 0
}

type labelAt struct {
	ids   []mappings.FieldID
	first int
	n     int
	text  string
	colon bool
}

// lineLabels are the field labels of a line, left to right.
func lineLabels(s *sheet, l *textLine) []labelAt {
	var out []labelAt
	for i := 0; i < len(l.words); {
		start := i == 0 || s.grid
		if !start {
			p := l.words[i-1]
			start = l.words[i].Box.X0-p.Box.X1 >= 0.8*max(l.words[i].Size, p.Size)
		}
		found := false
		maxN := min(5, len(l.words)-i)
		if s.grid {
			maxN = 1
		}
		for n := maxN; n > 0; n-- {
			text, _, ok := joinWords(l.words[i:i+n], s.grid)
			if !ok {
				continue
			}
			colon := strings.HasSuffix(text, ":")
			ids := compoundField(strings.TrimSuffix(text, ":"))
			if id := fieldOf(text); id != "" {
				ids = []mappings.FieldID{id}
			}
			if ids == nil {
				continue
			}
			if ids[0] == mappings.ClientPhone && !colon && behindAddress(l.words[:i]) {
				continue
			}
			if !start && !colon && (!allUpper(text) || len(out) == 0) && !numberOfSample(l, i, n, ids) {
				continue
			}
			out = append(out, labelAt{ids, i, n, text, colon})
			i += n
			found = true
			break
		}
		if !found {
			i++
		}
	}
	return out
}

// behindAddress reports whether the words before a label hold a number, as those
// of an address do: a telephone behind them is that of whoever lives there, and
// at the head of a report that is the laboratory.
func behindAddress(words []mappings.Piece) bool {
	return slices.ContainsFunc(words, func(w mappings.Piece) bool { return digitRun.MatchString(w.Text) })
}

// numberOfSample reports whether a label in the middle of a line is the
// laboratory's for a sample's number: the number itself must follow.
func numberOfSample(l *textLine, i, n int, ids []mappings.FieldID) bool {
	return n > 1 && len(ids) == 1 && (ids[0] == mappings.LabSampleID || ids[0] == mappings.ClientSampleID) && i+n < len(l.words) && longNumber(l.words[i+n].Text)
}

// longNumber reports whether a word can be the number of a sample and is no
// count: it has the form of one, and three digits.
func longNumber(w string) bool {
	return idLike.MatchString(w) && len(strings.Join(digitRun.FindAllString(w, -1), "")) >= 3
}

func allUpper(s string) bool { return s == strings.ToUpper(s) && s != strings.ToLower(s) }

// lineFields reads the labels and values of one line.
func (d *drafter) lineFields(s *sheet, i, page int) []foundField {
	l := &s.lines[i]
	labels := lineLabels(s, l)
	out := cellNumbers(s, i, page)
	for k, lb := range labels {
		end := len(l.words)
		if k+1 < len(labels) {
			end = labels[k+1].first
		}
		val := l.words[lb.first+lb.n : end]
		for len(val) > 0 && strings.Trim(val[0].Text, ".:_=") == "" {
			val = val[1:]
		}
		var ws []mappings.Piece
		for j, w := range val {
			if j > 0 && (s.grid || w.Box.X0-val[j-1].Box.X1 >= 1.0*max(w.Size, val[j-1].Size)) {
				break
			}
			ws = append(ws, w)
		}
		var text []string
		for _, w := range ws {
			text = append(text, w.Text)
		}
		f := foundField{ids: lb.ids, how: "after", label: lb.text, value: strings.Join(text, " "), line: i, word: lb.first, page: page, box: l.words[lb.first].Box}
		if next := k+1 < len(labels) && labels[k+1].ids[0] == mappings.LabSampleID; next && lb.ids[0] == mappings.ClientSampleID && isNumber(f.value) && len(f.value) < 3 {
			continue // "Sample 2  Lab no. 26-1001": a count
		}
		f.cutTail()
		f.conf = 0.85
		if lb.colon {
			f.conf = 0.95
		}
		if f.value == "" && len(labels) > 1 && i+1 < len(s.lines) {
			if v := below(s, i, f.box, l.words[lb.first+lb.n-1].Box); v != "" {
				f.how, f.value, f.conf = "below", v, 0.7
			}
		}
		if d.valid(&f, ws) {
			out = append(out, f)
			continue
		}
		// What stands behind the label may be the next one, and the value under it.
		if f.how == "after" && !lb.colon && i+1 < len(s.lines) {
			if v := below(s, i, f.box, l.words[lb.first+lb.n-1].Box); v != "" {
				f.how, f.value, f.conf = "below", v, 0.7
				if d.valid(&f, nil) {
					out = append(out, f)
				}
			}
		}
	}
	return out
}

// cellNumbers finds the label of a sample with its number in one cell of a
// grid, as in a mail: 'Sample Q81 - "West field"'.
func cellNumbers(s *sheet, i, page int) []foundField {
	var out []foundField
	if !s.grid {
		return nil
	}
	for k, w := range s.lines[i].words {
		ws := strings.Fields(w.Text)
		for n := min(3, len(ws)-1); n > 0; n-- {
			label := strings.Join(ws[:n], " ")
			id := fieldOf(label)
			if id != mappings.LabSampleID && id != mappings.ClientSampleID || !longNumber(ws[n]) {
				continue
			}
			f := foundField{ids: []mappings.FieldID{id}, how: "after", label: label, value: strings.Join(ws[n:], " "), line: i, word: k, page: page, box: w.Box, conf: 0.8}
			f.cutTail()
			if f.tail == "" {
				f.tail = " " // within one cell, only a text can find it
			}
			out = append(out, f)
			break
		}
	}
	return out
}

var (
	quotedName   = regexp.MustCompile(`^((?:[-,:] ?)?)"([^"]+)"(.*)$`)
	bracketsName = regexp.MustCompile(`^\(([^()]*[A-Za-z][^()]*)\)(.*)$`)
)

// cutTail cuts a sample's number from what follows it in the same piece of
// text: often the client's name for the sample, in quotes or brackets.
func (f *foundField) cutTail() {
	if len(f.ids) != 1 || f.ids[0] != mappings.LabSampleID && f.ids[0] != mappings.ClientSampleID {
		return
	}
	first, rest, more := strings.Cut(mappings.Normalise(f.value), " ")
	if !more || !longNumber(first) {
		return
	}
	form, after := "", rest
	if g := quotedName.FindStringSubmatch(rest); g != nil {
		form, after = mappings.Literal(g[1])+`"{client_sample_id}"`, g[3]
	} else if g := bracketsName.FindStringSubmatch(rest); g != nil {
		form, after = "({client_sample_id})", g[2]
	}
	if after != "" && form == "" {
		form = "*"
	}
	f.value, f.tail = first, " "+form
}

func below(s *sheet, i int, a, b ingest.Box) string {
	box := a.Union(b)
	n := &s.lines[i+1]
	if !s.grid && n.box.Y0-box.Y1 > 2.5*n.size {
		return ""
	}
	for _, r := range n.runs {
		if r.box.OverlapX(box) > 0 {
			if fieldOf(r.text) != "" {
				return ""
			}
			return r.text
		}
	}
	return ""
}

// valid checks a value against what its field can be.
func (d *drafter) valid(f *foundField, ws []mappings.Piece) bool {
	v := f.value
	if len(f.ids) == 2 {
		return v != "" && (strings.Contains(v, ", ") || strings.Contains(v, " / "))
	}
	if v == "" {
		return false
	}
	n := len(strings.Fields(v))
	if isMissing(v) {
		return f.ids[0] != mappings.LabSampleID
	}
	switch f.ids[0] {
	case mappings.DateSampled, mappings.DateReceived, mappings.DateReported:
		if len(ws) == 1 && ws[0].Kind == ingest.DateCell {
			if hasDate(v) {
				d.dateSeen(v) // another sheet may hold the same as text
			}
			return true
		}
		if !hasDate(v) && !serial(v) {
			return false
		}
		d.dateSeen(v)
		if fold(f.label) == "date" {
			f.conf, f.ask = 0.5, "is this the date of the report?"
		}
		return true
	case mappings.County:
		return !hasDigit(v) && n <= 3
	case mappings.LabSampleID, mappings.ReportNo:
		return hasDigit(v) && n <= 3
	case mappings.Depth:
		return mappings.IsDepth(v, "in")
	case mappings.ClientEmail:
		return strings.Contains(v, "@")
	case mappings.ClientName:
		if fold(f.label) == "to" || fold(f.label) == "for" || fold(f.label) == "name" {
			if f.how == "below" && n > 1 && n <= 4 && !hasDigit(v) {
				f.conf, f.ask = 0.5, "is this the client's name?"
				return true
			}
			return n <= 6 && strings.HasSuffix(f.label, ":")
		}
		return n <= 8 && !hasDigit(v)
	case mappings.LandUse:
		return n <= 6 && !isNumber(v)
	}
	return n <= 10
}

// once keeps the first of each field in a list.
func once(fs []foundField) []foundField {
	var out []foundField
	seen := map[mappings.FieldID]bool{}
	for _, f := range fs {
		dup := false
		for _, id := range f.ids {
			dup = dup || seen[id]
		}
		if dup {
			continue
		}
		for _, id := range f.ids {
			seen[id] = true
		}
		out = append(out, f)
	}
	return out
}
