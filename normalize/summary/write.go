package summary

import (
	"encoding/csv"
	"encoding/json"
	"io"
	"strconv"
	"strings"

	"example.org/windrow/normalize"
	"example.org/windrow/normalize/censored"
)

// figureColumns are the figures of a group, as they are named in tables.
var figureColumns = []struct {
	name string
	of   func(g *Group) censored.Figure
}{
	{"low", func(g *Group) censored.Figure { return g.Low }},
	{"p10", func(g *Group) censored.Figure { return g.P10 }},
	{"q1", func(g *Group) censored.Figure { return g.Q1 }},
	{"median", func(g *Group) censored.Figure { return g.Median }},
	{"q3", func(g *Group) censored.Figure { return g.Q3 }},
	{"p90", func(g *Group) censored.Figure { return g.P90 }},
	{"high", func(g *Group) censored.Figure { return g.High }},
	{"median_ci_low", func(g *Group) censored.Figure { return g.MedianInterval.Low }},
	{"median_ci_high", func(g *Group) censored.Figure { return g.MedianInterval.High }},
	{"mean", func(g *Group) censored.Figure { return g.Mean }},
	{"sd", func(g *Group) censored.Figure { return g.SD }},
	{"mean_ci_low", func(g *Group) censored.Figure { return g.MeanInterval.Low }},
	{"mean_ci_high", func(g *Group) censored.Figure { return g.MeanInterval.High }},
	{"mean_least", func(g *Group) censored.Figure { return g.bound(g.MeanLeast) }},
	{"mean_most", func(g *Group) censored.Figure { return g.bound(g.MeanMost) }},
	{"ros_mean", func(g *Group) censored.Figure {
		return g.robust(func(r *censored.Regression) float64 { return r.Mean })
	}},
	{"ros_sd", func(g *Group) censored.Figure { return g.robust(func(r *censored.Regression) float64 { return r.SD }) }},
	{"ros_r", func(g *Group) censored.Figure { return g.robust(func(r *censored.Regression) float64 { return r.R }) }},
}

func (g *Group) bound(x float64) censored.Figure {
	if !g.Bounded {
		return censored.None("the mean is not between two bounds")
	}
	return censored.Figure{X: x}
}

func (g *Group) robust(of func(*censored.Regression) float64) censored.Figure {
	if g.Robust == nil {
		return censored.None("%s", strings.TrimSpace("no regression on order statistics: "+g.NoRobust))
	}
	return censored.Figure{X: of(g.Robust)}
}

// told is a figure as tables have it: limits as they are, what was worked out
// with four digits that count.
func told(f censored.Figure) float64 {
	if f.Side != censored.Measured {
		return f.X
	}
	return round(f.X, digits)
}

// aboutColumns begin every table.
var aboutColumns = []string{"analyte", "name", "detail", "method", "method_name", "unit", "laboratory_of_unstated_method", "estimated"}

func (t *Test) about() []string {
	est := ""
	if t.Estimated {
		est = "yes"
	}
	return []string{normalize.Safe(t.Analyte), normalize.Safe(t.Name), normalize.Safe(t.Detail), normalize.Safe(t.Method), normalize.Safe(t.MethodName), normalize.Safe(t.Unit), normalize.Safe(t.Lab), est}
}

func (s *Summary) byColumns() (out []string) {
	for _, b := range s.Options.By {
		out = append(out, strings.ReplaceAll(string(b), "-", "_"))
	}
	return out
}

// of is what a group is of, for the columns of a table; "all" for all samples.
func (g *Group) of(columns int) (out []string) {
	for i := range columns {
		if g.Of == nil {
			out = append(out, "all")
		} else {
			out = append(out, normalize.Safe(g.Of[i]))
		}
	}
	return out
}

// each visits the groups of all tests, all samples of a test first.
func (s *Summary) each(visit func(*Test, *Group)) {
	for _, t := range s.Tests {
		visit(t, t.All)
		for _, g := range t.Groups {
			visit(t, g)
		}
	}
}

// CSV writes one row for each group of each test, and before these one for all
// samples of the test, "all" in the columns of what is grouped by. A figure that
// is a limit has its sign in the column behind it; where there is none, both are
// empty and the column why says why.
func (s *Summary) CSV(w io.Writer) error {
	cw := csv.NewWriter(w)
	head := append(append([]string{}, aboutColumns...), s.byColumns()...)
	head = append(head, "samples", "clients", "below", "above", "limits_below", "lowest_limit", "highest_limit", "limit_above", "quantiles_by", "mean_by")
	for _, c := range figureColumns {
		head = append(head, c.name, c.name+"_sign")
	}
	rows := [][]string{append(head, "why", "for")}
	whom := "anybody"
	if s.Options.Office {
		whom = "the office alone"
	}
	s.each(func(t *Test, g *Group) {
		row := append(t.about(), g.of(len(s.Options.By))...)
		limit := func(x float64, there bool) string {
			if !there {
				return ""
			}
			return plain(x)
		}
		lowest := 0.0
		if len(g.Limits) > 0 {
			lowest = g.Limits[0]
		}
		row = append(row, strconv.Itoa(g.N), strconv.Itoa(g.Clients), strconv.Itoa(g.Below), strconv.Itoa(g.Above), strconv.Itoa(len(g.Limits)),
			limit(lowest, g.Below > 0), limit(g.HighestLimit(), g.Below > 0), limit(g.AboveLimit, g.Above > 0), g.QuantilesBy, g.MeanBy)
		for _, c := range figureColumns {
			f := c.of(g)
			if !f.Given() {
				row = append(row, "", "")
				continue
			}
			row = append(row, plain(told(f)), f.Side.String())
		}
		rows = append(rows, append(row, strings.Join(g.Why(), "; "), whom))
	})
	return cw.WriteAll(rows)
}

