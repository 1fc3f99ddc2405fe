package climate

import (
	"fmt"
	"math"
	"math/rand/v2"
	"time"

	"hackle/air"
	"hackle/sun"
)

const (
	// madeYear is the first calendar year of made weather; any would do.
	madeYear = 2001
	// wetDay is the rain that makes a rain day [mm]: World Meteorological
	// Organization, WMO-No. 1203, the count of days with at least 1 mm; from memory.
	wetDay = 1.0
	// joinDays is over how many days the end of a made typical year is led over
	// into its beginning.
	joinDays = 10
)

// What stands in for optional normals. Those that say "there" are means over the
// months of the 22 built-in typical years, from [NormalsOf].
const (
	usualPersistence = 0.75 // [-], there 0.756
	usualRangeShare  = 0.34 // spread of the range over its mean [-], there 0.339
	usualWind        = 2.7  // [m/s], see MonthNormals.Wind
	usualWetRain     = 5.0  // [mm] a rain day; common practice, no source
)

// Ties between the days' anomalies.
const (
	// clearPersistence is the correlation of the clearness of a day with the day
	// before, after mapping to a normal distribution [-]: "A time series model for
	// Kt with application to global synthetic weather generation", Solar Energy 40,
	// 1988, DOI 10.1016/0038-092X(88)90075-8; from memory.
	clearPersistence = 0.29
	// sunRange is the correlation of the clearness with the day's range of
	// temperature [-]: 0.5, the mean over the built-in typical years in January
	// and July. The correlations of "Stochastic simulation of daily
	// precipitation, temperature, and solar radiation", Water Resources Research
	// 17, 1981, DOI 10.1029/WR017i001p00182 (0.633 between high and low, 0.186 and
	// -0.193 of these with radiation; from memory) give 0.44.
	sunRange = 0.5
	// sunDry is the correlation of the clearness with how far the dew point lies
	// below the mean temperature [-]; the same typical years, 0.57.
	sunDry = 0.57
	// dryPersistence is the correlation of what is left of it with the day before
	// [-], and drySpread its deviation over its mean [-]; the same typical years.
	dryPersistence = 0.4
	drySpread      = 0.45
	// wetDull is the correlation of rain days with clearness [-], negative;
	// common practice, no source.
	wetDull = -0.5
)

// Hourly noise.
const (
	// windHour is the correlation of the wind's normal score with that of the hour
	// before [-]. With the daily cycle it gives 0.8, the mean over the built-in
	// typical years.
	windHour = 0.88
	// windCycle is the rise of the afternoon's wind over the day's mean, at 14 h
	// solar time, and its fall at night [-]; common practice, no source.
	windCycle = 0.25
	// flutter is the deviation of an hour's temperature from the smooth course as a
	// share of the mean range [-], and flutterHour its correlation with that of
	// the hour before; common practice, no source. Together with the smooth course
	// they give the steps from hour to hour that stations have.
	flutter     = 0.08
	flutterHour = 0.7
	// turn is the wander of the wind's direction from hour to hour [deg]; common
	// practice, no source.
	turn = 20.0
)

