package apart

import (
	"context"
	"os"
	"strings"
	"testing"

	"example.org/windrow/ingest"
)

// echo is a worker that says what it was given.
type echo struct{}

const echoes ingest.Format = "echo"

func (echo) Do(_ context.Context, args []byte, src *ingest.Source, _ ingest.Limits) (*ingest.Document, []byte, error) {
	switch string(args) {
	case "document":
		return &ingest.Document{Source: src.Ref(), Format: ingest.CSV, Pages: []*ingest.Page{{Number: 1, Name: string(src.Bytes)}}}, nil, nil
	case "reason":
		return nil, nil, &ingest.Reason{Code: "no", Severity: ingest.Fail, What: "no", Next: "no"}
	case "both":
		return &ingest.Document{Pages: []*ingest.Page{{Number: 1}}}, []byte("x"), nil
	case "neither":
		return nil, nil, nil
	case "panic":
		panic("a bug")
	case "environment":
		return nil, []byte(os.Getenv("APART_TEST_VALUE") + " " + os.Getenv("HOME")), nil
	}
	return nil, []byte(string(args) + " " + string(src.Bytes)), nil
}

func TestWorker(t *testing.T) {
	t.Setenv("HOME", "/somewhere")
	p, err := NewPool(1, echoes, "APART_TEST_VALUE=given")
	if err != nil {
		t.Fatal(err)
	}
	defer p.Close()
	src := ingest.NewSource("a.bin", []byte("body"))
	do := func(args string) (*ingest.Document, string, *ingest.Reason) {
		d, b, err := p.Do(echoes)(t.Context(), []byte(args), src, ingest.Limits{})
		if err != nil {
			return d, string(b), ingest.AsReason(err)
		}
		return d, string(b), nil
	}
	if d, b, r := do("say"); d != nil || b != "say body" || r != nil {
		t.Errorf("bytes: got %v %q %v", d, b, r)
	}
	if d, b, r := do("document"); d == nil || d.Pages[0].Name != "body" || d.Source != src.Ref() || b != "" || r != nil {
		t.Errorf("document: got %v %q %v", d, b, r)
	}
	if d, b, r := do("reason"); d != nil || b != "" || r == nil || r.Code != "no" || r.Where.File != "a.bin" {
		t.Errorf("reason: got %v %q %v", d, b, r)
	}
	for _, args := range []string{"both", "neither", "panic"} {
		if d, b, r := do(args); d != nil || b != "" || r == nil || r.Code != "parser-crashed" {
			t.Errorf("%s: got %v %q %v", args, d, b, r)
		}
	}
	if _, b, _ := do("environment"); strings.TrimSpace(b) != "given" {
		t.Errorf("the child's environment has %q, want what the pool was given and no more", b)
	}
	if _, err := p.Read(t.Context(), src, ingest.Limits{}); err == nil || ingest.AsReason(err).Code != "parser-crashed" {
		t.Errorf("a worker was taken for a reader: %v", err)
	}
}
