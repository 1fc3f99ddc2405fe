package change

import (
	"time"

	"hackle/climate"
	"hackle/hive"
)

func hours(n int) time.Duration { return time.Duration(n) * time.Hour }

// dayOf turns a number of month times 31 plus day, counted from the first month of
// a half year, back into a date of a common year.
func dayOf(begin, n int) time.Time {
	month := (n - 1) / 31
	return time.Date(2001, time.Month(begin+month), n-31*month, 0, 0, 0, 0, time.UTC)
}

// after reports whether day a comes after b in the beekeeper's year, which begins
// at midsummer: July in the north, January in the south.
func after(a, b hive.Day, south bool) bool {
	begin := time.July
	if south {
		begin = time.January
	}
	place := func(d hive.Day) int { return (int(d.Month)-int(begin)+12)%12*31 + d.Day }
	return place(a) > place(b)
}

// weekFrom is the mean temperature of the seven days from a day on, over all years
// of the weather; ok is false when it holds no such week. [°C]
func weekFrom(w *climate.Series, d hive.Day) (mean float64, ok bool) {
	if w == nil {
		return 0, false
	}
	const week = 7 * 24
	sum, n := 0.0, 0
	zone := w.Location()
	for i := range w.Hours {
		at := w.Start.In(zone).Add(hours(i))
		if at.Hour() != 0 || at.Month() != d.Month || at.Day() != d.Day || !w.Typical && i+week > len(w.Hours) {
			continue
		}
		for k := range week {
			sum += w.Hours[(i+k)%len(w.Hours)].TempAir
		}
		n += week
	}
	if n == 0 {
		return 0, false
	}
	return sum / float64(n), true
}

// south reports whether the hive stands on the southern half of the globe, where
// the days of the catalogue are half a year later.
func south(p hive.Plan, site Site) bool {
	switch {
	case site.Weather != nil:
		return site.Weather.Latitude < 0
	case p.Site.HasPlace:
		return p.Site.Latitude < 0
	}
	return false
}

// halfYearOn is the day six months later, at most the 28th of February.
func halfYearOn(d hive.Day) hive.Day {
	d.Month = (d.Month+5)%12 + 1
	for !d.Valid() && d.Day > 28 {
		d.Day--
	}
	return d
}
