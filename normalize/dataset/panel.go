package dataset

import (
	"slices"
	"strconv"
	"strings"

	"example.org/windrow/normalize"
)

// A panel is the set of the tests of a sample, each in the words that tell
// how it was made and printed, without its number: who knows one knows the
// laboratory, and mostly the layout of its report. A test that a sample has
// twice stands in it twice, with an ordinal.
type panel []string

// panels are the two panels of a sample: full, with what the columns of the
// print tell, and bare, without.
type panels struct{ full, bare panel }

// outgoing are the results of a record that may go out, in order.
func outgoing(rec *normalize.Record) []*normalize.Result {
	var out []*normalize.Result
	for _, res := range rec.Results {
		if res.Status.Used() && !res.Restates {
			out = append(out, res)
		}
	}
	return out
}

// bareWords are what the columns outside the print tell of a test besides its
// number.
func bareWords(res *normalize.Result) string {
	estimated := ""
	if valueIs(res) == isEstimated {
		estimated = isEstimated
	}
	return strings.Join([]string{res.Analyte, res.Detail, res.Method, res.MethodName, res.Unit, res.UCUM, missing(res), estimated}, "\x1f")
}

// fullWords are what all columns tell of it. Words that follow from the number,
// such as the laboratory's rating, are not among them.
func fullWords(res *normalize.Result) string {
	w := []string{bareWords(res), res.Printed.Unit, res.Basis, valueIs(res)}
	for _, s := range res.Steps {
		w = append(w, s.Rule, s.Source)
	}
	if v := res.Volumetric; v != nil {
		w = append(w, "volume", v.Unit)
	}
	if a := res.Forms.LbAc; a != nil {
		w = append(w, "area", string(a.DepthIn), string(a.SoilLb), a.Source)
	}
	return strings.Join(w, "\x1f")
}

// named names each of some results by its words, with an ordinal where words
// come again.
func named(results []*normalize.Result, words func(*normalize.Result) string) []string {
	seen := map[string]int{}
	out := make([]string, len(results))
	for i, res := range results {
		w := words(res)
		seen[w]++
		if n := seen[w]; n > 1 {
			w += "\x1f#" + strconv.Itoa(n)
		}
		out[i] = w
	}
	return out
}

// aFinding begins a word of a panel that is no test: what the checks found of
// the sample or its report as a whole. A client's samples often share one that
// no other client's have. It sorts before all tests.
const aFinding = "\x00finding\x1f"

func panelsOf(results []*normalize.Result, rec *normalize.Record, rep *normalize.Report) panels {
	p := panels{named(results, fullWords), named(results, bareWords)}
	for _, code := range wholeFindings(rec, rep) {
		p.full = append(p.full, aFinding+code)
	}
	slices.Sort(p.full)
	slices.Sort(p.bare)
	return p
}

// tests is the number of tests in a panel.
func (p panel) tests() int {
	n := len(p)
	for len(p) > 0 && strings.HasPrefix(p[0], aFinding) {
		p, n = p[1:], n-1
	}
	return n
}

// common is what two panels have in common.
func (p panel) common(o panel) panel {
	var out panel
	for len(p) > 0 && len(o) > 0 {
		switch strings.Compare(p[0], o[0]) {
		case -1:
			p = p[1:]
		case 1:
			o = o[1:]
		default:
			out = append(out, p[0])
			p, o = p[1:], o[1:]
		}
	}
	return out
}

// with is what either of two panels has.
func (p panel) with(o panel) panel {
	out := append(slices.Clone(p), o...)
	slices.Sort(out)
	return slices.Compact(out)
}

// A panelTable numbers panels, of which there are few.
type panelTable struct {
	numbers map[string]int
	list    []panel
}

func (t *panelTable) number(p panel) int {
	k := strings.Join(p, "\x1e")
	n, ok := t.numbers[k]
	if !ok {
		n = len(t.list)
		if t.numbers == nil {
			t.numbers = map[string]int{}
		}
		t.numbers[k], t.list = n, append(t.list, p)
	}
	return n
}
