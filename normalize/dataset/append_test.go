package dataset_test

import (
	"bytes"
	"errors"
	"io/fs"
	"maps"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/dataset"
)

// A second run adds what is new and touches nothing else; one without anything
// new writes nothing; and the order of the reports doesn't matter.
func TestAppendAddsWhatIsNew(t *testing.T) {
	rs, _ := inventedArchive(400)
	s := newShelf()
	first := grow(t, s, rs[:250])
	if first.Edition != 1 || first.Added == 0 || first.Samples != first.Added || first.Withdrawn != 0 {
		t.Fatalf("%+v", first)
	}
	before, was := s.clone(), read(t, s)
	shuffled := slices.Clone(rs[:250])
	slices.Reverse(shuffled)
	if again := grow(t, s, shuffled); again.Edition != 1 || again.Added+again.Replaced+again.Withdrawn+again.Written+again.Removed != 0 || again.Samples != first.Samples || again.Waiting != first.Waiting {
		t.Fatalf("nothing was new: %+v", again)
	}
	if !maps.EqualFunc(before.files, s.files, bytes.Equal) {
		t.Fatal("a run without anything new changed files")
	}
	second := grow(t, s, rs)
	if second.Edition != 2 || second.Added == 0 || second.Replaced+second.Withdrawn != 0 || second.Samples != first.Samples+second.Added {
		t.Fatalf("%+v", second)
	}
	for n, b := range before.files {
		if !strings.Contains(n, "/manifest-") && !bytes.Equal(s.files[n], b) {
			t.Errorf("%s was written again", n)
		}
	}
	now := read(t, s)
	for code, rows := range was.rows {
		if now.rows[code] != rows {
			t.Fatalf("the rows of %s changed", code)
		}
	}
	fewest, groups := singledOut([]edition{was, now}, clientsOf(rs))
	if fewest < 5 || groups < 20 {
		t.Errorf("a group of %d clients among %d", fewest, groups)
	}
	// What two datasets made apart tell is what this is for: there the same
	// intruder finds people.
	apart, other := newShelf(), newShelf()
	grow(t, apart, rs[:250])
	grow(t, other, rs)
	if fewest, _ := singledOut([]edition{read(t, apart), read(t, other)}, clientsOf(rs)); fewest >= 5 {
		t.Error("the attack finds nobody where it must")
	}
}

// Samples wait until those of enough clients are alike, and come out then.
func TestAppendWaits(t *testing.T) {
	rs, s := many(8, nil), newShelf()
	if told := grow(t, s, rs[:4]); told.Edition != 1 || told.Samples != 0 || told.Waiting != 4 || len(s.files) != 1 {
		t.Fatalf("%+v", told)
	}
	if told := grow(t, s, rs[:5]); told.Samples != 5 || told.Waiting != 0 {
		t.Fatalf("%+v", told)
	}
	// Three more would stand out as the ones that came, among those who are
	// there as well.
	if told := grow(t, s, rs); told.Samples != 5 || told.Waiting != 3 || told.Edition != 2 {
		t.Fatalf("%+v", told)
	}
}

// What a person asked to be erased is in no file afterwards; others of the
// group went with it, so that nobody sees who it was; and none of them comes
// back.
func TestAppendErases(t *testing.T) {
	rs, _ := inventedArchive(300)
	s := newShelf()
	grow(t, s, rs)
	history := []edition{read(t, s)}
	codes := map[string]bool{}
	var left []*normalize.Report
	for _, r := range rs {
		mine := clientsOf([]*normalize.Report{r})
		published := slices.ContainsFunc(slices.Collect(maps.Keys(mine)), func(c string) bool { return history[0].shows[c] != "" })
		if len(codes) == 0 && published && len(r.Records) == 1 {
			maps.Copy(codes, map[string]bool{slices.Collect(maps.Keys(mine))[0]: true})
			continue
		}
		left = append(left, r)
	}
	told := grow(t, s, left)
	history = append(history, read(t, s))
	if told.Withdrawn < 5 || told.Companions != told.Withdrawn-1 || told.Added != 0 {
		t.Fatalf("%+v", told)
	}
	for code := range codes {
		for n, b := range s.files {
			if bytes.Contains(b, []byte(code)) {
				t.Errorf("%s still has %s", n, code)
			}
		}
	}
	if fewest, _ := singledOut(history, clientsOf(rs)); fewest < 5 {
		t.Errorf("a group of %d clients", fewest)
	}
	// The results that stay in the archive without the person stay out as well.
	for _, r := range rs {
		if !slices.Contains(left, r) {
			bare, err := normalize.WithoutPerson(r, nil)
			if err != nil {
				t.Fatal(err)
			}
			if told := grow(t, s, append(slices.Clone(left), bare)); told.Added+told.Replaced+told.Withdrawn+told.Waiting != 0 {
				t.Errorf("%+v", told)
			}
		}
	}
	// It comes again, and so does nobody.
	if told := grow(t, s, rs); told.Added+told.Replaced+told.Withdrawn != 0 || told.Edition != 2 {
		t.Errorf("%+v", told)
	}
}

