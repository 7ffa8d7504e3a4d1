package main

import (
	"bytes"
	"context"
	"encoding/base64"
	"errors"
	"fmt"
	"io"
	"mime"
	"mime/multipart"
	"mime/quotedprintable"
	"net/mail"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"

	"example.org/windrow/ingest"
	"example.org/windrow/ingest/pdf"
	"example.org/windrow/ingest/xls"
)

// tool is whether a program is there, or why a row is not measured.
func tool(name, debian string) string {
	if _, err := exec.LookPath(name); err != nil {
		return "not measured: " + name + " is missing; apt-get install " + debian
	}
	return ""
}

// heldCode is the exit code that says that something waits for a person, which
// is what becomes of a scan.
const heldCode = 3

// showHeld is showResults of files that wait for a person.
func (b *bench) showHeld(path string) way {
	return way{work: func() error {
		err := b.program(b.windrow, "show", "results", "--workers", strconv.Itoa(b.workers), path)
		var code *exec.ExitError
		if errors.As(err, &code) && code.ExitCode() == heldCode {
			return nil
		}
		return err
	}}
}

// shell is the way of a program that gets many arguments, spread over as many
// processes as we have workers, by xargs.
func (b *bench) shell(each int, args []string, program ...string) way {
	return way{work: func() error {
		c := exec.CommandContext(b.ctx, "xargs", append([]string{"-0", "-P", strconv.Itoa(b.workers), "-n", strconv.Itoa(each)}, program...)...)
		c.Stdin = strings.NewReader(strings.Join(args, "\x00") + "\x00")
		if msg, err := c.CombinedOutput(); err != nil {
			return fmt.Errorf("%s: %w: %s", program[0], err, msg)
		}
		return nil
	}}
}

// pdfminerPages is what pdfminer needs to do to say where each word is.
const pdfminerPages = `import sys
from pdfminer.high_level import extract_pages
for name in sys.argv[1:]:
    for page in extract_pages(name):
        for element in page:
            element.bbox
`

// pdfminer is the way of Python's pdfminer, with its start paid once for all
// files of a worker; note says why there is none.
func (b *bench) pdfminer(files []string) (w way, note string) {
	for _, python := range []string{"python3", "/usr/bin/python3"} { // the one that Debian's packages are for may not be the first
		if exec.CommandContext(b.ctx, python, "-c", "import pdfminer.high_level").Run() == nil {
			return b.shell((len(files)+b.workers-1)/b.workers, files, python, "-c", pdfminerPages), ""
		}
	}
	return w, "not measured: pdfminer is missing; apt-get install python3-pdfminer"
}

// pages measures one document of two hundred pages.
func (b *bench) pages() error {
	const pages = 200
	name := fmt.Sprintf("a PDF of %d pages, page to words", pages)
	if note := tool("pdfunite", "poppler-utils"); note != "" {
		b.table.add(row{name: name, ours: "-", theirs: "-", note: note})
		return nil
	}
	single, err := copies(filepath.Join(b.dir, "single"), filepath.Join(b.labs, "thrushgate-*", "TG-*.pdf"), pages)
	if err != nil {
		return err
	}
	at := filepath.Join(b.dir, "pages.pdf")
	if err := b.program("pdfunite", append(single, at)...); err != nil {
		return err
	}
	data, err := os.ReadFile(at)
	if err != nil {
		return err
	}
	src := ingest.NewSource("pages.pdf", data)
	one := *b
	one.workers = 1
	ours := way{work: func() error {
		doc, err := pdf.New().Read(b.ctx, src, ingest.Limits{}.OrDefault())
		if err == nil && len(doc.Pages) != pages {
			err = fmt.Errorf("%d pages were read of %d", len(doc.Pages), pages)
		}
		return err
	}}
	d, theirs, note, err := one.beside([]string{at}, ours)
	if err != nil {
		return err
	}
	b.table.compare(name, d[0], theirs, 1, 2, orNote(note, "pdftotext -bbox of the same file")).orElse("words, lines, fonts and what is drawn over them are taken down, not words alone")
	return nil
}

// scans measures reports that are pictures, beside tesseract alone on the same
// pictures.
func (b *bench) scans() error {
	const n = 6
	dir := filepath.Join(b.dir, "scans")
	files, err := copies(dir, filepath.Join(b.labs, "dunmere-*", "DH-*.pdf"), n)
	if err != nil {
		return err
	}
	name := fmt.Sprintf("%d scans, show results", n)
	for _, need := range [][2]string{{"tesseract", "tesseract-ocr"}, {"pdfimages", "poppler-utils"}} {
		if note := tool(need[0], need[1]); note != "" {
			b.table.add(row{name: name, ours: "-", theirs: "-", note: note})
			return nil
		}
	}
	pictures := filepath.Join(b.dir, "pictures")
	if err := os.MkdirAll(pictures, 0o750); err != nil {
		return err
	}
	for i, f := range files {
		if err := b.program("pdfimages", "-png", f, filepath.Join(pictures, strconv.Itoa(i))); err != nil {
			return err
		}
	}
	list, err := filepath.Glob(filepath.Join(pictures, "*.png"))
	if err != nil || len(list) < n {
		return fmt.Errorf("%d pictures in %d scans: %w", len(list), n, err)
	}
	// One thread a process, as we run it: two processes at once have the two
	// processors to themselves then.
	if err := os.Setenv("OMP_THREAD_LIMIT", "1"); err != nil {
		return err
	}
	var args []string
	for _, p := range list {
		args = append(args, p, strings.TrimSuffix(p, ".png"), "tsv")
	}
	d, err := b.best(b.showHeld(dir), b.shell(3, args, "tesseract"))
	if err != nil {
		return err
	}
	b.table.compare(name, d[0], d[1], 1, 2, fmt.Sprintf("tesseract alone, once, on the same pictures, %d at once", b.workers)).orElse("every page is read twice, in two ways, since a single reading can't be trusted with a number; and the picture is set upright and cleaned before")
	return nil
}

