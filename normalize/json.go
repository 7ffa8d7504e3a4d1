package normalize

import (
	"bytes"
	"encoding/json"
)

// JSON is the report as the archive keeps it: fields in the order of the
// types, two spaces of indent, no HTML escaping, a newline at the end. The
// same report gives the same bytes.
func (r *Report) JSON() ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	if err := e.Encode(r); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}
