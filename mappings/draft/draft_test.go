package draft

import (
	"fmt"
	"math/rand"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
)

func TestDialects(t *testing.T) {
	for _, c := range []struct {
		text, sep, enc string
	}{
		{"a,b,c\n1,2,3\n4,5,6\n", ",", "utf-8"},
		{"a;b;c\n1,5;2;3\n4,5;5;6\n", ";", "utf-8"},
		{"a;b;c\n1,5;Ren\xe9;3\n4,5;5;6\n", ";", "windows-1252"},
		{"a\tb\n1,5\t2\n", "\t", "utf-8"},
		{"a|b|c\n1|2|3\n", "|", "utf-8"},
		{"\xff\xfea\x00;\x00b\x00\n\x001\x00;\x002\x00\n\x00", ";", "utf-16le"},
		{"name,note\n\"Oak, Ned\",x\n\"Ash; Ida\",y\n", ",", "utf-8"},
		{"Report;1\nLab;Ash\nno;pH;P\n1;6,5;20\n2;6,1;30\n3;6,9;40\n", ";", "utf-8"},
	} {
		got := Dialects([]byte(c.text))
		if len(got) == 0 || got[0] != (ingest.Dialect{Encoding: c.enc, Delimiter: c.sep}) {
			t.Errorf("%.30q: %v, want %s %q", c.text, got, c.enc, c.sep)
		}
	}
}

// Every word of the list must be spelled so that it can be found, and no
// word may stand for two fields.
func TestWords(t *testing.T) {
	w := words()
	v := vocabulary()
	seen := map[string]string{}
	for field, list := range w.Fields {
		for _, s := range list {
			if o := seen[fold(s)]; o != "" && o != field {
				t.Errorf("%q stands for %s and %s", s, o, field)
			}
			seen[fold(s)] = field
			if fieldOf(s) != mappings.FieldID(field) {
				t.Errorf("%q is not found as %s", s, field)
			}
		}
	}
	for basis, analyte := range w.Bases {
		if _, ok := v.Resolve(mappings.BasisWord, basis); !ok {
			t.Errorf("the basis %q is not known", basis)
		}
		if _, ok := v.Resolve(mappings.AnalyteWord, analyte); !ok {
			t.Errorf("the analyte %q is not known", analyte)
		}
	}
	for _, m := range []map[string]string{w.Implied} {
		for id, analyte := range m {
			if _, ok := v.Resolve(mappings.MethodWord, id); !ok {
				t.Errorf("the method %q is not known", id)
			}
			if _, ok := v.Resolve(mappings.AnalyteWord, analyte); !ok {
				t.Errorf("the analyte %q is not known", analyte)
			}
		}
	}
	for s, u := range w.Units {
		if _, ok := v.Resolve(mappings.UnitWord, u); !ok {
			t.Errorf("the unit %q of %q is not known", u, s)
		}
	}
	if len(datePatterns("14/03/2026")) == 0 || len(datePatterns("March 14, 2026")) == 0 {
		t.Error("common dates are not found")
	}
}

// A report with day and month that can't be told apart gives a question, and
// the order of its dates is heard.
func TestDates(t *testing.T) {
	d := newDrafter(Options{Vocabulary: vocabulary()})
	for _, s := range []string{"03/04/2026", "05/04/2026"} {
		d.dateSeen(s)
	}
	if _, ask := d.settleDates(nil); ask == "" {
		t.Error("days and months were told apart without a reason")
	}
	p, ask := d.settleDates([][]string{{"03/04/2026", "05/04/2026", "12/04/2026"}})
	if len(p) == 0 || p[0] != "DD/MM/YYYY" || ask == "" {
		t.Errorf("%v %q: the dates lie days apart only when the day comes first", p, ask)
	}
	d.dateSeen("25/03/2026")
	if p, ask := d.settleDates(nil); len(p) != 1 || p[0] != "DD/MM/YYYY" || ask != "" {
		t.Errorf("%v %q: there is no 25th month", p, ask)
	}
}

// A long file is drafted from in a few seconds: its beginning is looked at,
// and all of it is read to test the proposal.
func TestLongFile(t *testing.T) {
	var b strings.Builder
	b.WriteString("Lab No|Field|pH|P ppm|K ppm|Ca ppm|OM %\n")
	for i := range 5000 {
		fmt.Fprintf(&b, "%d|F%d|6.%d|%d|%d|%d|2.%d\n", 10000+i, i, i%10, 10+i%90, 80+i%200, 900+i%999, i%10)
	}
	doc := grid(b.String(), "")
	start := time.Now()
	dr, reasons := Propose([][]*ingest.Document{{doc}}, Options{Vocabulary: vocabulary()})
	if dr == nil {
		t.Fatal(reasons)
	}
	if dr.Readings != 25000 || dr.Left != 0 {
		t.Errorf("%d readings, %d numbers left; want 25000 and none", dr.Readings, dr.Left)
	}
	if d := time.Since(start); d > 30*time.Second {
		t.Errorf("it took %v", d)
	} else {
		t.Log(d)
	}
}

// The hostile report of a laboratory that nobody knows: what it names in old
// words must never be read without a question.
func TestUnknownLaboratory(t *testing.T) {
	ways := readWays(t, "../../testdata/hostile/unknown-lab.pdf")
	if len(ways) == 0 {
		t.Fatal("the report was not read")
	}
	dr, reasons := Propose([][]*ingest.Document{ways}, Options{Vocabulary: vocabulary()})
	if dr == nil {
		t.Fatal(reasons)
	}
	m, why := mappings.Decode("draft.yaml", []byte(dr.Text), vocabulary())
	if m == nil {
		t.Fatal(why, dr.Text)
	}
	for _, word := range []string{"Potash", "Magnesia", "Phosphoric acid", "Humus"} {
		if strings.Contains(dr.Text, "  "+word) && !asks(dr, word) {
			t.Errorf("%s is read without a question:\n%s", word, dr.Text)
		}
	}
}

