package web

import (
	"fmt"
	"html/template"
	"maps"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"example.org/windrow/interpret/letter"
)

// funcs are what templates say things with in another language. What there is
// no translation for stays in English and is marked as such.
func (d *dictionary) funcs(l letter.Language) template.FuncMap {
	p, titles := letter.NewPhrases(d.Said, l), letter.NewPhrases(d.Titles, l)
	say := func(x any) any {
		s := fmt.Sprint(x)
		if to, ok := d.say(p, s); ok {
			return to
		}
		return foreign(s)
	}
	f := maps.Clone(words)
	f["say"] = say
	f["title"] = titles.Own
	f["heading"] = func(s string) string { // of a page
		if to := titles.Own(s); to != s {
			return to
		}
		return p.Own(s)
	}
	f["printed"] = func(s string) any {
		if strings.ContainsFunc(s, unicode.IsLetter) {
			return foreign(s)
		}
		return s
	}
	f["work"] = func(s string) any {
		if to, ok := d.worked(p, s); ok {
			return to
		}
		return foreign(s)
	}
	f["formula"] = func(s string) any {
		if to, ok := d.formula(p, s); ok {
			return to
		}
		return foreign(s)
	}
	f["bounds"] = func(s string) any {
		if to, ok := d.bounds(p, s); ok {
			return to
		}
		return foreign(s)
	}
	f["label"] = func(s string) any {
		if to, ok := d.label(p, s); ok {
			return to
		}
		return foreign(s)
	}
	f["source"] = func(s string) any { return d.source(p, s) }
	f["sentence"] = func(s string) any {
		if to, ok := d.say(p, s); ok {
			return sentence(to)
		}
		return foreign(sentence(s))
	}
	f["plain"] = func(s string) any { return say(plain(s)) }
	f["analyte"] = func(id string) any { return say(analyteName(id)) }
	f["became"] = func(status any) any { return say(became(status)) }
	f["count"] = d.count
	f["code"] = func(code, what string) string {
		if _, ok := d.say(p, what); ok {
			return "" // the sentence itself says it
		}
		return d.Codes[code]
	}
	f["date"] = func(s string) string {
		if t, ok := dateOf(s); ok {
			return d.dated(d.ShortDate, t)
		}
		return s
	}
	f["day"] = func(t time.Time) string { return d.dated(d.ShortDate, t) }
	f["dayrow"] = func(s string) string {
		if t, ok := dateOf(s); ok {
			return d.dated(d.DayRow, t)
		}
		return s
	}
	f["longday"] = func(s string) string {
		if t, ok := dateOf(s); ok {
			s = d.dated(d.LongDate, t)
		}
		r, n := utf8.DecodeRuneInString(s)
		return string(unicode.ToUpper(r)) + s[n:]
	}
	return f
}

// say is something that the program says. It says some things with a capital
// or a full stop, and the same without.
func (d *dictionary) say(p *letter.Phrases, s string) (string, bool) {
	if strings.TrimSpace(s) == "" || !strings.ContainsFunc(s, unicode.IsLetter) {
		return s, true
	}
	if to, ok := p.Say(s); ok {
		return to, true
	}
	if to, ok := p.Say(strings.TrimSuffix(s, ".")); ok {
		return to + ".", true
	}
	return s, false
}

// count is a number with its noun; a noun that is not known stays as it is.
func (d *dictionary) count(n int, one string) string {
	forms, ok := d.Nouns[one]
	switch {
	case !ok:
		return count(n, one)
	case n == 1:
		return strings.Replace(forms[0], "#", "1", 1)
	}
	return strings.Replace(forms[1], "#", thousands(n), 1)
}

// dated writes a date in a form.
func (d *dictionary) dated(form string, t time.Time) string {
	month, weekday := d.Months[t.Month()-1], d.Days[t.Weekday()]
	if form == d.LongDate {
		month, weekday = d.LongMonths[t.Month()-1], d.LongDays[t.Weekday()]
	}
	return strings.NewReplacer("{day}", fmt.Sprint(t.Day()), "{month}", month, "{year}", fmt.Sprint(t.Year()), "{weekday}", weekday).Replace(form)
}
