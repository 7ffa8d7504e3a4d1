//go:build linux

package main

import (
	"archive/zip"
	"bytes"
	"compress/zlib"
	"encoding/base64"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"
)

// A variety makes reports of all kinds out of those of the laboratories, as
// many as one likes: every one has sample and report numbers of its own, and
// numbers of its own where those of the laboratory leave room. The n-th is
// always the same.
type variety struct {
	t    *testing.T
	base map[string][]byte
}

// A made report is a file and what a run must make of it.
type madeReport struct {
	name    string
	bytes   []byte
	kind    string
	reports int  // that can be used, in the file
	samples int  // of those
	held    bool // the file waits for a person
}

func newVariety(t *testing.T) *variety { return &variety{t, map[string][]byte{}} }

func (v *variety) file(path string) []byte {
	if b, ok := v.base[path]; ok {
		return b
	}
	b, err := os.ReadFile(filepath.Join("../../testdata/labs", filepath.FromSlash(path)))
	if err != nil {
		v.t.Fatal(err)
	}
	v.base[path] = b
	return b
}

// report is the n-th one. Of a hundred, 36 are printed letters, 28 lists (8 of
// them come by mail), 10 listings, 10 workbooks, 8 binary workbooks, 4 archives
// of three lists, 1 the report before again under another name, 1 no report at
// all, and 2 letters; of four hundred, one is a scan, and one of all a wide table.
func (v *variety) report(n int) madeReport {
	switch k := n % 100; {
	case k < 35:
		return v.letter(n)
	case k < 55:
		return v.list(n)
	case k < 65:
		return v.listing(n)
	case k < 75:
		return v.workbook(n)
	case k < 83:
		return v.binaryWorkbook(n)
	case k < 91:
		return v.mail(n)
	case k < 95:
		return v.parcel(n)
	case n == 95:
		return v.wideTable()
	case k == 96 && n%400 == 96:
		return madeReport{name: fmt.Sprintf("scan-%06d.pdf", n), bytes: fmt.Appendf(bytes.Clone(v.file("dunmere-hand-laboratory/DH-0475.pdf")), "%% copy %d\n", n), kind: "scan", held: true}
	case k == 98:
		r := v.report(n - 1)
		r.name, r.kind, r.reports, r.samples = "again-"+r.name, "the same again", 0, 0
		return r
	case k == 99:
		return madeReport{name: fmt.Sprintf("note-%06d.txt", n), bytes: fmt.Appendf(nil, "Please call back about bed %d.\n", n), kind: "no report", held: true}
	}
	return v.letter(n)
}

func (v *variety) list(n int) madeReport {
	b := derivedList(v.t, string(v.file("marrow-brook-land-water-testing/MB26-0711.csv")), n)
	return madeReport{name: fmt.Sprintf("MB27-%05d.csv", n), bytes: b, kind: "list, CSV", reports: 1, samples: 1}
}

func (v *variety) listing(n int) madeReport {
	return madeReport{name: fmt.Sprintf("J27-%05d.pdf", n), bytes: derivedListing(v.t, v.file("grayling-street-soil-chemistry-bureau/J26-140.pdf"), n), kind: "listing, PDF", reports: 1, samples: 3}
}

var (
	glyph = regexp.MustCompile(`<([0-9A-F]{4})> Tj`)
	// letterNos are the letters whose fonts have all digits; the files hold only
	// the glyphs that they show.
	letterNos = []string{"01180", "01217", "01254", "01291", "01365", "01439"}
	// gardenLast is the last printed digit of what can be moved by it.
	gardenLast = regexp.MustCompile(`(?:Boron \(B\)0\.\d|Manganese \(Mn\)\d+\.|Calcium \(Ca\)\d,\d\d|Iron \(Fe\)\d\d)(\d)`)
)

