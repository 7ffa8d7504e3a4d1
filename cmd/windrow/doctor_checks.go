package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"example.org/windrow/cmd/internal/config"
	"example.org/windrow/cmd/internal/demo"
	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/ingest"
	"example.org/windrow/ingest/second"
	"example.org/windrow/interpret"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive/index"
)

// A doctor looks at an office and keeps what it found.
type doctor struct {
	e      *env
	cfg    *config.Config
	now    time.Time
	newest time.Time // the newest arrival, zero for none or not known
	found  []symptom
}

func landUses() []string { return normalize.LandUses() }

func (d *doctor) say(check, state, says, do string) {
	d.found = append(d.found, symptom{check, state, says, do})
}

// reason tells a reason on one line.
func (d *doctor) reason(check, state string, r *ingest.Reason) {
	says := r.What
	if !r.Where.IsZero() {
		says = r.Where.String() + ": " + says
	}
	if r.Found != "" {
		says += " (found: " + r.Found + ")"
	}
	d.say(check, state, says, r.Next)
}

func (d *doctor) settings(context.Context) {
	before := len(d.found)
	for _, s := range d.cfg.Unsaid() {
		d.say("settings", attention, s, "write it, so that clients know whom the letter is from")
	}
	if info, err := os.Stat(d.cfg.File()); err == nil && d.cfg.PDFPasswords != "" && d.cfg.From("pdf_passwords").Env == "" && info.Mode().Perm()&0o007 != 0 {
		d.say("settings", attention, config.FileName+" holds passwords, and every user of this computer may read it", "chmod o= "+d.cfg.File())
	}
	if at := d.cfg.DatasetKeyFile; at != "" {
		switch info, err := os.Stat(at); {
		case err != nil:
			d.say("settings", wrong, "the key of datasets can't be opened: "+ingest.Cause(err), "bring it back from where you keep it, or correct dataset_key_file")
		case info.Mode().Perm()&0o077 != 0:
			d.say("settings", attention, "others may read the key that hides identities in datasets", "chmod 600 "+at)
		}
	}
	if len(d.found) == before {
		d.say("settings", well, d.cfg.File()+" has no mistake", "")
	}
}

// folders looks at every folder that the work needs. Those in the office are
// made when they are first needed.
func (d *doctor) folders(context.Context) {
	c := d.cfg
	type needed struct{ what, path string }
	list := []needed{{"the office's folder", c.Dir}, {"done", c.Done}, {"held", c.Held}, {"letters", c.Letters}, {"datasets", c.Datasets}}
	if !c.Engine.Used() { // there the archive is no folder, nor the index a file
		list = append(list, needed{"archive", c.Archive}, needed{"the folder of the index", filepath.Dir(c.Index)})
	}
	for _, f := range c.Folders {
		list = append(list, needed{"a watched folder", f.Path})
	}
	good, absent := 0, 0
	for _, n := range list {
		info, err := os.Stat(n.path)
		rel, relErr := filepath.Rel(c.Dir, n.path)
		inside := relErr == nil && filepath.IsLocal(rel)
		switch {
		case errors.Is(err, fs.ErrNotExist) && inside:
			absent++
		case errors.Is(err, fs.ErrNotExist):
			d.say("folders", wrong, n.what+" is not there: "+n.path, "connect the drive that it lies on, or correct the settings")
		case err != nil:
			d.say("folders", wrong, n.what+" can't be looked into: "+n.path+": "+ingest.Cause(err), "check its rights")
		case !info.IsDir():
			d.say("folders", wrong, n.what+" is a file and no folder: "+n.path, "move the file away, or correct the settings")
		default:
			if err := pipeline.Writable(n.path); err != nil {
				d.say("folders", wrong, n.what+" can't be written to by this user: "+n.path+": "+ingest.Cause(err), "give the user who runs windrow the right to write there, or run this as that user")
				continue
			}
			good++
		}
	}
	switch {
	case good+absent < len(list):
	case absent > 0:
		d.say("folders", well, fmt.Sprintf("%d are there and can be written to; %d will be made when they are first needed", good, absent), "")
	default:
		d.say("folders", well, fmt.Sprintf("all %d are there and can be written to", good), "")
	}
}

