package web

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"maps"
	"runtime"
	"slices"
	"sync"
	"time"

	"hackle/internal/store"
)

// Of the bench.
const (
	mostWaiting = 200             // pieces of work at once, waiting and going on
	keepFailed  = 5 * time.Minute // how long a failure or a stop is remembered
)

// state of a piece of work.
type state string

const (
	waiting state = "waiting"
	running state = "running"
	done    state = "done"
	failed  state = "failed"
	stopped state = "stopped"
)

// over reports whether nothing more will come.
func (s state) over() bool { return s == done || s == failed || s == stopped }

// work is something that takes long. It belongs to no page: whoever comes by may
// watch it or stop it, in any tab, and it goes on when all have left.
type work struct {
	key    string // of what is made; one piece of work makes one thing
	title  string // for people
	begun  time.Time
	errand errand
	ctx    context.Context // ends when the work is to stop
	cancel context.CancelFunc

	keeping sync.Mutex // held while it is written down
	job     store.Job  // as it was last written down; ID empty: it is not kept

	mu     sync.Mutex
	halted bool // somebody stopped it
	// unfinished is true of work that the end of the program stopped.
	unfinished bool
	state      state
	share      float64 // done, 0 to 1
	err        error
	ended      time.Time
	changed    chan struct{} // closed at the next change
}

// look returns how it stands and a channel that is closed at the next change.
func (w *work) look() (s state, share float64, changed <-chan struct{}, err error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.state, w.share, w.changed, w.err
}

// stop ends the work for all who watch it.
func (w *work) stop() {
	w.mu.Lock()
	w.halted = true
	w.mu.Unlock()
	w.cancel()
}

func (w *work) set(change func()) {
	w.mu.Lock()
	defer w.mu.Unlock()
	change()
	close(w.changed)
	w.changed = make(chan struct{})
}

// bench does long work, a few pieces at a time, in the order they came.
type bench struct {
	slots  chan struct{}
	ctx    context.Context
	cancel context.CancelFunc
	all    sync.WaitGroup

	jobs jobs // where it is written down

	mu   sync.Mutex
	work map[string]*work
}

func newBench(workers int, jobs jobs) *bench {
	if workers <= 0 {
		workers = max(1, runtime.GOMAXPROCS(0))
	}
	b := &bench{slots: make(chan struct{}, workers), jobs: jobs, work: map[string]*work{}}
	b.ctx, b.cancel = context.WithCancel(context.Background())
	return b
}

// close stops all work and waits for it. What is not done yet is gone on with when
// the yard's file is opened again.
func (b *bench) close() {
	b.mu.Lock() // nothing begins after this
	b.cancel()
	b.mu.Unlock()
	b.all.Wait()
}

// errBusy is the answer when too much waits.
var errBusy = &refused{status: 503, text: "Too much is being computed at the moment. Wait until some of it is done, or stop some of it."}

// find returns the work that makes a thing, nil when there is none.
func (b *bench) find(key string) *work {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.work[key]
}

// list returns all work, the oldest first.
func (b *bench) list() []*work {
	b.mu.Lock()
	defer b.mu.Unlock()
	return slices.SortedFunc(maps.Values(b.work), func(x, y *work) int { return cmp.Or(x.begun.Compare(y.begun), cmp.Compare(x.key, y.key)) })
}

// forget drops work that is over.
func (b *bench) forget(key string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if w := b.work[key]; w != nil {
		if s, _, _, _ := w.look(); s.over() {
			delete(b.work, key)
		}
	}
}

// start begins to make a thing unless that is under way already. What is done gets
// forgotten: its result is kept elsewhere. A failure is remembered for a while, so
// that a page that is loaded again does not fail anew each time; forget ends that.
func (b *bench) start(e errand, key, title string, do func(ctx context.Context, progress func(share float64)) error) (*work, error) {
	w, fresh, err := b.place(e, key, title)
	if err != nil || !fresh {
		return w, err
	}
	b.jobs.begin(w)
	go func() {
		defer b.all.Done()
		ctx, cancel := w.ctx, w.cancel
		defer cancel()
		err := b.run(ctx, w, do)
		w.set(func() {
			w.err, w.ended = err, time.Now()
			switch {
			case err == nil:
				w.state, w.share = done, 1
			case errors.Is(err, context.Canceled):
				w.state = stopped
			default:
				w.state = failed
			}
			w.unfinished = w.state == stopped && !w.halted
		})
		b.jobs.note(w)
	}()
	return w, nil
}

// place finds room for work, or the work that makes the same thing.
func (b *bench) place(e errand, key, title string) (w *work, fresh bool, err error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	for k, w := range b.work {
		if s, _, _, _ := w.look(); s.over() && (s == done || time.Since(w.ended) > keepFailed) {
			delete(b.work, k)
		}
	}
	if w := b.work[key]; w != nil {
		return w, false, nil
	}
	if b.ctx.Err() != nil || len(b.work) >= mostWaiting {
		return nil, false, errBusy
	}
	w = &work{key: key, title: title, errand: e, begun: time.Now(), state: waiting, changed: make(chan struct{})}
	w.ctx, w.cancel = context.WithCancel(b.ctx)
	b.work[key] = w
	b.all.Add(1)
	return w, true, nil
}

func (b *bench) run(ctx context.Context, w *work, do func(ctx context.Context, progress func(share float64)) error) (err error) {
	select {
	case b.slots <- struct{}{}:
		defer func() { <-b.slots }()
	case <-ctx.Done():
		return ctx.Err()
	}
	defer func() {
		if v := recover(); v != nil {
			err = fmt.Errorf("a fault of the program: %v", v)
		}
	}()
	w.set(func() { w.state = running })
	b.jobs.note(w)
	return do(ctx, func(share float64) {
		w.mu.Lock()
		small := share < w.share+0.01
		w.mu.Unlock()
		if !small {
			w.set(func() { w.share = min(share, 1) })
			b.jobs.note(w)
		}
	})
}
