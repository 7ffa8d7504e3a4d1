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
