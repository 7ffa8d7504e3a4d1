package draft

import (
	"fmt"
	"path"
	"strings"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
)

// An example is what the proposal reads from one sample of a report: the
// beginning of an example that the mapping then tests itself by, once a
// person has compared it with the page.
type example struct {
	file, sample string
	readings     int
	expect       []string // "label: value", as YAML
}

// exampleOf takes some values of the last sample that a report holds, as the
// first is the one that a wrong layout is likeliest to read well: every few
// results, and the fields that most depend on the layout.
func exampleOf(m *mappings.Mapping, doc *ingest.Document, x *mappings.Extract) *example {
	if len(x.Samples) == 0 || doc.Source.Member != "" {
		return nil // a member of an archive or a mail is no file beside the mapping
	}
	s := x.Samples[len(x.Samples)-1]
	e := &example{file: path.Base(doc.Source.Name), sample: s.Fields[mappings.LabSampleID].Value}
	for _, o := range x.Samples {
		e.readings += len(o.Readings)
	}
	if e.sample == "" || len(s.Readings) == 0 {
		return nil
	}
	step := max(1, len(s.Readings)/5)
	for i, r := range s.Readings {
		if label := onlyLabel(m, s, r); i%step == 0 && label != "" && r.Printed != "" {
			e.expect = append(e.expect, yamlText(label)+": "+fmt.Sprintf("%q", r.Printed))
		}
	}
	for _, id := range []mappings.FieldID{mappings.DateSampled, mappings.DateReported, mappings.Depth, mappings.County} {
		if v := s.Fields[id].Value; v != "" {
			e.expect = append(e.expect, string(id)+": "+fmt.Sprintf("%q", v))
		}
	}
	return e
}

// onlyLabel is the label under which an example can name a reading, "" when
// another reading of the sample would answer to it too.
func onlyLabel(m *mappings.Mapping, s *mappings.SampleExtract, r mappings.Reading) string {
	for _, t := range m.Tests {
		if t.Analyte != r.Analyte || t.Detail != r.Detail || t.Basis != r.Basis || t.Method != "" && t.Method != r.Method {
			continue
		}
		n := 0
		for _, o := range s.Readings {
			if o.Analyte == t.Analyte && o.Detail == t.Detail && o.Basis == t.Basis && (t.Method == "" || t.Method == o.Method) {
				n++
			}
		}
		if n == 1 {
			return t.Label
		}
	}
	return ""
}

// renderExamples writes the examples as comments: what a draft has read is
// no proof of itself, and becomes an example only by a person's hand.
func (d *drafter) renderExamples(p func(string, ...any)) {
	var es []*example
	for _, l := range d.layouts {
		if l.example != nil {
			es = append(es, l.example)
		}
	}
	if len(es) == 0 {
		return
	}
	p("")
	p("# QUESTION: do these values stand so on the reports? Compare them with the pages, take the # from the")
	p("# lines below, and this question away. The mapping then tests itself by them: windrow mapping test")
	p("#examples:")
	for _, e := range es {
		p("#  - file: %s", yamlText(e.file))
		p("#    sample: %s", fmt.Sprintf("%q", e.sample))
		p("#    readings: %d", e.readings)
		p("#    expect: {%s}", strings.Join(e.expect, ", "))
	}
}
