package scan

import (
	"bytes"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"example.org/windrow/ingest"
)

// A token is one word of a reading, in points on the straight page.
type token struct {
	text       string
	box        ingest.Box // around the ink
	confidence int
	line       int // which line of the reading it is in
}

// mostTokens bounds the words of a page.
const mostTokens = 50_000

// parse reads a table of the recogniser: twelve columns, of which those of a
// word have level 5. A line that isn't as it should be is passed over only
// when it is not of a word.
func parse(tsv []byte, dpi float64) ([]token, bool) {
	var out []token
	line, last := 0, ""
	for i, row := range bytes.Split(tsv, []byte("\n")) {
		if i == 0 || len(bytes.TrimSpace(row)) == 0 {
			continue
		}
		f := strings.Split(strings.TrimRight(string(row), "\r"), "\t")
		if f[0] != "5" {
			continue
		}
		if len(f) != 12 || len(out) == mostTokens {
			return nil, false
		}
		var n [4]float64
		for k := range n {
			v, err := strconv.Atoi(f[6+k])
			if err != nil || v < 0 || v > 1<<20 {
				return nil, false
			}
			n[k] = float64(v) * 72 / dpi
		}
		conf, err := strconv.ParseFloat(f[10], 64)
		if err != nil || !(conf >= -1 && conf <= 101) {
			return nil, false
		}
		if key := strings.Join(f[1:5], " "); key != last {
			line, last = line+1, key
		}
		text := strings.TrimSpace(strings.ToValidUTF8(f[11], "\uFFFD"))
		if text == "" || dust(text) {
			continue
		}
		out = append(out, token{text: text, confidence: int(max(0, conf)), line: line,
			box: ingest.Box{X0: n[0], Y0: n[1], X1: n[0] + n[2], Y1: n[1] + n[3]}})
	}
	return out, true
}

// dust is what rests of rules and specks are read as. A dash may stand for a
// missing value, and a sign for a limit: these are kept.
func dust(s string) bool {
	return strings.Trim(s, "|_~.,'`\u2018\u2019\u00b0\u00a6\u201c\u201d\":;") == ""
}

// good counts the characters of a reading, and those in words that the
// recogniser is sure of and that are long enough to mean something. Of a page
// that stands on its head few are.
func good(tokens []token) (sure, all int) {
	const sureOf, long = 70, 3
	for _, t := range tokens {
		n := utf8.RuneCountInString(t.text)
		all += n
		letters := 0
		for _, r := range t.text {
			if unicode.IsLetter(r) {
				letters++
			}
		}
		if t.confidence >= sureOf && letters >= long {
			sure += n
		}
	}
	return sure, all
}

// A setting is the line on which a token stands and the size of its letters.
type setting struct{ base, size float64 }

const (
	capHeight = 0.7 // of capitals and figures, in sizes of the font
	deep      = "gjpqy,;Q()[]{}$/|@_\u00b5"
	low       = "acegmnopqrsuvwxyz.,:;-_~=+*'\"\u2013\u2014\u00b0"
)

// settings finds for each token the line it stands on, from it and the others
// of its line: a letter with a tail ends below the line, and a point or a
// dash says nothing of size.
func settings(tokens []token) []setting {
	lines := map[int][]int{}
	for i, t := range tokens {
		lines[t.line] = append(lines[t.line], i)
	}
	var sizes []float64
	out := make([]setting, len(tokens))
	for _, members := range lines {
		var tall []float64
		for _, i := range members {
			t := tokens[i]
			if !strings.ContainsAny(t.text, deep) && strings.Trim(t.text, low) != "" {
				tall = append(tall, t.box.Height())
			}
		}
		size := 0.0
		if len(tall) > 0 {
			size = median(tall) / capHeight
			sizes = append(sizes, size)
		}
		for _, i := range members {
			t := tokens[i]
			base := t.box.Y1
			if strings.ContainsAny(t.text, deep) || strings.Trim(t.text, low) == "" {
				// Take the nearest neighbour's that tells.
				best := -1.0
				for _, k := range members {
					o := tokens[k]
					if strings.ContainsAny(o.text, deep) || strings.Trim(o.text, low) == "" {
						continue
					}
					if d := max(o.box.X0-t.box.X1, t.box.X0-o.box.X1); best < 0 || d < best {
						best, base = d, o.box.Y1
					}
				}
			}
			out[i] = setting{base: base, size: size}
		}
	}
	usual := 10.0
	if len(sizes) > 0 {
		usual = median(sizes)
	}
	for i := range out {
		if out[i].size == 0 {
			out[i].size = usual
		}
	}
	return out
}

func median(v []float64) float64 {
	v = slices.Clone(v)
	slices.Sort(v)
	return v[len(v)/2]
}
