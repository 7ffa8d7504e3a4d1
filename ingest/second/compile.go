package second

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"time"

	"github.com/tetratelabs/wazero"
)

// compileMark is set in the environment of a process that only compiles, and
// holds the folder to compile into.
const compileMark = "WINDROW_COMPILE_SECOND"

// CacheVar is the environment variable in which a process set apart, whose
// environment is otherwise empty, is told the folder of [Options].
const CacheVar = "WINDROW_SECOND_CACHE"

// build names the machine code of this version; a test holds it against
// go.mod.
const build = "pdfium-1.21.4-wazero-1.12.0"

// CacheDir is the usual folder for the compiled engine, in the user's own
// cache folder, or "" where the user has none.
func CacheDir() string {
	base, err := os.UserCacheDir()
	if err != nil {
		return ""
	}
	return filepath.Join(base, "windrow", "second")
}

// compiled reports whether a folder holds the machine code of this version.
func compiled(dir string) bool {
	found, _ := filepath.Glob(filepath.Join(dir, build, "wazero-*", "*"))
	for _, f := range found {
		if filepath.Ext(f) != ".tmp" {
			return true
		}
	}
	return false
}

// Compile fills the cache folder where that is needed, in a process of its
// own, as compiling takes 3 seconds and 350 MB once. It must not be called
// by a program whose main function doesn't call [Compiling] first. An error
// means only that engines start slowly: the folder may not be written to.
func Compile(ctx context.Context, dir string) error {
	if dir == "" || compiled(dir) {
		return nil
	}
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return err
	}
	old, _ := filepath.Glob(filepath.Join(dir, "pdfium-*"))
	for _, o := range old {
		if filepath.Base(o) != build {
			_ = os.RemoveAll(o) // 21 MB of an earlier version; if it stays, it does no harm
		}
	}
	program, err := os.Executable()
	if err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(ctx, time.Minute)
	defer cancel()
	cmd := exec.CommandContext(ctx, program)
	cmd.Env = append(os.Environ(), compileMark+"="+dir)
	return cmd.Run()
}

// Compiling reports whether this process was started by [Compile]. It has
// then done its work, and main must end the process with the given code.
func Compiling() (code int, yes bool) {
	dir := os.Getenv(compileMark)
	if dir == "" {
		return 0, false
	}
	if err := compileInto(dir); err != nil {
		return 1, true
	}
	return 0, true
}

// compileInto compiles within this process.
func compileInto(dir string) error {
	cache, err := wazero.NewCompilationCacheWithDir(filepath.Join(dir, build))
	if err != nil {
		return err
	}
	p, err := initPool(cache)
	if err != nil {
		return err
	}
	return p.Close()
}
