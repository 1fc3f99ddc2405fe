// Package rank finds the changes of a hive that are worth making. It runs single
// changes and combinations of them in the same draws of weather and biology, so
// that the differences between them are sharp, and gives what no other beats in
// cost, honey, starvation, water overhead, falling comb and water hauled; the one to
// make, with reasons; and those that do harm.
//
// Many variants are first screened with few draws and long time steps; the leaders
// are then run in full. A Journal lets a ranking that was stopped go on. Yard ranks
// many hives at once and spends one budget among them.
package rank

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"runtime"
	"slices"
	"sync"

	"hackle/change"
	"hackle/hive"
	"hackle/price"
	"hackle/quantity"
)

// Question is one hive and what may be done to it. Zero values take the defaults.
type Question struct {
	Name    string
	Plan    hive.Plan
	Site    change.Site
	Changes change.Set   // candidates; none: every choice of the catalogue that applies
	Most    int          // changes made together at most, 0: 3
	Budget  float64      // first cost of the hive at most, 0: no limit [currency]
	Hours   float64      // first work at most, 0: no limit [h]
	Hives   int          // hives that are changed alike and bought for together, 0: 1
	Prices  *price.Table //
	Years   float64      // over which a change has to pay, 0: 5 [a]

	Draws    int // of a full run, 0: DrawsUsual
	Screen   int // draws of a screening run, 0: 3
	Variants int // screened at most, 0: 60
	Leaders  int // variants run in full at most, 0: 12

	Evaluate Evaluator
	Workers  int // runs side by side, 0: as many as there are processors
}

// DrawsUsual is how many draws a run in full takes when nothing else is said.
const DrawsUsual = 20

func (q Question) withDefaults() Question {
	q.Most = cmp.Or(q.Most, 3)
	q.Hives = cmp.Or(q.Hives, 1)
	q.Years = cmp.Or(q.Years, 5)
	q.Draws = cmp.Or(q.Draws, DrawsUsual)
	q.Screen = min(cmp.Or(q.Screen, 3), q.Draws)
	q.Variants = cmp.Or(q.Variants, 60)
	q.Leaders = cmp.Or(q.Leaders, 12)
	q.Workers = cmp.Or(q.Workers, runtime.GOMAXPROCS(0))
	return q
}

// Variant is a set of changes and what they came to. Differences are against the
// hive as it is, in the same draws, positive where the variant has more.
type Variant struct {
	Changes  change.Set `json:"changes"`
	Name     string     `json:"name"`
	Title    string     `json:"title"`       // the name for people
	First    float64    `json:"first_cost"`  // material bought whole, work, way [currency]
	Material float64    `json:"material"`    // of that, material and parts
	EachYear float64    `json:"yearly_cost"` //
	Hours    float64    `json:"work_h"`      // once
	Yearly   float64    `json:"yearly_work_h"`
	NoPrice  []string   `json:"without_price"` // needs that count in no cost

	Draws  int  `json:"draws"`
	Failed int  `json:"draws_left_out"` // for which the engine found no way
	Coarse bool `json:"screened_only"`

	Saved    Range   `json:"honey_saved_kg"` // less eaten, over the draws in which both live
	Left     Range   `json:"honey_left_kg"`
	Starve   float64 `json:"starvation_share"` // of the draws
	Overhead Range   `json:"overhead_hours"`
	Wetter   Range   `json:"overhead_hours_difference"`
	Falls    float64 `json:"comb_falls_share"`
	Hauled   Range   `json:"water_hauled_L"`
	Thirst   Range   `json:"water_hauled_L_difference"`
	Hotter   Range   `json:"nest_above_36_hours_difference"`

	// Worth is what the change brings a year: honey saved at the keeper's price and
	// colonies kept at their replacement, less what it costs every year. Low and
	// High are those of the mean, not of a single year.
	Worth Range `json:"worth_per_year"`
	// PayBack is the first cost over the worth; null: never. Soonest and Latest
	// take the high and the low worth.
	PayBack *float64 `json:"pay_back_years"`
	Soonest *float64 `json:"pay_back_soonest_years"`
	Latest  *float64 `json:"pay_back_latest_years"`
	Net     float64  `json:"net_worth"` // worth over the years of the question, less the first cost

	Efficient bool     `json:"efficient"`
	Harm      []string `json:"harm"`    // what it makes clearly worse
	Reasons   []string `json:"reasons"` // what it does, in sentences

	result  change.Result
	outcome []Outcome
}

