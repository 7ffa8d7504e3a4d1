package web_test

import (
	"html"
	"net/http"
	"net/url"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/goccy/go-yaml"
)

// dataOfPages is what of a page is not the desk's own: what is marked as
// English, what one types, what a report prints and the text of a mapping.
var dataOfPages = regexp.MustCompile(`(?s)<[a-z]+ [^>]*lang="en"[^>]*>.*?</[a-z]+>|<rect[^>]*><title>.*?</title>|<code>.*?</code>|<textarea.*?</textarea>|<span class="k .*?</span>|<td class="file".*?</td>|<span class="file">.*?</span>|<td[^>]*data-name="rated">.*?</td>|<div class="sheet">.*?</table>|<span class="hash">.*?</span>`)

var (
	nodeOf = regexp.MustCompile(`>([^<>]+)<`)
	attrOf = regexp.MustCompile(` (?:aria-label|alt|placeholder|data-name)="([^"]*)"`)
	wordOf = regexp.MustCompile(`\pL{3,}`)
)

// textsOf are the texts of a page that a person is told.
func textsOf(page string) []string {
	page = dataOfPages.ReplaceAllString(page, "")
	var out []string
	for _, re := range []*regexp.Regexp{nodeOf, attrOf} {
		for _, m := range re.FindAllStringSubmatch(page, -1) {
			if s := strings.Join(strings.Fields(html.UnescapeString(m[1])), " "); s != "" {
				out = append(out, s)
			}
		}
	}
	return out
}

// englishWords are the words of the pages in English that no text of them has
// in Spanish.
func englishWords(t *testing.T) map[string]bool {
	t.Helper()
	b, err := os.ReadFile("words/es.yaml")
	if err != nil {
		t.Fatal(err)
	}
	var d struct {
		Text, Said, Titles, Codes map[string]string
		Nouns                     map[string][]string
		Months                    []string
	}
	if err := yaml.Unmarshal(b, &d); err != nil {
		t.Fatal(err)
	}
	spanish, english := map[string]bool{}, map[string]bool{}
	for _, m := range d.Months {
		spanish[m] = true
	}
	for _, m := range []map[string]string{d.Text, d.Said, d.Titles, d.Codes} {
		for _, s := range m {
			for _, w := range wordOf.FindAllString(s, -1) {
				spanish[strings.ToLower(w)] = true
			}
		}
	}
	for _, m := range []map[string]string{d.Text, d.Said, d.Titles} {
		for s := range m {
			for _, w := range wordOf.FindAllString(s, -1) {
				if w = strings.ToLower(w); !spanish[w] {
					english[w] = true
				}
			}
		}
	}
	if len(english) < 500 || !english["waiting"] || english["factor"] {
		t.Fatalf("%d words of English", len(english))
	}
	return english
}

// ownInEnglish is what the program itself says of steps, sources, fields and kinds
// of a test; no report prints it so.
var ownInEnglish = regexp.MustCompile(`, with [a-z ]+ [0-9.]+ |^factor =|number stored in|printed “|not the whole|the equation not|True by definition|^[a-z]+_[a-z_]+$|^(date|depth|label)$|^1:[12] extract$|base saturation$|^fertility index`)

// Every page is in Spanish for one whose browser asks for it or who chose it,
// says so, and has no English in it but what is marked as such.
func TestPagesInSpanish(t *testing.T) {
	english := englishWords(t)
	d := sharedDesk(t)
	v := visit(t, d)
	sample := first(t, v.get("/reports?q=TG-26-01402", http.StatusOK), "/report/")
	paths := []string{"/", "/held", "/intake", "/reports", "/reports?q=nothing+at+all", "/labs", "/lab/thrushgate", "/lab/verrin-analytical", "/county", "/county?test=P|||mg/kg", "/county/dataset", "/audit", "/audit?since=2026-05-01&until=2026-06-30&lab=", "/audit?since=x",
		sample, sample + "/versions", sample + "/look", "/sample/" + strings.TrimPrefix(sample, "/report/") + "-1", "/report/R0123456789abcdef"}
	for _, x := range []string{"TG-26-01920", "px-7713", "MB26-0711"} {
		r := first(t, v.get("/reports?q="+x, http.StatusOK), "/report/")
		paths = append(paths, r, r+"/look", r+"/mapping")
	}
	// Names of the demonstration are not of the desk.
	names := regexp.MustCompile(`Alderbrook County Soil Desk|Marrow Brook Land & Water Testing|Oxbow & Tansy( Agronomy Laboratory)?|Thrushgate( Garden Soil Desk)?|Verrin Analytical|Ashlar & Reed Soil Laboratory|Calder Plains Growers' Cooperative Laboratory|Dunmere Hand Laboratory|Grayling Street Soil Chemistry Bureau|\pL[\pL0-9.-]*\.(yaml|csv|pdf|xlsx)|Windrow test|letter, Form A|Long field|Top field 1|Back veg plot|Orchard, east 2|Smithy, Jr. & Sons, "The Patch"|/[A-Za-z0-9/_.-]+/inbox|windrow [a-z]+( [a-z]+)?|log10`)
	for _, path := range paths {
		req, err := http.NewRequest(http.MethodGet, d.srv.URL+path, nil)
		if err != nil {
			t.Fatal(err)
		}
		req.Header.Set("Accept-Language", "es-MX,es;q=0.9,en;q=0.5")
		_, page, _ := v.do(req)
		if !strings.Contains(page, `<html lang="es">`) {
			t.Errorf("%s is not in Spanish", path)
			continue
		}
		var left []string
		for _, s := range textsOf(page) {
			for _, w := range wordOf.FindAllString(names.ReplaceAllString(s, ""), -1) {
				if english[strings.ToLower(w)] && !slices.Contains(left, s) {
					left = append(left, s)
				}
			}
		}
		for _, s := range left {
			t.Errorf("%s: English is left: %q", path, s)
		}
		// What a day begins with has no sentence in it that nobody translated,
		// and the steps behind a value name methods and estimates in Spanish.
		marked := regexp.MustCompile(`<span lang="en">([^<]*)</span>`).FindAllStringSubmatch(page, -1)
		for _, m := range marked {
			if path == "/" || path == "/held" || ownInEnglish.MatchString(m[1]) || strings.HasPrefix(path, "/sample/") && regexp.MustCompile(`^(phosphorus|pH) by|estimate only|equation with|^rounded`).MatchString(m[1]) {
				t.Errorf("%s: nobody translated %q", path, m[1])
			}
		}
	}
}

