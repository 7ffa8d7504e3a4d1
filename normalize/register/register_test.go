package register

import (
	"context"
	"encoding/json"
	"strings"
	"testing"

	"example.org/windrow/ingest"
	"example.org/windrow/ingest/delimited"
	"example.org/windrow/normalize"
)

// document is a delimited text as its reader gives it.
func document(t testing.TB, text string) *ingest.Document {
	t.Helper()
	d, err := delimited.New(ingest.Dialect{Encoding: "utf-8", Delimiter: ","}).Read(context.Background(), ingest.NewSource("register.csv", []byte(text)), ingest.DefaultLimits())
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func read(t testing.TB, text string) *Register {
	t.Helper()
	r, reasons := Read(document(t, text))
	if r == nil {
		t.Fatalf("refused: %v", reasons)
	}
	return r
}

// An acre is 43,560 square feet and a square yard nine (NIST Handbook 44,
// appendix C, from memory); the products are worked by hand.
func TestAreas(t *testing.T) {
	for _, c := range []struct{ text, bare, want string }{
		{"900 sq ft", "", "900"}, {"900 Sq. Ft.", "", "900"}, {"1,200 square feet", "", "1200"}, {"450.5 ft²", "", "450.5"}, {"450.50 sf", "", "450.5"},
		{"20 x 30 ft", "", "600"}, {"20 ft x 30 ft", "", "600"}, {"20x30 feet", "", "600"}, {"20' × 30'", "", "600"}, {"12.5 by 8 ft", "", "100"}, {"10 yd x 3 yd", "", "270"}, {"10 yd x 9 ft", "", "270"},
		{"0.25 acre", "", "10890"}, {".25 ac", "", "10890"}, {"1/4 acre", "", "10890"}, {"1 1/2 acres", "", "65340"}, {"1/3 acre", "", "14520"}, {"2 acres", "", "87120"}, {"100 sq yd", "", "900"},
		{"900", sqFt, "900"}, {"0.5", acre, "21780"}, {"0.25 acre", sqFt, "10890"},
	} {
		if got, wrong := parseArea(c.text, c.bare); got != c.want || wrong != "" {
			t.Errorf("%q in a column of %q: %q, %q; want %s", c.text, c.bare, got, wrong, c.want)
		}
	}
	for _, c := range []struct{ text, bare, why string }{
		{"900", "", "without a unit"}, {"20 x 30", "", "without a unit"}, {"20 x 30", sqFt, "without a unit"}, {"about 900 sq ft", sqFt, "no number"}, {"~900 sq ft", sqFt, "no number"},
		{"1,5 acres", "", "more than one way"}, {"1.200,5 sq ft", "", "more than one way"}, {"100 m2", "", "unit"}, {"0.1 ha", "", "unit"}, {"900-1000 sq ft", "", "unit"}, {"1/7 acre", "", "exact"},
		{"0 sq ft", "", "nothing"}, {"-5 sq ft", "", "no number"}, {"3000 acres", "", "100,000,000"}, {"20 x 30 x 2 ft", "", "unit"}, {"small", sqFt, "no number"}, {"1e9 sq ft", "", "unit"}, {`20'6" x 30'`, "", "unit"}, {"1 2 sq ft", "", "more than one way"},
	} {
		got, wrong := parseArea(c.text, c.bare)
		if got != "" || !strings.Contains(wrong, c.why) {
			t.Errorf("%q in a column of %q: %q, %q; want it refused for %q", c.text, c.bare, got, wrong, c.why)
		}
	}
}

func TestDates(t *testing.T) {
	for _, c := range []struct {
		text string
		o    order
		want string
	}{
		{"2026-03-12", "", "2026-03-12"}, {"2026-3-2", "", "2026-03-02"}, {"2026-03-12T08:30:00", "", "2026-03-12"}, {"March 12, 2026", "", "2026-03-12"}, {"mar. 12 2026", "", "2026-03-12"}, {"12 March 2026", "", "2026-03-12"},
		{"12-Mar-2026", "", "2026-03-12"}, {"Sept. 1, 2026", "", "2026-09-01"}, {"3/14/2026", "", "2026-03-14"}, {"14.3.2026", "", "2026-03-14"}, {"4/4/2026", "", "2026-04-04"},
		{"3/12/2026", monthFirst, "2026-03-12"}, {"3/12/2026", dayFirst, "2026-12-03"}, {"02/29/2028", "", "2028-02-29"},
	} {
		if got, wrong := parseDate(c.text, c.o); got != c.want || wrong != "" {
			t.Errorf("%q %q: %q, %q; want %s", c.text, c.o, got, wrong, c.want)
		}
	}
	for _, c := range []struct {
		text string
		o    order
		why  string
	}{
		{"3/12/2026", "", "as March 12, 2026 or as December 3, 2026"}, {"3/14/26", "", "two digits"}, {"3/14/2026", dayFirst, "calendar"}, {"2026-02-30", "", "calendar"}, {"2/29/2026", "", "calendar"}, {"Smarch 1, 2026", "", "month"},
		{"spring", "", "not a date"}, {"46093", "", "not a date"}, {"3/14-2026", "", "not a date"}, {"1926-03-12", "", "year"}, {"2026", "", "not a date"},
	} {
		if got, wrong := parseDate(c.text, c.o); got != "" || !strings.Contains(wrong, c.why) {
			t.Errorf("%q %q: %q, %q; want it refused for %q", c.text, c.o, got, wrong, c.why)
		}
	}
}

func TestRead(t *testing.T) {
	r := read(t, `Samples of the desk,,,,,,,,,
Sample Label,Client Name,Crop,"Area (sq. ft.)",County,Sent to,Date Sent,E-mail,Idioma,Shelf
Plot 17,"Threnody, Jasper",Garden,"1,200",Alderbrook,Thrushgate,2026-03-16,j@threnody.example,Español,B2
,,,,,,,,,B3
Bed 2,Isolde Hathersby,moss,0.25 acre,,,"April 2, 2026",,,
`)
	if len(r.Rows) != 2 {
		t.Fatalf("%d rows", len(r.Rows))
	}
	a, b := r.Rows[0], r.Rows[1]
	if a.Label != "Plot 17" || a.Client != "Threnody, Jasper" || a.LandUse != "vegetable garden" || a.AreaSqFt != "1200" || a.County != "Alderbrook" || a.Lab != "Thrushgate" || a.Sent != "2026-03-16" ||
		a.Email != "j@threnody.example" || a.Language != "es" || a.Place.String() != "register.csv:3:1" {
		t.Errorf("%+v", a)
	}
	if b.LandUse != "moss" || b.AreaSqFt != "10890" || b.Sent != "2026-04-02" || b.Language != "" {
		t.Errorf("%+v", b)
	}
	var codes []string
	for _, n := range r.Notes {
		codes = append(codes, n.Code+" "+string(n.Severity)+" "+n.Where.String())
	}
	if got := strings.Join(codes, "; "); got != "register-unknown note register.csv:2:87; register-land-use flag register.csv:5:24" {
		t.Errorf("notes: %s", got)
	}
	out, err := json.Marshal(r.Rows)
	if err != nil {
		t.Fatal(err)
	}
	if strings.Contains(strings.ToLower(string(out)), "threnody") {
		t.Errorf("personal data in %s", out)
	}
}

// Each mistake is told with its place, what was expected and what to do, and
// none repeats an address or a name.
func TestRefused(t *testing.T) {
	const head = "label,client,date sent,area,email,language\n"
	for _, c := range []struct{ text, code, where, found string }{
		{"garden,soil\n1,2\n", CodeNoHeader, "register.csv", `the first line is "garden", "soil"`},
		{"label,client\na,b\n", CodeMissing, "register.csv:1", `the headings "label", "client"`},
		{"client,date sent\na,2026-01-01\n", CodeMissing, "register.csv:1", `"date sent"`},
		{"label,client,name,date sent\na,b,c,2026-01-01\n", CodeTwice, "register.csv:1:14", `"client" and "name"`},
		{head + "a,b,3/12/2026,,,\n", CodeDate, "register.csv:2:5", "in two ways"},
		{head + "a,b,2026-03-12,900,,\n", CodeArea, "register.csv:2:16", "without a unit"},
		{head + "a,b,2026-03-12,,Ada Quill,\n", CodeEmail, "register.csv:2:17", "a text that is none"},
		{head + "a,b,2026-03-12,,Ada <q@quill.example>,\n", CodeEmail, "register.csv:2:17", "a text that is none"},
		{head + "a,b,2026-03-12,,,Klingon\n", CodeLanguage, "register.csv:2:18", "another text"},
		{head + "a,2026-03-12,Ada Quill,,,\n", CodeDate, "register.csv:2:14", "a text that is not repeated here: not a date"},
		{head + "a,b,2026-03-12,q7@quill.example,,\n", CodeArea, "register.csv:2:16", "a text that is not repeated here"},
		{head + ",b,2026-03-12,,,\n", CodeNoLabel, "register.csv:2", "empty"},
		{head + "--,b,2026-03-12,,,\n", CodeNoLabel, "register.csv:2:1", "--"},
		{head + "a,b,2026-03-12,,,\na,Ada Quill,2026-03-12,,\nc,d,2026-03-12,,,\n", CodeRagged, "register.csv:3", ""},
	} {
		r, reasons := Read(document(t, c.text))
		if r != nil || len(reasons) != 1 {
			t.Errorf("%q: %v", c.text, reasons)
			continue
		}
		x := reasons[0]
		if x.Code != c.code || !strings.HasPrefix(x.Where.String(), c.where) || !strings.Contains(x.Found, c.found) || x.Expected == "" || x.Next == "" || x.What == "" || x.Severity != ingest.Fail {
			t.Errorf("%q: %s", c.text, x.Error())
		}
		if strings.Contains(x.Error(), "uill") {
			t.Errorf("personal data: %s", x.Error())
		}
	}
	if r := read(t, "label,client,date sent (m/d/y)\na,b,3/12/2026\n"); r.Rows[0].Sent != "2026-03-12" {
		t.Errorf("the order of the heading: %+v", r.Rows[0])
	}
}

// A cell of a workbook is read by its value, not by how it looks.
func TestCells(t *testing.T) {
	cell := func(row, col int, text, raw string, kind ingest.CellKind) ingest.Cell {
		return ingest.Cell{Row: row, Col: col, Text: text, Raw: raw, Kind: kind}
	}
	page := func(area, date ingest.Cell) *ingest.Document {
		p := &ingest.Page{Number: 1, Name: "Sheet1", Cells: []ingest.Cell{cell(1, 1, "label", "", ingest.TextCell), cell(1, 2, "client", "", ingest.TextCell), cell(1, 3, "area (sq ft)", "", ingest.TextCell), cell(1, 4, "date sent", "", ingest.TextCell),
			cell(2, 1, "007", "7", ingest.NumberCell), cell(2, 2, "Ada", "", ingest.TextCell), area, date}}
		return &ingest.Document{Source: ingest.SourceRef{Name: "register.xlsx"}, Format: ingest.XLSX, Pages: []*ingest.Page{p}}
	}
	day := cell(2, 4, "3/12/26", "2026-03-12", ingest.DateCell)
	r, reasons := Read(page(cell(2, 3, "1,201", "1200.5", ingest.NumberCell), day))
	if r == nil || r.Rows[0].AreaSqFt != "1200.5" || r.Rows[0].Sent != "2026-03-12" || r.Rows[0].Label != "007" || r.Rows[0].Place.String() != "register.xlsx: Sheet1!A2" {
		t.Fatalf("%+v %v", r, reasons)
	}
	merged := cell(2, 4, "3/12/26", "2026-03-12", ingest.DateCell)
	merged.Down = 3
	for _, c := range []struct {
		area, day ingest.Cell
		code      string
	}{
		{cell(2, 3, "2 acre", "1.5", ingest.NumberCell), day, CodeArea},
		{cell(2, 3, "#REF!", "", ingest.ErrorCell), day, CodeCell},
		{cell(2, 3, "900", "", ingest.NumberCell), merged, CodeCell},
		{cell(2, 3, "900", "", ingest.NumberCell), cell(2, 4, "46093", "", ingest.NumberCell), CodeDate},
	} {
		if r, reasons := Read(page(c.area, c.day)); r != nil || len(reasons) != 1 || reasons[0].Code != c.code {
			t.Errorf("%+v: %v", c, reasons)
		}
	}
	two := page(cell(2, 3, "900", "", ingest.NumberCell), day)
	other := *two.Pages[0]
	other.Name = "old"
	two.Pages = append(two.Pages, &other)
	if r, reasons := Read(two); r != nil || reasons[0].Code != CodeNoHeader {
		t.Errorf("two registers in one workbook: %v", reasons)
	}
	two.Pages[1] = &ingest.Page{Number: 2, Name: "notes", Cells: []ingest.Cell{cell(1, 1, "buy bags", "", ingest.TextCell)}}
	if r, _ := Read(two); r == nil || len(r.Notes) != 1 || r.Notes[0].Code != CodeOtherSheet {
		t.Errorf("a sheet of notes: %+v", r)
	}
}

// Headings that are close to a spelling are not taken for it.
func TestHeadingsAreStrict(t *testing.T) {
	for h, want := range map[string]field{"LABEL": label, "Sample_ID": label, "E-Mail Address": email, "Área (acres)": "", "Acres": area, "sq. ft.": area, "Area, in square feet": area, "Land-use": landUse, "correo electrónico": email, "Fecha de envío": sent,
		"emial": "", "labels2": "", "client phone": "", "dates": "", "area hectares": "", "ac": "", "": ""} {
		c, ok := columnOf(h)
		if h == "Área (acres)" { // folded without its accent
			want = area
		}
		if c.field != want || ok != (want != "") {
			t.Errorf("%q: %q %v, want %q", h, c.field, ok, want)
		}
	}
	owner := map[string]field{}
	for f, names := range headings {
		for _, n := range names {
			if n != foldHeading(n) {
				t.Errorf("%q is not folded", n)
			}
			if o, twice := owner[n]; twice {
				t.Errorf("%q is %s and %s", n, o, f)
			}
			owner[n] = f
		}
	}
}

var thrushgate = normalize.Lab{ID: "thrushgate", Name: "Thrushgate Garden Soil Desk"}

// report is one of samples, each "label|client|sampled|received|reported".
func report(samples ...string) *normalize.Report {
	rep := &normalize.Report{ID: "R0123456789abcdef", Lab: thrushgate}
	for _, s := range samples {
		f := strings.Split(s, "|")
		rec := &normalize.Record{ID: rep.ID + "-1", Sample: normalize.Sample{ClientLabel: f[0], Sampled: f[2], Received: f[3], Reported: f[4]}}
		if f[1] != "" {
			rec.Client = &normalize.Client{Name: f[1]}
		}
		rep.Records = append(rep.Records, rec)
	}
	return rep
}

func TestMatch(t *testing.T) {
	const head = "label,client,date sent,lab,county\n"
	const now = "2026-03-15|2026-03-17|2026-03-25"
	for _, c := range []struct {
		name, rows, sample string
		want               Confidence
		why                string
	}{
		{"same in all", "Plot 17,Jasper Threnody,2026-03-16,Thrushgate,", "Plot 17|Jasper Threnody|" + now, Exact, "same label, same client, same laboratory, date fits"},
		{"written otherwise", `plot-17,"THRENODY, Mr. Jasper",2026-03-16,,`, "Plot17|Jasper Thrénody|" + now, Exact, "same label, same client, date fits"},
		{"sent on the day of receipt", "Plot 17,Jasper Threnody,2026-03-17,,", "Plot 17|Jasper Threnody|" + now, Exact, "date fits"},
		{"no date in the register", "Plot 17,Jasper Threnody,,,", "Plot 17|Jasper Threnody|" + now, Likely, "same client, no date to compare"},
		{"no client in the report", "Plot 17,Jasper Threnody,2026-03-16,,", "Plot 17||" + now, Likely, "no client to compare, date fits"},
		{"initial", "Plot 17,J. Threnody,2026-03-16,,", "Plot 17|Jasper Threnody|" + now, Likely, "similar name, date fits"},
		{"one name of two", "Plot 17,Threnody,2026-03-16,,", "Plot 17|Jasper Threnody|" + now, Likely, "similar name, date fits"},
		{"initial and no date", "Plot 17,J. Threnody,,,", "Plot 17|Jasper Threnody|" + now, None, "neither the client nor the date is sure"},
		{"label alone", "Plot 17,,,,", "Plot 17|Jasper Threnody|" + now, None, "neither the client nor the date is sure"},
		{"another client", "Plot 17,Odo Castellan,2026-03-16,,", "Plot 17|Jasper Threnody|" + now, None, "for another client"},
		{"initials alone", "Plot 17,J. T.,2026-03-16,,", "Plot 17|Jasper Threnody|" + now, None, "for another client"},
		{"another laboratory", "Plot 17,Jasper Threnody,2026-03-16,Verrin,", "Plot 17|Jasper Threnody|" + now, None, "at another laboratory"},
		{"sent before it was taken", "Plot 17,Jasper Threnody,2026-03-14,,", "Plot 17|Jasper Threnody|" + now, None, "at another time"},
		{"sent after receipt", "Plot 17,Jasper Threnody,2026-03-18,,", "Plot 17|Jasper Threnody|" + now, None, "at another time"},
		{"last year's", "Plot 17,Jasper Threnody,2025-03-16,,", "Plot 17|Jasper Threnody||2026-03-17|", None, "at another time"},
		{"only reported", "Plot 17,Jasper Threnody,2026-03-16,,", "Plot 17|Jasper Threnody|||2026-03-25", Exact, "date fits"},
		{"only sampled", "Plot 17,Jasper Threnody,2026-03-16,,", "Plot 17|Jasper Threnody|2026-03-15||", Exact, "date fits"},
		{"other label", "Plot 18,Jasper Threnody,2026-03-16,,", "Plot 17|Jasper Threnody|" + now, None, "no sample of this label"},
		{"no label", "Plot 18,Jasper Threnody,2026-03-16,,", "|Jasper Threnody|" + now, None, "no label"},
		{"plot 1-7 is not plot 17", "Plot 1-7,Jasper Threnody,2026-03-16,,", "Plot 17|Jasper Threnody|" + now, None, "no sample of this label"},
		{"two that fit", "Plot 17,Jasper Threnody,2026-03-16,,\nPlot 17,Jasper Threnody,2026-03-17,,", "Plot 17|Jasper Threnody|" + now, None, "2 lines of the register fit equally well"},
		{"one fits better", "Plot 17,J Threnody,2026-03-16,,\nPlot 17,Jasper Threnody,2026-03-17,,", "Plot 17|Jasper Threnody|" + now, Exact, "same client"},
		{"two are likely", "Plot 17,J Threnody,2026-03-16,,\nPlot 17,,2026-03-17,,", "Plot 17|Jasper Threnody|" + now, None, "2 lines of the register fit equally well"},
		{"two clients of one label", "Plot 17,Odo Castellan,2026-03-16,,\nPlot 17,Jasper Threnody,2026-03-17,,", "Plot 17|Jasper Threnody|" + now, Exact, "same client"},
	} {
		m := read(t, head+c.rows+"\n").Match(report(c.sample))[0]
		if m.Confidence != c.want || !strings.Contains(m.Why, c.why) || (m.Row != nil) != (c.want != None) {
			t.Errorf("%s: %s, %q; want %s, %q", c.name, m.Confidence, m.Why, c.want, c.why)
		}
		if strings.Contains(strings.ToLower(m.Why), "threnody") {
			t.Errorf("%s: personal data: %q", c.name, m.Why)
		}
	}
}

func TestMatchWithinAReport(t *testing.T) {
	r := read(t, "label,client,date sent,email\nBed 1,Jasper Threnody,2026-03-16,j@threnody.example\n")
	same := "Bed 1|Jasper Threnody|2026-03-15|2026-03-17|2026-03-25"
	for _, m := range r.Match(report(same, same)) {
		if m.Row != nil || !strings.Contains(m.Why, "2 samples of the report") || len(m.Among) != 1 {
			t.Errorf("%+v", m)
		}
	}
	ms := r.Match(report("Bed 1||2026-03-15|2026-03-17|2026-03-25", same))
	if ms[0].Row != nil || ms[1].Confidence != Exact {
		t.Errorf("one is the sample, and the other like it: %+v", ms)
	}
	if ms[0].Contact() != "" || ms[1].Contact() != "j@threnody.example" {
		t.Errorf("contacts %q, %q", ms[0].Contact(), ms[1].Contact())
	}
	if m := r.Match(report("Bed 1||2026-03-15|2026-03-17|2026-03-25"))[0]; m.Confidence != Likely || m.Contact() != "" {
		t.Errorf("a likely row gives an address: %+v", m)
	}
	var none *Register
	if m := none.Match(report(same))[0]; m.Confidence != None || m.Why == "" {
		t.Errorf("no register: %+v", m)
	}
}

func TestFill(t *testing.T) {
	r := read(t, "label,client,date sent,county\nBed 1,Jasper Threnody,2026-03-16,Wren\n")
	const s = "Bed 1|Jasper Threnody|2026-03-15|2026-03-17|2026-03-25"
	rep := report(s)
	r.Fill(rep)
	if x := rep.Records[0].Sample; x.County != "Wren" || strings.Join(x.DefaultsUsed, " ") != CountyUsed || x.Register == nil || x.Register.Row != r.Rows[0].ID || x.Register.Confidence != "exact" {
		t.Errorf("%+v", x)
	}
	rep = report(s)
	rep.Records[0].Sample.County, rep.Records[0].Sample.DefaultsUsed = "Finch", []string{"county", "land_use"}
	r.Fill(rep)
	if x := rep.Records[0].Sample; x.County != "Wren" || strings.Join(x.DefaultsUsed, " ") != "land_use "+CountyUsed {
		t.Errorf("over the folder's: %+v", x)
	}
	rep = report(s)
	rep.Records[0].Sample.County = "Finch"
	r.Fill(rep)
	if x := rep.Records[0].Sample; x.County != "Finch" || x.DefaultsUsed != nil || x.Register != nil {
		t.Errorf("over the report's own: %+v", x)
	}
}