// Below these a disk is nearly full; the same bounds are in the alert rules of
// deploy. Common practice, no source.
const (
	diskLow      = 2_000_000_000 // bytes
	diskLowShare = 10            // one in so many
	diskOut      = 200_000_000   // bytes; a few reports of the largest kind
)

// diskOf asks for the room on a path's disk; a test has others.
var diskOf = pipeline.DiskOf

func (d *doctor) disk(context.Context) {
	at, lies, spare := d.cfg.Archive, "the archive lies", "; nothing in the archive may be removed"
	if d.cfg.Engine.Used() { // the archive is elsewhere
		at, lies, spare = d.cfg.Done, "letters and done reports lie", ""
	}
	for {
		if _, err := os.Stat(at); err == nil || at == filepath.Dir(at) {
			break
		}
		at = filepath.Dir(at)
	}
	free, size, known := diskOf(at)
	says := fmt.Sprintf("%.1f GB of %.1f GB are free where %s", float64(free)/1e9, float64(size)/1e9, lies)
	switch {
	case !known:
		d.say("disk", attention, "the room on the disk of the archive can't be asked", "see to it yourself, from time to time")
	case free < diskOut:
		d.say("disk", wrong, says, "make room, or no report is taken soon"+spare)
	case free < diskLow || free < size/diskLowShare:
		d.say("disk", attention, says, "make room, or move the office to a larger disk"+spare)
	default:
		d.say("disk", well, says, "")
	}
}

func (d *doctor) archive(ctx context.Context) {
	if _, err := os.Stat(d.cfg.Archive); errors.Is(err, fs.ErrNotExist) && !d.cfg.Engine.Used() {
		d.say("archive", well, "there is none yet; the first report makes it", "")
		if filed, err := os.ReadDir(d.cfg.Done); err == nil && len(filed) > 0 {
			d.found[len(d.found)-1] = symptom{"archive", wrong, "there is none, and yet reports were filed in " + d.cfg.Done, "connect the drive that the archive lies on, or bring it back from a copy (windrow archive import); do not run windrow before"}
		}
		return
	}
	a, err := archiveOf(ctx, d.cfg)
	if err != nil {
		d.reason("archive", wrong, ingest.AsReason(err))
		return
	}
	open, err := a.OpenErasures()
	switch {
	case err != nil:
		d.reason("archive", wrong, ingest.AsReason(err))
	case len(open) > 0:
		d.say("archive", attention, plural(len(open), "erasure")+" was begun and not ended", "start windrow watch or windrow run, which ends it first")
	default:
		d.say("archive", well, "it can be opened: "+a.Dir(), "")
	}
}

func (d *doctor) index(ctx context.Context) {
	if _, err := os.Stat(d.cfg.Index); !index.IsServer(d.cfg.Index) && errors.Is(err, fs.ErrNotExist) {
		d.say("index", well, "there is none yet; it is made from the archive when reports are next worked on", "")
		return
	}
	newest, err := index.Examine(ctx, d.cfg.Index)
	switch {
	case index.Damaged(err):
		d.say("index", attention, "it is damaged: "+ingest.Cause(err), "windrow archive rebuild makes it anew; nothing is lost")
	case err != nil:
		d.reason("index", wrong, ingest.AsReason(err))
	default:
		d.newest = newest
		d.say("index", well, "it is sound: "+index.Shown(d.cfg.Index), "")
	}
}

// often is how often the archive should be verified and copied; a day is left
// for a computer that was off.
const often = 48 * time.Hour

