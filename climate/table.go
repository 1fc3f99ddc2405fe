package climate

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"time"

	"hackle/air"
)

// quantities of the working table, in the order in which they are worked on.
const (
	tempAir = iota
	dewPoint
	relHumidity
	pressure
	windSpeed
	windFrom
	globalHorizontal
	directNormal
	diffuseHorizontal
	skyLongWave
	cloudCover
	rain
	snowDepth
	fieldCount
)

// limits of what a value can be.
type limits struct {
	name     string
	low      float64 // below it the value is impossible
	high     float64 // above it the value is impossible
	setLow   float64 // possible values below it are set to it
	setHigh  float64 // possible values above it are set to it
	shown    float64 // factor from the table's unit to the one of messages
	unit     string  // unit of messages
	needed   bool    // gaps are filled by interpolation or refused
	circular bool    // an angle
}

// fields states the limits; the package comment repeats those that readers of
// the documentation need.
var fields = [fieldCount]limits{
	tempAir:           {name: "air temperature", low: -90, high: 60, setLow: -90, setHigh: 60, shown: 1, unit: "°C", needed: true},
	dewPoint:          {name: "dew point", low: -110, high: 45, setLow: -110, setHigh: 45, shown: 1, unit: "°C"},
	relHumidity:       {name: "relative humidity", low: 0, high: 1.1, setLow: 0.01, setHigh: 1, shown: 100, unit: "%", needed: true},
	pressure:          {name: "station pressure", low: 45000, high: 110000, setLow: 45000, setHigh: 110000, shown: 1, unit: "Pa", needed: true},
	windSpeed:         {name: "wind speed", low: 0, high: 75, setLow: 0, setHigh: 75, shown: 1, unit: "m/s", needed: true},
	windFrom:          {name: "wind direction", low: 0, high: 360, setLow: 0, setHigh: 360, shown: 1, unit: "deg", needed: true, circular: true},
	globalHorizontal:  {name: "global horizontal radiation", low: -20, high: 1500, setLow: 0, setHigh: 1500, shown: 1, unit: "W/m²"},
	directNormal:      {name: "direct normal radiation", low: -20, high: 1500, setLow: 0, setHigh: 1500, shown: 1, unit: "W/m²"},
	diffuseHorizontal: {name: "diffuse horizontal radiation", low: -20, high: 1500, setLow: 0, setHigh: 1500, shown: 1, unit: "W/m²"},
	skyLongWave:       {name: "sky long wave", low: 40, high: 700, setLow: 40, setHigh: 700, shown: 1, unit: "W/m²"},
	cloudCover:        {name: "cloud cover", low: 0, high: 1, setLow: 0, setHigh: 1, shown: 10, unit: "tenths"},
	rain:              {name: "rain", low: 0, high: 500, setLow: 0, setHigh: 500, shown: 1, unit: "mm"},
	snowDepth:         {name: "snow depth", low: 0, high: 30, setLow: 0, setHigh: 30, shown: 100, unit: "cm"},
}

const (
	// longestGap is the longest gap that is bridged [h]. Common practice, no source.
	longestGap = 6
	// mostMissing is the largest share of missing hours, or of bad rows, that a
	// file may have [-]. Common practice, no source.
	mostMissing = 0.02
	// knownShare is the share of hours that makes rain or snow known [-].
	knownShare = 0.95
	// mostHours bounds the working table: 200 years.
	mostHours = 200 * 8784
)

// noSun tells what to do where a file has no global radiation at all.
type noSun int

const (
	refuseNoSun noSun = iota
	overcast
	dailyRange
	fromClouds
)

// table is the weather of consecutive hours while a reader works on it. A
// missing value is NaN.
type table struct {
	file    string
	series  Series
	n       int
	line    []int32 // line of the file that gave the hour, 0 when none did
	column  [fieldCount][]float64
	noSun   noSun
	bad     int     // rows that could not be used
	rows    int     // rows read
	badLine int     // the first bad row
	years   [13]int // of a typical year: the year that each month came from
}

func (t *table) repair(line int, field, found, done string) {
	t.series.Repairs = append(t.series.Repairs, Repair{Line: line, Field: field, Found: found, Done: done})
}

// grow adds n hours without values.
func (t *table) grow(n int) {
	for f := range t.column {
		t.column[f] = slices.Grow(t.column[f], n)
		for range n {
			t.column[f] = append(t.column[f], math.NaN())
		}
	}
	for range n {
		t.line = append(t.line, 0)
	}
	t.n += n
}

// badRow counts a row that cannot be used, and reports it.
func (t *table) badRow(line int, field, found, done string) {
	t.bad++
	if t.badLine == 0 {
		t.badLine = line
	}
	t.repair(line, field, found, done)
}

