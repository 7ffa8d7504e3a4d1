package pipeline_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http/httptest"
	"path/filepath"
	"testing"

	"github.com/johannesboyne/gofakes3"
	"github.com/johannesboyne/gofakes3/backend/s3mem"

	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive"
	"example.org/windrow/normalize/archive/objects"
	"example.org/windrow/normalize/dataset"
)

// keepReport archives a report of one sample of a client.
func keepReport(t *testing.T, a *archive.Archive, n int, value string) {
	t.Helper()
	id := fmt.Sprintf("R%016x", n+1)
	b, err := json.Marshal(&normalize.Report{Schema: normalize.SchemaVersion, ID: id, Status: normalize.OK, Lab: normalize.Lab{ID: "verrin"}, Number: fmt.Sprint("N-", n), Records: []*normalize.Record{{ID: id + "-1", Status: normalize.OK,
		Sample: normalize.Sample{LabID: fmt.Sprint("S-", n), County: "Finch", Sampled: "2026-03-17"}, Client: &normalize.Client{Name: fmt.Sprintf("Client %c%c", 'A'+n, 'a'+n)},
		Results: []*normalize.Result{{Analyte: "pH", Method: "ph-water-1-1", Status: normalize.OK, Value: normalize.Decimal(value), Unit: "pH", Printed: normalize.Printed{Text: value, Number: normalize.Decimal(value)}}}}}})
	if err != nil {
		t.Fatal(err)
	}
	if _, _, err := a.PutReport(id, b); err != nil {
		t.Fatal(err)
	}
}

// In an object store that speaks the protocol (gofakes3, which is no work of
// ours) a dataset in parts has the same files as in a folder, run by run; and a
// later version of a report takes the place of the one before.
func TestAppendDatasetInStore(t *testing.T) {
	back := s3mem.New()
	if err := back.CreateBucket("soil"); err != nil {
		t.Fatal(err)
	}
	srv := httptest.NewServer(gofakes3.New(back).Server())
	t.Cleanup(srv.Close)
	t.Setenv("AWS_ACCESS_KEY_ID", "test")
	t.Setenv("AWS_SECRET_ACCESS_KEY", "not-a-secret")
	address := "s3://soil?region=us-east-1&use_path_style=true&prefix=calder/&endpoint=" + srv.URL
	folder := dataset.Folder(filepath.Join(t.TempDir(), "parts"))
	a, err := archive.Open(filepath.Join(t.TempDir(), "archive"))
	if err != nil {
		t.Fatal(err)
	}
	store, err := objects.Open(t.Context(), address)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = store.Close() })
	opt := dataset.PartsOptions{Options: dataset.Options{Key: []byte("a key that only this test knows!")}, State: "CX", CSV: true}
	last := 0
	for run, step := range []struct {
		upTo  int
		value string
		want  dataset.Appended
	}{
		{5, "6.1", dataset.Appended{Edition: 1, Samples: 5, Added: 5, Parts: 1, Written: 1}},
		{12, "6.1", dataset.Appended{Edition: 2, Samples: 12, Added: 7, Parts: 2, Written: 1, Removed: 1}},
		{12, "6.1", dataset.Appended{Edition: 2, Samples: 12, Parts: 2}},
		{12, "6.2", dataset.Appended{Edition: 3, Samples: 12, Replaced: 12, Parts: 2, Written: 2, Removed: 7}},
	} {
		for n := range step.upTo {
			if n >= last || step.value != "6.1" {
				keepReport(t, a, n, step.value)
			}
		}
		last = step.upTo
		for _, where := range []string{string(folder), address} {
			told, err := pipeline.AppendDataset(t.Context(), a, where, opt)
			if err != nil {
				t.Fatal(err)
			}
			if told != step.want {
				t.Errorf("run %d: %+v, want %+v", run, told, step.want)
			}
		}
		names, err := folder.Names()
		if err != nil {
			t.Fatal(err)
		}
		theirs, err := store.Names()
		if err != nil || fmt.Sprint(names) != fmt.Sprint(theirs) {
			t.Fatalf("run %d: %v\n%q\n%q", run, err, names, theirs)
		}
		for _, n := range names {
			x, err1 := folder.ReadFile(n)
			y, err2 := store.ReadFile(n)
			if err1 != nil || err2 != nil || !bytes.Equal(x, y) {
				t.Errorf("%s: %v, %v", n, err1, err2)
			}
			if step.value == "6.2" && bytes.Contains(x, []byte(",6.1,")) {
				t.Errorf("%s has an old value", n)
			}
		}
	}
}