// Result is the changed plan.
func (v Variant) Result() change.Result { return v.result }

// Outcomes are those of the draws, in order. They must not be changed.
func (v Variant) Outcomes() []Outcome { return v.outcome }

// Dropped is a change that was not run.
type Dropped struct {
	Change string `json:"change"`
	Reason string `json:"reason"`
}

// Runs tells how many runs were made.
type Runs struct {
	Screened int `json:"screened_variants"`
	InFull   int `json:"variants_in_full"`
	Coarse   int `json:"screening_runs"`
	Full     int `json:"full_runs"`
	// Halved is how many variants were left behind after one screening run.
	Halved int `json:"left_behind_after_one_run"`
	// Possible is how many combinations there are within the limits, screened or not.
	Possible int `json:"possible_variants"`
}

// Answer is the ranking of one hive.
type Answer struct {
	Name     string    `json:"name"`
	Currency string    `json:"currency"`
	Invented bool      `json:"prices_are_invented"`
	Years    float64   `json:"years"`
	AsItIs   Variant   `json:"as_it_is"`
	Variants []Variant `json:"variants"` // in full, best net worth first
	Screened []Variant `json:"screened"` // no further than screening, best first
	// Recommended names the variant to make, empty: leave the hive as it is.
	Recommended string    `json:"recommended"`
	Why         []string  `json:"why"`
	Driest      string    `json:"driest"`  // of the efficient ones, empty: as it is
	Safest      string    `json:"safest"`  // by starvation, then by honey
	Harmful     []string  `json:"harmful"` // variants in full that do harm and gain nothing
	Dropped     []Dropped `json:"dropped"`
	Runs        Runs      `json:"runs"`
	Unsure      string    `json:"uncertainty"`
}

// Resolution is the step below which a difference counts as none when variants are
// compared. Common practice, no source: what a scale, a diary or a purse can tell.
var resolution = [...]float64{
	1,    // first cost [currency]
	0.1,  // honey saved [kg]
	0.01, // share of draws that starve [-]
	5,    // hours with water overhead [h]
	0.01, // share of draws in which comb falls [-]
	0.5,  // water hauled [L]
}

// row is what Efficient compares: less is better.
func (v Variant) row() []float64 {
	return []float64{v.First + v.EachYear, -v.Saved.Mean, v.Starve, v.Overhead.Mean, v.Falls, v.Hauled.Mean}
}

// Stages of a ranking, as Progress is told.
const (
	Screening = "screening"
	InFull    = "in full"
)

// Progress is told of runs done, of how many in this stage.
type Progress func(stage string, done, total int)

