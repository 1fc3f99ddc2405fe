package hive

import (
	"cmp"
	"fmt"
	"strconv"
	"strings"
	"time"
)

// String writes d as "15 Oct" or "15 Oct 2026", and nothing for a zero day.
func (d Day) String() string {
	switch {
	case d.IsZero():
		return ""
	case d.Year == 0:
		return fmt.Sprintf("%d %s", d.Day, d.Month.String()[:3])
	default:
		return fmt.Sprintf("%d %s %d", d.Day, d.Month.String()[:3], d.Year)
	}
}

// Years a dated day may have; beyond them a slip of the pen is likelier.
const (
	firstYear = 1850
	lastYear  = 2200
)

// Valid reports whether d is a day of the calendar. The 29 February needs a
// leap year, so it is no day of every year.
func (d Day) Valid() bool {
	if d.Month < time.January || d.Month > time.December || d.Day < 1 {
		return false
	}
	year := d.Year
	if year == 0 {
		year = 2001 // any common year
	} else if year < firstYear || year > lastYear {
		return false
	}
	return d.Day <= time.Date(year, d.Month+1, 0, 0, 0, 0, 0, time.UTC).Day()
}

// ParseDay reads "15 Oct", "Oct 15", "15 October 2026" or "2026-10-15". Forms in
// which a number alone must tell day from month ("10-15", "5/6/2026") are
// refused, because keepers on two sides of an ocean read them differently.
func ParseDay(text string) (Day, error) {
	const wanted = "15 Oct, 15 Oct 2026 or 2026-10-15"
	fields := strings.FieldsFunc(text, func(r rune) bool { return r == ' ' || r == ',' || r == '.' })
	var d Day
	switch {
	case len(fields) == 1:
		parts := strings.Split(fields[0], "-")
		if len(parts) != 3 || len(parts[0]) != 4 {
			if strings.ContainsAny(text, "-/") {
				return Day{}, fmt.Errorf("day %s can be read in two ways: write %s", quote(text), wanted)
			}
			return Day{}, fmt.Errorf("%s is no day: write %s", quote(text), wanted)
		}
		year, err1 := strconv.Atoi(parts[0])
		month, err2 := strconv.Atoi(parts[1])
		day, err3 := strconv.Atoi(parts[2])
		if err1 != nil || err2 != nil || err3 != nil || year == 0 {
			return Day{}, fmt.Errorf("%s is no day: write %s", quote(text), wanted)
		}
		d = Day{Year: year, Month: time.Month(month), Day: day}
	case len(fields) == 2 || len(fields) == 3:
		dayText, monthText := fields[0], fields[1]
		if _, err := strconv.Atoi(dayText); err != nil {
			dayText, monthText = monthText, dayText
		}
		day, err := strconv.Atoi(dayText)
		month := monthNamed(monthText)
		if err != nil || month == 0 {
			return Day{}, fmt.Errorf("%s is no day: write %s", quote(text), wanted)
		}
		d = Day{Month: month, Day: day}
		if len(fields) == 3 {
			year, err := strconv.Atoi(fields[2])
			if err != nil || year == 0 {
				return Day{}, fmt.Errorf("%s is no day: write %s", quote(text), wanted)
			}
			d.Year = year
		}
	default:
		return Day{}, fmt.Errorf("%s is no day: write %s", quote(text), wanted)
	}
	if !d.Valid() {
		if d.Month == time.February && d.Day == 29 && d.Year == 0 {
			return Day{}, fmt.Errorf("29 Feb does not come every year: write 28 Feb or 1 Mar")
		}
		if d.Year != 0 && (d.Year < firstYear || d.Year > lastYear) {
			return Day{}, fmt.Errorf("year %d is out of range %d to %d", d.Year, firstYear, lastYear)
		}
		return Day{}, fmt.Errorf("%s is not in the calendar: write %s", quote(text), wanted)
	}
	return d, nil
}

// monthNamed returns the month of an English name or its first letters, at
// least three, or 0.
func monthNamed(name string) time.Month {
	name = strings.ToLower(name)
	if len(name) < 3 {
		return 0
	}
	for m := time.January; m <= time.December; m++ {
		if strings.HasPrefix(strings.ToLower(m.String()), name) {
			return m
		}
	}
	return 0
}

// ordinal makes calendar days comparable: later days are larger. Only its order
// has a meaning.
func ordinal(year int, month time.Month, day int) int {
	return year*512 + int(month)*32 + day
}

// compare orders days: those of every year by the calendar and before those
// that name a year.
func (d Day) compare(e Day) int {
	return cmp.Compare(ordinal(d.Year, d.Month, d.Day), ordinal(e.Year, e.Month, e.Day))
}

// lastBefore returns the latest day not after date on which a falls, as an
// ordinal; ok is false when a names a year and lies after date.
func (d Day) lastBefore(date time.Time) (at int, ok bool) {
	year, month, day := date.Date()
	today := ordinal(year, month, day)
	if d.Year != 0 {
		at = ordinal(d.Year, d.Month, d.Day)
		return at, at <= today
	}
	if at = ordinal(year, d.Month, d.Day); at <= today {
		return at, true
	}
	return ordinal(year-1, d.Month, d.Day), true
}

// SwitchOn reports the state on date, counted in the time zone of date: that of
// the latest event not after it. Events of every year reach into the next year
// until its first event; before the first event that names a year, and without
// events, the state is initially.
func SwitchOn(events []Switch, date time.Time, initially bool) bool {
	state, latest := initially, -1
	for _, e := range events {
		if at, ok := e.From.lastBefore(date); ok && at >= latest {
			state, latest = e.On, at
		}
	}
	return state
}

// WidthOn returns the open width of one hole on date, counted in the time zone
// of date. The Schedule works as the events of SwitchOn do; without a valid
// entry the hole is fully open. [m]
func (o Opening) WidthOn(date time.Time) float64 {
	width, latest := o.Width, -1
	for _, s := range o.Schedule {
		if at, ok := s.From.lastBefore(date); ok && at >= latest {
			width, latest = s.Width, at
		}
	}
	return width
}

// OnAt reports whether the wrap is on at date: from the day On up to, not
// including, the day Off. A wrap without days is always on.
func (w Wrap) OnAt(date time.Time) bool {
	if w.On.IsZero() && w.Off.IsZero() {
		return true
	}
	events := [2]Switch{{w.On, true}, {w.Off, false}}
	return SwitchOn(events[:], date, false)
}

// TrayOn reports whether the floor is closed at date: a board always is, a mesh
// floor when its tray is in.
func (f Floor) TrayOn(date time.Time) bool {
	return !f.Mesh || SwitchOn(f.TrayEvents, date, f.Tray)
}

// HoleOn returns the free area of the hole through the board at date. [m²]
func (t TopBoard) HoleOn(date time.Time) float64 {
	if SwitchOn(t.HoleEvents, date, true) {
		return t.Hole
	}
	return 0
}
