package dataset

import (
	"archive/zip"
	"cmp"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/xuri/excelize/v2"
)

// Most rows of a sheet, by the format (ECMA-376 leaves it to the program; this
// is what the common ones take, from memory), and most digits that a number
// of a cell keeps.
const (
	sheetRows   = 1 << 20
	sheetDigits = 15
)

// A sheetWriter writes the rows of a table into as many sheets as they need.
// It holds none of them: what is written waits in a temporary file beside the
// dataset.
type sheetWriter struct {
	book    *excelize.File
	name    string
	columns []Column
	stream  *excelize.StreamWriter
	sheets  int
	row     int // the next row of the sheet, from 1
	most    int // rows of a sheet
	bold    int // style of the heading
}

func (s *sheetWriter) open() error {
	if s.stream != nil {
		if err := s.stream.Flush(); err != nil {
			return err
		}
	}
	s.sheets++
	name := s.name
	if s.sheets > 1 {
		name += " " + strconv.Itoa(s.sheets)
	}
	if _, err := s.book.NewSheet(name); err != nil {
		return err
	}
	var err error
	if s.stream, err = s.book.NewStreamWriter(name); err != nil {
		return err
	}
	if err := s.stream.SetPanes(&excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"}); err != nil {
		return err
	}
	if err := s.stream.SetColWidth(1, len(s.columns), 18); err != nil {
		return err
	}
	var head []any
	for _, c := range s.columns {
		head = append(head, excelize.Cell{Value: c.Name, StyleID: s.bold})
	}
	s.row = 2
	return s.stream.SetRow("A1", head)
}

// write writes a row. A number of a column of numbers is a number of the
// sheet, unless that would lose digits of it; everything else is text, which a
// spreadsheet never runs.
func (s *sheetWriter) write(fields []string) error {
	if s.stream == nil || s.row > s.most {
		if err := s.open(); err != nil {
			return err
		}
	}
	cells := make([]any, len(fields))
	for i, f := range fields {
		switch t := s.columns[i].Type; {
		case f == "":
		case (t == "number" || t == "integer") && plainNumber(f) && len(strings.Trim(f, "-.0"))-strings.Count(strings.Trim(f, "-.0"), ".") <= sheetDigits:
			v, err := strconv.ParseFloat(f, 64)
			if err != nil {
				return err
			}
			cells[i] = v
		default:
			cells[i] = f
		}
	}
	at, err := excelize.CoordinatesToCellName(1, s.row)
	if err != nil {
		return err
	}
	s.row++
	return s.stream.SetRow(at, cells)
}

// end ends the last sheet, and makes one where there was no row.
func (s *sheetWriter) end() error {
	if s.stream == nil {
		if err := s.open(); err != nil {
			return err
		}
	}
	return s.stream.Flush()
}

// wideBook is wide.xlsx.
func wideBook(l wideLayout) workbook {
	return workbook{name: "wide.xlsx", sheet: "samples", csv: "wide.csv", columns: l.columns, units: l.units, says: []string{
		"One row is one sample by one report; the columns are told on the sheet columns. Methods are not comparable: never put two columns of one element together.",
		"A column whose name ends with estimated holds no measurements. One with limit behind its name says which values are limits of detection: don't put in half the limit unthinkingly."}}
}

// ResultsBook is the file of the results as a workbook. A dataset has it where
// they fit on one sheet: what is longer nobody reads in a spreadsheet.
const ResultsBook = "results.xlsx"

// resultsBook is that file.
func resultsBook() workbook {
	return workbook{name: ResultsBook, sheet: "results", csv: "results.csv", columns: columns[:], units: unitsOf, says: []string{
		"One row is one result; the columns are told on the sheet columns. Methods are not comparable: put no two of them together.",
		"value is measured only where value_is says printed, converted or rounded. Where censored says < or > it is a limit: don't put in half the limit unthinkingly.",
		"The same values stand once more in wide.xlsx, one row a sample: don't count both."}}
}

// A workbook is a table as a workbook: its rows, its columns, and what must be
// known of them.
type workbook struct {
	name    string   // of the file
	sheet   string   // of the rows
	says    []string // what must be known of the rows
	csv     string   // the file that has the numbers as they were
	columns []Column
	units   map[string]string // UCUM codes by column
}

// write writes the workbook of the rows of each into dir.
func (b workbook) write(dir string, each func(func([]string) error) error, opt Options) (err error) {
	book := excelize.NewFile(excelize.Options{TmpDir: dir})
	defer func() {
		if c := book.Close(); err == nil { // and its temporary files go
			err = c
		}
	}()
	bold, err := book.NewStyle(&excelize.Style{Font: &excelize.Font{Bold: true}})
	if err != nil {
		return err
	}
	const first = "read me"
	if err := book.SetSheetName("Sheet1", first); err != nil {
		return err
	}
	for i, line := range slices.Concat([]string{cmp.Or(opt.Title, noTitle), opt.Office, cmp.Or(opt.Licence, noLicence)}, b.says, []string{
		"Where text looks like a formula it has an apostrophe before it. Empty is not known; suppressed is withheld so that nobody is known again: read disclosure.html.",
		"Numbers here lose trailing zeros; " + b.csv + " has them as they were."}) {
		if err := book.SetCellStr(first, "A"+strconv.Itoa(i+1), text(line)); err != nil {
			return err
		}
	}
	if err := book.SetColWidth(first, "A", "A", 120); err != nil {
		return err
	}
	rows := &sheetWriter{book: book, name: b.sheet, columns: b.columns, most: sheetRows, bold: bold}
	if err := each(rows.write); err != nil {
		return err
	}
	if err := rows.end(); err != nil {
		return err
	}
	about := &sheetWriter{book: book, name: "columns", columns: []Column{{Name: "name"}, {Name: "type"}, {Name: "group"}, {Name: "unit (UCUM)"}, {Name: "about"}}, most: sheetRows, bold: bold}
	for _, c := range b.columns {
		if err := about.write([]string{text(c.Name), c.Type, c.Group, text(b.units[c.Name]), text(c.About)}); err != nil {
			return err
		}
	}
	if err := about.end(); err != nil {
		return err
	}
	if err := book.SetDocProps(&excelize.DocProperties{Title: text(cmp.Or(opt.Title, noTitle)), Creator: strings.TrimSpace("Windrow " + opt.Version)}); err != nil {
		return err
	}
	raw := filepath.Join(dir, b.name+".unsorted")
	if err := writeFile(raw, func(w io.Writer) error { return book.Write(w) }); err != nil {
		return err
	}
	if err := sortedZip(raw, filepath.Join(dir, b.name)); err != nil {
		return err
	}
	return os.Remove(raw)
}

// sortedZip writes the members of a zip in the order of their names, as they
// are: the writer of workbooks puts streamed sheets in any order, and the same
// dataset must be the same bytes.
func sortedZip(from, to string) error {
	z, err := zip.OpenReader(from)
	if err != nil {
		return err
	}
	defer func() { _ = z.Close() }() // it was only read
	slices.SortFunc(z.File, func(a, b *zip.File) int { return strings.Compare(a.Name, b.Name) })
	return writeFile(to, func(w io.Writer) error {
		out := zip.NewWriter(w)
		for _, f := range z.File {
			if err := out.Copy(f); err != nil {
				return err
			}
		}
		return out.Close()
	})
}