// Rank answers a question. It stops with the context's error; with a journal behind
// the evaluator the next call goes on where it was.
func Rank(ctx context.Context, q Question, progress Progress) (*Answer, error) {
	q = q.withDefaults()
	if q.Evaluate == nil || q.Prices == nil {
		return nil, errors.New("rank: no evaluator or no prices")
	}
	a := &Answer{Name: cmp.Or(q.Name, q.Plan.Hive.Name), Currency: q.Prices.Currency, Invented: q.Prices.Invented, Years: q.Years,
		Variants: []Variant{}, Screened: []Variant{}, Harmful: []string{}, Dropped: []Dropped{}, Why: []string{}}
	base := q.variant(nil, change.Result{Plan: q.Plan})
	singles, err := q.singles(a)
	if err != nil {
		return nil, err
	}

	// Screening: all variants when they are few, else the singles first and then
	// what can be made of the best of them.
	all, possible := q.combine(singles)
	a.Runs.Possible = possible
	stage := func(name string, list []Variant, draws int, coarse bool) ([]Variant, error) {
		withBase := append([]Variant{base}, list...)
		made, err := q.run(ctx, withBase, draws, coarse, func(done, total int) {
			if progress != nil {
				progress(name, done, total)
			}
		})
		if err != nil {
			return nil, err
		}
		if coarse {
			a.Runs.Coarse += made
		} else {
			a.Runs.Full += made
		}
		for i := range withBase {
			q.score(&withBase[i], withBase[0])
		}
		base = withBase[0]
		return withBase[1:], nil
	}
	// screen runs the first draw of all, and the other draws of those that may lead:
	// half of the variants, but never less than twice the leaders. The draws are
	// common, so that one tells apart what differs much.
	screen := func(list []Variant) ([]Variant, error) {
		first := list
		var behind []Variant
		if keep := max((len(list)+1)/2, 2*q.Leaders); keep < len(list) && q.Screen > 1 {
			one, err := stage(Screening, list, 1, true)
			if err != nil {
				return nil, err
			}
			first = nil
			for k, i := range q.order(one) {
				if k < keep {
					first = append(first, one[i])
				} else {
					behind = append(behind, one[i])
				}
			}
		}
		out, err := stage(Screening, first, q.Screen, true)
		a.Runs.Halved += len(behind)
		return append(out, behind...), err
	}
	var screened []Variant
	if possible <= q.Variants {
		if screened, err = screen(all); err != nil {
			return nil, err
		}
	} else {
		if screened, err = screen(singles); err != nil {
			return nil, err
		}
		order := q.order(screened)
		// As many of the best singles as the limit leaves combinations for.
		var more []Variant
		for n := min(len(order), 2); n <= len(order); n++ {
			best := make([]Variant, n)
			for k, i := range order[:n] {
				best[k] = screened[i]
			}
			list, _ := q.combine(best)
			if len(list)-n+len(singles) > q.Variants {
				break
			}
			more = list[n:]
		}
		if len(more) > 0 {
			more, err = screen(more)
			if err != nil {
				return nil, err
			}
			screened = append(screened, more...)
		}
	}
	a.Runs.Screened = len(screened)

	order := q.order(screened)
	lead := min(q.Leaders, len(order))
	var leaders []Variant
	for _, i := range order[:lead] {
		leaders = append(leaders, screened[i])
	}
	for _, i := range order[lead:] {
		a.Screened = append(a.Screened, screened[i])
	}
	full, err := stage(InFull, leaders, q.Draws, false)
	if err != nil {
		return nil, err
	}
	a.Runs.InFull = len(full)

	a.AsItIs = base
	a.Variants = full
	a.settle(q.Site.Units)
	return a, nil
}

// settle finds the efficient set, the recommendation and the harm.
func (a *Answer) settle(units quantity.System) {
	slices.SortStableFunc(a.Variants, func(x, y Variant) int {
		return cmp.Or(cmp.Compare(y.Net, x.Net), cmp.Compare(x.First, y.First), cmp.Compare(x.Name, y.Name))
	})
	rows := [][]float64{a.AsItIs.row()}
	for _, v := range a.Variants {
		rows = append(rows, v.row())
	}
	for _, i := range Efficient(rows, resolution[:]) {
		if i == 0 {
			a.AsItIs.Efficient = true
		} else {
			a.Variants[i-1].Efficient = true
		}
	}
	for i := range a.Variants {
		v := &a.Variants[i]
		v.Harm, v.Reasons = harm(v, a.AsItIs, units), reasons(v, a.AsItIs, units, a.Currency)
		if len(v.Harm) > 0 && !v.Efficient {
			a.Harmful = append(a.Harmful, v.Name)
		}
	}
	dry, safe := &a.AsItIs, &a.AsItIs
	for i := range a.Variants {
		v := &a.Variants[i]
		if v.Efficient && v.Overhead.Mean < dry.Overhead.Mean-resolution[3] {
			dry = v
		}
		if v.Efficient && (v.Starve < safe.Starve-resolution[2] || v.Starve <= safe.Starve && v.Saved.Mean > safe.Saved.Mean+resolution[1]) {
			safe = v
		}
	}
	if dry != &a.AsItIs {
		a.Driest = dry.Name
	}
	if safe != &a.AsItIs {
		a.Safest = safe.Name
	}
	a.recommend(units)
	a.Unsure = fmt.Sprintf("Means over %d draws, the same for every variant, so that differences are sharper than the figures themselves. What the model leaves out and what its bees do not know stands in docs/limits.md.", a.AsItIs.Draws)
}

// variant prices a set of changes.
func (q Question) variant(s change.Set, r change.Result) Variant {
	c := r.Cost(q.Prices, q.Hives)
	n := float64(q.Hives)
	v := Variant{Changes: s.Ordered(), Name: s.String(), Title: s.Title(), First: c.First() / n, Material: c.Once.Bought / n, EachYear: c.EachYear() / n,
		Hours: c.Hours / n, Yearly: c.YearlyHours / n, NoPrice: []string{}, Harm: []string{}, Reasons: []string{}, result: r}
	if v.Changes == nil {
		v.Changes = change.Set{}
	}
	for _, err := range append(slices.Clone(c.Once.Missing), c.Yearly.Missing...) {
		v.NoPrice = append(v.NoPrice, err.Error())
	}
	return v
}

