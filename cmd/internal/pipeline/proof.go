package pipeline

import (
	"context"
	"errors"
	"fmt"
	"image"
	"strings"
	"time"

	"example.org/windrow/ingest"
	"example.org/windrow/ingest/scan"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive"
)

// proofs looks up in an archive what a person read in the picture of a report.
func proofs(a *archive.Archive) func(string) (*scan.Proof, error) {
	return func(id string) (*scan.Proof, error) {
		b, _, err := a.Latest(archive.Proofs, id)
		if errors.Is(err, archive.ErrNotFound) {
			return nil, nil
		}
		if err != nil {
			return nil, err
		}
		p, err := scan.ParseProof(b)
		if err == nil && p.Report != id {
			err = errors.New("it is about report " + p.Report)
		}
		return p, err
	}
}

// A proofread reads a picture as a person did, where one has, and else by the
// program for scans.
type proofread struct {
	scans ingest.Reader
	of    func(report string) (*scan.Proof, error) // nil knows of none
}

// Read implements [ingest.Reader]. A proof that can't be read holds: what the
// program reads is not what a person saw.
func (r proofread) Read(ctx context.Context, src *ingest.Source, lim ingest.Limits) (*ingest.Document, error) {
	if r.of == nil {
		return r.scans.Read(ctx, src, lim)
	}
	id := idOf(src)
	p, err := r.of(id)
	switch {
	case err != nil:
		return nil, &ingest.Reason{Code: "proof-damaged", Severity: ingest.Hold, Where: ingest.Place{File: src.Title()}, What: "what a person read in this picture can't be read any more", Expected: "a proof as it was written", Found: ingest.AsReason(err).What,
			Next: "run windrow archive verify, and bring " + archive.Proofs + "/" + id + " back from a backup"}
	case p == nil:
		return r.scans.Read(ctx, src, lim)
	}
	return p.Document(src)
}

// Scanned reads the picture of an archived report by the program for scans,
// whatever a person has read in it before, and gives the bytes with it. was is
// the latest proof of the report, nil for none.
func (s *Stages) Scanned(ctx context.Context, a *archive.Archive, id string) (src *ingest.Source, doc *ingest.Document, was *scan.Proof, err error) {
	refuse := func(what, expected, found, next string) (*ingest.Source, *ingest.Document, *scan.Proof, error) {
		return nil, nil, nil, &ingest.Reason{Code: "proof-refused", Severity: ingest.Fail, Where: ingest.Place{File: id}, What: what, Expected: expected, Found: found, Next: next}
	}
	rep, err := latestOf(a, id)
	if err != nil {
		return nil, nil, nil, err
	}
	if rep == nil {
		return refuse("the archive holds no report of that id", "the id of a report, as the note beside a held file tells it", id, "check the id, and that this is the right office")
	}
	if normalize.Erased(rep) {
		return refuse("the picture of this report was erased at a person's request", "a report with its original", id, "nothing can be compared any more")
	}
	b, err := a.Original(rep.Source.SHA256)
	if err != nil {
		return nil, nil, nil, err
	}
	src = ingest.NewSource(rep.Source.Name, b)
	src.Member = rep.Source.Member
	docs, reasons := s.documents(ctx, src, Defaults{})
	if err := ctx.Err(); err != nil {
		return nil, nil, nil, err
	}
	if len(docs) == 0 {
		return nil, nil, nil, ingest.AsReason(errors.Join(asErrors(reasons)...))
	}
	if !docs[0].Scanned() {
		return refuse("this report was not read from a picture", "a scan or a photograph", "a file with text of its own", "its numbers are what the laboratory wrote; if one is wrong, ask the laboratory for a corrected report")
	}
	was, err = proofs(a)(id)
	return src, docs[0], was, err
}

// Straight is the picture of a page of a scanned document, level and otherwise
// as it came, and how many dots of it make an inch.
func (s *Stages) Straight(ctx context.Context, src *ingest.Source, page *ingest.Page) (*image.Gray, float64, error) {
	return scan.Straight(ctx, s.pool.Do(scan.Format), src, s.Limits, page, s.passwords...)
}

func asErrors(rs []*ingest.Reason) (out []error) {
	for _, r := range rs {
		out = append(out, r)
	}
	return out
}

// Proofread keeps in the archive what a person saw in the picture of a report,
// of which doc is what [Stages.Scanned] gives. The report is to be read anew
// afterwards.
func (o *Office) Proofread(id string, doc *ingest.Document, corrections []scan.Correction, by string, on time.Time) (*scan.Proof, error) {
	m := &o.ruling
	m.Lock()
	defer m.Unlock()
	if strings.TrimSpace(by) == "" {
		return nil, &ingest.Reason{Code: "proof-refused", Severity: ingest.Fail, Where: ingest.Place{File: id}, What: "a proof needs the name of the person who compared", Next: "give the name"}
	}
	if rep, err := o.latest(id); err != nil || rep != nil && !o.Own(rep.Office) {
		if err == nil {
			err = notOwn(id, rep.Office)
		}
		return nil, err
	}
	p, err := scan.Prove(doc, corrections, id, by, on)
	if err != nil {
		return nil, &ingest.Reason{Code: "proof-refused", Severity: ingest.Fail, Where: ingest.Place{File: id}, What: "what was compared does not fit the picture", Expected: "words of this report", Found: err.Error(), Next: "make the sheet anew, and compare again"}
	}
	b, err := p.JSON()
	if err != nil {
		return nil, err
	}
	if _, _, err := o.Archive.Put(archive.Proofs, id, b); err != nil {
		return nil, fmt.Errorf("keep the proof of %s: %w", id, err)
	}
	return p, nil
}
