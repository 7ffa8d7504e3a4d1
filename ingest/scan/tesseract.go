package scan

import (
	"bytes"
	"context"
	"errors"
	"io"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"time"
)

// A Recogniser reads a prepared picture (binary PGM) and answers with a table
// as Tesseract's "tsv" output has it.
type Recogniser func(ctx context.Context, pgm []byte, dpi float64, psm int) ([]byte, error)

// errNoProgram means that the recogniser isn't there to be asked.
var errNoProgram = errors.New("the program tesseract was not found")

// errLanguage means that the program lacks the data of the language.
var errLanguage = errors.New("the program tesseract has no data for the language")

const mostTable = 32 << 20 // bytes of an answer

// tesseract is a recogniser that runs the program, once a picture. The
// picture goes in and the table comes out through pipes, so nothing is left
// on the disk.
func tesseract(program, language string) Recogniser {
	return func(ctx context.Context, pgm []byte, dpi float64, psm int) ([]byte, error) {
		path, err := exec.LookPath(program)
		if err != nil {
			return nil, errNoProgram
		}
		cmd := exec.CommandContext(ctx, path, "-", "-", "-l", language, "--psm", strconv.Itoa(psm), "--dpi", strconv.Itoa(int(dpi+0.5)), "tsv")
		// One thread: the pictures are what is read at the same time.
		cmd.Env = []string{"OMP_THREAD_LIMIT=1", "LC_ALL=C"}
		for _, k := range []string{"TESSDATA_PREFIX", "PATH", "SYSTEMROOT", "LD_LIBRARY_PATH"} {
			if v := os.Getenv(k); v != "" {
				cmd.Env = append(cmd.Env, k+"="+v)
			}
		}
		cmd.Dir = os.TempDir()
		cmd.WaitDelay = 2 * time.Second
		cmd.Stdin = bytes.NewReader(pgm)
		var out, complaint capped
		out.most, complaint.most = mostTable, 4096
		cmd.Stdout, cmd.Stderr = &out, &complaint
		if err := cmd.Run(); err != nil {
			if ctx.Err() != nil {
				return nil, ctx.Err()
			}
			said := complaint.String()
			if strings.Contains(said, "Failed loading language") || strings.Contains(said, "Error opening data file") {
				return nil, errLanguage
			}
			if first, _, _ := strings.Cut(strings.TrimSpace(said), "\n"); first != "" {
				return nil, errors.New(first)
			}
			return nil, err
		}
		if out.over {
			return nil, errors.New("it found more words than a page can have")
		}
		return out.Bytes(), nil
	}
}

// capped keeps the first bytes of what is written to it.
type capped struct {
	bytes.Buffer
	most int
	over bool
}

// Write implements io.Writer.
func (c *capped) Write(p []byte) (int, error) {
	room := c.most - c.Len()
	if room < len(p) {
		c.over = true
		c.Buffer.Write(p[:max(0, room)])
		return len(p), nil
	}
	return c.Buffer.Write(p)
}

// ReadFrom implements io.ReaderFrom, so that the bound isn't passed by.
func (c *capped) ReadFrom(r io.Reader) (int64, error) {
	return io.Copy(struct{ io.Writer }{c}, r)
}
