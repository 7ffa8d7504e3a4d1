package xls

import (
	"strings"
	"testing"

	"example.org/windrow/ingest"
)

// font is one that strikes through or not ([MS-XLS] 2.4.122 Font).
func font(strikes bool) []byte {
	d := make([]byte, 16)
	if strikes {
		d[2] = 8
	}
	return rec(recFont, d...)
}

func style(font int) []byte { return rec(recXF, join(u16(font, 0), make([]byte, 16))...) }

func styled(row, col int, v float64, style int) []byte {
	return rec(recNumber, join(u16(row, col, style), f64(v))...)
}

// note is a comment on a cell, as its object, its text and the cell it is on.
func note(object int, text string, row, col int) []byte {
	return join(
		rec(recObj, join(u16(0x15, 18, 0x19, object), make([]byte, 14))...),
		rec(recTxO, join(make([]byte, 10), u16(len(text), 16), make([]byte, 4))...),
		rec(recContinue, append([]byte{0}, text...)...), rec(recContinue, make([]byte, 16)...),
		rec(recNote, join(u16(row, col, 0, object), narrow("lab"), []byte{0})...))
}

// Numbers that are struck through or commented on are told, as in .xlsx. The
// records are laid out after [MS-XLS]; LibreOffice writes the same.
func TestStruckNumbersAndComments(t *testing.T) {
	fonts := [][]byte{font(false), font(false), font(false), font(true), font(true), font(false)} // 0, 1, 2, 3, 5, 6
	rich := join(u16(5), []byte{8}, u16(2), []byte("15 16"), u16(0, 6), u16(3, 5))                // its last part is struck
	bold := join(u16(2), []byte{8}, u16(1), []byte("17"), u16(0, 6))
	shared := append(fonts, style(3), style(5), style(6), rec(recSST, join(u32(2), u32(2), rich, bold)...)) // styles 11, 12, 13
	p := part{shared: shared, cells: [][]byte{
		number(0, 0, 5), styled(0, 1, 6, 11), styled(0, 2, 7, 12), styled(0, 3, 8, 13), rec(recLabel, join(u16(0, 4, 11), narrow("old name"))...),
		rec(recLabelSST, join(u16(1, 0, 0), u32(0))...), rec(recLabelSST, join(u16(1, 1, 0), u32(1))...),
		rec(recMulRK, join(u16(2, 0, 0), u32(0x3FF00000), u16(11), u32(0x3FF00000), u16(1))...),
		label(3, 0, "P"), number(3, 1, 21),
		note(7, "wrong, should be 14", 3, 1), note(8, "on words", 3, 0), note(9, "on nothing", 9, 9),
		rec(recNote, join(u16(0, 0, 0, 44), narrow("lab"), []byte{0})...),
	}}
	d := mustRead(t, "m.xls", p.file(t))
	var got []string
	for _, n := range d.Notes {
		got = append(got, n.Where.Cell+" "+n.Code+" "+string(n.Severity)+" "+n.Found)
	}
	want := `B1 struck-out-text hold 6
C1 struck-out-text hold 7
A2 struck-out-text hold 15 16
B3 struck-out-text hold 1
B4 cell-comment flag wrong, should be 14
A1 cell-comment flag a comment whose text can't be read`
	if strings.Join(got, "\n") != want {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), want)
	}
	if c := d.Pages[0].Cells[1]; c.Text != "6" || c.Kind != ingest.NumberCell {
		t.Errorf("a struck number is kept: %+v", c)
	}
}
