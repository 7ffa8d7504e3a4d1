package normalize

import (
	"encoding/csv"
	"fmt"
	"math/rand/v2"
	"os/exec"
	"strings"
	"testing"

	"example.org/windrow/mappings"
)

// realSoils prints the open data of three surveys that Debian's r-cran-sp and
// r-cran-gstat carry: the Meuse floodplain (155 samples; heavy metals and
// organic matter), the Swiss Jura (259; heavy metals) and Oxfordshire (126;
// pH, organic matter, CEC, phosphorus, potassium, magnesium, clay).
const realSoils = `suppressMessages({library(sp); library(gstat)})
out <- function(name, d) for (i in seq_len(nrow(d))) cat(name, i, paste(names(d), d[i,], sep="="), sep=",", fill=FALSE, "\n")
data(meuse); out("meuse", setNames(meuse[,c("cadmium","copper","lead","zinc","om")], c("Cd","Cu","Pb","Zn","OM")))
data(jura); out("jura", setNames(jura.pred[,c("Cd","Cr","Cu","Ni","Pb","Zn")], c("Cd","Cr","Cu","Ni","Pb","Zn")))
data(oxford); out("oxford", setNames(oxford[,c("PH1","OM1","CEC1","PHOS1","POT1","MG1","PCLAY1")], c("pH","OM","CEC","P","K","Mg","clay")))`

// How often are sound samples of the world found fault with? Reports of twelve
// samples are drawn at random from three surveys of polluted and ordinary
// soils, whose fields differ more than those of one client do.
func TestRealSoilsRaiseFewAlarms(t *testing.T) {
	r, err := exec.LookPath("Rscript")
	if err != nil {
		t.Skip("Rscript is not installed: apt-get install r-base-core r-cran-sp r-cran-gstat")
	}
	b, err := exec.Command(r, "-e", realSoils).Output() //nolint:gosec // a constant
	if err != nil {
		t.Skip("R has not the packages sp and gstat: apt-get install r-cran-sp r-cran-gstat")
	}
	unit := map[string][2]string{"pH": {"pH", "ph-water-1-2.5"}, "OM": {"%", "loi"}, "CEC": {"cmol(+)/kg", ""}, "P": {"mg/kg", ""}, "K": {"mg/kg", ""}, "Mg": {"mg/kg", ""}, "clay": {"%", "hydrometer"}}
	surveys := map[string][]*mappings.SampleExtract{}
	for _, l := range strings.Split(string(b), "\n") {
		f, err := csv.NewReader(strings.NewReader(l)).Read()
		if err != nil || len(f) < 4 {
			continue
		}
		s := &mappings.SampleExtract{Fields: map[mappings.FieldID]mappings.Field{mappings.LabSampleID: {Value: f[1]}}}
		for _, x := range f[2:] {
			a, v, ok := strings.Cut(strings.TrimSpace(x), "=")
			if !ok || v == "NA" {
				continue
			}
			u, known := unit[a]
			if !known {
				u = [2]string{"mg/kg", "total-digestion"}
			}
			s.Readings = append(s.Readings, mappings.Reading{Analyte: a, Printed: v, Number: v, Unit: u[0], PrintedUnit: u[0], Method: u[1]})
		}
		surveys[f[0]] = append(surveys[f[0]], s)
	}
	for name, least := range map[string]int{"meuse": 155, "jura": 259, "oxford": 126} {
		all := surveys[name]
		if len(all) != least {
			t.Errorf("%s has %d samples, not %d", name, len(all), least)
			continue
		}
		rd := rand.New(rand.NewPCG(7, 1911)) //nolint:gosec // the same reports each time are wanted
		samples, alarms, by := 0, 0, map[string]int{}
		for range 200 {
			ex := &mappings.Extract{}
			for _, k := range rd.Perm(len(all))[:12] {
				ex.Samples = append(ex.Samples, all[k])
			}
			for _, rec := range Build(ex, Options{}).Records {
				samples++
				if rec.Status != OK {
					alarms++
				}
				fs := rec.Checks
				for _, res := range rec.Results {
					fs = append(fs, res.Findings...)
				}
				for _, f := range fs {
					by[f.Check+" "+string(f.Severity)]++
					if by[f.Check+" "+string(f.Severity)] <= 2 {
						t.Logf("   %s: %s", f.Check, f.What)
					}
				}
			}
		}
		rate := 100 * float64(alarms) / float64(samples)
		t.Logf("%s: %d samples in 200 reports, %.2f %% flagged %s", name, samples, rate, fmt.Sprint(by))
		if rate > 1 {
			t.Errorf("%s: %.2f %% of real samples are flagged", name, rate)
		}
	}
}
