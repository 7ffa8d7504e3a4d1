package sheet

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/xml"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"path"
	"strings"

	"github.com/xuri/excelize/v2"

	"example.org/windrow/ingest"
	"example.org/windrow/ingest/numfmt"
)

// A book is an open workbook.
type book struct {
	file    *excelize.File
	parts   map[string][]byte // by partName; each is checked against its checksum
	sheets  []sheetRef
	strings []string // shared strings, by index
	formats []*numfmt.Format
	struck  []bool       // by style: whether the font strikes through
	redone  map[int]bool // shared strings with a part that is struck through
	epoch   numfmt.Epoch
	notes   ingest.Notes
}

type sheetRef struct {
	name   string
	hidden bool
	part   string // "" when the sheet has no cells, as a chart sheet
}

func (b *book) close() { _ = b.file.Close() }

// open unpacks a workbook in memory and reads what its sheets share.
func open(raw []byte, lim ingest.Limits) (*book, *ingest.Reason) {
	f, err := excelize.OpenReader(bytes.NewReader(raw), excelize.Options{
		UnzipSizeLimit: lim.Unzipped,
		// At the same limit no part is ever written to a temporary file.
		UnzipXMLSizeLimit: lim.Unzipped,
		RawCellValue:      true,
	})
	if err != nil {
		if errors.Is(err, excelize.ErrWorkbookFileFormat) {
			return nil, notWorkbook("a file that no spreadsheet program would open as .xlsx")
		}
		return nil, damaged("it could not be unpacked")
	}
	b := &book{file: f}
	if r := b.load(raw, lim); r != nil {
		b.close()
		return nil, r
	}
	return b, nil
}

func (b *book) load(raw []byte, lim ingest.Limits) *ingest.Reason {
	if r := b.checkParts(raw); r != nil {
		return r
	}
	if b.file.WorkBook == nil || len(b.file.WorkBook.Sheets.Sheet) == 0 {
		return notWorkbook("a file that names no sheets")
	}
	if n := len(b.file.WorkBook.Sheets.Sheet); n > lim.Pages {
		return ingest.TooLarge("the workbook has more sheets than a file may have", fmt.Sprint(lim.Pages), fmt.Sprint(n), "pages")
	}
	if pr := b.file.WorkBook.WorkbookPr; pr != nil && pr.Date1904 {
		b.epoch = numfmt.From1904
	}
	workbook, r := b.targetOf("", "officedocument", "xl/workbook.xml")
	if r != nil {
		return r
	}
	rels, r := b.relations(workbook)
	if r != nil {
		return r
	}
	names := map[string]bool{}
	for _, s := range b.file.WorkBook.Sheets.Sheet {
		rel, ok := rels[s.ID]
		if !ok || rel.external {
			return damaged(fmt.Sprintf("the sheet %q is listed but isn't in the file", s.Name))
		}
		if key := strings.ToLower(s.Name); names[key] {
			return damaged(fmt.Sprintf("two sheets are called %q", s.Name))
		} else {
			names[key] = true
		}
		ref := sheetRef{name: s.Name, hidden: s.State == "hidden" || s.State == "veryHidden"}
		if rel.kind == "worksheet" {
			ref.part = rel.target
			if b.parts[ref.part] == nil {
				return damaged(fmt.Sprintf("the sheet %q is listed but isn't in the file", s.Name))
			}
		}
		b.sheets = append(b.sheets, ref)
	}
	shared, r := only(rels, "sharedstrings", "")
	if r != nil {
		return r
	}
	if shared != "" {
		if b.parts[shared] == nil {
			return damaged("the part that holds its texts is missing")
		}
		if b.strings, b.redone, r = readStrings(b.parts[shared]); r != nil {
			return r
		}
	}
	b.struck = b.struckStyles()
	return b.loadFormats()
}

