package main

import (
	"fmt"
	"regexp"
	"strings"

	"github.com/spf13/cobra"

	"example.org/windrow/mappings"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/method"
	"example.org/windrow/normalize/unit"
)

// wordKinds are the vocabularies, by the names that people use on the command
// line.
var wordKinds = []struct {
	name string
	kind mappings.WordKind
}{{"analytes", mappings.AnalyteWord}, {"units", mappings.UnitWord}, {"methods", mappings.MethodWord}, {"bases", mappings.BasisWord}, {"land-uses", mappings.LandUseWord}, {"ratings", mappings.RatingWord}, {"scales", mappings.ScaleWord}}

func newMappingWords(e *env) *cobra.Command {
	return &cobra.Command{
		Use:   "words [KIND [WORD]]",
		Short: "list the words that a mapping may use",
		Long: `Lists the words of the trade that a mapping may use, by their kind: analytes,
units, methods, bases, land-uses, ratings, scales. With a WORD it tells what that word
is taken for, or which words are near it.`,
		Example: "  windrow mapping words methods\n  windrow mapping words units ppm",
		Args:    args(0, 2, "a kind and a word"),
		RunE: func(_ *cobra.Command, args []string) error {
			if len(args) == 2 {
				return oneWord(e, args[0], args[1])
			}
			found := false
			for _, k := range wordKinds {
				if len(args) == 0 || isKind(args[0], k.name) {
					found = true
					listWords(e, k.name, len(args) == 0)
				}
			}
			if !found {
				return unknownKind(args[0])
			}
			return nil
		},
	}
}

func unknownKind(kind string) error {
	var names []string
	for _, k := range wordKinds {
		names = append(names, k.name)
	}
	return &usageError{fmt.Sprintf("there is no kind of word %q", kind), "there are: " + strings.Join(names, ", ")}
}

func oneWord(e *env, kind, word string) error {
	for _, k := range wordKinds {
		if !isKind(kind, k.name) {
			continue
		}
		if id, ok := normalize.Vocabulary().Resolve(k.kind, word); ok {
			putf(e.stdout, "%s is %s\n", word, id)
			return nil
		}
		if id, basis, ok := unitWithForm(word); ok && k.kind == mappings.UnitWord {
			means := id
			if u, _ := unit.Standard().Unit(id); u != nil && u.Dimension == unit.AreaMass {
				means = "{means: " + id + ", depth: ..., soil: ...}"
			}
			putf(e.stdout, "%s is the unit %s and the basis %s\n", word, id, basis)
			putf(e.stdout, "  in a mapping  units: {%q: %s}\n                in the test: unit: %q, basis: %s\n", word, means, word, basis)
			return nil
		}
		hint := ""
		if near := normalize.Vocabulary().Near(k.kind, word); len(near) > 0 {
			hint = "near it are: " + strings.Join(near, ", ")
		}
		e.complain(fmt.Sprintf("%q is not a known word for %s", word, kind), hint)
		return errTold
	}
	return unknownKind(kind)
}

// unitWithForm takes a unit that says what it is of, such as mg/kg P2O5, kg K2O/ha
// or ppm as N, apart: the unit, and the basis. ok is false for any other text,
// and for one that can be taken apart in two ways.
func unitWithForm(text string) (id, basis string, ok bool) {
	vocab := normalize.Vocabulary()
	for _, at := range formWord.FindAllStringIndex(text, -1) {
		of, isBasis := vocab.Resolve(mappings.BasisWord, text[at[0]:at[1]])
		if !isBasis || of == normalize.IndexBasis || of == normalize.UnstatedBasis {
			continue
		}
		before := leadIn.ReplaceAllString(text[:at[0]], "")
		u, isUnit := vocab.Resolve(mappings.UnitWord, before+strings.TrimLeft(text[at[1]:], " )"))
		if before == "" {
			u, isUnit = vocab.Resolve(mappings.UnitWord, strings.TrimLeft(text[at[1]:], " ,)"))
		}
		if !isUnit {
			continue
		}
		if ok && (u != id || of != basis) {
			return "", "", false
		}
		id, basis, ok = u, of, true
	}
	return id, basis, ok
}

// formWord is what may be a formula or the name of an element or oxide.
var formWord = regexp.MustCompile(`[A-Za-z][A-Za-z0-9₀-₉]*(?:-[A-Z])?`)

// leadIn stands between a unit and what it is of.
var leadIn = regexp.MustCompile(`[ (-]*(?:\b(?:as|of|in)\b)?[ (]*$`)

func listWords(e *env, kind string, title bool) {
	g := grid{head: []string{"ID", "NAME", "ALSO WRITTEN"}, whole: map[int]bool{0: true}, wide: 100}
	switch kind {
	case "analytes":
		for _, a := range method.Standard().Analytes {
			g.add(a.ID, a.Name+", "+a.Unit, strings.Join(a.Spellings, ", "))
		}
	case "methods":
		for _, m := range method.Standard().Methods {
			g.add(m.ID, m.Name, strings.Join(m.Spellings, ", "))
		}
	case "units":
		for _, u := range unit.Standard().Units {
			g.add(u.ID, string(u.Dimension), strings.Join(u.Spellings, ", "))
		}
	case "bases":
		for _, b := range unit.Standard().Bases {
			g.add(b.ID, "as "+b.Element, strings.Join(b.Spellings, ", "))
		}
	case "land-uses":
		g.head = []string{"ID"}
		for _, u := range normalize.LandUses() {
			g.add(u)
		}
	case "ratings":
		g.head = []string{"ID", "SCALE"}
		for _, r := range normalize.RatingClasses() {
			g.add(r.ID, r.Scale)
		}
	case "scales":
		g.head = []string{"ID", "WHAT", "METHODS"}
		for _, s := range normalize.Equations().Scales {
			if s.Active {
				g.add(s.ID, s.Title, strings.Join(s.Methods, ", "))
			}
		}
	}
	if title {
		putf(e.stdout, "\n%s\n", kind)
	}
	g.write(e.stdout, "  ")
}

// isKind reports whether a word names a kind, in the plural or the singular.
func isKind(word, name string) bool {
	return word == name || word+"s" == name || word == "basis" && name == "bases"
}