// checkBadRows refuses the file when too many of its rows are bad.
func (t *table) checkBadRows() error {
	if t.bad == 0 || float64(t.bad) <= mostMissing*float64(t.rows) {
		return nil
	}
	first := t.series.Repairs[len(t.series.Repairs)-1]
	for _, r := range t.series.Repairs {
		if r.Line == t.badLine {
			first = r
			break
		}
	}
	return &FileError{File: t.file, Line: t.badLine, Field: first.Field,
		Found:    fmt.Sprintf("%s; %d of %d rows cannot be used", first.Found, t.bad, t.rows),
		Accepted: fmt.Sprintf("at most %g %% bad rows", 100*mostMissing)}
}

// at names hour i for a message.
func (t *table) at(i int) string {
	when := t.series.Start.Add(time.Duration(i) * time.Hour)
	if t.series.Typical {
		return when.Format("2 January 15:04")
	}
	return when.Format("2006-01-02 15:04")
}

// lineNear gives the line of hour i, or of the last hour before it that a line
// gave.
func (t *table) lineNear(i int) int {
	for ; i >= 0; i-- {
		if t.line[i] > 0 {
			return int(t.line[i])
		}
	}
	return 0
}

// finish turns the table into a Series by the rules of the package comment.
func (t *table) finish() (*Series, error) {
	if t.n == 0 {
		return nil, &FileError{File: t.file, Found: "no hour of weather", Accepted: "at least one hour"}
	}
	t.screen()
	t.humidity()
	t.standardPressure()
	for f := range fields {
		if !fields[f].needed {
			continue
		}
		if err := t.bridge(f, t.column[f]); err != nil {
			return nil, err
		}
	}
	if err := t.radiation(); err != nil {
		return nil, err
	}
	t.longWave()
	t.series.HasRain = t.zeroUnknown(rain)
	t.series.HasSnow = t.zeroUnknown(snowDepth)

	s := t.series
	s.Hours = make([]Hour, t.n)
	for i := range s.Hours {
		from := t.column[windFrom][i]
		if from >= 360 {
			from -= 360
		}
		s.Hours[i] = Hour{
			TempAir:           t.column[tempAir][i],
			RelHumidity:       t.column[relHumidity][i],
			Pressure:          t.column[pressure][i],
			WindSpeed:         t.column[windSpeed][i],
			WindFrom:          from,
			GlobalHorizontal:  t.column[globalHorizontal][i],
			DirectNormal:      t.column[directNormal][i],
			DiffuseHorizontal: t.column[diffuseHorizontal][i],
			SkyLongWave:       t.column[skyLongWave][i],
			Rain:              t.column[rain][i],
			SnowDepth:         t.column[snowDepth][i],
		}
	}
	if s.Typical {
		s.noteJoins(t.years)
	}
	s.checkNoon(t.noSun != refuseNoSun)
	sort.SliceStable(s.Repairs, func(i, j int) bool { // in file order, the whole file last
		a, b := s.Repairs[i].Line, s.Repairs[j].Line
		return a != b && a > 0 && (b == 0 || a < b)
	})
	return &s, nil
}

// screen drops impossible values and sets those just outside the usual range.
func (t *table) screen() {
	for f := range fields {
		l := &fields[f]
		col := t.column[f]
		set, setLine, setValue := 0, 0, 0.0
		for i, v := range col {
			switch {
			case math.IsNaN(v):
			case v < l.low || v > l.high:
				col[i] = math.NaN()
				t.repair(t.lineNear(i), l.name, fmt.Sprintf("%.4g %s at %s", v*l.shown, l.unit, t.at(i)),
					fmt.Sprintf("impossible (possible: %.4g to %.4g %s), treated as missing", l.low*l.shown, l.high*l.shown, l.unit))
			case v < l.setLow || v > l.setHigh:
				if set == 0 {
					setLine, setValue = t.lineNear(i), v
				}
				set++
				col[i] = min(max(v, l.setLow), l.setHigh)
			}
		}
		if set > 0 {
			t.repair(setLine, l.name, fmt.Sprintf("%.4g %s and %d more like it", setValue*l.shown, l.unit, set-1),
				fmt.Sprintf("set to the nearest of %.4g and %.4g %s", l.setLow*l.shown, l.setHigh*l.shown, l.unit))
		}
	}
}

// disagreeing is how far the relative humidity of a row may lie from the one of
// its dew point before that is worth a note [-].
const disagreeing = 0.03

