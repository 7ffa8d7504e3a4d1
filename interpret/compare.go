package interpret

import "strings"

// A Comparison sets what several rule sets say about one thing of a record side
// by side: the class of an analyte, or what to do about lime or a nutrient.
type Comparison struct {
	Item    string    `json:"item"` // such as "P 22 mg/kg by Mehlich-3 (ICP)", or lime
	Says    []Saying  `json:"says"` // in the order of the advices
	Differs bool      `json:"differs"`
	Why     []string  `json:"why,omitempty"` // why they differ, a sentence each
	of      [2]string // kind and key, to join what belongs together
}

// A Saying is what one rule set says.
type Saying struct {
	Rules string  `json:"rules"` // id
	Says  string  `json:"says"`
	Why   string  `json:"why,omitempty"` // the bound or the working
	Basis []Basis `json:"basis,omitempty"`
	// kind tells why sayings differ: rated, not-rated, amount, none, asks or
	// silent; code is that of the question asked.
	kind, code string
}

// whyAsked says for each code of a question why it stands in place of an
// amount.
var whyAsked = map[string]string{
	"rate-not-in-tables":   "no amount of the publication was read for this use",
	"lime-not-in-tables":   "no lime table of the publication was read for this use",
	"buffer-other":         "its lime table goes by another buffer than the laboratory's",
	"buffer-missing":       "the report gives no buffer pH",
	"buffer-kind-unknown":  "the report does not name its buffer",
	"buffer-beyond-table":  "the buffer pH lies outside its table",
	"buffer-odd":           "the two pH values do not fit together",
	"ph-not-in-tables":     "it gives no range of pH for this use",
	"ask-us-pH":            "it gives a range of pH, and no amount of lime",
	"texture-missing":      "the amount goes by the texture, and the report gives none",
	"texture-not-in-table": "its table has no amount for this texture",
	"sulfur-beyond-table":  "the pH lies outside its table",
	"not-rated":            "its tables do not rate the value, for its method or for want of a scale",
	"method-not-stated":    "the report names no method",
	"plant-age":            "it feeds plant by plant, by an age that was not told",
	"plant-soil-rich":      "the fertilizer of the publication carries what the soil has enough of",
	"labeled-as-oxide":     "the report labels the value as an oxide",
	"land-use-unknown":     "it has no tables for this use of the land",
}

// lineNames are what is compared of the lines, in order.
var lineNames = []string{"lime", "sulfur", "N", "P2O5", "K2O", "Mg", "Zn", "OM"}

// Compare sets advices on one record, each by another rule set, side by side.
func Compare(advices []*Advice) []Comparison {
	var out []Comparison
	at := func(kind, key, item string) *Comparison {
		for i := range out {
			if out[i].of == [2]string{kind, key} {
				return &out[i]
			}
		}
		c := Comparison{Item: item, of: [2]string{kind, key}}
		for _, a := range advices {
			c.Says = append(c.Says, Saying{Rules: a.Rules.ID, Says: "says nothing", kind: "silent"})
		}
		out = append(out, c)
		return &out[len(out)-1]
	}
	for i, a := range advices {
		for _, r := range a.Ratings {
			item := r.Analyte + " " + r.Censored + r.Value + " " + r.Unit
			if r.Value == "" {
				item = r.Analyte + " " + r.Printed + " " + r.PrintUnit
			}
			item = strings.TrimSpace(strings.TrimSuffix(item, " pH"))
			if r.Method != "" {
				item += " by " + r.Method
			}
			at("rating", r.Analyte+r.Method+r.Detail+r.Value, item).Says[i] = ratingSays(a, &r)
		}
	}
	for _, name := range lineNames {
		for i, a := range advices {
			if s, ok := lineSays(a, name); ok {
				at("line", name, PlainName(name)).Says[i] = s
			}
		}
	}
	for i := range out {
		out[i].explain()
	}
	return out
}