// singles applies every candidate and drops what does not apply or costs too much.
func (q Question) singles(a *Answer) ([]Variant, error) {
	var offers []change.Offer
	if len(q.Changes) == 0 {
		var err error
		if offers, err = change.Offers(q.Plan, q.Site); err != nil {
			return nil, fmt.Errorf("rank: %w", err)
		}
	} else {
		for _, c := range q.Changes {
			r, err := c.Apply(q.Plan, q.Site)
			var not *change.NotHere
			var refused *change.Refused
			if err != nil && !errors.As(err, &not) && !errors.As(err, &refused) {
				return nil, fmt.Errorf("rank: %w", err)
			}
			offers = append(offers, change.Offer{Change: c, Result: r, Not: err})
		}
	}
	var out []Variant
	seen := make(map[string]bool)
	for _, o := range offers {
		name := o.Change.String()
		if seen[name] {
			continue
		}
		seen[name] = true
		if o.Not != nil {
			a.Dropped = append(a.Dropped, Dropped{name, o.Not.Error()})
			continue
		}
		v := q.variant(change.Set{o.Change}, o.Result)
		if reason := q.tooMuch(v); reason != "" {
			a.Dropped = append(a.Dropped, Dropped{name, reason})
			continue
		}
		out = append(out, v)
	}
	return out, nil
}

func (q Question) tooMuch(v Variant) string {
	switch {
	case q.Budget > 0 && v.First > q.Budget:
		return fmt.Sprintf("it costs %s at first, and the budget is %s", q.Prices.Money(v.First), q.Prices.Money(q.Budget))
	case q.Hours > 0 && v.Hours > q.Hours:
		return fmt.Sprintf("it takes %.1f h of work, and there are %.1f h", v.Hours, q.Hours)
	}
	return ""
}

// combine returns the singles and all combinations of them within the limits, and
// how many there are. When there are more than the question's Variants the rest is
// only counted, by what does not contradict itself.
func (q Question) combine(singles []Variant) (list []Variant, possible int) {
	n := len(singles)
	clash := make([][]bool, n)
	for i := range singles {
		clash[i] = make([]bool, n)
		for j := range i {
			pair := append(slices.Clone(singles[i].Changes), singles[j].Changes...)
			clash[i][j] = pair.Check() != nil
		}
	}
	list = slices.Clone(singles)
	possible = n
	var grow func(chosen []int, from int)
	grow = func(chosen []int, from int) {
		for i := from; i < n; i++ {
			if slices.ContainsFunc(chosen, func(j int) bool { return clash[i][j] }) {
				continue
			}
			next := append(slices.Clone(chosen), i)
			if len(next) > 1 {
				if possible > q.Variants {
					possible++
				} else if v, ok := q.together(singles, next); ok {
					possible++
					list = append(list, v)
				} else {
					continue
				}
			}
			if len(next) < q.Most {
				grow(next, i+1)
			}
		}
	}
	grow(nil, 0)
	return list, possible
}

// together makes one variant of some singles; ok is false when they do not go
// together on this hive or cost too much.
func (q Question) together(singles []Variant, chosen []int) (Variant, bool) {
	var s change.Set
	for _, i := range chosen {
		s = append(s, singles[i].Changes...)
	}
	r, err := s.Apply(q.Plan, q.Site)
	if err != nil {
		return Variant{}, false
	}
	v := q.variant(s, r)
	return v, q.tooMuch(v) == ""
}

// order puts variants from the most to the least promising: best net worth and the
// layers of the efficient set by turns, so that neither hides the other.
func (q Question) order(list []Variant) []int {
	rows := make([][]float64, len(list))
	worth := make([]int, len(list))
	for i, v := range list {
		rows[i], worth[i] = v.row(), i
	}
	slices.SortStableFunc(worth, func(x, y int) int {
		return cmp.Or(cmp.Compare(list[y].Net, list[x].Net), cmp.Compare(list[x].Name, list[y].Name))
	})
	front := layers(rows, resolution[:])
	var out []int
	taken := make([]bool, len(list))
	take := func(i int) {
		if !taken[i] {
			taken[i] = true
			out = append(out, i)
		}
	}
	for k := range list {
		take(worth[k])
		take(front[k])
	}
	// What was left behind after one draw stays behind.
	slices.SortStableFunc(out, func(x, y int) int { return cmp.Compare(list[y].Draws, list[x].Draws) })
	return out
}

