package pipeline

import (
	"bytes"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"example.org/windrow/cmd/internal/config"
	"example.org/windrow/interpret"
	"example.org/windrow/interpret/letter"
	"example.org/windrow/normalize"
)

// LetterOffice is an office as its letters say it.
func LetterOffice(o config.Office) letter.Office {
	return letter.Office{Name: o.Name, Address: o.Address, Phone: o.Phone, Email: o.Email, Web: o.Web, Signature: o.Signature}
}

// LetterOf is the letter of an advice, by the office's settings: its name on
// it, in its language unless the register knows the client's.
func LetterOf(adv *interpret.Advice, rec *normalize.Record, rep *normalize.Report, cfg *config.Config) *letter.Letter {
	l := &letter.Letter{Advice: adv, Record: rec, Report: rep, Office: LetterOffice(cfg.Office), Language: letter.Language(cfg.Language)}
	if adv.Register != nil && adv.Register.Language != "" {
		l.Language = letter.Language(adv.Register.Language)
	}
	return l
}

// LetterPath is where the letter of a record lies, from the folder of
// letters: by laboratory, with the report's and the sample's numbers in front
// so that a person finds it, and the record's id behind so that no two are
// the same.
func LetterPath(rep *normalize.Report, rec *normalize.Record) string {
	var parts []string
	for _, p := range []string{rep.Number, rec.Sample.LabID, rec.ID} {
		if p = fileName(p); p != "" {
			parts = append(parts, p)
		}
	}
	return labFolder(rep.Lab.ID) + "/" + strings.Join(parts, "_") + ".html"
}

// labFolder is the folder of a laboratory's letters, below that of letters.
func labFolder(lab string) string {
	if f := fileName(lab); f != "" {
		return f
	}
	return "unknown"
}

// fileName keeps what is harmless in a name on every system.
func fileName(s string) string {
	s = strings.Map(func(r rune) rune {
		switch {
		case r >= '0' && r <= '9', r >= 'a' && r <= 'z', r >= 'A' && r <= 'Z', r == '-', r == '.':
			return r
		}
		return '-'
	}, s)
	s = strings.Trim(s, "-. ")
	return s[:min(len(s), 60)]
}

// PDFPath is where the PDF of a letter lies: beside its page.
func PDFPath(page string) string { return strings.TrimSuffix(page, ".html") + ".pdf" }

// writeLetter writes the letter of a record into the folder of letters and
// gives its path. Where the settings ask for it, a PDF lies beside the page;
// where they don't, none does that could say something else than the page.
func (o *Office) writeLetter(adv *interpret.Advice, rec *normalize.Record, rep *normalize.Report) (string, error) {
	l := LetterOf(adv, rec, rep, o.Config)
	var page bytes.Buffer
	if err := l.HTML(&page); err != nil {
		return "", err
	}
	at := filepath.Join(o.Config.Letters, filepath.FromSlash(LetterPath(rep, rec)))
	if err := os.MkdirAll(filepath.Dir(at), 0o750); err != nil {
		return "", folderFault(filepath.Dir(at), err)
	}
	if o.Config.LettersAs == "both" {
		var file bytes.Buffer
		if err := l.PDF(&file); err != nil {
			return "", err
		}
		if err := replaceOther(PDFPath(at), file.Bytes()); err != nil {
			return "", err
		}
	} else if err := removePDF(at); err != nil {
		return "", err
	}
	return at, replaceOther(at, page.Bytes())
}

// removePDF takes away the PDF beside a page. It can be made again from the
// archive.
func removePDF(page string) error {
	if err := os.Remove(PDFPath(page)); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return folderFault(filepath.Dir(page), err)
	}
	return nil
}

// replaceOther writes a file unless it is there already as it should be.
func replaceOther(at string, b []byte) error {
	if old, err := os.ReadFile(at); err == nil && bytes.Equal(old, b) {
		return nil
	}
	return Replace(at, b)
}

// Replace writes a file whole or not at all: under a temporary name first,
// through to the disk, and then over the old one.
func Replace(at string, b []byte) error {
	f, err := os.CreateTemp(filepath.Dir(at), ".windrow-*.part")
	if err != nil {
		return folderFault(filepath.Dir(at), err)
	}
	_, err = f.Write(b)
	err = errors.Join(err, f.Chmod(0o640), f.Sync(), f.Close())
	if err == nil {
		err = os.Rename(f.Name(), at)
	}
	if err != nil {
		_ = os.Remove(f.Name()) // what is left of it is of no use
		return folderFault(filepath.Dir(at), err)
	}
	if d, err := os.Open(filepath.Dir(at)); err == nil {
		_ = d.Sync() // not every file system can; a letter can be made again
		_ = d.Close()
	}
	return nil
}
