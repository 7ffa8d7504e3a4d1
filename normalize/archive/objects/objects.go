// Package objects keeps an archive in an object store that speaks the S3
// protocol, instead of in a folder.
//
// Enters: the address of a bucket, and the calls of an archive. Leaves: the
// same names with the same bytes as an archive in a folder has, each name with
// forward slashes as one key. Never: it replaces an object, reports a write
// before it has read the bytes back and compared their SHA-256, or works on a
// store that lets a second writer replace what a first one wrote; [Open] tries
// that out and refuses. It holds no password: the credentials are found as all
// clients of such stores find them, in the environment or in a file.
//
// The package is an implementation over archive: a [Store] is an archive.FS.
package objects

import (
	"bytes"
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io/fs"
	"net/url"
	"os"
	"path"
	"path/filepath"
	"sync"
	"time"

	"github.com/aws/smithy-go"
	"gocloud.dev/blob"
	_ "gocloud.dev/blob/s3blob" // the scheme s3
	"gocloud.dev/gcerrors"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize/archive"
)

// The codes of what can be wrong with a store.
const (
	CodeAddress     = "store-address"     // its address can't be used
	CodeUnreachable = "store-unreachable" // it doesn't answer, or not as it should
	CodeRefused     = "store-refused"     // it answers, and refuses the keys or has no such bucket
	CodeUnsafe      = "store-unsafe"      // it lets one writer replace what another wrote, or gives back other bytes
)

// askMachine is the variable by which AWS clients are kept from asking the
// machine that they run on for keys. Where it is false, they may.
const askMachine = "AWS_EC2_METADATA_DISABLED"

// patience is how long one call may take, with the client's own repetitions.
const patience = 2 * time.Minute

// A Store is a bucket, or the part of one below a prefix, that an archive
// uses as its file system; the names in it are relative to the archive's root,
// which is ".". It is safe for use by several goroutines, and by any number of
// processes on one bucket. Close it after use.
//
// A file that is being written is held in memory and reaches the store whole,
// when it gets its name: nothing unfinished is ever in the store. There are no
// folders in such a store: each is there as soon as something lies in it, and
// those that every archive has are there as soon as the archive is.
type Store struct {
	bucket *blob.Bucket
	name   string // for people: the address without its settings

	mu   sync.Mutex
	temp map[string]*written // by key: what has no name yet
}

// Open opens the store at an address, such as
// s3://bucket?region=eu-central-1&prefix=soil/, with any setting that
// gocloud.dev/blob/s3blob documents, and tries out whether an archive is safe
// in it. The error is a *ingest.Reason.
func Open(ctx context.Context, address string) (*Store, error) {
	u, err := url.Parse(address)
	if err != nil || u.Scheme == "" || u.User != nil {
		return nil, &ingest.Reason{Code: CodeAddress, Severity: ingest.Fail, What: "this is not the address of an object store", Expected: "s3://BUCKET?region=REGION, without a name or a password in it",
			Next: "correct the address; credentials are taken from the environment (AWS_ACCESS_KEY_ID, AWS_SECRET_ACCESS_KEY) or from the file that AWS_SHARED_CREDENTIALS_FILE names"}
	}
	name := (&url.URL{Scheme: u.Scheme, Host: u.Host, Path: u.Path}).String()
	if q := u.Query(); u.Scheme == "s3" && !q.Has("response_checksum_validation") {
		// Else the client complains on stderr of each answer without a
		// checksum of its own; what is read is checked by SHA-256 here.
		q.Set("response_checksum_validation", "when_required")
		u.RawQuery = q.Encode()
	}
	if _, said := os.LookupEnv(askMachine); u.Scheme == "s3" && !said {
		// Without keys the client would ask the computer's own address for
		// them, as clouds give them out: a call that nobody named.
		_ = os.Setenv(askMachine, "true") // fails for no such name and value
	}
	b, err := blob.OpenBucket(ctx, u.String())
	if err != nil {
		return nil, &ingest.Reason{Code: CodeAddress, Severity: ingest.Fail, Where: ingest.Place{File: name}, What: "the object store can't be opened", Found: err.Error(), Next: "correct the address in engine.store"}
	}
	s := On(b, name)
	if err := s.Probe(ctx); err != nil {
		return nil, errors.Join(err, b.Close())
	}
	return s, nil
}

// On is a store over a bucket that is open already. It is not probed.
func On(b *blob.Bucket, name string) *Store {
	return &Store{bucket: b, name: name, temp: map[string]*written{}}
}

// Close lets go of the bucket.
func (s *Store) Close() error { return s.bucket.Close() }

// Name is the store's address for people, without its settings.
func (s *Store) Name() string { return s.name }

