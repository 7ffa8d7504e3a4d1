package archive

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"golang.org/x/sync/errgroup"
)

// The codes of what Verify finds.
const (
	CodeDamaged  = "damaged"          // the bytes don't agree with the hash
	CodeEmpty    = "empty"            // a name that was taken and never filled
	CodeMissing  = "missing-original" // a document or a note names an original that isn't there
	CodeNoReport = "missing-report"   // a note names a report that isn't there
	CodeStray    = "stray"            // a file that doesn't belong where it is
	CodeName     = "wrong-name"       // content and name, or name and folder, don't agree
	CodeJSON     = "not-json"         // a document that is no JSON
	CodeSchema   = "not-valid"        // JSON that the given validator refuses
	CodeGap      = "gap"              // a version number is missing among the others
	CodeNoSum    = "no-checksum"      // a document without a checksum beside it
	CodeSecond   = "second-version"   // a document that may be written only once has been written again
	CodeFolder   = "missing-folder"   // one of the archive's own folders is missing
	CodeErasing  = "erasure-open"     // an erasure that was begun and not finished
	CodeErased   = "erased"           // something that was erased and is there again
	CodeRead     = "unreadable"       // the disk or the rights don't let it be read
)

// A Problem is one thing that is wrong with an archive.
type Problem struct {
	Code string `json:"code"` // one of the codes of this package
	Path string `json:"path"` // from the archive's folder, with forward slashes
	What string `json:"what"` // one sentence for a person
	Next string `json:"next"` // what to do about it
}

// String is the problem on one line.
func (p Problem) String() string {
	return p.Path + ": [" + p.Code + "] " + p.What + "; " + p.Next
}

// A Count says how much Verify looked at.
type Count struct {
	Originals int            `json:"originals"`
	Documents map[string]int `json:"documents"` // by kind; every version counts
	Arrivals  int            `json:"arrivals"`
	Bytes     int64          `json:"bytes"`    // read and checked
	Incoming  int            `json:"incoming"` // temporary files: being written now, or left by a crash and not yet an hour old
}

type verifier struct {
	*Archive
	ctx      context.Context
	validate func(kind string, b []byte) error
	grave    *graveyard

	mu       sync.Mutex // of what follows
	problems []Problem
	count    Count
	again    map[string]bool // erased originals that came again since
	absent   []unfound       // looked at again at the end, when it is known what came again
	noSum    []string        // documents seen without a checksum; looked at again at the end
}

// An unfound is an original that is not there, and what names it.
type unfound struct{ rel, hash string }

// note changes what is found out about several files at once.
func (v *verifier) note(change func()) {
	v.mu.Lock()
	defer v.mu.Unlock()
	change()
}

// Verify reads the whole archive and checks it: that every original is what
// its name says, every document agrees with its checksum, is JSON, pleases
// validate (nil for any JSON), has the id of its folder and refers to an
// original that is there, that every note of an arrival can be read, and that
// nothing else lies about. It changes nothing and may run beside writers.
// The problems come in order of their paths. The error is for a check that
// could not be carried through, such as a cancelled ctx; problems found up to
// then are returned with it.
func (a *Archive) Verify(ctx context.Context, validate func(kind string, b []byte) error) ([]Problem, Count, error) {
	v := &verifier{Archive: a, ctx: ctx, validate: validate, count: Count{Documents: map[string]int{}}}
	err := v.run()
	slices.SortStableFunc(v.problems, func(x, y Problem) int { return strings.Compare(x.Path, y.Path) })
	return v.problems, v.count, err
}

func (v *verifier) add(code, path, next, what string, args ...any) {
	v.note(func() { v.problems = append(v.problems, Problem{code, path, fmt.Sprintf(what, args...), next}) })
}

const (
	nextRestore = "bring it back from a backup"
	nextMove    = "move it out of the archive after a look at what it is"
)

