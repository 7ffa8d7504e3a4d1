package normalize

import (
	"fmt"
	"strings"
	"testing"

	"example.org/windrow/mappings"
)

// alone reads one sample as a report of its own, and gives the checks that
// flagged or held something of it.
func alone(s string) (codes map[string]bool, status Status) {
	rep := Build(&mappings.Extract{Samples: []*mappings.SampleExtract{reads(s)}}, Options{})
	return spoken(rep), rep.Status
}

// Where the lines lie that need no other sample to compare with: on the one
// side what soils do have, on the other what they don't. Common practice, no
// source, but where a line names one.
func TestLinesForOneSample(t *testing.T) {
	for _, c := range []struct {
		code, in, out string
	}{
		// Classes of soil reaction, USDA Soil Survey Manual (from memory): ultra acid to very strongly alkaline.
		{"ph-of-soil", "pH 3.0 pH ph-water-1-1", "pH 2.9 pH ph-water-1-1"},
		{"ph-of-soil", "pH 10.5 pH ph-water-1-1", "pH 14.0 pH ph-water-1-1"},
		{"ph-of-soil", "pH 2.6 pH ph-cacl2-1-1", "pH 2.4 pH ph-kcl"},
		// Exchangeable aluminium below pH 5: Kamprath 1970 (from memory). A salty soil is more acid than its bases say.
		{"acidity-of-ph", "pH 4.2 pH ph-water-1-1; base_sat_H 31 % from-cec", "pH 4.2 pH ph-water-1-1; base_sat_H 20.8 % from-cec"},
		{"acidity-of-ph", "pH 4.2 pH ph-water-1-1; EC 4.1 dS/m ph-water-1-1; base_sat_H 20.8 % from-cec", "pH 3.7 pH ph-water-1-1; base_sat_H 0.0 % from-cec"},
		{"acidity-of-ph", "pH 4.2 pH ph-cacl2-1-1; base_sat_H 20.8 % from-cec", "pH 3.5 pH ph-cacl2-1-1; base_sat_H 6.5 % from-cec"},
		// Acidity that isn't printed is what the bases leave: 81 % of it can't be at pH 6.6, and may be at 4.6.
		{"acidity-of-ph", "pH 4.6 pH ph-water-1-1; CEC 10.4 cmol(+)/kg summation; Ca 170 mg/kg mehlich-3-icp; Mg 90 mg/kg mehlich-3-icp; K 80 mg/kg mehlich-3-icp",
			"pH 6.6 pH ph-water-1-1; CEC 10.4 cmol(+)/kg summation; Ca 17 mg/kg mehlich-3-icp; Mg 176 mg/kg mehlich-3-icp; K 178 mg/kg mehlich-3-icp"},
		// A base below a limit is at most the limit: here a row has slipped by a cell, and 101 is last year's potassium.
		{"acidity-of-ph", "pH 5.8 pH ph-water-1-1; CEC 8.4 cmol(+)/kg summation; Ca 940 mg/kg mehlich-3-icp; Mg <9 mg/kg mehlich-3-icp; K 101 mg/kg mehlich-3-icp",
			"pH 5.8 pH ph-water-1-1; CEC 101 cmol(+)/kg summation; Ca 88 mg/kg mehlich-3-icp; Mg <0.4 mg/kg mehlich-3-icp; K 101 mg/kg mehlich-3-icp"},
		// A CEC at pH 8.2 has acidity that a neutral soil doesn't show (Rayment and Lyons 2011, method 15).
		{"acidity-of-ph", "pH 6.6 pH ph-water-1-1; CEC 20 cmol(+)/kg bacl2-tea; Ca 1600 mg/kg ammonium-acetate; Mg 176 mg/kg ammonium-acetate; K 178 mg/kg ammonium-acetate",
			"pH 6.6 pH ph-water-1-1; CEC 20 cmol(+)/kg ammonium-acetate; Ca 1600 mg/kg ammonium-acetate; Mg 176 mg/kg ammonium-acetate; K 178 mg/kg ammonium-acetate"},
		{"buffer-of-ph", "pH 4.3 pH ph-water-1-1; buffer_pH 7.1 pH smp-buffer", "pH 4.3 pH ph-water-1-1; buffer_pH 7.1 pH smp-buffer; Ca 1624 mg/kg ammonium-acetate"},
		{"buffer-of-ph", "pH 4.6 pH ph-water-1-1; buffer_pH 7.3 pH smp-buffer", "pH 3.8 pH ph-water-1-1; buffer_pH 7.3 pH smp-buffer"},
		// Humus at pH 5.5 has 51 pH - 59 = 220 cmol(+)/kg: Helling, Chesters and Corey 1964 (from memory).
		{"cec-of-matter", "pH 6.3 pH ph-water-1-1; OM 32 % walkley-black; CEC 26 cmol(+)/kg summation; acidity 1.2 cmol(+)/kg kcl-1m", "pH 6.3 pH ph-water-1-1; OM 32 % walkley-black; CEC 9.6 cmol(+)/kg summation; acidity 1.2 cmol(+)/kg kcl-1m"},
		{"cec-of-matter", "pH 4.6 pH ph-water-1-1; OM 17 % loi; CEC 10.4 cmol(+)/kg summation", "pH 6.6 pH ph-water-1-1; OM 17 % loi; CEC 10.4 cmol(+)/kg summation"},
		{"phosphorus-above-calcium", "P 390 mg/kg mehlich-3-icp; Ca 400 mg/kg mehlich-3-icp", "P 390 mg/kg mehlich-3-icp; Ca 300 mg/kg mehlich-3-icp"},
		{"phosphorus-above-calcium", "P 900 mg/kg total-digestion; Ca 400 mg/kg mehlich-3-icp", "P 900 mg/kg bray-p2; Ca 400 mg/kg ammonium-acetate"},
		{"calcium-leads", "Ca 400 mg/kg mehlich-3-icp; K 700 mg/kg mehlich-3-icp", "Ca 400 mg/kg mehlich-3-icp; K 900 mg/kg mehlich-3-icp"},
		{"calcium-leads", "Ca 400 mg/kg mehlich-3-icp; Mg 900 mg/kg mehlich-3-icp", "Ca 400 mg/kg mehlich-3-icp; Mg 1100 mg/kg mehlich-3-icp"},
		{"exchanged-amounts", "P 5 mg/kg mehlich-3-icp; OM 12 % loi", "P 2.3 mg/kg mehlich-3-icp; OM 17 % loi"},
		{"exchanged-amounts", "Ca 400 mg/kg mehlich-3-icp; Mg 400 mg/kg mehlich-3-icp", "Ca 150 mg/kg mehlich-3-icp; Mg 1500 mg/kg mehlich-3-icp"},
		{"exchanged-amounts", "P 5 mg/kg mehlich-3-icp; Zn 20 mg/kg mehlich-3-icp", "P 1.2 mg/kg mehlich-3-icp; Zn 60 mg/kg mehlich-3-icp"},
		// Two feet, and four for nitrate.
		{"depth-unusual", "pH 6.1 pH ph-water-1-1; depth:24", "pH 6.1 pH ph-water-1-1; depth:59.055"},
		{"depth-unusual", "NO3-N 6.1 mg/kg kcl-2m; depth:48", "NO3-N 6.1 mg/kg kcl-2m; depth:59.055"},
	} {
		if codes, _ := alone(c.in); codes[c.code] {
			t.Errorf("%s speaks of %s", c.code, c.in)
		}
		codes, status := alone(c.out)
		if !codes[c.code] || status == OK {
			t.Errorf("%s says nothing of %s: %s, %v", c.code, c.out, status, codes)
		}
	}
}

