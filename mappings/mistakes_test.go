package mappings

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// sound is a mapping without a mistake; each of mistakes makes one in it.
const sound = `windrow mapping: 1
lab: Test Laboratory
id: test
recognise: [LAB]
numbers: {decimal: "."}
dates: YYYY-MM-DD
ratings: {L: low}
land uses: {Turf: lawn}
units: {lb/A: {means: lb/acre, depth: 6 2/3 in, soil: 2000000 lb/acre}}
method words: {M3: Mehlich-3}
tests:
  pH: {analyte: pH}
  P: {analyte: P, unit: ppm, method: Mehlich-3, basis: P2O5, method words: {A: Olsen}}
  K: {analyte: K, unit: ppm}
layouts:
  - name: sheet
    format: delimited
    separator: comma
    encoding: utf-8
    from: 2026-01-01
    one sample each: row
    report: [{after: "Client", reads: client_name}]
    tables:
      - name: samples
        each row: a sample
        columns:
          - {heading: No., reads: lab_sample_id}
          - {heading: P, unit: ppm}
          - {heading: K, unit: ppm}
          - {heading: P class, test: P, reads: rating}
        skip rows: [{begins: Mean, why: a mean}]
    not results: [{line: "NOTE *", why: a remark}]
  - name: letter
    format: pdf
    one sample each: block
    block: {begins: "SAMPLE {lab_sample_id}"}
    labels: [{test: pH}]
    sentences: [{text: "P was {result} ppm.", test: P}]
  - name: across
    format: workbook
    one sample each: column
    tables:
      - name: results
        each row: a test
        columns:
          - {heading: Test, reads: test}
          - {samples: "S-##", reads: result}
        field rows: [{row: Plot, reads: client_sample_id}]
  - name: list
    format: html
    one sample each: row
    tables:
      - name: list
        each row: a reading
        columns:
          - {heading: No., reads: lab_sample_id}
          - {heading: Test, reads: test}
          - {heading: Result, reads: result}
  - {name: list again, as in: list, format: workbook}
examples: [{file: a.csv, expect: {P: "12"}}]
`

