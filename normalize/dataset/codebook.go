package dataset

import (
	"bytes"
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"example.org/windrow/normalize"
)

const (
	noLicence = "No terms are stated. Ask the office before you use or pass on this dataset."
	noTitle   = "Soil-test results"
)

// A book is the codebook for programs.
type book struct {
	Title    string   `json:"title"`
	Office   string   `json:"office,omitempty"`
	Licence  string   `json:"licence"`
	Schema   string   `json:"record_schema"`
	Software string   `json:"software"`
	Table    string   `json:"table"`
	MinGroup int      `json:"min_group"`
	Columns  []Column `json:"columns"`
	// Estimates are the columns of the table of estimates.
	EstimatesTable string   `json:"estimates_table"`
	Estimates      []Column `json:"estimates_columns"`
	// Derived are the columns of the table of derived quantities.
	DerivedTable string            `json:"derived_table"`
	Derived      []Column          `json:"derived_columns"`
	Summary      Summary           `json:"summary"`
	Sources      map[string]string `json:"sources"`
}

func bookOf(sum Summary, opt Options) book {
	b := book{Title: cmp.Or(opt.Title, noTitle), Office: opt.Office, Licence: cmp.Or(opt.Licence, noLicence), Schema: normalize.SchemaVersion,
		Software: opt.Version, Table: "results.csv", MinGroup: opt.MinGroup, Columns: Columns(), EstimatesTable: "estimates.csv", Estimates: EstimateColumns(), DerivedTable: "derived.csv", Derived: DerivedColumns(), Summary: sum, Sources: map[string]string{}}
	for _, k := range sum.Sources {
		b.Sources[k] = sourceText(k)
	}
	return b
}

func sourceText(key string) string {
	if s, ok := normalize.Sources()[key]; ok {
		return s.Text + " (" + s.Provenance + ")"
	}
	return "not in the bibliography of this version"
}

// cellText makes a text fit for a cell of a Markdown table.
func cellText(s string) string {
	return strings.NewReplacer("|", `\|`, "\n", " ", "\r", " ", "<", "&lt;", ">", "&gt;").Replace(s)
}

func orNone(s string) string {
	if s == "" {
		return "—"
	}
	return "`" + cellText(s) + "`"
}

func pluralBytes(n int) string {
	if n == 1 {
		return "1 byte"
	}
	return strconv.Itoa(n) + " bytes"
}

