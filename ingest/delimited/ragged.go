package delimited

import (
	"bytes"
	"fmt"

	"example.org/windrow/ingest"
)

// raggedShown is how many ragged rows are named one by one.
const raggedShown = 5

// ragged gives the notes for rows with too few or too many fields, by the
// rule in the package comment.
func (t *table) ragged() []*ingest.Reason {
	expected := t.expected()
	if expected == 0 {
		return nil
	}
	first, last := t.extent(expected)
	var odd []row
	blankSince := false
	for i, r := range t.rows {
		if i > last {
			blankSince = blankSince || r.blank || r.gap
		}
		switch {
		case r.blank || r.fields == expected:
			continue
		case i < first && r.fields < expected:
			continue
		case i > last && blankSince:
			continue
		case i > last && r.fields == 1 && !(i == last+1 && r.word && i == len(t.rows)-1 && !bytes.HasSuffix(t.text, []byte("\n"))):
			continue
		}
		odd = append(odd, r)
	}
	var out []*ingest.Reason
	for i, r := range odd {
		if i == raggedShown {
			what := fmt.Sprintf("%d more lines have too few or too many fields, the first of them here", len(odd)-raggedShown)
			if len(odd) == raggedShown+1 {
				what = "one more line has too few or too many fields"
			}
			out = append(out, &ingest.Reason{Code: CodeRagged, Severity: ingest.Hold, Where: ingest.Place{Line: odd[i].line},
				What:     what,
				Expected: fmt.Sprintf("%d fields", expected), Next: raggedNext})
			break
		}
		what := "this line has fewer fields than the others, so its values may stand under the wrong headings"
		if r.fields > expected {
			what = "this line has more fields than the others, so its values may stand under the wrong headings"
		}
		out = append(out, &ingest.Reason{Code: CodeRagged, Severity: ingest.Hold, Where: ingest.Place{Line: r.line}, What: what,
			Expected: fmt.Sprintf("%d fields, as most lines of this file have", expected), Found: fields(r.fields) + ": " + t.excerpt(r.line), Next: raggedNext})
	}
	return out
}

const raggedNext = "look at this line in a text editor: a comma (or semicolon, or tab) too many or too few, such as one inside a number, or a file that was cut short; then ask the laboratory for the file again"

func fields(n int) string {
	if n == 1 {
		return "1 field"
	}
	return fmt.Sprintf("%d fields", n)
}

// expected is the number of fields that most records have, or 0.
func (t *table) expected() int {
	count := map[int]int{}
	best := 0
	for _, r := range t.rows {
		if r.fields < 2 || r.blank {
			continue
		}
		count[r.fields]++
		if best == 0 || count[r.fields] > count[best] || count[r.fields] == count[best] && r.fields > best {
			best = r.fields
		}
	}
	if wide := t.block(); best <= mostLabelled && wide >= max(leastWide, 2*best) {
		return wide
	}
	return best
}

// Lines of a label and its value, of so many fields at most, are no table
// where a block of rows stands among them that has so many at least.
const (
	mostLabelled = 3
	leastWide    = 5
)

// block is the number of fields of the widest records, where these are at
// least two and more than half of the records from the first to the last of
// them; otherwise 0.
func (t *table) block() int {
	widest, n, first, last := 0, 0, 0, 0
	for i, r := range t.rows {
		switch {
		case r.blank || r.fields < widest:
		case r.fields > widest:
			widest, n, first, last = r.fields, 1, i, i
		default:
			n, last = n+1, i
		}
	}
	all := 0
	for _, r := range t.rows[first : last+1] {
		if !r.blank {
			all++
		}
	}
	if n < 2 || 2*n <= all {
		return 0
	}
	return widest
}

// extent gives the first and the last row of the table.
func (t *table) extent(expected int) (first, last int) {
	first = -1
	for i, r := range t.rows {
		if r.blank || r.fields != expected {
			continue
		}
		last = i
		if first < 0 && i+1 < len(t.rows) && t.rows[i+1].fields == expected {
			first = i
		}
	}
	if first < 0 {
		for i, r := range t.rows {
			if !r.blank && r.fields == expected {
				return i, last
			}
		}
	}
	return first, last
}
