package normalize

import (
	"fmt"
	"slices"
	"strings"

	"example.org/windrow/ingest"
)

// holdScans holds a report with numbers that were read from a picture, unless
// a person compared each with the picture, or it was read alike twice and is
// borne out by the report itself. A recogniser is often sure and wrong, and a
// lost decimal point looks like a number; so what only the recogniser says
// waits for a person.
func holdScans(rep *Report) {
	numbers, agreed := 0, 0
	var alone []string
	var first *Result
	for _, rec := range rep.Records {
		borne := borneOut(rec)
		for _, res := range rec.Results {
			if res.Printed.OCR == nil || res.Printed.Number == "" {
				continue
			}
			numbers++
			if res.Printed.OCR.Agree {
				agreed++
			}
			if res.Printed.OCR.Proof != nil {
				continue // a person compared it with the picture
			}
			if !res.Printed.OCR.Agree || !borne[res.Analyte] {
				alone = append(alone, fmt.Sprintf("%s %s", res.Analyte, res.Printed.Text))
				if first == nil {
					first = res
				}
			}
		}
	}
	if first == nil {
		return
	}
	list := strings.Join(alone[:min(len(alone), 12)], ", ")
	if len(alone) > 12 {
		list += fmt.Sprintf(" and %d more", len(alone)-12)
	}
	// It stands first: what the recogniser misread looks like a changed form.
	rep.Reasons = slices.Insert(rep.Reasons, 0, &ingest.Reason{Code: "scan-unconfirmed", Severity: ingest.Hold, Where: first.Printed.Place,
		What:     "the numbers were read from a picture of the report, and a person must compare them with it",
		Expected: "every number to be read alike twice and borne out by the sums printed on the report",
		Found:    fmt.Sprintf("%d numbers, %d of them read alike twice; not borne out: %s", numbers, agreed, list),
		Next:     "compare each number with the picture (windrow proof), or ask the laboratory for its electronic copy"})
}

// borneOut are the analytes of a record that the report's own sums support:
// the cations and the acidity that add up to the printed CEC, and the
// saturations that follow from them and add up to a hundred.
func borneOut(rec *Record) map[string]bool {
	has, doubted := map[string]bool{}, map[string]bool{}
	summed := false // only a CEC that is a sum can bear out what it is the sum of
	for _, res := range rec.Results {
		summed = summed || res.Analyte == "CEC" && res.Method == "summation"
		if res.Value != "" {
			has[res.Analyte] = true
		}
		for _, f := range res.Findings {
			if f.Severity != ingest.Note {
				doubted[res.Analyte] = true
			}
		}
	}
	for _, f := range rec.Checks {
		if f.Severity != ingest.Note {
			return nil
		}
	}
	out := map[string]bool{}
	support := func(group ...string) {
		for _, a := range group {
			if has[a] && doubted[a] {
				return
			}
		}
		for _, a := range group {
			out[a] = has[a]
		}
	}
	if summed && has["CEC"] && has["Ca"] && has["Mg"] && has["K"] && has["acidity"] {
		support("CEC", "Ca", "Mg", "K", "Na", "acidity")
		if has["base_sat_Ca"] && has["base_sat_Mg"] && has["base_sat_K"] && has["base_sat_H"] {
			support("base_sat_Ca", "base_sat_Mg", "base_sat_K", "base_sat_Na", "base_sat_H")
		}
	}
	return out
}
