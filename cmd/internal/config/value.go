package config

import (
	"regexp"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// A Size is a number of bytes, written with a binary unit such as 64 MiB.
type Size int64

// The units of sizes.
const (
	KiB Size = 1 << 10
	MiB Size = 1 << 20
	GiB Size = 1 << 30
)

// String writes the size in the largest unit that leaves a whole number.
func (s Size) String() string {
	switch {
	case s != 0 && s%GiB == 0:
		return strconv.FormatInt(int64(s/GiB), 10) + " GiB"
	case s != 0 && s%MiB == 0:
		return strconv.FormatInt(int64(s/MiB), 10) + " MiB"
	case s != 0 && s%KiB == 0:
		return strconv.FormatInt(int64(s/KiB), 10) + " KiB"
	}
	return strconv.FormatInt(int64(s), 10) + " bytes"
}

var (
	sizeForm     = regexp.MustCompile(`^([0-9]{1,12}) ?(bytes|KiB|MiB|GiB)$`)
	numberForm   = regexp.MustCompile(`^(0|[1-9][0-9]{0,17})$`)
	durationForm = regexp.MustCompile(`^([0-9]+h)?([0-9]+m)?([0-9]+(\.[0-9]+)?s)?([0-9]+ms)?$`)
)

// parseSize reads a size. The unit is never left out: a bare number would be
// taken for megabytes by one reader and for bytes by the next.
func parseSize(s string) (Size, bool) {
	m := sizeForm.FindStringSubmatch(s)
	if m == nil {
		return 0, false
	}
	n, err := strconv.ParseInt(m[1], 10, 64)
	if err != nil {
		return 0, false
	}
	unit := map[string]Size{"bytes": 1, "KiB": KiB, "MiB": MiB, "GiB": GiB}[m[2]]
	if Size(n) > (1<<62)/unit {
		return 0, false
	}
	return Size(n) * unit, true
}

// wholeNumber reads plain digits only: no sign, no leading zero that another
// reader would take for an octal number, no underscores, no exponent.
func wholeNumber(s string) (int64, bool) {
	if !numberForm.MatchString(s) {
		return 0, false
	}
	n, err := strconv.ParseInt(s, 10, 64)
	return n, err == nil
}

// parseDuration reads hours, minutes, seconds and milliseconds; never a bare
// number.
func parseDuration(s string) (time.Duration, bool) {
	if s == "" || !durationForm.MatchString(s) {
		return 0, false
	}
	d, err := time.ParseDuration(s)
	return d, err == nil
}

// short is a duration without the zero parts that time.Duration prints.
func short(d time.Duration) string {
	s := d.String()
	if strings.HasSuffix(s, "m0s") {
		s = strings.TrimSuffix(s, "0s")
	}
	if strings.HasSuffix(s, "h0m") {
		s = strings.TrimSuffix(s, "0m")
	}
	return s
}

// plain reports whether a text holds nothing that could disturb a terminal, a
// letter or a path.
func plain(s string, lines bool) bool {
	if !utf8.ValidString(s) {
		return false
	}
	for _, r := range s {
		if r == '\n' && lines {
			continue
		}
		// Cf holds the marks that turn the direction of writing round, with
		// which a text can be made to look like another.
		if unicode.IsControl(r) || unicode.Is(unicode.Cf, r) || r == '\u2028' || r == '\u2029' {
			return false
		}
	}
	return true
}

// quoted is a value as an error shows it: short, and harmless to a terminal.
func quoted(s string) string {
	if r := []rune(s); len(r) > 60 {
		s = string(r[:60]) + "…"
	}
	return strconv.Quote(s)
}
