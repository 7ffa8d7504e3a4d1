package web

import (
	"cmp"
	"container/list"
	"context"
	"sync"
	"time"
)

// A lately keeps what was made last, by what it was made of, each made once
// however many ask.
type lately[T any] struct {
	mu    sync.Mutex
	most  int
	order *list.List // of *kept[T], the one used last in front
	by    map[string]*list.Element
}

type kept[T any] struct {
	key   string
	once  sync.Once
	value T
	err   error
}

func newLately[T any](most int) *lately[T] {
	return &lately[T]{most: most, order: list.New(), by: map[string]*list.Element{}}
}

// get gives what is kept under a key, or makes it. A failure is not kept.
func (l *lately[T]) get(key string, make func() (T, error)) (T, error) {
	l.mu.Lock()
	e, ok := l.by[key]
	if ok {
		l.order.MoveToFront(e)
	} else {
		e = l.order.PushFront(&kept[T]{key: key})
		l.by[key] = e
		if l.order.Len() > l.most {
			old := l.order.Back()
			l.order.Remove(old)
			delete(l.by, old.Value.(*kept[T]).key)
		}
	}
	k := e.Value.(*kept[T])
	l.mu.Unlock()
	k.once.Do(func() { k.value, k.err = make() })
	if k.err != nil {
		l.mu.Lock()
		if l.by[key] == e {
			l.order.Remove(e)
			delete(l.by, key)
		}
		l.mu.Unlock()
	}
	return k.value, k.err
}

// forget drops everything.
func (l *lately[T]) forget() {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.order.Init()
	clear(l.by)
}

// stale is after how long something remembered is made anew at the latest.
const stale = 30 * time.Second

// A remembered is one thing that is dear to make and holds for a while, unless
// something came.
type remembered[T any] struct {
	holds time.Duration // 0 stands for stale
	mu    sync.Mutex
	value T
	made  time.Time
	has   bool
}

func (m *remembered[T]) get(ctx context.Context, make func(context.Context) (T, error)) (T, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.has && time.Since(m.made) < cmp.Or(m.holds, stale) {
		return m.value, nil
	}
	v, err := make(ctx)
	if err == nil {
		m.value, m.made, m.has = v, time.Now(), true
	}
	return v, err
}

func (m *remembered[T]) forget() {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.has = false
}
