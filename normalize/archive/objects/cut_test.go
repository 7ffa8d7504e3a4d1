package objects_test

import (
	"errors"
	"io/fs"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize/archive"
	"example.org/windrow/normalize/archive/objects"
)

// A store whose connections are cut before they answer, as when its process
// ends, holds nothing less for that: whoever lists it is told that it can't be
// reached, and never that there is nothing. The client's error for it has an
// io.EOF inside, which is also how a list ends.
func TestCutConnectionIsNoEmptyStore(t *testing.T) {
	var cut atomic.Bool
	at := fake(t, func(h http.Handler) http.Handler {
		return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			if cut.Load() {
				panic(http.ErrAbortHandler) // the server closes the connection and says nothing
			}
			h.ServeHTTP(w, r)
		})
	})
	s, err := objects.Open(t.Context(), at)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = s.Close() })
	a := opened(t, s)
	if err := fill(a); err != nil {
		t.Fatal(err)
	}
	cut.Store(true)
	t.Run("cut", func(t *testing.T) {
		for what, ask := range map[string]func() error{
			"names":  func() error { _, err := s.Names(); return err },
			"folder": func() error { _, err := s.ReadDir(archive.Reports); return err },
			"name":   func() error { _, err := s.Lstat("nothing/of/this"); return err },
			"latest": func() error { _, _, err := a.Latest(archive.Reports, idOf(0)); return err },
			"ids":    func() error { return a.EachID(archive.Reports, func(string) error { return nil }) },
			"verify": func() error { _, _, err := a.Verify(t.Context(), nil); return err },
		} {
			t.Run(what, func(t *testing.T) {
				t.Parallel() // each waits until its client gives up
				err := ask()
				if err == nil || errors.Is(err, archive.ErrNotFound) || errors.Is(err, fs.ErrNotExist) {
					t.Errorf("a store that can't be reached is taken for one that lacks it: %v", err)
				} else if r := ingest.AsReason(err); r.Code != objects.CodeUnreachable {
					t.Error(err)
				}
			})
		}
	})
	cut.Store(false)
	if c := verified(t, a); c.Originals == 0 {
		t.Errorf("afterwards %+v", c)
	}
}

// Who has no keys is told so, and nobody else is asked for them: the program
// calls what it was told to call, and no address that clouds have for machines.
func TestNoKeysAskNobody(t *testing.T) {
	var asked atomic.Int64
	machine := httptest.NewServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { asked.Add(1) }))
	t.Cleanup(machine.Close)
	at := fake(t, nil)
	const leave = "AWS_EC2_METADATA_DISABLED"
	t.Setenv(leave, "") // what it was comes back at the end
	for k, v := range map[string]string{"AWS_ACCESS_KEY_ID": "", "AWS_SECRET_ACCESS_KEY": "", "AWS_EC2_METADATA_SERVICE_ENDPOINT": machine.URL,
		"AWS_SHARED_CREDENTIALS_FILE": filepath.Join(t.TempDir(), "absent"), "AWS_CONFIG_FILE": filepath.Join(t.TempDir(), "absent")} {
		t.Setenv(k, v)
	}
	if err := os.Unsetenv(leave); err != nil {
		t.Fatal(err)
	}
	_, err := objects.Open(t.Context(), at)
	if r := ingest.AsReason(err); err == nil || r.Code != objects.CodeRefused || !strings.Contains(r.Expected, "AWS_SHARED_CREDENTIALS_FILE") {
		t.Errorf("without keys: %v", err)
	}
	if n := asked.Load(); n > 0 {
		t.Errorf("the machine was asked for keys %d times", n)
	}
	// Who says that it may be asked has it asked: so the test would see a call.
	t.Setenv(leave, "false")
	if s, err := objects.Open(t.Context(), at); err == nil {
		_ = s.Close()
		t.Error("opened without keys")
	}
	if asked.Load() == 0 {
		t.Error("the machine was not asked where it may be")
	}
}
