package pipeline

import (
	"regexp"
	"slices"
	"strings"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
	"example.org/windrow/normalize"
)

// withoutTalk leaves out the text of a mail that no mapping knows, where
// something else in the mail is a report: people write there. That it was
// left out is noted, so that a person who misses something looks. A text with
// a table of numbers is more than talk: it holds the mail, unless the
// laboratory's mapping says that its messages are no reports, or another
// text of the mail has the same numbers.
func withoutTalk(all []*Reading) (kept []*Reading, notes []*ingest.Reason) {
	first := map[string]*Reading{} // of a mail: what a mapping knows in it
	declared := map[string]bool{}
	for _, rd := range all {
		if rd.Match == nil {
			continue
		}
		if first[rd.mail] == nil {
			first[rd.mail] = rd
		}
		declared[rd.mail] = declared[rd.mail] || rd.Match.Mapping.MessageIsNone
	}
	var talks []*Reading
	for _, rd := range all {
		if rd.mail == "" || first[rd.mail] == nil || rd.Match != nil || !isMessage(rd.Source.Member) || rd.talk == nil && !declared[rd.mail] {
			kept = append(kept, rd)
			continue
		}
		talks = append(talks, rd)
	}
	// A page says more than the plain copy that most programs send with it.
	slices.SortStableFunc(talks, func(a, b *Reading) int { return messageRank(a) - messageRank(b) })
	told := map[string][]*Reading{}
	for _, rd := range kept {
		if rd.talk != nil {
			told[rd.mail] = append(told[rd.mail], rd)
		}
	}
	for _, rd := range talks {
		of := first[rd.mail]
		at := ingest.Place{}
		if !declared[rd.mail] {
			at = rd.talk.table(labelsOf(all, rd.mail))
		}
		if at.IsZero() || slices.ContainsFunc(told[rd.mail], func(x *Reading) bool {
			return within(rd.Source.Member) == within(x.Source.Member) && rd.talk.copies(x.talk)
		}) {
			notes = append(notes, &ingest.Reason{Code: "message-not-read", Severity: ingest.Note, Where: ingest.Place{File: rd.Source.Title()}, What: "the message itself is no report that a mapping knows, and was not read", Next: "nothing, unless the message says something about the results"})
			continue
		}
		told[rd.mail] = append(told[rd.mail], rd)
		at.File = rd.Source.Title()
		of.Extract.Reasons = append(of.Extract.Reasons, &ingest.Reason{Code: "message-with-numbers", Severity: ingest.Hold, Where: at, What: "the message itself has a table of numbers that no mapping reads",
			Expected: "a message that a mapping of " + of.Match.Mapping.Lab + " reads, or one without results", Found: rd.talk.shown,
			Next: "if these are results, add a layout for the message to the mapping (" + of.Match.Mapping.File + "); if this laboratory's messages never hold results, write there: message body: not a report"})
	}
	return kept, notes
}

func messageRank(rd *Reading) int {
	if strings.Contains(rd.Source.Member, "message page") {
		return 0
	}
	return 1
}

// within is the message in which a member stands, "" for the outermost.
func within(member string) string {
	i := strings.LastIndex(member, " > ")
	return member[:max(i, 0)]
}

// isMessage reports whether a member of a mail is what was written in it,
// rather than attached to it.
func isMessage(member string) bool { return ingest.SourceRef{Member: member}.IsMessage() }

// labelsOf are the labels of the laboratories whose reports are in a mail.
func labelsOf(all []*Reading, mail string) map[string]bool {
	out := map[string]bool{}
	for _, rd := range all {
		if rd.mail != mail || rd.Match == nil {
			continue
		}
		for _, t := range rd.Match.Mapping.Tests {
			for _, l := range append([]string{t.Label}, t.Also...) {
				out[mappings.Squeeze(l)] = true
			}
		}
	}
	return out
}

// A talk is what is written in a mail, as rows with cells.
type talk struct {
	rows   [][]talkCell
	quoted map[int]string // by row: what is quoted of an earlier mail
	shown  string         // the line that table found
}

