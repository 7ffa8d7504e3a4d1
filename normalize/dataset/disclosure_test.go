package dataset_test

import (
	"errors"
	"fmt"
	"maps"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/dataset"
)

// of is a report of one sample of a client, with pH and P by one method, and
// whatever change makes of it.
func of(n int, client string, change func(*normalize.Report, *normalize.Record)) *normalize.Report {
	r := report(n)
	r.Reasons = nil
	rec := r.Records[0]
	rec.Checks, rec.Client, rec.Sample.LabID = nil, &normalize.Client{Name: client}, fmt.Sprint("LAB-", n)
	rec.Results = []*normalize.Result{{Analyte: "pH", Method: "ph-water-1-1", Status: normalize.OK, Value: normalize.Decimal(fmt.Sprintf("6.%d", n%10)), Unit: "pH", Printed: normalize.Printed{Text: "6", Number: normalize.Decimal(fmt.Sprintf("6.%d", n%10))}},
		{Analyte: "P", Method: "mehlich-3-icp", Status: normalize.OK, Value: normalize.Decimal(fmt.Sprintf("1%d.25", n)), Unit: "mg/kg", Printed: normalize.Printed{Text: "x", Number: normalize.Decimal(fmt.Sprintf("1%d.25", n)), Unit: "ppm"}}}
	if change != nil {
		change(r, rec)
	}
	return r
}

// names of clients that nobody takes for one another.
var names = []string{"Ada Quill", "Ben Rook", "Cy Sedge", "Dot Teasel", "Eli Umber", "Fay Vetch", "Gus Wren", "Hal Yarrow"}

func many(n int, change func(i int, rep *normalize.Report, rec *normalize.Record)) (rs []*normalize.Report) {
	for i := range n {
		rs = append(rs, of(i, names[i%len(names)], func(rep *normalize.Report, rec *normalize.Record) {
			if change != nil {
				change(i, rep, rec)
			}
		}))
	}
	return rs
}

// shows are the different texts of a column.
func shows(t *testing.T, files map[string]string, column string) []string {
	t.Helper()
	m := map[string]bool{}
	for _, r := range table(t, files["results.csv"]) {
		m[r[column]] = true
	}
	return slices.Sorted(maps.Keys(m))
}

// One of eight clients used a laboratory that prints whole numbers, where the
// others' prints hundredths: whoever knows that looks for the sample with whole
// numbers. He finds none, and the report says what would follow if he did.
func TestPlacesDontTellTheLaboratory(t *testing.T) {
	rs := many(8, func(i int, rep *normalize.Report, rec *normalize.Record) {
		if i == 3 {
			rep.Lab.ID = "whole-numbers"
			rec.Results[1].Value, rec.Results[1].Printed.Number = "17", "17"
		}
	})
	got, sum := write(t, dataset.Options{MinGroup: 5}, rs...)
	whole, rows := 0, 0
	for _, r := range table(t, got["results.csv"]) {
		if r["analyte"] != "P" {
			continue
		}
		rows++
		if r["lab"] != dataset.Suppressed || r["value_is"] != "rounded" {
			t.Errorf("%v", r)
		}
		if !strings.Contains(r["value"], ".") {
			whole++
		}
	}
	if rows != 8 || whole != rows {
		t.Errorf("%d of %d values are whole numbers", whole, rows)
	}
	// By hand: the one sample of that laboratory, and not the seven others'.
	if sum.Disclosure.LabGuessed != 1 || !strings.Contains(got["disclosure.md"], "1 of 8 samples would stand in groups of fewer than 5 clients") {
		t.Errorf("%+v", sum.Disclosure)
	}
}

