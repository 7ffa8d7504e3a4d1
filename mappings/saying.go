package mappings

import (
	"regexp"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
)

// provisional are the ways in which a report says that its numbers may still
// change, and scaled those in which it says that they are not what is printed;
// common practice, no source.
var (
	provisional = []*regexp.Regexp{
		regexp.MustCompile(`(?i)\b(?:preliminary|provisional|interim|unconfirmed|tentative)\s+(?:(?:soil|test|laboratory|lab|analysis|analytical)\s+)*(?:results?|reports?|values?|data|figures|copy|certificate|issue)\b`),
		regexp.MustCompile(`(?i)\b(?:results?|reports?|values?|figures|data)\b.{0,40}\b(?:preliminary|provisional|unconfirmed|not (?:yet )?(?:final|confirmed|checked|approved)|subject to (?:change|confirmation|review|revision|approval)|await(?:s|ing)? (?:confirmation|approval|review))\b`),
		regexp.MustCompile(`(?i)^draft\b|\bthis (?:report|letter|certificate|copy) is (?:a|only a) draft\b|\bdraft (?:results?|report|copy|version|figures|values)\b`),
		regexp.MustCompile(`(?i)\b(?:is|are|was|has been|have been)? ?(?:superseded|withdrawn|cancelled|replaced) by (?:a|an|the|our|another) (?:later|newer|new|corrected|revised|second|other)\b|^superseded\b`),
		regexp.MustCompile(`(?i)\b(?:the )?final (?:report|results|certificate) (?:will |is to |to )?follows?\b`),
		regexp.MustCompile(`(?i)^\W*(?:(?:report )?status\W+)?(?:preliminary|provisional|interim|tentative|unconfirmed|not (?:yet )?final|unapproved|not (?:yet )?approved)\W*$`),
	}
	scaled = []*regexp.Regexp{
		regexp.MustCompile(`(?i)\b(?:multipl(?:y|ied)|divided?)\b.{0,40}\b(?:results?|values?|figures|numbers|amounts)\b.{0,30}\bby\b`),
		regexp.MustCompile(`(?i)\b(?:results?|values?|figures|numbers|amounts)\b.{0,40}\b(?:must|should|have to|to|are|is|were|has been|have been) (?:be )?(?:multiplied|divided|doubled|halved|trebled|tripled)\b`),
		regexp.MustCompile(`(?i)\b(?:results?|values?|figures|numbers|amounts)\s*[x×*]\s*\d`),
		regexp.MustCompile(`(?i)\bmultipl(?:y|ied) by (?:\d|two\b|five\b|ten\b|a hundred\b)`),
		regexp.MustCompile(`(?i)\b(?:not (?:been )?(?:corrected|adjusted)|uncorrected|unadjusted) for (?:the )?dilutions?\b|\bbefore dilution\b`),
		regexp.MustCompile(`(?i)\btimes (?:two|three|four|five|ten|twenty|a hundred|a thousand|\d+)\b|\bby a factor of\b`),
	}
	// states is in a sentence about how results are given, and advises in one
	// about what to do, in which units are those of materials.
	states    = regexp.MustCompile(`(?i)\b(?:results?|values?|figures|numbers|amounts|concentrations|units?|analys[ei]s|reported|expressed|given|stated|shown|listed|printed|quoted|calculated|converted)\b|\b(?:is|are) (?:now )?(?:in|as)\b`)
	ofResults = regexp.MustCompile(`(?i)\b(?:results?|values?|figures|analys[ei]s|reported|expressed)\b`)
	// inUnit is a text that is but a unit, as a title between rows is.
	inUnit = regexp.MustCompile(`(?i)^\W*(?:all )?(?:in|units?:?)\s+\S+\W*$`)
	// brief is a sentence of a few words that says in what, or as what, something is.
	brief = regexp.MustCompile(`(?i)^(?:\S+\s+){1,5}(?:in|as|per)\s`)
	// everything is in a sentence about all that is measured.
	everything = regexp.MustCompile(`(?i)\b(?:all|every|each|elements|nutrients|macronutrients|micronutrients|metals|minerals|cations|bases)\b`)
	changes    = regexp.MustCompile(`(?i)\b(?:from (?:now|this|next|the|\d|january|february|march|april|may|june|july|august|september|october|november|december)|since|starting|beginning|as of|no longer|now|this time|for this (?:report|batch))\b`)
	extract    = regexp.MustCompile(`(?i)\b(?:by|used?|using|with|methods?|extract\w*|determined|measured|analy[sz]ed|results?|reported)\b`)
	advises    = regexp.MustCompile(`(?i)\b(?:apply|applied|applying|application|add|adding|spread|broadcast|recommend\w*|rates?|limits?|guidelines?|fertili[sz]ers?|limestone|manure|compost|also offer|available|on request)\b`)
)

