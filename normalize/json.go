package normalize

import (
	"bytes"
	"encoding/json"
)

// JSON is the report as the archive keeps it: fields in the order of the
// types, two spaces of indent, no HTML escaping, a newline at the end. The
// same report gives the same bytes.
//
// They are the bytes that a [json.Encoder] with these settings gives. It is
// not given the whole report, of which it would hold two copies more and
// parse one of them to indent it, but a record at a time.
func (r *Report) JSON() ([]byte, error) {
	var compact bytes.Buffer
	e := json.NewEncoder(&compact)
	e.SetEscapeHTML(false)
	indented := func(out []byte, v any, depth int) ([]byte, error) {
		compact.Reset()
		if err := e.Encode(v); err != nil {
			return nil, err
		}
		return appendIndented(out, bytes.TrimSuffix(compact.Bytes(), []byte("\n")), depth), nil
	}
	frame := *r
	if len(r.Records) > 0 {
		frame.Records = []*Record{}
	}
	out, err := indented(nil, &frame, 0)
	if err != nil {
		return nil, err
	}
	if len(r.Records) == 0 {
		return append(out, '\n'), nil
	}
	// A line break is never part of a string, so this is the report's own
	// field and nothing that was printed somewhere.
	before, after, _ := bytes.Cut(out, []byte("\n  \"records\": []"))
	out = append(append([]byte(nil), before...), "\n  \"records\": ["...)
	for i, rec := range r.Records {
		if i > 0 {
			out = append(out, ',')
		}
		start := len(out)
		if out, err = indented(append(out, "\n    "...), rec, 2); err != nil {
			return nil, err
		}
		if i == 0 { // the others are about as long
			out = append(make([]byte, 0, len(out)+(len(out)-start)*len(r.Records)*11/10), out...)
		}
	}
	out = append(append(out, "\n  ]"...), after...)
	return append(out, '\n'), nil
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