// Each quasi-identifier is generalised by as much as is needed, and the others
// are left alone.
func TestLeastLoss(t *testing.T) {
	for name, c := range map[string]struct {
		change func(i int, rep *normalize.Report, rec *normalize.Record)
		want   map[string]string
	}{
		"nothing": {nil, nil},
		"quarter": {func(i int, _ *normalize.Report, rec *normalize.Record) {
			rec.Sample.Sampled = fmt.Sprintf("2026-%02d-17", 1+i%3)
		}, map[string]string{"period": "2026-Q1"}},
		"year": {func(i int, _ *normalize.Report, rec *normalize.Record) {
			rec.Sample.Sampled = fmt.Sprintf("2026-%02d-17", 1+i*2)
		}, map[string]string{"period": "2026"}},
		"no date": {func(i int, _ *normalize.Report, rec *normalize.Record) {
			rec.Sample.Sampled = fmt.Sprintf("%d-03-17", 2020+i)
		}, map[string]string{"period": "suppressed"}},
		"class": {func(i int, _ *normalize.Report, rec *normalize.Record) {
			rec.Sample.LandUse = []string{"lawn", "roses", "trees"}[i%3]
		}, map[string]string{"land_use": "lawn and ornamental (class)"}},
		"no use": {func(i int, _ *normalize.Report, rec *normalize.Record) {
			rec.Sample.LandUse = []string{"lawn", "hay", ""}[i%3]
		}, map[string]string{"land_use": "suppressed"}},
		"county": {func(i int, _ *normalize.Report, rec *normalize.Record) {
			rec.Sample.County = []string{"Finch", "Wren"}[i%2]
		}, map[string]string{"county": "suppressed"}},
		"rare": {func(i int, _ *normalize.Report, rec *normalize.Record) {
			rec.Results[1].Printed.Unit = []string{"ppm", "lb/A"}[i%2]
		}, map[string]string{"withheld": "print", "printed_text": "", "printed_number": "", "printed_unit": "", "value_is": "rounded"}},
		"lab": {func(i int, rep *normalize.Report, _ *normalize.Record) {
			rep.Lab.ID = []string{"verrin", "marrow"}[i%2]
		}, map[string]string{"lab": "suppressed", "withheld": "print", "printed_text": "", "printed_number": "", "printed_unit": "", "value_is": "rounded"}},
		"depth": {func(i int, _ *normalize.Report, rec *normalize.Record) {
			rec.Sample.DepthIn = []normalize.Decimal{"4", "6"}[i%2]
		}, map[string]string{"depth_in": "suppressed", "withheld": "print", "printed_text": "", "printed_number": "", "printed_unit": "", "value_is": "rounded"}},
		"two ways": {func(i int, _ *normalize.Report, rec *normalize.Record) {
			rec.Sample.County, rec.Sample.Sampled = []string{"Finch", "Wren"}[i%2], fmt.Sprintf("2026-%02d-17", 4+i%3)
		}, map[string]string{"county": "suppressed", "period": "2026-Q2"}},
	} {
		t.Run(name, func(t *testing.T) {
			files, sum := write(t, dataset.Options{MinGroup: 5}, many(8, c.change)...)
			want := map[string]string{"county": "Finch", "land_use": "lawn", "period": "2026-03", "depth_in": "6", "lab": "verrin", "withheld": "", "value_is": "printed"}
			maps.Copy(want, c.want)
			for column, v := range want {
				if got := shows(t, files, column); !slices.Equal(got, []string{v}) {
					t.Errorf("%s: %q, want %q", column, got, v)
				}
			}
			if sum.Samples != 8 || sum.Disclosure.Suppressed != 0 || sum.Disclosure.After.Smallest != 8 {
				t.Errorf("%+v", sum.Disclosure)
			}
		})
	}
}