// A number that was corrected is never left as it was: its sample goes, with
// others, or has its new rows where as many others were corrected, too.
func TestAppendCorrects(t *testing.T) {
	rs, _ := inventedArchive(300)
	s := newShelf()
	grow(t, s, rs)
	was := read(t, s)
	change := func(which func(i int, r *normalize.Report) bool) (out []*normalize.Report) {
		for i, r := range rs {
			if c := copied(t, r); which(i, r) {
				for _, rec := range c.Records {
					rec.Results[0].Value = "77.77"
					rec.Results[0].Printed.Number, rec.Results[0].Printed.Text = "77.77", "77.77"
					rec.Results[0].Censored = ""
				}
				r = c
			}
			out = append(out, r)
		}
		return out
	}
	one := slices.IndexFunc(rs, func(r *normalize.Report) bool {
		return len(r.Records) == 1 && was.shows[codeOf(r.Lab.ID, r.Number, r.Records[0].Sample.LabID)] != ""
	})
	code := codeOf(rs[one].Lab.ID, rs[one].Number, rs[one].Records[0].Sample.LabID)
	alone := s.clone()
	told := grow(t, alone, change(func(i int, _ *normalize.Report) bool { return i == one }))
	if now := read(t, alone); now.rows[code] != "" || told.Withdrawn < 5 || told.Companions != told.Withdrawn-1 {
		t.Errorf("%+v", told)
	}
	told = grow(t, s, change(func(int, *normalize.Report) bool { return true }))
	now := read(t, s)
	if told.Replaced == 0 || told.Replaced+told.Withdrawn != len(was.shows) {
		t.Errorf("%+v of %d", told, len(was.shows))
	}
	for code, rows := range now.rows {
		if !strings.Contains(rows, "77.7") && !strings.Contains(rows, "77.8") {
			t.Fatalf("%s has its old rows:\n%s", code, rows)
		}
	}
	if fewest, _ := singledOut([]edition{was, now}, clientsOf(rs)); fewest < 5 {
		t.Errorf("a group of %d clients", fewest)
	}
}

