package xls

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"example.org/windrow/ingest"
	"example.org/windrow/ingest/numfmt"
)

// every is how often, in records, a reader looks whether it should stop.
const every = 1024

// A book is what the sheets of a workbook share, and what was found on the
// way.
type book struct {
	stream  []byte
	lim     ingest.Limits
	epoch   numfmt.Epoch
	texts   []string         // shared strings, by index
	formats []*numfmt.Format // of the cell styles, by index
	struck  []bool           // of the fonts: whether they strike through
	fonts   []int            // of the cell styles, by index
	runs    map[int][]int    // of shared strings with parts in other fonts: those fonts
	sheets  []sheetRef
	notes   ingest.Notes

	results int               // formulas that were saved with a result
	empties map[emptyRef]bool // formulas whose result is an empty text
}

// A sheetRef is an entry of the list of sheets ([MS-XLS] 2.4.28 BoundSheet8).
type sheetRef struct {
	name   string
	hidden bool
	kind   int // 0 worksheet, 1 macro sheet, 2 chart, 6 module
	at     int // of its first record in the stream
}

// emptyRef is a cell whose formula has an empty result.
type emptyRef struct{ page, row, col int }

// globals reads the first part of the stream, which all sheets share.
func (b *book) globals(ctx context.Context) *ingest.Reason {
	pos, r := b.begin(0, 0x0005)
	if r != nil {
		return r
	}
	own := map[int]string{}
	var styles []int
	depth := 1
	for n := 0; depth > 0; n++ {
		if n%every == 0 {
			if r := b.lim.Over(ctx.Err(), "the workbook"); r != nil {
				return r
			}
		}
		rec, next, err := nextRecord(b.stream, pos)
		if err != nil {
			return damaged("the part that its sheets share has no end; most often the file was cut short on its way")
		}
		pos = next
		switch {
		case rec.id == recBOF:
			depth++
			continue
		case rec.id == recEOF:
			depth--
			continue
		case depth > 1:
			continue
		}
		switch rec.id {
		case recFilePass:
			return locked()
		case recDate1904:
			if len(rec.data) >= 2 && le.Uint16(rec.data) == 1 {
				b.epoch = numfmt.From1904
			}
		case recFormat:
			if r := readFormat(rec, own); r != nil {
				return r
			}
		case recXF:
			if len(rec.data) < 4 {
				return damaged("a style of its cells is cut short")
			}
			styles = append(styles, int(le.Uint16(rec.data[2:])))
			b.fonts = append(b.fonts, int(le.Uint16(rec.data)))
		case recFont:
			b.struck = append(b.struck, len(rec.data) >= 4 && rec.data[2]&8 != 0)
		case recBoundSheet:
			if r := b.addSheet(rec); r != nil {
				return r
			}
		case recSST:
			if b.texts != nil {
				return damaged("it holds its list of texts twice")
			}
			if r := b.readTexts(ctx, rec); r != nil {
				return r
			}
		}
	}
	if len(b.sheets) == 0 {
		return notWorkbook("a workbook that names no sheets")
	}
	b.loadFormats(styles, own)
	return nil
}

// begin checks the record that every part starts with and gives the position
// after it. want is the kind of part, 0 for any.
func (b *book) begin(at, want int) (int, *ingest.Reason) {
	rec, pos, err := nextRecord(b.stream, at)
	if err != nil || rec.id&0xFF != 0x09 || len(rec.data) < 4 {
		return 0, damaged("one of its parts does not begin as it should")
	}
	if rec.id != recBOF {
		return 0, oldWorkbook("a workbook of the years before 1995")
	}
	switch version := int(le.Uint16(rec.data)); {
	case version < versionOfBIFF8:
		return 0, oldWorkbook("a workbook of Excel 5 or 95")
	case version != versionOfBIFF8:
		return 0, damaged("it calls itself a version that doesn't exist")
	}
	if want != 0 && int(le.Uint16(rec.data[2:])) != want {
		return 0, damaged("its parts are not in the order that a workbook has")
	}
	return pos, nil
}

