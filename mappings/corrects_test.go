package mappings

import "testing"

// Ways in which laboratories say that a report takes the place of an earlier
// one, and sentences with the same words that say nothing of the kind; common
// practice, no source.
func TestCorrects(t *testing.T) {
	for text, number := range map[string]string{
		"CORRECTED REPORT, issue 2. Replaces the report of 2026-05-06. AR2255.01: lead and zinc": "",
		"Amended report": "",
		"This report supersedes report no. QX-118/2 dated 4 May 2026.": "QX-118/2",
		"Replaces certificate 26-0044.":                                "26-0044",
		"Correction to report number L4471":                            "L4471",
		"This certificate was re-issued on 17/05/2026":                 "",
		"Revised laboratory report":                                    "",
		"CORRECTED COPY":                                               "",
		"corrected":                                                    "",
		"It corrects report AR-26-2255, sent in error":                 "AR-26-2255",
	} {
		if corrects(text) == "" {
			t.Errorf("%q says that it corrects a report", text)
		}
		if got := numberOf(text); got != number {
			t.Errorf("of %q the number is %q, not %q", text, got, number)
		}
	}
	for _, text := range []string{
		"Results corrected for moisture.", "All results are corrected to 25 C", "Revised report form 3, 2024", "Amended with 2 t/ha of compost", "lime replaces what crops remove",
		"Corrected results are on oven-dry basis", "pH correction", "Report to: A. Replacement", "Copy of report", "The correction of soil acidity takes years",
	} {
		if s := corrects(text); s != "" {
			t.Errorf("%q is taken to correct a report: %q", text, s)
		}
	}
}
