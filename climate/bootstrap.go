package climate

import (
	"fmt"
	"math"
	"math/rand/v2"
	"time"
)

const (
	// joinHours is over how many hours on either side the step at a join is spread.
	joinHours = 24
	// mostResampled bounds the years of a resampled record.
	mostResampled = 200
)

// Resample makes n years of weather out of real ones by a block bootstrap: each
// block of blockDays days is copied from the same days of a year drawn at random
// from those given, so that seasons stay in place and spells up to the block's
// length stay whole ("The jackknife and the bootstrap for general stationary
// observations", Annals of Statistics 17, 1989, DOI 10.1214/aos/1176347265, with
// blocks held to their place in the year; from memory). The first block of each
// year is cut short at random, so that joins fall on different days.
//
// A record gives its whole calendar years, a typical year itself. They must be two
// years or more, from one place (within 0.2° and 200 m) and zone.
//
// Joins. At each midnight where two source years meet, and at each new year, half
// of the step is taken off on either side, falling to nothing over 24 hours: for
// temperature, relative humidity (held to 1 % to 100 %), pressure, wind speed (held
// above 0) and long wave. Sun, rain, snow and wind direction are not touched.
// All other hours are copies.
//
// Where the year has a 29 February and the source has none, it is a copy of the
// source's 28 February; where only the source has one, it is left out. Either makes
// a join. The years carry the dates from 1 January 2001 on. The same
// arguments give the same hours.
//
// The months of resampled years vary less than real ones do when blocks are
// shorter than a month, and no day is hotter or colder than in the source: use
// [HotSpell] and [ColdSnap] on the real record.
func Resample(years []*Series, blockDays int, seed uint64, n int) (*Series, error) {
	if n < 1 || n > mostResampled {
		return nil, fmt.Errorf("climate: resampling %d years, accepted: 1 to %d", n, mostResampled)
	}
	if blockDays < 2 || blockDays > daysOfYear {
		return nil, fmt.Errorf("climate: blocks of %d days, accepted: 2 to %d", blockDays, daysOfYear)
	}
	sources, err := sourceYears(years)
	if err != nil {
		return nil, err
	}
	first := years[0]
	s := *first
	s.Typical = false
	s.Start = time.Date(madeYear, time.January, 1, 0, 0, 0, 0, first.Location())
	s.Repairs = nil
	s.Source = fmt.Sprintf("resampled from %d years in blocks of %d days: %s", len(sources), blockDays, first.Source)
	for _, y := range years {
		s.HasRain = s.HasRain && y.HasRain
		s.HasSnow = s.HasSnow && y.HasSnow
	}

	const stream = 0x626c6f636b
	rng := rand.New(rand.NewPCG(seed, stream))
	joins := []int{0} // hours that begin another source; the first has none before it
	s.Hours = make([]Hour, 0, n*366*24)
	for y := range n {
		left := 1 + rng.IntN(blockDays)
		drawn := rng.IntN(len(sources))
		if y > 0 {
			joins = append(joins, len(s.Hours))
		}
		for date := s.Start.AddDate(y, 0, 0); date.Year() == madeYear+y; date = date.AddDate(0, 0, 1) {
			if left == 0 {
				left = blockDays
				if next := rng.IntN(len(sources)); next != drawn {
					drawn = next
					joins = append(joins, len(s.Hours))
				}
			}
			_, month, day := date.Date()
			doubled := month == time.February && day == 29 && !sources[drawn].leap
			skipped := month == time.March && day == 1 && sources[drawn].leap && date.AddDate(0, 0, -1).Day() == 28
			if at := len(s.Hours); (doubled || skipped) && joins[len(joins)-1] != at {
				joins = append(joins, at)
			}
			s.Hours = append(s.Hours, sources[drawn].day(date)...)
			left--
		}
	}
	joins = joins[1:]
	largest := smoothJoins(s.Hours, joins)
	s.Repairs = append(s.Repairs, Repair{Field: "date", Found: fmt.Sprintf("%d joins of blocks, the largest step of air temperature %.1f K", len(joins), largest),
		Done: fmt.Sprintf("each step spread over %d h on either side", joinHours)})
	return &s, nil
}

// sourceYear is a calendar year of hours.
type sourceYear struct {
	hours []Hour
	leap  bool
}

// day returns the hours of the same date.
func (y *sourceYear) day(date time.Time) []Hour {
	_, month, d := date.Date()
	k := monthStart[month-1] + d - 1
	switch {
	case month == time.February && d == 29:
		if !y.leap {
			k--
		}
	case month > time.February && y.leap:
		k++
	}
	return y.hours[24*k : 24*k+24]
}

// sourceYears finds the whole calendar years.
func sourceYears(series []*Series) ([]sourceYear, error) {
	var out []sourceYear
	for i, s := range series {
		if s == nil {
			return nil, fmt.Errorf("climate: resampling: series %d is none", i+1)
		}
		a := series[0]
		if math.Abs(s.Latitude-a.Latitude) > 0.2 || math.Abs(s.Longitude-a.Longitude) > 0.2 || math.Abs(s.Height-a.Height) > 200 || s.Zone != a.Zone || s.MidOffset != a.MidOffset {
			return nil, fmt.Errorf("climate: resampling: %s and %s are not of one place, zone and kind of hour", a.Name, s.Name)
		}
		zone := s.Location()
		local := s.Start.In(zone)
		for year := local.Year(); ; year++ {
			begin := time.Date(year, time.January, 1, 0, 0, 0, 0, zone)
			end := begin.AddDate(1, 0, 0)
			if end.After(s.End()) {
				break
			}
			if begin.Before(local) {
				continue
			}
			from := int(begin.Sub(local) / time.Hour)
			count := int(end.Sub(begin) / time.Hour)
			out = append(out, sourceYear{hours: s.Hours[from : from+count], leap: count == 366*24})
		}
	}
	if len(out) < 2 {
		return nil, fmt.Errorf("climate: resampling: %d whole calendar years, needed: 2 or more", len(out))
	}
	return out, nil
}

// smoothJoins spreads the step before each hour of joins, and returns the largest
// step of temperature [K].
func smoothJoins(hours []Hour, joins []int) (largest float64) {
	quantities := []struct {
		of        func(h *Hour) *float64
		low, high float64
	}{
		{func(h *Hour) *float64 { return &h.TempAir }, math.Inf(-1), math.Inf(1)},
		{func(h *Hour) *float64 { return &h.RelHumidity }, fields[relHumidity].setLow, 1},
		{func(h *Hour) *float64 { return &h.Pressure }, 0, math.Inf(1)},
		{func(h *Hour) *float64 { return &h.WindSpeed }, 0, math.Inf(1)},
		{func(h *Hour) *float64 { return &h.SkyLongWave }, fields[skyLongWave].low, math.Inf(1)},
	}
	for q, quantity := range quantities {
		// All steps first, so that close joins do not feed on each other.
		steps := make([]float64, len(joins))
		for k, j := range joins {
			steps[k] = *quantity.of(&hours[j]) - *quantity.of(&hours[j-1])
			if q == 0 {
				largest = max(largest, math.Abs(steps[k]))
			}
		}
		for k, j := range joins {
			for t := range joinHours {
				part := steps[k] / 2 * (1 - (float64(t)+0.5)/joinHours)
				if j+t < len(hours) {
					v := quantity.of(&hours[j+t])
					*v = min(max(*v-part, quantity.low), quantity.high)
				}
				if j-1-t >= 0 {
					v := quantity.of(&hours[j-1-t])
					*v = min(max(*v+part, quantity.low), quantity.high)
				}
			}
		}
	}
	return largest
}