// codebook is the codebook for people, in Markdown.
func codebook(sum Summary, opt Options) []byte {
	var b bytes.Buffer
	p := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	table := func(head string, m map[string]int) {
		p("| %s | rows |\n|---|---:|", head)
		for _, k := range slices.Sorted(maps.Keys(m)) {
			p("| %s | %d |", orNone(k), m[k])
		}
		p("")
	}
	p("# Codebook: %s\n", cmp.Or(opt.Title, noTitle))
	if opt.Office != "" {
		p("Office: %s\n", opt.Office)
	}
	p("Licence: %s\n", cmp.Or(opt.Licence, noLicence))
	p("`results.csv` has one row for each result of a soil sample: %d rows of %d samples in %d reports. It is UTF-8 without a byte-order mark, divided by commas, quoted where needed, with one heading row. SHA-256 of the file: `%s`.\n", sum.Rows, sum.Samples, sum.Reports, sum.SHA256)
	p("## What was left out\n")
	p("- Names, addresses, clients' labels of their samples and laboratories' sample numbers; the day of sampling; free text.")
	p("- %d reports, %d more samples and %d more results that are held for a person to look at.", sum.HeldReports, sum.HeldRecords, sum.HeldResults)
	p("- %d samples that another report gives in the same words, under the same laboratory, number and day: each is counted once, from the report whose id comes first.", sum.Copies)
	p("- %d results that only say again, in another unit or as another form of the element, what another result of their sample says: each test is counted once.", sum.Restated)
	p("- What would let somebody find a client again: %d samples whole, and %d results of rare tests; county, land use, period, depth and laboratory are generalised where needed, and say `suppressed` where withheld. `disclosure.md` (and `disclosure.html`) tells how, and what risk is left.", sum.Disclosure.Suppressed, sum.Disclosure.ResultsCut)
	if opt.MinGroup < DefaultGroup {
		p("- By a decision, groups may be of fewer than %d clients here: somebody who knows the place may know the sample. Don't publish these tables as they are.", DefaultGroup)
	}
	p("\n## Columns\n\nColumns come in groups. *measured* is what the laboratory measured, in one common unit; *printed* is what stood in the report; *derived* was worked out from the measured value and must not be taken for a measurement.\n")
	p("| column | type | group | meaning |\n|---|---|---|---|")
	for _, c := range columns {
		p("| `%s` | %s | %s | %s |", c.Name, c.Type, c.Group, cellText(c.About))
	}
	p("\n## Estimates\n\n`estimates.csv` holds %d rows: what other methods would find of a measured value by published equations. They are no measurements. Never put one beside measured values of the same method, and never feed one into another equation. Where two equations disagree both are there. Estimates outside the domain of their equation are left out. SHA-256 of the file: `%s`.\n", sum.Estimates, sum.EstimatesSHA256)
	p("| column | type | group | meaning |\n|---|---|---|---|")
	for _, c := range estimateColumns {
		p("| `%s` | %s | %s | %s |", c.Name, c.Type, c.Group, cellText(c.About))
	}
	p("\n## Quantities that follow from results\n\n`derived.csv` holds %d rows: what is worked out of several results of one sample, such as the effective exchange capacity or the ratio of calcium to magnesium. Nobody measured them. They hold no more than the results that they were worked out of, which stand beside them, so never count both. Nothing is worked out where an input is missing, a limit or held, or stands twice. SHA-256 of the file: `%s`.\n", sum.Derived, sum.DerivedSHA256)
	p("| column | type | group | meaning |\n|---|---|---|---|")
	for _, c := range derivedColumns {
		p("| `%s` | %s | %s | %s |", c.Name, c.Type, c.Group, cellText(c.About))
	}
	p("\n### Text that looks like a formula\n")
	p("A text that a spreadsheet would run as a formula (it begins with `=`, `+`, `-`, `@`, a tab or a line break, their wide forms, or blanks before one of these) has an apostrophe put before it, and so has a text that itself begins with an apostrophe. To get the text back, drop one leading apostrophe. Numbers in columns of type number are never changed, so that `-0.4` stays a number there.\n")
	p("### Empty cells\n\nAn empty cell means not known, not stated or not applicable. An empty `value` always has its reason in `missing`. A value with `<` or `>` in `censored` is a limit and not a value: use a method for censored data, and don't put in half the limit unthinkingly.\n")
	p("## How many rows of each kind\n")
	table("value_is", sum.ValueIs)
	table("missing", sum.Missing)
	table("censored", sum.Censored)
	table("status", sum.Status)
	table("lab", sum.Labs)
	p("## Analytes, methods and units\n\nOne line for each analyte by one method in one unit. Values of two lines must not be mixed without thought.\n")
	p("| analyte | detail | method | method as the trade calls it | unit | UCUM | rows |\n|---|---|---|---|---|---|---:|")
	for _, t := range sum.Analytes {
		p("| %s | %s | %s | %s | %s | %s | %d |", orNone(t.Analyte), orNone(t.Detail), orNone(t.Method), cmp.Or(cellText(t.MethodName), "—"), orNone(t.Unit), orNone(t.UCUM), t.Rows)
	}
	p("\n## Where it comes from\n")
	p("- Made by Windrow %s from records of the form `%s`.", cmp.Or(opt.Version, "(version not stated)"), normalize.SchemaVersion)
	for _, g := range []struct {
		what string
		list []string
	}{{"Read by version", sum.Software}, {"With unit and method tables", sum.Tables}, {"With mapping", sum.Mappings}} {
		for _, k := range g.list {
			p("- %s %s", g.what, orNone(k))
		}
	}
	p("- Mark of the key: `%s`. Codes of samples agree between datasets with the same mark.", sum.KeyMark)
	p("\n### Sources of the conversions\n")
	if len(sum.Sources) == 0 {
		p("No value was converted.")
	}
	for _, k := range sum.Sources {
		p("- `%s`: %s", cellText(k), cellText(sourceText(k)))
	}
	return b.Bytes()
}
