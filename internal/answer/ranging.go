package answer

import (
	"fmt"
	"time"

	"hackle/climate"
	"hackle/ensemble"
	"hackle/hive"
	"hackle/quantity"
)

// Ranging says how a range is drawn. The zero value takes the defaults.
type Ranging struct {
	Draws  int // 0: DrawsUsual
	Seed   uint64
	Method ensemble.Method // empty: Sobol
	// Years is how many years of weather are drawn from: 0: every span that the
	// weather covers when there are RealYears or more, else MadeYears made ones.
	Years    int
	Keeper   ensemble.Keeper
	Overhead float64 // water over the cluster that is too much, see ensemble.Question; 0: the usual [kg]
	Enough   float64 // see ensemble.Question
	Workers  int
	Journal  string
	Program  string
	// Book keeps the draws where no file is at hand, see ensemble.Question.
	Book ensemble.Book
	// Correlations of inputs, see ensemble.Design.
	Correlations []ensemble.Correlation
	Course       bool // keep the honey left by date, too
	// Steps is the time steps an hour; 0: RangeSteps.
	Steps int
}

// RangeSteps is the time steps an hour of a range: one. Against six steps it moves the
// honey needed by less than half a per cent and the coldest hour under the lid by
// 0.13 K at most in the hive-years tried, which is nothing beside what is drawn, and takes a third of the time.
const RangeSteps = 1

// Defaults of a Ranging.
const (
	DrawsUsual = 200
	RealYears  = 5  // spans of real weather from which on no years are made
	MadeYears  = 20 // made when there are fewer
	mostYears  = 150
	blockDays  = 30 // that stay together when years are drawn from a record
)

// Range sets a hive into many years and returns the question of its range, with
// notes on what was taken. Weather is that of one place: records, which give every
// span of the days that they cover, and typical years, which give one each.
//
// Where fewer years are at hand than are asked for, more are drawn from the whole
// calendar years of the record in blocks of a month, or from a single year made
// from its monthly normals. Errors are those of the input.
func (r Ranging) Range(plan hive.Plan, weather []*climate.Series, days Days, system quantity.System) (ensemble.Question, []string, error) {
	var q ensemble.Question
	if len(weather) == 0 {
		return q, nil, fmt.Errorf("a range needs weather")
	}
	if r.Years < 0 || r.Years > mostYears {
		return q, nil, fmt.Errorf("%d years of weather, accepted: 1 to %d, or 0 for what there is", r.Years, mostYears)
	}
	if err := r.Keeper.Check(); err != nil {
		return q, nil, err
	}
	first, _, err := days.Span(plan.Colony, weather[0])
	if err != nil {
		return q, nil, err
	}
	if forage, named := ensemble.FirstForage(plan, first, weather[0].Latitude); days.Winter && days.To.IsZero() && named {
		// The winter that must be lived through ends with the first flow.
		days.To = hive.Day{Month: forage.Month(), Day: forage.Day()}
	}
	set, err := Place([]hive.Plan{plan}, weather[0], days, system)
	if err != nil {
		return q, nil, err
	}
	years, note, err := r.years(weather, set.First, set.Last)
	if err != nil {
		return q, nil, err
	}
	notes := append(set.Notes, note)
	q.Base = set.Input(0)
	if r.Draws == 0 {
		r.Draws = DrawsUsual
	}
	// Measured numbers are in the plan of the base already; what was measured is told
	// by the plan as it was placed.
	q.Design = ensemble.Design{Method: r.Method, Seed: r.Seed, Count: r.Draws, Inputs: ensemble.Inputs(set.Plans[0], r.Keeper), Years: years, Correlations: r.Correlations}
	q.Overhead, q.Enough, q.Workers, q.Journal, q.Program = r.Overhead, r.Enough, r.Workers, r.Journal, r.Program
	q.Course, q.Book = r.Course, r.Book
	if q.Base.StepsPerHour = r.Steps; r.Steps == 0 {
		q.Base.StepsPerHour = RangeSteps
	}
	return q, notes, q.Check()
}

