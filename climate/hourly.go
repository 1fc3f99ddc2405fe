package climate

import (
	"fmt"
	"math"
	"slices"
	"time"

	"hackle/air"
	"hackle/sun"
)

// longestDayGap is the longest gap of the daily temperatures that is bridged
// [d]. Common practice, no source.
const longestDayGap = 3

// Assumptions fill what a daily record lacks altogether. The zero value takes
// the stated defaults; what was assumed stands in the Repairs.
type Assumptions struct {
	WindSpeed float64  // 0 for 3 m/s (common practice, no source) [m/s]
	WindFrom  *float64 // nil for 270 (common practice, no source) [deg]
}

const (
	assumedWind = 3.0   // [m/s]
	assumedFrom = 270.0 // [deg]
)

// Constants of the hourly course of a day.
const (
	// maxAfterNoon is how long after the sun's transit the air is warmest [h], and
	// nightFall how many time constants of cooling a night holds [-]: "A model for
	// diurnal variation in soil and air temperature" (Agricultural Meteorology 23,
	// 1981, DOI 10.1016/0002-1571(81)90105-9), a and b at 1.5 m, from memory.
	maxAfterNoon = 1.86
	nightFall    = 2.20
	// dayNightWind is the mean wind by day over that by night [-]: FAO Irrigation
	// and Drainage Paper 24 (1977), general ratio of 2, from memory.
	dayNightWind = 2.0
	// Sunshine and radiation: global over extraterrestrial is angstromA +
	// angstromB n/N, FAO Irrigation and Drainage Paper 56, equation 35; a clear
	// day, equation 37; the temperature range, equation 50, inland. From memory.
	angstromA   = 0.25
	angstromB   = 0.50
	clearRise   = 2e-5 // [1/m]
	rangeInland = 0.16 // [K^-1/2]
)

// Hourly makes hours of the days, for use where no hourly record is at hand:
//
//   - Temperature is lowest at sunrise and highest 1.86 h after the sun's transit,
//     a sine in between by day, an exponential fall from sunset to the next
//     sunrise with a time constant of the night over 2.2: "A model for diurnal
//     variation in soil and air temperature" (Agricultural Meteorology 23, 1981,
//     DOI 10.1016/0002-1571(81)90105-9), with the fall made to end at the next
//     day's lowest. Days shorter than 4 h and longer than 20 h count as such.
//   - Vapour pressure runs straight from one day's noon to the next. A day's is
//     that of its dew point; else the one that gives its mean relative humidity
//     over its hourly temperatures; else, where the rain of a year is known, by
//     "An improved method for estimating surface humidity from daily minimum
//     temperature" (Agricultural and Forest Meteorology 85, 1997, DOI
//     10.1016/S0168-1923(96)02366-0), with evaporation by Hargreaves (FAO
//     Irrigation and Drainage Paper 56, equation 52) and never above saturation
//     at the lowest temperature; else that saturation (equation 48 there), over
//     ice in frost. In deserts the last is several times too humid.
//   - Radiation of a day is the measured one; else from sunshine (Angstrom-Prescott);
//     else from the range of temperature (Hargreaves), FAO Irrigation and Drainage Paper 56,
//     equations 35, 37 and 50. The hours share it by "The average distribution of
//     solar radiation" (Solar Energy 22, 1979, DOI 10.1016/0038-092X(79)90100-2).
//     Direct and diffuse are split by Erbs, as in any file.
//   - Wind by day is twice that by night, rising and falling as half a sine.
//   - Rain falls evenly over its known duration about the middle of the day, else
//     over the whole day. Snow depth holds for the day.
//
// The days' extremes, vapour, radiation, wind and rain come back from the hours
// as far as a course at full hours can; the shape of a single day is a guess. Gaps of at most three
// days in the temperatures are bridged; a longer one, or more than 2 % of the
// days, refuses the record (see [Daily.Unbroken]). Other gaps take the rule for
// what is not known; wind takes the mean of its calendar month where that is
// known. All of it is told in the Repairs.
//
// Equations from memory.
func (d *Daily) Hourly(a Assumptions) (*Series, error) {
	if len(d.Days) == 0 {
		return nil, &FileError{File: d.file, Found: "no day with a highest and a lowest temperature", Accepted: "a daily record with both"}
	}
	w := &dayWork{daily: d, days: slices.Clone(d.Days)}
	w.file = d.file
	w.series = Series{
		Name: d.Name, Latitude: d.Latitude, Longitude: d.Longitude, Height: d.Height, Zone: zoneOf(d.Start),
		Start: d.Start, MidOffset: 30 * time.Minute, Source: d.Source, Repairs: slices.Clone(d.Repairs),
	}
	for _, f := range []int{dayTempMax, dayTempMin} {
		if err := w.bridgeDays(f); err != nil {
			return nil, err
		}
	}
	w.grow(24 * len(w.days))
	for i := range w.days {
		for h := range 24 {
			w.line[24*i+h] = int32(d.lineOf(i))
		}
	}
	w.courses()
	w.temperature()
	w.vapour()
	w.daysRadiation()
	w.wind(a)
	w.weather()
	s, err := w.finish()
	if err != nil {
		return nil, fmt.Errorf("hours of the daily record: %w", err)
	}
	return s, nil
}

