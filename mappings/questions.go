package mappings

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"example.org/windrow/ingest"
)

// A question stands in a comment, as a draft writes it.
var question = regexp.MustCompile(`(?:^|\s)#.*?\bQUESTION:\s*(.*)`)

// questions are the questions that stand in a mapping's comments, each with
// its line. A mapping with a question holds what it reads, as nobody has
// confirmed it.
func questions(file string, text []byte) []*ingest.Reason {
	var out []*ingest.Reason
	line := 0
	for l := range strings.Lines(string(text)) {
		line++
		q := question.FindStringSubmatch(l)
		if q == nil {
			continue
		}
		out = append(out, &ingest.Reason{Code: "question-open", Severity: ingest.Hold, Where: ingest.Place{File: file, Line: line}, What: "a question of this mapping is not answered, so it holds every report",
			Expected: "a line that the laboratory's guide bears out", Found: strings.TrimSpace(q[1]), Next: "correct the line if need be, and then take the QUESTION away"})
	}
	return out
}

// holdQuestions holds what was read by a mapping that has open questions. It
// comes first among the reasons, and no limit on their number leaves it out.
func (r *reader) holdQuestions() {
	qs := r.l.mapping.Questions
	if len(qs) == 0 {
		return
	}
	r.out.Reasons = slices.Insert(r.out.Reasons, 0, &ingest.Reason{Code: "question-open", Severity: ingest.Hold, Where: ingest.Place{File: r.doc.Source.Title()}, Rule: qs[0].Where,
		What: fmt.Sprintf("the mapping is a draft: its open questions number %d", len(qs)), Expected: "a mapping whose questions are answered and taken away", Found: "first: " + qs[0].Found,
		Next: "answer the questions by the laboratory's guide; windrow mapping check lists them"})
}