// Make makes years of hourly weather from normals for a place: latitude and
// longitude [deg], height above the sea [m], zone ahead of UTC. The same
// arguments give the same hours. The years carry the dates from 1 January 2001 on,
// differ as years do, and agree with the normals only in the long run; for one
// year that agrees with them use [MakeTypical].
//
//   - Temperature. The days' mean anomalies are an autoregressive series of first
//     order, z = p z' + √(1-p²) e with normal e, tied to that of the sun
//     ("Mathematical assessment of synthetic hydrology", Water Resources Research
//     3, 1967, DOI 10.1029/WR003i004p00937; from memory), times the normals'
//     spread. A smooth course keeps each day's mean. On it lies the daily cycle: a
//     sine by day and an exponential fall at night ("A model for diurnal variation
//     in soil and air temperature", Agricultural Meteorology 23, 1981, DOI
//     10.1016/0002-1571(81)90105-9; from memory), times the day's range, whose
//     distribution is Weibull's.
//   - Sun. The distribution of the days' clearness follows from the month's mean
//     ("The frequency distribution of daily insolation values", Solar Energy 27,
//     1981, DOI 10.1016/0038-092X(81)90013-X; from memory); it is tied to range,
//     temperature and humidity. The day's sum is split to hours by
//     Collares-Pereira-Rabl ("The average distribution of solar radiation", Solar
//     Energy 22, 1979, DOI 10.1016/0038-092X(79)90100-2; from memory) with
//     the fluctuation of "TAG: A time-dependent, autoregressive, Gaussian
//     model for generating synthetic hourly radiation", Solar Energy 49, 1992, DOI
//     10.1016/0038-092X(92)90068-L (from memory), and to beam and diffuse by Erbs.
//   - Humidity. The dew point runs below the smooth course of temperature by a
//     depression with Weibull's distribution; where the hour is colder than the dew
//     point, the air is saturated.
//   - Wind has Weibull's distribution, persistence from hour to hour and a daily
//     cycle. Its direction wanders without preference.
//   - Rain days are a Markov chain of first order by their number ("A simple
//     method for generating daily rainfall data", Agricultural and Forest
//     Meteorology 36, 1986, DOI 10.1016/0168-1923(86)90014-6; from memory), with
//     exponential depths; see [Normals.HasRain]. They are dull days.
//   - Long wave is computed from dew point and the cloud cover that the day's sun
//     tells of, as the readers do. Pressure is that of the standard atmosphere.
//     Snow is unknown.
//
// Monthly figures are spread over the days smoothly, with their means kept ("Mean
// preserving algorithm for smoothly interpolating averaged data", Solar Energy 71,
// 2001; from memory). Mean temperature, range and dew point depression are then
// tuned by month on a trial of five years until its mean lows, highs and humidity
// are the normals'.
//
// Faulty normals, a place not on earth, a zone beyond ±15 h and years outside 1
// to 200 are errors. Fields of the normals that were filled are told in Repairs.
func Make(n Normals, latitude, longitude, height float64, zone time.Duration, seed uint64, years int) (*Series, error) {
	const mostYears = 200
	if years < 1 || years > mostYears {
		return nil, fmt.Errorf("climate: making %d years, accepted: 1 to %d", years, mostYears)
	}
	m, err := newMaker(n, latitude, longitude, height, zone)
	if err != nil {
		return nil, err
	}
	if err := m.tune(5*daysOfYear, 0, false); err != nil {
		return nil, err
	}
	start := time.Date(madeYear, time.January, 1, 0, 0, 0, 0, fixedZone(zone))
	count := int(start.AddDate(years, 0, 0).Sub(start) / (24 * time.Hour))
	s := m.series
	s.Start = start
	s.Hours = m.hours(seed, start, count, false)
	return &s, nil
}

// MakeTypical makes one typical year of hourly weather from normals, as [Make]
// does, whose monthly means agree with the normals: mean lows, highs, humidity,
// sun and wind are tuned on the year itself. Its end leads over into its
// beginning, so that it can repeat.
func MakeTypical(n Normals, latitude, longitude, height float64, zone time.Duration, seed uint64) (*Series, error) {
	m, err := newMaker(n, latitude, longitude, height, zone)
	if err != nil {
		return nil, err
	}
	if err := m.tune(daysOfYear, seed, true); err != nil {
		return nil, err
	}
	s := m.series
	s.Typical = true
	s.Start = time.Date(typicalYear, time.January, 1, 0, 0, 0, 0, fixedZone(zone))
	s.Hours = m.hours(seed, s.Start, daysOfYear, true)
	return &s, nil
}

// maker holds the figures of each day of the calendar.
type maker struct {
	normals Normals
	series  Series
	trial   bool // leave out what tuning does not need

	mean, span, spread, persistence, rangeSpread [daysOfYear]float64
	spanGiven                                    [daysOfYear]float64 // before tuning [K]
	depression, clearness, sunWarmth             [daysOfYear]float64
	wind, windShape, wetShare, wetDepth          [daysOfYear]float64
	cycle                                        [daysOfYear][24]float64 // from 0 at the lowest to 1
	shape                                        [daysOfYear][24]float64 // a power of it, less its mean

	// Monthly figures in tuning.
	middles, spans, depressions, winds, clears [12]float64
	spreads, rangeSpreads, powers              [12]float64
}

