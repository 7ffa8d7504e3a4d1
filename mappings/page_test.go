package mappings

import (
	"fmt"
	"sort"
	"strings"
	"testing"

	"example.org/windrow/ingest"
)

// words is the vocabulary of these tests: a handful of spellings, so that the
// language is tested apart from the tables it will be used with.
type words struct{}

var known = map[WordKind]map[string]string{
	AnalyteWord: {"pH": "pH", "buffer_pH": "buffer_pH", "P": "P", "K": "K", "Ca": "Ca", "Mg": "Mg", "OM": "OM", "base_sat_K": "base_sat_K", "texture": "texture", "density": "density", "Zn": "Zn"},
	UnitWord:    {"ppm": "mg/kg", "mg/kg": "mg/kg", "%": "%", "lb/acre": "lb/acre", "kg/ha": "kg/ha", "index": "index", "pH": "pH", "lime index": "lime-index"},
	MethodWord:  {"Mehlich-3": "mehlich-3", "Olsen": "olsen", "1:1 water": "ph-water-1-1"},
	BasisWord:   {"P2O5": "P2O5", "PO4": "PO4", "phosphate": "P2O5", "K2O": "K2O", "potash": "K2O", "P": "P", "K": "K", "index": "index"},
	LandUseWord: {"lawn": "lawn", "vegetable garden": "vegetable garden"},
	RatingWord:  {"low": "low", "medium": "medium", "high": "high"},
	ScaleWord:   {"ireland-k-index": "ireland-k-index"},
}

func (words) Resolve(k WordKind, s string) (string, bool) { id, ok := known[k][s]; return id, ok }
func (words) Near(k WordKind, s string) []string          { return nil }

// drawn turns lines of text into a page as a typewriter would print it: a
// character is 6 points wide and a line 12 points high.
func drawn(text string) *ingest.Document {
	p := &ingest.Page{Number: 1, Width: 612, Height: 792}
	for i, l := range strings.Split(strings.Trim(text, "\n"), "\n") {
		y := 20 + 12*float64(i)
		for c := 0; c < len(l); {
			if l[c] == ' ' {
				c++
				continue
			}
			e := c
			for e < len(l) && l[e] != ' ' {
				e++
			}
			p.Words = append(p.Words, ingest.Word{Text: l[c:e], Box: ingest.Box{X0: 6 * float64(c), Y0: y, X1: 6 * float64(e), Y1: y + 10}, Base: y + 8, Size: 10})
			c = e
		}
	}
	return &ingest.Document{Source: ingest.SourceRef{Name: "a.pdf"}, Format: ingest.PDF, Pages: []*ingest.Page{p}}
}

// grid turns rows of cells, separated by bars, into a sheet.
func grid(text string) *ingest.Document {
	p := &ingest.Page{Number: 1, Name: "Sheet1"}
	for r, l := range strings.Split(strings.Trim(text, "\n"), "\n") {
		for c, t := range strings.Split(l, "|") {
			t = strings.TrimSpace(t)
			p.Rows, p.Cols = r+1, max(p.Cols, c+1)
			if t != "" {
				p.Cells = append(p.Cells, ingest.Cell{Row: r + 1, Col: c + 1, Text: t, Kind: ingest.TextCell})
			}
		}
	}
	return &ingest.Document{Source: ingest.SourceRef{Name: "a.xlsx"}, Format: ingest.XLSX, Pages: []*ingest.Page{p}}
}

const top = `windrow mapping: 1
lab: Test Laboratory
id: test
recognise: [LAB]
missing: [n/a, "--"]
dates: YYYY-MM-DD
ratings: {L: low, M: medium, H: high}
tests:
  pH: {analyte: pH, method: "1:1 water"}
  P: {analyte: P, unit: ppm, method: Mehlich-3}
  K: {analyte: K, unit: ppm, method: Mehlich-3}
  Organic matter: {analyte: OM, unit: "%"}
  Kdep: {analyte: Mg, unit: lb/acre}
layouts:
  - name: one
`

