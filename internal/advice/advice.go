// Package advice joins a hive, its weather, a price list and draws of what is not
// known to one question of package rank, and writes its answers for people. The
// command line and the web pages ask through it, so that they answer alike.
package advice

import (
	"fmt"
	"time"

	"hackle/change"
	"hackle/climate"
	"hackle/ensemble"
	"hackle/hive"
	"hackle/internal/answer"
	"hackle/quantity"
	"hackle/rank"
)

// Ask is a hive whose changes are to be ranked.
type Ask struct {
	Plan    hive.Plan
	Weather *climate.Series // whole, as read
	Days    answer.Days
	// Load reads the weather of another yard by name; nil: climate.Load.
	Load   func(name string) (*climate.Series, error)
	Yards  map[string]change.Yard
	Keeper ensemble.Keeper // how well the hive file is known
	Seed   uint64          // of the draws
	Units  quantity.System
}

// Ready is an ask that was joined.
type Ready struct {
	Plan     hive.Plan // placed in its weather
	Site     change.Site
	Draws    rank.Draws
	Years    int       // years of weather that are drawn from
	From, To time.Time // first and last day
	Weather  answer.WeatherUsed
	Notes    []string
}

// Prepare finds days and years of the weather and designs the draws. Every whole
// span of a record is a year to draw from; a typical year is one.
func Prepare(a Ask) (Ready, error) {
	set, err := answer.Place([]hive.Plan{a.Plan}, a.Weather, a.Days, a.Units)
	if err != nil {
		return Ready{}, err
	}
	r := Ready{Plan: set.Plans[0], From: set.First, To: set.Last, Weather: answer.Used(set.Weather), Notes: set.Notes}
	r.Site = change.Site{Weather: a.Weather, Yards: a.Yards, Units: a.Units}
	usual, err := years(a.Weather, set.First, set.Last)
	if err != nil {
		return Ready{}, err
	}
	if r.Years = len(usual); r.Years == 1 {
		r.Notes = append(r.Notes, "one year of weather is drawn from, so that the ranges hold what bees and keeper's figures differ in and not what winters do; give a record of several years")
	}
	// Inputs are those of the hive as it is, so that a draw means the same for every
	// variant.
	inputs := ensemble.Inputs(r.Plan, a.Keeper)
	load := a.Load
	if load == nil {
		load = climate.Load
	}
	r.Draws = rank.DrawsOf(func(name string) (*ensemble.Design, error) {
		series := usual
		if name != "" {
			whole, err := load(name)
			if err != nil {
				return nil, err
			}
			first, last, err := a.Days.Span(a.Plan.Colony, whole)
			if err != nil {
				return nil, fmt.Errorf("weather %s: %w", name, err)
			}
			if series, err = years(whole, first, last); err != nil {
				return nil, err
			}
		}
		d := &ensemble.Design{Seed: a.Seed, Inputs: inputs, Years: series}
		if err := d.Check(); err != nil {
			return nil, err
		}
		return d, nil
	})
	return r, nil
}

// mostYears bounds how far back a record is used.
const mostYears = 60

// years cuts every whole span like the one from first to last out of the weather,
// the latest first.
func years(w *climate.Series, first, last time.Time) ([]*climate.Series, error) {
	newest, err := w.Window(first, last.AddDate(0, 0, 1))
	if err != nil {
		return nil, err
	}
	out := []*climate.Series{newest}
	if w.Typical {
		return out, nil
	}
	for n := 1; n < mostYears; n++ {
		from, to := first.AddDate(-n, 0, 0), last.AddDate(-n, 0, 1)
		if from.Before(w.Start) || to.After(w.End()) {
			break
		}
		year, err := w.Window(from, to)
		if err != nil {
			return nil, err
		}
		out = append(out, year)
	}
	return out, nil
}

// Question makes the question of package rank, with an evaluator of the memory.
func (r Ready) Question(m *rank.Memory) rank.Question {
	return rank.Question{Name: r.Plan.Hive.Name, Plan: r.Plan, Site: r.Site, Evaluate: m.Evaluator(rank.Engine(r.Draws))}
}
