package normalize

import (
	"strings"
	"testing"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
	"example.org/windrow/normalize/check"
)

// reads parses lines such as "Ca 1200 mg/kg mehlich-3-icp": analyte, printed
// number, unit, and optionally method, then key=value pairs.
func reads(lines string) *mappings.SampleExtract {
	s := &mappings.SampleExtract{Fields: map[mappings.FieldID]mappings.Field{}}
	for _, l := range strings.Split(lines, ";") {
		f := strings.Fields(l)
		if len(f) == 1 { // field:value
			k, v, _ := strings.Cut(f[0], ":")
			s.Fields[mappings.FieldID(k)] = mappings.Field{Printed: v, Value: strings.ReplaceAll(v, "_", " ")}
			continue
		}
		rd := mappings.Reading{Analyte: f[0], Printed: f[1], Number: f[1], Unit: f[2], PrintedUnit: f[2]}
		if f[2] == "class" {
			rd.Words, rd.Number = f[1], ""
		}
		for _, x := range f[3:] {
			switch k, v, kv := strings.Cut(x, "="); {
			case !kv:
				rd.Method = x
			case k == "basis":
				rd.Basis = v
			case k == "class":
				rd.RatingClass, rd.Rating = strings.ReplaceAll(v, "_", " "), v
			}
		}
		if f[2] == "lb/acre" {
			rd.Area = slice
		}
		s.Readings = append(s.Readings, rd)
	}
	return s
}

const sound = "pH 6.1 pH ph-water-1-1; CEC 10.0 cmol(+)/kg summation; Ca 1200 mg/kg mehlich-3-icp; Mg 182 mg/kg mehlich-3-icp; K 196 mg/kg mehlich-3-icp; acidity 2.0 cmol(+)/kg sikora-buffer; " +
	"base_sat_Ca 60 % from-cec; base_sat_Mg 15 % from-cec; base_sat_K 5 % from-cec; base_sat_H 20 % from-cec; buffer_pH 6.9 pH sikora-buffer; lab_sample_id:1"

