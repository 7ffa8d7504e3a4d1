package web

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"image"
	"image/png"
	"io"
	"net/http"
	"strconv"
	"strings"
	"sync"
	"time"

	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/cmd/internal/proofsheet"
	"example.org/windrow/ingest"
	"example.org/windrow/ingest/scan"
	"example.org/windrow/normalize"
)

// proofs are the routes by which a scanned report is compared with its picture.
func (d *Desk) proofs() {
	d.route("GET /report/{id}/proof", d.proof)
	d.route("GET /report/{id}/proof/word/{word}", d.proofWord)
	d.slow("POST /report/{id}/proof", d.proofread)
}

// A scanned is a report's picture as the program reads it, with the level
// pictures of its pages.
type scanned struct {
	doc   *ingest.Document
	was   *scan.Proof
	lines []proofsheet.Line
	mark  string // of all words and their places: a form is for one reading

	mu    sync.Mutex
	src   *ingest.Source
	pages map[int]straight
}

type straight struct {
	g   *image.Gray
	dpi float64
}

// scannedNow reads the picture of a report, or gives what was read of it. It
// takes some seconds the first time: a page that does not want to wait so long
// gets nil, and asks again.
func (d *Desk) scannedNow(id string, wait time.Duration) (*scanned, error) {
	type result struct {
		s   *scanned
		err error
	}
	done := make(chan result, 1)
	go func() {
		s, err := d.pictured.get(id, func() (*scanned, error) {
			d.drawing <- struct{}{}
			defer func() { <-d.drawing }()
			ctx, cancel := context.WithTimeout(context.Background(), 2*patience)
			defer cancel()
			src, doc, was, err := d.off.Stages.Scanned(ctx, d.off.Archive, id)
			if err != nil {
				return nil, err
			}
			s := &scanned{doc: doc, was: was, lines: proofsheet.Lines(doc, was), src: src, pages: map[int]straight{}}
			h := sha256.New()
			for _, l := range s.lines {
				_, _ = fmt.Fprintln(h, l.On.Number, l.Number, l.Word.Box, l.Word.Text) // a hash takes everything
			}
			s.mark = hex.EncodeToString(h.Sum(nil))[:16]
			return s, nil
		})
		done <- result{s, err}
	}()
	t := time.NewTimer(wait)
	defer t.Stop()
	select {
	case r := <-done:
		return r.s, r.err
	case <-t.C:
		return nil, nil
	}
}

// A proofLine is a word beside its picture.
type proofLine struct {
	Key, Read, Again, Says, Look, Where string
	Wide, High                          int // of the picture as shown, in pixels
}

// A proofView is the page on which a report is compared.
type proofView struct {
	Head    reportHead
	Told    *tale
	Reading bool
	WhyNot  *ingest.Reason
	First   []proofLine // numbers, and what was not read alike
	Rest    []proofLine // words that both readings have alike
	Mark    string
	Before  *scan.Proof
	By      string
	Self    string
}

func (d *Desk) proof(r *http.Request) (*answer, error) {
	rep, _, err := d.archived(r.PathValue("id"))
	if err != nil {
		return nil, err
	}
	h, err := d.head(rep)
	if err != nil {
		return nil, err
	}
	v := &proofView{Head: h, Told: d.told.take(r.URL.Query().Get("told")), By: decides(r.Context()), Self: "/report/" + rep.ID + "/proof"}
	a := &answer{page: "proof", title: "Compare " + h.Title(), nav: "/held", body: v}
	s, err := d.scannedNow(rep.ID, 100*time.Millisecond)
	switch {
	case err != nil:
		v.WhyNot = ingest.AsReason(err)
		return a, nil
	case s == nil:
		v.Reading = true
		return a, nil
	}
	v.Mark, v.Before = s.mark, s.was
	for _, l := range s.lines {
		x := proofLine{Key: fmt.Sprintf("%d.%d", l.On.Number, l.Number), Read: l.Word.Text, Says: l.Says, Look: l.Look, Where: ingest.Place{Page: l.On.Number, Box: &l.Word.Box}.Inside()}
		if !l.Word.OCR.Agree {
			x.Again = l.Word.OCR.Second
			if x.Again == "" {
				x.Again = scan.Nothing
			}
		}
		// As large as twice the print.
		x.Wide, x.High = int(2*(l.Word.Box.Width()+80)), int(2*(l.Word.Box.Height()+8))
		if l.Look != "" || l.Says == "" {
			v.First = append(v.First, x)
		} else {
			v.Rest = append(v.Rest, x)
		}
	}
	return a, nil
}

