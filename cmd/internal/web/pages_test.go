package web_test

import (
	"net/http"
	"testing"
)

func TestPagesInABrowser(t *testing.T) {
	d := sharedDesk(t)
	p := sitDown(t, d)
	v := visit(t, d)
	report := first(t, v.get("/reports?q=TG-26-01402", http.StatusOK), "/report/")
	sample := first(t, v.get(report, http.StatusOK), "/sample/")
	p.look("home", "/")
	p.look("reports", "/reports")
	p.look("reports-found", "/reports?q=terrace&county=Finch")
	p.look("report", report)
	p.look("sample", sample)
	p.look("waiting", "/held")
	p.look("look-used", report+"/look")
	for _, x := range []string{"TG-26-01920", "px-7713", "VA-26-0455", "OT-26-0533"} {
		p.look("look-"+x, first(t, v.get("/reports?q="+x, http.StatusOK), "/report/")+"/look")
	}
	p.calm()
	p.allowed = []string{"404"}
	p.look("not-here", "/report/R0123456789abcdef")
}
