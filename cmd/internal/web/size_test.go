package web_test

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"example.org/windrow/ingest"
	"example.org/windrow/interpret"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive"
)

// slowest is what 95 of 100 answers must not exceed. It is the office's own
// bar; on a machine that does something else as well a page may take longer,
// so that the test allows some more.
const slowest = 150 * time.Millisecond

// TestPagesAtSize asks for pages of an archive of some thousand samples, or of
// as many as DESK_RECORDS says, and says how long they take. A check flagged
// one sample in sixty, and a letter promised each that the office asks.
func TestPagesAtSize(t *testing.T) {
	n := 4000
	if s := os.Getenv("DESK_RECORDS"); s != "" {
		var err error
		if n, err = strconv.Atoi(s); err != nil {
			t.Fatal(err)
		}
	}
	d := ownDesk(t)
	const each = 4
	counties := []string{"Alderbrook", "Finch", "Quarry", "Tamarack", "Vesper", "Wren"}
	surnames := []string{"Threnody", "Castellan", "Wainscot", "Quince", "Marrow", "Olmedo", "Smithy", "Brackwater"}
	began := time.Now()
	asked, err := json.Marshal(interpret.Advice{On: "2026-05-12", Questions: []interpret.Question{{Code: "record-doubtful", Text: "we ask", Blocks: "all"}}})
	if err != nil {
		t.Fatal(err)
	}
	promised := 0
	for i := range n / each {
		r := &normalize.Report{Schema: normalize.SchemaVersion, ID: fmt.Sprintf("R%016x", uint64(i+1)*0x9e3779b97f4a7c15), Status: normalize.OK, Lab: normalize.Lab{ID: fmt.Sprintf("lab-%d", i%7), Name: fmt.Sprintf("Laboratory %d", i%7)},
			Number: fmt.Sprintf("N-%06d", i), Source: ingest.SourceRef{Name: fmt.Sprintf("report %d.pdf", i), SHA256: archive.RefOf(fmt.Append(nil, i)).SHA256(), Size: 1}, Mapping: normalize.MappingRef{ID: "m", Layout: "table"}, Version: "test"}
		if i%40 == 7 {
			r.Status = normalize.Held
			r.Reasons = []*ingest.Reason{{Code: []string{"unit-differs", "headings-changed", "text-missing"}[i%3], Severity: ingest.Hold, What: "something of it is not as it was", Expected: "ppm", Found: []string{"lb/acre", "mg/L"}[i%2]}}
		}
		for j := range each {
			rec := &normalize.Record{ID: fmt.Sprintf("%s-%d", r.ID, j+1), Status: r.Status, Client: &normalize.Client{Name: "Ada " + surnames[(i+j)%len(surnames)]}, Checks: []normalize.Finding{},
				Sample: normalize.Sample{LabID: fmt.Sprintf("S%07d", i*each+j), ClientLabel: fmt.Sprintf("field %d", j), County: counties[i%6], Received: day().AddDate(0, 0, -i%1000-7).Format(time.DateOnly), Reported: day().AddDate(0, 0, -i%1000).Format(time.DateOnly)}}
			for _, a := range []string{"pH", "P", "K", "Ca", "Mg", "OM"} {
				rec.Results = append(rec.Results, &normalize.Result{Analyte: a, Status: normalize.OK, Value: "31.0", Unit: "mg/kg", Steps: []normalize.Step{}})
			}
			if (i+j)%60 == 3 {
				rec.Checks = []normalize.Finding{{Check: "cec-sum", Severity: ingest.Flag, What: "the sum is not the sum"}, {Check: "unusual-value", Severity: ingest.Flag, What: "much of it"}}
				if _, _, err := d.off.Archive.PutAdvice(rec.ID, asked); err != nil {
					t.Fatal(err)
				}
				if r.Status != normalize.Held {
					promised++
				}
			}
			r.Records = append(r.Records, rec)
		}
		b, err := json.Marshal(r)
		if err != nil {
			t.Fatal(err)
		}
		if i%50 == 0 { // to be opened
			if _, _, err := d.off.Archive.PutReport(r.ID, b); err != nil {
				t.Fatal(err)
			}
		}
		if err := d.off.Index.AddReport(context.Background(), r.ID, 1, b); err != nil {
			t.Fatal(err)
		}
	}
	t.Logf("%d samples in %d reports, indexed in %v", n, n/each, time.Since(began).Round(time.Millisecond))
	v := visit(t, d)
	// The promises are looked up behind the pages.
	began = time.Now()
	last := fmt.Sprintf("And %s samples more", grouped(promised-12))
	for !strings.Contains(tags.ReplaceAllString(v.get("/", http.StatusOK), ""), last) {
		if time.Since(began) > 5*time.Minute {
			t.Fatalf("the first page never says %q", last)
		}
		time.Sleep(50 * time.Millisecond)
	}
	t.Logf("%d promises, looked up in %v", promised, time.Since(began).Round(time.Millisecond))
	first := fmt.Sprintf("/report/R%016x", uint64(0x9e3779b97f4a7c15))
	const came = " when something came"
	for _, path := range []string{"/", "/" + came, "/reports", "/reports?page=9", "/reports?q=N-000", "/reports?q=S0000123", "/reports?q=olmedo", "/reports?q=ada+olmedo+wren", "/reports?q=threnody+marrow", "/reports?q=report", "/reports?q=r&page=40", "/reports?q=ada&status=held", "/reports?q=lab-3+nobody", "/reports?county=Wren", "/reports?county=Wren&status=held&from=2025-01-01", "/reports?lab=lab-3&to=2026-01-01", "/held", "/labs", "/lab/lab-3", "/county", "/county?test=P|||mg/kg", "/county?test=P|||mg/kg&county=Wren&from=2024&to=2026", first, "/sample/" + first[len("/report/"):] + "-1"} {
		var took []time.Duration
		for range 40 {
			if strings.HasSuffix(path, came) {
				d.desk.Forget()
			}
			at := time.Now()
			v.get(strings.TrimSuffix(path, came), http.StatusOK)
			took = append(took, time.Since(at))
		}
		slices.Sort(took)
		p95 := took[len(took)*95/100-1]
		t.Logf("%-50s half within %7v, 95 of 100 within %7v", path, took[len(took)/2].Round(10*time.Microsecond), p95.Round(10*time.Microsecond))
		if limit := slowest * map[bool]time.Duration{true: 8, false: 3}[underRace]; p95 > limit {
			t.Errorf("%s: 95 of 100 within %v, more than %v", path, p95, limit)
		}
	}
}

// grouped writes a number below a million as pages do.
func grouped(n int) string {
	if n < 1000 {
		return strconv.Itoa(n)
	}
	return fmt.Sprintf("%d,%03d", n/1000, n%1000)
}
