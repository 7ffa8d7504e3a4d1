package pdf

import (
	"bytes"
	"context"
	"encoding/json"
	"encoding/xml"
	"flag"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"sort"
	"strings"
	"testing"

	"example.org/windrow/ingest"
)

var record = flag.Bool("record", false, "write what pdftotext says of the sample files to testdata/reference.json")

// A refWord is a word as pdftotext -bbox (poppler) prints it.
type refWord struct {
	Page int    `json:"p"`
	Text string `json:"t"`
	Box  [4]int `json:"b"` // tenths of a point
}

const referenceFile = "testdata/reference.json"

// samples are the PDF files that both are asked about.
func samples(t testing.TB) map[string][]byte {
	t.Helper()
	all := map[string][]byte{}
	for _, pattern := range []string{"../../testdata/labs/*/*.pdf", "../../testdata/labs/*/revised/*.pdf", "testdata/*.pdf"} {
		names, _ := filepath.Glob(pattern)
		for _, n := range names {
			b, err := os.ReadFile(n)
			if err != nil {
				t.Fatal(err)
			}
			all[strings.TrimPrefix(n, "../../testdata/labs/")] = b
		}
	}
	return all
}

// pdftotext asks poppler for the words of a file.
func pdftotext(b []byte) ([]refWord, error) {
	cmd := exec.Command("pdftotext", "-bbox", "-cropbox", "-", "-")
	cmd.Stdin = bytes.NewReader(b)
	out, err := cmd.Output()
	if err != nil {
		return nil, err
	}
	dec := xml.NewDecoder(bytes.NewReader(out))
	dec.Strict = false
	dec.Entity = xml.HTMLEntity
	var words []refWord
	page := 0
	for {
		tok, err := dec.Token()
		if err != nil {
			return words, nil
		}
		el, ok := tok.(xml.StartElement)
		if !ok {
			continue
		}
		switch el.Name.Local {
		case "page":
			page++
		case "word":
			var w struct {
				X0   float64 `xml:"xMin,attr"`
				Y0   float64 `xml:"yMin,attr"`
				X1   float64 `xml:"xMax,attr"`
				Y1   float64 `xml:"yMax,attr"`
				Text string  `xml:",chardata"`
			}
			if err := dec.DecodeElement(&w, &el); err != nil {
				return nil, err
			}
			tenth := func(v float64) int { return int(math.Round(v * 10)) }
			words = append(words, refWord{Page: page, Text: w.Text, Box: [4]int{tenth(w.X0), tenth(w.Y0), tenth(w.X1), tenth(w.Y1)}})
		}
	}
}

// An agreement counts the words of the reference that the document has with
// the same text, and of those the ones whose left and right edges and centre
// are within 2 points. Joined are those that count as parts of one word: the
// reference cuts "P2O5" with small figures, and words in small capitals, at
// each change of size.
type agreement struct {
	text, box, joined int
	missing           []string
}

func (r *refWord) at(i int) float64 { return float64(r.Box[i]) / 10 }

func agree(ref []refWord, doc *ingest.Document) (a agreement) {
	const near = 2
	used := map[*ingest.Word]bool{}
	pages := map[int][]*ingest.Word{}
	for _, p := range doc.Pages {
		for i := range p.Words {
			pages[p.Number] = append(pages[p.Number], &p.Words[i])
		}
	}
	left := map[int][]*refWord{}
	for i := range ref {
		r := &ref[i]
		var best *ingest.Word
		dist := math.Inf(1)
		for _, w := range pages[r.Page] {
			if w.Text != r.Text || used[w] {
				continue
			}
			if d := math.Hypot(w.Box.CenterX()-(r.at(0)+r.at(2))/2, w.Box.CenterY()-(r.at(1)+r.at(3))/2); d < dist {
				best, dist = w, d
			}
		}
		if best == nil || math.Abs(best.Box.X0-r.at(0)) > near || math.Abs(best.Box.X1-r.at(2)) > near || math.Abs(best.Box.CenterY()-(r.at(1)+r.at(3))/2) > near {
			left[r.Page] = append(left[r.Page], r)
			continue
		}
		used[best] = true
		a.text++
		a.box++
	}
	for page, words := range pages {
		for _, w := range words {
			if used[w] {
				continue
			}
			var parts []*refWord
			for _, r := range left[page] {
				if x, y := (r.at(0)+r.at(2))/2, (r.at(1)+r.at(3))/2; x > w.Box.X0 && x < w.Box.X1 && y > w.Box.Y0-near && y < w.Box.Y1+near {
					parts = append(parts, r)
				}
			}
			sort.SliceStable(parts, func(i, k int) bool { return parts[i].Box[0] < parts[k].Box[0] })
			whole, x0, x1 := "", math.Inf(1), 0.0
			for _, r := range parts {
				whole += r.Text
				x0, x1 = min(x0, r.at(0)), max(x1, r.at(2))
			}
			// Chromium says that small capitals are "really" small letters, and the
			// reference believes it; here a word is what a person sees.
			if len(parts) > 1 && strings.EqualFold(whole, w.Text) && math.Abs(x0-w.Box.X0) <= near && math.Abs(x1-w.Box.X1) <= near {
				used[w] = true
				a.text, a.box, a.joined = a.text+len(parts), a.box+len(parts), a.joined+len(parts)
				for _, r := range parts {
					r.Text = "" // accounted for
				}
			}
		}
	}
	for page, words := range left {
		for _, r := range words {
			if r.Text == "" {
				continue
			}
			if splits(r, pages[page], used) {
				a.text, a.box, a.joined = a.text+1, a.box+1, a.joined+1
				continue
			}
			where := "nowhere"
			for _, w := range pages[page] {
				if w.Text == r.Text && !used[w] {
					used[w] = true
					a.text++
					where = fmt.Sprintf("at %+v", w.Box)
					break
				}
			}
			a.missing = append(a.missing, fmt.Sprintf("page %d: %q at %.1f %.1f %.1f %.1f is %s", page, r.Text, r.at(0), r.at(1), r.at(2), r.at(3), where))
		}
	}
	sort.Strings(a.missing)
	return a
}

