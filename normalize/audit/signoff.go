package audit

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"
	"unicode"
)

// SignOffSchema is the version of the sign-off that this package writes.
const SignOffSchema = "windrow-signoff/1"

// A SignOff is what the archive keeps of a person having read an account: who,
// when, and of what. It is written once and never changed; its id is drawn
// from its content, so that changing it shows.
type SignOff struct {
	Schema      string       `json:"schema"`
	ID          string       `json:"id"` // "S" and 16 hex digits
	Name        string       `json:"name"`
	Decision    Decision     `json:"decision,omitempty"` // "" in those of versions that kept none
	Note        string       `json:"note,omitempty"`
	Time        time.Time    `json:"time"` // universal time, to the second
	Software    string       `json:"software"`
	Scope       Scope        `json:"scope"`
	Account     string       `json:"account"` // hash of the account; see [Account.Hash]
	Tally       Tally        `json:"tally"`
	Held        int          `json:"held_reports"`
	Conversions int          `json:"conversions"`
	Outside     int          `json:"estimates_outside_domain"`
	Findings    int          `json:"findings"`         // of checks
	Unverified  [2]int       `json:"unverified"`       // steps and findings that rest on memory, common practice or nothing known
	Differences []Difference `json:"differences"`      // as they were then
	Reread      *Reread      `json:"reread,omitempty"` // if the originals were read again
	Documents   []Document   `json:"documents"`        // what was audited, so that later changes can be named
}

// A Decision is what the person who signs decides about the account.
type Decision string

// The decisions.
const (
	Accepted            Decision = "accepted"
	AcceptedWithRemarks Decision = "accepted with remarks"
	NotAccepted         Decision = "not accepted"
)

// Decisions are all decisions, from the best.
func Decisions() []Decision { return []Decision{Accepted, AcceptedWithRemarks, NotAccepted} }

// leastNote is how many letters and digits a note needs to say something.
const leastNote = 10

// A Signature is what the person who signs says.
type Signature struct {
	Name     string
	Decision Decision
	Note     string
}

// Sign makes the sign-off of an account at a time. It refuses one without a
// name or decision; of a period that holds no report, or that isn't over; and
// a plain acceptance where there is something to say. With differences, and
// with any decision but that, a note has to say why, in ten letters at least.
func Sign(a *Account, sig Signature, software string, at time.Time) (*SignOff, error) {
	name, note := strings.TrimSpace(sig.Name), strings.TrimSpace(sig.Note)
	said := 0
	for _, r := range note {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			said++
		}
	}
	today := at.UTC().Format(time.DateOnly)
	switch n := len(a.Differences); {
	case name == "":
		return nil, errors.New("a sign-off needs the name of the person who read the account")
	case !slices.Contains(Decisions(), sig.Decision):
		return nil, errors.New("a sign-off needs a decision: accepted, accepted with remarks, or not accepted")
	case a.Scope.Since > today || a.Scope.Until >= today:
		return nil, fmt.Errorf("the period %s is not over: today is %s, and nobody can have read what is still to come", a.Scope, today)
	case a.Tally.Reports == 0:
		return nil, fmt.Errorf("there is no report to sign: %s, nothing was read", a.Scope)
	case n > 0 && sig.Decision == Accepted:
		return nil, fmt.Errorf("the account has %d differences; it can be accepted with remarks that say why they may stand, or not accepted", n)
	case sig.Decision != Accepted && said < leastNote:
		return nil, fmt.Errorf("%s, with %d differences: that needs a note that says why, in %d letters at least", sig.Decision, n, leastNote)
	}
	hash, err := a.Hash()
	if err != nil {
		return nil, err
	}
	steps, findings := a.Unverified()
	s := &SignOff{Schema: SignOffSchema, Name: name, Decision: sig.Decision, Note: note, Time: at.UTC().Truncate(time.Second), Software: software, Scope: a.Scope, Account: hash, Tally: a.Tally, Held: a.Held,
		Conversions: len(a.Conversions), Outside: len(a.Outside), Unverified: [2]int{steps, findings}, Differences: a.Differences, Reread: a.Reread, Documents: a.Documents}
	for _, c := range a.Checks {
		s.Findings += c.Count
	}
	s.ID, err = s.id()
	return s, err
}

// id is drawn from everything else in the sign-off.
func (s SignOff) id() (string, error) {
	s.ID = ""
	b, err := s.JSON()
	h := sha256.Sum256(b)
	return "S" + hex.EncodeToString(h[:8]), err
}

// JSON is the sign-off as the archive keeps it.
func (s *SignOff) JSON() ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	err := e.Encode(s)
	return b.Bytes(), err
}

