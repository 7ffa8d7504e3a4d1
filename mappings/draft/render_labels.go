package draft

import (
	"strings"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
)

// renderLabels writes the results beside labels and in sentences.
func (d *drafter) renderLabels(p func(string, ...any), l *layoutDraft) {
	if len(l.labels) > 0 {
		head := false
		for _, f := range l.labels {
			label := strings.TrimSuffix(f.label, ":")
			e := d.tests.find(label)
			if e == nil || e.unprinted == "-" {
				continue
			}
			reads := "{result}"
			if len(e.units) > 0 && e.unprinted == "" && l.format != ingest.PDF {
				reads += " {unit?}"
				if f.glued {
					reads = "{result}{unit?}"
				}
			} else if len(e.units) > 0 && e.unprinted == "" {
				reads += " {unit}"
			}
			if f.rating != "" {
				reads += " {rating?}"
			}
			after := ""
			if f.below {
				after = ", below: " + yamlText(mappings.Literal(f.label))
			} else if f.label != e.label || f.leader {
				after = ", after: " + yamlText(mappings.Literal(f.label))
			}
			if !head {
				p("    labels:")
				head = true
			}
			p("      - {test: %s%s, reads: %s}%s", yamlText(e.label), after, yamlText(reads), note(f.conf(), "", []string{f.ask()}))
		}
	}
	if len(l.sentences) > 0 {
		p("    sentences:")
		for _, f := range l.sentences {
			if f.kept {
				p("      - {text: %s, test: %s}", yamlText(f.text), yamlText(f.label))
				continue
			}
			p("      - {text: %s, test: %s, optional: yes}%s", yamlText(f.text), yamlText(f.label), note(0.6, "", []string{"is this sentence a result of the sample? In the report it gives " + f.value + "; if it speaks of anything else, take the line out and declare the sentence under not results"}))
		}
	}
}