func (v *verifier) run() error {
	if _, err := v.checkFormat(); err != nil {
		return err
	}
	if err := v.bury(); err != nil {
		return err
	}
	es, err := v.fs.ReadDir(v.dir)
	if err != nil {
		return ioFault("list a folder", v.dir, err)
	}
	found := map[string]bool{}
	for _, e := range es {
		found[e.Name()] = true
		switch {
		case e.IsDir() && slices.Contains(topDirs(), e.Name()):
		case e.Type().IsRegular() && (e.Name() == formatFile || e.Name() == readmeFile):
		case e.IsDir():
			v.add(CodeStray, e.Name(), nextMove, "this folder is not a part of the archive")
		default:
			v.add(CodeStray, e.Name(), nextMove, "this file is not a part of the archive")
		}
	}
	visits := map[string]func(string, fs.DirEntry) error{
		incomingDir:  func(string, fs.DirEntry) error { v.note(func() { v.count.Incoming++ }); return nil },
		originalsDir: v.original,
		arrivalsDir:  v.arrival,
	}
	// Originals before documents before notes: the order in which they are
	// written, so that a writer at work never looks like damage.
	for _, d := range topDirs() {
		if !found[d] {
			if d != incomingDir && !v.lacks(d, fs.ErrNotExist) { // copies need not have the first
				v.add(CodeFolder, d, nextRestore, "this folder of the archive is missing")
			}
			continue
		}
		if d == arrivalsDir {
			continue
		}
		visit := visits[d]
		if visit == nil {
			if err := v.kind(d); err != nil {
				return err
			}
			continue
		}
		if err := v.tree(v.path(d), visit); err != nil {
			return err
		}
	}
	if found[arrivalsDir] {
		if err := v.tree(v.path(arrivalsDir), v.arrival); err != nil {
			return err
		}
	}
	for _, x := range v.absent {
		if !v.excused(x.hash) {
			v.add(CodeMissing, x.rel, "bring originals/"+x.hash[:2]+"/"+refPrefix+x.hash+" back from a backup",
				"the original that this was made of is missing")
		}
	}
	v.erased()
	for _, p := range v.noSum {
		if _, err := v.fs.Lstat(p + sumSuffix); errors.Is(err, fs.ErrNotExist) {
			v.add(CodeNoSum, v.rel(p), "put the same document again, or compare it with a backup",
				"there is no checksum beside this document, so that damage to it would not show")
		}
	}
	return nil
}

// tree is walk that goes on past folders that can't be listed and stops when
// the context does. In an archive that is far away several files and folders
// are looked at together; else one after another.
func (v *verifier) tree(dir string, visit func(path string, e fs.DirEntry) error) error {
	var beside errgroup.Group
	beside.SetLimit(atOnce(v.fs) - 1)
	var walk func(dir string) error
	walk = func(dir string) error {
		es, err := v.fs.ReadDir(dir)
		if err != nil {
			v.unreadable(dir, err)
			return nil
		}
		for _, e := range es {
			if err := v.ctx.Err(); err != nil {
				return err
			}
			p := filepath.Join(dir, e.Name())
			look := func() error {
				if e.IsDir() {
					return walk(p)
				}
				return visit(p, e)
			}
			if beside.TryGo(look) {
				continue
			}
			if err := look(); err != nil {
				return err
			}
		}
		return nil
	}
	err := walk(dir)
	if other := beside.Wait(); err == nil {
		err = other
	}
	return err
}

func (v *verifier) unreadable(path string, err error) {
	v.add(CodeRead, v.rel(path), "check the disk and the rights of the folder", "this can't be read: %v", err)
}

// load reads a regular file and counts its bytes; ok is false when it could
// not, which has then been told.
func (v *verifier) load(path string, e fs.DirEntry) (b []byte, ok bool) {
	if !e.Type().IsRegular() {
		v.add(CodeStray, v.rel(path), nextMove, "this is not a plain file")
		return nil, false
	}
	b, err := v.fs.ReadFile(path)
	if err != nil {
		v.unreadable(path, err)
		return nil, false
	}
	v.note(func() { v.count.Bytes += int64(len(b)) })
	return b, true
}

