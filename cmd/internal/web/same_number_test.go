package web_test

import (
	"net/http"
	"net/url"
	"os"
	"strings"
	"testing"

	"example.org/windrow/cmd/internal/demo"
)

// A correction leads to the report that it corrects, and back; where it counts, a
// person is told that the other is used as well, until that is set aside.
func TestACorrectionLeadsToTheOther(t *testing.T) {
	b, err := os.ReadFile("../../../testdata/hostile/AR-26-2255-corrected.pdf")
	if err != nil {
		t.Fatal(err)
	}
	d := ownDesk(t, labReport(t, "ashlar-reed-soil-laboratory/AR-26-2255.pdf"), demo.Report{Name: "AR-26-2255-corrected.pdf", Bytes: b}, theReport(t, "MB26-0711.csv"))
	v := visit(t, d)
	look := link(t, v.get("/held", http.StatusOK), "AR-26-2255")
	at := strings.TrimSuffix(look, "/look")
	page := v.get(look, http.StatusOK)
	has(t, page, "This says that it corrects report AR-26-2255.", "To the decision", "Other reports of this number", "AR-26-2255.pdf", `<span class="state ok">used</span>`, "Look at each of them before you rely on the report.", "It counts:")
	if strings.Contains(page, "While one of them stands") {
		t.Error("it can be decided that it counts, and the page says that nothing of it is used")
	}
	first := link(t, page, "AR-26-2255.pdf")
	has(t, v.get(first, http.StatusOK), "Other reports of this number", "AR-26-2255-corrected.pdf", ">waits</span>")
	has(t, v.get(strings.TrimSuffix(first, "/look"), http.StatusOK), "Other reports of this number", at+"/look")
	code, page := v.post(at+"/rule", url.Values{"form": {formToken(t, page)}, "decision": {"count"}, "by": {"Ilse Marrow"}, "because": {"it corrects lead and zinc"}}, nil)
	if code != http.StatusOK {
		t.Fatal(code)
	}
	has(t, page, "this report counts", "AR-26-2255-corrected.pdf: used", "AR-26-2255.pdf, of the same number, is used as well: if this one takes its place, set that one aside.")
	if other := v.get(first, http.StatusOK); strings.Contains(other, ">waits</span>") {
		t.Error("the other page still says that it waits")
	}
	if page := v.get(link(t, v.get("/reports?q=MB26-0711", http.StatusOK), "MB26-0711"), http.StatusOK); strings.Contains(page, "Other reports of this number") {
		t.Error("a report whose number no other has")
	}
}
