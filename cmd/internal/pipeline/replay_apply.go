package pipeline

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive"
	"example.org/windrow/normalize/difference"
)

// replacedDir is the folder, in a laboratory's folder of letters, of letters
// that no longer say what is so.
const replacedDir = "replaced"

// replacedMark is what a replaced letter says at its head. Without it the
// page is what it was, byte for byte.
const replacedMark = `<p style="border: 3px solid #8a1c1c; padding: 6px 12px; font-weight: 600">This letter was replaced and must not be sent. The laboratory’s report was read anew, and what was read or advised then is not what this letter says.</p>
`

// withdrawnMark is what a letter says at its head on a report that is held now.
const withdrawnMark = `<p style="border: 3px solid #8a1c1c; padding: 6px 12px; font-weight: 600">This letter was withdrawn and must not be sent. The laboratory sent the same samples again on the same day with other results, and nobody knows yet which of them count.</p>
`

// apply writes the new version of a report, and of the advice and letter of
// each sample that changed. Nothing is overwritten: documents get a version
// beside the old one, letters are put aside first.
//
// The order bears being cut short at any moment. Until the report's new
// version stands, it is the old one, and another run does all again; from
// then on it is the new one, and what is missing shows: an old letter that was
// put aside and has no successor (see cutShort), or advice that isn't today's.
// At no moment does a letter lie about that the archive no longer bears out.
func (r *Replay) apply(ctx context.Context, x *reread, redo map[string]bool, out *Replayed) error {
	o := r.Office
	if x.diff != nil {
		head := x.diff.Old == normalize.Held || slices.ContainsFunc(x.diff.Fields, inLetters)
		for _, rec := range x.rep.Records {
			if head || x.diff.Differs(rec.ID) {
				redo[rec.ID] = true
			}
		}
	}
	if x.was != nil {
		if err := r.putAside(x, redo, out); err != nil {
			return err
		}
	}
	if x.bare {
		b, err := o.Archive.Version(archive.Reports, x.rep.ID, x.old.version)
		if err != nil {
			return err
		}
		if _, _, err := o.Archive.PutReport(x.rep.ID, b); err != nil {
			return err
		}
	}
	if x.diff != nil {
		if x.src.Member != "" && x.old == nil {
			if _, err := o.Archive.PutOriginal(x.src.Bytes); err != nil {
				return err
			}
		}
		b, err := x.rep.JSON()
		if err != nil {
			return err
		}
		if out.Applied, _, err = o.Archive.PutReport(x.rep.ID, b); err != nil {
			return err
		}
		if err := o.Index.AddReport(ctx, x.rep.ID, out.Applied, b); err != nil {
			if o.engine != nil {
				return engineAway(err) // it catches up when the archive is next in one hand
			}
			o.tellIndex(err)
		}
		switch own, err := o.othersToo(ctx, x.rep); {
		case err != nil:
			return err
		case own != nil:
			x.rep, out.Status = own, own.Status
		}
	}
	if x.rep.Status == normalize.Held {
		return nil
	}
	for _, rec := range x.rep.Records {
		if !redo[rec.ID] {
			continue
		}
		adv := r.st.Advise(x.rep, rec, r.ask(x, rec, r.Today))
		// The letter comes first: where today's advice is, its letter is, too.
		at, err := o.writeLetter(adv, rec, x.rep)
		if err != nil {
			return err
		}
		b, err := adviceJSON(adv)
		if err != nil {
			return err
		}
		if _, _, err := o.Archive.PutAdvice(rec.ID, b); err != nil {
			return err
		}
		out.Letters = append(out.Letters, at)
	}
	return nil
}

// inLetters reports whether the letters of all samples say a field of the
// report as a whole.
func inLetters(f difference.Field) bool {
	return f.Name == "report_no" || f.Name == "office" || strings.HasPrefix(f.Name, "lab.")
}