func readFormat(rec record, own map[int]string) *ingest.Reason {
	rd := rec.reader(0)
	id, err := rd.u16()
	if err != nil {
		return damaged("a number format is cut short")
	}
	n, err := rd.u16()
	if err != nil {
		return damaged("a number format is cut short")
	}
	code, err := rd.text(n)
	if err != nil {
		return damaged("a number format is cut short")
	}
	own[id] = code
	return nil
}

func (b *book) addSheet(rec record) *ingest.Reason {
	if len(rec.data) < 8 {
		return damaged("its list of sheets is cut short")
	}
	name, err := rec.reader(7).text(int(rec.data[6]))
	if err != nil {
		return damaged("its list of sheets is cut short")
	}
	for _, s := range b.sheets {
		if strings.EqualFold(s.name, name) {
			return damaged(fmt.Sprintf("two sheets are called %q", name))
		}
	}
	at := le.Uint32(rec.data)
	if uint64(at) >= uint64(len(b.stream)) {
		return damaged(fmt.Sprintf("the sheet %q is listed but isn't in the file", name))
	}
	if len(b.sheets) > b.lim.Pages {
		return ingest.TooLarge("the workbook has more sheets than a file may have", fmt.Sprint(b.lim.Pages), "more than that", "pages")
	}
	b.sheets = append(b.sheets, sheetRef{name: name, hidden: rec.data[4]&3 != 0, kind: int(rec.data[5]), at: int(at)})
	return nil
}

// readTexts reads the shared strings ([MS-XLS] 2.4.265 SST).
func (b *book) readTexts(ctx context.Context, rec record) *ingest.Reason {
	if len(rec.data) < 8 {
		return damaged("its list of texts is cut short")
	}
	n := int(le.Uint32(rec.data[4:]))
	rd := rec.reader(8)
	b.texts = make([]string, 0, min(max(n, 0), len(b.stream)/3))
	for i := range n {
		if i%every == 0 {
			if r := b.lim.Over(ctx.Err(), "the workbook"); r != nil {
				return r
			}
		}
		length, err := rd.u16()
		if err == nil {
			var s string
			s, err = rd.text(length)
			b.texts = append(b.texts, s)
			if len(rd.fonts) > 0 {
				if b.runs == nil {
					b.runs = map[int][]int{}
				}
				b.runs[i] = slices.Clone(rd.fonts)
			}
		}
		if err != nil {
			return damaged("its list of texts is cut short")
		}
	}
	return nil
}

// loadFormats prepares the number format of every cell style, so that a cell
// finds its own by index.
func (b *book) loadFormats(styles []int, own map[int]string) {
	made := map[int]*numfmt.Format{}
	for _, id := range styles {
		f, ok := made[id]
		if !ok {
			code, known := own[id]
			if !known {
				code, known = numfmt.BuiltIn(id)
			}
			if known {
				f = numfmt.Parse(code)
			} else {
				f = numfmt.Unknown(fmt.Sprintf("number format %d", id))
			}
			made[id] = f
		}
		b.formats = append(b.formats, f)
	}
}

// judgeEmptyResults decides about formulas whose stored result is an empty
// text. Where the program that wrote the workbook calculated any formula it
// calculated all, and an empty text is what somebody asked for. Where no
// formula has another result, the workbook may never have been calculated:
// some libraries write such a file, with the same bytes.
func (b *book) judgeEmptyResults(d *ingest.Document) {
	if b.results > 0 {
		return
	}
	for _, p := range d.Pages {
		for i := range p.Cells {
			if c := &p.Cells[i]; b.empties[emptyRef{p.Number, c.Row, c.Col}] {
				c.Kind = ingest.ErrorCell
				b.noValue(p, c)
			}
		}
	}
}

func (b *book) noValue(p *ingest.Page, c *ingest.Cell) {
	b.note(p, c, CodeNoValue, ingest.Flag, "the cell holds a formula that was saved without its result, so there is nothing to read", "a formula",
		"open the workbook in a spreadsheet program, let it calculate, save it, and drop it in again")
}

func (b *book) note(p *ingest.Page, c *ingest.Cell, code string, sev ingest.Severity, what, found, next string) {
	b.notes.Add(&ingest.Reason{Code: code, Severity: sev, Where: ingest.Place{Sheet: p.Name, Cell: ingest.CellName(c.Row, c.Col)},
		What: what, Found: found, Next: next})
}
