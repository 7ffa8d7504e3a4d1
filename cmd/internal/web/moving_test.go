package web_test

import (
	"bufio"
	"context"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"example.org/windrow/cmd/internal/config"
	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/ingest"
)

// A file goes through the stages in their order, and whoever listens is told of
// each; the page says in which it is, to its own office alone.
func TestFilesAreSeenMoving(t *testing.T) {
	g := guarded(t, twoOffices(t), false)
	g.off.Config.Folders = append(g.off.Config.Folders, config.Folder{Path: t.TempDir(), Office: otherOffice})
	own, other := signedIn(t, g, "odalys"), signedIn(t, g, "finn")
	var stages []string
	g.off.Moved = func(m pipeline.Move) {
		stages = append(stages, m.Stage)
		g.desk.Moved(m)
		page, theirs := own.get("/intake/state", http.StatusOK), other.get("/intake/state", http.StatusOK)
		if strings.Contains(theirs, "TG-26-01217.pdf") {
			t.Errorf("in the stage %q another office sees the file", m.Stage)
		}
		switch m.Stage {
		case "read":
			has(t, page, "1 file on the way", "TG-26-01217.pdf", `<i class="past"></i><i class="past"></i><i class="now"></i><i class="next"></i>`, "3 of 7", "what stands on it is being read")
		case "compare":
			has(t, page, "5 of 7", "it is being read a second time, and compared")
		case "":
			has(t, page, "Nothing is on the way", "TG-26-01217.pdf", "done")
		}
	}
	moves := listen(t, own)
	r := theReport(t, "TG-26-01217.pdf")
	out := g.off.Process(context.Background(), pipeline.Arrival{Source: ingest.NewSource(r.Name, r.Bytes), Channel: "folder", Time: day(), Defaults: pipeline.Defaults{Office: g.off.Config.Office.Name}})
	if want := []string{"keep", "read", "recognise", "compare", "normalise", "advise", ""}; !slices.Equal(stages, want) {
		t.Errorf("it came to %q, want %q", stages, want)
	}
	moved(t, moves)
	g.desk.Note(out)
	has(t, own.get("/intake/state", http.StatusOK), "On the way", "TG-26-01217.pdf", `<span class="state ok">used</span>`)
}

// A page that lies open asks for what moves by itself, whatever its browser says
// of that: it keeps nobody signed in who has gone.
func TestMovingFilesKeepNobodySignedIn(t *testing.T) {
	g := guarded(t, twoOffices(t), false)
	v := signedIn(t, g, "odalys")
	for _, minutes := range []time.Duration{25, 50, 59} { // an hour of rest ends a session here
		g.later.Store(int64(minutes * time.Minute))
		listen(t, v)
		v.get("/intake/state", http.StatusOK)
	}
	g.later.Store(int64(61 * time.Minute))
	// The page is told so, and not led to another in the place of its part.
	v.get("/intake/moves", http.StatusUnauthorized)
	v.get("/intake/state", http.StatusUnauthorized)
	v.get("/intake", http.StatusSeeOther)
}

// Each report of a file with several is told of by itself.
func TestPartsAreSeenMoving(t *testing.T) {
	d := ownDesk(t)
	var parts []int
	d.off.Moved = func(m pipeline.Move) {
		if m.Stage == "read" {
			parts = append(parts, m.Part, m.Parts)
		}
	}
	r := labReport(t, "ashlar-reed-soil-laboratory/AR-26-2260-batch.zip")
	if out := d.off.Process(context.Background(), pipeline.Arrival{Source: ingest.NewSource(r.Name, r.Bytes), Channel: "folder", Time: day()}); out.Status == pipeline.Failed {
		t.Fatal(out.Reasons)
	}
	if len(parts) != 20 || !slices.Equal(parts[:4], []int{1, 10, 2, 10}) {
		t.Errorf("the parts of a zip with ten files: %v", parts)
	}
}

