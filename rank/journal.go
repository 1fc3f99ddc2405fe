package rank

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"sync"
)

// journalHead is the first line of a journal.
const journalHead = `{"journal":"hackle rank","version":1}`

// Journal remembers the outcomes of runs in a file, a line each, so that a ranking
// that was stopped goes on where it was. It may be used by several goroutines.
type Journal struct {
	mu    sync.Mutex
	file  *os.File
	known map[string]Outcome
	read  int
}

type entry struct {
	Key     string  `json:"key"`
	Outcome Outcome `json:"outcome"`
}

// OpenJournal opens the journal at path, making it when it is not there. A last
// line that was cut off is dropped; anything else that is no journal is refused and
// left alone. Close it when done.
func OpenJournal(path string) (*Journal, error) {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o644)
	if err != nil {
		return nil, fmt.Errorf("journal: %w", err)
	}
	j := &Journal{file: f, known: make(map[string]Outcome)}
	if err := j.load(path); err != nil {
		return nil, errors.Join(err, f.Close())
	}
	return j, nil
}

func (j *Journal) load(path string) error {
	r := bufio.NewReader(j.file)
	var good int64 // bytes of whole lines
	for n := 1; ; n++ {
		line, err := r.ReadBytes('\n')
		if err != nil && !errors.Is(err, io.EOF) {
			return fmt.Errorf("journal %s: %w", path, err)
		}
		whole := err == nil
		switch {
		case n == 1 && len(line) == 0:
			if _, err := j.file.WriteString(journalHead + "\n"); err != nil {
				return fmt.Errorf("journal %s: %w", path, err)
			}
			return nil
		case n == 1 && string(bytes.TrimSpace(line)) != journalHead:
			return fmt.Errorf("journal %s: line 1 is not that of a journal of hackle rank; give another file", path)
		case !whole:
			// A line without its end was being written when the program stopped.
			if err := j.file.Truncate(good); err != nil {
				return fmt.Errorf("journal %s: %w", path, err)
			}
			_, err := j.file.Seek(good, io.SeekStart)
			if err == nil && good == 0 {
				_, err = j.file.WriteString(journalHead + "\n")
			}
			if err != nil {
				return fmt.Errorf("journal %s: %w", path, err)
			}
			return nil
		}
		good += int64(len(line))
		if n == 1 {
			continue
		}
		var e entry
		if err := json.Unmarshal(line, &e); err != nil || e.Key == "" {
			return fmt.Errorf("journal %s: line %d is damaged; remove the file to begin anew", path, n)
		}
		j.known[e.Key] = e.Outcome
		j.read++
	}
}

// Known is the number of outcomes that were there when it was opened.
func (j *Journal) Known() int { return j.read }

// Close ends the journal.
func (j *Journal) Close() error {
	if err := j.file.Close(); err != nil {
		return fmt.Errorf("journal: %w", err)
	}
	return nil
}

// Get returns the outcome that is remembered under a key.
func (j *Journal) Get(key string) (Outcome, bool) {
	j.mu.Lock()
	defer j.mu.Unlock()
	o, ok := j.known[key]
	return o, ok
}

// Put remembers an outcome. It is in the file when Put returns.
func (j *Journal) Put(key string, o Outcome) error {
	line, err := json.Marshal(entry{key, o})
	if err != nil {
		return fmt.Errorf("journal: %w", err)
	}
	j.mu.Lock()
	defer j.mu.Unlock()
	if _, ok := j.known[key]; ok {
		return nil
	}
	if _, err := j.file.Write(append(line, '\n')); err != nil {
		return fmt.Errorf("journal: %w", err)
	}
	j.known[key] = o
	return nil
}

// Book remembers outcomes beyond one start of the program: a [Journal], or a
// database. It is used by several goroutines.
type Book interface {
	Get(key string) (Outcome, bool)
	Put(key string, o Outcome) error
}

// Memory makes every run once: tasks with the same key, at the same time or one after
// the other, share one run, and with a book those of an earlier start as well.
type Memory struct {
	book    Book
	mu      sync.Mutex
	flights map[string]*flight
	reused  int
	made    int
}

// flight is a run that is under way or done.
type flight struct {
	done    chan struct{}
	outcome Outcome
	err     error
}

// NewMemory returns an empty memory; nil: it has no book.
func NewMemory(book Book) *Memory { return &Memory{book: book, flights: make(map[string]*flight)} }

// Counts tells how many runs were made so far and how many were spared.
func (m *Memory) Counts() (made, reused int) {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.made, m.reused
}

// Evaluator remembers what run gives under the key of the task. Several questions
// may share one memory, each with an evaluator of its own.
func (m *Memory) Evaluator(run Evaluator, key func(Task) (string, error)) Evaluator {
	return func(ctx context.Context, t Task) (Outcome, error) {
		k, err := key(t)
		if err != nil {
			return Outcome{}, err
		}
		for {
			m.mu.Lock()
			f, ok := m.flights[k]
			if !ok {
				f = &flight{done: make(chan struct{})}
				m.flights[k] = f
			}
			m.mu.Unlock()
			if !ok {
				m.fly(ctx, k, f, run, t)
				return f.outcome, f.err
			}
			select {
			case <-f.done:
			case <-ctx.Done():
				return Outcome{}, ctx.Err()
			}
			switch {
			case f.err == nil:
				m.mu.Lock()
				m.reused++
				m.mu.Unlock()
				return f.outcome, nil
			case ctx.Err() != nil || !errors.Is(f.err, context.Canceled):
				return Outcome{}, f.err
			}
			// Another's context ended, not this one's: try again.
		}
	}
}

// fly makes the run of a flight, or finds it in the book.
func (m *Memory) fly(ctx context.Context, k string, f *flight, run Evaluator, t Task) {
	defer close(f.done)
	known := false
	if m.book != nil {
		f.outcome, known = m.book.Get(k)
	}
	if !known {
		f.outcome, f.err = run(ctx, t)
		if f.err == nil && m.book != nil {
			f.err = m.book.Put(k, f.outcome)
		}
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	switch {
	case f.err != nil:
		delete(m.flights, k)
	case known:
		m.reused++
	default:
		m.made++
	}
}
