package index_test

import (
	"bytes"
	"fmt"
	"path/filepath"
	"testing"

	"example.org/windrow/normalize"
)

func BenchmarkAddReport(b *testing.B) {
	ix := open(b, filepath.Join(b.TempDir(), "index.db"))
	_, r := made(1, normalize.OK, 5, 20)
	doc := encode(b, r)
	b.ReportMetric(float64(len(doc)), "bytes/report")
	for i := 0; b.Loop(); i++ {
		id := fmt.Sprintf("R%016x", i)
		if err := ix.AddReport(b.Context(), id, 1, bytes.ReplaceAll(doc, []byte(r.ID), []byte(id))); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkRebuild100(b *testing.B) {
	a := newArchive(b)
	ix := open(b, filepath.Join(b.TempDir(), "index.db"))
	for i := range 100 {
		src, r := made(i, normalize.OK, 5, 20)
		_, _ = a.PutOriginal(src)
		if _, _, err := a.PutReport(r.ID, encode(b, r)); err != nil {
			b.Fatal(err)
		}
	}
	for b.Loop() {
		if err := ix.Rebuild(b.Context(), a); err != nil {
			b.Fatal(err)
		}
	}
}