// summary is what was read, one reading a line, then the codes of reasons.
func summary(x *Extract) string {
	var b strings.Builder
	for _, s := range x.Samples {
		for _, r := range s.Readings {
			v := r.Censor + r.Number
			if r.Missing != "" {
				v = "missing " + r.Missing
			}
			if r.Words != "" {
				v = r.Words
			}
			fmt.Fprintf(&b, "%s %s=%s %s", s.Fields[LabSampleID].Value, r.Analyte, v, r.Unit)
			if r.Rating != "" {
				b.WriteString(" " + r.Rating)
			}
			if r.Area != nil {
				fmt.Fprintf(&b, " of %s lb/acre to %s in", r.Area.LbPerAcre, r.Area.DepthIn)
			}
			b.WriteString("\n")
		}
	}
	codes := map[string]bool{}
	for _, r := range x.Reasons {
		if r.Severity != ingest.Note {
			codes[r.Code] = true
		}
	}
	var cs []string
	for c := range codes {
		cs = append(cs, c)
	}
	sort.Strings(cs)
	for _, c := range cs {
		b.WriteString("! " + c + "\n")
	}
	return b.String()
}

func read(t *testing.T, mapping string, d *ingest.Document) *Extract {
	t.Helper()
	m, reasons := Decode("test.yaml", []byte(mapping), words{})
	for _, r := range reasons {
		t.Error(r)
	}
	if m == nil {
		t.FailNow()
	}
	s := &Set{vocab: words{}, list: []*Mapping{m}}
	match, why := s.Recognise([]*ingest.Document{d})
	if why != nil {
		t.Fatal(why)
	}
	return match.Read()
}

func check(t *testing.T, mapping string, d *ingest.Document, want string) {
	t.Helper()
	x := read(t, top+mapping, d)
	if got := summary(x); got != strings.TrimLeft(want, "\n") {
		t.Errorf("got\n%swant%s", got, want)
		for _, r := range x.Reasons {
			t.Log(r)
		}
	}
}

const rowsOfTests = `
    format: pdf
    one sample each: page
    sample: [{after: "No.", reads: lab_sample_id}]
    tables:
      - name: results
        each row: a test
        ends before: Notes
        columns:
          - {heading: Test, reads: test}
          - {heading: Result, reads: result}
          - {heading: Unit, reads: unit}
          - {heading: Last year, reads: nothing, why: comparison}
          - {heading: Level, reads: rating}
    not results: [{from: Notes, why: notes}]
`

func TestRowsOfTests(t *testing.T) {
	check(t, rowsOfTests, drawn(`
LAB                       No. 17
Test              Result  Unit   Last     Level
                                 year
pH                   6.4          6.2
P                    <10  ppm      12     L
Minerals
K                    n/a  ppm     140
Organic              5.6  %       5.4     M
matter
Notes 400 ppm is much
`), `
17 pH=6.4 pH
17 P=<10 mg/kg L
17 K=missing n/a mg/kg
17 OM=5.6 % M
`)
}

// A row that the laboratory has renamed is not skipped, even when its only
// result is a word.
func TestRenamedRowHolds(t *testing.T) {
	check(t, rowsOfTests, drawn(`
LAB                       No. 17
Test              Result  Unit   Last     Level
                                 year
Phosphorus            10  ppm      12     L
`), "\n! test-unknown\n")
	check(t, rowsOfTests, drawn(`
LAB                       No. 17
Test              Result  Unit   Last     Level
                                 year
Phosphorus            --
`), "\n! test-unknown\n")
}

func TestSwappedColumnsHold(t *testing.T) {
	check(t, rowsOfTests, drawn(`
LAB                       No. 17
Test              Last    Unit   Result   Level
                  year
pH                   6.4          6.2
`), "\n! layout-changed\n")
}

