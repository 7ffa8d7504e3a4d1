package pipeline

import (
	"bytes"
	"context"
	_ "embed"
	"errors"
	"html/template"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"time"
	"unicode"
	"unicode/utf8"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive/index"
)

//go:embed letters.html.tmpl
var letterIndexText string

var letterIndex = template.Must(template.New("letters").Parse(letterIndexText))

// mostListed is how many reports the page of letters lists; the folders
// beside it hold all letters.
const mostListed = 1000

// A LetterLine is one sample on the page of letters.
type LetterLine struct {
	Date, Lab, Report, Sample, Label, Client, Use string
	Status                                        string
	Flags                                         int    // results with a finding
	Many                                          int    // samples of a long report, which the line stands for; 0 for one sample
	Href                                          string // of the letter, from the folder of letters; "" when there is none
	PDF                                           string // the same as a PDF
}

// A HeldLine is one held report on the page of letters.
type HeldLine struct {
	Name  string
	Lab   string
	First []*ingest.Reason // the first of the reasons, as sentences
	More  int              // how many others there are
}

// mostReasons is how many reasons of one report the page tells.
const mostReasons = 2

// A Listing is what the page of letters shows.
type Listing struct {
	Office  string
	Letters []LetterLine
	Held    []HeldLine
	More    bool // there are more reports than are listed
}

// List gathers the latest reports of the office, from its index and archive.
func (o *Office) List(ctx context.Context) (*Listing, error) {
	a, ix, err := o.kept(ctx)
	if err != nil {
		return nil, err
	}
	names := []string{""}
	if o.distant != nil {
		names = o.names() // others work for the same archive
	}
	var reports []index.Report
	for _, n := range names {
		more, err := ix.Reports(ctx, index.Filter{Limit: mostListed + 1, Office: n})
		if err != nil {
			return nil, err
		}
		reports = append(reports, more...)
	}
	slices.SortStableFunc(reports, func(x, y index.Report) int { return strings.Compare(y.Reported, x.Reported) })
	l := &Listing{Office: o.Config.Office.Name, More: len(reports) > mostListed}
	reports = reports[:min(len(reports), mostListed)]
	many := func(r index.Report) bool { return r.Records >= manySamples && r.Status != string(normalize.Held) }
	// From a folder as many at once as there are processors; over a network
	// more, since each takes a few calls.
	together := runtime.GOMAXPROCS(0)
	if o.distant != nil {
		together = inTransit
	}
	for some := range slices.Chunk(reports, together) {
		reps, errs := make([]*normalize.Report, len(some)), make([]error, len(some))
		var wg sync.WaitGroup
		for i, r := range some {
			if !many(r) {
				wg.Go(func() { reps[i], errs[i] = latestOf(a, r.ID) })
			}
		}
		wg.Wait()
		if err := errors.Join(errs...); err != nil {
			return nil, err
		}
		for i, r := range some {
			switch {
			case many(r):
				l.addMany(r)
			case reps[i] != nil: // else the index knows more than there is; it can be rebuilt
				l.add(reps[i], o.Config.Letters)
			}
		}
	}
	return l, nil
}

func (l *Listing) add(rep *normalize.Report, letters string) {
	if rep.Status == normalize.Held {
		h := HeldLine{Name: rep.Source.Name, Lab: rep.Lab.Name}
		for _, r := range rep.Reasons {
			switch {
			case r.Severity != ingest.Hold && r.Severity != ingest.Fail:
			case len(h.First) == mostReasons:
				h.More++
			default:
				c := *r
				c.What, c.Next = sentence(r.What), sentence(r.Next)
				c.Where.Box = nil // in points of the page, which say nothing to anybody
				h.First = append(h.First, &c)
			}
		}
		l.Held = append(l.Held, h)
		return
	}
	for _, rec := range rep.Records {
		s := rec.Sample
		line := LetterLine{Date: s.Reported, Lab: rep.Lab.Name, Report: rep.Number, Sample: s.LabID, Label: s.ClientLabel, Use: s.LandUse, Status: string(rec.Status)}
		if s.DepthTopIn != "" {
			line.Label = strings.TrimSpace(line.Label + " (" + s.Layer() + " in)")
		}
		if line.Report == "" {
			line.Report = rep.Source.Name // of a laboratory that numbers samples only
		}
		if line.Use == "" {
			line.Use = s.LandUseText
		}
		if rec.Client != nil {
			line.Client = rec.Client.Name
		}
		for _, res := range rec.Results {
			if res.Status != normalize.OK {
				line.Flags++
			}
		}
		at := LetterPath(rep, rec)
		if _, err := os.Stat(filepath.Join(letters, filepath.FromSlash(at))); err == nil {
			line.Href = at
		}
		if _, err := os.Stat(filepath.Join(letters, filepath.FromSlash(PDFPath(at)))); err == nil {
			line.PDF = PDFPath(at)
		}
		l.Letters = append(l.Letters, line)
	}
}

// addMany lists a report of so many samples that a page of them would help
// nobody, and reading them all costs more than the rest: by the folder of its
// laboratory's letters.
func (l *Listing) addMany(r index.Report) {
	line := LetterLine{Date: r.Reported, Lab: r.LabName, Report: r.ReportNo, Many: r.Records, Status: r.Status, Href: labFolder(r.Lab) + "/"}
	if line.Report == "" {
		line.Report = r.Name
	}
	l.Letters = append(l.Letters, line)
}

// Samples is how many samples the lines of letters stand for.
func (l *Listing) Samples() int {
	n := 0
	for _, x := range l.Letters {
		n += max(1, x.Many)
	}
	return n
}

// sentence begins with a capital and ends with a full stop.
func sentence(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	if n == 0 {
		return ""
	}
	s = string(unicode.ToUpper(r)) + s[n:]
	if !strings.ContainsAny(s[len(s)-1:], ".?!") {
		s += "."
	}
	return s
}

// ListPage is the page that lists the letters and what is held.
func (o *Office) ListPage(ctx context.Context) ([]byte, error) {
	l, err := o.List(ctx)
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	err = letterIndex.Execute(&b, l)
	return b.Bytes(), err
}

// WriteLetterIndex writes the page that lists the letters and what is held,
// index.html in the folder of letters.
func (o *Office) WriteLetterIndex() error {
	b, err := o.ListPage(context.Background())
	if err != nil {
		o.tellIndex(err)
		return nil // the letters are there; only the list of them is old
	}
	at := filepath.Join(o.Config.Letters, "index.html")
	if old, err := os.ReadFile(at); err == nil && bytes.Equal(old, b) {
		return nil
	}
	return Replace(at, b)
}

// Day is the date as letters write it, "" where there is none.
func (x LetterLine) Day() string {
	t, err := time.Parse(time.DateOnly, x.Date)
	if err != nil {
		return ""
	}
	return t.Format("January 2, 2006")
}

// Title is the use of the land as a page shows it.
func (x LetterLine) Title() string { return strings.ReplaceAll(x.Use, "-", " ") }
