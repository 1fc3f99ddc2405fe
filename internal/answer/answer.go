// Package answer joins a hive, weather and days to one question of the engine and
// gives the result its documented shape. The command line, the web pages, reports
// and rankings all ask through it, so that they answer alike.
//
// Weather comes in whole, as read; [Days] finds the span in it, [Place] cuts it to
// that span and settles what of site and colony does not fit, [Setting.Run] runs
// the hives, and the documents [Year], [Comparison], [Checked], [Heated] and
// [Weather] are what --json prints and the web's interface sends.
package answer

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"runtime"
	"strconv"
	"strings"
	"sync"
	"time"

	"hackle/climate"
	"hackle/fit"
	"hackle/hive"
	"hackle/ledger"
	"hackle/quantity"
	"hackle/season"
	"hackle/wall"
)

// TypicalYear is the calendar year that a run in a typical year begins in. Any
// would do; this one has no 29 February.
const TypicalYear = 2025

// A Fault is an error that no input of the user explains.
type Fault struct{ Err error }

func (f *Fault) Error() string { return f.Err.Error() }
func (f *Fault) Unwrap() error { return f.Err }

// sorted marks an error of the engine as a [Fault] unless it tells of the input or
// of a cancelled context.
func sorted(err error) error {
	if err == nil || errors.Is(err, season.ErrInput) || errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
		return err
	}
	return &Fault{err}
}

// ReadHive reads a hive file, which errors and notes call by its name; the notes
// are its warnings.
func ReadHive(name string, r io.Reader) (plan hive.Plan, notes []string, err error) {
	plan, faults, err := hive.Inspect(name, r)
	if err != nil {
		return plan, nil, err
	}
	if len(faults.Wrong()) > 0 {
		return plan, nil, faults
	}
	for _, w := range faults.Warnings() {
		notes = append(notes, name+":"+w.String())
	}
	return plan, notes, nil
}

// BeesIn reads a mass of bees, or frames covered with bees as the hive file does.
// The result is in kg.
func BeesIn(text string, h hive.Hive) (float64, error) {
	number, ok := strings.CutSuffix(strings.TrimSuffix(strings.TrimSpace(text), "s"), "frame")
	if !ok {
		return quantity.Parse(text, quantity.Mass)
	}
	x, err := strconv.ParseFloat(strings.TrimSpace(number), 64)
	if err != nil || !(x >= 0 && x <= 1000) {
		return 0, fmt.Errorf("%q is no number of frames covered with bees, such as 8 frames", text)
	}
	if len(h.Bodies) == 0 || h.Bodies[0].Frames.Count == 0 {
		return 0, fmt.Errorf("%q needs frames in the lowest body; give a mass such as 2 kg", text)
	}
	return x * h.Bodies[0].BeesPerFrame(), nil
}

// A Setting is hives in the days of their weather, ready to run.
type Setting struct {
	Plans       []hive.Plan
	Weather     *climate.Series // exactly the hours of the run
	First, Last time.Time       // days, both whole
	Notes       []string        // what does not fit and what was done about it
}

// Place finds the days in the weather as [Days.Span] does, by the colony of the
// first plan, and sets plans into them. A site far from the weather's place gives
// way to that place. The plans passed in stay as they are. Notes speak in a system
// of units.
func Place(plans []hive.Plan, whole *climate.Series, days Days, system quantity.System) (Setting, error) {
	if len(plans) == 0 {
		return Setting{}, &Fault{errors.New("no hive to place")}
	}
	first, last, err := days.Span(plans[0].Colony, whole)
	if err != nil {
		return Setting{}, err
	}
	w, err := whole.Window(first, last.AddDate(0, 0, 1))
	if err != nil {
		return Setting{}, err
	}
	s := Setting{Plans: append([]hive.Plan{}, plans...), Weather: w, First: first, Last: last}
	for i := range s.Plans {
		s.Notes = append(s.Notes, place(&s.Plans[i], w, first, system)...)
		if note := fit.Note(s.Plans[i]); note != "" {
			s.Notes = append(s.Notes, note)
		}
	}
	s.Notes = append(s.Notes, days.summerNotes(s.Plans, w, first, last)...)
	s.Notes = append(s.Notes, snowNotes(w)...)
	return s, nil
}

// snowNotes says when snow would lie for long in weather that does not tell how deep
// it lies, so that runs leave it out.
func snowNotes(w *climate.Series) []string {
	const least, deep = 10, 0.05 // days, and depth from which snow makes a difference [m]
	if w.HasSnow || !w.HasRain {
		return nil
	}
	hours := 0
	for _, s := range w.SnowCover() {
		if s.Depth > deep {
			hours++
		}
	}
	if hours < least*24 {
		return nil
	}
	return []string{fmt.Sprintf("by its rain and frost, snow lies on about %d days of this weather, but it does not say how deep, so that the run leaves it out: `hackle weather at W --snow --out snow.epw` works out the depth, and runs with that file count it", hours/24)}
}