// The language is the one that the browser asks for, until a person chooses
// one; the choice leads back to the page, and nowhere else.
func TestChooseLanguage(t *testing.T) {
	v := visit(t, sharedDesk(t))
	ask := func(accept string) string {
		t.Helper()
		req, err := http.NewRequest(http.MethodGet, v.d.srv.URL+"/labs", nil)
		if err != nil {
			t.Fatal(err)
		}
		req.Header.Set("Accept-Language", accept)
		_, page, _ := v.do(req)
		return regexp.MustCompile(`<html lang="(..)">`).FindStringSubmatch(page)[1]
	}
	for accept, want := range map[string]string{"": "en", "es": "es", "es-419,en;q=0.4": "es", "en-US,es;q=0.9": "en", "de": "en", "de,es;q=0.3": "es", "qaa-no;;;": "en"} {
		if got := ask(accept); got != want {
			t.Errorf("%q: %s, want %s", accept, got, want)
		}
	}
	page := v.get("/labs", http.StatusOK)
	has(t, page, `action="/language"`, `name="back" value="/labs"`, `value="es" lang="es">Español<`)
	for back, want := range map[string]string{"/labs": "/labs", "/reports?q=a%20b": "/reports?q=a%20b", "//elsewhere.example": "/", "https://elsewhere.example/": "/"} {
		code, to := v.choose(t, page, "es", back)
		if code != http.StatusSeeOther || to != want {
			t.Errorf("back to %q: %d %q, want %q", back, code, to, want)
		}
	}
	if got := ask("en-US"); got != "es" {
		t.Errorf("what was chosen does not hold: %s", got)
	}
	if code, _ := v.choose(t, page, "xx", "/"); code != http.StatusUnprocessableEntity {
		t.Errorf("a language that there is not: %d", code)
	}
	if code, _ := v.choose(t, page, "en", "/"); code != http.StatusSeeOther || ask("es") != "en" {
		t.Errorf("chosen back: %d", code)
	}
}

// choose sends the form at the foot of a page, and says where it leads.
func (v *visitor) choose(t *testing.T, page, to, back string) (code int, where string) {
	t.Helper()
	form := url.Values{"form": {formToken(t, page)}, "to": {to}, "back": {back}}
	req, err := http.NewRequest(http.MethodPost, v.d.srv.URL+"/language", strings.NewReader(form.Encode()))
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	req.Header.Set("Sec-Fetch-Site", "same-origin")
	c := &http.Client{Jar: v.c.Jar, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	resp, err := c.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	return resp.StatusCode, resp.Header.Get("Location")
}

// The pages are as accessible, as wide and as quiet in Spanish.
func TestSpanishInABrowser(t *testing.T) {
	d := sharedDesk(t)
	p := sitDown(t, d)
	p.open("/labs")
	p.do(chromedp.Click(chromedp.CSS(`button[lang="es"]`)))
	p.until("the page is in Spanish", `document.documentElement.lang === "es" && location.pathname === "/labs"`)
	v := visit(t, d)
	report := first(t, v.get("/reports?q=TG-26-01402", http.StatusOK), "/report/")
	for name, path := range map[string]string{"home": "/", "waiting": "/held", "intake": "/intake", "reports": "/reports", "labs": "/labs", "lab": "/lab/thrushgate", "county": "/county", "audit": "/audit?since=2026-05-01&until=2026-06-30&lab=",
		"report": report, "sample": "/sample/" + strings.TrimPrefix(report, "/report/") + "-1", "look": first(t, v.get("/reports?q=TG-26-01920", http.StatusOK), "/report/") + "/look", "mapping": first(t, v.get("/reports?q=px-7713", http.StatusOK), "/report/") + "/mapping"} {
		p.look("es-"+name, path)
		if lang := ask[string](p, "document.documentElement.lang"); lang != "es" {
			t.Errorf("%s is in %q", name, lang)
		}
	}
	// And back.
	p.open("/labs")
	p.do(chromedp.Click(chromedp.CSS(`button[lang="en"]`)))
	p.until("the page is in English", `document.documentElement.lang === "en" && location.pathname === "/labs"`)
	p.open("/held")
	p.until("the next page is, too", `document.documentElement.lang === "en"`)
}
