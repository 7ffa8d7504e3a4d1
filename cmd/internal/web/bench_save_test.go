package web_test

import (
	"bytes"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"
)

// A scribe works at the mapping desk without a browser.
type scribe struct {
	*visitor
	at    string // path of the desk
	token string
}

var (
	deskToken = regexp.MustCompile(`name="form" value="([0-9a-f]+)"`)
	openText  = regexp.MustCompile(`(?s)<textarea id="text"[^>]*>(.*?)</textarea>`)
	asks      = regexp.MustCompile(`(?m)[ \t]*#.*QUESTION:.*$`)
)

// scribeFor sits down before a report that waits, and makes a draft from the
// mapping of an id, "" for a new one.
func scribeFor(t *testing.T, d *openDesk, report, base string) (*scribe, string) {
	t.Helper()
	v := visit(t, d)
	s := &scribe{visitor: v, at: strings.TrimSuffix(link(t, v.get("/held", http.StatusOK), report), "/look") + "/mapping"}
	s.token = deskToken.FindStringSubmatch(v.get(s.at, http.StatusOK))[1]
	if code, page := s.send("draft", url.Values{"form": {s.token}, "base": {base}, "lab": {"Pellitory Cross"}}); code != http.StatusOK || !strings.Contains(page, "A draft was made.") {
		t.Fatalf("draft: %d %s", code, page)
	}
	return s, s.text()
}

func (s *scribe) send(what string, form url.Values) (int, string) {
	s.t.Helper()
	return s.post(s.at+"/"+what, form, nil)
}

// text is what the desk holds.
func (s *scribe) text() string {
	s.t.Helper()
	m := openText.FindStringSubmatch(s.get(s.at, http.StatusOK))
	if m == nil {
		s.t.Fatal("there is no draft")
	}
	return strings.NewReplacer("&lt;", "<", "&gt;", ">", "&#34;", `"`, "&#39;", "'", "&#43;", "+", "&amp;", "&").Replace(m[1])
}

// save sends a text to be saved, and waits for what is read again.
func (s *scribe) save(text, date string) string {
	s.t.Helper()
	code, page := s.send("save?form="+s.token, url.Values{"text": {text}, "date": {date}, "by": {"Ilse Marrow"}, "because": {"a new\nform; QUESTION: none"}})
	if code != http.StatusOK {
		s.t.Fatalf("save: %d %s", code, page)
	}
	for end := time.Now().Add(2 * time.Minute); strings.Contains(page, "Reading what waits again"); time.Sleep(50 * time.Millisecond) {
		if time.Now().After(end) {
			s.t.Fatal("reading again does not end")
		}
		page = s.get(s.at, http.StatusOK)
	}
	return page
}

const marrow = "marrow-brook-land-water-testing/"

