package normalize

import (
	"bytes"
	"encoding/json"
	"io"
)

// JSON is the report as the archive keeps it: fields in the order of the
// types, two spaces of indent, no HTML escaping, a newline at the end. The
// same report gives the same bytes.
func (r *Report) JSON() ([]byte, error) {
	var b bytes.Buffer
	err := r.WriteJSON(&b)
	return b.Bytes(), err
}

// WriteJSON writes the bytes of [Report.JSON], a record at a time: those of a
// long list are longer than the report itself, and need not be held at once.
//
// They are the bytes that a [json.Encoder] with these settings gives. It is
// not given the whole report, of which it would hold two copies more and
// parse one of them to indent it.
func (r *Report) WriteJSON(w io.Writer) error {
	var compact bytes.Buffer
	e := json.NewEncoder(&compact)
	e.SetEscapeHTML(false)
	var out []byte // of what is written next; its room is used again
	indented := func(v any, depth int) error {
		compact.Reset()
		if err := e.Encode(v); err != nil {
			return err
		}
		out = appendIndented(out, bytes.TrimSuffix(compact.Bytes(), []byte("\n")), depth)
		return nil
	}
	frame := *r
	if len(r.Records) > 0 {
		frame.Records = []*Record{}
	}
	if err := indented(&frame, 0); err != nil {
		return err
	}
	if len(r.Records) == 0 {
		_, err := w.Write(append(out, '\n'))
		return err
	}
	// A line break is never part of a string, so this is the report's own
	// field and nothing that was printed somewhere.
	before, after, _ := bytes.Cut(bytes.Clone(out), []byte("\n  \"records\": []"))
	out = append(append(out[:0], before...), "\n  \"records\": ["...)
	for i, rec := range r.Records {
		if i > 0 {
			out = append(out, ',')
		}
		out = append(out, "\n    "...)
		if err := indented(rec, 2); err != nil {
			return err
		}
		if _, err := w.Write(out); err != nil {
			return err
		}
		out = out[:0]
	}
	out = append(append(out, "\n  ]"...), after...)
	_, err := w.Write(append(out, '\n'))
	return err
}

// appendIndented writes JSON without white space as [json.Indent] would, two
// spaces a level, with depth levels around it. src must be what package json
// has written: nothing of it is checked.
func appendIndented(out, src []byte, depth int) []byte {
	newline := func() {
		out = append(out, '\n')
		for range depth {
			out = append(out, ' ', ' ')
		}
	}
	for i := 0; i < len(src); {
		switch c := src[i]; c {
		case '"':
			end := i + 1
			for src[end] != '"' {
				if src[end] == '\\' {
					end++
				}
				end++
			}
			out = append(out, src[i:end+1]...)
			i = end
		case '{', '[':
			out = append(out, c)
			if src[i+1] == c+2 { // } and ] stand two behind { and [
				out = append(out, c+2)
				i++
				break
			}
			depth++
			newline()
		case '}', ']':
			depth--
			newline()
			out = append(out, c)
		case ',':
			out = append(out, c)
			newline()
		case ':':
			out = append(out, ':', ' ')
		default:
			out = append(out, c)
		}
		i++
	}
	return out
}
