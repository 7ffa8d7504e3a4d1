package archive_test

import (
	"bytes"
	"errors"
	"fmt"
	"maps"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize/archive"
)

// The person whose data is erased in these tests, and what stays of the report.
const person = "Ilse Marrow"

var (
	personSource = []byte("P 31 ppm, for " + person)
	personReport = report(idA, personSource, person)
	keptReport   = report(idA, personSource, "erased")
	otherSource  = []byte("K 212 ppm, for nobody")
	otherReport  = report(idB, otherSource, "nobody")
)

// fill makes an archive with a report of a person, read twice, and another.
func fill(t testing.TB, a *archive.Archive) (note string) {
	t.Helper()
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	for _, b := range [][]byte{personSource, otherSource} {
		_, err := a.PutOriginal(b)
		must(err)
	}
	for _, b := range [][]byte{report(idA, personSource, "first, "+person), personReport} {
		_, _, err := a.PutReport(idA, b)
		must(err)
	}
	_, _, err := a.PutReport(idB, otherReport)
	must(err)
	_, _, err = a.PutAdvice(idA+"-1", []byte(`{"to":"`+person+`"}`))
	must(err)
	_, _, err = a.PutAdvice(idB+"-1", []byte(`{"to":"nobody"}`))
	must(err)
	_, _, err = a.Put(archive.Rulings, idA, []byte(`{"id":"`+idA+`","because":"`+person+` called"}`))
	must(err)
	_, _, err = a.Put(archive.Proofs, idA, []byte(`{"id":"`+idA+`","words":"`+person+`"}`))
	must(err)
	must(a.PutSignOff(signID, signOffBy(signID)))
	for i, b := range [][]byte{otherSource, personSource} {
		note, err = a.PutArrival(archive.Arrival{Name: person + ".csv", Channel: "folder", Time: jobTime, SHA256: archive.RefOf(b).SHA256(),
			Size: int64(len(b)), Outcome: "ok", Report: []string{idB, idA}[i]})
		must(err)
	}
	return note
}

func signOffBy(id string) []byte { return []byte(`{"id":"` + id + `","name":"Somebody"}`) }

func request(note string) archive.EraseRequest {
	return archive.EraseRequest{Report: idA, Kept: keptReport, Originals: []string{archive.RefOf(personSource).SHA256()}, Arrivals: []string{note},
		Advice: []string{idA + "-1"}, By: "Records Desk", Because: "request of 2026-11-20", On: jobTime}
}

// erase erases as a caller does: what was begun before is finished first.
func erase(a *archive.Archive, note string) error {
	open, err := a.OpenErasures()
	if err != nil {
		return err
	}
	if len(open) == 0 {
		t, err := a.BeginErasure(request(note))
		if err != nil || t == nil {
			return err
		}
		open = append(open, t)
	}
	for _, t := range open {
		if err := a.CarryOut(t); err != nil {
			return err
		}
		if err := a.FinishErasure(t); err != nil {
			return err
		}
	}
	return nil
}

func TestEraseLeavesATombstoneAndTheRecord(t *testing.T) {
	a := open(t)
	note := fill(t, a)
	before := files(t, a.Dir())
	for range 2 { // the second finds nothing to do
		if err := erase(a, note); err != nil {
			t.Fatal(err)
		}
	}
	clean(t, a)
	after := files(t, a.Dir())
	for p, b := range after {
		if strings.Contains(b, person) && !strings.HasPrefix(p, "arrivals/") { // the other note bears the name too, and stays
			t.Errorf("%s still names the person: %q", p, b)
		}
		if was, ok := before[p]; ok && was != b {
			t.Errorf("%s was changed", p)
		}
	}
	hash := archive.RefOf(personSource).SHA256()
	for what, err := range map[string]error{
		"original": second(a.Original(hash)), "version": second(a.Version(archive.Reports, idA, 1)), "note": second(a.Arrival(note)),
		"advice": third(a.Latest(archive.Advice, idA+"-1")), "ruling": third(a.Latest(archive.Rulings, idA)),
		"proof": third(a.Latest(archive.Proofs, idA)),
	} {
		if !errors.Is(err, archive.ErrErased) || !errors.Is(err, archive.ErrNotFound) {
			t.Errorf("%s: %v", what, err)
			continue
		}
		if r := ingest.AsReason(err); r.Code != "archive-erased" || !strings.Contains(r.Found, "Records Desk on 2026-11-25") || r.Next == "" {
			t.Errorf("%s: %v", what, err)
		}
	}
	if b, v, err := a.Latest(archive.Reports, idA); err != nil || v != 3 || !bytes.Equal(b, keptReport) {
		t.Errorf("what stays: version %d, %q, %v", v, b, err)
	}
	stones := 0
	if err := a.EachTombstone(func(s *archive.Tombstone) error {
		stones++
		if !s.Finished || s.By != "Records Desk" || len(s.Documents) != 5 || len(s.Originals) != 1 || len(s.Arrivals) != 1 || s.Kept.Version != 3 {
			t.Errorf("%+v", s)
		}
		return nil
	}); err != nil || stones != 1 {
		t.Errorf("%d tombstones, %v", stones, err)
	}
}

