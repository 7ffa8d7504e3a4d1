package register

import (
	"fmt"
	"math/rand/v2"
	"os"
	"strings"
	"testing"
	"time"

	"example.org/windrow/normalize"
)

// rows are n lines of a register in which labels, clients, laboratories and
// dates come again and again, some left out, some written otherwise.
func rows(rng *rand.Rand, n, labels, clients int) []string {
	out := make([]string, n)
	for i := range out {
		who := fmt.Sprintf("Client %c%d Quill", 'A'+rng.IntN(3), rng.IntN(clients))
		switch rng.IntN(8) {
		case 0:
			who = ""
		case 1:
			who = strings.ToUpper(who)
		case 2:
			who = who[strings.LastIndex(who, " ")+1:]
		}
		date := time.Date(2026, 3, 1+rng.IntN(120), 0, 0, 0, 0, time.UTC).Format(time.DateOnly)
		if rng.IntN(6) == 0 {
			date = ""
		}
		out[i] = fmt.Sprintf("Bed %d,%s,%s,%s,%s", rng.IntN(labels), who, date, []string{"", "Thrushgate", "Verrin"}[rng.IntN(3)], []string{"", "Wren", "Finch"}[rng.IntN(3)])
	}
	return out
}

func reports(rng *rand.Rand, n, each, labels, clients int) []*normalize.Report {
	out := make([]*normalize.Report, n)
	for i := range out {
		var list []string
		for range each {
			got := time.Date(2026, 3, 1+rng.IntN(130), 0, 0, 0, 0, time.UTC)
			sampled := got.AddDate(0, 0, -rng.IntN(20)).Format(time.DateOnly)
			list = append(list, fmt.Sprintf("bed-%d|Quill, Client %c%d|%s|%s|%s", rng.IntN(labels), 'A'+rng.IntN(3), rng.IntN(clients), sampled, got.Format(time.DateOnly), got.AddDate(0, 0, 7).Format(time.DateOnly)))
		}
		out[i] = report(list...)
	}
	return out
}

const propertyHead = "label,client,date sent,lab,county\n"

// The order of the rows decides nothing: not the row that is taken, not its
// id, not the confidence, and not a word of why.
func TestOrderDecidesNothing(t *testing.T) {
	seen := map[Confidence]int{}
	ambiguous := 0
	for seed := range uint64(60) {
		rng := rand.New(rand.NewPCG(seed, 7))
		list := rows(rng, 40, 6, 3)
		reps := reports(rng, 12, 4, 7, 3)
		say := func(r *Register) string {
			var b strings.Builder
			for _, rep := range reps {
				for _, m := range r.Match(rep) {
					id := ""
					if m.Row != nil {
						id = m.Row.ID + " " + m.Row.Client
					}
					fmt.Fprintf(&b, "%s %s %q", m.Confidence, id, m.Why)
					for _, x := range m.Among {
						b.WriteString(" " + x.ID)
					}
					b.WriteByte('\n')
				}
			}
			return b.String()
		}
		first := read(t, propertyHead+strings.Join(list, "\n")+"\n")
		want := say(first)
		for _, rep := range reps {
			for i, m := range first.Match(rep) {
				if m.Row != nil && !first.Could(rep.Lab, &rep.Records[i].Sample) {
					t.Errorf("seed %d: a row was taken for a sample that none could be about", seed)
				}
				seen[m.Confidence]++
				if m.Among != nil {
					ambiguous++
				}
			}
		}
		for range 3 {
			rng.Shuffle(len(list), func(i, j int) { list[i], list[j] = list[j], list[i] })
			if got := say(read(t, propertyHead+strings.Join(list, "\n")+"\n")); got != want {
				t.Fatalf("seed %d: another order gives\n%s\nand not\n%s", seed, got, want)
			}
		}
	}
	if seen[Exact] < 50 || seen[Likely] < 50 || seen[None] < 50 || ambiguous < 20 {
		t.Errorf("the samples of this test are too much alike: %v, ambiguous %d", seen, ambiguous)
	}
}

// Adding what is about another client changes no match.
func TestOtherClientsChangeNothing(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	list := rows(rng, 40, 6, 3)
	reps := reports(rng, 12, 4, 7, 3)
	a := read(t, propertyHead+strings.Join(list, "\n")+"\n")
	for i := range 200 {
		list = append(list, fmt.Sprintf("Bed %d,Odo Castellan,2026-04-%02d,,", i%7, i%28+1))
	}
	b := read(t, propertyHead+strings.Join(list, "\n")+"\n")
	for _, rep := range reps {
		x, y := a.Match(rep), b.Match(rep)
		for i := range x {
			if x[i].Confidence != y[i].Confidence || x[i].Row != nil && x[i].Row.ID != y[i].Row.ID {
				t.Errorf("%+v became %+v", x[i], y[i])
			}
		}
	}
}

// Ten thousand rows and ten thousand records: the labels of a real register
// repeat, so that a label has ten rows on average here. The bound is loose, for
// machines that are busy; WINDROW_MEASURE prints what it took.
func TestManyRows(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	text := propertyHead + strings.Join(rows(rng, 10_000, 1000, 300), "\n") + "\n"
	reps := reports(rng, 500, 20, 1000, 300)
	doc := document(t, text)
	start := time.Now()
	r, reasons := Read(doc)
	if r == nil {
		t.Fatal(reasons)
	}
	reading := time.Since(start)
	start = time.Now()
	n := 0
	for _, rep := range reps {
		for _, m := range r.Match(rep) {
			if m.Confidence != "" {
				n++
			}
		}
	}
	matching := time.Since(start)
	if os.Getenv("WINDROW_MEASURE") != "" {
		fmt.Printf("%d rows read in %v, %d records matched in %v\n", len(r.Rows), reading, n, matching)
	}
	if n != 10_000 || reading+matching > 10*time.Second {
		t.Errorf("%d records, read in %v, matched in %v", n, reading, matching)
	}
}
