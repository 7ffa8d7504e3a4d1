package web

import (
	"context"
	"crypto/rand"
	"embed"
	"errors"
	"io/fs"
	"net/http"
	"sync"
	"time"

	"example.org/windrow/cmd/internal/access"
	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/interpret/letter"
	"example.org/windrow/normalize/archive/index"
	"example.org/windrow/normalize/audit"
	"example.org/windrow/normalize/register"
)

//go:embed templates static
var files embed.FS

// Options say what a desk serves.
type Options struct {
	Office  *pipeline.Office
	Version string // of the program, for the foot of pages
	// Account audits what is in a scope and gives it with what its workbook
	// says beside; nil where there is none to be had.
	Account func(ctx context.Context, scope audit.Scope) (*audit.Account, audit.Binding, error)
	// Log is told what was asked and failed, without anything of a report.
	Log func(method, route string, status int, err error)

	// Door lets people in; nil is for this computer alone, where nobody signs
	// in. Access is the log of who saw and changed what: with a door there must
	// be one.
	Door   *access.Door
	Access *access.Log
	// Host is the host by which browsers of other computers reach the desk, with
	// its port where that is not the usual one; "" for none.
	Host string
}

// A Desk answers the pages of one office. It is safe for concurrent use.
type Desk struct {
	opt     Options
	off     *pipeline.Office
	mux     *routes
	handle  http.Handler
	tongues map[letter.Language]*tongue
	secret  [32]byte // of this process; what forms bear comes of it

	readings *lately[*pipeline.Reading]
	pictures *lately[[]byte]
	drawing  chan struct{} // full when as many pages are being drawn as may be

	came     diary
	ways     *ways
	waiting  *behind[waitingList]
	counts   byOffice[officeCounts]
	causes   remembered[[]holdGroup]
	labs     byOffice[[]index.LabCount]
	drifts   byOffice[[]index.Drift]
	towns    byOffice[[]string]
	spans    remembered[[]register.Span]
	advised  pipeline.Promises
	promises *behind[[]pipeline.Promise]
	told     told
	trials   trials
	frames   frames
	outlines outlines
	made     made
	pictured *lately[*scanned]
	work     sync.Mutex // one decision is carried out at a time

	auditing sync.Mutex // one audit at a time

	repeats repeats
}

// New makes a desk.
func New(opt Options) (*Desk, error) {
	if (opt.Door == nil) != (opt.Access == nil) {
		return nil, errors.New("where people sign in there is a log of who saw what, and nowhere else")
	}
	d := &Desk{opt: opt, off: opt.Office, readings: newLately[*pipeline.Reading](6), pictures: newLately[[]byte](40), pictured: newLately[*scanned](3), drawing: make(chan struct{}, 2), promises: newBehind[[]pipeline.Promise](), waiting: newBehind[waitingList](), spans: remembered[[]register.Span]{holds: 10 * time.Minute}, ways: newWays()}
	d.mux = &routes{mux: http.NewServeMux(), gate: d.gate}
	if _, err := rand.Read(d.secret[:]); err != nil {
		return nil, err
	}
	if d.opt.Log == nil {
		d.opt.Log = func(string, string, int, error) {}
	}
	var err error
	if d.tongues, err = newTongues(files); err != nil {
		return nil, err
	}
	static, err := fs.Sub(files, "static")
	if err != nil {
		return nil, err
	}
	d.mux.Handle("GET /static/", http.StripPrefix("/static/", cached(http.FileServerFS(static))))
	d.route("GET /{$}", d.home)
	d.route("POST /language", d.chooseLanguage)
	d.route("GET /held", d.queue)
	d.route("GET /intake", d.intake)
	d.route("GET /intake/state", d.intakeState)
	d.mux.HandleFunc("GET /intake/moves", d.live)
	d.mux.HandleFunc("POST /intake", d.bring)
	d.route("GET /reports", d.reports)
	d.route("GET /labs", d.laboratories)
	d.route("GET /lab/{id}", d.laboratory)
	if opt.Account != nil {
		d.slow("GET /audit", d.audit)
		d.slow("GET /audit/workbook", d.auditWorkbook)
		d.slow("POST /audit/sign", d.auditSign)
	}
	d.route("GET /report/{id}", d.report)
	d.route("GET /report/{id}/original", d.original)
	d.route("GET /report/{id}/look", d.look)
	d.route("GET /report/{id}/page/{page}", d.picture)
	d.route("POST /report/{id}/rule", d.rule)
	d.route("GET /report/{id}/versions", d.versions)
	d.route("GET /sample/{id}", d.sample)
	d.route("GET /sample/{id}/letter", d.letter(false))
	d.route("GET /sample/{id}/letter.pdf", d.letter(true))
	d.letters()
	d.signingIn()
	d.benches()
	d.counties()
	d.proofs()
	d.route("/", func(*http.Request) (*answer, error) { return nil, notHere("there is no such page") })
	d.handle = d.guard(d.mux)
	return d, nil
}

// ServeHTTP implements http.Handler.
func (d *Desk) ServeHTTP(w http.ResponseWriter, r *http.Request) { d.handle.ServeHTTP(w, r) }

// Wait waits until what the desk does in the background has ended, so that the
// office may be closed.
func (d *Desk) Wait() {
	d.promises.wait()
	d.waiting.wait()
	d.trials.wait()
}

// Also has a path answered by another handler, under the guard of the desk.
// Call it before the desk answers.
func (d *Desk) Also(path string, h http.Handler) { d.mux.Handle("GET "+path, h) }

// today is the office's day.
func (d *Desk) today() time.Time { return d.off.Today() }
