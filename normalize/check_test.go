package normalize

import (
	"fmt"
	"slices"
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
		if n := strings.TrimLeft(f[1], "<>"); n != f[1] {
			rd.Censor, rd.Number = f[1][:1], n
		}
		if f[1] == "-" { // a cell without a result
			rd.Printed, rd.Number, rd.Missing = "", "", "not run"
		}
		if f[2] == "class" {
			rd.Words, rd.Number = f[1], ""
		}
		for _, x := range f[3:] {
			switch k, v, kv := strings.Cut(x, "="); {
			case !kv:
				rd.Method = x
			case k == "band":
				lo, hi, _ := strings.Cut(v, "..")
				rd.Band = &mappings.Band{Low: lo, High: hi}
			case k == "words":
				rd.PrintedMethod = strings.ReplaceAll(v, "_", " ")
			case k == "basis":
				rd.Basis = v
			case k == "detail":
				rd.Detail = strings.ReplaceAll(v, "_", " ")
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

// row is a sample among nine ordinary ones of a report.
func row(odd string) []string {
	var out []string
	for i := range 9 {
		out = append(out, fmt.Sprintf("lab_sample_id:%d; pH 6.%d pH ph-water-1-1; OM 3.%d %% loi; P %d mg/kg mehlich-3-icp; K %d mg/kg mehlich-3-icp; Ca %d mg/kg mehlich-3-icp; Mg %d mg/kg mehlich-3-icp; Zn 3.%d mg/kg mehlich-3-icp; Cu 1.%d mg/kg mehlich-3-icp",
			i, i, i, 26+i, 180+4*i, 1100+20*i, 150+3*i, i, i))
	}
	return append(out, odd)
}

const earlier = "pH 6.2 pH ph-water-1-1; OM 3.1 % loi; P 34 mg/kg mehlich-3-icp; K 181 mg/kg mehlich-3-icp; Ca 1173 mg/kg mehlich-3-icp; Mg 152 mg/kg mehlich-3-icp; Zn 3.3 mg/kg mehlich-3-icp; "

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
		"mass-or-volume":        {"P 61.4 mg/kg mehlich-3-icp words=Mehlich-3,_volume_basis"},
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
		"rating-scale":          {"P 53 mg/kg mehlich-3-icp class=low band=25..50"},
		// Calcium carbonate in the extract: the cations are more than the CEC.
		"cec-lime":             {"pH 8.1 pH ph-water-1-1; CEC 22.0 cmol(+)/kg summation; Ca 7000 mg/kg mehlich-3-icp; Mg 182 mg/kg mehlich-3-icp; K 196 mg/kg mehlich-3-icp; acidity 0.0 cmol(+)/kg sikora-buffer"},
		"bases-above-cec":      {"pH 6.1 pH ph-water-1-1; CEC 6.0 cmol(+)/kg ammonium-acetate; Ca 1200 mg/kg ammonium-acetate; Mg 182 mg/kg ammonium-acetate"},
		"cec-kinds":            {"pH 5.1 pH ph-water-1-1; CEC 12.0 cmol(+)/kg ammonium-acetate; CEC 9.0 cmol(+)/kg bacl2-tea"},
		"cec-of-soil":          {"pH 6.1 pH ph-water-1-1; CEC 98 cmol(+)/kg; OM 3.1 % loi; clay 18 % hydrometer"},
		"cec-of-matter":        {"pH 6.1 pH ph-water-1-1; CEC 9.0 cmol(+)/kg summation; OM 31 % loi"},
		"density-of-matter":    {"OM 31 % loi; density 1.28 g/cm3 scoop-weight"},
		"ph-order":             {"pH 5.2 pH ph-water-1-1; pH 5.9 pH ph-cacl2-1-1"},
		"ph-apart":             {"pH 7.9 pH ph-water-1-1; pH 5.1 pH ph-cacl2-1-1"},
		"esp-of-sar":           {"SAR 2.0 ratio calculated-sar; base_sat_Na 31 % from-cec"},
		"ec-of-extract":        {"EC 0.62 dS/m saturated-paste; Na 22.0 meq/L saturated-paste; Ca 30.0 meq/L saturated-paste; Mg 11.0 meq/L saturated-paste"},
		"ec-order":             {"EC 0.42 dS/m ph-water-1-1; EC 0.91 dS/m ph-water-1-5"},
		"extract-order":        {"P 61 mg/kg bray-p1; P 42 mg/kg bray-p2"},
		"color-above-icp":      {"P 61 mg/kg mehlich-3-colorimetric; P 42 mg/kg mehlich-3-icp"},
		"nitrogen-above-total": {"TN 0.002 % combustion; NO3-N 24 mg/kg kcl-2m; NH4-N 8 mg/kg kcl-2m"},
		"carbon-of-matter":     {"OC 0.41 % combustion; OM 4.1 % loi"},
		"carbon-to-nitrogen":   {"OC 2.1 % combustion; TN 1.9 % combustion"},
		"dates-future":         {"pH 6.1 pH; date_reported:2026-04-14"},
		"dates-apart":          {"pH 6.1 pH; date_sampled:2024-03-04; date_received:2026-03-06"},
		"shifted-columns":      row("lab_sample_id:9; pH 6.2 pH ph-water-1-1; OM 30 % loi; P 190 mg/kg mehlich-3-icp; K 1150 mg/kg mehlich-3-icp; Ca 160 mg/kg mehlich-3-icp; Mg 14 mg/kg mehlich-3-icp; Zn 1.1 mg/kg mehlich-3-icp; Cu 1.4 mg/kg mehlich-3-icp"),
		"shifted-to-blank":     append(row("")[:4], "lab_sample_id:9; pH 6.2 pH ph-water-1-1; OM 3.0 % loi; P 190 mg/kg mehlich-3-icp; K 1150 mg/kg mehlich-3-icp; Ca 160 mg/kg mehlich-3-icp; Mg 3.3 mg/kg mehlich-3-icp; Zn 1.1 mg/kg mehlich-3-icp; Cu - mg/kg mehlich-3-icp"),
		"exchanged-results":    row("lab_sample_id:9; pH 6.2 pH ph-water-1-1; OM 3.0 % loi; P 195 mg/kg mehlich-3-icp; K 30 mg/kg mehlich-3-icp; Ca 1150 mg/kg mehlich-3-icp; Mg 160 mg/kg mehlich-3-icp; Zn 3.3 mg/kg mehlich-3-icp; Cu 1.1 mg/kg mehlich-3-icp"),
		"decimal-point":        row("lab_sample_id:9; pH 6.2 pH ph-water-1-1; OM 3.0 % loi; P 30 mg/kg mehlich-3-icp; K 190 mg/kg mehlich-3-icp; Ca 1150 mg/kg mehlich-3-icp; Mg 160 mg/kg mehlich-3-icp; Zn 33 mg/kg mehlich-3-icp; Cu 1.1 mg/kg mehlich-3-icp"),
		// The numbers are those of reports that went unnoticed: an acid sulfate-like pH that is organic matter, and
		// phosphorus and calcium that have changed places in a soil near neutral.
		"ph-of-soil":               {"pH 2.9 pH ph-water-1-1; OM 6.3 % loi"},
		"exchanged-amounts":        {"pH 6.6 pH ph-water-1-1; P 1528 mg/kg mehlich-3-icp; K 178 mg/kg mehlich-3-icp; Ca 17 mg/kg mehlich-3-icp"},
		"phosphorus-above-calcium": {"P 1528 mg/kg mehlich-3-icp; Ca 317 mg/kg mehlich-3-icp"},
		"calcium-leads":            {"Ca 139 mg/kg ammonium-acetate; Mg 454 mg/kg ammonium-acetate; K 114 mg/kg ammonium-acetate"},
		"acidity-of-ph":            {"pH 3.8 pH ph-water-1-1; CEC 13.9 cmol(+)/kg summation; base_sat_H 6.5 % from-cec"},
		"buffer-of-ph":             {"pH 3.7 pH ph-water-1-1; buffer_pH 7.4 pH smp-buffer"},
		"depth-unusual":            {"pH 6.1 pH ph-water-1-1; K 114 mg/kg ammonium-acetate; depth:59.055"},
		"sample-number-before":     {"lab_sample_id:77; client_sample_id:Elsewhere; date_reported:2025-04-02; pH 6.3 pH ph-water-1-1; P 31 mg/kg mehlich-3-icp"},
		"results-before":           {earlier + "lab_sample_id:78; date_sampled:2025-03-04; date_reported:2025-03-30"},
		"same-as-last-time":        {earlier + "lab_sample_id:78; client_sample_id:Hill; date_sampled:2026-03-04"},
	}
	before := Build(&mappings.Extract{Source: ingest.SourceRef{Name: "before.csv", SHA256: strings.Repeat("1", 64)},
		Samples: []*mappings.SampleExtract{reads(earlier + "lab_sample_id:77; client_sample_id:Hill; date_sampled:2025-03-04")}}, Options{})
	build := func(samples ...string) *Report {
		ex := &mappings.Extract{Source: ingest.SourceRef{Name: "x.csv", SHA256: strings.Repeat("0", 64)}}
		for _, s := range samples {
			ex.Samples = append(ex.Samples, reads(s))
		}
		return Build(ex, Options{Arrived: "2026-04-01", Earlier: NewMemory(before)})
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
	blank := append(row("")[:9], "lab_sample_id:9; pH 6.2 pH ph-water-1-1; OM 3.0 % loi; P 61 mg/kg mehlich-3-icp; K 90 mg/kg mehlich-3-icp; Ca 2150 mg/kg mehlich-3-icp; Mg 260 mg/kg mehlich-3-icp; Zn 2.3 mg/kg mehlich-3-icp; Cu - mg/kg mehlich-3-icp")
	for _, s := range [][]string{{sound}, blank, row("lab_sample_id:9; " + earlier[:len(earlier)-2])[:9], {earlier + "lab_sample_id:77; client_sample_id:Hill; date_sampled:2025-03-04; date_reported:2025-03-30; Cu 1.1 mg/kg mehlich-3-icp"}} {
		if m := found(build(s...)); len(m) != 0 {
			t.Errorf("found in sound samples: %v", m)
		}
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
		// Where a row has slipped, each of its numbers is in doubt.
		if strings.HasPrefix(c.Code, "shifted-") {
			for _, res := range rep.Records[len(samples)-1].Results {
				if res.Value != "" && !slices.ContainsFunc(res.Findings, func(f Finding) bool { return f.Check == c.Code }) {
					t.Errorf("%s: nothing is said of %s %s", c.Code, res.Analyte, res.Value)
				}
			}
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
// when they agree; a number may stand on the edge of its rating's band, or
// be rounded over it.
func TestAgreeingPairsPass(t *testing.T) {
	for _, s := range []string{"P 60 lb/acre mehlich-3-icp; P 30 mg/kg mehlich-3-icp", "P 30 mg/kg mehlich-3-icp; P 69 mg/kg mehlich-3-icp basis=P2O5", "K 100 mg/kg mehlich-3-icp; K 120 mg/kg mehlich-3-icp basis=K2O",
		"P 25 mg/kg mehlich-3-icp class=low band=..25; K 250.0 mg/kg mehlich-3-icp class=low band=250.04..300; Mg 51 mg/kg mehlich-3-icp class=low band=50.."} {
		rep := Build(&mappings.Extract{Samples: []*mappings.SampleExtract{reads(s)}}, Options{})
		if rep.Status != OK {
			t.Errorf("%s: %+v", s, rep.Records[0].Results[0].Findings)
		}
	}
}
