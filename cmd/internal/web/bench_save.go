package web

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io/fs"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"time"
	"unicode"

	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
	"example.org/windrow/normalize"
)

// A savePlace says where a mapping would be written and what it takes the
// place of.
type savePlace struct {
	File    string // its name in the office's folder of mappings, "" while the text has mistakes
	Earlier string // the name of the office's file whose place it takes
	BuiltIn string // the one of the program whose place it takes
	WhyNot  string // it can't be written; what to do stands with it
	Date    string // from which the layout that reads the report is in force, YYYY-MM-DD
	Layout  string
}

// fileID is what an id of a mapping may be to become the name of a file.
var fileID = regexp.MustCompile(`^[a-z0-9][a-z0-9-]{0,60}$`)

// placeFor finds the place of a mapping. m is nil where the text has mistakes.
func (d *Desk) placeFor(s *sketchbook, m *mappings.Mapping) savePlace {
	if m == nil {
		return savePlace{}
	}
	if !fileID.MatchString(m.ID) {
		return savePlace{WhyNot: "The id of the mapping becomes the name of its file: give it one of at most 60 small letters, digits and hyphens, with a letter or digit in front."}
	}
	if d.off.Central() {
		return savePlace{WhyNot: "The mappings that count are those in the folders of the central engine’s workers, and not those of this office. Take the text along, put it into the folder of mappings there, and start the workers again."}
	}
	p := savePlace{File: m.ID + ".yaml"}
	now := mappingOf(d.off.Stages.Mappings(), m.ID)
	if now == nil {
		if _, err := os.Lstat(filepath.Join(d.off.Config.Mappings, p.File)); !errors.Is(err, fs.ErrNotExist) {
			p.WhyNot = "There is a file " + p.File + " in the office’s folder of mappings, and it is not in use, as when it has a mistake. Look at it first: windrow mapping check tells what is wrong. Move it away, or choose another id."
		}
		return p
	}
	if s.Base != m.ID {
		p.WhyNot = "The office has a mapping with the id " + m.ID + " already, of " + now.Lab + ". Choose another id; or begin anew from that mapping, if it is the same laboratory."
		return p
	}
	if now.SHA256 != s.SHA256 {
		p.WhyNot = "The mapping " + m.ID + " was changed since this draft was begun. Begin anew from it, so that nothing of the change is lost."
		return p
	}
	_, dir, err := d.off.Stages.MappingText(now, d.off.Config.Mappings)
	switch {
	case err != nil:
		p.WhyNot = "The file of the mapping " + m.ID + " was changed since it was loaded. Start Windrow again, and begin anew."
	case dir == "":
		p.BuiltIn = now.File
		if _, err := os.Lstat(filepath.Join(d.off.Config.Mappings, p.File)); !errors.Is(err, fs.ErrNotExist) {
			p.WhyNot = "There is a file " + p.File + " in the office’s folder of mappings that is not in use. Look at it first, and move it away."
		}
	case dir != d.off.Config.Mappings:
		p.WhyNot = "The mapping " + m.ID + " comes from a folder that was named when Windrow was started, and would outrank what is saved here. Change it there."
	default:
		p.File, p.Earlier = now.File, now.File
	}
	return p
}

// keyLine is a line of a block of YAML: its spaces, whether it begins an
// element of a list, its key, and what stands behind.
var keyLine = regexp.MustCompile(`^( *)((?:- +)?)([a-z][a-z ]*):(\s.*|)$`)

// inForce is a text in which a layout is in force from a date. What ended the
// day before the layout began ends the day before that date. Nothing but those
// dates is changed; the error is for people.
func inForce(text string, m *mappings.Mapping, l *mappings.Layout, date string) (string, error) {
	byHand := badInput("the date could not be put into the mapping", "write from: "+date+" into the layout "+strconv.Quote(l.Name)+" by hand")
	lines := strings.Split(text, "\n")
	out, ok := setKey(lines, l.Place.Line-1, "from", date)
	if !ok {
		return "", byHand
	}
	before := func(day string) string {
		t, err := time.Parse(time.DateOnly, day)
		if err != nil {
			return ""
		}
		return t.AddDate(0, 0, -1).Format(time.DateOnly)
	}
	// From the last to the first, since a line may be put in between.
	for i := len(m.Layouts) - 1; i >= 0; i-- {
		o := m.Layouts[i]
		if l.From == "" || o == l || o.To != before(l.From) {
			continue
		}
		at := o.Place.Line - 1
		if at > l.Place.Line-1 {
			at += len(out) - len(lines)
		}
		if out, ok = setKey(out, at, "until", before(date)); !ok {
			return "", byHand
		}
	}
	text = strings.Join(out, "\n")
	now, _ := mappings.Decode(textName, []byte(text), normalize.Vocabulary())
	if now == nil || len(now.Layouts) != len(m.Layouts) {
		return "", byHand
	}
	for i, x := range now.Layouts {
		if m.Layouts[i] == l && x.From != date {
			return "", byHand
		}
	}
	return text, nil
}

