package dataset

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"slices"
	"strconv"
	"strings"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
)

// pseudonym is a code for the parts that can't be turned back without the
// key. Each part is preceded by its length, so that no two lists of parts
// give the same message.
func pseudonym(key []byte, parts ...string) string {
	m := hmac.New(sha256.New, key)
	for _, p := range parts {
		m.Write([]byte(strconv.Itoa(len(p)) + ":" + p))
	}
	return hex.EncodeToString(m.Sum(nil))[:20]
}

// number is a value for a column of numbers: plain digits as they are (a
// minus before digits is no formula), anything else as text.
func number[S ~string](s S) string {
	if plainNumber(string(s)) {
		return string(s)
	}
	return text(string(s))
}

func plainNumber(s string) bool {
	s = strings.TrimPrefix(s, "-")
	whole, part, dot := strings.Cut(s, ".")
	return digits(whole) && (!dot || digits(part))
}

func digits(s string) bool {
	for i := range len(s) {
		if s[i] < '0' || s[i] > '9' {
			return false
		}
	}
	return s != ""
}

// text is a value for a column of text. Where a spreadsheet would take it for
// a formula it gets a leading apostrophe; and so does text that has one, so
// that dropping one leading apostrophe always gives back what was there.
func text(s string) string {
	s = strings.ToValidUTF8(s, "\ufffd")
	bare := strings.TrimLeft(s, " \u00a0")
	for _, start := range []string{"=", "+", "-", "@", "\t", "\r", "\n", "'", "＝", "＋", "－", "＠"} {
		if strings.HasPrefix(s, start) || strings.HasPrefix(bare, start) {
			return "'" + s
		}
	}
	return s
}

// month is YYYY-MM of a date YYYY-MM-DD, or nothing.
func month(date string) string {
	if len(date) == 10 && date[4] == '-' && date[7] == '-' && digits(date[:4]) && digits(date[5:7]) && digits(date[8:]) {
		return date[:7]
	}
	return ""
}

// wholeFindings are the codes of what the checks found about a sample or its
// report.
func wholeFindings(rec *normalize.Record, rep *normalize.Report) []string {
	var out []string
	for _, f := range rec.Checks {
		if f.Severity != ingest.Note {
			out = append(out, f.Check)
		}
	}
	for _, r := range rep.Reasons {
		if r.Severity != ingest.Note {
			out = append(out, r.Code)
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// A row is one line of a table. Its first field is the code of the sample.
type row struct {
	order  string // within the sample
	fields []string
}

// erased says whether what told who the client of a record is was erased.
func erased(rep *normalize.Report, rec *normalize.Record) bool {
	return rec.Client == nil && normalize.Erased(rep)
}

// codesOf are the codes of a sample and of a report. A report without a number
// of its own is known by its bytes.
func codesOf(key []byte, rep *normalize.Report, rec *normalize.Record) (sample, report string) {
	number, of := rep.Number, rec.Sample.LabID
	if number == "" {
		number = rep.ID
	}
	if of == "" || erased(rep, rec) { // all that were erased have one word for a number
		of = rec.ID
	}
	return pseudonym(key, "sample", rep.Lab.ID, number, of), pseudonym(key, "report", rep.ID)
}

// makeRow is what a row tells of a result, whosever it is.
func makeRow(res *normalize.Result) row {
	r := row{fields: make([]string, numColumns)}
	f := r.fields
	f[colAnalyte] = text(res.Analyte)
	f[colDetail] = text(res.Detail)
	f[colMethod] = text(res.Method)
	f[colMethodName] = text(res.MethodName)
	f[colValue] = number(res.Value)
	f[colUnit] = text(res.Unit)
	f[colUCUM] = text(res.UCUM)
	f[colCensored] = text(res.Censored)
	f[colClass] = text(res.Class)
	f[colPrinted] = text(res.Printed.Text)
	f[colPrintedNumber] = number(res.Printed.Number)
	f[colPrintedUnit] = text(res.Printed.Unit)
	f[colBasis] = text(res.Basis)
	f[colRating] = text(res.Printed.Rating)
	f[colRatingClass] = text(res.Printed.Class)
	f[colIndex] = text(res.Printed.Index)
	f[colStatus] = text(string(res.Status))
	if v := res.Volumetric; v != nil {
		f[colVolume], f[colVolumeUnit] = number(v.Value), text(v.Unit)
	}
	if a := res.Forms.LbAc; a != nil {
		f[colArea], f[colAreaDepth], f[colAreaSoil], f[colAreaSource] = number(a.Value), number(a.DepthIn), number(a.SoilLb), text(a.Source)
	}
	if f[colMissing] = missing(res); f[colMissing] == "" {
		f[colValueIs] = valueIs(res)
	}
	var rules, sources []string
	for _, s := range res.Steps {
		rules, sources = append(rules, s.Rule), append(sources, s.Source)
	}
	f[colConversion], f[colSources] = text(strings.Join(rules, ";")), text(strings.Join(sources, ";"))
	return r
}

// missing says why a result has no value; "" where it has one.
func missing(res *normalize.Result) string {
	switch {
	case res.Value != "":
		return ""
	case res.Missing != "":
		return "not-measured"
	case res.Class != "":
		return "words"
	case res.Printed.Number != "" || res.Why != "":
		return "not-converted"
	}
	return "none-printed"
}

// The words of value_is.
const (
	isPrinted   = "printed"
	isConverted = "converted"
	isEstimated = "estimated"
	isRounded   = "rounded"
)

func valueIs(res *normalize.Result) string {
	is := isPrinted
	for _, s := range res.Steps {
		if !s.Exact {
			return isEstimated
		}
		is = isConverted
	}
	if is == isPrinted && res.Printed.Number != "" && res.Value != res.Printed.Number {
		return isConverted
	}
	return is
}

// pad makes the order of numbers that of their texts.
func pad(n int) string {
	s := strconv.Itoa(n)
	return strings.Repeat("0", max(0, 8-len(s))) + s
}
