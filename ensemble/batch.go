package ensemble

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"sync"
)

// Batch is a list of tasks that are each a pure function of their index and give a
// row of numbers. Results come in the order of the index whatever the number of
// workers; a journal keeps them over a stop.
type Batch struct {
	Count    int
	Columns  int // numbers a row
	Evaluate func(ctx context.Context, task int) ([]float64, error)
	Workers  int      // 0: one for each core
	Journal  *Journal // nil: nothing is kept
	// Every is after how many tasks in order Enough is asked; 0: never.
	Every int
	// Enough tells, from the rows of the first tasks in order, whether the rest can
	// be left out. It sees the same rows however many workers there are.
	Enough func(rows [][]float64) bool
	// Progress, when not nil, is told how many tasks are done. It is called from
	// several goroutines, one at a time.
	Progress func(done, total int)
}

// Run evaluates the tasks and returns their rows: all of them, or the first ones up
// to where Enough was content. The first task that fails stops the batch; an
// evaluator that can live with failures puts them into its row. Work that was done
// before an error or a cancelled context is in the journal.
func (b Batch) Run(ctx context.Context) ([][]float64, error) {
	if b.Count < 0 || b.Count > mostPoints {
		return nil, fmt.Errorf("ensemble: %d tasks, accepted: up to %d", b.Count, mostPoints)
	}
	workers := b.Workers
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	workers = min(workers, max(1, b.Count))
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()

	s := &batchState{rows: make([][]float64, b.Count), end: b.Count}
	if b.Journal != nil {
		for i, row := range b.Journal.rows {
			if i < b.Count {
				s.rows[i] = row
				s.done++
			}
		}
	}
	s.advance(&b)
	if b.Progress != nil && s.done > 0 {
		b.Progress(s.done, b.Count)
	}
	var wait sync.WaitGroup
	for range workers {
		wait.Go(func() {
			defer func() {
				if v := recover(); v != nil {
					s.fail(cancel, fmt.Errorf("ensemble: a task failed: %v", v))
				}
			}()
			for {
				i := s.take()
				if i < 0 || ctx.Err() != nil {
					return
				}
				row, err := b.Evaluate(ctx, i)
				if err == nil && len(row) != b.Columns {
					err = fmt.Errorf("ensemble: task %d gave %d numbers, not %d", i, len(row), b.Columns)
				}
				if err != nil {
					s.fail(cancel, err)
					return
				}
				if err := s.put(&b, i, row); err != nil {
					s.fail(cancel, err)
					return
				}
			}
		})
	}
	wait.Wait()
	if s.err != nil {
		return nil, s.err
	}
	if err := ctx.Err(); err != nil && s.front < s.end {
		return nil, err
	}
	return s.rows[:s.end], nil
}

type batchState struct {
	mu    sync.Mutex
	rows  [][]float64
	next  int // first task that nobody has taken
	front int // all tasks before it are done
	asked int // tasks that Enough has seen
	end   int // tasks that count
	done  int
	err   error
}

// take gives out a task, -1 when there is none.
func (s *batchState) take() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	for s.next < s.end && s.rows[s.next] != nil {
		s.next++
	}
	if s.next >= s.end {
		return -1
	}
	s.next++
	return s.next - 1
}

func (s *batchState) put(b *Batch, i int, row []float64) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if b.Journal != nil {
		if err := b.Journal.add(i, row); err != nil {
			return err
		}
	}
	s.rows[i] = row
	s.done++
	s.advance(b)
	if b.Progress != nil {
		total := s.end
		b.Progress(min(s.done, total), total)
	}
	return nil
}

// advance moves the front on, and asks at its marks whether it is enough.
func (s *batchState) advance(b *Batch) {
	for s.front < s.end && s.rows[s.front] != nil {
		s.front++
		if b.Every > 0 && b.Enough != nil && s.front%b.Every == 0 && s.front > s.asked {
			s.asked = s.front
			if b.Enough(s.rows[:s.front]) {
				s.end = s.front
			}
		}
	}
}

func (s *batchState) fail(cancel func(), err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	// The echo of a cancellation does not hide what caused it.
	if s.err == nil || errors.Is(s.err, context.Canceled) && !errors.Is(err, context.Canceled) {
		s.err = err
	}
	cancel()
}
