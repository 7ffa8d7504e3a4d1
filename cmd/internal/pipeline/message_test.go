package pipeline

import (
	"strings"
	"testing"

	"example.org/windrow/ingest"
)

func plainTalk(text string) *talk {
	src := ingest.NewSource("a.eml", []byte(text))
	src.Member = "message text"
	return talkOf(&Reading{Source: src})
}

// gridTalk is a page of cells, as the reader of HTML gives them; a row is a
// line, and bars part its cells.
func gridTalk(text string) *talk {
	page := &ingest.Page{Number: 1, Name: "page"}
	for r, line := range strings.Split(text, "\n") {
		for c, cell := range strings.Split(line, "|") {
			if cell != "" {
				page.Cells = append(page.Cells, ingest.Cell{Row: r + 1, Col: c + 1, Text: cell})
			}
		}
	}
	src := ingest.NewSource("a.eml", []byte("<!DOCTYPE html><p>x</p>"))
	src.Member = "message page"
	return talkOf(&Reading{Source: src, Docs: []*ingest.Document{{Pages: []*ingest.Page{page}}}})
}

// TestNumbersInMessages: what people write in mails is quiet, and results in
// them are not. The texts are made up after mails as offices get them.
func TestNumbersInMessages(t *testing.T) {
	labels := map[string]bool{"Glimmer": true}
	quiet := []string{
		"Good day,\n\nattached are the results of job BP4410, 3 samples, received 2026-02-23.\nCall 555-0166.\n\n14 Millrace Lane\nHollin Ford, CX 00014",
		"Samples: 3\nInvoice: 1204\nTotal: $54.00\nReported: 2026-03-02",
		"Please lime at 2 tons per acre; the pH meter was checked on 3 March. Salts in 1:2 soil:water.",
		"On 2025-04-02 A. Reed wrote:\n> Lab # AR1931.01  pH 5.9  K 144 ppm\n> P: 22",
		"As of: 2026-03-02\nLead time: 3 days\nB. Ashdown, ext. 12",
		"",
	}
	loud := []string{
		"Sample  pH  P  K\nS-1  6.4  31  144",
		"pH: 6.4",
		"Your P came to: no, K: 144.",
		"Phosphorus    31 mg/kg",
		"P 31 ppm",
		"Glimmer: 12",
		"one,12,4\ntwo,13,5",
		"Sodium | 12",
	}
	for _, text := range quiet {
		if talk := plainTalk(text); !talk.table(labels).IsZero() {
			t.Errorf("%q is taken for results: %s", text, talk.shown)
		}
	}
	for _, text := range loud {
		if at := plainTalk(text).table(labels); at.Line == 0 {
			t.Errorf("%q is taken for talk", text)
		}
	}
	quietPages := []string{
		"Good day,\nClient:|Yarrow Hutterley\nSamples:|3\nReported:|2026-03-02\nOffice|555-0166\n14 Millrace Lane|CX 00014",
		"As received|Weight\nS-1|14",
	}
	loudPages := []string{
		"Sample|Field|Sand %|Silt %\nS-1|Barn lot|62|24",
		"Sample|Salts (dS/m)\nS-1|0.38",
		"Unheard of|12|mg/kg",
		"Potassium|<5",
		"Sample|Alpha|Beta\nS-1|12|13\nS-2|14|15",
	}
	for _, text := range quietPages {
		if talk := gridTalk(text); !talk.table(nil).IsZero() {
			t.Errorf("the page %q is taken for results: %s", text, talk.shown)
		}
	}
	for _, text := range loudPages {
		if at := gridTalk(text).table(nil); at.Cell == "" {
			t.Errorf("the page %q is taken for talk", text)
		}
	}
	if a, b := plainTalk("pH 6.4\nP 31"), gridTalk("Job 12\npH|6.4\nP|31"); !a.copies(b) || b.copies(a) {
		t.Error("a copy is told by its numbers")
	}
}