// Clients count, not samples: eight samples of a farm hide nobody. Names that
// may be of one client are one, and a report that names nobody is one.
func TestClientsCount(t *testing.T) {
	for name, c := range map[string]struct {
		clients []string
		out     int
	}{
		"five clients":            {names[:5], 8},
		"four clients":            {names[:4], 0},
		"one farm":                {[]string{"Hobnail Creek Dairy"}, 0},
		"an abbreviation":         {[]string{"Ada Quill", "A. Quill", "Quill, Ada", "Ben Rook", "Cy Sedge", "Dot Teasel"}, 0},
		"and one more":            {[]string{"Ada Quill", "A. Quill", "Ben Rook", "Cy Sedge", "Dot Teasel", "Eli Umber"}, 8},
		"reports that do not say": {[]string{"", "", "", "", "", "", "", ""}, 0},
		"one that does not say":   {[]string{"", "", "Ben Rook", "Cy Sedge", "Dot Teasel", "Eli Umber"}, 8},
	} {
		files, sum := write(t, dataset.Options{MinGroup: 5}, many(8, func(i int, _ *normalize.Report, rec *normalize.Record) {
			if rec.Client.Name = c.clients[i%len(c.clients)]; rec.Client.Name == "" {
				rec.Client = nil
			}
		})...)
		if sum.Samples != c.out || sum.Disclosure.Suppressed != 8-c.out {
			t.Errorf("%s: %d samples out, want %d", name, sum.Samples, c.out)
		}
		if c.out == 0 && (!strings.Contains(files["disclosure.md"], "Nothing could go out") || len(table(t, files["results.csv"])) > 0) {
			t.Errorf("%s: the report doesn't say that nothing could go out", name)
		}
	}
	// An address of mail tells clients apart where no name is given.
	if _, sum := write(t, dataset.Options{MinGroup: 5}, many(8, func(i int, _ *normalize.Report, rec *normalize.Record) {
		rec.Client = &normalize.Client{Email: fmt.Sprint("c", i, "@example.org")}
	})...); sum.Samples != 8 || sum.Disclosure.Clients != 8 || sum.Disclosure.Unnamed != 0 {
		t.Errorf("%+v", sum.Disclosure)
	}
	// A sample that one report gives without a name, and another with it, is
	// the named client's, and makes no one of the two.
	rs := many(5, nil)
	again := of(20, "", func(rep *normalize.Report, rec *normalize.Record) {
		rep.Number, rec.Sample.LabID, rec.Sample.Reported, rec.Client = rs[0].Number, rs[0].Records[0].Sample.LabID, "2026-05-05", nil
	})
	stranger := of(21, "", func(_ *normalize.Report, rec *normalize.Record) { rec.Client = nil })
	for range 2 {
		if _, sum := write(t, dataset.Options{MinGroup: 5}, append([]*normalize.Report{again, stranger}, rs...)...); sum.Disclosure.Clients != 6 || sum.Disclosure.Unnamed != 1 {
			t.Errorf("%+v", sum.Disclosure)
		}
		slices.Reverse(rs)
	}
	// Eight samples in one report that names nobody are of one client at most.
	one := of(0, "", nil)
	one.Records[0].Client = nil
	for i := range 7 {
		rec := of(i+1, "", nil).Records[0]
		rec.Client, rec.ID = nil, fmt.Sprint(one.ID, "-", i+2)
		one.Records = append(one.Records, rec)
	}
	if _, sum := write(t, dataset.Options{MinGroup: 5}, one); sum.Samples != 0 || sum.Disclosure.Clients != 1 {
		t.Errorf("%+v", sum.Disclosure)
	}
}

// A test that few of a group have is left out, with what was worked out of
// it; a sample is not emptied for it.
func TestRareTestsAreCut(t *testing.T) {
	change := func(i int, _ *normalize.Report, rec *normalize.Record) {
		extra := []string{"Ca", "Mg"}
		if i == 0 {
			extra = append(extra, "Pb")
		}
		if i == 7 {
			extra = extra[:1]
		}
		for _, a := range extra {
			rec.Results = append(rec.Results, &normalize.Result{Analyte: a, Method: "mehlich-3-icp", Status: normalize.OK, Value: "1200", Unit: "mg/kg", Printed: normalize.Printed{Text: "1200", Number: "1200"}})
		}
	}
	_, open := write(t, dataset.Options{}, many(8, change)...)
	files, sum := write(t, dataset.Options{MinGroup: 5}, many(8, change)...)
	if got := shows(t, files, "analyte"); slices.Contains(got, "Pb") || !slices.Contains(got, "Ca") {
		t.Errorf("analytes %v", got)
	}
	if strings.Contains(files["codebook.md"]+files["codebook.json"]+files["datapackage.json"], "`Pb`") || strings.Contains(files["datapackage.json"], `"Pb"`) {
		t.Error("the codebook counts what was cut")
	}
	d := sum.Disclosure
	if d.ResultsCut == 0 || d.Suppressed != 0 || sum.Rows+d.ResultsCut != d.Results || open.Rows != d.Results {
		t.Errorf("%d rows, %d cut, of %d", sum.Rows, d.ResultsCut, d.Results)
	}
	ratios := map[string]bool{}
	for _, r := range table(t, files["derived.csv"]) {
		ratios[r["sample"]] = true
	}
	with := map[string]bool{}
	for _, r := range table(t, files["results.csv"]) {
		if r["analyte"] == "Mg" {
			with[r["sample"]] = true
		}
	}
	if !maps.Equal(ratios, with) {
		t.Errorf("Ca:Mg of %d samples, Mg of %d", len(ratios), len(with))
	}
}