// mistakes are each a text of the sound mapping, what stands in its place, and
// what is said about it.
var mistakes = []struct{ old, new, what string }{
	{"windrow mapping: 1", "windrow mapping: 2", "the first line says which version"},
	{"lab: Test Laboratory\n", "", `"lab" is missing`},
	{"id: test\n", "id: Test Lab\n", "the id is used in file names and metrics"},
	{"recognise: [LAB]", "recognise: [LAB]\nsenders: [The lab]", "this is not a mail address"},
	{"recognise: [LAB]", "recognise: [LAB]\nmessage body: results", `"results" is not one of the words for "message body"`},
	{"recognise: [LAB]", "recognise: [LAB]\nnot reports: [{what: bill, texts: [Invoice no.]}]", "too little says that a document is no report"},
	{"recognise: [LAB]", "recognise: [LAB]\nnot reports: [{what: bill, file: bill.pdf}]", "too little says that a document is no report"},
	{"recognise: [LAB]", "recognise: [LAB]\nnot reports: [{what: bill, texts: [Invoice no., \"**#.\"]}]", "this sign stands in too many documents"},
	{"recognise: [LAB]", "recognise: [LAB]\nnot reports: [{texts: [Invoice no., Amount due]}]", `"what" is missing`},
	{"recognise: [LAB]\n", "", "nothing says how the laboratory's reports are recognised"},
	{"{L: low}", "{L: lowish}", `the rating class "lowish" is not known`},
	{"{Turf: lawn}", "{Turf: turf}", `the land use "turf" is not known`},
	{"{M3: Mehlich-3}", "{M3: Mehlich}", `the method "Mehlich" is not known`},
	{"{A: Olsen}", "{1:1 water: 1:1 water}", `the method "1 water: 1:1 water" is not known`},
	{"{M3: Mehlich-3}", "{M3: Mehlich-3}\nqualifiers: {U: under}", `"under" is not one of the words for`},
	{"          - {samples: \"S-##\", reads: result}\n", "          - {heading: Result, reads: result}\n          - {heading: Also, reads: test}\n", `the tests in the column "Also" have no results`},
	{"{heading: Test, reads: test}\n          - {heading: Result, reads: result}", "{heading: Test, reads: test}\n          - {heading: Qual., reads: nothing, why: signs}\n          - {heading: Result, reads: result}", `the column "Qual." is not read, and what it says of a result would be lost`},
	{"{A: Olsen}", "{A: Olson}", `the method "Olson" is not known`},
	{"method: Mehlich-3,", "method: Mehlich,", `the method "Mehlich" is not known`},
	{"basis: P2O5", "basis: P2O", `the basis "P2O" is not known`},
	{"P, unit: ppm, method", "P, unit: ppn, method", `the unit "ppn" is not known`},
	{"{analyte: K,", "{analyte: Kalium,", `the analyte "Kalium" is not known`},
	{"means: lb/acre", "means: lbs", `the unit "lbs" is not known`},
	{"recognise: [LAB]", `recognise: ["LAB {x"]`, "this text can't be looked for"},
	{"recognise: [LAB]", `recognise: ["LAB {report_no}"]`, "no value is read here"},
	{`{decimal: "."}`, `{decimal: ".", thousands: "."}`, "one sign can't both group digits and begin decimals"},
	{"dates: YYYY-MM-DD", "dates: YYYY-MM-DD\nmarks: [\"*\", \"2\"]", `the mark "2" can be a part of a number`},
	{"dates: YYYY-MM-DD", "dates: YYYY-MM-DD\nmarks: [\".\"]", `the mark "." can be a part of a number`},
	{"- {heading: P, unit: ppm}", "- {heading: P, unit: ppm, blank means: as above}", "only a field can be as in the row above"},
	{"dates: YYYY-MM-DD", "dates: YYYY-MM", "this date pattern is not complete"},
	{"6 2/3 in", "6 2/3", "this is not a depth"},
	{"soil: 2000000", "soil: much", "this is not a mass of soil"},
	{"soil: 2000000", "soil per inch: 300000", "soil per inch goes with the depth of each sample"},
	{"soil: 2000000 lb/acre", "bulk density: 13 g/cm3", "this is no bulk density of a soil"},
	{"soil: 2000000 lb/acre", "soil: 2000000 lb/acre, bulk density: 1.3 g/cm3", "a bulk density goes with a depth and with nothing else"},
	{"depth: 6 2/3 in, soil: 2000000 lb/acre", "depth: 2 in, soil: 2000000 lb/acre", "the weight of soil and the depth do not belong together: a layer of that depth would have a bulk density of 4.41 g/cm3"},
	{"depth: 6 2/3 in, soil: 2000000 lb/acre", "depth: 6 2/3 cm, soil: 2000000 lb/acre", "would have a bulk density of 3.36 g/cm3"},
	{"soil: 2000000 lb/acre", "soil: 200000 lb/acre", "would have a bulk density of 0.13 g/cm3"},
	{"depth: 6 2/3 in, soil: 2000000 lb/acre", "soil per inch: 2000000 lb/acre", "an inch of soil would have a bulk density of 8.83 g/cm3"},
	{"method: Mehlich-3, basis: P2O5,", "method: Mehlich-3, also: Phosphate,", `"Phosphate" names P2O5, and nothing says whether the numbers are of P2O5 or of P`},
	{"method: Mehlich-3, basis: P2O5,", "method: Mehlich-3, basis: PO4, also: P2O5,", `"P2O5" names P2O5, and the basis of the test is PO4`},
	{"{heading: K, unit: ppm}", `{heading: Potash, unit: ppm, test: K}`, `"Potash" names K2O`},
	{"{heading: K, unit: ppm}", `{under: K₂O, heading: K, unit: ppm}`, `"K₂O K" names K2O`},
	{"labels: [{test: pH}]", "labels: [{test: K, after: \"Kali (K 2 O) *\"}]", `"Kali (K 2 O) …" names K2O`},
	{"P was {result} ppm.\", test: P", "Lime. Potash was {result} ppm.\", test: K", `"Potash was … ppm." names K2O`},
	{", soil: 2000000 lb/acre", "", "a depth alone does not say how much soil"},
	{"depth: 6 2/3 in, ", "", "a mass of soil needs its depth"},
	{"  K: {analyte: K, unit: ppm}", "  K: {analyte: K, unit: ppm, also: P}", `two tests are called "P"`},
	{"  K: {analyte: K, unit: ppm}", "  K: {analyte: K, unit: ppm, unit not printed: ppm}", "a unit is either printed or not"},
	{"K, unit: ppm}\nlayouts", "K, unit: ppm, scale: {M: under 5}}\nlayouts", `"M" is not a rating of this mapping`},
	{"K, unit: ppm}\nlayouts", "K, unit: ppm, scale: {L: 25 to 5}}\nlayouts", "these are not the numbers of a rating"},
	{"K, unit: ppm}\nlayouts", "K, unit: ppm, scale: {L: below 5}}\nlayouts", "these are not the numbers of a rating"},
	{"K, unit: ppm}\nlayouts", "K, unit: [ppm, lb/A], scale: {L: under 5}}\nlayouts", "a scale is in the one unit that the test is printed in"},
	{`expect: {P: "12"}`, `expect: {Zn: "12"}`, `"Zn" is neither a test of this mapping nor a field`},
	{`, expect: {P: "12"}`, "", "this example expects nothing"},
	{"    format: delimited\n    separator: comma\n    encoding: utf-8\n", "", "the layout does not say what kind of file it is"},
	{"from: 2026-01-01", "from: 1 January", "this is not a date"},
	{"    separator: comma\n", "", "a delimited file needs its separator"},
	{"    encoding: utf-8\n", "", "a delimited file needs its encoding"},
	{"    one sample each: column\n", "", "the layout does not say what holds one sample"},
	{`{begins: "SAMPLE {lab_sample_id}"}`, "{ends before: Notes}", "a block needs its first words"},
	{"one sample each: block", "one sample each: page", "blocks and one sample each: block go together"},
	{"one sample each: block", "one sample each: block\n    sample continues on: more", "only a sample that has a page of its own continues on another page"},
	{"    report: [", "    sample: [", "where each row or column is a sample, its fields are columns of the table"},
	{"    not results: [{line", "    labels: [{test: P}]\n    not results: [{line", "labels and sentences belong to one sample"},
	{"    labels: [{test: pH}]\n    sentences: [{text: \"P was {result} ppm.\", test: P}]\n", "", "the layout reads no result"},
	{"as in: list", "as in: lists", `there is no layout "lists" above this one`},
	{"reads: client_name", `reads: "{client_name"`, "this can't be read"},
	{"reads: client_name", "reads: client", `"client" is not something that can be read here`},
	{`after: "Client", reads`, `after: "Client", below: Client, reads`, "a field is found in exactly one way"},
	{`after: "Client", reads: client_name`, `text: "Client {client}"`, `"client" is not a field`},
	{`, reads: client_name`, "", "nothing says which field this is"},
	{"        each row: a sample\n", "", "the table does not say what a row is"},
	{"        columns:\n          - {heading: Test, reads: test}\n          - {samples: \"S-##\", reads: result}\n", "", "the table has no columns"},
	{"{begins: Mean, why: a mean}", "{begins: Mean}", "a skipped row needs its first words"},
	{"{begins: Mean, why: a mean}", "{column: No., why: a mean}", "a skipped row needs its first words"},
	{"{begins: Mean, why: a mean}", "{begins: Mean, column: No., says: Mean, why: a mean}", "a skipped row needs its first words"},
	{"{begins: Mean, why: a mean}", "{begins: Mean, method: Mehlich-3, why: a mean}", "only a title between rows of tests names the method of those below it"},
	{"{begins: Mean, why: a mean}", "{column: State, says: OLD, why: an old result}", `the table has no column "State", so the rule would skip nothing`},
	{"{row: Plot, reads: client_sample_id}", "{row: Plot}", "a field row needs its label and what it reads"},
	{`samples: "S-##"`, `samples: "S-{any} {lab_sample_id}"`, "this is not a pattern of sample numbers"},
	{"{heading: Test, reads: test}\n          - {samples", "{reads: test}\n          - {samples", "a column is known by its heading"},
	{"test: P, reads: rating", "test: Phos, reads: rating", `the test "Phos" is not in this mapping's list of tests`},
	{"{heading: K, unit: ppm}", "{heading: Colour}", `nothing says what the column "Colour" is`},
	{"{heading: K, unit: ppm}", "{heading: K, reads: nothing}", "a column whose numbers are no results needs a reason"},
	{"{heading: K, unit: ppm}", "{heading: K, unit: ppm, numbers: yes}", "only a column that reads nothing says whether numbers stand in it"},
	{"{heading: K, unit: ppm}", "{heading: K, unit: ppn}", `the unit "ppn" is not known`},
	{"{heading: K, unit: ppm}", "{heading: K, unit: ppm, test: [K, P]}", "a result belongs to one test"},
	{"{heading: K, unit: ppm}", "{heading: Colour}", "a column of results has no test"},
	{"{heading: K, unit: ppm}", "{heading: K, unit: ppm}\n          - {heading: How, reads: method}", `the column "How" says something of a result, and not of which`},
	{"{heading: K, unit: ppm}", "{heading: K, unit: ppm}\n          - {heading: How, reads: method, test: pH}", `the table has no column with the result of "pH", of which this column says something`},
	{"{heading: K, unit: ppm}", "{heading: K}", `the unit of "K" is printed, but the column does not say where`},
	{"{heading: K, unit: ppm}", `{heading: K, unit: "%"}`, `the column's unit is not one of the units of "K"`},
	{"  K: {analyte: K, unit: ppm}", "  K: {analyte: K}", `the test "K" has no unit`},
	{"{heading: No., reads: lab_sample_id}\n          - {heading: P, ", "{heading: No., reads: county}\n          - {heading: P, ", "a row of a sample needs the sample's number"},
	{"{heading: Test, reads: test}\n          - {samples", "{heading: Test, reads: county}\n          - {samples", "a row of a test needs its label"},
	{`{samples: "S-##", reads: result}`, `{samples: "S-##", reads: method}`, "the table reads no result"},
	{"{heading: No., reads: lab_sample_id}\n          - {heading: Test", "{heading: No., reads: county}\n          - {heading: Test", "a reading needs its sample's number"},
	{"{heading: Test, reads: test}\n          - {heading: Result", "{heading: Test, reads: county}\n          - {heading: Result", "a reading needs its test"},
	{"{heading: Result, reads: result}", "{heading: Result, reads: method}", "the table reads no result"},
	{"{heading: Result, reads: result}", "{heading: Result, reads: result}\n          - {heading: Area, reads: result}", "two columns of one row read the same: result"},
	{"{heading: Result, reads: result}", "{heading: Result, reads: result, unit: ppm}\n          - {heading: Area, reads: result, unit: mg/kg}", "two columns of one row read the same: result"},
	{"{heading: Result, reads: result}", "{heading: Result, reads: result}\n          - {heading: Level, reads: rating}\n          - {heading: Old level, reads: rating}", "two columns of one row read the same: rating"},
	{"labels: [{test: pH}]", "labels: [{test: Soil pH}]", "a label needs its test"},
	{"labels: [{test: pH}]", "labels: [{test: pH, after: pH, below: pH}]", "a result stands beside its label or under it"},
	{"labels: [{test: pH}]", "labels: [{test: pH, reads: rating}]", "the label reads no result"},
	{`text: "P was {result} ppm.", `, "", "a sentence needs its text"},
	{`P was {result} ppm.`, "P was {result} {county}.", `"county" is not something a sentence reads`},
	{`P was {result} ppm.`, "P was {any} ppm.", "the sentence reads no result"},
	{`ppm.", test: P}`, `ppm.", test: Phos}`, "a sentence needs its test"},
	{`{line: "NOTE *", why`, `{line: "NOTE *", from: NOTE, why`, "what is no result is named in one way"},
	{`{line: "NOTE *", why`, `{line: "NOTE *", to before: NOTE, why`, "what is no result is named in one way"},
	{`{line: "NOTE *", why`, `{line: "NOTE *", box: NOTE, why`, "what is no result is named in one way"},
	{`, why: a remark`, "", "text that is no result needs a reason"},
}

