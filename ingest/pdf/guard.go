package pdf

import (
	"bytes"
	"context"
	"errors"
	"io"
	"strings"

	"example.org/windrow/ingest"
	"github.com/ledongthuc/pdf"
)

// A guard stands between the object layer and the bytes of one file. The
// object layer follows references without counting them (/Prev, /Kids,
// /Parent and /Extends may lead in a circle), but each step reads the file,
// so refusing to read ends every such circle.
type guard struct {
	ctx    context.Context
	lim    ingest.Limits
	data   []byte // from the header to the last end-of-file mark
	size   int64
	budget int64 // decoded bytes of content streams and the like that may still be made
	raw    int64 // bytes of the file that may still be read while it is opened; opened files have no such bound
	opened bool
	glyphs []glyph // of the page before, to be used again
}

// header is shown to the object layer in place of the file's own, because it
// insists on a version and line end that many good files don't have (PDF
// 2.0, a space before the line end). The version changes nothing it does.
const header = "%PDF-1.7\n"

// open finds the PDF within the bytes: some gateways put lines in front of
// the header (7.5.2; readers accept it within the first 1024 bytes), and
// some put lines behind the end.
func (g *guard) open(b []byte) {
	start := bytes.Index(b[:min(len(b), 1024)], []byte("%PDF-"))
	b = b[max(0, start):]
	end := bytes.LastIndex(b, []byte("%%EOF"))
	if end < 0 {
		abandon(damaged("the end of the file is missing", "a PDF that ends with its end-of-file mark", "no such mark: it may have been cut short on its way"))
	}
	g.data, g.size = mendSize(b[:end+len("%%EOF")]), int64(end+len("%%EOF"))
	// Opening reads the tables of the file once, in blocks; more is a circle
	// of tables, which must not cost all the time that a file may take.
	g.raw = 4*g.size + 1<<20
}

var errOver = errors.New("reading was stopped")

// ReadAt implements io.ReaderAt.
func (g *guard) ReadAt(p []byte, off int64) (int, error) {
	if g.ctx.Err() != nil {
		return 0, errOver
	}
	if off < 0 || off >= int64(len(g.data)) {
		return 0, io.EOF
	}
	n := copy(p, g.data[off:])
	if g.raw -= int64(len(p)); g.raw < 0 && !g.opened {
		return 0, errOver
	}
	if off < int64(len(header)) {
		copy(p, header[off:])
	}
	if n < len(p) {
		return n, io.EOF
	}
	return n, nil
}

// over is the reason why reading must stop now, or nil.
func (g *guard) over() *ingest.Reason {
	return g.lim.Over(g.ctx.Err(), "the file")
}

// check stops reading when the time is up.
func (g *guard) check() {
	if r := g.over(); r != nil {
		abandon(r)
	}
}

// spend counts decoded bytes.
func (g *guard) spend(n int64) {
	if g.budget -= n; g.budget < 0 {
		abandon(tooLarge("unzipped", "the file grows beyond what is allowed when it is unpacked", g.lim.Unzipped, g.lim.Unzipped-g.budget))
	}
}

// checkLock refuses the one encryption that the object layer opens wrongly:
// keys shorter than 88 bits (7.6.2 adds five bytes to the key; the layer
// always takes sixteen), which would come out as noise.
func (g *guard) checkLock(r *pdf.Reader) {
	enc := r.Trailer().Key("Encrypt")
	if enc.Kind() == pdf.Null {
		return
	}
	bits := enc.Key("Length").Int64()
	if bits == 0 {
		bits = 40
	}
	if bits < 128 || enc.Key("V").Int64() < 2 {
		abandon(locked("it is locked in an old way (40-bit) that can't be opened here"))
	}
}

// objectReason words what the object layer says.
func objectReason(text string) *ingest.Reason {
	has := func(s string) bool { return strings.Contains(text, s) }
	switch {
	case has("bit encryption key"), has("unsupported PDF: encryption"), has("encryption revision"), has("encryption filter"):
		return locked("it is locked in a way that can't be opened here")
	case has("unknown filter "):
		_, f, _ := strings.Cut(text, "unknown filter ")
		return notSupported("a packing of its contents", shorten(f))
	case has("pred"), has("DecodeParms for ascii85"), has("unsupported filter"):
		return notSupported("a packing of its contents", "parameters that aren't known here")
	}
	return damaged("the parts of the file don't fit together", "a PDF whose parts can all be found", "a part that is missing or broken: the file may have been damaged or cut short on its way")
}
