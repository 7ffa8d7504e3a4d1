package archive_test

import (
	"bytes"
	"errors"
	"io/fs"
	"maps"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"syscall"
	"time"

	"example.org/windrow/normalize/archive"
)

// memFS is a file system in memory that knows what a power cut would leave:
// only bytes that were synced, under names whose folder was synced. It is
// more forgetful than real file systems, which is the point.
type memFS struct {
	mu        sync.Mutex
	root      *inode
	now       time.Time
	noLink    bool // as on FAT
	noMove    bool // no move that refuses to replace
	mayRemove bool // files of the archive: where something is erased
	roots     string
	created   int
}

type inode struct {
	dir      bool
	live     map[string]*inode // of a folder
	safe     map[string]*inode // what a power cut leaves of it
	data     []byte
	safeData []byte
	readOnly bool
	mod      time.Time
}

func newMemFS() *memFS {
	m := &memFS{root: newDir(), now: time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC), roots: "/mem"}
	return m
}

func newDir() *inode {
	return &inode{dir: true, live: map[string]*inode{}, safe: map[string]*inode{}}
}

// powerCut forgets what was not safe. With keep, each unsafe thing is kept
// or forgotten by chance, as a real disk may have written some of it.
func (m *memFS) powerCut(keep *rand.Rand) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.cut(m.root, keep, map[*inode]bool{})
}

func (m *memFS) cut(n *inode, keep *rand.Rand, seen map[*inode]bool) {
	if seen[n] {
		return
	}
	seen[n] = true
	if !n.dir {
		if keep == nil || keep.IntN(2) == 0 {
			n.data = n.safeData
		}
		n.safeData = n.data
		return
	}
	next := maps.Clone(n.safe)
	if keep != nil {
		names := slices.Sorted(maps.Keys(n.live))
		for _, name := range names {
			if keep.IntN(2) == 0 {
				next[name] = n.live[name]
			}
		}
		for _, name := range slices.Sorted(maps.Keys(n.safe)) {
			if n.live[name] == nil && keep.IntN(2) == 0 {
				delete(next, name)
			}
		}
	}
	n.live, n.safe = next, maps.Clone(next)
	for _, name := range slices.Sorted(maps.Keys(next)) {
		m.cut(next[name], keep, seen)
	}
}

// find gives the folder of a name and the name in it; m.mu is held.
func (m *memFS) find(op, name string) (*inode, string, error) {
	rel, err := filepath.Rel(m.roots, name)
	if err != nil || strings.HasPrefix(rel, "..") {
		return nil, "", &fs.PathError{Op: op, Path: name, Err: fs.ErrInvalid}
	}
	parts := strings.Split(filepath.ToSlash(rel), "/")
	n := m.root
	for _, p := range parts[:len(parts)-1] {
		n = n.live[p]
		if n == nil || !n.dir {
			return nil, "", &fs.PathError{Op: op, Path: name, Err: fs.ErrNotExist}
		}
	}
	return n, parts[len(parts)-1], nil
}

func (m *memFS) get(op, name string) (*inode, error) {
	if filepath.Clean(name) == m.roots {
		return m.root, nil
	}
	d, base, err := m.find(op, name)
	if err != nil {
		return nil, err
	}
	if d.live[base] == nil {
		return nil, &fs.PathError{Op: op, Path: name, Err: fs.ErrNotExist}
	}
	return d.live[base], nil
}

func (m *memFS) add(op, name string, n *inode) error {
	d, base, err := m.find(op, name)
	if err != nil {
		return err
	}
	if d.live[base] != nil {
		return &fs.PathError{Op: op, Path: name, Err: fs.ErrExist}
	}
	d.live[base] = n
	return nil
}

func (m *memFS) Mkdir(name string) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.add("mkdir", name, newDir())
}

func (m *memFS) Create(name string) (archive.File, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	n := &inode{mod: m.now}
	if err := m.add("create", name, n); err != nil {
		return nil, err
	}
	m.created++
	return &memFile{m, n}, nil
}

