package pipeline

import (
	"bytes"
	"context"
	"encoding/base64"
	"fmt"
	"image"
	"image/png"
	"slices"
	"strings"
	"testing"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
)

// pdfOf is a PDF file with a page for each text, a line under the other; a
// page without text has a rectangle on it.
func pdfOf(pages ...string) string {
	var b bytes.Buffer
	var at []int
	object := func(format string, args ...any) {
		at = append(at, b.Len())
		fmt.Fprintf(&b, "%d 0 obj\n"+format+"\nendobj\n", append([]any{len(at)}, args...)...)
	}
	b.WriteString("%PDF-1.4\n")
	var kids []string
	for i := range pages {
		kids = append(kids, fmt.Sprintf("%d 0 R", 4+2*i))
	}
	object("<< /Type /Catalog /Pages 2 0 R >>")
	object("<< /Type /Pages /Kids [%s] /Count %d >>", strings.Join(kids, " "), len(pages))
	object("<< /Type /Font /Subtype /Type1 /BaseFont /Helvetica /Encoding /WinAnsiEncoding >>")
	for _, text := range pages {
		content := "0 0 40 40 re f"
		if text != "" {
			content = "BT /F 11 Tf"
			for n, line := range strings.Split(text, "\n") {
				for i, piece := range strings.Split(line, "|") {
					content += fmt.Sprintf(" 1 0 0 1 %d %d Tm (%s) Tj", 60+200*i, 740-20*n, piece)
				}
			}
			content += " ET"
		}
		object("<< /Type /Page /Parent 2 0 R /MediaBox [0 0 612 792] /Resources << /Font << /F 3 0 R >> >> /Contents %d 0 R >>", len(at)+2)
		object("<< /Length %d >>\nstream\n%s\nendstream", len(content), content)
	}
	xref := b.Len()
	fmt.Fprintf(&b, "xref\n0 %d\n0000000000 65535 f \n", len(at)+1)
	for _, n := range at {
		fmt.Fprintf(&b, "%010d 00000 n \n", n)
	}
	fmt.Fprintf(&b, "trailer\n<< /Size %d /Root 1 0 R >>\nstartxref\n%d\n%%%%EOF\n", len(at)+1, xref)
	return b.String()
}

const companions = `not reports:
  - {what: leaflet, file: "sampling-####.pdf", texts: [How to take a sample]}
  - {what: invoice, texts: [Invoice no., Amount due], numbers: yes}
  - {what: covering letter, texts: [Dear customer, with kind regards]}
`

