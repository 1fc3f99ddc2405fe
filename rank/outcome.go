package rank

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"sync"

	"hackle/change"
	"hackle/comb"
	"hackle/ensemble"
	"hackle/fit"
	"hackle/ledger"
	"hackle/season"
	"hackle/wall"
)

// Outcome is what one run of one hive came to.
type Outcome struct {
	Burned   float64 `json:"burned_kg"`             // honey eaten
	Left     float64 `json:"left_kg"`               // honey at the end
	Died     bool    `json:"died"`                  // no bees at the end
	Starved  bool    `json:"starved"`               // the honey ran out
	Overhead float64 `json:"overhead_hours"`        // hours with water above the cluster
	Dripped  float64 `json:"dripped_on_cluster_kg"` //
	Comb     float64 `json:"comb_share"`            // worst weight over strength of a comb [-]
	Falls    bool    `json:"comb_falls"`            //
	Hauled   float64 `json:"water_hauled_L"`        // in heat
	Hot      float64 `json:"nest_above_36_hours"`   // of a brood nest
	// Fault: the engine found no way through the case. Such a draw is left out for
	// every variant that is compared.
	Fault bool `json:"fault,omitempty"`
}

// OutcomeOf reads the outcome from a ledger, with comb whose wax lies at a place in
// the range of its strength, 0 the strong and 1 the weak end.
func OutcomeOf(l ledger.Ledger, wax float64) Outcome {
	o := Outcome{
		Burned: l.Honey.Burned, Left: l.Honey.Left, Died: l.Died(), Starved: l.Starved() || l.Died(),
		Overhead: l.Water.OverheadHours, Dripped: l.Water.DrippedBees,
		Hauled: l.Summer.Hauled, Hot: l.Summer.Above36,
	}
	for _, c := range l.Combs {
		share := load(c.ShareLow, c.Share, c.ShareHigh, wax)
		o.Comb = max(o.Comb, share)
		// Comb that has crept until it tore is of the class that falls; that class
		// is reckoned with wax of middle strength.
		o.Falls = o.Falls || share >= 1 || c.Class == string(comb.Falls) && wax >= 0.5
	}
	return o
}

// load is load over strength at a place in the range of the strength, straight in
// the strength.
func load(strong, middle, weak, place float64) float64 {
	a, b, x := strong, middle, 2*place
	if place > 0.5 {
		a, b, x = middle, weak, 2*place-1
	}
	if a <= 0 || b <= 0 {
		return a + x*(b-a)
	}
	return 1 / (1/a + x*(1/b-1/a))
}

// Draw is one guess at what is not known: the weather of a year, the numbers of the
// bees' biology, and what the keeper knows only roughly.
type Draw struct {
	// ID names the draw and everything in it: two draws with the same ID are the
	// same, in this run of the program and in any other.
	ID string
	// Case puts the draw into a hive: base holds plan and usual biology.
	Case func(base season.Input) ensemble.Case
}

// Draws gives the draw of a number, from 0, in a weather by name, "" for the usual
// one of the hive. It is asked from several goroutines and must always answer the
// same.
type Draws func(weather string, number int) (Draw, error)

// DrawsOf takes the draws from designs: one for each weather by name, which share
// inputs and seed. Designs is asked once for each name.
func DrawsOf(designs func(weather string) (*ensemble.Design, error)) Draws {
	type known struct {
		design *ensemble.Design
		key    string
		err    error
	}
	var mu sync.Mutex
	byName := make(map[string]known)
	return func(weather string, number int) (Draw, error) {
		mu.Lock()
		k, ok := byName[weather]
		if !ok {
			k.design, k.err = designs(weather)
			if k.err == nil {
				k.key, k.err = k.design.Key()
			}
			byName[weather] = k
		}
		mu.Unlock()
		if k.err != nil {
			return Draw{}, k.err
		}
		return Draw{
			ID:   fmt.Sprintf("%s/%d", k.key, number),
			Case: func(base season.Input) ensemble.Case { return k.design.Case(k.design.Draw(number), base) },
		}, nil
	}
}

// Task is one run: a variant of a hive in one draw.
type Task struct {
	Result change.Result
	Draw   int
	Coarse bool // a cheaper run with longer steps
}

// Evaluator runs a task. It is called from several goroutines.
type Evaluator func(ctx context.Context, t Task) (Outcome, error)

// coarseSteps is the time steps an hour of a screening run, against
// season.DefaultStepsPerHour of a full one.
const coarseSteps = 1

// stepsTried are the steps an hour, tried in turn when the engine finds no way
// through a case.
func stepsTried(coarse bool) []int {
	full := []int{season.DefaultStepsPerHour, 2 * season.DefaultStepsPerHour, 6 * season.DefaultStepsPerHour}
	if coarse {
		return append([]int{coarseSteps}, full[:2]...)
	}
	return full
}

// Engine returns the evaluator that runs the engine with these draws, and the key
// under which the result of a task is remembered: it holds everything that the
// result depends on, and the program that names the build of the engine, so that
// another build's results are not mixed in.
func Engine(draws Draws, program string) (Evaluator, func(Task) (string, error)) {
	joints := new(wall.Cache)
	run := func(ctx context.Context, t Task) (Outcome, error) {
		d, err := draws(t.Result.Weather, t.Draw)
		if err != nil {
			return Outcome{}, fmt.Errorf("draw %d: %w", t.Draw+1, err)
		}
		plan, biology := fit.Own(t.Result.Plan)
		c := d.Case(season.Input{Plan: plan, Biology: biology, Joints: joints})
		c.Weather = t.Result.WeatherOf(c.Weather)
		for _, perHour := range stepsTried(t.Coarse) {
			c.StepsPerHour = perHour
			tr, e := season.Run(ctx, c.Input, nil)
			if e == nil {
				return OutcomeOf(ledger.FromRun(c.Input, tr), c.Wax), nil
			}
			if errors.Is(e, season.ErrInput) || ctx.Err() != nil {
				return Outcome{}, fmt.Errorf("%s: %w", steps(t.Result), e)
			}
		}
		return Outcome{Fault: true}, nil // no way through this case: the draw counts for nobody
	}
	key := func(t Task) (string, error) {
		d, err := draws(t.Result.Weather, t.Draw)
		if err != nil {
			return "", fmt.Errorf("draw %d: %w", t.Draw+1, err)
		}
		plan := t.Result.Plan
		plan.Hive.Name, plan.Notes, plan.Site.Name = "", "", ""
		text, err := json.Marshal(struct {
			Program string
			Plan    any
			Shades  []change.Shade
			Draw    string
			Coarse  bool
		}{program, plan, t.Result.Shades, d.ID, t.Coarse})
		if err != nil {
			return "", fmt.Errorf("key of a run: %w", err)
		}
		sum := sha256.Sum256(text)
		return hex.EncodeToString(sum[:16]), nil
	}
	return run, key
}

// steps names the changes of a result.
func steps(r change.Result) string {
	var s change.Set
	for _, step := range r.Steps {
		s = append(s, step.Change)
	}
	return cmp.Or(s.String(), "as it is")
}
