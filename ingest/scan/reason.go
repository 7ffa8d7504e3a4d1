package scan

import (
	"context"
	"errors"
	"fmt"
	"strconv"
	"time"

	"example.org/windrow/ingest"
)

func notAPicture() *ingest.Reason {
	return &ingest.Reason{Code: "wrong-kind", Severity: ingest.Fail, What: "the file is not a picture that can be read",
		Expected: "a JPEG, PNG or TIFF picture, or a PDF", Found: "something else",
		Next: "save it as one of these, or ask the laboratory for its electronic copy"}
}

func damagedPicture() *ingest.Reason {
	return &ingest.Reason{Code: "damaged", Severity: ingest.Fail, What: "the picture is damaged",
		Expected: "a picture that is whole", Found: "parts that are missing or don't fit together",
		Next: "ask the sender for the file again, or scan the report again; nothing of it was used"}
}

func tooManyPixels(n float64) *ingest.Reason {
	return &ingest.Reason{Code: "too-large", Severity: ingest.Fail, What: "the picture has more dots than can be worked on",
		Expected: "at most " + strconv.Itoa(MostPixels/1_000_000) + " million", Found: fmt.Sprintf("%.0f million", n/1e6),
		Next: "scan the report at 200 or 300 dots an inch"}
}

func tooFewPixels(w, h int) *ingest.Reason {
	return &ingest.Reason{Code: "scan-unreadable", Severity: ingest.Hold, What: "the picture is too small to be a report that can be read",
		Expected: "a page at 200 dots an inch or more", Found: fmt.Sprintf("%d by %d dots", w, h),
		Next: "look at it; if it is a report, scan it again at 200 or 300 dots an inch"}
}

func tooLarge(limit, what string, allowed, found int64) *ingest.Reason {
	return &ingest.Reason{Code: "too-large", Severity: ingest.Fail, What: what,
		Expected: "at most " + strconv.FormatInt(allowed, 10), Found: "at least " + strconv.FormatInt(found, 10),
		Next: "if the file is really meant to be that large, raise the limit \"" + limit + "\" in the settings and try again"}
}

// over words why a context is over; nil when it isn't.
func over(ctx context.Context, allowed time.Duration) *ingest.Reason {
	err := ctx.Err()
	switch {
	case err == nil:
		return nil
	case errors.Is(err, context.Canceled):
		return &ingest.Reason{Code: "stopped", Severity: ingest.Fail, What: "reading the file was stopped before it was done",
			Next: "nothing is lost: the file will be read when the work goes on"}
	}
	return &ingest.Reason{Code: "too-slow", Severity: ingest.Fail, What: "reading a page of the picture took too long and was given up",
		Expected: fmt.Sprintf("at most %.0f seconds a page", allowed.Seconds()),
		Next:     "try again when the computer is less busy, or raise the limit \"seconds\" in the settings; or scan the report again at 200 dots an inch"}
}

// noProgram is a hold: the report may be good, it only waits for somebody to
// read it.
func noProgram(err error, language string) *ingest.Reason {
	r := &ingest.Reason{Code: "scan-no-ocr", Severity: ingest.Hold,
		What:     "the file is a picture of a report, and the program that reads pictures is not installed",
		Expected: "a report with text in it, or the program tesseract",
		Found:    "a picture, and no program tesseract",
		Next:     "ask the laboratory for its electronic copy; or install tesseract (on Debian and Ubuntu: apt-get install tesseract-ocr) and try again"}
	if errors.Is(err, errLanguage) {
		r.What = "the file is a picture of a report, and the program that reads pictures lacks the data of the language"
		r.Found = "tesseract without the language " + language
		r.Next = "ask the laboratory for its electronic copy; or install the language (on Debian and Ubuntu: apt-get install tesseract-ocr-" + language + ") and try again"
	}
	return r
}

func programFailed(found string) *ingest.Reason {
	return &ingest.Reason{Code: "ocr-failed", Severity: ingest.Hold, What: "the program that reads pictures could not read this one",
		Expected: "a table of words from tesseract, version 4 or later", Found: found,
		Next: "try again; if it happens again, ask the laboratory for its electronic copy"}
}

func unreadable(pages int) *ingest.Reason {
	return &ingest.Reason{Code: "scan-unreadable", Severity: ingest.Hold, What: "nothing on the picture could be read",
		Expected: "a picture of a report on which text can be read", Found: strconv.Itoa(pages) + " pages, whichever way up",
		Next: "look at it; scan the report again, flat and at 300 dots an inch, or ask the laboratory for its electronic copy"}
}

// byOCR goes with every document of this package.
func byOCR() *ingest.Reason {
	return &ingest.Reason{Code: "read-by-ocr", Severity: ingest.Note, What: "the report was read from a picture; no number of it is final unless two readings and the report's own sums support it",
		Next: "compare the numbers with the picture, or ask the laboratory for its electronic copy"}
}

func turned(page, by int) *ingest.Reason {
	how := map[int]string{90: "lies on its side", 180: "is upside down", 270: "lies on its side"}[by]
	return &ingest.Reason{Code: "page-turned", Severity: ingest.Note, Where: ingest.Place{Page: page}, What: "the page " + how + " in the picture, and was turned to be read"}
}

func coarse(page int, dpi float64) *ingest.Reason {
	return &ingest.Reason{Code: "low-resolution", Severity: ingest.Flag, Where: ingest.Place{Page: page}, What: "the picture is coarse, and its numbers may be misread",
		Expected: "200 dots an inch or more", Found: fmt.Sprintf("%.0f dots an inch", dpi),
		Next: "scan the report again at 200 or 300 dots an inch, or compare every number with the picture"}
}

func pageLost(page int) *ingest.Reason {
	return &ingest.Reason{Code: "page-unreadable", Severity: ingest.Flag, Where: ingest.Place{Page: page}, What: "there is something on this page, and nothing of it could be read",
		Next: "look at the page; if it has results, scan it again or ask the laboratory for its electronic copy"}
}

// proofOfOther is about a proof that stands under the wrong report.
func proofOfOther() *ingest.Reason {
	return &ingest.Reason{Code: "proof-damaged", Severity: ingest.Hold, What: "what a person read in this picture is of another file",
		Expected: "a proof of these bytes", Found: "one of others", Next: "run windrow archive verify, and bring the proof back from a backup"}
}

// note tells of a proof, with what is left to the recogniser alone.
func (p *Proof) note() *ingest.Reason {
	all, seen, other := 0, 0, 0
	for _, page := range p.Pages {
		for _, w := range page.Words {
			all++
			if w.OCR.Proof != nil {
				seen++
				if w.OCR.Proof.Read != "" {
					other++
				}
			}
		}
	}
	return &ingest.Reason{Code: "proofread", Severity: ingest.Note, What: fmt.Sprintf("%s compared the text with its picture on %s", p.By, p.On.UTC().Format(time.DateOnly)),
		Found: fmt.Sprintf("%d words, of which %d were compared and %d read otherwise than by the program", all, seen, other), Next: "nothing"}
}
