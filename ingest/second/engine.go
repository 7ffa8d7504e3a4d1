package second

import (
	"context"
	"errors"
	"io"
	"path/filepath"
	"sync"
	"sync/atomic"
	"time"

	"example.org/windrow/ingest"
	"github.com/klippa-app/go-pdfium"
	pdfiumerrors "github.com/klippa-app/go-pdfium/errors"
	"github.com/klippa-app/go-pdfium/references"
	"github.com/klippa-app/go-pdfium/requests"
	"github.com/klippa-app/go-pdfium/webassembly"
	"github.com/tetratelabs/wazero"
	"github.com/tetratelabs/wazero/api"
	"github.com/tetratelabs/wazero/experimental"
)

// Options say how an engine is run. The zero value works.
type Options struct {
	// CacheDir is where compiled machine code is kept, see [CacheDir]; ""
	// compiles anew at every start, which takes seconds.
	CacheDir string
}

// An Engine runs PDFium. It is safe for concurrent use, and does one thing at
// a time. Nothing is started before the first use.
type Engine struct {
	opt  Options
	warm atomic.Bool // it was asked to start
	mu   sync.Mutex
	pool pdfium.Pool
	inst pdfium.Pdfium
	jobs int
}

// New makes an engine. It costs nothing until it is used.
func New(opt Options) *Engine { return &Engine{opt: opt} }

const (
	// memoryPages bounds the engine's own memory, in pages of 64 KiB: 256 MiB.
	memoryPages = 4096
	// jobsPerInstance is after how many files the engine's memory is given
	// back: it grows with the largest file and never shrinks by itself.
	jobsPerInstance = 200
	startLimit      = 60 * time.Second
)

// start makes an instance ready. The engine is held locked.
func (e *Engine) start() error {
	if e.inst != nil {
		return nil
	}
	if e.pool == nil {
		p, err := startPool(e.opt.CacheDir)
		if err != nil {
			return err
		}
		e.pool = p
	}
	inst, err := e.pool.GetInstance(startLimit)
	if err != nil {
		return err
	}
	e.inst, e.jobs = inst, 0
	return nil
}

// startPool loads the machine code kept in dir, or compiles it where there is
// none or it can't be used.
func startPool(dir string) (pdfium.Pool, error) {
	if dir != "" && compiled(dir) {
		if cache, err := wazero.NewCompilationCacheWithDir(filepath.Join(dir, build)); err == nil {
			if p, err := initPool(cache); err == nil {
				return p, nil
			}
		}
	}
	return initPool(nil)
}

func initPool(cache wazero.CompilationCache) (pdfium.Pool, error) {
	// The module uses WebAssembly's exception handling; without this it
	// doesn't compile.
	rc := wazero.NewRuntimeConfig().
		WithCoreFeatures(api.CoreFeaturesV2 | experimental.CoreFeaturesExceptionHandling).
		WithMemoryLimitPages(memoryPages)
	if cache != nil {
		rc = rc.WithCompilationCache(cache)
	}
	return webassembly.Init(webassembly.Config{
		MaxTotal: 1, MaxIdle: 1, MinIdle: 0, RuntimeConfig: rc,
		// By default the module could read every file of the machine.
		FSConfig: wazero.NewFSConfig(),
		Stdout:   io.Discard, Stderr: io.Discard,
	})
}

// Warm has the engine start beside what the process does next, where its
// machine code is at hand. What is wrong with it is told by the first file.
func (e *Engine) Warm() {
	if !e.warm.CompareAndSwap(false, true) || !compiled(e.opt.CacheDir) {
		return
	}
	go func() {
		e.mu.Lock()
		defer e.mu.Unlock()
		if e.start() != nil {
			e.discard()
		}
	}()
}

// Close ends the engine. It may be used again, and then starts anew.
func (e *Engine) Close() error {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.discard()
	if e.pool == nil {
		return nil
	}
	err := e.pool.Close()
	e.pool = nil
	return err
}