// What a client's samples share and no other's, such as a finding about the
// whole report, doesn't leave; what all of a group have does.
func TestFindingsOfReports(t *testing.T) {
	files, sum := write(t, dataset.Options{MinGroup: 5}, many(8, func(i int, rep *normalize.Report, rec *normalize.Record) {
		rep.Reasons = []*ingest.Reason{{Code: "all-have-it", Severity: ingest.Flag}}
		if i == 3 {
			rep.Reasons = append(rep.Reasons, &ingest.Reason{Code: "one-has-it", Severity: ingest.Flag})
		}
		rec.Results[0].Findings = []normalize.Finding{{Check: "range", Severity: ingest.Flag}}
	})...)
	if got := shows(t, files, "findings"); !slices.Equal(got, []string{"all-have-it", "all-have-it;range"}) || sum.Samples != 8 {
		t.Errorf("findings %q of %d samples", got, sum.Samples)
	}
}

// A sample whose two reports say different things is shown in one way.
func TestTwoReportsOfASampleAreShownAlike(t *testing.T) {
	rs := many(7, nil)
	again := of(20, names[0], func(rep *normalize.Report, rec *normalize.Record) {
		rep.Number, rec.Sample.LabID, rec.Sample.Reported = rs[0].Number, rs[0].Records[0].Sample.LabID, "2026-05-05"
		rec.Sample.County = "Wren"
	})
	files, sum := write(t, dataset.Options{MinGroup: 5}, append(rs, again)...)
	by := map[string]map[string]bool{}
	for _, r := range table(t, files["results.csv"]) {
		if by[r["sample"]] == nil {
			by[r["sample"]] = map[string]bool{}
		}
		by[r["sample"]][r["county"]+r["land_use"]+r["period"]+r["depth_in"]+r["lab"]] = true
	}
	for s, ways := range by {
		if len(ways) != 1 {
			t.Errorf("%s is shown in %d ways: %v", s, len(ways), slices.Collect(maps.Keys(ways)))
		}
	}
	if len(by) != 7 || sum.Disclosure.Samples != 7 || !slices.Contains(shows(t, files, "report"), "2") {
		t.Errorf("%d samples, %+v", len(by), sum.Disclosure)
	}
}

// No estimate rests on a land use that isn't told.
func TestEstimatesForgetTheUse(t *testing.T) {
	change := func(i int, _ *normalize.Report, rec *normalize.Record) {
		rec.Sample.LandUse = []string{"lawn", "hay"}[i%2]
		rec.Results = nil
		for a, v := range map[string]string{"P": "30", "K": "120", "Ca": "1200", "Mg": "150"} {
			rec.Results = append(rec.Results, &normalize.Result{Analyte: a, Method: "mehlich-3-icp", MethodName: "Mehlich-3 (ICP)", Basis: a, Status: normalize.OK, Value: normalize.Decimal(v), Unit: "mg/kg", UCUM: "mg/kg", Printed: normalize.Printed{Text: v, Number: normalize.Decimal(v), Unit: "ppm"}})
		}
		slices.SortFunc(rec.Results, func(a, b *normalize.Result) int { return strings.Compare(a.Analyte, b.Analyte) })
		normalize.Reestimate(rec)
	}
	byUse := func(opt dataset.Options) map[string][]string {
		files, _ := write(t, opt, many(8, change)...)
		use := map[string]string{}
		for _, r := range table(t, files["results.csv"]) {
			use[r["sample"]] = r["land_use"]
		}
		out := map[string][]string{}
		for _, r := range table(t, files["estimates.csv"]) {
			k := r["equation"] + " " + r["in_domain"] + " " + r["not_known"]
			if u := use[r["sample"]]; !slices.Contains(out[u], k) {
				out[u] = append(out[u], k)
			}
		}
		return out
	}
	open, closed := byUse(dataset.Options{}), byUse(dataset.Options{MinGroup: 5})
	slices.Sort(open["lawn"])
	slices.Sort(open["hay"])
	if slices.Equal(open["lawn"], open["hay"]) || len(open["lawn"]) == 0 {
		t.Error("as reported, estimates don't depend on the use, so that the test proves nothing")
	}
	for _, k := range closed[dataset.Suppressed] {
		if strings.Contains(k, "inside") && !slices.Contains(open["hay"], k) {
			t.Errorf("%q rests on the use", k)
		}
	}
	if len(closed) != 1 || len(closed[dataset.Suppressed]) == 0 {
		t.Errorf("%v", closed)
	}
}

