package main

import (
	"encoding/csv"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"example.org/windrow/cmd/internal/pipeline"
)

const hostileFiles = "../../testdata/hostile"

// A hostile file's end, as testdata/hostile/README.md wants it.
type end struct {
	status pipeline.Status
	codes  []string // of reasons that must be there
	says   []string // each of these stands in the words of some reason
}

// endings says what becomes of each file of testdata/hostile in an office that
// has no password, and a program that reads scans only where ocr is set.
func endings(ocr bool) map[string]end {
	held := func(code string, says ...string) end { return end{pipeline.Held, []string{code}, says} }
	scan := held("scan-no-ocr", "is a picture", "tesseract")
	if ocr {
		scan = held("scan-unconfirmed", "picture", "a person must compare")
	}
	return map[string]end{
		"zero-byte.pdf":            held("empty-file", "the file is empty"),
		"truncated.pdf":            held("damaged", "the end of the file is missing"),
		"password-protected.pdf":   held("locked", "locked with a password", "pdf_passwords in the settings (windrow.yaml)"),
		"bomb.zip":                 held("zip-bomb", "200 MiB", "nothing was unpacked"),
		"path-traversal.zip":       {pipeline.Flagged, []string{"name-points-outside", "not-a-file"}, []string{"../../outside.csv", "be wary of the sender", "ok/link.pdf"}},
		"html-named.xls":           held("lab-unknown", "web page", "GRAYLING STREET"),
		"nul-byte.csv":             held("nul-byte", "nul-byte.csv:21:22", "NUL"),
		"unclosed-quote.csv":       held("quote-unclosed", "unclosed-quote.csv:10:19"),
		"ragged-rows.csv":          held("ragged-row", "ragged-rows.csv:8: held [ragged-row]", "ragged-rows.csv:21: held [ragged-row]", "ragged-rows.csv:34: held [ragged-row]"),
		"formula-injection.xlsx":   {pipeline.OK, nil, nil},
		"nested.eml":               {pipeline.OK, nil, nil},
		"unknown-lab.pdf":          held("lab-unknown", "PELLITORY CROSS", "write a mapping"),
		"invoice.pdf":              held("lab-unknown", "INVOICE", "if not, file it elsewhere"),
		"no-tounicode.pdf":         held("text-unreadable", "can be seen but not read"),
		"photo-of-report.pdf":      scan,
		"upside-down-scan.pdf":     scan,
		"duplicate-a.pdf":          {pipeline.OK, nil, nil}, // or the other one: see below
		"Copy of results (2).pdf":  {pipeline.Duplicate, nil, nil},
		"AR-26-2255-corrected.pdf": held("corrects-earlier", "this says that it corrects report AR-26-2255", "look for AR-26-2255 among the letters", "CORRECTED REPORT, issue 2.", "earlier record stands as it is"),
	}
}

