package summary_test

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/summary"
)

// A soil is a sample of the tests.
type soil struct {
	client, county, use, lab, year string
	value, sign, class             string
	method                         string
}

var made int

// reportOf is a report of one sample.
func reportOf(s soil) *normalize.Report {
	made++
	id := fmt.Sprintf("R%016x", made)
	if s.lab == "" {
		s.lab = "Verrin"
	}
	name := "Mehlich-3"
	if s.method == "" {
		name = "not stated"
	}
	return &normalize.Report{Schema: normalize.SchemaVersion, ID: id, Status: normalize.OK, Lab: normalize.Lab{ID: strings.ToLower(s.lab), Name: s.lab}, Number: id,
		Source: ingest.SourceRef{Name: "secret-file.pdf"},
		Records: []*normalize.Record{{ID: id + "-1", Status: normalize.OK, Client: &normalize.Client{Name: s.client},
			Sample: normalize.Sample{LabID: "LAB-" + id, ClientLabel: "secret label", County: s.county, LandUse: s.use, Sampled: s.year + "-03-17", Reported: s.year + "-03-20", DepthIn: "6"},
			Results: []*normalize.Result{{Analyte: "Pb", Method: s.method, MethodName: name, Status: normalize.OK, Value: normalize.Decimal(s.value), Censored: s.sign, Unit: "mg/kg",
				Printed: normalize.Printed{Text: s.sign + s.value, Number: normalize.Decimal(s.value), Class: s.class}}}}}}
}

func each(list []*normalize.Report) func(func(*normalize.Report) error) error {
	return func(yield func(*normalize.Report) error) error {
		for _, r := range list {
			if err := yield(r); err != nil {
				return err
			}
		}
		return nil
	}
}

