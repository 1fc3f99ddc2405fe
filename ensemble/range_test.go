package ensemble

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"hackle/climate"
	"hackle/hive"
	"hackle/quantity"
	"hackle/wall"
)

// asked is one small question with real runs: two spans of ten days, one of a cold
// winter; asked once for all tests.
func question(t testing.TB) Question {
	b := base(t)
	b.Plan.Hive.Wraps = nil
	b.Plan.Colony.Honey = 0.65 // some draws starve on it
	b.StepsPerHour = 2
	years := []*climate.Series{weather(t, date(2025, 12, 28), 10), weather(t, date(2026, 1, 20), 10)}
	return Question{Base: b, Design: Design{Seed: 4, Count: 12, Inputs: Inputs(b.Plan, Keeper{}), Years: years}, Overhead: 0.05, Course: true, Program: "test"}
}

var asked = sync.OnceValues(func() (*Range, error) {
	q := question(testingT)
	return q.Ask(context.Background(), nil)
})

var testingT testing.TB

func answer(t *testing.T) *Range {
	t.Helper()
	testingT = t
	r, err := asked()
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// TestRangeHangsTogether: quantiles rise, probabilities by date never fall and end at
// the probability of starving, the need is use and reserve.
func TestRangeHangsTogether(t *testing.T) {
	r := answer(t)
	if r.Draws != 12 || len(r.Lines) < 60 {
		t.Fatalf("%d draws, %d lines", r.Draws, len(r.Lines))
	}
	for _, l := range r.Lines {
		if !(l.P10.Value <= l.P50.Value && l.P50.Value <= l.P90.Value) {
			t.Errorf("%s: %g, %g, %g", l.Key, l.P10.Value, l.P50.Value, l.P90.Value)
		}
	}
	before := 0.0
	for _, d := range r.StarveBy {
		if d.Odds.Value < before {
			t.Errorf("by %s the chance falls to %g", d.Date, d.Odds.Value)
		}
		before = d.Odds.Value
	}
	if n := len(r.HoneyLeft); n != 2 || r.HoneyLeft[1].Day != 10 || !(r.HoneyLeft[1].P50.Value < r.HoneyLeft[0].P50.Value) {
		t.Errorf("honey left by week: %+v", r.HoneyLeft)
	}
	if before != r.Starve.Value {
		t.Errorf("by the end %g, at all %g", before, r.Starve.Value)
	}
	if s := r.Stores; !(s.Need.P50.Value > s.Use.P50.Value && s.Reserve.P50.Value >= 0 && s.Nine.Value == s.Need.P90.Value) {
		t.Errorf("stores %+v", s)
	}
	if n := r.Convergence[len(r.Convergence)-1]; n.Draws != 12 || n.Stores != r.Stores.Nine {
		t.Errorf("last step %+v", n)
	}
	var b bytes.Buffer
	for _, system := range []quantity.System{quantity.Metric, quantity.US} {
		if err := r.WriteText(&b, system); err != nil {
			t.Fatal(err)
		}
	}
	for _, want := range []string{"Out of honey by the end of", "nine winters of ten", "kg", "lb", "How it settled"} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("text lacks %q:\n%s", want, b.String())
		}
	}
	for line := range strings.SplitSeq(b.String(), "\n") {
		if n := len([]rune(line)); n > 84 {
			t.Errorf("%d characters: %s", n, line)
		}
	}
	if _, err := json.Marshal(r); err != nil {
		t.Error(err)
	}
}

// TestRangeIsTheSame for another number of workers, and when it was stopped and went
// on: to the byte.
func TestRangeIsTheSame(t *testing.T) {
	want, err := json.Marshal(answer(t))
	if err != nil {
		t.Fatal(err)
	}
	q := question(t)
	q.Workers = 3
	q.Journal = filepath.Join(t.TempDir(), "draws")
	ctx, cancel := context.WithCancel(context.Background())
	_, err = q.Ask(ctx, func(done, total int) {
		if done == 5 {
			cancel()
		}
	})
	if !errors.Is(err, context.Canceled) {
		t.Fatalf("a cancelled question gave %v", err)
	}
	// The crash cut the last line.
	text, err := os.ReadFile(q.Journal)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(q.Journal, text[:len(text)-20], 0o644); err != nil {
		t.Fatal(err)
	}
	r, err := q.Ask(context.Background(), nil)
	if err != nil {
		t.Fatal(err)
	}
	if got, _ := json.Marshal(r); !bytes.Equal(got, want) {
		t.Errorf("the answer differs:\n%s\n%s", got, want)
	}
	// The draws are kept: asking again runs nothing, another hive is refused.
	calls := 0
	if _, err := q.Ask(context.Background(), func(done, total int) { calls = done }); err != nil || calls != 12 {
		t.Errorf("asked again: %v, %d", err, calls)
	}
	q.Base.Plan.Colony.Honey++
	if _, err := q.Ask(context.Background(), nil); !errors.Is(err, ErrOtherQuestion) {
		t.Errorf("another hive: %v", err)
	}
}