func (d *doctor) jobs(context.Context) {
	for _, j := range []struct{ check, name, did, command, bad string }{
		{"verify", pipeline.Verified, "checked", "windrow archive verify", "run windrow archive verify, which names each file, and bring those back from a copy; see deploy/BACKUP.md"},
		{"backup", pipeline.Exported, "copied", "windrow archive export DIR", "run windrow archive export again, and see what it says"},
	} {
		job, err := pipeline.ReadJob(d.cfg, j.name)
		ago := d.now.Sub(job.At)
		switch {
		case err != nil:
			d.say(j.check, attention, "the note of when the archive was last "+j.did+" can't be read: "+ingest.Cause(err), "run "+j.command)
		case job.At.IsZero() && d.cfg.Engine.Used():
			d.say(j.check, attention, "the central archive was never "+j.did+" from this office", "see that one office of the engine does so every day: "+j.command)
		case job.At.IsZero():
			if _, err := os.Stat(d.cfg.Archive); errors.Is(err, fs.ErrNotExist) {
				d.say(j.check, well, "there is nothing yet that could be "+j.did, "")
				continue
			}
			d.say(j.check, attention, "the archive was never "+j.did, "run "+j.command+", and let it be run every day")
		case job.Failed || job.Problems > 0:
			d.say(j.check, wrong, fmt.Sprintf("when the archive was last to be %s, on %s, that failed or found %s", j.did, job.At.Format("2006-01-02"), plural(job.Problems, "problem")), j.bad)
		case ago > often:
			d.say(j.check, attention, fmt.Sprintf("the archive was last %s %d days ago", j.did, int(ago.Hours()/24)), "run "+j.command+", and let it be run every day")
		default:
			d.say(j.check, well, "the archive was "+j.did+" on "+job.At.Format("2006-01-02"), "")
		}
	}
}

// earliest is before this program was written, so that a clock that says less
// is wrong. So is one that is behind what this office noted by more than a day;
// the times of files come from other computers, and say only that one of the two
// is wrong.
var earliest = time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)

func (d *doctor) clock(context.Context) {
	last, what := d.newest, "the newest report in the archive"
	for name, says := range map[string]string{pipeline.Verified: "the last check of the archive", pipeline.Exported: "the last copy of the archive"} {
		if j, err := pipeline.ReadJob(d.cfg, name); err == nil && j.At.After(last) {
			last, what = j.At, says
		}
	}
	now := d.now.Format("2006-01-02 15:04")
	switch {
	case d.now.Before(earliest):
		d.say("clock", wrong, "it says "+now+", which is before this program was written", "set the clock before reports are worked on: letters and names of files bear its date")
	case last.After(d.now.Add(24*time.Hour)) && last.Equal(d.newest):
		// A file brings its own date, which another computer may have given it.
		d.say("clock", attention, "it says "+now+", and "+what+" came in a file of "+last.Format("2006-01-02 15:04"), "see whether the clock is right; if it is, the computer that wrote the file was wrong, and nothing is to be done")
	case last.After(d.now.Add(24 * time.Hour)):
		d.say("clock", wrong, "it says "+now+", and "+what+" is of "+last.Format("2006-01-02 15:04"), "set the clock; if it is right, the other one was wrong then")
	default:
		d.say("clock", well, "it says "+now, "")
	}
}

func (d *doctor) scans(ctx context.Context) {
	program, set := d.cfg.Tesseract, d.cfg.Tesseract != ""
	if !set {
		program = "tesseract"
	}
	at, err := exec.LookPath(program)
	switch {
	case err != nil && set:
		d.say("scans", wrong, "the program that the setting tesseract names is not there: "+program, "correct tesseract in "+config.FileName+", or take it out")
		return
	case err != nil:
		d.say("scans", attention, "there is no tesseract, so that a scan is held unread", "install Debian's tesseract-ocr if the office gets scans")
		return
	}
	ctx, cancel := context.WithTimeout(ctx, 20*time.Second)
	defer cancel()
	out, err := exec.CommandContext(ctx, at, "--list-langs").CombinedOutput()
	switch {
	case err != nil:
		d.say("scans", wrong, at+" does not run: "+ingest.Cause(err), "install tesseract-ocr anew")
	case !slices.Contains(strings.Fields(string(out)), "eng"):
		d.say("scans", wrong, at+" has no data for English", "install Debian's tesseract-ocr-eng")
	default:
		d.say("scans", well, "they are read by "+at, "")
	}
}

