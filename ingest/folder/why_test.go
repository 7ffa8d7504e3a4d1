package folder

import (
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"example.org/windrow/ingest"
)

var update = flag.Bool("update", false, "write the golden files anew")

// notes are the cases of the golden files. The reasons are as the stages
// word them.
var notes = map[string]Note{
	"unit-differs": {Name: "april.csv", Folder: Settings{Dir: "/srv/office/inbox", Office: "the Alderbrook office"}, Lies: "/srv/office/held/april.csv",
		Reasons: []*ingest.Reason{{Code: "unit-differs", Severity: ingest.Hold, Where: ingest.Place{File: "april.csv", Line: 14, Col: 3}, Rule: ingest.Place{File: "quarry-ag.yaml", Line: 41, Col: 12},
			What: "the unit is not the one this laboratory prints", Expected: "mg/kg", Found: "lb/A",
			Next: "if the laboratory changed its units, add a layout dated from this report"}}},
	"locked": {Name: "VA-26-0311.xlsx", Folder: Settings{Dir: "/srv/office/inbox"}, Lies: "/srv/office/held/VA-26-0311-2.xlsx",
		Reasons: []*ingest.Reason{{Code: "locked", Severity: ingest.Hold, Where: ingest.Place{File: "VA-26-0311.xlsx"}, What: "the workbook can be opened only with a password",
			Expected: "a workbook that opens without a password", Next: "open it with the password that the laboratory gave you, save a copy without one, and drop that copy in instead"}}},
	"several": {Name: "batch.zip", Folder: Settings{Dir: "/srv/office/inbox", Office: "the Wren office"}, Lies: "/srv/office/held/batch.zip",
		Reasons: []*ingest.Reason{
			{Code: "layout-changed", Severity: ingest.Hold, Where: ingest.Place{File: "batch.zip > 2.pdf", Page: 2, Box: &ingest.Box{X0: 312, Y0: 540, X1: 356, Y1: 552}},
				What: "a heading is missing where this laboratory prints one", Expected: "“Phosphorus, ppm”", Found: "“Phosphorus as P2O5, ppm”", Next: "ask the laboratory what changed, and have its mapping extended"},
			{Code: "formula-without-value", Severity: ingest.Flag, Where: ingest.Place{File: "batch.zip > 3.xlsx", Sheet: "Results", Cell: "C14"},
				What: "the cell holds a formula that was saved without its result", Found: "=SUM(A14:B14)", Next: "open the workbook, let it calculate, and save it"},
			{Code: "ragged-row", Severity: ingest.Hold, Where: ingest.Place{File: "batch.zip > 4.csv", Line: 7},
				What: "this line has fewer fields than the others, so its values may stand under the wrong headings", Expected: "16 fields, as most lines of this file have", Found: "15 fields: MB26-0711,MB49180,Smithy",
				Next: "look at this line in a text editor: a comma (or semicolon, or tab) too many or too few, such as one inside a number, or a file that was cut short; then ask the laboratory for the file again"},
		}},
	"part-used": {Name: "batch.zip", Folder: Settings{Dir: "/srv/office/inbox"}, Lies: "/srv/office/held/batch.zip", Used: []string{"1.csv", "2.csv (which came before, as 2.csv)"},
		Reasons: []*ingest.Reason{{Code: "damaged", Severity: ingest.Fail, Where: ingest.Place{File: "batch.zip > 3.pdf"}, What: "the end of the file is missing", Next: "ask the sender for the file again"}}},
	"hostile": {Name: "a\x1b[2Jb\u202egnp.csv", Folder: Settings{Dir: "/srv/office/inbox"}, Lies: "/srv/office/held/x.csv",
		Reasons: []*ingest.Reason{{Code: "failed", Severity: ingest.Fail, What: "the file could not be worked on", Found: "line\nfeed " + strings.Repeat("long ", 100)}}},
	"no-reason": {Name: "x.pdf", Folder: Settings{Dir: "/srv/office/inbox"}, Lies: "/srv/office/held/x.pdf"},
}

func TestNotesReadAsTheyShould(t *testing.T) {
	for name, n := range notes {
		n.When = time.Date(2026, 11, 25, 14, 5, 0, 0, time.UTC)
		got := Why(n)
		golden := filepath.Join("testdata", name+whyEnd)
		if *update {
			if err := os.WriteFile(golden, []byte(got), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(golden)
		if err != nil {
			t.Fatal(err)
		}
		if got != string(want) {
			t.Errorf("%s: got\n%s\nwant\n%s", name, got, want)
		}
		for _, l := range strings.Split(got, "\n") {
			if utf8.RuneCountInString(l) > noteWidth {
				t.Errorf("%s: a line of %d characters: %s", name, utf8.RuneCountInString(l), l)
			}
			if strings.ContainsAny(l, "\x1b\u202e") || strings.TrimRight(l, " ") != l {
				t.Errorf("%s: %q", name, l)
			}
		}
	}
	if files, _ := filepath.Glob("testdata/*" + whyEnd); len(files) != len(notes) {
		t.Errorf("%d golden files for %d cases", len(files), len(notes))
	}
}

func TestManyReasonsAreCounted(t *testing.T) {
	n := notes["locked"]
	for len(n.Reasons) < 50 {
		n.Reasons = append(n.Reasons, n.Reasons[0])
	}
	if got := Why(n); !strings.Contains(got, "WHY: 50 REASONS") || !strings.Contains(got, "… and 30 more.") || strings.Count(got, "Code:") != mostReasons {
		t.Errorf("got\n%s", got)
	}
}