func (v *verifier) empty(path string) {
	v.add(CodeEmpty, v.rel(path), "if no writer is at work, remove it after comparing with a backup",
		"this file is empty: its writer did not finish, or it lost its content")
}

func (v *verifier) original(path string, e fs.DirEntry) error {
	name := e.Name()
	if !isOriginal(name) {
		v.add(CodeStray, v.rel(path), nextMove, "this is not named as an original is")
		return nil
	}
	if want := v.originalPath(Ref(name)); path != want {
		v.add(CodeName, v.rel(path), "move it to "+v.rel(want), "this original lies in the wrong folder")
	}
	b, ok := v.load(path, e)
	if !ok {
		return nil
	}
	v.note(func() { v.count.Originals++ })
	switch got := RefOf(b); {
	case got == Ref(name):
	case len(b) == 0:
		v.empty(path)
	default:
		v.add(CodeDamaged, v.rel(path), nextRestore, "the SHA-256 of its %d bytes is %s and not what its name says", len(b), got.SHA256())
	}
	return nil
}

func (v *verifier) kind(kind string) error {
	versions := map[string][]int{} // of one shard at a time
	shards, err := v.fs.ReadDir(v.path(kind))
	if err != nil {
		v.unreadable(v.path(kind), err)
		return nil
	}
	for _, s := range shards {
		p := v.path(kind, s.Name())
		if !s.IsDir() {
			v.add(CodeStray, v.rel(p), nextMove, "this file doesn't belong here")
			continue
		}
		clear(versions)
		if err := v.tree(p, func(path string, e fs.DirEntry) error {
			v.document(kind, path, e, versions)
			return nil
		}); err != nil {
			return err
		}
		for id, have := range versions {
			v.gaps(kind, id, have)
		}
	}
	return nil
}

// gaps tells of the first version that is missing below another and was not
// erased.
func (v *verifier) gaps(kind, id string, have []int) {
	for n := range slices.Max(have) {
		p := Erased{Kind: kind, ID: id, Version: n + 1}.place()
		if !slices.Contains(have, n+1) && v.grave.documents[p] == nil {
			v.add(CodeGap, p, nextRestore, "this version is missing, although there is a later one")
			return
		}
	}
}

func (v *verifier) document(kind, path string, e fs.DirEntry, versions map[string][]int) {
	rel := v.rel(path)
	parts := strings.Split(rel, "/") // kind, shard, id, name
	name, isSum := strings.CutSuffix(e.Name(), sumSuffix)
	n, isVersion := parseVersion(name)
	if len(parts) != 4 || !isVersion || !validID(parts[2]) {
		v.add(CodeStray, rel, nextMove, "this is not named as a version of a document is")
		return
	}
	id := parts[2]
	if parts[1] != shard(id) && !isSum {
		v.add(CodeName, rel, "move the folder to "+kind+"/"+shard(id)+"/"+id, "this document lies in the wrong folder")
	}
	if isSum && v.grave.documents[strings.TrimSuffix(rel, sumSuffix)] != nil {
		return // told with its tombstone
	}
	if isSum {
		switch _, err := v.fs.Lstat(strings.TrimSuffix(path, sumSuffix)); {
		case errors.Is(err, fs.ErrNotExist):
			v.note(func() { versions[id] = append(versions[id], n) })
			v.add(CodeStray, rel, "bring the document back from a backup", "the document that this checksum belongs to is missing")
		case err != nil:
			v.unreadable(path, err)
		}
		return
	}
	v.note(func() { versions[id] = append(versions[id], n) })
	if kind == SignOffs && n > 1 {
		v.add(CodeSecond, rel, nextMove, "a sign-off is written once, and this is a second version of one")
	}
	b, ok := v.load(path, e)
	if !ok {
		return
	}
	v.note(func() { v.count.Documents[kind]++ })
	if len(b) == 0 {
		v.empty(path)
		return
	}
	v.checkSum(path, rel, e.Name(), b)
	if !json.Valid(b) {
		v.add(CodeJSON, rel, nextRestore, "this is not a complete JSON document")
		return
	}
	if v.validate != nil {
		if err := v.validate(kind, b); err != nil {
			v.add(CodeSchema, rel, "compare it with a backup", "this document is not as its published form demands: %v", err)
		}
	}
	v.refer(kind, id, rel, b)
}

