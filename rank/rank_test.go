package rank

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"hackle/change"
	"hackle/climate"
	"hackle/colony"
	"hackle/ensemble"
	"hackle/examples"
	"hackle/hive"
	"hackle/ledger"
	"hackle/price"
	"hackle/season"
)

func example(t *testing.T, name string) hive.Plan {
	t.Helper()
	data, err := fs.ReadFile(examples.Files(), name)
	if err != nil {
		t.Fatal(err)
	}
	p, err := hive.Decode(name, bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func set(t *testing.T, texts ...string) change.Set {
	t.Helper()
	var s change.Set
	for _, text := range texts {
		c, err := change.Parse(text)
		if err != nil {
			t.Fatal(err)
		}
		s = append(s, c)
	}
	return s
}

func prices(t *testing.T) *price.Table {
	t.Helper()
	p, err := price.Standard()
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s = %.10g, want %.10g within %.2g", what, got, want, tol)
	}
}

// TestEfficientOnPublishedFronts: of the points of a test problem those on its known
// front are efficient, and no others.
//
// ZDT1: f1 = x, f2 = g (1 − √(x/g)); the front is g = 1 ("Comparison of
// multiobjective evolutionary algorithms: empirical results", Evolutionary
// Computation 8, 173, 2000, DOI 10.1162/106365600568202; from memory). DTLZ2 with
// three columns: points at radius 1 + g; the front is the unit sphere ("Scalable
// test problems for evolutionary multiobjective optimization", 2005; from memory).
func TestEfficientOnPublishedFronts(t *testing.T) {
	var rows [][]float64
	var front []int
	for _, g := range []float64{1.3, 1, 2} {
		for i := range 41 {
			x := float64(i) / 40
			if g == 1 {
				front = append(front, len(rows))
			}
			rows = append(rows, []float64{x, g * (1 - math.Sqrt(x/g))})
		}
	}
	// Points of g > 1 with x = 0 are beaten as well; f2 at g = 1.3 lies above the
	// front for every x.
	if got := Efficient(rows, nil); !slices.Equal(got, front) {
		t.Errorf("ZDT1: efficient are %v, want %v", got, front)
	}
	rows, front = nil, nil
	for _, radius := range []float64{1, 1.4} {
		for i := 1; i < 10; i++ {
			for j := 1; j < 10; j++ {
				a, b := float64(i)/10*math.Pi/2, float64(j)/10*math.Pi/2
				if radius == 1 {
					front = append(front, len(rows))
				}
				rows = append(rows, []float64{radius * math.Cos(a) * math.Cos(b), radius * math.Cos(a) * math.Sin(b), radius * math.Sin(a)})
			}
		}
	}
	got := Efficient(rows, nil)
	for _, i := range front {
		if !slices.Contains(got, i) {
			t.Errorf("DTLZ2: point %v of the front is not efficient", rows[i])
		}
	}
	// Every point at radius 1.4 whose image at radius 1 is beaten by none of the
	// grid but itself still is beaten by that image.
	if len(got) != len(front) {
		t.Errorf("DTLZ2: %d points are efficient, want the %d of the front", len(got), len(front))
	}
}

func TestEfficientByDefinition(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 200 {
		rows := make([][]float64, 1+r.IntN(12))
		for i := range rows {
			rows[i] = []float64{float64(r.IntN(4)), float64(r.IntN(4)), float64(r.IntN(4))}
		}
		got := Efficient(rows, nil)
		for i, a := range rows {
			beaten := false
			for j, b := range rows {
				no, some := true, false
				for k := range a {
					no, some = no && b[k] <= a[k], some || b[k] < a[k]
				}
				beaten = beaten || no && (some || j < i)
			}
			if beaten == slices.Contains(got, i) {
				t.Fatalf("row %d of %v: beaten %v, efficient %v", i, rows, beaten, got)
			}
		}
		// All layers together are all rows, each once.
		order := layers(rows, nil)
		slices.Sort(order)
		for i := range rows {
			if order[i] != i {
				t.Fatalf("layers lose a row: %v", order)
			}
		}
	}
	// A resolution hides what lies within it.
	if got := Efficient([][]float64{{1, 5}, {1.2, 4.9}}, []float64{1, 1}); !slices.Equal(got, []int{0}) {
		t.Errorf("within the resolution: %v", got)
	}
}

// fake is an evaluator with effects that add up but for one interaction, and a year
// that is common to all variants of a draw.
func fake(calls *atomic.Int64) Evaluator {
	return func(_ context.Context, task Task) (Outcome, error) {
		if calls != nil {
			calls.Add(1)
		}
		r := rand.New(rand.NewPCG(7, uint64(task.Draw)))
		winter := r.Float64() // how hard it is
		o := Outcome{Burned: 14 + 8*winter, Overhead: 200 + 300*winter, Hauled: 10}
		has := make(map[string]bool)
		for _, s := range task.Result.Steps {
			has[s.Change.Kind] = true
		}
		if has["lid"] {
			o.Burned -= 1.5 + 2*winter
			o.Overhead -= 150
		}
		if has["walls"] {
			o.Burned -= 1 + 3*winter
			o.Overhead += 20
		}
		if has["lid"] && has["walls"] {
			o.Burned -= 0.5
		}
		if has["top vent"] {
			o.Burned += 1.2
			o.Overhead -= 60
		}
		if has["wrap"] {
			o.Burned -= 0.6
		}
		if has["water"] {
			o.Hauled += 3
		}
		if task.Coarse {
			o.Burned *= 1.02 // a screening run is a little off
		}
		o.Left = 20 - o.Burned
		o.Starved = o.Left < 0
		return o, nil
	}
}

var small = []string{"lid=mineral wool 76 mm", "walls=XPS 38 mm", "top vent=20 mm", "wrap=building paper 0.8 mm", "water=50 m"}

func question(t *testing.T, e Evaluator) Question {
	return Question{Plan: example(t, "two-deep-low-entrance.yaml"), Changes: set(t, small...), Prices: prices(t), Most: 5,
		Draws: 16, Screen: 4, Variants: 40, Leaders: 40, Evaluate: e, Workers: 2}
}

// TestRankEqualsBruteForce runs every subset of a small catalogue in every draw by
// hand and compares efficient set, recommendation and figures.
func TestRankEqualsBruteForce(t *testing.T) {
	q := question(t, fake(nil))
	a, err := Rank(t.Context(), q, nil)
	if err != nil {
		t.Fatal(err)
	}
	type total struct {
		name               string
		first, net         float64
		row                []float64
		saved, starve, wet float64
	}
	var all []total
	for mask := range 1 << len(small) {
		var s change.Set
		for i, text := range small {
			if mask>>i&1 == 1 {
				s = append(s, set(t, text)...)
			}
		}
		r, err := s.Apply(q.Plan, q.Site)
		if err != nil {
			t.Fatal(err)
		}
		cost := r.Cost(q.Prices, 1)
		x := total{name: s.String(), first: cost.First()}
		lived, hauled, falls, worth := 0.0, 0.0, 0.0, 0.0
		for d := range q.Draws {
			o, _ := q.Evaluate(t.Context(), Task{Result: r, Draw: d})
			b, _ := q.Evaluate(t.Context(), Task{Result: change.Result{Plan: q.Plan}, Draw: d})
			gain := 0.0
			if !o.Starved && !b.Starved {
				gain = b.Burned - o.Burned
				x.saved += gain
				lived++
			}
			n := float64(q.Draws)
			x.starve += one(o.Starved) / n
			x.wet += o.Overhead / n
			hauled += o.Hauled / n
			falls += one(o.Falls) / n
			worth += (gain*9 + (one(b.Starved)-one(o.Starved))*190 - cost.EachYear()) / n
		}
		x.saved /= max(lived, 1)
		x.net = 5*worth - cost.First()
		x.row = []float64{cost.First() + cost.EachYear(), -x.saved, x.starve, x.wet, falls, hauled}
		all = append(all, x)
	}
	if a.Runs.Possible != len(all)-1 || a.Runs.Screened != len(all)-1 || a.Runs.InFull != len(all)-1 {
		t.Errorf("runs %+v, want %d variants", a.Runs, len(all)-1)
	}
	rows := make([][]float64, len(all))
	for i := range all {
		rows[i] = all[i].row
	}
	efficient := make(map[string]bool)
	for _, i := range Efficient(rows, resolution[:]) {
		efficient[all[i].name] = true
	}
	if a.AsItIs.Efficient != efficient["as it is"] {
		t.Errorf("as it is: efficient %v", a.AsItIs.Efficient)
	}
	byName := make(map[string]Variant)
	for _, v := range a.Variants {
		byName[v.Name] = v
	}
	best := total{name: ""}
	for _, x := range all[1:] {
		v, ok := byName[x.name]
		if !ok {
			t.Errorf("%s was not ranked", x.name)
			continue
		}
		if v.Efficient != efficient[x.name] {
			t.Errorf("%s: efficient %v, brute force %v", x.name, v.Efficient, efficient[x.name])
		}
		near(t, x.name+" saved", v.Saved.Mean, x.saved, 1e-9)
		near(t, x.name+" starves", v.Starve, x.starve, 1e-12)
		near(t, x.name+" overhead", v.Overhead.Mean, x.wet, 1e-9)
		near(t, x.name+" net", v.Net, x.net, 1e-6)
		if x.net > best.net && len(v.Harm) == 0 {
			best = x
		}
	}
	if a.Recommended != best.name || best.name == "" {
		t.Errorf("recommended %q, brute force %q", a.Recommended, best.name)
	}
	// The vent costs honey: it is told, and so is the water of the trough.
	if v := byName["top vent=20 mm"]; len(v.Harm) == 0 || !strings.Contains(v.Harm[0], "more honey") {
		t.Errorf("the harm of the vent: %v", v.Harm)
	}
	if v := byName["water=50 m"]; len(v.Harm) == 0 || !slices.Contains(a.Harmful, v.Name) {
		t.Errorf("the harm of more water hauled: %v, harmful %v", v.Harm, a.Harmful)
	}
}

// TestScreeningKeepsTheBest: with far fewer full runs the recommendation and its
// figures stay those of the whole enumeration.
func TestScreeningKeepsTheBest(t *testing.T) {
	var calls atomic.Int64
	q := question(t, fake(nil))
	whole, err := Rank(t.Context(), q, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, variants := range []int{40, 12} { // enough for all, and the singles first
		q := question(t, fake(&calls))
		q.Variants, q.Leaders = variants, 6
		calls.Store(0)
		part, err := Rank(t.Context(), q, nil)
		if err != nil {
			t.Fatal(err)
		}
		if part.Recommended != whole.Recommended {
			t.Errorf("%d variants: recommended %q, of all %q", variants, part.Recommended, whole.Recommended)
		}
		if part.Runs.InFull != 6 || part.Runs.Screened > variants || len(part.Screened)+len(part.Variants) != part.Runs.Screened {
			t.Errorf("%d variants: %+v, %d and %d told", variants, part.Runs, len(part.Variants), len(part.Screened))
		}
		if n := int(calls.Load()); n < part.Runs.Coarse+part.Runs.Full || n > part.Runs.Coarse+part.Runs.Full+q.Screen {
			t.Errorf("%d runs made, %+v told", n, part.Runs)
		}
		if part.Runs.Possible != whole.Runs.Possible {
			t.Errorf("%d possible, want %d", part.Runs.Possible, whole.Runs.Possible)
		}
	}
}

func TestSameForAnyWorkerCount(t *testing.T) {
	var first []byte
	for _, workers := range []int{1, 3, 8} {
		q := question(t, fake(nil))
		q.Workers = workers
		a, err := Rank(t.Context(), q, nil)
		if err != nil {
			t.Fatal(err)
		}
		text, err := json.Marshal(a)
		if err != nil {
			t.Fatal(err)
		}
		if first == nil {
			first = text
		} else if !bytes.Equal(text, first) {
			t.Errorf("%d workers give another answer", workers)
		}
	}
}

// TestPayBackByHand: 40 paid at first, 4 kg a year saved at 9 a kilogram less 16 a
// year leaves 20 a year: two years.
func TestPayBackByHand(t *testing.T) {
	q := Question{Prices: &price.Table{Currency: "EUR", Values: price.Values{
		Honey:  price.Price{Amount: 9, Unit: price.Unit{Name: "kg", Per: price.Mass, Size: 1}},
		Colony: price.Price{Amount: 180, Unit: price.Unit{Name: "colony", Per: price.Each, Size: 1}},
	}}, Years: 5}
	base := Variant{outcome: []Outcome{{Burned: 20}, {Burned: 22}}}
	v := Variant{Changes: set(t, "water=50 m"), First: 40, EachYear: 16, outcome: []Outcome{{Burned: 16}, {Burned: 18}}}
	q.score(&v, base)
	near(t, "worth", v.Worth.Mean, 20, 1e-12)
	near(t, "pay-back", *v.PayBack, 2, 1e-12)
	near(t, "net of five years", v.Net, 60, 1e-12)
	// Two of four colonies kept: 90 a year; the dead eat nothing and count in no
	// saving.
	base = Variant{outcome: []Outcome{{Burned: 20}, {Burned: 22}, {Burned: 15, Starved: true}, {Burned: 15, Starved: true}}}
	v = Variant{Changes: v.Changes, First: 45, outcome: []Outcome{{Burned: 20}, {Burned: 22}, {Burned: 25}, {Burned: 25}}}
	q.score(&v, base)
	near(t, "honey saved", v.Saved.Mean, 0, 1e-12)
	near(t, "worth of kept colonies", v.Worth.Mean, 90, 1e-12)
	near(t, "their pay-back", *v.PayBack, 0.5, 1e-12)
	if v.Soonest == nil || v.Latest != nil && *v.Latest < *v.PayBack || *v.Soonest > *v.PayBack {
		t.Errorf("pay-back %v lies outside its range", *v.PayBack)
	}
	v = Variant{Changes: v.Changes, First: 45, outcome: []Outcome{{Burned: 30}, {Burned: 30}, {Starved: true}, {Starved: true}}}
	q.score(&v, base)
	if v.PayBack != nil {
		t.Errorf("a change that costs honey pays back in %v years", *v.PayBack)
	}
}

// TestFailedDrawsCountForNobody leaves a draw out for all when the engine found no
// way through it for one.
func TestFailedDrawsCountForNobody(t *testing.T) {
	q := Question{Prices: &price.Table{}, Years: 5}
	base := Variant{outcome: []Outcome{{Burned: 20}, {Burned: 22}, {Fault: true}}}
	v := Variant{Changes: set(t, "water=50 m"), outcome: []Outcome{{Burned: 18}, {Fault: true}, {Burned: 1, Starved: true}}}
	q.score(&v, base)
	if v.Failed != 2 || v.Saved.Mean != 2 || v.Starve != 0 {
		t.Errorf("%d left out, %v saved, %v starve", v.Failed, v.Saved.Mean, v.Starve)
	}
}

// TestStatistics against values worked by hand.
func TestStatistics(t *testing.T) {
	r := rangeOf([]float64{4, 1, 3, 2, 5})
	near(t, "mean", r.Mean, 3, 1e-12)
	near(t, "P10", r.Low, 1.4, 1e-12) // 0.1·4 = 0.4 of the way from 1 to 2
	near(t, "P90", r.High, 4.6, 1e-12)
	near(t, "standard error", r.Error, math.Sqrt(2.5/5), 1e-12)
	// The mean of 400 draws of a normal of deviation 2 lies within 1.2816·2/20 of
	// its own mean in eight cases of ten.
	x := make([]float64, 400)
	src := rand.New(rand.NewPCG(3, 4))
	for i := range x {
		x[i] = 2 * src.NormFloat64()
	}
	low, high := meanBetween(x)
	near(t, "breadth of the bootstrap", (high-low)/2, 1.2816*2/20, 0.02)
}

// TestSpendEqualsBruteForce: the budget goes where it gains most.
func TestSpendEqualsBruteForce(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	for range 50 {
		rows := make([][]option, 1+r.IntN(5))
		for i := range rows {
			rows[i] = []option{{}}
			for range r.IntN(4) {
				rows[i] = append(rows[i], option{cost: float64(1 + r.IntN(20)), gain: float64(r.IntN(30))})
			}
		}
		budget := float64(20)
		best := 0.0
		var try func(i int, cost, gain float64)
		try = func(i int, cost, gain float64) {
			if cost > budget {
				return
			}
			if i == len(rows) {
				best = max(best, gain)
				return
			}
			for _, o := range rows[i] {
				try(i+1, cost+o.cost, gain+o.gain)
			}
		}
		try(0, 0, 0)
		cost, gain := 0.0, 0.0
		for i, k := range spend(rows, budget) {
			cost += rows[i][k].cost
			gain += rows[i][k].gain
		}
		if cost > budget || gain != best {
			t.Fatalf("spends %v for %v, brute force gains %v with %v", cost, gain, best, budget)
		}
	}
}

func fakeKey(task Task) (string, error) {
	return fmt.Sprintf("%s/%d/%v/%s", steps(task.Result), task.Draw, task.Coarse, task.Result.Plan.Hive.Name), nil
}

// TestResume stops a ranking half way, cuts its journal in the middle of a line,
// and goes on: the answer is that of a ranking that never stopped, and no run that
// was remembered is made again.
func TestResume(t *testing.T) {
	want, err := Rank(t.Context(), question(t, fake(nil)), nil)
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "runs.jsonl")
	j, err := OpenJournal(path)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	var calls atomic.Int64
	stopping := func(c context.Context, task Task) (Outcome, error) {
		if calls.Load() == 300 {
			cancel()
		}
		if err := c.Err(); err != nil {
			return Outcome{}, err
		}
		return fake(&calls)(c, task)
	}
	run := NewMemory(j).Evaluator(stopping, fakeKey)
	if _, err := Rank(ctx, question(t, run), nil); !errors.Is(err, context.Canceled) {
		t.Fatalf("stopped: %v", err)
	}
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, data[:len(data)-7], 0o644); err != nil {
		t.Fatal(err)
	}
	if j, err = OpenJournal(path); err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	if j.Known() < 290 || j.Known() > 301 { // screening and part of the full runs
		t.Errorf("%d outcomes are known after about 300 runs", j.Known())
	}
	calls.Store(0)
	memory := NewMemory(j)
	run = memory.Evaluator(fake(&calls), fakeKey)
	got, err := Rank(t.Context(), question(t, run), nil)
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(got, want) {
		t.Error("the answer after a stop is another")
	}
	if total := got.Runs.Coarse + got.Runs.Full; int(calls.Load())+j.Known() != total {
		t.Errorf("%d runs made and %d known, of %d", calls.Load(), j.Known(), total)
	}
	if made, reused := memory.Counts(); made != int(calls.Load()) || reused < j.Known() {
		t.Errorf("%d made and %d reused told, of %d runs", made, reused, calls.Load())
	}
}

