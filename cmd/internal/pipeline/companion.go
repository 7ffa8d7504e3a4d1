package pipeline

import (
	"path"
	"regexp"
	"slices"
	"strings"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
)

// A companion is a file of a mail that no mapping reads and that some mapping
// declares to be no report.
type companion struct {
	by    map[*mappings.Mapping]*mappings.Companion
	lines talk
}

// companionOf is what mappings declare about a file that none of them reads,
// nil for nothing. docs are the ways in which it was read.
func (s *Stages) companionOf(src *ingest.Source, docs []*ingest.Document) *companion {
	c := &companion{by: map[*mappings.Mapping]*mappings.Companion{}}
	name := path.Base(src.Member[strings.LastIndex(src.Member, " > ")+1:])
	for _, m := range s.Mappings().Mappings() {
		if is := m.Companion(docs, strings.TrimPrefix(name, "> ")); is != nil {
			c.by[m] = is
		}
	}
	if len(c.by) == 0 {
		return nil
	}
	for _, line := range mappings.Lines(docs[0]) {
		var row []talkCell
		for i, p := range line {
			row = append(row, talkCell{i, p.Text, p.Place})
		}
		c.lines.rows = append(c.lines.rows, row)
	}
	return c
}

// withoutCompanions leaves out the files of a mail that the mapping of a report
// in the same mail declares to be none. One that has a number of a sample of
// the mail, or numbers that look like results, is left out only where the
// mapping says that it may have them. That it was left out is noted.
func withoutCompanions(all []*Reading) (kept []*Reading, notes []*ingest.Reason) {
	for _, rd := range all {
		of, is := declaredBy(all, rd)
		if is == nil {
			kept = append(kept, rd)
			continue
		}
		if at, found := rd.companion.results(all, rd.mail); !is.Numbers && found != "" {
			at.File = rd.Source.Title()
			rd.why = []*ingest.Reason{{Code: "companion-with-numbers", Severity: ingest.Hold, Where: at, Rule: is.Place, What: "the mapping of " + of.Match.Mapping.Lab + " says that this is no report (" + is.What + "), and numbers stand in it that may be results",
				Expected: "no number of a sample and no results", Found: found,
				Next: "if it is a report, make the texts under not reports in " + of.Match.Mapping.File + " more particular; if such documents never hold results, write there: numbers: yes"}}
			kept = append(kept, rd)
			continue
		}
		notes = append(notes, &ingest.Reason{Code: "companion-not-read", Severity: ingest.Note, Where: ingest.Place{File: rd.Source.Title()}, Rule: is.Place, What: "this file of the mail is no report (" + is.What + "), as the mapping of " + of.Match.Mapping.Lab + " declares, and was not read",
			Next: "nothing, unless it says something about the results"})
	}
	return kept, notes
}

// declaredBy is the first report of a file's mail whose mapping declares the
// file to be none, and the declaration.
func declaredBy(all []*Reading, rd *Reading) (of *Reading, is *mappings.Companion) {
	if rd.companion == nil || rd.mail == "" {
		return nil, nil
	}
	for _, x := range all {
		if x.mail == rd.mail && x.Match != nil && rd.companion.by[x.Match.Mapping] != nil {
			return x, rd.companion.by[x.Match.Mapping]
		}
	}
	return nil, nil
}

// results is where a number of a sample of the mail, or what looks like a
// result, stands in a companion, and what stands there; "" for nowhere.
func (c *companion) results(all []*Reading, mail string) (ingest.Place, string) {
	for _, rd := range all {
		if rd.mail != mail || rd.Extract == nil {
			continue
		}
		for _, s := range rd.Extract.Samples {
			no := s.Fields[mappings.LabSampleID].Value
			if no == "" {
				continue
			}
			word := regexp.MustCompile(`(^|[^\pL\pN])` + regexp.QuoteMeta(no) + `($|[^\pL\pN])`)
			for _, row := range c.lines.rows {
				if i := slices.IndexFunc(row, func(x talkCell) bool { return word.MatchString(x.text) }); i >= 0 {
					return row[i].at, row[i].text
				}
			}
		}
	}
	if at := c.lines.table(labelsOf(all, mail)); !at.IsZero() {
		return at, c.lines.shown
	}
	return ingest.Place{}, ""
}