func TestNewColumnHolds(t *testing.T) {
	check(t, rowsOfTests, drawn(`
LAB                       No. 17
Test              Result  Unit   Last     Level   Target
                                 year
pH                   6.4          6.2             6.5
`), "\n! layout-changed\n")
}

func TestUnitChangedHolds(t *testing.T) {
	check(t, rowsOfTests, drawn(`
LAB                       No. 17
Test              Result  Unit   Last     Level
                                 year
P                     20  lb/acre  12     L
`), "\n17 P=20 lb/acre L\n! unit-differs\n")
}

func TestUnaccountedNumberHolds(t *testing.T) {
	check(t, rowsOfTests, drawn(`
LAB                       No. 17
Test              Result  Unit   Last     Level
                                 year
pH                   6.4          6.2
Notes
`), "\n17 pH=6.4 pH\n")
	d := drawn(`
LAB  copy 2               No. 17
Test              Result  Unit   Last     Level
                                 year
pH                   6.4          6.2
Notes
`)
	check(t, rowsOfTests, d, "\n17 pH=6.4 pH\n! number-unaccounted\n")
}

// A number broken in two by a bad text layer is not half a result.
func TestBrokenNumberHolds(t *testing.T) {
	check(t, rowsOfTests, drawn(`
LAB                       No. 17
Test              Result  Unit   Last     Level
                                 year
P                   1 02  ppm      12     L
`), "\n! not-a-number\n")
}

const rowsOfSamples = `
    format: pdf
    one sample each: row
    tables:
      - name: samples
        each row: a sample
        columns:
          - {heading: Lab no., reads: lab_sample_id}
          - {heading: Field, reads: client_sample_id}
          - {heading: pH}
          - {under: [Extract, Mehlich-3], heading: P, unit: ppm, reads: "{result} {rating?}"}
          - {under: [Extract, Mehlich-3], heading: K, unit: ppm}
          - {heading: Organic matter, unit: "%", blank means: "--"}
        skip rows: [{begins: Mean, why: a mean}]
`

func TestRowsOfSamples(t *testing.T) {
	check(t, rowsOfSamples, drawn(`
LAB
                             Extract
                            Mehlich-3      Organic
Lab no.  Field       pH     P      K       matter
                           ppm    ppm        %
101      North 40 1  6.4   53 H   295       2.3
102      Well        7.0    9     n/a
Mean                 6.7   31     295       2.3
`), `
101 pH=6.4 pH
101 P=53 mg/kg H
101 K=295 mg/kg
101 OM=2.3 %
102 pH=7.0 pH
102 P=9 mg/kg
102 K=missing n/a mg/kg
102 OM=missing -- %
`)
}

func TestUndeclaredSummaryHolds(t *testing.T) {
	check(t, rowsOfSamples, drawn(`
LAB
                             Extract
                            Mehlich-3      Organic
Lab no.  Field       pH     P      K       matter
                           ppm    ppm        %
101      North 40 1  6.4   53 H   295       2.3
Average              6.4   53     295       2.3
`), `
101 pH=6.4 pH
101 P=53 mg/kg H
101 K=295 mg/kg
101 OM=2.3 %
! row-looks-like-summary
`)
}

func TestUnitUnderHeadingChangedHolds(t *testing.T) {
	check(t, rowsOfSamples, drawn(`
LAB
                             Extract
                            Mehlich-3      Organic
Lab no.  Field       pH     P      K       matter
                         lb/acre  ppm        %
101      North 40 1  6.4   53 H   295       2.3
`), "\n! unit-differs\n")
}

func TestGroupRenamedHolds(t *testing.T) {
	check(t, rowsOfSamples, drawn(`
LAB
                             Extract
                              Olsen        Organic
Lab no.  Field       pH     P      K       matter
                           ppm    ppm        %
101      North 40 1  6.4   53 H   295       2.3
`), "\n! layout-changed\n")
}

