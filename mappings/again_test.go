package mappings

import "testing"

// A label that says whose a sample is stands once for each.
func TestLabelAgain(t *testing.T) {
	grids := top + `
    format: workbook
    one sample each: sheet
    sample: [{after: "Member:", reads: client_name}, {after: "No.:", reads: lab_sample_id}]
    labels:
      - {after: pH, test: pH}
    not results:
      - {text: "Member: the Society", why: footer}
`
	pages := top + `
    format: pdf
    one sample each: page
    sample: [{after: "Member:", reads: client_name}, {after: "No.:", reads: lab_sample_id}]
    labels:
      - {after: pH, test: pH}
`
	for _, c := range []struct{ what, mapping, text, want string }{
		{"once", grids, "LAB\nMember:|Ada Thorn\nNo.:|7\npH|6.1", ""},
		{"the same again", grids, "LAB\nMember:|Ada Thorn\nNo.:|7\npH|6.1\nMember:|ADA THORN", ""},
		{"another", grids, "LAB\nMember:|Ada Thorn\nNo.:|7\npH|6.1\nMember:|Ben Moss", "label-differs"},
		{"another number", grids, "LAB\nMember:|Ada Thorn\nNo.:|7\npH|6.1\nNo.:|8a", "label-differs"},
		{"a declared one", grids, "LAB\nMember:|Ada Thorn\nNo.:|7\npH|6.1\nMember: the Society", ""},
		{"none again", grids, "LAB\nMember:|Ada Thorn\nNo.:|7\npH|6.1\nMember:|n/a", ""},
		{"a page", pages, "LAB\nMember: Ada Thorn\nNo.: 7\npH  6.1", ""},
		{"another on the page", pages, "LAB\nMember: Ada Thorn\nNo.: 7\npH  6.1\nMember: Ben Moss", "label-differs"},
	} {
		doc := grid(c.text)
		if c.mapping == pages {
			doc = drawn(c.text)
		}
		x := read(t, c.mapping, doc)
		got := ""
		for _, r := range x.Reasons {
			got += r.Code
		}
		if got != c.want {
			t.Errorf("%s: %q, want %q", c.what, got, c.want)
		}
	}
}

// So does a label that says when, how deep or for whom a sample was taken, in
// whatever wording and wherever it stands; words that only look like one do not.
func TestLabelAgainOnAPage(t *testing.T) {
	const mapping = top + `
    format: pdf
    one sample each: page
    report:
      - {after: "Prepared for:", reads: client_name}
      - {after: Date Sampled, reads: date_sampled}
      - {below: Client, reads: client_sample_id}
      - {after: "Depth:", reads: depth}
    sample: [{after: "No.:", reads: lab_sample_id}]
    labels:
      - {after: pH, test: pH}
    not results:
      - {from: Remarks, why: remarks}
`
	const page = `
LAB
Prepared for: Ada Thorn      Client
Date Sampled 2026-04-02      North
Depth: 6 in
No.: 7
pH  6.1
Remarks
`
	for _, c := range []struct{ what, more, want string }{
		{"nothing more", "", ""},
		{"a date", "Date Sampled 2026-04-09", "label-differs"},
		{"the same date", "Date Sampled 2026-04-02", ""},
		{"no date", "Date Sampled as the client says", ""},
		{"a depth", "Depth 12 in", "label-differs"},
		{"the same depth", "Depth: 0-6 inches", ""},
		{"a client, without a colon", "Prepared for Ben Moss", "label-differs"},
		{"a client within a sentence", "This was Prepared for Ben Moss", "label-differs"},
		{"a sample under its label", "Client\nSouth", "label-differs"},
		{"a sample beside its label", "Client: South", "label-differs"},
		{"the same sample", "Client\nNorth", ""},
		{"a word of a sentence", "Client services are closed on Sundays", ""},
		{"a number", "No.: 8", "label-differs"},
	} {
		x := read(t, mapping, drawn(page+c.more))
		got := ""
		for _, r := range x.Reasons {
			got += r.Code
		}
		if got != c.want {
			t.Errorf("%s: %q, want %q", c.what, got, c.want)
		}
	}
}
