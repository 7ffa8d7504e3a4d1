// Package table reads the small CSV tables of units, methods, analytes and
// words that this program carries, and indexes their spellings.
//
// Enters: a CSV file with a heading line. Leaves: its rows, and spellings that
// each belong to one row. Never: it accepts a row that names no source, or a
// spelling that two rows claim.
package table

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"strings"
)

// Rows calls row for each line of a CSV table with a heading line. where is
// "file:line". Every table of this program is read by it: each row must name
// a source and a provenance.
func Rows(fsys fs.FS, name string, row func(where string, r map[string]string) error) error {
	f, err := fsys.Open(name)
	if err != nil {
		return err
	}
	defer f.Close()
	rd := csv.NewReader(f)
	var head []string
	for {
		rec, err := rd.Read()
		if err != nil {
			if head != nil && errors.Is(err, io.EOF) {
				return nil
			}
			return fmt.Errorf("%s: %w", name, err)
		}
		if head == nil {
			head = rec
			continue
		}
		line, _ := rd.FieldPos(0)
		where := fmt.Sprintf("%s:%d", name, line)
		m := make(map[string]string, len(head))
		for i, h := range head {
			m[h] = strings.TrimSpace(rec[i])
		}
		if m["source"] == "" || m["provenance"] == "" {
			return fmt.Errorf("%s: %q has no source or no provenance", where, rec[0])
		}
		if err := row(where, m); err != nil {
			return err
		}
	}
}

// Split cuts a cell of alternatives at its bars.
func Split(s string) []string {
	var out []string
	for _, x := range strings.Split(s, "|") {
		if x = strings.TrimSpace(x); x != "" {
			out = append(out, x)
		}
	}
	return out
}

// Index enters an id and its spellings; a spelling that begins with = counts
// only in exactly its letter case, since Mg is not mg.
func Index[T comparable](where string, v T, id string, spellings []string, exact, fold map[string]T) error {
	put := func(m map[string]T, k string) error {
		if old, ok := m[k]; ok && old != v {
			return fmt.Errorf("%s: spelling %q is claimed by two rows", where, k)
		}
		m[k] = v
		return nil
	}
	if err := put(exact, Squeeze(id)); err != nil {
		return err
	}
	if err := put(fold, Fold(id)); err != nil {
		return err
	}
	for _, s := range spellings {
		cased := strings.HasPrefix(s, "=")
		s = strings.TrimPrefix(s, "=")
		if err := put(exact, Squeeze(s)); err != nil {
			return err
		}
		if !cased {
			if err := put(fold, Fold(s)); err != nil {
				return err
			}
		}
	}
	return nil
}

// Squeeze makes every run of white space one space.
func Squeeze(s string) string { return strings.Join(strings.Fields(s), " ") }

var plain = strings.NewReplacer("µ", "u", "μ", "u", "⁻", "-", "−", "-", "–", "-", "¹", "1", "²", "2", "³", "3", "₂", "2", "₃", "3", "₄", "4", "₅", "5",
	"⁺", "+", "·", "", "•", "", ".", "", ",", "", " ", "", "\t", "", "\u00a0", "", "\u202f", "", "\n", "")

// Fold is a spelling without what writers vary: letter case, spaces, points,
// commas, and superscripts and Greek letters typed as plain ones.
func Fold(s string) string { return plain.Replace(strings.ToLower(s)) }
