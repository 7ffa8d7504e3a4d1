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
//
// What few reports fit is gathered, and sorted. What many fit is not: the
// reports are walked from the latest on until the list is full. When it is not
// full after a while, as where many have each of two words and few have both,
// what is left is a question of sets.
func (ix *Index) Search(ctx context.Context, s Search) (out []Report, err error) {
	return ix.search(ctx, s, ways{few: 4000, walked: 5000})
}

// ways are the bounds between the ways to search, in rows.
type ways struct {
	few    int // so many reports are gathered
	walked int // so many are walked
}

func (ix *Index) search(ctx context.Context, s Search, w ways) (out []Report, err error) {
	conds := s.conditions()
	if len(conds) == 0 {
		if strings.TrimSpace(s.Text) != "" {
			return nil, nil // nothing but signs: no report has such a word
		}
		return ix.Reports(ctx, s.Filter)
	}
	least, rows := 0, w.few+1
	for i, c := range conds {
		n, err := ix.upTo(ctx, c, w.few+1)
		if err != nil {
			return nil, err
		}
		if n == 0 {
			return nil, nil
		}
		if n < rows {
			least, rows = i, n
		}
	}
	where, args := s.where()
	and := func(c condition, form string) {
		where = append(where, after(len(args), form))
		args = append(args, c.args...)
	}
	switch {
	case rows <= w.few:
		for i, c := range conds {
			if i == least {
				and(c, c.among())
			} else {
				and(c, c.probe)
			}
		}
	case s.Limit > 0:
		out, full, err := ix.walk(ctx, s, conds, w.walked)
		if full || err != nil {
			return out, err
		}
		fallthrough
	default:
		for _, c := range conds {
			and(c, c.among())
		}
	}
	return ix.reports(ctx, where, args, s.Filter)
}

// walk looks through the latest reports that the filter lets through, at most
// so many; full is false where the list is not all that there may be.
func (ix *Index) walk(ctx context.Context, s Search, conds []condition, most int) (out []Report, full bool, err error) {
	where, args := s.where()
	end, err := ix.reports(ctx, where, args, Filter{Limit: 1, Offset: most - 1})
	if err != nil {
		return nil, false, err
	}
	if len(end) > 0 {
		n := strconv.Itoa(len(args) + 1)
		where = append(where, "reported >= $"+n, "(reported > $"+n+" OR id <= $"+strconv.Itoa(len(args)+2)+")")
		args = append(args, end[0].Reported, end[0].ID)
	}
	for _, c := range conds {
		where = append(where, after(len(args), c.probe))
		args = append(args, c.args...)
	}
	out, err = ix.reports(ctx, where, args, s.Filter)
	return out, len(end) == 0 || len(out) == s.Limit, err
}

// A condition is what a report must have beside what is in its own row, in two
// forms, whose arguments are numbered from 1.
type condition struct {
	args  []any
	list  string // the ids of all reports that have it, some more than once
	probe string // whether the report at hand has it
}

// among is whether the report at hand is in the list.
func (c condition) among() string { return "id IN (" + c.list + ")" }

// A word's arguments are how a term begins, the text behind all that begin so,
// and the term that stands for the word in a client's name.
const (
	withWord   = `SELECT report_id FROM terms WHERE term >= $1 AND term < $2 UNION ALL SELECT report_id FROM terms WHERE term = $3`
	hasWord    = `(EXISTS (SELECT 1 FROM terms b WHERE b.report_id = reports.id AND b.term >= $1 AND b.term < $2) OR EXISTS (SELECT 1 FROM terms h WHERE h.report_id = reports.id AND h.term = $3))`
	withCounty = `SELECT report_id FROM records WHERE county = $1`
	hasCounty  = `EXISTS (SELECT 1 FROM records c WHERE c.county = $1 AND c.report_id = reports.id)`
)

// after gives the arguments of a form the numbers that follow n.
func after(n int, form string) string {
	at := func(i int) string { return "$" + strconv.Itoa(n+i) }
	return strings.NewReplacer("$1", at(1), "$2", at(2), "$3", at(3)).Replace(form)
}

// upTo counts the rows of a condition's list, up to so many.
func (ix *Index) upTo(ctx context.Context, c condition, most int) (n int, err error) {
	err = ix.db.Load().QueryRowContext(ctx, "WITH f AS ("+c.list+" LIMIT "+strconv.Itoa(most)+") SELECT count(*) FROM f", c.args...).Scan(&n)
	return n, fault("search", ix.path, err)
}

// conditions are those of the county and of the words, at most mostWords; none
// where the text has no word.
func (s *Search) conditions() (out []condition) {
	if s.County != "" {
		out = append(out, condition{[]any{s.County}, withCounty, hasCounty})
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
		out = append(out, condition{[]any{w, w + "\U0010ffff", hidden(w)}, withWord, hasWord})
	}
	if words == 0 && strings.TrimSpace(s.Text) != "" {
		return nil
	}
	return out
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
