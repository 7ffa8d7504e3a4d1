package mappings

import (
	"fmt"

	"example.org/windrow/ingest"
)

const (
	// lookAtPicture is what to do about a number or word that was read from a
	// picture in two ways.
	lookAtPicture = "compare the report with its picture (windrow proof), or ask the laboratory for its electronic copy"
	// misread is what to do where a picture does not read as the mapping says:
	// the recogniser is at fault far more often than the laboratory or the
	// mapping, and a mapping that follows its slips is worth nothing.
	misread = "this was read from a picture, and most likely misread: look at this place in the picture and say what it is (windrow proof), or ask the laboratory for its electronic copy or a better scan; don't change the mapping for it"
)

// ocrDiffers holds what two readings of a picture do not bear out together.
// They may have the same characters: then the points that are seen in the
// picture don't fit them.
func (r *reader) ocrDiffers(at, rule ingest.Place, about string, as []*atom, o *ingest.OCR) {
	first := joined(as)
	if squeeze(first) == squeeze(o.Second) {
		r.hold("ocr-differs", at, rule, fmt.Sprintf("two readings of the picture say the same about %s, but what is seen in it does not fit", about),
			fmt.Sprintf("as many decimal points as in %q", first), "another number of points, or figures that touch each other or a stain", lookAtPicture)
		return
	}
	r.hold("ocr-differs", at, rule, "two readings of the picture differ about "+about, fmt.Sprintf("%q, as first read", first), orWord(quotedWord(o.Second), "nothing")+", as read the second time", lookAtPicture)
}

func quotedWord(s string) string {
	if s == "" {
		return ""
	}
	return fmt.Sprintf("%q", s)
}

// adviseOnScan gives the reasons of a scanned report the advice that fits: what
// a mapping expects and a picture does not show is a slip of the recogniser.
// Reasons that know of the picture keep their own.
func (r *reader) adviseOnScan() {
	if !r.doc.Scanned() {
		return
	}
	own := map[*ingest.Reason]bool{}
	for _, n := range r.doc.Notes {
		own[n] = true
	}
	for i, x := range r.out.Reasons {
		switch {
		case own[x] || x.Severity != ingest.Hold:
			continue
		case x.Code == "ocr-differs" || x.Code == "corrects-earlier" || x.Code == "question-open":
			continue
		}
		c := *x
		c.Next = misread
		r.out.Reasons[i] = &c
	}
}
