// Package advice joins a hive, its weather, a price list and draws of what is not
// known to one question of package rank, and writes its answers for people. The
// command line and the web pages ask through it, so that they answer alike.
package advice

import (
	"cmp"
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
	Weather []*climate.Series // of one place, whole, as read; the first is the hive's
	Days    answer.Days
	// Load reads the weather of another yard by name; nil: climate.Load.
	Load   func(name string) (*climate.Series, error)
	Yards  map[string]change.Yard
	Years  int             // of weather to draw from; see answer.Ranging
	Keeper ensemble.Keeper // how well the hive file is known
	Draws  int             // 0: the usual of a ranking
	Seed   uint64          // of the draws
	Units  quantity.System
}

// Ready is an ask that was joined.
type Ready struct {
	Plan     hive.Plan // placed in its weather
	Site     change.Site
	Draws    rank.Draws
	Count    int       // of draws
	Years    int       // years of weather that are drawn from
	From, To time.Time // first and last day of one of them
	Weather  answer.WeatherUsed
	Notes    []string
}

// Prepare finds days and years of the weather and designs the draws, as a range
// does.
func Prepare(a Ask) (Ready, error) {
	count := cmp.Or(a.Draws, rank.DrawsUsual)
	design := func(weather []*climate.Series) (*ensemble.Design, []string, error) {
		q, notes, err := answer.Ranging{Draws: count, Seed: a.Seed, Years: a.Years, Keeper: a.Keeper}.Range(a.Plan, weather, a.Days, a.Units)
		return &q.Design, notes, err
	}
	usual, notes, err := design(a.Weather)
	if err != nil {
		return Ready{}, err
	}
	set, err := answer.Place([]hive.Plan{a.Plan}, a.Weather[0], a.Days, a.Units)
	if err != nil {
		return Ready{}, err
	}
	first := usual.Years[0]
	r := Ready{Plan: set.Plans[0], Count: count, Years: len(usual.Years), From: first.Start.In(first.Location()), To: first.End().In(first.Location()).Add(-time.Hour),
		Weather: answer.Used(a.Weather[0]), Notes: notes}
	r.Site = change.Site{Weather: a.Weather[0], Yards: a.Yards, Units: a.Units}
	load := a.Load
	if load == nil {
		load = climate.Load
	}
	r.Draws = rank.DrawsOf(func(name string) (*ensemble.Design, error) {
		if name == "" {
			return usual, nil
		}
		w, err := load(name)
		if err != nil {
			return nil, err
		}
		d, _, err := design([]*climate.Series{w})
		if err != nil {
			return nil, fmt.Errorf("weather %s: %w", name, err)
		}
		return d, nil
	})
	return r, nil
}

// Question makes the question of package rank, with an evaluator of the memory.
// Program names the build of the engine.
func (r Ready) Question(m *rank.Memory, program string) rank.Question {
	return rank.Question{Name: r.Plan.Hive.Name, Plan: r.Plan, Site: r.Site, Draws: r.Count, Evaluate: m.Evaluator(rank.Engine(r.Draws, program))}
}
