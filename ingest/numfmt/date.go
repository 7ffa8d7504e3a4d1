package numfmt

import (
	"fmt"
	"strconv"
	"strings"
)

// An Epoch is the day from which a workbook counts (ECMA-376 part 1,
// 18.17.4.1).
type Epoch int

// The two epochs, of which a workbook says the one it counts from.
const (
	From1900 Epoch = iota // day 1 is 1900-01-01, and 1900-02-29 is counted although it never was
	From1904              // day 0 is 1904-01-01
)

// lastDay is 9999-12-31, the last day that Excel shows, in days from 1900.
const lastDay = 2_958_465

const millisOfDay = 86_400_000

// A moment is a day and a time of day as a workbook counts them.
type moment struct {
	days   int // as stored
	millis int // of the day
}

// momentOf cuts a number of days into days and milliseconds, rounded to the
// unit that is shown.
func momentOf(n Number, unit int) moment {
	whole, part := n.precise().split()
	days, _ := strconv.Atoi(whole)
	// Twelve decimals of a day are a tenth of a microsecond.
	if len(part) > 12 {
		part = part[:12]
	}
	part += strings.Repeat("0", 12-len(part))
	f, _ := strconv.ParseInt(part, 10, 64)
	// millis = f / 1e12 * 86 400 000, rounded half up to the unit.
	micros := f * 864 / 10_000 // f * 86.4e9 / 1e12 µs, at most 86.4e9
	u := int64(unit) * 1000
	rounded := (micros + u/2) / u * u / 1000
	m := moment{days, int(rounded)}
	if m.millis >= millisOfDay {
		m.days, m.millis = m.days+1, m.millis-millisOfDay
	}
	return m
}

// civil is the calendar date of a day number, by the algorithm of days from
// civil; ok is false for a day that doesn't exist.
func (m moment) civil(e Epoch) (y, mon, d int, ok bool) {
	day := m.days
	if e == From1904 {
		day += 1462 // 1904-01-01 counted from 1900, with the day that never was
	}
	switch {
	case day < 1 || day > lastDay:
		return 0, 0, 0, false
	case day == 60:
		return 1900, 2, 29, false
	case day > 60:
		day--
	}
	// Day 1 is now 1900-01-01 in the true calendar. 693 900 days lie between
	// 0000-03-01 and the day before it.
	z := day + 693_900
	era := z / 146_097
	doe := z % 146_097
	yoe := (doe - doe/1460 + doe/36_524 - doe/146_096) / 365
	doy := doe - (365*yoe + yoe/4 - yoe/100)
	mp := (5*doy + 2) / 153
	d = doy - (153*mp+2)/5 + 1
	mon = mp + 3
	if mon > 12 {
		mon -= 12
	}
	y = yoe + era*400
	if mon <= 2 {
		y++
	}
	return y, mon, d, true
}

// weekday is 0 for Sunday. Day 1 from 1900 is a Sunday to Excel, whose week
// runs through the day that never was; from then on it agrees with the world.
func (m moment) weekday(e Epoch) int {
	day := m.days
	if e == From1904 {
		day += 1462
	}
	return (day + 6) % 7
}

var months = [...]string{"January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November", "December"}
var weekdays = [...]string{"Sunday", "Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday"}

// showTime gives text and raw value of a number that is shown as a date,
// a time, or a length of time.
func (s *section) showTime(n Number, e Epoch, plain string) Shown {
	trouble := Shown{Raw: plain, Trouble: NoDate}
	if n.neg && !n.zero() || n.point > 8 {
		return trouble
	}
	unit, hasDate := 1000, false
	for _, p := range s.pieces {
		if p.kind != timePart {
			continue
		}
		switch p.text[0] {
		case '.':
			unit = map[int]int{2: 100, 3: 10, 4: 1}[len(p.text)]
		case 'y', 'm', 'd':
			hasDate = true
		}
	}
	at := momentOf(n, unit)
	y, mon, d, ok := at.civil(e)
	dayOnly := n.point <= 0 // less than one day: a time alone
	if s.elapsed && hasDate {
		// A length of time has no month and no day of the week.
		return Shown{Text: plain, Raw: plain, Trouble: NotUnderstood}
	}
	if s.elapsed || dayOnly && !hasDate {
		return Shown{Text: s.clock(at, 0, 0, 0, e), Raw: plain, Date: true}
	}
	if !ok {
		return trouble
	}
	raw := fmt.Sprintf("%04d-%02d-%02d", y, mon, d)
	if sec := momentOf(n, 1000); sec.millis > 0 || sec.days != at.days {
		y, mon, d, _ := sec.civil(e)
		t := sec.millis / 1000
		raw = fmt.Sprintf("%04d-%02d-%02d", y, mon, d)
		if t > 0 {
			raw += fmt.Sprintf("T%02d:%02d:%02d", t/3600, t/60%60, t%60)
		}
	}
	return Shown{Text: s.clock(at, y, mon, d, e), Raw: raw, Date: true}
}

