package cli

import (
	"errors"
	"fmt"
	"math"
	"os"
	"time"

	"hackle/climate"
	"hackle/hive"
	"hackle/quantity"
)

// typicalYear is the calendar year that a run in a typical year begins in. Any
// would do; this one has no 29 February.
const typicalYear = 2025

// loadHive reads a hive file; the notes are its warnings.
func loadHive(path string) (plan hive.Plan, notes []string, err error) {
	f, err := os.Open(path)
	if err != nil {
		return plan, nil, fmt.Errorf("hive file: %w", err)
	}
	defer f.Close()
	plan, faults, err := hive.Inspect(path, f)
	if err != nil {
		return plan, nil, err
	}
	if len(faults.Wrong()) > 0 {
		return plan, nil, faults
	}
	for _, w := range faults.Warnings() {
		notes = append(notes, path+":"+w.String())
	}
	return plan, notes, nil
}

// loadWeather reads weather, and says what there is near a site when none was
// named.
func loadWeather(nameOrPath string, site hive.Site) (*climate.Series, error) {
	if nameOrPath != "" {
		return climate.Load(nameOrPath)
	}
	text := "which weather? Give --weather with a file or a built-in year, which hackle weather list shows"
	if site.HasPlace {
		if m, err := climate.Nearest(site.Latitude, site.Longitude, site.Height); err == nil {
			text += fmt.Sprintf("; the nearest to the site in the file is %s, %.0f km away", m.Site.Name, m.Kilometres)
		}
	}
	return nil, errors.New(text)
}

// dayIn puts a day into a year. A 29 February of every year does not exist in
// hive files, so that this never slips into March.
func dayIn(d hive.Day, year int, zone *time.Location) time.Time {
	if d.Year != 0 {
		year = d.Year
	}
	return time.Date(year, d.Month, d.Day, 0, 0, 0, 0, zone)
}

// span finds the first and the last day of a run.
//
// The first is the one asked for, else the colony's date, else 15 October. The
// last is the one asked for; else a whole year after the first when the weather
// covers it; else, or when the winter is asked for, the 15 April after, on the
// southern half of the globe half a year later each. A day without year takes, in
// a typical year, typicalYear; in a record, the last year in which the record
// covers the span.
func (f *seasonFlags) span(c hive.Colony, w *climate.Series) (first, last time.Time, err error) {
	begin, spring := hive.Day{Month: time.October, Day: 15}, hive.Day{Month: time.April, Day: 15}
	if w.Latitude < 0 {
		begin, spring = spring, begin
	}
	if !c.Date.IsZero() {
		begin = c.Date
	}
	if f.from.given {
		begin = f.from.day
	}
	end := spring
	if f.to.given {
		end = f.to.day
	}
	zone := w.Location()
	toEnd := func(a time.Time) time.Time {
		b := dayIn(end, a.Year(), zone)
		if end.Year == 0 && !b.After(a) {
			b = dayIn(end, a.Year()+1, zone)
		}
		return b
	}
	year := func(a time.Time) time.Time { return a.AddDate(1, 0, -1) }
	covers := func(a, b time.Time) bool {
		return w.Typical || !a.Before(w.Start) && !b.AddDate(0, 0, 1).After(w.End())
	}
	// latest is the span in the last year that the record covers.
	latest := func(to func(time.Time) time.Time) bool {
		for n := w.End().Year(); n >= w.Start.Year()-1; n-- {
			first = dayIn(begin, n, zone)
			if last = to(first); covers(first, last) {
				return true
			}
		}
		return false
	}
	whole := !f.winter && !f.to.given
	switch {
	case begin.Year != 0 || w.Typical && end.Year == 0:
		first = dayIn(begin, typicalYear, zone)
		if last = year(first); !whole || !covers(first, last) {
			last = toEnd(first)
		}
	case end.Year != 0: // the last such day before the end
		first, last = dayIn(begin, end.Year, zone), dayIn(end, end.Year, zone)
		if first.After(last) {
			first = dayIn(begin, end.Year-1, zone)
		}
	case whole && latest(year):
	case !latest(toEnd):
		return first, last, fmt.Errorf("weather %s has %s to %s, which holds no whole span from %s to %s: give --from and --to",
			w.Name, w.Start.Format(time.DateOnly), w.End().Add(-time.Hour).Format(time.DateOnly), begin, end)
	}
	if last.Before(first) {
		return first, last, fmt.Errorf("--to %s lies before --from %s", last.Format(time.DateOnly), first.Format(time.DateOnly))
	}
	return first, last, nil
}

