package xls

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"example.org/windrow/ingest"
	"example.org/windrow/ingest/numfmt"
	"example.org/windrow/ingest/readertest"
)

const labs = "../../testdata/labs/grayling-street-soil-chemistry-bureau/"

func load(t testing.TB, name string) []byte {
	t.Helper()
	b, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func mustRead(t testing.TB, name string, b []byte) *ingest.Document {
	t.Helper()
	d, r := readertest.Read(t, New(), name, b)
	if r != nil {
		t.Fatal(r)
	}
	return d
}

func cellAt(d *ingest.Document, page int, name string) ingest.Cell {
	for _, c := range d.Pages[page].Cells {
		if ingest.CellName(c.Row, c.Col) == name {
			return c
		}
	}
	return ingest.Cell{}
}

func answers(t testing.TB, book, sheet, kind string) map[string]string {
	t.Helper()
	// encoding/csv passes over empty lines, which are rows here.
	text := string(load(t, filepath.Join("testdata", "answers", book+"-"+sheet+"."+kind+".csv")))
	for strings.Contains(text, "\n\n") {
		text = strings.ReplaceAll(text, "\n\n", "\n\"\"\n")
	}
	r := csv.NewReader(strings.NewReader(text))
	r.FieldsPerRecord = -1
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]string{}
	for i, row := range rows {
		for k, v := range row {
			if v != "" {
				out[ingest.CellName(i+1, k+1)] = v
			}
		}
	}
	return out
}

// Outside reference: LibreOffice 7.4.7's reading of workbooks written by
// xlwt, LibreOffice and Gnumeric, recorded under testdata/answers. It writes
// TRUE as 1 and shows General in more places than Excel does; both are
// compared as numbers. Where a condition picks a section of text alone for a
// negative number, Excel puts a minus sign in front of it (from memory) and
// LibreOffice does not.
func TestAsLibreOfficeReadsThem(t *testing.T) {
	compared := 0
	for book, sheets := range map[string][]string{
		"testdata/xlwt.xls": {"Results", "QC", "Texts"}, "testdata/xlwt-1904.xls": {"Dates"},
		"testdata/libreoffice.xls": {"Sheet1", "QC", "Charted"}, "testdata/gnumeric.xls": {"Sheet1", "QC", "Charted"},
		labs + "J26-118.xls": {"SOILS"}, labs + "J26-131.xls": {"SOILS"}, labs + "J26-149.xls": {"SOILS"},
	} {
		d := mustRead(t, filepath.Base(book), load(t, book))
		if len(d.Pages) != len(sheets) {
			t.Errorf("%s: %d sheets, want %d", book, len(d.Pages), len(sheets))
			continue
		}
		for i, sheet := range sheets {
			p := d.Pages[i]
			if p.Name != sheet {
				t.Errorf("%s: sheet %d is called %q, want %q", book, i+1, p.Name, sheet)
			}
			want := answers(t, strings.TrimSuffix(filepath.Base(book), ".xls"), sheet, "shown")
			for _, c := range p.Cells {
				at := ingest.CellName(c.Row, c.Col)
				got, theirs := c.Text, want[at]
				switch {
				case got == "-<0.50" && c.Raw == "-4":
					got = got[1:]
				case c.Kind == ingest.BoolCell:
					got = map[string]string{"TRUE": "1", "FALSE": "0"}[c.Text]
				case c.Kind == ingest.NumberCell && c.Format == "General":
					a, err1 := strconv.ParseFloat(c.Text, 64)
					b, err2 := strconv.ParseFloat(theirs, 64)
					if err1 == nil && err2 == nil && math.Abs(a-b) <= 1e-9*math.Abs(b) {
						got = theirs
					}
				}
				if got != theirs {
					t.Errorf("%s %s!%s: %q, LibreOffice shows %q", book, sheet, at, c.Text, theirs)
				}
				delete(want, at)
				compared++
			}
			for at, v := range want {
				t.Errorf("%s %s!%s: not read, LibreOffice shows %q", book, sheet, at, v)
			}
		}
	}
	if compared < 700 {
		t.Errorf("only %d cells were compared", compared)
	}
}

