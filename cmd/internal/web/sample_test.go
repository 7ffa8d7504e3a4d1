package web_test

import (
	"net/http"
	"strings"
	"testing"
)

// The record of a sample tells where each value comes from, and leads to its
// place on the page.
func TestSampleTellsWhereItsValuesComeFrom(t *testing.T) {
	v := visit(t, sharedDesk(t))
	report := first(t, v.get("/reports?q=OT-26-0533", http.StatusOK), "/report/")
	list := v.get(report, http.StatusOK)
	page := v.get(first(t, list, "/sample/"), http.StatusOK)
	// 88 lb/acre of phosphorus in 2,000,000 lb of soil are 44 mg/kg: half, since
	// a plow layer is taken for two million pounds (the report's own depth).
	has(t, page, "Sample 662", "the next sample", "What was advised", "in English", "in Spanish", "Results", "88", "44 mg/kg",
		"Where each value comes from", "phosphorus", "Printed: <strong>88</strong> lb/acre", "See it on the page", "× 1/2", "44 mg/kg", "By ")
	at := link(t, page[strings.Index(page, "Printed: <strong>88</strong>"):], "See it on the page")
	req, err := http.NewRequest(http.MethodGet, v.d.srv.URL+at, nil)
	if err != nil {
		t.Fatal(err)
	}
	resp, err := (&http.Client{Jar: v.c.Jar, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}).Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	_, n, ok := strings.Cut(resp.Header.Get("Location"), "/look#m-")
	if !ok {
		t.Fatalf("the place leads to %q", resp.Header.Get("Location"))
	}
	has(t, v.get(report+"/look", http.StatusOK), `<li id="v-`+n+`"`, "88 lb/acre", "phosphorus")
	has(t, v.get(report+"/versions", http.StatusOK), "1 version", "Version 1", "The first one.")
}

func TestLetterInBothLanguages(t *testing.T) {
	d := sharedDesk(t)
	v := visit(t, d)
	sample := first(t, v.get(first(t, v.get("/reports?q=TG-26-01402", http.StatusOK), "/report/"), http.StatusOK), "/sample/")
	has(t, v.get(sample+"/letter?language=en", http.StatusOK), `<html lang="en">`, "Jasper Threnody")
	has(t, v.get(sample+"/letter?language=es", http.StatusOK), `<html lang="es">`, "Jasper Threnody")
	v.get(sample+"/letter?language=xx", http.StatusUnprocessableEntity)
	req, err := http.NewRequest(http.MethodGet, d.srv.URL+sample+"/letter.pdf?language=es", nil)
	if err != nil {
		t.Fatal(err)
	}
	if code, body, head := v.do(req); code != http.StatusOK || !strings.HasPrefix(body, "%PDF-") || !strings.HasPrefix(head.Get("Content-Disposition"), "attachment") {
		t.Errorf("the PDF: %d %v", code, head)
	}
	// On a report that waits nothing is advised, and there is no letter.
	held := first(t, v.get(first(t, v.get("/reports?q=TG-26-01920", http.StatusOK), "/report/"), http.StatusOK), "/sample/")
	has(t, v.get(held, http.StatusOK), "Nothing is advised while the report waits")
	v.get(held+"/letter", http.StatusNotFound)
}