// proofWord is the picture of one word.
func (d *Desk) proofWord(r *http.Request) (*answer, error) {
	id := r.PathValue("id")
	if !reportID.MatchString(id) {
		return nil, notHere("that is not the id of a report")
	}
	s, err := d.scannedNow(id, patience)
	if err != nil || s == nil {
		return nil, notHere("there is no such picture")
	}
	for _, l := range s.lines {
		if fmt.Sprintf("%d.%d", l.On.Number, l.Number) != r.PathValue("word") {
			continue
		}
		at, err := s.page(d, l.On)
		if err != nil {
			return nil, err
		}
		m := proofsheet.Cut(l.Word, at.g, at.dpi)
		if m == nil {
			break
		}
		var b bytes.Buffer
		if err := png.Encode(&b, m); err != nil {
			return nil, err
		}
		return &answer{raw: func(w http.ResponseWriter) {
			w.Header().Set("Content-Type", "image/png")
			_, _ = io.Copy(w, &b) // the one who asked has gone: there is nobody to tell
		}}, nil
	}
	return nil, notHere("there is no such word in the picture")
}

// page is the level picture of a page, made once.
func (s *scanned) page(d *Desk, p *ingest.Page) (straight, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if at, ok := s.pages[p.Number]; ok {
		return at, nil
	}
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	g, dpi, err := d.off.Stages.Straight(ctx, s.src, p)
	if err != nil {
		return straight{}, err
	}
	s.pages[p.Number] = straight{g, dpi}
	return s.pages[p.Number], nil
}

// proofread keeps what a person saw, and has the report read anew from it.
func (d *Desk) proofread(r *http.Request) (*answer, error) {
	rep, _, err := d.archived(r.PathValue("id"))
	if err != nil {
		return nil, err
	}
	r.Body = http.MaxBytesReader(nil, r.Body, 4<<20)
	if err := r.ParseForm(); err != nil {
		return nil, badInput("what was compared did not come whole", "go back and send it again")
	}
	by := strings.TrimSpace(r.PostForm.Get("by"))
	if who := decides(r.Context()); who != "" {
		by = who // who has signed in compares under no other name
	}
	if by == "" || len(by) > longestWords {
		return nil, badInput("a comparison needs the name of the one who compared", "go back and give it: it is kept with every word")
	}
	s, err := d.scannedNow(rep.ID, 2*patience)
	if err != nil {
		return nil, err
	}
	if s == nil || s.mark != r.PostForm.Get("mark") {
		return nil, badInput("the picture is read otherwise now than when the page was opened, so that what was typed may be of other words", "open the page again, and compare again")
	}
	var list []scan.Correction
	changed := 0
	for _, l := range s.lines {
		name := fmt.Sprintf("w%d.%d", l.On.Number, l.Number)
		says := strings.TrimSpace(r.PostForm.Get(name))
		switch {
		case !r.PostForm.Has(name) || len(says) > 400:
			return nil, badInput("not every word of the picture came", "open the page again, and compare again")
		case says == "":
			return nil, badInput("of one word it is not said what stands there: "+ingest.Place{Page: l.On.Number, Box: &l.Word.Box}.Inside(), "go back and fill it in; write "+scan.Nothing+" for a speck or a line")
		case says == scan.Nothing:
			says = ""
		}
		if says != l.Word.Text {
			changed++
		}
		list = append(list, scan.Correction{Page: l.On.Number, Word: l.Number, Says: says})
	}
	d.work.Lock()
	defer d.work.Unlock()
	p, err := d.off.Proofread(rep.ID, s.doc, list, by, d.today())
	var refusal *ingest.Reason
	if errors.As(err, &refusal) && refusal.Code == "proof-refused" {
		return nil, badInput(refusal.What+": "+refusal.Found, refusal.Next)
	}
	if err != nil {
		return nil, err
	}
	d.pictured.forget()
	t := &tale{Title: fmt.Sprintf("Compared by %s: %s of %s read otherwise than by the program.", p.By, strconv.Itoa(changed), count(len(list), "word"))}
	err = d.off.ReadAnew(r.Context(), []string{rep.ID}, d.today(), func(_ string, list []*pipeline.Replayed) {
		for _, y := range list {
			if y.ID != rep.ID && !y.Differs() {
				continue
			}
			line := y.Name + ": " + became(y.Status)
			if n := len(y.Letters); n > 0 {
				line += "; " + count(n, "letter") + " made"
			}
			t.Lines = append(t.Lines, line+".")
			if y.ID == rep.ID && y.Status == normalize.Held {
				t.Bad = true
				for _, why := range y.Reasons {
					t.Lines = append(t.Lines, "It waits all the same: "+why.What+".")
				}
			}
		}
	})
	d.readings.forget()
	d.changed()
	if err != nil {
		return nil, err
	}
	return &answer{to: "/report/" + rep.ID + "?told=" + d.told.put(t)}, nil
}
