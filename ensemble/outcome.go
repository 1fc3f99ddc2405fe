package ensemble

import (
	"context"
	"errors"
	"fmt"
	"math"
	"time"

	"hackle/hive"
	"hackle/ledger"
	"hackle/season"
	"hackle/wall"
)

// Outcome is what one case came to.
type Outcome struct {
	Ledger ledger.Ledger
	// Starved is when the last honey was eaten, after the first hour; not a number
	// when there was some to the end. [h]
	Starved float64
	// Use is the honey drawn from the stores between the first day and the first
	// dependable forage, feeds and early gains deducted. [kg]
	Use float64
	// Reserve is the honey eaten in the longest cold spell before that in which bees
	// could not move to other combs: as much must lie beside them at its start. [kg]
	Reserve float64
	// CombShare is the highest load over strength of any comb with the wax of the
	// case, while the colony lives; not a number without comb. [-]
	CombShare float64
	// CombFell is when the first comb gave way with that wax, after the first hour;
	// not a number when all held. [h]
	CombFell float64
	// Fault says why the engine could not compute the case; then nothing else counts.
	Fault string

	left []float64 // honey in the hive by hour
}

// honeyAfter is the honey left after so many hours, or at the end. [kg]
func (o *Outcome) honeyAfter(hours int) float64 {
	if len(o.left) == 0 {
		return math.NaN()
	}
	return o.left[min(hours, len(o.left))-1]
}

// Need is the honey that must be on the hive on the first day. [kg]
func (o *Outcome) Need() float64 { return o.Use + o.Reserve }

// finerSteps are tried in turn when the engine finds no way through a case.
var finerSteps = []int{0, 2 * season.DefaultStepsPerHour, 6 * season.DefaultStepsPerHour}

// Evaluate runs a case to its outcome. Forage is the day of the first dependable
// forage. When the honey runs out before it, the case is run again up to that day
// with more, to learn what it would have needed. An engine that cannot compute the
// case is a Fault in the outcome; errors are those of the input and the context.
func Evaluate(ctx context.Context, c Case, forage time.Time, joints *wall.Cache) (Outcome, error) {
	c.Joints = joints
	tr, fault, err := run(ctx, c.Input)
	if err != nil {
		return Outcome{}, err
	}
	if fault != "" {
		return Outcome{Fault: fault}, nil
	}
	o := Outcome{Ledger: ledger.FromRun(c.Input, tr), Starved: math.NaN()}
	o.left = tr.Get("honey.left")
	alive := tr.Hours
	if d := o.Ledger.Bees.DiedAt; !d.IsZero() {
		alive = int(d.Sub(tr.Start).Hours())
	}
	if d := o.Ledger.Honey.StarvedAt; !d.IsZero() {
		o.Starved = d.Sub(tr.Start).Hours()
	}
	o.CombShare, o.CombFell = combs(tr, c, alive)

	hours := hoursTo(tr.Start, forage, tr.Hours)
	if !(o.Starved < float64(hours)) {
		o.Use, o.Reserve = needed(tr, hours)
		return o, nil
	}
	o.Use, o.Reserve, err = neededOnPlenty(ctx, c.Input, hours)
	return o, err
}

// What a starving colony is given more, and how often it is tried. [kg]
const (
	plenty      = 25.0
	plentyTries = 4
)

// neededOnPlenty runs a colony up to an hour with more and more honey until it lives
// to that hour, and reads its need; not a number when it never does.
func neededOnPlenty(ctx context.Context, in season.Input, hours int) (use, reserve float64, err error) {
	short := *in.Weather
	short.Hours = short.Hours[:hours:hours]
	in.Weather = &short
	for range plentyTries {
		in.Plan.Colony.Honey += plenty
		tr, fault, err := run(ctx, in)
		if err != nil {
			return 0, 0, err
		}
		if fault != "" {
			break
		}
		if mass := tr.Get("bees.mass"); mass[hours-1] > 0 {
			use, reserve = needed(tr, hours)
			return use, reserve, nil
		}
	}
	return math.NaN(), math.NaN(), nil
}