// A mail or a zip with several reports leads to each of them, also where the
// program was started again since, and the same bytes that come again lead there.
func TestPartsAreLinked(t *testing.T) {
	d := ownDesk(t)
	v := visit(t, d)
	each := regexp.MustCompile(`<li><a href="(/report/R[0-9a-f]{16})(?:/look)?">([^<]*)</a> <span class="state ([a-z]*)">`)
	row := func(name string) string {
		t.Helper()
		_, page, _ := strings.Cut(v.get("/intake", http.StatusOK), `id="what-came"`)
		_, line, ok := strings.Cut(page, `<th scope="row">`+name+`</th>`)
		if !ok {
			t.Fatalf("%s is not listed", name)
		}
		line, _, _ = strings.Cut(line, "</tr>")
		return line
	}
	for i, x := range []struct {
		at   string
		told bool // the desk is told of it
		want []string
		all  int
	}{
		{"AR-26-2260-batch.zip", true, []string{"AR-26-2260.pdf", "Wren/AR-26-2265.pdf"}, 10},
		{"AR-26-2214.eml", false, []string{"AR-26-2214.pdf", "AR-26-2214.csv"}, 2},
		{"revised/AR-26-2305.eml", true, []string{"AR-26-2305.csv"}, 2},
	} {
		r := labReport(t, "ashlar-reed-soil-laboratory/"+x.at)
		for again := range 2 {
			out := d.off.Process(context.Background(), pipeline.Arrival{Source: ingest.NewSource(r.Name, r.Bytes), Channel: "folder", Time: day().Add(time.Duration(10*i+again) * time.Minute)})
			if out.Status == pipeline.Failed {
				t.Fatal(out.Reasons)
			}
			if x.told {
				d.desk.Note(out)
			}
			line := row(r.Name)
			list := each.FindAllStringSubmatch(line, -1)
			if len(list) != x.all {
				t.Errorf("%s leads to %d reports, want %d:\n%s", r.Name, len(list), x.all, line)
			}
			for _, m := range list {
				v.get(m[1], http.StatusOK)
			}
			for _, name := range x.want {
				has(t, line, name)
			}
			if held := out.Status == pipeline.Held; strings.Contains(line, `class="state held"`) != held || strings.Contains(line, "/look") != held || strings.Contains(line, "more reason") != held {
				t.Errorf("%s: %s, and the page says\n%s", r.Name, out.Status, line)
			}
		}
	}
}

// What is dropped into the inbox by hand is told of as well.
func TestDroppingIsTold(t *testing.T) {
	d := ownDesk(t)
	v := visit(t, d)
	moves := listen(t, v)
	if err := os.WriteFile(filepath.Join(d.off.Config.Folders[0].Path, "a.csv"), []byte("x"), 0o600); err != nil {
		t.Fatal(err)
	}
	moved(t, moves)
	has(t, v.get("/intake/state", http.StatusOK), "1 file on the way", "a.csv", "1 of 7", "waits in the inbox")
	// A server that is to stop need not wait for who listens.
	d.desk.StopTelling()
	select {
	case _, open := <-moves:
		if open {
			t.Error("it goes on telling")
		}
	case <-time.After(10 * time.Second):
		t.Error("the stream stays open")
	}
}

// listen is told of moves as a browser is; the channel is closed with the stream.
func listen(t *testing.T, v *visitor) <-chan string {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	t.Cleanup(cancel)
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, v.d.srv.URL+"/intake/moves", nil)
	if err != nil {
		t.Fatal(err)
	}
	resp, err := v.c.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = resp.Body.Close() })
	if ct := resp.Header.Get("Content-Type"); resp.StatusCode != http.StatusOK || ct != "text/event-stream" {
		t.Fatalf("%d %s", resp.StatusCode, ct)
	}
	lines := bufio.NewScanner(resp.Body)
	if !lines.Scan() || lines.Text() != "retry:1000" { // it listens
		t.Fatalf("it begins %q", lines.Text())
	}
	out := make(chan string, 100)
	go func() {
		defer close(out)
		for lines.Scan() {
			if lines.Text() != "" {
				out <- lines.Text()
			}
		}
	}()
	return out
}

func moved(t *testing.T, moves <-chan string) {
	t.Helper()
	select {
	case got := <-moves:
		if got != "data:moved" {
			t.Errorf("told %q", got)
		}
	case <-time.After(10 * time.Second):
		t.Error("nothing was told within ten seconds")
	}
}
