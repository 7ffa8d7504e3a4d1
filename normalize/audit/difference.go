package audit

import (
	"fmt"
	"strings"

	"example.org/windrow/normalize"
)

// The codes of differences.
const (
	CodeValue    = "value-differs"      // recomputing gives another number
	CodeStep     = "step-differs"       // a step's outcome does not follow from its factor or equation
	CodeLink     = "chain-broken"       // a step does not begin where the one before it ended
	CodeStart    = "start-differs"      // the first step does not begin at what was printed
	CodeEnd      = "end-differs"        // the last step does not end at the value
	CodeInput    = "input-differs"      // the factor is not the one that the step's inputs give
	CodeUnused   = "input-unexplained"  // an input that neither equation nor relation uses
	CodeFactor   = "factor-varies"      // one conversion, one set of tables, two factors
	CodeSource   = "source-unknown"     // a source key that the bibliography lacks
	CodeEquation = "not-computable"     // a factor or equation that can't be read
	CodeDigits   = "too-many-digits"    // the value has more digits than the printed number allows
	CodeForm     = "form-differs"       // a form is not what its step or the value says
	CodeEstimate = "estimate-differs"   // an estimate is not what its steps give
	CodeInterval = "interval-differs"   // the interval of an estimate is not what its error or ratio gives
	CodeDerived  = "derived-differs"    // a quantity that follows from results is not what its equation gives
	CodeStatus   = "status-differs"     // a status does not follow from the reasons and findings
	CodePrinted  = "text-differs"       // number or limit are not those of the printed text
	CodeRating   = "rating-differs"     // a class without a printed rating, or one rating with two classes
	CodeDomain   = "domain-differs"     // an estimate is not where its conditions put it
	CodeNothing  = "value-from-nothing" // a value without a printed number
	CodeOriginal = "original-differs"   // the original is missing or its hash is another
	CodePlace    = "printed-differs"    // what stands at the place in the original is not the printed text
	CodeAltered  = "altered-in-place"   // a document is not, byte for byte, the one that was signed
	CodeGone     = "gone-since-signed"  // a document that was signed is no longer there
	CodeMissing  = "report-missing"     // a note of an arrival or the index names a report that the archive lacks
	CodeDocument = "document-damaged"   // the archive's document can't be read, or its checksum is another
)

// A Difference is one thing in an archived record that does not follow from
// what is stored beside it, or from the original.
type Difference struct {
	Code     string `json:"code"`
	Report   string `json:"report"`
	Version  int    `json:"version,omitempty"` // of the report in the archive
	Record   string `json:"record,omitempty"`
	Lab      string `json:"lab,omitempty"`
	Result   string `json:"result,omitempty"` // analyte and printed text, for a person
	Step     string `json:"step,omitempty"`   // such as "step 2" or "form step 1"; "" when about the whole
	What     string `json:"what"`
	Expected string `json:"expected,omitempty"` // as recomputed
	Found    string `json:"found,omitempty"`    // as archived
}

// String is the difference as a block of lines for a person.
func (d Difference) String() string {
	var b strings.Builder
	at := d.Record
	if at == "" {
		at = d.Report
	}
	b.WriteString(at)
	for _, s := range []string{d.Result, d.Step} {
		if s != "" {
			b.WriteString(", " + s)
		}
	}
	b.WriteString(": [" + d.Code + "] " + d.What)
	if d.Expected != "" {
		b.WriteString("\n    expected  " + d.Expected)
	}
	if d.Found != "" {
		b.WriteString("\n    found     " + d.Found)
	}
	return b.String()
}

// label names a result for a person.
func label(res *normalize.Result) string {
	s := res.Analyte
	if res.Detail != "" {
		s += " (" + res.Detail + ")"
	}
	s += fmt.Sprintf(" printed “%s”", res.Printed.Text)
	if res.Printed.Unit != "" {
		s += " " + res.Printed.Unit
	}
	return s
}

func quantity(q normalize.Quantity) string { return strings.TrimSpace(string(q.Value) + " " + q.Unit) }
