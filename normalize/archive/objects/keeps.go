package objects

import (
	"context"
	"net/url"

	"github.com/aws/aws-sdk-go-v2/service/s3"
	"github.com/aws/aws-sdk-go-v2/service/s3/types"
	"github.com/aws/smithy-go"

	"example.org/windrow/ingest"
)

// Keeps says in words what the store keeps of an object that was deleted, ""
// for nothing: a bucket with versioning hides it and has it still, and one
// with object lock lets nobody remove that before its time. What can't be
// asked is said to be so, since nobody then knows.
func (s *Store) Keeps(ctx context.Context) string {
	var c *s3.Client
	if !s.bucket.As(&c) {
		return "whether the object store " + s.name + " keeps what was deleted can't be asked: look at its versioning"
	}
	ctx, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
	u, err := url.Parse(s.name)
	if err != nil || u.Host == "" {
		return "whether the object store " + s.name + " keeps what was deleted can't be asked: look at its versioning"
	}
	bucket := u.Host
	v, err := c.GetBucketVersioning(ctx, &s3.GetBucketVersioningInput{Bucket: &bucket})
	if err != nil {
		return "whether the object store " + s.name + " keeps what was deleted can't be asked (" + ingest.Cause(err) + "): look at its versioning"
	}
	if v.Status == "" {
		return ""
	}
	const until = "; whoever has its keys can read it until its owner removes it, or a life-cycle rule for older versions does"
	l, err := c.GetObjectLockConfiguration(ctx, &s3.GetObjectLockConfigurationInput{Bucket: &bucket})
	if err == nil && l.ObjectLockConfiguration != nil && l.ObjectLockConfiguration.ObjectLockEnabled == types.ObjectLockEnabledEnabled {
		return "the object store " + s.name + " has object lock and keeps what was deleted as an older version, which nobody can remove before its time is over" + until
	}
	more := ""
	if code := smithy.APIError(nil); err != nil && !(s.bucket.ErrorAs(err, &code) && code.ErrorCode() == "ObjectLockConfigurationNotFoundError") {
		more = ", and whether it has object lock, so that nobody can remove it before its time, can't be asked"
	}
	return "the object store " + s.name + " has versioning and keeps what was deleted as an older version" + more + until
}