type talkCell struct {
	col  int
	text string
	at   ingest.Place
}

// talkOf is what is written in a message; nil when it could not be read.
func talkOf(rd *Reading) *talk {
	t := &talk{quoted: map[int]string{}}
	if kindOf(rd.Source) != ingest.KindHTML {
		for n, line := range strings.Split(strings.ReplaceAll(string(rd.Source.Bytes), "\r", ""), "\n") {
			if strings.HasPrefix(strings.TrimSpace(line), ">") {
				t.quoted[n] = strings.TrimLeft(line, "> \t")
				t.rows = append(t.rows, nil) // quoted from an earlier mail, for comparison
				continue
			}
			var row []talkCell
			for col, text := range fields(line) {
				if text = strings.TrimSpace(text); text != "" {
					row = append(row, talkCell{col, text, ingest.Place{Line: n + 1, Col: 1}})
				}
			}
			t.rows = append(t.rows, row)
		}
		return t
	}
	for _, d := range rd.Docs {
		for _, p := range d.Pages {
			last := 0
			for i := range p.Cells {
				c := &p.Cells[i]
				if c.Hidden {
					continue
				}
				for ; last < c.Row; last++ {
					t.rows = append(t.rows, nil)
				}
				r := &t.rows[len(t.rows)-1]
				*r = append(*r, talkCell{c.Col, strings.TrimSpace(c.Text), p.PlaceOfCell(c)})
			}
		}
		return t
	}
	return nil
}

var (
	apartInText = regexp.MustCompile(`\t+| {2,}|\s*[|;]\s*`)
	aNumber     = `[<>≤≥~]?\s*[-−+]?(?:\d{1,3}(?:[ ',.]\d{3})+|\d+)?(?:[.,]?\d+)`
	numberAlone = regexp.MustCompile(`^` + aNumber + `\s*[*†]*$`)
	numberFirst = regexp.MustCompile(`^(` + aNumber + `)\s*(\S.{0,20})$`)
	labelFirst  = regexp.MustCompile(`^(\S.{0,50}?)\s*[:=]\s*(` + aNumber + `)(?:[^\d:.,/-]|$)`)
	labelShort  = regexp.MustCompile(`^(\p{L}.{0,30}?)\s+(` + aNumber + `)(?:\s+(\S.{0,20}))?$`)
	inProse     = regexp.MustCompile(`(\p{L}[\p{L}()%/ .-]{0,40}?)\s*[:=]\s*` + aNumber + `[.,]?(?:[^\d:.,/-]|$)`)
	parenthesis = regexp.MustCompile(`\s*[(\[][^)\]]*[)\]]`)
)

// fields cuts a line of plain text where its fields stand apart.
func fields(line string) []string {
	if f := apartInText.Split(strings.TrimSpace(line), -1); len(f) > 1 {
		return f
	}
	if strings.Count(line, ",") > 1 {
		return strings.Split(line, ",")
	}
	return []string{line}
}

// table is where the text has numbers that look like results: a number with
// the name of something that is measured or a unit of it beside or above it,
// or a grid of numbers. It is zero for talk, with its dates, telephone
// numbers and counts. labels are further names of what is measured.
func (t *talk) table(labels map[string]bool) ingest.Place {
	named := map[int]bool{} // columns under the name of something measured
	numerous := 0
	for _, row := range t.rows {
		if len(row) == 0 {
			continue
		}
		numbers, measured := 0, false
		for _, c := range row {
			if isNumber(c.text) {
				numbers++
				if named[c.col] || measured {
					return t.found(row, c)
				}
				continue
			}
			names := measures(c.text, labels) || isUnit(c.text)
			named[c.col] = names
			measured = measured || names
			if labelled(c.text, labels) {
				return t.found(row, c)
			}
			if names && numbers > 0 && isUnit(c.text) {
				return t.found(row, c) // 6.4 | mg/kg
			}
		}
		if len(row) == 1 && numbers == 0 {
			clear(named) // a paragraph ends a table
		}
		if numbers > 1 {
			if numerous++; numerous > 1 {
				return t.found(row, row[0])
			}
		} else {
			numerous = 0
		}
	}
	return ingest.Place{}
}