// run runs the engine, with finer steps when it must. Fault is why it could not.
func run(ctx context.Context, in season.Input) (tr *season.Trace, fault string, err error) {
	for _, steps := range finerSteps {
		if steps > 0 {
			in.StepsPerHour = steps
		}
		tr, err = guarded(ctx, in)
		switch {
		case err == nil:
			return tr, "", nil
		case errors.Is(err, season.ErrInput) || ctx.Err() != nil:
			return nil, "", err
		}
	}
	return nil, err.Error(), nil
}

// guarded turns a fault of the engine into an error, so that one draw never loses
// the others.
func guarded(ctx context.Context, in season.Input) (tr *season.Trace, err error) {
	defer func() {
		if v := recover(); v != nil {
			tr, err = nil, fmt.Errorf("a fault of the engine: %v", v)
		}
	}()
	return season.Run(ctx, in, nil)
}

func hoursTo(start, to time.Time, most int) int {
	return max(1, min(most, int(to.Sub(start).Hours())))
}

// needed reads the use up to an hour and the use of the longest confinement.
func needed(tr *season.Trace, hours int) (use, reserve float64) {
	left, eaten, confined := tr.Get("honey.left"), tr.Get("honey.eaten"), tr.Get("bees.confined")
	least := tr.Totals.HoneyStart
	for h := range hours {
		least = math.Min(least, left[h])
	}
	longest := 0
	for h := 0; h < hours; h++ {
		first, sum := h, 0.0
		for h < hours && confined[h] >= 0.5 {
			sum += eaten[h]
			h++
		}
		if h-first > longest {
			longest, reserve = h-first, sum
		}
	}
	return tr.Totals.HoneyStart - least, reserve
}

// combs lets the combs hang with the wax of a case.
func combs(tr *season.Trace, c Case, alive int) (share, fell float64) {
	share, fell = math.NaN(), math.NaN()
	exponent := c.Creep.StressExponent / c.Creep.TimeExponent
	for _, peak := range tr.Combs {
		name := fmt.Sprintf("comb.utilisation.%d.%s", peak.Body+1, peak.Column)
		strong, mid, weak := tr.Get(name+".low"), tr.Get(name), tr.Get(name+".high")
		life := 0.0
		for h := range min(alive, len(strong), len(mid), len(weak)) {
			u := between(strong[h], mid[h], weak[h], c.Wax)
			if !(u <= share) {
				share = u
			}
			life += math.Pow(u, exponent) * 3600 / c.Creep.TestTime
			if (u >= 1 || life > 1) && !(fell <= float64(h)) {
				fell = float64(h)
			}
		}
	}
	return share, fell
}

// between finds the load over strength at a place in the range of the strength,
// straight in the strength.
func between(strong, mid, weak, place float64) float64 {
	a, b, x := strong, mid, 2*place
	if place > 0.5 {
		a, b, x = mid, weak, 2*place-1
	}
	if a <= 0 || b <= 0 {
		return a + x*(b-a)
	}
	return 1 / (1/a + x*(1/b-1/a))
}

// FirstForage is the day from which on a colony that a run begins with in autumn can
// count on flowers again: the first nectar flow that the hive file names after the
// winter, else the end of winter, 15 April, in the south 15 October. Named tells
// which.
func FirstForage(p hive.Plan, start time.Time, latitude float64) (day time.Time, named bool) {
	south := latitude < 0
	half := start.Month() >= time.October || start.Month() < time.April
	from := start
	if south {
		half = !half
	}
	if !half { // wait for the turn of the year in which winter lies
		from = time.Date(start.Year()+1, time.January, 1, 0, 0, 0, 0, start.Location())
		if south {
			from = time.Date(start.Year(), time.July, 1, 0, 0, 0, 0, start.Location())
			if !from.After(start) {
				from = from.AddDate(1, 0, 0)
			}
		}
	}
	next := func(d hive.Day) time.Time {
		year := d.Year
		if year == 0 {
			year = from.Year()
		}
		t := time.Date(year, d.Month, d.Day, 0, 0, 0, 0, start.Location())
		if d.Year == 0 && !t.After(from) {
			t = t.AddDate(1, 0, 0)
		}
		return t
	}
	for _, f := range p.Colony.Flows {
		if t := next(f.From); t.After(start) && (day.IsZero() || t.Before(day)) {
			day, named = t, true
		}
	}
	if named {
		return day, true
	}
	spring := hive.Day{Month: time.April, Day: 15}
	if south {
		spring.Month = time.October
	}
	return next(spring), false
}