func second[T any](_ T, err error) error        { return err }
func third[T, U any](_ T, _ U, err error) error { return err }

// The same bytes that come again are a new arrival: no number and no place of
// what went is given again, nothing of it is taken for the erased, and a
// second request erases it anew.
func TestErasedBytesThatComeAgain(t *testing.T) {
	a := open(t)
	note := fill(t, a)
	if err := erase(a, note); err != nil {
		t.Fatal(err)
	}
	r, err := a.PutOriginal(personSource)
	if err != nil {
		t.Fatal(err)
	}
	if v, isNew, err := a.PutReport(idA, personReport); v != 4 || !isNew || err != nil {
		t.Fatalf("version %d, new %v, %v", v, isNew, err)
	}
	if v, _, err := a.PutAdvice(idA+"-1", []byte(`{"to":"`+person+`"}`)); v != 2 || err != nil {
		t.Fatalf("advice: version %d, %v", v, err)
	}
	again, err := a.PutArrival(archive.Arrival{Name: person + ".csv", Channel: "folder", Time: jobTime, SHA256: r.SHA256(), Size: int64(len(personSource)), Outcome: "ok", Report: idA})
	if err != nil || again == note {
		t.Fatalf("%s, %v", again, err)
	}
	clean(t, a)
	if err := a.EachTombstone(a.CarryOut); err != nil { // what came again is not what was erased
		t.Fatal(err)
	}
	clean(t, a)
	if _, err := a.Original(r.SHA256()); err != nil {
		t.Fatal(err)
	}
	if err := erase(a, again); err != nil {
		t.Fatal(err)
	}
	clean(t, a)
	if _, err := a.Original(r.SHA256()); !errors.Is(err, archive.ErrErased) {
		t.Error(err)
	}
}

// Verify tells of an erasure that was cut short, of what was brought back by
// a copy of an old backup, and of what should have stayed and did not.
func TestVerifyKnowsTombstones(t *testing.T) {
	find := func(a *archive.Archive, code, path string) {
		t.Helper()
		ps, _, err := a.Verify(t.Context(), nil)
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range ps {
			if p.Code != code {
				t.Errorf("told besides: %v", p)
			}
		}
		if !slices.ContainsFunc(ps, func(p archive.Problem) bool { return strings.HasPrefix(p.Path, path) && p.Next != "" }) {
			t.Errorf("no %s for %s in %v", code, path, ps)
		}
	}
	a := open(t)
	note := fill(t, a)
	before := files(t, a.Dir())
	if _, err := a.BeginErasure(request(note)); err != nil {
		t.Fatal(err)
	}
	find(a, archive.CodeErasing, "tombstones/01/"+idA)
	if _, err := a.BeginErasure(request(note)); !errors.Is(err, archive.ErrConflict) || !strings.Contains(err.Error(), "--finish") {
		t.Errorf("a second beside it: %v", err)
	}
	if err := erase(a, note); err != nil {
		t.Fatal(err)
	}
	clean(t, a)
	for _, back := range []string{note, "reports/01/" + idA + "/0001.json", "originals/" + archive.RefOf(personSource).SHA256()[:2] + "/" + string(archive.RefOf(personSource))} {
		write(t, filepath.Join(a.Dir(), back))
		overwrite(t, filepath.Join(a.Dir(), back), before[back])
		if strings.HasPrefix(back, "reports") {
			write(t, filepath.Join(a.Dir(), back+".sha256"))
			overwrite(t, filepath.Join(a.Dir(), back+".sha256"), before[back+".sha256"])
		}
		find(a, archive.CodeErased, back)
		if err := a.EachTombstone(a.CarryOut); err != nil {
			t.Fatal(err)
		}
		clean(t, a)
	}
	kept := filepath.Join(a.Dir(), "reports/01", idA, "0003.json")
	overwrite(t, kept, string(personReport))
	ps, _, err := a.Verify(t.Context(), nil)
	if err != nil || !slices.ContainsFunc(ps, func(p archive.Problem) bool { return strings.Contains(p.What, "its tombstone") }) {
		t.Errorf("%v, %v", ps, err)
	}
	if err := a.EachTombstone(a.CarryOut); !errors.Is(err, archive.ErrConflict) {
		t.Errorf("carried out although nothing would stay: %v", err)
	}
}

