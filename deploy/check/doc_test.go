// Package check holds the files of the folder above against the programs and
// the specifications that they are written for. It is a module of its own, so
// that the libraries which know these specifications are no dependency of the
// program.
//
// Enters: the files of deploy, the repository's program built as the container
// definition builds it, and programs of the system where they are there.
// Leaves: nothing but what a test says.
//
// Never: it starts a container, a cluster or a server of another program, or
// reaches beyond this computer; what only those could tell is said in
// deploy/README.md.
package check

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// top is the repository, from this folder.
const top = "../.."

// program is the binary, built once by the line of the container definition.
var program string

func TestMain(m *testing.M) {
	dir, err := os.MkdirTemp("", "windrow-deploy-*")
	if err != nil {
		panic(err)
	}
	// Also who isn't root runs what is in it.
	if err := os.Chmod(dir, 0o755); err != nil {
		panic(err)
	}
	code := 1
	if program, err = buildAsContainer(dir); err != nil {
		_, _ = os.Stderr.WriteString("the program can't be built as deploy/Containerfile builds it: " + err.Error() + "\n")
	} else {
		code = m.Run()
	}
	_ = os.RemoveAll(dir) // in a folder for temporary files
	os.Exit(code)
}

// find is a program of the system, or one that make needs put into bin/tools.
// Without it the test is skipped, and says so.
func find(t *testing.T, name, debian string) string {
	t.Helper()
	if p, err := exec.LookPath(name); err == nil {
		return p
	}
	if p, err := filepath.Abs(filepath.Join(top, "bin", "tools", name)); err == nil {
		if _, err := os.Stat(p); err == nil {
			return p
		}
	}
	t.Skipf("skipped: there is no %s on this machine; Debian has it in the package %s, and make needs fetches it", name, debian)
	return ""
}

func read(t *testing.T, path string) []byte {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// output runs a program that must end well, and gives what it prints.
func output(t *testing.T, dir, name string, args ...string) string {
	t.Helper()
	cmd := exec.Command(name, args...)
	cmd.Dir = dir
	b, err := cmd.CombinedOutput()
	if err != nil {
		t.Fatalf("%s %s: %v\n%s", filepath.Base(name), strings.Join(args, " "), err, b)
	}
	return string(bytes.TrimSpace(b))
}