func TestSmallGroupsNeedADecision(t *testing.T) {
	for _, opt := range []dataset.Options{{MinGroup: 4}, {MinGroup: 1, Decision: &dataset.Decision{By: "Ada"}}, {MinGroup: 1, Decision: &dataset.Decision{By: " ", Why: "a need"}}, {MinGroup: -1, Decision: anybody}} {
		opt.Key = key
		dir := filepath.Join(t.TempDir(), "d")
		_, err := dataset.Write(dir, all(many(8, nil)...), opt)
		var r *ingest.Reason
		if !errors.As(err, &r) || r.Code != "dataset-small-groups" {
			t.Errorf("%+v: %v", opt, err)
		}
	}
	files, _ := write(t, dataset.Options{MinGroup: 2, Decision: &dataset.Decision{By: "Ada <b>", Why: "stays in the office"}}, many(8, nil)...)
	for name, must := range map[string]string{"disclosure.md": "Decided by: Ada &lt;b&gt;. Reason: stays in the office", "disclosure.html": "Ada &lt;b&gt;", "codebook.json": `"why": "stays in the office"`, "codebook.md": "By a decision, groups may be of fewer than 5 clients"} {
		if !strings.Contains(files[name], must) {
			t.Errorf("%s doesn't say %q", name, must)
		}
	}
	files, sum := write(t, dataset.Options{MinGroup: 5, Decision: anybody}, many(8, nil)...)
	if sum.Disclosure.Decision != nil || strings.Contains(files["disclosure.md"], "Decided by") {
		t.Error("a decision is told where there was nothing to decide")
	}
}

// lead are reports whose lead is what is given, one a client, in a group of
// each county.
func lead(counties map[string][]string) (rs []*normalize.Report) {
	n := 0
	for _, county := range slices.Sorted(maps.Keys(counties)) {
		for i, v := range counties[county] {
			rs = append(rs, of(n, names[i%len(names)]+fmt.Sprint(" ", n), func(_ *normalize.Report, rec *normalize.Record) {
				rec.Sample.County = county
				value, below := strings.CutPrefix(v, "<")
				res := &normalize.Result{Analyte: "Pb", Method: "epa-3051a", Status: normalize.OK, Value: normalize.Decimal(value), Unit: "mg/kg", Printed: normalize.Printed{Text: v, Number: normalize.Decimal(value)}}
				if below {
					res.Censored = "<"
				}
				rec.Results = append(rec.Results, res)
			}))
			n++
		}
	}
	return rs
}

// The diversity of lead, by hand. Of five and five, one of each class: l 2 and
// e^(ln 2) = 2. Of 4 and 1: H = -(0.8 ln 0.8 + 0.2 ln 0.2) = 0.5004, e^H = 1.65.
func TestDiversityOfLead(t *testing.T) {
	for name, c := range map[string]struct {
		lead     map[string][]string
		distinct int
		entropy  string
		alike    []dataset.Alike
	}{
		"even":        {map[string][]string{"Finch": {"50", "50", "50", "300", "300", "300"}}, 2, "2.00", nil},
		"uneven":      {map[string][]string{"Finch": {"50", "50", "50", "50", "300"}}, 2, "1.65", nil},
		"all alike":   {map[string][]string{"Finch": {"500", "500", "600", "700", "1199.9"}, "Wren": {"99", "<100", "100", "200", "50"}}, 1, "1.00", []dataset.Alike{{Group: "county Finch, land use lawn, date 2026-03, depth 6, laboratory verrin", Samples: 5, Class: "400 to 1200 mg/kg"}}},
		"below alike": {map[string][]string{"Wren": {"99", "<100", "<5", "1", "50"}}, 1, "1.00", []dataset.Alike{{Group: "county Wren, land use lawn, date 2026-03, depth 6, laboratory verrin", Samples: 5, Class: "below 100 mg/kg"}}},
		"none":        {map[string][]string{"Wren": {"x", "x", "x", "x", "x"}}, 0, "", nil},
	} {
		files, sum := write(t, dataset.Options{MinGroup: 5}, lead(c.lead)...)
		l := sum.Disclosure.Lead
		if l.Distinct != c.distinct || l.Entropy != c.entropy || !slices.Equal(l.Alike, c.alike) {
			t.Errorf("%s: %+v", name, l)
		}
		for _, a := range c.alike {
			if !strings.Contains(files["disclosure.md"], "| "+a.Group+" | 5 | "+a.Class+" |") {
				t.Errorf("%s: the report doesn't name %v", name, a)
			}
		}
	}
}

