package second

import (
	"bytes"
	"context"
	"encoding/json"
	"image"
	"image/png"

	"example.org/windrow/ingest"
)

// Format is the name under which an engine is offered to other processes.
const Format ingest.Format = "pdf-second"

// A Do has an engine do one job: that of this process ([Engine.Do]) or one in
// a process set apart. What comes back is a document or bytes, or an error
// that is an *[ingest.Reason].
type Do func(ctx context.Context, args []byte, src *ingest.Source, lim ingest.Limits) (*ingest.Document, []byte, error)

// A job is what [Do] takes as args, as JSON.
type job struct {
	Job       string   `json:"job"` // words, glyphs, picture, sizes
	Page      int      `json:"page,omitempty"`
	DPI       float64  `json:"dpi,omitempty"`
	Passwords []string `json:"passwords,omitempty"`
}

// A Size is that of a page as seen, in points.
type Size struct{ Width, Height float64 }

// Do does one job that a [Client] asked for.
func (e *Engine) Do(ctx context.Context, args []byte, src *ingest.Source, lim ingest.Limits) (*ingest.Document, []byte, error) {
	var j job
	if err := json.Unmarshal(args, &j); err != nil {
		return nil, nil, engineFailed().In(src.Title())
	}
	switch j.Job {
	case "words":
		d, err := e.document(ctx, src, lim, j.Passwords)
		return d, nil, err
	case "glyphs":
		b, err := e.glyphs(ctx, src, lim, j.Passwords)
		return nil, b, err
	case "picture":
		m, err := e.picture(ctx, src, lim, j.Page, j.DPI, j.Passwords)
		if err != nil {
			return nil, nil, err
		}
		var b bytes.Buffer
		// Packing takes three times as long as drawing; the fastest is small enough.
		enc := png.Encoder{CompressionLevel: png.BestSpeed}
		if err := enc.Encode(&b, m); err != nil {
			return nil, nil, engineFailed().In(src.Title())
		}
		return nil, b.Bytes(), nil
	case "sizes":
		s, err := e.Sizes(ctx, src, lim, j.Passwords...)
		if err != nil {
			return nil, nil, err
		}
		b, err := json.Marshal(s)
		return nil, b, err
	}
	return nil, nil, engineFailed().In(src.Title())
}

// document reads the words of all pages.
func (e *Engine) document(ctx context.Context, src *ingest.Source, lim ingest.Limits, passwords []string) (*ingest.Document, error) {
	lim = lim.OrDefault()
	d := &ingest.Document{Source: src.Ref(), Format: ingest.PDF, Notes: []*ingest.Reason{onlySecond().In(src.Title())}}
	err := e.with(ctx, src, lim, passwords, func(f *file) {
		left, pictures := lim.Words, 0
		bad, all, first := 0, 0, 0
		for i := range f.pages {
			f.page(i, func(pg *page) {
				w, h := pg.view.size()
				p := &ingest.Page{Number: i + 1, Width: round(w), Height: round(h)}
				pg.readText(left*mostGlyphs, func(glyphs []glyph) {
					for _, g := range glyphs {
						if g.bad {
							bad++
							if first == 0 {
								first = p.Number
							}
						}
						if g.text != ' ' {
							all++
						}
					}
					p.Words = pg.words(glyphs)
					if left -= len(p.Words); left < 0 {
						abandon(tooLarge("words", "the file has more words than allowed", int64(lim.Words), int64(lim.Words-left)))
					}
				})
				if len(p.Words) == 0 && pg.pictured() {
					pictures++
				}
				d.Pages = append(d.Pages, p)
			})
		}
		const mostBad = 20 // one in so many
		switch {
		case all == 0 && pictures > 0:
			abandon(scan(pictures))
		case all == 0:
			abandon(noText())
		case bad*mostBad > all:
			abandon(textUnreadable(first, bad, all))
		}
	})
	if err != nil {
		return nil, err
	}
	return d, nil
}

// glyphs reads the characters of all pages, packed.
func (e *Engine) glyphs(ctx context.Context, src *ingest.Source, lim ingest.Limits, passwords []string) (b []byte, err error) {
	lim = lim.OrDefault()
	err = e.with(ctx, src, lim, passwords, func(f *file) {
		for i := range f.pages {
			f.page(i, func(pg *page) {
				w, h := pg.view.size()
				pg.readText(lim.Words*mostGlyphs, func(glyphs []glyph) { b = appendPage(b, w, h, glyphs) })
			})
		}
	})
	return b, err
}