// Every mistake that a mapping can have is told where it is made, and the
// mapping without one is accepted, so that each complaint has one cause.
func TestMistakes(t *testing.T) {
	if m, reasons := Decode("sound.yaml", []byte(sound), words{}); m == nil {
		t.Fatalf("the sound mapping: %v", reasons)
	}
	for _, c := range mistakes {
		if strings.Count(sound, c.old) != 1 {
			t.Errorf("%q stands in the sound mapping %d times", c.old, strings.Count(sound, c.old))
			continue
		}
		m, reasons := Decode("x.yaml", []byte(strings.Replace(sound, c.old, c.new, 1)), words{})
		found := m == nil
		said := false
		for _, r := range reasons {
			said = said || strings.Contains(r.What, c.what)
			if r.Where.Line == 0 || r.Next == "" {
				t.Errorf("%s: a reason without place or advice: %+v", c.what, r)
			}
		}
		if !found || !said {
			t.Errorf("%q for %q: want %q, got %v", c.new, c.old, c.what, reasons)
		}
	}
}

// No complaint of the decoder is without a test: each of its sentences is
// said by a mistake above or by a golden file.
func TestEveryComplaintIsTested(t *testing.T) {
	tested := ""
	for _, c := range mistakes {
		tested += c.what + "\n"
	}
	goldens, _ := filepath.Glob("testdata/errors/*.want")
	for _, f := range goldens {
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		tested += string(b)
	}
	for _, name := range []string{"decode.go", "decode_layout.go", "decode_text.go", "decode_twice.go", "soil.go"} {
		f, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		n := 0
		ast.Inspect(f, func(x ast.Node) bool {
			call, ok := x.(*ast.CallExpr)
			if !ok || len(call.Args) == 0 {
				return true
			}
			if sel, ok := call.Fun.(*ast.SelectorExpr); !ok || sel.Sel.Name != "Complain" {
				return true
			}
			ast.Inspect(call.Args[0], func(y ast.Node) bool {
				lit, ok := y.(*ast.BasicLit)
				if !ok || lit.Kind != token.STRING {
					return true
				}
				text, _ := strconv.Unquote(lit.Value)
				n++
				// Words stand in the places of verbs.
				for _, part := range strings.FieldsFunc(strings.NewReplacer("%q", "\x00", "%s", "\x00", "%d", "\x00").Replace(text), func(r rune) bool { return r == 0 }) {
					if part = strings.TrimSpace(part); part != "" && !strings.Contains(tested, firstWords(part)) {
						t.Errorf("%s: no mistake makes it say %q", name, text)
					}
				}
				return true
			})
			return true
		})
		if n < 8 && name != "soil.go" && name != "decode_twice.go" || n == 0 {
			t.Errorf("%s: only %d complaints found", name, n)
		}
	}
}

// firstWords are as much of a sentence as the table above quotes of it.
func firstWords(s string) string {
	ws := strings.Fields(s)
	return strings.Join(ws[:min(5, len(ws))], " ")
}