func newMaker(n Normals, latitude, longitude, height float64, zone time.Duration) (*maker, error) {
	if !(math.Abs(latitude) <= 90) || !(math.Abs(longitude) <= 180) || !(height >= -500 && height <= 9000) {
		return nil, fmt.Errorf("climate: no such place: latitude %.4g°, longitude %.4g°, height %.4g m; accepted: -90 to 90, -180 to 180, -500 to 9000", latitude, longitude, height)
	}
	if zone < -15*time.Hour || zone > 15*time.Hour {
		return nil, fmt.Errorf("climate: zone %v ahead of UTC, accepted: -15 h to 15 h", zone)
	}
	if err := n.validate(); err != nil {
		return nil, err
	}
	m := &maker{normals: n, series: Series{Name: n.Name, Latitude: latitude, Longitude: longitude, Height: height, Zone: zone,
		MidOffset: 30 * time.Minute, HasRain: n.HasRain, Source: "made from normals: " + n.Source}}
	m.complete()
	if err := m.sunOfMonths(); err != nil {
		return nil, err
	}
	var persistence, sunWarmth, windShape, wetShare, wetDepth [12]float64
	for i := range m.normals.Months {
		o := &m.normals.Months[i]
		m.middles[i], m.spans[i] = o.middle(), o.High-o.Low
		m.winds[i] = o.Wind
		dew := o.DewPoint
		if o.RelHumidity > 0 {
			dew = dewPointLiquid(o.RelHumidity * air.SaturationPressureLiquid(o.middle()))
		}
		m.depressions[i] = max(o.middle()-dew, leastDepression)
		m.spreads[i], m.rangeSpreads[i], m.powers[i] = o.Spread, o.RangeSpread, 1
		persistence[i], sunWarmth[i], windShape[i] = o.Persistence, o.SunWarmth, o.WindShape
		if o.RainDays > 0 {
			wetShare[i] = o.RainDays / float64(monthStart[i+1]-monthStart[i])
			wetDepth[i] = o.Rain / o.RainDays
		}
	}
	m.persistence, m.sunWarmth = smoothMonths(persistence, false), smoothMonths(sunWarmth, false)
	m.windShape = smoothMonths(windShape, true)
	if n.HasRain {
		m.wetShare, m.wetDepth = smoothMonths(wetShare, true), smoothMonths(wetDepth, true)
	}
	m.dailyCycle()
	m.lay()
	m.spanGiven = m.span
	return m, nil
}

// leastDepression is the smallest mean depression of the dew point [K].
const leastDepression = 0.1

// complete fills what the normals leave open, and tells so.
func (m *maker) complete() {
	warmest, coldest := math.Inf(-1), math.Inf(1)
	for i := range m.normals.Months {
		v := m.normals.Months[i].middle()
		warmest, coldest = max(warmest, v), min(coldest, v)
	}
	filled := func(field string, what string, fill func(o *MonthNormals) bool) {
		months := 0
		for i := range m.normals.Months {
			if fill(&m.normals.Months[i]) {
				months++
			}
		}
		if months > 0 {
			m.series.Repairs = append(m.series.Repairs, Repair{Field: field, Found: fmt.Sprintf("not in the normals of %d months", months), Done: what})
		}
	}
	// The span of the year and how far a month lies below the warmest explain the
	// spread between days to 1.2 K (root mean square): least squares over the months
	// of the 22 built-in typical years.
	filled("spread between days", "estimated from the span of the year's temperature", func(o *MonthNormals) bool {
		if o.Spread > 0 {
			return false
		}
		o.Spread = max(0.55+0.094*(warmest-coldest)+0.106*(warmest-o.middle()), 0.5)
		return true
	})
	filled("persistence", fmt.Sprintf("%.2f from day to day", usualPersistence), func(o *MonthNormals) bool {
		if o.Persistence != 0 {
			return false
		}
		o.Persistence = usualPersistence
		return true
	})
	filled("spread of the range", fmt.Sprintf("%.2f of the mean range", usualRangeShare), func(o *MonthNormals) bool {
		if o.RangeSpread > 0 {
			return false
		}
		o.RangeSpread = usualRangeShare * (o.High - o.Low)
		return true
	})
	filled(fields[windSpeed].name, fmt.Sprintf("%.1f m/s, the mean of many stations", usualWind), func(o *MonthNormals) bool {
		if o.Wind > 0 {
			return false
		}
		o.Wind = usualWind
		return true
	})
	filled("shape of the wind's distribution", "from the mean wind", func(o *MonthNormals) bool {
		if o.WindShape > 0 {
			return false
		}
		// Justus et al.: "Methods for estimating wind speed frequency distributions",
		// Journal of Applied Meteorology 17, 1978; from memory.
		o.WindShape = min(max(0.94*math.Sqrt(o.Wind), 1.1), 4)
		return true
	})
	if m.normals.HasRain {
		filled(fields[rain].name, fmt.Sprintf("%.0f mm each rain day", usualWetRain), func(o *MonthNormals) bool {
			if o.RainDays == 0 || o.Rain > 0 {
				return false
			}
			o.Rain = o.RainDays * usualWetRain
			return true
		})
	}
}

