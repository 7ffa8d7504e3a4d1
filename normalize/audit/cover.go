package audit

import (
	"fmt"

	"github.com/xuri/excelize/v2"
)

// A Figure is one line of an account's cover.
type Figure struct{ Label, Text string }

// Figures are the account in figures, for a cover or a screen.
func (a *Account) Figures() []Figure {
	t := a.Tally
	steps, findings := a.Unverified()
	partSteps, partFindings := a.InPart()
	fs := []Figure{
		{"reports", fmt.Sprintf("%d, of which %d are held; %d samples, %d results", t.Reports, a.Held, t.Records, t.Results)},
		{"recomputed", fmt.Sprintf("%d values, of which %d were converted; %d steps, %d forms, %d estimates, %d quantities that follow from results", t.Values, t.Converted, t.Steps, t.Forms, t.Estimates, t.Derived)},
		{"without a value", fmt.Sprintf("%d not converted, with the reason; %d without a number on the page", t.Refused, t.NoNumber)},
		{"conversions", fmt.Sprintf("%d different ones", len(a.Conversions))},
		{"outside domain", fmt.Sprintf("%d estimates that were asked for, and have no number", len(a.Outside))},
		{"unverified", fmt.Sprintf("%d steps and %d findings rest on memory, on common practice, or on no known source", steps, findings)},
		{"partly from memory", fmt.Sprintf("%d steps and %d findings rest on a source whose entry is from memory in part", partSteps, partFindings)},
		{"differences", fmt.Sprint(len(a.Differences))},
	}
	if r := a.Reread; r != nil {
		fs = append(fs, Figure{"read again", fmt.Sprintf("%d printed texts at their places in the originals; %d could not be", r.Texts, r.Without)})
	} else {
		fs = append(fs, Figure{"read again", "no: the printed texts were taken as the archive has them"})
	}
	return fs
}

// Verdict says in a sentence what came of the audit.
func (a *Account) Verdict() string {
	switch n := len(a.Differences); n {
	case 0:
		return fmt.Sprintf("All %d values agree with what was recomputed.", a.Tally.Values)
	case 1:
		return "1 difference was found. It is to be looked at before this is signed."
	default:
		return fmt.Sprintf("%d differences were found. They are to be looked at before this is signed.", n)
	}
}

// Blanks are the lines of the place to sign.
func Blanks() []Figure {
	return []Figure{{"name", ""}, {"date", ""}, {"decision", "☐ accepted    ☐ accepted with remarks    ☐ not accepted"}, {"remarks", ""}, {"", ""}, {"signature", ""}}
}

// ToSign is the command that keeps a sign-off of the account in the archive.
func (a *Account) ToSign() string {
	s := "windrow audit sign"
	for _, x := range []struct{ flag, v string }{{"since", a.Scope.Since}, {"until", a.Scope.Until}, {"lab", a.Scope.Lab}} {
		if x.v != "" {
			s += " --" + x.flag + " " + x.v
		}
	}
	hash, _ := a.Hash() // a struct of text and numbers
	return s + ` --name "…" --decision "…" --note "…" --account ` + hash[:12]
}

// HowToRead explains the account to who has not seen one.
func HowToRead() []string {
	return []string{
		"Every value was recomputed from the number that the laboratory printed, by the factor or equation stored beside the value, with forty digits and by other arithmetic than that which made it. It has to come out within half a unit of the last digit kept.",
		"Each step has to begin where the one before it ended, inputs such as depth or density have to give the factor that was used, one conversion has to have one factor, and every source key has to lead to a source.",
		"What no arithmetic can tell is for the person who signs: whether the source of each conversion says what is claimed, and whether the examples show what stands on the page. Compare each example with the original at the place given.",
	}
}

// cover writes the first sheet.
func (w *binder) cover() error {
	const name = "Account"
	if err := w.f.SetSheetName("Sheet1", name); err != nil {
		return err
	}
	if err := w.f.SetColWidth(name, "A", "A", 18); err != nil {
		return err
	}
	if err := w.f.SetColWidth(name, "B", "B", 84); err != nil {
		return err
	}
	row := 0
	var failed error
	put := func(a, b string, sa, sb int) {
		row++
		for i, c := range []struct {
			text  string
			style int
		}{{a, sa}, {b, sb}} {
			at, err := excelize.CoordinatesToCellName(i+1, row)
			if err == nil {
				err = w.f.SetCellStr(name, at, cellText(c.text))
			}
			if err == nil {
				err = w.f.SetCellStyle(name, at, at, c.style)
			}
			if err != nil && failed == nil {
				failed = err
			}
		}
	}
	height := func(h float64) {
		if err := w.f.SetRowHeight(name, row, h); err != nil && failed == nil {
			failed = err
		}
	}
	// Not every program makes a row as high as its text.
	text := func(a, b string, sb int) {
		put(a, b, w.label, sb)
		height(lineHeight * float64(linesOf(b, 104)))
	}
	hash, err := w.account.Hash()
	if err != nil {
		return err
	}
	put("Audit of values", "", w.title, w.title)
	height(26)
	text("of", w.account.Scope.String(), w.figure)
	if w.Office != "" {
		text("office", w.Office, w.figure)
	}
	text("made", w.Made.UTC().Format("2006-01-02 15:04")+" UTC by Windrow "+w.Software, w.figure)
	text("account", hash, w.figure)
	row++
	verdict := w.label
	if len(w.account.Differences) > 0 {
		verdict = w.alarm
	}
	text("outcome", w.account.Verdict(), verdict)
	for _, f := range w.account.Figures() {
		text(f.Label, f.Text, w.figure)
	}
	row++
	for i, s := range HowToRead() {
		k := ""
		if i == 0 {
			k = "how to read it"
		}
		text(k, s, w.figure)
	}
	row++
	put("To sign", "", w.title, w.title)
	height(26)
	for _, f := range Blanks() {
		put(f.Label, f.Text, w.low, w.line)
		height(26)
	}
	row++
	text("to keep it", "The sign-off counts once it is in the archive: "+w.account.ToSign(), w.figure)
	for i, s := range w.Since {
		k := ""
		if i == 0 {
			k = "signed before"
		}
		for _, l := range s.Lines() {
			text(k, l, w.figure)
			k = ""
		}
		for _, o := range w.Signed {
			if o.ID == s.SignOff && o.Note != "" {
				text("", "“"+o.Note+"”", w.figure)
			}
		}
	}
	if failed != nil {
		return failed
	}
	return w.print(name, "portrait", 1, false)
}