// ParseSignOff reads a sign-off and checks that it is whole: nothing unknown
// in it, nothing needed left out, and an id that fits its content.
func ParseSignOff(b []byte) (*SignOff, error) {
	d := json.NewDecoder(bytes.NewReader(b))
	d.DisallowUnknownFields()
	s := &SignOff{}
	if err := d.Decode(s); err != nil {
		return nil, fmt.Errorf("this is no sign-off: %w", err)
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return nil, errors.New("something follows the sign-off")
	}
	if s.Schema != SignOffSchema {
		return nil, fmt.Errorf("the sign-off is of the form %q and not %q", s.Schema, SignOffSchema)
	}
	if h, err := hex.DecodeString(s.Account); err != nil || len(h) != sha256.Size || s.Name == "" || s.Time.IsZero() {
		return nil, errors.New("the sign-off lacks its name, its time or the hash of what was signed")
	}
	if s.Decision != "" && !slices.Contains(Decisions(), s.Decision) {
		return nil, fmt.Errorf("the sign-off holds the decision %q, which is none", s.Decision)
	}
	id, err := s.id()
	if err != nil {
		return nil, err
	}
	if id != s.ID {
		return nil, fmt.Errorf("the sign-off is not what was signed: its content gives the id %s, and it says %s", id, s.ID)
	}
	return s, nil
}

// SinceSigned says what has become of an account since it was signed.
type SinceSigned struct {
	SignOff  string    `json:"sign_off"`
	Name     string    `json:"name"`
	Decision Decision  `json:"decision,omitempty"`
	Time     time.Time `json:"time"`
	Same     bool      `json:"same"`    // the account is the one that was signed
	New      []string  `json:"new"`     // reports that came since
	Newer    []string  `json:"newer"`   // reports with a newer version beside the one that was signed
	Altered  []string  `json:"altered"` // reports of which a signed version has other bytes now
	Gone     []string  `json:"gone"`    // reports that are no longer there
}

// Since compares an account with one that was signed before.
func (s *SignOff) Since(a *Account) (SinceSigned, error) {
	hash, err := a.Hash()
	out := SinceSigned{SignOff: s.ID, Name: s.Name, Decision: s.Decision, Time: s.Time, Same: hash == s.Account, New: []string{}, Newer: []string{}, Altered: []string{}, Gone: []string{}}
	altered := map[string]bool{}
	for _, d := range a.Differences {
		if d.Code == CodeAltered {
			altered[d.Report] = true
		}
	}
	// A report is the set of its versions that were audited.
	of := func(ds []Document) map[string]map[int]string {
		m := map[string]map[int]string{}
		for _, d := range ds {
			if m[d.Report] == nil {
				m[d.Report] = map[int]string{}
			}
			m[d.Report][d.Version] = d.SHA256
		}
		return m
	}
	was, is := of(s.Documents), of(a.Documents)
	for _, d := range a.Documents {
		w, signed := was[d.Report][d.Version]
		switch {
		case was[d.Report] == nil:
			out.New = addOnce(out.New, d.Report)
		case altered[d.Report] || signed && w != d.SHA256:
			out.Altered = addOnce(out.Altered, d.Report)
		case !signed:
			out.Newer = addOnce(out.Newer, d.Report)
		}
	}
	for _, d := range s.Documents {
		if is[d.Report] == nil {
			out.Gone = addOnce(out.Gone, d.Report)
		}
	}
	return out, err
}

// addOnce appends unless the last one is the same: the documents are in order.
func addOnce(list []string, s string) []string {
	if n := len(list); n > 0 && list[n-1] == s {
		return list
	}
	return append(list, s)
}

// Lines are what has changed, for a person.
func (s SinceSigned) Lines() []string {
	decision := ""
	if s.Decision != "" {
		decision = ", " + string(s.Decision)
	}
	head := fmt.Sprintf("%s by %s on %s%s: ", s.SignOff, s.Name, s.Time.Format("2006-01-02"), decision)
	if s.Same {
		return []string{head + "nothing has changed since"}
	}
	if len(s.New)+len(s.Newer)+len(s.Altered)+len(s.Gone) == 0 {
		return []string{head + "the reports are the same, and what is said of them is not: sources, checks or this audit have changed since"}
	}
	out := []string{head + "changed since"}
	for _, x := range []struct {
		what string
		ids  []string
	}{{"new", s.New}, {"newer version", s.Newer}, {"altered in place", s.Altered}, {"gone", s.Gone}} {
		if n := len(x.ids); n > 0 {
			line := fmt.Sprintf("%s: %d", x.what, n)
			if n <= 8 {
				line += " (" + strings.Join(x.ids, ", ") + ")"
			} else {
				line += " (" + strings.Join(x.ids[:8], ", ") + ", …)"
			}
			out = append(out, line)
		}
	}
	return out
}