func zoneOf(t time.Time) time.Duration {
	_, offset := t.Zone()
	return time.Duration(offset) * time.Second
}

// dayWork is a table under work with the days that it is made from.
type dayWork struct {
	table
	daily *Daily
	days  []Day
	sun   []dayCourse
}

// dayCourse is what the sun does on a day; hours count from the first hour of
// the series.
type dayCourse struct {
	rise, noon, set float64 // [h]
	length          float64 // between them [h]
	extra           float64 // radiation outside the air on the horizontal [J/m²]
	sunset          float64 // hour angle, 0 to 180 [deg]
}

func (w *dayWork) courses() {
	w.sun = make([]dayCourse, len(w.days))
	for i := range w.days {
		middle := w.daily.Start.Add(time.Duration(24*i+12) * time.Hour)
		e := sun.At(middle)
		c := &w.sun[i]
		angle := sun.SunsetHourAngle(w.daily.Latitude, e.Declination)
		if !(angle >= 0) { // no sunset or no sunrise
			angle = 0
			if w.daily.Latitude*e.Declination > 0 {
				angle = 180
			}
		}
		c.sunset = angle
		c.extra = max(sun.ExtraterrestrialDaily(e.Extraterrestrial(), w.daily.Latitude, e.Declination), 0)
		c.noon = float64(24*i) + 12 - math.Remainder(e.HourAngle(w.daily.Longitude), 360)/15
		c.length = min(max(2*angle/15, 4), 20)
		c.rise, c.set = c.noon-c.length/2, c.noon+c.length/2
	}
}

// bridgeDays fills short gaps of a daily temperature.
func (w *dayWork) bridgeDays(f int) error {
	missing := 0
	for i := 0; i < len(w.days); i++ {
		if !math.IsNaN(*w.days[i].value(f)) {
			continue
		}
		end := i
		for end < len(w.days) && math.IsNaN(*w.days[end].value(f)) {
			end++
		}
		gap := end - i
		missing += gap
		at := w.daily.Start.AddDate(0, 0, i).Format(time.DateOnly)
		if gap > longestDayGap || gap == len(w.days) {
			return &FileError{File: w.file, Line: w.daily.lineOf(i), Field: dayFields[f].name, Found: fmt.Sprintf("%d days missing from %s", gap, at),
				Accepted: fmt.Sprintf("gaps of at most %d days", longestDayGap)}
		}
		before, after, done := 0.0, 0.0, "interpolated"
		switch {
		case i == 0:
			after = *w.days[end].value(f)
			before, done = after, "set to the first value"
		case end == len(w.days):
			before = *w.days[i-1].value(f)
			after, done = before, "set to the last value"
		default:
			before, after = *w.days[i-1].value(f), *w.days[end].value(f)
		}
		for j := i; j < end; j++ {
			*w.days[j].value(f) = before + (after-before)*float64(j-i+1)/float64(gap+1)
		}
		w.repair(w.daily.lineOf(i), dayFields[f].name, fmt.Sprintf("missing for %d d from %s", gap, at), done)
		i = end
	}
	if float64(missing) > mostMissing*float64(len(w.days)) {
		return &FileError{File: w.file, Field: dayFields[f].name, Found: fmt.Sprintf("missing on %d of %d days", missing, len(w.days)),
			Accepted: fmt.Sprintf("at most %g %% of the days missing", 100*mostMissing)}
	}
	return nil
}