func (m *memFS) Link(old, name string) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.noLink {
		return errors.ErrUnsupported
	}
	n, err := m.get("link", old)
	if err != nil {
		return err
	}
	return m.add("link", name, n)
}

func (m *memFS) RenameNew(old, name string) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.noMove {
		return errors.ErrUnsupported
	}
	n, err := m.get("rename", old)
	if err != nil {
		return err
	}
	if err := m.add("rename", name, n); err != nil {
		return err
	}
	d, base, _ := m.find("rename", old)
	delete(d.live, base)
	return nil
}

func (m *memFS) Rename(old, name string) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	n, err := m.get("rename", old)
	if err != nil {
		return err
	}
	d, base, err := m.find("rename", name)
	if err != nil {
		return err
	}
	if was := d.live[base]; was != nil && len(was.data) > 0 {
		panic("a file with content was replaced: " + name)
	}
	d.live[base] = n
	d, base, _ = m.find("rename", old)
	delete(d.live, base)
	return nil
}

func (m *memFS) Remove(name string) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	d, base, err := m.find("remove", name)
	if err != nil {
		return err
	}
	if d.live[base] == nil {
		return &fs.PathError{Op: "remove", Path: name, Err: fs.ErrNotExist}
	}
	if !m.mayRemove && !strings.Contains(name, "/incoming/") {
		panic("a file of the archive was removed: " + name)
	}
	delete(d.live, base)
	return nil
}

func (m *memFS) SyncDir(name string) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	n, err := m.get("sync", name)
	if err != nil {
		return err
	}
	n.safe = maps.Clone(n.live)
	return nil
}

func (m *memFS) ReadFile(name string) ([]byte, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	n, err := m.get("read", name)
	if err != nil {
		return nil, err
	}
	return bytes.Clone(n.data), nil
}

func (m *memFS) ReadDir(name string) ([]fs.DirEntry, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	n, err := m.get("list", name)
	if err != nil {
		return nil, err
	}
	var es []fs.DirEntry
	for _, base := range slices.Sorted(maps.Keys(n.live)) {
		es = append(es, fs.FileInfoToDirEntry(n.live[base].info(base)))
	}
	return es, nil
}

func (m *memFS) Lstat(name string) (fs.FileInfo, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	n, err := m.get("stat", name)
	if err != nil {
		return nil, err
	}
	return n.info(filepath.Base(name)), nil
}

// files is what files is for a real folder.
func (m *memFS) files() map[string]string {
	m.mu.Lock()
	defer m.mu.Unlock()
	out := map[string]string{}
	var walk func(prefix string, n *inode)
	walk = func(prefix string, n *inode) {
		for name, c := range n.live {
			if c.dir {
				walk(prefix+name+"/", c)
			} else if !strings.Contains(prefix, "incoming/") {
				out[prefix+name] = string(c.data)
			}
		}
	}
	walk("", m.root)
	return out
}

type memFile struct {
	m *memFS
	n *inode
}

func (f *memFile) Write(b []byte) (int, error) {
	f.m.mu.Lock()
	defer f.m.mu.Unlock()
	f.n.data = append(bytes.Clone(f.n.data), b...)
	return len(b), nil
}

func (f *memFile) Sync() error {
	f.m.mu.Lock()
	defer f.m.mu.Unlock()
	f.n.safeData = bytes.Clone(f.n.data)
	return nil
}

func (f *memFile) ReadOnly() error { f.n.readOnly = true; return nil }
func (f *memFile) Close() error    { return nil }

type memInfo struct {
	name string
	size int64
	mode fs.FileMode
	mod  time.Time
}

func (n *inode) info(name string) fs.FileInfo {
	i := memInfo{name, int64(len(n.data)), 0o640, n.mod}
	if n.readOnly {
		i.mode = 0o444
	}
	if n.dir {
		i.mode = fs.ModeDir | 0o750
	}
	return i
}