// Archive opens the archive in the store, and makes one in a store that holds
// nothing.
func (s *Store) Archive() (*archive.Archive, error) { return archive.OpenOn(s, ".") }

// key is the key of a name.
func key(name string) string { return filepath.ToSlash(filepath.Clean(name)) }

func (s *Store) call() (context.Context, context.CancelFunc) {
	return context.WithTimeout(context.Background(), patience)
}

// wrong turns an error of the store into one that the archive understands.
func (s *Store) wrong(op, name string, err error) error {
	is := func(e error) error { return &fs.PathError{Op: op, Path: name, Err: e} }
	switch gcerrors.Code(err) {
	case gcerrors.OK:
		return nil
	case gcerrors.NotFound:
		var api smithy.APIError
		if s.bucket.ErrorAs(err, &api) && api.ErrorCode() == "NoSuchBucket" {
			break // what is in it is not absent: it can't be seen
		}
		return is(fs.ErrNotExist)
	case gcerrors.FailedPrecondition:
		return is(fs.ErrExist)
	case gcerrors.PermissionDenied:
		return &unreachable{s.words(name, err), errors.Join(fs.ErrPermission, err)}
	}
	return &unreachable{s.words(name, err), err}
}

// An unreachable is a failure of the store with its words.
type unreachable struct {
	reason *ingest.Reason
	cause  error
}

func (u *unreachable) Error() string   { return u.reason.Error() }
func (u *unreachable) Unwrap() []error { return []error{u.reason, u.cause} }

// write writes an object that must not be there.
func (s *Store) write(ctx context.Context, name string, b []byte) error {
	for try := 0; ; try++ {
		err := s.bucket.WriteAll(ctx, name, b, &blob.WriterOptions{IfNotExist: true, ContentType: "application/octet-stream"})
		var api smithy.APIError
		if err == nil || try == 4 || !s.bucket.ErrorAs(err, &api) || api.ErrorCode() != "ConditionalRequestConflict" {
			return err
		}
		// Another writer of the same name was at it at the same moment, and
		// the store doesn't say who won.
		time.Sleep(time.Duration(try+1) * 20 * time.Millisecond)
	}
}

// Probe tries out whether an archive is safe in the store: whether what was
// written is read back and listed at once, and whether of several writers of
// one name exactly one succeeds, whose bytes then stay. What it writes it
// removes. The error is a *ingest.Reason.
func (s *Store) Probe(ctx context.Context) error {
	ctx, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
	var r [8]byte
	_, _ = rand.Read(r[:]) // never fails
	at := "incoming/probe-" + hex.EncodeToString(r[:])
	defer func() {
		for _, k := range []string{at, at + "-race"} {
			_ = s.bucket.Delete(context.WithoutCancel(ctx), k) // a leftover is no part of the archive and harms nothing
		}
	}()
	first := []byte("the first\n")
	if err := s.write(ctx, at, first); err != nil {
		if gcerrors.Code(err) == gcerrors.FailedPrecondition {
			return s.unsafe("it refuses to write an object whose name is new", at)
		}
		return reasonOf(s.wrong("write", at, err))
	}
	switch err := s.write(ctx, at, []byte("the second\n")); {
	case err == nil:
		return s.unsafe("it lets a second writer write a name that a first one has written", "a conditional write (If-None-Match: *) that was not refused")
	case gcerrors.Code(err) != gcerrors.FailedPrecondition:
		return s.unsafe("it does not say, as it should, that a name is taken", ingest.Cause(err))
	}
	b, err := s.bucket.ReadAll(ctx, at)
	if err != nil {
		return reasonOf(s.wrong("read", at, err))
	}
	if !bytes.Equal(b, first) {
		return s.unsafe("what was written first did not stay", "other bytes under the same name")
	}
	if err := s.race(ctx, at+"-race"); err != nil {
		return err
	}
	es, err := s.list(ctx, "incoming/", at)
	if err != nil {
		return reasonOf(err)
	}
	if len(es) == 0 || es[0].Name() != path.Base(at) {
		return s.unsafe("what was just written is not in its list", at)
	}
	return nil
}

// race lets several writers write one new name at once.
func (s *Store) race(ctx context.Context, at string) error {
	const writers = 8
	errs := make([]error, writers)
	var wg sync.WaitGroup
	for i := range writers {
		wg.Go(func() { errs[i] = s.write(ctx, at, []byte{byte('A' + i)}) })
	}
	wg.Wait()
	won := -1
	for i, err := range errs {
		switch {
		case err == nil && won >= 0:
			return s.unsafe("it lets two writers that come at once both write one name", "two conditional writes (If-None-Match: *) that were not refused")
		case err == nil:
			won = i
		case gcerrors.Code(err) != gcerrors.FailedPrecondition:
			return reasonOf(s.wrong("write", at, err))
		}
	}
	b, err := s.bucket.ReadAll(ctx, at)
	if err != nil {
		return reasonOf(s.wrong("read", at, err))
	}
	if won < 0 || len(b) != 1 || b[0] != byte('A'+won) {
		return s.unsafe("of several writers that came at once it is not the one that was told so whose bytes stay", at)
	}
	return nil
}