// temperature lays the daily course.
func (w *dayWork) temperature() {
	n := len(w.days)
	// byDay is the sine between a day's sunrise and sunset.
	byDay := func(i int, at float64) float64 {
		c, d := &w.sun[i], &w.days[i]
		return d.TempMin + (d.TempMax-d.TempMin)*math.Sin(math.Pi*(at-c.rise)/(c.length+2*maxAfterNoon))
	}
	// byNight falls from the sunset of day i, the last before at, to the next sunrise.
	byNight := func(i int, at float64) float64 {
		begin, end := max(i, 0), min(i+1, n-1)
		c := &w.sun[begin]
		night := 24 - (c.length+w.sun[end].length)/2
		decay := night / nightFall
		passed := at - (c.set + float64(24*(i-begin)))
		from, to := byDay(begin, c.set), w.days[end].TempMin
		rest := math.Exp(-nightFall)
		return (to - from*rest + (from-to)*math.Exp(-passed/decay)) / (1 - rest)
	}
	for h := range w.n {
		at := float64(h) + 0.5
		i := h / 24
		switch c := &w.sun[i]; {
		case at < c.rise:
			w.column[tempAir][h] = byNight(i-1, at)
		case at <= c.set:
			w.column[tempAir][h] = byDay(i, at)
		default:
			w.column[tempAir][h] = byNight(i, at)
		}
	}
	w.repair(0, fields[tempAir].name, "two values a day", "sine by day, exponential fall by night")
}

// vapour sets the relative humidity of the hours.
func (w *dayWork) vapour() {
	pv := make([]float64, len(w.days))
	var from [4]int
	yearly, yearKnown := w.yearsRain()
	for i := range w.days {
		d := &w.days[i]
		switch {
		case !math.IsNaN(d.DewPoint):
			pv[i] = air.SaturationPressureLiquid(d.DewPoint)
			from[0]++
		case !math.IsNaN(d.RelHumidity):
			// The mean of pv/psat is the day's humidity.
			sum := 0.0
			for h := range 24 {
				sum += 1 / air.SaturationPressureLiquid(w.column[tempAir][24*i+h]) / 24
			}
			pv[i] = d.RelHumidity / sum
			from[1]++
		case yearKnown:
			dew := dewPointFromLowest(d.TempMin, d.TempMax, w.evaporation(i)/yearly)
			pv[i] = min(air.SaturationPressureLiquid(dew), air.SaturationPressure(d.TempMin))
			from[2]++
		default:
			pv[i] = air.SaturationPressure(d.TempMin)
			from[3]++
		}
	}
	for h := range w.n {
		x := (float64(h) + 0.5 - 12) / 24
		i := int(math.Floor(x))
		x -= float64(i)
		v := pv[max(i, 0)]*(1-x) + pv[min(i+1, len(pv)-1)]*x
		w.column[relHumidity][h] = min(max(v/air.SaturationPressureLiquid(w.column[tempAir][h]), 0.01), 1)
	}
	for k, how := range []string{"from the mean dew point", "from the mean relative humidity",
		"from the lowest temperature, the evaporation and a year's rain", "saturated at the lowest temperature: too humid in dry country"} {
		if from[k] > 0 {
			w.repair(0, fields[relHumidity].name, fmt.Sprintf("no hourly values on %d of %d days", from[k], len(w.days)), "vapour pressure "+how)
		}
	}
}

// dewPointFromLowest returns the mean dew point of a day [°C] from its lowest
// and highest temperatures [°C] and its evaporation over a year's rain [-]
// (which counts as 0.1 above that), by the relation of 1997 that
// [Daily.Hourly] names, from memory:
//
//	Td = Tmin (-0.127 + 1.121 (1.003 - 1.444 E + 12.312 E² - 32.766 E³) + 0.0006 (Tmax - Tmin)), in kelvin
func dewPointFromLowest(lowest, highest, e float64) float64 {
	e = min(max(e, 0), 0.1)
	lowestK := lowest + 273.15
	return lowestK*(-0.127+1.121*(1.003+e*(-1.444+e*(12.312-32.766*e)))+0.0006*(highest-lowest)) - 273.15
}