// weatherFor cuts the weather to the days from first to last, both whole.
func weatherFor(w *climate.Series, first, last time.Time) (*climate.Series, error) {
	return w.Window(first, last.AddDate(0, 0, 1))
}

// farAway is the distance from which on the weather's own place is taken for the
// sun: its radiation belongs to the sun over there. Common practice, no source. [m]
const farAway = 150e3

// place settles where the sun is computed, and notes what does not fit.
func place(plan *hive.Plan, w *climate.Series, first time.Time, system quantity.System) (notes []string) {
	if s := &plan.Site; s.HasPlace {
		if d := distance(s.Latitude, s.Longitude, w.Latitude, w.Longitude); d > farAway {
			notes = append(notes, fmt.Sprintf("the weather of %s is that of a place %s from the site in the file of %s; its own place is taken for the sun", w.Name, quantity.Format(d, quantity.Length, system), plan.Hive.Name))
			s.HasPlace = false
		}
	}
	if d := plan.Colony.Date; !d.IsZero() {
		at := dayIn(d, first.Year(), first.Location())
		for _, year := range []int{-1, 1} {
			if other := dayIn(d, first.Year()+year, first.Location()); math.Abs(other.Sub(first).Hours()) < math.Abs(at.Sub(first).Hours()) {
				at = other
			}
		}
		if gap := first.Sub(at).Hours() / 24; math.Abs(gap) > 14 {
			notes = append(notes, fmt.Sprintf("the file of %s gives bees and honey of %s; they are taken as they stand for %s, %.0f days off", plan.Hive.Name, d, first.Format("2 January 2006"), math.Abs(gap)))
		}
	}
	return notes
}

// summerNotes tells what a run of these days lacks of a whole year.
func (f *seasonFlags) summerNotes(plans []hive.Plan, w *climate.Series, first, last time.Time) (notes []string) {
	if !f.winter && !f.to.given && last.Before(first.AddDate(1, 0, -1)) {
		notes = append(notes, fmt.Sprintf("the weather of %s holds no whole year from %s on; the run is that of the winter", w.Name, first.Format("2 January 2006")))
	}
	const summerToo = 240 // days, beyond any winter
	if last.Sub(first).Hours() < summerToo*24 {
		return notes
	}
	var without []string
	for _, p := range plans {
		if len(p.Colony.Flows) == 0 {
			without = append(without, p.Hive.Name)
		}
	}
	switch len(without) {
	case 0:
	case 1:
		notes = append(notes, fmt.Sprintf("the file of %s names no nectar flow, so that its colony lives on its stores in summer: name the flows under colony, or give --winter", without[0]))
	default:
		notes = append(notes, fmt.Sprintf("the files of %s name no nectar flow, so that their colonies live on their stores in summer: name the flows under colony, or give --winter", list(without)))
	}
	return notes
}

// distance of two places along a great circle of the mean earth. [m]
func distance(lat1, lon1, lat2, lon2 float64) float64 {
	const radius = 6371e3 // mean earth radius, International Union of Geodesy and Geophysics [m]
	rad := math.Pi / 180
	a := math.Pow(math.Sin((lat2-lat1)/2*rad), 2) + math.Cos(lat1*rad)*math.Cos(lat2*rad)*math.Pow(math.Sin((lon2-lon1)/2*rad), 2)
	return 2 * radius * math.Asin(math.Min(1, math.Sqrt(a)))
}