// A further layout takes the place of the program's mapping; a further change
// keeps the file before it, and one that somebody has changed meanwhile is not
// written over.
func TestSavingAMapping(t *testing.T) {
	d := mendingDesk(t, labReport(t, marrow+"revised/MB26-0905.csv"), labReport(t, marrow+"revised/MB26-0917-export.csv"))
	dir := d.off.Config.Mappings
	s, text := scribeFor(t, d, "MB26-0905", "marrow-brook")
	page := s.save(text, "")
	has(t, page, "Not saved:", "not answered yet", `value="Ilse Marrow"`, "a new\nform; QUESTION: none</textarea>") // what was given is not to be given again
	if _, err := os.Stat(filepath.Join(dir, "marrow-brook.yaml")); err == nil {
		t.Fatal("a draft with open questions is in force")
	}
	text = asks.ReplaceAllString(text, "")
	page = s.save(text, "")
	has(t, page, "Saved, and what waited was read again.", "takes the place of the mapping that comes with Windrow")
	first, err := os.ReadFile(filepath.Join(dir, "marrow-brook.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	if head, rest, _ := strings.Cut(string(first), "\n"); head != "# 2026-06-01, Ilse Marrow: a new form; asked: none" || rest != text {
		t.Errorf("saved:\n%s", first)
	}
	if strings.Contains(s.get("/held", http.StatusOK), "MB26-0905") {
		t.Error("the report that was mended waits all the same")
	}
	// Again, beside a report that is used: now the office's own file is the one before.
	s.token = deskToken.FindStringSubmatch(s.get(s.at, http.StatusOK))[1]
	again := func() string {
		t.Helper()
		if code, page := s.send("draft", url.Values{"form": {s.token}, "base": {"marrow-brook"}}); code != http.StatusOK {
			t.Fatalf("%d %s", code, page)
		}
		return s.text()
	}
	text = asks.ReplaceAllString(again(), "")
	page = s.save(text+"# a word more\n", "")
	has(t, page, "Saved, and what waited was read again.", "kept as earlier/marrow-brook-")
	kept, err := filepath.Glob(filepath.Join(dir, "earlier", "*"))
	if err != nil || len(kept) != 1 {
		t.Fatalf("kept: %q %v", kept, err)
	}
	if b, err := os.ReadFile(kept[0]); err != nil || !bytes.Equal(b, first) {
		t.Errorf("what is kept is not what was in force: %v", err)
	}
	// Somebody else changes the file while a draft is open.
	text = asks.ReplaceAllString(again(), "")
	theirs := []byte("# theirs\n" + string(first))
	if err := os.WriteFile(filepath.Join(dir, "marrow-brook.yaml"), theirs, 0o600); err != nil {
		t.Fatal(err)
	}
	has(t, s.save(text, ""), "Not saved:", "was changed since it was loaded")
	if b, err := os.ReadFile(filepath.Join(dir, "marrow-brook.yaml")); err != nil || !bytes.Equal(b, theirs) {
		t.Errorf("what somebody else wrote is gone: %v", err)
	}
	if got := s.text(); got != text {
		t.Error("what was typed is gone")
	}
	for _, l := range d.logs {
		if strings.Contains(l, "Ilse") || strings.Contains(l, "csv") {
			t.Errorf("the log tells of a person or a file: %s", l)
		}
	}
}

// A mapping of a new laboratory: what it must not take, and what it may.
func TestSavingANewMapping(t *testing.T) {
	d := mendingDesk(t, theReport(t, "px-7713.pdf"))
	dir := d.off.Config.Mappings
	s, text := scribeFor(t, d, "px-7713", "")
	if !strings.Contains(text, "lab: Pellitory Cross\n") {
		t.Errorf("the draft has not the name that was given:\n%s", text)
	}
	text = asks.ReplaceAllString(text, "")
	id := regexp.MustCompile(`(?m)^id: (.*)$`).FindStringSubmatch(text)[1]
	as := func(x string) string { return strings.Replace(text, "id: "+id, "id: "+x, 1) }
	for x, want := range map[string]string{
		"thrushgate":            "The office has a mapping with the id thrushgate already",
		"../../windrow":         "mistake",
		"-rf":                   "becomes the name of its file",
		strings.Repeat("a", 80): "at most 60",
	} {
		has(t, s.save(as(x), ""), "Not saved:", want)
	}
	if err := os.MkdirAll(dir, 0o750); err != nil {
		t.Fatal(err)
	}
	own := filepath.Join(dir, id+".yaml")
	if err := os.WriteFile(own, []byte("not a mapping"), 0o600); err != nil {
		t.Fatal(err)
	}
	has(t, s.save(text, ""), "Not saved:", "There is a file "+id+".yaml")
	if b, err := os.ReadFile(own); err != nil || string(b) != "not a mapping" {
		t.Error("a file that lay there was written over")
	}
	if err := os.Remove(own); err != nil {
		t.Fatal(err)
	}
	has(t, s.save(text, "yesterday"), "Not saved:", "the date is none")
	// An example names no file outside the office, and is not run on one.
	outside := filepath.Join(t.TempDir(), "px-secret.csv")
	if err := os.WriteFile(outside, []byte("a;b\n1;2\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	rel, err := filepath.Rel(dir, outside)
	if err != nil {
		t.Fatal(err)
	}
	_, page := s.send("examples?form="+s.token, url.Values{"text": {regexp.MustCompile(`(?s)#examples:.*`).ReplaceAllString(text, "") + "examples:\n  - {file: " + filepath.ToSlash(rel) + ", readings: 2}\n  - {file: px-7713.pdf, readings: 1000}\n"}})
	has(t, page, "not run", "no report of that name is in this office", "not as expected", "The number of readings is not the one expected", "1000")
	// The date goes into the layout, and nothing else changes.
	page = s.save(text, "2026-02-01")
	has(t, page, "Saved")
	b, err := os.ReadFile(own)
	if err != nil {
		t.Fatal(err)
	}
	_, got, _ := strings.Cut(string(b), "\n")
	var more []string
	want := strings.Split(text, "\n")
	for _, l := range strings.Split(got, "\n") {
		if len(want) > 0 && l == want[0] {
			want = want[1:]
			continue
		}
		more = append(more, l)
	}
	if len(want) > 0 || !slices.Equal(more, []string{"    from: 2026-02-01"}) {
		t.Errorf("beside the date, %q differs, and %d lines are gone:\n%s", more, len(want), b)
	}
}

// Nothing at the desk is done for another site, without the token, or with
// what is no mapping.
func TestMappingDeskIsGuarded(t *testing.T) {
	d := mendingDesk(t, labReport(t, marrow+"revised/MB26-0905.csv"))
	s, text := scribeFor(t, d, "MB26-0905", "marrow-brook")
	for _, what := range []string{"draft", "drop", "typed", "examples", "trial", "save"} {
		if code, _ := s.send(what+"?form=00", url.Values{"text": {text}}); code != http.StatusForbidden {
			t.Errorf("%s without the token: %d", what, code)
		}
		if code, _ := s.post(s.at+"/"+what+"?form="+s.token, url.Values{"text": {text}}, func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "cross-site") }); code != http.StatusForbidden {
			t.Errorf("%s from another site: %d", what, code)
		}
	}
	for _, what := range []string{"typed", "save"} {
		if code, _ := s.send(what+"?form="+s.token, url.Values{"text": {strings.Repeat("x", 2<<20)}}); code != http.StatusUnprocessableEntity {
			t.Errorf("%s of 2 MiB: %d", what, code)
		}
		if code, _ := s.send(what+"?form="+s.token, url.Values{"text": {" "}}); code != http.StatusUnprocessableEntity {
			t.Errorf("%s of nothing: %d", what, code)
		}
	}
	has(t, s.save(strings.Repeat("# long\n", 40<<10), ""), "Not saved: the text is longer")
	if got := s.text(); got != text {
		t.Error("what was refused took the place of the draft")
	}
	// Whatever is typed is shown and not done.
	_, page := s.send("typed?form="+s.token, url.Values{"text": {"lab: </textarea><script>alert(1)</script>\n"}})
	if strings.Contains(page, "<script>alert") {
		t.Error("the page does what was typed")
	}
	if code, _ := s.send("drop", url.Values{"form": {s.token}}); code != http.StatusUnprocessableEntity {
		t.Errorf("thrown away without being sure: %d", code)
	}
	_, page = s.send("drop", url.Values{"form": {s.token}, "sure": {"yes"}})
	has(t, page, "The draft was thrown away.", "Begin a draft")
	for _, path := range []string{"/report/R0123456789abcdef/mapping", "/report/x/mapping", "/report/..%2f..%2fx/mapping", s.at + "/trial"} {
		s.get(path, http.StatusNotFound)
	}
}
