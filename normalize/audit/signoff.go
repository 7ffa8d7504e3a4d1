package audit

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"
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

// Sign makes the sign-off of an account. It refuses one without a name, and
// one of an account with differences but without a note that says why they
// may stand.
func Sign(a *Account, name, note, software string, at time.Time) (*SignOff, error) {
	name, note = strings.TrimSpace(name), strings.TrimSpace(note)
	if name == "" {
		return nil, errors.New("a sign-off needs the name of the person who read the account")
	}
	if len(a.Differences) > 0 && note == "" {
		return nil, fmt.Errorf("the account has %d differences; a sign-off of it needs a note that says why they may stand", len(a.Differences))
	}
	hash, err := a.Hash()
	if err != nil {
		return nil, err
	}
	steps, findings := a.Unverified()
	s := &SignOff{Schema: SignOffSchema, Name: name, Note: note, Time: at.UTC().Truncate(time.Second), Software: software, Scope: a.Scope, Account: hash, Tally: a.Tally, Held: a.Held,
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
	SignOff string    `json:"sign_off"`
	Name    string    `json:"name"`
	Time    time.Time `json:"time"`
	Same    bool      `json:"same"`    // the account is the one that was signed
	New     []string  `json:"new"`     // reports that came since
	Changed []string  `json:"changed"` // reports with another version or other bytes
	Gone    []string  `json:"gone"`    // reports that are no longer there
}

// Since compares an account with one that was signed before.
func (s *SignOff) Since(a *Account) (SinceSigned, error) {
	hash, err := a.Hash()
	out := SinceSigned{SignOff: s.ID, Name: s.Name, Time: s.Time, Same: hash == s.Account, New: []string{}, Changed: []string{}, Gone: []string{}}
	// A report is the set of its versions that were audited.
	type versions map[string]string
	of := func(ds []Document) versions {
		m := versions{}
		for _, d := range ds {
			m[d.Report] += fmt.Sprintf("%d %s\n", d.Version, d.SHA256)
		}
		return m
	}
	was, is := of(s.Documents), of(a.Documents)
	for _, d := range a.Documents {
		switch w, ok := was[d.Report]; {
		case !ok:
			out.New = addOnce(out.New, d.Report)
		case w != is[d.Report]:
			out.Changed = addOnce(out.Changed, d.Report)
		}
	}
	for _, d := range s.Documents {
		if _, ok := is[d.Report]; !ok {
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
	head := fmt.Sprintf("%s by %s on %s: ", s.SignOff, s.Name, s.Time.Format("2006-01-02"))
	if s.Same {
		return []string{head + "nothing has changed since"}
	}
	if len(s.New)+len(s.Changed)+len(s.Gone) == 0 {
		return []string{head + "the reports are the same, and what is said of them is not: sources, checks or this audit have changed since"}
	}
	out := []string{head + "changed since"}
	for _, x := range []struct {
		what string
		ids  []string
	}{{"new", s.New}, {"another version", s.Changed}, {"gone", s.Gone}} {
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
