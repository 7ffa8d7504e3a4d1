package xls

import (
	"bytes"
	"errors"
	"io"
	"strings"

	"github.com/richardlehane/mscfb"

	"example.org/windrow/ingest"
)

// compoundFile begins every file in Microsoft's older container ([MS-CFB]
// 2.2).
var compoundFile = []byte{0xD0, 0xCF, 0x11, 0xE0, 0xA1, 0xB1, 0x1A, 0xE1}

// chunk is how much of a stream is read at once. The library's work grows
// with the square of it.
const chunk = 32 << 10

// container is what the outer file holds for us.
type container struct {
	stream []byte // "Workbook"
	macros bool
}

// openContainer finds the stream of records, or says what the file is instead.
func openContainer(b []byte) (c container, r *ingest.Reason) {
	switch {
	case len(b) == 0:
		return c, notWorkbook("an empty file")
	case bareStream(b):
		return c, oldWorkbook("a workbook of the years before 1995")
	case bytes.HasPrefix(b, []byte("PK\x03\x04")):
		return c, notWorkbook("a zip file, which a workbook of the newer kind is too")
	case !bytes.HasPrefix(b, compoundFile):
		return c, notWorkbook("a file that does not begin as an .xls workbook does")
	}
	d, err := mscfb.New(bytes.NewReader(b))
	if err != nil {
		return c, damaged("its outer container can't be followed; most often the file was cut short on its way")
	}
	book, encrypted, found := false, false, false
	for _, f := range d.File {
		switch name := strings.ToLower(f.Name); {
		case len(f.Path) > 0:
		case name == "workbook" && f.Size > 0:
			if found {
				return c, damaged("it holds two workbooks, so that two programs could read two different ones in it")
			}
			found = true
			if f.Size > int64(len(b)) {
				return c, damaged("its inner part claims to be larger than the file; most often the file was cut short on its way")
			}
			if c.stream, err = readStream(f); err != nil {
				return c, damaged("its inner part can't be read to the end; most often the file was cut short on its way")
			}
		case name == "book" && f.Size > 0:
			book = true
		case name == "encryptedpackage":
			encrypted = true
		case name == "_vba_project_cur":
			c.macros = true
		}
	}
	switch {
	case found:
		return c, nil
	case encrypted:
		return c, locked()
	case book:
		return c, oldWorkbook("a workbook of Excel 5 or 95")
	}
	return c, notWorkbook("another kind of office file, with no workbook in it")
}

func readStream(f *mscfb.File) ([]byte, error) {
	out := make([]byte, f.Size)
	for done := 0; done < len(out); {
		n, err := f.Read(out[done:min(done+chunk, len(out))])
		if n == 0 || err != nil && !errors.Is(err, io.EOF) {
			return nil, errors.Join(io.ErrUnexpectedEOF, err)
		}
		done += n
	}
	return out, nil
}

// bareStream tells the workbooks of Excel 2 to 4, which are records without a
// container: they begin with a record of kind BOF and a length of four or six.
func bareStream(b []byte) bool {
	return len(b) > 4 && b[0] == 0x09 && (b[1] == 0x00 || b[1] == 0x02 || b[1] == 0x04) && (b[2] == 4 || b[2] == 6) && b[3] == 0
}