// reasonOf is an error's reason, as Open promises one.
func reasonOf(err error) error { return ingest.AsReason(err) }

func (s *Store) unsafe(what, found string) error {
	return &ingest.Reason{Code: CodeUnsafe, Severity: ingest.Fail, Where: ingest.Place{File: s.name}, What: "an archive is not safe in this object store: " + what,
		Expected: "a store that honours conditional writes and shows what was written at once", Found: found, Next: "nothing was archived there; use another store or a later version of this one, or switch on its conditional writes"}
}

// AtOnce implements [archive.Distant].
func (s *Store) AtOnce() int { return 16 }

// Mkdir does nothing: a folder is there with the first file in it.
func (s *Store) Mkdir(string) error { return nil }

// SyncDir does nothing: what the store has confirmed is safe with it.
func (s *Store) SyncDir(string) error { return nil }

// RenameNew is not a thing that such a store can do.
func (s *Store) RenameNew(old, name string) error { return unsupported(old, name) }

// Rename is not a thing that such a store can do, and an archive must not.
func (s *Store) Rename(old, name string) error { return unsupported(old, name) }

func unsupported(old, name string) error {
	return &os.LinkError{Op: "rename", Old: old, New: name, Err: errors.ErrUnsupported}
}

// A written is a file that has no name yet.
type written struct{ bytes.Buffer }

// ReadOnly does nothing: an object can't be written twice.
func (*written) ReadOnly() error { return nil }

// Sync does nothing: Link writes.
func (*written) Sync() error { return nil }

// Close keeps the bytes for Link.
func (*written) Close() error { return nil }

// Create begins a file among those that are being written, in memory.
// Elsewhere a file can't be begun: there it is whole or not there.
func (s *Store) Create(name string) (archive.File, error) {
	k := key(name)
	if path.Dir(k) != "incoming" {
		return nil, &fs.PathError{Op: "create", Path: name, Err: errors.ErrUnsupported}
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.temp[k] != nil {
		return nil, &fs.PathError{Op: "create", Path: name, Err: fs.ErrExist}
	}
	f := &written{}
	s.temp[k] = f
	return f, nil
}

// Link writes a file that Create began under a name that must not exist, and
// reads it back.
func (s *Store) Link(old, name string) error {
	s.mu.Lock()
	f := s.temp[key(old)]
	s.mu.Unlock()
	if f == nil {
		return &os.LinkError{Op: "link", Old: old, New: name, Err: fs.ErrNotExist}
	}
	return s.PutNew(name, f.Bytes())
}

// PutNew writes a file that must not exist, and reads it back.
func (s *Store) PutNew(name string, b []byte) error {
	k := key(name)
	ctx, cancel := s.call()
	defer cancel()
	if err := s.write(ctx, k, b); err != nil {
		return s.wrong("link", k, err)
	}
	back, err := s.bucket.ReadAll(ctx, k)
	if err != nil {
		// It may well be there; the next attempt finds out.
		return s.wrong("read back", k, err)
	}
	if sha256.Sum256(back) != sha256.Sum256(b) {
		// Nobody was told that it is kept, and it is not what its name says.
		_ = s.bucket.Delete(ctx, k)
		return s.unsafe("it gave back other bytes than were written", k)
	}
	return nil
}

// Remove deletes a file.
func (s *Store) Remove(name string) error {
	k := key(name)
	s.mu.Lock()
	f := s.temp[k]
	delete(s.temp, k)
	s.mu.Unlock()
	if f != nil {
		return nil
	}
	ctx, cancel := s.call()
	defer cancel()
	// The protocol calls it a success to delete what isn't there.
	if ok, err := s.bucket.Exists(ctx, k); err != nil || !ok {
		if err == nil {
			err = &fs.PathError{Op: "remove", Path: name, Err: fs.ErrNotExist}
			return err
		}
		return s.wrong("remove", k, err)
	}
	return s.wrong("remove", k, s.bucket.Delete(ctx, k))
}

// ReadFile reads a whole file.
func (s *Store) ReadFile(name string) ([]byte, error) {
	ctx, cancel := s.call()
	defer cancel()
	b, err := s.bucket.ReadAll(ctx, key(name))
	return b, s.wrong("read", key(name), err)
}
