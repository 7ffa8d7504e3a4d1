package web_test

import (
	"archive/zip"
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive"
)

// stateOfCalder fills an office with samples of Calder's counties: pH of all,
// phosphorus by one of two methods, and very few of Wren by the second.
func stateOfCalder(t *testing.T, d *openDesk, samples int, keep bool) {
	t.Helper()
	counties := []string{"Alderbrook", "Finch", "Quarry", "Tamarack", "Vesper", "Wren"}
	surnames := []string{"Threnody", "Castellan", "Wainscot", "Quince", "Marrow", "Olmedo", "Smithy", "Brackwater", "Fenwick", "Hale", "Aldous", "Pell"}
	uses := []string{"lawn", "vegetable garden", "flower bed"}
	rng := rand.New(rand.NewPCG(11, 3))
	const each = 5
	for i := range samples / each {
		// The county goes with the report, and the method with the laboratory.
		county := rng.IntN(len(counties))
		lab := i % 3
		r := &normalize.Report{Schema: normalize.SchemaVersion, ID: fmt.Sprintf("R%016x", uint64(i+1)*0x9e3779b97f4a7c15), Status: normalize.OK, Lab: normalize.Lab{ID: fmt.Sprintf("lab-%d", lab), Name: []string{"Thrushgate Garden Soil Desk", "Oxbow & Tansy", "Verrin Analytical"}[lab]},
			Number: fmt.Sprintf("N-%06d", i), Source: ingest.SourceRef{Name: fmt.Sprintf("report %d.pdf", i), SHA256: archive.RefOf(fmt.Append(nil, i)).SHA256(), Size: 1}, Mapping: normalize.MappingRef{ID: "m", Layout: "table"}, Version: "test", Office: "Calder"}
		for j := range each {
			year := 2023 + rng.IntN(4)
			rec := &normalize.Record{ID: fmt.Sprintf("%s-%d", r.ID, j+1), Status: normalize.OK, Client: &normalize.Client{Name: fmt.Sprintf("Ada %s", surnames[rng.IntN(len(surnames))])}, Checks: []normalize.Finding{},
				Sample: normalize.Sample{LabID: fmt.Sprintf("S%07d", i*each+j), County: counties[county], LandUse: uses[rng.IntN(len(uses))], Sampled: fmt.Sprintf("%d-04-%02d", year, 1+rng.IntN(28)), Reported: fmt.Sprintf("%d-05-%02d", year, 1+rng.IntN(28))}}
			result := func(analyte, method, unit, value, class string) {
				rec.Results = append(rec.Results, &normalize.Result{Analyte: analyte, Method: method, MethodName: method, Unit: unit, UCUM: unit, Value: normalize.Decimal(value), Status: normalize.OK, Steps: []normalize.Step{}, Printed: normalize.Printed{Text: value, Number: normalize.Decimal(value), Unit: unit, Class: class}})
			}
			p := rng.ExpFloat64()*30 + float64(8*county)
			class := "low"
			switch {
			case p > 60:
				class = "high"
			case p > 30:
				class = "optimum"
			}
			result("pH", "water-1-1", "pH", fmt.Sprintf("%.1f", 5.4+rng.Float64()*1.8+0.1*float64(county)), "")
			if lab < 2 {
				if p < 5 { // what these two cannot tell
					result("P", "mehlich-3-icp", "mg/kg", "5", "")
					last := rec.Results[len(rec.Results)-1]
					last.Censored, last.Printed.Text = "<", "<5"
				} else {
					result("P", "mehlich-3-icp", "mg/kg", fmt.Sprintf("%.1f", p), class)
				}
			} else if county != 5 || i%30 == 2 {
				result("P", "olsen", "mg/kg", fmt.Sprintf("%.1f", p/2), class)
			}
			r.Records = append(r.Records, rec)
		}
		b, err := json.Marshal(r)
		if err != nil {
			t.Fatal(err)
		}
		if keep {
			if _, _, err := d.off.Archive.PutReport(r.ID, b); err != nil {
				t.Fatal(err)
			}
		}
		if err := d.off.Index.AddReport(t.Context(), r.ID, 1, b); err != nil {
			t.Fatal(err)
		}
	}
}

// settled is a page once what it needs has been counted.
func (v *visitor) settled(path string) string {
	v.t.Helper()
	for end := time.Now().Add(time.Minute); ; time.Sleep(30 * time.Millisecond) {
		page := v.get(path, http.StatusOK)
		if !strings.Contains(page, "are being counted") && !strings.Contains(page, "is being made") && !strings.Contains(page, "is being read") {
			return page
		}
		if time.Now().After(end) {
			v.t.Fatal("the values are being counted for ever")
		}
	}
}