func (v *verifier) checkSum(path, rel, name string, b []byte) {
	sum, err := v.fs.ReadFile(path + sumSuffix)
	switch {
	case errors.Is(err, fs.ErrNotExist), err == nil && len(sum) == 0:
		v.note(func() { v.noSum = append(v.noSum, path) })
	case err != nil:
		v.unreadable(path+sumSuffix, err)
	case string(sum) != string(sumLine(name, b)):
		v.add(CodeDamaged, rel, nextRestore, "this document and the checksum beside it don't agree")
	}
}

// refer checks what the archive knows about a document: that a report or a
// sign-off carries the id of its folder, and that the original it was read
// from is there.
func (v *verifier) refer(kind, id, rel string, b []byte) {
	var d struct {
		ID     string `json:"id"`
		Source struct {
			SHA256 string `json:"sha256"`
		} `json:"source"`
	}
	if err := json.Unmarshal(b, &d); err != nil {
		if kind != Advice {
			v.add(CodeSchema, rel, "compare it with a backup", "its id and source can't be read: %v", err)
		}
		return
	}
	if kind != Advice && d.ID != id {
		v.add(CodeName, rel, "compare it with a backup", "the document says that it is %q, its folder that it is %s", d.ID, id)
	}
	if kind == Reports {
		v.cameAgain(rel, d.Source.SHA256)
	}
	if kind == Reports || d.Source.SHA256 != "" {
		v.needOriginal(rel, d.Source.SHA256)
	}
}

func (v *verifier) needOriginal(rel, hash string) {
	switch ok, err := v.Has(hash); {
	case errors.Is(err, ErrKey):
		v.add(CodeMissing, rel, "compare it with a backup", "this names no original that could be looked up: %q", hash)
	case err != nil:
		v.unreadable(v.path(originalsDir), err)
	case !ok:
		v.note(func() { v.absent = append(v.absent, unfound{rel, hash}) })
	}
}

func (v *verifier) arrival(path string, e fs.DirEntry) error {
	rel := v.rel(path)
	if !validArrivalPlace(rel) {
		v.add(CodeStray, rel, nextMove, "this is not named as the note of an arrival is, or lies in the wrong month")
		return nil
	}
	b, ok := v.load(path, e)
	if !ok {
		return nil
	}
	v.note(func() { v.count.Arrivals++ })
	if len(b) == 0 {
		v.empty(path)
		return nil
	}
	var n Arrival
	if err := json.Unmarshal(b, &n); err != nil {
		v.add(CodeJSON, rel, nextRestore, "this note can't be read: %v", err)
		return nil
	}
	m := arrivalName.FindStringSubmatch(e.Name())
	if !strings.HasPrefix(n.SHA256, m[2]) || n.Time.Format(arrivalTime) != m[1] {
		v.add(CodeName, rel, nextRestore, "time or hash inside this note are not those of its name")
	}
	v.cameAgain(rel, n.SHA256)
	v.needOriginal(rel, n.SHA256)
	if n.Report != "" {
		switch vs, err := v.Versions(Reports, n.Report); {
		case err != nil && !errors.Is(err, ErrKey):
			v.unreadable(path, err)
		case len(vs) == 0:
			v.add(CodeNoReport, rel, "bring reports/ back from a backup, or run the original again", "the report %q that this note names is missing", n.Report)
		}
	}
	return nil
}
