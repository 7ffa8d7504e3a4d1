package index_test

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive"
	"example.org/windrow/normalize/archive/index"
)

var noon = time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)

func open(t testing.TB, path string) *index.Index {
	t.Helper()
	ix, err := index.Open(context.Background(), path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = ix.Close() })
	return ix
}

func dump(t testing.TB, ix *index.Index) string {
	t.Helper()
	var b bytes.Buffer
	if err := ix.Dump(context.Background(), &b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// made is a report of a source: records samples of results results each.
func made(n int, status normalize.Status, records, results int) (src []byte, r *normalize.Report) {
	src = fmt.Appendf(nil, "source %d", n)
	id := fmt.Sprintf("R%016x", uint64(n+1)*0x9e3779b97f4a7c15)
	r = &normalize.Report{Schema: normalize.SchemaVersion, ID: id, Status: status, Lab: normalize.Lab{ID: fmt.Sprintf("lab-%d", n%3), Name: "Lab"},
		Number: fmt.Sprintf("N-%d", n), Source: ingest.SourceRef{Name: fmt.Sprintf("%d.csv", n), SHA256: archive.RefOf(src).SHA256(), Size: int64(len(src))},
		Mapping: normalize.MappingRef{ID: "m", Layout: "table"}, Version: "test", Office: "Finch"}
	if status == normalize.Held {
		r.Reasons = []*ingest.Reason{
			{Code: "unit-differs", Severity: ingest.Hold, What: "the unit is not the usual one"},
			{Code: "seen", Severity: ingest.Note, What: "a note"}}
	}
	for i := range records {
		rec := &normalize.Record{ID: fmt.Sprintf("%s-%d", id, i+1), Status: status, Sample: normalize.Sample{
			LabID: fmt.Sprintf("%d-%d", n%5, i), ClientLabel: "back field", County: "Finch", Sampled: "2026-03-01", Received: "2026-03-04",
			Reported: fmt.Sprintf("2026-%02d-10", n%12+1), LandUse: "lawn"},
			Client: &normalize.Client{Name: "Ada Quill"}, Checks: []normalize.Finding{}}
		for j := range results {
			res := &normalize.Result{Analyte: "P", Method: "mehlich-3", Status: normalize.OK, Value: "31.0", Unit: "mg/kg", Steps: []normalize.Step{}}
			if j%4 == 0 {
				res.Censored = "<"
				res.Findings = []normalize.Finding{{Check: "range", Severity: ingest.Flag, What: "unusual"}}
			}
			rec.Results = append(rec.Results, res)
		}
		r.Records = append(r.Records, rec)
	}
	return src, r
}

func encode(t testing.TB, r *normalize.Report) []byte {
	t.Helper()
	b, err := json.Marshal(r)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// fill puts n reports into an archive and, in an order of its own, into the
// index.
func fill(t testing.TB, a *archive.Archive, ix *index.Index, n int, seed uint64) {
	t.Helper()
	ctx := context.Background()
	var adds []func() error
	for i := range n {
		src, r := made(i, []normalize.Status{normalize.OK, normalize.Flagged, normalize.Held}[i%3], i%4, 3)
		ref, err := a.PutOriginal(src)
		if err != nil {
			t.Fatal(err)
		}
		adds = append(adds, func() error { return ix.AddOriginal(ctx, ref.SHA256(), int64(len(src))) })
		for v := range 1 + i%2 {
			r.Version = fmt.Sprintf("test %d", v)
			if v == 1 && len(r.Records) > 0 {
				r.Records = r.Records[:len(r.Records)-1]
				r.Status = normalize.Flagged
			}
			b := encode(t, r)
			version, _, err := a.PutReport(r.ID, b)
			if err != nil {
				t.Fatal(err)
			}
			adds = append(adds, func() error { return ix.AddReport(ctx, r.ID, version, b) })
		}
		for k := range 1 + i%3 {
			note := archive.Arrival{Name: fmt.Sprintf("%d-%d.csv", i, k), Channel: "folder", Office: "Finch", Time: noon.Add(-time.Duration(k*i) * time.Hour),
				SHA256: ref.SHA256(), Size: int64(len(src)), Outcome: []string{"ok", "again"}[k%2], Report: r.ID}
			where, err := a.PutArrival(note)
			if err != nil {
				t.Fatal(err)
			}
			adds = append(adds, func() error { return ix.AddArrival(ctx, where, note) })
		}
	}
	if src := []byte("kept, and not read yet"); n > 0 {
		ref, err := a.PutOriginal(src)
		if err != nil {
			t.Fatal(err)
		}
		adds = append(adds, func() error { return ix.AddOriginal(ctx, ref.SHA256(), int64(len(src))) })
	}
	rand.New(rand.NewPCG(seed, 1)).Shuffle(len(adds), func(i, j int) { adds[i], adds[j] = adds[j], adds[i] })
	for _, add := range adds {
		if err := add(); err != nil {
			t.Fatal(err)
		}
	}
}

func newArchive(t testing.TB) *archive.Archive {
	t.Helper()
	a, err := archive.Open(filepath.Join(t.TempDir(), "archive"))
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// Whatever the order in which things were told, the index is the one that a
// rebuild makes from the archive, row for row.
func TestRebuildIsIdentical(t *testing.T) { onBoth(t, testRebuildIsIdentical) }

func testRebuildIsIdentical(t *testing.T) {
	for seed := range uint64(5) {
		a := newArchive(t)
		path := fresh(t)
		ix := open(t, path)
		if need, why := ix.NeedsRebuild(); !need || why != "there was no index" && why != "the index in the database was never completed" {
			t.Errorf("a new index: %v, %q", need, why)
		}
		fill(t, a, ix, 24, seed)
		told := dump(t, ix)
		for table, least := range map[string]int{"sources ": 25, "reports ": 24, "records ": 24, "results ": 60, "reasons ": 30, "arrivals ": 40} {
			if n := strings.Count("\n"+told, "\n"+table); n < least {
				t.Errorf("only %d rows in %s", n, table)
			}
		}
		if err := ix.Rebuild(t.Context(), a); err != nil {
			t.Fatal(err)
		}
		if got := dump(t, ix); got != told {
			t.Fatalf("seed %d: rebuilt in place:\n%s", seed, diff(told, got))
		}
		if need, why := ix.NeedsRebuild(); need {
			t.Errorf("after a rebuild: %q", why)
		}
		if err := ix.Check(t.Context()); err != nil {
			t.Error(err)
		}
		// The file is deleted: the next Open says so, and nothing was lost.
		if ix.Gone() {
			t.Error("Gone, while it is there")
		}
		if index.IsServer(path) {
			_ = ix.Close()
			if err := index.Remove(path); err != nil {
				t.Fatal(err)
			}
		} else if _ = os.Remove(path); !ix.Gone() {
			t.Error("not Gone, while the file is deleted")
		}
		again := open(t, path)
		if need, _ := again.NeedsRebuild(); !need {
			t.Error("a deleted index doesn't need a rebuild")
		}
		if err := again.CatchUp(t.Context(), a); err != nil {
			t.Fatal(err)
		}
		if got := dump(t, again); got != told {
			t.Fatalf("seed %d: caught up from nothing:\n%s", seed, diff(told, got))
		}
		if err := again.Rebuild(t.Context(), a); err != nil {
			t.Fatal(err)
		}
		if got := dump(t, again); got != told {
			t.Fatalf("seed %d: rebuilt from nothing:\n%s", seed, diff(told, got))
		}
		_ = again.Close()
		third := open(t, path)
		if need, why := third.NeedsRebuild(); need {
			t.Errorf("a rebuilt index opened again: %q", why)
		}
	}
}

func diff(want, got string) string {
	w, g := strings.Split(want, "\n"), strings.Split(got, "\n")
	for i := range max(len(w), len(g)) {
		var x, y string
		if i < len(w) {
			x = w[i]
		}
		if i < len(g) {
			y = g[i]
		}
		if x != y {
			return "want " + x + "\n got " + y
		}
	}
	return ""
}

func TestCatchUp(t *testing.T) { onBoth(t, testCatchUp) }

func testCatchUp(t *testing.T) {
	a := newArchive(t)
	ix := open(t, fresh(t))
	fill(t, a, ix, 10, 1)
	before := dump(t, ix)
	if err := ix.CatchUp(t.Context(), a); err != nil || dump(t, ix) != before {
		t.Fatalf("nothing to catch up with, and yet: %v", err)
	}
	// Stopped between archive and index: a new report, and a new version.
	src, r := made(99, normalize.OK, 2, 2)
	_, _ = a.PutOriginal(src)
	if _, _, err := a.PutReport(r.ID, encode(t, r)); err != nil {
		t.Fatal(err)
	}
	_, r = made(3, normalize.Held, 1, 1)
	r.Version = "later"
	if _, _, err := a.PutReport(r.ID, encode(t, r)); err != nil {
		t.Fatal(err)
	}
	if err := ix.CatchUp(t.Context(), a); err != nil {
		t.Fatal(err)
	}
	caught := dump(t, ix)
	if err := ix.Rebuild(t.Context(), a); err != nil {
		t.Fatal(err)
	}
	if got := dump(t, ix); got != caught || got == before {
		t.Errorf("caught up: %s", diff(got, caught))
	}
}

func TestDamagedIndex(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "index.db")
	for i, content := range []string{"this is no database", strings.Repeat("x", 8192)} {
		if err := os.WriteFile(path, []byte(content), 0o644); err != nil {
			t.Fatal(err)
		}
		ix := open(t, path)
		need, why := ix.NeedsRebuild()
		aside := fmt.Sprintf("index.db.damaged-%d", i+1)
		if !need || !strings.Contains(why, aside) {
			t.Errorf("%v, %q", need, why)
		}
		if b, err := os.ReadFile(filepath.Join(dir, aside)); err != nil || string(b) != content {
			t.Errorf("what was set aside: %q, %v", b, err)
		}
		if err := ix.Rebuild(t.Context(), newArchive(t)); err != nil {
			t.Error(err)
		}
		_ = ix.Close()
	}
}

func TestLaterIndex(t *testing.T) {
	path := filepath.Join(t.TempDir(), "index.db")
	_ = open(t, path).Close()
	db, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := db.Exec(`INSERT INTO goose_db_version (version_id, is_applied) VALUES (9999, 1)`); err != nil {
		t.Fatal(err)
	}
	_ = db.Close()
	_, err = index.Open(t.Context(), path)
	var r *ingest.Reason
	if !errors.As(err, &r) || !strings.Contains(r.Found, "later version") || !strings.Contains(r.Next, "delete") {
		t.Errorf("Open: %v", err)
	}
	if _, err := os.Stat(path); err != nil {
		t.Errorf("the later index was touched: %v", err)
	}
}

// One damaged document must not keep the others out of sight, nor pass
// unseen.
func TestRebuildOverDamage(t *testing.T) { onBoth(t, testRebuildOverDamage) }

func testRebuildOverDamage(t *testing.T) {
	a := newArchive(t)
	ix := open(t, fresh(t))
	fill(t, a, ix, 6, 1)
	_, r := made(4, normalize.OK, 1, 1)
	p := filepath.Join(a.Dir(), "reports", r.ID[1:3], r.ID, "0001.json")
	_ = os.Chmod(p, 0o644)
	if err := os.WriteFile(p, []byte("{}"), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := ix.Rebuild(t.Context(), a); !errors.Is(err, archive.ErrDamaged) {
		t.Errorf("Rebuild: %v", err)
	}
	if need, _ := ix.NeedsRebuild(); !need {
		t.Error("an index with a gap believes that it is whole")
	}
	if c, err := ix.Counts(t.Context()); err != nil || c.Reports != 5 {
		t.Errorf("%+v, %v; want the five sound reports", c, err)
	}
}

func TestRebuildCancelledChangesNothing(t *testing.T) { onBoth(t, testRebuildCancelledChangesNothing) }

func testRebuildCancelledChangesNothing(t *testing.T) {
	a := newArchive(t)
	ix := open(t, fresh(t))
	fill(t, a, ix, 6, 1)
	before := dump(t, ix)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if err := ix.Rebuild(ctx, a); !errors.Is(err, context.Canceled) {
		t.Errorf("Rebuild: %v", err)
	}
	if got := dump(t, ix); got != before {
		t.Errorf("changed: %s", diff(before, got))
	}
}

func TestQueries(t *testing.T) { onBoth(t, testQueries) }

func testQueries(t *testing.T) {
	ctx := t.Context()
	a := newArchive(t)
	ix := open(t, fresh(t))
	fill(t, a, ix, 24, 3)

	src, want := made(7, normalize.Flagged, 3, 3) // two versions, two arrivals; the second version is flagged and has one record less
	hash := archive.RefOf(src).SHA256()
	s, known, err := ix.Known(ctx, hash)
	if err != nil || !known || s.Outcome != "flagged" || s.Arrivals != 2 || !slices.Equal(s.Reports, []string{want.ID}) ||
		s.Name != "7-1.csv" || s.FirstSeen != "2026-11-25T05:00:00Z" || s.Size != int64(len(src)) {
		t.Errorf("Known: %+v, %v, %v", s, known, err)
	}
	if s, known, err := ix.Known(ctx, archive.RefOf([]byte("kept, and not read yet")).SHA256()); err != nil || !known || s.Outcome != "" || s.Reports != nil {
		t.Errorf("Known of one that was only kept: %+v, %v, %v", s, known, err)
	}
	if _, known, err := ix.Known(ctx, strings.Repeat("0", 64)); known || err != nil {
		t.Errorf("Known of none: %v, %v", known, err)
	}

	for _, c := range []struct {
		f    index.Filter
		want int
	}{
		{index.Filter{}, 24}, {index.Filter{Status: "held"}, 4}, {index.Filter{Lab: "lab-1"}, 8}, {index.Filter{Lab: "lab-1", Status: "ok"}, 0},
		{index.Filter{From: "2026-03-01", To: "2026-03-31"}, 2}, {index.Filter{From: "2026-03-10", To: "2026-04-10"}, 4},
		{index.Filter{To: "2026-03-10"}, 2}, {index.Filter{To: "2026-03-09"}, 0}, {index.Filter{Limit: 7}, 7}, {index.Filter{Limit: 7, Offset: 21}, 3}, {index.Filter{Office: "Wren"}, 0},
		{index.Filter{Lab: "' OR 1=1 --"}, 0},
	} {
		rs, err := ix.Reports(ctx, c.f)
		if err != nil || len(rs) != c.want {
			var dates []string
			for _, r := range rs {
				dates = append(dates, r.Reported)
			}
			t.Errorf("Reports(%+v): %d, %v, want %d; %v", c.f, len(rs), err, c.want, dates)
		}
		if !slices.IsSortedFunc(rs, func(x, y index.Report) int { return strings.Compare(y.Reported, x.Reported) }) {
			t.Errorf("Reports(%+v): not latest first", c.f)
		}
	}

	held, err := ix.Held(ctx)
	if err != nil || len(held) != 4 {
		t.Fatalf("Held: %v, %v", held, err)
	}
	for _, h := range held {
		if h.Status != "held" || len(h.Reasons) != 1 || h.Reasons[0].Code != "unit-differs" || h.Reasons[0].What == "" {
			t.Errorf("Held: %+v", h)
		}
	}
	all, err := ix.Reasons(ctx, held[0].ID)
	if err != nil || len(all) < 2 || all[1].Severity != "note" {
		t.Errorf("Reasons: %+v, %v", all, err)
	}

	if rs, err := ix.Find(ctx, want.ID+"-2", ""); err != nil || len(rs) != 1 || rs[0].LabID != "2-1" || rs[0].ClientLabel != "back field" || rs[0].Report != want.ID {
		t.Errorf("Find by id: %+v, %v", rs, err)
	}
	if rs, err := ix.Find(ctx, "2-1", ""); err != nil || len(rs) < 2 {
		t.Errorf("Find by the laboratory's number: %+v, %v", rs, err)
	}
	if rs, err := ix.Find(ctx, want.ID+"-3", ""); err != nil || len(rs) != 0 {
		t.Errorf("Find of a record that the later version hasn't: %+v, %v", rs, err)
	}

	c, err := ix.Counts(ctx)
	if err != nil || c.Sources != 25 || c.Reports != 24 || c.Arrivals != 48 || c.Status["held"] != 4 || c.Labs["lab-2"] != 8 || c.Holds["unit-differs"] != 4 || c.Holds["seen"] != 0 {
		t.Errorf("Counts: %+v, %v", c, err)
	}
}

// What the decoder takes from the published format is what package normalize
// writes: every field of the index is told apart by its value.
func TestDecodesWhatNormalizeWrites(t *testing.T) { onBoth(t, testDecodesWhatNormalizeWrites) }

func testDecodesWhatNormalizeWrites(t *testing.T) {
	ix := open(t, fresh(t))
	r := &normalize.Report{ID: "R0123456789abcdef", Status: "held", Lab: normalize.Lab{ID: "lab-id", Name: "lab-name"}, Number: "report-number",
		Source: ingest.SourceRef{Name: "source-name", Member: "member-name", SHA256: strings.Repeat("a", 64), Size: 4711}, Mapping: normalize.MappingRef{ID: "mapping-id", Layout: "layout-id", SHA256: "mapping-bytes"},
		Version: "software-version", Office: "office-name", Reasons: []*ingest.Reason{{Code: "reason-code", Severity: ingest.Hold, What: "reason-words"}},
		Records: []*normalize.Record{{ID: "R0123456789abcdef-1", Status: "record-status",
			Sample: normalize.Sample{LabID: "lab-sample", ClientLabel: "client-sample\x00", County: "county-name", Sampled: "2026-01-01", Received: "2026-01-02", Reported: "2026-01-03", LandUse: "land-use"},
			Client: &normalize.Client{Name: "client-name"}, Checks: []normalize.Finding{{Check: "record-check", Severity: ingest.Flag, What: "record-words"}},
			Results: []*normalize.Result{{Analyte: "analyte-id", Detail: "detail-text", Method: "method-id", Value: "6.50", Unit: "unit-id", Censored: "<", Status: "result-status", Printed: normalize.Printed{Class: "rating-class"},
				Findings: []normalize.Finding{{Check: "result-check", Severity: ingest.Note, What: "result-words"}}}}}}}
	if err := ix.AddReport(t.Context(), r.ID, 3, encode(t, r)); err != nil {
		t.Fatal(err)
	}
	got := dump(t, ix)
	want := `sources sha256="` + strings.Repeat("a", 64) + `" name="" size="4711" first_seen=""
reports id="R0123456789abcdef" version="3" lab="lab-id" lab_name="lab-name" report_no="report-number" status="held" sha256="` + strings.Repeat("a", 64) + `" name="source-name" member="member-name" mapping="mapping-id" layout="layout-id" software="software-version" office="office-name" reported="2026-01-03" records="1" results="1" mapping_sha256="mapping-bytes" contradicted="0"
records id="R0123456789abcdef-1" report_id="R0123456789abcdef" ordinal="1" lab_sample_id="lab-sample" client_sample_id="client-sample` + "\ufffd" + `" county="county-name" sampled="2026-01-01" received="2026-01-02" reported="2026-01-03" land_use="land-use" status="record-status" fingerprint="" said="cf9daa0ba4556c30d168aab53221aa70" lab_sample_folded="LAB-SAMPLE" client="~be7f6e4a"
results record_id="R0123456789abcdef-1" ordinal="1" analyte="analyte-id" detail="detail-text" method="method-id" value="6.50" unit="unit-id" censored="<" status="result-status" rating="rating-class"
reasons report_id="R0123456789abcdef" ordinal="1" record_id="" analyte="" code="reason-code" severity="hold" what="reason-words" expected="" found=""
reasons report_id="R0123456789abcdef" ordinal="2" record_id="R0123456789abcdef-1" analyte="" code="record-check" severity="flag" what="record-words" expected="" found=""
reasons report_id="R0123456789abcdef" ordinal="3" record_id="R0123456789abcdef-1" analyte="analyte-id" code="result-check" severity="note" what="result-words" expected="" found=""
`
	for _, term := range []string{"client", "clientsample", "county", "countyname", "lab", "labname", "labsample", "member", "membername", "name", "number", "r0123456789abcdef", "report", "reportnumber", "sample", "source", "sourcename",
		"~1ef59ca6", "~be7f6e4a", "~e435b435"} { // of the words of the client's name, by sha256sum
		want += `terms term="` + term + `" report_id="R0123456789abcdef"` + "\n"
	}
	if got != want {
		t.Errorf("%s", diff(want, got))
	}
	if strings.Contains(got, "client-name") {
		t.Error("a client's name is in the index")
	}
	// Piece by piece it is the same, and what is no report is refused.
	from := open(t, fresh(t))
	if err := from.AddReportFrom(t.Context(), r.ID, 3, r.WriteJSON); err != nil || dump(t, from) != want {
		t.Errorf("piece by piece: %v\n%s", err, diff(want, dump(t, from)))
	}
	for _, bad := range []string{`{"id":"Rffffffffffffffff"}`, `{`, `[]`, `{"id":7}`, `{"records":{}}`, `{"id":"R0123456789abcdef","records":[7]}`, `{"id":"R0123456789abcdef","records":[`} {
		err := from.AddReportFrom(t.Context(), r.ID, 4, func(w io.Writer) error { _, err := io.WriteString(w, bad); return err })
		if err == nil || dump(t, from) != want {
			t.Errorf("AddReportFrom of %s: %v", bad, err)
		}
	}
	// An older version told late changes nothing; another id inside is refused.
	if err := ix.AddReport(t.Context(), r.ID, 2, []byte(`{"id":"R0123456789abcdef"}`)); err != nil || dump(t, ix) != want {
		t.Errorf("an older version: %v", err)
	}
	for _, bad := range []string{`{"id":"Rffffffffffffffff"}`, `{`, `[]`, `{"id":7}`} {
		if err := ix.AddReport(t.Context(), r.ID, 4, []byte(bad)); err == nil || dump(t, ix) != want {
			t.Errorf("AddReport of %s: %v", bad, err)
		}
	}
}

// Several processes, here several open indexes, begin and fill one file
// together.
func TestTogether(t *testing.T) { onBoth(t, testTogether) }

func testTogether(t *testing.T) {
	a := newArchive(t)
	path := fresh(t)
	var wg sync.WaitGroup
	for w := range 4 {
		wg.Go(func() {
			ix, err := index.Open(t.Context(), path)
			if err != nil {
				t.Error(err)
				return
			}
			defer func() { _ = ix.Close() }()
			for i := range 20 {
				n := w%2*20 + i // two writers each for the same reports
				src, r := made(n, normalize.OK, 2, 3)
				b := encode(t, r)
				ref, err := a.PutOriginal(src)
				if err == nil {
					_, _, err = a.PutReport(r.ID, b)
				}
				if err == nil {
					err = ix.AddReport(t.Context(), r.ID, 1, b)
				}
				if err == nil {
					err = ix.AddOriginal(t.Context(), ref.SHA256(), int64(len(src)))
				}
				if err == nil {
					_, _, err = ix.Known(t.Context(), ref.SHA256())
				}
				if err != nil {
					t.Error(err)
				}
			}
		})
	}
	wg.Wait()
	ix := open(t, path)
	told := dump(t, ix)
	if err := ix.Rebuild(t.Context(), a); err != nil {
		t.Fatal(err)
	}
	if got := dump(t, ix); got != told || !strings.Contains(got, "reports ") {
		t.Error(diff(got, told))
	}
}

// Released reports are counted by the bytes of the mapping that read them; a
// held one isn't, nor is an older version. What somebody has looked at is
// remembered through a rebuild.
func TestReadWith(t *testing.T) { onBoth(t, testReadWith) }

func testReadWith(t *testing.T) {
	ctx := t.Context()
	a, err := archive.Open(filepath.Join(t.TempDir(), "archive"))
	if err != nil {
		t.Fatal(err)
	}
	ix := open(t, fresh(t))
	put := func(i, version int, status normalize.Status, sha string) {
		_, r := made(i, status, 1, 1)
		r.Mapping.SHA256 = sha
		if err := ix.AddReport(ctx, r.ID, version, encode(t, r)); err != nil {
			t.Fatal(err)
		}
	}
	put(1, 1, normalize.OK, "old")
	put(2, 1, normalize.Flagged, "old")
	put(3, 1, normalize.Held, "old")
	put(4, 1, normalize.OK, "old")
	put(4, 2, normalize.OK, "new")
	rows, err := ix.ReadWith(ctx)
	if want := []index.ReadWith{{Mapping: "m", SHA256: "new", Reports: 1}, {Mapping: "m", SHA256: "old", Reports: 2}}; err != nil || !slices.Equal(rows, want) {
		t.Errorf("%v %v, want %v", rows, err, want)
	}
	if s, err := ix.Seen(ctx, "m"); s != "" || err != nil {
		t.Errorf("seen %q %v before anybody looked", s, err)
	}
	for _, sha := range []string{"new", "newer"} {
		if err := ix.SetSeen(ctx, "m", sha); err != nil {
			t.Fatal(err)
		}
	}
	if err := ix.Rebuild(ctx, a); err != nil {
		t.Fatal(err)
	}
	if s, err := ix.Seen(ctx, "m"); s != "newer" || err != nil {
		t.Errorf("seen %q %v after a rebuild", s, err)
	}
}
