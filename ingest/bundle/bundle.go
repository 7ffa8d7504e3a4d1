package bundle

import (
	"archive/zip"
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"

	"example.org/windrow/ingest"
)

const (
	// deepest is how many zips may lie within one another, the outer one
	// counted.
	deepest = 2
	// mostEntries bounds the entries of a zip and those within it.
	mostEntries = 10_000
	// mostRatio is how many times its size an entry of some size may grow to.
	// Tables of numbers come to about ten, and blank pictures to a hundred.
	mostRatio = 200
	// ratioFrom is the unpacked size from which the ratio counts; a few
	// repeated lines may well exceed it, and do no harm.
	ratioFrom = 1 << 20
)

// Expand takes a zip apart. Its members have the name of the source and, as
// Member, a name for people to see: the entry's own, with folders, or "inner.zip
// > a.pdf" for one of a zip within the zip. A zip of which nothing may be
// unpacked gives no members and one reason of severity fail or hold; reasons
// of single entries name them.
func Expand(src *ingest.Source, lim ingest.Limits) (members []*ingest.Source, reasons []*ingest.Reason) {
	lim = lim.OrDefault()
	e := &expander{src: src, lim: lim, left: lim.Unzipped, names: ingest.Names{}, seen: map[string]string{}}
	defer func() {
		// What the library stumbles over is a damaged file to the person who
		// sent it.
		if p := recover(); p != nil {
			members, reasons = nil, []*ingest.Reason{damaged("its inner structure can't be followed").In(src.Title())}
		}
	}()
	if n := int64(len(src.Bytes)); n > lim.Bytes {
		return nil, []*ingest.Reason{tooLarge("the zip file is larger than a file may be", ingest.Size(lim.Bytes), ingest.Size(n), "bytes").In(src.Title())}
	}
	if r := e.archive(src.Bytes, "", 1); r != nil {
		return nil, []*ingest.Reason{r.In(src.Title())}
	}
	if len(e.members) == 0 && len(e.reasons) == 0 {
		e.reasons = append(e.reasons, (&ingest.Reason{Code: CodeEmpty, Severity: ingest.Fail, What: "the zip file holds no file",
			Next: "ask the sender whether the reports were left out"}).In(src.Title()))
	}
	return e.members, e.reasons
}

// An expander takes one zip and those within it apart.
type expander struct {
	src     *ingest.Source
	lim     ingest.Limits
	left    int64 // bytes that may still be unpacked
	entries int
	names   ingest.Names
	seen    map[string]string // of a digest, the member that has it
	members []*ingest.Source
	reasons []*ingest.Reason
}

func (e *expander) member(name string) string {
	if e.src.Member == "" {
		return name
	}
	return e.src.Member + " > " + name
}

func (e *expander) complain(name string, r *ingest.Reason) {
	s := *e.src
	s.Member = e.member(name)
	e.reasons = append(e.reasons, r.In(s.Title()))
}

// archive takes one zip apart. A reason means that nothing more of the whole
// may be unpacked.
func (e *expander) archive(b []byte, within string, depth int) *ingest.Reason {
	zr, err := zip.NewReader(bytes.NewReader(b), int64(len(b)))
	if err != nil && !errors.Is(err, zip.ErrInsecurePath) {
		r := damaged("its table of contents is missing or broken; most often the file was cut short on its way")
		if depth > 1 {
			e.complain(strings.TrimSuffix(within, " > "), r)
			return nil
		}
		return r
	}
	if r := e.check(zr, b, within); r != nil {
		return r
	}
	if office(zr) {
		// Only the outermost comes here: those within are handed on whole.
		return &ingest.Reason{Code: CodeOffice, Severity: ingest.Hold, What: "the file is a document of an office program, not a zip of reports",
			Expected: "a PDF, a workbook or a table", Found: "a text document or presentation",
			Next: "open it and save it as PDF, or ask the laboratory for the report as PDF"}
	}
	if len(zr.File) == 0 && depth > 1 {
		e.complain(strings.TrimSuffix(within, " > "), &ingest.Reason{Code: CodeEmpty, Severity: ingest.Fail, What: "the zip file holds no file",
			Next: "ask the sender whether the reports were left out"})
	}
	for _, f := range zr.File {
		if r := e.entry(f, within, depth); r != nil {
			return r
		}
	}
	return nil
}

