package pipeline

import (
	"slices"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
)

// A Status is what became of a file.
type Status string

// What can become of a file, from best to worst.
const (
	OK        Status = "ok"
	Flagged   Status = "flagged"   // taken; some result carries a finding
	Duplicate Status = "duplicate" // the same bytes are in the archive already
	Held      Status = "held"      // kept; waits for a person
	Failed    Status = "failed"    // not worked on, for a cause outside the file such as a full disk; it may be tried again
)

// An Outcome is what became of one file.
type Outcome struct {
	Name    string           `json:"file"`
	SHA256  string           `json:"sha256"`
	Status  Status           `json:"status"` // the worst of its parts
	Parts   []Part           `json:"parts"`  // one for each report in the file; none of a duplicate or of a failure
	Reasons []*ingest.Reason `json:"reasons,omitempty"`
	First   string           `json:"first,omitempty"` // of a duplicate: the name under which the bytes first came, alone or in another file
}

// A Part is one report of a file.
type Part struct {
	Report  *normalize.Report `json:"-"` // nil for a duplicate
	ID      string            `json:"report"`
	Member  string            `json:"member,omitempty"` // name in the file, of a mail or an archive
	Lab     string            `json:"lab,omitempty"`
	Status  Status            `json:"status"`
	Version int               `json:"version"` // in the archive
	New     bool              `json:"new"`     // the archive did not hold this version before
	Letters []string          `json:"letters,omitempty"`
	First   string            `json:"first,omitempty"` // of a duplicate: the file in which the same bytes first came
}

// Samples counts the samples of all parts.
func (o *Outcome) Samples() int {
	n := 0
	for _, p := range o.Parts {
		if p.Report != nil {
			n += len(p.Report.Records)
		}
	}
	return n
}

// Results counts the results of all parts.
func (o *Outcome) Results() int {
	n := 0
	for _, p := range o.Parts {
		if p.Report != nil {
			for _, r := range p.Report.Records {
				n += len(r.Results)
			}
		}
	}
	return n
}

// Used names the files in a mail or an archive whose numbers are used: all
// that are neither held nor failed. Of a file that is held as a whole, none.
func (o *Outcome) Used() []string {
	var out []string
	for _, p := range o.Parts {
		name := p.Member
		switch {
		case name == "" || p.Status == Held || p.Status == Failed:
			continue
		case p.Status == Duplicate:
			name += " (which came before, as " + p.First + ")"
		}
		out = append(out, name)
	}
	return out
}

// Labs names the laboratories of the parts, each once.
func (o *Outcome) Labs() []string {
	var out []string
	for _, p := range o.Parts {
		if p.Lab != "" && !slices.Contains(out, p.Lab) {
			out = append(out, p.Lab)
		}
	}
	return out
}

// Letters lists the paths of the letters of all parts.
func (o *Outcome) Letters() []string {
	var out []string
	for _, p := range o.Parts {
		out = append(out, p.Letters...)
	}
	return out
}

func worse(a, b Status) Status {
	order := []Status{OK, Flagged, Duplicate, Held, Failed}
	return order[max(slices.Index(order, a), slices.Index(order, b))]
}

// failed is the outcome of a file that could not be worked on.
func failed(src *ingest.Source, err error) Outcome {
	r := *ingest.AsReason(err)
	if r.Where.IsZero() {
		r.Where.File = src.Title()
	}
	return Outcome{Name: src.Name, SHA256: src.SHA256, Status: Failed, Reasons: []*ingest.Reason{&r}}
}
