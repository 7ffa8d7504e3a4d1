package web

import (
	"errors"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/ingest"
	"example.org/windrow/normalize/archive/index"
)

// What one may bring in at a time.
const (
	mostFiles    = 50
	longestName  = 120             // bytes of a file's name that are kept
	uploadTime   = 3 * time.Minute // for all of it to come
	arrivalsSeen = 30              // how many of the latest arrivals are listed
)

// An arrivalLine is a file on the page of what came.
type arrivalLine struct {
	Name, When, Channel, Outcome string
	Report                       string // id, "" where there are several or none
	Parts                        []partLine
	Why                          string // the first reason, of one that waits or failed
	More                         int    // other reasons
}

// A partLine is one report of a file that holds several.
type partLine struct{ Name, Report, Outcome string }

// What is in the inbox and was not taken yet.
type dropped struct {
	Name string
	Size string
}

// An intakeView is how things stand in the inbox, and what came of the latest.
type intakeView struct {
	Inbox  []dropped
	More   int
	Lines  []arrivalLine
	Folder string
	Most   string // how large a file may be
	Told   *tale
}

func (d *Desk) intakeNow(r *http.Request) (*intakeView, error) {
	v := &intakeView{Folder: d.inboxName(r.Context()), Most: ingest.Size(d.off.Stages.Limits.Bytes)}
	if v.Folder == "" {
		return nil, noInbox()
	}
	entries, err := os.ReadDir(v.Folder)
	if err != nil {
		return nil, &ingest.Reason{Code: "folder-amiss", Severity: ingest.Fail, What: "the inbox can't be looked into", Found: ingest.Cause(err), Next: "see whether its drive is connected, and the rights of the folder"}
	}
	for _, e := range entries {
		if !e.Type().IsRegular() || strings.HasPrefix(e.Name(), ".") {
			continue
		}
		if len(v.Inbox) == 20 {
			v.More++
			continue
		}
		x := dropped{Name: e.Name()}
		if fi, err := e.Info(); err == nil {
			x.Size = ingest.Size(fi.Size())
		}
		v.Inbox = append(v.Inbox, x)
	}
	list, err := d.off.Index.Latest(r.Context(), arrivalsSeen, officeOf(r.Context()))
	if err != nil {
		return nil, err
	}
	for _, a := range list {
		v.Lines = append(v.Lines, d.arrivalLine(a))
		shown(r.Context(), a.Report)
	}
	return v, nil
}

// noInbox is why nothing can be brought in.
func noInbox() error {
	return badInput("no folder is watched for this office", "have one named in windrow.yaml, with the office that its reports belong to")
}

// arrivalLine tells of an arrival, with what is remembered of it.
func (d *Desk) arrivalLine(a index.Arrived) arrivalLine {
	l := arrivalLine{Name: a.Name, When: a.At, Channel: a.Channel, Outcome: a.Outcome, Report: a.Report}
	d.came.mu.Lock()
	out, ok := d.came.by[a.SHA256]
	d.came.mu.Unlock()
	if !ok {
		return l
	}
	if len(out.Parts) > 1 {
		for _, p := range out.Parts {
			l.Parts = append(l.Parts, partLine{p.Member, p.ID, string(p.Status)})
		}
	}
	if out.Status == pipeline.Held || out.Status == pipeline.Failed {
		for _, reason := range out.Reasons {
			switch {
			case reason.Severity != ingest.Hold && reason.Severity != ingest.Fail:
			case l.Why == "":
				l.Why = reason.What
			default:
				l.More++
			}
		}
	}
	return l
}

func (d *Desk) intake(r *http.Request) (*answer, error) {
	v, err := d.intakeNow(r)
	if err != nil {
		return nil, err
	}
	v.Told = d.told.take(r.URL.Query().Get("told"))
	return &answer{page: "intake", title: "Bring in", nav: "/intake", body: v}, nil
}

// intakeState is the part of the page that changes by itself.
func (d *Desk) intakeState(r *http.Request) (*answer, error) {
	v, err := d.intakeNow(r)
	if err != nil {
		return nil, err
	}
	t := d.in(r).pages["intake"]
	return &answer{raw: func(w http.ResponseWriter) {
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		if err := t.ExecuteTemplate(w, "intakestate", v); err != nil {
			d.opt.Log(r.Method, r.Pattern, http.StatusInternalServerError, err)
		}
	}}, nil
}

// bring puts files into the inbox as a person would drop them: whole, under a
// name that is free. The watch takes them from there.
func (d *Desk) bring(w http.ResponseWriter, r *http.Request) {
	t, err := d.take(w, r)
	if err != nil {
		d.fail(w, r, err)
		return
	}
	http.Redirect(w, r, "/intake?told="+d.told.put(t), http.StatusSeeOther)
}

