package folder

import (
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"
)

// A watch that is to stop gives the file in hand a bounded time: one that is
// done within it is filed, one that is not is left where it lies, and its work
// is told to end.
func TestGrace(t *testing.T) {
	for _, x := range []struct {
		name  string
		takes time.Duration // 0 for ever
		grace time.Duration
		filed bool
	}{
		{"done within it", 30 * time.Millisecond, 10 * time.Second, true},
		{"never done", 0, 50 * time.Millisecond, false},
		{"as long as it takes", 30 * time.Millisecond, 0, true},
	} {
		t.Run(x.name, func(t *testing.T) {
			dir := t.TempDir()
			at := filepath.Join(dir, "a.csv")
			if err := os.WriteFile(at, []byte("a"), 0o600); err != nil {
				t.Fatal(err)
			}
			begun, ended := make(chan struct{}, 1), make(chan error, 1)
			w, err := New([]Settings{{Dir: dir}}, func(ctx context.Context, _ Taken) Outcome {
				begun <- struct{}{}
				var done <-chan time.Time
				if x.takes > 0 {
					done = time.After(x.takes)
				}
				select {
				case <-ctx.Done():
					ended <- ctx.Err()
					return Outcome{Result: Again}
				case <-done:
					ended <- ctx.Err()
					return Outcome{Result: Done}
				}
			}, Options{Settle: 10 * time.Millisecond, Every: 5 * time.Millisecond, Grace: x.grace, PollOnly: true})
			if err != nil {
				t.Fatal(err)
			}
			ctx, stop := context.WithCancel(context.Background())
			finished := make(chan struct{})
			go func() {
				defer close(finished)
				if err := w.Run(ctx); err != nil {
					t.Error(err)
				}
			}()
			<-begun
			stop()
			select {
			case <-finished:
			case <-time.After(10 * time.Second):
				t.Fatal("it does not stop")
			}
			if err := <-ended; (err == nil) != x.filed {
				t.Errorf("the work ended with %v", err)
			}
			if _, err := os.Stat(at); (err == nil) == x.filed {
				t.Errorf("the file: %v", err)
			}
		})
	}
}
