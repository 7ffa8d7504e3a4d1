//go:build unix

package queue

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"example.org/windrow/normalize/archive/index/pgtest"
)

// dieOn in the environment makes the test binary a worker that dies in the
// middle of its first job: with SIGKILL, by its own hand.
const dieOn = "QUEUE_TEST_WORKER"

func TestMain(m *testing.M) {
	if at := os.Getenv(dieOn); at != "" {
		q, err := Open(context.Background(), at, 4)
		if err != nil {
			panic(err)
		}
		_ = q.Work(context.Background(), Options{Workers: 1, Longest: 2 * time.Second}, func(context.Context, Job) (json.RawMessage, error) {
			p, err := os.FindProcess(os.Getpid())
			if err != nil {
				return nil, err
			}
			if err := p.Kill(); err != nil {
				return nil, err
			}
			select {}
		})
		return
	}
	code := m.Run()
	pgtest.EndShared()
	os.Exit(code)
}

func job(i int) Job {
	return Job{SHA256: fmt.Sprintf("%064x", i), Name: fmt.Sprintf("%d.pdf", i), Channel: "folder", Office: "Finch", Time: time.Date(2026, 5, 1, 8, 0, 0, 0, time.UTC)}
}

func opened(t *testing.T, at string) Queue {
	t.Helper()
	q, err := Open(t.Context(), at, 8)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = q.Close() })
	return q
}

// working has a worker run until the function that is returned is called.
func working(t *testing.T, q Queue, opt Options, do func(ctx context.Context, j Job) (json.RawMessage, error)) (stop func()) {
	t.Helper()
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- q.Work(ctx, opt, do) }()
	return func() {
		cancel()
		if err := <-done; err != nil {
			t.Error(err)
		}
	}
}

func until(t *testing.T, within time.Duration, what string, is func() bool) {
	t.Helper()
	for end := time.Now().Add(within); !is(); time.Sleep(10 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("not within %v: %s", within, what)
		}
	}
}

// A job that differs in anything that is noted of an arrival is another job;
// one that doesn't is the same, whatever the zone of its time.
func TestKey(t *testing.T) {
	a := job(1)
	seen := map[string]string{a.Key(): "itself"}
	for what, b := range map[string]Job{"hash": {SHA256: job(2).SHA256, Name: a.Name, Channel: a.Channel, Office: a.Office, Time: a.Time}, "name": {SHA256: a.SHA256, Name: "b.pdf", Channel: a.Channel, Office: a.Office, Time: a.Time},
		"way": {SHA256: a.SHA256, Name: a.Name, Channel: "command", Office: a.Office, Time: a.Time}, "office": {SHA256: a.SHA256, Name: a.Name, Channel: a.Channel, Office: "Wren", Time: a.Time},
		"time":   {SHA256: a.SHA256, Name: a.Name, Channel: a.Channel, Office: a.Office, Time: a.Time.Add(time.Second)},
		"county": {SHA256: a.SHA256, Name: a.Name, Channel: a.Channel, Office: a.Office, Time: a.Time, County: "Wren"}} {
		if was, ok := seen[b.Key()]; ok {
			t.Errorf("another %s has the key of %s", what, was)
		}
		seen[b.Key()] = what
	}
	b := a
	b.Time = a.Time.In(time.FixedZone("west", -6*3600)).Add(300 * time.Millisecond)
	if b.Key() != a.Key() {
		t.Error("the same second in another zone is another job")
	}
}