// Documents of random words must never make the drafter panic, and whatever
// it proposes must decode.
func TestRandomDocuments(t *testing.T) {
	v := vocabulary()
	list := []string{"pH", "P", "K", "Ca", "ppm", "%", "Lab No", "Result", "Unit", "6.1", "120", "--", "<0.5", "Test", "2026", "2025", "Sample", "A-1", "Mean", "Client:", "Moss Farm", "lb/acre", "Phosphate", "{x}", "#", "*", "\\", "Method", "Olsen", "Low", "Rating", "\"q\"", "14/03/2026", "Reported", "|", "100g", "OM %", "no", "yes", "null"}
	r := rand.New(rand.NewSource(7))
	proposed := 0
	for n := range 300 {
		var b strings.Builder
		rows, cols := 2+r.Intn(10), 1+r.Intn(7)
		for range rows {
			for c := range cols {
				if c > 0 {
					b.WriteString([]string{"|", "   "}[n%2])
				}
				if r.Intn(5) > 0 {
					w := list[r.Intn(len(list))]
					if n%2 == 0 {
						w = strings.ReplaceAll(w, "|", "/")
					}
					b.WriteString(w)
				}
			}
			b.WriteString("\n")
		}
		text := "VESPER LABORATORY\n" + b.String()
		doc := grid(text, "Sheet")
		if n%2 == 1 {
			doc = drawn(text)
		}
		dr, reasons := Propose([][]*ingest.Document{{doc}}, Options{Vocabulary: v})
		if dr == nil {
			if len(reasons) == 0 {
				t.Errorf("nothing proposed and no reason for\n%s", text)
			}
			continue
		}
		proposed++
		if m, why := mappings.Decode("draft.yaml", []byte(dr.Text), v); m == nil {
			t.Errorf("%s\n%s\n%v", text, dr.Text, why)
			return
		}
	}
	if proposed < 10 {
		t.Errorf("only %d of the random documents gave a draft", proposed)
	}
}

// A draft made from two reports of a laboratory reads the others without a
// fault that no question covers.
func TestDraftFromFewReports(t *testing.T) {
	labs, err := os.ReadDir(labsDir)
	if err != nil {
		t.Fatal(err)
	}
	table := ""
	for _, l := range labs {
		files, docs := labFiles(t, l.Name())
		if len(files) < 3 {
			continue
		}
		dr, _ := Propose(docs[:2], Options{Vocabulary: vocabulary()})
		if dr == nil {
			t.Errorf("%s: nothing proposed", l.Name())
			continue
		}
		var same []string
		var rest [][]*ingest.Document
		for i := range docs {
			for _, used := range docs[:2] {
				if docs[i][0].Format == used[0].Format {
					same, rest = append(same, files[i]), append(rest, docs[i])
					break
				}
			}
		}
		sc := scoreLab(t, same, rest, dr)
		table += fmt.Sprintf("%-46s %6d true %6d right %3d wrong %3d asked %5d missed\n", filepath.Base(l.Name()), sc.want, sc.right, sc.wrong, sc.asked, sc.missed)
		for _, n := range sc.notes {
			if strings.HasPrefix(n, "WRONG") {
				t.Errorf("%s: %s", l.Name(), n)
			}
		}
	}
	t.Log("\n" + table)
}

// What a draft proposes as an example decodes when its signs are taken away,
// and names values that stand on the report; until then it is a question.
func TestExamplesAreProposed(t *testing.T) {
	doc := pageShapes[0].doc
	_, dr := drafted(t, doc)
	at := strings.Index(dr.Text, "#examples:")
	if at < 0 || !strings.Contains(dr.Text[:at], "QUESTION: do these values stand so") {
		t.Fatal("no example, or no question before it:\n" + dr.Text)
	}
	text := dr.Text[:at] + strings.ReplaceAll("\n"+dr.Text[at:], "\n#", "\n")
	m, why := mappings.Decode("draft.yaml", []byte(text), vocabulary())
	if m == nil || len(why) > 0 {
		t.Fatal(why, text)
	}
	if len(m.Examples) != 1 || m.Examples[0].Sample != "26-0102" || m.Examples[0].Count != 8 {
		t.Fatalf("examples %+v", m.Examples)
	}
	for _, w := range m.Examples[0].Reads {
		if !strings.Contains("5.8 90 51 47 QUARRY", w.Want) {
			t.Errorf("%s: %q is not on the report", w.What, w.Want)
		}
	}
}

// The clients' names for their samples, in the rows under the sample numbers,
// are no words for a missing value.
func TestClientsNamesAreNotMissing(t *testing.T) {
	_, dr := drafted(t, grid(`
HILLTOP SOIL LABORATORY
Laboratory number|Unit|7050|7051|7052
Your mark||Tile E|Tile W|Swale
pH||5.9|6.4|6.0
Phosphorus|ppm|39|16|awaited
Potassium|ppm|120|150|99
`, "Results"))
	if !strings.Contains(dr.Text, "missing: [awaited]") {
		t.Error("the word for no value is not learnt, or others are:\n" + dr.Text)
	}
}
