package mail

import (
	"bytes"
	"encoding/base64"
	"fmt"
	"image"
	"image/png"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"example.org/windrow/ingest"
	"example.org/windrow/ingest/readertest"
)

const lab = "../../testdata/labs/ashlar-reed-soil-laboratory/"

func load(t testing.TB, name string) []byte {
	t.Helper()
	b, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// expand takes a mail apart twice, checks what must hold for any bytes, and
// writes what came back in a line a piece: kind, name and length of a member,
// severity, code and place of a reason.
func expand(t testing.TB, name string, b []byte, lim ingest.Limits) (string, []*ingest.Source, MailInfo, []*ingest.Reason) {
	t.Helper()
	src := ingest.NewSource(name, bytes.Clone(b))
	members, info, reasons := Expand(src, lim)
	if !bytes.Equal(src.Bytes, b) {
		t.Fatal("the mail was changed")
	}
	if len(members)+len(reasons) == 0 {
		t.Fatal("neither a member nor a reason came back")
	}
	var out strings.Builder
	seen := map[string]bool{}
	for _, m := range members {
		if m.Name != src.Name || m.Member == "" || seen[m.Member] || !utf8.ValidString(m.Member) || strings.ContainsAny(m.Member, "/\\\x00\n") ||
			m.SHA256 != ingest.NewSource("", m.Bytes).SHA256 {
			t.Fatalf("a member called %q of %q", m.Member, m.Name)
		}
		seen[m.Member] = true
		fmt.Fprintf(&out, "%s %s %d\n", ingest.Sniff(m.Member, m.Bytes), m.Member, len(m.Bytes))
	}
	for _, r := range reasons {
		if f := readertest.ReasonFault(r); f != "" || !strings.HasPrefix(r.Where.File, src.Title()) {
			t.Fatalf("%s: %v", f, r)
		}
		fmt.Fprintf(&out, "%s %s at %s\n", r.Severity, r.Code, r.Where.File)
	}
	again, _, more := Expand(src, lim)
	if len(again) != len(members) || len(more) != len(reasons) {
		t.Fatal("the same mail was taken apart in two ways")
	}
	for i := range again {
		if again[i].Title() != members[i].Title() || again[i].SHA256 != members[i].SHA256 {
			t.Fatal("the same mail was taken apart in two ways")
		}
	}
	return out.String(), members, info, reasons
}

func TestLaboratoryMails(t *testing.T) {
	for name, want := range map[string]string{
		"AR-26-2201.eml": "text message text 150\npdf AR-26-2201.pdf 39836\ntext AR-26-2201.csv 2113\n",
		"AR-26-2214.eml": "text message text 42\nhtml message page 196\npdf Zoë Ångfeldt AR-26-2214.pdf 33913\ntext Zoë Ångfeldt AR-26-2214.csv 1334\n",
		"AR-26-2230.eml": "text message text 53\npdf AR-26-2230.PDF 43880\ntext AR-26-2230.csv 2249\n",
		"AR-26-2237.eml": "text message text 284\npdf scan0001.pdf 38883\ntext results.txt 1756\n",
		"AR-26-2251.eml": "text message text 100\npdf AR-26-2251.pdf 41780\ntext AR-26-2251.csv 1767\n",
	} {
		got, _, info, _ := expand(t, name, load(t, lab+name), ingest.Limits{})
		if !sameButLengths(got, want) {
			t.Errorf("%s: got\n%swant\n%s", name, got, want)
		}
		if info.From == "" || !strings.Contains(info.MessageID, "@ashlar-reed.example") || info.Date == "" {
			t.Errorf("%s: %+v", name, info)
		}
	}
	_, members, info, _ := expand(t, "a.eml", load(t, lab+"AR-26-2214.eml"), ingest.Limits{})
	// Spaces between encoded words don't count (RFC 2047, 6.2).
	if info.Subject != "Résultats – soil results AR-26-2214 fürZoë" || info.From != "Ashlar & Reed results desk <results@ashlar-reed.example>" {
		t.Errorf("info %+v", info)
	}
	if page := string(members[1].Bytes); !strings.HasPrefix(page, "\xef\xbb\xbf<html>") || !strings.Contains(page, "Hello Zoë") || !strings.Contains(page, `border=1`) {
		t.Errorf("page %q", page)
	}
}

// sameButLengths compares kind and name of members: the lengths are those of
// the files that travel with this test, and checked by their digests below.
func sameButLengths(a, b string) bool {
	cut := func(s string) (out []string) {
		for line := range strings.Lines(s) {
			out = append(out, line[:strings.LastIndexByte(strings.TrimSpace(line), ' ')])
		}
		return out
	}
	return fmt.Sprint(cut(a)) == fmt.Sprint(cut(b))
}

// Outside reference: the attachments as Python's email package (3.11, policy
// default) decodes them; digests recorded.
func TestAttachmentsAsPythonDecodesThem(t *testing.T) {
	lines := strings.Fields(string(load(t, "testdata/python-email.sha256")))
	if len(lines) < 20 || len(lines)%2 != 0 {
		t.Fatalf("%d words of digests", len(lines))
	}
	want := map[string]bool{}
	for i := 0; i < len(lines); i += 2 {
		want[lines[i+1]+" "+lines[i]] = true
	}
	files, _ := filepath.Glob(lab + "*.eml")
	for _, f := range append(files, "../../testdata/hostile/nested.eml") {
		_, members, _, _ := expand(t, filepath.Base(f), load(t, f), ingest.Limits{})
		for _, m := range members {
			if strings.HasSuffix(m.Member, "message text") || strings.HasSuffix(m.Member, "message page") {
				continue
			}
			key := filepath.Base(f) + " " + m.SHA256
			if !want[key] {
				t.Errorf("%s: other bytes than Python's", m.Title())
			}
			delete(want, key)
		}
	}
	for k := range want {
		t.Errorf("not handed on: %s", k)
	}
}

// As README.md of the hostile files has it: enclosed mails are gone into.
func TestNested(t *testing.T) {
	got, _, info, _ := expand(t, "nested.eml", load(t, "../../testdata/hostile/nested.eml"), ingest.Limits{})
	want := `text message text 11
text enclosed message > message text 10
text enclosed message > enclosed message > message text 10
pdf enclosed message > enclosed message > AR-26-2290.pdf 31573
text enclosed message > enclosed message > AR-26-2290.csv 1214
`
	if !sameButLengths(got, want) {
		t.Errorf("got\n%s", got)
	}
	if len(info.Enclosed) != 1 || len(info.Enclosed[0].Enclosed) != 1 || !strings.Contains(info.Enclosed[0].Enclosed[0].From, "ashlar-reed") {
		t.Errorf("info %+v", info)
	}
}

// parts makes a mail of parts, each given with its header.
func parts(kind string, p ...string) string {
	out := "From: a@b.example\r\nMIME-Version: 1.0\r\nContent-Type: multipart/" + kind + "; boundary=XX\r\n\r\n"
	for _, s := range p {
		out += "--XX\r\n" + strings.ReplaceAll(s, "\n", "\r\n") + "\r\n"
	}
	return out + "--XX--\r\n"
}

func attachment(name, body string) string {
	return "Content-Type: text/csv\nContent-Disposition: attachment; filename=\"" + name + "\"\n\n" + body
}

func picture(side int) string {
	var b bytes.Buffer
	if err := png.Encode(&b, image.NewGray(image.Rect(0, 0, side, side))); err != nil {
		panic(err)
	}
	return base64.StdEncoding.EncodeToString(b.Bytes())
}

func wrapped(depth int, inner string) string {
	for range depth {
		inner = "From: a@b.example\nContent-Type: message/rfc822\n\n" + inner
	}
	return inner
}

func TestParts(t *testing.T) {
	b64 := "Content-Type: application/pdf\nContent-Disposition: attachment; filename=r.pdf\nContent-Transfer-Encoding: base64\n\n"
	for name, c := range map[string]struct{ mail, want string }{
		"broken base64 beside a good part": {parts("mixed", b64+"JVBERi0xLjQ!!!", attachment("t.csv", "a,b")), "text t.csv 3\nfail part-damaged at m.eml > r.pdf\n"},
		"base64 that ends early":           {parts("mixed", b64+"JVBERi0xLjQKJ"), "fail part-damaged at m.eml > r.pdf\n"},
		"whole base64":                     {parts("mixed", b64+"JVBERi0x\nLjQK"), "pdf r.pdf 9\n"},
		"broken quoted-printable":          {parts("mixed", "Content-Type: text/csv; name=q.csv\nContent-Transfer-Encoding: quoted-printable\n\n5=ZZ6"), "fail part-damaged at m.eml > q.csv\n"},
		"unknown encoding":                 {parts("mixed", "Content-Type: text/csv; name=q.csv\nContent-Transfer-Encoding: x-uuencode\n\nbegin"), "fail part-damaged at m.eml > q.csv\n"},
		"cut short": {strings.TrimSuffix(parts("mixed", attachment("a.csv", "1,2"), attachment("b.csv", "5.6,7.")), "\r\n--XX--\r\n"),
			"text a.csv 3\nfail part-cut-short at m.eml > b.csv\n"},
		"names that are paths": {parts("mixed", attachment("../../etc/r.csv", "a"), attachment(`C:\\temp\\r.csv`, "b"), attachment("..", "c"), attachment(".hidden\u202evsc.exe", "d")),
			"text r.csv 1\ntext r.csv (2) 1\ntext attachment 1\ntext hiddenvsc.exe 1\n"},
		"bytes are the sender's": {parts("mixed", "Content-Type: text/csv; charset=windows-1252; name=w.csv\nContent-Transfer-Encoding: base64\n\n"+base64.StdEncoding.EncodeToString([]byte("5\xb5g"))), "text w.csv 3\n"},
		"fragment of a page":     {parts("alternative", "Content-Type: text/plain\n\nsee below", "Content-Type: text/html; charset=iso-8859-1\nContent-Transfer-Encoding: quoted-printable\n\n<div>5 =B5g</div>"), "text message text 9\nhtml message page 19\n"},
		"small picture": {parts("related", "Content-Type: text/html\n\n<p>a</p>", "Content-Type: image/png\nContent-ID: <x>\nContent-Disposition: inline; filename=logo.png\nContent-Transfer-Encoding: base64\n\n"+picture(60)),
			"html message page 8\nnote part-left-out at m.eml > logo.png\n"},
		"small picture, attached and shown": {parts("related", "Content-Type: text/html\n\n<p>a <img alt=x src=\"cid:x%40y\"></p>", "Content-Type: image/png\nContent-ID: <x@y>\nContent-Disposition: attachment; filename=logo.png\nContent-Transfer-Encoding: base64\n\n"+picture(60)),
			"html message page 36\nnote part-left-out at m.eml > logo.png\n"},
		"picture of a page, attached and shown": {parts("related", "Content-Type: text/html\n\n<p>a <img src=cid:x></p>", "Content-Type: image/png\nContent-ID: <x>\nContent-Disposition: attachment; filename=scan.png\nContent-Transfer-Encoding: base64\n\n"+picture(900)),
			"html message page 26\nimage scan.png 11\n"},
		"picture of a page": {parts("related", "Content-Type: image/png\nContent-ID: <x>\nContent-Disposition: inline; filename=scan.png\nContent-Transfer-Encoding: base64\n\n"+picture(900)), "image scan.png 11\n"},
		"attached picture":  {parts("mixed", "Content-Type: image/png\nContent-Disposition: attachment; filename=small.png\nContent-Transfer-Encoding: base64\n\n"+picture(9)), "image small.png 11\n"},
		"winmail":           {parts("mixed", "Content-Type: application/ms-tnef; name=winmail.dat\n\nx"), "hold packed-by-outlook at m.eml > winmail.dat\n"},
		"encrypted":         {parts("encrypted", "Content-Type: application/pgp-encrypted\n\nVersion: 1", "Content-Type: application/octet-stream\n\nx"), "hold locked at m.eml > encrypted message\n"},
		"elsewhere":         {parts("mixed", "Content-Type: message/external-body; access-type=URL; URL=\"http://x.example/a\"\n\nx"), "hold attachment-elsewhere at m.eml > attachment\n"},
		"invitation":        {parts("mixed", "Content-Type: text/calendar\n\nBEGIN:VCALENDAR", attachment("a.csv", "1")), "text a.csv 1\nnote part-left-out at m.eml > text/calendar\n"},
		"empty attachment":  {parts("mixed", attachment("a.csv", "")), "fail empty-file at m.eml > a.csv\n"},
		"unknown charset":   {"From: a@b\nContent-Type: text/plain; charset=klingon\n\n5\xb5", "fail encoding-unknown at m.eml > message text\n"},
		"plain":             {"From: a@b\nSubject: x\n\npH 6.5\n", "text message text 7\n"},
		"nothing":           {"From: a@b\nSubject: x\n\n", "fail empty-file at m.eml\n"},
		"no boundary":       {"From: a@b\nContent-Type: multipart/mixed\n\nx", "fail damaged at m.eml > part\n"},
		"as deep as may be": {wrapped(5, "From: a@b\n\npH 6"), "text " + strings.Repeat("enclosed message > ", 5) + "message text 4\n"},
		"deeper":            {wrapped(6, "From: a@b\n\npH 6"), "hold mail-too-deep at m.eml > " + strings.Repeat("enclosed message > ", 5) + "enclosed message\n"},
		"envelope line":     {"From a@b Mon May 11 10:00:00 2026\nFrom: a@b\n\npH 6", "text message text 4\n"},
		"mailbox":           {"From a@b Mon May 11\nFrom: a@b\n\npH 6\n\nFrom c@d Mon May 11\nFrom: c@d\n\npH 7", "hold mailbox at m.eml\n"},
		"too many parts":    {parts("mixed", strings.Split(strings.Repeat("Content-Type: text/plain\n\na|", 1100), "|")...), "fail too-large at m.eml\n"},
		"too many levels":   {"From: a@b\n" + strings.Repeat("Content-Type: multipart/mixed; boundary=XX\n\n--XX\n", 120), "fail too-large at m.eml\n"},
	} {
		got, _, _, _ := expand(t, "m.eml", []byte(c.mail), ingest.Limits{})
		if got != c.want && !(strings.Contains(c.want, "image ") && sameButLengths(got, c.want)) {
			t.Errorf("%s: got\n%swant\n%s", name, got, c.want)
		}
	}
	got, members, _, _ := expand(t, "m.eml", []byte(parts("alternative", "Content-Type: text/html; charset=iso-8859-1\nContent-Transfer-Encoding: quoted-printable\n\n<meta charset=3Dutf-7><p>5 =B5g</p>")), ingest.Limits{})
	if len(members) != 1 || string(members[0].Bytes) != "\xef\xbb\xbf<meta charset=utf-7><p>5 µg</p>" {
		t.Errorf("got %s", got)
	}
}

func TestLimits(t *testing.T) {
	b := []byte(parts("mixed", attachment("a.csv", strings.Repeat("1", 300)), attachment("b.csv", "2")))
	for name, c := range map[string]struct {
		lim  ingest.Limits
		want string
	}{
		"bytes of the mail":   {ingest.Limits{Bytes: int64(len(b)) - 1}, "fail too-large at m.eml\n"},
		"all parts":           {ingest.Limits{Unzipped: 300}, "fail too-large at m.eml\n"},
		"exactly as it needs": {ingest.Limits{Bytes: int64(len(b)), Unzipped: 301}, "text a.csv 300\ntext b.csv 1\n"},
	} {
		if got, _, _, _ := expand(t, "m.eml", b, c.lim); got != c.want {
			t.Errorf("%s: got\n%s", name, got)
		}
	}
}

func TestMembersOfAMember(t *testing.T) {
	src := ingest.NewSource("may.zip", []byte(parts("mixed", attachment("a.csv", "1"))))
	src.Member = "one.eml"
	members, _, _ := Expand(src, ingest.Limits{})
	if len(members) != 1 || members[0].Title() != "may.zip > one.eml > a.csv" {
		t.Errorf("got %v", members[0].Title())
	}
}

func TestReasonsInWords(t *testing.T) {
	_, _, _, reasons := expand(t, "april.eml", []byte(parts("mixed", "Content-Type: application/pdf; name=r.pdf\nContent-Transfer-Encoding: base64\n\nJVBERi0xLjQ!!!")), ingest.Limits{})
	want := `april.eml > r.pdf: not read [part-damaged] the attachment was damaged on its way, so nothing was taken from it
    expected  an attachment that can be unpacked without loss
    found     signs that base64 doesn't have, or an end in the middle
    next      ask the sender to send it again; the other parts of the mail wait until then`
	if len(reasons) != 1 || reasons[0].Error() != want {
		t.Errorf("got:\n%v\nwant:\n%s", reasons, want)
	}
}

// An attachment of a damaged mail is whole or isn't handed on: what is handed
// on of a mail that was cut short is what the whole mail holds.
func TestCutAnywhere(t *testing.T) {
	b := load(t, lab+"AR-26-2214.eml")
	_, whole, _, _ := expand(t, "w.eml", b, ingest.Limits{})
	digests := map[string]string{}
	for _, m := range whole {
		digests[m.Member] = m.SHA256
	}
	for n := 600; n < len(b); n += 997 {
		_, members, _, _ := expand(t, "w.eml", b[:n], ingest.Limits{})
		for _, m := range members {
			if digests[m.Member] != m.SHA256 {
				t.Errorf("cut at %d: %s isn't whole", n, m.Member)
			}
		}
	}
}

func TestDamagedCopiesNeverPanic(t *testing.T) {
	for _, f := range []string{lab + "AR-26-2214.eml", "../../testdata/hostile/nested.eml"} {
		b := load(t, f)
		rnd := rand.New(rand.NewPCG(3, 4))
		for range 120 {
			expand(t, "d.eml", readertest.Damage(rnd, b), ingest.Limits{})
		}
	}
}

func FuzzExpand(f *testing.F) {
	f.Add([]byte(parts("mixed", attachment("a.csv", "1,2"), "Content-Type: text/html\n\n<p>a</p>")))
	f.Add([]byte(wrapped(3, "From: a@b\nContent-Transfer-Encoding: base64\n\ncEggNg==")))
	f.Add([]byte(parts("related", "Content-Type: image/png\nContent-ID: <x>\nContent-Transfer-Encoding: base64\n\n"+picture(4))))
	f.Fuzz(func(t *testing.T, b []byte) { expand(t, "f.eml", b, ingest.Limits{}) })
}
