package normalize

import "testing"

// The largest truth file through Build, JSON and the plain results table.
func BenchmarkBuild(b *testing.B) {
	var big truthFile
	for _, f := range truths(b) {
		if len(f.Samples) > len(big.Samples) {
			big = f
		}
	}
	ex := big.extract(b)
	results := 0
	for _, s := range ex.Samples {
		results += len(s.Readings)
	}
	b.ResetTimer()
	b.ReportAllocs()
	for b.Loop() {
		rep := Build(ex, Options{})
		if len(Rows(rep, RowOptions{})) != results {
			b.Fatal("rows are missing")
		}
	}
	b.ReportMetric(float64(results), "results/op")
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(results), "ns/result")
}

func BenchmarkValidate(b *testing.B) {
	j, err := Build(truths(b)[0].extract(b), Options{}).JSON()
	if err != nil {
		b.Fatal(err)
	}
	b.SetBytes(int64(len(j)))
	b.ResetTimer()
	for b.Loop() {
		if err := Validate(j); err != nil {
			b.Fatal(err)
		}
	}
}