// TestStarvingDrawsKnowTheirNeed: a colony that starves on little honey is said to
// need what it eats on plenty, to a gram: the second run ends with the forage, so
// that the wood starts from the humidity of fewer days.
func TestStarvingDrawsKnowTheirNeed(t *testing.T) {
	b := base(t)
	b.Plan.Hive.Wraps = nil
	b.StepsPerHour = 2
	w := weather(t, date(2026, 1, 5), 12)
	d := Design{Seed: 1, Years: []*climate.Series{w}}
	forage := w.Start.AddDate(0, 0, 11)
	need := func(honey float64) (Outcome, error) {
		in := b
		in.Plan.Colony.Honey = honey
		return Evaluate(context.Background(), d.Case(d.Usual(0), in), forage, &wall.Cache{})
	}
	plenty, err := need(25.3)
	if err != nil {
		t.Fatal(err)
	}
	little, err := need(0.3)
	if err != nil {
		t.Fatal(err)
	}
	if !math.IsNaN(plenty.Starved) || math.IsNaN(little.Starved) {
		t.Fatalf("starved at %g and %g h", plenty.Starved, little.Starved)
	}
	if !(plenty.Use > 0.3) || math.Abs(little.Use-plenty.Use) > 1e-3 || math.Abs(little.Reserve-plenty.Reserve) > 1e-3 {
		t.Errorf("needs %.4f + %.4f kg on little, %.4f + %.4f kg on plenty", little.Use, little.Reserve, plenty.Use, plenty.Reserve)
	}
	if !(plenty.Use <= plenty.Ledger.Honey.Burned) {
		t.Errorf("use %.4f, burned %.4f", plenty.Use, plenty.Ledger.Honey.Burned)
	}
}

// TestFirstForage finds the flow after the winter.
func TestFirstForage(t *testing.T) {
	flows := []hive.Flow{{From: hive.Day{Month: 5, Day: 10}}, {From: hive.Day{Month: 7, Day: 1}}, {From: hive.Day{Month: 8, Day: 20}}}
	with := hive.Plan{Colony: hive.Colony{Flows: flows}}
	for _, c := range []struct {
		plan     hive.Plan
		start    time.Time
		latitude float64
		want     string
		named    bool
	}{
		{with, date(2025, 10, 15), 44, "2026-05-10", true},
		{with, date(2026, 3, 1), 44, "2026-05-10", true},
		{with, date(2025, 7, 15), 44, "2026-05-10", true},
		{hive.Plan{}, date(2025, 10, 15), 44, "2026-04-15", false},
		{hive.Plan{}, date(2025, 4, 15), -37, "2025-10-15", false},
		{hive.Plan{Colony: hive.Colony{Flows: []hive.Flow{{From: hive.Day{Month: 9, Day: 1}}}}}, date(2025, 4, 15), -37, "2025-09-01", true},
	} {
		got, named := FirstForage(c.plan, c.start, c.latitude)
		if got.Format(time.DateOnly) != c.want || named != c.named {
			t.Errorf("from %s at %g: %s %v, want %s", c.start.Format(time.DateOnly), c.latitude, got.Format(time.DateOnly), named, c.want)
		}
	}
}

// TestWaxBetween: the load over strength at the ends and the middle of the range is
// that of the engine, and the strength runs straight between.
func TestWaxBetween(t *testing.T) {
	if between(0.2, 0.4, 0.8, 0) != 0.2 || math.Abs(between(0.2, 0.4, 0.8, 0.5)-0.4) > 1e-15 || math.Abs(between(0.2, 0.4, 0.8, 1)-0.8) > 1e-15 {
		t.Error("ends and middle")
	}
	if got := 1 / between(0.2, 0.4, 0.8, 0.25); math.Abs(got-3.75) > 1e-12 {
		t.Errorf("strength a quarter of the way %g, want 3.75", got)
	}
	if got := between(0, 0, 0.8, 0.75); got != 0.4 {
		t.Errorf("from nothing %g", got)
	}
}