// sunOfMonths finds the mean clearness of each month.
func (m *maker) sunOfMonths() error {
	outside, daylight := m.outside()
	ranged := true
	for i := range m.normals.Months {
		if m.normals.Months[i].Sun > 0 || m.normals.Months[i].SunHours > 0 {
			ranged = false
		}
	}
	done := ""
	for i := range m.normals.Months {
		o := &m.normals.Months[i]
		switch {
		case outside[i] < 1:
			m.clears[i] = 0.4 // polar night: nothing to share in
		case o.Sun > 0:
			m.clears[i] = o.Sun / outside[i]
		case ranged:
			m.clears[i] = min(0.16*math.Sqrt(o.High-o.Low), 0.75)
			done = "estimated from the mean ranges of temperature"
		default:
			m.clears[i] = 0.25 + 0.50*min(o.SunHours/daylight[i], 1)
			done = "from sun hours (Ångström)"
		}
		if m.clears[i] > brightestMonth {
			return fmt.Errorf("%w: %s: %.0f Wh/m² of sun a day is %.0f %% of that outside the air; accepted: at most %.0f %%", ErrNormals, time.Month(i+1), o.Sun, 100*m.clears[i], 100*brightestMonth)
		}
		m.clears[i] = max(m.clears[i], dullestMonth)
		o.Sun = m.clears[i] * outside[i]
	}
	if done != "" {
		m.series.Repairs = append(m.series.Repairs, Repair{Field: fields[globalHorizontal].name, Found: "not in the normals", Done: done})
	}
	return nil
}

const (
	// dullestDay is the smallest clearness of a day [-], of the distribution's paper.
	dullestDay = 0.05
	// dullestMonth and brightestMonth bound a month's mean clearness [-].
	dullestMonth, brightestMonth = 0.08, 0.82
)

// outside returns the mean of each month's days of the radiation outside the
// air [Wh/m²] and the length of daylight [h].
func (m *maker) outside() (radiation, daylight [12]float64) {
	month := calendarMonth()
	start := time.Date(typicalYear, time.January, 1, 0, 0, 0, 0, fixedZone(m.series.Zone))
	for d, i := range month {
		length := float64(monthStart[i+1] - monthStart[i])
		noon := start.AddDate(0, 0, d).Add(12 * time.Hour)
		radiation[i] += m.series.outsideDay(start.AddDate(0, 0, d)) / length
		daylight[i] += max(sun.SunsetHourAngle(m.series.Latitude, sun.Declination(noon))/7.5, 0.1) / length
	}
	return radiation, daylight
}

// lay spreads the monthly figures that tuning moves over the days.
func (m *maker) lay() {
	m.mean = smoothMonths(m.middles, false)
	m.span = smoothMonths(m.spans, true)
	m.depression = smoothMonths(m.depressions, true)
	m.wind = smoothMonths(m.winds, true)
	m.clearness = smoothMonths(m.clears, true)
	m.spread = smoothMonths(m.spreads, true)
	m.rangeSpread = smoothMonths(m.rangeSpreads, true)
	power := smoothMonths(m.powers, true)
	for d := range m.shape {
		mean := 0.0
		for h, u := range m.cycle[d] {
			m.shape[d][h] = math.Pow(u, power[d])
			mean += m.shape[d][h] / 24
		}
		for h := range m.shape[d] {
			m.shape[d][h] -= mean
		}
	}
}

