package web_test

import (
	"net/http"
	"strings"
	"testing"
)

func TestLaboratories(t *testing.T) {
	v := visit(t, sharedDesk(t))
	list := v.get("/labs", http.StatusOK)
	has(t, list, "Marrow Brook Land &amp; Water Testing", "Oxbow &amp; Tansy Agronomy Laboratory", "Thrushgate Garden Soil Desk", "thrushgate.yaml", "Verrin Analytical", "not known", "no mapping")
	page := v.get(link(t, list, "Thrushgate"), http.StatusOK)
	has(t, page, "3 reports with 3 samples", "Waiting for a person", "lost or renamed headings", "Where its reports no longer look as they did", "The mapping relies on", "What holds its reports", "How its reports are read", "letter, Form A", "How long it takes", "March", "8", "April", "10", "the whole year", "Where its reports contradict themselves", "None of 2 reports does", "TG-26-01920.pdf")
	v.get("/lab/nobody", http.StatusNotFound)
	v.get("/lab/", http.StatusNotFound)
}

// The account of a period names each conversion with an example, and is to be
// had as a workbook.
func TestAudit(t *testing.T) {
	d := sharedDesk(t)
	v := visit(t, d)
	page := v.get("/audit", http.StatusOK)
	has(t, page, `value="2026-05-01"`, `value="2026-05-31"`)
	if strings.Contains(page, "Conversions used") {
		t.Error("an audit that nobody asked for was made")
	}
	page = v.get("/audit?since=2026-05-01&until=2026-06-30&lab=", http.StatusOK)
	has(t, page, "Download the workbook", "In figures", "Conversions used", "An example", "lb/acre", "1/2", "What it rests on", "No audit has been signed for.")
	if strings.Contains(page, "What differs") {
		t.Errorf("the demonstration's archive differs from itself")
	}
	req, err := http.NewRequest(http.MethodGet, d.srv.URL+link(t, page, "Download the workbook"), nil)
	if err != nil {
		t.Fatal(err)
	}
	if code, body, head := v.do(req); code != http.StatusOK || !strings.HasPrefix(body, "PK") || !strings.Contains(head.Get("Content-Disposition"), "audit.xlsx") {
		t.Errorf("the workbook: %d %v", code, head)
	}
	has(t, v.get("/audit?since=2026-05-01&until=2026-05-30&lab=verrin-analytical", http.StatusOK), "No report arrived in this period")
	v.get("/audit?since=x", http.StatusUnprocessableEntity)
	has(t, v.get("/audit?since=2026-06-01&until=2026-05-01", http.StatusUnprocessableEntity), `value="2026-06-01"`, `value="2026-05-01"`, "The period ends before it begins")
}
