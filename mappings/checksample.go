package mappings

import (
	"fmt"
	"regexp"
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
	ids := map[string]bool{}
	for _, s := range r.out.Samples {
		ids[s.Fields[LabSampleID].Value] = true
	}
	for _, s := range r.out.Samples {
		what := ""
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
			rd.Doubts = append(rd.Doubts, &ingest.Reason{Code: "sample-of-the-laboratory", Severity: ingest.Flag, Where: orPlace(at.Place, s.Place), Rule: at.Rule, What: fmt.Sprintf("the sample %s %s", sampleKey(s), what), Expected: "a client's sample, once", Found: strings.TrimSpace(id.Value + " " + s.Fields[ClientSampleID].Value),
				Next: "look at the report; if the row is no client's sample, add it under skip rows in the mapping, or say with only: which form the numbers of clients' samples have"})
		}
	}
}