func TestJournalRefusesOtherFiles(t *testing.T) {
	path := filepath.Join(t.TempDir(), "diary.txt")
	const text = "Dear diary\nthe bees fly\n"
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := OpenJournal(path); err == nil {
		t.Error("a diary is taken for a journal")
	}
	if data, _ := os.ReadFile(path); string(data) != text {
		t.Error("and it was written to")
	}
}

// TestDamagedJournal names the line, and touches nothing.
func TestDamagedJournal(t *testing.T) {
	path := filepath.Join(t.TempDir(), "runs.jsonl")
	text := journalHead + "\n" + `{"key":"a","outcome":{"burned_kg":3}}` + "\n" + `{"key":` + "\n" + `{"key":"b","outcome":{}}` + "\n"
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := OpenJournal(path); err == nil || !strings.Contains(err.Error(), "line 3 is damaged") {
		t.Errorf("%v", err)
	}
	if data, _ := os.ReadFile(path); string(data) != text {
		t.Error("and it was written to")
	}
}

// TestKeyHoldsWhatMatters: the key of a run tells apart plans, draws, steps, shade
// and builds, and not the names that people give.
func TestKeyHoldsWhatMatters(t *testing.T) {
	_, key := Engine(shortDraws(t, 2), "one")
	p := example(t, "two-deep-low-entrance.yaml")
	of := func(key func(Task) (string, error), alter func(*Task)) string {
		t.Helper()
		task := Task{Result: change.Result{Plan: p.Clone()}}
		alter(&task)
		k, err := key(task)
		if err != nil {
			t.Fatal(err)
		}
		return k
	}
	same := of(key, func(*Task) {})
	if k := of(key, func(x *Task) { x.Result.Plan.Hive.Name, x.Result.Plan.Notes, x.Result.Plan.Site.Name = "a", "b", "c" }); k != same {
		t.Error("names change the key")
	}
	_, other := Engine(shortDraws(t, 2), "two")
	for what, k := range map[string]string{
		"draw":  of(key, func(x *Task) { x.Draw = 1 }),
		"steps": of(key, func(x *Task) { x.Coarse = true }),
		"honey": of(key, func(x *Task) { x.Result.Plan.Colony.Honey++ }),
		"shade": of(key, func(x *Task) { x.Result.Shades = []change.Shade{{Share: 0.5}} }),
		"build": of(other, func(*Task) {}),
	} {
		if k == same {
			t.Errorf("another %s has the same key", what)
		}
	}
}

