package normalize

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"example.org/windrow/ingest"
)

// asEncoder is what JSON is held against: package json given the whole.
func asEncoder(t *testing.T, r *Report) []byte {
	t.Helper()
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	if err := e.Encode(r); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// JSON writes record by record; the bytes are those of a json.Encoder.
func TestJSONIsThatOfAnEncoder(t *testing.T) {
	nasty := "a \"quoted\" \\ back\nslash {[,:]} \n  \"records\": [] <b>&  \x00 \xff é"
	full := &Record{ID: nasty, Results: []*Result{{Analyte: nasty, Steps: []Step{}, Printed: Printed{Text: nasty, Place: ingest.Place{Page: 1, Box: &ingest.Box{X0: 1.5}}}},
		{Steps: []Step{{Rule: "r", Inputs: []Input{{Name: nasty}}, Interval: &Interval{Percent: 95}}}}}, Checks: []Finding{{What: nasty}}}
	cases := map[string]*Report{
		"empty":       {},
		"no records":  {Records: []*Record{}},
		"a null":      {Records: []*Record{nil}},
		"one":         {Lab: Lab{Name: nasty}, Records: []*Record{full}},
		"with a tail": {Number: nasty, Records: []*Record{full, {}, full, nil}, Reasons: []*ingest.Reason{{What: nasty, Found: nasty}, nil}},
	}
	for _, n := range []int{atOnce - 1, atOnce, atOnce + 1, 2 * atOnce, 2*atOnce + 1, 9*atOnce + 7} {
		r := &Report{Number: nasty}
		for i := range n {
			r.Records = append(r.Records, &Record{ID: fmt.Sprint(i), Checks: []Finding{{What: nasty}}})
		}
		cases[fmt.Sprint(n)] = r
	}
	for name, r := range cases {
		got, err := r.JSON()
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if want := asEncoder(t, r); !bytes.Equal(got, want) {
			t.Errorf("%s: got\n%s\nwant\n%s", name, got, want)
		}
	}
}

// appendIndented writes what json.Indent writes.
func TestAppendIndented(t *testing.T) {
	for _, s := range []string{`{}`, `[]`, `null`, `"a,b:{\"}"`, `-1.5e+3`, `[[],{},[{}],[1,[2,{"a":[true,false,null]}]]]`, `{"a":{"b":{}},"c":"\\"}`, strings.Repeat("[", 40) + "1,{\"a\":2}" + strings.Repeat("]", 40)} {
		var want bytes.Buffer
		if err := json.Indent(&want, []byte(s), "    ", "  "); err != nil {
			t.Fatal(err)
		}
		if got := appendIndented(nil, []byte(s), 2); !bytes.Equal(got, want.Bytes()) {
			t.Errorf("%s: got\n%s\nwant\n%s", s, got, want.Bytes())
		}
	}
}
