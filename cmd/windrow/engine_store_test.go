//go:build unix

package main

import (
	"io"
	"strings"
	"sync"
	"time"

	"github.com/johannesboyne/gofakes3"
	"github.com/johannesboyne/gofakes3/backend/s3mem"
)

// A listedStore is s3mem with a list of what lies right below each prefix:
// s3mem itself goes through the whole bucket for every list, which no real
// store does, and which at a few thousand reports is nearly all that a load
// run would measure.
type listedStore struct {
	*s3mem.Backend
	mu    sync.Mutex
	below map[string]map[string]int64 // by prefix, to the slash: names to sizes; a name that ends in a slash is a prefix
}

func (s *listedStore) PutObject(bucket, key string, meta map[string]string, input io.Reader, size int64, conditions *gofakes3.PutConditions) (gofakes3.PutObjectResult, error) {
	r, err := s.Backend.PutObject(bucket, key, meta, input, size, conditions)
	if err == nil {
		s.mu.Lock()
		defer s.mu.Unlock()
		for at, child := "", key; ; {
			name, rest, more := strings.Cut(child, "/")
			if s.below[at] == nil {
				s.below[at] = map[string]int64{}
			}
			if !more {
				s.below[at][name] = size
				break
			}
			s.below[at][name+"/"] = 0
			at, child = at+name+"/", rest
		}
	}
	return r, err
}

func (s *listedStore) DeleteObject(bucket, key string) (gofakes3.ObjectDeleteResult, error) {
	i := strings.LastIndex(key, "/") + 1
	s.mu.Lock()
	delete(s.below[key[:i]], key[i:])
	s.mu.Unlock()
	return s.Backend.DeleteObject(bucket, key)
}

func (s *listedStore) ListBucket(bucket string, prefix *gofakes3.Prefix, page gofakes3.ListBucketPage) (*gofakes3.ObjectList, error) {
	p := ""
	if prefix != nil {
		p = prefix.Prefix
	}
	s.mu.Lock()
	children := s.below[p]
	if prefix == nil || !prefix.HasDelimiter || p != "" && !strings.HasSuffix(p, "/") || page.Marker != "" || len(children) > 900 {
		s.mu.Unlock()
		return s.Backend.ListBucket(bucket, prefix, page)
	}
	defer s.mu.Unlock()
	out := gofakes3.NewObjectList()
	for name, size := range children {
		if strings.HasSuffix(name, "/") {
			out.AddPrefix(p + name)
		} else {
			out.Add(&gofakes3.Content{Key: p + name, LastModified: gofakes3.NewContentTime(time.Now()), ETag: `"0"`, Size: size})
		}
	}
	return out, nil
}