// Two datasets one after the other: what came, what went and what is told in
// two ways is found out where it leaves too few clients.
func TestTwoReleases(t *testing.T) {
	release := func(opt dataset.Options, rs ...*normalize.Report) (string, dataset.Summary) {
		t.Helper()
		dir := filepath.Join(t.TempDir(), "d")
		opt.Key, opt.MinGroup = slices.Concat(opt.Key, key), 5
		sum, err := dataset.Write(dir, all(rs...), opt)
		if err != nil {
			t.Fatal(err)
		}
		return dir, sum
	}
	first, _ := release(dataset.Options{}, many(6, nil)...)
	same := dataset.Options{Previous: first}
	if dir, sum := release(same, many(6, nil)...); *sum.Disclosure.Previous != (dataset.Comparison{SameKey: true, Both: 6}) || !strings.Contains(files(t, dir)["disclosure.md"], "6 samples in common") {
		t.Errorf("the same again: %+v", sum.Disclosure.Previous)
	}
	// One client's sample came: it stands alone in the difference.
	dir, sum := release(same, many(7, nil)...)
	if c := sum.Disclosure.Previous; *c != (dataset.Comparison{SameKey: true, Both: 6, New: 1, NewAlone: 1}) || c.Alone() != 1 {
		t.Errorf("one came: %+v", c)
	}
	if !strings.Contains(files(t, dir)["disclosure.md"], "Don't give this dataset to anybody who may have the other one") || !slices.ContainsFunc(sum.Disclosure.Lines(), func(s string) bool { return strings.Contains(s, "1 sample can be told apart") }) {
		t.Error("nobody is warned")
	}
	// One went.
	whole, _ := release(dataset.Options{}, many(7, nil)...)
	if _, sum := release(dataset.Options{Previous: whole}, many(6, nil)...); *sum.Disclosure.Previous != (dataset.Comparison{SameKey: true, Both: 6, Gone: 1, GoneAlone: 1}) {
		t.Errorf("one went: %+v", sum.Disclosure.Previous)
	}
	// In the first release all are of one quarter, in the second three of each
	// date are of one year with others, so that both together tell them apart.
	dates := func(n int) func(int, *normalize.Report, *normalize.Record) {
		return func(i int, _ *normalize.Report, rec *normalize.Record) {
			rec.Sample.Sampled = fmt.Sprintf("2026-%02d-01", 1+i/n*3)
		}
	}
	quarters, _ := release(dataset.Options{}, many(8, dates(8))...)
	if _, sum := release(dataset.Options{Previous: quarters}, many(8, dates(4))...); sum.Disclosure.Previous.Narrowed != 0 || sum.Disclosure.After.Smallest != 8 {
		t.Errorf("less told of all alike narrows nobody: %+v", sum.Disclosure.Previous)
	}
	// Five and five by county, then five and five by use: both together tell of
	// groups of two and three.
	mixed, _ := release(dataset.Options{}, many(10, func(i int, _ *normalize.Report, rec *normalize.Record) {
		rec.Client.Name, rec.Sample.County = fmt.Sprint("Client ", i), []string{"Finch", "Wren"}[i/5]
	})...)
	if _, sum := release(dataset.Options{Previous: mixed}, many(10, func(i int, _ *normalize.Report, rec *normalize.Record) {
		rec.Client.Name, rec.Sample.LandUse = fmt.Sprint("Client ", i), []string{"lawn", "hay"}[i%2]
	})...); *sum.Disclosure.Previous != (dataset.Comparison{SameKey: true, Both: 10, Narrowed: 10}) || sum.Disclosure.Loss != "0" {
		t.Errorf("told in two ways: %+v", sum.Disclosure.Previous)
	}
	// With another key the codes say nothing; the report says so.
	if dir, sum := release(dataset.Options{Previous: first, Key: []byte("new ")}, many(7, nil)...); sum.Disclosure.Previous.SameKey || !strings.Contains(files(t, dir)["disclosure.md"], "made with another key") {
		t.Errorf("another key: %+v", sum.Disclosure.Previous)
	}
	_, err := dataset.Write(filepath.Join(t.TempDir(), "d"), all(many(6, nil)...), dataset.Options{Key: key, Previous: t.TempDir()})
	var r *ingest.Reason
	if !errors.As(err, &r) || r.Code != "dataset-previous" {
		t.Errorf("no dataset there: %v", err)
	}
}

