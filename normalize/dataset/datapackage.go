package dataset

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"io"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// PackageFile is the name that the Data Package standard gives its
// descriptor (Data Package 2.0, section "Descriptor").
const PackageFile = "datapackage.json"

// tablesVersion is the version of the form of the tables: it changes when a
// column is added, goes or changes its meaning. In the package's version the
// mark of the content follows it, as build metadata of semantic versioning.
const tablesVersion = "2.0.0"

// A descriptor describes the dataset for programs that know nothing of
// Windrow, in the terms of the Data Package standard, version 2.0. What the
// standard has no property for stands under names of our own, which it allows:
// terms, citation, key_mark; in a resource other_forms and measures; and, in a
// field, group, unit and unit_field.
//
// The standard's created is left out: the descriptor holds no clock, so that
// the same archive gives the same bytes, and no day of a report may leave.
//
// profile is how version 1 of the standard says what a package and a resource
// are; with it readers of that version find the tables, too.
type descriptor struct {
	Schema       string        `json:"$schema"`
	Profile      string        `json:"profile"`
	Name         string        `json:"name"`
	Title        string        `json:"title"`
	Description  string        `json:"description"`
	Version      string        `json:"version"`
	Citation     string        `json:"citation"`
	Terms        string        `json:"terms"`
	Licences     []licence     `json:"licenses,omitempty"`
	Contributors []contributor `json:"contributors,omitempty"`
	Sources      []origin      `json:"sources,omitempty"`
	KeyMark      string        `json:"key_mark"`
	Resources    []resource    `json:"resources"`
	OtherFiles   []form        `json:"other_files,omitempty"` // ours: files that are no tables
}

type licence struct {
	Name  string `json:"name,omitempty"`
	Path  string `json:"path,omitempty"`
	Title string `json:"title,omitempty"`
}

type contributor struct {
	Title string   `json:"title"`
	Roles []string `json:"roles"`
}

type origin struct {
	Title string `json:"title"`
}

type resource struct {
	Name        string         `json:"name"`
	Profile     string         `json:"profile"`
	Type        string         `json:"type"`
	Path        string         `json:"path"`
	Title       string         `json:"title"`
	Description string         `json:"description"`
	Format      string         `json:"format"`
	MediaType   string         `json:"mediatype"`
	Encoding    string         `json:"encoding"`
	Bytes       int64          `json:"bytes"`
	Hash        string         `json:"hash"`
	Dialect     map[string]any `json:"dialect"`
	Schema      tableSchema    `json:"schema"`
	OtherForms  []form         `json:"other_forms"`        // ours: files that hold the same rows
	Measures    []Tally        `json:"measures,omitempty"` // ours: what is in the table, by method and unit
}

// A form is a file that holds the rows of a table in another format.
type form struct {
	Path      string `json:"path"`
	MediaType string `json:"mediatype"`
	Bytes     int64  `json:"bytes"`
	Hash      string `json:"hash"`
}

// mediaTypes of the other forms: that of Parquet is registered with IANA (from
// memory), as are the others.
var mediaTypes = map[string]string{".parquet": "application/vnd.apache.parquet", ".xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
	".geojson": "application/geo+json", ".json": "application/json", ".csv": "text/csv", ".md": "text/markdown", ".html": "text/html"}

// formsOf are the other forms of a table in dir.
func formsOf(dir, path string) ([]form, error) {
	names := []string{parquetName(path)}
	switch path {
	case "wide.csv":
		names = append(names, "wide.xlsx")
	case "results.csv":
		if _, err := os.Stat(filepath.Join(dir, ResultsBook)); err == nil {
			names = append(names, ResultsBook)
		}
	}
	var out []form
	for _, name := range names {
		f, err := formOf(dir, name)
		if err != nil {
			return nil, err
		}
		out = append(out, f)
	}
	return out, nil
}

// formOf describes a file in dir.
func formOf(dir, name string) (form, error) {
	f, err := os.Open(filepath.Join(dir, name))
	if err != nil {
		return form{}, err
	}
	hash := sha256.New()
	n, err := io.Copy(hash, f)
	if c := f.Close(); err == nil {
		err = c
	}
	return form{name, mediaTypes[filepath.Ext(name)], n, "sha256:" + hex.EncodeToString(hash.Sum(nil))}, err
}

type tableSchema struct {
	Fields        []field  `json:"fields"`
	MissingValues []string `json:"missingValues"`
}

