package draft

import (
	"regexp"
	"slices"
	"sort"
	"strings"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
)

var (
	dotDecimal   = regexp.MustCompile(`^[<>]? ?-?\d+\.\d+[*]*$`)
	commaDecimal = regexp.MustCompile(`^[<>]? ?-?(\d+,\d{1,2}|\d+,\d{4,}|0,\d+)[*]*$`)
	commaThree   = regexp.MustCompile(`^[<>]? ?-?[1-9]\d{0,2}(,\d{3})+(\.\d+)?[*]*$`)
	spaceThree   = regexp.MustCompile(`^[<>]? ?-?[1-9]\d{0,2}( \d{3})+([.,]\d+)?[*]*$`)
	dotThree     = regexp.MustCompile(`^[<>]? ?-?[1-9]\d{0,2}(\.\d{3})+(,\d+)?[*]*$`)
)

// A numberStyle counts how numbers are written.
type numberStyle struct {
	dot, comma, commaGroup, dotGroup, spaceGroup int
	marks                                        map[string]bool
	missing                                      map[string]bool
	maybe                                        map[string]bool // words among numbers that the word lists do not know
}

// see notes how one text of a column of results is written.
func (n *numberStyle) see(t string) {
	if isMissing(t) && !isNumber(t) {
		n.missing[t] = true
		return
	}
	if spaceThree.MatchString(t) {
		n.spaceGroup++
	}
	first, _, _ := strings.Cut(t, " ")
	if !hasDigit(first) {
		return
	}
	switch {
	case dotDecimal.MatchString(first) && !dotThree.MatchString(first):
		n.dot++
	case commaDecimal.MatchString(first):
		n.comma++
	}
	if commaThree.MatchString(first) {
		n.commaGroup++
	}
	if dotThree.MatchString(first) {
		n.dotGroup++
	}
	for _, m := range words().Marks {
		if s := strings.TrimSuffix(first, m); s != first && isNumber(s) && !strings.HasSuffix(s, "*") {
			n.marks[m] = true
		}
	}
}

// settle says which signs the numbers use; ask is set when they leave it open.
func (n *numberStyle) settle() (decimal, thousands, ask string) {
	decimal, thousands, ask = n.signs()
	if n.spaceGroup > 0 && thousands == "" {
		thousands = "space"
		if ask == "" {
			ask = "do spaces group the digits of numbers such as 1 234?"
		}
	}
	return decimal, thousands, ask
}

func (n *numberStyle) signs() (decimal, thousands, ask string) {
	switch {
	case n.comma > 0 && n.dot == 0:
		decimal = ","
		if n.dotGroup > 0 {
			thousands = "."
		}
	case n.dot > 0 && n.comma == 0:
		decimal = "."
		if n.commaGroup > 0 {
			thousands = ","
		}
	case n.dot > 0 && n.comma > 0:
		decimal = "."
		ask = "some numbers have a decimal point and some a decimal comma; which is it?"
	case n.dotGroup > 0 && n.commaGroup == 0:
		decimal = "."
		ask = "does the point in numbers such as 1.234 begin decimals or group thousands? Here it is read as a decimal point"
	case n.commaGroup > 0:
		decimal = "."
		ask = "does the comma in numbers such as 1,234 group thousands or begin decimals? Add thousands: or decimal: here"
	default:
		decimal = "."
	}
	return decimal, thousands, ask
}

// serial reports whether a text can be the day number of a spreadsheet: a
// whole number for a day of this century's first half.
func serial(t string) bool {
	return len(t) == 5 && t >= "36526" && t <= "54788" && isNumber(t) && !strings.ContainsAny(t, "., ")
}

// dateSeen notes a date, to find the one pattern that fits all of them.
func (d *drafter) dateSeen(t string) {
	if !isMissing(t) {
		d.dates[t] = true
	}
}

