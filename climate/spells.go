package climate

import (
	"fmt"
	"math"
	"time"
)

const (
	// longestSpell bounds the days of a spell: a season.
	longestSpell = 60
	// farReturn and absurdReturn are the return periods, as multiples of the record,
	// from which a level is doubtful and from which it is refused. A few times the
	// record's length is the custom; which few is common practice, no source.
	farReturn, absurdReturn = 4, 20
	// shortRecord is the number of years below which the shape is a guess; the
	// World Meteorological Organization asks for 30 for a climate (WMO-No. 1203;
	// from memory).
	shortRecord = 20
	// leadDays are given before and after a spell, and rampDays of them lead over
	// to its shift.
	leadDays, rampDays = 7, 3
	// spellConfidence is that of a spell's interval [-].
	spellConfidence = 0.95
	// farShift is the shift of an analogue that deserves a word [K]; common
	// practice, no source.
	farShift = 3.0
)

// ExtremeSpell is a hot spell or a cold snap of a return period.
type ExtremeSpell struct {
	// Weather is the hourly weather of the spell with up to seven days before and
	// after it, from the record. It has dates, those of the analogue.
	Weather     *Series
	First       time.Time // midnight that begins the spell's first day
	Days        int
	ReturnYears float64
	Mean        float64 // over the spell's days [°C]
	// Low and High are the ends of the 95 % interval of Mean by profile
	// likelihood [°C]; infinite where the record leaves one open.
	Low, High float64
	Years     int     // whole years of the record
	Fit       *GEVFit // of the years' extremes; of a cold snap, of their negatives
	Analogue  float64 // mean of the record's spell that was moved [°C]
	Moved     float64 // by how much it was moved [K]
	Warnings  []string
}

// HotSpell builds the hottest spell of a number of days that is exceeded once in
// returnYears on average.
//
// From each whole calendar year of the record (from July to June in the southern
// half of the world) it takes the highest running mean over the days, fits [GEV]
// to these by [FitGEV], and takes the return level with its interval. The record's
// spell whose mean is nearest to it is moved to it: each of its hours by the same
// amount, ramped over three days before and after, at its relative humidity and
// with the long wave computed anew as in [Series.Shift].
//
// Fewer than ten whole years, days outside 1 to 60, and return periods of a year or
// less or beyond 20 times the record are errors. Beyond 4 times the record, and
// with fewer than 20 years, the result carries warnings: show them.
func HotSpell(record *Series, days int, returnYears float64) (*ExtremeSpell, error) {
	return extremeSpell(record, days, returnYears, 1)
}

// ColdSnap builds the coldest spell of a number of days that is undercut once in
// returnYears on average, as [HotSpell] does, from winters: years from July to
// June, in the southern half of the world calendar years.
func ColdSnap(record *Series, days int, returnYears float64) (*ExtremeSpell, error) {
	return extremeSpell(record, days, returnYears, -1)
}

// yearSpell is the extreme spell of one year.
type yearSpell struct {
	first int     // day of the record
	mean  float64 // [°C]
}

// yearSpells returns the extreme spell of each whole year, hottest (sign 1) or
// coldest (-1), and the hour of the record at which its first day begins.
func (s *Series) yearSpells(days int, sign float64) (spells []yearSpell, offset int) {
	local := s.Start.In(s.Location())
	if h := local.Hour(); h > 0 {
		offset = 24 - h
	}
	begin := local.Add(time.Duration(offset) * time.Hour)
	n := max(len(s.Hours)-offset, 0) / 24
	sums := make([]float64, n+1) // of the days' means
	for d := range n {
		mean := 0.0
		for _, h := range s.Hours[offset+24*d : offset+24*d+24] {
			mean += h.TempAir / 24
		}
		sums[d+1] = sums[d] + mean
	}
	// Years end where such spells do not fall.
	month := time.January
	if (sign < 0) == (s.Latitude >= 0) {
		month = time.July
	}
	for year := begin.Year() - 1; ; year++ {
		from := int(time.Date(year, month, 1, 0, 0, 0, 0, s.Location()).Sub(begin) / (24 * time.Hour))
		to := int(time.Date(year+1, month, 1, 0, 0, 0, 0, s.Location()).Sub(begin) / (24 * time.Hour))
		if to > n {
			return spells, offset
		}
		if from < 0 || time.Date(year, month, 1, 0, 0, 0, 0, s.Location()).Before(begin) {
			continue
		}
		best := yearSpell{mean: math.Inf(-1)}
		for d := from; d+days <= to; d++ {
			if mean := sign * (sums[d+days] - sums[d]) / float64(days); mean > best.mean {
				best = yearSpell{first: d, mean: mean}
			}
		}
		best.mean *= sign
		spells = append(spells, best)
	}
}