// TestCompanionsOfAReport: what the mapping of a report declares to be none
// does not hold the mail; what it does not declare, what could be a report
// after all and what can't be seen whole does.
func TestCompanionsOfAReport(t *testing.T) {
	st := tollStages(t, companions)
	list := attached{"results.csv", tollList}
	const invoice = "Tollgate Soil Rooms\nInvoice no. 1204 of job T71\nSample T71.1|Potassium 12.00\nSample T71.1|pH 6.00\nAmount due 18.00"
	for _, c := range []struct {
		name string
		file attached
		code string // "" where the mail is used
	}{
		{"invoice", attached{"1204.pdf", pdfOf(invoice)}, ""},
		{"invoice as a page", attached{"1204.html", "<!DOCTYPE html><html><body><p>" + strings.ReplaceAll(invoice, "\n", "</p><p>") + "</p></body></html>"}, ""},
		{"leaflet", attached{"sampling-2026.pdf", pdfOf("How to take a sample\nTake 15 cores of each field.", "Mix them, and send a pint.")}, ""},
		{"covering letter", attached{"letter.pdf", pdfOf("Dear customer,\nattached is our report.\nwith kind regards")}, ""},
		{"in a zip", attached{"more.zip", zipOf(t, attached{"papers/sampling-2026.pdf", pdfOf("How to take a sample")})}, ""},
		{"leaflet under another name", attached{"leaflet.pdf", pdfOf("How to take a sample")}, "lab-unknown"},
		{"one text is missing", attached{"letter.pdf", pdfOf("Dear customer,\nattached is our report.")}, "lab-unknown"},
		{"nothing of it is declared", attached{"other.pdf", pdfOf("Opening hours")}, "lab-unknown"},
		{"a sample's number", attached{"letter.pdf", pdfOf("Dear customer,\nplease look again at T71.1.\nwith kind regards")}, "companion-with-numbers"},
		{"numbers like results", attached{"letter.pdf", pdfOf("Dear customer,\nPotassium|192 mg/kg\nwith kind regards")}, "companion-with-numbers"},
		{"a page without text", attached{"1204.pdf", pdfOf(invoice, "")}, "lab-unknown"},
		{"too long", attached{"sampling-2026.pdf", pdfOf("How to take a sample", "a", "b", "c", "d", "e")}, "lab-unknown"},
		{"a report with the texts", attached{"again.csv", strings.ReplaceAll(tollList, "192,mg/kg", "192,lb/A") + "T71,T71.1,Dear customer with kind regards Invoice no. Amount due,1,mg/kg\n"}, "unit-differs"},
	} {
		mail := tollMail("see the page", tollPage, list, c.file)
		rds, err := st.ReadAll(context.Background(), ingest.NewSource("m.eml", []byte(mail)), Defaults{})
		if err != nil {
			t.Fatal(err)
		}
		var codes []string
		noted := false
		for _, rd := range rds {
			for _, r := range rd.Report.Reasons {
				noted = noted || r.Code == "companion-not-read" && r.Severity == ingest.Note && strings.HasSuffix(r.Where.File, c.file.name)
				if stops(r) && r.Code != codeWaits {
					codes = append(codes, r.Code)
				}
			}
			if held := rd.Report.Status == normalize.Held; held != (c.code != "") {
				t.Errorf("%s: %s is %s: %v", c.name, rd.Source.Title(), rd.Report.Status, rd.Report.Reasons)
			}
		}
		if c.code != "" && !slices.Contains(codes, c.code) {
			t.Errorf("%s: held for %v, want %s", c.name, codes, c.code)
		}
		if c.code == "" && (len(codes) > 0 || len(rds) != 2 || !noted && c.name != "in a zip") {
			t.Errorf("%s: held for %v, %d reports, told of what was left out: %v", c.name, codes, len(rds), noted)
		}
	}
	// Without a report of the laboratory in the mail nothing is declared.
	rds, err := st.ReadAll(context.Background(), ingest.NewSource("m.eml", []byte(tollMail("x", "", attached{"1204.pdf", pdfOf(invoice)}))), Defaults{})
	if err != nil || len(rds) != 2 || rds[1].Report.Status != normalize.Held || rds[1].Report.Reasons[0].Code != "lab-unknown" {
		t.Errorf("an invoice alone: %v, %d", err, len(rds))
	}
	// What is told of one that may hold results.
	rds, err = st.ReadAll(context.Background(), ingest.NewSource("m.eml", []byte(tollMail("x", "", list, attached{"letter.pdf", pdfOf("Dear customer,\nPotassium|192 mg/kg\nwith kind regards")}))), Defaults{})
	if err != nil || len(rds) != 2 {
		t.Fatal(err, len(rds))
	}
	r := rds[1].Report.Reasons[0]
	r.Where.Box = nil
	const want = `m.eml > letter.pdf: page 1: held [companion-with-numbers] the mapping of Tollgate Soil Rooms says that this is no report (covering letter), and numbers stand in it that may be results
    expected  no number of a sample and no results   (tollgate.yaml:8:5)
    found     Potassium | 192 mg/kg
    next      if it is a report, make the texts under not reports in tollgate.yaml more particular; if such documents never hold results, write there: numbers: yes`
	if r.Error() != want {
		t.Errorf("it says\n%s\nwant\n%s", r.Error(), want)
	}
}

// TestPicturesInTheTextOfAMail: a logo in the text of a mail holds nothing,
// whether scans can be read or not; a picture that may be a page does.
func TestPicturesInTheTextOfAMail(t *testing.T) {
	picture := func(w, h int) string {
		var b bytes.Buffer
		if err := png.Encode(&b, image.NewGray(image.Rect(0, 0, w, h))); err != nil {
			t.Fatal(err)
		}
		return base64.StdEncoding.EncodeToString(b.Bytes())
	}
	mail := func(disposition string, w, h int) string {
		return "From: r@tollgate.example\r\nMIME-Version: 1.0\r\nContent-Type: multipart/mixed; boundary=o\r\n\r\n--o\r\nContent-Type: multipart/related; boundary=i\r\n\r\n" +
			"--i\r\nContent-Type: text/html; charset=utf-8\r\n\r\n" + strings.Replace(tollPage, "<h2>", `<img alt="" src="cid:logo@tollgate.example"><h2>`, 1) + "\r\n" +
			"--i\r\nContent-Type: image/png; name=logo.png\r\nContent-ID: <logo@tollgate.example>\r\nContent-Disposition: " + disposition + "; filename=logo.png\r\nContent-Transfer-Encoding: base64\r\n\r\n" + picture(w, h) + "\r\n--i--\r\n" +
			"--o\r\nContent-Type: text/csv\r\nContent-Disposition: attachment; filename=r.csv\r\n\r\n" + tollList + "--o--\r\n"
	}
	for _, scans := range []string{"", "/nowhere/tesseract"} {
		st := tollStages(t, "")
		if scans != "" {
			st.scans = noScans{}
		}
		for _, c := range []struct {
			disposition string
			w, h        int
			held        bool
		}{{"inline", 180, 60, false}, {"attachment", 180, 60, false}, {"inline", 900, 1200, true}} {
			rds, err := st.ReadAll(context.Background(), ingest.NewSource("m.eml", []byte(mail(c.disposition, c.w, c.h))), Defaults{})
			if err != nil {
				t.Fatal(err)
			}
			for _, rd := range rds {
				if held := rd.Report.Status == normalize.Held; held != c.held {
					t.Errorf("scans %q, %+v: %s is %s: %v", scans, c, rd.Source.Title(), rd.Report.Status, rd.Report.Reasons)
				}
			}
		}
	}
}

