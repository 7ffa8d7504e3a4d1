package normalize

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"example.org/windrow/ingest"
)

// RulingSchema is the version of the form of rulings that this code writes.
const RulingSchema = "windrow-ruling/1"

// The codes of the reasons by which a report says that it was ruled on.
const (
	CountsCode   = "ruled-to-count"
	AsideCode    = "ruled-aside"
	unappliedRul = "ruling-not-applied"
)

// A Decision is what a person decided about a report.
type Decision string

// The decisions.
const (
	Count     Decision = "count"     // what holds it is settled, and it is used
	Aside     Decision = "set aside" // it is not used
	Withdrawn Decision = "withdrawn" // the ruling before it counts no more
)

// A Ruling is a person's decision on a report. The reading stays what it was;
// what holds the report, or that it is used, changes.
type Ruling struct {
	Schema   string    `json:"schema"`
	Report   string    `json:"id"` // of the report, and so of the ruling
	Decision Decision  `json:"decision"`
	By       string    `json:"by"` // who decided
	On       time.Time `json:"on"` // UTC, to the second
	Because  string    `json:"because"`
	// Basis is the hash of what was decided on: the results and what holds the
	// report. A report that is read otherwise later is not released by it.
	Basis string `json:"basis,omitempty"`
	// Settles are the codes of what held the report then.
	Settles []string `json:"settles,omitempty"`
}

// releasable are the reasons that a ruling can settle: a person knows from the
// laboratory which report counts. A number that could not be read or accounted
// for, or contradicts another, is no matter of ruling: the page decides, and
// the mapping or the laboratory is to be put right.
var releasable = []string{"corrects-earlier", AgainCode}

// Releasable reports whether a ruling can settle a reason of that code.
func Releasable(code string) bool { return slices.Contains(releasable, code) }

// ParseRuling reads a ruling and refuses one that is not whole.
func ParseRuling(b []byte) (*Ruling, error) {
	d := json.NewDecoder(bytes.NewReader(b))
	d.DisallowUnknownFields()
	var r Ruling
	if err := d.Decode(&r); err != nil {
		return nil, err
	}
	switch {
	case r.Schema != RulingSchema:
		return nil, fmt.Errorf("its form is %q and not %s", r.Schema, RulingSchema)
	case r.Decision != Count && r.Decision != Aside && r.Decision != Withdrawn:
		return nil, fmt.Errorf("%q is no decision", r.Decision)
	case r.Report == "" || strings.TrimSpace(r.By) == "" || strings.TrimSpace(r.Because) == "" || r.On.IsZero():
		return nil, errors.New("it does not say of which report, by whom, when or why")
	case r.Decision == Count && r.Basis == "":
		return nil, errors.New("it does not say what was decided on")
	}
	return &r, nil
}

// JSON is the ruling as the archive keeps it.
func (r *Ruling) JSON() ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	err := e.Encode(r)
	return b.Bytes(), err
}

// Holding are the reasons that hold a report.
func Holding(rep *Report) (out []*ingest.Reason) {
	for _, r := range rep.Reasons {
		if statusOf(r.Severity) == Held {
			out = append(out, r)
		}
	}
	return out
}

// Ruled reports whether a person decided that a report counts.
func Ruled(rep *Report) bool { return hasReason(rep, CountsCode) }

// SetAside reports whether a person decided that a report is not used.
func SetAside(rep *Report) bool { return hasReason(rep, AsideCode) }

func hasReason(rep *Report, code string) bool {
	return slices.ContainsFunc(rep.Reasons, func(r *ingest.Reason) bool { return r.Code == code })
}

// outside are what holds a report for the sake of others: what these are is
// not what a ruling was about.
var outside = []string{AgainCode, AsideCode, "waits-for-the-rest"}

// BasisOf is the hash of what a ruling on a report is about: its samples and
// results, and what of its own holds it.
func BasisOf(rep *Report) string {
	h := sha256.New()
	put := func(texts ...string) { _, _ = h.Write([]byte(strings.Join(texts, "\x00") + "\n")) } // a hash takes everything
	for _, rec := range rep.Records {
		put("sample", rec.ID, rec.Sample.LabID, rec.Sample.ClientLabel, rec.Sample.Sampled, rec.Sample.Reported)
		for _, r := range rec.Results {
			put("result", r.Analyte, r.Detail, r.Method, r.Unit, string(r.Value), r.Censored, r.Class, r.Missing, r.Printed.Text, r.Printed.Unit)
		}
	}
	var holds []string
	for _, r := range Holding(rep) {
		if !slices.Contains(outside, r.Code) {
			holds = append(holds, strings.Join([]string{"held", r.Code, r.What, r.Found}, "\x00"))
		}
	}
	slices.Sort(holds)
	put(holds...)
	return hex.EncodeToString(h.Sum(nil))
}

// Apply has a ruling on a report take effect. The report must be as it was
// read, not yet set against others of its day. A report that is read otherwise
// than the one that was ruled on is not released.
func (r *Ruling) Apply(rep *Report) {
	if r == nil || r.Decision == Withdrawn || r.Report != rep.ID {
		return
	}
	where := ingest.Place{File: title(rep.Source)}
	said := fmt.Sprintf("%s decided on %s", r.By, r.On.UTC().Format(time.DateOnly))
	if r.Decision == Aside {
		rep.Reasons = append(rep.Reasons, &ingest.Reason{Code: AsideCode, Severity: ingest.Hold, Where: where, What: said + " that this report is not used", Found: r.Because, Next: "nothing; windrow ruling --withdraw takes the decision back"})
		settle(rep)
		return
	}
	if BasisOf(rep) != r.Basis {
		rep.Reasons = append(rep.Reasons, &ingest.Reason{Code: unappliedRul, Severity: ingest.Note, Where: where, What: said + " that this report counts, and it is read otherwise now than what was decided on", Found: r.Because, Next: "compare the versions (windrow versions), and decide again"})
		return
	}
	for i, x := range rep.Reasons {
		if statusOf(x.Severity) == Held && Releasable(x.Code) {
			settled := *x // the one of the extract stays as it is
			settled.Severity, settled.Next = ingest.Flag, "settled by the decision of "+r.By
			rep.Reasons[i] = &settled
		}
	}
	rep.Reasons = append(rep.Reasons, &ingest.Reason{Code: CountsCode, Severity: ingest.Flag, Where: where, What: said + " that this report counts", Expected: "nothing that holds it", Found: strings.Join(r.Settles, ", ") + "; " + r.Because})
	unsettle(rep)
	settle(rep)
}

// unsettle forgets every status, so that settle derives it anew.
func unsettle(rep *Report) {
	rep.Status = OK
	for _, rec := range rep.Records {
		rec.Status = OK
		for _, res := range rec.Results {
			res.Status = OK
		}
	}
}
