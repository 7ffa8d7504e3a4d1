package web

import (
	"bytes"
	"net/http"

	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/interpret/letter"
)

// letter shows the letter of a sample, of the advice that the archive holds,
// in a language; as a page, or as a PDF to keep.
func (d *Desk) letter(pdf bool) func(r *http.Request) (*answer, error) {
	return func(r *http.Request) (*answer, error) {
		rep, rec, err := d.recordOf(r.PathValue("id"))
		if err != nil {
			return nil, err
		}
		adv, err := d.advice(rec.ID)
		if err != nil {
			return nil, err
		}
		if adv == nil {
			return nil, notHere("there is no letter for this sample, since nothing was advised on it")
		}
		l := pipeline.LetterOf(adv, rec, rep, d.off.Config)
		if s := letter.Language(r.URL.Query().Get("language")); s != "" {
			if !s.Known() {
				return nil, badInput("there are no letters in that language", "choose one of those on the page of the sample")
			}
			l.Language = s
		}
		var b bytes.Buffer
		if pdf {
			err = l.PDF(&b)
		} else {
			err = l.HTML(&b)
		}
		if err != nil {
			return nil, err
		}
		return &answer{raw: func(w http.ResponseWriter) {
			w.Header().Set("Content-Security-Policy", letterPolicy)
			if pdf {
				w.Header().Set("Content-Type", "application/pdf")
				w.Header().Set("Content-Disposition", `attachment; filename="`+rec.ID+`.pdf"`)
			} else {
				w.Header().Set("Content-Type", "text/html; charset=utf-8")
			}
			_, _ = w.Write(b.Bytes()) // the one who asked has gone: there is nobody to tell
		}}, nil
	}
}
