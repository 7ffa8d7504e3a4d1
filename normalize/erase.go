package normalize

import (
	"encoding/json"
	"reflect"
	"slices"
	"strings"

	"example.org/windrow/ingest"
)

// ErasedCode is the code of the reason by which a report says that what told
// who its client is was erased.
const ErasedCode = "erased"

// erasedWord stands where a name was that must not be left empty.
const erasedWord = "erased"

// Erased reports whether what told who the client of a report is was erased.
// Its original is gone then, and it can't be read anew.
func Erased(rep *Report) bool { return hasReason(rep, ErasedCode) }

// WithoutPerson is what stays of a report when the client of some of its
// records asks for erasure; records are their ids, none means all. Of these
// records go the client, the numbers and labels of the sample, the land use as
// printed, the row of the register, and the words of findings; of the report
// go the names of its files and the words of its reasons, and its number where
// nothing else is left. Results, steps, county, dates, and the codes of
// findings and reasons stay. Texts of the client are
// replaced in the findings on other samples and in places. The same report gives the same; one that went through already is
// given back as it is.
func WithoutPerson(rep *Report, records []string) (*Report, error) {
	b, err := rep.JSON()
	if err != nil {
		return nil, err
	}
	out := &Report{}
	if err := json.Unmarshal(b, out); err != nil {
		return nil, err
	}
	all := true
	var secrets []string
	for _, rec := range out.Records {
		if len(records) > 0 && !slices.Contains(records, rec.ID) {
			all = all && rec.Client == nil
			continue
		}
		secrets = append(secrets, PersonTexts(rec)...)
		s := &rec.Sample
		rec.Client, s.LabID, s.ClientLabel, s.LandUseText, s.Register = nil, erasedWord, "", "", nil
		wordless(rec.Checks)
		for _, res := range rec.Results {
			wordless(res.Findings)
		}
	}
	for _, name := range []*string{&out.Source.Name, &out.Source.Member} {
		if *name != "" && *name != erasedWord {
			secrets = append(secrets, *name)
			*name = erasedWord
		}
	}
	if all {
		out.Number = ""
	}
	for _, r := range out.Reasons {
		if r.Code != ErasedCode {
			r.What, r.Expected, r.Found, r.Next = "what was said of this can no longer be told, as the report was erased", "", "", ""
		}
	}
	// The longest first, so that one that is a part of another leaves nothing of it.
	slices.SortFunc(secrets, func(x, y string) int { return len(y) - len(x) })
	(&scrubber{rep.Source.Title(), secrets}).walk(reflect.ValueOf(out).Elem())
	if !Erased(out) {
		out.Reasons = append(out.Reasons, &ingest.Reason{Code: ErasedCode, Severity: ingest.Note, Where: ingest.Place{File: erasedWord},
			What: "what told who the client is was erased at a person's request, and the original with it", Next: "nothing; the results stay, and can't be read anew"})
	}
	return out, nil
}

// leastPersonal is how long a text of a client must be to be looked for in
// other texts: a shorter one is in every second word.
const leastPersonal = 4

// PersonTexts are the texts of a record that tell who its client is.
func PersonTexts(rec *Record) (out []string) {
	texts := []string{rec.Sample.ClientLabel}
	if c := rec.Client; c != nil {
		texts = append(texts, c.Name, c.Address, c.Email, c.Phone)
	}
	for _, s := range texts {
		if s = strings.TrimSpace(s); len(s) >= leastPersonal && s != erasedWord {
			out = append(out, s)
		}
	}
	return out
}

// wordless takes the words from findings, which may quote labels and files.
func wordless(list []Finding) {
	for i := range list {
		f := &list[i]
		f.What, f.Expected, f.Found = "what was found can no longer be told in words, as the report was erased", "", ""
	}
}

// A scrubber takes what tells who somebody is out of places and findings. It
// leaves every other text alone: a client may well call a sample by a word
// that is also a land use, a county or a number.
type scrubber struct {
	file    string // name of the file, with the member where there is one
	secrets []string
}

func (s *scrubber) walk(v reflect.Value) {
	switch v.Kind() {
	case reflect.Pointer, reflect.Interface:
		if !v.IsNil() {
			s.walk(v.Elem())
		}
	case reflect.Slice:
		for i := range v.Len() {
			s.walk(v.Index(i))
		}
	case reflect.Struct:
		switch x := v.Addr().Interface().(type) {
		case *ingest.Place:
			outer, _, _ := strings.Cut(s.file, " > ")
			if x.File == outer || strings.HasPrefix(x.File, outer+" > ") { // and not a mapping
				x.File = erasedWord
			}
			x.Sheet = s.clean(x.Sheet)
			return
		case *Finding:
			x.What, x.Expected, x.Found = s.clean(x.What), s.clean(x.Expected), s.clean(x.Found)
			return
		}
		for i := range v.NumField() {
			if v.Type().Field(i).IsExported() {
				s.walk(v.Field(i))
			}
		}
	}
}

func (s *scrubber) clean(text string) string {
	for _, x := range s.secrets {
		text = strings.ReplaceAll(text, x, erasedWord)
	}
	return text
}