// settleDates gives the patterns by which the dates seen can be read, fewest
// first, and a question where day and month can be taken for each other.
func (d *drafter) settleDates(order [][]string) (patterns []string, ask string) {
	left := map[string]bool{}
	for t := range d.dates {
		if serial(t) {
			ask = "some dates are day numbers of a spreadsheet; do they count from 1900, as is usual?"
			if !slices.Contains(patterns, "day serial 1900") {
				patterns = append(patterns, "day serial 1900")
			}
			continue
		}
		left[t] = true
	}
	for len(left) > 0 {
		best, bestN := "", 0
		var rivals []string
		for _, p := range words().Dates {
			n := 0
			for t := range left {
				if _, ok := mappings.ParseDate(p, t); ok {
					n++
				}
			}
			switch {
			case n > bestN:
				best, bestN, rivals = p, n, nil
			case n == bestN && n > 0 && different(best, p, left):
				rivals = append(rivals, p)
			}
		}
		if bestN == 0 {
			break
		}
		if len(rivals) > 0 {
			all := append([]string{best}, rivals...)
			sort.SliceStable(all, func(i, j int) bool { return disorder(all[i], order) < disorder(all[j], order) })
			best = all[0]
			if disorder(all[0], order) == disorder(all[1], order) {
				ask = "days and months can't be told apart in these dates; is it " + all[0] + " or " + all[1] + "?"
			} else if ask == "" {
				ask = "only the order of sampling, receipt and report speaks for " + all[0] + " and against " + all[1] + "; is it right?"
			}
		}
		patterns = append(patterns, best)
		for t := range left {
			if _, ok := mappings.ParseDate(best, t); ok {
				delete(left, t)
			}
		}
	}
	return patterns, ask
}

// different reports whether two patterns read some date differently.
func different(a, b string, texts map[string]bool) bool {
	for t := range texts {
		x, ok1 := mappings.ParseDate(a, t)
		y, ok2 := mappings.ParseDate(b, t)
		if ok1 && ok2 && x != y {
			return true
		}
	}
	return false
}

// disorder counts where dates sampled, received and reported are not in
// their order, or far apart, when read by a pattern.
func disorder(p string, order [][]string) int {
	n := 0
	for _, chain := range order {
		last := ""
		for _, t := range chain {
			v, ok := mappings.ParseDate(p, t)
			if !ok {
				continue
			}
			if last != "" && (v < last || monthsApart(last, v) > 3) {
				n++
			}
			last = v
		}
	}
	return n
}

func monthsApart(a, b string) int {
	month := func(s string) int {
		return int(s[0]-'0')*12000 + int(s[1]-'0')*1200 + int(s[2]-'0')*120 + int(s[3]-'0')*12 + int(s[5]-'0')*10 + int(s[6]-'0')
	}
	return month(b) - month(a)
}

// Dialects proposes the ways in which a text file may be cut into fields,
// best first. The bytes decide: byte-order marks and valid UTF-8 for the
// encoding, and a separator that gives most lines the same number of fields.
func Dialects(b []byte) []ingest.Dialect {
	enc := []string{"utf-8"}
	text := string(b[:min(len(b), 1<<16)])
	zeroEven, zeroOdd := 0, 0
	for i := 0; i < len(text); i++ {
		if text[i] == 0 {
			if i%2 == 0 {
				zeroEven++
			} else {
				zeroOdd++
			}
		}
	}
	switch {
	case strings.HasPrefix(text, "\xff\xfe") || zeroOdd*3 > len(text):
		enc, text = []string{"utf-16le"}, strings.ReplaceAll(text, "\x00", "")
	case strings.HasPrefix(text, "\xfe\xff") || zeroEven*3 > len(text):
		enc, text = []string{"utf-16be"}, strings.ReplaceAll(text, "\x00", "")
	case !validUTF8(b):
		enc = []string{"windows-1252"}
	}
	type scored struct {
		sep   string
		score float64
	}
	var all []scored
	for _, sep := range []string{",", ";", "\t", "|"} {
		counts := map[int]int{}
		n := 0
		for _, l := range strings.Split(text, "\n") {
			if strings.TrimSpace(l) == "" || n > 200 {
				continue
			}
			n++
			counts[strings.Count(unquote(l), sep)]++
		}
		best, cols := 0, 0
		for c, k := range counts {
			if c > 0 && (k > best || k == best && c > cols) {
				best, cols = k, c
			}
		}
		if n > 0 && cols > 0 {
			all = append(all, scored{sep, float64(best)/float64(n) + 0.01*float64(min(cols, 40))})
		}
	}
	sort.SliceStable(all, func(i, j int) bool { return all[i].score > all[j].score })
	var out []ingest.Dialect
	for _, e := range enc {
		for _, s := range all {
			out = append(out, ingest.Dialect{Encoding: e, Delimiter: s.sep})
		}
		if len(all) == 0 {
			out = append(out, ingest.Dialect{Encoding: e, Delimiter: ","})
		}
	}
	return out[:min(len(out), 3)]
}

// unquote blanks quoted fields, whose separators cut nothing.
func unquote(l string) string {
	var b strings.Builder
	in := false
	for _, r := range l {
		if r == '"' {
			in = !in
		} else if !in {
			b.WriteRune(r)
		}
	}
	return b.String()
}

func validUTF8(b []byte) bool { return strings.ToValidUTF8(string(b), "\x00") == string(b) }
