package pipeline

import (
	"bytes"
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"sync"
	"time"
	"unicode/utf8"

	"example.org/windrow/cmd/internal/config"
	"example.org/windrow/ingest"
	"example.org/windrow/ingest/delimited"
	"example.org/windrow/interpret"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/register"
)

// CodeRegister is the code of the reason that tells which register is in
// force where the file can't be used as it is.
const CodeRegister = "register-not-used"

// registerCopy is where the last good register lies, in the office folder. It
// is beside the archive and not in it: a register names people, and from the
// archive nothing can be taken out. Each good register replaces the one before,
// so that who is struck off the register is gone from the copy, too.
const registerCopy = ".windrow-register"

// RegisterPath is where the register of an office lies, "" for none. named
// says that the settings name it.
func RegisterPath(cfg *config.Config) (path string, named bool, err error) {
	if cfg.Register != "" {
		return cfg.Register, true, nil
	}
	for _, n := range config.RegisterNames {
		at := filepath.Join(cfg.Dir, n)
		if _, serr := os.Stat(at); serr != nil {
			continue
		}
		if path != "" {
			return "", false, &ingest.Reason{Code: "register-two", Severity: ingest.Fail, Where: ingest.Place{File: filepath.Base(path)}, What: "the office has two registers, and it is not said which one counts", Expected: "one",
				Found: filepath.Base(path) + " and " + n, Next: "move one away, or name the one that counts with register: in " + config.FileName}
		}
		path = at
	}
	return path, false, nil
}

// separators are what the fields of a register may be cut by: those that
// spreadsheet programs write.
var separators = []string{",", ";", "\t"}

// ReadRegister reads a register: a workbook, or a text whose fields are cut by
// commas, semicolons or tabs. It gives a register, or every reason why there
// is none.
func (s *Stages) ReadRegister(ctx context.Context, src *ingest.Source) (*register.Register, []*ingest.Reason) {
	var ways []ingest.Reader
	switch kindOf(src) {
	case ingest.KindXLSX:
		ways = append(ways, s.pool.For(ingest.XLSX))
	case ingest.KindXLS:
		ways = append(ways, s.pool.For(binaryXLS))
	case ingest.KindText:
		for _, sep := range separators {
			ways = append(ways, delimited.New(ingest.Dialect{Encoding: encodingOf(src.Bytes), Delimiter: sep}))
		}
	case ingest.KindEmpty:
		return nil, []*ingest.Reason{ingest.EmptyFile("a register with its headings").In(src.Name)}
	default:
		return nil, []*ingest.Reason{{Code: "register-kind", Severity: ingest.Fail, Where: ingest.Place{File: src.Name}, What: "the register is of a kind that is not read", Expected: "a CSV file or a workbook", Found: "a file of another kind",
			Next: "save it as a workbook (.xlsx) or as CSV"}}
	}
	var why []*ingest.Reason
	for _, w := range ways {
		var reg *register.Register
		var reasons []*ingest.Reason
		if doc, err := w.Read(ctx, src, s.Limits); err != nil {
			reasons = []*ingest.Reason{ingest.AsReason(err)}
		} else if reg, reasons = register.Read(doc); reg != nil {
			return reg, nil
		}
		// The way in which its headings were found is the one that was meant.
		if why == nil || why[0].Code == register.CodeNoHeader && reasons[0].Code != register.CodeNoHeader {
			why = reasons
		}
	}
	return nil, why
}

// encodingOf is how a text is encoded: by the mark that it begins with, as
// UTF-8 when it is that, else as spreadsheet programs write CSV on Windows.
func encodingOf(b []byte) string {
	switch {
	case bytes.HasPrefix(b, []byte("\xFF\xFE")):
		return "utf-16le"
	case bytes.HasPrefix(b, []byte("\xFE\xFF")):
		return "utf-16be"
	case utf8.Valid(b):
		return "utf-8"
	}
	return "windows-1252"
}