// Input of the engine for one of the plans: the hive with its own measured numbers
// where the plan carries some, else as described, with the usual biology.
func (s Setting) Input(plan int) season.Input {
	own, biology := fit.Own(s.Plans[plan])
	return season.Input{Plan: own, Weather: s.Weather, Biology: biology}
}

// Ledger of one of the plans, from its trace.
func (s Setting) Ledger(plan int, tr *season.Trace) ledger.Ledger {
	return ledger.FromRun(s.Input(plan), tr)
}

// Run computes the plans side by side on the cores and returns their traces in
// order. It tells progress, which may be nil, how many of the hours of a plan are
// done; the calls come from several goroutines. The first plan that fails stops
// the others. Errors are those of the input, of the context, or a *[Fault].
func (s Setting) Run(ctx context.Context, progress func(plan, done, total int)) ([]*season.Trace, error) {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	joints := &wall.Cache{}
	traces := make([]*season.Trace, len(s.Plans))
	errs := make([]error, len(s.Plans))
	free := make(chan struct{}, max(1, runtime.GOMAXPROCS(0)))
	var wait sync.WaitGroup
	for i := range s.Plans {
		wait.Go(func() {
			free <- struct{}{}
			defer func() { <-free }()
			defer func() {
				if v := recover(); v != nil {
					errs[i] = &Fault{fmt.Errorf("%v", v)}
				}
				if errs[i] != nil {
					cancel()
				}
			}()
			in := s.Input(i)
			in.Joints = joints
			var told func(done, total int)
			if progress != nil {
				told = func(done, total int) { progress(i, done, total) }
			}
			tr, err := season.Run(ctx, in, told)
			traces[i], errs[i] = tr, sorted(err)
		})
	}
	wait.Wait()
	return traces, firstError(errs)
}

// firstError returns the first error that is more than the echo of another's
// cancellation.
func firstError(errs []error) error {
	var echo error
	for _, err := range errs {
		switch {
		case err == nil:
		case errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded):
			echo = err
		default:
			return err
		}
	}
	return echo
}

// farAway is the distance from which on the weather's own place is taken for the
// sun: its radiation belongs to the sun over there. Common practice, no source. [m]
const farAway = 150e3

// place settles where the sun is computed, and notes what does not fit.
func place(plan *hive.Plan, w *climate.Series, first time.Time, system quantity.System) (notes []string) {
	if s := &plan.Site; s.HasPlace {
		if d := Distance(s.Latitude, s.Longitude, w.Latitude, w.Longitude); d > farAway {
			notes = append(notes, fmt.Sprintf("the weather of %s is that of a place %s from the site in the file of %s; its own place is taken for the sun", w.Name, quantity.Format(d, quantity.Length, system), plan.Hive.Name))
			s.HasPlace = false
		}
	}
	if d := plan.Colony.Date; !d.IsZero() {
		at := DayIn(d, first.Year(), first.Location())
		for _, year := range []int{-1, 1} {
			if other := DayIn(d, first.Year()+year, first.Location()); math.Abs(other.Sub(first).Hours()) < math.Abs(at.Sub(first).Hours()) {
				at = other
			}
		}
		if gap := first.Sub(at).Hours() / 24; math.Abs(gap) > 14 {
			notes = append(notes, fmt.Sprintf("the file of %s gives bees and honey of %s; they are taken as they stand for %s, %.0f days off", plan.Hive.Name, d, first.Format("2 January 2006"), math.Abs(gap)))
		}
	}
	return notes
}

// Distance of two places along a great circle of the mean earth. [m]
func Distance(lat1, lon1, lat2, lon2 float64) float64 {
	const radius = 6371e3 // mean earth radius, International Union of Geodesy and Geophysics [m]
	rad := math.Pi / 180
	a := math.Pow(math.Sin((lat2-lat1)/2*rad), 2) + math.Cos(lat1*rad)*math.Cos(lat2*rad)*math.Pow(math.Sin((lon2-lon1)/2*rad), 2)
	return 2 * radius * math.Asin(math.Min(1, math.Sqrt(a)))
}

// Period in words, such as "15 October 2025 to 15 April 2026".
func Period(first, last time.Time) string {
	return first.Format("2 January 2006") + " to " + last.Format("2 January 2006")
}

// list joins words as "a, b and c".
func list(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
}
