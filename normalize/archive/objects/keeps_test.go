package objects_test

import (
	"io"
	"net/http"
	"strings"
	"testing"

	"github.com/aws/aws-sdk-go-v2/service/s3"
	"github.com/aws/aws-sdk-go-v2/service/s3/types"
	"gocloud.dev/blob"
	"gocloud.dev/blob/memblob"

	"example.org/windrow/normalize/archive/objects"
)

// What a store keeps of what is deleted is said: nothing, an older version, one
// that nobody can remove, or that it can't be asked. The store's answers about
// object lock are those of the protocol, as its documentation prints them, since
// the store of the tests has none.
func TestKeeps(t *testing.T) {
	locked, refused := false, false
	at := fake(t, func(h http.Handler) http.Handler {
		return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			q := r.URL.Query()
			switch {
			case refused && (q.Has("versioning") || q.Has("object-lock")):
				w.WriteHeader(http.StatusForbidden)
				_, _ = io.WriteString(w, `<Error><Code>AccessDenied</Code><Message>no</Message></Error>`)
			case q.Has("object-lock") && locked:
				_, _ = io.WriteString(w, `<ObjectLockConfiguration xmlns="http://s3.amazonaws.com/doc/2006-03-01/"><ObjectLockEnabled>Enabled</ObjectLockEnabled></ObjectLockConfiguration>`)
			case q.Has("object-lock"):
				w.WriteHeader(http.StatusNotFound)
				_, _ = io.WriteString(w, `<Error><Code>ObjectLockConfigurationNotFoundError</Code><Message>none</Message></Error>`)
			default:
				h.ServeHTTP(w, r)
			}
		})
	})
	s, err := objects.Open(t.Context(), at)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = s.Close() }()
	if got := s.Keeps(t.Context()); got != "" {
		t.Errorf("a plain bucket: %q", got)
	}
	b, err := blob.OpenBucket(t.Context(), at)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = b.Close() }()
	var c *s3.Client
	if !b.As(&c) {
		t.Fatal("no client")
	}
	name := "soil"
	if _, err := c.PutBucketVersioning(t.Context(), &s3.PutBucketVersioningInput{Bucket: &name, VersioningConfiguration: &types.VersioningConfiguration{Status: types.BucketVersioningStatusEnabled}}); err != nil {
		t.Fatal(err)
	}
	for _, x := range []struct {
		locked, refused bool
		want            string
	}{{false, false, "has versioning and keeps what was deleted as an older version; whoever has its keys"}, {true, false, "has object lock"}, {false, true, "can't be asked"}} {
		locked, refused = x.locked, x.refused
		if got := s.Keeps(t.Context()); !strings.Contains(got, x.want) || !strings.Contains(got, "s3://soil") || strings.Contains(got, "127.0.0.1") {
			t.Errorf("%+v: %q", x, got)
		}
	}
	if got := objects.On(memblob.OpenBucket(nil), "mem://").Keeps(t.Context()); !strings.Contains(got, "can't be asked") {
		t.Errorf("another kind of store: %q", got)
	}
}