// Whatever comes, goes and changes, in whatever order: whoever kept every
// edition finds no group of fewer than k clients, every edition is as the
// archive says, and nothing is lost but what had to go.
func TestAppendSinglesOutNobody(t *testing.T) {
	rs, _ := inventedArchive(40)
	clients := clientsOf(rs)
	rapid.Check(t, func(t *rapid.T) {
		s := newShelf()
		var history []edition
		there, version := map[int]bool{}, map[int]int{}
		for range rapid.IntRange(2, 4).Draw(t, "runs") {
			for range rapid.IntRange(1, 4).Draw(t, "events") {
				from := rapid.IntRange(0, len(rs)-1).Draw(t, "from")
				n := rapid.SampledFrom([]int{1, 2, 10, 20, 40}).Draw(t, "many")
				what := rapid.SampledFrom([]string{"come", "come", "go", "value", "county", "test"}).Draw(t, "what")
				for i := from; i < min(from+n, len(rs)); i++ {
					switch what {
					case "come":
						there[i] = true
					case "go":
						delete(there, i)
					case "value":
						version[i] |= 1
					case "county":
						version[i] |= 2
					case "test":
						version[i] |= 4
					}
				}
			}
			var now []*normalize.Report
			for _, i := range slices.Sorted(maps.Keys(there)) {
				r := copied(t, rs[i])
				for _, rec := range r.Records {
					if version[i]&1 != 0 {
						rec.Results[0].Value, rec.Results[0].Printed.Text, rec.Results[0].Printed.Number, rec.Results[0].Censored = "9.5", "9.5", "9.5", ""
					}
					if version[i]&2 != 0 {
						rec.Sample.County = "Quarry"
					}
					if version[i]&4 != 0 {
						rec.Results = rec.Results[1:]
					}
				}
				now = append(now, r)
			}
			told, err := dataset.Append(s, all(now...), inParts)
			if err != nil {
				t.Fatal(err)
			}
			e := read(t, s)
			history = append(history, e)
			in := clientsOf(now)
			for code := range e.shows {
				if in[code] == "" {
					t.Fatalf("%s is not in the archive", code)
				}
			}
			if told.Samples != len(e.shows) {
				t.Fatalf("%+v, %d", told, len(e.shows))
			}
			if n := filesOf(t, s); n != len(s.files) {
				t.Fatalf("%d files, %d of the edition", len(s.files), n)
			}
		}
		if fewest, _ := singledOut(history, clients); fewest != 0 && fewest < 5 {
			t.Fatalf("a group of %d clients", fewest)
		}
	})
}

// A run that is stopped at any of its writes, before it or after it, leaves the
// edition before or the new one, whole; the next run ends as one that was never
// stopped, and nothing of the stopped one is left.
func TestAppendStopped(t *testing.T) {
	rs, _ := inventedArchive(60)
	base := newShelf()
	grow(t, base, rs[:40])
	later := rs[1:]
	clean := base.clone()
	grow(t, clean, later)
	was, want := read(t, base), read(t, clean)
	if maps.Equal(was.rows, want.rows) {
		t.Fatal("nothing to do")
	}
	stops := 0
	for n := 0; ; n++ {
		ended := false
		for _, after := range []bool{false, true} {
			s := base.clone()
			s.left, s.after = n, after
			_, err := dataset.Append(s, all(later...), inParts)
			if err == nil {
				ended = true
				break
			}
			if !errors.Is(err, errStopped) {
				t.Fatal(err)
			}
			stops++
			s.left = -1
			got := read(t, s)
			if !maps.Equal(got.rows, was.rows) && !maps.Equal(got.rows, want.rows) {
				t.Fatalf("stopped at call %d: neither the edition before nor the new one", n)
			}
			grow(t, s, later)
			if got := read(t, s); !maps.Equal(got.rows, want.rows) {
				t.Fatalf("stopped at call %d: the next run ends otherwise", n)
			}
			if files := filesOf(t, s); files != len(s.files) {
				t.Fatalf("stopped at call %d: %d files, %d of the edition", n, len(s.files), files)
			}
		}
		if ended {
			break
		}
	}
	if stops < 20 {
		t.Fatalf("stopped %d times", stops)
	}
	t.Logf("stopped %d times", stops)
}

// Of two runs at once one alone writes its edition.
func TestAppendTwoAtOnce(t *testing.T) {
	rs, _ := inventedArchive(200)
	s := newShelf()
	_, err := dataset.Append(s, func(yield func(*normalize.Report) error) error {
		if len(s.files) == 0 {
			grow(t, s, rs[:100])
		}
		return all(rs...)(yield)
	}, inParts)
	var r *ingest.Reason
	if !errors.As(err, &r) || r.Code != "dataset-two-runs" {
		t.Fatal(err)
	}
	want := newShelf()
	grow(t, want, rs[:100])
	if !maps.Equal(read(t, s).rows, read(t, want).rows) {
		t.Error("the edition of the first is not what it was")
	}
}