func TestErrorNamesTheVariant(t *testing.T) {
	q := question(t, func(_ context.Context, task Task) (Outcome, error) {
		if len(task.Result.Steps) == 2 {
			return Outcome{}, errors.New("no steady state")
		}
		return fake(nil)(context.Background(), task)
	})
	_, err := Rank(t.Context(), q, nil)
	if err == nil || !strings.Contains(err.Error(), " + ") || !strings.Contains(err.Error(), "no steady state") {
		t.Errorf("%v", err)
	}
}

// TestBudget drops what costs too much, alone and together.
func TestBudget(t *testing.T) {
	q := question(t, fake(nil))
	q.Budget = 60
	a, err := Rank(t.Context(), q, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, v := range append(slices.Clone(a.Variants), a.Screened...) {
		if v.First > q.Budget {
			t.Errorf("%s costs %v", v.Name, v.First)
		}
	}
	if len(a.Dropped) == 0 || !strings.Contains(a.Dropped[0].Reason, "the budget is 60.00 USD") {
		t.Errorf("dropped: %v", a.Dropped)
	}
}

// TestYard: 200 hives of two kinds on 20 sites: hives that are alike are run once,
// the budget holds, and each hive has its answer.
func TestYard(t *testing.T) {
	var calls atomic.Int64
	memory := NewMemory(nil)
	run := memory.Evaluator(fake(&calls), func(task Task) (string, error) {
		k, err := fakeKey(task)
		return k + "@" + task.Result.Plan.Site.Name, err
	})
	var qs []Question
	common := question(t, run)
	for i := range 200 {
		q := common
		q.Changes, q.Draws, q.Most = set(t, small[0], small[2]), 4, 2
		q.Name = fmt.Sprintf("hive %d", i+1)
		q.Plan.Site.Name = fmt.Sprintf("site %d", i%20)
		q.Plan.Hive.Name = []string{"old", "new"}[i/20%2]
		qs = append(qs, q)
	}
	y, err := RankYard(t.Context(), qs, 1500, 4, nil)
	if err != nil {
		t.Fatal(err)
	}
	if len(y.Hives) != 200 || len(y.Plan) != 200 || y.Cost > 1500 || y.Net <= 0 {
		t.Fatalf("%d hives, plan %d, cost %v, net %v", len(y.Hives), len(y.Plan), y.Cost, y.Net)
	}
	one := y.Hives[0].Runs
	if _, reused := memory.Counts(); int(calls.Load()) != 40*(one.Coarse+one.Full) || reused != 160*(one.Coarse+one.Full) {
		t.Errorf("%d runs made and %d reused, want those of 40 hives of %d", calls.Load(), reused, one.Coarse+one.Full)
	}
	made := 0
	for i, c := range y.Plan {
		if c.Hive != qs[i].Name {
			t.Fatalf("hive %d is %q", i, c.Hive)
		}
		if c.Make != "" {
			made++
		}
	}
	if made == 0 || made == 200 {
		t.Errorf("the budget changes %d hives", made)
	}
}

// shortDraws are some days of January with everything else drawn: the bees, and what
// a keeper knows only roughly.
func shortDraws(t testing.TB, days int) Draws {
	w, err := climate.Builtin("burlington-vt")
	if err != nil {
		t.Fatal(err)
	}
	from := time.Date(2026, 1, 5, 0, 0, 0, 0, w.Location())
	w, err = w.Window(from, from.AddDate(0, 0, days))
	if err != nil {
		t.Fatal(err)
	}
	data, err := fs.ReadFile(examples.Files(), "two-deep-low-entrance.yaml")
	if err != nil {
		t.Fatal(err)
	}
	p, err := hive.Decode("", bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	return DrawsOf(func(string) (*ensemble.Design, error) {
		d := &ensemble.Design{Seed: 11, Inputs: ensemble.Inputs(p, ensemble.Keeper{}), Years: []*climate.Series{w}}
		return d, d.Check()
	})
}

// TestCommonDrawsReduceVariance runs the real engine: the difference that a lid
// makes has a far smaller spread when both hives see the same draws than when each
// has its own.
func TestCommonDrawsReduceVariance(t *testing.T) {
	const n = 8
	draws := shortDraws(t, 6)
	run, _ := Engine(draws, "test")
	p := example(t, "two-deep-low-entrance.yaml")
	lid, err := set(t, "lid=mineral wool 76 mm").Apply(p, change.Site{})
	if err != nil {
		t.Fatal(err)
	}
	var a, b []float64
	for d := range 2 * n {
		o, err := run(t.Context(), Task{Result: change.Result{Plan: p}, Draw: d, Coarse: true})
		if err != nil {
			t.Fatal(err)
		}
		a = append(a, o.Burned)
		o, err = run(t.Context(), Task{Result: lid, Draw: d, Coarse: true})
		if err != nil {
			t.Fatal(err)
		}
		b = append(b, o.Burned)
	}
	var paired, apart []float64
	for i := range n {
		paired = append(paired, a[i]-b[i])
		apart = append(apart, a[i]-b[n+i])
	}
	same, own := rangeOf(paired), rangeOf(apart)
	t.Logf("honey saved in six days of January: %.4f ± %.4f kg with common draws, %.4f ± %.4f with separate ones", same.Mean, same.Error, own.Mean, own.Error)
	// The variance of a mean falls with the number of draws: a quarter of the
	// variance spares three runs of four.
	if same.Error == 0 || !(same.Error*same.Error < own.Error*own.Error/4) {
		t.Errorf("standard error %v with common draws, %v with separate ones", same.Error, own.Error)
	}
}

// TestRankWithTheEngine ranks two changes in a few days of January by the engine
// itself, twice with a journal: the second time runs nothing and answers alike.
func TestRankWithTheEngine(t *testing.T) {
	path := filepath.Join(t.TempDir(), "runs.jsonl")
	var calls atomic.Int64
	ask := func() *Answer {
		j, err := OpenJournal(path)
		if err != nil {
			t.Fatal(err)
		}
		defer j.Close()
		engine, key := Engine(shortDraws(t, 4), "test")
		run := NewMemory(j).Evaluator(func(ctx context.Context, task Task) (Outcome, error) {
			calls.Add(1)
			return engine(ctx, task)
		}, key)
		a, err := Rank(t.Context(), Question{Plan: example(t, "two-deep-low-entrance.yaml"), Prices: prices(t), Most: 2, Draws: 2, Screen: 1, Evaluate: run,
			Changes: set(t, "lid=mineral wool 76 mm", "top vent=40 mm", "tray")}, nil)
		if err != nil {
			t.Fatal(err)
		}
		return a
	}
	a := ask()
	if len(a.Variants) != 3 || len(a.Dropped) != 1 {
		t.Fatalf("%d variants, dropped %v", len(a.Variants), a.Dropped)
	}
	// The figures are those of the engine asked by itself.
	draws := shortDraws(t, 4)
	lid, err := set(t, "lid=mineral wool 76 mm").Apply(example(t, "two-deep-low-entrance.yaml"), change.Site{})
	if err != nil {
		t.Fatal(err)
	}
	var saved float64
	for d := range 2 {
		draw, err := draws("", d)
		if err != nil {
			t.Fatal(err)
		}
		var burned [2]float64
		for k, p := range []hive.Plan{example(t, "two-deep-low-entrance.yaml"), lid.Plan} {
			in := draw.Case(season.Input{Plan: p, Biology: colony.DefaultBiology()}).Input
			tr, err := season.Run(t.Context(), in, nil)
			if err != nil {
				t.Fatal(err)
			}
			burned[k] = ledger.FromRun(in, tr).Honey.Burned
		}
		saved += (burned[0] - burned[1]) / 2
	}
	for _, v := range a.Variants {
		if v.Name == "lid=mineral wool 76 mm" {
			near(t, "honey saved by the lid", v.Saved.Mean, saved, 1e-9)
		}
	}
	made := calls.Load()
	if want := int64(a.Runs.Coarse + a.Runs.Full); made != want {
		t.Errorf("%d runs made, %d told", made, want)
	}
	if again := ask(); !reflect.DeepEqual(again, a) || calls.Load() != made {
		t.Errorf("asked again it makes %d runs, or answers otherwise", calls.Load()-made)
	}
}
