package archive_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"testing"
)

func BenchmarkPutOriginal100KB(b *testing.B) {
	a := open(b)
	buf := bytes.Repeat([]byte{7}, 100<<10)
	b.SetBytes(int64(len(buf)))
	for i := 0; b.Loop(); i++ {
		binary.LittleEndian.PutUint64(buf, uint64(i))
		if _, err := a.PutOriginal(buf); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkPutOriginalAgain100KB(b *testing.B) {
	a := open(b)
	buf := bytes.Repeat([]byte{7}, 100<<10)
	b.SetBytes(int64(len(buf)))
	for b.Loop() {
		if _, err := a.PutOriginal(buf); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkHash100KB is the part of PutOriginal that no archive could do
// without.
func BenchmarkHash100KB(b *testing.B) {
	buf := bytes.Repeat([]byte{7}, 100<<10)
	b.SetBytes(int64(len(buf)))
	for b.Loop() {
		_ = sha256.Sum256(buf)
	}
}

func BenchmarkPutReport20KB(b *testing.B) {
	a := open(b)
	doc := fmt.Appendf(nil, `{"text":"%s"}`, bytes.Repeat([]byte("x"), 20<<10))
	b.SetBytes(int64(len(doc)))
	for i := 0; b.Loop(); i++ {
		if _, _, err := a.PutReport(fmt.Sprintf("R%016x", uint64(i)*0x9e3779b97f4a7c15), doc); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkVerify(b *testing.B) {
	a := open(b)
	buf := bytes.Repeat([]byte{7}, 100<<10)
	for i := range 200 {
		binary.LittleEndian.PutUint64(buf, uint64(i))
		if _, err := a.PutOriginal(buf); err != nil {
			b.Fatal(err)
		}
		id := fmt.Sprintf("R%016x", uint64(i)*0x9e3779b97f4a7c15)
		if _, _, err := a.PutReport(id, report(id, buf, string(bytes.Repeat([]byte("x"), 20<<10)))); err != nil {
			b.Fatal(err)
		}
	}
	b.SetBytes(200 * 120 << 10)
	for b.Loop() {
		ps, _, err := a.Verify(b.Context(), nil)
		if err != nil || len(ps) > 0 {
			b.Fatal(ps, err)
		}
	}
}
