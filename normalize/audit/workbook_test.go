package audit

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"

	"example.org/windrow/normalize"
)

var madeAt = time.Date(2026, 6, 1, 9, 30, 0, 0, time.UTC)

// account is that of the sound report, with one thing of every kind that an
// account can hold, and text that a spreadsheet could take for a formula.
func account(t *testing.T) *Account {
	t.Helper()
	k := NewClerk(Scope{Since: "2026-03-01", Until: "2026-03-31"}, normalize.Sources())
	rep := sound(t)
	rep.Lab.Name = "=HYPERLINK(\"http://example.org\",\"Quarry Bench\")"
	rep.Records[0].Results[0].Printed.Text = "+255"
	rep.Records[0].Checks = append(rep.Records[0].Checks, normalize.Finding{Check: "saturations-sum", Severity: "flag", What: "@SUM(A1:A9) \x01 is <b>odd</b>", Source: "from-memory"})
	k.Take(rep, Document{Report: rep.ID, Version: 1, SHA256: strings.Repeat("a", 64), Lab: rep.Lab.ID, File: "-report.csv", Arrived: "2026-03-04"})
	k.Add(Difference{Code: CodeStep, Report: rep.ID, Record: rep.ID + "-1", Result: "P printed “+255”", Step: "step 2", What: "=1+1", Expected: "55.64", Found: "55.65"})
	k.outside = append(k.outside, Outside{Record: rep.ID + "-1", Lab: rep.Lab.ID, Result: "P", Estimate: "Bray-P1 by F001", Why: "pH < 7.4: pH is 7.8", Source: "iupac-weights"})
	return k.Account()
}

func open(t *testing.T, b []byte) *excelize.File {
	t.Helper()
	f, err := excelize.OpenReader(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = f.Close() })
	return f
}

