package letter_test

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"example.org/windrow/interpret/letter"
)

// plainly is what a page says, a line for each paragraph, heading, item and
// row: headings by their rank, cells apart, pictures by the words that stand
// for them, what is in another language by its code.
func plainly(t *testing.T, page []byte) string {
	t.Helper()
	doc, err := html.Parse(bytes.NewReader(page))
	if err != nil {
		t.Fatal(err)
	}
	var out strings.Builder
	var walk func(n *html.Node)
	walk = func(n *html.Node) {
		switch {
		case n.Type == html.TextNode:
			out.WriteString(strings.ReplaceAll(n.Data, "\n", " "))
			return
		case n.Type != html.ElementNode:
		case n.Data == "head":
			return
		case n.Data == "svg":
			out.WriteString("[" + attr(n, "aria-label") + "]")
			return
		case n.Data == "th" || n.Data == "td":
			if n.PrevSibling != nil {
				out.WriteString(" | ")
			}
		case n.Data == "small" || n.Data == "dd":
			out.WriteString(" / ")
		case len(n.Data) == 2 && n.Data[0] == 'h' && n.Data != "hr":
			out.WriteString("\n" + strings.Repeat("#", int(n.Data[1]-'0')) + " ")
		case n.Data == "p" || n.Data == "tr" || n.Data == "dt" || n.Data == "section" || n.Data == "footer":
			out.WriteString("\n")
		case n.Data == "li":
			out.WriteString("\n- ")
		case n.Data == "span" && attr(n, "lang") != "":
			out.WriteString("<" + attr(n, "lang") + ">")
		}
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			walk(c)
		}
	}
	walk(doc)
	var lines []string
	for l := range strings.SplitSeq(out.String(), "\n") {
		if l = strings.Join(strings.Fields(l), " "); l != "" {
			lines = append(lines, l)
		}
	}
	return strings.Join(lines, "\n") + "\n"
}

func attr(n *html.Node, key string) string {
	for _, a := range n.Attr {
		if a.Key == key {
			return a.Val
		}
	}
	return ""
}

// What the letters say, to be read by a person whenever it changes. One is
// kept as a page.
func TestGoldenLetters(t *testing.T) {
	for i, c := range cases() {
		t.Run(c.name, func(t *testing.T) {
			for _, lang := range letter.Languages() {
				page := writeIn(t, c, lang)
				files := map[string][]byte{c.name + "." + string(lang) + ".txt": []byte(plainly(t, page))}
				if i == 0 && lang == letter.English {
					files[c.name+".html"] = page
				}
				for name, got := range files {
					file := filepath.Join("testdata", name)
					if *update {
						if err := os.WriteFile(file, got, 0o644); err != nil {
							t.Fatal(err)
						}
					}
					want, err := os.ReadFile(file)
					if err != nil {
						t.Fatal(err)
					}
					if !bytes.Equal(got, want) {
						t.Errorf("the letter differs from %s; read the difference, then run with -update", file)
					}
				}
			}
		})
	}
}
