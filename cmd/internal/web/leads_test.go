package web_test

import (
	"errors"
	"io/fs"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
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
		next string
		lang letter.Language
		want []string
		href string
	}{
		{"compare each number with the picture (windrow proof " + id + "), or ask the laboratory for its electronic copy", letter.English, []string{"Compare each number with the picture, or ask the laboratory"}, "/report/" + id + "/proof"},
		{"compare each number with the picture (windrow proof " + id + "), or ask the laboratory for its electronic copy", letter.Spanish, []string{"Compare cada número con la imagen, o pida al laboratorio", "Compararlo con su imagen"}, "/report/" + id + "/proof"},
		{"compare the report with its picture (windrow proof), or ask the laboratory for its electronic copy", letter.Spanish, []string{"Compare el informe con su imagen, o pida"}, ""},
		{"nothing is used until a person has decided (windrow ruling " + id + " --count --by NAME --because WORDS); tell the client", letter.English, []string{"until a person has decided; tell the client"}, "/report/" + id + "/look#h-decide"},
		{"nothing; windrow ruling --withdraw takes the decision back", letter.English, []string{"Nothing; under Decide the decision can be withdrawn."}, ""},
		{"compare the versions (windrow versions), and decide again", letter.Spanish, []string{"Compare las versiones y decida otra vez."}, ""},
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

// When something fails on this side, a person is told where, that it is not of
// their doing, and what to tell to whom.
func TestAFaultOfOurOwn(t *testing.T) {
	d := ownDesk(t, theReport(t, "MB26-0711.csv"))
	v := visit(t, d)
	report := first(t, v.get("/reports", http.StatusOK), "/report/")
	var file string
	if err := filepath.WalkDir(d.off.Config.Archive, func(path string, e fs.DirEntry, err error) error {
		if err == nil && e.Name() == "0001.json" && strings.Contains(path, strings.TrimPrefix(report, "/report/")) && !strings.Contains(path, "advice") {
			file = path
		}
		return err
	}); err != nil || file == "" {
		t.Fatal(err, file)
	}
	if err := errors.Join(os.Chmod(file, 0o600), os.WriteFile(file, []byte("{}"), 0o600)); err != nil {
		t.Fatal(err)
	}
	page := v.get(report, http.StatusInternalServerError)
	has(t, page, "That did not work", "The file in the archive is not what was put there.", "where", "0001.json", "expected", "Bring this file back from a backup", "This is not of your doing.", "2026-06-01 09:30")
	if strings.Contains(page, d.off.Config.Dir) {
		t.Error("the page tells where on this computer the office lies")
	}
	if code, _ := v.choose(t, page, "es", report); code != http.StatusSeeOther {
		t.Fatal(code)
	}
	has(t, v.get(report, http.StatusInternalServerError), "Eso no funcionó", "Lo que hay en el archivo no es lo que se puso allí.", "dónde", "0001.json", "Recupérelo de una copia de seguridad", "Esto no es culpa suya.")
	if other := v.get("/report/R0123456789abcdef", http.StatusNotFound); strings.Contains(other, "culpa") {
		t.Error("what is not there is nobody's fault")
	}
	p := sitDown(t, d)
	p.allowed = []string{"500"}
	p.look("fault", report)
}

// After a draft of a new layout, the example that said that its form must be held
// fails: a person is told why, in plain words, and what to write instead.
func TestAnOldExampleOfAFormThatIsReadNow(t *testing.T) {
	d := mendingDesk(t, labReport(t, marrow+"revised/MB26-0905.csv"))
	s, text := scribeFor(t, d, "MB26-0905", "marrow-brook")
	if !strings.Contains(text, "held: layout-changed") {
		t.Fatal("the mapping has no example that must be held any more")
	}
	code, page := s.send("examples?form="+s.token, url.Values{"text": {text}})
	if code != http.StatusOK {
		t.Fatal(code)
	}
	has(t, page, "not as expected", "MB26-0905.csv", "The example is a report in a form that the mapping did not know, and had to be held; the mapping reads it now.", "held: layout-changed",
		"take the line held: out of the example, and write under expect: some values as they stand on the page")
	if code, _ := s.choose(t, page, "es", s.at); code != http.StatusSeeOther {
		t.Fatal(code)
	}
	has(t, s.get(s.at, http.StatusOK), "El ejemplo es un informe en una forma que el mapeo no conocía", "quite del ejemplo la línea held:")
	// With what stands on the page the example is as expected, but for the questions.
	mended := strings.Replace(text, "    held: layout-changed", "    sample: MB55001\n    expect: {county: Finch}", 1)
	if _, page = s.send("examples?form="+s.token, url.Values{"text": {mended}}); strings.Contains(page, "no conocía") {
		t.Error("the example is still told about")
	}
}
