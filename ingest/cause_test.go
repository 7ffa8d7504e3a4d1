package ingest

import (
	"errors"
	"fmt"
	"io/fs"
	"net"
	"os"
	"path/filepath"
	"testing"
)

// The errors are those that the system really gives.
func TestCauseIsInPlainWords(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "a")
	if err := os.WriteFile(file, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	_, absent := os.Open(filepath.Join(dir, "absent"))
	_, below := os.Open(filepath.Join(file, "b"))
	_, folder := os.ReadFile(dir)
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer ln.Close()
	_, taken := net.Listen("tcp", ln.Addr().String())
	for _, c := range []struct {
		err  error
		want string
	}{
		{absent, "nothing is there under this name"},
		{below, "a part of the path is a file, not a folder"},
		{folder, "it is a folder"},
		{taken, "another program uses it already"},
		{fmt.Errorf("in between: %w", &fs.PathError{Op: "open", Path: "/secret/path", Err: fs.ErrPermission}), "the rights do not allow it"},
		{&fs.PathError{Op: "open", Path: "/secret/path", Err: errors.New("something rare")}, "something rare"},
		{errors.New("no path"), "no path"},
	} {
		if got := Cause(c.err); got != c.want {
			t.Errorf("of %v it is said %q, not %q", c.err, got, c.want)
		}
	}
}
