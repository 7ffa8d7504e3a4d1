package web

import (
	"context"
	"errors"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/ingest"
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
	Name, When, Outcome string // as things stand now
	Again               bool   // the same bytes came before
	Report              string // id, "" where there are several or none
	Parts               []partLine
	MoreParts           int
	Why                 string // the first reason, of one that waits or failed
	More                int    // other reasons
}

// A partLine is one report of a file that holds several.
type partLine struct{ Name, Report, Outcome string }

// mostParts is how many reports of one file are listed.
const mostParts = 12

// What is in the inbox and was not taken yet.
type dropped struct {
	Name string
	Size string
}

// An intakeView is how things stand in the inbox, and what came of the latest.
type intakeView struct {
	Moving     []moving // what lies in the inbox, and what is in hand
	MoreMoving int
	Lines      []arrivalLine
	Folder     string
	Most       string         // how large a file may be
	Amiss      *ingest.Reason // why nothing can be brought in; nil where it can
	Told       *tale
}

func (d *Desk) intakeNow(r *http.Request) (*intakeView, error) {
	v := &intakeView{Folder: d.inboxName(r.Context()), Most: ingest.Size(d.off.Stages.Limits.Bytes)}
	var entries []os.DirEntry
	var err error
	if v.Folder == "" {
		v.Amiss = d.noInbox(r.Context())
	} else if entries, err = os.ReadDir(v.Folder); err != nil {
		v.Amiss = &ingest.Reason{Code: "folder-amiss", Severity: ingest.Fail, What: "the inbox can't be looked into", Found: ingest.Cause(err), Next: "see whether its drive is connected, and the rights of the folder"}
	}
	var inbox []dropped
	for _, e := range entries {
		if !e.Type().IsRegular() || strings.HasPrefix(e.Name(), ".") {
			continue
		}
		x := dropped{Name: e.Name()}
		if len(inbox) < mostOnTheWay {
			if fi, err := e.Info(); err == nil {
				x.Size = ingest.Size(fi.Size())
			}
		}
		inbox = append(inbox, x)
	}
	v.Moving, v.MoreMoving = d.movingNow(r.Context(), inbox)
	v.Lines, err = d.arrivalLines(r.Context())
	return v, err
}

// noInbox is why nothing can be brought in, and who can change that.
func (d *Desk) noInbox(ctx context.Context) *ingest.Reason {
	office := officeOf(ctx)
	if office == "" {
		office = d.off.Config.Office.Name
	}
	return &ingest.Reason{Code: "no-inbox", Severity: ingest.Fail, What: "no folder is watched for this office, so that nothing can be brought in",
		Expected: fmt.Sprintf("under folders in windrow.yaml, one with office: %q", office),
		Next:     "ask the one who looks after this computer to add such a folder, and to start Windrow again; what came before can be used meanwhile"}
}

// arrivalLines tells of the files that came last what came of each, as it
// stands now: what waited when it came may be used since.
func (d *Desk) arrivalLines(ctx context.Context) ([]arrivalLine, error) {
	list, err := d.off.Index.Latest(ctx, arrivalsSeen, officeOf(ctx))
	if err != nil {
		return nil, err
	}
	var files []string
	for _, a := range list {
		files = append(files, a.SHA256)
	}
	holding, err := d.holdingNow(ctx, files)
	if err != nil {
		return nil, err
	}
	groups, err := d.groups(ctx)
	if err != nil {
		return nil, err
	}
	why := map[string]*holdGroup{}
	more := map[string]int{}
	for i := range groups {
		for _, l := range groups[i].Reports {
			why[l.ID], more[l.ID] = &groups[i], l.More
		}
	}
	var out []arrivalLine
	for _, a := range list {
		l := arrivalLine{Name: a.Name, When: a.At, Outcome: a.Outcome, Again: a.Outcome == "again"}
		h := holding[a.SHA256]
		for _, r := range h.First {
			shown(ctx, r.ID)
		}
		switch {
		case h.All > 1:
			for _, r := range h.First {
				name := r.Member
				if name == "" {
					name = r.Name
				}
				l.Parts = append(l.Parts, partLine{name, r.ID, r.Status})
				if g := why[r.ID]; g != nil && l.Why == "" && !l.Again {
					l.Why, l.More = g.What, more[r.ID]
				}
			}
			l.MoreParts = h.All - len(h.First)
			if l.MoreParts == 0 && !l.Again {
				l.Outcome = worstOf(h.First)
			}
		case h.All == 1:
			l.Report = h.First[0].ID
			if !l.Again {
				l.Outcome = h.First[0].Status
			}
			if g := why[l.Report]; g != nil && !l.Again {
				l.Why, l.More = g.What, more[l.Report]
			}
		default:
			l.Why, l.More = d.noted(a.SHA256)
		}
		out = append(out, l)
	}
	return out, nil
}

// noted is why nothing came of a file, as the watch told it: the first reason,
// and how many others there are.
func (d *Desk) noted(file string) (why string, more int) {
	d.came.mu.Lock()
	out := d.came.by[file]
	d.came.mu.Unlock()
	if out.Status != pipeline.Held && out.Status != pipeline.Failed {
		return "", 0
	}
	for _, reason := range out.Reasons {
		switch {
		case reason.Severity != ingest.Hold && reason.Severity != ingest.Fail:
		case why == "":
			why = reason.What
		default:
			more++
		}
	}
	return why, more
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
		return nil, &pageError{http.StatusUnprocessableEntity, d.noInbox(r.Context())}
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
	var kept []string
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
		kept = append(kept, name+": sent.")
	}
	if n == 0 {
		return nil, badInput("no files were sent", "choose files, or drop them on the page")
	}
	// What was not taken stands first: there a person has something to do.
	t.Lines = append(t.Lines, kept...)
	t.Title = count(len(kept), "file") + " sent."
	if left := n - len(kept); left > 0 {
		t.Title = count(len(kept), "file") + " sent; " + strconv.Itoa(left) + " not taken."
	}
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
