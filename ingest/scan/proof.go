package scan

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"math"
	"slices"
	"strings"
	"time"

	"example.org/windrow/ingest"
)

// ProofSchema is the version of the form of proofs that this code writes.
const ProofSchema = "windrow-proof/1"

// A Proof is a picture's text as a person compared it with the picture. It
// holds all words of all pages, so that the report is read from it alone
// afterwards: another recogniser, or none, makes no other report of it.
type Proof struct {
	Schema string         `json:"schema"`
	Report string         `json:"id"`     // of the report, and so of the proof
	SHA256 string         `json:"sha256"` // of the bytes that the picture is in
	By     string         `json:"by"`     // who compared
	On     time.Time      `json:"on"`     // UTC, to the second
	Pages  []*ingest.Page `json:"pages"`
}

// A Correction is what a person sees where a word stands, or where the
// recogniser saw none.
type Correction struct {
	Page int        // number of the page, from 1
	Word int        // number of the word on the page, from 1; 0 for one that the recogniser missed
	Box  ingest.Box // of a missed word, in points; not used for others
	Says string     // what stands there; "" for nothing, such as a speck
}

// Nothing is how a person says that there is no word.
const Nothing = "(nothing)"

// Prove makes a proof of the document of a scan. A word that no correction
// is about stays as the recogniser left it, and no more sure. Corrections of
// words that are not there, and missed words off the page, are an error.
func Prove(doc *ingest.Document, corrections []Correction, report, by string, on time.Time) (*Proof, error) {
	p := &Proof{Schema: ProofSchema, Report: report, SHA256: doc.Source.SHA256, By: strings.TrimSpace(by), On: on.UTC().Truncate(time.Second)}
	seen := ingest.Proofread{By: p.By, On: p.On.Format(time.DateOnly)}
	at := map[int]*ingest.Page{}
	gone := map[*ingest.Page][]int{}
	for _, page := range doc.Pages {
		c := *page
		c.Words = slices.Clone(page.Words)
		p.Pages, at[c.Number] = append(p.Pages, &c), &c
	}
	done := map[[2]int]bool{}
	for _, c := range corrections {
		page := at[c.Page]
		if page == nil {
			return nil, fmt.Errorf("there is no page %d", c.Page)
		}
		if c.Says != strings.TrimSpace(c.Says) {
			return nil, fmt.Errorf("%q begins or ends with a blank", c.Says)
		}
		if c.Word == 0 {
			b := c.Box
			if !(b.X0 >= 0 && b.Y0 >= 0 && b.X1 > b.X0 && b.Y1 > b.Y0 && b.X1 <= page.Width && b.Y1 <= page.Height) {
				return nil, fmt.Errorf("the box %s is not on page %d", ingest.Place{Page: c.Page, Box: &b}.Inside(), c.Page)
			}
			if c.Says == "" {
				return nil, errors.New("a word that was missed says nothing")
			}
			was := seen
			was.Read = Nothing
			page.Words = append(page.Words, ingest.Word{Text: c.Says, Box: b, Base: b.Y1, Size: round(b.Height() / capHeight), OCR: &ingest.OCR{Agree: true, Proof: &was}})
			continue
		}
		if c.Word < 1 || c.Word > len(page.Words) || page.Words[c.Word-1].OCR == nil {
			return nil, fmt.Errorf("page %d has no word %d that was read from a picture", c.Page, c.Word)
		}
		if done[[2]int{c.Page, c.Word}] {
			return nil, fmt.Errorf("word %d of page %d is there twice", c.Word, c.Page)
		}
		done[[2]int{c.Page, c.Word}] = true
		if c.Says == "" {
			gone[page] = append(gone[page], c.Word-1)
			continue
		}
		w := &page.Words[c.Word-1]
		was, o := seen, *w.OCR
		if w.Text != c.Says {
			was.Read = w.Text
		}
		o.Agree, o.Proof = true, &was
		w.Text, w.OCR = c.Says, &o
	}
	for page, list := range gone {
		slices.Sort(list)
		for _, i := range slices.Backward(list) {
			page.Words = slices.Delete(page.Words, i, i+1)
		}
	}
	return p, p.check()
}

// ParseProof reads a proof and refuses one that is not whole.
func ParseProof(b []byte) (*Proof, error) {
	d := json.NewDecoder(bytes.NewReader(b))
	d.DisallowUnknownFields()
	var p Proof
	if err := d.Decode(&p); err != nil {
		return nil, err
	}
	return &p, p.check()
}

// JSON is the proof as the archive keeps it.
func (p *Proof) JSON() ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	err := e.Encode(p)
	return b.Bytes(), err
}

func (p *Proof) check() error {
	switch {
	case p.Schema != ProofSchema:
		return fmt.Errorf("its form is %q and not %s", p.Schema, ProofSchema)
	case p.Report == "" || p.SHA256 == "" || p.By == "" || p.On.IsZero():
		return errors.New("it does not say of which report and bytes, by whom or when")
	case len(p.Pages) == 0:
		return errors.New("it has no page")
	}
	for i, page := range p.Pages {
		if page == nil || page.Scan == nil || page.Number != i+1 {
			return fmt.Errorf("its page %d is no picture", i+1)
		}
		for _, w := range page.Words {
			if w.OCR == nil || w.Text == "" || math.IsNaN(w.Size) {
				return fmt.Errorf("a word on its page %d was not read from a picture", i+1)
			}
		}
	}
	return nil
}

// Document is the document that the proof stands for, of these bytes.
func (p *Proof) Document(src *ingest.Source) (*ingest.Document, error) {
	if src.SHA256 != p.SHA256 {
		return nil, proofOfOther().In(src.Title())
	}
	return &ingest.Document{Source: src.Ref(), Format: ingest.PDF, Pages: p.Pages, Notes: []*ingest.Reason{p.note().In(src.Title())}}, nil
}

// Straight is the picture of a page of a scanned document, set straight and
// otherwise as it came, and how many dots of it make an inch. The words of the
// page stand on it. prepare and the passwords are those of the reader that
// made the document; its reasons are those of the reader.
func Straight(ctx context.Context, prepare Do, src *ingest.Source, lim ingest.Limits, page *ingest.Page, passwords ...string) (*image.Gray, float64, error) {
	if page.Scan == nil {
		return nil, 0, notAPicture().In(src.Title())
	}
	r := &reader{Options{Prepare: prepare, Passwords: passwords}}
	p, err := r.prepare(ctx, src, lim.OrDefault(), page.Number, page.Scan.Turn, asItCame)
	if err != nil {
		return nil, 0, ingest.AsReason(err).In(src.Title())
	}
	if p.Blank {
		return image.NewGray(image.Rect(0, 0, int(page.Width*shownDPI/72), int(page.Height*shownDPI/72))), shownDPI, nil
	}
	g, ok := parsePGM(p.images[0])
	if !ok {
		return nil, 0, damagedPicture().In(src.Title())
	}
	return g, p.Scale[0], nil
}
