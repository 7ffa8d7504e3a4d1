package house

import (
	"fmt"
	"os"
	"path"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// The top level holds these, dotfiles, and what .gitignore names.
var topLevel = []string{"cmd", "ingest", "normalize", "mappings", "interpret", "testdata", "deploy", "go.mod", "go.sum",
	"README.md", "DEVELOPERS.md", "LICENSE", "CHANGELOG.md", "Makefile"}

func checkTop(names, ignore []string) (breaches []string) {
	for _, n := range names {
		if !slices.Contains(topLevel, n) && !strings.HasPrefix(n, ".") && !slices.Contains(ignore, n) {
			breaches = append(breaches, n+": the top level holds only "+strings.Join(topLevel, ", ")+" and dotfiles")
		}
	}
	return breaches
}

func TestTopLevel(t *testing.T) {
	root := top(t)
	entries, err := os.ReadDir(root)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	report(t, checkTop(names, ignored(t, root)))
	if got := checkTop([]string{"cmd", ".github", "bin", "scripts"}, []string{"bin"}); len(got) != 1 || !strings.HasPrefix(got[0], "scripts: ") {
		t.Errorf("a planted folder: got %v", got)
	}
	for _, n := range topLevel {
		if !slices.Contains(names, n) {
			t.Errorf("%s is missing", n)
		}
	}
}

// Names of files that say nothing of what is in them collect what nobody
// could place.
var junkDrawers = []string{"util", "utils", "helper", "helpers", "common", "misc", "stuff"}

func checkNames(list []source) (breaches []string) {
	for _, s := range list {
		base := strings.TrimSuffix(strings.TrimSuffix(path.Base(s.name), ".go"), "_test")
		if slices.Contains(junkDrawers, base) || slices.Contains(junkDrawers, path.Base(path.Dir(s.name))) {
			breaches = append(breaches, s.name+":1:1: name the file and its folder after what they hold")
		}
	}
	return breaches
}

func TestNoJunkDrawers(t *testing.T) {
	report(t, checkNames(goFiles(t)))
	if got := checkNames([]source{{"ingest/util.go", nil}, {"ingest/common/a.go", nil}, {"ingest/helpers_test.go", nil}, {"ingest/place.go", nil}}); len(got) != 3 {
		t.Errorf("planted names: got %v", got)
	}
}

// What belongs to one person's machine has no place in the repository. The
// words are put together here, so that this file does not hold them.
var machine = regexp.MustCompile(`(?:^|[^\w.:/-])(/(?:` + strings.Join([]string{"work", "root", "home", "Users"}, "|") + `)/[\w.-]+)` +
	`|(?i:[a-z]:\\users\\)` +
	`|\b(?:` + strings.Join([]string{"proxy" + `\.golang`, "sum" + `\.golang`, "registry" + `\.npmjs`, "deb" + `\.debian`}, "|") + `)\.org\b`)

func checkMachine(list []source) (breaches []string, seen int) {
	for _, s := range list {
		if !s.isText() {
			continue
		}
		seen++
		n := 0
		for line := range strings.Lines(string(s.text)) {
			n++
			if loc := machine.FindStringIndex(line); loc != nil {
				breaches = append(breaches, fmt.Sprintf("%s:%d:%d: a path or host of one machine: %q", s.name, n, loc[0]+1, line[loc[0]:loc[1]]))
			}
		}
	}
	return breaches, seen
}

func TestNoMachinePaths(t *testing.T) {
	breaches, seen := checkMachine(files(t))
	if seen == 0 {
		t.Fatal("saw no text")
	}
	report(t, breaches)
	r := "ro" + "ot"
	for text, want := range map[string]int{
		"see /" + r + "/x.txt\n":                 1,
		"\"/ho" + "me/ada/report\"\n":            1,
		"a\n/wo" + "rk/main\n":                   1,
		"pro" + "xy.golang.org\n":                1,
		"the frame/work/x and net/" + r + "/y\n": 0,
		"https://office.example/ho" + "me/x\n":   0,
		"/var/lib/windrow /etc/windrow\n":        0,
		"\x00/" + r + "/x\n":                     0,
	} {
		if got, _ := checkMachine([]source{{"planted", []byte(text)}}); len(got) != want {
			t.Errorf("%q: got %v", text, got)
		}
	}
}
