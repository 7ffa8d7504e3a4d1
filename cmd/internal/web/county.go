package web

import (
	"cmp"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"example.org/windrow/normalize/archive/index"
	"example.org/windrow/normalize/censored"
	"example.org/windrow/normalize/summary"
)

// counties are the routes of the pages about counties.
func (d *Desk) counties() {
	d.route("GET /county", d.county)
	d.slow("POST /county/dataset", d.countyDataset)
	d.route("GET /county/dataset", d.countyDatasetState)
	d.slow("GET /dataset/{name}", d.datasetFiles)
}

// A testChoice is one test of one method in one unit, to choose from.
type testChoice struct {
	Key, Words string
	Chosen     bool
	Address    string
}

// A testGroup is the tests of one analyte.
type testGroup struct {
	Analyte string
	Tests   []testChoice
}

// keyOf is a test in an address.
func keyOf(t index.Test) string {
	return strings.Join([]string{t.Analyte, t.Detail, t.Method, t.Unit}, "|")
}

// testNamed says a test in words, without its analyte.
func testNamed(t index.Test) string {
	s := methodNamed(t.Method)
	if t.Detail != "" {
		s = t.Detail + ", " + s
	}
	if u := unitWords(t.Unit); u != "" {
		s += ", " + u
	}
	return s
}

// A countyLine is one county in figures.
type countyLine struct {
	Name string
	spread
}

// A mapArea is a county on the map.
type mapArea struct {
	area
	Grade   int    // of its pattern, from 1 for the lowest; 0 for not shown
	Figure  string // "" where it is not shown
	Address string
	Chosen  bool
	DY      float64
}

// A countyView is the page about counties.
type countyView struct {
	Counting bool // what is asked for is being read
	Nothing  bool // there is no value at all
	Tests    []testGroup
	Test     index.Test
	Analyte  string // in words
	How      string // method and unit in words
	Unit     string
	Key      string
	Choice   choice
	*described
	Map      *outlineMap
	Areas    []mapArea
	Grades   []gradeKey
	NoMap    string
	Others   []testChoice // other tests of the analyte
	Made     datasetView
	Smallest int
	Self     string                     // address of this page
	Apart    struct{ County, Use bool } // what was chosen is not among what the lists offer
}

// A described is what a page says of a choice of a frame. It is shared by all
// who ask for it, and not changed after it was made.
type described struct {
	Counties []string
	Uses     []string
	Years    []string
	Spread   spread
	Hidden   bool // some samples are left out
	Chart    *histogram
	Bins     []bin
	Classes  []classLine
	Rated    int
	Lines    []yearLine
	Course   *course
	ByCounty []countyLine
	Labs     []string
	MoreLabs bool
}

// A gradeKey says what a pattern of the map stands for.
type gradeKey struct {
	Grade int
	Words string
}

func (d *Desk) county(r *http.Request) (*answer, error) {
	q := r.URL.Query()
	v := &countyView{Smallest: smallest, Choice: choice{q.Get("county"), q.Get("use"), q.Get("from"), q.Get("to")}, Self: "/county?" + q.Encode(), Made: d.made.view()}
	a := &answer{page: "county", title: "Counties", nav: "/county", body: v}
	for _, y := range []string{v.Choice.From, v.Choice.To} {
		if n, err := strconv.Atoi(y); y != "" && (err != nil || n < 1900 || n > 2200 || len(y) != 4) {
			return nil, badInput("that is not a year", "choose one of the list")
		}
	}
	if v.Choice.From != "" && v.Choice.To != "" && v.Choice.From > v.Choice.To {
		return nil, badInput("the years end before they begin", "give the earlier year first")
	}
	tests, err := d.frames.list(r.Context(), d.off.Index)
	if err != nil {
		return nil, err
	}
	if v.Counting = tests == nil; v.Counting {
		return a, nil
	}
	if v.Nothing = len(tests) == 0; v.Nothing {
		return a, nil
	}
	if v.Test, err = chosenTest(tests, q.Get("test")); err != nil {
		return nil, err
	}
	v.Key, v.Analyte, v.How, v.Unit = keyOf(v.Test), analyteName(v.Test.Analyte), testNamed(v.Test), unitWords(v.Test.Unit)
	v.Tests, v.Others = v.choices(tests)
	f, err := d.frames.get(r.Context(), d.off.Index, v.Test)
	if err != nil {
		return nil, err
	}
	if v.Counting = f == nil; v.Counting {
		return a, nil
	}
	v.described = f.describe(v.Choice)
	// What was chosen stays chosen, though this test has no value of it.
	v.Apart.County = v.Choice.County != "" && !slices.Contains(v.Counties, v.Choice.County)
	v.Apart.Use = v.Choice.Use != "" && !slices.Contains(v.Uses, v.Choice.Use)
	outline, why := d.outlines.get(d.off.Config.CountyMap)
	if why != nil {
		v.NoMap = sentence(why.What) + " Expected: " + why.Expected + ". Found: " + sentence(why.Found) + " " + sentence(why.Next)
	}
	if outline != nil {
		v.draw(outline)
	}
	return a, nil
}

// chosenTest is the test that is asked for, or, where none is, the one of
// which there is most, of pH if there is any: that is what most people look for
// first.
func chosenTest(tests []index.TestCount, key string) (index.Test, error) {
	best := tests[0]
	for _, t := range tests {
		if keyOf(t.Test) == key {
			return t.Test, nil
		}
		if first, ph := best.Analyte == "pH", t.Analyte == "pH"; ph && !first || ph == first && t.Results > best.Results {
			best = t
		}
	}
	if key != "" {
		return index.Test{}, notHere("nothing was measured so")
	}
	return best.Test, nil
}

