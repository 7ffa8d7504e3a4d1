package mappings

import (
	"regexp"
	"strings"
)

// recalls are the ways in which people write, in a mail or beside a report,
// that results are not what a report says or will not stand; common practice,
// no source. Each names what it is about, since mails also ask to disregard
// advertising, and leaflets tell of correcting the soil's reaction.
var recalls = []*regexp.Regexp{
	regexp.MustCompile(`(?i)(?:^|[.!?;:]\s+|[-*•–]\s+)(?:a\s+|one\s+|important\s+)?(?:correction|corrections|amendment|erratum|errata|corrigendum|revision|retraction)s?\s*(?:[:!]|\s[-–—]\s)`),
	regexp.MustCompile(`(?i)\b(?:please\s+)?(?:correct|amend|change)\s+(?:the|your|our|this|that)\s[^.!?]{0,60}?\b` + amountsWord + `[^.!?]{0,60}?\bto\s+\S*\d`),
	regexp.MustCompile(`(?i)\b(?:disregard|ignore|discard|destroy|do\s+not\s+use|don['’]t\s+use|do\s+not\s+rely\s+on)\b[^.!?]{0,60}?\b(?:` + amountsWord + `|attach(?:ed|ment)|(?:earlier|previous|first|last|former)\s+(?:one|mail|e-?mail|message|version|copy|file))\b`),
	regexp.MustCompile(`(?i)\b` + amountsWord + `[^.!?]{0,80}?\b(?:withdrawn|retracted|recalled|superseded|incorrect(?:ly)?|wrong(?:ly)?|erroneous(?:ly)?|mistaken(?:ly)?|mis-?printed|mis-?typed|mis-?stated|in\s+error|by\s+mistake|not\s+as\s+printed|should\s+read|should\s+have\s+(?:been|read)|instead\s+of\s+[<>]?\d|transposed|mixed\s+up|swapped)\b`),
	regexp.MustCompile(`(?i)\b(?:withdraw|withdrew|withdrawn|withdrawing|withdraws|retracted|recalled|replaced|retract|retracts|recall|recalls|replace|replaces|supersede|supersedes|superseding|correct|corrects|correcting|amend|amends)\s+(?:the|your|our|this|that|these|those|an?|any|all)\s[^.!?]{0,50}?\b` + amountsWord + `\b`),
	regexp.MustCompile(`(?i)\b(?:corrected|amended|revised|updated|re-?issued|replacement)\s+(?:(?:soil|test|lab|laboratory|analysis|analytical|final)\s+)*` + amountsWord + `\b`),
	regexp.MustCompile(`(?i)\b(?:wrong|incorrect|erroneous|mistaken)\s+(?:\w+\s+){0,2}?` + amountsWord + `\b`),
	regexp.MustCompile(`(?i)\b(?:samples?|bags?|labels)\b[^.!?]{0,60}?\b(?:exchanged|interchanged|swapped|switched|transposed|mixed[ -]up|mis-?labell?ed)\b`),
	regexp.MustCompile(`(?i)\b(?:mistake|error|misprint|typo)\s+(?:in|on|with)\s+(?:the|your|our|this|that|these|those)\s[^.!?]{0,50}?\b` + amountsWord + `\b`),
}

// amountsWord is what a correction is about.
const amountsWord = `(?:results?|reports?|certificates?|figures?|values?|numbers?|analys[ie]s|reading|readings)`

// harmless are sentences with words of a correction that mails and leaflets
// have and that say nothing of results: the note on who may read the mail, what
// results were calculated to, and the advice to correct the soil.
var harmless = regexp.MustCompile(`(?i)\b(?:intended\s+(?:recipient|for)|addressee|receiv(?:e|ed)\s+(?:this|the|it)\b|(?:results?|values?|figures?|readings?)\s+(?:are\s+|is\s+|were\s+|was\s+)?corrected\s+(?:for|to)|corrected\s+(?:for|to)\b)`)

// subjectAlone is a subject that is but a word of a correction, after what
// programs put before it.
var subjectAlone = regexp.MustCompile(`(?i)^\s*(?:(?:re|fwd?|aw|wg|tr)\s*:\s*)*(?:corrections?|amendments?|erratum|corrigendum|corrected|amended|revised|re-?issued|withdrawn|recalled|retraction|recall)\b`)

// sentences are parted so that what one says is no part of another; a point
// within a number parts nothing.
var sentenceEnd = regexp.MustCompile(`[.!?](?:\s+|$)`)

// Recalls finds the words of a text that people write, such as a mail or a
// covering letter, which say that results or a report are corrected, replaced
// or withdrawn; "" for none. subject is for the subject of a mail, where one
// word is enough. Words that a report prints of itself are looked for too.
func Recalls(text string, subject bool) string {
	if subject {
		if s := subjectAlone.FindString(text); s != "" {
			return s
		}
	}
	for len(text) > 0 {
		end := len(text)
		if at := sentenceEnd.FindStringIndex(text); at != nil {
			end = at[1]
		}
		sentence := text[:end]
		text = text[end:]
		if harmless.MatchString(sentence) {
			continue
		}
		if s := recallsIn(sentence); s != "" {
			return s
		}
		if recallsIn(gloss(sentence)) != "" {
			return strings.TrimSpace(sentence)
		}
	}
	return ""
}

// recallsIn is Recalls for one sentence in English.
func recallsIn(sentence string) string {
	if s := corrects(sentence); s != "" {
		return s
	}
	for _, c := range recalls {
		if s := c.FindString(sentence); s != "" {
			return s
		}
	}
	return ""
}