func ratingSays(a *Advice, r *Rating) Saying {
	s := Saying{Rules: a.Rules.ID, Says: r.Class, Why: r.Decided, Basis: r.Basis, kind: "rated"}
	if r.Class == "" {
		return Saying{Rules: a.Rules.ID, Says: "not rated", Why: r.Not, kind: "not-rated"}
	}
	if r.Word != "" {
		s.Says += " (its word: " + r.Word + ")"
	}
	if r.ToNext != "" {
		s.Why += ", " + r.ToNext + " from " + r.NextClass
	}
	if r.Close != "" {
		s.Why += ", so near " + r.Close + " that the printed digits do not decide"
	}
	return s
}

// lineSays is what an advice says about one line: an amount, nothing, or a
// question in its place.
func lineSays(a *Advice, name string) (Saying, bool) {
	for i := range a.Lines {
		l := &a.Lines[i]
		if l.ID != name && (name != "OM" || l.ID != "OM-much") {
			continue
		}
		s := Saying{Rules: a.Rules.ID, Basis: l.Basis, Why: l.Working}
		if len(l.Each) > 0 {
			var each []string
			for _, f := range l.Each {
				each = append(each, f.Lb+" lb of "+f.Grade+" "+list(f.Times))
			}
			s.Says, s.kind = "each plant: "+strings.Join(each, "; "), "amount"
		} else if l.Need == "" || l.Need == "0" {
			s.Says, s.kind, s.Why = "none", "none", l.What
		} else {
			s.Says, s.kind = l.Need+" "+unitPerThousand, "amount"
			if n, ok := parseNum(l.Need); ok {
				s.Says = plain(n, 2) + " " + unitPerThousand
			}
		}
		if name == "OM" {
			s.Says, s.Why = l.What, ""
		}
		return s, true
	}
	about := map[string][]string{"lime": {"lime", "ph", "pH", "buffer_pH", "acidity"}, "P2O5": {"P2O5", "P"}, "K2O": {"K2O", "K"}}[name]
	if about == nil {
		about = []string{name}
	}
	for _, q := range a.Questions {
		blocks := strings.Fields(q.Blocks)
		for _, b := range about {
			for _, k := range blocks {
				if k == b || k == PlainName(b) || k == "all" && q.Code == "land-use-unknown" {
					return Saying{Rules: a.Rules.ID, Says: "asks", Why: q.Text, kind: "asks", code: q.Code}, true
				}
			}
		}
	}
	return Saying{}, false
}

// explain says whether and why the rule sets differ.
func (c *Comparison) explain() {
	kinds := map[string][]string{}
	says := map[string]bool{}
	for _, s := range c.Says {
		kinds[s.kind] = append(kinds[s.kind], s.Rules)
		says[s.Says] = true
	}
	c.Differs = len(says) > 1
	if !c.Differs {
		return
	}
	if n := kinds["silent"]; len(n) > 0 {
		c.Why = append(c.Why, list(n)+" "+verb(n, "says", "say")+" nothing of it: there is no table of it for this use or method, or nothing to add.")
	}
	if n := kinds["not-rated"]; len(n) > 0 {
		c.Why = append(c.Why, list(n)+" "+verb(n, "has", "have")+" no table for this method, use of the land or soil.")
	}
	if len(kinds["rated"]) > 1 {
		words := map[string]bool{}
		for _, s := range c.Says {
			if s.kind == "rated" {
				words[s.Says] = true
			}
		}
		if len(words) > 1 {
			c.Why = append(c.Why, "The publications draw their lines at other values, or use other words, for their own soils and crops.")
		}
	}
	asked := map[string][]string{}
	amounts := map[string]bool{}
	for _, s := range c.Says {
		switch s.kind {
		case "asks":
			why := whyAsked[s.code]
			if why == "" {
				why = "the amount goes by what the client has to tell"
			}
			asked[why] = append(asked[why], s.Rules)
		case "amount", "none":
			amounts[s.Says] = true
		}
	}
	for _, why := range keys(asked) {
		c.Why = append(c.Why, list(asked[why])+" "+verb(asked[why], "asks", "ask")+": "+why+".")
	}
	if len(amounts) > 1 {
		c.Why = append(c.Why, "The amounts rest on other targets, classes or tables; the working says which.")
	}
}

func verb(n []string, one, many string) string {
	if len(n) == 1 {
		return one
	}
	return many
}