// The soils of two surveys (Horton, Russell and Moore 1968; Burrough and
// McDonnell 1998) and the raw humus of a third (Väre, Ohtonen and Oksanen
// 1995), each sample as a report of its own: the lines for one sample find
// fault with none of the soils, and hold no humus but that below pH 3.
func TestLinesLeaveRealSoilsAlone(t *testing.T) {
	ours := []string{"ph-of-soil", "exchanged-amounts", "acidity-of-ph", "calcium-leads", "phosphorus-above-calcium", "cec-of-matter"}
	for _, c := range []struct {
		name string
		cols [][3]string // column, analyte and what stands after the number
	}{
		{"soils", [][3]string{{"pH", "pH", "pH ph-water-1-5"}, {"P", "P", "mg/kg"}, {"Ca", "Ca", "cmol(+)/kg"}, {"Mg", "Mg", "cmol(+)/kg"}, {"K", "K", "cmol(+)/kg"}}},
		{"oxford", [][3]string{{"PH1", "pH", "pH ph-water-1-2.5"}, {"OM1", "OM", "% loi"}, {"CEC1", "CEC", "cmol(+)/kg ammonium-acetate"}, {"PHOS1", "P", "mg/kg"}, {"POT1", "K", "mg/kg"}, {"MG1", "Mg", "mg/kg"}}},
		{"varechem", [][3]string{{"pH", "pH", "pH"}, {"P", "P", "mg/kg"}, {"K", "K", "mg/kg"}, {"Ca", "Ca", "mg/kg"}, {"Mg", "Mg", "mg/kg"}}},
	} {
		s := readSoils(t, c.name)
		held := 0
		for i := range s.rows {
			var b strings.Builder
			low := false
			for _, k := range c.cols {
				v := s.col[k[0]][i]
				fmt.Fprintf(&b, "%s %s %s; ", k[1], v, k[2])
				low = low || k[1] == "pH" && v < "3"
			}
			codes, _ := alone(strings.TrimSuffix(b.String(), "; "))
			for _, code := range ours {
				switch {
				case code == "ph-of-soil" && low:
					if !codes[code] {
						t.Errorf("%s: %s is not held", c.name, b.String())
					}
					held++
				case codes[code]:
					t.Errorf("%s: %s speaks of %s", c.name, code, b.String())
				}
			}
		}
		if (c.name == "varechem") != (held > 0) {
			t.Errorf("%s: %d held", c.name, held)
		}
		t.Logf("%s: %d samples, %d held for their pH", c.name, s.rows, held)
	}
}
