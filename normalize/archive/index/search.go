package index

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// A Search says which reports to look for. A zero field lets everything
// through; of several all must hold.
type Search struct {
	Filter
	// Text is words as a person types them: each must begin a word of the
	// report's or a sample's number, of a label, the file's name, the
	// laboratory or a county, or be a whole word of a client's name.
	Text   string
	County string // of a sample in it, as the records have it
}

// mostWords is how many words of a search are looked up.
const mostWords = 8

// Search lists reports, the latest reported first, as [Index.Reports] does.
func (ix *Index) Search(ctx context.Context, s Search) (out []Report, err error) {
	where, args := s.where()
	if s.County != "" {
		args = append(args, s.County)
		where = append(where, "id IN (SELECT report_id FROM records WHERE county = $"+strconv.Itoa(len(args))+")")
	}
	words := 0
	for _, f := range strings.Fields(s.Text) {
		w := joined(f)
		if w == "" {
			continue
		}
		if words++; words > mostWords {
			break
		}
		args = append(args, w, w+"\U0010ffff", hidden(w))
		n := len(args)
		where = append(where, "id IN (SELECT report_id FROM terms WHERE term >= $"+strconv.Itoa(n-2)+" AND term < $"+strconv.Itoa(n-1)+
			" UNION ALL SELECT report_id FROM terms WHERE term = $"+strconv.Itoa(n)+")")
	}
	if words == 0 && strings.TrimSpace(s.Text) != "" {
		return nil, nil // nothing but signs: no report has such a word
	}
	return ix.reports(ctx, where, args, s.Filter)
}

// unaccented is a text in small letters and without accents.
func unaccented(s string) string {
	return strings.ToLower(strings.Map(func(r rune) rune {
		if unicode.Is(unicode.Mn, r) {
			return -1
		}
		return r
	}, norm.NFKD.String(s)))
}

func inWord(r rune) bool { return unicode.IsLetter(r) || unicode.IsNumber(r) }

// joined is what is typed in one go as a term: letters and digits alone.
func joined(s string) string {
	s = strings.Map(func(r rune) rune {
		if inWord(r) {
			return r
		}
		return -1
	}, unaccented(s))
	return cutTerm(s)
}

// longestTerm is how many bytes of a word are kept to find it by.
const longestTerm = 60

func cutTerm(s string) string {
	if len(s) > longestTerm {
		s = strings.ToValidUTF8(s[:longestTerm], "")
	}
	return s
}

// hidden is what stands in the index for a word of a client's name: enough to
// find the name by, for one who knows it, and not to read it.
func hidden(word string) string {
	h := sha256.Sum256([]byte("client\x00" + word))
	return "~" + hex.EncodeToString(h[:4])
}

// terms are the words by which a report is found, each once, in order.
func (d *document) terms() []string {
	seen := map[string]bool{}
	add := func(text string) {
		for _, f := range strings.Fields(text) {
			if j := joined(f); j != "" {
				seen[j] = true
			}
			for _, w := range strings.FieldsFunc(unaccented(f), func(r rune) bool { return !inWord(r) }) {
				seen[cutTerm(w)] = true
			}
		}
	}
	for _, s := range []string{d.ID, d.ReportNo, d.Lab.Name, d.Source.Name, d.Source.Member} {
		add(s)
	}
	for i := range d.Records {
		r := &d.Records[i]
		for _, s := range []string{r.Sample.LabID, r.Sample.ClientLabel, r.Sample.County} {
			add(s)
		}
		if r.Client != nil {
			for _, f := range strings.Fields(r.Client.Name) {
				if j := joined(f); j != "" {
					seen[hidden(j)] = true
				}
				for _, w := range strings.FieldsFunc(unaccented(f), func(r rune) bool { return !inWord(r) }) {
					seen[hidden(cutTerm(w))] = true
				}
			}
		}
	}
	out := make([]string, 0, len(seen))
	for t := range seen {
		out = append(out, t)
	}
	slices.Sort(out)
	return out
}

// Counties lists the counties of samples, in order; of one office, or for ""
// of all.
func (ix *Index) Counties(ctx context.Context, office string) (out []string, err error) {
	err = ix.each(ctx, func(scan func(...any) error) error {
		var s string
		err := scan(&s)
		out = append(out, s)
		return err
	}, `SELECT DISTINCT county FROM records WHERE county <> '' AND ($1 = '' OR report_id IN (SELECT id FROM reports WHERE office = $1)) ORDER BY county`, office)
	return out, fault("list counties", ix.path, err)
}