// Registered is what a row says to advice, nil for no row.
func Registered(m register.Match) *interpret.Registered {
	if m.Row == nil {
		return nil
	}
	return &interpret.Registered{Row: m.Row.ID, Confidence: string(m.Confidence), Why: m.Why, LandUse: m.Row.LandUse, AreaSqFt: m.Row.AreaSqFt, Language: m.Row.Language}
}

// registeredBy is what a register says of each record of a report, by id.
func registeredBy(reg *register.Register, rep *normalize.Report) map[string]*interpret.Registered {
	out := map[string]*interpret.Registered{}
	for _, m := range reg.Match(rep) {
		out[m.Record] = Registered(m)
	}
	return out
}

// A bookmark is by what a file is known to be the one that was read.
type bookmark struct {
	path string
	size int64
	mod  time.Time
}

// A registerBook is the register of an office as the office has it in force.
type registerBook struct {
	mu    sync.Mutex
	reg   *register.Register // in force; nil for none
	at    bookmark           // of what was last looked at, whether or not it is in force
	begun bool
}

// Register is the register that is in force: the file as it is now, or the
// last good one where the file can't be used, which is told once for each
// change of the file; nil for none. A file that changed a moment ago may still
// be being written, and counts when it has settled.
func (o *Office) Register(ctx context.Context) *register.Register {
	b := &o.register
	b.mu.Lock()
	defer b.mu.Unlock()
	now, settled, err := o.registerNow()
	if b.begun && err == nil && (now == b.at || !settled) {
		return b.reg
	}
	if !b.begun && err == nil && !settled {
		select {
		case <-ctx.Done():
			return b.reg
		case <-time.After(o.Config.Watch.Settle):
			now, _, err = o.registerNow()
		}
	}
	if err != nil && b.begun && b.at == (bookmark{path: "amiss"}) {
		return b.reg
	}
	reg, reasons := o.Stages.registerInForce(ctx, o.Config, true)
	if ctx.Err() != nil && reg == nil {
		return b.reg
	}
	for _, r := range reasons {
		o.Tell(r)
	}
	if b.at = now; err != nil {
		b.at = bookmark{path: "amiss"}
	}
	b.reg, b.begun = reg, true
	return reg
}

func (o *Office) registerNow() (bookmark, bool, error) {
	path, _, err := RegisterPath(o.Config)
	if err != nil || path == "" {
		return bookmark{}, true, err
	}
	fi, err := os.Stat(path)
	if err != nil {
		return bookmark{path: path}, true, nil //nolint:nilerr // that it is gone is told by who reads it
	}
	age := time.Since(fi.ModTime())
	return bookmark{path, fi.Size(), fi.ModTime()}, age < 0 || age >= o.Config.Watch.Settle, nil
}

// RegisterInForce is the register of an office for a command that only reads:
// the file as it is, or the last good one, with what is to be told of it.
func (s *Stages) RegisterInForce(ctx context.Context, cfg *config.Config) (*register.Register, []*ingest.Reason) {
	return s.registerInForce(ctx, cfg, false)
}

// RegisterFile reads the register of an office as the file is now, whatever
// is in force. Without a register both results are nil.
func (s *Stages) RegisterFile(ctx context.Context, cfg *config.Config) (*register.Register, []*ingest.Reason) {
	path, named, err := RegisterPath(cfg)
	if err != nil {
		return nil, []*ingest.Reason{ingest.AsReason(err)}
	}
	_, cerr := os.Stat(filepath.Join(cfg.Dir, registerCopy))
	if path == "" {
		if cerr != nil {
			return nil, nil
		}
		path = filepath.Join(cfg.Dir, config.RegisterNames[0])
	}
	b, err := s.fileOf(path)
	if errors.Is(err, fs.ErrNotExist) {
		r := &ingest.Reason{Code: "register-gone", Severity: ingest.Fail, Where: ingest.Place{File: filepath.Base(path)}, What: "the register is not there", Expected: "the file " + filepath.Base(path), Found: ingest.Cause(err),
			Next: "bring it back; to work without a register, delete " + registerCopy + " in the office folder, too"}
		if named {
			r.Next = "bring it back, or correct register: in " + config.FileName
		}
		return nil, []*ingest.Reason{r}
	}
	if err != nil {
		return nil, []*ingest.Reason{ingest.AsReason(err)}
	}
	return s.ReadRegister(ctx, ingest.NewSource(filepath.Base(path), b))
}