func TestSampleTwiceHolds(t *testing.T) {
	x := read(t, top+rowsOfSamples, drawn(`
LAB
                             Extract
                            Mehlich-3      Organic
Lab no.  Field       pH     P      K       matter
                           ppm    ppm        %
101      A           6.4   53 H   295       2.3
101      B           6.4   54 H   295       2.3
`))
	if !x.Held() || !strings.Contains(summary(x), "! sample-twice") {
		t.Errorf("got %s", summary(x))
	}
}

func TestLabels(t *testing.T) {
	m := `
    format: pdf
    one sample each: block
    block: {begins: "SAMPLE {lab_sample_id}"}
    sample: [{after: Use, reads: land_use}]
    labels:
      - {test: pH}
      - {test: P, reads: "{result} {unit} {rating?}"}
      - {test: K}
      - {test: Organic matter, below: Organic matter, reads: "{result}{unit}"}
    not results: [{line: "Lime *", why: advice}]
`
	check(t, m, drawn(`
LAB
SAMPLE 7      Use lawn          SAMPLE 8      Use lawn
pH ...... 6.4    P 12 ppm H     pH: 5.9   P 3.5 ppm
K: 140 ppm   Organic matter     K n/a     Organic matter
             5.6%                         4.2%
Lime 45 lb
`), `
7 pH=6.4 pH
7 P=12 mg/kg H
7 K=140 mg/kg
7 OM=5.6 %
8 pH=5.9 pH
8 P=3.5 mg/kg
8 K=missing n/a mg/kg
8 OM=4.2 %
`)
	// A label that is renamed leaves its number unaccounted for.
	check(t, m, drawn(`
LAB
SAMPLE 7      Use lawn
pH ...... 6.4    Phos 12 ppm H
`), "\n7 pH=6.4 pH\n! number-unaccounted\n")
	// A label that stands there in two of its units is two figures of one test,
	// and in the same unit again one too many.
	two := strings.Replace(tested(`  pH: {analyte: pH, method: "1:1 water"}
  P: {analyte: P, unit: [ppm, lb/acre], method: Mehlich-3}
  K: {analyte: K, unit: ppm, method: Mehlich-3}
  Organic matter: {analyte: OM, unit: "%"}
`), "layouts:\n", "units: {lb/acre: {depth: 6 2/3 in, soil: 2000000 lb/acre}}\nlayouts:\n", 1) + m
	try(t, two, []trial{
		{"in two units", drawn(`
LAB
SAMPLE 7      Use lawn
pH ...... 6.4    P 12 ppm H     P 24 lb/acre
`), "\n7 pH=6.4 pH\n7 P=12 mg/kg H\n7 P=24 lb/acre of 2000000 lb/acre to 20/3 in\n"},
		{"in one unit twice", drawn(`
LAB
SAMPLE 7      Use lawn
pH ...... 6.4    P 12 ppm H     P 24 lb/acre    P 25 lb/acre
`), "\n7 pH=6.4 pH\n7 P=12 mg/kg H\n7 P=24 lb/acre of 2000000 lb/acre to 20/3 in\n! read-twice\n"},
	})
	// One label twice in one sample's part is never a choice.
	check(t, m, drawn(`
LAB
SAMPLE 7      Use lawn
pH ...... 6.4    P 12 ppm H
pH ...... 6.9
`), "\n7 pH=6.4 pH\n7 P=12 mg/kg H\n! read-twice\n")
}

func TestSentences(t *testing.T) {
	m := `
    format: pdf
    one sample each: page
    sample: [{after: Sample, reads: lab_sample_id}]
    sentences:
      - {text: "Your soil pH is {result}, which is {any}.", test: pH}
      - {text: "Phosphorus was {result} ppm ({rating}).", test: P}
      - {text: "Potassium was {result} ppm", test: K, optional: yes}
`
	check(t, m, drawn(`
LAB   Sample 9
Your soil pH is 6.4, which is good.
Phosphorus was 12.5
ppm (L).
`), "\n9 pH=6.4 pH\n9 P=12.5 mg/kg L\n")
	check(t, m, drawn(`
LAB   Sample 9
Your soil pH is 6.4, which is good.
Phosphorus was 12.5 lb/acre (L).
`), "\n9 pH=6.4 pH\n! layout-changed\n")
}