func makeSummary(t interface {
	Helper()
	Fatal(...any)
}, list []*normalize.Report, opt summary.Options) *summary.Summary {
	t.Helper()
	s, err := summary.Make(each(list), opt)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// forms are all that a summary is written as.
func forms(t *testing.T, s *summary.Summary) map[string]string {
	t.Helper()
	out := map[string]string{}
	for name, write := range map[string]func(io.Writer) error{"csv": s.CSV, "ratings": s.RatingsCSV, "json": s.JSON, "html": s.HTML} {
		var b bytes.Buffer
		if err := write(&b); err != nil {
			t.Fatal(err)
		}
		out[name] = b.String()
	}
	for n := range s.Tests {
		for _, p := range s.Pictures(n) {
			out[p.Name] = string(p.SVG())
		}
	}
	return out
}

// county is n samples of as many clients as said.
func county(name string, n, clients int) (out []*normalize.Report) {
	for i := range n {
		out = append(out, reportOf(soil{client: fmt.Sprintf("Client%c Of%s", 'a'+i%clients, name), county: name, use: "lawn", year: "2026", value: strconv.Itoa(10 + i), method: "mehlich-3"}))
	}
	return out
}

// Of a group of too few clients nothing is told, nor of the next one, from
// which it could be worked out; for the office all is.
func TestSmallGroupsAreNotTold(t *testing.T) {
	list := slices.Concat(county("Alderbrook", 30, 12), county("Finch", 9, 6), county("Quarry", 8, 2))
	s := makeSummary(t, list, summary.Options{By: []summary.By{summary.ByCounty}, MinGroup: 5})
	x := s.Tests[0]
	if len(x.Groups) != 1 || x.Groups[0].Label() != "Alderbrook" || x.All.N != 47 || x.HiddenGroups != 2 || x.HiddenSamples != 17 {
		t.Errorf("told: %d groups, hidden %d of %d samples", len(x.Groups), x.HiddenGroups, x.HiddenSamples)
	}
	for name, text := range forms(t, s) {
		if strings.Contains(text, "Finch") || strings.Contains(text, "Quarry") {
			t.Errorf("%s names a group that is not told", name)
		}
	}
	s = makeSummary(t, list, summary.Options{By: []summary.By{summary.ByCounty}, Office: true})
	if x := s.Tests[0]; len(x.Groups) != 3 || x.HiddenGroups != 0 || x.Groups[2].Clients != 2 || !strings.Contains(s.Caution(), "For the office alone") {
		t.Errorf("for the office: %d groups", len(x.Groups))
	}
	// All of one small county: the test itself is not told.
	s = makeSummary(t, list, summary.Options{County: "quarry", MinGroup: 5})
	if len(s.Tests) != 0 || s.HiddenTests != 1 {
		t.Errorf("%d tests of a county of two clients", len(s.Tests))
	}
	// One client with two initials is one.
	var one []*normalize.Report
	for _, c := range []string{"Rosa Hale", "R. Hale", "Hale, Rosa", "ROSA HALE", "Rosa M. Hale"} {
		one = append(one, reportOf(soil{client: c, county: "Wren", year: "2026", value: "7", method: "mehlich-3"}))
	}
	if s = makeSummary(t, one, summary.Options{MinGroup: 5}); len(s.Tests) != 0 {
		t.Error("five spellings of one client were told of")
	}
	if _, err := summary.Make(each(list), summary.Options{}); err == nil {
		t.Error("a summary without a least size of groups")
	}
}

// Whatever the archive: what is told, and what is left when it is taken from the
// total, are of five clients or more; of ratings too.
func TestNothingSmallCanBeWorkedOut(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		n := rapid.IntRange(1, 120).Draw(rt, "n")
		var list []*normalize.Report
		var soils []soil
		for range n {
			s := soil{client: fmt.Sprintf("Xan%03d Quill%03d", rapid.IntRange(0, 25).Draw(rt, "client"), 7), county: rapid.SampledFrom([]string{"A", "B", "C", "D", ""}).Draw(rt, "county"), year: rapid.SampledFrom([]string{"2025", "2026"}).Draw(rt, "year"),
				lab: rapid.SampledFrom([]string{"L1", "L2"}).Draw(rt, "lab"), class: rapid.SampledFrom([]string{"low", "high", ""}).Draw(rt, "class"), value: "5", method: "mehlich-3"}
			s.client = strings.Replace(s.client, "Quill007", "Quill"+s.client[3:6], 1)
			soils, list = append(soils, s), append(list, reportOf(s))
		}
		sum := makeSummary(rt, list, summary.Options{By: []summary.By{summary.ByCounty, summary.ByYear}, MinGroup: 5})
		if len(sum.Tests) == 0 {
			return
		}
		x := sum.Tests[0]
		toldGroup, toldRating := map[string]bool{}, map[string]bool{}
		for _, g := range x.Groups {
			toldGroup[g.Label()] = true
			for _, r := range g.Ratings {
				toldRating[g.Label()+"/"+r.Whose] = true
			}
		}
		for _, r := range x.All.Ratings {
			toldRating["/"+r.Whose] = true
		}
		rest, ratings, parts := map[string]bool{}, map[string]map[string]bool{}, map[string]map[string]bool{}
		left := map[string]int{}
		for _, s := range soils {
			c := s.county
			if c == "" {
				c = "not known"
			}
			g := c + ", " + s.year
			if parts[g] == nil {
				parts[g] = map[string]bool{}
			}
			parts[g][s.client] = true
			if !toldGroup[g] {
				rest[s.client] = true
			}
			if k := "/" + s.lab; s.class != "" && toldRating[k] {
				if toldRating[g+k] {
					k = g + k
				}
				if ratings[k] == nil {
					ratings[k] = map[string]bool{}
				}
				ratings[k][s.client] = true
				left[k]++
			}
		}
		for g := range toldGroup {
			if len(parts[g]) < 5 {
				rt.Errorf("%s is told, of %d clients", g, len(parts[g]))
			}
		}
		if len(rest) > 0 && len(rest) < 5 {
			rt.Errorf("%d clients are left when what is told is taken from the total", len(rest))
		}
		for k, clients := range ratings {
			if len(clients) < 5 || left[k] < 5 {
				rt.Errorf("ratings %q: %d clients, told or left over", k, len(clients))
			}
		}
	})
}

// Nothing leads to a person or a sample, and no single value of the ends is in
// what may leave the office.
func TestNobodyIsNamed(t *testing.T) {
	list := county("Alderbrook", 30, 12)
	for i, end := range []string{"0.4375", "987.125"} {
		list = append(list, reportOf(soil{client: fmt.Sprintf("Endo%d Last%d", i, i), county: "Alderbrook", year: "2026", value: end, method: "mehlich-3"}))
	}
	opt := summary.Options{By: []summary.By{summary.ByCounty}, MinGroup: 5, Title: "<script>alert(1)</script>"}
	for name, text := range forms(t, makeSummary(t, list, opt)) {
		for _, secret := range []string{"Client", "LAB-", "secret", "R00000", "0.4375", "0.438", "987", "<script>alert", "2026-03"} {
			if name == "json" && secret == "<script>alert" {
				continue // which is no markup
			}
			if strings.Contains(text, secret) {
				t.Errorf("%s tells %q", name, secret)
			}
		}
	}
	opt.Office = true
	if text := forms(t, makeSummary(t, list, opt))["csv"]; !strings.Contains(text, "987.1") {
		t.Error("the office is not told the highest value")
	}
}

