package web_test

import (
	"encoding/json"
	"net/http"
	"strings"
	"testing"

	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive"
)

// Between two versions a person is told which values differ, what else, and why,
// in words and in the language of the page.
func TestVersionsSayWhatDiffers(t *testing.T) {
	d := ownDesk(t, theReport(t, "TG-26-01402.pdf"))
	report := first(t, visit(t, d).get("/reports", http.StatusOK), "/report/")
	id := strings.TrimPrefix(report, "/report/")
	b, err := d.off.Archive.Version(archive.Reports, id, 1)
	if err != nil {
		t.Fatal(err)
	}
	rep := &normalize.Report{}
	if err := json.Unmarshal(b, rep); err != nil {
		t.Fatal(err)
	}
	rep.Status, rep.Mapping.SHA256 = normalize.Flagged, strings.Repeat("1", 64)
	rep.Records[0].Sample.LandUse = "lawn"
	changed := 0
	for i := range rep.Records[0].Results {
		switch x := rep.Records[0].Results[i]; x.Analyte {
		case "K":
			x.Value, x.Basis = "38.19", "K2O"
			changed++
		case "Fe":
			x.Method, x.MethodName = "dtpa", "DTPA"
			changed++
		case "CEC":
			x.Status = normalize.Flagged
			x.Findings = append(x.Findings, normalize.Finding{Check: "saturation-of-cation", What: "the printed potassium saturation is not its share of the printed CEC"})
			changed++
		}
	}
	if changed != 3 {
		t.Fatalf("the report has %d of the three results", changed)
	}
	if b, err = json.Marshal(rep); err != nil {
		t.Fatal(err)
	}
	if _, _, err := d.off.Archive.PutReport(id, b); err != nil {
		t.Fatal(err)
	}
	v := visit(t, d)
	page := v.get(report+"/versions", http.StatusOK)
	has(t, page, "2 versions", "Version 2", "state: used → used, marked", "use of the land: community garden → lawn",
		"potassium", "46 mg/kg", "<strong>38.19 mg/kg</strong>", "expressed as:", "K2O", "the mapping",
		"iron", "the same", "method: Mehlich-3 (ICP) → DTPA", "cation exchange capacity", "state: used → used, marked", "what the checks found: nothing → the printed potassium saturation is not its share of the printed CEC", "Version 1")
	code, to := v.choose(t, page, "es", report+"/versions")
	if code != http.StatusSeeOther {
		t.Fatal(code, to)
	}
	page = v.get(report+"/versions", http.StatusOK)
	has(t, page, "2 versiones", "estado: en uso → en uso, con marca", "uso del suelo: huerto comunitario → césped", "potasio", "expresado como", "el mapeo", "hierro", "igual", "método: Mehlich-3 (ICP) → DTPA", "lo que hallaron las comprobaciones: nada → la saturación")
	p := sitDown(t, d)
	p.look("versions-differ", report+"/versions")
}
