package draft

import (
	"strings"

	"example.org/windrow/mappings"
)

// spanMeaning is what a span of a label's words names by itself: an analyte,
// a compound that stands for one, or a method that has only one.
func spanMeaning(v mappings.Vocabulary, tokens []string, i, j int) (meaning, bool) {
	text := strings.Join(tokens[i:j], " ")
	if id, ok := v.Resolve(mappings.AnalyteWord, text); ok {
		m := meaning{analyte: id, conf: 0.9}
		if strings.Contains(text, "%") {
			m.unit = "%"
		}
		return m, true
	}
	w := words()
	if id, ok := v.Resolve(mappings.BasisWord, text); ok && w.Bases[id] != "" {
		m := meaning{analyte: w.Bases[id], basis: id, conf: 0.9}
		if !formulaIn(tokens) {
			m.basis = "not stated"
			m.doubt(0.5, "does "+text+" mean the element "+m.analyte+" or the compound "+id+"? Write basis: "+id+", or leave basis out")
		}
		return m, true
	}
	if a, ok := w.loose[fold(text)]; ok {
		m := meaning{analyte: a, basis: "not stated", conf: 0.4}
		if a == "OM" || a == "acidity" || a == "buffer_pH" {
			m.basis = ""
		}
		m.ask = append(m.ask, "what does "+text+" mean here? Write the analyte, and the basis if it is a compound")
		return m, true
	}
	if id, ok := v.Resolve(mappings.MethodWord, text); ok && w.Implied[id] != "" && len(text) > 2 {
		return meaning{analyte: w.Implied[id], method: text, conf: 0.85}, true
	}
	return meaning{}, false
}

// explainRest accounts for the words of a label beside the span that names
// the analyte, and gives the number of words that nothing explains.
func explainRest(v mappings.Vocabulary, m *meaning, tokens []string, i, j int) int {
	unknown := 0
	var details []string
	rest := [][]string{tokens[:i], tokens[j:]}
	for _, part := range rest {
		for k := 0; k < len(part); {
			n := explainOne(v, m, part[k:], &details)
			if n == 0 {
				if _, other := v.Resolve(mappings.AnalyteWord, part[k]); other || isNumber(part[k]) {
					unknown += 9 // a value or another test, and no part of this label
				}
				unknown++
				n = 1
			}
			k += n
		}
	}
	m.detail = strings.Join(details, " ")
	return unknown
}

// explainOne explains the longest beginning of a list of words, and gives
// how many.
func explainOne(v mappings.Vocabulary, m *meaning, part []string, details *[]string) int {
	w := words()
	for n := min(len(part), 6); n > 0; n-- {
		text := strings.Join(part[:n], " ")
		if id, ok := v.Resolve(mappings.AnalyteWord, text); ok && id == m.analyte {
			return n
		}
		if id, ok := v.Resolve(mappings.BasisWord, text); ok && w.Bases[id] == m.analyte && w.Bases[id] != "" {
			m.basis = id
			m.ask, m.conf = nil, 0.9
			return n
		}
		if _, ok := w.detail[fold(text)]; ok && n == 1 {
			*details = append(*details, text)
			if id, ok := v.Resolve(mappings.MethodWord, text); ok && id != "" && m.method == "" && fold(text) == "total" {
				*details = append((*details)[:len(*details)-1], "total")
			}
			return n
		}
		if id, ok := v.Resolve(mappings.AnalyteWord, text); ok && shareOf[id] == m.analyte {
			return n
		}
		if shareOf[m.analyte] != "" && hasAny(text, words().Saturation) {
			return n // saturate says what becomes of it
		}
		if id, _, ok := unitOf(v, text); ok && m.unit == "" && id != "pH" {
			m.unit = text
			return n
		}
		if _, ok := w.noise[fold(text)]; ok && n == 1 {
			if id, ok := v.Resolve(mappings.MethodWord, text); ok && id != "" && m.method == "" {
				m.method = text
			}
			return n
		}
		if _, ok := v.Resolve(mappings.MethodWord, text); ok && m.method == "" {
			m.method = text
			return n
		}
		if turned := turnedWords(part[:n]); turned != "" && m.method == "" {
			if _, ok := v.Resolve(mappings.MethodWord, turned); ok {
				m.method = turned // "Bray strong" is the strong Bray
				return n
			}
		}
		if _, ok := v.Resolve(mappings.BasisWord, text); ok && fold(text) == "index" {
			m.basis = "index"
			return n
		}
	}
	return 0
}

