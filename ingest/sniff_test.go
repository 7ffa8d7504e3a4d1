package ingest

import "testing"

func TestSniff(t *testing.T) {
	u16 := func(s string) string {
		b := []byte{}
		for _, c := range []byte(s) {
			b = append(b, c, 0)
		}
		return string(b)
	}
	for _, c := range []struct {
		name, bytes string
		want        Kind
	}{
		{"a.pdf", "%PDF-1.4\n%\xe2\xe3\xcf\xd3\n", KindPDF},
		{"a.txt", "junk of a gateway\r\n%PDF-1.7\r", KindPDF},
		{"a.pdf", "", KindEmpty},
		{"a.pdf", "\xff\xd8\xff\xe0\x00\x10JFIF\x00\x01\x01", KindImage},
		{"a.pdf", "\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR", KindImage},
		{"a.pdf", "II*\x00\x08\x00\x00\x00", KindImage},
		{"a.xls", "<html><body><table><tr><td>pH</td></tr></table>", KindHTML},
		{"a.xls", "\xef\xbb\xbf\r\n<!-- made by a program -->\n<TABLE border=1>", KindHTML},
		{"a.xls", "<?xml version=\"1.0\"?><!DOCTYPE html><html>", KindHTML},
		{"a.xls", "\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + string(make([]byte, 504)) + u16("Workbook") + "\x00\x00", KindXLS},
		{"a.doc", "\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + string(make([]byte, 504)) + u16("WordDocument"), KindOther},
		{"a.csv", "PK\x03\x04\x14\x00\x00\x00\x08\x00" + string(make([]byte, 16)) + "\x05\x00\x00\x00a.pdf", KindZip},
		{"a.zip", "PK\x03\x04\x14\x00\x00\x00\x08\x00" + string(make([]byte, 16)) + "\x13\x00\x00\x00[Content_Types].xml ... xl/workbook.xml", KindXLSX},
		{"a.csv", "Lab No,pH,P\r\n1,6.5,12\r\n", KindText},
		{"a.csv", "Lab No;pH;\xb5g\r\n1;6,5;12\r\n", KindText},
		{"a.csv", u16("Lab No,pH,P\r\n"), KindText},
		{"a.csv", "\xff\xfe" + u16("Lab No,pH,P\r\n"), KindText},
		{"a.csv", "Lab No,pH,P\r\n1,6\x00.5,12\r\n2,7.0,19\r\n3,6.5,12\r\n4,6.5,12\r\n5,6.5,12\r\n6,6.5,12\r\n7,6.5,12\r\n8,7.5,10\r\n", KindText},
		{"a.eml", "Subject: results\r\n\r\nhello", KindMail},
		{"a.txt", "Return-Path: <a@lab.example>\nReceived: from x\n\tby y\nSubject: results\n\nhello", KindMail},
		{"a.csv", "Date: 2026-03-14\npH,6.5\n", KindText},
		{"a.bin", "\x00\x01\x02\x03\x04\x05\x06\x07\x08", KindOther},
	} {
		if got := Sniff(c.name, []byte(c.bytes)); got != c.want {
			t.Errorf("Sniff(%q, %.30q) = %q, want %q", c.name, c.bytes, got, c.want)
		}
	}
}