// yearsRain returns the mean rain of a year [mm] over the days that know it, and
// whether those make up a year.
func (w *dayWork) yearsRain() (float64, bool) {
	fallen, days := 0.0, 0
	for i := range w.days {
		if v := w.days[i].Rain; !math.IsNaN(v) {
			fallen += v
			days++
		}
	}
	return fallen * 365.25 / float64(days), days >= 365 && fallen > 0
}

// evaporation returns the reference evaporation of day i [mm] by Hargreaves, FAO
// Irrigation and Drainage Paper 56, equation 52, from memory.
func (w *dayWork) evaporation(i int) float64 {
	d := &w.days[i]
	return max(0.0023*((d.TempMax+d.TempMin)/2+17.8)*math.Sqrt(max(d.TempMax-d.TempMin, 0))*0.408*w.sun[i].extra/1e6, 0)
}

// daysRadiation shares out each day's radiation.
func (w *dayWork) daysRadiation() {
	var from [3]int
	for i := range w.days {
		d, c := &w.days[i], &w.sun[i]
		clear := (angstromA + angstromB + clearRise*w.daily.Height) * c.extra
		energy := d.Radiation
		if energy > c.extra && energy > 1e5 { // the darkest winter days hold nothing to judge by
			w.repair(w.daily.lineOf(i), dayFields[dayRadiation].name, fmt.Sprintf("%.1f MJ/m² on %s, more than outside the air", energy/1e6, w.daily.Start.AddDate(0, 0, i).Format(time.DateOnly)), "treated as missing")
			energy = math.NaN()
		}
		share := d.SunShare
		if !math.IsNaN(d.SunHours) && c.sunset > 0 {
			share = min(d.SunHours/(2*c.sunset/15), 1)
		}
		switch {
		case !math.IsNaN(energy):
			from[0]++
		case !math.IsNaN(share):
			energy = (angstromA + angstromB*share) * c.extra
			from[1]++
		default:
			energy = min(rangeInland*math.Sqrt(max(d.TempMax-d.TempMin, 0))*c.extra, clear)
			from[2]++
		}
		if math.IsNaN(energy) {
			energy = 0
		}
		w.shareOut(i, energy)
	}
	for k, how := range []string{"the day's measured radiation shared out over the hours", "from sunshine (Angstrom-Prescott)", "estimated from the day's range of temperature (Hargreaves): single days may be far off"} {
		if from[k] > 0 {
			w.repair(0, fields[globalHorizontal].name, fmt.Sprintf("no hourly values on %d of %d days", from[k], len(w.days)), how)
		}
	}
	for i := range w.days {
		if v := w.days[i].CloudCover; !math.IsNaN(v) {
			for h := range 24 {
				w.column[cloudCover][24*i+h] = v
			}
		}
	}
}

// shareOut gives the hours of day i their part of its energy [J/m²].
func (w *dayWork) shareOut(i int, energy float64) {
	c := &w.sun[i]
	hours := w.column[globalHorizontal][24*i : 24*i+24]
	shift := math.Sin((c.sunset - 60) * math.Pi / 180)
	a, b := 0.409+0.5016*shift, 0.6609-0.4767*shift
	cosSet := math.Cos(c.sunset * math.Pi / 180)
	const parts = 6 // of an hour, since the sun rises within one
	total := 0.0
	for h := range hours {
		sum := 0.0
		for k := range parts {
			angle := math.Remainder(15*(float64(24*i+h)+(float64(k)+0.5)/parts-c.noon), 360)
			if math.Abs(angle) < c.sunset {
				cos := math.Cos(angle * math.Pi / 180)
				sum += max((a+b*cos)*(cos-cosSet), 0) / parts
			}
		}
		hours[h] = sum
		total += sum
	}
	for h := range hours {
		if total > 0 {
			hours[h] *= energy / 3600 / total
		} else {
			hours[h] = 0
		}
	}
}

