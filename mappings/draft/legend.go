package draft

import (
	"regexp"
	"strings"

	"example.org/windrow/mappings"
)

// A label may carry a mark in brackets, "Phosphorus (C)", that a legend on
// the report explains: "(C) Mehlich 3, ICP". The mark is no part of the
// test's name, and what the legend says of it may be its method.

var (
	keyIn  = regexp.MustCompile(`[(\[]([A-Za-z0-9])[)\]] ?([A-Za-z0-9][^()\[\]]{2,60})`)
	keyEnd = regexp.MustCompile(`^(.*\S) ?[(\[]([A-Za-z0-9])[)\]] ?:?$`)
)

// readLegend collects the marks that a text explains. One mark alone is no
// legend: "(N) Nitrogen" may be anything.
func (d *drafter) readLegend(text string) {
	found := map[string]string{}
	for _, g := range keyIn.FindAllStringSubmatch(text, -1) {
		if isNumber(strings.Fields(g[2])[0]) {
			continue // a value behind a label
		}
		if _, ok := found[g[1]]; ok && found[g[1]] != "" {
			continue
		}
		found[g[1]] = d.methodBegins(g[2])
	}
	methods := 0
	for _, m := range found {
		if m != "" {
			methods++
		}
	}
	if methods < 2 {
		return
	}
	for k, m := range found {
		if d.legend[k] == "" {
			d.legend[k] = m
		}
	}
}

// explains reports whether a text is the legend's own explanation of a mark
// by a method.
func (d *drafter) explains(text string) bool {
	g := keyIn.FindStringSubmatchIndex(text)
	return g != nil && g[0] == 0 && d.legend[text[g[2]:g[3]]] != "" && d.methodBegins(text[g[4]:g[5]]) == d.legend[text[g[2]:g[3]]]
}

// methodBegins is the longest beginning of a text that names a method, or "".
func (d *drafter) methodBegins(text string) string {
	ws := strings.Fields(text)
	for n := min(6, len(ws)); n > 0; n-- {
		t := strings.Trim(strings.Join(ws[:n], " "), ".,; ")
		if _, ok := d.v.Resolve(mappings.MethodWord, t); ok {
			return t
		}
	}
	return ""
}

// understand says what a label measures, without the mark behind it that a
// legend explains.
func (d *drafter) understand(label string, context ...string) (meaning, bool) {
	if m, ok := d.byKey(label, context); ok {
		return m, true
	}
	label = unhyphen(label)
	g := keyEnd.FindStringSubmatch(mappings.Normalise(label))
	if g == nil {
		return understand(d.v, label, context...)
	}
	method, explained := d.legend[g[2]]
	whole, okWhole := understand(d.v, label, context...)
	m, ok := understand(d.v, g[1], context...)
	switch {
	case !ok || m.conf < 0.5 || okWhole && whole.unknown == 0 && whole.conf >= m.conf && !explained:
		return whole, okWhole
	case explained:
		if m.method == "" {
			m.method = method
		}
		if id, _ := d.v.Resolve(mappings.MethodWord, m.method); m.analyte == "pH" && words().Implied[id] == "buffer_pH" {
			m.analyte, m.detail = "buffer_pH", ""
		}
		m.conf = min(m.conf, 0.85)
		return m, true
	}
	m.doubt(0.6, "what does the mark in "+quoted(label)+" stand for? No legend was found; if it is a method, write it as method:")
	return m, true
}

var divided = regexp.MustCompile(`([A-Za-z])- ([a-z])`)

// unhyphen joins a word that was divided at the end of a line.
func unhyphen(label string) string { return divided.ReplaceAllString(label, "$1$2") }
