package web_test

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
	"testing"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive"
)

// fillLaboratory indexes three years of reports of a laboratory: each year one
// in ten more contradicts itself, and lately its unit is another.
func fillLaboratory(t *testing.T, d *openDesk) {
	t.Helper()
	add := func(r *normalize.Report) {
		t.Helper()
		b, err := json.Marshal(r)
		if err != nil {
			t.Fatal(err)
		}
		if _, _, err := d.off.Archive.PutReport(r.ID, b); err != nil {
			t.Fatal(err)
		}
		if err := d.off.Index.AddReport(context.Background(), r.ID, 1, b); err != nil {
			t.Fatal(err)
		}
	}
	n := 0
	made := func(date string, took int) *normalize.Report {
		n++
		day := fmt.Sprintf("%s-%02d", date, 1+took)
		r := &normalize.Report{Schema: normalize.SchemaVersion, ID: fmt.Sprintf("R%016x", uint64(n)*0x9e3779b97f4a7c15), Status: normalize.OK, Lab: normalize.Lab{ID: "sallow", Name: "Sallow Ridge Soil Station"},
			Number: fmt.Sprintf("SR-%03d", n), Source: ingest.SourceRef{Name: fmt.Sprintf("sr %d.pdf", n), SHA256: archive.RefOf(fmt.Append(nil, "sallow", n)).SHA256(), Size: 1}, Mapping: normalize.MappingRef{ID: "sallow", Layout: "table"}, Version: "test"}
		r.Records = []*normalize.Record{{ID: r.ID + "-1", Status: normalize.OK, Checks: []normalize.Finding{}, Sample: normalize.Sample{LabID: fmt.Sprint(n), Received: date + "-01", Reported: day},
			Results: []*normalize.Result{{Analyte: "pH", Status: normalize.OK, Value: "6.4", Unit: "pH", Steps: []normalize.Step{}}}}}
		return r
	}
	for year := range 3 {
		for month := range 12 {
			for i := range 10 {
				r := made(fmt.Sprintf("%d-%02d", 2023+year, month+1), 4+(month*5+i*3)%14)
				if i <= year && month%2 == 0 {
					r.Status, r.Records[0].Status = normalize.Flagged, normalize.Flagged
					r.Records[0].Checks = []normalize.Finding{{Check: []string{"cec-sum", "saturations-sum"}[i%2], Severity: ingest.Flag, What: "a sum is not the sum"}}
				}
				add(r)
			}
		}
	}
	for range 3 {
		r := made("2026-05", 9)
		r.Status, r.Records[0].Status = normalize.Held, normalize.Held
		r.Reasons = []*ingest.Reason{{Code: "unit-differs", Severity: ingest.Hold, What: "the unit of Potassium is not one that this laboratory prints for it", Expected: "ppm", Found: "lb/acre"}}
		add(r)
	}
}

func TestLaboratoryFigures(t *testing.T) {
	d := ownDesk(t)
	fillLaboratory(t, d)
	v := visit(t, d)
	has(t, v.get("/labs", http.StatusOK), "Look otherwise", "Contradict themselves", "Sallow Ridge Soil Station", "yes", "10 %")
	page := v.get("/lab/sallow", http.StatusOK)
	has(t, page, "Where its reports no longer look as they did", "The unit of Potassium is not one that this laboratory prints for it.", "layout table", "ppm", "lb/acre", `data-name="reports">3<`, "not known", "/look",
		"What holds its reports", `data-name="reports">3<`, "not known since when",
		"How long it takes", "<svg", "by month; the table below has the numbers", "Jan", "Dec",
		"Where its reports contradict themselves", "36 reports of 360 (10 %), 36 samples of 360", "by year; the table below has the numbers",
		"2023", `data-name="share">5 %<`, "2024", `data-name="share">10 %<`, "2025", `data-name="share">15 %<`,
		"By what", "A CEC by summation is the sum of the printed cations and acidity.", `data-name="reports">24<`, "The saturations of the cations and of acidity make 100 %.", `data-name="reports">12<`)
	v.get(first(t, page[strings.Index(page, "By what"):], "/report/"), http.StatusOK)
}