func TestCounties(t *testing.T) {
	d := ownDesk(t)
	stateOfCalder(t, d, 900, false)
	v := visit(t, d)
	all := v.settled("/county")
	has(t, all, "pH", "900 samples", "Half of them lie between", "In the laboratories", "None of these reports prints a rating", "Year by year", "2023", "2026", "County by county", "Alderbrook", "Wren", "Who measured, and how", "Thrushgate", "Verrin", "Make a dataset")
	olsen := "/county?test=" + url.QueryEscape("P||olsen|mg/kg")
	m3 := "/county?test=" + url.QueryEscape("P||mehlich-3-icp|mg/kg")
	page := v.settled(m3)
	has(t, page, "Mehlich-3 (ICP)", "600 samples", "12 are below what the laboratory can tell, and count here as that limit", "low", "optimum", "high", "Of 588 whose report prints a rating", "The same was measured otherwise", "Olsen")
	if strings.Count(page, `class="cut"`) != 1 {
		t.Error("the bar that holds limits does not show them")
	}
	if strings.Contains(page, "Verrin Analytical") {
		t.Error("a laboratory that measures otherwise is said to have measured so")
	}
	// Of Wren the second method has a report of five in thirty: too few in each
	// year, and it is not told how few.
	page = v.settled(olsen)
	_, table, _ := strings.Cut(page, "<h3 id=\"h-by\">")
	_, table, _ = strings.Cut(table, "<tbody>")
	table, _, _ = strings.Cut(table, "</tbody>")
	if strings.Contains(table, "Wren") || !strings.Contains(table, "Finch") {
		t.Errorf("the counties by Olsen: %s", tags.ReplaceAllString(table, " "))
	}
	has(t, page, "not shown")
	has(t, v.settled(olsen+"&county=Wren"), "Nothing to show", "fewer than 5 samples")
	has(t, v.settled(m3+"&county=Finch&use=lawn&from=2024&to=2025"), "samples.", "2024", "2025")
	for _, bad := range []string{"&from=x", "&from=2025&to=2024", "&from=99999"} {
		v.get(m3+bad, http.StatusUnprocessableEntity)
	}
	v.get("/county?test=nothing", http.StatusNotFound)
	has(t, v.settled(m3+"&county=%3Cscript%3E"), "Nothing to show")
	for _, name := range []string{"/dataset/2026-01-01.zip", "/dataset/..%2Farchive.zip", "/dataset/x", "/dataset/"} {
		v.get(name, http.StatusNotFound)
	}
	// A file of outlines that is none is told of, and the tables stay.
	if err := os.WriteFile(d.off.Config.CountyMap, []byte("{}"), 0o600); err != nil {
		t.Fatal(err)
	}
	has(t, v.settled(m3), "The map of counties can", "No FeatureCollection with features", "<tbody>")
	if err := os.Remove(d.off.Config.CountyMap); err != nil {
		t.Fatal(err)
	}
	if page := v.settled(m3); strings.Contains(page, "h-map") || strings.Contains(page, "The map of counties") {
		t.Error("without a file of outlines there is a map")
	}
}

// A researcher looks at a county, and takes its dataset along.
func TestCountyDatasetByABrowser(t *testing.T) {
	d := ownDesk(t)
	stateOfCalder(t, d, 900, true)
	p := sitDown(t, d)
	v := visit(t, d)
	m3 := "/county?test=" + url.QueryEscape("P||mehlich-3-icp|mg/kg")
	v.settled(m3)
	p.look("county", m3)
	p.open(m3)
	// From the map to a county, by keys.
	p.do(chromedp.Focus(chromedp.CSS(`.map a:last-of-type`)))
	name := ask[string](p, `document.activeElement.querySelector("text").textContent`)
	p.do(chromedp.KeyEvent("\r"))
	p.until("the county", fmt.Sprintf(`document.querySelector("h1").innerText === "Counties: %s"`, name))
	p.look("county-one", ask[string](p, "location.pathname + location.search"))
	for _, b := range ask[[]string](p, `[...document.querySelectorAll("details summary")].map(x => { x.click(); return x.innerText })`) {
		if b != "The same as a table" {
			t.Errorf("%q opens", b)
		}
	}
	p.sound("with its table")
	if got := ask[string](p, `document.querySelector("#of").value`); got != name {
		t.Errorf("the dataset would be of %q", got)
	}
	p.do(chromedp.Click(chromedp.CSS(".decide button")))
	p.until("it is there", `document.querySelector("a[download]") !== null`)
	p.look("county-dataset", "/county/dataset")
	at := ask[string](p, `document.querySelector("a[download]").getAttribute("href")`)
	req, err := http.NewRequest(http.MethodGet, d.srv.URL+at, nil)
	if err != nil {
		t.Fatal(err)
	}
	code, body, head := v.do(req)
	if code != http.StatusOK || head.Get("Content-Type") != "application/zip" {
		t.Fatalf("%s: %d %v", at, code, head)
	}
	z, err := zip.NewReader(bytes.NewReader([]byte(body)), int64(len(body)))
	if err != nil {
		t.Fatal(err)
	}
	got := map[string]string{}
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		b, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		got[f.Name] = string(b)
	}
	rows, err := csv.NewReader(strings.NewReader(got["results.csv"])).ReadAll()
	if err != nil || len(rows) < 50 || got["codebook.md"] == "" || got["disclosure.html"] == "" || got["datapackage.json"] == "" {
		t.Fatalf("%d rows, %d files: %v", len(rows), len(got), err)
	}
	col := slices.Index(rows[0], "county")
	for _, r := range rows[1:] {
		if r[col] != name && r[col] != "suppressed" {
			t.Fatalf("a dataset of %s has a row of %q", name, r[col])
		}
	}
	if strings.Contains(body, "Threnody") || strings.Contains(got["results.csv"], "Threnody") || strings.Contains(got["results.csv"], "S0000") {
		t.Error("the dataset names a client or a sample")
	}
	// What lies in the office is what was taken along.
	b, err := os.ReadFile(filepath.Join(d.off.Config.Datasets, strings.TrimSuffix(filepath.Base(at), ".zip"), "results.csv"))
	if err != nil || string(b) != got["results.csv"] {
		t.Errorf("the file of the office differs: %v", err)
	}
}
