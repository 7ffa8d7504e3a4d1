package register

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"time"
)

// An order is what the first of three numbers of a date is.
type order string

const (
	monthFirst order = "m/d/y"
	dayFirst   order = "d/m/y"
)

// howDate is how a date is to be written.
const howDate = "2026-03-12 or March 12, 2026; for dates such as 3/12/2026 the heading must say their order: date sent (m/d/y)"

var (
	iso     = regexp.MustCompile(`^(\d{4})-(\d{1,2})-(\d{1,2})(?:[t ]\d{2}:\d{2}(?::\d{2})?)?$`)
	numeric = regexp.MustCompile(`^(\d{1,2})([/.-])(\d{1,2})([/.-])(\d{2,4})$`)
	written = regexp.MustCompile(`^(?:([a-z]+)\.? (\d{1,2})(?:st|nd|rd|th)?,? (\d{4})|(\d{1,2})(?:st|nd|rd|th)?[ -]([a-z]+)\.?,?[ -](\d{4}))$`)
)

var months = func() map[string]int {
	out := map[string]int{"sept": 9}
	for m := time.January; m <= time.December; m++ {
		out[strings.ToLower(m.String())], out[strings.ToLower(m.String()[:3])] = int(m), int(m)
	}
	return out
}()

// parseDate reads a date as YYYY-MM-DD. The second result is what is wrong, ""
// when nothing is.
func parseDate(text string, o order) (string, string) {
	s := strings.ToLower(strings.Join(strings.Fields(text), " "))
	if m := iso.FindStringSubmatch(s); m != nil {
		return day(m[1], m[2], m[3])
	}
	if m := written.FindStringSubmatch(s); m != nil {
		y, mon, d := m[3], m[1], m[2]
		if mon == "" {
			y, mon, d = m[6], m[5], m[4]
		}
		n := months[mon]
		if n == 0 {
			return "", "a month that is not known"
		}
		return day(y, strconv.Itoa(n), d)
	}
	m := numeric.FindStringSubmatch(s)
	switch {
	case m == nil || m[2] != m[4] || len(m[5]) == 3:
		return "", "not a date"
	case len(m[5]) != 4:
		return "", "a year of two digits"
	}
	byMonth, wrongM := day(m[5], m[1], m[3])
	byDay, wrongD := day(m[5], m[3], m[1])
	switch {
	case o == monthFirst:
		return byMonth, wrongM
	case o == dayFirst:
		return byDay, wrongD
	case wrongM != "" && wrongD != "":
		return "", "not a day of the calendar"
	case wrongM == "" && wrongD == "" && byMonth != byDay:
		return "", fmt.Sprintf("a date that can be read in two ways, as %s or as %s", longDate(byMonth), longDate(byDay))
	case wrongM == "":
		return byMonth, ""
	}
	return byDay, ""
}

func day(y, m, d string) (string, string) {
	t, err := time.Parse("2006-1-2", y+"-"+strings.TrimPrefix(m, "0")+"-"+strings.TrimPrefix(d, "0"))
	if err != nil {
		return "", "not a day of the calendar"
	}
	if t.Year() < 1990 || t.Year() > 2100 {
		return "", "a year that no sample is from"
	}
	return t.Format(time.DateOnly), ""
}

func longDate(iso string) string {
	t, err := time.Parse(time.DateOnly, iso)
	if err != nil {
		return iso
	}
	return t.Format("January 2, 2006")
}

// daysBetween is how many days lie between two dates, negative when the second
// is the earlier one; false when one is none.
func daysBetween(from, to string) (int, bool) {
	a, err1 := time.Parse(time.DateOnly, from)
	b, err2 := time.Parse(time.DateOnly, to)
	if err1 != nil || err2 != nil {
		return 0, false
	}
	return int(b.Sub(a) / (24 * time.Hour)), true
}
