package dataset

import (
	"strconv"
	"testing"

	"github.com/xuri/excelize/v2"
)

// A table that is longer than a sheet goes on in the next one, under its
// heading, with no row lost.
func TestLongTablesTakeMoreSheets(t *testing.T) {
	book := excelize.NewFile(excelize.Options{TmpDir: t.TempDir()})
	defer book.Close()
	w := &sheetWriter{book: book, name: "samples", columns: []Column{{Name: "n", Type: "integer"}, {Name: "text"}}, most: 10}
	for i := range 25 {
		if err := w.write([]string{strconv.Itoa(i), "=x"}); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.end(); err != nil {
		t.Fatal(err)
	}
	next := 0
	for _, s := range []string{"samples", "samples 2", "samples 3"} {
		rows, err := book.GetRows(s)
		if err != nil || len(rows) < 2 || len(rows) > 10 || rows[0][0] != "n" {
			t.Fatalf("%s: %v, %v", s, rows, err)
		}
		for _, r := range rows[1:] {
			if r[0] != strconv.Itoa(next) || r[1] != "=x" {
				t.Errorf("%s: %v, want %d", s, r, next)
			}
			next++
		}
	}
	if next != 25 {
		t.Errorf("%d rows", next)
	}
}