// xls measures a workbook in the older, binary form, beside excelize on the
// same cells as XLSX: there is no bare reader of the older form to compare with.
func (b *bench) xls() error {
	name := fmt.Sprintf("binary workbook (.xls), %d rows of 17, reader alone", b.sizes.sheetRows)
	if note := tool("soffice", "libreoffice-calc-nogui"); note != "" {
		b.table.add(row{name: name, ours: "-", theirs: "-", note: note + ", which makes the input"})
		return nil
	}
	dir := filepath.Join(b.dir, "xls")
	if err := os.MkdirAll(dir, 0o750); err != nil {
		return err
	}
	at := filepath.Join(dir, "survey.xlsx")
	if err := survey(at, b.sizes.sheetRows); err != nil {
		return err
	}
	if err := b.program("soffice", "-env:UserInstallation=file://"+filepath.ToSlash(filepath.Join(dir, "profile")), "--headless", "--convert-to", "xls", "--outdir", dir, at); err != nil {
		return err
	}
	old, err := os.ReadFile(filepath.Join(dir, "survey.xls"))
	if err != nil {
		return err
	}
	data, err := os.ReadFile(at)
	if err != nil {
		return err
	}
	src := ingest.NewSource("survey.xls", old)
	d, err := b.best(way{work: func() error {
		doc, err := xls.New().Read(b.ctx, src, ingest.Limits{}.OrDefault())
		if err == nil && len(doc.Pages) != len(counties) {
			err = fmt.Errorf("%d sheets were read of %d", len(doc.Pages), len(counties))
		}
		return err
	}}, way{work: func() error { return excelizeRows(data) }})
	if err != nil {
		return err
	}
	b.table.compare(name, d[0], d[1], 1, 2, "excelize Rows() of the same cells as XLSX")
	return nil
}

// mails measures mails with a report in them, beside net/mail and pdftotext.
func (b *bench) mails() error {
	const n = 40
	from, err := filepath.Glob(filepath.Join(b.labs, "ashlar-*", "AR-*.eml"))
	if err != nil || len(from) == 0 {
		return fmt.Errorf("there is no mail: %w", err)
	}
	st, err := b.load()
	if err != nil {
		return err
	}
	defer func() { _ = st.Close() }() // its children end with this process
	var srcs []*ingest.Source
	for i := range n {
		data, err := os.ReadFile(from[i%len(from)])
		if err != nil {
			return err
		}
		srcs = append(srcs, ingest.NewSource(filepath.Base(from[i%len(from)]), data))
	}
	note := tool("pdftotext", "poppler-utils")
	ways := []way{{work: func() error {
		for _, s := range srcs {
			if _, err := read(b.ctx, st, s); err != nil {
				return err
			}
		}
		return nil
	}}}
	if note == "" {
		ways = append(ways, way{work: func() error {
			for _, s := range srcs {
				if err := b.bareMail(s.Bytes); err != nil {
					return err
				}
			}
			return nil
		}})
	} else {
		ways = append(ways, way{work: func() error { return nil }})
	}
	d, err := b.best(ways...)
	if err != nil {
		return err
	}
	if note != "" {
		d[1] = 0
	}
	b.table.compare("a mail with a report, file to record", d[0]/n, d[1]/n, 1, 2, orNote(note, "net/mail and mime/multipart, and pdftotext -bbox of each PDF in it, one at a time")).orElse("the table in the text is read as well, and every number of a PDF a second time")
	return nil
}

// bareMail takes a mail apart and has its PDFs read.
func (b *bench) bareMail(data []byte) error {
	m, err := mail.ReadMessage(bytes.NewReader(data))
	if err != nil {
		return err
	}
	return eachPart(m.Header.Get("Content-Type"), m.Header.Get("Content-Transfer-Encoding"), m.Body, func(kind string, body []byte) error {
		if kind != "application/pdf" {
			return nil
		}
		return bbox(b.ctx, body)
	})
}

func bbox(ctx context.Context, body []byte) error {
	c := exec.CommandContext(ctx, "pdftotext", "-bbox", "-", os.DevNull)
	c.Stdin = bytes.NewReader(body)
	if msg, err := c.CombinedOutput(); err != nil {
		return fmt.Errorf("pdftotext: %w: %s", err, msg)
	}
	return nil
}

// eachPart visits the parts of a mail that have no parts of their own, with
// what they hold.
func eachPart(contentType, encoding string, r io.Reader, visit func(kind string, body []byte) error) error {
	kind, params, err := mime.ParseMediaType(contentType)
	if err != nil {
		kind = "text/plain"
	}
	if strings.HasPrefix(kind, "multipart/") {
		parts := multipart.NewReader(r, params["boundary"])
		for {
			p, err := parts.NextRawPart()
			if err == io.EOF {
				return nil
			}
			if err != nil {
				return err
			}
			if err := eachPart(p.Header.Get("Content-Type"), p.Header.Get("Content-Transfer-Encoding"), p, visit); err != nil {
				return err
			}
		}
	}
	switch strings.ToLower(encoding) {
	case "base64":
		r = base64.NewDecoder(base64.StdEncoding, r)
	case "quoted-printable":
		r = quotedprintable.NewReader(r)
	}
	body, err := io.ReadAll(r)
	if err != nil {
		return err
	}
	if kind == "application/octet-stream" && bytes.HasPrefix(body, []byte("%PDF-")) {
		kind = "application/pdf"
	}
	return visit(kind, body)
}
