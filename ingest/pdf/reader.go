package pdf

import (
	"context"
	"errors"
	"fmt"
	"time"

	"example.org/windrow/ingest"
	"github.com/ledongthuc/pdf"
)

// New makes a reader of PDF files. It is safe for concurrent use.
//
// A hostile file can make the object layer recurse until the process dies,
// which no Go code can catch, so files from outside are read through a
// process set apart.
func New() ingest.Reader { return reader{} }

type reader struct{}

// stop is what the package panics with to leave a file at once.
type stop struct{ reason *ingest.Reason }

// abandon leaves the file with a reason.
func abandon(r *ingest.Reason) { panic(stop{r}) }

// Read implements [ingest.Reader]. The codes of its reasons: empty-file,
// wrong-kind, locked, damaged, text-unreadable, scan, no-text, not-supported,
// too-large, too-slow, stopped.
func (reader) Read(ctx context.Context, src *ingest.Source, lim ingest.Limits) (doc *ingest.Document, err error) {
	lim = lim.OrDefault()
	ctx, cancel := context.WithTimeout(ctx, time.Duration(lim.Seconds)*time.Second)
	defer cancel()
	g := &guard{ctx: ctx, lim: lim, budget: lim.Unzipped}
	defer func() {
		if p := recover(); p != nil {
			doc, err = nil, g.reasonOf(p).In(src.Title())
		}
	}()
	doc = g.read(src)
	for _, n := range doc.Notes {
		n.Where.File = src.Title()
	}
	return doc, nil
}

// reasonOf turns whatever ended the reading into a reason.
func (g *guard) reasonOf(p any) *ingest.Reason {
	// When the time is up the object layer sees a read error and says
	// something about it; what counts is that the time was up.
	if r := g.over(); r != nil {
		return r
	}
	switch p := p.(type) {
	case stop:
		return p.reason
	case error:
		return objectReason(p.Error())
	}
	return objectReason(fmt.Sprint(p))
}

func (g *guard) read(src *ingest.Source) *ingest.Document {
	if r := g.over(); r != nil {
		abandon(r)
	}
	if len(src.Bytes) == 0 {
		abandon(ingest.EmptyFile("a PDF"))
	}
	if n := int64(len(src.Bytes)); n > g.lim.Bytes {
		abandon(tooLarge("bytes", "the file is larger than allowed", g.lim.Bytes, n))
	}
	if kind := ingest.Sniff(src.Name, src.Bytes); kind != ingest.KindPDF {
		abandon(wrongKind(kind))
	}
	g.open(src.Bytes)
	r, err := pdf.NewReader(g, g.size)
	if err != nil {
		if r := g.over(); r != nil {
			abandon(r)
		}
		if errors.Is(err, pdf.ErrInvalidPassword) {
			abandon(locked("a password is needed to open it"))
		}
		abandon(objectReason(err.Error()))
	}
	g.opened = true
	g.checkLock(r)
	leaves := g.pageTree(r)
	d := &ingest.Document{Source: src.Ref(), Format: ingest.PDF}
	fonts := &fontCache{guard: g, byRef: map[string]*font{}}
	hidden := hiddenLayers(r)
	sum := &tally{}
	left := g.lim.Words
	for i, leaf := range leaves {
		seen := g.readPage(leaf, fonts, hidden)
		p := &ingest.Page{Number: i + 1, Width: seen.width, Height: seen.height}
		words, cut, struck := group(seen)
		g.glyphs = seen.glyphs
		p.Words = words
		if left -= len(p.Words); left < 0 {
			abandon(tooLarge("words", "the file has more words than allowed", int64(g.lim.Words), int64(g.lim.Words-left)))
		}
		d.Pages = append(d.Pages, p)
		d.Notes = append(d.Notes, sum.add(p, seen, cut)...)
		d.Notes = append(d.Notes, struckOut(p, struck)...)
		d.Notes = append(d.Notes, annotations(leaf, p.Number, seen)...)
	}
	if r := sum.unreadable(); r != nil {
		abandon(r)
	}
	return d
}
