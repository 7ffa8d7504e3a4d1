package mappings

import (
	"fmt"
	"path"
	"slices"
	"strings"

	"example.org/windrow/ingest"
)

// An ExampleResult is what came of one example of a mapping.
type ExampleResult struct {
	Mapping  *Mapping
	Example  *Example
	Expected int              // values and counts that the example states
	Right    int              // of those, found as stated
	Readings int              // read from the whole report
	Problems []*ingest.Reason // one for each expectation not met; empty when the example passes
}

// Open reads a file named in an example, by its path relative to the folder
// of the mapping, in every way that the set's layouts ask for. The reasons are
// those of the whole reading, as what holds a report may be found after its
// mapping was followed.
type Open func(path string) ([]*ingest.Document, []*ingest.Reason, error)

// TestExamples runs the examples of a mapping: each file must be recognised
// as the mapping's, read without a reason to hold it, and give the stated
// values; or be held for the stated reason.
func (s *Set) TestExamples(m *Mapping, open Open) []*ExampleResult {
	var out []*ExampleResult
	for _, e := range m.Examples {
		out = append(out, s.testExample(m, e, open))
	}
	return out
}

func (s *Set) testExample(m *Mapping, e *Example, open Open) *ExampleResult {
	res := &ExampleResult{Mapping: m, Example: e, Expected: len(e.Reads)}
	if e.Count > 0 {
		res.Expected++
	}
	if e.Held != "" {
		res.Expected++
	}
	problem := func(rule, where ingest.Place, what, expected, found, next string) {
		res.Problems = append(res.Problems, &ingest.Reason{Code: "example-differs", Severity: ingest.Fail, Where: where, Rule: rule, What: what, Expected: expected, Found: found, Next: next})
	}
	file := ingest.Place{File: path.Base(e.File)}
	docs, later, err := open(e.File)
	if err != nil {
		if isHeld(e.Held, ingest.AsReason(err)) {
			res.Right++
			return res
		}
		problem(e.Place, file, "the example can't be read", "a readable report", err.Error(), "look at the file; its path counts from the folder of the mapping")
		return res
	}
	match, why := s.Recognise(docs)
	if why != nil {
		if isHeld(e.Held, why) {
			res.Right++
			return res
		}
		problem(e.Place, file, "the example is not recognised: "+why.What, m.Lab, why.Found, why.Next)
		return res
	}
	if match.Mapping != m {
		problem(e.Place, file, "another mapping recognises the example", m.ID, match.Mapping.ID, "make the recognise texts more particular")
		return res
	}
	x := match.Read()
	for _, sm := range x.Samples {
		res.Readings += len(sm.Readings)
	}
	if e.Held != "" {
		found := append(slices.Clone(x.Reasons), later...)
		for _, r := range found {
			if isHeld(e.Held, r) {
				res.Right++
				return res
			}
		}
		others := slices.DeleteFunc(slices.Clone(found), func(r *ingest.Reason) bool {
			return r.Severity != ingest.Hold && r.Severity != ingest.Fail || r.Code == "question-open"
		})
		switch otherForm := slices.ContainsFunc(strings.Split(e.Held, " or "), func(code string) bool { return slices.Contains(changed, code) }); {
		case len(others) == 0 && otherForm:
			// As after a draft of the new layout: its open questions hold every report,
			// and hide that this one is read.
			problem(e.Place, file, "the example is a report in a form that the mapping did not know, and had to be held; the mapping reads it now", "held: "+e.Held, "nothing of the report holds it",
				"if this text is meant to read such reports, as a new layout is, take the line held: out of the example, and write under expect: some values as they stand on the page; if it is not, mend the mapping so that it notices the change")
		case len(others) == 0:
			problem(e.Place, file, "the example should be held, and the mapping reads it", "held: "+e.Held, "nothing of the report holds it", "if the mapping is now meant to read this report, write what stands on it (expect) in the place of held, or take the example away; if not, mend the mapping so that it notices what is amiss")
		default:
			problem(e.Place, file, "the example should be held for one reason, and is held for another", "held: "+e.Held, codes(others), "if the new reason is the right one, write it behind held:; if the mapping is now meant to read this report, mend what holds it first; else mend the mapping so that it notices what it should")
		}
		return res
	}
	for _, r := range x.Reasons {
		if r.Severity == ingest.Hold || r.Severity == ingest.Fail {
			res.Problems = append(res.Problems, r)
		}
	}
	if e.Count > 0 {
		if res.Readings == e.Count {
			res.Right++
		} else {
			problem(e.Place, file, "the number of readings is not the one expected", fmt.Sprint(e.Count), fmt.Sprint(res.Readings), "look at the readings with `windrow show readings`")
		}
	}
	sm := sampleOf(x, e.Sample)
	if sm == nil {
		if len(e.Reads) > 0 {
			problem(e.Place, file, "the example's sample is not in the report", orWord(e.Sample, "one sample"), samplesOf(x), "name the sample with sample: and its number as printed")
		}
		return res
	}
	for _, w := range e.Reads {
		got, at := valueOf(m, sm, w.What)
		if got == w.Want || sm.Fields[FieldID(w.What)].Printed == w.Want {
			res.Right++
			continue
		}
		problem(w.Place, at, fmt.Sprintf("%s of sample %s", w.What, sampleKey(sm)), w.Want, orWord(got, "nothing"), "compare with the page: either the example or the rule is wrong")
	}
	return res
}

// isHeld reports whether a reason is one that the example names: a code, or
// several with "or" between them where it depends on the machine.
func isHeld(held string, r *ingest.Reason) bool {
	return held != "" && r.Severity == ingest.Hold && slices.Contains(strings.Split(held, " or "), r.Code)
}

func codes(rs []*ingest.Reason) string {
	var out []string
	for _, r := range rs {
		if !contains(out, r.Code) {
			out = append(out, r.Code)
		}
	}
	return orWord(listWords(out), "no reason at all")
}

func samplesOf(x *Extract) string {
	var out []string
	for i, s := range x.Samples {
		if i == 8 {
			out = append(out, "...")
			break
		}
		out = append(out, sampleKey(s))
	}
	return orWord(listWords(out), "no sample")
}

func sampleOf(x *Extract, id string) *SampleExtract {
	if id == "" {
		if len(x.Samples) == 1 {
			return x.Samples[0]
		}
		return nil
	}
	for _, s := range x.Samples {
		if s.Fields[LabSampleID].Value == id || s.Fields[ClientSampleID].Value == id {
			return s
		}
	}
	return nil
}

// valueOf is the printed text of a test's reading, or a field's value.
func valueOf(m *Mapping, s *SampleExtract, what string) (string, ingest.Place) {
	if t := m.Test(what); t != nil {
		rd := readingOf(s, t)
		if rd == nil {
			return "", ingest.Place{}
		}
		if rd.Printed == "" {
			return rd.Index, rd.Place
		}
		return rd.Printed, rd.Place
	}
	f := s.Fields[FieldID(what)]
	return f.Value, f.Place
}

// readingOf is the reading of a test, nil where there is none. Of one that is
// printed in two units it is the reading in a unit of the test.
func readingOf(s *SampleExtract, t *Test) (found *Reading) {
	for i := range s.Readings {
		rd := &s.Readings[i]
		if !ofOne(rd, []*Test{t}) {
			continue
		}
		if slices.ContainsFunc(t.Units, func(u string) bool { return normalise(u) == normalise(rd.PrintedUnit) }) {
			return rd
		}
		if found == nil {
			found = rd
		}
	}
	return found
}
