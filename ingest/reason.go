package ingest

import (
	"errors"
	"strings"
)

// A Severity says what a reason does to a report. The zero value is invalid,
// so that none is forgotten.
type Severity string

// The severities, from the lightest.
const (
	Note Severity = "note" // worth knowing; changes nothing
	Flag Severity = "flag" // the value stands, with a mark
	Hold Severity = "hold" // the report waits for a person
	Fail Severity = "fail" // nothing could be read
)

// A Reason is the one shape of everything that a person may have to be told
// about a report, a mapping or a rule set: on the screen, beside a held file,
// in a record and on the workbench. Its text is for a clerk, not for a
// programmer.
type Reason struct {
	Code     string   `json:"code"` // stable and documented, such as unit-differs
	Severity Severity `json:"severity"`
	Where    Place    `json:"where,omitzero"` // in the report
	Rule     Place    `json:"rule,omitzero"`  // in the mapping or rule set; zero if none
	What     string   `json:"what"`           // one sentence: what is wrong
	Expected string   `json:"expected,omitempty"`
	Found    string   `json:"found,omitempty"`
	Next     string   `json:"next,omitempty"` // what to do about it
}

// Error is the reason as a block of text:
//
//	april.csv:14:3: held [unit-differs] the unit is not the one this laboratory prints
//	    expected  mg/kg   (quarry-ag.yaml:41:12)
//	    found     lb/A
//	    next      if the laboratory changed its units, add a layout dated from this report
func (r *Reason) Error() string {
	var b strings.Builder
	if w := r.Where.String(); w != "" {
		b.WriteString(Shown(w) + ": ")
	} else if w := r.Rule.String(); w != "" {
		b.WriteString(Shown(w) + ": ")
	}
	b.WriteString(r.Severity.word() + " [" + r.Code + "] " + shown(r.What, true))
	line := func(k, v string) {
		if v != "" {
			b.WriteString("\n    " + k + strings.Repeat(" ", 10-len(k)) + strings.ReplaceAll(shown(v, true), "\n", "\n              "))
		}
	}
	exp := r.Expected
	if exp != "" && !r.Rule.IsZero() && !r.Where.IsZero() {
		exp += "   (" + r.Rule.String() + ")"
	}
	line("expected", exp)
	line("found", r.Found)
	line("next", r.Next)
	return b.String()
}

func (s Severity) word() string {
	switch s {
	case Note:
		return "note"
	case Flag:
		return "flagged"
	case Hold:
		return "held"
	case Fail:
		return "not read"
	}
	return "reason without severity"
}

// In returns a copy of the reason whose place names the file.
func (r *Reason) In(file string) *Reason {
	c := *r
	c.Where.File = file
	return &c
}

// AsReason is the reason inside an error, or a "failed" reason that carries
// the error's text, so that no error reaches a person bare.
func AsReason(err error) *Reason {
	if err == nil {
		return nil
	}
	var r *Reason
	if errors.As(err, &r) {
		return r
	}
	return &Reason{Code: "failed", Severity: Fail, What: "the file could not be worked on", Found: err.Error(),
		Next: "try again; if it happens again, keep the file and send it with this message to whoever looks after Windrow"}
}

// EmptyFile is the reason for a file of no bytes where expected, such as
// "a PDF", should be.
func EmptyFile(expected string) *Reason {
	return &Reason{Code: "empty-file", Severity: Fail, What: "the file is empty", Expected: expected, Found: "0 bytes",
		Next: "ask the sender for the file again; it was probably not saved or sent completely"}
}