// TestHostile drops every file of testdata/hostile into the watched folder of
// an office, works on it once, and wants each to end as the README beside them
// says: filed, with every number right, or held, with words that help a clerk.
func TestHostile(t *testing.T) {
	inReadme := readmeFiles(t)
	_, err := exec.LookPath("tesseract")
	for name, with := range map[string]struct {
		settings string
		ocr      bool
	}{
		"as the machine is": {"", err == nil},
		// Where the program is missing scans are held for it, on any machine.
		"without a program for scans": {"tesseract: no-such-program-for-scans\n", false},
	} {
		t.Run(name, func(t *testing.T) {
			root := t.TempDir()
			dir := filepath.Join(root, "one", "two", "office")
			office := settings(t, dir, with.settings)
			for _, f := range inReadme {
				copyFile(t, filepath.Join(hostileFiles, f), filepath.Join(dir, "inbox", f))
			}
			outs := office.work(t, exitHeld)
			want := endings(with.ocr)
			if len(outs) != len(inReadme) {
				t.Errorf("%d outcomes of %d files", len(outs), len(inReadme))
			}
			if b := "duplicate-a.pdf"; outs[b].Status == pipeline.Duplicate { // which of the two comes first is not said
				want[b], want["Copy of results (2).pdf"] = want["Copy of results (2).pdf"], want[b]
			}
			for _, f := range inReadme {
				w, ok := want[f]
				out, came := outs[f]
				if !ok || !came {
					t.Errorf("%s: known to the test %v, came out %v", f, ok, came)
					continue
				}
				if out.Status != w.status {
					t.Errorf("%s: is %s, want %s: %v", f, out.Status, w.status, out.Reasons)
				}
				words := office.filed(t, &out)
				if out.Status == pipeline.Flagged { // has no note beside it; this is what the screen shows
					for _, r := range out.Reasons {
						words += r.Error() + "\n"
					}
				}
				for _, c := range w.codes {
					if !strings.Contains(words, "["+c+"]") {
						t.Errorf("%s: no reason %s in\n%s", f, c, words)
					}
				}
				for _, s := range w.says {
					if !strings.Contains(words, s) {
						t.Errorf("%s: %q isn't said in\n%s", f, s, words)
					}
				}
				if out.Status == pipeline.Duplicate {
					if out.First == "" || out.First == f || len(out.Parts) > 0 {
						t.Errorf("%s: stored again, or the first name isn't told: %+v", f, out)
					}
					continue
				}
				office.right(t, f, filepath.Join(hostileFiles, "truth", f+".json"), &out)
				t.Logf("%-26s %-9s %s", f, out.Status, codes(out.Reasons))
			}
			office.nothingOutside(t, root, outs["path-traversal.zip"])
			office.noFormula(t)
			// The report that the corrected one would replace came in the zip file,
			// and stands as it was when it comes again by itself.
			again := filepath.Join(root, "AR-26-2255.pdf")
			copyFile(t, "../../testdata/labs/ashlar-reed-soil-laboratory/AR-26-2255.pdf", again)
			if out := office.work(t, exitDone, again)["AR-26-2255.pdf"]; out.Status != pipeline.Duplicate || out.First != "path-traversal.zip > ok/AR-26-2255.pdf" {
				t.Errorf("the report of the zip file by itself: %s, first in %q", out.Status, out.First)
			}
			office.right(t, "AR-26-2255.pdf", "../../testdata/labs/ashlar-reed-soil-laboratory/truth/AR-26-2255.pdf.json", new(outs["path-traversal.zip"]))
			if said := must(t, exitDone, "archive", "verify", "--office", dir); !strings.Contains(said, "all is well") {
				t.Errorf("verify says:\n%s", said)
			}
		})
	}
}

// TestPasswordInSettings gives the office the password of the locked report,
// and wants it read, and right.
func TestPasswordInSettings(t *testing.T) {
	b, err := os.ReadFile(filepath.Join(hostileFiles, "truth", "password-protected.pdf.json"))
	if err != nil {
		t.Fatal(err)
	}
	var says struct{ Password string }
	if err := json.Unmarshal(b, &says); err != nil || says.Password == "" {
		t.Fatal("the truth has no password", err)
	}
	const name = "password-protected.pdf"
	office := settings(t, t.TempDir(), "")
	file := filepath.Join(hostileFiles, name)
	if out := office.work(t, exitHeld, file)[name]; out.Status != pipeline.Held || codes(out.Reasons) != "locked" {
		t.Fatalf("without the password: %s %v", out.Status, out.Reasons)
	}
	office = settings(t, office.dir, "pdf_passwords: "+says.Password+"\n")
	out := office.work(t, exitDone, file)[name]
	if out.Status != pipeline.Flagged || codes(out.Reasons) != "second-engine-only" {
		t.Errorf("with the password: %s %v; only one engine opens it, which must be told", out.Status, out.Reasons)
	}
	if n := office.right(t, name, filepath.Join(hostileFiles, "truth", name+".json"), &out); n < 10 {
		t.Errorf("only %d results", n)
	}
	for p, b := range tree(t, office.dir) {
		if p != "windrow.yaml" && strings.Contains(b, says.Password) {
			t.Errorf("the password stands in %s", p)
		}
	}
}