type field struct {
	Name          string       `json:"name"`
	Type          string       `json:"type"`
	Title         string       `json:"title"`
	Description   string       `json:"description"`
	MissingValues []string     `json:"missingValues,omitempty"`
	Constraints   *constraints `json:"constraints,omitempty"`
	Group         string       `json:"group"`                // of the column: measured, printed, estimate, computed and so on
	Unit          string       `json:"unit,omitempty"`       // UCUM code, where all numbers of the column are in one unit
	UnitField     string       `json:"unit_field,omitempty"` // else the column that has the unit of each number
}

type constraints struct {
	Required bool     `json:"required,omitempty"`
	Minimum  int      `json:"minimum,omitempty"`
	Pattern  string   `json:"pattern,omitempty"`
	Enum     []string `json:"enum,omitempty"`
}

// unitsOf are the UCUM codes of the columns that have one unit throughout.
var unitsOf = map[string]string{
	"depth_in": "[in_i]", "lb_per_acre_depth_in": "[in_i]",
	"lb_per_acre": "[lb_av]/[acr_us]", "lb_per_acre_soil_lb": "[lb_av]/[acr_us]",
	"percent": "%",
}

// unitFields name, for a column of numbers, the column that has their units.
// The number in print is in the unit in print, and a threshold in that of the
// quantity.
var unitFields = map[string]string{
	"value": "ucum", "volume_value": "volume_unit", "printed_number": "printed_unit",
	"measured": "measured_unit", "estimate": "estimate_unit", "low": "estimate_unit", "high": "estimate_unit",
	"computed_value": "unit", "threshold": "unit",
}

var code20 = &constraints{Required: true, Pattern: "[0-9a-f]{20}"}

var constraintsOf = map[string]*constraints{
	"sample": code20, "report": {Required: true, Minimum: 1},
	"period":            {Pattern: `[0-9]{4}(-(0[1-9]|1[0-2])|-Q[1-4])?`},
	"withheld":          {Enum: []string{"print"}},
	"value_is":          {Enum: []string{isPrinted, isConverted, isEstimated, isRounded}},
	"censored":          {Enum: []string{"<", ">"}},
	"missing":           {Enum: []string{"not-measured", "not-converted", "words", "none-printed"}},
	"status":            {Required: true, Enum: []string{"ok", "flagged"}},
	"against_threshold": {Enum: []string{"below", "not below"}},
}

// fieldTypes are the standard's types of our columns' types.
var fieldTypes = map[string]string{"number": "number", "integer": "integer", "text": "string", "code": "string"}

// withheldIn are the columns where a value that is withheld says so.
var withheldIn = map[string]bool{"county": true, "land_use": true, "period": true, "depth_in": true, "lab": true}

func schemaOf(columns []Column, units map[string]string) tableSchema {
	s := tableSchema{MissingValues: []string{""}}
	for _, c := range columns {
		f := field{Name: c.Name, Type: fieldTypes[c.Type], Title: strings.ReplaceAll(c.Name, "_", " "), Description: c.About, Constraints: constraintsOf[c.Name], Group: c.Group,
			Unit: units[c.Name], UnitField: unitFields[c.Name]}
		if withheldIn[c.Name] {
			f.MissingValues = []string{"", Suppressed}
		}
		if strings.HasSuffix(c.Name, limitSuffix) {
			f.Constraints = constraintsOf["censored"]
		}
		s.Fields = append(s.Fields, f)
	}
	return s
}

// openLicences are identifiers of the Open Definition's list of licences
// (from memory), by the texts that people write for them in small letters
// with blanks for hyphens. The texts on the left are common practice, without a
// source.
var openLicences = map[string]string{
	"cc0 1.0": "CC0-1.0", "cc by 4.0": "CC-BY-4.0", "cc by sa 4.0": "CC-BY-SA-4.0",
	"odc by 1.0": "ODC-BY-1.0", "odbl 1.0": "ODbL-1.0", "odc pddl 1.0": "ODC-PDDL-1.0",
}

// licencesOf are the licences that terms name: one that the standard has an
// identifier for, or a link. Other terms are no licence to the standard, and
// are said in terms alone; an identifier is never guessed.
func licencesOf(terms string) []licence {
	terms = strings.TrimSpace(terms)
	if id := openLicences[strings.ToLower(strings.ReplaceAll(terms, "-", " "))]; id != "" {
		return []licence{{Name: id, Title: terms}}
	}
	if link, ok := strings.CutPrefix(terms, "https://"); ok && link != "" && !strings.ContainsAny(link, " \t\r\n") {
		return []licence{{Path: terms}}
	}
	return nil
}

