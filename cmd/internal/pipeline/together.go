package pipeline

import (
	"fmt"
	"slices"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
)

// codeWaits marks what was read and waits for something else that came with
// it.
const codeWaits = "waits-for-the-rest"

// stops reports whether a reason holds a report.
func stops(r *ingest.Reason) bool {
	return r.Severity == ingest.Hold || r.Severity == ingest.Fail
}

// together has what belongs together wait together, so that nothing is used
// of what the office is told to be set aside. The parts of one mail do: a
// table in its text and the list attached to it are mostly halves of the same
// samples, and what could not be read might be a correction of what could.
// The files of an archive are reports by themselves; one of them waits where
// a held one has its sample or its report number.
func (s *Stages) together(p parcel, all []*Reading, d Defaults) {
	held := func(rd *Reading) bool { return rd.Report.Status == normalize.Held }
	var seeds []*Reading
	for _, rd := range all {
		if held(rd) {
			seeds = append(seeds, rd)
		}
	}
	for _, rd := range all {
		if rd.mail != "" || held(rd) {
			continue
		}
		for _, of := range seeds {
			if what := shared(rd.Report, of.Report); what != "" {
				s.wait(rd, d, &ingest.Reason{Code: codeWaits, Severity: ingest.Hold, Where: ingest.Place{File: rd.Source.Title()}, What: "this file was read, and waits for another one that came with it and has the same " + what,
					Expected: "every file about it to be read", Found: of.Source.Title() + " is held, for the reason that is told of it", Next: "settle that one; this one is then used, too"})
				break
			}
		}
	}
	for _, rd := range all {
		if rd.mail == "" || held(rd) {
			continue
		}
		if of := lacking(p, all, rd); of != "" {
			s.wait(rd, d, &ingest.Reason{Code: codeWaits, Severity: ingest.Hold, Where: ingest.Place{File: rd.Source.Title()}, What: "this part of the mail was read, and waits for the rest of the mail, which may be about the same samples",
				Expected: "every part of the mail to be read", Found: of + " is held, for the reason that is told of it",
				Next: "settle that part; if it has nothing to do with this one, save this one from the mail and drop it in by itself"})
		}
	}
}

// lacking names what is held of the mail in which a reading came, "" for
// nothing.
func lacking(p parcel, all []*Reading, rd *Reading) string {
	for _, x := range all {
		if x.mail == rd.mail && x.Report.Status == normalize.Held && !slices.ContainsFunc(x.Report.Reasons, func(r *ingest.Reason) bool { return r.Code == codeWaits }) {
			return x.Source.Title()
		}
	}
	if lost := p.lost[rd.mail]; len(lost) > 0 {
		return lost[0].Where.File
	}
	return ""
}

// shared says what two reports of one laboratory have in common, "" for
// nothing.
func shared(a, b *normalize.Report) string {
	if a.Lab.ID != b.Lab.ID || a.Lab.ID == "" {
		return ""
	}
	if a.Number != "" && a.Number == b.Number {
		return "report number, " + a.Number
	}
	of := map[string]bool{}
	for _, rec := range a.Records {
		of[rec.Sample.LabID] = rec.Sample.LabID != ""
	}
	for _, rec := range b.Records {
		if of[rec.Sample.LabID] {
			return fmt.Sprintf("sample, %s", rec.Sample.LabID)
		}
	}
	return ""
}

// wait builds a report anew that waits for a reason outside it.
func (s *Stages) wait(rd *Reading, d Defaults, r *ingest.Reason) {
	x := *rd.Extract
	x.Reasons = append(slices.Clone(x.Reasons), r)
	rd.Extract = &x
	s.build(rd, d, false)
}

// inOrder puts first what holds a file, as the note beside it does, and then
// what merely waits with it. What was only noticed comes last.
func inOrder(rs []*ingest.Reason) []*ingest.Reason {
	rank := func(r *ingest.Reason) int {
		switch {
		case stops(r) && r.Code != codeWaits:
			return 0
		case stops(r):
			return 1
		case r.Severity == ingest.Flag:
			return 2
		}
		return 3
	}
	slices.SortStableFunc(rs, func(a, b *ingest.Reason) int { return rank(a) - rank(b) })
	return rs
}
