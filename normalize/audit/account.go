package audit

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/formula"
)

// Schema is the version of the account that this package makes.
const Schema = "windrow-audit/1"

// A Scope is what an audit is about. Days are those on which files arrived,
// in universal time; both are inside the period. Empty means without end, or
// every laboratory.
type Scope struct {
	Since string `json:"since,omitempty"` // YYYY-MM-DD
	Until string `json:"until,omitempty"`
	Lab   string `json:"lab,omitempty"`
	// AllVersions is set when the earlier versions of reports were audited, too.
	AllVersions bool `json:"all_versions,omitempty"`
}

// String is the scope in words.
func (s Scope) String() string {
	t := "everything in the archive"
	switch {
	case s.Since != "" && s.Until != "":
		t = s.Since + " to " + s.Until
	case s.Since != "":
		t = "from " + s.Since + " on"
	case s.Until != "":
		t = "up to " + s.Until
	}
	if s.Lab != "" {
		t += ", laboratory " + s.Lab
	}
	if s.AllVersions {
		t += ", with earlier versions"
	}
	return t
}

// Holds reports whether a report that arrived on a day, and is of a
// laboratory, is within the scope. A report whose day is not known is.
func (s Scope) Holds(day, lab string) bool {
	return (s.Lab == "" || s.Lab == lab) && (day == "" || (s.Since == "" || day >= s.Since) && (s.Until == "" || day <= s.Until))
}

// An Account is all that a steward signs: what was recomputed, on what ground
// each number stands, and what is wrong or open. It holds no personal data.
// The same archive and scope give the same account.
type Account struct {
	Schema      string       `json:"schema"`
	Scope       Scope        `json:"scope"`
	Tally       Tally        `json:"tally"`
	Held        int          `json:"held_reports"` // among the reports
	Differences []Difference `json:"differences"`
	Conversions []Conversion `json:"conversions"`
	Outside     []Outside    `json:"estimates_outside_domain"`
	Checks      []Fired      `json:"checks"`
	Refused     []Refused    `json:"not_converted"`
	Grounds     []Ground     `json:"sources"`
	Documents   []Document   `json:"documents"`
	Reread      *Reread      `json:"reread,omitempty"` // nil unless asked for
}

// A Document is one report of the archive that was audited.
type Document struct {
	Report  string `json:"report"`
	Version int    `json:"version"`
	SHA256  string `json:"sha256"` // of the document's bytes
	Lab     string `json:"lab"`
	File    string `json:"file"`              // as it arrived
	Arrived string `json:"arrived,omitempty"` // YYYY-MM-DD; "" when no note of it is there
}

// A Use says where a conversion or check occurred, and how often.
type Use struct {
	Lab     string `json:"lab"`
	LabName string `json:"lab_name"`
	Mapping string `json:"mapping"` // file and layout
	SHA256  string `json:"mapping_sha256"`
	Count   int    `json:"count"`
}

// A Conversion is one way from a unit or basis to another.
type Conversion struct {
	Rule     string   `json:"rule"`
	What     string   `json:"what"`
	From     string   `json:"from"` // unit
	To       string   `json:"to"`
	Factor   string   `json:"factor,omitempty"`   // as stored, "" where it depends on inputs or there is an equation
	Decimal  string   `json:"decimal,omitempty"`  // the factor, ten digits
	Least    string   `json:"least,omitempty"`    // of factors that depend on inputs
	Most     string   `json:"most,omitempty"`     // of factors that depend on inputs
	Equation string   `json:"equation,omitempty"` // or the relation of factor and inputs
	Origins  []string `json:"origins,omitempty"`  // where the inputs came from: report, mapping, definition
	Source   string   `json:"source"`             // key
	Exact    bool     `json:"exact"`
	Count    int      `json:"count"`
	Uses     []Use    `json:"uses"`
	Example  Example  `json:"example"`
}

// An Example is one use of a conversion, to be compared with the page.
type Example struct {
	Record  string `json:"record"`
	Lab     string `json:"lab"`
	Analyte string `json:"analyte"`
	Label   string `json:"label,omitempty"` // heading or label as printed; "" in records of earlier versions
	Printed string `json:"printed"`         // text and unit, as on the page
	File    string `json:"file"`
	Place   string `json:"place"` // page and box, sheet and cell, or line and column
	Work    string `json:"work"`  // from, factor or equation with inputs, outcome
	Value   string `json:"value"` // of the result
}