// The report says the same in both its forms, and nothing of anybody.
func TestDisclosureReport(t *testing.T) {
	reports, _ := inventedArchive(120)
	got, sum := write(t, dataset.Options{MinGroup: 5, Title: "<script>alert(1)</script> & `code`", Office: "Finch | office"}, reports...)
	md, page := got["disclosure.md"], got["disclosure.html"]
	if strings.Contains(page, "<script") || strings.Contains(md, "<script") {
		t.Error("a title becomes a tag")
	}
	plain := strings.NewReplacer("&lt;", "<", "&gt;", ">", "&amp;", "&", "&#39;", "'", "&#34;", `"`).Replace(regexp.MustCompile(`<[^>]*>`).ReplaceAllString(page, "\n"))
	for _, line := range strings.Split(md, "\n") {
		for _, part := range strings.Split(strings.ReplaceAll(line, `\|`, "\x00"), "|") {
			for _, bit := range strings.Split(strings.TrimLeft(strings.TrimSpace(part), "#- :"), "`") {
				bit = strings.NewReplacer("&lt;", "<", "&gt;", ">", "\x00", "|").Replace(strings.TrimSpace(bit))
				if bit != "" && !strings.Contains(plain, bit) {
					t.Errorf("the page doesn't say %q", bit)
				}
			}
		}
	}
	d := sum.Disclosure
	for _, must := range []string{
		fmt.Sprintf("| samples | %d | %d | %d (", d.Samples, sum.Samples, d.Suppressed),
		fmt.Sprintf("| clients of the smallest group | %d | %d |", d.Before.Smallest, d.After.Smallest),
		fmt.Sprintf("On the average %s %% of what", d.Loss), sum.SHA256, sum.KeyMark, "Sweeney", "Machanavajjhala", "from memory",
	} {
		if !strings.Contains(md, must) {
			t.Errorf("the report doesn't say %q", must)
		}
	}
	if d.Samples != sum.Samples+d.Suppressed || d.Results != sum.Rows+d.ResultsCut+d.ResultsSuppressed || d.After.Smallest < 5 || d.Before.Smallest >= 5 {
		t.Errorf("the account doesn't add up: %+v", d)
	}
	steps := map[string]int{}
	for _, s := range d.Steps {
		steps[s.What] += s.Samples
	}
	for what, n := range steps {
		if n != sum.Samples {
			t.Errorf("%s: %d samples at its levels, of %d", what, n, sum.Samples)
		}
	}
	if len(steps) != 5 {
		t.Errorf("steps %v", steps)
	}
}

// A dataset of a county is of that county alone.
func TestOfCounty(t *testing.T) {
	rs := many(16, func(i int, _ *normalize.Report, rec *normalize.Record) {
		rec.Sample.County = []string{"Finch", "Wren"}[i/8]
	})
	files, sum := write(t, dataset.Options{MinGroup: 5, Keep: dataset.OfCounty("finch")}, rs...)
	if got := shows(t, files, "county"); !slices.Equal(got, []string{"Finch"}) || sum.Samples != 8 || sum.Disclosure.Samples != 8 {
		t.Errorf("%v, %d samples", got, sum.Samples)
	}
}
