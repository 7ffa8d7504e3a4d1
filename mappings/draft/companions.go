package draft

import (
	"path"
	"strings"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
)

// An enclosure is a file that came in one mail with a report and in which no result
// was recognised: a leaflet, an invoice, a covering letter.
type enclosure struct {
	doc   *ingest.Document
	what  string
	texts []string // stand in it, and on no report
	file  string   // pattern of its name; "" where two texts say enough
	money bool     // prices and sums stand in it
}

// companions proposes how the files that came with the reports are declared
// to be none. They are proposed only in comments: that a file is no report is
// for a person to say, who has looked at it.
func (d *drafter) companions(empty []*ingest.Document) {
	mails := map[string]bool{}
	for _, l := range d.layouts {
		for _, doc := range l.docs {
			mails[doc.Source.Name] = true
		}
	}
	for _, doc := range empty {
		if doc.Source.Member == "" || !mails[doc.Source.Name] || strings.HasPrefix(path.Base(doc.Source.Member), "message ") || doc.Scanned() {
			continue
		}
		if b := d.enclosure(doc); b != nil {
			d.enclosures = append(d.enclosures, b)
		}
	}
}

// enoughTexts are as many texts as know a file that is no report without its
// name.
const enoughTexts = 2

func (d *drafter) enclosure(doc *ingest.Document) *enclosure {
	b := &enclosure{doc: doc, what: "leaflet or letter"}
	for _, p := range doc.Pages {
		s := newSheet(doc, p)
		for i := range s.lines {
			for _, r := range s.lines[i].runs {
				b.money = b.money || moneyLine.MatchString(r.text)
				if len(b.texts) < enoughTexts && d.tells(r.text, doc) && (len(b.texts) == 0 || !strings.Contains(r.text, b.texts[0]) && !strings.Contains(b.texts[0], r.text)) {
					b.texts = append(b.texts, r.text)
				}
			}
		}
	}
	if len(b.texts) == 0 {
		return nil
	}
	if b.money {
		b.what = "invoice or price list"
	}
	if len(b.texts) < enoughTexts {
		name := doc.Source.Member[strings.LastIndex(doc.Source.Member, " > ")+1:]
		b.file = anyDigit.ReplaceAllString(mappings.Literal(path.Base(strings.TrimPrefix(name, "> "))), "#")
	}
	return b
}

// tells reports whether a text can know a file that is no report: a few words
// without a number, which are not the laboratory's name and stand on no report.
func (d *drafter) tells(text string, doc *ingest.Document) bool {
	n := len(strings.Fields(text))
	if n < 2 || n > 9 || len(text) < 10 || hasDigit(text) || strings.Contains(text, "@") || labName(text) || d.lab != "" && strings.Contains(d.lab, text) {
		return false
	}
	p := mappings.Literal(text)
	for _, l := range d.layouts {
		for _, o := range l.docs {
			if mappings.Stands(p, o) {
				return false
			}
		}
	}
	return mappings.Stands(p, doc)
}

func (d *drafter) renderCompanions(p func(string, ...any)) {
	if len(d.enclosures) == 0 {
		return
	}
	p("")
	p("# A mail with these reports also held files in which no results were recognised. Until")
	p("# the mapping says what they are, they hold every such mail, since one might be a")
	p("# correction. Look at each; of those that the laboratory sends with its reports and that")
	p("# never hold results, take the # away, and of the line above them:")
	p("#not reports:")
	for _, b := range d.enclosures {
		line := "{what: " + yamlText(b.what)
		if b.file != "" {
			line += ", file: " + yamlText(b.file)
		}
		line += ", texts: " + yamlList(literals(b.texts))
		if b.money {
			line += ", numbers: yes"
		}
		p("#  - %s}  # %s", line, path.Base(b.doc.Source.Member))
	}
}
