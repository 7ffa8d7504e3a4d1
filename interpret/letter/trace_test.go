package letter_test

import (
	"bytes"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"example.org/windrow/interpret"
	"example.org/windrow/interpret/letter"
)

// amountsOf are all weights and cups of an advice, as it gives them, each with
// whether it says what it rests on.
func amountsOf(a *interpret.Advice) map[string]bool {
	out := map[string]bool{}
	add := func(fs []interpret.ForArea, basis []interpret.Basis) {
		rests := len(basis) > 0 && !slices.ContainsFunc(basis, func(b interpret.Basis) bool { return b.Row == "" || b.Source == "" || b.At == "" })
		for _, f := range fs {
			out[f.Lb+" lb"] = rests
			if f.Cups != "" {
				out[f.Cups+" cups"] = rests
			}
		}
	}
	for _, l := range a.Lines {
		for _, x := range []*interpret.Amount{l.Product, l.Amount} {
			if x != nil {
				add(x.PerArea, l.Basis)
			}
		}
		for _, p := range l.Parts {
			add(p.PerArea, l.Basis)
		}
		for _, o := range l.Instead {
			add(o.PerArea, o.Basis)
		}
	}
	if a.Plan != nil {
		for _, it := range a.Plan.Products {
			add(it.PerArea, a.Plan.Basis)
			if it.Bags != "" {
				out[it.BagLb+" lb bag"] = len(a.Plan.Basis) > 0
			}
		}
	}
	return out
}

// Each amount in the table is one of the advice on the record whose number the
// letter gives, and the advice says by which rows it came about: a letter adds
// up nothing by itself.
func TestEveryAmountIsTheAdvices(t *testing.T) {
	weight := regexp.MustCompile(`^([\d.,]+)\s(?:lb|libras?)$`)
	cups := regexp.MustCompile(`^(?:about|como) ([\d.,]+) (?:cups?|tazas?)$`)
	tons := regexp.MustCompile(`^(?:about|como) [\d.]+ (?:tons|toneladas)`)
	bag := regexp.MustCompile(`(?:of|de) (\d+) (?:lb is enough|lb|libras)\.`)
	shown := 0
	for _, c := range cases() {
		for _, lang := range letter.Languages() {
			l := of(t, c, lang)
			has := amountsOf(l.Advice)
			doc, err := html.Parse(bytes.NewReader(writeIn(t, c, lang)))
			if err != nil {
				t.Fatal(err)
			}
			known := func(what string) {
				shown++
				if rests, ok := has[what]; !ok {
					t.Errorf("%s %s: %s is not in the advice", c.name, lang, what)
				} else if !rests {
					t.Errorf("%s %s: nothing says what %s rests on", c.name, lang, what)
				}
			}
			var walk func(n *html.Node, table bool)
			walk = func(n *html.Node, table bool) {
				table = table || n.Data == "table" && attr(n, "class") == "amounts"
				if text := strings.TrimSpace(strings.ReplaceAll(n.Data, "\u00a0", " ")); n.Type == html.TextNode && table {
					cell := n.Parent
					switch {
					case weight.MatchString(text):
						known(strings.ReplaceAll(weight.FindStringSubmatch(text)[1], ",", "") + " lb")
					case cups.MatchString(text):
						known(cups.FindStringSubmatch(text)[1] + " cups")
					case bag.MatchString(text):
						known(bag.FindStringSubmatch(text)[1] + " lb bag")
					case tons.MatchString(text), cell.Data == "th", cell.Data == "td" && attr(cell, "class") == "how", text == "":
					default:
						t.Errorf("%s %s: what is %q?", c.name, lang, text)
					}
				}
				for k := n.FirstChild; k != nil; k = k.NextSibling {
					walk(k, table)
				}
			}
			walk(doc, false)
			if !strings.Contains(textOf(doc), l.Advice.Record) {
				t.Errorf("%s %s: no number of the record", c.name, lang)
			}
		}
	}
	if shown < 100 {
		t.Errorf("only %d amounts were looked at", shown)
	}
}

// Text is never smaller than 9.5 points, or small print than 7, and no case
// but those named takes a second page.
func TestPDFIsLegible(t *testing.T) {
	// Where lime, or a law, comes with a choice of products.
	long := map[string]string{"lawn-acid": "en es", "lawn-winter": "en es", "garden-acid": "es"}
	for _, c := range cases() {
		for _, lang := range letter.Languages() {
			name := fmt.Sprint(c.name, " ", lang)
			pages := wordsOf(t, name, pdfOf(t, of(t, c, lang)))
			if len(pages) > 1 && !strings.Contains(long[c.name], string(lang)) {
				t.Errorf("%s has %d pages", name, len(pages))
			}
			for _, p := range pages {
				for i, w := range p {
					if w.Size < 6.99 {
						t.Errorf("%s: %q has %.1f points", name, w.Text, w.Size)
					}
					if slices.Contains([]string{"lb", "libras"}, w.Text) && i > 0 && w.Size < 9.5 && w.Size > 9 {
						t.Errorf("%s: an amount has %.2f points", name, w.Size)
					}
				}
			}
		}
	}
}
