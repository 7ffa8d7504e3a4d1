package draft

import (
	"strings"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
)

// A laboratory that reports by codes of its own explains them on another
// sheet, or in a table below: a row each with the code and what it stands
// for. keyEntry is what such a row says of a code.
type keyEntry struct{ name, unit, method string }

// readKeys collects the codes that a document's sheets explain. A list is a
// key when most of its rows have a short code followed by the name of a test,
// and the codes differ.
func (d *drafter) readKeys(doc *ingest.Document) {
	for _, p := range doc.Pages {
		if p.Hidden || len(p.Cells) == 0 || p.Rows > 400 {
			continue
		}
		s := newSheet(doc, p)
		found, methods := map[string]keyEntry{}, map[string]string{}
		rows, values := 0, 0
		for i := range s.lines {
			ws := s.lines[i].words
			if len(ws) < 2 {
				continue
			}
			rows++
			code, e, ok := d.keyRow(ws)
			for _, w := range ws[2:] {
				if isNumber(w.Text) {
					values++ // a list of results, and no key to one
				}
			}
			if ok {
				found[code] = e
			}
			for k := 2; k+1 < len(ws); k++ {
				if m, _, known := methodOf(d.v, ws[k+1].Text); known && codeLike(ws[k].Text) {
					methods[ws[k].Text] = m
				}
			}
		}
		if len(found) < 3 || len(found)*2 < rows || values*2 > rows {
			continue
		}
		for code, e := range found {
			if _, ok := d.keys[code]; !ok {
				d.keys[code] = e
			}
		}
		for code, m := range methods {
			if _, _, known := methodOf(d.v, code); !known {
				d.methodKeys[code] = m
			}
		}
	}
}

// keyRow reads a row of a key: a code, what it stands for, and its unit and
// method where the row has them.
func (d *drafter) keyRow(ws []mappings.Piece) (code string, e keyEntry, ok bool) {
	code, name := ws[0].Text, ws[1].Text
	if !codeLike(code) {
		return "", e, false
	}
	m, known := understand(d.v, name)
	if !known || m.conf < 0.5 || m.unknown > 0 {
		return "", e, false
	}
	e.name = name
	for _, w := range ws[2:] {
		if d.unitID(w.Text) != "" && e.unit == "" {
			e.unit = w.Text
		} else if x, _, known := methodOf(d.v, w.Text); known {
			e.method = x
		}
	}
	return mappings.Squeeze(code), e, true
}

// codeLike reports whether a text can be a code: one short word with a
// capital letter or a digit, and no number.
func codeLike(t string) bool {
	return len(t) <= 14 && !strings.ContainsAny(t, " :") && !isNumber(t) && t != strings.ToLower(t) || len(t) <= 14 && hasDigit(t) && hasLetter(t) && !strings.Contains(t, " ")
}

// byKey is what a key says that a label stands for.
func (d *drafter) byKey(label string, context []string) (meaning, bool) {
	e, ok := d.keys[mappings.Squeeze(label)]
	if !ok {
		return meaning{}, false
	}
	m, ok := understand(d.v, e.name, append(append([]string{}, context...), e.unit)...)
	if !ok {
		return m, false
	}
	if e.method != "" && !d.leavesStrengthOpen(e.method) {
		m.method = e.method
	}
	m.conf = min(m.conf, 0.85)
	return m, true
}