// splits reports whether a word of the reference is several of the document's
// words: it takes the gap of a whole word space behind some signs for none.
func splits(r *refWord, words []*ingest.Word, used map[*ingest.Word]bool) bool {
	const near = 2
	var parts []*ingest.Word
	for _, w := range words {
		if x, y := w.Box.CenterX(), w.Box.CenterY(); !used[w] && x > r.at(0) && x < r.at(2) && y > r.at(1)-near && y < r.at(3)+near {
			parts = append(parts, w)
		}
	}
	if len(parts) < 2 {
		return false
	}
	sort.SliceStable(parts, func(i, k int) bool { return parts[i].Box.X0 < parts[k].Box.X0 })
	whole := ""
	for _, w := range parts {
		whole += w.Text
	}
	if whole != r.Text || math.Abs(parts[0].Box.X0-r.at(0)) > near || math.Abs(parts[len(parts)-1].Box.X1-r.at(2)) > near {
		return false
	}
	for _, w := range parts {
		used[w] = true
	}
	return true
}

// TestAgainstPdftotext holds the words of all sample files against those of
// poppler's pdftotext -bbox (version 22.12.0 for the recorded answers),
// asked on the spot where it is installed and always as recorded.
func TestAgainstPdftotext(t *testing.T) {
	files := samples(t)
	var names []string
	for n := range files {
		names = append(names, n)
	}
	sort.Strings(names)
	if *record {
		answers := map[string][]refWord{}
		labs := map[string]int{}
		for _, n := range names {
			// One file of a lab is recorded; the rest are asked about afresh.
			if labs[filepath.Dir(n)]++; labs[filepath.Dir(n)] > 1 && !strings.HasPrefix(n, "testdata/") {
				continue
			}
			w, err := pdftotext(files[n])
			if err != nil {
				t.Fatalf("%s: %v", n, err)
			}
			answers[n] = w
		}
		writeAnswers(t, answers)
	}
	recorded := map[string][]refWord{}
	b, err := os.ReadFile(referenceFile)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(b, &recorded); err != nil {
		t.Fatal(err)
	}
	_, err = exec.LookPath("pdftotext")
	live := err == nil
	if !live {
		t.Log("pdftotext is not installed: only its recorded answers are compared with, not fresh ones")
	}
	words := 0
	for _, n := range names {
		ref, ok := recorded[n]
		if !ok && !live {
			continue
		}
		doc, err := New().Read(context.Background(), ingest.NewSource(n, files[n]), ingest.Limits{})
		if err != nil {
			if len(ref) > 0 {
				t.Errorf("%s: pdftotext finds %d words: %v", n, len(ref), err)
			} else if live {
				if fresh, err2 := pdftotext(files[n]); err2 == nil && len(fresh) > 0 {
					t.Errorf("%s: pdftotext finds %d words: %v", n, len(fresh), err)
				}
			}
			continue
		}
		compare := func(how string, ref []refWord) {
			a := agree(ref, doc)
			share := func(k int) float64 { return 100 * float64(k) / float64(len(ref)) }
			t.Logf("%s: %s: %d words, text %.1f %%, box %.1f %%, of them %.1f %% as parts", n, how, len(ref), share(a.text), share(a.box), share(a.joined))
			if want := 99.0; share(a.text) < want || share(a.box) < want {
				t.Errorf("%s: %s: less than %v %%:\n  %s", n, how, want, strings.Join(a.missing[:min(len(a.missing), 15)], "\n  "))
			}
			words += len(ref)
		}
		if ok {
			compare("recorded", ref)
		}
		if live {
			fresh, err := pdftotext(files[n])
			if err != nil {
				t.Errorf("%s: %v", n, err)
				continue
			}
			compare("fresh", fresh)
		}
	}
	if words < 5000 {
		t.Errorf("only %d words were compared", words)
	}
}

func writeAnswers(t *testing.T, answers map[string][]refWord) {
	var names []string
	for n := range answers {
		names = append(names, n)
	}
	sort.Strings(names)
	var b bytes.Buffer
	b.WriteString("{")
	for i, n := range names {
		if i > 0 {
			b.WriteString(",")
		}
		one, err := json.Marshal(answers[n])
		if err != nil {
			t.Fatal(err)
		}
		fmt.Fprintf(&b, "\n%q: %s", n, one)
	}
	b.WriteString("\n}\n")
	if err := os.MkdirAll("testdata", 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(referenceFile, b.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
}
