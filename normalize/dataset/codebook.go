package dataset

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strconv"

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
	DerivedTable string   `json:"derived_table"`
	Derived      []Column `json:"derived_columns"`
	// Wide are the columns of the table of samples.
	WideTable string            `json:"wide_table"`
	Wide      []Column          `json:"wide_columns"`
	Summary   Summary           `json:"summary"`
	Sources   map[string]string `json:"sources"`
}

func bookOf(sum Summary, wide wideLayout, opt Options) book {
	b := book{Title: cmp.Or(opt.Title, noTitle), Office: opt.Office, Licence: cmp.Or(opt.Licence, noLicence), Schema: normalize.SchemaVersion,
		Software: opt.Version, Table: "results.csv", MinGroup: opt.MinGroup, Columns: Columns(), EstimatesTable: "estimates.csv", Estimates: EstimateColumns(), DerivedTable: "derived.csv", Derived: DerivedColumns(), WideTable: "wide.csv", Wide: wide.columns, Summary: sum, Sources: map[string]string{}}
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

func orNone(s string) string {
	if s == "" {
		return "—"
	}
	return "`" + s + "`"
}

func pluralBytes(n int) string {
	if n == 1 {
		return "1 byte"
	}
	return strconv.Itoa(n) + " bytes"
}

// codebookPage is the codebook for people.
func codebookPage(sum Summary, wide wideLayout, opt Options) *page {
	p := &page{title: "Codebook: " + cmp.Or(opt.Title, noTitle)}
	if opt.Office != "" {
		p.say("Office: %s", opt.Office)
	}
	p.say("Licence: %s", cmp.Or(opt.Licence, noLicence))
	p.say("`results.csv` has one row for each result of a soil sample: %d rows of %d samples in %d reports. It is UTF-8 without a byte-order mark, divided by commas, quoted where needed, with one heading row. SHA-256 of the file: `%s`.", sum.Rows, sum.Samples, sum.Reports, sum.SHA256)
	codebookLeftOut(p, sum, opt)
	codebookTables(p, sum, wide)
	p.heading("Parquet")
	p.say("Each table is there as Parquet, too, with the same rows and columns in the same order, under the same name. Columns of type number are doubles, so that trailing zeros are lost; all else is text. An empty cell is null, and so is a depth that is withheld. The columns with their units and meanings are in the file's metadata, under the key `columns`, and the unit of each under `unit:` and its name.")
	p.heading("For spreadsheets")
	if sum.Rows < sheetRows {
		p.say("`results.xlsx` and `wide.xlsx` hold the same rows as the files of that name. Numbers are numbers there, without trailing zeros, unless they have more digits than a spreadsheet keeps; everything else is text. A date is text as well.")
	} else {
		p.say("`wide.xlsx` holds the same rows as `wide.csv`. Numbers are numbers there, without trailing zeros, unless they have more digits than a spreadsheet keeps; everything else is text. `results.csv` has more rows than a sheet takes, so that there is no workbook of it.")
	}
	p.heading("Text that looks like a formula")
	p.say("A text that a spreadsheet would run as a formula (it begins with `=`, `+`, `-`, `@`, a tab or a line break, their wide forms, or blanks before one of these) has an apostrophe put before it, and so has a text that itself begins with an apostrophe. To get the text back, drop one leading apostrophe. Numbers in columns of type number are never changed, so that `-0.4` stays a number there.")
	p.heading("Empty cells")
	p.say("An empty cell means not known, not stated or not applicable. An empty `value` always has its reason in `missing`. A value with `<` or `>` in `censored` is a limit and not a value: use a method for censored data, and don't put in half the limit unthinkingly.")
	codebookCounts(p, sum)
	p.heading("Where it comes from")
	made := []string{fmt.Sprintf("Made by Windrow %s from records of the form `%s`.", cmp.Or(opt.Version, "(version not stated)"), normalize.SchemaVersion)}
	for _, g := range []struct {
		what string
		list []string
	}{{"Read by version", sum.Software}, {"With unit and method tables", sum.Tables}, {"With mapping", sum.Mappings}} {
		for _, k := range g.list {
			made = append(made, g.what+" "+orNone(k))
		}
	}
	p.points(append(made, fmt.Sprintf("Mark of the key: `%s`. Codes of samples agree between datasets with the same mark.", sum.KeyMark))...)
	p.heading("Sources of the conversions")
	if len(sum.Sources) == 0 {
		p.say("No value was converted.")
		return p
	}
	var sources []string
	for _, k := range sum.Sources {
		sources = append(sources, orNone(k)+": "+sourceText(k))
	}
	p.points(sources...)
	return p
}

func codebookLeftOut(p *page, sum Summary, opt Options) {
	p.heading("What was left out")
	out := []string{
		"Names, addresses, clients' labels of their samples and laboratories' sample numbers; the day of sampling; free text.",
		fmt.Sprintf("%d reports, %d more samples and %d more results that are held for a person to look at.", sum.HeldReports, sum.HeldRecords, sum.HeldResults),
		fmt.Sprintf("%d samples that another report gives in the same words, under the same laboratory, number and day: each is counted once, from the report whose id comes first.", sum.Copies),
		fmt.Sprintf("%d samples of layers that begin below the surface, such as 6 to 24 inches: all tables are of the top layer.", sum.Below),
		fmt.Sprintf("%d results that only say again, in another unit or as another form of the element, what another result of their sample says: each test is counted once.", sum.Restated),
		fmt.Sprintf("What would let somebody find a client again: %d samples whole, and %d results of rare tests; county, land use, period, depth and laboratory are generalised where needed, and say `suppressed` where withheld. `disclosure.md` (and `disclosure.html`) tells how, and what risk is left.", sum.Disclosure.Suppressed, sum.Disclosure.ResultsCut),
	}
	if opt.MinGroup < DefaultGroup {
		out = append(out, fmt.Sprintf("By a decision, groups may be of fewer than %d clients here: somebody who knows the place may know the sample. Don't publish these tables as they are.", DefaultGroup))
	}
	p.points(out...)
}

func codebookTables(p *page, sum Summary, wide wideLayout) {
	list := func(columns []Column) {
		var rows [][]string
		for _, c := range columns {
			rows = append(rows, []string{orNone(c.Name), c.Type, c.Group, c.About})
		}
		p.table(rows, "column", "type", "group", "meaning")
	}
	p.heading("Columns")
	p.say("Columns come in groups. `measured` is what the laboratory measured, in one common unit; `printed` is what stood in the report; `derived` was worked out from the measured value and must not be taken for a measurement.")
	list(columns[:])
	p.heading("Estimates")
	p.say("`estimates.csv` holds %d rows: what other methods would find of a measured value by published equations. They are no measurements. Never put one beside measured values of the same method, and never feed one into another equation. Where two equations disagree both are there. Estimates outside the domain of their equation are left out. SHA-256 of the file: `%s`.", sum.Estimates, sum.EstimatesSHA256)
	list(estimateColumns[:])
	p.heading("Quantities that follow from results")
	p.say("`derived.csv` holds %d rows: what is worked out of several results of one sample, such as the effective exchange capacity or the ratio of calcium to magnesium. Nobody measured them. They hold no more than the results that they were worked out of, which stand beside them, so never count both. Nothing is worked out where an input is missing, a limit or held, or stands twice. SHA-256 of the file: `%s`.", sum.Derived, sum.DerivedSHA256)
	list(derivedColumns[:])
	p.heading("The same, one row a sample")
	p.say("`wide.csv`, and `wide.xlsx` for a spreadsheet, hold the values of `results.csv` once more, %d rows, one for each sample by one report. A column is one test by one method in one unit, and of one kind: what was printed, converted, rounded or estimated never shares a column. Its name has these parts with two underscores between: analyte, detail if there is one, method, unit, kind. Where some values are limits, the column behind it tells which. Don't count both tables. SHA-256 of `wide.csv`: `%s`.", sum.Wide, sum.WideSHA256)
	list(wide.columns)
}

func codebookCounts(p *page, sum Summary) {
	p.heading("How many rows of each kind")
	for _, t := range []struct {
		head string
		m    map[string]int
	}{{"value_is", sum.ValueIs}, {"missing", sum.Missing}, {"censored", sum.Censored}, {"status", sum.Status}, {"lab", sum.Labs}} {
		var rows [][]string
		for _, k := range slices.Sorted(maps.Keys(t.m)) {
			rows = append(rows, []string{orNone(k), strconv.Itoa(t.m[k])})
		}
		p.table(rows, t.head, "rows")
	}
	p.heading("Analytes, methods and units")
	p.say("One line for each analyte by one method in one unit. Values of two lines must not be mixed without thought.")
	var rows [][]string
	for _, t := range sum.Analytes {
		rows = append(rows, []string{orNone(t.Analyte), orNone(t.Detail), orNone(t.Method), cmp.Or(t.MethodName, "—"), orNone(t.Unit), orNone(t.UCUM), strconv.Itoa(t.Rows)})
	}
	p.table(rows, "analyte", "detail", "method", "method as the trade calls it", "unit", "UCUM", "rows")
}