// TestEnoughStops: with a generous demand the draws stop at the least number, by
// what they tell alone.
func TestEnoughStops(t *testing.T) {
	q := Question{Design: Design{Count: 1000, Inputs: nil}, Enough: 0.3}
	rows := make([][]float64, 0, 200)
	p := Points{Method: Sobol, Seed: 1, Dimensions: 1}
	for i := range 200 {
		row := make([]float64, q.Columns())
		row[rowUse], row[rowReserve], row[rowStarved] = 20+5*p.At(i, 0), 1, math.NaN()
		rows = append(rows, row)
	}
	a, b := q.step(rows[:16]), q.step(rows)
	if !(b.Stores.Width() < a.Stores.Width() && b.Starve.Width() < a.Starve.Width()) {
		t.Errorf("intervals do not narrow: %+v, %+v", a, b)
	}
	if math.Abs(b.Stores.Value-25.5) > 0.1 {
		t.Errorf("ninth tenth %.3f, want 25.5", b.Stores.Value)
	}
	// What could not be found counts as worst.
	for i := range 30 {
		rows[i][rowUse] = math.NaN()
	}
	if s := q.step(rows); !math.IsInf(s.Stores.Value, 1) {
		t.Errorf("15 of 100 without a need: %+v", s.Stores)
	}
}

// TestMatters with an evaluator that is cheap: real runs of two days. The honey at
// the start moves nothing that a colony eats, the bees' heat does.
func TestMatters(t *testing.T) {
	if testing.Short() {
		t.Skip("runs the engine many times")
	}
	b := base(t)
	b.Plan.Hive.Wraps = nil
	b.StepsPerHour = 1
	q := Question{Base: b, Design: Design{Seed: 4, Count: 1, Inputs: Inputs(b.Plan, Keeper{})[:18], Years: []*climate.Series{weather(t, date(2026, 1, 5), 3)}}}
	m, err := q.Matters(context.Background(), Probe{Walks: 2}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if m.Runs != 2*(19+1) {
		t.Errorf("%d runs", m.Runs)
	}
	burned := m.Targets[1]
	rank := map[string]int{}
	for i, in := range burned.Inputs {
		rank[in.Name] = i
	}
	if burned.Key != "honey.burned_kg" || !(rank["cluster_conductance"] < rank["nectar"]) || !(rank["bees"] < rank["wax_strength"]) {
		t.Errorf("order %v", rank)
	}
	share := 0.0
	for _, v := range m.Measures {
		share += v.Share
	}
	if math.Abs(share-1) > 1e-9 || m.Advice() == "" {
		t.Errorf("shares of measures sum to %g; %q", share, m.Advice())
	}
	// A cancelled context stops it.
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := q.Matters(ctx, Probe{Walks: 2}, nil); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}

// TestRangeGoesOnFromABook: an ask that is cancelled leaves its draws in the book, the
// next one makes only the others, a third makes none, and all say what an ask in one
// go says.
func TestRangeGoesOnFromABook(t *testing.T) {
	whole := answer(t)
	b := &mapBook{lines: map[string][]byte{}}
	q := question(t)
	q.Book, q.Workers = b, 1
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	if _, err := q.Ask(ctx, func(done, _ int) {
		if done >= 5 {
			cancel()
		}
	}); !errors.Is(err, context.Canceled) {
		t.Fatalf("a cancelled ask gave %v", err)
	}
	if n := len(b.lines); n < 5 || n > 6 {
		t.Errorf("%d draws are kept of a range stopped after 5", n)
	}
	for range 2 {
		before := len(b.lines)
		got, err := q.Ask(t.Context(), nil)
		if err != nil {
			t.Fatal(err)
		}
		x, _ := json.Marshal(got)
		y, _ := json.Marshal(whole)
		if !bytes.Equal(x, y) {
			t.Error("a range that went on says something else")
		}
		if before == 12 && len(b.lines) != 12 {
			t.Error("draws were kept twice")
		}
	}
	q.Design.Seed++
	if key, _ := q.key(); func() bool { _, ok := (&shelf{b, key, q.Columns()}).get(0); return ok }() {
		t.Error("a draw of another question was taken")
	}
}

// TestFaultyDrawsAreNamed: a draw that was not computed is told with its seed, its
// weather and all its inputs, and the others count.
func TestFaultyDrawsAreNamed(t *testing.T) {
	q := question(t)
	rows := make([][]float64, 20)
	for i := range rows {
		rows[i] = make([]float64, q.Columns())
		if i == 7 {
			rows[i][rowFault] = 1
		}
	}
	r, err := q.sum(rows)
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Faulty) != 1 || r.Faulty[0].Draw != 8 || r.Faults != 1 {
		t.Fatalf("%+v", r.Faulty)
	}
	d := q.Design.Draw(7)
	for j, in := range q.Design.Inputs {
		if r.Faulty[0].Inputs[in.Name] != d.Values[j] {
			t.Errorf("%s: %g, drawn %g", in.Name, r.Faulty[0].Inputs[in.Name], d.Values[j])
		}
	}
	if len(r.Notes) == 0 || !strings.Contains(r.Notes[0], "seed 4, draw 8") {
		t.Errorf("notes %q", r.Notes)
	}
	for i := range rows {
		rows[i][rowFault] = 1
	}
	if _, err := q.sum(rows); !errors.Is(err, ErrNotComputed) || !strings.Contains(err.Error(), "draw 1") {
		t.Errorf("all faulty: %v", err)
	}
}

