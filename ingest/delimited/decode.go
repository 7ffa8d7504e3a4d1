package delimited

import (
	"bytes"
	"fmt"
	"unicode/utf16"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"

	"example.org/windrow/ingest"
)

// marks are the byte-order marks (Unicode standard, section 23.8), the ones
// that others begin with last.
var marks = []struct {
	bytes    string
	encoding string
}{
	{"\xEF\xBB\xBF", "utf-8"},
	{"\xFF\xFE", "utf-16le"},
	{"\xFE\xFF", "utf-16be"},
}

// decode turns the bytes of a file into UTF-8 without a byte-order mark. The
// result may be part of b, which is not changed.
func decode(b []byte, encoding string) ([]byte, *ingest.Reason) {
	switch encoding {
	case "utf-8", "utf-16le", "utf-16be", "windows-1252", "iso-8859-1":
	default:
		return nil, notPossible("one of the encodings utf-8, windows-1252, iso-8859-1, utf-16le, utf-16be", fmt.Sprintf("%q", encoding))
	}
	for _, m := range marks {
		if !bytes.HasPrefix(b, []byte(m.bytes)) {
			continue
		}
		if m.encoding != encoding {
			return nil, differs(encoding, m.encoding+" (it begins with the mark of that encoding)")
		}
		b = b[len(m.bytes):]
		break
	}
	switch encoding {
	case "utf-8":
		return checkUTF8(b)
	case "utf-16le":
		return decodeUTF16(b, encoding, func(i int) uint16 { return uint16(b[i]) | uint16(b[i+1])<<8 })
	case "utf-16be":
		return decodeUTF16(b, encoding, func(i int) uint16 { return uint16(b[i+1]) | uint16(b[i])<<8 })
	}
	return decodeBytes(b, encoding)
}

func differs(expected, found string) *ingest.Reason {
	return &ingest.Reason{Code: "encoding-differs", Severity: ingest.Hold, What: "the file is not in the encoding in which this laboratory's files are read",
		Expected: expected, Found: found,
		Next: "if the laboratory has changed how it writes its files, declare the new encoding in its mapping; otherwise ask for the file again"}
}

// invalid is the reason for a byte that the encoding has no character for.
// text is what was decoded before it; the column is counted in it.
func invalid(text []byte, encoding string, raw []byte, inLine int) *ingest.Reason {
	at := placeOf(append(text, 0), len(text))
	return &ingest.Reason{Code: "encoding-invalid", Severity: ingest.Hold, Where: at,
		What:     "the file holds a byte that its encoding has no character for",
		Expected: encoding, Found: fmt.Sprintf("% X at byte %d of line %d", raw, inLine, at.Line),
		Next: "open the file in a text editor and look at this place; if the laboratory has changed how it writes its files, declare the new encoding in its mapping"}
}

func checkUTF8(b []byte) ([]byte, *ingest.Reason) {
	if utf8.Valid(b) {
		return b, nil
	}
	for i := 0; i < len(b); {
		r, n := utf8.DecodeRune(b[i:])
		if r == utf8.RuneError && n == 1 {
			return nil, invalid(bytes.Clone(b[:i]), "utf-8", b[i:i+1], i-bytes.LastIndexByte(b[:i], '\n'))
		}
		i += n
	}
	return b, nil
}

// decodeBytes reads an encoding of one byte a character. Bytes that it leaves
// undefined are refused; in iso-8859-1 these are the control characters from
// 80 to 9F, which in practice are letters of windows-1252.
func decodeBytes(b []byte, encoding string) ([]byte, *ingest.Reason) {
	cm := charmap.Windows1252
	if encoding == "iso-8859-1" {
		cm = charmap.ISO8859_1
	}
	high := 0
	for _, c := range b {
		if c >= 0x80 {
			high++
		}
	}
	if high == 0 {
		return b, nil
	}
	if utf8.Valid(b) {
		// Letters beyond ASCII that happen to form UTF-8 throughout don't
		// happen by chance.
		return nil, differs(encoding, "utf-8 (every letter beyond the plain alphabet is written as UTF-8 writes it)")
	}
	out := make([]byte, 0, len(b)+2*high)
	line := 0
	for i, c := range b {
		if c < 0x80 {
			out = append(out, c)
			if c == '\n' {
				line = i + 1
			}
			continue
		}
		r := cm.DecodeByte(c)
		if r == utf8.RuneError || r >= 0x80 && r < 0xA0 {
			return nil, invalid(out, encoding, b[i:i+1], i-line+1)
		}
		out = utf8.AppendRune(out, r)
	}
	return out, nil
}

func decodeUTF16(b []byte, encoding string, unit func(int) uint16) ([]byte, *ingest.Reason) {
	out := make([]byte, 0, len(b)*3/4)
	line := 0
	for i := 0; i < len(b); i += 2 {
		if i+1 >= len(b) {
			return nil, invalid(out, encoding, b[i:], i-line+1)
		}
		r := rune(unit(i))
		if utf16.IsSurrogate(r) {
			pair := utf8.RuneError
			if i+3 < len(b) {
				pair = utf16.DecodeRune(r, rune(unit(i+2)))
			}
			if pair == utf8.RuneError {
				return nil, invalid(out, encoding, b[i:i+2], i-line+1)
			}
			r, i = pair, i+2
		}
		out = utf8.AppendRune(out, r)
		if r == '\n' {
			line = i + 2
		}
	}
	return out, nil
}
