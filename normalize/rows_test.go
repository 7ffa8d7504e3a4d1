package normalize

import (
	"bytes"
	"encoding/csv"
	"strings"
	"testing"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
)

// The columns are a contract, written out a second time on purpose.
const contract = "file,member,sha256,lab,report_no,lab_sample_id,client_sample_id,client_name,county,date_sampled,date_received,date_reported,land_use,depth_in,analyte,detail,method,printed,printed_unit,basis,censored,missing,value,unit,value_volumetric,rating_printed,place,status,findings,depth_top_in"

func resultsTable(t *testing.T, rep *Report, o RowOptions) []map[string]string {
	t.Helper()
	var b bytes.Buffer
	if err := WriteResults(&b, Rows(rep, o)); err != nil {
		t.Fatal(err)
	}
	if head, _, _ := strings.Cut(b.String(), "\n"); head != contract {
		t.Fatalf("columns are %s", head)
	}
	recs, err := csv.NewReader(&b).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]string
	for _, r := range recs[1:] {
		m := map[string]string{}
		for i, c := range recs[0] {
			m[c] = r[i]
		}
		out = append(out, m)
	}
	return out
}

func TestPlainResultsTable(t *testing.T) {
	s := reads("P 60 mg/dm3 mehlich-3-icp; P 0.5 mg/kg olsen; K 30 % from-cec; lab_sample_id:A-1; client_name:=cmd|'x'; client_sample_id:@bed; report_no:7; date_received:2026-03-02; depth:20/3; county:Finch")
	s.Readings[1].Censor, s.Readings[1].Printed = "<", "<0.5"
	s.Readings[0].Index = "77"
	s.Readings[2] = mappings.Reading{Analyte: "NO3-N", Printed: "--", Missing: "--", Unit: "mg/kg", PrintedUnit: "ppm", Place: ingest.Place{Line: 3, Col: 9}}
	rep := Build(&mappings.Extract{Source: ingest.SourceRef{Name: "a.csv", SHA256: strings.Repeat("0", 64)}, Mapping: mappings.Ref{Lab: "Lab"}, Samples: []*mappings.SampleExtract{s}}, Options{})
	rows := resultsTable(t, rep, RowOptions{})
	for i, want := range []map[string]string{
		{"value": "", "value_volumetric": "60", "unit": "mg/kg", "rating_printed": "77", "method": "Mehlich-3 (ICP)", "client_name": "", "client_sample_id": "'@bed", "depth_in": "6.667", "county": "Finch", "report_no": "7", "status": "ok"},
		{"value": "0.5", "censored": "<", "printed": "<0.5", "unit": "mg/kg", "method": "Olsen", "basis": "P"},
		{"value": "", "missing": "--", "printed": "--", "printed_unit": "ppm", "place": "3:9", "unit": "mg/kg", "method": "not stated"},
	} {
		for k, v := range want {
			if rows[i][k] != v {
				t.Errorf("row %d: %s is %q, want %q", i, k, rows[i][k], v)
			}
		}
	}
	if got := resultsTable(t, Build(&mappings.Extract{Samples: []*mappings.SampleExtract{reads("texture SL class hydrometer")}}, Options{}), RowOptions{})[0]; got["value"] != "SL" || got["unit"] != "class" {
		t.Errorf("texture %v", got)
	}
	if got := resultsTable(t, rep, RowOptions{WithClients: true})[0]["client_name"]; got != "'=cmd|'x'" {
		t.Errorf("client name %q", got)
	}
}

func TestHeldRowsOnlyWhenAsked(t *testing.T) {
	rep := Build(&mappings.Extract{Samples: []*mappings.SampleExtract{reads("P 60 mg/kg mehlich-3-icp")},
		Reasons: []*ingest.Reason{{Code: "unit-differs", Severity: ingest.Hold, What: "x"}, {Code: "by-the-way", Severity: ingest.Note, What: "x"}}}, Options{})
	if rep.Status != Held || len(Rows(rep, RowOptions{})) != 0 {
		t.Fatalf("status %s, %d rows of a held report", rep.Status, len(Rows(rep, RowOptions{})))
	}
	rows := resultsTable(t, rep, RowOptions{WithHeld: true})
	if len(rows) != 1 || rows[0]["status"] != "held" || rows[0]["findings"] != "unit-differs" {
		t.Errorf("%v", rows)
	}
	if len(Rows(nil, RowOptions{WithHeld: true})) != 0 {
		t.Error("rows of no report")
	}
}

func TestSafe(t *testing.T) {
	for in, want := range map[string]string{"": "", "Finch": "Finch", "=1+1": "'=1+1", "+44 1": "'+44 1", "-x": "'-x", "@a": "'@a", "\t=1": "'\t=1", "\n=1": "'\n=1", "  =1": "'  =1", "＝1": "'＝1", "a=1": "a=1"} {
		if got := Safe(in); got != want {
			t.Errorf("%q became %q, want %q", in, got, want)
		}
	}
	for _, in := range []string{"---", "<0.5", "-0.4", "1,614", "17.2*", ""} {
		if got := safePrinted(in); got != in {
			t.Errorf("printed %q became %q", in, got)
		}
	}
	if got := safePrinted("=2+3"); got != "'=2+3" {
		t.Errorf("printed formula became %q", got)
	}
}
