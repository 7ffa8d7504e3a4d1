package web

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"os"
	"slices"
	"strings"
	"sync"
	"time"

	"example.org/windrow/cmd/internal/pipeline"
)

const (
	// lingers is how long a file is still shown among those on the way when it
	// is done with: a small one goes through all stages in a blink.
	lingers = 6 * time.Second
	// streamTime is how long a stream of moves is held open; a browser then asks
	// for another. It is less than a server gives an answer.
	streamTime = 25 * time.Second
	// mostOnTheWay is how many files are listed one by one.
	mostOnTheWay = 40
)

// A furrow is a stage as a person is told of it.
type furrow struct {
	doing  string
	stages []string
}

// furrows are the stages in their order: what is said while a file is in one, and the
// stages of the pipeline that it stands for.
var furrows = []furrow{
	{"waits in the inbox", nil},
	{"the original is being kept", []string{"keep"}},
	{"what stands on it is being read", []string{"read"}},
	{"its laboratory is being looked for", []string{"recognise"}},
	{"it is being read a second time, and compared", []string{"compare"}},
	{"its numbers are being put on one scale", []string{"normalise"}},
	{"advice and letters are being made", []string{"advise", "letter"}},
}

// elsewhereDoing is what is said of a file that the central engine works on.
const elsewhereDoing = "the central engine works on it"

// A way is a file in hand.
type way struct {
	name, office string
	stage        int // in furrows; -1 for elsewhere
	part, parts  int
	ended        time.Time // zero while it is in hand
	outcome      string    // "" until it is known
}

// ways are the files in hand, and those who want to be told when one moves.
type ways struct {
	mu    sync.Mutex
	by    map[string]*way // by hash
	order []string        // as they were taken
	ears  map[chan struct{}]struct{}
	over  chan struct{} // closed when no stream may be open any more
}

func newWays() *ways {
	return &ways{by: map[string]*way{}, ears: map[chan struct{}]struct{}{}, over: make(chan struct{})}
}

// Moved tells the desk that a file has come to a stage. It is a pipeline
// office's Moved.
func (d *Desk) Moved(m pipeline.Move) {
	w := d.ways
	w.mu.Lock()
	defer w.mu.Unlock()
	x := w.by[m.SHA256]
	if x == nil || !x.ended.IsZero() && m.Stage != "" { // it is worked on again
		if x == nil {
			w.order = append(w.order, m.SHA256)
		}
		x = &way{}
		w.by[m.SHA256] = x
	}
	x.name, x.office, x.part, x.parts = m.Name, m.Office, m.Part, m.Parts
	switch m.Stage {
	case "":
		x.ended = time.Now()
	case pipeline.StageElsewhere:
		x.stage = -1
	default:
		if i := slices.IndexFunc(furrows, func(f furrow) bool { return slices.Contains(f.stages, m.Stage) }); i >= 0 {
			x.stage = i
		}
	}
	w.tell()
}

// came tells what came of a file.
func (w *ways) came(out pipeline.Outcome) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if x := w.by[out.SHA256]; x != nil {
		x.outcome = string(out.Status)
	}
	w.tell()
}

// tell wakes those who listen. The lock is held.
func (w *ways) tell() {
	for ear := range w.ears {
		select {
		case ear <- struct{}{}:
		default: // it is awake
		}
	}
}

// listen is told of every move from now on; the function it gives ends that.
func (w *ways) listen() (<-chan struct{}, func()) {
	ear := make(chan struct{}, 1)
	w.mu.Lock()
	defer w.mu.Unlock()
	w.ears[ear] = struct{}{}
	return ear, func() {
		w.mu.Lock()
		defer w.mu.Unlock()
		delete(w.ears, ear)
	}
}

// list are the files on the way that somebody of an office may see, "" of all.
// Those that were done with a while ago are dropped.
func (w *ways) list(office string, now time.Time) []way {
	w.mu.Lock()
	defer w.mu.Unlock()
	var out []way
	w.order = slices.DeleteFunc(w.order, func(key string) bool {
		x := w.by[key]
		if !x.ended.IsZero() && now.Sub(x.ended) > lingers {
			delete(w.by, key)
			return true
		}
		if office == "" || x.office == office {
			out = append(out, *x)
		}
		return false
	})
	return out
}