// BenchmarkDraws is a hive-year a draw.
func BenchmarkDraws(b *testing.B) {
	in := base(b)
	in.Plan.Hive.Wraps = nil
	in.StepsPerHour = 1
	q := Question{Base: in, Design: Design{Seed: 4, Count: 1, Inputs: Inputs(in.Plan, Keeper{}), Years: []*climate.Series{weather(b, date(2025, 10, 15), 365)}}}
	joints := &wall.Cache{}
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		if _, err := q.Row(context.Background(), q.Design.Draw(i), joints); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkDraws200 is the range of a year from 200 draws, on all cores.
func BenchmarkDraws200(b *testing.B) {
	in := base(b)
	in.Plan.Hive.Wraps = nil
	in.StepsPerHour = 1
	q := Question{Base: in, Design: Design{Seed: 4, Count: 200, Inputs: Inputs(in.Plan, Keeper{}), Years: []*climate.Series{weather(b, date(2025, 10, 15), 365)}}}
	for b.Loop() {
		if _, err := q.Ask(context.Background(), nil); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkWorkers runs the same eight short draws on one worker and on two: on an
// idle machine of two cores the second takes half the time of the first.
func BenchmarkWorkers(b *testing.B) {
	for _, workers := range []int{1, 2} {
		b.Run(fmt.Sprint(workers), func(b *testing.B) {
			q := question(b)
			q.Design.Count, q.Workers = 8, workers
			for b.Loop() {
				if _, err := q.Ask(context.Background(), nil); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// TestSumCounts: chances are what is counted in invented rows; a draw that could not
// be computed does not count, too many of them refuse the answer.
func TestSumCounts(t *testing.T) {
	q := Question{Design: Design{Count: 21, Years: []*climate.Series{weather(t, date(2025, 12, 1), 20)}}}
	rows := make([][]float64, 21)
	for i := range rows {
		rows[i] = make([]float64, q.Columns())
		rows[i][rowHoney], rows[i][rowUse], rows[i][rowStarved], rows[i][rowCombFell] = 1, float64(i), math.NaN(), math.NaN()
	}
	rows[0][rowStarved], rows[1][rowStarved] = 30, 200
	rows[2][rowOverhead], rows[3][rowOverhead], rows[4][rowOverhead] = 0.02, 0.005, 0.03
	rows[5][rowCombFell] = 100
	rows[20][rowFault], rows[20][rowOverhead] = 1, 9
	r, err := q.sum(rows)
	if err != nil {
		t.Fatal(err)
	}
	by := map[int]float64{}
	for _, d := range r.StarveBy {
		by[d.Day] = d.Odds.Value
	}
	if by[7] != 0.05 || by[14] != 0.1 || by[20] != 0.1 || r.Starve.Value != 0.1 {
		t.Errorf("starving by day %v, at all %g", by, r.Starve.Value)
	}
	if r.Overhead.Beyond.Value != 0.1 || r.CombFalls.Value != 0.05 || r.Faults != 1 {
		t.Errorf("overhead %g, combs %g, %d faults", r.Overhead.Beyond.Value, r.CombFalls.Value, r.Faults)
	}
	if r.StarveBy[0].Date != "12-07" {
		t.Errorf("the first week ends with %s", r.StarveBy[0].Date)
	}
	for i := range 3 {
		rows[i][rowFault] = 1
	}
	if _, err := q.sum(rows); !errors.Is(err, ErrNotComputed) {
		t.Errorf("4 of 21 not computed: %v", err)
	}
}