// fileOf are the bytes of a file, within the limits of what is read.
func (s *Stages) fileOf(path string) ([]byte, error) {
	fi, err := os.Stat(path)
	if err != nil {
		return nil, err
	}
	if fi.IsDir() || fi.Size() > s.Limits.Bytes {
		return nil, &ingest.Reason{Code: "register-kind", Severity: ingest.Fail, Where: ingest.Place{File: filepath.Base(path)}, What: "this can't be the register of an office", Expected: "a file of at most " + strconv.FormatInt(s.Limits.Bytes, 10) + " bytes",
			Found: "a folder, or " + strconv.FormatInt(fi.Size(), 10) + " bytes", Next: "check register: in " + config.FileName}
	}
	return os.ReadFile(path)
}

// mostTold is how many reasons of a broken register are told before each
// report; windrow register check tells all.
const mostTold = 3

// registerInForce reads the register; keep has the copy follow a good one.
func (s *Stages) registerInForce(ctx context.Context, cfg *config.Config, keep bool) (*register.Register, []*ingest.Reason) {
	reg, reasons := s.RegisterFile(ctx, cfg)
	at := filepath.Join(cfg.Dir, registerCopy)
	if reg != nil {
		var tell []*ingest.Reason
		for _, n := range reg.Notes {
			if n.Severity == ingest.Flag {
				tell = append(tell, n)
			}
		}
		if keep {
			if err := s.keepRegister(cfg, at, reg.SHA256); err != nil {
				tell = append(tell, ingest.AsReason(err))
			}
		}
		return reg, tell
	}
	if len(reasons) == 0 {
		return nil, nil
	}
	name := reasons[0].Where.File
	more := len(reasons) - mostTold
	tell := append([]*ingest.Reason{}, reasons[:min(len(reasons), mostTold)]...)
	r := &ingest.Reason{Code: CodeRegister, Severity: ingest.Flag, Where: ingest.Place{File: name}, What: "the register can't be used as it is, and there is no earlier one: reports are worked on without a register",
		Expected: "a register without the mistakes above", Found: "mistakes: " + strconv.Itoa(len(reasons)), Next: "correct the register; windrow register check tells all that is wrong with it"}
	if more > 0 {
		r.Found += ", of which the first " + strconv.Itoa(mostTold) + " are told"
	}
	old, fi := s.lastRegister(ctx, at, name)
	if old != nil {
		r.What = "the register can't be used as it is: the last good one stays in force"
		r.Found += "; in force is the register of " + fi.ModTime().Format("2006-01-02 15:04") + ", samples in it: " + strconv.Itoa(len(old.Rows))
	}
	return old, append(tell, r)
}

// lastRegister reads the copy of the last good register, nil for none.
func (s *Stages) lastRegister(ctx context.Context, at, name string) (*register.Register, fs.FileInfo) {
	fi, err := os.Stat(at)
	if err != nil {
		return nil, nil
	}
	b, err := os.ReadFile(at)
	if err != nil {
		return nil, nil
	}
	reg, _ := s.ReadRegister(ctx, ingest.NewSource(name, b)) // what this version doesn't read is as good as none
	return reg, fi
}

// keepRegister has the copy follow the register that is in force now.
func (s *Stages) keepRegister(cfg *config.Config, at, sha string) error {
	path, _, err := RegisterPath(cfg)
	if err != nil || path == "" {
		return err
	}
	b, err := s.fileOf(path)
	if err != nil || ingest.NewSource("", b).SHA256 != sha {
		return nil // it changed meanwhile, and is read again in the next round
	}
	if old, err := os.ReadFile(at); err == nil && bytes.Equal(old, b) {
		return nil
	}
	return Replace(at, b)
}
