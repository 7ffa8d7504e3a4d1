package pipeline

import (
	"fmt"
	"strings"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
)

// heldByWords holds the reports of a mail in which people write that results
// are corrected, replaced or withdrawn: in its subject, in what is written in
// it, or in a document that is declared to be no report. What a report says of
// itself is the mapping's to see.
func heldByWords(all []*Reading) {
	told := map[string]*ingest.Reason{}
	for _, rd := range all {
		if rd.mail == "" || told[rd.mail] != nil {
			continue
		}
		told[rd.mail] = recalledBy(all, rd)
	}
	for _, rd := range all {
		if why := told[rd.mail]; why != nil && rd.Extract != nil {
			own := *why
			rd.Extract.Reasons = append(rd.Extract.Reasons, &own)
		}
	}
}

// recalledBy is why what came with a file of a mail does not stand, nil for
// nothing.
func recalledBy(all []*Reading, rd *Reading) *ingest.Reason {
	for _, subject := range strings.Split(rd.Source.Subjects, "\n") {
		if words := mappings.Recalls(subject, true); words != "" {
			return recalled(ingest.Place{File: rd.mail}, "the subject of the mail", words, subject)
		}
		if mappings.NotFinal(subject) {
			return &ingest.Reason{Code: "not-final", Severity: ingest.Hold, Where: ingest.Place{File: rd.mail}, What: "the subject of the mail says that its results are not final", Expected: "results that are final", Found: subject,
				Next: "wait for the final report, or ask the laboratory; if the subject has nothing to do with the report, save the report from the mail and drop it in by itself"}
		}
	}
	var t *talk
	where := "what is written in the mail"
	if rd.Match == nil && rd.talk != nil {
		t = rd.talk
	} else if _, is := declaredBy(all, rd); is != nil {
		t, where = &rd.companion.lines, "the "+is.What+" that came with it"
	}
	if t == nil {
		return nil
	}
	lines, at := t.said()
	for i, line := range lines {
		joined := line
		if i+1 < len(lines) {
			joined += " " + lines[i+1] // a sentence may go on in the next line
		}
		if words := mappings.Recalls(joined, false); words != "" {
			at[i].File = rd.Source.Title()
			return recalled(at[i], where, words, joined)
		}
	}
	return nil
}

func recalled(at ingest.Place, where, words, text string) *ingest.Reason {
	if rs := []rune(text); len(rs) > 160 {
		text = string(rs[:160]) + "…"
	}
	return &ingest.Reason{Code: "corrects-earlier", Severity: ingest.Hold, Where: at, What: fmt.Sprintf("%s says that results are corrected, replaced or withdrawn (%q)", where, strings.TrimSpace(words)),
		Expected: "a mail that only hands over the report", Found: strings.TrimSpace(text),
		Next: "read it beside the report: nothing of what came with it is used until a person has decided (windrow ruling); if a number is wrong, ask the laboratory for a corrected report"}
}

// said is what people wrote, line by line, with what is quoted of earlier
// mails: a correction is often passed on so.
func (t *talk) said() (lines []string, at []ingest.Place) {
	for i, row := range t.rows {
		if len(row) == 0 {
			if q := t.quoted[i]; q != "" {
				lines, at = append(lines, q), append(at, ingest.Place{Line: i + 1, Col: 1})
			}
			continue
		}
		var texts []string
		for _, c := range row {
			texts = append(texts, c.text)
		}
		lines, at = append(lines, strings.Join(texts, " ")), append(at, row[0].at)
	}
	return lines, at
}