// What the workbook says is what the account says: every conversion with its
// uses, source and example; nothing is left out, and no cell is a formula.
func TestWorkbookSaysWhatTheAccountSays(t *testing.T) {
	a := account(t)
	b, err := Workbook(a, Binding{Office: "Alderbrook", Software: "test", Made: madeAt})
	if err != nil {
		t.Fatal(err)
	}
	f := open(t, b)
	if got, want := strings.Join(f.GetSheetList(), ", "), "Account, Differences, Conversions, Examples, Uses, Checks, Outside domain, Not converted, Sources, Reports"; got != want {
		t.Errorf("sheets %s", got)
	}
	rows := map[string][][]string{}
	for _, s := range f.GetSheetList() {
		if rows[s], err = f.GetRows(s); err != nil {
			t.Fatal(err)
		}
	}
	for name, n := range map[string]int{"Differences": len(a.Differences), "Conversions": len(a.Conversions), "Examples": len(a.Conversions), "Checks": len(a.Checks), "Outside domain": 1, "Not converted": len(a.Refused), "Sources": len(a.Grounds), "Reports": 1} {
		if got := len(rows[name]) - 3; got != n || n == 0 {
			t.Errorf("%s has %d rows, the account %d", name, got, n)
		}
	}
	text := func(s string) string {
		var b strings.Builder
		for _, r := range rows[s] {
			b.WriteString(strings.Join(r, " | ") + "\n")
		}
		return b.String()
	}
	hash, _ := a.Hash()
	for sheet, wants := range map[string][]string{
		"Account":       {hash, "2026-03-01 to 2026-03-31", "Alderbrook", "1 difference was found", "signature", "windrow audit sign --since 2026-03-01 --until 2026-03-31"},
		"Conversions":   {"basis/P2O5-to-P | ", "15486880999/35485630999 | 0.4364268174", "iupac-weights | ", "factor = 1000000 / soil per acre", normalize.Sources()["iupac-weights"].Text},
		"Examples":      {"+255 lb/A | P | report.csv | 2:3 | 127.5 mg/kg as P2O5 × 15486880999/35485630999 (0.4364268174) = 55.64 mg/kg | 55.64 mg/kg"},
		"Uses":          {"quarry.yaml, layout list"},
		"Checks":        {"saturations-sum | flag | 1", "from memory"},
		"Sources":       {"from-memory | from memory | yes | 0 | 1", "iupac-weights | seen | in part"},
		"Not converted": {"basis unknown"},
		"Reports":       {"2026-03-04"},
	} {
		for _, w := range wants {
			if !strings.Contains(text(sheet), w) {
				t.Errorf("%s does not say %q:\n%s", sheet, w, text(sheet))
			}
		}
	}
	strays := regexp.MustCompile(`<f[ >/]`)
	sheets := 0
	for part, x := range parts(t, b) {
		if !strings.HasPrefix(part, "xl/worksheets/sheet") {
			continue
		}
		sheets++
		if strays.MatchString(x) {
			t.Errorf("%s holds a formula", part)
		}
		for _, want := range []string{`fitToPage="true"`, `fitToHeight="0"`, "<oddFooter>", `paperSize="1"`} {
			if !strings.Contains(x, want) {
				t.Errorf("%s is not set up for print: %s", part, want)
			}
		}
		if part != "xl/worksheets/sheet1.xml" && !strings.Contains(x, `state="frozen"`) {
			t.Errorf("%s: the headings do not stay in sight", part)
		}
	}
	if sheets != 10 {
		t.Errorf("%d sheets", sheets)
	}
	for _, n := range f.GetDefinedName() {
		if n.Name == "_xlnm.Print_Titles" {
			sheets--
		}
	}
	if sheets != 1 {
		t.Errorf("%d sheets repeat no heading on paper", sheets)
	}
	again, err := Workbook(a, Binding{Office: "Alderbrook", Software: "test", Made: madeAt})
	if err != nil {
		t.Fatal(err)
	}
	// The library packs the parts in no fixed order.
	one, two := parts(t, b), parts(t, again)
	for name, text := range one {
		if two[name] != text {
			t.Errorf("the same account gives another %s", name)
		}
	}
	if len(one) != len(two) || len(one) < 12 {
		t.Errorf("%d and %d parts", len(one), len(two))
	}
}

// parts are the files in a workbook.
func parts(t *testing.T, b []byte) map[string]string {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]string{}
	for _, p := range z.File {
		r, err := p.Open()
		if err != nil {
			t.Fatal(err)
		}
		x, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		out[p.Name] = string(x)
	}
	return out
}

