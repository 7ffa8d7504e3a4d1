package sheet

import (
	"archive/zip"
	"bytes"
	"fmt"
	"strings"
	"unicode/utf16"

	"example.org/windrow/ingest"
)

// compoundFile begins every file in Microsoft's older container (OLE compound
// file, [MS-CFB] 2.2): .xls workbooks, and .xlsx workbooks with a password.
var compoundFile = []byte{0xD0, 0xCF, 0x11, 0xE0, 0xA1, 0xB1, 0x1A, 0xE1}

// mostDeflate is how many times its size a member may grow to: deflate can't
// do better than 1032 to 1, so that a directory that claims more is lying.
const mostDeflate = 1032

// mostMembers bounds the parts of a workbook; a real one has a few dozen, and
// a few a sheet.
const mostMembers = 10_000

// checkContainer looks at the outside of the file before a library unpacks
// it: which container it is, and what its directory says that it will grow to.
func checkContainer(b []byte, lim ingest.Limits) *ingest.Reason {
	if bytes.HasPrefix(b, compoundFile) {
		return compoundReason(b)
	}
	if len(b) == 0 {
		return notWorkbook("an empty file")
	}
	if !bytes.HasPrefix(b, []byte("PK")) {
		return notWorkbook("a file that does not begin as an .xlsx workbook does")
	}
	zr, err := zip.NewReader(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		return damaged("its table of contents is missing or broken; most often the file was cut short on its way")
	}
	if len(zr.File) > mostMembers {
		return ingest.TooLarge("the workbook has more inner parts than a workbook may have", fmt.Sprint(mostMembers), fmt.Sprint(len(zr.File)), "inner parts, which is fixed,")
	}
	var grown uint64
	seen := make(map[string]bool, len(zr.File))
	for _, f := range zr.File {
		name := partName(f.Name)
		if seen[name] {
			return damaged("it holds two inner parts of the same name, so that two programs could read two different workbooks in it")
		}
		seen[name] = true
		if f.UncompressedSize64 > uint64(lim.Unzipped) {
			return ingest.TooLarge("the workbook unpacks to more than a file may", ingest.Size(lim.Unzipped), "more than that in one inner part", "unpacked bytes")
		}
		if f.UncompressedSize64/mostDeflate > f.CompressedSize64+1 {
			return damaged("an inner part claims to unpack to more than is possible")
		}
		grown += f.UncompressedSize64
	}
	if grown > uint64(lim.Unzipped) {
		return ingest.TooLarge("the workbook unpacks to more than a file may", ingest.Size(lim.Unzipped), ingest.Size(int64(min(grown, 1<<62))), "unpacked bytes")
	}
	switch {
	case seen["xl/vbaproject.bin"]:
		return &ingest.Reason{Code: "macros", Severity: ingest.Hold, What: "the workbook carries macros (small programs), and such a file is not read",
			Expected: "a workbook without macros (.xlsx)", Found: "a workbook with macros (.xlsm)",
			Next: "ask the laboratory for a plain .xlsx; do not open the file and allow its macros to make one"}
	case seen["xl/workbook.bin"]:
		return notWorkbook("a workbook in Excel's binary form (.xlsb)")
	case !seen["[content_types].xml"]:
		return notWorkbook("a zip file that holds no workbook")
	}
	for name := range seen {
		if strings.HasPrefix(name, "word/") || strings.HasPrefix(name, "ppt/") {
			return notWorkbook("a text document or presentation, not a workbook")
		}
	}
	return nil
}

// partName is the name of an inner part as everything here spells it.
func partName(s string) string { return strings.ToLower(strings.ReplaceAll(s, `\`, "/")) }

// compoundReason tells a workbook with a password, an old workbook and
// anything else apart by the names of the streams, which a compound file
// spells in UTF-16 ([MS-CFB] 2.6.1).
func compoundReason(b []byte) *ingest.Reason {
	has := func(name string) bool {
		var w []byte
		for _, u := range utf16.Encode([]rune(name)) {
			w = append(w, byte(u), byte(u>>8))
		}
		return bytes.Contains(b, w)
	}
	switch {
	case has("EncryptedPackage"):
		return &ingest.Reason{Code: "locked", Severity: ingest.Hold, What: "the workbook can be opened only with a password",
			Expected: "a workbook that opens without a password",
			Next:     "open it with the password that the laboratory gave you, save a copy without one, and drop that copy in instead"}
	case has("Workbook"), has("Book"):
		return &ingest.Reason{Code: "old-workbook", Severity: ingest.Hold, What: "the file is a workbook in the form that Excel used before 2007",
			Expected: "an .xlsx workbook", Found: "an .xls workbook",
			Next: "ask the laboratory for an .xlsx, or open the file in a spreadsheet program and save it as .xlsx"}
	}
	return notWorkbook("another kind of office file")
}

func notWorkbook(found string) *ingest.Reason {
	return &ingest.Reason{Code: "damaged", Severity: ingest.Fail, What: "the file is not a workbook that can be read",
		Expected: "an .xlsx workbook", Found: found,
		Next: "open the file to see what it is; if it should be a workbook, ask for it again as .xlsx"}
}