// humidity computes relative humidity from the dew point where there is one. A
// station measures the dew point and computes the rest, to whole per cent; and in
// parts of the typical years of the United States the relative humidity of frost
// hours is that over ice, though the dew point is not (found by comparing them).
func (t *table) humidity() {
	rh, td, ta := t.column[relHumidity], t.column[dewPoint], t.column[tempAir]
	computed, firstComputed, apart, firstApart := 0, 0, 0, 0
	for i := range rh {
		if math.IsNaN(td[i]) || math.IsNaN(ta[i]) {
			continue
		}
		v := min(max(air.SaturationPressureLiquid(td[i])/air.SaturationPressureLiquid(ta[i]), fields[relHumidity].setLow), 1)
		switch {
		case math.IsNaN(rh[i]):
			if computed++; computed == 1 {
				firstComputed = i
			}
		case math.Abs(v-rh[i]) > disagreeing:
			if apart++; apart == 1 {
				firstApart = i
			}
		}
		rh[i] = v
	}
	if computed > 0 {
		t.repair(t.lineNear(firstComputed), fields[relHumidity].name, fmt.Sprintf("missing in %d of %d hours", computed, t.n),
			"computed from temperature and dew point")
	}
	if apart > 0 {
		t.repair(t.lineNear(firstApart), fields[relHumidity].name, fmt.Sprintf("more than %.0f %% from that of the dew point in %d of %d hours", 100*disagreeing, apart, t.n),
			"the dew point used")
	}
}

// standardPressure fills a pressure that no row has.
func (t *table) standardPressure() {
	col := t.column[pressure]
	for _, v := range col {
		if !math.IsNaN(v) {
			return
		}
	}
	p := StandardPressure(t.series.Height)
	for i := range col {
		col[i] = p
	}
	t.repair(0, fields[pressure].name, "missing on every line",
		fmt.Sprintf("standard atmosphere at %.0f m: %.0f Pa", t.series.Height, p))
}

// bridge fills the gaps of a column, or refuses them.
func (t *table) bridge(f int, col []float64) error {
	l := &fields[f]
	missing, firstMissing := 0, -1
	for i, v := range col {
		if math.IsNaN(v) {
			if missing == 0 {
				firstMissing = i
			}
			missing++
		}
	}
	if missing == 0 {
		return nil
	}
	if missing == len(col) {
		return &FileError{File: t.file, Line: t.lineNear(firstMissing), Field: l.name,
			Found: "missing on every line", Accepted: "a value in at least 98 % of the hours"}
	}
	for i := 0; i < len(col); i++ {
		if !math.IsNaN(col[i]) {
			continue
		}
		end := i
		for end < len(col) && math.IsNaN(col[end]) {
			end++
		}
		if end-i > longestGap {
			return &FileError{File: t.file, Line: t.lineNear(i), Field: l.name,
				Found:    fmt.Sprintf("%d h missing from %s", end-i, t.at(i)),
				Accepted: fmt.Sprintf("gaps of at most %d h", longestGap)}
		}
		i = end
	}
	if float64(missing) > mostMissing*float64(len(col)) {
		return &FileError{File: t.file, Line: t.lineNear(firstMissing), Field: l.name,
			Found:    fmt.Sprintf("missing in %d of %d hours, first at %s", missing, len(col), t.at(firstMissing)),
			Accepted: fmt.Sprintf("at most %g %% of the hours missing", 100*mostMissing)}
	}
	for i := 0; i < len(col); i++ {
		if !math.IsNaN(col[i]) {
			continue
		}
		end := i
		for end < len(col) && math.IsNaN(col[end]) {
			end++
		}
		done := "interpolated"
		switch {
		case i == 0:
			done = "set to the first value"
			for j := i; j < end; j++ {
				col[j] = col[end]
			}
		case end == len(col):
			done = "set to the last value"
			for j := i; j < end; j++ {
				col[j] = col[i-1]
			}
		default:
			step := col[end] - col[i-1]
			if l.circular {
				step = math.Remainder(step, 360)
			}
			from, steps := col[i-1], float64(end-i+1)
			for j := i; j < end; j++ {
				v := from + step*float64(j-i+1)/steps
				if l.circular {
					v = math.Mod(v+360, 360)
				}
				col[j] = v
			}
		}
		t.repair(t.lineNear(i), l.name, fmt.Sprintf("missing for %d h from %s", end-i, t.at(i)), done)
		i = end
	}
	return nil
}

// zeroUnknown sets unknown values to zero and tells whether enough are known.
func (t *table) zeroUnknown(f int) bool {
	col := t.column[f]
	missing := 0
	for i, v := range col {
		if math.IsNaN(v) {
			missing++
			col[i] = 0
		}
	}
	if missing > 0 {
		t.repair(0, fields[f].name, fmt.Sprintf("missing in %d of %d hours", missing, len(col)), "taken as 0 there")
	}
	return float64(len(col)-missing) >= knownShare*float64(len(col))
}