// dailyCycle computes the daily cycle on each day of the calendar.
func (m *maker) dailyCycle() {
	const (
		// The lag of the highest and how early the lowest comes, a and c of the
		// published form, are set by what the mean days of the months of the 22
		// built-in typical years show: the highest 2.6 h after the sun's transit, the
		// lowest 0.3 h before sunrise [h]. At the one station of the paper a is 1.86
		// and c -0.17 at 1.5 m.
		early = -0.3
		lag   = 2.6 - early
		night = 2.20 // decay, b [-], of the paper
	)
	start := time.Date(typicalYear, time.January, 1, 0, 0, 0, 0, fixedZone(m.series.Zone))
	for d := range m.cycle {
		noon := start.AddDate(0, 0, d).Add(12 * time.Hour)
		e := sun.At(noon)
		// Polar day and night keep a daily cycle, as weather stations there show.
		length := min(max(sun.SunsetHourAngle(m.series.Latitude, e.Declination)/7.5, 4), 20)
		transit := 12 - e.HourAngle(m.series.Longitude)/15
		lowest := transit - length/2 + early
		period := length + 2*lag
		sunset := length - early // hours from the lowest to sunset
		atSunset := math.Sin(math.Pi * sunset / period)
		for h := range 24 {
			since := math.Mod(float64(h+1)-lowest+48, 24)
			u := 0.0
			if since <= sunset {
				u = math.Sin(math.Pi * since / period)
			} else {
				// The published fall stops above the lowest; here it is stretched to
				// reach it, so that days join.
				fall := math.Exp(-night * (since - sunset) / (24 - sunset))
				u = atSunset * (fall - math.Exp(-night)) / (1 - math.Exp(-night))
			}
			m.cycle[d][h] = max(u, 0)
		}
	}
}

// tune moves the monthly figures until the normals of a trial are the normals
// given: mean lows, highs and hours, humidity, and the spread of the range. A
// typical year is tuned on itself, and for sun, wind and the spread between days
// too. In a trial of chance years those differ from the normals by chance, which is
// left to it.
func (m *maker) tune(days int, seed uint64, typical bool) error {
	const rounds = 8
	trial := m.series
	trial.Start = time.Date(typicalYear, time.January, 1, 0, 0, 0, 0, fixedZone(m.series.Zone))
	outside, _ := m.outside()
	m.trial = !typical
	defer func() { m.trial = false }()
	for range rounds {
		trial.Hours = m.hours(seed, trial.Start, days, typical)
		made, err := NormalsOf(&trial)
		if err != nil {
			return err
		}
		for i := range 12 {
			t, o := &made.Months[i], &m.normals.Months[i]
			strayed := t.middle() - o.middle()
			span := o.High - o.Low
			if o.MeanAbove != 0 {
				// The power of the cycle moves its mean against its middle: by about 0.2
				// of the span for a power of 1 more.
				m.powers[i] = min(max(m.powers[i]+(t.MeanAbove-o.MeanAbove)/(0.2*max(m.spans[i], 0.2*span)), 0.3), 4)
			}
			if typical {
				m.middles[i] -= strayed
				m.winds[i] = min(max(m.winds[i]*o.Wind/max(t.Wind, 0.01), o.Wind/3), 3*o.Wind)
				m.spreads[i] = min(max(m.spreads[i]*o.Spread/max(t.Spread, 0.01), o.Spread/2), 2*o.Spread)
				if outside[i] >= 1 {
					m.clears[i] = min(max(m.clears[i]*o.Sun/max(t.Sun, 1), dullestMonth), brightestMonth+0.05)
				}
			} else if o.MeanAbove != 0 {
				m.middles[i] = o.middle() + o.MeanAbove
			} else {
				m.middles[i] = o.middle() + t.MeanAbove
			}
			m.spans[i] = min(max(m.spans[i]*span/max(t.High-t.Low, 0.1), 0.02*span), 3*span)
			m.rangeSpreads[i] = min(max(m.rangeSpreads[i]*o.RangeSpread/max(t.RangeSpread, 0.01), o.RangeSpread/4), 4*o.RangeSpread)
			if o.RelHumidity > 0 {
				// A dew point 1 K lower takes about 0.065 of the relative humidity.
				m.depressions[i] += (t.RelHumidity - o.RelHumidity) / (0.065 * o.RelHumidity)
			} else {
				// Chance years stray from the normals' temperature, and their dew points
				// with it.
				m.depressions[i] += t.DewPoint - o.DewPoint - strayed
			}
			m.depressions[i] = max(m.depressions[i], leastDepression/10)
		}
		m.lay()
	}
	return nil
}

// dayState is what chance gives a day: scores with mean 0 and deviation 1.
type dayState struct {
	temp, clear, span, dry float64
	wet                    bool
	depth                  float64 // rain [mm]
}

