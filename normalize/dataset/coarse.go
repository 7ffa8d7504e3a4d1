package dataset

import (
	"strings"

	"github.com/cockroachdb/apd/v3"

	"example.org/windrow/normalize"
)

// coarseDigits are the significant digits of a value where print is withheld:
// the number of digits, and guard digits of a conversion, tell how a laboratory
// prints. A soil test is seldom known to more; common practice, no source.
const coarseDigits = 3

// coarse is a value of no more than coarseDigits digits, without trailing
// zeros. A limit stays true: what is below it is below the coarse one.
func coarse(v normalize.Decimal, censored string) normalize.Decimal {
	d, _, err := apd.NewFromString(string(v))
	if err != nil || !plainNumber(string(v)) {
		return "" // nothing that is no number is a value
	}
	ctx := apd.BaseContext.WithPrecision(coarseDigits)
	switch censored {
	case "<":
		ctx.Rounding = apd.RoundCeiling
	case ">":
		ctx.Rounding = apd.RoundFloor
	default:
		ctx.Rounding = apd.RoundHalfUp
	}
	if _, err := ctx.Round(d, d); err != nil {
		return ""
	}
	d.Reduce(d)
	return normalize.Decimal(d.Text('f'))
}

// limits are, for each laboratory and test, the widest limit of detection or
// range, by which all its limits are told where the laboratory is withheld: one
// that others don't have would give it away.
type limits map[[3]string]*apd.Decimal

func limitKey(lab string, res *normalize.Result) [3]string {
	return [3]string{lab, bareWords(res), res.Censored}
}

// note takes down the limits of a sample.
func (l limits) note(lab string, results []*normalize.Result) {
	for _, res := range results {
		if res.Censored == "" || !plainNumber(string(res.Value)) {
			continue
		}
		if d, _, err := apd.NewFromString(string(res.Value)); err == nil {
			l.widen(limitKey(lab, res), d)
		}
	}
}

func (l limits) widen(k [3]string, d *apd.Decimal) {
	if old := l[k]; old == nil || k[2] == "<" && d.Cmp(old) > 0 || k[2] == ">" && d.Cmp(old) < 0 {
		l[k] = d
	}
}

// among are the widest limits of some laboratories, under one name.
func (l limits) among(labs map[string]bool, name string) limits {
	out := limits{}
	for k, d := range l {
		if labs[k[0]] {
			out.widen([3]string{name, k[1], k[2]}, d)
		}
	}
	return out
}

// coarsen makes the numbers of a result tell nothing of how it was printed.
// What is worked out of it is worked out of the coarse number.
func (l limits) coarsen(lab string, res *normalize.Result) {
	if d := l[limitKey(lab, res)]; res.Censored != "" && d != nil {
		res.Value = normalize.Decimal(d.Text('f'))
	}
	if res.Value != "" {
		res.Value = coarse(res.Value, res.Censored)
		res.Printed.Number = res.Value
	}
	res.Printed.Text = strings.TrimSpace(res.Censored + string(res.Value))
}
