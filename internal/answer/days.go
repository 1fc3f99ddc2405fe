package answer

import (
	"fmt"
	"time"

	"hackle/climate"
	"hackle/hive"
)

// Days choose the span of a run. The zero value is a whole year from the colony's
// date on.
type Days struct {
	From, To hive.Day // zero: not asked for
	Winter   bool     // the winter alone
	// WinterBy is how the user asks for the winter alone, as notes say it, such as
	// "give --winter"; empty: "run the winter alone".
	WinterBy string
}

// A SpanError tells why days cannot be had of weather.
type SpanError struct {
	Backwards   bool      // Last lies before First
	First, Last time.Time // of a backwards span
	text        string
}

func (e *SpanError) Error() string {
	if e.Backwards {
		return fmt.Sprintf("the last day, %s, lies before the first, %s", e.Last.Format(time.DateOnly), e.First.Format(time.DateOnly))
	}
	return e.text
}

// DayIn puts a day into a year. A 29 February of every year does not exist in
// hive files, so that this never slips into March.
func DayIn(d hive.Day, year int, zone *time.Location) time.Time {
	if d.Year != 0 {
		year = d.Year
	}
	return time.Date(year, d.Month, d.Day, 0, 0, 0, 0, zone)
}

// Span finds the first and the last day of a run.
//
// The first is the one asked for, else the colony's date, else 15 October. The
// last is the one asked for; else a whole year after the first when the weather
// covers it; else, or when the winter is asked for, the 15 April after, on the
// southern half of the globe half a year later each. A day without year takes, in
// a typical year, TypicalYear; in a record, the last year in which the record
// covers the span. The error is a *[SpanError].
func (d Days) Span(c hive.Colony, w *climate.Series) (first, last time.Time, err error) {
	begin, spring := hive.Day{Month: time.October, Day: 15}, hive.Day{Month: time.April, Day: 15}
	if w.Latitude < 0 {
		begin, spring = spring, begin
	}
	if !c.Date.IsZero() {
		begin = c.Date
	}
	if !d.From.IsZero() {
		begin = d.From
	}
	end := spring
	if !d.To.IsZero() {
		end = d.To
	}
	zone := w.Location()
	toEnd := func(a time.Time) time.Time {
		b := DayIn(end, a.Year(), zone)
		if end.Year == 0 && !b.After(a) {
			b = DayIn(end, a.Year()+1, zone)
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
			first = DayIn(begin, n, zone)
			if last = to(first); covers(first, last) {
				return true
			}
		}
		return false
	}
	whole := !d.Winter && d.To.IsZero()
	switch {
	case begin.Year != 0 || w.Typical && end.Year == 0:
		first = DayIn(begin, TypicalYear, zone)
		if last = year(first); !whole || !covers(first, last) {
			last = toEnd(first)
		}
	case end.Year != 0: // the last such day before the end
		first, last = DayIn(begin, end.Year, zone), DayIn(end, end.Year, zone)
		if first.After(last) {
			first = DayIn(begin, end.Year-1, zone)
		}
	case whole && latest(year):
	case !latest(toEnd):
		return first, last, &SpanError{text: fmt.Sprintf("weather %s has %s to %s, which holds no whole span from %s to %s",
			w.Name, w.Start.Format(time.DateOnly), w.End().Add(-time.Hour).Format(time.DateOnly), begin, end)}
	}
	if last.Before(first) {
		return first, last, &SpanError{Backwards: true, First: first, Last: last}
	}
	return first, last, nil
}

// summerNotes tells what a run of these days lacks of a whole year.
func (d Days) summerNotes(plans []hive.Plan, w *climate.Series, first, last time.Time) (notes []string) {
	if !d.Winter && d.To.IsZero() && last.Before(first.AddDate(1, 0, -1)) {
		notes = append(notes, fmt.Sprintf("the weather of %s holds no whole year from %s on; the run is that of the winter", w.Name, first.Format("2 January 2006")))
	}
	const summerToo = 240 // days, beyond any winter
	if last.Sub(first).Hours() < summerToo*24 {
		return notes
	}
	winterBy := d.WinterBy
	if winterBy == "" {
		winterBy = "run the winter alone"
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
		notes = append(notes, fmt.Sprintf("the file of %s names no nectar flow, so that its colony lives on its stores in summer: name the flows under colony, or %s", without[0], winterBy))
	default:
		notes = append(notes, fmt.Sprintf("the files of %s name no nectar flow, so that their colonies live on their stores in summer: name the flows under colony, or %s", list(without), winterBy))
	}
	return notes
}