// choices are the tests to choose from, and those of the same analyte by other
// methods or in other units.
func (v *countyView) choices(tests []index.TestCount) (groups []testGroup, others []testChoice) {
	for _, t := range tests {
		c := testChoice{Key: keyOf(t.Test), Words: testNamed(t.Test), Chosen: t.Test == v.Test}
		c.Address = v.address(func(q url.Values) { q.Set("test", c.Key) })
		name := analyteName(t.Analyte)
		if n := len(groups); n == 0 || groups[n-1].Analyte != name {
			groups = append(groups, testGroup{Analyte: name})
		}
		g := &groups[len(groups)-1]
		g.Tests = append(g.Tests, c)
		if t.Analyte == v.Test.Analyte && !c.Chosen {
			others = append(others, c)
		}
	}
	return groups, others
}

// address is that of this page with something changed.
func (v *countyView) address(change func(url.Values)) string {
	q := url.Values{"test": {v.Key}, "county": {v.Choice.County}, "use": {v.Choice.Use}, "from": {v.Choice.From}, "to": {v.Choice.To}}
	change(q)
	for k, x := range q {
		if x[0] == "" {
			delete(q, k)
		}
	}
	return "/county?" + q.Encode()
}

// Of is the address of this page for one county.
func (v *countyView) Of(county string) string {
	return v.address(func(q url.Values) { q.Set("county", county) })
}

// mostDescribed is how many choices of a frame are remembered.
const mostDescribed = 60

// describe works out what the page says of a choice.
func (f *frame) describe(c choice) *described {
	f.mu.Lock()
	defer f.mu.Unlock()
	if v := f.said[c]; v != nil {
		return v
	}
	if f.said == nil || len(f.said) >= mostDescribed {
		f.said = map[choice]*described{}
	}
	v := &described{}
	f.said[c] = v
	list := func(w *summary.Wordlist) []string {
		out := slices.Clone(w.List[1:])
		slices.Sort(out)
		return out
	}
	v.Counties, v.Uses, v.Years = list(&f.counties), list(&f.uses), list(&f.years)
	var all []censored.Value
	classes := map[string]int{}
	years := map[string][]censored.Value{}
	labs := map[string]*summary.Pile{}
	v.Hidden = f.pick(c, func(x *spot) {
		all = append(all, x.known())
		if x.class > 0 {
			classes[f.rate.List[x.class]]++
		}
		year := f.years.List[x.year]
		years[year] = append(years[year], x.known())
		lab := f.labs.List[x.lab]
		if labs[lab] == nil {
			labs[lab] = &summary.Pile{}
		}
		labs[lab].Add(x.client)
	})
	if len(all) == 0 {
		return v
	}
	v.Spread = spreadOf(all)
	v.Bins = binsOf(sortedOf(all))
	limitsIn(v.Bins, all)
	v.Chart = drawHistogram(v.Bins, v.Spread)
	v.Classes, v.Rated = classLines(classes)
	for y, xs := range years {
		if y != "" {
			v.Lines = append(v.Lines, yearLine{Year: y, spread: spreadOf(xs)})
		}
	}
	slices.SortFunc(v.Lines, func(a, b yearLine) int { return cmp.Compare(a.Year, b.Year) })
	v.Course = drawCourse(v.Lines)
	for name, p := range labs {
		if p.Enough(smallest) && name != "" {
			v.Labs = append(v.Labs, name)
		} else {
			v.MoreLabs = true
		}
	}
	slices.Sort(v.Labs)
	everywhere := c
	everywhere.County = ""
	by := map[string][]censored.Value{}
	f.pickByCounty(everywhere, func(county string, x *spot) { by[county] = append(by[county], x.known()) })
	for name, xs := range by {
		if name != "" {
			v.ByCounty = append(v.ByCounty, countyLine{Name: name, spread: spreadOf(xs)})
		}
	}
	slices.SortFunc(v.ByCounty, func(a, b countyLine) int { return cmp.Compare(a.Name, b.Name) })
	return v
}

// mostGrades is in how many patterns the counties of a map are drawn.
const mostGrades = 4

// draw puts the middle value of each county on the map: counties of like values
// in one pattern, the denser the higher.
func (v *countyView) draw(m *outlineMap) {
	v.Map = m
	var mids []float64
	for _, l := range v.ByCounty {
		if l.Mid.Given() {
			mids = append(mids, l.Mid.X)
		}
	}
	slices.Sort(mids)
	var edges []float64 // above which the next grade begins
	for g := 1; g < mostGrades && len(mids) > 1; g++ {
		e := censored.Ordinary(mids, float64(g)/mostGrades)
		if len(edges) == 0 || e > edges[len(edges)-1] {
			edges = append(edges, e)
		}
	}
	grade := func(x float64) int {
		n := 1
		for _, e := range edges {
			if x > e {
				n++
			}
		}
		return n
	}
	used := map[int][]float64{}
	for _, a := range m.Areas {
		x := mapArea{area: a, DY: a.Y + 17}
		for _, l := range v.ByCounty {
			if strings.EqualFold(l.Name, a.Name) && l.Mid.Given() {
				x.Grade, x.Figure, x.Address = grade(l.Mid.X), marked(l.Mid), v.Of(l.Name)
				x.Chosen = strings.EqualFold(v.Choice.County, a.Name)
				used[x.Grade] = append(used[x.Grade], l.Mid.X)
			}
		}
		v.Areas = append(v.Areas, x)
	}
	for g := 1; g <= mostGrades; g++ {
		if xs := used[g]; len(xs) > 0 {
			words := figure(slices.Min(xs))
			if high := figure(slices.Max(xs)); high != words {
				words += " to " + high
			}
			v.Grades = append(v.Grades, gradeKey{g, words})
		}
	}
}
