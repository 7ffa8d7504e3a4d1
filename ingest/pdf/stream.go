package pdf

import (
	"bytes"
	"io"
	"strconv"
	"strings"

	"github.com/ledongthuc/pdf"
)

// content is the decoded bytes of a page's contents: one stream, or several
// that count as one with a space between (7.8.2).
func (g *guard) content(v pdf.Value) []byte {
	switch v.Kind() {
	case pdf.Null:
		return nil // an empty page
	case pdf.Stream:
		return g.decode(v, g.budget)
	case pdf.Array:
		var all []byte
		for i := range v.Len() {
			part := v.Index(i)
			if part.Kind() != pdf.Stream {
				abandon(damaged("a part of a page is missing", "everything that the page is made of", "nothing in one of its places"))
			}
			all = append(append(all, g.decode(part, g.budget)...), '\n')
		}
		return all
	}
	abandon(damaged("the contents of a page are missing", "a page with its contents", "something else in their place"))
	return nil
}

// decode is the decoded bytes of a stream, at most so many. A stream that
// can't be decoded to its end ends the reading: half a page is worse than
// none.
func (g *guard) decode(v pdf.Value, most int64) []byte {
	g.check()
	g.whole(v)
	rc := v.Reader()
	defer rc.Close()
	var buf bytes.Buffer
	buf.Grow(int(min(most, packs*max(0, v.Key("Length").Int64()), 1<<20)))
	n, err := io.Copy(&buf, io.LimitReader(&counted{rc, g}, most+1))
	if err != nil {
		if r := g.over(); r != nil {
			abandon(r)
		}
		abandon(damaged("a part of the file can't be unpacked", "data that unpacks to its end", "it breaks off or is garbled"))
	}
	if n > most {
		abandon(tooLarge("unzipped", "the file grows beyond what is allowed when it is unpacked", g.lim.Unzipped, g.lim.Unzipped+1))
	}
	return buf.Bytes()
}

// packs is how much most streams grow when they are unpacked.
const packs = 4

// counted spends the guard's budget as it is read.
type counted struct {
	r io.Reader
	g *guard
}

func (c *counted) Read(p []byte) (int, error) {
	if c.g.ctx.Err() != nil {
		return 0, errOver
	}
	n, err := c.r.Read(p)
	c.g.spend(int64(n))
	return n, err
}

// whole checks that a stream is as long as it says: "endstream" must follow
// its data (7.3.8.1). The object layer trusts /Length, so a wrong one would
// drop the rest of a page without a word.
func (g *guard) whole(v pdf.Value) {
	_, at, ok := strings.Cut(lastPart(v.String()), "@")
	off, err := strconv.ParseInt(at, 10, 64)
	if !ok || err != nil {
		return
	}
	end := off + v.Key("Length").Int64()
	if v.Key("Length").Kind() == pdf.Integer && off >= 0 && end >= off && end <= g.size {
		rest := bytes.TrimLeft(g.data[end:min(g.size, end+32)], "\x00\t\n\f\r ")
		if bytes.HasPrefix(rest, []byte("endstream")) {
			return
		}
	}
	abandon(damaged("a part of the file is not as long as it says", "data of the stated length", "data that is cut short or goes on"))
}

// lastPart is the text from the last ">>" on: "…>>@1234".
func lastPart(s string) string {
	return s[max(0, strings.LastIndex(s, ">>")):]
}

// reference finds, in a dictionary as the object layer writes it, the object
// that a key refers to ("12 0 R"), or "". The layer shows references in no
// other way, and reading the same font for each page would take most of the
// time.
func reference(dict, key string) string {
	_, after, ok := strings.Cut(dict, "/"+key+" ")
	if !ok {
		return ""
	}
	f := strings.Fields(after[:min(len(after), 32)])
	if len(f) < 3 {
		return ""
	}
	if r := strings.TrimRight(f[2], ">"); r == "R" && digits(f[0]) && digits(f[1]) {
		return f[0] + " " + f[1] + " R"
	}
	return ""
}

func digits(s string) bool {
	for _, c := range s {
		if c < '0' || c > '9' {
			return false
		}
	}
	return s != ""
}