// A moving is a file on the page of what comes in: how far it is.
type moving struct {
	Name, Size string
	Furrows    []string // of each stage: "past", "now" or "next"
	At, Of     int      // which stage of how many; 0 where that is not known
	Doing      string
	Part       int // which report of the file, of Parts, where there are several
	Parts      int
	Done       bool
	Outcome    string // what came of it, "" while that is not known
}

// movingNow are the files in the inbox and in hand, and how many more there are.
func (d *Desk) movingNow(ctx context.Context, inbox []dropped) (list []moving, more int) {
	taken := map[string]bool{}
	for _, x := range d.ways.list(officeOf(ctx), time.Now()) {
		taken[x.name] = true
		m := moving{Name: x.name, Part: x.part, Parts: x.parts}
		switch {
		case !x.ended.IsZero():
			m.Furrows, m.Done, m.Outcome = track(len(furrows)), true, x.outcome
		case x.stage < 0:
			m.Doing = elsewhereDoing
		default:
			m.At, m.Of, m.Doing, m.Furrows = x.stage+1, len(furrows), furrows[x.stage].doing, track(x.stage)
		}
		list = append(list, m)
	}
	for _, f := range inbox {
		if !taken[f.Name] {
			list = append(list, moving{Name: f.Name, Size: f.Size, At: 1, Of: len(furrows), Doing: furrows[0].doing, Furrows: track(0)})
		}
	}
	if len(list) > mostOnTheWay {
		list, more = list[:mostOnTheWay], len(list)-mostOnTheWay
	}
	return list, more
}

// track are the marks of a file that is in a stage.
func track(stage int) []string {
	out := make([]string, len(furrows))
	for i := range out {
		switch {
		case i < stage:
			out[i] = "past"
		case i == stage:
			out[i] = "now"
		default:
			out[i] = "next"
		}
	}
	return out
}

// InHand is how many files are not done with.
func (v *intakeView) InHand() int {
	n := v.MoreMoving
	for _, m := range v.Moving {
		if !m.Done {
			n++
		}
	}
	return n
}

// live tells a browser, as server-sent events, whenever a file moves. It says
// nothing of the file: the browser then asks for what it may see.
func (d *Desk) live(w http.ResponseWriter, r *http.Request) {
	w.Header().Set("Content-Type", "text/event-stream")
	c := http.NewResponseController(w)
	send := func(s string) bool {
		_, err := io.WriteString(w, s)
		return err == nil && c.Flush() == nil
	}
	ear, deaf := d.ways.listen()
	defer deaf()
	dir := d.inboxName(r.Context())
	last := d.mark(r.Context(), dir)
	if !send("retry:1000\n\n") {
		return
	}
	end, look := time.NewTimer(streamTime), time.NewTicker(time.Second)
	defer end.Stop()
	defer look.Stop()
	for {
		select {
		case <-r.Context().Done():
			return
		case <-d.ways.over:
			return
		case <-end.C:
			return
		case <-ear:
		case <-look.C: // what is dropped by hand makes no sound, nor does time
			now := d.mark(r.Context(), dir)
			if now == last {
				continue
			}
			last = now
		}
		if !send("data:moved\n\n") {
			return
		}
	}
}

// mark tells whether anything changed: what lies in the inbox, and what is shown
// of the files in hand.
func (d *Desk) mark(ctx context.Context, dir string) string {
	var b strings.Builder
	entries, err := os.ReadDir(dir)
	if err != nil {
		return "" // the page says why
	}
	for _, e := range entries {
		b.WriteString(e.Name())
		b.WriteByte(0)
	}
	for _, x := range d.ways.list(officeOf(ctx), time.Now()) {
		_, _ = fmt.Fprintf(&b, "%s %d %s\x00", x.name, x.stage, x.outcome)
	}
	return b.String()
}

// StopTelling ends the streams that are open, so that a server that is to stop
// need not wait for them.
func (d *Desk) StopTelling() {
	d.ways.mu.Lock()
	defer d.ways.mu.Unlock()
	select {
	case <-d.ways.over:
	default:
		close(d.ways.over)
	}
}