func (t *talk) found(row []talkCell, c talkCell) ingest.Place {
	var texts []string
	for _, x := range row {
		texts = append(texts, x.text)
	}
	t.shown = strings.Join(texts, " | ")
	if rs := []rune(t.shown); len(rs) > 120 {
		t.shown = string(rs[:120]) + "…"
	}
	return c.at
}

// isNumber reports whether a cell is a number, with or without a unit.
func isNumber(text string) bool {
	if numberAlone.MatchString(text) {
		return true
	}
	m := numberFirst.FindStringSubmatch(text)
	return m != nil && isUnit(m[2])
}

// isUnit knows the units of results. Words that are units elsewhere (in, class)
// say nothing by themselves.
func isUnit(text string) bool {
	if !strings.ContainsAny(text, "/%") && !strings.HasPrefix(strings.ToLower(text), "ppm") {
		return false
	}
	_, ok := vocabulary.Resolve(mappings.UnitWord, strings.Trim(text, "()[] "))
	return ok
}

var vocabulary = normalize.Vocabulary()

// isAnalyte knows the names of what is measured. A symbol of one or two
// letters is one only as it is written in chemistry.
func isAnalyte(text string) bool {
	text = strings.Trim(text, " .,:;*-–")
	id, ok := vocabulary.Resolve(mappings.AnalyteWord, text)
	return ok && (len([]rune(text)) > 2 || id == text)
}

// measures reports whether a label or heading names something measured: by
// itself, or by the words that it begins or ends with beside a unit or the
// like.
func measures(text string, labels map[string]bool) bool {
	if labels[mappings.Squeeze(text)] {
		return true
	}
	plain := strings.TrimSpace(parenthesis.ReplaceAllString(text, ""))
	words := strings.Fields(plain)
	if len(words) == 0 || len(words) > 6 {
		return false
	}
	if isAnalyte(plain) {
		return true
	}
	for n := 1; n < len(words); n++ {
		head, tail := strings.Join(words[:n], " "), strings.Join(words[n:], " ")
		switch {
		case isAnalyte(head) && (isUnit(tail) || len(head) > 2 && !strings.EqualFold(head, "lead")):
			return true
		case len(tail) > 2 && isAnalyte(tail):
			return true
		}
	}
	return false
}

// labelled reports whether a text says of something measured what it came
// to: "pH: 6.4", "P 57 mg/kg", or so within a sentence.
func labelled(text string, labels map[string]bool) bool {
	if m := labelFirst.FindStringSubmatch(text); m != nil && measures(m[1], labels) {
		return true
	}
	if m := labelShort.FindStringSubmatch(text); m != nil && (m[3] == "" || isUnit(m[3])) && measures(m[1], labels) {
		return true
	}
	for _, m := range inProse.FindAllStringSubmatch(text, -1) {
		words := strings.Fields(parenthesis.ReplaceAllString(m[1], ""))
		for n := max(0, len(words)-3); n < len(words); n++ {
			if w := strings.Join(words[n:], " "); labels[mappings.Squeeze(w)] || isAnalyte(w) {
				return true
			}
		}
	}
	return false
}

var digits = regexp.MustCompile(`\d+(?:[.,]\d+)*`)

// copies reports whether every number of a text is in another one.
func (t *talk) copies(of *talk) bool {
	has := map[string]bool{}
	for n := range of.numbers() {
		has[n] = true
	}
	for n := range t.numbers() {
		if !has[n] {
			return false
		}
	}
	return true
}

func (t *talk) numbers() map[string]bool {
	out := map[string]bool{}
	for _, row := range t.rows {
		for _, c := range row {
			for _, n := range digits.FindAllString(c.text, -1) {
				out[n] = true
			}
		}
	}
	return out
}