// putAside puts the letters of an archived report aside that are to be made
// anew, or that are no more: those of samples that changed or are gone, and
// all of a report that is to be held.
func (r *Replay) putAside(x *reread, redo map[string]bool, out *Replayed) error {
	stays := map[string]bool{} // letters that hold
	if x.rep.Status != normalize.Held {
		for _, rec := range x.rep.Records {
			at := LetterPath(x.rep, rec)
			stays[at] = !redo[rec.ID]
			if have, err := os.ReadFile(filepath.Join(r.cfg.Letters, filepath.FromSlash(at))); err == nil && redo[rec.ID] {
				// A replay that was cut short may have written it.
				var b bytes.Buffer
				if err := LetterOf(r.st.Advise(x.rep, rec, r.ask(x, rec, r.Today)), rec, x.rep, r.cfg).HTML(&b); err != nil {
					return err
				}
				stays[at] = bytes.Equal(have, b.Bytes())
			}
		}
	}
	for _, rec := range x.was.Records {
		at := LetterPath(x.was, rec)
		if stays[at] {
			continue
		}
		kept, err := keepLetter(r.cfg.Letters, at, x.old.version, replacedMark)
		if err != nil {
			return err
		}
		if kept != "" {
			out.Kept = append(out.Kept, kept)
		}
	}
	return nil
}

// keepLetter moves a letter into the folder of replaced ones, marked, under a
// name that tells the version of the report it was written for. at is its
// place from the folder of letters, mark what it says at its head. It gives the new path, "" when there is no
// letter.
func keepLetter(letters, at string, version int, mark string) (string, error) {
	from := filepath.Join(letters, filepath.FromSlash(at))
	b, err := os.ReadFile(from)
	if errors.Is(err, fs.ErrNotExist) {
		return "", nil
	}
	if err != nil {
		return "", folderFault(filepath.Dir(from), err)
	}
	marked := bytes.Replace(b, []byte("<body>\n"), []byte("<body>\n"+mark), 1)
	dir := filepath.Join(filepath.Dir(from), replacedDir)
	if err := os.MkdirAll(dir, 0o750); err != nil {
		return "", folderFault(dir, err)
	}
	for n := 1; ; n++ {
		to := replacedName(dir, from, version, n)
		have, err := os.ReadFile(to)
		switch {
		case errors.Is(err, fs.ErrNotExist):
			if err := Replace(to, marked); err != nil {
				return "", err
			}
		case err != nil:
			return "", folderFault(dir, err)
		case !bytes.Equal(have, marked):
			continue // another letter for the same version, of other advice
		}
		if err := errors.Join(removePDF(from), os.Remove(from)); err != nil {
			return "", folderFault(filepath.Dir(from), err)
		}
		if d, err := os.Open(filepath.Dir(from)); err == nil {
			_ = d.Sync() // not every file system can; the letter is put aside again then
			_ = d.Close()
		}
		return to, nil
	}
}

func replacedName(dir, letter string, version, n int) string {
	stem := strings.TrimSuffix(filepath.Base(letter), ".html")
	more := ""
	if n > 1 {
		more = fmt.Sprintf("-%d", n)
	}
	return filepath.Join(dir, fmt.Sprintf("%s_v%d%s.html", stem, version, more))
}

// cutShort reports whether the letter of a record was put aside and never
// made anew, because a replay was stopped in between.
func (r *Replay) cutShort(x *reread, rec *normalize.Record) bool {
	if x.old == nil || x.diff != nil || !r.aside[rec.ID] {
		return false
	}
	_, err := os.Stat(filepath.Join(r.cfg.Letters, filepath.FromSlash(LetterPath(x.rep, rec))))
	return errors.Is(err, fs.ErrNotExist)
}

var asideName = regexp.MustCompile(`(R[0-9a-f]{16}-[1-9][0-9]*)_v[1-9][0-9]*(-[1-9][0-9]*)?\.html$`)

// lettersAside are the records of which letters were put aside, whatever the
// laboratory and the sample were called then.
func lettersAside(letters string) (map[string]bool, error) {
	all, err := filepath.Glob(filepath.Join(globQuote(letters), "*", replacedDir, "*.html"))
	if err != nil {
		return nil, err
	}
	out := map[string]bool{}
	for _, p := range all {
		if m := asideName.FindStringSubmatch(filepath.Base(p)); m != nil {
			out[m[1]] = true
		}
	}
	return out, nil
}

// globQuote is a path as a pattern that matches nothing but it.
func globQuote(p string) string {
	if filepath.Separator != '/' {
		return p // there is no way to write it so
	}
	return strings.NewReplacer(`\`, `\\`, `*`, `\*`, `?`, `\?`, `[`, `\[`).Replace(p)
}