// setKey writes the value of a key into the block that begins at a line. What
// stands behind it in a comment stays.
func setKey(lines []string, at int, key, value string) ([]string, bool) {
	if at < 0 || at >= len(lines) {
		return nil, false
	}
	first := keyLine.FindStringSubmatch(lines[at])
	if first == nil {
		return nil, false
	}
	indent := len(first[1]) + len(first[2])
	for i := at; i < len(lines); i++ {
		bare := strings.TrimLeft(lines[i], " ")
		if bare == "" || bare[0] == '#' {
			continue
		}
		m := keyLine.FindStringSubmatch(lines[i])
		if i > at && (len(lines[i])-len(bare) < indent || m != nil && len(m[1]) < indent) {
			break
		}
		if m == nil || len(m[1])+len(m[2]) != indent || m[3] != key {
			continue
		}
		_, comment, has := strings.Cut(m[4], "#")
		lines = append([]string(nil), lines...)
		lines[i] = m[1] + m[2] + key + ": " + value
		if has {
			lines[i] += "  #" + comment
		}
		return lines, true
	}
	out := append([]string(nil), lines[:at+1]...)
	out = append(out, strings.Repeat(" ", indent)+key+": "+value)
	return append(out, lines[at+1:]...), true
}

// headed is a text with a line at its head that says who saved it, when and
// why.
func headed(text, by, because string, on time.Time) string {
	line := strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || unicode.Is(unicode.Zl, r) || unicode.Is(unicode.Zp, r) {
			return ' '
		}
		return r
	}, unasked(by+": "+because))
	return "# " + on.Format(time.DateOnly) + ", " + line + "\n" + text
}

// benchSave writes a mapping into the office's folder and has the reports that
// wait for it read anew.
func (d *Desk) benchSave(r *http.Request) (*answer, error) {
	rep, s, text, err := d.typed(r)
	if err != nil {
		return nil, err
	}
	by, because, date := strings.TrimSpace(r.PostForm.Get("by")), strings.TrimSpace(r.PostForm.Get("because")), strings.TrimSpace(r.PostForm.Get("date"))
	if who := decides(r.Context()); who != "" {
		by = who // who has signed in saves under no other name
	}
	back := func(title string, lines ...string) (*answer, error) {
		return &answer{to: "/report/" + rep.ID + "/mapping?told=" + d.told.put(&tale{Title: "Not saved: " + title, Lines: lines, Bad: true, Typed: map[string]string{"because": because, "date": date, "by": by}})}, nil
	}
	if by == "" || because == "" || len(by) > longestWords || len(because) > longestWords {
		return back("a mapping needs the name of the one who saves it, and why.", "Both stand in a line at its head. The draft is kept as it was typed.")
	}
	if _, err := time.Parse(time.DateOnly, date); date != "" && err != nil {
		return back("the date is none.", "Write it as year-month-day, such as 2026-06-01.")
	}
	d.trials.saving.Lock()
	defer d.trials.saving.Unlock()
	t, err := d.try(r.Context(), rep, text)
	if err != nil {
		return nil, err
	}
	switch {
	case t.TooLong:
		return back("the text is longer than a mapping may be.")
	case len(t.Mistakes) > 0:
		return back("the text has "+count(len(t.Mistakes), "mistake")+".", toldOf(t.Mistakes[:min(3, len(t.Mistakes))])...)
	case len(t.Questions) > 0:
		return back(count(len(t.Questions), "question")+" of the draft not answered yet.", "A mapping with an open question holds every report of its laboratory. Answer each by the laboratory’s guide, and take it away.")
	case t.Other != "":
		return back("this report is recognised by the mapping of "+t.Other+".", "Make the recognise texts more particular.")
	case !t.Recognised:
		return back("the mapping does not recognise the very report beside it.", toldOf(t.Holds)...)
	}
	if date != t.From && date != "" {
		if text, err = inForce(text, t.Mapping, t.Match.Layout, date); err != nil {
			return nil, err
		}
		if t, err = d.try(r.Context(), rep, text); err != nil {
			return nil, err
		}
		if !t.Recognised {
			return back("with that date the mapping does not recognise the report beside it.", toldOf(t.Holds)...)
		}
	}
	place := d.placeFor(s, t.Mapping)
	if place.WhyNot != "" {
		return back("it has no place to go.", place.WhyNot)
	}
	written, err := d.writeMapping(place, headed(text, by, because, d.today()))
	if err != nil {
		return nil, err
	}
	if amiss := d.off.Remap(); len(amiss) > 0 {
		written = append(written, "Another mapping file of the office has a mistake, and its laboratory’s reports wait: "+amiss[0].Where.File+".")
	}
	if err := d.dropDraft(rep.ID); err != nil {
		return nil, err
	}
	d.trials.forget(rep.ID)
	d.readings.forget()
	d.changed()
	v := &trialView{Report: rep.ID, Kind: "saved", Lab: t.Mapping.Lab, ID: t.Mapping.ID, Saved: written}
	ids, _, err := d.concerned(r.Context(), s, t.Mapping.ID, false)
	if err != nil {
		return nil, err
	}
	if ids, err = d.stillHeld(ids); err != nil {
		return nil, err
	}
	v.All = len(ids)
	// What was begun goes on when the page is closed, and ends with the office.
	ctx, cancel := context.WithTimeout(context.WithoutCancel(r.Context()), time.Hour)
	d.trials.begin(v, cancel)
	d.trials.works.Add(1)
	go func() {
		defer d.trials.works.Done()
		defer cancel()
		d.trials.turn.Lock()
		defer d.trials.turn.Unlock()
		err := d.off.ReadHeld(ctx, ids, d.today(), d.trials.counting(v))
		if err == nil {
			err = d.off.WriteLetterIndex()
		}
		d.readings.forget()
		d.changed()
		d.trials.end(v, err)
	}()
	return &answer{to: "/report/" + rep.ID + "/mapping"}, nil
}