// Every check must find what it is for, and must not find it in a sound
// sample; a check without a case here is a failure.
func TestEveryCheckFinds(t *testing.T) {
	swap := func(old, new string) string {
		if !strings.Contains(sound, old) {
			t.Fatalf("no %q in the sound sample", old)
		}
		return strings.Replace(sound, old, new, 1)
	}
	cases := map[string][]string{
		"impossible-value":      {swap("pH 6.1", "pH 61")},
		"unusual-value":         {"B 480 mg/kg hot-water"},
		"cec-sum":               {swap("CEC 10.0", "CEC 11.0")},
		"saturations-sum":       {swap("base_sat_Ca 60", "base_sat_Ca 57")},
		"saturation-of-cation":  {swap("base_sat_K 5 %", "base_sat_K 9 %")},
		"base-saturation-total": {"CEC 10.0 cmol(+)/kg summation; acidity 2.0 cmol(+)/kg sikora-buffer; base_sat_total 70 % from-cec"},
		"acidity-above-cec":     {"CEC 5.0 cmol(+)/kg summation; acidity 7.0 cmol(+)/kg sikora-buffer"},
		"buffer-above-start":    {"buffer_pH 7.4 pH mehlich-buffer"},
		"buffer-below-soil":     {"pH 6.6 pH ph-water-1-1; buffer_pH 4.9 pH sikora-buffer"},
		"acidity-order":         {"buffer_pH 6.4 pH sikora-buffer; acidity 1.2 cmol(+)/kg sikora-buffer", "buffer_pH 7.2 pH sikora-buffer; acidity 4.9 cmol(+)/kg sikora-buffer"},
		"buffer-not-needed":     {"pH 7.6 pH ph-water-1-1; buffer_pH 7.5 pH sikora-buffer"},
		"sar-of-extract":        {"SAR 9.0 ratio saturated-paste; Na 10.0 meq/L saturated-paste; Ca 5.0 meq/L saturated-paste; Mg 3.0 meq/L saturated-paste"},
		"units-disagree":        {"P 60 lb/acre mehlich-3-icp; P 33 mg/kg mehlich-3-icp"},
		"bases-disagree":        {"P 30 mg/kg mehlich-3-icp; P 60 mg/kg mehlich-3-icp basis=P2O5"},
		"read-twice":            {"P 30 mg/kg mehlich-3-icp; P 31 mg/kg mehlich-3-icp"},
		"particle-sum":          {"sand 40 % hydrometer; silt 40 % hydrometer; clay 30 % hydrometer"},
		"texture-class":         {"sand 80 % hydrometer; silt 12 % hydrometer; clay 8 % hydrometer; texture CL class hydrometer"},
		"extract-above-total":   {"Pb 90 mg/kg mehlich-3-screen; Pb 40 mg/kg total-digestion"},
		"carbon-above-matter":   {"OC 4.1 % combustion; OM 3.2 % loi"},
		"method-unfit":          {"P 30 mg/kg hydrometer"},
		"dates-order":           {"pH 6.1 pH; date_sampled:2026-03-14; date_received:2026-03-10"},
		"sample-number-twice":   {"pH 6.1 pH; lab_sample_id:7", "pH 6.2 pH; lab_sample_id:7"},
		"identical-samples":     {sound, swap("lab_sample_id:1", "lab_sample_id:2")},
		"rating-order":          {"P 30 mg/kg mehlich-3-icp class=high; land_use:lawn", "P 60 mg/kg mehlich-3-icp class=low; land_use:lawn"},
	}
	build := func(samples ...string) *Report {
		ex := &mappings.Extract{Source: ingest.SourceRef{Name: "x.csv", SHA256: strings.Repeat("0", 64)}}
		for _, s := range samples {
			ex.Samples = append(ex.Samples, reads(s))
		}
		return Build(ex, Options{})
	}
	found := func(rep *Report) map[string]Finding {
		m := map[string]Finding{}
		for _, rec := range rep.Records {
			for _, f := range rec.Checks {
				m[f.Check] = f
			}
			for _, res := range rec.Results {
				for _, f := range res.Findings {
					m[f.Check] = f
				}
			}
		}
		return m
	}
	if m := found(build(sound)); len(m) != 0 {
		t.Errorf("found in a sound sample: %v", m)
	}
	for _, c := range check.All() {
		samples, ok := cases[c.Code]
		if !ok {
			t.Errorf("%s has no case", c.Code)
			continue
		}
		delete(cases, c.Code)
		rep := build(samples...)
		f, ok := found(rep)[c.Code]
		if !ok {
			t.Errorf("%s found nothing in %q", c.Code, samples)
			continue
		}
		if f.Severity != c.Severity || f.Source == "" || f.What == "" || bibliography()[f.Source].Key == "" {
			t.Errorf("%s: incomplete finding %+v", c.Code, f)
		}
		want := map[ingest.Severity]Status{ingest.Note: OK, ingest.Flag: Flagged, ingest.Hold: Held}[c.Severity]
		if rep.Status != want && c.Severity != ingest.Note {
			t.Errorf("%s: report is %s, want %s", c.Code, rep.Status, want)
		}
		// A finding never edits a value.
		for i, s := range samples {
			for j, rd := range reads(s).Readings {
				if got := rep.Records[i].Results[j].Printed; got.Text != rd.Printed || got.Number != Decimal(rd.Number) {
					t.Errorf("%s changed what was printed: %+v", c.Code, got)
				}
			}
		}
		t.Logf("%-22s %s", c.Code, f.What)
	}
	for code := range cases {
		t.Errorf("no check has the code %s", code)
	}
}

// Both lb/acre and ppm, and element and oxide, may stand beside each other
// when they agree.
func TestAgreeingPairsPass(t *testing.T) {
	for _, s := range []string{"P 60 lb/acre mehlich-3-icp; P 30 mg/kg mehlich-3-icp", "P 30 mg/kg mehlich-3-icp; P 69 mg/kg mehlich-3-icp basis=P2O5", "K 100 mg/kg mehlich-3-icp; K 120 mg/kg mehlich-3-icp basis=K2O"} {
		rep := Build(&mappings.Extract{Samples: []*mappings.SampleExtract{reads(s)}}, Options{})
		if rep.Status != OK {
			t.Errorf("%s: %+v", s, rep.Records[0].Results[0].Findings)
		}
	}
}
