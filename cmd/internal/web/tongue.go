package web

import (
	"embed"
	"fmt"
	"html/template"
	"io/fs"
	"net/http"
	"slices"
	"sync"

	"github.com/goccy/go-yaml"
	"golang.org/x/text/language"

	"example.org/windrow/interpret/letter"
)

//go:embed words
var wordFiles embed.FS

// A dictionary is what stands for the English of the pages in another language.
// The pages themselves are written in English, and so are the words that the
// program says; both are looked up by their English.
type dictionary struct {
	// Text is what stands in the templates, by itself; {1}, {2} are what a
	// template puts there.
	Text map[string]string `yaml:"text"`
	// Said is what the program says; see letter.Phrases.
	Said yaml.MapSlice `yaml:"said"`
	// Titles are the same for titles and places, which have names in them.
	Titles yaml.MapSlice `yaml:"titles"`
	// Nouns are one and several of what is counted.
	Nouns map[string][2]string `yaml:"nouns"`
	// Codes say of a reason's or a check's code what it is about, where the
	// sentence about it is in English.
	Codes map[string]string `yaml:"codes"`
	// Months and Days are short, and long, from January and from Sunday.
	Months     []string `yaml:"months"`
	LongMonths []string `yaml:"long_months"`
	Days       []string `yaml:"days"`
	LongDays   []string `yaml:"long_days"`
	// Dates are the forms of a date: {day}, {month}, {year} and {weekday}.
	ShortDate string `yaml:"short_date"`
	DayRow    string `yaml:"day_row"`
	LongDate  string `yaml:"long_date"`
}

// languages are those of the pages; the first stands where a browser asks for
// none of them.
var languages = []letter.Language{letter.English, letter.Spanish}

// languageNames are how each is called in itself.
var languageNames = map[letter.Language]string{letter.English: "English", letter.Spanish: "Español"}

// A tongue is the pages in one language, and what they say things with.
type tongue struct {
	lang  letter.Language
	pages map[string]page
}

// Spanish is part of the program, so that a fault in it is one of the program,
// which the tests find.
var spanish = sync.OnceValues(func() (*dictionary, error) {
	b, err := wordFiles.ReadFile("words/es.yaml")
	if err != nil {
		return nil, err
	}
	var d dictionary
	if err := yaml.UnmarshalWithOptions(b, &d, yaml.Strict()); err != nil {
		return nil, fmt.Errorf("words/es.yaml: %w", err)
	}
	if len(d.Months) != 12 || len(d.LongMonths) != 12 || len(d.Days) != 7 || len(d.LongDays) != 7 {
		return nil, fmt.Errorf("words/es.yaml: a year has 12 months and a week 7 days")
	}
	return &d, nil
})

// newTongues parses the pages in every language.
func newTongues(files fs.FS) (map[letter.Language]*tongue, error) {
	out := map[letter.Language]*tongue{}
	for _, l := range languages {
		funcs, turn := words, func(src string) string { return src }
		if l == letter.Spanish {
			d, err := spanish()
			if err != nil {
				return nil, err
			}
			funcs, turn = d.funcs(l), func(src string) string {
				to, _ := turnTemplate(src, func(key string) (string, bool) { s, ok := d.Text[key]; return s, ok })
				return to
			}
		}
		pages, err := parsePages(files, funcs, turn)
		if err != nil {
			return nil, err
		}
		out[l] = &tongue{lang: l, pages: pages}
	}
	return out, nil
}

// languageCookie names the cookie that keeps which language a person chose.
const languageCookie = "windrow-language"

var preferred = language.NewMatcher([]language.Tag{language.English, language.Spanish})

// languageOf is the language that a request is answered in: the one that the
// person chose, or else that which the browser asks for.
func languageOf(r *http.Request) letter.Language {
	if c, err := r.Cookie(languageCookie); err == nil && slices.Contains(languages, letter.Language(c.Value)) {
		return letter.Language(c.Value)
	}
	tags, _, err := language.ParseAcceptLanguage(r.Header.Get("Accept-Language"))
	if err != nil || len(tags) == 0 {
		return languages[0]
	}
	_, i, sure := preferred.Match(tags...)
	if sure == language.No {
		return languages[0]
	}
	return languages[i]
}

// chooseLanguage keeps which language a person chose, and leads back.
func (d *Desk) chooseLanguage(r *http.Request) (*answer, error) {
	l := letter.Language(r.PostForm.Get("to"))
	if !slices.Contains(languages, l) {
		return nil, badInput("there are no pages in that language", "choose one of those at the foot of each page")
	}
	c := &http.Cookie{Name: languageCookie, Value: string(l), Path: "/", HttpOnly: true, Secure: d.opt.Door != nil && d.opt.Door.Secure(), SameSite: http.SameSiteLaxMode, MaxAge: 400 * 24 * 60 * 60}
	return &answer{to: within(r.PostForm.Get("back")), cookie: c}, nil
}

// An otherTongue is a language that a person may choose.
type otherTongue struct {
	Lang letter.Language
	Name string
}

// Others are the languages that a page is not in.
func (v view) Others() []otherTongue {
	var out []otherTongue
	for _, l := range languages {
		if l != v.Lang {
			out = append(out, otherTongue{l, languageNames[l]})
		}
	}
	return out
}

// in is the pages in the language of a request.
func (d *Desk) in(r *http.Request) *tongue { return d.tongues[languageOf(r)] }

// foreign marks what stays in English.
func foreign(s string) template.HTML {
	return template.HTML(`<span lang="en">` + template.HTMLEscapeString(s) + `</span>`)
}
