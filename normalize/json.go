package normalize

import (
	"bytes"
	"encoding/json"
	"io"
	"runtime"
	"slices"
	"sync"
)

// JSON is the report as the archive keeps it: fields in the order of the
// types, two spaces of indent, no HTML escaping, a newline at the end. The
// same report gives the same bytes.
func (r *Report) JSON() ([]byte, error) {
	var b bytes.Buffer
	err := r.WriteJSON(&b)
	return b.Bytes(), err
}

// WriteJSON writes the bytes of [Report.JSON], some records at a time: those of
// a long list are longer than the report itself, and need not be held at once.
//
// They are the bytes that a [json.Encoder] with these settings gives. It is
// not given the whole report, of which it would hold two copies more and
// parse one of them to indent it.
func (r *Report) WriteJSON(w io.Writer) error {
	var t typist
	frame := *r
	if len(r.Records) > 0 {
		frame.Records = []*Record{}
	}
	if err := t.add(&frame, 0); err != nil {
		return err
	}
	if len(r.Records) == 0 {
		_, err := w.Write(append(t.out, '\n'))
		return err
	}
	// A line break is never part of a string, so this is the report's own
	// field and nothing that was printed somewhere.
	before, after, _ := bytes.Cut(t.out, []byte("\n  \"records\": []"))
	if _, err := w.Write(append(slices.Clip(before), "\n  \"records\": ["...)); err != nil {
		return err
	}
	typists := make([]typist, runtime.GOMAXPROCS(0))
	for from := 0; from < len(r.Records); from += len(typists) * atOnce {
		var wg sync.WaitGroup
		for i := range typists {
			first := min(from+i*atOnce, len(r.Records))
			recs := r.Records[first:min(first+atOnce, len(r.Records))]
			work := func() { typists[i].records(recs, first > 0) }
			if i == 0 && first+atOnce >= len(r.Records) {
				work() // all there is
				continue
			}
			wg.Go(work)
		}
		wg.Wait()
		for i := range typists {
			if typists[i].err != nil {
				return typists[i].err
			}
			if _, err := w.Write(typists[i].out); err != nil {
				return err
			}
		}
	}
	_, err := w.Write(append(append([]byte("\n  ]"), after...), '\n'))
	return err
}

// A typist writes values as JSON, indented. Its room is used again.
type typist struct {
	compact bytes.Buffer
	encoder *json.Encoder
	out     []byte
	err     error
}

// add writes a value, with depth levels around it.
func (t *typist) add(v any, depth int) error {
	if t.encoder == nil {
		t.encoder = json.NewEncoder(&t.compact)
		t.encoder.SetEscapeHTML(false)
	}
	t.compact.Reset()
	if err := t.encoder.Encode(v); err != nil {
		return err
	}
	t.out = appendIndented(t.out, bytes.TrimSuffix(t.compact.Bytes(), []byte("\n")), depth)
	return nil
}

// records writes some records of a report anew, with a comma before each but
// for the first of all.
func (t *typist) records(recs []*Record, comma bool) {
	t.out = t.out[:0]
	for i, rec := range recs {
		if comma || i > 0 {
			t.out = append(t.out, ',')
		}
		t.out = append(t.out, "\n    "...)
		if t.err = t.add(rec, 2); t.err != nil {
			return
		}
	}
}

// appendIndented writes JSON without white space as [json.Indent] would, two
// spaces a level, with depth levels around it. src must be what package json
// has written: nothing of it is checked.
func appendIndented(out, src []byte, depth int) []byte {
	for i := 0; i < len(src); {
		from, c := i, src[i]
		switch c {
		case '{', '[':
			out = append(out, c)
			i++
			if src[i] == c+2 { // } and ] stand two behind { and [
				out = append(out, c+2)
				i++
				continue
			}
			depth++
			out = appendBreak(out, depth)
			continue
		case '}', ']':
			depth--
			out = append(appendBreak(out, depth), c)
			i++
			continue
		case ',':
			out = appendBreak(append(out, c), depth)
			i++
			continue
		case ':':
			out = append(out, ':', ' ')
			i++
			continue
		case '"':
			for i++; src[i] != '"'; i++ {
				if src[i] == '\\' {
					i++
				}
			}
			i++
		default: // a number, true, false or null
			for i < len(src) && src[i] != ',' && src[i] != '}' && src[i] != ']' {
				i++
			}
		}
		out = append(out, src[from:i]...)
	}
	return out
}

// appendBreak begins a line that is indented by depth levels.
func appendBreak(out []byte, depth int) []byte {
	const levels = 16
	const line = "\n" + "                                " // two spaces for each of them
	out = append(out, line[:1+2*min(depth, levels)]...)
	for range depth - levels {
		out = append(out, "  "...)
	}
	return out
}