// nothingOutside looks everywhere for what the entries of the zip file with
// bad names would have written.
func (d *desk) nothingOutside(t *testing.T, root string, out pipeline.Outcome) {
	t.Helper()
	for p, b := range tree(t, root) {
		if len(b) > 4<<20 {
			t.Errorf("%s has grown to %d bytes", p, len(b))
		}
		switch base := filepath.Base(p); {
		case base == "outside.csv", base == "report.csv", base == "link.pdf", strings.Contains(base, "windows.csv"):
			t.Errorf("%s was written", p)
		case !strings.HasPrefix(p, "one/two/office/") && p != "AR-26-2255.pdf":
			t.Errorf("%s lies outside of the office", p)
		case strings.HasPrefix(p, "one/two/office/tmp/"):
			t.Errorf("%s is left behind", p)
		}
	}
	if _, err := os.Lstat("/absolute/report.csv"); err == nil {
		t.Error("/absolute/report.csv is there")
	}
	told := ""
	for _, rep := range d.reports(t, &out) {
		for _, r := range rep.Reasons {
			told += r.Error() + "\n"
		}
	}
	for _, want := range []string{"outside.csv", "/absolute/report.csv", "windows.csv", "ok/link.pdf"} {
		if !strings.Contains(told, want) {
			t.Errorf("that %s was ignored is not told:\n%s", want, told)
		}
	}
}

// noFormula wants no cell that a spreadsheet would run in any table that the
// office gives out, and no link of a report in a letter.
func (d *desk) noFormula(t *testing.T) {
	t.Helper()
	table := must(t, exitDone, "show", "results", "--office", d.dir, "--with-clients", filepath.Join(hostileFiles, "formula-injection.xlsx"))
	if !strings.Contains(table, `'=HYPERLINK(`) {
		t.Error("the formula is not there as text, so nothing is shown by this")
	}
	set := filepath.Join(d.dir, "dataset-out")
	must(t, exitDone, "dataset", "-q", "--office", d.dir, "--min-group", "1", "--decided-by", "a test", "--because", "nobody in it is real", "--out", set)
	b, err := os.ReadFile(filepath.Join(set, "results.csv"))
	if err != nil {
		t.Fatal(err)
	}
	for name, text := range map[string]string{"results": table, "dataset": string(b)} {
		rows, err := csv.NewReader(strings.NewReader(text)).ReadAll()
		if err != nil || len(rows) < 2 {
			t.Fatalf("%s: %d rows, %v", name, len(rows), err)
		}
		for _, row := range rows {
			for _, cell := range row {
				if _, err := strconv.ParseFloat(cell, 64); err == nil || strings.Trim(cell, "-") == "" {
					continue // a number, or a word for a missing one
				}
				if strings.ContainsRune("=+-@\t\r\n", rune(cell[0])) {
					t.Errorf("%s: a spreadsheet would run %q", name, cell)
				}
			}
		}
	}
	letters := 0
	for p, b := range tree(t, filepath.Join(d.dir, "letters")) {
		if letters++; strings.Contains(b, `href="http://evil`) || strings.Contains(b, `src="http://evil`) {
			t.Errorf("letter %s has the report's link", p)
		}
	}
	if letters < 5 {
		t.Errorf("only %d letters", letters)
	}
}

// readmeFiles are the files that testdata/hostile/README.md lists: all that
// are there, so that none goes without an end.
func readmeFiles(t *testing.T) (list []string) {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(hostileFiles, "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range regexp.MustCompile("(?m)^\\| `([^`]+)` \\|").FindAllStringSubmatch(string(b), -1) {
		list = append(list, m[1])
	}
	var there []string
	for _, n := range names(t, hostileFiles) {
		if n != "README.md" && n != "truth" {
			there = append(there, n)
		}
	}
	slices.Sort(list)
	slices.Sort(there)
	if !slices.Equal(list, there) {
		t.Fatalf("the README lists %v, and there are %v", list, there)
	}
	return list
}