// states draws the days from start on.
func (m *maker) states(rng *rand.Rand, start time.Time, days int, typical bool) []dayState {
	all := make([]dayState, joinDays+days)
	first := start.AddDate(0, 0, -joinDays)
	var temp, clear, dry float64
	wet := false
	// A run-in of a month lets the chances forget their beginning.
	const runIn = 30
	for k := -runIn; k < len(all); k++ {
		c := calendarDay(first.AddDate(0, 0, k))
		p := m.persistence[c]
		// Innovations correlated so that the series are (Matalas): for two series of
		// persistence p and q and correlation r, r (1-pq)/√((1-p²)(1-q²)).
		q := clearPersistence
		inner := math.Sqrt((1 - p*p) * (1 - q*q))
		tie := min(max(m.sunWarmth[c]*(1-p*q)/inner, -0.98), 0.98)
		e1, e2, e3, e4 := rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()
		temp = p*temp + math.Sqrt(1-p*p)*e1
		clear = q*clear + math.Sqrt(1-q*q)*(tie*e1+math.Sqrt(1-tie*tie)*e2)
		dry = dryPersistence*dry + math.Sqrt(1-dryPersistence*dryPersistence)*e3
		d := dayState{temp: temp, clear: clear}
		if m.normals.HasRain {
			share := min(m.wetShare[c], 0.97)
			// After a wet day 0.25 + 0.75 share, after a dry day 0.75 share.
			chance := 0.75 * share
			if wet {
				chance += 0.25
			}
			wet = rng.Float64() < chance
			depth := wetDay + rng.ExpFloat64()*max(m.wetDepth[c]-wetDay, 0)
			if share > 0 {
				indicator := -math.Sqrt(share / (1 - share))
				if wet {
					d.wet, d.depth = true, depth
					indicator = math.Sqrt((1 - share) / share)
				}
				d.clear = wetDull*indicator + math.Sqrt(1-wetDull*wetDull)*clear
			}
		}
		d.span = sunRange*d.clear + math.Sqrt(1-sunRange*sunRange)*e4
		d.dry = sunDry*d.clear + math.Sqrt(1-sunDry*sunDry)*dry
		if k >= 0 {
			all[k] = d
		}
	}
	out := all[joinDays:]
	if m.trial {
		levelChances(out, start)
	}
	if typical {
		// The last days lead over into those that went before the first.
		for k := range joinDays {
			to := float64(k+1) / (joinDays + 1)
			a, b := math.Sqrt(1-to), math.Sqrt(to)
			last, before := &out[days-joinDays+k], &all[k]
			last.temp = a*last.temp + b*before.temp
			last.clear = a*last.clear + b*before.clear
			last.span = a*last.span + b*before.span
			last.dry = a*last.dry + b*before.dry
		}
	}
	return out
}

// levelChances takes the chance out of the months' mean scores and their spread,
// so that a few years' trial tells as much as many years would.
func levelChances(days []dayState, start time.Time) {
	for _, score := range []func(d *dayState) *float64{
		func(d *dayState) *float64 { return &d.temp },
		func(d *dayState) *float64 { return &d.clear },
		func(d *dayState) *float64 { return &d.span },
		func(d *dayState) *float64 { return &d.dry },
	} {
		var count, sum, square [12]float64
		for k := range days {
			m := start.AddDate(0, 0, k).Month() - 1
			v := *score(&days[k])
			count[m]++
			sum[m] += v
			square[m] += v * v
		}
		for k := range days {
			m := start.AddDate(0, 0, k).Month() - 1
			v := score(&days[k])
			mean := sum[m] / count[m]
			*v = (*v - mean) / math.Sqrt(max(square[m]/count[m]-mean*mean, 1e-6))
		}
	}
}

