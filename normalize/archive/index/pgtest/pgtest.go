//go:build unix

// Package pgtest starts a PostgreSQL server for a test: a real one, of the
// programs that are installed (Debian package postgresql, which "make needs"
// installs), with its data in a temporary folder, on a socket of its own and
// on no port. It imports nothing of Windrow.
//
// Enters: a test. Leaves: the address of a server that ends with the test.
// Never: it touches a server that runs already, or lets a test pass silently
// where there is none: the test is skipped, and says what is missing.
package pgtest

import (
	"errors"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
)

// A Server is a PostgreSQL server that belongs to a test.
type Server struct {
	bin, dir string
	attr     *syscall.SysProcAttr
	made     atomic.Int64
}

// Start starts a server that ends with the test, or skips the test with what
// is missing.
func Start(t testing.TB) *Server {
	t.Helper()
	s, err := launch()
	if s != nil {
		t.Cleanup(s.end)
	}
	orNot(t, err)
	return s
}

var shared struct {
	sync.Mutex
	s   *Server
	err error
}

// Shared is one server for all tests of a package, whose TestMain calls
// EndShared: it takes seconds to make one.
func Shared(t testing.TB) *Server {
	t.Helper()
	shared.Lock()
	defer shared.Unlock()
	if shared.s == nil && shared.err == nil {
		shared.s, shared.err = launch()
	}
	orNot(t, shared.err)
	return shared.s
}

// EndShared ends the server that Shared has started, if it has.
func EndShared() {
	if shared.s != nil {
		shared.s.end()
	}
}

// errMissing is for what is not installed.
var errMissing = errors.New("NOT RUN")

func orNot(t testing.TB, err error) {
	t.Helper()
	if errors.Is(err, errMissing) {
		t.Skip(err)
	}
	if err != nil {
		t.Fatal(err)
	}
}

func (s *Server) end() {
	s.Down()
	_ = os.RemoveAll(s.dir)
}

// launch gives a server also with an error, where there is something to end.
func launch() (*Server, error) {
	s := &Server{attr: &syscall.SysProcAttr{}}
	if m, _ := filepath.Glob("/usr/lib/postgresql/*/bin"); len(m) > 0 {
		s.bin = m[len(m)-1]
	} else if p, err := exec.LookPath("initdb"); err == nil {
		s.bin = filepath.Dir(p)
	}
	if s.bin == "" {
		return nil, fmt.Errorf("%w: there is no PostgreSQL here. To have it: apt-get install postgresql", errMissing)
	}
	var err error
	if s.dir, err = os.MkdirTemp("/tmp", "pg"); err != nil { // a socket's path must be short
		return nil, err
	}
	if os.Getuid() == 0 { // which PostgreSQL refuses to run as
		u, err := user.Lookup("postgres")
		if err != nil {
			return s, fmt.Errorf("%w: as root this test needs the account postgres, which Debian's package makes: %w", errMissing, err)
		}
		uid, _ := strconv.Atoi(u.Uid)
		gid, _ := strconv.Atoi(u.Gid)
		// So that the socket is reached.
		if err := errors.Join(os.Chown(s.dir, uid, gid), os.Chmod(s.dir, 0o755)); err != nil {
			return s, err
		}
		s.attr.Credential = &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}
	}
	// In a locale that folds and orders more than ASCII, so that what depends
	// on one shows.
	if _, err := s.command("", "initdb", "-D", s.data(), "-U", "test", "-A", "trust", "--no-sync", "-E", "UTF8", "--locale=C.UTF-8"); err != nil {
		return s, err
	}
	return s, s.up()
}

func (s *Server) data() string { return filepath.Join(s.dir, "data") }

// Up starts the server again after Down.
func (s *Server) Up(t testing.TB) {
	t.Helper()
	if err := s.up(); err != nil {
		t.Fatal(err)
	}
}

func (s *Server) up() error {
	_, err := s.command("", "pg_ctl", "-D", s.data(), "-w", "-l", filepath.Join(s.dir, "log"), "-o", "-c listen_addresses='' -c max_connections=200 -k "+s.dir+" -c fsync=off", "start")
	return err
}

// Down stops the server at once, as when its machine loses power but not its
// disk.
func (s *Server) Down() {
	c := exec.Command(filepath.Join(s.bin, "pg_ctl"), "-D", s.data(), "-m", "immediate", "-w", "stop")
	c.SysProcAttr, c.Dir = s.attr, s.dir
	_ = c.Run() // it may be down
}

// SQL runs statements in a database with psql, and gives what it printed.
func (s *Server) SQL(t testing.TB, database, sql string) string {
	t.Helper()
	out, err := s.command(sql, "psql", "-h", s.dir, "-U", "test", "-d", database, "-v", "ON_ERROR_STOP=1", "-At", "-f", "-")
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// Database makes an empty database and gives its address.
func (s *Server) Database(t testing.TB) string {
	t.Helper()
	name := fmt.Sprintf("d%d", s.made.Add(1))
	s.SQL(t, "postgres", "CREATE DATABASE "+name)
	return s.address(name, nil)
}

// Schema makes an empty schema, which is quicker than a database, and gives
// an address under which all that is done is done in it.
func (s *Server) Schema(t testing.TB) string {
	t.Helper()
	name := fmt.Sprintf("s%d", s.made.Add(1))
	s.SQL(t, "postgres", "CREATE SCHEMA "+name)
	return s.address("postgres", url.Values{"search_path": {name}})
}

func (s *Server) address(database string, q url.Values) string {
	if q == nil {
		q = url.Values{}
	}
	q.Set("host", s.dir)
	return "postgres://test@/" + database + "?" + q.Encode()
}

func (s *Server) command(stdin, name string, args ...string) (string, error) {
	c := exec.Command(filepath.Join(s.bin, name), args...)
	c.SysProcAttr, c.Dir, c.Stdin = s.attr, s.dir, strings.NewReader(stdin)
	var out strings.Builder
	c.Stdout, c.Stderr = &out, &out
	if name == "pg_ctl" { // its server keeps the pipe open
		c.Stdout, c.Stderr = nil, nil
	}
	if err := c.Run(); err != nil {
		log, _ := os.ReadFile(filepath.Join(s.dir, "log"))
		return "", fmt.Errorf("%s: %w\n%s%s", name, err, out.String(), log)
	}
	return out.String(), nil
}
