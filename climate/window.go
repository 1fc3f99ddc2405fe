package climate

import (
	"fmt"
	"math"
	"time"
)

// longestWindow bounds what a typical year is repeated for.
const longestWindow = mostHours * time.Hour

// Window returns the hours that touch the span from one instant to another,
// first to last, in a new Series. Instants in other zones are converted to the
// site's standard time; build local dates in [Series.Location].
//
// A typical year repeats over year ends and takes the calendar years of the
// span: 29 February is a copy of 28 February, and each join of 31 December to
// 1 January is noted in Repairs with its jump of temperature. The result is no
// longer Typical, since it has dates.
//
// A record must cover the span; if it does not, the error names the dates that
// it has. The hours are then shared with s and must not be altered.
func (s *Series) Window(from, to time.Time) (*Series, error) {
	if !from.Before(to) {
		return nil, fmt.Errorf("weather %s: the span from %s to %s is empty", s.Name, from.Format(time.RFC3339), to.Format(time.RFC3339))
	}
	w := *s
	w.Repairs = append([]Repair(nil), s.Repairs...)
	if s.Typical && len(s.Hours) == 8760 {
		return s.repeat(&w, from, to)
	}
	if from.Before(s.Start) || to.After(s.End()) {
		zone := s.Location()
		const form = "2006-01-02 15:04"
		return nil, fmt.Errorf("weather %s has %s to %s (%s), not all of %s to %s", s.Name,
			s.Start.Format(form), s.End().Format(form), zone, from.In(zone).Format(form), to.In(zone).Format(form))
	}
	first := int(from.Sub(s.Start) / time.Hour)
	end := int((to.Sub(s.Start) + time.Hour - 1) / time.Hour)
	w.Start = s.Start.Add(time.Duration(first) * time.Hour)
	w.Hours = s.Hours[first:end:end]
	return &w, nil
}

// repeat lays the typical year on the calendar.
func (s *Series) repeat(w *Series, from, to time.Time) (*Series, error) {
	if to.Sub(from) > longestWindow {
		return nil, fmt.Errorf("weather %s: a span of more than 200 years from %s", s.Name, from.Format(time.RFC3339))
	}
	zone := s.Location()
	from, to = from.In(zone), to.In(zone)
	w.Start = time.Date(from.Year(), from.Month(), from.Day(), from.Hour(), 0, 0, 0, zone)
	n := int((to.Sub(w.Start) + time.Hour - 1) / time.Hour)
	w.Hours = make([]Hour, 0, n)
	w.Typical = false
	at := w.Start
	for len(w.Hours) < n {
		// A day at a time: the fixed zone has no day of 23 or 25 hours.
		year, month, day := at.Date()
		if month == time.February && day == 29 {
			w.Repairs = append(w.Repairs, Repair{Field: "date", Found: fmt.Sprintf("29 February %d, which a typical year has not", year), Done: "copied from 28 February"})
			day = 28
		}
		first := hourOfYear(int(month), day, 0)
		if first == 0 && len(w.Hours) > 0 {
			jump := s.Hours[0].TempAir - s.Hours[8759].TempAir
			w.Repairs = append(w.Repairs, Repair{Field: "date", Found: fmt.Sprintf("31 December %d joined to 1 January %d of the typical year", year-1, year),
				Done: fmt.Sprintf("joined as it is: the air temperature steps by %+.1f K", jump)})
		}
		start := first + at.Hour()
		take := min(first+24-start, n-len(w.Hours))
		w.Hours = append(w.Hours, s.Hours[start:start+take]...)
		at = at.Add(time.Duration(take) * time.Hour)
	}
	return w, nil
}

// monthJump is the step of air temperature at which the join of two months of a
// typical year is worth a note [K].
const monthJump = 5

// noteJoins reports the joins of months from different years whose temperature
// steps are large. years holds the year of each month's rows.
func (s *Series) noteJoins(years [13]int) {
	for month := 2; month <= 12; month++ {
		if years[month] == years[month-1] || years[month] == 0 || years[month-1] == 0 {
			continue
		}
		i := hourOfYear(month, 1, 0)
		jump := s.Hours[i].TempAir - s.Hours[i-1].TempAir
		if math.Abs(jump) >= monthJump {
			s.Repairs = append(s.Repairs, Repair{Field: "date",
				Found: fmt.Sprintf("%s of %d follows %s of %d: the air temperature steps by %+.1f K in an hour", time.Month(month), years[month], time.Month(month-1), years[month-1], jump),
				Done:  "joined as it is"})
		}
	}
}