// noScans is the reader of scans where the program for it is not installed.
type noScans struct{}

func (noScans) Read(context.Context, *ingest.Source, ingest.Limits) (*ingest.Document, error) {
	return nil, &ingest.Reason{Code: "scan", Severity: ingest.Hold, What: "there is no program that reads scans"}
}

// TestWordsThatRecallAReport: what people write beside a report, that its
// results are corrected or withdrawn, holds it wherever they write it, and
// other words don't.
func TestWordsThatRecallAReport(t *testing.T) {
	st := tollStages(t, companions+"message body: not a report\n")
	list := attached{"results.csv", tollList}
	letter := func(text string) attached {
		return attached{"letter.pdf", pdfOf("Dear customer,\n" + text + "\nwith kind regards")}
	}
	for _, c := range []struct {
		name, mail, place string // place "" where the mail is used
	}{
		{"nothing said", tollMail("attached is our report", "", list, letter("attached is our report.")), ""},
		{"text", tollMail("Dear all,\r\nCorrection: the phosphorus of T71.1 is 31 ppm, not as printed\r\n", "", list), "m.eml > message text"},
		{"over two lines", tollMail("Please\r\ndisregard the\r\nattached report.\r\n", "", list), "m.eml > message text"},
		{"quoted", tollMail("see below\r\n> Correction: phosphorus is 31\r\n", "", list), "m.eml > message text"},
		{"page", tollMail("", "<!DOCTYPE html><html><body><p>Dear all,</p><p>Please do not use these results.</p></body></html>", list), "m.eml > message page"},
		{"letter", tollMail("attached", "", list, letter("Correction: your Phosphorus result was 31 ppm")), "m.eml > letter.pdf"},
		{"subject", strings.Replace(tollMail("attached", "", list), "Subject: T71", "Subject: Fwd: Corrected results", 1), "m.eml"},
		{"who may read it", tollMail("If you received this report in error, please destroy it.", "", list), ""},
	} {
		rds, err := st.ReadAll(context.Background(), ingest.NewSource("m.eml", []byte(c.mail)), Defaults{})
		if err != nil {
			t.Fatal(err)
		}
		got := "no report"
		for _, rd := range rds {
			if rd.Match == nil {
				continue
			}
			got = ""
			for _, r := range rd.Report.Reasons {
				if r.Code == "corrects-earlier" && r.Severity == ingest.Hold && r.Found != "" && rd.Report.Status == normalize.Held && normalize.Releasable(r.Code) {
					got = r.Where.File
				}
			}
			if held := rd.Report.Status == normalize.Held; held != (c.place != "") {
				t.Errorf("%s: %s: %v", c.name, rd.Report.Status, rd.Report.Reasons)
			}
		}
		if got != c.place {
			t.Errorf("%s: held by words in %q, want %q", c.name, got, c.place)
		}
	}
}

// A subject that calls the results preliminary holds them, whatever the report says.
func TestSubjectThatIsNotFinal(t *testing.T) {
	st := tollStages(t, companions+"message body: not a report\n")
	mail := tollMail("attached", "", attached{"results.csv", tollList})
	for subject, held := range map[string]bool{"T71": false, "PRELIMINARY results T71": true, "Fwd: Draft": true, "Informe preliminar": true, "T71: preliminary report": true, "Your final results": false, "Drafty barn": false} {
		rds, err := st.ReadAll(context.Background(), ingest.NewSource("m.eml", []byte(strings.Replace(mail, "Subject: T71", "Subject: "+subject, 1))), Defaults{})
		if err != nil {
			t.Fatal(err)
		}
		for _, rd := range rds {
			if rd.Match != nil && (rd.Report.Status == normalize.Held) != held {
				t.Errorf("%s: %s: %v", subject, rd.Report.Status, rd.Report.Reasons)
			}
		}
	}
}
