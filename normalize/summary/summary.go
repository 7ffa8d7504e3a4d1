package summary

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"example.org/windrow/normalize/censored"
	"example.org/windrow/normalize/method"
)

// A Summary is what is told of an archive.
type Summary struct {
	Options     Options
	Tests       []*Test
	Samples     int // of which at least one value counts
	Results     int // values that count
	HeldReports int // left out whole
	HeldSamples int // left out of reports that are not held
	HeldResults int // left out of samples that are not held
	Copies      int // samples left out, since another report says the same of them
	Below       int // samples left out, since their layer begins below the surface and groups are not by depth
	NoNumber    int // results without a number: not measured, not converted, or in words
	HiddenTests int // tests of which nothing is told, since too few clients had them
}

// A Test is what is told of one analyte by one method in one unit.
type Test struct {
	Analyte, Name, Detail    string // the id, and as people call it
	Method, MethodName, Unit string
	// Lab is the laboratory, where no method is stated: nobody knows that two
	// laboratories mean the same one.
	Lab string
	// Estimated says that the values rest on an assumption, such as a density.
	Estimated                   bool
	All                         *Group
	Groups                      []*Group // in order; none where samples are not grouped
	HiddenGroups, HiddenSamples int      // of which nothing is told
}

// A Group is what is told of the samples that are alike in what is grouped by.
type Group struct {
	Of      []string // by each way of grouping; nil for all samples
	Clients int
	censored.Description
	Ratings []Rating
}

// singles is why there is no lowest or highest value.
const singles = "single values are for the office alone"

// How is a test without its analyte, in words.
func (t *Test) How() string {
	s := t.MethodName
	if s == "" || s == "not stated" {
		s = "method not stated"
	}
	if t.Lab != "" {
		s += " (" + t.Lab + ")"
	}
	if t.Detail != "" {
		s = t.Detail + ", " + s
	}
	switch t.Unit {
	case "", "pH", "index":
	default:
		s += ", " + t.Unit
	}
	if t.Estimated {
		s += ", estimated on the way to this unit"
	}
	return s
}

// Called is a test in words.
func (t *Test) Called() string { return t.Name + ": " + t.How() }

// Label is a group in words.
func (g *Group) Label() string {
	if g.Of == nil {
		return "all samples"
	}
	return strings.Join(g.Of, ", ")
}

func analyteName(id string) string {
	if a, ok := method.Standard().Analyte(id); ok {
		return a.Name
	}
	return id
}

// Caution is what everybody who passes a summary on is told; it says whom it may
// be given to.
func (s *Summary) Caution() string {
	if s.Options.Office {
		return "For the office alone: it tells of groups of any size, and of single values, so that a client may be found in it."
	}
	k := strconv.Itoa(s.Options.MinGroup)
	return "Groups of fewer than " + k + " samples or clients are not told, nor others from which they could be worked out. " +
		"Before a second summary of the same samples is given out that groups them in another way, somebody should look at both: the difference may be a small group."
}

// Remarks are what a reader must know of the figures.
func (s *Summary) Remarks() []string {
	out := []string{
		"Methods are never pooled: each analyte has a part for each method and unit, and for each laboratory where no method is stated.",
		"Quantiles: where all values are measured, type 7 of Hyndman and Fan (1996); else by Kaplan and Meier's curve of flipped data. Mean: of the measured values; of that curve; or, where it has no lower end, by robust regression on order statistics (Helsel and Cohn 1988), each as named. No limit stands in for a value.",
		"Intervals are at 95 % and take the values as a simple random sample. Samples that clients send in are none, and several are of one client: the true uncertainty is greater.",
		"The year is that of sampling, else of receipt, else of the report.",
	}
	for _, t := range s.Tests {
		if t.Unit == "pH" {
			out = append(out, "The mean of pH is one of logarithms: prefer the median.")
			break
		}
	}
	return append(out, s.LeftOut()...)
}