// An Outside is an estimate that was made outside the domain of its equation.
type Outside struct {
	Record   string `json:"record"`
	Lab      string `json:"lab"`
	Result   string `json:"result"`
	Estimate string `json:"estimate"`
	Why      string `json:"why"`
	Source   string `json:"source"`
}

// A Fired is a check that found something.
type Fired struct {
	Check    string          `json:"check"`
	Severity ingest.Severity `json:"severity"`
	Source   string          `json:"source"`
	Count    int             `json:"count"`
	Uses     []Use           `json:"uses"`
	Record   string          `json:"record"` // of the example
	What     string          `json:"what"`   // of the example
	Expected string          `json:"expected,omitempty"`
	Found    string          `json:"found,omitempty"`
}

// A Refused is a reason why printed numbers became no value.
type Refused struct {
	Why    string `json:"why"`
	Count  int    `json:"count"`
	Uses   []Use  `json:"uses"`
	Record string `json:"record"` // of the example
	Result string `json:"result"`
}

// A Ground is a source that steps and findings rest on.
type Ground struct {
	Key        string `json:"key"`
	Text       string `json:"text"`
	Provenance string `json:"provenance"` // "" when the key does not resolve
	Steps      int    `json:"steps"`      // steps of values, forms and estimates that name it
	Findings   int    `json:"findings"`
}

// Unverified reports whether nobody has seen the source: it is from memory,
// common practice, or not in the bibliography.
func (g Ground) Unverified() bool {
	switch g.Provenance {
	case "seen", "computed", "definition":
		return false
	}
	return true
}

// InPart reports whether the source was seen, and its entry says that a part
// of it, such as its authors or its volume, is from memory.
func (g Ground) InPart() bool {
	return !g.Unverified() && strings.Contains(strings.ToLower(g.Text), "from memory")
}

// A Reread says what came of reading the printed texts again in the originals.
type Reread struct {
	Texts   int      `json:"texts"`             // compared
	Open    []string `json:"open"`              // what could not be compared, and why; one line a file
	Without int      `json:"without,omitempty"` // texts of those files
}

// Hash is the SHA-256, in lower-case hexadecimal, of the account as JSON
// without what reading the originals again gave: it says which account was
// signed, and is the same as long as archive and scope give the same.
func (a *Account) Hash() (string, error) {
	b := *a
	b.Reread = nil
	b.Differences = slices.DeleteFunc(slices.Clone(b.Differences), func(d Difference) bool { return d.Code == CodePlace })
	text, err := json.Marshal(b)
	if err != nil {
		return "", err
	}
	h := sha256.Sum256(text)
	return hex.EncodeToString(h[:]), nil
}

// Unverified counts the steps and findings that rest on what nobody has seen.
func (a *Account) Unverified() (steps, findings int) {
	for _, g := range a.Grounds {
		if g.Unverified() {
			steps, findings = steps+g.Steps, findings+g.Findings
		}
	}
	return steps, findings
}

// InPart counts the steps and findings that rest on a source of whose entry a
// part is from memory.
func (a *Account) InPart() (steps, findings int) {
	for _, g := range a.Grounds {
		if g.InPart() {
			steps, findings = steps+g.Steps, findings+g.Findings
		}
	}
	return steps, findings
}

// A Clerk takes reports one after the other and makes the account. It keeps
// of a report only what the account shows. It is not safe for concurrent use.
type Clerk struct {
	*Checker
	scope       Scope
	held        int
	differences []Difference
	conversions map[string]*Conversion
	bounds      map[string]*bounds
	outside     []Outside
	checks      map[string]*Fired
	refused     map[string]*Refused
	grounds     map[string]*Ground
	documents   []Document
}

// NewClerk begins an account.
func NewClerk(scope Scope, sources map[string]normalize.Source) *Clerk {
	return &Clerk{Checker: NewChecker(sources), scope: scope, conversions: map[string]*Conversion{}, bounds: map[string]*bounds{}, checks: map[string]*Fired{},
		refused: map[string]*Refused{}, grounds: map[string]*Ground{}}
}

// Take recomputes a report and enters it. The order of reports decides which
// use of a conversion is the example, and nothing else.
func (k *Clerk) Take(rep *normalize.Report, doc Document) []Difference {
	found := k.Report(rep, doc.Version)
	k.differences = append(k.differences, found...)
	k.documents = append(k.documents, doc)
	if rep.Status == normalize.Held {
		k.held++
	}
	for _, rec := range rep.Records {
		for _, f := range rec.Checks {
			k.fired(rep, rec, f)
		}
		for _, res := range rec.Results {
			for _, f := range res.Findings {
				k.fired(rep, rec, f)
			}
			for i := range res.Steps {
				k.step(rep, rec, res, &res.Steps[i])
			}
			for i := range res.FormSteps {
				k.step(rep, rec, res, &res.FormSteps[i])
			}
			for i := range res.Estimates {
				k.estimate(rep, rec, res, &res.Estimates[i])
			}
			if res.Why != "" && res.Printed.Number != "" {
				k.whyNot(rep, rec, res)
			}
		}
	}
	return found
}