// What can't be carried on is refused, and nothing of it changes.
func TestAppendRefuses(t *testing.T) {
	rs, _ := inventedArchive(200)
	s := newShelf()
	grow(t, s, rs)
	refuse := func(code string, opt dataset.PartsOptions, spoil func(*shelf)) {
		t.Helper()
		c := s.clone()
		if spoil != nil {
			spoil(c)
		}
		before := maps.Clone(c.files)
		_, err := dataset.Append(c, all(rs...), opt)
		var r *ingest.Reason
		if !errors.As(err, &r) || r.Code != code {
			t.Errorf("%v in place of %s", err, code)
		}
		if !maps.EqualFunc(before, c.files, bytes.Equal) {
			t.Errorf("%s: files changed", code)
		}
	}
	o := inParts
	o.Key = []byte("another key of another office...")
	refuse("dataset-parts-other", o, nil)
	o = inParts
	o.MinGroup = 6
	refuse("dataset-parts-other", o, nil)
	o = inParts
	o.County = "Finch"
	refuse("dataset-parts-other", o, nil)
	o = inParts
	o.Key = []byte("short")
	refuse("dataset-key", o, nil)
	o = inParts
	o.MinGroup = 2
	refuse("dataset-small-groups", o, nil)
	m, err := dataset.CurrentManifest(s)
	if err != nil {
		t.Fatal(err)
	}
	refuse("dataset-parts-damaged", inParts, func(s *shelf) { delete(s.files, m.Parts[0].Files[0].Path) })
	refuse("dataset-parts-damaged", inParts, func(s *shelf) { s.files[m.Parts[0].Ledger] = []byte("{}") })
	refuse("dataset-parts-damaged", inParts, func(s *shelf) { s.files["_windrow/manifest-00000001.json"] = []byte("{") })
}

// A folder keeps what a shelf keeps, what is not ours in it stays, and what an
// earlier run left half-written goes.
func TestAppendFolder(t *testing.T) {
	rs, _ := inventedArchive(200)
	s, d := newShelf(), dataset.Folder(t.TempDir())
	for _, n := range []string{"notes.txt", "parquet/results/.writing-123"} {
		if err := d.PutNew(n, []byte("x")); err != nil {
			t.Fatal(err)
		}
	}
	if err := d.PutNew("notes.txt", nil); !errors.Is(err, fs.ErrExist) {
		t.Errorf("written twice: %v", err)
	}
	for _, lot := range [][]*normalize.Report{rs[:100], rs} {
		grow(t, s, lot)
		grow(t, d, lot)
	}
	names, err := d.Names()
	if err != nil {
		t.Fatal(err)
	}
	want, _ := s.Names()
	if !slices.Equal(slices.DeleteFunc(names, func(n string) bool { return n == "notes.txt" }), want) {
		t.Errorf("%q\n%q", names, want)
	}
	for _, n := range want {
		b, err := d.ReadFile(n)
		if err != nil || !bytes.Equal(b, s.files[n]) {
			t.Errorf("%s: %v", n, err)
		}
	}
}

// Folders are named as Hive names them, with what is not plain in percent
// escapes.
func TestAppendNames(t *testing.T) {
	s := newShelf()
	var rs []*normalize.Report
	for _, r := range many(8, nil) {
		r.Records[0].Sample.County = "St. Wren/Süd"
		rs = append(rs, r)
	}
	o := inParts
	o.State = ""
	if _, err := dataset.Append(s, all(rs...), o); err != nil {
		t.Fatal(err)
	}
	names, _ := s.Names()
	want := "parquet/results/state=__HIVE_DEFAULT_PARTITION__/county=St.%20Wren%2FS%C3%BCd/year=2026/part-"
	if !slices.ContainsFunc(names, func(n string) bool { return strings.HasPrefix(n, want) }) {
		t.Errorf("%q", names)
	}
}

// Samples of one report whose clients had themselves erased stay apart, though
// one word stands for all their numbers.
func TestErasedSamplesStayApart(t *testing.T) {
	rep := copied(t, report(1))
	second := copied(t, rep).Records[0]
	second.ID, second.Sample.LabID = rep.ID+"-2", "LAB-4712"
	rep.Records = append(rep.Records, second)
	bare, err := normalize.WithoutPerson(rep, nil)
	if err != nil {
		t.Fatal(err)
	}
	_, sum := write(t, dataset.Options{}, bare)
	if sum.Samples != 2 {
		t.Errorf("%d samples", sum.Samples)
	}
}
