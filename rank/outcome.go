package rank

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"

	"hackle/change"
	"hackle/climate"
	"hackle/colony"
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
}

// OutcomeOf reads the outcome from a ledger.
func OutcomeOf(l ledger.Ledger) Outcome {
	o := Outcome{
		Burned: l.Honey.Burned, Left: l.Honey.Left, Died: l.Died(), Starved: l.Starved() || l.Died(),
		Overhead: l.Water.OverheadHours, Dripped: l.Water.DrippedBees,
		Hauled: l.Summer.Hauled, Hot: l.Summer.Above36,
	}
	for _, c := range l.Combs {
		o.Comb = max(o.Comb, c.Share)
		o.Falls = o.Falls || c.Class == "falls"
	}
	return o
}

// Draw is one guess at what is not known: the weather of a year and the numbers of
// the bees' biology.
type Draw struct {
	// ID names the draw and everything in it: two draws with the same ID are the
	// same, in this run of the program and in any other.
	ID      string
	Weather *climate.Series // exactly the hours of the run
	Biology colony.Biology
}

// Draws gives the draw of a number, from 0, in a weather by name, "" for the usual
// one of the hive. It is asked from several goroutines and must always answer the
// same.
type Draws func(weather string, number int) (Draw, error)

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

// engineVersion is part of every key of a journal. It is raised when the engine
// changes so much that its earlier results must not be mixed with new ones.
const engineVersion = 1

// Engine returns the evaluator that runs the engine with these draws, and the key
// under which the result of a task is remembered: it holds everything that the
// result depends on.
func Engine(draws Draws) (Evaluator, func(Task) (string, error)) {
	joints := new(wall.Cache)
	run := func(ctx context.Context, t Task) (Outcome, error) {
		d, err := draws(t.Result.Weather, t.Draw)
		if err != nil {
			return Outcome{}, fmt.Errorf("draw %d: %w", t.Draw+1, err)
		}
		own := fit.FactorsOf(t.Result.Plan.Measured)
		in := season.Input{Plan: own.Plan(t.Result.Plan), Weather: t.Result.WeatherOf(d.Weather), Biology: own.Biology(d.Biology), Joints: joints}
		if t.Coarse {
			in.StepsPerHour = coarseSteps
		}
		tr, err := season.Run(ctx, in, nil)
		if err != nil {
			return Outcome{}, fmt.Errorf("%s: %w", steps(t.Result), err)
		}
		return OutcomeOf(ledger.FromRun(in, tr)), nil
	}
	key := func(t Task) (string, error) {
		d, err := draws(t.Result.Weather, t.Draw)
		if err != nil {
			return "", fmt.Errorf("draw %d: %w", t.Draw+1, err)
		}
		plan := t.Result.Plan
		plan.Hive.Name, plan.Notes, plan.Site.Name = "", "", ""
		text, err := json.Marshal(struct {
			Version int
			Plan    any
			Shades  []change.Shade
			Draw    string
			Coarse  bool
		}{engineVersion, plan, t.Result.Shades, d.ID, t.Coarse})
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