// checkParts takes the unpacked parts over from excelize, which does not
// mind when unpacking broke off in the middle of one, and holds each against
// the length and the checksum in the container's directory.
func (b *book) checkParts(raw []byte) *ingest.Reason {
	b.parts = map[string][]byte{}
	b.file.Pkg.Range(func(k, v any) bool {
		if name, ok := k.(string); ok {
			if c, ok := v.([]byte); ok {
				b.parts[partName(name)] = c
			}
		}
		return true
	})
	zr, err := zip.NewReader(bytes.NewReader(raw), int64(len(raw)))
	if err != nil {
		return damaged("its table of contents is broken")
	}
	for _, f := range zr.File {
		if f.FileInfo().IsDir() {
			continue
		}
		c, ok := b.parts[partName(f.Name)]
		if !ok || uint64(len(c)) != f.UncompressedSize64 || crc32.ChecksumIEEE(c) != f.CRC32 {
			return damaged("an inner part is not what it was when the workbook was saved (its checksum differs)")
		}
	}
	return nil
}

// A relation is one entry of a .rels part: which part plays which role.
type relation struct {
	kind     string // last word of its type, in lower case
	target   string // partName
	external bool
}

// relations reads the relations of a part; "" is the package itself.
func (b *book) relations(part string) (map[string]relation, *ingest.Reason) {
	dir, base := path.Split(part)
	raw := b.parts[dir+"_rels/"+base+".rels"]
	if raw == nil {
		return nil, damaged("the list of its sheets' parts is missing")
	}
	var list struct {
		Relationship []struct {
			ID     string `xml:"Id,attr"`
			Type   string `xml:"Type,attr"`
			Target string `xml:"Target,attr"`
			Mode   string `xml:"TargetMode,attr"`
		}
	}
	if err := xml.Unmarshal(raw, &list); err != nil {
		return nil, damaged("the list of its sheets' parts can't be read")
	}
	out := make(map[string]relation, len(list.Relationship))
	for _, r := range list.Relationship {
		target := partName(r.Target)
		if strings.HasPrefix(target, "/") {
			target = strings.TrimPrefix(path.Clean(target), "/")
		} else {
			target = path.Join(dir, target)
		}
		out[r.ID] = relation{kind: strings.ToLower(path.Base(r.Type)), target: target, external: strings.EqualFold(r.Mode, "External")}
	}
	return out, nil
}

// targetOf is the part that plays a role for another.
func (b *book) targetOf(part, kind, fallback string) (string, *ingest.Reason) {
	rels, r := b.relations(part)
	if r != nil {
		return "", r
	}
	return only(rels, kind, fallback)
}

// only is the one part that plays a role; two of them make two workbooks of
// one file.
func only(rels map[string]relation, kind, fallback string) (string, *ingest.Reason) {
	found := ""
	for _, rel := range rels {
		if rel.kind != kind || rel.external || rel.target == found {
			continue
		}
		if found != "" {
			return "", damaged("two inner parts play the same role, so that two programs could read two different workbooks in it")
		}
		found = rel.target
	}
	if found == "" {
		return fallback, nil
	}
	return found, nil
}

// loadFormats prepares the number format of every cell style, so that a cell
// finds its own by index.
func (b *book) loadFormats() *ingest.Reason {
	st := b.file.Styles
	if st == nil || st.CellXfs == nil {
		b.formats = []*numfmt.Format{numfmt.General}
		return nil
	}
	own := map[int]string{}
	if st.NumFmts != nil {
		for _, n := range st.NumFmts.NumFmt {
			if n != nil {
				own[n.NumFmtID] = n.FormatCode
			}
		}
	}
	made := map[int]*numfmt.Format{}
	for _, xf := range st.CellXfs.Xf {
		id := 0
		if xf.NumFmtID != nil {
			id = *xf.NumFmtID
		}
		f, ok := made[id]
		if !ok {
			code, known := own[id]
			if !known {
				code, known = numfmt.BuiltIn(id)
			}
			if !known {
				// A style that names a format which isn't there: shown as
				// the number it is, and said so.
				f = numfmt.Unknown(fmt.Sprintf("number format %d", id))
			} else {
				f = numfmt.Parse(code)
			}
			made[id] = f
		}
		b.formats = append(b.formats, f)
	}
	return nil
}

