package scan

import (
	"context"
	"encoding/json"
	"errors"
	"sync"
	"time"

	"example.org/windrow/ingest"
)

// A Do has a [Worker] prepare a page: one of this process ([Worker.Do]) or
// one in a process set apart.
type Do func(ctx context.Context, args []byte, src *ingest.Source, lim ingest.Limits) (*ingest.Document, []byte, error)

// Options say how pictures are read. Prepare must be set.
type Options struct {
	Program   string   // path or name of tesseract; "" for the one that is found
	Language  string   // of its data; "" for eng
	Passwords []string // tried on PDF files that don't open without
	Prepare   Do       // prepares pages
	// Recognise takes the place of the program, as in tests; nil runs it.
	Recognise Recogniser
}

// New makes a reader of pictures and of PDF files whose pages are pictures.
// It is safe for concurrent use. The limit on seconds is for each page.
//
// The words of its documents stand on a page that was set straight
// ([ingest.Scan]) and say how they were read ([ingest.OCR]). The codes of its
// reasons: scan-no-ocr, ocr-failed, scan-unreadable (these hold), empty-file,
// wrong-kind, damaged, too-large, too-slow, stopped, and those of the drawer
// of PDF files; of its notes: read-by-ocr, page-turned, low-resolution,
// page-unreadable.
func New(opt Options) ingest.Reader {
	if opt.Program == "" {
		opt.Program = "tesseract"
	}
	if opt.Language == "" {
		opt.Language = "eng"
	}
	if opt.Recognise == nil {
		opt.Recognise = tesseract(opt.Program, opt.Language)
	}
	return &reader{opt}
}

type reader struct{ opt Options }

// coarsest is the resolution below which numbers are doubtful.
const coarsest = 140.0

// Read implements [ingest.Reader].
func (r *reader) Read(ctx context.Context, src *ingest.Source, lim ingest.Limits) (*ingest.Document, error) {
	lim = lim.OrDefault()
	d := &ingest.Document{Source: src.Ref(), Format: ingest.PDF}
	notes := []*ingest.Reason{byOCR()}
	pages, left, read := 1, lim.Words, 0
	for n := 1; n <= pages; n++ {
		p, total, more, err := r.page(ctx, src, lim, n)
		if err != nil {
			return nil, ingest.AsReason(err).In(src.Title())
		}
		if n == 1 {
			pages = total
		}
		if left -= len(p.Words); left < 0 {
			return nil, tooLarge("words", "the file has more words than allowed", int64(lim.Words), int64(lim.Words-left)).In(src.Title())
		}
		read += len(p.Words)
		d.Pages = append(d.Pages, p)
		notes = append(notes, more...)
	}
	if read == 0 {
		return nil, unreadable(pages).In(src.Title())
	}
	for _, n := range notes {
		d.Notes = append(d.Notes, n.In(src.Title()))
	}
	return d, nil
}

// page reads one page, within the time that a page may take.
func (r *reader) page(ctx context.Context, src *ingest.Source, lim ingest.Limits, number int) (*ingest.Page, int, []*ingest.Reason, error) {
	allowed := time.Duration(lim.Seconds) * time.Second
	ctx, cancel := context.WithTimeout(ctx, allowed)
	defer cancel()
	// Both pictures at once, for a page that is the right way up.
	prep, err := r.prepare(ctx, src, lim, number, 0, 0, 1)
	if err != nil {
		return nil, 0, nil, err
	}
	page := func(turn int) *ingest.Page {
		return &ingest.Page{Number: number, Width: prep.Width, Height: prep.Height, Scan: &ingest.Scan{Turn: turn, Skew: prep.Skew, DPI: round(prep.DPI)}}
	}
	if prep.Blank {
		return page(0), prep.Pages, nil, nil
	}
	read, err := r.recognise(ctx, prep, allowed, 0, 1)
	if err != nil {
		return nil, 0, nil, err
	}
	turn := 0
	if !upright(read[0]) && !upright(read[1]) {
		turn, prep, read, err = r.turnAbout(ctx, src, lim, number, prep, read)
		if err != nil {
			return nil, 0, nil, err
		}
	}
	var notes []*ingest.Reason
	p := page(turn)
	p.Words = words(read[0], read[1], prep.fits(0))
	if turn != 0 {
		notes = append(notes, turned(number, turn))
	}
	if prep.DPI < coarsest {
		notes = append(notes, coarse(number, prep.DPI))
	}
	if len(p.Words) == 0 {
		notes = append(notes, pageLost(number))
	}
	return p, prep.Pages, notes, nil
}

