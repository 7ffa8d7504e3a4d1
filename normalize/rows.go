package normalize

import (
	"encoding/csv"
	"io"
	"slices"
	"strings"
	"unicode/utf8"

	"example.org/windrow/ingest"
)

// RowOptions say what the plain results table holds besides the results of
// reports that were not held, without names.
type RowOptions struct {
	WithClients bool // fill client_name
	WithHeld    bool // also the results of held reports
}

// A Row is one line of the plain results table: its fields in the order of
// [Columns].
type Row [30]string

// Columns are the columns of the plain results table. Scripts rely on their
// names and order.
var Columns = [30]string{"file", "member", "sha256", "lab", "report_no", "lab_sample_id", "client_sample_id", "client_name", "county", "date_sampled", "date_received",
	"date_reported", "land_use", "depth_in", "analyte", "detail", "method", "printed", "printed_unit", "basis", "censored", "missing", "value", "unit", "value_volumetric",
	"rating_printed", "place", "status", "findings", "depth_top_in"}

// Rows are the results of a report as lines of the plain results table.
//
// Text that came from outside and that a spreadsheet would run as a formula
// (it begins with =, +, -, @, a tab or a line break) gets a leading
// apostrophe. Numbers, dates and our own words never begin so, and are left
// alone; printed values that are numbers or missing-value words of hyphens
// are, too.
func Rows(rep *Report, o RowOptions) []Row {
	if rep == nil || rep.Status == Held && !o.WithHeld {
		return nil
	}
	var about []string // the report as a whole
	for _, r := range rep.Reasons {
		if r.Severity != ingest.Note {
			about = append(about, r.Code)
		}
	}
	var rows []Row
	for _, rec := range rep.Records {
		s := rec.Sample
		name := ""
		if o.WithClients && rec.Client != nil {
			name = rec.Client.Name
		}
		for _, res := range rec.Results {
			rating := res.Printed.Rating
			if rating == "" {
				rating = res.Printed.Index
			}
			vol := ""
			if res.Volumetric != nil {
				vol = string(res.Volumetric.Value)
			}
			rows = append(rows, Row{Safe(rep.Source.Name), Safe(rep.Source.Member), rep.Source.SHA256, Safe(rep.Lab.Name), Safe(rep.Number), Safe(s.LabID), Safe(s.ClientLabel), Safe(name),
				Safe(s.County), s.Sampled, s.Received, s.Reported, Safe(s.LandUse), string(s.DepthIn), res.Analyte, Safe(res.Detail), res.MethodName, safePrinted(res.Printed.Text),
				Safe(res.Printed.Unit), res.Basis, res.Censored, safePrinted(res.Missing), rowValue(res), res.Unit, vol, Safe(rating), Safe(res.Printed.Place.Inside()),
				string(rowStatus(rec, res)), strings.Join(codes(rec, res, about), ";"), string(s.DepthTopIn)})
		}
	}
	return rows
}

// rowValue is the number, or the words of a value in words.
func rowValue(res *Result) string {
	if res.Class != "" {
		return Safe(res.Class)
	}
	return string(res.Value)
}

// codes are the finding codes of a result, its record and its report, each
// once.
func codes(rec *Record, res *Result, about []string) []string {
	var out []string
	add := func(code string) {
		if !slices.Contains(out, code) {
			out = append(out, code)
		}
	}
	for _, list := range [][]Finding{res.Findings, rec.Checks} {
		for _, f := range list {
			add(f.Check)
		}
	}
	for _, c := range about {
		add(c)
	}
	return out
}

// rowStatus is the result's status, or that of what was found about its
// whole sample where that is worse.
func rowStatus(rec *Record, res *Result) Status {
	st := res.Status
	for _, f := range rec.Checks {
		st = worst(st, statusOf(f.Severity))
	}
	return st
}

// Safe makes text from outside harmless in a spreadsheet: where its first
// character would start a formula, an apostrophe is put before it.
func Safe(s string) string {
	r, _ := utf8.DecodeRuneInString(strings.TrimLeft(s, " \u00a0"))
	if s != "" && strings.ContainsRune("=+-@\t\r\n＝＋－＠", r) {
		return "'" + s
	}
	return s
}

func safePrinted(s string) string {
	if strings.Trim(s, "-0123456789.,<>* ") == "" {
		return s
	}
	return Safe(s)
}

// WriteResults writes the plain results table as CSV with its heading line.
func WriteResults(w io.Writer, rows []Row) error {
	c := csv.NewWriter(w)
	if err := c.Write(Columns[:]); err != nil {
		return err
	}
	for i := range rows {
		if err := c.Write(rows[i][:]); err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}