// Two methods, two units, unstated methods of two laboratories, and estimated
// values beside measured ones are never one figure.
func TestMethodsAreNotPooled(t *testing.T) {
	list := slices.Concat(county("Wren", 6, 6))
	add := func(change func(*normalize.Result), s soil) {
		for i := range 6 {
			s.client, s.county, s.year, s.value = fmt.Sprintf("Other%d Name%d", i, i), "Wren", "2026", strconv.Itoa(100*(i+1))
			r := reportOf(s)
			if change != nil {
				change(r.Records[0].Results[0])
			}
			list = append(list, r)
		}
	}
	add(nil, soil{method: "olsen"})
	add(nil, soil{lab: "First"})
	add(nil, soil{lab: "Second"})
	add(func(r *normalize.Result) { r.Unit = "%" }, soil{method: "mehlich-3"})
	add(func(r *normalize.Result) { r.Detail = "total" }, soil{method: "mehlich-3"})
	add(func(r *normalize.Result) { r.Steps = []normalize.Step{{Rule: "density/assumed"}} }, soil{method: "mehlich-3"})
	add(func(r *normalize.Result) { r.Steps = []normalize.Step{{Rule: "unit/exact", Exact: true}} }, soil{method: "mehlich-3"}) // the same test as the first
	s := makeSummary(t, list, summary.Options{MinGroup: 5})
	var got []string
	for _, x := range s.Tests {
		got = append(got, fmt.Sprintf("%s: %d", x.How(), x.All.N))
	}
	slices.Sort(got)
	want := []string{"Mehlich-3, %: 6", "Mehlich-3, mg/kg, estimated on the way to this unit: 6", "Mehlich-3, mg/kg: 12", "Mehlich-3, mg/kg: 6", "method not stated (First), mg/kg: 6", "method not stated (Second), mg/kg: 6", "total, Mehlich-3, mg/kg: 6"}
	if !slices.Equal(got, want) {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
}

// What is held, said twice or no number is no value, and is counted as left out.
func TestWhatCounts(t *testing.T) {
	list := county("Wren", 20, 10)
	held := reportOf(soil{client: "A B", value: "9999", method: "mehlich-3", year: "2026"})
	held.Status = normalize.Held
	record := reportOf(soil{client: "A B", value: "9999", method: "mehlich-3", year: "2026"})
	record.Records[0].Status = normalize.Held
	result := reportOf(soil{client: "A B", value: "9999", method: "mehlich-3", year: "2026"})
	result.Records[0].Results[0].Status = normalize.Held
	restated := reportOf(soil{client: "A B", value: "9999", method: "mehlich-3", year: "2026"})
	restated.Records[0].Results[0].Restates = true
	missing := reportOf(soil{client: "A B", method: "mehlich-3", year: "2026"})
	missing.Records[0].Results[0].Missing = "n/a"
	again := *list[3]
	again.ID = "R" + strings.Repeat("f", 16)
	below := reportOf(soil{client: "A B", value: "9999", method: "mehlich-3", year: "2026"})
	below.Records[0].Sample.DepthTopIn, below.Records[0].Sample.DepthIn = "6", "24"
	list = append(list, held, record, result, restated, missing, below, &again, list[0])
	s := makeSummary(t, list, summary.Options{Office: true})
	if s.HeldReports != 1 || s.HeldSamples != 1 || s.HeldResults != 1 || s.Copies != 1 || s.Below != 1 || s.NoNumber != 1 || s.Samples != 20 || s.Tests[0].All.N != 20 {
		t.Errorf("%+v", *s)
	}
	if text := strings.Join(s.LeftOut(), "\n"); strings.Count(text, "Left out") != 6 {
		t.Errorf("left out:\n%s", text)
	}
	if s := makeSummary(t, list, summary.Options{Office: true, By: []summary.By{summary.ByDepth}}); s.Below != 0 || s.Samples != 21 {
		t.Errorf("by depth: %+v", *s)
	}
}

// Figures worked out by hand: 3 of 12 below 5; 6 to 14 are measured.
func TestFiguresOfAGroup(t *testing.T) {
	var list []*normalize.Report
	for i := range 12 {
		s := soil{client: fmt.Sprintf("Name%d Last%d", i, i), county: "Wren", use: "lawn", lab: "Verrin", year: "2025", value: strconv.Itoa(3 + i), class: "medium", method: "mehlich-3"}
		if i < 3 {
			s.value, s.sign, s.class = "5", "<", "low"
		}
		list = append(list, reportOf(s))
	}
	s := makeSummary(t, list, summary.Options{By: []summary.By{summary.ByCounty, summary.ByLandUse, summary.ByYear, summary.ByLab, summary.ByDepth}, MinGroup: 5})
	rows, err := csv.NewReader(strings.NewReader(forms(t, s)["csv"])).ReadAll()
	if err != nil || len(rows) != 3 {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	for i, of := range [][]string{{"all", "all", "all", "all", "all"}, {"Wren", "lawn", "2025", "Verrin", "6"}} {
		got := map[string]string{}
		for j, c := range rows[0] {
			got[c] = rows[i+1][j]
		}
		if x := []string{got["county"], got["land_use"], got["year"], got["lab"], got["depth"]}; !slices.Equal(x, of) {
			t.Errorf("group %v, want %v", x, of)
		}
		// Ranks: <5 <5 <5 6 7 8 9 10 11 12 13 14. The median is midway between the
		// 6th and the 7th; a quarter is the share below the limit.
		for c, want := range map[string]string{"samples": "12", "clients": "12", "below": "3", "above": "0", "limits_below": "1", "lowest_limit": "5", "highest_limit": "5", "median": "8.5", "median_sign": "",
			"q1": "6", "q1_sign": "<", "q3": "11.5", "p10": "5", "p10_sign": "<", "p90": "13", "low": "", "high": "", "mean_by": "regression on order statistics", "quantiles_by": "Kaplan-Meier", "mean_least": "7.5", "mean_most": "8.75", "limit_above": "", "for": "anybody"} {
			if got[c] != want {
				t.Errorf("row %d: %s is %q, want %q", i, c, got[c], want)
			}
		}
		if m, err := strconv.ParseFloat(got["mean"], 64); err != nil || m < 7.5 || m > 8.75 || got["mean"] != got["ros_mean"] {
			t.Errorf("mean %s, by regression %s", got["mean"], got["ros_mean"])
		}
	}
	var doc struct {
		Tests []struct {
			All struct {
				Figures map[string]struct {
					Value *float64
					Sign  string
					Why   string `json:"not_given"`
				}
				Ratings []summary.Rating
			}
			Groups []struct{ Of []string }
		}
	}
	if err := json.Unmarshal([]byte(forms(t, s)["json"]), &doc); err != nil {
		t.Fatal(err)
	}
	f := doc.Tests[0].All.Figures
	if v := f["median"].Value; v == nil || *v != 8.5 || f["low"].Why == "" || f["low"].Value != nil || f["q1"].Sign != "<" {
		t.Errorf("figures %+v", f)
	}
	if r := doc.Tests[0].All.Ratings; len(r) != 1 || r[0].Whose != "Verrin" || r[0].Rated != 12 || len(r[0].Shares) != 2 || r[0].Shares[0].Class != "low" || math.Abs(r[0].Shares[0].Percent-25) > 1e-9 {
		t.Errorf("ratings %+v", r)
	}
	if html := forms(t, s)["html"]; strings.Count(html, "<svg") != 2 || !strings.Contains(html, "<td class=\"n\">8.5</td>") || !strings.Contains(html, "as rated by Verrin") {
		t.Error("the page lacks a drawing, the median or the ratings")
	}
}

// The order of the reports does not matter.
func TestOrderOfReports(t *testing.T) {
	list := slices.Concat(county("Alderbrook", 30, 12), county("Finch", 12, 6), county("Quarry", 9, 7))
	opt := summary.Options{By: []summary.By{summary.ByCounty, summary.ByYear}, MinGroup: 5}
	want := forms(t, makeSummary(t, list, opt))
	for seed := range uint64(5) {
		rand.New(rand.NewPCG(seed, 1)).Shuffle(len(list), func(i, j int) { list[i], list[j] = list[j], list[i] })
		for name, text := range forms(t, makeSummary(t, list, opt)) {
			if text != want[name] {
				t.Errorf("%s is another in another order", name)
			}
		}
	}
}

// How a laboratory rated a group is not told where, taken from how it rated all,
// it would leave two clients.
func TestRatingsOfFewAreNotLeftOver(t *testing.T) {
	var list []*normalize.Report
	for _, x := range []struct {
		county, lab string
		clients     int
	}{{"Alderbrook", "First", 10}, {"Quarry", "First", 2}, {"Wren", "Second", 4}} {
		for i := range x.clients {
			list = append(list, reportOf(soil{client: fmt.Sprintf("Name%d%s Last%d%s", i, x.county, i, x.county), county: x.county, lab: x.lab, year: "2026", value: strconv.Itoa(10 + i), class: []string{"high", "low"}[i%2], method: "mehlich-3"}))
		}
	}
	x := makeSummary(t, list, summary.Options{By: []summary.By{summary.ByCounty}, MinGroup: 5}).Tests[0]
	if len(x.Groups) != 1 || len(x.Groups[0].Ratings) != 0 || len(x.All.Ratings) != 1 || x.All.Ratings[0].Rated != 12 {
		t.Errorf("told: %+v of all, %+v of %s", x.All.Ratings, x.Groups[0].Ratings, x.Groups[0].Label())
	}
	x = makeSummary(t, list, summary.Options{By: []summary.By{summary.ByCounty}, Office: true}).Tests[0]
	if len(x.Groups) != 3 || len(x.Groups[0].Ratings) != 1 || len(x.All.Ratings) != 2 {
		t.Error("the office is not told all ratings")
	}
}
