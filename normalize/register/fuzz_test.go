package register

import (
	"context"
	"strconv"
	"strings"
	"testing"
	"time"

	"example.org/windrow/ingest"
	"example.org/windrow/ingest/delimited"
	"example.org/windrow/normalize"
)

// Whatever is in the file, there is a register or a reason, every row has a
// label, a calendar date or none and an area that reads again as itself, and
// no reason repeats an address.
func FuzzRead(f *testing.F) {
	for _, s := range []string{
		"label,client,date sent\na,b,2026-01-02\n", "label,client,date sent (d/m/y),area (acres)\nx,,3/12/2026,1/4\n", "sample,name,sent,size,e-mail\n1,\"Quill, Ada\",March 3 2026,20' x 3',a@quill.example\n",
		"label,client\n", ",,,\n", "label,label,client,sent\n", "title\n\nLABEL,Client,Sent\n\x00", "label,client,sent,area\na,b,1/1/2026,1e999999999 sq ft\na,b,1/1/2026,1/0 acre\n",
	} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		doc, err := delimited.New(ingest.Dialect{Encoding: "utf-8", Delimiter: ","}).Read(context.Background(), ingest.NewSource("register.csv", []byte(text)), ingest.Limits{})
		if err != nil {
			return
		}
		r, reasons := Read(doc)
		if (r == nil) == (len(reasons) == 0) {
			t.Fatalf("%v, %v", r, reasons)
		}
		if r == nil && reasons[0].Severity != ingest.Fail {
			t.Errorf("no register, and first of all %v", reasons[0])
		}
		for _, x := range reasons {
			if x.Severity != ingest.Fail && x.Severity != ingest.Flag || x.Code == "" || x.What == "" || x.Where.File == "" {
				t.Errorf("%+v", x)
			}
		}
		if r == nil {
			return
		}
		ids := map[string]bool{}
		for _, x := range r.Rows {
			if x.Label == "" || !r.Could(normalize.Lab{Name: x.Lab}, &normalize.Sample{ClientLabel: x.Label}) || ids[x.ID] {
				t.Errorf("%+v", x)
			}
			ids[x.ID] = true
			if _, err := time.Parse(time.DateOnly, x.Sent); x.Sent != "" && err != nil {
				t.Errorf("date %q", x.Sent)
			}
			if x.AreaSqFt != "" {
				n, err := strconv.ParseFloat(x.AreaSqFt, 64)
				again, wrong := parseArea(x.AreaSqFt+" sq ft", "")
				if err != nil || n <= 0 || again != x.AreaSqFt || wrong != "" {
					t.Errorf("area %q reads as %q, %s", x.AreaSqFt, again, wrong)
				}
			}
			if x.Email != "" && strings.Count(x.Email, "@") < 1 {
				t.Errorf("address %q", x.Email)
			}
			for _, n := range r.Notes {
				if x.Email != "" && len(x.Email) > 6 && strings.Contains(n.Error(), x.Email) && n.Code != CodeUnknown && n.Code != CodeLandUse {
					t.Errorf("an address is told: %s", n.Error())
				}
			}
		}
	})
}