// wind shares out each day's wind.
func (w *dayWork) wind(a Assumptions) {
	speed, from := a.WindSpeed, assumedFrom
	if speed <= 0 {
		speed = assumedWind
	}
	if a.WindFrom != nil {
		from = math.Mod(math.Mod(*a.WindFrom, 360)+360, 360)
	}
	var sum [13]float64
	var known [13]int
	for i := range w.days {
		if v := w.days[i].WindSpeed; !math.IsNaN(v) {
			month := w.daily.Start.AddDate(0, 0, i).Month()
			sum[month] += v
			known[month]++
		}
	}
	monthly, assumed, unturned := 0, 0, 0
	lastFrom := math.NaN()
	for i := range w.days {
		if v := w.days[i].WindFrom; !math.IsNaN(v) {
			lastFrom = v
			break
		}
	}
	for i := range w.days {
		d, c := &w.days[i], &w.sun[i]
		mean := d.WindSpeed
		if math.IsNaN(mean) {
			if month := w.daily.Start.AddDate(0, 0, i).Month(); known[month] > 0 {
				mean = sum[month] / float64(known[month])
				monthly++
			} else {
				mean = speed
				assumed++
			}
		}
		share := c.length / 24
		night := mean / (1 + (dayNightWind-1)*share)
		rise := (dayNightWind - 1) * night * math.Pi / 2
		total := 0.0
		hours := w.column[windSpeed][24*i : 24*i+24]
		for h := range hours {
			hours[h] = night
			if at := float64(24*i+h) + 0.5; at > c.rise && at < c.set {
				hours[h] += rise * math.Sin(math.Pi*(at-c.rise)/c.length)
			}
			total += hours[h]
		}
		if total > 0 {
			for h := range hours {
				hours[h] *= 24 * mean / total
			}
		}
		if math.IsNaN(d.WindFrom) {
			unturned++
		} else {
			lastFrom = d.WindFrom
		}
		turn := lastFrom
		if math.IsNaN(turn) {
			turn = from
		}
		for h := range 24 {
			w.column[windFrom][24*i+h] = turn
		}
	}
	w.repair(0, fields[windSpeed].name, "no hourly values", "by day twice that by night, about each day's mean")
	if monthly > 0 {
		w.repair(0, fields[windSpeed].name, fmt.Sprintf("missing on %d of %d days", monthly, len(w.days)), "the mean of its calendar month")
	}
	if assumed > 0 {
		w.repair(0, fields[windSpeed].name, fmt.Sprintf("missing on %d of %d days", assumed, len(w.days)), fmt.Sprintf("%.3g m/s assumed", speed))
	}
	switch {
	case math.IsNaN(lastFrom):
		w.repair(0, fields[windFrom].name, "missing on every day", fmt.Sprintf("%.0f deg assumed", from))
	case unturned > 0:
		w.repair(0, fields[windFrom].name, fmt.Sprintf("missing on %d of %d days", unturned, len(w.days)), "that of the day before")
	}
}

// weather lays pressure, rain and snow.
func (w *dayWork) weather() {
	sum, known := 0.0, 0
	for i := range w.days {
		if v := w.days[i].Pressure; !math.IsNaN(v) {
			sum += v
			known++
		}
	}
	spreadRain := 0
	for i := range w.days {
		d := &w.days[i]
		p := d.Pressure
		if math.IsNaN(p) && known > 0 {
			p = sum / float64(known)
		}
		lasting := 24.0
		if d.RainHours > 0 {
			lasting = min(d.RainHours, 24)
		}
		if d.Rain > 0 && lasting == 24 {
			spreadRain++
		}
		begin, end := 12-lasting/2, 12+lasting/2
		for h := range 24 {
			k := 24*i + h
			w.column[pressure][k] = p
			w.column[snowDepth][k] = d.SnowDepth
			w.column[rain][k] = d.Rain * max(min(float64(h+1), end)-max(float64(h), begin), 0) / lasting
		}
	}
	if missing := len(w.days) - known; known > 0 && missing > 0 {
		w.repair(0, fields[pressure].name, fmt.Sprintf("missing on %d of %d days", missing, len(w.days)), "the mean of the other days")
	}
	if spreadRain > 0 {
		w.repair(0, fields[rain].name, fmt.Sprintf("no hours on %d days", spreadRain), "spread evenly over the day")
	}
}
