package web_test

import (
	"context"
	"encoding/json"
	"net/http"
	"strings"
	"testing"

	"example.org/windrow/ingest"
	"example.org/windrow/interpret"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive"
)

// The first page lists what letters promised that the office asks of its
// laboratories, and nothing that a later report has settled.
func TestHomeListsWhatWasPromised(t *testing.T) {
	d := ownDesk(t)
	put := func(id, reported string, status normalize.Status) {
		t.Helper()
		r := &normalize.Report{Schema: normalize.SchemaVersion, ID: id, Status: status, Lab: normalize.Lab{ID: "sallow", Name: "Sallow Ridge Soil Station"}, Source: ingest.SourceRef{Name: "sr.pdf", SHA256: archive.RefOf([]byte(id)).SHA256(), Size: 1}, Version: "test"}
		rec := &normalize.Record{ID: id + "-1", Status: status, Checks: []normalize.Finding{}, Sample: normalize.Sample{LabID: "SR-7", ClientLabel: "Bean row", Sampled: "2026-05-01", Reported: reported},
			Results: []*normalize.Result{{Analyte: "P", Status: status, Value: "31.0", Unit: "mg/kg", Steps: []normalize.Step{}}}}
		if status == normalize.Flagged {
			rec.Checks = []normalize.Finding{{Check: "cec-sum", Severity: ingest.Flag, What: "the sum is another"}}
		}
		r.Records = []*normalize.Record{rec}
		b, err := json.Marshal(r)
		if err != nil {
			t.Fatal(err)
		}
		if err := d.off.Index.AddReport(context.Background(), id, 1, b); err != nil {
			t.Fatal(err)
		}
	}
	v := visit(t, d)
	if page := v.get("/", http.StatusOK); strings.Contains(page, "What letters said") {
		t.Error("nobody was promised anything")
	}
	const id = "R0123456789abcdef"
	put(id, "2026-05-10", normalize.Flagged)
	adv, err := json.Marshal(interpret.Advice{On: "2026-05-12", Questions: []interpret.Question{{Code: "record-doubtful", Text: "we ask", Blocks: "all"}, {Code: "land-use-missing", Text: "what grows there?", Blocks: "all"}}})
	if err != nil {
		t.Fatal(err)
	}
	if _, _, err := d.off.Archive.PutAdvice(id+"-1", adv); err != nil {
		t.Fatal(err)
	}
	d.desk.Forget()
	has(t, v.get("/", http.StatusOK), "What letters said we ask the laboratories", `href="/sample/`+id+`-1">Bean row<`, "Sallow Ridge Soil Station", "12 May 2026", `data-name="days">20<`, "the whole report")
	put("R0123456789abcde0", "2026-05-20", normalize.OK)
	d.desk.Forget()
	if page := v.get("/", http.StatusOK); strings.Contains(page, "What letters said") {
		t.Error("what was settled is listed")
	}
}