// letter is a printed letter on one sample, whose text stands glyph by glyph in
// its page: those of digits are exchanged, which are of one width.
func (v *variety) letter(n int) madeReport {
	no := letterNos[n%len(letterNos)]
	pdf := v.file("thrushgate-garden-soil-desk/TG-26-" + no + ".pdf")
	content := firstStream(v.t, pdf)
	at := glyph.FindAllSubmatchIndex(content, -1)
	text := make([]byte, len(at)) // its glyphs are 29 before the letters of ASCII
	for i, m := range at {
		g, err := strconv.ParseUint(string(content[m[2]:m[3]]), 16, 16)
		if err != nil {
			v.t.Fatal(err)
		}
		text[i] = byte(min(g+29, 127))
	}
	content = bytes.Clone(content)
	set := func(i int, digit byte) { copy(content[at[i][2]:], fmt.Sprintf("%04X", digit-29)) }
	moved := 0
	for from := 0; ; {
		i := bytes.Index(text[from:], []byte("TG-26-"+no))
		if i < 0 {
			break
		}
		for k, d := range fmt.Sprintf("%05d", n) {
			set(from+i+6+k, byte(d))
		}
		from += i + 11
		moved++
	}
	for _, m := range gardenLast.FindAllSubmatchIndex(text, -1) {
		set(m[2], '0'+byte((n/6+m[2])%10))
		moved++
	}
	if moved < 4 {
		v.t.Fatalf("%s: only %d places could be varied", no, moved)
	}
	return madeReport{name: fmt.Sprintf("TG-26-%05d.pdf", n), bytes: withFirstStream(v.t, pdf, content), kind: "letter, PDF", reports: 1, samples: 1}
}

// wideTable has 36 samples over several pages. There is one of it, since the
// laboratory numbers its samples by three digits.
func (v *variety) wideTable() madeReport {
	return madeReport{name: "OT-26-0700.pdf", bytes: v.file("oxbow-tansy-agronomy-laboratory/OT-26-0700.pdf"), kind: "wide table, PDF", reports: 1, samples: 36}
}

// workbook is one of fourteen samples, with its manganese moved by a tenth or
// so.
func (v *variety) workbook(n int) madeReport {
	f, err := excelize.OpenReader(bytes.NewReader(v.file("verrin-analytical/VA-26-0455.xlsx")))
	if err != nil {
		v.t.Fatal(err)
	}
	defer func() { _ = f.Close() }() // it was read from memory
	anew := map[string]string{}      // sample numbers; a sample may stand on several sheets
	for _, sheet := range f.GetSheetList() {
		rows, err := f.GetRows(sheet, excelize.Options{RawCellValue: true})
		if err != nil {
			v.t.Fatal(err)
		}
		for r, row := range rows {
			if len(row) < 16 || !strings.HasPrefix(row[0], "V02") {
				continue
			}
			if anew[row[0]] == "" {
				anew[row[0]] = fmt.Sprintf("V%06d", (n*20+len(anew))%1000000)
			}
			v.set(f, sheet, 1, r+1, anew[row[0]])
			mn, err := strconv.ParseFloat(row[15], 64)
			if err != nil {
				v.t.Fatal(err)
			}
			v.set(f, sheet, 16, r+1, math.Round(mn*10+float64(n%9))/10)
		}
	}
	var b bytes.Buffer
	if err := f.Write(&b); err != nil {
		v.t.Fatal(err)
	}
	return madeReport{name: fmt.Sprintf("VA-%05d.xlsx", n), bytes: b.Bytes(), kind: "workbook, XLSX", reports: 1, samples: len(anew)}
}

func (v *variety) set(f *excelize.File, sheet string, col, row int, value any) {
	cell, err := excelize.CoordinatesToCellName(col, row)
	if err == nil {
		err = f.SetCellValue(sheet, cell, value)
	}
	if err != nil {
		v.t.Fatal(err)
	}
}

// binaryWorkbook is one of nine samples. Its numbers are patched where they
// stand: as hundredths in four bytes ([MS-XLS] 2.5.217, RkNumber).
func (v *variety) binaryWorkbook(n int) madeReport {
	b := bytes.Clone(v.file("grayling-street-soil-chemistry-bureau/J26-149.xls"))
	patch := func(old, by []byte) {
		if bytes.Count(b, old) != 1 || len(old) != len(by) {
			v.t.Fatalf("%q is not once in the workbook, or %q is not as long", old, by)
		}
		b = bytes.Replace(b, old, by, 1)
	}
	rk := func(hundredths int) []byte { return binary.LittleEndian.AppendUint32(nil, uint32(hundredths)<<2|3) }
	patch([]byte("J26-149"), fmt.Appendf(nil, "J%02d-%03d", 60+n/1000%40, n%1000))
	for i := range 9 {
		no := (n*9 + i) % 280000
		patch(fmt.Appendf(nil, "%d/26", 5319+i), fmt.Appendf(nil, "%04d/%02d", no%10000, 60+no/10000))
	}
	patch(rk(780), rk(780+10*(n%9))) // manganese of the first and of the second sample
	patch(rk(1390), rk(1391+10*(n/9%9)))
	return madeReport{name: fmt.Sprintf("J-%05d.xls", n), bytes: b, kind: "workbook, XLS", reports: 1, samples: 9}
}