// Each job is done once, however often it was put before it was done, by one
// of several workers; and what the worker said is there to be asked for.
func TestEachJobOnce(t *testing.T) {
	at := pgtest.Shared(t).Database(t)
	const n = 60
	q, other := opened(t, at), opened(t, at)
	ids := map[int]int64{}
	for range 3 {
		for i := range n {
			id, err := q.Put(t.Context(), job(i))
			if err != nil {
				t.Fatal(err)
			}
			if was, ok := ids[i]; ok && was != id {
				t.Fatalf("job %d was put again as %d, not %d", i, id, was)
			}
			ids[i] = id
		}
	}
	if c, err := other.Counts(t.Context()); err != nil || c != (Counts{Waiting: n}) {
		t.Errorf("counts %+v, %v", c, err)
	}
	if st, err := q.State(t.Context(), ids[0]); err != nil || st.Done || st.GaveUp {
		t.Errorf("before any worker: %+v, %v", st, err)
	}
	var mu sync.Mutex
	times := map[string]int{}
	do := func(_ context.Context, j Job) (json.RawMessage, error) {
		mu.Lock()
		defer mu.Unlock()
		times[j.Name]++
		return json.Marshal("did " + j.Name)
	}
	stop, stop2 := working(t, q, Options{Workers: 2, Longest: time.Minute, Grace: time.Second}, do), working(t, other, Options{Workers: 2, Longest: time.Minute, Grace: time.Second}, do)
	until(t, 30*time.Second, "all are done", func() bool {
		c, err := q.Counts(t.Context())
		return err == nil && c == Counts{}
	})
	stop()
	stop2()
	for i := range n {
		st, err := q.State(t.Context(), ids[i])
		if err != nil || !st.Done || string(st.Result) != fmt.Sprintf(`"did %d.pdf"`, i) {
			t.Errorf("job %d: %+v, %v", i, st, err)
		}
		if times[job(i).Name] != 1 {
			t.Errorf("job %d was done %d times", i, times[job(i).Name])
		}
	}
	// What is done may be put again: the archive knows the bytes.
	if id, err := q.Put(t.Context(), job(0)); err != nil || id == ids[0] {
		t.Errorf("put again after it was done: %d, %v", id, err)
	}
	if st, err := q.State(t.Context(), 1<<40); err != nil || !st.GaveUp {
		t.Errorf("a job that never was: %+v, %v", st, err)
	}
}

// A job that fails is tried again, and tells why it failed.
func TestFailedIsTriedAgain(t *testing.T) {
	at := pgtest.Shared(t).Database(t)
	q := opened(t, at)
	id, err := q.Put(t.Context(), job(1))
	if err != nil {
		t.Fatal(err)
	}
	var tries atomic.Int64
	stop := working(t, q, Options{Workers: 2, Longest: time.Minute, Grace: time.Second}, func(context.Context, Job) (json.RawMessage, error) {
		switch tries.Add(1) {
		case 1:
			return nil, errors.New("the disk is full")
		case 2:
			panic("a mistake in the program")
		}
		return json.RawMessage(`"done"`), nil
	})
	defer stop()
	until(t, 10*time.Second, "it has failed", func() bool {
		st, err := q.State(t.Context(), id)
		return err == nil && st.Failed == "the disk is full" && !st.GaveUp
	})
	until(t, 30*time.Second, "it is done", func() bool {
		st, err := q.State(t.Context(), id)
		return err == nil && st.Done && st.Tries == 3
	})
}

func TestWaitsGrow(t *testing.T) {
	total := time.Duration(0)
	for i := 1; i < tries; i++ {
		if wait(i) < wait(i-1) || wait(i) > 10*time.Minute {
			t.Errorf("after %d failures %v", i, wait(i))
		}
		total += wait(i)
	}
	if wait(1) != time.Second || total < 3*time.Hour || total > 5*time.Hour {
		t.Errorf("first %v, in all %v", wait(1), total)
	}
}

// A job whose worker was killed is given to another worker.
func TestKilledWorkerLosesNothing(t *testing.T) {
	if testing.Short() {
		t.Skip("short: waits for a killed worker's time to be over")
	}
	at := pgtest.Shared(t).Database(t)
	q := opened(t, at)
	id, err := q.Put(t.Context(), job(1))
	if err != nil {
		t.Fatal(err)
	}
	self, err := filepath.Abs(os.Args[0])
	if err != nil {
		t.Fatal(err)
	}
	c := exec.Command(self)
	c.Env = append(os.Environ(), dieOn+"="+at)
	if out, err := c.CombinedOutput(); err == nil || !strings.Contains(err.Error(), "killed") {
		t.Fatalf("the worker was not killed in its job: %v\n%s", err, out)
	}
	if st, err := q.State(t.Context(), id); err != nil || st.Done || st.GaveUp || st.Tries != 1 {
		t.Errorf("after the kill %+v, %v", st, err)
	}
	begun := time.Now()
	stop := working(t, q, Options{Workers: 1, Longest: 2 * time.Second, Grace: time.Second}, func(context.Context, Job) (json.RawMessage, error) { return json.RawMessage(`1`), nil })
	defer stop()
	until(t, 2*time.Minute, "another worker has done it", func() bool {
		st, err := q.State(t.Context(), id)
		return err == nil && st.Done
	})
	t.Logf("done again %.0f s after another worker began", time.Since(begun).Seconds())
}
