package mappings

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"example.org/windrow/ingest"
)

// checkName is a name that a laboratory gives a sample of its own, which it runs
// among its clients' to see that all is well, and againName what it hangs on the
// number of a client's sample that it prints a second time; common practice, no
// source.
var (
	checkName = regexp.MustCompile(`(?i)^(?:(?:(?:method|reagent|calibration|digestion|laboratory|lab|preparation|prep|instrument|equipment) )?blank(?:[ #-]*\d+)?|(?:qc|quality control)\b.*|(?:check|control|reference|ref\.?|std\.?|standard|certified|certified reference|internal|in-house|quality) (?:soil|sample|material|standard|check)\b.*|(?:lcsd?|crm|srm)(?:[ #-]*\d+)?|(?:lab|laboratory|method|matrix) (?:control|duplicate|replicate|spike)\b.*|muestra (?:de )?(?:control|referencia)\b.*|suelo (?:de )?(?:control|referencia|patron|patrón)\b.*|blanco(?: de \pL+)?(?:[ #-]*\d+)?|control de calidad\b.*)$`)
	againName = regexp.MustCompile(`(?i)^[\s/_(-]+(?:(?:19|20)\d\d|dup(?:licate)?\.?|replicate|repeat|re-?run|previous|last year|old|duplicado|repetida|anterior)\s*\)?$`)
)

// checkNames flags a sample that by its name is the laboratory's own, or a
// second printing of another one: the mapping reads it as a client's.
func (r *reader) checkNames() {
	ids, sheets := map[string]bool{}, map[string]bool{}
	for _, s := range r.out.Samples {
		ids[s.Fields[LabSampleID].Value], sheets[s.Place.Sheet] = true, true
	}
	for _, s := range r.out.Samples {
		what := r.ofEarlierSheet(s, sheets)
		id := s.Fields[LabSampleID]
		at := id
		for _, k := range []FieldID{LabSampleID, ClientSampleID} {
			if f := s.Fields[k]; checkName.MatchString(f.Value) {
				what, at = "has a name like a sample that a laboratory runs to check itself", f
			}
		}
		for n := len(id.Value) - 1; n > 2 && what == ""; n-- {
			if ids[id.Value[:n]] && againName.MatchString(id.Value[n:]) {
				what, at = fmt.Sprintf("has the number of sample %s with more behind it, as where its earlier or second results are printed", id.Value[:n]), id
			}
		}
		if what == "" {
			continue
		}
		for i := range s.Readings {
			rd := &s.Readings[i]
			rd.Doubts = append(rd.Doubts, &ingest.Reason{Code: "sample-of-the-laboratory", Severity: ingest.Flag, Where: orPlace(at.Place, s.Place), Rule: at.Rule, What: fmt.Sprintf("the sample %s %s", sampleKey(s), what), Expected: "a client's sample of this report, once", Found: strings.TrimSpace(id.Value + " " + s.Fields[ClientSampleID].Value),
				Next: "look at the report; if the row is no client's sample, add it under skip rows in the mapping, or its sheet under sheets without results, or say with only: which form the numbers of clients' samples have"})
		}
	}
}

// ofEarlierSheet says that a sample stands on a sheet that by its name has
// earlier results, or the laboratory's own samples, where others stand on
// another sheet; "" for any other.
func (r *reader) ofEarlierSheet(s *SampleExtract, sheets map[string]bool) string {
	if len(sheets) < 2 || s.Place.Sheet == "" {
		return ""
	}
	year := 0
	for _, k := range []FieldID{DateReported, DateReceived} {
		if v := s.Fields[k].Value; len(v) > 4 && year == 0 {
			year, _ = strconv.Atoi(v[:4])
		}
	}
	if !EarlierSheet(s.Place.Sheet, year) {
		return ""
	}
	return fmt.Sprintf("stands on the sheet %q, which by its name has earlier results or the laboratory's own samples", s.Place.Sheet)
}

// earlierSheet is a name of a sheet of results that are not the report's own.
var earlierSheet = regexp.MustCompile(`(?i)\b(?:last|previous|prior|past|earlier|former|old) (?:years?|results?|reports?|data|season)\b|^(?:previous|prior|earlier|history|historical|qc|quality control|blanks?|duplicates?|standards?|año anterior|anteriores|control de calidad)(?: (?:data|results|samples|check))?$`)

// yearSheet is a name that is but a year.
var yearSheet = regexp.MustCompile(`(?i)^(?:results?|samples?|soils?|data)?\s*((?:19|20)\d\d)(?:\s+(?:results?|samples?|soils?|data))?$`)

// EarlierSheet reports whether a sheet by its name has results that are not
// those of a report of a year: earlier ones, or of the laboratory's own samples.
// 0 is a year that is not known.
func EarlierSheet(name string, year int) bool {
	if m := yearSheet.FindStringSubmatch(strings.TrimSpace(name)); m != nil {
		of, _ := strconv.Atoi(m[1])
		return of < year
	}
	return earlierSheet.MatchString(strings.TrimSpace(name))
}