// clock writes the pieces of a section for a moment.
func (s *section) clock(at moment, y, mon, d int, e Epoch) string {
	var out strings.Builder
	secs := at.millis / 1000
	hour, half := secs/3600, "AM"
	if hour >= 12 {
		half = "PM"
	}
	twelve := false
	for _, p := range s.pieces {
		twelve = twelve || p.kind == timePart && strings.HasSuffix(p.text, "P") || p.text == "AM/PM" && p.kind == timePart
	}
	if twelve {
		if hour = hour % 12; hour == 0 {
			hour = 12
		}
	}
	two := func(n int) string { return fmt.Sprintf("%02d", n) }
	for _, p := range s.pieces {
		if p.kind != timePart {
			out.WriteString(p.text)
			continue
		}
		var t string
		switch p.text {
		case "y", "yy":
			t = two(y % 100)
		case "yyy", "yyyy":
			t = fmt.Sprintf("%04d", y)
		case "m":
			t = strconv.Itoa(mon)
		case "mm":
			t = two(mon)
		case "mmm":
			t = months[mon-1][:3]
		case "mmmm":
			t = months[mon-1]
		case "mmmmm":
			t = months[mon-1][:1]
		case "d":
			t = strconv.Itoa(d)
		case "dd":
			t = two(d)
		case "ddd":
			t = weekdays[at.weekday(e)][:3]
		case "dddd":
			t = weekdays[at.weekday(e)]
		case "h":
			t = strconv.Itoa(hour)
		case "hh":
			t = two(hour)
		case "n":
			t = strconv.Itoa(secs / 60 % 60)
		case "nn":
			t = two(secs / 60 % 60)
		case "s":
			t = strconv.Itoa(secs % 60)
		case "ss":
			t = two(secs % 60)
		case "[h]", "[hh]":
			t = pad(at.days*24+secs/3600, len(p.text)-2)
		case "[m]", "[mm]":
			t = pad(at.days*1440+secs/60, len(p.text)-2)
		case "[s]", "[ss]":
			t = pad(at.days*86_400+secs, len(p.text)-2)
		case "AM/PM":
			t = half
		case "A/P":
			t = half[:1]
		default: // .0 .00 .000
			t = "." + fmt.Sprintf("%03d", at.millis%1000)[:len(p.text)-1]
		}
		out.WriteString(t)
	}
	return out.String()
}

func pad(n, width int) string { return fmt.Sprintf("%0*d", width, n) }

// SerialOf turns an ISO date of a cell of type d into the number that the
// workbook would store.
func SerialOf(s string, e Epoch) (string, bool) {
	date, clock, hasTime := strings.Cut(strings.TrimSuffix(s, "Z"), "T")
	var y, m, d int
	if len(date) != 10 || date[4] != '-' || date[7] != '-' || !allDigits(date[:4]+date[5:7]+date[8:]) {
		return "", false
	}
	y, _ = strconv.Atoi(date[:4])
	m, _ = strconv.Atoi(date[5:7])
	d, _ = strconv.Atoi(date[8:])
	day, ok := dayNumber(y, m, d)
	if !ok {
		return "", false
	}
	if e == From1904 {
		day -= 1462
	}
	if !hasTime {
		return strconv.Itoa(day), true
	}
	clock, _, _ = strings.Cut(clock, ".")
	if len(clock) != 8 || clock[2] != ':' || clock[5] != ':' || !allDigits(clock[:2]+clock[3:5]+clock[6:]) {
		return "", false
	}
	h, _ := strconv.Atoi(clock[:2])
	mi, _ := strconv.Atoi(clock[3:5])
	sec, _ := strconv.Atoi(clock[6:])
	if h > 23 || mi > 59 || sec > 59 {
		return "", false
	}
	// Ten decimals of a day are nine microseconds: enough for seconds.
	f := (int64(h*3600+mi*60+sec)*10_000_000_000 + 43_200) / 86_400
	return fmt.Sprintf("%d.%010d", day, f), true
}

// dayNumber is the day number from 1900 of a date that exists.
func dayNumber(y, m, d int) (int, bool) {
	if y < 1900 || y > 9999 || m < 1 || m > 12 || d < 1 || d > 31 {
		return 0, false
	}
	yy, mm := y, m
	if mm <= 2 {
		yy--
		mm += 12
	}
	era := yy / 400
	yoe := yy % 400
	doy := (153*(mm-3)+2)/5 + d - 1
	doe := yoe*365 + yoe/4 - yoe/100 + doy
	day := era*146_097 + doe - 693_900
	if day >= 60 {
		day++
	}
	gy, gm, gd, ok := moment{days: day}.civil(From1900)
	return day, ok && gy == y && gm == m && gd == d
}

// builtIn are the number formats that a workbook refers to by number alone
// (ECMA-376 part 1, 18.8.30, for American English; 14 and 22 as Excel shows
// them there).
var builtIn = map[int]string{
	0: "General", 1: "0", 2: "0.00", 3: "#,##0", 4: "#,##0.00",
	5: `"$"#,##0_);\("$"#,##0\)`, 6: `"$"#,##0_);[Red]\("$"#,##0\)`, 7: `"$"#,##0.00_);\("$"#,##0.00\)`, 8: `"$"#,##0.00_);[Red]\("$"#,##0.00\)`,
	9: "0%", 10: "0.00%", 11: "0.00E+00", 12: "# ?/?", 13: "# ??/??",
	14: "m/d/yyyy", 15: "d-mmm-yy", 16: "d-mmm", 17: "mmm-yy", 18: "h:mm AM/PM", 19: "h:mm:ss AM/PM", 20: "h:mm", 21: "h:mm:ss", 22: "m/d/yyyy h:mm",
	37: "#,##0_);(#,##0)", 38: "#,##0_);[Red](#,##0)", 39: "#,##0.00_);(#,##0.00)", 40: "#,##0.00_);[Red](#,##0.00)",
	41: `_(* #,##0_);_(* \(#,##0\);_(* "-"_);_(@_)`, 42: `_("$"* #,##0_);_("$"* \(#,##0\);_("$"* "-"_);_(@_)`,
	43: `_(* #,##0.00_);_(* \(#,##0.00\);_(* "-"??_);_(@_)`, 44: `_("$"* #,##0.00_);_("$"* \(#,##0.00\);_("$"* "-"??_);_(@_)`,
	45: "mm:ss", 46: "[h]:mm:ss", 47: "mm:ss.0", 48: "##0.0E+0", 49: "@",
}