// discard throws the instance away: after a fault its memory can't be
// trusted.
func (e *Engine) discard() {
	if e.inst == nil {
		return
	}
	inst := e.inst
	e.inst = nil
	defer func() { _ = recover() }()
	_ = inst.Close()
}

// A file is one open PDF.
type file struct {
	ctx   context.Context
	lim   ingest.Limits
	p     pdfium.Pdfium
	doc   references.FPDF_DOCUMENT
	pages int
}

// stop is what the package panics with to leave a file at once.
type stop struct{ reason *ingest.Reason }

func abandon(r *ingest.Reason) { panic(stop{r}) }

// must leaves the file when the engine failed on it.
func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

// with opens a file, does some work on it and closes it. Whatever goes wrong
// comes back as a reason that names the file.
func (e *Engine) with(ctx context.Context, src *ingest.Source, lim ingest.Limits, passwords []string, work func(*file)) (err error) {
	lim = lim.OrDefault()
	fail := func(r *ingest.Reason) error { return r.In(src.Title()) }
	if r := lim.Over(ctx.Err(), "the file"); r != nil {
		return fail(r)
	}
	if len(src.Bytes) == 0 {
		return fail(ingest.EmptyFile("a PDF"))
	}
	if n := int64(len(src.Bytes)); n > lim.Bytes {
		return fail(tooLarge("bytes", "the file is larger than allowed", lim.Bytes, n))
	}
	if kind := ingest.Sniff(src.Name, src.Bytes); kind != ingest.KindPDF {
		return fail(wrongKind(kind))
	}
	e.mu.Lock()
	defer e.mu.Unlock()
	if err := e.start(); err != nil {
		e.discard()
		return fail(notStarted(err))
	}
	// The time of a file counts from when the engine is ready for it.
	ctx, cancel := context.WithTimeout(ctx, time.Duration(lim.Seconds)*time.Second)
	defer cancel()
	defer func() {
		p := recover()
		if p == nil {
			return
		}
		e.discard()
		if r := lim.Over(ctx.Err(), "the file"); r != nil {
			err = fail(r)
			return
		}
		if s, ok := p.(stop); ok {
			err = fail(s.reason)
			return
		}
		err = fail(engineFailed())
	}()
	f := &file{ctx: ctx, lim: lim, p: e.inst}
	f.open(src.Bytes, passwords)
	work(f)
	if _, err := e.inst.FPDF_CloseDocument(&requests.FPDF_CloseDocument{Document: f.doc}); err != nil {
		e.discard()
	}
	if e.jobs++; e.jobs >= jobsPerInstance {
		e.discard()
	}
	return nil
}

// open tries the empty password first, and then those that are given.
func (f *file) open(b []byte, passwords []string) {
	var err error
	for i := -1; i < len(passwords); i++ {
		q := &requests.OpenDocument{File: &b}
		if i >= 0 {
			q.Password = &passwords[i]
		}
		d, e := f.p.OpenDocument(q)
		if err = e; err == nil {
			f.doc = d.Document
			break
		}
		if !errors.Is(err, pdfiumerrors.ErrPassword) {
			break
		}
	}
	switch {
	case err == nil:
	case errors.Is(err, pdfiumerrors.ErrPassword):
		abandon(locked(len(passwords)))
	case errors.Is(err, pdfiumerrors.ErrSecurity):
		abandon(lockedOddly())
	default:
		abandon(damaged())
	}
	f.pages = must(f.p.FPDF_GetPageCount(&requests.FPDF_GetPageCount{Document: f.doc})).PageCount
	if f.pages < 1 {
		abandon(damaged())
	}
	if f.pages > f.lim.Pages {
		abandon(tooLarge("pages", "the file has more pages than allowed", int64(f.lim.Pages), int64(f.pages)))
	}
}

// check stops the work when the time is up.
func (f *file) check() {
	if r := f.lim.Over(f.ctx.Err(), "the file"); r != nil {
		abandon(r)
	}
}