// run evaluates variants in draws, side by side, and keeps the outcomes in order.
func (q Question) run(ctx context.Context, list []Variant, draws int, coarse bool, progress func(done, total int)) (made int, err error) {
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	total := 0
	from := make([]int, len(list)) // runs of the same kind that were made already stay
	for i := range list {
		if list[i].Coarse == coarse {
			from[i] = min(len(list[i].outcome), draws)
		}
		list[i].outcome = append(slices.Clone(list[i].outcome[:from[i]]), make([]Outcome, draws-from[i])...)
		list[i].Draws, list[i].Coarse = draws, coarse
		total += draws - from[i]
	}
	type job struct{ variant, draw int }
	jobs := make(chan job)
	var wg sync.WaitGroup
	var mu sync.Mutex
	done := 0
	for range min(q.Workers, max(total, 1)) {
		wg.Go(func() {
			for j := range jobs {
				o, err := q.Evaluate(ctx, Task{Result: list[j.variant].result, Draw: j.draw, Coarse: coarse})
				if err != nil {
					cancel(fmt.Errorf("%s: %w", list[j.variant].Name, err))
					continue
				}
				mu.Lock()
				list[j.variant].outcome[j.draw] = o
				done++
				progress(done, total)
				mu.Unlock()
			}
		})
	}
	// Draw by draw, so that a run that is stopped has compared whole draws.
	for d := range draws {
		for i := range list {
			if d < from[i] {
				continue
			}
			select {
			case jobs <- job{i, d}:
			case <-ctx.Done():
			}
		}
	}
	close(jobs)
	wg.Wait()
	return done, context.Cause(ctx)
}

// score fills in what the outcomes of a variant say beside those of the hive as it
// is, in the same draws.
func (q Question) score(v *Variant, base Variant) {
	n := 0.0
	var saved, left, overhead, wetter, hauled, thirst, hotter, worth []float64
	v.Starve, v.Falls = 0, 0
	honey, colony := q.Prices.Values.Honey.One(), q.Prices.Values.Colony.One()
	for i, o := range v.outcome {
		b := base.outcome[i]
		if o.Fault || b.Fault {
			continue
		}
		n++
		gain := 0.0
		// The dead eat nothing, which is no saving.
		if !o.Starved && !b.Starved {
			gain = b.Burned - o.Burned
			saved = append(saved, gain)
		}
		left = append(left, o.Left)
		overhead = append(overhead, o.Overhead)
		wetter = append(wetter, o.Overhead-b.Overhead)
		hauled = append(hauled, o.Hauled)
		thirst = append(thirst, o.Hauled-b.Hauled)
		hotter = append(hotter, o.Hot-b.Hot)
		worth = append(worth, gain*honey+(one(b.Starved)-one(o.Starved))*colony-v.EachYear)
		v.Starve += one(o.Starved)
		v.Falls += one(o.Falls)
	}
	v.Failed = len(v.outcome) - int(n)
	v.Starve, v.Falls = v.Starve/max(n, 1), v.Falls/max(n, 1)
	v.Saved, v.Left, v.Overhead, v.Wetter = rangeOf(saved), rangeOf(left), rangeOf(overhead), rangeOf(wetter)
	v.Hauled, v.Thirst, v.Hotter, v.Worth = rangeOf(hauled), rangeOf(thirst), rangeOf(hotter), rangeOf(worth)
	if len(v.Changes) == 0 {
		return // nothing to pay back
	}
	v.Worth.Low, v.Worth.High = meanBetween(worth)
	v.PayBack, v.Soonest, v.Latest = payBack(v.First, v.Worth.Mean), payBack(v.First, v.Worth.High), payBack(v.First, v.Worth.Low)
	v.Net = q.Years*v.Worth.Mean - v.First
}

func one(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

// payBack is cost over yearly worth, nil when it never pays. [a]
func payBack(first, worth float64) *float64 {
	if worth <= 0 {
		return nil
	}
	years := first / worth
	if math.IsInf(years, 0) || years > 999 {
		return nil
	}
	return &years
}