// Outside reference: the stored values behind them, as LibreOffice reads them.
func TestStoredValuesAsLibreOfficeReadsThem(t *testing.T) {
	numbers := 0
	for book, sheet := range map[string]string{"xlwt": "Results", "libreoffice": "Sheet1", "gnumeric": "Sheet1"} {
		d := mustRead(t, book+".xls", load(t, "testdata/"+book+".xls"))
		want := answers(t, book, sheet, "stored")
		for _, c := range d.Pages[0].Cells {
			if c.Kind != ingest.NumberCell || strings.HasSuffix(c.Format, "%") {
				continue
			}
			v := c.Raw
			if v == "" {
				v = c.Text
			}
			a, err := strconv.ParseFloat(v, 64)
			b, err2 := strconv.ParseFloat(want[ingest.CellName(c.Row, c.Col)], 64)
			if err != nil || err2 != nil || math.Abs(a-b) > 1e-12*math.Abs(b) {
				t.Errorf("%s %s: %q, LibreOffice holds %q", book, ingest.CellName(c.Row, c.Col), v, want[ingest.CellName(c.Row, c.Col)])
			}
			numbers++
		}
	}
	if numbers < 30 {
		t.Errorf("only %d numbers were compared", numbers)
	}
}

func TestDatesHiddenAndMerged(t *testing.T) {
	for _, book := range []string{"libreoffice.xls", "gnumeric.xls"} {
		d := mustRead(t, book, load(t, "testdata/"+book))
		for name, w := range map[string]ingest.Cell{
			"A1": {Text: "Quarry Road soil – µg/g", Kind: ingest.TextCell, Across: 6, Down: 2},
			"B4": {Text: "4-Mar-26", Raw: "2026-03-04", Kind: ingest.DateCell},
			"B5": {Text: "2026-03-05 14:15", Raw: "2026-03-05T14:15:00", Kind: ingest.DateCell},
			"C4": {Text: "6.5", Raw: "6.47", Kind: ingest.NumberCell},
			"D5": {Text: "<0.50", Raw: "0.3", Kind: ingest.NumberCell},
			"F4": {Text: "12.94", Kind: ingest.NumberCell, Formula: FormulaNotShown},
			"F5": {Text: "high – ü", Kind: ingest.TextCell, Formula: FormulaNotShown},
			"F6": {Text: "TRUE", Kind: ingest.BoolCell, Formula: FormulaNotShown},
			"G4": {Text: "#DIV/0!", Kind: ingest.ErrorCell, Formula: FormulaNotShown},
			"G5": {Kind: ingest.TextCell, Formula: FormulaNotShown},
			"H4": {Text: "#N/A", Kind: ingest.ErrorCell, Formula: FormulaNotShown},
			"J4": {Text: "hidden column", Kind: ingest.TextCell, Hidden: true},
			"A9": {Text: "hidden row", Kind: ingest.TextCell, Hidden: true},
		} {
			got := cellAt(d, 0, name)
			got.Row, got.Col, got.Format = 0, 0, ""
			if got != w {
				t.Errorf("%s %s: got %+v, want %+v", book, name, got, w)
			}
		}
		if !d.Pages[1].Hidden || d.Pages[0].Hidden {
			t.Errorf("%s: the hidden sheet is not the second", book)
		}
		if c := cellAt(d, 2, "A30"); c.Text != "after the chart" {
			t.Errorf("%s: a cell behind a chart was lost: %+v", book, c)
		}
		if len(d.Notes) != 0 {
			t.Errorf("%s: notes %v", book, d.Notes)
		}
	}
}

func TestDateSystemOf1904(t *testing.T) {
	d := mustRead(t, "a.xls", load(t, "testdata/xlwt-1904.xls"))
	if a, b := cellAt(d, 0, "A1"), cellAt(d, 0, "A2"); a.Raw != "2026-03-04" || a.Text != "4-Mar-26" || b.Text != "1904-01-01" {
		t.Errorf("got %+v and %+v", a, b)
	}
}