func (i memInfo) Name() string       { return i.name }
func (i memInfo) Size() int64        { return i.size }
func (i memInfo) Mode() fs.FileMode  { return i.mode }
func (i memInfo) ModTime() time.Time { return i.mod }
func (i memInfo) IsDir() bool        { return i.mode.IsDir() }
func (i memInfo) Sys() any           { return nil }

// faultFS fails calls of the file system below it.
type faultFS struct {
	archive.FS
	n     int // calls so far
	at    int // the call to fail
	cause error
	dead  bool // every later call fails too: the process is gone
	torn  bool // the failing call, if a write, has written half
	full  bool // every later call that needs room fails too
	short bool // writes and nothing else fail, by taking half and saying no error
}

func (f *faultFS) step(needsRoom bool) error {
	if f.short {
		return nil // its writes alone are counted
	}
	f.n++
	if f.n == f.at || f.dead && f.n > f.at || f.full && needsRoom && f.n > f.at {
		return f.cause
	}
	return nil
}

func (f *faultFS) Mkdir(name string) error {
	if err := f.step(true); err != nil {
		return err
	}
	return f.FS.Mkdir(name)
}

func (f *faultFS) Create(name string) (archive.File, error) {
	if err := f.step(true); err != nil {
		return nil, err
	}
	c, err := f.FS.Create(name)
	if err != nil {
		return nil, err
	}
	return &faultFile{c, f}, nil
}

func (f *faultFS) Link(old, name string) error {
	if err := f.step(true); err != nil {
		return err
	}
	return f.FS.Link(old, name)
}

func (f *faultFS) RenameNew(old, name string) error {
	if err := f.step(true); err != nil {
		return err
	}
	return f.FS.RenameNew(old, name)
}

func (f *faultFS) Rename(old, name string) error {
	if err := f.step(true); err != nil {
		return err
	}
	return f.FS.Rename(old, name)
}

func (f *faultFS) Remove(name string) error {
	if err := f.step(false); err != nil {
		return err
	}
	return f.FS.Remove(name)
}

func (f *faultFS) SyncDir(name string) error {
	if err := f.step(true); err != nil {
		return err
	}
	return f.FS.SyncDir(name)
}

func (f *faultFS) ReadFile(name string) ([]byte, error) {
	if err := f.step(false); err != nil {
		return nil, err
	}
	return f.FS.ReadFile(name)
}

func (f *faultFS) ReadDir(name string) ([]fs.DirEntry, error) {
	if err := f.step(false); err != nil {
		return nil, err
	}
	return f.FS.ReadDir(name)
}

func (f *faultFS) Lstat(name string) (fs.FileInfo, error) {
	if err := f.step(false); err != nil {
		return nil, err
	}
	return f.FS.Lstat(name)
}

type faultFile struct {
	archive.File
	f *faultFS
}

func (c *faultFile) Write(b []byte) (int, error) {
	if c.f.short {
		if c.f.n++; c.f.n >= c.f.at {
			return c.File.Write(b[:len(b)/2])
		}
		return c.File.Write(b)
	}
	if err := c.f.step(true); err != nil {
		n := 0
		if c.f.torn {
			n, _ = c.File.Write(b[:len(b)/2])
		}
		return n, err
	}
	return c.File.Write(b)
}

func (c *faultFile) Sync() error {
	if err := c.f.step(true); err != nil {
		return err
	}
	return c.File.Sync()
}

func (c *faultFile) ReadOnly() error {
	if err := c.f.step(false); err != nil {
		return err
	}
	return c.File.ReadOnly()
}

func (c *faultFile) Close() error {
	if err := c.f.step(false); err != nil {
		return err
	}
	return c.File.Close()
}

var (
	_ archive.FS = (*memFS)(nil)
	_ archive.FS = (*faultFS)(nil)

	errDead = errors.New("the process is gone")
	errFull = &fs.PathError{Op: "write", Path: "x", Err: syscall.ENOSPC}
)