// check reads the table of contents before anything is unpacked.
func (e *expander) check(zr *zip.Reader, b []byte, within string) *ingest.Reason {
	in := ""
	if within != "" {
		in = " (in " + strings.TrimSuffix(within, " > ") + ")"
	}
	if e.entries += len(zr.File); e.entries > mostEntries {
		return tooLarge("the zip file has more entries than a zip may have"+in, fmt.Sprint(mostEntries), "more than that", "entries, which is fixed,")
	}
	var grown uint64
	type stretch struct{ from, to int64 }
	var used []stretch
	for _, f := range zr.File {
		if f.UncompressedSize64 > ratioFrom && f.UncompressedSize64/mostRatio > f.CompressedSize64 {
			return bomb(in, fmt.Sprintf("%s would grow from %s to %s", display(f), ingest.Size(int64(min(f.CompressedSize64, 1<<62))), ingest.Size(int64(min(f.UncompressedSize64, 1<<62)))))
		}
		if grown += f.UncompressedSize64; grown > uint64(e.left) || f.UncompressedSize64 > uint64(e.left) {
			return tooLarge("the zip file unpacks to more than a file may"+in, ingest.Size(e.lim.Unzipped), "more than that", "unpacked bytes")
		}
		at, err := f.DataOffset()
		if err != nil {
			continue // found when it is opened
		}
		if f.CompressedSize64 > uint64(len(b)) || at+int64(f.CompressedSize64) > int64(len(b)) {
			return damaged("an entry goes on beyond the end of the file; most often the file was cut short on its way")
		}
		if f.CompressedSize64 > 0 {
			used = append(used, stretch{at, at + int64(f.CompressedSize64)})
		}
	}
	// Entries that share their bytes let a small file grow without any one
	// entry being out of proportion.
	slices.SortFunc(used, func(a, b stretch) int { return cmp.Compare(a.from, b.from) })
	for i := 1; i < len(used); i++ {
		if used[i].from < used[i-1].to {
			return bomb(in, "entries that share the same stretch of the file")
		}
	}
	return nil
}

// office reports whether a zip is a document of an office program.
func office(zr *zip.Reader) bool {
	for _, f := range zr.File {
		if f.Name == "[Content_Types].xml" || f.Name == "META-INF/manifest.xml" {
			return true
		}
	}
	return false
}