func (d *Desk) take(w http.ResponseWriter, r *http.Request) (*tale, error) {
	dir := d.inboxName(r.Context())
	if dir == "" {
		return nil, noInbox()
	}
	c := http.NewResponseController(w)
	// A large file may take longer than a page; a server without deadlines has none to move.
	_ = c.SetReadDeadline(time.Now().Add(uploadTime))
	_ = c.SetWriteDeadline(time.Now().Add(uploadTime + 30*time.Second))
	each := d.off.Stages.Limits.Bytes
	r.Body = http.MaxBytesReader(w, r.Body, each*mostFiles+(1<<20))
	parts, err := r.MultipartReader()
	if err != nil {
		return nil, badInput("no files were sent", "choose files, or drop them on the page")
	}
	t := &tale{}
	n := 0
	for {
		p, err := parts.NextPart()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, badInput("the files did not come whole, and only those before are in the inbox", "send the rest again")
		}
		if p.FormName() != "files" || p.FileName() == "" {
			continue
		}
		if n++; n > mostFiles {
			t.Bad, t.Lines = true, append(t.Lines, fmt.Sprintf("No more than %d files are taken at a time; the rest were not.", mostFiles))
			break
		}
		name, err := keepUpload(dir, p, each)
		if err != nil {
			t.Bad, t.Lines = true, append(t.Lines, shownName(p.FileName())+": not taken, since "+err.Error()+".")
			continue
		}
		t.Lines = append(t.Lines, name+": in the inbox.")
	}
	if n == 0 {
		return nil, badInput("no files were sent", "choose files, or drop them on the page")
	}
	t.Title = count(n, "file") + " sent."
	return t, nil
}

// keepUpload writes one file into a folder: under a name that no watch takes
// until it is whole, and then under its own. Its error is a clause for people.
func keepUpload(dir string, p *multipart.Part, most int64) (string, error) {
	f, err := os.CreateTemp(dir, ".windrow-*.part")
	if err != nil {
		return "", errors.New("the inbox can't be written to")
	}
	at := f.Name()
	n, err := io.Copy(f, io.LimitReader(p, most+1))
	switch {
	case err != nil:
		err = errors.New("it did not come whole")
	case n == 0:
		err = errors.New("it is empty")
	case n > most:
		err = fmt.Errorf("it is larger than %s; limits.size in windrow.yaml allows more", ingest.Size(most))
	}
	if werr := errors.Join(f.Chmod(0o640), f.Sync(), f.Close()); err == nil && werr != nil {
		err = errors.New("the inbox can't be written to")
	}
	name := ""
	if err == nil {
		name, err = nameIn(dir, at, safeName(p.FileName()))
	}
	_ = os.Remove(at) // under its own name it stays
	if err != nil {
		return "", err
	}
	return name, nil
}

// nameIn gives a file a name in a folder that nothing else has: a link to it,
// which unlike a renaming replaces nothing.
func nameIn(dir, at, name string) (string, error) {
	ext := filepath.Ext(name)
	stem := strings.TrimSuffix(name, ext)
	for i := 1; i < 1000; i++ {
		try := name
		if i > 1 {
			try = fmt.Sprintf("%s (%d)%s", stem, i, ext)
		}
		err := os.Link(at, filepath.Join(dir, try))
		switch {
		case err == nil:
			return try, nil
		case errors.Is(err, os.ErrExist):
			continue
		}
		// Not every file system has links: there it is named, if nothing is in the way.
		if _, serr := os.Lstat(filepath.Join(dir, try)); serr == nil {
			continue
		}
		if os.Rename(at, filepath.Join(dir, try)) == nil {
			return try, nil
		}
		return "", errors.New("the inbox can't be written to")
	}
	return "", errors.New("too many files of that name lie in the inbox")
}

// passedOver are ends of names that a watch does not take; see ingest/folder.
var passedOver = []string{".part", ".tmp", ".crdownload", ".swp", ".why.txt"}

// safeName is the last part of a name that a browser sent, as a name on every
// system: no folder, nothing hidden, nothing that a watch passes over.
func safeName(s string) string {
	s = s[strings.LastIndexAny(s, `/\`)+1:]
	s = strings.ToValidUTF8(strings.Map(func(r rune) rune {
		switch {
		case unicode.IsControl(r), unicode.Is(unicode.Cf, r), strings.ContainsRune(`<>:"|?*`, r):
			return '-'
		}
		return r
	}, s), "-")
	s = strings.Trim(s, " .-~")
	ext := filepath.Ext(s)
	low := strings.ToLower(s)
	if len(ext) > 10 || slices.ContainsFunc(passedOver, func(end string) bool { return strings.HasSuffix(low, end) }) {
		s, ext = s+".bin", ".bin"
	}
	stem := strings.TrimSuffix(s, ext)
	for len(stem)+len(ext) > longestName {
		_, n := utf8.DecodeLastRuneInString(stem)
		stem = stem[:len(stem)-n]
	}
	if stem == "" {
		stem = "report"
	}
	return stem + ext
}

// shownName is a name to show, however it was sent.
func shownName(s string) string { return ingest.Shown(s) }