func extremeSpell(record *Series, days int, returnYears, sign float64) (*ExtremeSpell, error) {
	name := "hot spell"
	if sign < 0 {
		name = "cold snap"
	}
	if days < 1 || days > longestSpell {
		return nil, fmt.Errorf("%w: a %s of %d days, accepted: 1 to %d", ErrExtremes, name, days, longestSpell)
	}
	if !(returnYears > 1) {
		return nil, fmt.Errorf("%w: a %s once in %v years, accepted: more than 1 year", ErrExtremes, name, returnYears)
	}
	spells, offset := record.yearSpells(days, sign)
	years := len(spells)
	if years < leastYears {
		return nil, fmt.Errorf("%w: %s has %d whole years, needed for a %s: %d", ErrExtremes, record.Name, years, name, leastYears)
	}
	if returnYears > absurdReturn*float64(years) {
		return nil, fmt.Errorf("%w: a %s once in %.0f years from a record of %d years; accepted: at most %d years", ErrExtremes, name, returnYears, years, absurdReturn*years)
	}
	values := make([]float64, years)
	for i, sp := range spells {
		values[i] = sign * sp.mean
	}
	fit, err := FitGEV(values)
	if err != nil {
		return nil, fmt.Errorf("%s of %s: %w", name, record.Name, err)
	}
	low, high, err := fit.Interval(returnYears, spellConfidence)
	if err != nil {
		return nil, fmt.Errorf("%s of %s: %w", name, record.Name, err)
	}
	e := &ExtremeSpell{Days: days, ReturnYears: returnYears, Mean: sign * fit.ReturnLevel(returnYears), Low: sign * low, High: sign * high, Years: years, Fit: fit}
	if sign < 0 {
		e.Low, e.High = e.High, e.Low
	}
	nearest := spells[0]
	for _, sp := range spells {
		if math.Abs(sp.mean-e.Mean) < math.Abs(nearest.mean-e.Mean) {
			nearest = sp
		}
	}
	e.Analogue, e.Moved = nearest.mean, e.Mean-nearest.mean
	e.build(record, nearest.first, offset, name)
	e.warn(name)
	return e, nil
}

// build cuts the analogue out of the record and moves it.
func (e *ExtremeSpell) build(record *Series, first, offset int, name string) {
	begin, end := offset+24*first, offset+24*(first+e.Days)
	from, to := max(begin-24*leadDays, 0), min(end+24*leadDays, len(record.Hours))
	w := *record
	w.Typical = false
	w.Start = record.Start.Add(time.Duration(from) * time.Hour)
	e.First = record.Start.Add(time.Duration(begin) * time.Hour).In(record.Location())
	w.Hours = make([]Hour, to-from)
	for i := range w.Hours {
		hour := from + i
		outside := max(begin-hour, hour-end+1, 0) // hours outside the spell
		share := max(1-float64(outside)/(24*rampDays), 0)
		w.Hours[i] = record.Hours[hour].warmed(e.Moved*share, KeepRelative)
	}
	w.Name = fmt.Sprintf("%s, %s of %d days once in %.0f years", record.Name, name, e.Days, e.ReturnYears)
	w.Repairs = append(append([]Repair(nil), record.Repairs...), Repair{Field: fields[tempAir].name,
		Found: fmt.Sprintf("%s from %s with a mean of %.1f °C", name, e.First.Format("2006-01-02"), e.Analogue),
		Done:  fmt.Sprintf("moved by %+.1f K to %.1f °C (95 %% interval %.1f to %.1f °C), the level once in %.0f years by %d years of record", e.Moved, e.Mean, e.Low, e.High, e.ReturnYears, e.Years)})
	e.Weather = &w
}

// warn says what to make of the figures.
func (e *ExtremeSpell) warn(name string) {
	say := func(format string, values ...any) { e.Warnings = append(e.Warnings, fmt.Sprintf(format, values...)) }
	if e.ReturnYears > farReturn*float64(e.Years) {
		say("Once in %.0f years is %.1f times the %d years of the record: the level is an extrapolation, take its interval rather than itself.", e.ReturnYears, e.ReturnYears/float64(e.Years), e.Years)
	}
	if e.Years < shortRecord {
		say("A record of %d years hardly tells how extremes taper off: 20 or more are better.", e.Years)
	}
	if math.IsInf(e.Low, 0) || math.IsInf(e.High, 0) {
		say("The record leaves one end of the interval open.")
	}
	if e.Fit.Shape <= lowestShape+0.01 || e.Fit.Shape >= highestShape-0.01 {
		say("The years' extremes do not follow the distribution: the fit stopped at the limit of its shape.")
	}
	if math.Abs(e.Moved) > farShift {
		say("The nearest %s of the record had to be moved by %+.1f K.", name, e.Moved)
	}
}
