package draft

import (
	"strings"
	"unicode"

	"example.org/windrow/mappings"
)

// A meaning is what the words of a printed label or heading say.
type meaning struct {
	analyte, detail, basis string
	method                 string // words that the vocabulary resolves
	unit                   string // printed in the label itself
	conf                   float64
	ask                    []string // questions, each a sentence
	unknown, length        int      // words of the label not understood; words that name the analyte
}

func (m *meaning) doubt(conf float64, q string) {
	m.conf = min(m.conf, conf)
	m.ask = append(m.ask, q)
}

// notUnits are words that the vocabulary knows as units and that are no unit
// of a soil test when they stand in a label.
var notUnits = map[string]bool{"in": true, "cm": true, "mm": true, "m": true, "ft": true, "class": true, "ratio": true, "ton/acre": true, "pH": true}

// unitOf is the id of a printed unit of a result. known is false for words
// that are none; also is the vocabulary's spelling when the printed one is
// only known here.
func unitOf(v mappings.Vocabulary, text string) (id, also string, known bool) {
	t := mappings.Normalise(text)
	if t == "" {
		return "", "", false
	}
	if a, ok := words().unit[fold(t)]; ok {
		if _, known := v.Resolve(mappings.UnitWord, t); !known {
			id, ok := v.Resolve(mappings.UnitWord, a)
			return id, a, ok
		}
	}
	id, ok := v.Resolve(mappings.UnitWord, t)
	if !ok || notUnits[id] && id != "pH" {
		return "", "", false
	}
	return id, "", true
}

// labelTokens cuts a label at spaces, brackets and commas.
func labelTokens(s string) []string {
	s = mappings.Normalise(s)
	var out []string
	var b strings.Builder
	flush := func() {
		if b.Len() > 0 {
			out = append(out, b.String())
			b.Reset()
		}
	}
	for _, r := range s {
		switch {
		case unicode.IsSpace(r) || r == '_':
			flush()
		case strings.ContainsRune("(),;[]|", r):
			flush()
		default:
			b.WriteRune(r)
		}
	}
	flush()
	for i, t := range out {
		out[i] = strings.TrimSuffix(t, ":")
	}
	return out
}

// formula are the letters of a basis as printed, which settle what is meant.
func formulaIn(tokens []string) bool {
	s := strings.ToUpper(strings.Join(tokens, ""))
	for f := range words().Bases {
		if strings.Contains(s, strings.ToUpper(f)) {
			return true
		}
	}
	return false
}

// bracketUnit parts a label from a unit at its end that has brackets in
// itself, such as cmol(+)/kg, which is not to be cut at them.
func bracketUnit(v mappings.Vocabulary, label string) (name, unit string) {
	ws := strings.Fields(mappings.Normalise(label))
	if len(ws) < 2 {
		return "", ""
	}
	last := ws[len(ws)-1]
	if strings.HasPrefix(last, "(") && strings.HasSuffix(last, ")") {
		last = last[1 : len(last)-1]
	}
	if i := strings.IndexByte(last, '('); i <= 0 || !strings.Contains(last[i:], ")") {
		return "", ""
	}
	if _, _, ok := unitOf(v, last); !ok {
		return "", ""
	}
	return strings.Join(ws[:len(ws)-1], " "), last
}

// understand says what a label measures; ok is false when it names nothing
// that is known. context is the wider heading above, and the method and unit
// lines under it.
func understand(v mappings.Vocabulary, label string, context ...string) (meaning, bool) {
	best := meaning{}
	if name, unit := bracketUnit(v, label); name != "" {
		m, ok := understand(v, name, append(append([]string{}, context...), unit)...)
		return m, ok
	}
	tokens := labelTokens(label)
	if len(tokens) == 0 || len(tokens) > 12 {
		return best, false
	}
	resolve := func(k mappings.WordKind, t string) (string, bool) { return v.Resolve(k, t) }
	if h := fold(label); h == "h" || h == "hydrogen" {
		for _, c := range context {
			if percentUnit(v, c) || hasAny(c, words().Saturation) {
				return meaning{analyte: "base_sat_H", unit: "%", conf: 0.8}, true
			}
		}
	}
	if len(tokens) == 2 && hasAny(label, words().Saturation) {
		for i, t := range tokens {
			if (t == "H" || strings.EqualFold(t, "hydrogen")) && hasAny(tokens[1-i], words().Saturation) {
				return meaning{analyte: "base_sat_H", conf: 0.9}, true
			}
		}
	}
	if id, ok := resolve(mappings.AnalyteWord, mappings.Normalise(label)); ok {
		best = meaning{analyte: id, conf: 0.95}
		if f := strings.Fields(mappings.Normalise(label)); strings.HasPrefix(id, "base_sat") || strings.HasPrefix(label, "%") || len(f) > 1 && f[len(f)-1] == "%" {
			if strings.Contains(label, "%") {
				best.unit = "%"
			}
		}
	} else {
		type cand struct {
			m       meaning
			unknown int
			length  int
		}
		var cands []cand
		found := false
		for i := 0; i < len(tokens); i++ {
			for j := min(len(tokens), i+6); j > i; j-- {
				m, ok := spanMeaning(v, tokens, i, j)
				if !ok {
					continue
				}
				unknown := explainRest(v, &m, tokens, i, j)
				cands = append(cands, cand{m, unknown, j - i})
			}
		}
		for _, c := range cands {
			if !found || c.unknown < best.unknown || c.unknown == best.unknown && c.length > best.length {
				best, found = c.m, true
				best.unknown, best.length = c.unknown, c.length
			}
		}
		if !found {
			return best, false
		}
		if best.unknown > 0 {
			if best.unknown > 2 || best.unknown >= len(tokens)-1 && len(tokens) > 2 {
				return best, false
			}
			best.doubt(0.5, "part of the label \""+mappings.Normalise(label)+"\" is not understood; is it "+best.analyte+"?")
		}
	}
	if best.analyte == "lime_index" {
		// Laboratories print the buffer pH under this name, mostly times ten.
		best.analyte, best.unit = "buffer_pH", "lime index"
		best.doubt(0.6, "is this the buffer pH times ten, 66 for 6.6? If it is the buffer pH itself, take the unit out")
	}
	saturate(v, &best, tokens, context)
	for _, c := range context {
		if c == "" {
			continue
		}
		readContext(v, &best, c)
	}
	if best.analyte == "pH" {
		id, _ := v.Resolve(mappings.MethodWord, best.method)
		buffer := words().Implied[id] == "buffer_pH"
		for _, t := range tokens {
			buffer = buffer || strings.HasPrefix(strings.ToLower(t), "buf")
		}
		if buffer {
			best.analyte, best.detail = "buffer_pH", ""
		}
	}
	if id, _, _ := unitOf(v, best.unit); id == "index" && best.basis == "" {
		best.basis = "index"
	}
	if best.method != "" {
		id, _ := v.Resolve(mappings.MethodWord, best.method)
		if q := words().UnclearMethods[id]; q != "" && (id != "mehlich-3" || best.analyte == "P") && (id != "mehlich-1") {
			best.ask = append(best.ask, q)
			best.conf = min(best.conf, 0.75)
			if strings.HasPrefix(id, "kcl-") && !hasDigit(best.method) {
				best.method = "" // the word alone does not say which
			}
		}
	}
	return best, true
}
