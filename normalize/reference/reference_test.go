package reference

import (
	"bytes"
	"errors"
	"flag"
	"os"
	"strconv"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"example.org/windrow/normalize"
	"example.org/windrow/normalize/unit"
)

var update = flag.Bool("update", false, "write the page anew; read the difference like code")

const committed = "../CONVERSIONS.md"

func markdown(t *testing.T) string {
	t.Helper()
	var b bytes.Buffer
	if err := New().Markdown(&b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// The committed page is what the tables say.
func TestCommittedPage(t *testing.T) {
	got := markdown(t)
	if *update {
		if err := os.WriteFile(committed, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(committed)
	if err != nil {
		t.Fatal(err)
	}
	if got == string(want) {
		return
	}
	a, b := strings.Split(string(want), "\n"), strings.Split(got, "\n")
	for i := range min(len(a), len(b)) {
		if a[i] != b[i] {
			t.Fatalf("normalize/CONVERSIONS.md is not what the tables say, from line %d:\n%s\nnow\n%s\nwrite it anew: go test ./normalize/reference -update", i+1, a[i], b[i])
		}
	}
	t.Fatal("normalize/CONVERSIONS.md is shorter or longer than what the tables say; write it anew: go test ./normalize/reference -update")
}

// Every row of every table is on the page, with its source in full and, if it
// converts, with a check from outside.
func TestEveryRowIsThere(t *testing.T) {
	p := New()
	sections := map[string]Section{}
	for _, s := range p.Sections {
		sections[s.Title] = s
		for _, r := range s.Rows {
			if len(r) != len(s.Head) {
				t.Errorf("%s: row %q has %d cells under %d headings", s.Title, r[0], len(r), len(s.Head))
			}
		}
	}
	tb, e := unit.Standard(), normalize.Equations()
	for title, want := range map[string]int{"Units": len(tb.Units), "Oxides, ions and other forms of elements": len(tb.Bases), "Atomic weights and charges": len(tb.Weights),
		"Liming materials": len(tb.Lime), "Steps, and what each needs": len(tb.Conversions), "Equations between methods": len(e.Rows), "Scales of index and rating": len(e.Scales)} {
		s, ok := sections[title]
		if !ok || len(s.Rows) != want || want == 0 {
			t.Errorf("%s: %d rows, the table has %d", title, len(s.Rows), want)
			continue
		}
		col := map[string]int{}
		for i, h := range s.Head {
			col[h] = i
		}
		for _, r := range s.Rows {
			if src := r[col["Source"]]; !strings.Contains(src, ": ") || !strings.HasSuffix(src, "]") {
				t.Errorf("%s, %s: its source is %q", title, r[0], src)
			}
			if used := r[col["Used"]]; used == "yes" {
				if r[col["Checks"]] == "" {
					t.Errorf("%s, %s: it converts, and no check from outside is named", title, r[0])
				}
				if p := r[col["Rests on"]]; !unit.MayConvert[p] {
					t.Errorf("%s, %s: it converts and rests on %q", title, r[0], p)
				}
			} else if !strings.HasPrefix(used, "no: ") || used == "no: " {
				t.Errorf("%s, %s: used %q without reason", title, r[0], used)
			}
		}
	}
}

// The counts on the page are the counts of its tables.
func TestCountsAddUp(t *testing.T) {
	p := New()
	if p.Sections[0].Title != "What the rows rest on" {
		t.Fatal("no counts")
	}
	head, rows := p.Sections[0].Head, p.Sections[0].Rows
	for _, r := range rows {
		n, sum := count(t, r[1]), 0
		for i := 3; i < len(head); i++ {
			sum += count(t, r[i])
		}
		if sum != n || count(t, r[2]) > n {
			t.Errorf("%s: %d rows, %d by what they rest on, %s used", r[0], n, sum, r[2])
		}
	}
	all := rows[len(rows)-1]
	for i := 1; i < len(head); i++ {
		sum := 0
		for _, r := range rows[:len(rows)-1] {
			sum += count(t, r[i])
		}
		if sum != count(t, all[i]) {
			t.Errorf("%s: %d, told as %s", head[i], sum, all[i])
		}
	}
	t.Logf("%v: %v", head, all)
}

func count(t *testing.T, s string) int {
	t.Helper()
	n, err := strconv.Atoi(s)
	if err != nil {
		t.Errorf("%q is no count", s)
	}
	return n
}

// HTML and Markdown say the same, cell by cell: both come from one page.
func TestHTMLSaysTheSame(t *testing.T) {
	var b bytes.Buffer
	p := New()
	if err := p.HTML(&b); err != nil {
		t.Fatal(err)
	}
	doc, err := html.Parse(&b)
	if err != nil {
		t.Fatal(err)
	}
	var cells []string
	var walk func(n *html.Node)
	walk = func(n *html.Node) {
		if n.Type == html.ElementNode && (n.Data == "td" || n.Data == "th") {
			s := ""
			for c := n.FirstChild; c != nil; c = c.NextSibling {
				s += c.Data
			}
			cells = append(cells, s)
			return
		}
		if n.Type == html.ElementNode && (n.Data == "script" || n.Data == "link" || n.Data == "img") {
			t.Errorf("the page wants a %s from elsewhere", n.Data)
		}
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			walk(c)
		}
	}
	walk(doc)
	i := 0
	for _, s := range p.Sections {
		for _, r := range append([][]string{s.Head}, s.Rows...) {
			for _, c := range r {
				if i >= len(cells) || cells[i] != c {
					t.Fatalf("%s: cell %d of the HTML page differs from %q", s.Title, i, c)
				}
				i++
			}
		}
	}
	if i != len(cells) || i < 1000 {
		t.Errorf("%d cells on the HTML page, %d on ours", len(cells), i)
	}
}

func TestMarkdownEscapes(t *testing.T) {
	var b bytes.Buffer
	p := &Page{Title: "T", Sections: []Section{{Title: "S", Head: []string{"a|b"}, Rows: [][]string{{"x*y|z_<\n"}}}}}
	if err := p.Markdown(&b); err != nil || !strings.Contains(b.String(), `| x\*y\|z\_\<  |`) || !strings.Contains(b.String(), `| a\|b |`) {
		t.Errorf("%v %s", err, b.String())
	}
	if err := p.Markdown(broken{}); err == nil {
		t.Error("a writer that fails is not told")
	}
	if err := p.HTML(broken{}); err == nil {
		t.Error("a writer that fails is not told")
	}
}

type broken struct{}

func (broken) Write([]byte) (int, error) { return 0, errors.New("full") }