// RatingsCSV writes one row for each class of each who rated a group.
func (s *Summary) RatingsCSV(w io.Writer) error {
	head := append(append([]string{}, aboutColumns...), s.byColumns()...)
	rows := [][]string{append(head, "rated_by", "source", "rated", "class", "samples", "percent")}
	s.each(func(t *Test, g *Group) {
		for _, r := range g.Ratings {
			for _, c := range r.Shares {
				row := append(t.about(), g.of(len(s.Options.By))...)
				rows = append(rows, append(row, normalize.Safe(r.Whose), r.Source, strconv.Itoa(r.Rated), normalize.Safe(c.Class), strconv.Itoa(c.N), plain(c.Percent)))
			}
		}
	})
	return csv.NewWriter(w).WriteAll(rows)
}

// A figureDocument is a figure in JSON: a value, with its sign where it is a
// limit, or why there is none.
type figureDocument struct {
	Value *float64 `json:"value,omitempty"`
	Sign  string   `json:"sign,omitempty"`
	Why   string   `json:"not_given,omitempty"`
}

type groupDocument struct {
	Of          []string                  `json:"of,omitempty"`
	Samples     int                       `json:"samples"`
	Clients     int                       `json:"clients"`
	Below       int                       `json:"below"`
	Above       int                       `json:"above"`
	Limits      []float64                 `json:"limits_below,omitempty"`
	AboveLimit  *float64                  `json:"limit_above,omitempty"`
	QuantilesBy string                    `json:"quantiles_by,omitempty"`
	MeanBy      string                    `json:"mean_by,omitempty"`
	Figures     map[string]figureDocument `json:"figures"`
	Ratings     []Rating                  `json:"ratings,omitempty"`
	Why         []string                  `json:"why,omitempty"`
}

type testDocument struct {
	Analyte       string          `json:"analyte"`
	Name          string          `json:"name"`
	Detail        string          `json:"detail,omitempty"`
	Method        string          `json:"method"`
	MethodName    string          `json:"method_name"`
	Unit          string          `json:"unit"`
	Lab           string          `json:"laboratory_of_unstated_method,omitempty"`
	Estimated     bool            `json:"estimated,omitempty"`
	All           groupDocument   `json:"all"`
	Groups        []groupDocument `json:"groups,omitempty"`
	HiddenGroups  int             `json:"hidden_groups"`
	HiddenSamples int             `json:"hidden_samples"`
}

func documentOf(g *Group) groupDocument {
	d := groupDocument{Of: g.Of, Samples: g.N, Clients: g.Clients, Below: g.Below, Above: g.Above, Limits: g.Limits, QuantilesBy: g.QuantilesBy, MeanBy: g.MeanBy, Figures: map[string]figureDocument{}, Ratings: g.Ratings, Why: g.Why()}
	if g.Above > 0 {
		d.AboveLimit = &g.AboveLimit
	}
	for _, c := range figureColumns {
		f := c.of(g)
		if !f.Given() {
			d.Figures[c.name] = figureDocument{Why: f.Why}
			continue
		}
		x := told(f)
		d.Figures[c.name] = figureDocument{Value: &x, Sign: f.Side.String()}
	}
	return d
}

// JSON writes the summary as one document.
func (s *Summary) JSON(w io.Writer) error {
	doc := struct {
		Title       string         `json:"title"`
		Office      string         `json:"office,omitempty"`
		Software    string         `json:"software"`
		OfficeOnly  bool           `json:"for_the_office_alone"`
		MinGroup    int            `json:"min_group,omitempty"`
		By          []By           `json:"by"`
		County      string         `json:"county,omitempty"`
		Samples     int            `json:"samples"`
		Results     int            `json:"results"`
		HiddenTests int            `json:"hidden_tests"`
		Caution     string         `json:"caution"`
		Remarks     []string       `json:"remarks"`
		Tests       []testDocument `json:"tests"`
	}{s.Options.Title, s.Options.Name, s.Options.Version, s.Options.Office, s.Options.MinGroup, s.Options.By, s.Options.County, s.Samples, s.Results, s.HiddenTests, s.Caution(), s.Remarks(), []testDocument{}}
	if doc.By == nil {
		doc.By = []By{}
	}
	for _, t := range s.Tests {
		d := testDocument{Analyte: t.Analyte, Name: t.Name, Detail: t.Detail, Method: t.Method, MethodName: t.MethodName, Unit: t.Unit, Lab: t.Lab, Estimated: t.Estimated, All: documentOf(t.All), HiddenGroups: t.HiddenGroups, HiddenSamples: t.HiddenSamples}
		for _, g := range t.Groups {
			d.Groups = append(d.Groups, documentOf(g))
		}
		doc.Tests = append(doc.Tests, d)
	}
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	return e.Encode(doc)
}