// readStrings reads the shared strings: the text of each, with the runs of
// rich text joined and pronunciation guides left out. struck are those of
// which a run is struck through.
func readStrings(part []byte) (out []string, struck map[int]bool, _ *ingest.Reason) {
	d := newTokens(bytes.NewReader(part))
	for {
		tok, err := d.next()
		if errors.Is(err, io.EOF) {
			return out, struck, nil
		}
		if err != nil {
			return nil, nil, damaged("the part that holds its texts can't be read to its end")
		}
		if se, ok := tok.(xml.StartElement); ok && se.Name.Local == "si" {
			s, crossed, err := readText(d)
			if err != nil {
				return nil, nil, damaged("the part that holds its texts can't be read to its end")
			}
			if crossed {
				if struck == nil {
					struck = map[int]bool{}
				}
				struck[len(out)] = true
			}
			out = append(out, s)
		}
	}
}

// readText reads to the end of an si or is element. struck reports whether a
// run of the text is struck through.
func readText(d *tokens) (s string, struck bool, _ error) {
	depth, phonetic, inText := 1, 0, false
	for depth > 0 {
		tok, err := d.next()
		if err != nil {
			return "", false, err
		}
		switch t := tok.(type) {
		case xml.StartElement:
			depth++
			inText = t.Name.Local == "t" && phonetic == 0
			switch t.Name.Local {
			case "rPh":
				phonetic++
			case "strike":
				v := attr(t.Attr, "val")
				struck = struck || v == "" || yes(v)
			}
		case xml.EndElement:
			depth--
			inText = false
			if t.Name.Local == "rPh" {
				phonetic--
			}
		case xml.CharData:
			if inText {
				s += string(t)
			}
		}
	}
	return unescape(s), struck, nil
}

// unescape replaces _xHHHH_, which stands for a character that XML can't
// hold (ECMA-376 part 1, 22.9.2.19).
func unescape(s string) string {
	if !strings.Contains(s, "_x") {
		return s
	}
	var out strings.Builder
	for i := 0; i < len(s); {
		if i+7 <= len(s) && s[i] == '_' && s[i+1] == 'x' && s[i+6] == '_' {
			if v, ok := hex4(s[i+2 : i+6]); ok {
				out.WriteRune(v)
				i += 7
				continue
			}
		}
		out.WriteByte(s[i])
		i++
	}
	return strings.ToValidUTF8(out.String(), "\uFFFD")
}

func hex4(s string) (rune, bool) {
	var v rune
	for _, c := range []byte(s) {
		switch {
		case c >= '0' && c <= '9':
			v = v<<4 | rune(c-'0')
		case c >= 'A' && c <= 'F':
			v = v<<4 | rune(c-'A'+10)
		case c >= 'a' && c <= 'f':
			v = v<<4 | rune(c-'a'+10)
		default:
			return 0, false
		}
	}
	return v, true
}

// every is how often, in rows, a long sheet looks whether it should stop.
const every = 256

func (b *book) readSheet(ctx context.Context, i, left int, lim ingest.Limits) (*ingest.Page, *ingest.Reason) {
	s := b.sheets[i]
	page := &ingest.Page{Number: i + 1, Name: s.name, Hidden: s.hidden}
	if s.part == "" {
		b.notes.Add(&ingest.Reason{Code: CodeNoCells, Severity: ingest.Note, Where: ingest.Place{Sheet: s.name},
			What: "the sheet holds a chart or something else without cells, so nothing was read from it"})
		return page, nil
	}
	g := &grid{book: b, page: page, lim: lim, left: left}
	if r := g.read(ctx, b.parts[s.part]); r != nil {
		return page, r
	}
	return page, g.noteComments(s.part)
}
