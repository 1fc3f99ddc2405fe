package climate

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"time"
)

// Station is the place of a weather station, which some layouts do not carry.
type Station struct {
	Name      string
	Latitude  float64       // north positive [deg]
	Longitude float64       // east positive [deg]
	Height    float64       // above sea level [m]
	Zone      time.Duration // local standard time ahead of UTC
}

func (s Station) check(file string) error {
	switch {
	case s == Station{}:
		return &FileError{File: file, Found: "no place: this layout carries none", Accepted: "the station's latitude, longitude, height and zone beside the file"}
	case !(s.Latitude >= -90 && s.Latitude <= 90):
		return &FileError{File: file, Field: "latitude", Found: fmt.Sprint(s.Latitude), Accepted: "-90 to 90 degrees, north positive"}
	case !(s.Longitude >= -180 && s.Longitude <= 180):
		return &FileError{File: file, Field: "longitude", Found: fmt.Sprint(s.Longitude), Accepted: "-180 to 180 degrees, east positive"}
	case !(s.Height >= -450 && s.Height <= 9000):
		return &FileError{File: file, Field: "height", Found: fmt.Sprint(s.Height), Accepted: "-450 to 9000 m above the sea"}
	case s.Zone < -12*time.Hour || s.Zone > 14*time.Hour || s.Zone%time.Minute != 0:
		return &FileError{File: file, Field: "zone", Found: s.Zone.String(), Accepted: "whole minutes from -12 h to 14 h ahead of UTC"}
	}
	return nil
}

// Day is the weather of one day. What is not known is NaN.
type Day struct {
	TempMax     float64 // highest air temperature [°C]
	TempMin     float64 // lowest air temperature [°C]
	DewPoint    float64 // mean, over liquid water [°C]
	RelHumidity float64 // mean, over liquid water, 0 to 1 [-]
	Pressure    float64 // mean at the station [Pa]
	WindSpeed   float64 // mean [m/s]
	WindFrom    float64 // prevailing, clockwise from north [deg]
	Radiation   float64 // global, on the horizontal, over the day [J/m²]
	SunHours    float64 // sunshine [h]
	SunShare    float64 // sunshine as a share of the possible, 0 to 1 [-]
	CloudCover  float64 // mean, 0 to 1 [-]
	Rain        float64 // depth, of snow as water [mm]
	RainHours   float64 // how long it fell [h]
	SnowDepth   float64 // on the ground [m]
}

// Daily is the record of a station day by day, as [ReadGHCNDaily] and
// [ReadNetherlandsDaily] read it; [Daily.Hourly] makes hours of it.
type Daily struct {
	Station
	Start   time.Time // midnight that begins the first day, in the zone of the station's days
	Days    []Day
	Repairs []Repair // what was left out or doubtful, in file order
	Source  string

	file string
	line []int32 // that named each day first, 0 for none
}

// End returns the end of the last day.
func (d *Daily) End() time.Time { return d.Start.AddDate(0, 0, len(d.Days)) }

// quantities of a day.
const (
	dayTempMax = iota
	dayTempMin
	dayDewPoint
	dayRelHumidity
	dayPressure
	dayWindSpeed
	dayWindFrom
	dayRadiation
	daySunHours
	daySunShare
	dayCloudCover
	dayRain
	dayRainHours
	daySnowDepth
	dayFieldCount
)

// dayFields states what a day's value can be; outside it counts as missing. The
// limits are those of an hour where there is one.
var dayFields = [dayFieldCount]limits{
	dayTempMax:     {name: "highest temperature", low: -90, high: 60, shown: 1, unit: "°C"},
	dayTempMin:     {name: "lowest temperature", low: -90, high: 60, shown: 1, unit: "°C"},
	dayDewPoint:    {name: "dew point", low: -110, high: 45, shown: 1, unit: "°C"},
	dayRelHumidity: {name: "relative humidity", low: 0.01, high: 1, shown: 100, unit: "%"},
	dayPressure:    {name: "station pressure", low: 45000, high: 110000, shown: 1, unit: "Pa"},
	dayWindSpeed:   {name: "wind speed", low: 0, high: 75, shown: 1, unit: "m/s"},
	dayWindFrom:    {name: "wind direction", low: 0, high: 360, shown: 1, unit: "deg"},
	dayRadiation:   {name: "global radiation", low: 0, high: 45e6, shown: 1e-6, unit: "MJ/m²"}, // the sun outside the air gives at most 45 in a day of low latitudes
	daySunHours:    {name: "sunshine", low: 0, high: 24, shown: 1, unit: "h"},
	daySunShare:    {name: "share of sunshine", low: 0, high: 1, shown: 100, unit: "%"},
	dayCloudCover:  {name: "cloud cover", low: 0, high: 1, shown: 10, unit: "tenths"},
	dayRain:        {name: "rain", low: 0, high: 2000, shown: 1, unit: "mm"}, // record 1,825 mm, from memory
	dayRainHours:   {name: "duration of rain", low: 0, high: 24, shown: 1, unit: "h"},
	daySnowDepth:   {name: "snow depth", low: 0, high: 30, shown: 100, unit: "cm"},
}