// What a tombstone names is removed, so that one that names anything else
// than an archive's own files of that report is refused.
func TestTombstoneIsRefused(t *testing.T) {
	good := archive.Tombstone{Schema: archive.TombstoneSchema, ID: idA, By: "a", Because: "b", On: jobTime, Kept: archive.Erased{Kind: "reports", ID: idA, Version: 3, SHA256: strings.Repeat("0", 64)}}
	for name, spoil := range map[string]func(s *archive.Tombstone){
		"":         func(*archive.Tombstone) {},
		"form":     func(s *archive.Tombstone) { s.Schema = "x" },
		"whom":     func(s *archive.Tombstone) { s.By = " " },
		"why":      func(s *archive.Tombstone) { s.Because = "" },
		"original": func(s *archive.Tombstone) { s.Originals = []string{"../../etc"} },
		"note":     func(s *archive.Tombstone) { s.Arrivals = []string{"arrivals/../format.json"} },
		"another": func(s *archive.Tombstone) {
			s.Documents = []archive.Erased{{Kind: "reports", ID: idB, Version: 1, SHA256: strings.Repeat("0", 64)}}
		},
		"kind": func(s *archive.Tombstone) {
			s.Documents = []archive.Erased{{Kind: "signoffs", ID: idA, Version: 1, SHA256: strings.Repeat("0", 64)}}
		},
		"later": func(s *archive.Tombstone) {
			s.Documents = []archive.Erased{{Kind: "reports", ID: idA, Version: 4, SHA256: strings.Repeat("0", 64)}}
		},
		"both": func(s *archive.Tombstone) { s.Documents = []archive.Erased{s.Kept} },
	} {
		s := good
		spoil(&s)
		b, err := s.JSON()
		if err != nil {
			t.Fatal(err)
		}
		if _, err := archive.ParseTombstone(b); (err == nil) != (name == "") {
			t.Errorf("%q: %v", name, err)
		}
	}
}

// The process stops at its n-th call while it erases, for every n: run again
// it leaves what an undisturbed run leaves, and in between verify tells either
// nothing or that an erasure is open. The record that stays is never lost.
func TestStopAtEveryCallOfErase(t *testing.T) {
	run := func(fsys archive.FS, note string) error {
		a, err := archive.OpenOn(fsys, memDir)
		if err != nil {
			return err
		}
		return erase(a, note)
	}
	start := func() (*memFS, string) {
		m := newMemFS()
		m.mayRemove = true
		a, err := archive.OpenOn(m, memDir)
		if err != nil {
			t.Fatal(err)
		}
		return m, fill(t, a)
	}
	whole, note := start()
	if err := run(whole, note); err != nil {
		t.Fatal(err)
	}
	stops := 0
	for _, end := range []string{"killed", "power", "some"} {
		for n := 1; ; n++ {
			m, note := start()
			err := run(&faultFS{FS: m, at: n, cause: errDead, dead: true, torn: true}, note)
			switch end {
			case "power":
				m.powerCut(nil)
			case "some":
				m.powerCut(rand.New(rand.NewPCG(1, uint64(n))))
			}
			m.now = m.now.Add(2 * time.Hour)
			between, oerr := archive.OpenOn(m, memDir)
			if oerr != nil {
				t.Fatal(oerr)
			}
			ps, _, verr := between.Verify(t.Context(), nil)
			for _, p := range ps {
				if verr != nil || p.Code != archive.CodeErasing && p.Code != archive.CodeNoSum {
					t.Fatalf("%s, call %d: %v, %v", end, n, p, verr)
				}
			}
			if err := run(m, note); err != nil {
				t.Fatalf("%s, call %d: running again: %v", end, n, err)
			}
			m.powerCut(nil)
			if got := m.files(); !maps.Equal(got, whole.files()) {
				t.Fatalf("%s, call %d: the archive differs: %s", end, n, unlike(got, whole.files()))
			}
			if err == nil {
				break
			}
			stops++
		}
	}
	if stops < 100 {
		t.Errorf("only %d stops", stops)
	}
	t.Logf("%d stops", stops)
}

// unlike names the files by which two archives differ.
func unlike(got, want map[string]string) string {
	var out []string
	for p, b := range got {
		if w, ok := want[p]; !ok || w != b {
			out = append(out, fmt.Sprintf("has %s %q", p, b))
		}
	}
	for p := range want {
		if _, ok := got[p]; !ok {
			out = append(out, "lacks "+p)
		}
	}
	return strings.Join(out, "; ")
}
