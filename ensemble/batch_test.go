package ensemble

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"sync/atomic"
	"testing"
)

// toy is a cheap evaluator of a few numbers by index.
func toy(_ context.Context, i int) ([]float64, error) {
	x := Points{Method: Sobol, Seed: 9, Dimensions: 3}.Point(i)
	row := []float64{x[0] + x[1]*x[2], math.Exp(x[1]) / 3, x[2]}
	if i%7 == 3 {
		row[2] = math.NaN()
	}
	return row, nil
}

func text(rows [][]float64) string { return fmt.Sprintf("%x", rows) }

// TestBatchIsTheSameForAnyWorkers: rows and the place of an early stop do not depend
// on how many work at it.
func TestBatchIsTheSameForAnyWorkers(t *testing.T) {
	enough := func(rows [][]float64) bool { return len(rows) >= 96 && rows[len(rows)-1][0] > 0 }
	var want string
	for _, workers := range []int{1, 2, 3, 8, 64} {
		var calls atomic.Int64
		b := Batch{Count: 500, Columns: 3, Evaluate: toy, Workers: workers, Every: 32, Enough: enough, Progress: func(done, total int) { calls.Add(1) }}
		rows, err := b.Run(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		if len(rows) != 96 {
			t.Errorf("%d workers: %d rows", workers, len(rows))
		}
		if calls.Load() == 0 {
			t.Error("no progress was told")
		}
		if got := text(rows); want == "" {
			want = got
		} else if got != want {
			t.Errorf("%d workers give other rows", workers)
		}
	}
}

// TestResume: a run that is stopped at any point and goes on from its journal, even
// one whose last line was cut short, gives the bytes of a run in one go, and
// evaluates nothing twice.
func TestResume(t *testing.T) {
	whole, err := Batch{Count: 120, Columns: 3, Evaluate: toy}.Run(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "draws.jsonl")
	evaluated := 0
	for stop := 17; ; stop += 17 {
		j, err := OpenJournal(path, "question", 3)
		if err != nil {
			t.Fatal(err)
		}
		ctx, cancel := context.WithCancel(context.Background())
		had := j.Len()
		var n atomic.Int64
		rows, err := Batch{Count: 120, Columns: 3, Workers: 3, Journal: j, Evaluate: func(ctx context.Context, i int) ([]float64, error) {
			if n.Add(1) == 17 {
				cancel()
			}
			return toy(ctx, i)
		}}.Run(ctx)
		cancel()
		j.Close()
		evaluated += int(n.Load())
		if err == nil {
			if text(rows) != text(whole) {
				t.Fatal("going on gives other rows")
			}
			break
		}
		if !errors.Is(err, context.Canceled) {
			t.Fatal(err)
		}
		again, err := OpenJournal(path, "question", 3)
		if err != nil {
			t.Fatal(err)
		}
		if again.Len() <= had {
			t.Fatalf("nothing was kept: %d rows, %d before", again.Len(), had)
		}
		again.Close()
		// A crash in the middle of a line.
		f, err := os.OpenFile(path, os.O_APPEND|os.O_WRONLY, 0)
		if err != nil {
			t.Fatal(err)
		}
		fmt.Fprintf(f, `{"draw":%d,"row":[0.1,0.`, stop)
		f.Close()
		if stop > 1000 {
			t.Fatal("never done")
		}
	}
	if evaluated != 120 {
		t.Errorf("%d evaluations of 120 tasks", evaluated)
	}
}

// TestJournalRefuses what it does not own or cannot read.
func TestJournalRefuses(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "draws")
	j, err := OpenJournal(path, "a", 2)
	if err != nil {
		t.Fatal(err)
	}
	if err := j.add(5, []float64{1, math.NaN()}); err != nil {
		t.Fatal(err)
	}
	j.Close()
	if _, err := OpenJournal(path, "b", 2); !errors.Is(err, ErrOtherQuestion) {
		t.Errorf("another question: %v", err)
	}
	write := func(name, body string) string {
		p := filepath.Join(dir, name)
		if err := os.WriteFile(p, []byte(body), 0o644); err != nil {
			t.Fatal(err)
		}
		return p
	}
	head := `{"hackle_draws":1,"question":"a","numbers":2}` + "\n"
	for name, c := range map[string]struct{ body, want string }{
		"notes":    {"my notes\nof today\n", "no file of draws"},
		"one line": {"my notes", "no file of draws"},
		"broken":   {head + "{\"draw\":1,\"row\":[1,2]}\nrubbish\n{\"draw\":2,\"row\":[1,2]}\n", "line 3"},
		"short":    {head + "{\"draw\":1,\"row\":[1]}\n", "line 2"},
		"no draw":  {head + "{\"row\":[1,2]}\n", "line 2"},
	} {
		p := write(name, c.body)
		if _, err := OpenJournal(p, "a", 2); err == nil || !strings.Contains(err.Error(), c.want) || !strings.Contains(err.Error(), p) {
			t.Errorf("%s: %v", name, err)
		}
		if left, _ := os.ReadFile(p); string(left) != c.body {
			t.Errorf("%s: the file was altered", name)
		}
	}
	// A first line that a crash cut short is begun anew.
	cut := write("cut", `{"hackle_draws":1,"ques`)
	j, err = OpenJournal(cut, "a", 2)
	if err != nil || j.Len() != 0 {
		t.Fatalf("a cut first line: %v", err)
	}
	j.Close()
	if got, _ := os.ReadFile(cut); string(got) != head {
		t.Errorf("first line %q", got)
	}
	// Numbers come back to the last bit, missing ones as missing.
	j, err = OpenJournal(path, "a", 2)
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	if row := j.rows[5]; len(row) != 2 || row[0] != 1 || !math.IsNaN(row[1]) {
		t.Errorf("row came back as %v", row)
	}
}