// value returns where a day keeps a quantity.
func (d *Day) value(f int) *float64 {
	return [dayFieldCount]*float64{&d.TempMax, &d.TempMin, &d.DewPoint, &d.RelHumidity, &d.Pressure, &d.WindSpeed, &d.WindFrom,
		&d.Radiation, &d.SunHours, &d.SunShare, &d.CloudCover, &d.Rain, &d.RainHours, &d.SnowDepth}[f]
}

func noDay() Day {
	n := math.NaN()
	return Day{n, n, n, n, n, n, n, n, n, n, n, n, n, n}
}

// dayReading is one value of one day before the days are laid out.
type dayReading struct {
	day   int32 // days since 1970
	line  int32
	field int32
	value float64
}

// dayReader gathers readings; its table counts the bad rows.
type dayReader struct {
	table
	readings []dayReading
	station  string // identifier in the rows
}

const daySeconds = 86400

// dayOf returns the number of a date, and whether there is such a date between
// 1700 and 2200.
func dayOf(year, month, dayOfMonth int) (int32, bool) {
	if year < 1700 || year >= 2200 || month < 1 || month > 12 || dayOfMonth < 1 || dayOfMonth > daysOfMonth(year, month) {
		return 0, false
	}
	return int32(time.Date(year, time.Month(month), dayOfMonth, 0, 0, 0, 0, time.UTC).Unix() / daySeconds), true
}

func dateOf(number int32) time.Time { return time.Unix(int64(number)*daySeconds, 0).UTC() }

// add takes a reading, unless it is impossible.
func (r *dayReader) add(line int, number int32, field int, value float64) {
	l := &dayFields[field]
	if value < l.low || value > l.high {
		r.repair(line, l.name, fmt.Sprintf("%.4g %s on %s", value*l.shown, l.unit, dateOf(number).Format(time.DateOnly)),
			fmt.Sprintf("impossible (possible: %.4g to %.4g %s), treated as missing", l.low*l.shown, l.high*l.shown, l.unit))
		value = math.NaN()
	}
	r.readings = append(r.readings, dayReading{number, int32(line), int32(field), value})
}

// sameStation refuses rows of a second station.
func (r *dayReader) sameStation(line int, id string) error {
	if r.station == "" {
		r.station = id
	}
	if id != r.station {
		return &FileError{File: r.file, Line: line, Field: "station", Found: fmt.Sprintf("%q after %q", id, r.station), Accepted: "the rows of one station"}
	}
	return nil
}

// days lays the readings on consecutive days. Of two readings of the same
// quantity and day the first counts.
func (r *dayReader) days() (*Daily, error) {
	if err := r.checkBadRows(); err != nil {
		return nil, err
	}
	if len(r.readings) == 0 {
		return nil, &FileError{File: r.file, Found: "no value of a day", Accepted: "a daily record with highest and lowest temperatures"}
	}
	first, last := r.readings[0].day, r.readings[0].day
	latest, unordered := [dayFieldCount]int32{}, 0
	for i := range latest {
		latest[i] = math.MinInt32
	}
	unorderedLine := 0
	for _, v := range r.readings {
		first, last = min(first, v.day), max(last, v.day)
		if v.day < latest[v.field] {
			if unordered++; unordered == 1 {
				unorderedLine = int(v.line)
			}
		}
		latest[v.field] = max(latest[v.field], v.day)
	}
	if unordered > 0 {
		r.repair(unorderedLine, "date", fmt.Sprintf("%d values after those of a later day", unordered), "sorted into their place")
	}
	n := int(last-first) + 1
	d := &Daily{Days: make([]Day, n), line: make([]int32, n), file: r.file}
	for i := range d.Days {
		d.Days[i] = noDay()
	}
	given := make([][dayFieldCount]bool, n)
	again := map[int32]int{} // by line
	for _, v := range r.readings {
		i := v.day - first
		if d.line[i] == 0 {
			d.line[i] = v.line
		}
		if given[i][v.field] {
			if again[v.line]++; again[v.line] == 1 {
				r.badRow(int(v.line), dayFields[v.field].name, fmt.Sprintf("a second value for %s", dateOf(v.day).Format(time.DateOnly)), "left out")
			}
			continue
		}
		given[i][v.field] = true
		*d.Days[i].value(int(v.field)) = v.value
	}
	if err := r.checkBadRows(); err != nil {
		return nil, err
	}
	for i := range d.Days {
		day := &d.Days[i]
		if day.TempMin > day.TempMax {
			r.repair(int(d.line[i]), "lowest temperature", fmt.Sprintf("%.1f °C above the highest, %.1f °C, on %s", day.TempMin, day.TempMax, dateOf(first+int32(i)).Format(time.DateOnly)), "both treated as missing")
			day.TempMin, day.TempMax = math.NaN(), math.NaN()
		}
	}
	d.Start = dateOf(first)
	d.Repairs = r.series.Repairs
	sortRepairs(d.Repairs)
	return d, nil
}

