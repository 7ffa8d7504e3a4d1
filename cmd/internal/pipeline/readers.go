package pipeline

import (
	"context"
	"slices"

	"example.org/windrow/ingest"
	"example.org/windrow/ingest/apart"
	"example.org/windrow/ingest/delimited"
	"example.org/windrow/ingest/htmltable"
	"example.org/windrow/ingest/pdf"
	"example.org/windrow/ingest/scan"
	"example.org/windrow/ingest/second"
	"example.org/windrow/ingest/sheet"
	"example.org/windrow/ingest/xls"
)

// Child does the work of a process that only parses, or only prepares the
// second PDF engine; see [apart.Child] and [second.Compiling]. main calls it
// first and ends at once with the code when it is true.
func Child() (code int, yes bool) {
	if code, yes := second.Compiling(); yes {
		return code, true
	}
	engine := secondEngine()
	return 0, apart.Child(map[ingest.Format]ingest.Reader{ingest.PDF: &firstOfTwo{pdf.New(), engine}, ingest.XLSX: sheet.New(), binaryXLS: xls.New(), ingest.HTML: htmltable.New()},
		apart.Workers{second.Format: engine, scan.Format: scan.NewWorker(engine)})
}

// firstOfTwo reads a PDF, which will then be read by the second engine too:
// that starts while the parent looks at what was read.
type firstOfTwo struct {
	ingest.Reader
	second *second.Engine
}

// Read implements [ingest.Reader].
func (f *firstOfTwo) Read(ctx context.Context, src *ingest.Source, lim ingest.Limits) (*ingest.Document, error) {
	d, err := f.Reader.Read(ctx, src, lim)
	if err == nil {
		f.second.Warm()
	}
	return d, err
}

// binaryXLS names the reader of older workbooks to the parsers. Its documents
// have the format of newer ones, as mappings don't tell the two apart.
const binaryXLS ingest.Format = "xls"

// readers is what can be read: for each kind of file, the ways in which to
// read it. A file is read once in each way, and the mappings say which
// reading is theirs. A new format is one line here.
var readers = map[ingest.Kind]func(*Stages) []ingest.Reader{
	ingest.KindPDF:   func(s *Stages) []ingest.Reader { return []ingest.Reader{s.pool.For(ingest.PDF)} },
	ingest.KindXLSX:  func(s *Stages) []ingest.Reader { return []ingest.Reader{s.pool.For(ingest.XLSX)} },
	ingest.KindXLS:   func(s *Stages) []ingest.Reader { return []ingest.Reader{s.pool.For(binaryXLS)} },
	ingest.KindHTML:  func(s *Stages) []ingest.Reader { return []ingest.Reader{s.pool.For(ingest.HTML)} },
	ingest.KindImage: func(s *Stages) []ingest.Reader { return []ingest.Reader{s.scans} },
	ingest.KindText: func(s *Stages) []ingest.Reader {
		var out []ingest.Reader
		for _, d := range s.Mappings().Dialects() {
			out = append(out, delimited.New(d))
		}
		return out
	},
}

// An unread says why a kind of file is not read, for a clerk.
type unread struct{ code, what, found, next string }

var notRead = map[ingest.Kind]unread{
	ingest.KindEmpty: {"empty-file", "the file is empty", "0 bytes", "ask the sender to send it again"},
	ingest.KindOther: {"kind-unknown", "the file is of a kind that is not known", "bytes that are no PDF, workbook or text", "see what program made it; if it is a report, ask the laboratory for a PDF, a workbook or a CSV file"},
}

// readable is what the office can be sent, for messages.
const readable = "a PDF, a workbook, a CSV file, a web page or a scan, by itself, in a mail or in a zip archive"

// documents reads a source in each way that its kind has. The reasons are
// why there is no document; a reading that failed does not matter as long as
// another one succeeded, since only one way can be the right one.
func (s *Stages) documents(ctx context.Context, src *ingest.Source, from Defaults) ([]*ingest.Document, []*ingest.Reason) {
	kind := kindOf(src)
	ways, ok := readers[kind]
	if !ok {
		u, ok := notRead[kind]
		if !ok {
			u = notRead[ingest.KindOther]
		}
		return nil, []*ingest.Reason{{Code: u.code, Severity: ingest.Hold, Where: ingest.Place{File: src.Title()}, What: u.what, Expected: readable, Found: u.found, Next: u.next}}
	}
	var docs []*ingest.Document
	var reasons []*ingest.Reason
	pictures := proofread{s.scans, from.Proof}
	for _, r := range ways(s) {
		if kind == ingest.KindImage {
			r = pictures
		}
		d, err := r.Read(ctx, src, s.Limits)
		if err != nil && kind == ingest.KindPDF && onlySecond[ingest.AsReason(err).Code] {
			d, err = s.twice.rescue(ctx, src, s.Limits)
		}
		if err != nil && kind == ingest.KindPDF && ingest.AsReason(err).Code == "scan" {
			d, err = pictures.Read(ctx, src, s.Limits)
		}
		if err != nil {
			reasons = append(reasons, ingest.AsReason(err))
			continue
		}
		docs = append(docs, d)
	}
	if len(docs) > 0 {
		return docs, nil
	}
	if len(reasons) == 0 {
		reasons = []*ingest.Reason{{Code: "no-dialect", Severity: ingest.Hold, Where: ingest.Place{File: src.Title()}, What: "no mapping of the office is for text files, so nobody has said how this one is cut into fields",
			Expected: "a mapping with a dialect", Found: "a text file", Next: "write a mapping for the laboratory"}}
	}
	return nil, sameOnce(reasons)
}

// byTrying are the reasons that come of reading a text in a way that was
// never meant for it.
var byTrying = []string{"encoding-differs", "encoding-invalid"}

// sameOnce leaves out reasons that say the same of the same place: a file
// that is broken in one dialect is mostly broken in each. That a file is not
// in some other laboratory's encoding is left out where something else is
// wrong with it.
func sameOnce(in []*ingest.Reason) []*ingest.Reason {
	var out []*ingest.Reason
	seen := map[string]bool{}
	others := slices.ContainsFunc(in, func(r *ingest.Reason) bool { return !slices.Contains(byTrying, r.Code) })
	for _, r := range in {
		if others && slices.Contains(byTrying, r.Code) {
			continue
		}
		k := r.Code + "\x00" + r.Where.String() + "\x00" + r.What
		if !seen[k] {
			seen[k] = true
			out = append(out, r)
		}
	}
	return out
}
