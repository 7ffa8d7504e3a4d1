package proofsheet

import (
	"bytes"
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"github.com/xuri/excelize/v2"

	"example.org/windrow/ingest"
	"example.org/windrow/ingest/scan"
)

// unzipped bounds what a workbook may unpack to, in bytes.
const unzipped = 200 << 20

// Read takes what a person said from a workbook that Write made of the same
// document. name is its file, for messages. left is how many words of the
// document are no longer in it, which stay as the program read them. All
// mistakes are told, each with its cell.
func Read(name string, b []byte, doc *ingest.Document) (list []scan.Correction, left int, reasons []*ingest.Reason) {
	amiss := func(cell, what, expected, found, next string) {
		p := ingest.Place{File: name}
		if cell != "" {
			p.Sheet, p.Cell = sheet, cell
		}
		reasons = append(reasons, &ingest.Reason{Code: "proof-sheet", Severity: ingest.Fail, Where: p, What: what, Expected: expected, Found: found, Next: next})
	}
	const again = "make the sheet anew with windrow proof, and compare again"
	f, err := excelize.OpenReader(bytes.NewReader(b), excelize.Options{UnzipSizeLimit: unzipped, UnzipXMLSizeLimit: unzipped, RawCellValue: true})
	if err != nil {
		amiss("", "the file is no workbook", "the workbook that windrow proof made, saved as .xlsx", ingest.Cause(err), "save it as .xlsx, or "+again)
		return nil, 0, reasons
	}
	defer func() { _ = f.Close() }()
	rows, err := f.GetRows(sheet)
	if err != nil || len(rows) < headRow {
		amiss("", "the workbook has no list of words", "a sheet named "+sheet, strings.Join(f.GetSheetList(), ", "), again)
		return nil, 0, reasons
	}
	for i, h := range headings {
		if got := cell(rows[headRow-1], i); got != h {
			amiss(fmt.Sprintf("%c%d", 'A'+i, headRow), "a heading of the list was changed", h, got, again)
		}
	}
	if len(reasons) > 0 {
		return nil, 0, reasons
	}
	pages, all := map[int]*ingest.Page{}, 0
	for _, p := range doc.Pages {
		pages[p.Number] = p
		for i := range p.Words {
			if p.Words[i].OCR != nil {
				all++
			}
		}
	}
	seen := map[[2]int]int{}
	for n := firstRow; n <= len(rows); n++ {
		r := rows[n-1]
		word, says := strings.TrimSpace(cell(r, 0)), strings.TrimSpace(cell(r, 4))
		at := func(col string) string { return fmt.Sprintf("%s%d", col, n) }
		if says != "" {
			// A number that a spreadsheet keeps as one has lost its last zeros.
			if kind, err := f.GetCellType(sheet, at(saysCol)); err != nil || kind != excelize.CellTypeSharedString && kind != excelize.CellTypeInlineString {
				amiss(at(saysCol), "this was kept as a number or a date and not as text, so that zeros or points may be lost", "text", says, "format the cell as text, and write it again as it stands in the picture")
				continue
			}
		}
		if word == "" {
			if says == "" && strings.TrimSpace(cell(r, 6)) == "" {
				continue
			}
			c, why := missed(says, cell(r, 6), pages)
			if why != nil {
				amiss(at(atCol), why[0], why[1], why[2], "write what it says, and where it stands, as in the lines above")
				continue
			}
			list = append(list, c)
			continue
		}
		page, no, ok := strings.Cut(word, ".")
		pn, err1 := strconv.Atoi(page)
		wn, err2 := strconv.Atoi(no)
		p := pages[pn]
		if !ok || err1 != nil || err2 != nil || p == nil || wn < 1 || wn > len(p.Words) || p.Words[wn-1].OCR == nil {
			amiss(at(wordCol), "there is no such word in the report", "a number as windrow proof wrote it", word, again)
			continue
		}
		w := &p.Words[wn-1]
		if cell(r, 2) != w.Text || cell(r, 6) != (ingest.Place{Page: pn, Box: &w.Box}).Inside() {
			amiss(at(readCol), "this is not what the program reads in that place now", w.Text, cell(r, 2), again)
			continue
		}
		k := [2]int{pn, wn}
		if seen[k] > 0 {
			amiss(at(wordCol), "this word is in the list twice", "one line for a word", fmt.Sprintf("also in line %d", seen[k]), "remove one of them")
			continue
		}
		seen[k] = n
		switch says {
		case "":
			amiss(at(saysCol), "it is not said what stands there", "what the picture shows, or "+scan.Nothing, "an empty cell", "look at the picture and fill it in")
			continue
		case scan.Nothing:
			says = ""
		}
		list = append(list, scan.Correction{Page: pn, Word: wn, Says: says})
	}
	if len(reasons) > 0 {
		return nil, 0, reasons
	}
	return list, all - len(seen), nil
}

func cell(r []string, i int) string {
	if i < len(r) {
		return r[i]
	}
	return ""
}

var placed = regexp.MustCompile(`^page (\d{1,4}) box (\d{1,5}(?:\.\d+)?),(\d{1,5}(?:\.\d+)?)-(\d{1,5}(?:\.\d+)?),(\d{1,5}(?:\.\d+)?)$`)

// missed reads a line for a word that the program missed.
func missed(says, at string, pages map[int]*ingest.Page) (c scan.Correction, why []string) {
	m := placed.FindStringSubmatch(strings.TrimSpace(at))
	switch {
	case says == "" || says == scan.Nothing:
		return c, []string{"this line says nothing", "what the picture shows", says}
	case m == nil:
		return c, []string{"this line does not say where the word stands", "a place such as page 1 box 100,200-130,210", at}
	}
	c.Says = says
	c.Page, _ = strconv.Atoi(m[1]) // digits, as was matched
	for i, to := range []*float64{&c.Box.X0, &c.Box.Y0, &c.Box.X1, &c.Box.Y1} {
		*to, _ = strconv.ParseFloat(m[i+2], 64)
	}
	p := pages[c.Page]
	if p == nil || !(c.Box.X1 > c.Box.X0 && c.Box.Y1 > c.Box.Y0 && c.Box.X1 <= p.Width && c.Box.Y1 <= p.Height) {
		return c, []string{"that place is not on the page", "a box within the page, the left upper corner first", at}
	}
	return c, nil
}
