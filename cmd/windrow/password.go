package main

import (
	"bufio"
	"errors"
	"io"
	"os"
	"strings"

	"golang.org/x/term"

	"example.org/windrow/ingest"
)

// longestLine is how many bytes of a password are taken.
const longestLine = 4096

// askPassword gets a password: from a terminal, which does not show it, twice;
// or from a file or a pipe, of which it is the first line.
func (e *env) askPassword(in *os.File, prompt string) (string, error) {
	if !term.IsTerminal(int(in.Fd())) {
		line, err := bufio.NewReader(io.LimitReader(in, longestLine)).ReadString('\n')
		if err != nil && !errors.Is(err, io.EOF) {
			return "", noPassword(ingest.Cause(err))
		}
		if line = strings.TrimRight(line, "\r\n"); line == "" {
			return "", noPassword("nothing")
		}
		return line, nil
	}
	var given [2]string
	for i := range given {
		putf(e.stderr, "%s", prompt)
		b, err := term.ReadPassword(int(in.Fd()))
		putf(e.stderr, "\n")
		if err != nil {
			return "", noPassword(ingest.Cause(err))
		}
		given[i], prompt = string(b), "The same again: "
	}
	if given[0] != given[1] {
		return "", &ingest.Reason{Code: "password-unlike", Severity: ingest.Fail, Where: ingest.Place{File: "terminal"}, What: "the two passwords are not the same", Next: "give the command again; nothing was changed"}
	}
	return given[0], nil
}

func noPassword(found string) error {
	return &ingest.Reason{Code: "password-none", Severity: ingest.Fail, Where: ingest.Place{File: "standard input"}, What: "no password was given", Expected: "a terminal to ask at, or a password on the first line", Found: found, Next: "give the command at a terminal"}
}