func TestPageSaysWhatTheAccountSays(t *testing.T) {
	a := account(t)
	s, err := Sign(a, Signature{"Ilse Marrow", AcceptedWithRemarks, "looked at <i>twice</i>"}, "test", madeAt)
	if err != nil {
		t.Fatal(err)
	}
	since, err := s.Since(a)
	if err != nil {
		t.Fatal(err)
	}
	b, err := Page(a, Binding{Office: "Alderbrook", Software: "test", Made: madeAt, Signed: []*SignOff{s}, Since: []SinceSigned{since}})
	if err != nil {
		t.Fatal(err)
	}
	page := string(b)
	for _, want := range []string{"1 difference was found", "used 1 times", "= 15486880999/35485630999", "× 0.4364268174", "value: 55.64 mg/kg", "report.csv, 2:3", "from memory", "&lt;b&gt;odd", "pH &lt; 7.4: pH is 7.8",
		"nothing has changed since", "looked at &lt;i&gt;twice", "&#43;255", "signature", s.Account} {
		if !strings.Contains(page, want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	for _, bad := range []string{"<b>odd", "<script", "http://example.org\"", "ZgotmplZ", "<no value>", "%!"} {
		if strings.Contains(page, bad) {
			t.Errorf("the page holds %q", bad)
		}
	}
	if n := strings.Count(page, `class="entry"`); n != len(a.Conversions) {
		t.Errorf("%d conversions on the page, %d in the account", n, len(a.Conversions))
	}
}

// The order in which reports come makes another example at most.
func TestAccountDoesNotDependOnOrder(t *testing.T) {
	one, two := sound(t), clone(t, sound(t))
	two.ID = "R00000000000000ff"
	of := func(list ...*normalize.Report) string {
		k := NewClerk(Scope{}, normalize.Sources())
		for _, r := range list {
			k.Take(r, Document{Report: r.ID})
		}
		a := k.Account()
		for i := range a.Conversions {
			a.Conversions[i].Example = Example{}
		}
		for i := range a.Refused {
			a.Refused[i].Record = ""
		}
		h, err := a.Hash()
		if err != nil {
			t.Fatal(err)
		}
		return h
	}
	if of(one, two) != of(two, one) {
		t.Error("another order gives another account")
	}
	if of(one, two) == of(one) {
		t.Error("other reports give the same account")
	}
}

func TestSignOff(t *testing.T) {
	a := account(t)
	none := account(t)
	none.Differences = nil
	empty := account(t)
	empty.Tally = Tally{}
	coming, unfinished := account(t), account(t)
	coming.Scope = Scope{Since: "2026-06-02"}
	running := *none
	running.Scope = Scope{Since: madeAt.UTC().Format(time.DateOnly), Until: madeAt.UTC().Format(time.DateOnly)}
	unfinished.Scope = Scope{Since: "2026-01-01", Until: "2026-12-31"}
	const note = "a test of signing"
	for _, x := range []struct {
		what string
		a    *Account
		sig  Signature
		want string
	}{
		{"by nobody", a, Signature{" ", Accepted, note}, "name"},
		{"without a decision", a, Signature{"Ilse Marrow", "", note}, "decision"},
		{"with another decision", none, Signature{"Ilse Marrow", "fine", note}, "decision"},
		{"differences and all", a, Signature{"Ilse Marrow", Accepted, note}, "1 difference"},
		{"without a word about the difference", a, Signature{"Ilse Marrow", AcceptedWithRemarks, ""}, "a note that says why"},
		{"with a word that says nothing", a, Signature{"Ilse Marrow", AcceptedWithRemarks, "ok . . . . ."}, "a note that says why"},
		{"not accepted and no reason", none, Signature{"Ilse Marrow", NotAccepted, "no"}, "a note that says why"},
		{"of an empty period", empty, Signature{"Ilse Marrow", AcceptedWithRemarks, note}, "no report"},
		{"of days to come", coming, Signature{"Ilse Marrow", AcceptedWithRemarks, note}, "not over"},
		{"of the day on which it is signed", &running, Signature{"Ilse Marrow", AcceptedWithRemarks, note}, "not over"},
		{"of a year that is not over", unfinished, Signature{"Ilse Marrow", AcceptedWithRemarks, note}, "not over"},
	} {
		if _, err := Sign(x.a, x.sig, "test", madeAt); err == nil || !strings.Contains(err.Error(), x.want) {
			t.Errorf("signed %s: %v", x.what, err)
		}
	}
	if s, err := Sign(none, Signature{"Ilse Marrow", Accepted, ""}, "test", madeAt); err != nil || s.Decision != Accepted {
		t.Errorf("an account without differences can't be accepted: %v", err)
	}
	s, err := Sign(a, Signature{"Ilse Marrow", AcceptedWithRemarks, "a test of signing"}, "test", madeAt)
	if err != nil {
		t.Fatal(err)
	}
	b, err := s.JSON()
	if err != nil {
		t.Fatal(err)
	}
	back, err := ParseSignOff(b)
	if err != nil || back.ID != s.ID || len(back.Differences) != 1 || back.Unverified != [2]int{0, 1} || back.Findings == 0 {
		t.Errorf("%+v, %v", back, err)
	}
	for _, x := range [][2]string{{"Ilse Marrow", "Somebody Else"}, {"a test", "another"}, {`"accepted with remarks"`, `"accepted"`}, {`"values": 9`, `"values": 8`}, {s.Account[:8], "00000000"}, {"2026-06-01T09", "2026-06-01T10"}, {`"id"`, `"idea"`}, {SignOffSchema, "windrow-signoff/2"}, {"}\n", "}{}\n"}} {
		bad := strings.Replace(string(b), x[0], x[1], 1)
		if bad == string(b) {
			t.Fatalf("%q is not in the sign-off\n%s", x[0], b)
		}
		if _, err := ParseSignOff([]byte(bad)); err == nil {
			t.Errorf("%q in place of %q is taken for a sign-off", x[1], x[0])
		}
	}
	// What has changed since.
	later := account(t)
	later.Documents = append(later.Documents, Document{Report: "Rnew", Version: 1, SHA256: "x"})
	later.Documents[0].Version = 2
	since, err := s.Since(later)
	if err != nil || since.Same || fmt.Sprint(since.New, since.Newer, since.Altered, since.Gone) != fmt.Sprintf("[Rnew] [%s] [] []", a.Documents[0].Report) {
		t.Errorf("%+v, %v", since, err)
	}
	later.Documents[0].Version, later.Documents[0].SHA256 = 1, "other bytes"
	if since, _ := s.Since(later); fmt.Sprint(since.Newer, since.Altered) != fmt.Sprintf("[] [%s]", a.Documents[0].Report) {
		t.Errorf("%+v", since)
	}
	later.Documents = nil
	if since, _ := s.Since(later); fmt.Sprint(since.Gone) != fmt.Sprintf("[%s]", a.Documents[0].Report) {
		t.Errorf("%+v", since)
	}
	if since, _ := s.Since(account(t)); !since.Same || !strings.Contains(since.Lines()[0], "nothing has changed") {
		t.Errorf("%+v", since)
	}
	other := account(t)
	other.Grounds[0].Text = "another wording"
	if since, _ := s.Since(other); since.Same || !strings.Contains(since.Lines()[0], "the reports are the same") {
		t.Errorf("%+v", since)
	}
}

// What was signed has to be there as it was signed, whatever the scope of the
// audit; a newer version beside it is no difference.
func TestAgainstSigned(t *testing.T) {
	signed := func(name string, docs ...Document) *SignOff {
		return &SignOff{ID: "S" + name, Name: name, Time: madeAt, Documents: docs}
	}
	list := []*SignOff{
		signed("First", Document{Report: "Raa", Version: 1, SHA256: "a1", File: "a.pdf"}, Document{Report: "Rbb", Version: 1, SHA256: "b1"}, Document{Report: "Rcc", Version: 2, SHA256: "c2", File: "c.pdf"}),
		signed("Second", Document{Report: "Rbb", Version: 1, SHA256: "b1, changed"}),
	}
	have := map[string]string{"Raa 1": "a1", "Raa 2": "newer", "Rbb 1": "b1, changed"}
	asked := 0
	found, err := AgainstSigned(list, func(report string, version int) (string, error) {
		asked++
		return have[fmt.Sprintf("%s %d", report, version)], nil
	})
	if err != nil || codes(found) != CodeAltered+" "+CodeGone || asked != 3 {
		t.Fatalf("%v, %v; %d looked up", found, err, asked)
	}
	if got := found[0].String(); !strings.Contains(got, "version 1 of the report was altered in place since it was signed on 2026-06-01 by First (SFirst)") || !strings.HasPrefix(got, "Rbb") {
		t.Error(got)
	}
	if got := found[1].String(); !strings.Contains(got, "version 2 of the report, of the file c.pdf, is gone since it was signed on 2026-06-01 by First") {
		t.Error(got)
	}
	if _, err := AgainstSigned(list, func(string, int) (string, error) { return "", fmt.Errorf("the disk is gone") }); err == nil {
		t.Error("what can't be read is taken for sound")
	}
}