// upright reports whether a reading is that of a page the right way up: most
// of it is in words.
func upright(tokens []token) bool {
	sure, all := good(tokens)
	return sure >= 30 && sure*5 >= all*2
}

// turnAbout tries the other ways that a page can lie and keeps the one of
// which most was read.
func (r *reader) turnAbout(ctx context.Context, src *ingest.Source, lim ingest.Limits, number int, prep *prepared, read [][]token) (int, *prepared, [][]token, error) {
	allowed := time.Duration(lim.Seconds) * time.Second
	best := 0
	most, _ := good(read[1])
	var bestPrep *prepared
	var bestRead []token
	for _, turn := range []int{180, 90, 270} {
		q, err := r.prepare(ctx, src, lim, number, turn, 1)
		if err != nil {
			return 0, nil, nil, err
		}
		got, err := r.recognise(ctx, q, allowed, 1)
		if err != nil {
			return 0, nil, nil, err
		}
		// Twice as much: noise must not turn a page that merely reads badly.
		if sure, _ := good(got[0]); sure > 2*most+10 {
			best, bestPrep, bestRead, most = turn, q, got[0], sure
			if upright(got[0]) {
				break
			}
		}
	}
	if best == 0 {
		return 0, prep, read, nil
	}
	q, err := r.prepare(ctx, src, lim, number, best, 0)
	if err != nil {
		return 0, nil, nil, err
	}
	got, err := r.recognise(ctx, q, allowed, 0)
	if err != nil {
		return 0, nil, nil, err
	}
	q.Skew = bestPrep.Skew // the same of the same picture
	return best, q, [][]token{got[0], bestRead}, nil
}

func (r *reader) prepare(ctx context.Context, src *ingest.Source, lim ingest.Limits, page, turn int, which ...int) (*prepared, error) {
	args, err := json.Marshal(job{Page: page, Turn: turn, Ways: which, Passwords: r.opt.Passwords})
	if err != nil {
		return nil, damagedPicture()
	}
	_, b, err := r.opt.Prepare(ctx, args, src, lim)
	if err != nil {
		return nil, err
	}
	p, err := unpack(b)
	if err != nil || !p.Blank && len(p.images) != len(which) {
		return nil, damagedPicture()
	}
	return p, nil
}

// recognise has the pictures of a page read at the same time.
func (r *reader) recognise(ctx context.Context, p *prepared, allowed time.Duration, which ...int) ([][]token, error) {
	out := make([][]token, len(which))
	if p.Blank {
		return out, nil
	}
	errs := make([]error, len(which))
	var wait sync.WaitGroup
	for i, w := range which {
		wait.Go(func() {
			tsv, err := r.opt.Recognise(ctx, p.images[i], p.Scale[i], ways[w].psm)
			if err != nil {
				errs[i] = err
				return
			}
			tokens, ok := parse(tsv, p.Scale[i])
			if !ok {
				errs[i] = errors.New("an answer that is not a table of words")
			}
			out[i] = tokens
		})
	}
	wait.Wait()
	if r := over(ctx, allowed); r != nil {
		return nil, r
	}
	for _, err := range errs {
		switch {
		case err == nil:
		case errors.Is(err, errNoProgram), errors.Is(err, errLanguage):
			return nil, noProgram(err, r.opt.Language)
		default:
			return nil, programFailed(err.Error())
		}
	}
	return out, nil
}
