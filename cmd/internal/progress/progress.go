package progress

import (
	"fmt"
	"io"
	"os"
	"strings"
	"sync"
	"time"
	"unicode"

	"github.com/schollz/progressbar/v3"
	"golang.org/x/term"
)

// Pause is the longest time between two plain lines while files are finished.
const Pause = 5 * time.Second

// Options say what is counted and where it is shown.
type Options struct {
	Out      io.Writer        // stderr; nil shows nothing
	Total    int              // how many files; 0 when that is not known
	Quiet    bool             // show nothing
	Terminal bool             // Out is a terminal: show a bar
	Rate     bool             // also tell how many are done a second, and for how long it will go on
	Now      func() time.Time // the clock; nil for time.Now
}

// IsTerminal reports whether a person watches f. TERM=dumb is a terminal that
// cannot move its cursor, so it counts as none.
func IsTerminal(f *os.File) bool {
	return f != nil && os.Getenv("TERM") != "dumb" && term.IsTerminal(int(f.Fd()))
}

// A Progress shows how far one run has come. Its methods may be called at
// once from any goroutine, and do nothing on a nil *Progress.
type Progress struct {
	mu      sync.Mutex
	o       Options
	bar     *progressbar.ProgressBar
	began   time.Time
	spoke   time.Time // when the last plain line was written
	spokeAt int       // how many files were finished then
	done    int
	ended   bool
}

// New begins to show a run.
func New(o Options) *Progress {
	if o.Quiet || o.Out == nil {
		return nil
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	p := &Progress{o: o, began: o.Now()}
	p.spoke = p.began
	if o.Terminal {
		total := o.Total
		if total <= 0 {
			total = -1 // a spinner: how much there is is not known
		}
		opts := []progressbar.Option{
			progressbar.OptionSetWriter(o.Out),
			progressbar.OptionShowCount(),
			progressbar.OptionSetPredictTime(true),
			progressbar.OptionSetWidth(24),
			progressbar.OptionThrottle(65 * time.Millisecond),
			progressbar.OptionClearOnFinish(),
			progressbar.OptionSetDescription("reports"),
		}
		if o.Rate {
			opts = append(opts, progressbar.OptionShowIts(), progressbar.OptionSetItsString("reports"))
		}
		p.bar = progressbar.NewOptions(total, opts...)
	}
	return p
}

// Step says that one more file is finished; name is shown beside the bar.
func (p *Progress) Step(name string) {
	if p == nil {
		return
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	p.done++
	if p.bar != nil {
		// Errors of the stream are of no account: the work goes on unseen.
		// The count goes first, for the bar draws itself only every so often.
		_ = p.bar.Add(1)
		p.bar.Describe(short(name))
		return
	}
	now := p.o.Now()
	tenth := max(1, p.o.Total/10)
	if p.o.Total <= 0 {
		tenth = 100
	}
	if p.done-p.spokeAt >= tenth || now.Sub(p.spoke) >= Pause || p.done == p.o.Total {
		p.speak(now)
	}
}

func (p *Progress) speak(now time.Time) {
	took := now.Sub(p.began).Round(time.Second)
	if p.o.Total > 0 {
		_, _ = fmt.Fprintf(p.o.Out, "%d of %d files, %d %%, %s%s\n", p.done, p.o.Total, p.done*100/p.o.Total, took, p.rate(now))
	} else {
		files := "files"
		if p.done == 1 {
			files = "file"
		}
		_, _ = fmt.Fprintf(p.o.Out, "%d %s, %s\n", p.done, files, took)
	}
	p.spoke, p.spokeAt = now, p.done
}

// rate is how many are done a second, and how long the rest takes at that.
func (p *Progress) rate(now time.Time) string {
	took := now.Sub(p.began)
	if !p.o.Rate || took <= 0 || p.done == 0 {
		return ""
	}
	text := fmt.Sprintf(", %.1f a second", float64(p.done)/took.Seconds())
	if left := p.o.Total - p.done; left > 0 {
		text += fmt.Sprintf(", %s to go", (took / time.Duration(p.done) * time.Duration(left)).Round(time.Second))
	}
	return text
}

// Print writes lines to w without tearing the bar: it is taken away, w is
// written, and the bar comes back with the next Step. w may be stdout.
func (p *Progress) Print(w io.Writer, text string) error {
	if p != nil {
		p.mu.Lock()
		defer p.mu.Unlock()
		if p.bar != nil && !p.ended {
			_ = p.bar.Clear()
		}
	}
	_, err := io.WriteString(w, text)
	return err
}

// End takes the bar away, or writes the last plain line if it is still owed.
// It may be called more than once.
func (p *Progress) End() {
	if p == nil {
		return
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.ended {
		return
	}
	p.ended = true
	if p.bar != nil {
		_ = p.bar.Clear()
		_ = p.bar.Exit()
		return
	}
	if p.done > p.spokeAt {
		p.speak(p.o.Now())
	}
}

// short is a file's name as it may stand on a terminal: names come from
// outside and may hold what would move the cursor.
func short(name string) string {
	name = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || unicode.Is(unicode.Cf, r) || r == '[' || r == ']' {
			return '?'
		}
		return r
	}, name)
	const most = 32
	if r := []rune(name); len(r) > most {
		name = "…" + string(r[len(r)-most+1:])
	}
	return fmt.Sprintf("%-*s", most, name)
}
