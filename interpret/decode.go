package interpret

import (
	"fmt"
	"strings"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings/strict"
)

// MaxRuleFile is the size in bytes above which a rule or source file is
// refused unread.
const MaxRuleFile = strict.MaxBytes

// A Spot remembers where in its file a part of a rule set stands.
type Spot = strict.Spot

// language is the rule language, as far as the reader of its YAML must know
// it.
var language = strict.Language{InRule: true, Guide: "the rule set that comes with Windrow"}

// decode reads one YAML document into out, a pointer to a struct, and gathers
// every fault instead of stopping at the first.
func decode(file string, b []byte, out any) []*ingest.Reason {
	f, top := strict.Parse(file, b, language)
	if top.Has() {
		top.Fill(out)
	}
	return f.Reasons
}

// FromText reads the number as it is written in a rule file, so that 6.50
// keeps its digits.
func (n *Num) FromText(s string) *strict.Refusal {
	if _, ok := parseNum(s); !ok {
		return &strict.Refusal{Code: "not-a-number", Is: "not a plain decimal number", Expected: "digits, such as 6.5 or 138", Next: "write the number without thousands separators, units or exponents"}
	}
	*n = Num(s)
	return nil
}

// didYouMean is advice on a word that is not one of those known.
func didYouMean(word string, known []string) string {
	if near := strict.Nearest(word, known, 1); len(near) > 0 {
		return fmt.Sprintf("did you mean %q?", near[0])
	}
	return "use one of: " + strings.Join(known, ", ")
}

func quote(s string) string { return fmt.Sprintf("%q", s) }