// hours makes the hours of days from start on.
func (m *maker) hours(seed uint64, start time.Time, days int, typical bool) []Hour {
	const stream = 0x6d616b65 // keeps the chances of making apart from other uses of a seed
	rng := rand.New(rand.NewPCG(seed, stream))
	state := m.states(rng, start, days, typical)
	mean, span, dry, clear := make([]float64, days), make([]float64, days), make([]float64, days), make([]float64, days)
	day := make([]int, days)
	for k := range days {
		c := calendarDay(start.AddDate(0, 0, k))
		d := &state[k]
		day[k] = c
		mean[k] = m.mean[c] + m.spread[c]*d.temp
		span[k] = m.span[c] * weibullUnit(d.span, weibullShape(min(m.rangeSpread[c]/m.span[c], 1)))
		dry[k] = m.depression[c] * weibullUnit(d.dry, weibullShape(drySpread))
		clear[k] = clearnessOf(d.clear, m.clearness[c])
	}
	smooth := histospline(mean, typical)
	spans := betweenNoons(span, typical)
	depressions := betweenNoons(dry, typical)
	hours := make([]Hour, 24*days)
	pressure := StandardPressure(m.series.Height)
	from := 360 * rng.Float64()
	shake, gust := rng.NormFloat64(), rng.NormFloat64()
	longitudeHours := m.series.Longitude/15 - m.series.Zone.Hours()
	for i := range hours {
		h := &hours[i]
		c := day[i/24]
		shake = flutterHour*shake + math.Sqrt(1-flutterHour*flutterHour)*rng.NormFloat64()
		gust = windHour*gust + math.Sqrt(1-windHour*windHour)*rng.NormFloat64()
		h.TempAir = smooth[i] + spans[i]*m.shape[c][i%24] + flutter*m.spanGiven[c]*shake
		dew := min(smooth[i]-depressions[i], h.TempAir)
		h.RelHumidity = min(max(air.SaturationPressureLiquid(dew)/air.SaturationPressureLiquid(h.TempAir), fields[relHumidity].setLow), 1)
		h.Pressure = pressure
		hour := float64(i%24) + 1 + longitudeHours // mean solar time at the hour's end
		h.WindSpeed = m.wind[c] * weibullUnit(gust, m.windShape[c]) * (1 + windCycle*math.Cos((hour-14)*math.Pi/12))
		from += turn * rng.NormFloat64()
		h.WindFrom = math.Mod(math.Mod(from, 360)+360, 360)
	}
	m.rainfall(rng, hours, state)
	if !m.trial {
		m.sunshine(rng, hours, start, clear)
	}
	return hours
}

// weibullUnit maps a normal score to a Weibull distribution of mean 1.
func weibullUnit(score, shape float64) float64 {
	above := math.Erfc(score/math.Sqrt2) / 2
	return math.Pow(-math.Log(max(above, 1e-12)), 1/shape) / math.Gamma(1+1/shape)
}

// clearnessOf maps a normal score to the clearness of a day in a month of a mean
// clearness: the distribution function is
//
//	F = (exp(g Kmin) - exp(g K)) / (exp(g Kmin) - exp(g Kmax))
//
// with Kmin = 0.05, Kmax = 0.6313 + 0.267 K - 11.9 (K - 0.75)^8 of the mean K,
// and g such that the mean is right (see [Make] for the source; Kmax of
// "Frequency distribution of daily clearness", from memory). Kmax is kept 0.01
// above the mean.
func clearnessOf(score, mean float64) float64 {
	most := 0.6313 + 0.267*mean - 11.9*math.Pow(mean-0.75, 8)
	most = max(most, mean+0.01)
	below := math.Erfc(-score/math.Sqrt2) / 2
	g := clearnessSlope(mean, dullestDay, most)
	width := most - dullestDay
	if math.Abs(g*width) < 1e-6 {
		return dullestDay + below*width
	}
	// Written so that neither end overflows.
	if g > 0 {
		return most + math.Log(below+(1-below)*math.Exp(-g*width))/g
	}
	return dullestDay + math.Log(1-below+below*math.Exp(g*width))/g
}

// clearnessSlope solves for g of [clearnessOf]. With x = g width, the mean lies
// 1/(1-exp(-x)) - 1/x of the width above the least.
func clearnessSlope(mean, least, most float64) float64 {
	width := most - least
	want := (mean - least) / width
	share := func(x float64) float64 {
		if math.Abs(x) < 1e-4 {
			return 0.5 + x/12
		}
		return -1/math.Expm1(-x) - 1/x
	}
	low, high := -500.0, 500.0
	for range 60 {
		if middle := (low + high) / 2; share(middle) < want {
			low = middle
		} else {
			high = middle
		}
	}
	return (low + high) / 2 / width
}