// display is the name of an entry for people: UTF-8, or the code page of the
// first PCs where it says that it is not; slashes between folders; and
// nothing that a screen could take for more than a name.
func display(f *zip.File) string {
	s := f.Name
	if f.NonUTF8 && !utf8.ValidString(s) {
		if t, err := charmap.CodePage437.NewDecoder().String(s); err == nil {
			s = t
		}
	}
	s = strings.ToValidUTF8(strings.ReplaceAll(s, `\`, "/"), "\uFFFD")
	s = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || unicode.Is(unicode.Cf, r) { // also those that turn the direction of text
			return -1
		}
		return r
	}, s)
	if r := []rune(s); len(r) > 200 {
		s = string(r[:120]) + "…" + string(r[len(r)-60:])
	}
	if s == "" {
		return "entry without a name"
	}
	return s
}

// outside reports whether a name would point out of the folder that a zip is
// unpacked into.
func outside(name string) bool {
	drive := len(name) >= 2 && name[1] == ':' && (name[0]|0x20 >= 'a' && name[0]|0x20 <= 'z')
	if drive || strings.HasPrefix(name, "/") {
		return true
	}
	return slices.Contains(strings.Split(name, "/"), "..")
}

// housekeeping reports whether a computer left the entry there for itself.
func housekeeping(name string) bool {
	base := name[strings.LastIndexByte(name, '/')+1:]
	switch strings.ToLower(base) {
	case ".ds_store", "thumbs.db", "desktop.ini":
		return true
	}
	return strings.HasPrefix(name, "__MACOSX/") || strings.HasPrefix(base, "._")
}

// entry hands one entry on, or says why not. A reason means that nothing more
// of the whole may be unpacked.
func (e *expander) entry(f *zip.File, within string, depth int) *ingest.Reason {
	name := display(f)
	full := within + name
	mode := f.Mode()
	switch {
	case outside(name):
		e.complain(full, &ingest.Reason{Code: CodePath, Severity: ingest.Flag, What: "the entry's name points to a place outside of the zip file, so the entry was ignored", Found: name,
			Next: "be wary of the sender: no program for packing files makes such names by itself"})
		return nil
	case mode.IsDir() || strings.HasSuffix(name, "/"):
		return nil
	case mode&fs.ModeType != 0:
		e.complain(full, &ingest.Reason{Code: CodeLink, Severity: ingest.Flag, What: "the entry is a link to another file or a device, not a file, so it was ignored", Found: name,
			Next: "ask the sender for the file itself, if it is a report"})
		return nil
	case housekeeping(name):
		e.complain(full, &ingest.Reason{Code: CodeLeftOut, Severity: ingest.Note, What: "the entry is one that a computer keeps for itself, not a report, and was left out"})
		return nil
	case f.Flags&1 != 0:
		e.complain(full, &ingest.Reason{Code: CodeLocked, Severity: ingest.Hold, What: "the file in the zip can be unpacked only with a password",
			Expected: "a zip file without a password", Found: "an encrypted entry",
			Next: "unpack the zip with the password that the laboratory gave you, and drop the files in one by one"})
		return nil
	case f.Method != zip.Store && f.Method != zip.Deflate:
		e.complain(full, &ingest.Reason{Code: CodeMethod, Severity: ingest.Hold, What: "the file in the zip is packed in a way that is not known",
			Expected: "stored or deflated, as nearly all zip files are", Found: fmt.Sprintf("method %d", f.Method),
			Next: "unpack the zip on your computer, and drop the files in one by one"})
		return nil
	case f.UncompressedSize64 > uint64(e.lim.Bytes):
		e.complain(full, tooLarge("the file in the zip is larger than a file may be", ingest.Size(e.lim.Bytes), ingest.Size(int64(min(f.UncompressedSize64, 1<<62))), "bytes"))
		return nil
	}
	b, r := e.unpack(f)
	switch {
	case r != nil:
		e.complain(full, r)
		return nil
	case b == nil:
		return tooLarge("the zip file unpacks to more than a file may", ingest.Size(e.lim.Unzipped), "more than that", "unpacked bytes")
	case len(b) == 0:
		e.complain(full, &ingest.Reason{Code: CodeEmpty, Severity: ingest.Fail, What: "the file in the zip is empty", Next: "ask the sender to send it again"})
		return nil
	}
	if inner, r := e.inner(b, full, depth); inner {
		return r
	}
	s := ingest.NewSource(e.src.Name, b)
	if first, ok := e.seen[s.SHA256]; ok {
		e.complain(full, &ingest.Reason{Code: CodeSame, Severity: ingest.Note, What: "the file has the same bytes as another in the zip, so it is handed on once", Found: first})
		return nil
	}
	e.seen[s.SHA256] = full
	s.Member = e.member(e.names.Unique(full))
	e.members = append(e.members, s)
	return nil
}

// unpack gives the bytes of an entry. Neither bytes nor a reason means that
// the zip as a whole has become too large.
func (e *expander) unpack(f *zip.File) ([]byte, *ingest.Reason) {
	if f.UncompressedSize64 > uint64(e.left) {
		return nil, nil
	}
	rc, err := f.Open()
	if err != nil {
		return nil, damagedEntry("its beginning can't be found")
	}
	defer rc.Close()
	w := bytes.NewBuffer(make([]byte, 0, f.UncompressedSize64+bytes.MinRead))
	// One byte more than the table of contents says shows that it lies.
	n, err := io.Copy(w, io.LimitReader(rc, int64(f.UncompressedSize64)+1))
	e.left -= n
	if err != nil || uint64(n) != f.UncompressedSize64 {
		return nil, damagedEntry("it can't be unpacked to the end, or its checksum differs")
	}
	return w.Bytes(), nil
}

// inner goes into a zip within the zip; false when the entry is none, or is a
// document that only looks like one inside.
func (e *expander) inner(b []byte, full string, depth int) (bool, *ingest.Reason) {
	if ingest.Sniff(full, b) != ingest.KindZip {
		return false, nil
	}
	if zr, err := zip.NewReader(bytes.NewReader(b), int64(len(b))); err == nil && office(zr) {
		return false, nil
	}
	if depth+1 > deepest {
		e.complain(full, &ingest.Reason{Code: CodeDeep, Severity: ingest.Hold, What: "a zip file lies within a zip file deeper than they are taken apart",
			Expected: fmt.Sprintf("at most %d within one another", deepest), Found: "more than that",
			Next: "unpack it on your computer, and drop the files in one by one"})
		return true, nil
	}
	return true, e.archive(b, full+" > ", depth+1)
}