// Documents are those that have been taken so far.
func (k *Clerk) Documents() []Document { return slices.Clone(k.documents) }

// Add enters differences that were found in another way.
func (k *Clerk) Add(d ...Difference) { k.differences = append(k.differences, d...) }

func use(rep *normalize.Report, uses []Use) []Use {
	m := rep.Mapping.File
	if rep.Mapping.Layout != "" {
		m += ", layout " + rep.Mapping.Layout
	}
	for i := range uses {
		if u := &uses[i]; u.Lab == rep.Lab.ID && u.Mapping == m && u.SHA256 == rep.Mapping.SHA256 {
			u.Count++
			return uses
		}
	}
	return append(uses, Use{rep.Lab.ID, rep.Lab.Name, m, rep.Mapping.SHA256, 1})
}

func (k *Clerk) ground(key string) *Ground {
	g := k.grounds[key]
	if g == nil {
		s := k.sources[key]
		g = &Ground{Key: key, Text: s.Text, Provenance: s.Provenance}
		k.grounds[key] = g
	}
	return g
}

func (k *Clerk) fired(rep *normalize.Report, rec *normalize.Record, f normalize.Finding) {
	k.ground(f.Source).Findings++
	key := f.Check + "\x00" + string(f.Severity) + "\x00" + f.Source
	c := k.checks[key]
	if c == nil {
		c = &Fired{Check: f.Check, Severity: f.Severity, Source: f.Source, Record: rec.ID, What: f.What, Expected: f.Expected, Found: f.Found}
		k.checks[key] = c
	}
	c.Count++
	c.Uses = use(rep, c.Uses)
}

func (k *Clerk) whyNot(rep *normalize.Report, rec *normalize.Record, res *normalize.Result) {
	r := k.refused[res.Why]
	if r == nil {
		r = &Refused{Why: res.Why, Record: rec.ID, Result: label(res)}
		k.refused[res.Why] = r
	}
	r.Count++
	r.Uses = use(rep, r.Uses)
}

// bounds are the least and the greatest factor of a conversion whose factor
// depends on inputs.
type bounds struct{ least, most string }

func (k *Clerk) step(rep *normalize.Report, rec *normalize.Record, res *normalize.Result, s *normalize.Step) {
	k.ground(s.Source).Steps++
	varies := len(s.Inputs) > 0
	key := strings.Join([]string{s.Rule, s.From.Unit, s.To.Unit, s.Equation, s.Source}, "\x00")
	if !varies {
		key += "\x00" + s.Factor
	}
	c := k.conversions[key]
	if c == nil {
		c = &Conversion{Rule: s.Rule, What: s.What, From: s.From.Unit, To: s.To.Unit, Equation: s.Equation, Source: s.Source, Exact: s.Exact, Example: example(rep, rec, res, s)}
		if rel := relationOf(s.Rule); rel != nil && varies && rel.factor != "" {
			c.Equation = "factor = " + rel.factor
		}
		if s.Factor != "" && !varies {
			c.Factor, c.Decimal = s.Factor, decimal(s.Factor)
		}
		k.conversions[key] = c
	}
	c.Count++
	c.Uses = use(rep, c.Uses)
	for _, in := range s.Inputs {
		if !slices.Contains(c.Origins, in.Origin) {
			c.Origins = append(c.Origins, in.Origin)
		}
	}
	if f, err := k.factor(s.Factor); varies && err == nil {
		b := k.bounds[key]
		if b == nil {
			b = &bounds{s.Factor, s.Factor}
			k.bounds[key] = b
		}
		if least, _ := k.factor(b.least); f.Cmp(least) < 0 {
			b.least = s.Factor
		}
		if most, _ := k.factor(b.most); f.Cmp(most) > 0 {
			b.most = s.Factor
		}
		c.Least, c.Most = b.least, b.most
	}
}