// rainfall lets the rain of each wet day fall in one spell of 1 to 12 hours that
// begins at any hour of the day and ends with it; common practice, no source.
func (m *maker) rainfall(rng *rand.Rand, hours []Hour, state []dayState) {
	if !m.normals.HasRain {
		return
	}
	for k := range state {
		length, begin := 1+rng.IntN(12), rng.IntN(24)
		if !state[k].wet {
			continue
		}
		end := min(begin+length, 24)
		for h := begin; h < end; h++ {
			hours[24*k+h].Rain = state[k].depth / float64(end-begin)
		}
	}
}

// sunshine splits each day's clearness to hours, and computes long wave.
func (m *maker) sunshine(rng *rand.Rand, hours []Hour, start time.Time, clear []float64) {
	s := Series{Start: start, MidOffset: m.series.MidOffset}
	cover := 0.5
	jitter := rng.NormFloat64()
	for k, clearness := range clear {
		var pos [24]sun.Pos
		var normal, outside, weight [24]float64
		noon := sun.At(s.MidHour(24*k + 12))
		set := sun.SunsetHourAngle(m.series.Latitude, noon.Declination)
		a := 0.409 + 0.5016*math.Sin((set-60)*math.Pi/180)
		b := 0.6609 - 0.4767*math.Sin((set-60)*math.Pi/180)
		// TAG: deviation of the hourly clearness about its trend, and persistence.
		amplitude := 0.14 * math.Exp(-20*(clearness-0.35)*(clearness-0.35))
		growth := 3*(clearness-0.45)*(clearness-0.45) + 16*math.Pow(clearness, 5)
		p := 0.38 + 0.06*math.Cos(7.4*clearness-2.5)
		sum, total, open := 0.0, 0.0, 0.0
		for h := range 24 {
			e := sun.At(s.MidHour(24*k + h))
			pos[h] = e.Position(m.series.Latitude, m.series.Longitude)
			normal[h] = e.Extraterrestrial()
			up := math.Sin(pos[h].Elevation * math.Pi / 180)
			jitter = p*jitter + math.Sqrt(1-p*p)*rng.NormFloat64()
			if up <= 0 {
				continue
			}
			outside[h] = normal[h] * up
			total += outside[h]
			open += clearSky(up)
			hourAngle := e.HourAngle(m.series.Longitude) * math.Pi / 180
			trend := max(a+b*math.Cos(hourAngle), 0.05)
			deviation := amplitude * math.Exp(growth*(1-up)) / clearness
			weight[h] = outside[h] * trend * max(1+deviation*jitter, 0.05)
			sum += weight[h]
		}
		got := 0.0
		if sum > 0 {
			got = m.share(hours[24*k:24*k+24], &weight, &outside, clearness*total, sum)
		}
		for h := range 24 {
			x := &hours[24*k+h]
			x.DirectNormal, x.DiffuseHorizontal = sun.Split(x.GlobalHorizontal, pos[h], normal[h])
		}
		const least = 200 // [Wh/m²], as in judgeClouds
		if open >= least {
			cover = cloudFromSun(got / open)
		}
		for h := range 24 {
			x := &hours[24*k+h]
			x.SkyLongWave = sun.SkyLongWave(x.TempAir, air.DewPoint(x.RelHumidity*air.SaturationPressureLiquid(x.TempAir)), cover)
		}
	}
}

// share gives each hour its part of the day's sum [Wh/m²] by weight, and returns
// what it gave. No hour gets more than 0.85 of the radiation outside the air: what
// is over goes to the others.
func (m *maker) share(hours []Hour, weight, outside *[24]float64, sum, weights float64) (given float64) {
	const most = 0.85 // hourly clearness [-]; common practice, no source
	var full [24]bool
	for range 24 {
		left, open := sum, 0.0
		for h := range 24 {
			if full[h] {
				left -= most * outside[h]
			} else {
				open += weight[h]
			}
		}
		if open <= 0 {
			break
		}
		again := false
		for h := range 24 {
			if !full[h] && outside[h] > 0 && max(left, 0)*weight[h]/open > most*outside[h] {
				full[h], again = true, true
			}
		}
		if again {
			continue
		}
		for h := range 24 {
			if !full[h] {
				hours[h].GlobalHorizontal = max(left, 0) * weight[h] / open
			}
		}
		break
	}
	for h := range 24 {
		if full[h] {
			hours[h].GlobalHorizontal = most * outside[h]
		}
		given += hours[h].GlobalHorizontal
	}
	return given
}