// TestBatchFails: an error or a panic of one task comes out, is no cancellation, and
// leaves what was done in the journal.
func TestBatchFails(t *testing.T) {
	boom := errors.New("boom")
	for _, fail := range []func() ([]float64, error){func() ([]float64, error) { return nil, boom }, func() ([]float64, error) { panic("boom") }, func() ([]float64, error) { return []float64{1}, nil }} {
		_, err := Batch{Count: 50, Columns: 3, Workers: 4, Evaluate: func(ctx context.Context, i int) ([]float64, error) {
			if i == 20 {
				return fail()
			}
			return toy(ctx, i)
		}}.Run(context.Background())
		if err == nil || errors.Is(err, context.Canceled) {
			t.Errorf("got %v", err)
		}
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := (Batch{Count: 5, Columns: 3, Evaluate: toy}).Run(ctx); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}

// TestQuantile: definition 8 on one to ten gives the textbook values (n+1/3)p+1/3,
// and the order statistics are those of the published table for n = 100.
func TestQuantile(t *testing.T) {
	var ten, hundred []float64
	for i := range 100 {
		if i < 10 {
			ten = append(ten, float64(i+1))
		}
		hundred = append(hundred, float64(i+1))
	}
	for _, c := range []struct{ p, want float64 }{{0.5, 5.5}, {0.25, 10.0/3*0.875 + 0}, {0.9, 9.633333333333333}, {0.001, 1}, {0.999, 10}} {
		want := c.want
		if c.p == 0.25 {
			want = (10+1.0/3)*0.25 + 1.0/3
		}
		if got := Quantile(ten, c.p, Level).Value; math.Abs(got-want) > 1e-12 {
			t.Errorf("p = %g: %.6f, want %.6f", c.p, got, want)
		}
	}
	// 40th and 61st of 100 hold the median with 96.5 %; the common table (from memory).
	if e := Quantile(hundred, 0.5, Level); e.Low != 40 || e.High != 61 {
		t.Errorf("interval of the median of 100: %g to %g, table 40 to 61", e.Low, e.High)
	}
	if e := Quantile(ten, 0.9, Level); !math.IsInf(e.High, 1) || math.IsInf(e.Low, 0) {
		t.Errorf("ten draws bound the ninth tenth: %+v", e)
	}
	if e := Quantile(nil, 0.5, Level); !math.IsNaN(e.Value) {
		t.Errorf("of nothing: %+v", e)
	}
	var back Estimate
	text, err := Estimate{1, math.Inf(-1), 3}.MarshalJSON()
	if err != nil || back.UnmarshalJSON(text) != nil || !reflect.DeepEqual(back, Estimate{1, math.Inf(-1), 3}) {
		t.Errorf("JSON %s, back %+v", text, back)
	}
}

// TestCoverage: intervals of a quantile and of a probability hold the truth in at
// least 95 of 100 repetitions with independent draws, and with scrambled Sobol'
// points of a skewed function of five numbers too.
func TestCoverage(t *testing.T) {
	f := func(x []float64) float64 { return math.Exp(x[0]) + x[1]*x[2] + 2*x[3]*x[3] - x[4] }
	const many = 1 << 17
	var all []float64
	ref := Points{Method: Sobol, Seed: 999, Dimensions: 5}
	for i := range many {
		all = append(all, f(ref.Point(i)))
	}
	truth := Quantile(known(all), 0.9, Level).Value
	const limit = 3.2
	share := 0.0
	for _, y := range all {
		if y > limit {
			share += 1.0 / many
		}
	}
	const repeats, n = 1000, 100
	for _, m := range []Method{Plain, Sobol, LatinHypercube} {
		heldQ, heldP := 0, 0
		for r := range repeats {
			p := Points{Method: m, Seed: uint64(r), Dimensions: 5, Count: n}
			var y []float64
			events := 0
			for i := range n {
				v := f(p.Point(i))
				y = append(y, v)
				if v > limit {
					events++
				}
			}
			if e := Quantile(known(y), 0.9, Level); e.Low <= truth && truth <= e.High {
				heldQ++
			}
			if e := Chance(events, n); e.Low <= share && share <= e.High {
				heldP++
			}
		}
		// Three standard deviations of a count with 0.95 in 1,000 are 21.
		if heldQ < 950-21 || heldP < 950-21 {
			t.Errorf("%s: quantile held %d, probability %d of %d", m, heldQ, heldP, repeats)
		}
		t.Logf("%s: quantile held %d, probability %d of %d", m, heldQ, heldP, repeats)
	}
}