// Every reading of the laboratory's truth stands in the row of its sample as
// it was printed, and the serial dates are the dates of the truth.
func TestLaboratoryFilesHoldTheirTruth(t *testing.T) {
	readings := 0
	for _, name := range []string{"J26-118.xls", "J26-131.xls", "J26-149.xls"} {
		var truth struct {
			Samples []struct {
				ID      string `json:"lab_sample_id"`
				Sampled string `json:"date_sampled"`
				Results []struct {
					Analyte, Printed string
				}
			}
		}
		if err := json.Unmarshal(load(t, labs+"truth/"+name+".json"), &truth); err != nil {
			t.Fatal(err)
		}
		d := mustRead(t, name, load(t, labs+name))
		rows := map[string]map[string]int{}
		for _, p := range d.Pages {
			id := map[int]string{}
			for _, c := range p.Cells {
				if c.Col == 1 {
					id[c.Row] = c.Text
					rows[c.Text] = map[string]int{}
				}
				if m := rows[id[c.Row]]; m != nil {
					m[c.Text]++
					if c.Kind == ingest.DateCell {
						m[c.Raw]++
					}
				}
			}
		}
		if len(truth.Samples) == 0 {
			t.Fatalf("%s: no samples in its truth", name)
		}
		for _, s := range truth.Samples {
			row := rows[s.ID]
			if row == nil {
				t.Errorf("%s: sample %s was not read", name, s.ID)
				continue
			}
			if s.Sampled != "" {
				serial, _ := numfmt.SerialOf(s.Sampled, numfmt.From1900)
				if row[serial] == 0 && row[s.Sampled] == 0 && row[shownDate(s.Sampled)] == 0 {
					t.Errorf("%s: sample %s has no cell with its date %s (%s): %v", name, s.ID, s.Sampled, serial, row)
				}
			}
			for _, r := range s.Results {
				if row[r.Printed] == 0 {
					t.Errorf("%s: sample %s has no cell %q for %s", name, s.ID, r.Printed, r.Analyte)
				}
				row[r.Printed]--
				readings++
			}
		}
	}
	if readings < 300 {
		t.Errorf("only %d readings were compared", readings)
	}
}

// shownDate is the day/month/year that some jobs of this laboratory show.
func shownDate(iso string) string { return iso[8:] + "/" + iso[5:7] + "/" + iso[:4] }

func TestReaderKeepsItsContract(t *testing.T) {
	readertest.Run(t, New(), []readertest.Sample{
		{Name: "libreoffice.xls", Bytes: load(t, "testdata/libreoffice.xls")},
		{Name: "gnumeric.xls", Bytes: load(t, "testdata/gnumeric.xls")},
		{Name: "gnumeric-both.xls", Bytes: load(t, "testdata/gnumeric-both.xls")},
		{Name: "xlwt.xls", Bytes: load(t, "testdata/xlwt.xls")},
		{Name: "J26-118.xls", Bytes: load(t, labs+"J26-118.xls")},
		{Name: "biff7.xls", Bytes: load(t, "testdata/gnumeric-biff7.xls"), Code: "old-workbook"},
		{Name: "empty.xls", Code: "damaged"},
		{Name: "html.xls", Bytes: load(t, "../../testdata/hostile/html-named.xls"), Code: "damaged"},
	})
}

// Three hundred damaged copies of each workbook, beside those of readertest.
func TestDamagedCopiesNeverPanic(t *testing.T) {
	for _, name := range []string{"testdata/xlwt.xls", "testdata/libreoffice.xls", "testdata/gnumeric-both.xls", labs + "J26-131.xls"} {
		b := load(t, name)
		rnd := rand.New(rand.NewPCG(7, uint64(len(b))))
		refused := 0
		for range 300 {
			if _, r := readertest.Read(t, New(), "damaged.xls", readertest.Damage(rnd, b)); r != nil {
				refused++
			}
		}
		if refused == 0 {
			t.Errorf("%s: not one of 300 damaged copies was refused", name)
		}
	}
}

func FuzzRead(f *testing.F) {
	for _, name := range []string{"testdata/xlwt-1904.xls", "testdata/xlwt-formula.xls", "testdata/libreoffice.xls", "testdata/gnumeric.xls", "testdata/gnumeric-biff7.xls", labs + "J26-118.xls"} {
		f.Add(load(f, name))
	}
	f.Fuzz(func(t *testing.T, b []byte) { readertest.Read(t, New(), "f.xls", b) })
}

// FuzzRecords feeds the records without the container, which would refuse
// most changes before a record is read.
func FuzzRecords(f *testing.F) {
	f.Add(part{cells: [][]byte{number(0, 0, 5.5), label(1, 0, "a")}}.stream())
	for _, name := range []string{"testdata/xlwt-1904.xls", "testdata/libreoffice.xls", labs + "J26-118.xls"} {
		c, r := openContainer(load(f, name))
		if r != nil {
			f.Fatal(r)
		}
		f.Add(c.stream)
	}
	f.Fuzz(func(t *testing.T, stream []byte) {
		if len(stream) > 50_000 {
			return
		}
		readertest.Read(t, New(), "f.xls", compound(t, "Workbook", stream))
	})
}