// otherStems are in the words of every such sentence: most texts have none of
// them, and looking for these takes a tenth of the time.
var otherStems = []string{"result", "value", "figure", "number", "amount", "concentration", "unit", "analy", "report", "express", "given", "stated", "shown", "listed", "printed", "quoted", "calculated", "converted",
	" in ", " as ", " per ", " by ", " is ", " are ", "using", "used", "draft", "supersed", "times", "factor", "with", "method", "extract", "measured", "determined", "final", "matrix", "dilut", "preliminary", "provisional", "interim", "tentative", "unconfirmed", "approved", "material", "medium", "type", "tclp", "splp", "leaching"}

// besideStems are further ones of a remark beside a result, which may name a test
// and a unit and nothing else; and besideResult is what such a remark says of
// the number, where in a note at the foot it would be how to convert results.
// Common practice, no source.
var (
	besideStems  = append([]string{"/", "ppm", "ppb", "%", "multipl", "divid", "doubled", "halved", "trebled", "tripled", "another", "different", "wrong"}, otherStems...)
	besideResult = regexp.MustCompile(`(?i)\b(?:multipl(?:y|ied)|divided?)\b.{0,30}\bby\b|\b(?:doubled|halved|trebled|tripled)\b|\b(?:of|from|for) (?:another|a different|the wrong) (?:sample|bag)\b`)
)

// A saying is a sentence of a report with what its words say by themselves,
// whatever was read on the report.
type saying struct {
	text    string // in English
	printed string // as it stands on the report
	few     bool   // it has few words

	notFinal, scaled   bool
	noSoil             string
	advises            bool
	states, brief      bool
	everything         bool
	extracts           bool
	ofResults, changes bool
}

// sayingsOf are the sentences of a text of which one may say how results are
// to be understood. A laboratory prints the same sentences on every report, so
// that those of the last texts are remembered.
//
// Of a remark that stands beside a result more is looked at.
func sayingsOf(text string, beside bool) []*saying {
	of := spoken{text, beside}
	if v, ok := sayings.Load(of); ok {
		return v.([]*saying)
	}
	var out []*saying
	if en := gloss(text); en != "" {
		out = sayingsIn(out, en, text, beside)
	}
	out = sayingsIn(out, text, "", beside)
	if len(text) <= mostSentence {
		if sayingsKept.Add(1) > mostSayings {
			sayings.Clear()
			sayingsKept.Store(1)
		}
		sayings.Store(of, out)
	}
	return out
}

// subjectNotFinal is a subject of a mail that is but a word for results that may
// still change, after what programs put before it.
var subjectNotFinal = regexp.MustCompile(`(?i)^\s*(?:(?:re|fwd?|aw|wg|tr)\s*:\s*)*(?:preliminary|provisional|interim|tentative|draft|preliminar(?:es)?|borrador)\s*(?:$|[^\s\pL]|(?:soil|test|lab|laboratory|results?|reports?|copy|version|data|certificate|analys[ei]s)\b)`)

// NotFinal reports whether the subject of a mail says that the results with it
// may still change.
func NotFinal(subject string) bool {
	return subjectNotFinal.MatchString(subject) || slices.ContainsFunc(sayingsOf(subject, false), func(s *saying) bool { return s.notFinal })
}

// sayings are the sentences of texts that were met.
var (
	sayings     sync.Map // spoken to []*saying
	sayingsKept atomic.Int64
)

type spoken struct {
	text   string
	beside bool
}

// mostSayings is of how many texts the sentences are remembered: some hundred
// kilobytes.
const mostSayings = 2000

// sayingsIn adds the sentences of a text in English; printed is what the
// report has where that was put into English.
func sayingsIn(out []*saying, text, printed string, beside bool) []*saying {
	lower, stems := " "+strings.ToLower(text)+" ", otherStems
	if beside {
		stems = besideStems
	}
	if !slices.ContainsFunc(stems, func(s string) bool { return strings.Contains(lower, s) }) {
		return out
	}
	any := func(of []*regexp.Regexp, s string) bool {
		return slices.ContainsFunc(of, func(p *regexp.Regexp) bool { return p.MatchString(s) })
	}
	for _, s := range sentenceEnd.Split(text, -1) {
		if s = strings.TrimSpace(s); s == "" {
			continue
		}
		say := &saying{text: s, printed: s, few: len(strings.Fields(s)) <= 4,
			notFinal: any(provisional, s), scaled: any(scaled, s) || beside && besideResult.MatchString(s), noSoil: noSoil(s), advises: advises.MatchString(s),
			states: states.MatchString(s) || inUnit.MatchString(s), brief: brief.MatchString(s), everything: everything.MatchString(s), extracts: extract.MatchString(s),
			ofResults: ofResults.MatchString(s), changes: changes.MatchString(s)}
		if printed != "" {
			say.printed = printed
		}
		out = append(out, say)
	}
	return out
}