// estimate enters an estimate: its steps, or that it was asked for outside the
// domain of its equation.
func (k *Clerk) estimate(rep *normalize.Report, rec *normalize.Record, res *normalize.Result, e *normalize.Estimate) {
	for i := range e.Steps {
		k.step(rep, rec, res, &e.Steps[i])
	}
	if e.InDomain == outsideDomain {
		what := e.Method + " by equation " + e.Equation
		if e.Analyte != res.Analyte {
			what = e.Analyte + ", " + what
		}
		k.outside = append(k.outside, Outside{Record: rec.ID, Lab: rep.Lab.ID, Result: label(res), Estimate: what, Why: strings.Join(e.Outside, "; "), Source: e.Source})
		k.ground(e.Source) // which is then in the list of sources
	}
}

func decimal(factor string) string {
	f, err := formula.Factor(factor)
	if err != nil {
		return ""
	}
	return formula.Text(f, 10)
}

func example(rep *normalize.Report, rec *normalize.Record, res *normalize.Result, s *normalize.Step) Example {
	p := res.Printed
	file := p.Place.File
	if file == "" {
		file = FileOf(rep)
	}
	value := string(res.Value) + " " + res.Unit
	if res.Value == "" {
		value = "none: " + res.Why
	}
	printedLabel := ""
	if p.Label != nil {
		printedLabel = p.Label.Text
	}
	return Example{Label: printedLabel, Record: rec.ID, Lab: rep.Lab.Name, Analyte: res.Analyte, Printed: strings.TrimSpace(p.Text + " " + p.Unit), File: file, Place: p.Place.Inside(), Work: Work(s), Value: value}
}

// Work is a step on one line, as one would do it with a calculator.
func Work(s *normalize.Step) string {
	w := quantity(s.From) + " "
	switch {
	case s.Factor == "":
		w += "by " + s.Equation
	case strings.Contains(s.Factor, "/"):
		w += "× " + s.Factor + " (" + decimal(s.Factor) + ")"
	default:
		w += "× " + s.Factor
	}
	w += " = " + quantity(s.To)
	for i, in := range s.Inputs {
		sep := "; "
		if i == 0 {
			sep = ", with "
		}
		w += fmt.Sprintf("%s%s %s %s (%s)", sep, in.Name, in.Value, in.Unit, in.Origin)
	}
	return w
}

// FileOf is the file that a report came in, with the member that it is.
func FileOf(rep *normalize.Report) string {
	if rep.Source.Member != "" {
		return rep.Source.Name + " > " + rep.Source.Member
	}
	return rep.Source.Name
}

// Account is what has been taken so far, in an order that does not depend on
// that of taking.
func (k *Clerk) Account() *Account {
	a := &Account{Schema: Schema, Scope: k.scope, Tally: k.tally, Held: k.held, Differences: slices.Clone(k.differences), Outside: slices.Clone(k.outside), Documents: slices.Clone(k.documents)}
	byUse := func(x, y Use) int {
		return strings.Compare(x.Lab+"\x00"+x.Mapping+x.SHA256, y.Lab+"\x00"+y.Mapping+y.SHA256)
	}
	for _, c := range k.conversions {
		slices.SortFunc(c.Uses, byUse)
		slices.Sort(c.Origins)
		a.Conversions = append(a.Conversions, *c)
	}
	for _, c := range k.checks {
		slices.SortFunc(c.Uses, byUse)
		a.Checks = append(a.Checks, *c)
	}
	for _, r := range k.refused {
		slices.SortFunc(r.Uses, byUse)
		a.Refused = append(a.Refused, *r)
	}
	for _, g := range k.grounds {
		a.Grounds = append(a.Grounds, *g)
	}
	slices.SortFunc(a.Conversions, func(x, y Conversion) int {
		return strings.Compare(strings.Join([]string{x.Rule, x.From, x.To, x.Factor, x.Equation, x.Source}, "\x00"), strings.Join([]string{y.Rule, y.From, y.To, y.Factor, y.Equation, y.Source}, "\x00"))
	})
	slices.SortFunc(a.Checks, func(x, y Fired) int {
		return strings.Compare(x.Check+string(x.Severity)+x.Source, y.Check+string(y.Severity)+y.Source)
	})
	slices.SortFunc(a.Refused, func(x, y Refused) int { return strings.Compare(x.Why, y.Why) })
	slices.SortFunc(a.Grounds, func(x, y Ground) int { return strings.Compare(x.Key, y.Key) })
	slices.SortStableFunc(a.Outside, func(x, y Outside) int { return strings.Compare(x.Record, y.Record) })
	slices.SortFunc(a.Documents, func(x, y Document) int { return strings.Compare(x.Report, y.Report) })
	return a
}