// stillHeld are those of some reports that wait, by the archive.
func (d *Desk) stillHeld(ids []string) (out []string, err error) {
	for _, id := range ids {
		rep, _, err := d.archived(id)
		if err != nil {
			return nil, err
		}
		if rep.Status == normalize.Held && !normalize.Erased(rep) && !normalize.SetAside(rep) {
			out = append(out, id)
		}
	}
	return out, nil
}

// writeMapping writes a mapping's file whole. One whose place it takes is kept
// beside, in the folder earlier, before; a file that nobody spoke of is never
// written over. It says what was done.
func (d *Desk) writeMapping(p savePlace, text string) ([]string, error) {
	dir := d.off.Config.Mappings
	at := filepath.Join(dir, p.File)
	if err := os.MkdirAll(dir, 0o750); err != nil {
		return nil, notWritten(dir, err)
	}
	if p.Earlier == "" {
		if err := newFile(dir, p.File, []byte(text)); err != nil {
			return nil, err
		}
		said := "Saved as " + p.File + " in the office’s folder of mappings."
		if p.BuiltIn != "" {
			said += " It takes the place of the mapping that comes with Windrow."
		}
		return []string{said}, nil
	}
	if fi, err := os.Lstat(at); err != nil || !fi.Mode().IsRegular() {
		return nil, notWritten(at, errors.Join(err, errors.New("no plain file")))
	}
	old, err := os.ReadFile(at)
	if err != nil {
		return nil, notWritten(at, err)
	}
	sum := sha256.Sum256(old)
	earlier := filepath.Join(dir, "earlier")
	if err := os.MkdirAll(earlier, 0o750); err != nil {
		return nil, notWritten(earlier, err)
	}
	name := strings.TrimSuffix(p.File, ".yaml") + "-" + hex.EncodeToString(sum[:4]) + ".yaml"
	if have, err := os.ReadFile(filepath.Join(earlier, name)); err != nil || !bytes.Equal(have, old) {
		if err := newFile(earlier, name, old); err != nil {
			return nil, err
		}
	}
	if err := pipeline.Replace(at, []byte(text)); err != nil {
		return nil, err
	}
	return []string{"Saved as " + p.File + " in the office’s folder of mappings. The file that was in force is kept as earlier/" + name + "."}, nil
}

// newFile writes a file that is not there yet: whole or not at all.
func newFile(dir, name string, b []byte) error {
	f, err := os.CreateTemp(dir, ".windrow-*.part")
	if err != nil {
		return notWritten(dir, err)
	}
	defer func() { _ = os.Remove(f.Name()) }() // under its own name it stays
	_, err = f.Write(b)
	if err = errors.Join(err, f.Chmod(0o640), f.Sync(), f.Close()); err != nil {
		return notWritten(dir, err)
	}
	to := filepath.Join(dir, name)
	err = os.Link(f.Name(), to)
	if err != nil && !errors.Is(err, fs.ErrExist) {
		// Not every file system has links: there it is named, if nothing is in the way.
		if _, serr := os.Lstat(to); errors.Is(serr, fs.ErrNotExist) {
			err = os.Rename(f.Name(), to)
		}
	}
	if err != nil {
		return &ingest.Reason{Code: "mapping-not-written", Severity: ingest.Fail, Where: ingest.Place{File: name}, What: "the mapping was not saved, since a file of that name came to be there meanwhile", Expected: "a name that is free", Found: ingest.Cause(err), Next: "look at that file first; the draft is kept"}
	}
	return nil
}
