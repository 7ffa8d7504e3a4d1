package objects

import (
	"strings"

	"github.com/aws/smithy-go"
	"gocloud.dev/gcerrors"

	"example.org/windrow/ingest"
)

// words say what an error of the store means and what to do about it. One that
// passes by itself is told apart from one that a person must see to.
func (s *Store) words(name string, err error) *ingest.Reason {
	r := &ingest.Reason{Code: CodeRefused, Severity: ingest.Fail, Where: ingest.Place{File: s.name + "/" + name}, Found: strings.Join(strings.Fields(ingest.Cause(err)), " ")}
	var api smithy.APIError
	said := ""
	if s.bucket.ErrorAs(err, &api) {
		said = api.ErrorCode()
	}
	const where = "AWS_ACCESS_KEY_ID and AWS_SECRET_ACCESS_KEY, or in the file that AWS_SHARED_CREDENTIALS_FILE names"
	switch {
	case said == "NoSuchBucket":
		r.What = "the object store has no such bucket"
		r.Next = "nothing was lost; correct engine.store, or make the bucket"
	case said == "InvalidAccessKeyId", said == "SignatureDoesNotMatch", said == "ExpiredToken", said == "InvalidToken":
		r.What, r.Expected = "the object store does not know the keys that it is asked with", "the keys of an account of this store"
		r.Next = "nothing was lost; correct the keys in " + where
	case said == "AuthorizationHeaderMalformed", said == "PermanentRedirect":
		r.What = "the object store says that this is the wrong region for the bucket"
		r.Next = "nothing was lost; correct region= in engine.store"
	case gcerrors.Code(err) == gcerrors.PermissionDenied, said == "AccessDenied":
		r.What, r.Expected = "the object store refuses what is asked with these keys", "keys that may list, read, write and delete in the bucket"
		r.Next = "nothing was lost; have the owner of the bucket give them that right, or give others in " + where
	case said == "" && strings.Contains(err.Error(), "get credentials"):
		r.What, r.Expected = "there are no keys to ask the object store with", "keys in "+where
		r.Next = "nothing was lost; give the keys, and see that this account may read the file"
	default:
		r.Code, r.What = CodeUnreachable, "the object store can't be reached, or does not answer as it should"
		r.Next = "nothing was lost; see that the store runs and that engine.store names it, then run again"
	}
	return r
}
