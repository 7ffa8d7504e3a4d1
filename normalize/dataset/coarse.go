package dataset

import (
	"strings"

	"github.com/cockroachdb/apd/v3"

	"example.org/windrow/normalize"
)

// coarseDigits are the significant digits of a value where print is withheld:
// the number of digits, and guard digits of a conversion, tell how a laboratory
// prints. A soil test is seldom known to more; common practice, no source.
// leastDigits is to how few a value is rounded where the laboratories of its
// group print to different places: fewer would be worth little.
const (
	coarseDigits = 3
	leastDigits  = 2
)

// coarse is a value of no more than coarseDigits digits, and of no more than
// some decimal places if it has leastDigits then, without trailing zeros. A
// limit stays true: what is below it is below the coarse one.
func coarse(v normalize.Decimal, censored string, places int32) normalize.Decimal {
	d, _, err := apd.NewFromString(string(v))
	if err != nil || !plainNumber(string(v)) {
		return "" // nothing that is no number is a value
	}
	first := int32(d.NumDigits()) + d.Exponent // places of the first digit before the point
	to := max(d.Exponent, first-coarseDigits, min(-places, first-leastDigits))
	ctx := apd.BaseContext.WithPrecision(uint32(d.NumDigits()) + 1)
	switch censored {
	case "<":
		ctx.Rounding = apd.RoundCeiling
	case ">":
		ctx.Rounding = apd.RoundFloor
	default:
		ctx.Rounding = apd.RoundHalfUp
	}
	if _, err := ctx.Quantize(d, d, to); err != nil {
		return ""
	}
	d.Reduce(d)
	return normalize.Decimal(d.Text('f'))
}

// limits are, for each laboratory and test, the widest limit of detection or
// range, by which all its limits are told where the laboratory is withheld: one
// that others don't have would give it away. So would the place to which it
// prints: under the sign place is the last one that it uses, such as 0.01, and,
// of several laboratories, the coarsest of theirs.
type limits map[[3]string]*apd.Decimal

// place is no sign of a limit.
const place = "place"

// anyPlaces is more decimal places than any value has.
const anyPlaces = 1 << 20

func limitKey(lab string, res *normalize.Result) [3]string {
	return [3]string{lab, bareWords(res), res.Censored}
}

// note takes down the limits of a sample, and its last places.
func (l limits) note(lab string, results []*normalize.Result) {
	for _, res := range results {
		if !plainNumber(string(res.Value)) {
			continue
		}
		if res.Censored == "" {
			_, decimals, _ := strings.Cut(string(res.Value), ".")
			k := [3]string{lab, bareWords(res), place}
			if old := l[k]; old == nil || int(old.Exponent) > -len(decimals) {
				l[k] = apd.New(1, -int32(len(decimals)))
			}
			continue
		}
		if d, _, err := apd.NewFromString(string(res.Value)); err == nil {
			l.widen(limitKey(lab, res), d)
		}
	}
}

func (l limits) widen(k [3]string, d *apd.Decimal) {
	if old := l[k]; old == nil || k[2] != ">" && d.Cmp(old) > 0 || k[2] == ">" && d.Cmp(old) < 0 {
		l[k] = d
	}
}

// among are the widest limits, and coarsest places, of some laboratories, under
// one name.
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
		places := int32(anyPlaces)
		if d := l[[3]string{lab, bareWords(res), place}]; res.Censored == "" && d != nil {
			places = -d.Exponent
		}
		res.Value = coarse(res.Value, res.Censored, places)
		res.Printed.Number = res.Value
	}
	res.Printed.Text = strings.TrimSpace(res.Censored + string(res.Value))
}
