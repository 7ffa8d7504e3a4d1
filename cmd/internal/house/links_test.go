package house

import (
	"fmt"
	"net/url"
	"path"
	"regexp"
	"strings"
	"testing"
	"unicode"
)

var (
	inlineLink = regexp.MustCompile(`\]\(\s*<?([^)\s>]+)>?(?:\s+"[^"]*")?\s*\)`)
	namedLink  = regexp.MustCompile(`^\s{0,3}\[[^\]]+\]:\s*<?(\S+?)>?(?:\s|$)`)
	htmlLink   = regexp.MustCompile(`(?:href|src)="([^"]+)"`)
	codeSpan   = regexp.MustCompile("`[^`]*`")
	heading    = regexp.MustCompile(`^#{1,6}\s+(.*?)\s*#*\s*$`)
	makeTarget = regexp.MustCompile("(?m)(?:`|^\\s*(?:\\$ )?)make ([a-z][a-z-]*)\\b")
)

// prose calls f with every line of a Markdown file that is not code.
func prose(text string, f func(n int, line string)) {
	fence := ""
	n := 0
	for line := range strings.Lines(text) {
		n++
		trimmed := strings.TrimSpace(line)
		for _, mark := range []string{"```", "~~~"} {
			if strings.HasPrefix(trimmed, mark) && (fence == "" || fence == mark) {
				if fence == "" {
					fence = mark
				} else {
					fence = ""
				}
				trimmed = ""
			}
		}
		if fence == "" && trimmed != "" {
			f(n, strings.TrimRight(line, "\r\n"))
		}
	}
}

// anchors are the names by which a Markdown file's headings can be linked to,
// as the common renderers make them.
func anchors(text string) map[string]bool {
	out := map[string]bool{}
	prose(text, func(_ int, line string) {
		m := heading.FindStringSubmatch(line)
		if m == nil {
			return
		}
		slug := strings.Map(func(r rune) rune {
			switch {
			case r == ' ':
				return '-'
			case unicode.IsLetter(r), unicode.IsDigit(r), r == '-', r == '_':
				return unicode.ToLower(r)
			}
			return -1
		}, strings.ReplaceAll(m[1], "`", ""))
		name := slug
		for i := 1; out[name]; i++ {
			name = fmt.Sprintf("%s-%d", slug, i)
		}
		out[name] = true
	})
	return out
}

// checkLinks complains of every relative link in docs that leads nowhere, and
// of every make target they name that the Makefile does not have. all are the
// names of the repository's files.
func checkLinks(docs []source, all []string, makefile string) (breaches []string, seen int) {
	exists := map[string]bool{".": true}
	for _, n := range all {
		for ; n != "."; n = path.Dir(n) {
			exists[n] = true
		}
	}
	byName := map[string]string{}
	for _, d := range docs {
		byName[d.name] = string(d.text)
	}
	for _, d := range docs {
		prose(string(d.text), func(n int, line string) {
			line = codeSpan.ReplaceAllString(line, "")
			var targets []string
			for _, re := range []*regexp.Regexp{inlineLink, namedLink, htmlLink} {
				for _, m := range re.FindAllStringSubmatch(line, -1) {
					targets = append(targets, m[1])
				}
			}
			for _, t := range targets {
				seen++
				if why := dead(d.name, t, exists, byName); why != "" {
					breaches = append(breaches, fmt.Sprintf("%s:%d:1: the link %q leads nowhere: %s", d.name, n, t, why))
				}
			}
		})
		for _, m := range makeTarget.FindAllStringSubmatch(string(d.text), -1) {
			seen++
			if !regexp.MustCompile(`(?m)^` + regexp.QuoteMeta(m[1]) + `:`).MatchString(makefile) {
				breaches = append(breaches, fmt.Sprintf("%s:1:1: there is no \"make %s\"", d.name, m[1]))
			}
		}
	}
	return breaches, seen
}

// dead says why a link leads nowhere, or "". Links to other hosts are not
// followed: a test needs no network.
func dead(from, target string, exists map[string]bool, docs map[string]string) string {
	u, err := url.Parse(target)
	if err != nil {
		return err.Error()
	}
	if u.Scheme != "" || u.Host != "" {
		return ""
	}
	if strings.HasPrefix(u.Path, "/") {
		return "a link inside the repository is relative"
	}
	to := from
	if u.Path != "" {
		to = path.Join(path.Dir(from), u.Path)
	}
	if !exists[to] {
		return "there is no " + to
	}
	if text, isDoc := docs[to]; u.Fragment != "" && isDoc && !anchors(text)[u.Fragment] {
		return "there is no such heading in " + to
	}
	return ""
}

func TestLinksLeadSomewhere(t *testing.T) {
	docs := files(t, ".md")
	if len(docs) == 0 {
		t.Fatal("saw no document")
	}
	var all []string
	makefile := ""
	for _, f := range files(t) {
		all = append(all, f.name)
		if f.name == "Makefile" {
			makefile = string(f.text)
		}
	}
	breaches, seen := checkLinks(docs, all, makefile)
	t.Logf("%d links and make targets in %d documents", seen, len(docs))
	report(t, breaches)
}

func TestLinkRuleComplains(t *testing.T) {
	all := []string{"README.md", "deploy/README.md", "ingest/pdf/pdf.go"}
	other := source{"deploy/README.md", []byte("# Run it\n\n## On a machine: `systemd`\n\n## Run it\n")}
	for _, x := range []struct{ text, want string }{
		{"see [this](NOWHERE.md)\n", "README.md:1:1: the link \"NOWHERE.md\" leads nowhere: there is no NOWHERE.md"},
		{"a\n\n![p](deploy/x.png \"t\")\n", "README.md:3:1:"},
		{"[a]: ../up.md\n", "there is no ../up.md"},
		{"<img src=\"x.png\">\n", "there is no x.png"},
		{"[a](deploy/README.md#off)\n", "no such heading"},
		{"[a](#off)\n", "no such heading"},
		{"[a](/deploy)\n", "is relative"},
		{"Run `make fly`.\n", "no \"make fly\""},
		{"```\nmake fly\n```\n", "no \"make fly\""},
		{"[a](deploy/README.md#on-a-machine-systemd) [b](deploy/) [c](ingest/pdf) [d](deploy/README.md#run-it-1)\n", ""},
		{"# Here\n[a](#here) [b](https://example.org/x) [c](mailto:a@example.org)\n", ""},
		{"`[a](NOWHERE.md)`\n\n```\n[a](NOWHERE.md)\n```\n", ""},
		{"Run `make test`, which will make sure.\n", ""},
	} {
		got, _ := checkLinks([]source{{"README.md", []byte(x.text)}, other}, all, "test: build\n\tgo test\n")
		if x.want == "" && len(got) > 0 || x.want != "" && (len(got) != 1 || !strings.Contains(got[0], x.want)) {
			t.Errorf("%q: got %v, want %q", x.text, got, x.want)
		}
	}
}
