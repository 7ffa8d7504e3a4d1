package pdf

import (
	"bytes"
	"regexp"
	"strings"
	"testing"

	"example.org/windrow/ingest/readertest"
)

// A trailer that counts too few objects is what pdfunite of Poppler 22.12
// writes (seen in files it made; the rule is ISO 32000-1, 7.5.5).
func TestTrailerThatCountsTooFew(t *testing.T) {
	whole := "%PDF-1.3\n" + strings.Repeat("x", 40) + "\nxref\n0 3\n0000000000 65535 f \n0000000009 00000 n \n0000000020 00000 n \n5 2\n0000000030 00000 n \n0000000040 00000 n \ntrailer\n<</Size 7 /Root 6 0 R >>\nstartxref\n50\n%%EOF"
	for _, c := range []struct{ name, from, to, want string }{
		{"as it should be", "/Size 7 ", "/Size 7 ", "/Size 7 "},
		{"too few", "/Size 7 ", "/Size 2 ", "/Size 7 "},
		{"more than are listed", "/Size 7 ", "/Size 9 ", "/Size 9 "},
		{"several tables", "/Size 7 ", "/Prev 9 /Size 2 ", "/Size 2 "},
		{"more digits where there is room", "5 2\n", "12 2\n", "/Size 14/"},
	} {
		b := []byte(strings.Replace(whole, c.from, c.to, 1))
		was := bytes.Clone(b)
		got := mendSize(b)
		if !bytes.Equal(b, was) || len(got) != len(b) {
			t.Errorf("%s: the file itself was changed", c.name)
		}
		if s := regexp.MustCompile(`/Size \d+.`).FindString(string(got)); s != c.want {
			t.Errorf("%s: got %q, want %q", c.name, s, c.want)
		}
	}
	b := newBuilder()
	b.page("BT /F1 12 Tf 20 200 Td (Phosphorus 12) Tj ET", "")
	b.page("BT /F1 12 Tf 20 200 Td (Potassium 140) Tj ET", "")
	short := regexp.MustCompile(`/Size (\d+)`).ReplaceAll(b.bytes(), []byte("/Size 2"))
	d, r := readertest.Read(t, New(), "joined.pdf", short)
	if r != nil || len(d.Pages) != 2 || d.Pages[1].Words[1].Text != "140" {
		t.Errorf("a joined file: %v", r)
	}
	tight := []byte(strings.Replace(strings.Replace(whole, "5 2\n", "12 2\n", 1), "/Size 7 /", "/Size 7/", 1))
	if got := mendSize(tight); !bytes.Equal(got, tight) {
		t.Error("without room for the count the file is left as it is")
	}
}