// cache looks where the second PDF engine keeps its machine code. Without it
// each start of a reader takes some seconds longer, and nothing else.
func (d *doctor) cache(context.Context) {
	const do = "set XDG_CACHE_HOME to a folder that the user who runs windrow may write to"
	dir := second.CacheDir()
	if dir == "" {
		d.say("cache", attention, "this user has no folder for caches, so that the second PDF engine starts slowly", do)
		return
	}
	at := dir
	for {
		info, err := os.Stat(at)
		if err == nil && !info.IsDir() {
			d.say("cache", attention, "the second PDF engine can't keep its machine code in "+dir+", and starts slowly: "+at+" is a file", do)
			return
		}
		if err == nil || at == filepath.Dir(at) {
			break
		}
		at = filepath.Dir(at)
	}
	if err := pipeline.Writable(at); err != nil {
		d.say("cache", attention, "the second PDF engine can't keep its machine code in "+dir+", and starts slowly: "+ingest.Cause(err), do)
		return
	}
	d.say("cache", well, "the second PDF engine keeps its machine code in "+dir, "")
}

// stages loads mappings and rule sets, and leads a report of the demonstration
// through all of it: the parsers in their processes, both PDF engines, the
// rules, and the fonts of letters.
func (d *doctor) stages(ctx context.Context) {
	st, reasons := pipeline.Load(d.e.want(d.cfg, true, 1))
	for _, r := range reasons {
		check := "mappings"
		if strings.HasPrefix(r.Code, "rule") {
			check = "rules"
		}
		d.reason(check, wrong, r)
	}
	if len(reasons) > 0 {
		return
	}
	defer st.Close()
	for _, r := range st.Amiss {
		d.reason("mappings", wrong, r)
	}
	if len(st.Amiss) == 0 {
		d.say("mappings", well, plural(len(st.Mappings().Mappings()), "laboratory mapping")+" can be used", "")
	}
	d.say("rules", well, fmt.Sprintf("advice is given by %s, one of %s", st.Rules.ID, plural(len(st.RuleSets), "rule set")), "")
	switch reg, reasons := st.RegisterFile(ctx, d.cfg); {
	case len(reasons) > 0:
		d.say("register", attention, fmt.Sprintf("%s: %s, and %s more", reasons[0].Where.String(), reasons[0].What, fmt.Sprint(len(reasons)-1)), "windrow register check tells each; until it is corrected the last good one counts")
	case reg != nil:
		d.say("register", well, "it has no mistake", "")
	}
	if err := d.selfTest(ctx, st); err != nil {
		r := ingest.AsReason(err)
		d.say("a report", wrong, "a report of the demonstration can't be worked on: "+r.What+" "+r.Found, "see windrow demo; if that fails, too, install the program anew")
		return
	}
	d.say("a report", well, "one of the demonstration was read twice, advised on, and set as a page and a PDF", "")
}

func (d *doctor) selfTest(ctx context.Context, st *pipeline.Stages) error {
	all := demo.Reports()
	i := slices.IndexFunc(all, func(r demo.Report) bool { return r.Name == "TG-26-01402.pdf" })
	rd, err := st.Read(ctx, ingest.NewSource(all[i].Name, all[i].Bytes), pipeline.Defaults{})
	if err != nil {
		return err
	}
	rep := rd.Report
	for _, r := range rep.Reasons {
		if r.Severity == ingest.Hold || r.Severity == ingest.Fail || r.Code == "second-engine-failed" {
			return r
		}
	}
	if len(rep.Records) == 0 {
		return errors.New("no sample was found in it")
	}
	rec := rep.Records[0]
	adv := st.Advise(rep, rec, interpret.Ask{On: d.now.Format("2006-01-02")})
	l := pipeline.LetterOf(adv, rec, rep, d.cfg)
	var page, file bytes.Buffer
	if err := errors.Join(l.HTML(&page), l.PDF(&file)); err != nil {
		return err
	}
	if page.Len() == 0 || !bytes.HasPrefix(file.Bytes(), []byte("%PDF-")) {
		return errors.New("its letter is empty")
	}
	return nil
}