// mail brings a list.
func (v *variety) mail(n int) madeReport {
	l := v.list(n)
	var b bytes.Buffer
	fmt.Fprintf(&b, "From: results@marrow-brook.example\r\nTo: office@upper-wimble.example\r\nSubject: Results %d\r\nDate: Mon, 11 May 2026 09:%02d:00 +0000\r\nMessage-ID: <%d@marrow-brook.example>\r\nMIME-Version: 1.0\r\n", n, n%60, n)
	b.WriteString("Content-Type: multipart/mixed; boundary=\"xx\"\r\n\r\n--xx\r\nContent-Type: text/plain; charset=utf-8\r\n\r\nThe results are attached.\r\n\r\n")
	fmt.Fprintf(&b, "--xx\r\nContent-Type: text/csv; name=%q\r\nContent-Disposition: attachment; filename=%q\r\nContent-Transfer-Encoding: base64\r\n\r\n", l.name, l.name)
	for enc := base64.StdEncoding.EncodeToString(l.bytes); len(enc) > 0; {
		k := min(76, len(enc))
		b.WriteString(enc[:k] + "\r\n")
		enc = enc[k:]
	}
	b.WriteString("--xx--\r\n")
	return madeReport{name: fmt.Sprintf("mail-%05d.eml", n), bytes: b.Bytes(), kind: "mail with a list", reports: 1, samples: 1}
}

// parcel is an archive of three lists.
func (v *variety) parcel(n int) madeReport {
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for k := range 3 {
		l := v.list(100000 + 3*n + k)
		f, err := w.Create(l.name)
		if err == nil {
			_, err = f.Write(l.bytes)
		}
		if err != nil {
			v.t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		v.t.Fatal(err)
	}
	return madeReport{name: fmt.Sprintf("batch-%05d.zip", n), bytes: b.Bytes(), kind: "archive of three lists", reports: 3, samples: 3}
}

// firstStream is what is in the first compressed stream of a PDF file: in the
// laboratories' files that of the first page.
func firstStream(t *testing.T, pdf []byte) []byte {
	t.Helper()
	m := stream.FindIndex(pdf)
	if m == nil {
		t.Fatal("the PDF file is not made as this test expects")
	}
	z, err := zlib.NewReader(bytes.NewReader(pdf[m[1]:]))
	if err != nil {
		t.Fatal(err)
	}
	content, err := io.ReadAll(z)
	if err != nil {
		t.Fatal(err)
	}
	return content
}

// withFirstStream brings that stream anew, by an update behind the end of the
// file, as ISO 32000-1, 7.5.6 has it.
func withFirstStream(t *testing.T, pdf, content []byte) []byte {
	t.Helper()
	m, tr := stream.FindSubmatchIndex(pdf), trailer.FindSubmatch(pdf)
	if m == nil || tr == nil {
		t.Fatal("the PDF file is not made as this test expects")
	}
	var packed bytes.Buffer
	z := zlib.NewWriter(&packed)
	_, err := z.Write(content)
	if cerr := z.Close(); err != nil || cerr != nil {
		t.Fatal(err, cerr)
	}
	out := bytes.Clone(pdf)
	at := len(out)
	number := string(pdf[m[2]:m[3]])
	out = fmt.Appendf(out, "%s 0 obj\n<< /Filter /FlateDecode /Length %d >>\nstream\n%s\nendstream\nendobj\n", number, packed.Len(), packed.Bytes())
	table := len(out)
	return fmt.Appendf(out, "xref\n%s 1\n%010d 00000 n \ntrailer\n<<%s /Prev %s >>\nstartxref\n%d\n%%%%EOF\n", number, at, tr[1], tr[2], table)
}