func (e *Engine) picture(ctx context.Context, src *ingest.Source, lim ingest.Limits, number int, dpi float64, passwords []string) (m image.Image, err error) {
	err = e.with(ctx, src, lim, passwords, func(f *file) {
		if number < 1 || number > f.pages {
			abandon(noPage(number, f.pages))
		}
		f.page(number-1, func(pg *page) { m = pg.picture(dpi, false) })
	})
	if err != nil {
		return nil, err
	}
	return m, nil
}

// Grey draws a page, from 1, in grey as a person sees it, at so many dots an
// inch, and says at how many. 0 stands for those of the picture on the page,
// within reason, so that a scan is not drawn anew but comes as it is.
func (e *Engine) Grey(ctx context.Context, src *ingest.Source, lim ingest.Limits, number int, dpi float64, passwords ...string) (*image.Gray, float64, error) {
	var m image.Image
	err := e.with(ctx, src, lim, passwords, func(f *file) {
		if number < 1 || number > f.pages {
			abandon(noPage(number, f.pages))
		}
		f.page(number-1, func(pg *page) {
			if dpi == 0 {
				dpi = pg.dots()
			}
			m = pg.picture(dpi, true)
		})
	})
	if err != nil {
		return nil, 0, err
	}
	g, ok := m.(*image.Gray)
	if !ok {
		return nil, 0, engineFailed().In(src.Title())
	}
	return g, dpi, nil
}

// Count is how many pages a file has.
func (e *Engine) Count(ctx context.Context, src *ingest.Source, lim ingest.Limits, passwords ...string) (n int, err error) {
	err = e.with(ctx, src, lim, passwords, func(f *file) { n = f.pages })
	return n, err
}

// Sizes are those of the pages of a file, in order.
func (e *Engine) Sizes(ctx context.Context, src *ingest.Source, lim ingest.Limits, passwords ...string) (sizes []Size, err error) {
	err = e.with(ctx, src, lim, passwords, func(f *file) {
		for i := range f.pages {
			f.page(i, func(pg *page) {
				w, h := pg.view.size()
				sizes = append(sizes, Size{round(w), round(h)})
			})
		}
	})
	return sizes, err
}

// A Client asks an engine, wherever it runs.
type Client struct {
	do        Do
	passwords []string
}

// Over is a client of an engine. The passwords are tried on files that don't
// open without.
func Over(do Do, passwords ...string) *Client { return &Client{do, passwords} }

func (c *Client) ask(ctx context.Context, src *ingest.Source, lim ingest.Limits, j job) (*ingest.Document, []byte, error) {
	j.Passwords = c.passwords
	args, err := json.Marshal(j)
	if err != nil {
		return nil, nil, engineFailed().In(src.Title())
	}
	return c.do(ctx, args, src, lim)
}

// Read implements [ingest.Reader]: the words of a file that the first engine
// can't open. The document has a note second-engine-only with severity flag,
// which is meant for everything read from it. The codes of its reasons:
// empty-file, wrong-kind, locked, damaged, text-unreadable, scan, no-text,
// too-large, too-slow, stopped, parser-crashed, parser-not-started.
func (c *Client) Read(ctx context.Context, src *ingest.Source, lim ingest.Limits) (*ingest.Document, error) {
	d, _, err := c.ask(ctx, src, lim, job{Job: "words"})
	return d, err
}

// Glyphs is the file as this engine sees it, for [Agree]: a document that has
// a word for each character, without a line to stand on and a size.
func (c *Client) Glyphs(ctx context.Context, src *ingest.Source, lim ingest.Limits) (*ingest.Document, error) {
	_, b, err := c.ask(ctx, src, lim, job{Job: "glyphs"})
	if err != nil {
		return nil, err
	}
	pages, ok := unpack(b)
	if !ok {
		return nil, engineFailed().In(src.Title())
	}
	return &ingest.Document{Source: src.Ref(), Format: ingest.PDF, Pages: pages}, nil
}

// Picture draws a page, from 1, as a PNG, at so many dots an inch.
func (c *Client) Picture(ctx context.Context, src *ingest.Source, lim ingest.Limits, page int, dpi float64) ([]byte, error) {
	_, b, err := c.ask(ctx, src, lim, job{Job: "picture", Page: page, DPI: dpi})
	return b, err
}

// Sizes are those of the pages of a file, in order.
func (c *Client) Sizes(ctx context.Context, src *ingest.Source, lim ingest.Limits) ([]Size, error) {
	_, b, err := c.ask(ctx, src, lim, job{Job: "sizes"})
	if err != nil {
		return nil, err
	}
	var s []Size
	if err := json.Unmarshal(b, &s); err != nil {
		return nil, engineFailed().In(src.Title())
	}
	return s, nil
}
