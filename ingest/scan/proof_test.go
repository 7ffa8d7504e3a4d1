package scan

import (
	"reflect"
	"strings"
	"testing"
	"time"

	"example.org/windrow/ingest"
)

func scanned() *ingest.Document {
	box := func(x float64) ingest.Box { return ingest.Box{X0: x, Y0: 10, X1: x + 20, Y1: 20} }
	src := ingest.NewSource("a.png", []byte("bytes"))
	return &ingest.Document{Source: src.Ref(), Format: ingest.PDF, Pages: []*ingest.Page{{Number: 1, Width: 600, Height: 800, Scan: &ingest.Scan{DPI: 300}, Words: []ingest.Word{
		{Text: "pH", Box: box(10), Base: 20, Size: 10, OCR: &ingest.OCR{Confidence: 90, Second: "pH", Agree: true}},
		{Text: "6l", Box: box(40), Base: 20, Size: 10, OCR: &ingest.OCR{Confidence: 50, Second: "6.1"}},
		{Text: "'", Box: box(70), Base: 20, Size: 10, OCR: &ingest.OCR{Confidence: 20}},
	}}}}
}

var proofDay = time.Date(2026, 3, 9, 8, 30, 0, 5, time.UTC)

// TestProve: what a person corrects is so, says who and what was read before,
// and comes back the same from the archive; the rest is no surer than it was;
// the document that was given is not touched.
func TestProve(t *testing.T) {
	doc := scanned()
	p, err := Prove(doc, []Correction{{Page: 1, Word: 2, Says: "6.1"}, {Page: 1, Word: 3}, {Page: 1, Box: ingest.Box{X0: 100, Y0: 13, X1: 120, Y1: 20}, Says: "6.2-6.8"}}, "R1", " Ilse Marrow ", proofDay)
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(doc, scanned()) {
		t.Error("the document was changed")
	}
	b, err := p.JSON()
	if err != nil {
		t.Fatal(err)
	}
	if p, err = ParseProof(b); err != nil {
		t.Fatal(err)
	}
	src := ingest.NewSource("b.png", []byte("bytes"))
	got, err := p.Document(src)
	if err != nil {
		t.Fatal(err)
	}
	w := got.Pages[0].Words
	seen := ingest.Proofread{By: "Ilse Marrow", On: "2026-03-09"}
	misread, missed := seen, seen
	misread.Read, missed.Read = "6l", Nothing
	want := []ingest.Word{
		scanned().Pages[0].Words[0],
		{Text: "6.1", Box: scanned().Pages[0].Words[1].Box, Base: 20, Size: 10, OCR: &ingest.OCR{Confidence: 50, Second: "6.1", Agree: true, Proof: &misread}},
		{Text: "6.2-6.8", Box: ingest.Box{X0: 100, Y0: 13, X1: 120, Y1: 20}, Base: 20, Size: 10, OCR: &ingest.OCR{Agree: true, Proof: &missed}},
	}
	if !reflect.DeepEqual(w, want) {
		t.Errorf("words %+v", w)
	}
	if got.Source.Name != "b.png" || !got.Scanned() || len(got.Notes) != 1 || got.Notes[0].Found != "3 words, of which 2 were compared and 2 read otherwise than by the program" {
		t.Errorf("document %+v, %v", got, got.Notes)
	}
	if _, err := p.Document(ingest.NewSource("a.png", []byte("others"))); ingest.AsReason(err).Code != "proof-damaged" {
		t.Errorf("a proof of other bytes: %v", err)
	}
}

// TestProveRefuses refuses what does not fit the picture, and proofs that are
// not whole.
func TestProveRefuses(t *testing.T) {
	on := func(x0, y0, x1, y1 float64) ingest.Box { return ingest.Box{X0: x0, Y0: y0, X1: x1, Y1: y1} }
	for _, c := range []struct {
		list []Correction
		want string
	}{
		{[]Correction{{Page: 2, Word: 1, Says: "x"}}, "there is no page 2"},
		{[]Correction{{Page: 1, Word: 4, Says: "x"}}, "has no word 4"},
		{[]Correction{{Page: 1, Word: -1, Says: "x"}}, "has no word -1"},
		{[]Correction{{Page: 1, Word: 1, Says: "x"}, {Page: 1, Word: 1, Says: "y"}}, "is there twice"},
		{[]Correction{{Page: 1, Word: 1, Says: " x"}}, "begins or ends with a blank"},
		{[]Correction{{Page: 1, Says: "x"}}, "is not on page 1"},
		{[]Correction{{Page: 1, Says: "x", Box: on(10, 10, 601, 20)}}, "is not on page 1"},
		{[]Correction{{Page: 1, Box: on(10, 10, 60, 20)}}, "says nothing"},
	} {
		if _, err := Prove(scanned(), c.list, "R1", "x", proofDay); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%+v: %v, want %s", c.list, err, c.want)
		}
	}
	p, err := Prove(scanned(), nil, "R1", "x", proofDay)
	if err != nil {
		t.Fatal(err)
	}
	for name, spoil := range map[string]func(*Proof){
		"schema":  func(p *Proof) { p.Schema = "windrow-proof/9" },
		"nobody":  func(p *Proof) { p.By = "" },
		"no day":  func(p *Proof) { p.On = time.Time{} },
		"no page": func(p *Proof) { p.Pages = nil },
		"order":   func(p *Proof) { p.Pages[0].Number = 2 },
		"no scan": func(p *Proof) { p.Pages[0].Scan = nil },
		"no word": func(p *Proof) { p.Pages[0].Words[0].Text = "" },
		"no ocr":  func(p *Proof) { p.Pages[0].Words[0].OCR = nil },
	} {
		q, err := Prove(scanned(), nil, "R1", "x", proofDay)
		if err != nil {
			t.Fatal(err)
		}
		spoil(q)
		b, err := q.JSON()
		if err != nil {
			t.Fatal(err)
		}
		if _, err := ParseProof(b); err == nil {
			t.Errorf("%s: it passes", name)
		}
	}
	b, _ := p.JSON()
	if _, err := ParseProof([]byte(strings.Replace(string(b), `"by"`, `"buy"`, 1))); err == nil {
		t.Error("an unknown field passes")
	}
}
