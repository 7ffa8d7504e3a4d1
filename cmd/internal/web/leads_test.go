package web_test

import (
	"net/http"
	"strings"
	"testing"

	"example.org/windrow/cmd/internal/web"
	"example.org/windrow/ingest"
	"example.org/windrow/interpret/letter"
)

// What is to be done next is said as a person at the pages does it: by a page,
// and by no command.
func TestWhatIsNextLeadsToAPage(t *testing.T) {
	d := sharedDesk(t)
	const id = "R0123456789abcdef"
	for _, x := range []struct {
		next  string
		lang  letter.Language
		want  []string
		href  string
		wants bool
	}{
		{"compare each number with the picture (windrow proof " + id + "), or ask the laboratory for its electronic copy", letter.English, []string{"Compare each number with the picture, or ask the laboratory"}, "/report/" + id + "/proof", true},
		{"compare each number with the picture (windrow proof " + id + "), or ask the laboratory for its electronic copy", letter.Spanish, []string{"Compare cada número con la imagen, o pida al laboratorio", "Compararlo con su imagen"}, "/report/" + id + "/proof", true},
		{"compare the report with its picture (windrow proof), or ask the laboratory for its electronic copy", letter.Spanish, []string{"Compare el informe con su imagen, o pida"}, "", true},
		{"nothing is used until a person has decided (windrow ruling " + id + " --count --by NAME --because WORDS); tell the client", letter.English, []string{"until a person has decided; tell the client"}, "/report/" + id + "/look#h-decide", true},
	} {
		got, err := d.desk.Rendered(x.lang, "look", "reason", &ingest.Reason{Severity: ingest.Hold, What: "it waits", Next: x.next})
		if err != nil {
			t.Fatal(err)
		}
		has(t, got, x.want...)
		if strings.Contains(got, "windrow ") || x.href != "" && !strings.Contains(got, `href="`+x.href+`"`) || x.href == "" && strings.Contains(got, "href") {
			t.Errorf("%q is said as %s", x.next, got)
		}
	}
}

// One report goes on waiting, several do.
func TestOneAndSeveralGoOnWaiting(t *testing.T) {
	d := sharedDesk(t)
	for n, want := range map[int]string{1: "<strong>1</strong> seguiría esperando<", 3: "<strong>3</strong> esperarían de todos modos<"} {
		got, err := d.desk.Rendered(letter.Spanish, "bench", "trialsum", web.Tried(n))
		if err != nil {
			t.Fatal(err)
		}
		has(t, got, want)
	}
}

// An office without a watched folder is told so on the page itself, what is
// missing and who adds it; what came can be seen all the same.
func TestBringInWithoutAFolder(t *testing.T) {
	g := guarded(t, twoOffices(t), false)
	v := signedIn(t, g, "finn")
	for _, path := range []string{"/intake", "/intake/state"} {
		page := v.get(path, http.StatusOK)
		has(t, page, "MB26-0711.csv")
		if strings.Contains(page, `type="file"`) {
			t.Errorf("%s asks for files that go nowhere", path)
		}
	}
	page := v.get("/intake", http.StatusOK)
	has(t, page, "<h1>Bring in reports</h1>", "No folder is watched for this office, so that nothing can be brought in.", "under folders in windrow.yaml, one with office: &#34;"+otherOffice+"&#34;", "Ask the one who looks after this computer", "What came of the latest")
	if code, page := v.post("/intake?form="+formToken(t, page), nil, nil); code != http.StatusUnprocessableEntity || !strings.Contains(page, "No folder is watched") {
		t.Errorf("sent all the same: %d", code)
	}
	has(t, signedIn(t, g, "odalys").get("/intake", http.StatusOK), `type="file"`)
}