// sortRepairs brings notes into file order, those of the whole file last.
func sortRepairs(repairs []Repair) {
	slices.SortStableFunc(repairs, func(a, b Repair) int {
		switch {
		case a.Line == b.Line:
			return 0
		case a.Line == 0 || b.Line != 0 && a.Line > b.Line:
			return 1
		}
		return -1
	})
}

// place sets the station of a record, and its days into the zone.
func (d *Daily) place(at Station) {
	d.Station = at
	y, m, day := d.Start.Date()
	d.Start = time.Date(y, m, day, 0, 0, 0, 0, fixedZone(at.Zone))
}

// zoneByLongitude is the whole hour nearest to the sun's time.
func zoneByLongitude(longitude float64) time.Duration {
	return time.Duration(math.Round(longitude/15)) * time.Hour
}

// Window returns the days from the one that holds the first instant to the one
// that ends with or holds the last, sharing them with d. The error names the
// dates that d has.
func (d *Daily) Window(from, to time.Time) (*Daily, error) {
	if !from.Before(to) || from.Before(d.Start) || to.After(d.End()) {
		return nil, fmt.Errorf("daily weather %s has %s to %s, not all of %s to %s", d.Name,
			d.Start.Format(time.DateOnly), d.End().AddDate(0, 0, -1).Format(time.DateOnly), from.Format(time.DateOnly), to.Format(time.DateOnly))
	}
	i := int(from.Sub(d.Start) / (24 * time.Hour))
	end := int((to.Sub(d.Start) + 24*time.Hour - 1) / (24 * time.Hour))
	return d.part(i, end), nil
}

func (d *Daily) part(from, to int) *Daily {
	w := *d
	w.Start = d.Start.AddDate(0, 0, from)
	w.Days = d.Days[from:to:to]
	w.line = nil
	if d.line != nil {
		w.line = d.line[from:to:to]
	}
	w.Repairs = slices.Clone(d.Repairs)
	return &w
}

// Unbroken returns the longest stretch of days without a gap in the
// temperatures of more than three days, which [Daily.Hourly] would refuse, and
// beginning and ending with a day that has both. Of equal stretches the first.
// It has no days when no day has both temperatures.
func (d *Daily) Unbroken() *Daily {
	bestFrom, bestTo := 0, 0
	from, last := -1, -1
	for i := range d.Days {
		if math.IsNaN(d.Days[i].TempMax) || math.IsNaN(d.Days[i].TempMin) {
			continue
		}
		if from < 0 || i-last-1 > longestDayGap {
			from = i
		}
		last = i
		if last+1-from > bestTo-bestFrom {
			bestFrom, bestTo = from, last+1
		}
	}
	w := d.part(bestFrom, bestTo)
	if left := len(d.Days) - len(w.Days); left > 0 {
		w.Repairs = append(w.Repairs, Repair{Field: "date", Found: fmt.Sprintf("%d of %d days outside the longest unbroken stretch", left, len(d.Days)), Done: "left out"})
	}
	return w
}

// lineOf names the line of day i in a message, 0 when it has none.
func (d *Daily) lineOf(i int) int {
	for ; i >= 0 && d.line != nil; i-- {
		if d.line[i] > 0 {
			return int(d.line[i])
		}
	}
	return 0
}

func fixedInt(b []byte) (int, bool) {
	b = trim(b)
	v, err := strconv.Atoi(string(b))
	return v, err == nil
}
