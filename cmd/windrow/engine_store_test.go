//go:build unix

package main

import (
	"io"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/johannesboyne/gofakes3"
	"github.com/johannesboyne/gofakes3/backend/s3mem"
)

// A listedStore is s3mem with its keys in order, so that a list begins where
// its prefix does, as in any real store. s3mem itself goes through the whole
// bucket for every list, which at a few thousand reports is nearly all that a
// load run would measure.
type listedStore struct {
	*s3mem.Backend
	mu    sync.Mutex
	keys  []string // in order
	sizes map[string]int64
}

func newListedStore() *listedStore {
	return &listedStore{Backend: s3mem.New(), sizes: map[string]int64{}}
}

func (s *listedStore) PutObject(bucket, key string, meta map[string]string, input io.Reader, size int64, conditions *gofakes3.PutConditions) (gofakes3.PutObjectResult, error) {
	r, err := s.Backend.PutObject(bucket, key, meta, input, size, conditions)
	if err == nil {
		s.mu.Lock()
		defer s.mu.Unlock()
		if _, there := s.sizes[key]; !there {
			i, _ := slices.BinarySearch(s.keys, key)
			s.keys = slices.Insert(s.keys, i, key)
		}
		s.sizes[key] = size
	}
	return r, err
}

func (s *listedStore) DeleteObject(bucket, key string) (gofakes3.ObjectDeleteResult, error) {
	s.mu.Lock()
	if i, there := slices.BinarySearch(s.keys, key); there {
		s.keys = slices.Delete(s.keys, i, i+1)
		delete(s.sizes, key)
	}
	s.mu.Unlock()
	return s.Backend.DeleteObject(bucket, key)
}

// ListBucket gives the keys of a prefix in order, each page from after its
// marker; with a delimiter, what goes on beyond it once, as a common prefix.
func (s *listedStore) ListBucket(_ string, prefix *gofakes3.Prefix, page gofakes3.ListBucketPage) (*gofakes3.ObjectList, error) {
	if prefix == nil {
		prefix = &gofakes3.Prefix{}
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	out := gofakes3.NewObjectList()
	i, there := slices.BinarySearch(s.keys, max(prefix.Prefix, page.Marker))
	if there && page.Marker >= prefix.Prefix && page.Marker != "" {
		i++
	}
	for n := int64(0); i < len(s.keys) && strings.HasPrefix(s.keys[i], prefix.Prefix); n++ {
		if page.MaxKeys > 0 && n == page.MaxKeys {
			out.IsTruncated = true
			break
		}
		key := s.keys[i]
		if at := strings.Index(key[len(prefix.Prefix):], prefix.Delimiter); prefix.HasDelimiter && at >= 0 {
			common := key[:len(prefix.Prefix)+at+len(prefix.Delimiter)]
			out.AddPrefix(common)
			i += skip(s.keys[i:], common)
			out.NextMarker = s.keys[i-1]
			continue
		}
		out.Add(&gofakes3.Content{Key: key, LastModified: gofakes3.NewContentTime(time.Now()), ETag: `"0"`, Size: s.sizes[key]})
		out.NextMarker = key
		i++
	}
	if !out.IsTruncated {
		out.NextMarker = ""
	}
	return out, nil
}

// skip is how many keys at the head of the list have the prefix.
func skip(keys []string, prefix string) int {
	n, _ := slices.BinarySearchFunc(keys, prefix, func(key, prefix string) int {
		if strings.HasPrefix(key, prefix) {
			return -1
		}
		return 1
	})
	return n
}
