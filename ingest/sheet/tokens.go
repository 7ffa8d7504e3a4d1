package sheet

import (
	"encoding/xml"
	"errors"
	"io"
)

// tokens gives the XML tokens of a part and checks that elements are nested
// and closed. It is encoding/xml's Token without the translation of name
// spaces, which a fifth of the time went into and nothing here looks at.
type tokens struct {
	d    *xml.Decoder
	open []xml.Name
}

var errNesting = errors.New("elements are not nested properly")

func newTokens(r io.Reader) *tokens { return &tokens{d: xml.NewDecoder(r)} }

// next gives the next token, io.EOF after the last one if all is closed.
func (t *tokens) next() (xml.Token, error) {
	tok, err := t.d.RawToken()
	if err != nil {
		if errors.Is(err, io.EOF) && len(t.open) > 0 {
			return nil, io.ErrUnexpectedEOF
		}
		return nil, err
	}
	switch e := tok.(type) {
	case xml.StartElement:
		t.open = append(t.open, e.Name)
	case xml.EndElement:
		n := len(t.open) - 1
		if n < 0 || t.open[n] != e.Name {
			return nil, errNesting
		}
		t.open = t.open[:n]
	}
	return tok, nil
}
