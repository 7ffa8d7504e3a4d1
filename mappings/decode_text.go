package mappings

import (
	"fmt"
	"strings"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings/strict"
)

// label decodes one line of labels. Without after or below, the test's own
// printed labels are looked for to the left of the result.
func (d *decoder) label(n strict.Node) []*Label {
	l := &Label{Place: n.Place()}
	v := n.Get("test")
	if l.Test = d.m.Test(v.Text()); l.Test == nil {
		n.Complain("a label needs its test", "test: a label under tests:", v.Text(), strict.DidYouMean(v.Text(), d.m.labels()))
	}
	l.After, l.Below = d.pattern(n.Get("after"), false), d.pattern(n.Get("below"), false)
	if l.After != nil && l.Below != nil {
		n.Complain("a result stands beside its label or under it", "after or below", "both", "keep one")
	}
	if r := n.Get("reads"); r.Has() {
		l.Reads, _ = d.readsOf(r, cellWords)
		if l.Reads != nil && !contains(l.Reads.Names, "result") {
			r.Complain("the label reads no result", "{result} where the value stands", l.Reads.Src, "add it")
		}
	} else if l.Test != nil {
		src := "{result}"
		if len(l.Test.Units) > 0 && !l.Test.Unprinted {
			src = "{result} {unit}"
		}
		l.Reads, _ = newPattern(src, l.Place)
	}
	for key, p := range map[string]*Pattern{"after": l.After, "below": l.Below} {
		if p != nil && l.Test != nil {
			d.expressed(l.Test, p.words(), !isUnit, n.Get(key).Complain)
		}
	}
	l.Blank = n.Get("blank means").Text()
	n.Done()
	if l.After != nil || l.Below != nil || l.Test == nil {
		return []*Label{l}
	}
	var out []*Label
	for _, text := range append([]string{l.Test.Label}, l.Test.Also...) {
		c := *l
		c.After = literal(text, l.Place)
		out = append(out, &c)
	}
	return out
}

// literal is the pattern for a text without any special sign.
func literal(text string, at ingest.Place) *Pattern {
	var b strings.Builder
	for _, r := range text {
		if strings.ContainsRune(`*#{\`, r) {
			b.WriteByte('\\')
		}
		b.WriteRune(r)
	}
	p, err := newPattern(b.String(), at)
	if err != nil {
		return nil
	}
	return p
}

func (d *decoder) sentence(n strict.Node) *Sentence {
	s := &Sentence{Place: n.Place(), Text: d.pattern(n.Get("text"), true), Optional: n.Get("optional").Bool()}
	if s.Text == nil {
		n.Complain("a sentence needs its text", "text: such as Your soil pH is {result}", "none", "add it")
	} else {
		for _, name := range s.Text.Names {
			if name != "" && (name == "nothing" || name == "test" || !cellWords[name] && name != "any") {
				n.Get("text").Complain(fmt.Sprintf("%q is not something a sentence reads", name), "result, unit, method, rating, qualifier, index, any", name, "use one of them")
			}
		}
		if !contains(s.Text.Names, "result") {
			n.Get("text").Complain("the sentence reads no result", "{result} where the value stands", s.Text.Src, "add it")
		}
	}
	v := n.Get("test")
	if s.Test = d.m.Test(v.Text()); s.Test == nil {
		n.Complain("a sentence needs its test", "test: a label under tests:", v.Text(), strict.DidYouMean(v.Text(), d.m.labels()))
	}
	s.Unit = n.Get("unit").Text()
	if s.Test != nil && s.Text != nil {
		d.expressed(s.Test, s.Text.aroundResult(), !isUnit, n.Get("text").Complain)
		d.expressed(s.Test, s.Unit, isUnit, n.Get("unit").Complain)
	}
	n.Done()
	return s
}

func (d *decoder) notResult(n strict.Node) *NotResult {
	r := &NotResult{Place: n.Place(), Line: d.pattern(n.Get("line"), false), Text: d.pattern(n.Get("text"), false), Above: d.pattern(n.Get("above"), false), Box: d.pattern(n.Get("box"), false), From: d.pattern(n.Get("from"), false), To: d.pattern(n.Get("to before"), false), Why: n.Get("why").Text()}
	ways := 0
	for _, p := range []*Pattern{r.Line, r.Text, r.Above, r.Box, r.From} {
		if p != nil {
			ways++
		}
	}
	if ways != 1 || r.To != nil && r.From == nil {
		n.Complain("what is no result is named in one way", "one of line, text, above, box, from (with to before)", fmt.Sprintf("%d of them", ways), "keep one")
	}
	if r.Why == "" {
		n.Complain("text that is no result needs a reason", "why: such as advice, not results", "none", "add it")
	}
	n.Done()
	return r
}