// LeftOut is what is not in a summary, and why, in sentences.
func (s *Summary) LeftOut() (out []string) {
	for _, x := range []struct {
		n   int
		one string
		why string
	}{
		{s.HeldReports, "report", "held"}, {s.HeldSamples, "sample", "held"}, {s.HeldResults, "result", "held"},
		{s.Copies, "sample", "reported again in the same words"},
		{s.Below, "sample", "of a layer that begins below the surface (by depth they are told)"},
		{s.NoNumber, "result", "without a number: not measured, not converted, or in words"},
	} {
		if x.n > 0 {
			out = append(out, "Left out: "+plural(x.n, x.one)+", "+x.why+".")
		}
	}
	if s.HiddenTests > 0 {
		out = append(out, plural(s.HiddenTests, "test")+" of too few clients, of which nothing is told.")
	}
	return out
}

func plural(n int, one string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.Itoa(n) + " " + one + "s"
}

// digits is how many digits of a figure that was worked out are told.
const digits = 4

// round rounds to a number of digits that count.
func round(x float64, n int) float64 {
	y, err := strconv.ParseFloat(strconv.FormatFloat(x, 'e', n-1, 64), 64)
	if err != nil {
		return x // what was just written is read back
	}
	return y
}

// Shown is a figure for people: with three digits that count and the sign of a
// limit, or a dash where there is none. A limit has all its digits.
func Shown(f censored.Figure) string {
	switch {
	case !f.Given():
		return "–"
	case f.Side != censored.Measured:
		return f.Side.String() + plain(f.X)
	}
	return plain(round(f.X, 3))
}

// ShownInterval is an interval for people.
func ShownInterval(i censored.Interval) string {
	if !i.Given() {
		return "–"
	}
	return Shown(i.Low) + " to " + Shown(i.High)
}

// ShownMean is the mean of a group for people, or what it lies between.
func ShownMean(g *Group) string {
	if !g.Mean.Given() && g.Bounded {
		return plain(round(g.MeanLeast, 3)) + " to " + plain(round(g.MeanMost, 3))
	}
	return Shown(g.Mean)
}

// plain writes a number without an exponent.
func plain(x float64) string {
	if x == 0 || math.IsNaN(x) {
		return strconv.FormatFloat(math.Abs(x), 'f', -1, 64)
	}
	return strconv.FormatFloat(x, 'f', -1, 64)
}

// Why is a group's reasons for the figures that it doesn't have, each once.
func (g *Group) Why() []string {
	list := []censored.Figure{g.Median, g.Mean, g.Q1, g.P10, g.MedianInterval.Low, g.MedianInterval.High}
	if g.Mean.Given() {
		list = append(list, g.MeanInterval.Low)
	}
	return g.reasons(list)
}

// WhyNoMiddle is a group's reasons for having no median or no mean.
func (g *Group) WhyNoMiddle() []string { return g.reasons([]censored.Figure{g.Median, g.Mean}) }

func (g *Group) reasons(of []censored.Figure) (out []string) {
	for _, f := range of {
		if f.Why != "" && !slices.Contains(out, f.Why) {
			out = append(out, f.Why)
		}
	}
	if g.Uninformed > 0 {
		out = append(out, plural(g.Uninformed, "value")+" below a limit that is higher than all that was measured: nothing follows from them")
	}
	return out
}

// Reasons are why figures of groups are not given: each reason once, with the
// groups that it is of. of is which figures are meant: [Group.Why] or
// [Group.WhyNoMiddle].
func (t *Test) Reasons(of func(*Group) []string) (out []string) {
	groups := map[string][]string{}
	var order []string
	for _, g := range t.rows() {
		for _, why := range of(g) {
			if groups[why] == nil {
				order = append(order, why)
			}
			groups[why] = append(groups[why], g.Label())
		}
	}
	for _, why := range order {
		out = append(out, strings.Join(groups[why], "; ")+": "+why+".")
	}
	return out
}

// rows are the groups of a test, all samples first.
func (t *Test) rows() []*Group { return append([]*Group{t.All}, t.Groups...) }