// packageOf is the descriptor of the dataset whose tables are in dir.
func packageOf(dir string, sum Summary, wide wideLayout, opt Options) (descriptor, error) {
	mark := sha256.Sum256([]byte(sum.SHA256 + sum.EstimatesSHA256 + sum.DerivedSHA256 + sum.WideSHA256))
	d := descriptor{
		Schema: "https://datapackage.org/profiles/2.0/datapackage.json", Profile: "tabular-data-package", Name: "soil-test-results", Title: cmp.Or(opt.Title, noTitle),
		Description: "Soil-test results as laboratories reported them, one row a result. Measured values are in the table results alone; estimates for other methods and quantities worked out of several results have tables of their own and are no measurements. Read codebook.md before use.",
		Version:     tablesVersion + "+" + hex.EncodeToString(mark[:6]), Terms: cmp.Or(opt.Licence, noLicence), Licences: licencesOf(opt.Licence), KeyMark: sum.KeyMark}
	d.Citation = strings.Join(slices.DeleteFunc([]string{opt.Office, d.Title, "version " + d.Version, strings.TrimSpace("made by Windrow " + opt.Version)}, func(s string) bool { return s == "" }), ", ") + "."
	if opt.Office != "" {
		d.Contributors = []contributor{{opt.Office, []string{"Distributor"}}}
	}
	for _, lab := range slices.Sorted(maps.Keys(sum.Labs)) {
		if lab == Suppressed {
			d.Sources = append(d.Sources, origin{"Reports of laboratories that are withheld"})
			continue
		}
		d.Sources = append(d.Sources, origin{"Reports of the laboratory " + cmp.Or(lab, "(not known)")})
	}
	for _, key := range sum.Sources {
		if key != "" {
			d.Sources = append(d.Sources, origin{key + ": " + sourceText(key)})
		}
	}
	for _, t := range []struct {
		path, title, about, hash string
		columns                  []Column
		units                    map[string]string
		measures                 []Tally
	}{
		{"results.csv", "Measured results", "What laboratories measured, one row a result, with what stood in print beside it. Values by different methods are not comparable; value_is tells whether a value was printed or converted, or a step to it is an estimate.", sum.SHA256, columns[:], unitsOf, sum.Analytes},
		{"estimates.csv", "Estimates for other methods", "What other methods would find, by published equations. No measurements.", sum.EstimatesSHA256, estimateColumns[:], unitsOf, nil},
		{"derived.csv", "Quantities that follow from results", "What is worked out of several results of one sample. No measurements.", sum.DerivedSHA256, derivedColumns[:], unitsOf, nil},
		{"wide.csv", "Samples", "The values of results.csv once more, one row a sample by one report: a column for each test by one method in one unit, apart for what was printed, converted, rounded and estimated. Don't count both.", sum.WideSHA256, wide.columns, wide.allUnits(), nil},
	} {
		info, err := os.Stat(filepath.Join(dir, t.path))
		if err != nil {
			return descriptor{}, err
		}
		forms, err := formsOf(dir, t.path)
		if err != nil {
			return descriptor{}, err
		}
		d.Resources = append(d.Resources, resource{Name: strings.TrimSuffix(t.path, ".csv"), Profile: "tabular-data-resource", Type: "table", Path: t.path, Title: t.title,
			Description: t.about + " A text that a spreadsheet would run as a formula has an apostrophe before it.",
			Format:      "csv", MediaType: "text/csv", Encoding: "utf-8", Bytes: info.Size(), Hash: "sha256:" + t.hash, Dialect: map[string]any{"delimiter": ",", "doubleQuote": true, "lineTerminator": "\n"},
			Schema: schemaOf(t.columns, t.units), OtherForms: forms, Measures: t.measures})
	}
	if opt.Outlines != nil {
		f, err := formOf(dir, MapFile)
		if err != nil {
			return descriptor{}, err
		}
		d.OtherFiles = append(d.OtherFiles, f)
	}
	return d, nil
}

// writePackage writes the descriptor beside the tables in dir.
func writePackage(dir string, sum Summary, wide wideLayout, opt Options) error {
	d, err := packageOf(dir, sum, wide, opt)
	if err != nil {
		return err
	}
	b, err := encode(d, "  ")
	if err != nil {
		return err
	}
	return writeFile(filepath.Join(dir, PackageFile), func(w io.Writer) error { _, err := w.Write(b); return err })
}