// turnedWords are two words the other way round, "" for any other number.
func turnedWords(ws []string) string {
	if len(ws) != 2 {
		return ""
	}
	return ws[1] + " " + ws[0]
}

// shareOf is the analyte that is a share of the exchange capacity.
var shareOf = map[string]string{"K": "base_sat_K", "Ca": "base_sat_Ca", "Mg": "base_sat_Mg", "Na": "base_sat_Na", "acidity": "base_sat_H"}

// saturate turns an element with a unit of share, or under a heading that
// says so, into its saturation.
func saturate(v mappings.Vocabulary, m *meaning, tokens, context []string) {
	sat := shareOf[m.analyte]
	if len(tokens) == 1 && (tokens[0] == "H" || strings.EqualFold(tokens[0], "hydrogen")) {
		sat = "base_sat_H"
	}
	if sat == "" {
		return
	}
	for _, c := range append(append([]string{}, context...), m.unit) {
		if id, _, ok := unitOf(v, c); ok && id != "%" {
			return // an amount, whatever the wider heading speaks of
		}
	}
	all := strings.Join(append(append([]string{}, tokens...), context...), " ")
	percent := m.unit != "" && percentUnit(v, m.unit)
	for _, c := range context {
		percent = percent || percentUnit(v, c)
	}
	switch {
	case hasAny(all, words().Saturation):
		m.analyte, m.detail = sat, ""
	case percent:
		was := m.analyte
		m.analyte, m.detail = sat, ""
		m.doubt(0.6, "is this the share of "+was+" in the exchange capacity? Only the % speaks for it")
	}
}

func percentUnit(v mappings.Vocabulary, text string) bool {
	id, _, ok := unitOf(v, text)
	return ok && id == "%"
}

// readContext takes a method or a unit from a wider heading or from a line
// under the heading.
func readContext(v mappings.Vocabulary, m *meaning, c string) {
	if m.analyte == "texture" {
		return
	}
	if _, _, ok := unitOf(v, c); ok && c != "1:1" {
		if m.unit == "" {
			m.unit = c
		}
		return
	}
	if strings.HasPrefix(m.analyte, "base_sat") || m.analyte == "CEC" {
		return
	}
	if m.method != "" {
		return
	}
	tokens := labelTokens(c)
	for n := min(len(tokens), 6); n > 0; n-- {
		for i := 0; i+n <= len(tokens); i++ {
			text := strings.Join(tokens[i:i+n], " ")
			if fold(text) == "total" || fold(text) == "buffer" || fold(text) == "calculated" || n == 1 && len(text) < 3 {
				continue
			}
			_, ok := v.Resolve(mappings.MethodWord, text)
			if !ok && strings.HasPrefix(m.analyte, "buffer") || m.analyte == "pH" && !ok {
				if _, buffer := v.Resolve(mappings.MethodWord, text+" buffer"); buffer {
					text, ok = text+" buffer", true
				}
			}
			if ok {
				m.method = text
				m.conf = min(m.conf, 0.85)
				return
			}
		}
	}
}

// methodOf resolves the words of a method as a report prints them; loosely
// says that only part of them is known.
func methodOf(v mappings.Vocabulary, text string) (words string, loosely, ok bool) {
	t := mappings.Normalise(text)
	if _, ok := v.Resolve(mappings.MethodWord, t); ok {
		return t, false, true
	}
	for s := t; ; {
		i := strings.LastIndexAny(s, ",(;")
		if i <= 0 {
			return "", false, false
		}
		s = strings.TrimSpace(s[:i])
		if _, ok := v.Resolve(mappings.MethodWord, s); ok {
			return s, true, true
		}
	}
}