// years finds the weathers of the days, real ones or made ones.
func (r Ranging) years(weather []*climate.Series, first, last time.Time) (years []*climate.Series, note string, err error) {
	a := weather[0]
	for _, w := range weather[1:] {
		if d := Distance(a.Latitude, a.Longitude, w.Latitude, w.Longitude); d > farAway/3 {
			return nil, "", fmt.Errorf("weather %s is %.0f km from that of %s; years of one range must be of one place", w.Name, d/1000, a.Name)
		}
	}
	var real []*climate.Series
	for _, w := range weather {
		found, err := spans(w, first, last)
		if err != nil {
			return nil, "", err
		}
		real = append(real, found...)
	}
	if r.Years == 0 && len(real) >= RealYears || r.Years > 0 && len(real) == r.Years {
		return real, fmt.Sprintf("%d years of weather: every span of the days that %s covers", len(real), a.Name), nil
	}
	want := r.Years
	if want == 0 {
		want = MadeYears
	}
	if want < len(real) {
		return real[len(real)-want:], fmt.Sprintf("the last %d of %d spans of the days that %s covers", want, len(real), a.Name), nil
	}
	// A span may run over the end of a year, and a typical year begins in any.
	calendar := want + last.Year() - first.Year()
	var made *climate.Series
	if len(real) > 1 {
		made, err = climate.Resample(weather, blockDays, r.Seed, calendar)
	}
	how := fmt.Sprintf("drawn from the years of %s in blocks of %d days", a.Name, blockDays)
	if made == nil || err != nil {
		n, fault := climate.NormalsOf(a)
		if fault != nil {
			return nil, "", fmt.Errorf("%s has too few years to range over, and no more can be made from it: %w", a.Name, fault)
		}
		if made, err = climate.Make(n, a.Latitude, a.Longitude, a.Height, a.Zone, r.Seed, calendar); err != nil {
			return nil, "", err
		}
		how = "made from the monthly normals and day-to-day spread of " + a.Name
	}
	if years, err = spans(made, first, last); err != nil {
		return nil, "", err
	}
	if len(years) < want {
		return nil, "", &Fault{fmt.Errorf("%d years were made, %d wanted", len(years), want)}
	}
	return years[:want], fmt.Sprintf("%d years of weather, %s", want, how), nil
}

// spans cuts every span of the same days out of weather, the oldest first.
func spans(w *climate.Series, first, last time.Time) ([]*climate.Series, error) {
	zone := w.Location()
	over := last.Year() - first.Year()
	cut := func(year int) (time.Time, time.Time) {
		return time.Date(year, first.Month(), first.Day(), 0, 0, 0, 0, zone), time.Date(year+over, last.Month(), last.Day()+1, 0, 0, 0, 0, zone)
	}
	if w.Typical {
		a, b := cut(first.Year())
		s, err := w.Window(a, b)
		if err != nil {
			return nil, err
		}
		return []*climate.Series{s}, nil
	}
	var all []*climate.Series
	for year := w.Start.Year(); year <= w.End().Year(); year++ {
		a, b := cut(year)
		if a.Before(w.Start) || b.After(w.End()) {
			continue
		}
		s, err := w.Window(a, b)
		if err != nil {
			return nil, err
		}
		all = append(all, s)
	}
	return all, nil
}

// Ranged is the document of a range.
type Ranged struct {
	File    string      `json:"file"`
	Weather WeatherUsed `json:"weather"`
	Answer  string      `json:"answer"`
	*ensemble.Range
}

// NewRanged makes the document of a range; the notes precede its own.
func NewRanged(file string, w *climate.Series, r *ensemble.Range, notes []string, system quantity.System) Ranged {
	out := *r
	out.Notes = append(append([]string{}, notes...), r.Notes...)
	return Ranged{File: file, Weather: Used(w), Answer: r.Answer(system), Range: &out}
}