func TestSamplesAcross(t *testing.T) {
	m := `
    format: workbook
    one sample each: column
    tables:
      - name: results
        each row: a test
        columns:
          - {heading: Test, reads: test}
          - {heading: Unit, reads: unit}
          - {samples: "S-##", reads: result}
        field rows: [{row: Plot, reads: client_sample_id}]
        rating row: level
`
	check(t, m, grid(`
LAB
Test | Unit | S-01 | S-02
Plot |      | A    | B
pH   |      | 6.4  | 5.9
P    | ppm  | 12   | <5
level|      | H    | L
`), `
S-01 pH=6.4 pH
S-01 P=12 mg/kg H
S-02 pH=5.9 pH
S-02 P=<5 mg/kg L
`)
	// A column whose heading is no sample number is not left out silently.
	check(t, m, grid(`
LAB
Test | Unit | S-01 | Dup
Plot |      | A    | B
pH   |      | 6.4  | 5.9
`), "\n! layout-changed\n")
}

// A bulk density with its depth says what an amount per area stands for.
func TestPerAreaByBulkDensity(t *testing.T) {
	m := strings.Replace(top, "tests:\n", "units:\n  lb/acre: {depth: 20 cm, bulk density: 1.3 g/cm3}\ntests:\n", 1) + `
    format: workbook
    one sample each: row
    tables:
      - name: samples
        each row: a sample
        columns:
          - {heading: No., reads: lab_sample_id}
          - {heading: Mg, unit: lb/acre, test: Kdep}
`
	x := read(t, m, grid(`
LAB
No. | Mg
    | lb/acre
1   | 200
`))
	want := AreaBasis{DepthCm: "20", BulkDensity: "1.3", Source: "mapping"}
	if len(x.Samples) != 1 || len(x.Samples[0].Readings) != 1 || x.Samples[0].Readings[0].Area == nil || x.Samples[0].Readings[0].Area.Rule == nil {
		t.Fatalf("%s", summary(x))
	}
	got := *x.Samples[0].Readings[0].Area
	if at := *got.Rule; at.Line == 0 || !strings.Contains(strings.Split(m, "\n")[at.Line-1], "bulk density: 1.3") {
		t.Errorf("the bulk density is said to stand at %s", at)
	}
	if got.Rule = nil; got != want {
		t.Errorf("%s", summary(x))
	}
}

func TestPerAreaFollowsDepth(t *testing.T) {
	m := strings.Replace(top, "tests:\n", "units:\n  lb/acre: {soil per inch: 300000 lb/acre}\ntests:\n", 1) + `
    format: workbook
    one sample each: row
    tables:
      - name: samples
        each row: a sample
        columns:
          - {heading: No., reads: lab_sample_id}
          - {heading: Depth (in), reads: depth}
          - {heading: Mg, unit: lb/acre, test: Kdep}
`
	x := read(t, m, grid(`
LAB
No. | Depth (in) | Mg
    |            | lb/acre
1   | 6 2/3      | 200
2   | 8          | 300
`))
	want := "1 Mg=200 lb/acre of 2000000 lb/acre to 20/3 in\n2 Mg=300 lb/acre of 2400000 lb/acre to 8 in\n"
	if got := summary(x); got != want {
		t.Errorf("got\n%swant\n%s", got, want)
	}
	x = read(t, m, grid(`
LAB
No. | Depth (in) | Mg
    |            | lb/acre
1   | n/a        | 200
`))
	if !strings.Contains(summary(x), "! depth-missing") {
		t.Errorf("an amount per area without a depth was accepted: %s", summary(x))
	}
}
