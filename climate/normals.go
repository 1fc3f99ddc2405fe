package climate

import (
	"errors"
	"fmt"
	"math"
	"time"

	"hackle/air"
	"hackle/sun"
)

// Normals are monthly climate means, as weather services print them, from which
// [Make] and [MakeTypical] make hourly weather. Where a quantity is not known,
// its field stays 0 and a rule stated there stands in.
type Normals struct {
	Name   string
	Source string
	// HasRain tells that RainDays and Rain are known; without it no rain is made.
	HasRain bool
	Months  [12]MonthNormals // January first
}

// MonthNormals are the normals of one month.
type MonthNormals struct {
	Low  float64 // mean of the days' lowest hours [°C]
	High float64 // mean of the days' highest hours [°C]
	// MeanAbove is the mean over the hours less the middle of Low and High [K]; 0:
	// what the usual daily cycle gives.
	MeanAbove float64
	// RelHumidity is the mean over the hours, over liquid water [-]; 0: DewPoint
	// is used instead.
	RelHumidity float64
	DewPoint    float64 // mean over the hours, over liquid water also in frost [°C]
	// Wind is the mean speed at 10 m in the open [m/s]; 0: 2.7 m/s, which is 2 m/s
	// at 2 m, the mean of more than 2,000 stations that FAO Irrigation and
	// Drainage Paper 56 gives for want of data.
	Wind float64
	// Sun is the global radiation on the horizontal of a mean day [Wh/m²]; 0: from
	// SunHours, or when that is 0 for all months from the range of temperature
	// (FAO Irrigation and Drainage Paper 56, equations 35 and 50).
	Sun      float64
	SunHours float64 // bright sunshine of a mean day [h]
	RainDays float64 // days of at least 1 mm in the month [d]
	Rain     float64 // depth in the month [mm]; 0 with rain days: 5 mm each
	// Spread is the standard deviation of the days' means about the season's
	// course [K]; 0: from the span of the year's monthly means.
	Spread float64
	// Persistence is the correlation of a day's mean temperature with that of the
	// day before [-]; 0: 0.75.
	Persistence float64
	// RangeSpread is the standard deviation of the days' ranges of temperature
	// [K]; 0: 0.34 of the mean range.
	RangeSpread float64
	// SunWarmth is the correlation of the days' mean temperature with the sun's
	// share that comes through the air [-]: negative where clear winter days are
	// cold.
	SunWarmth float64
	// WindShape is the shape of the Weibull distribution of hourly wind [-]; 0:
	// 0.94 times the root of the mean in m/s.
	WindShape float64
}

// mean of low and high.
func (m *MonthNormals) middle() float64 { return (m.Low + m.High) / 2 }

// ErrNormals wraps faults of Normals.
var ErrNormals = errors.New("climate: unusable normals")

// validate refuses what no climate has; the limits are common practice, no
// source, but for the wide ones that the package comment names.
func (n *Normals) validate() error {
	for i := range n.Months {
		m := &n.Months[i]
		name := time.Month(i + 1)
		for _, c := range []struct {
			what      string
			v         float64
			low, high float64
		}{
			{"mean daily low", m.Low, -80, 45},
			{"mean daily high", m.High, -80, 55},
			{"mean above the middle of low and high", m.MeanAbove, -5, 5},
			{"relative humidity", m.RelHumidity, 0, 1},
			{"dew point", m.DewPoint, -90, 35},
			{"wind", m.Wind, 0, 30},
			{"sun", m.Sun, 0, 12000},
			{"sun hours", m.SunHours, 0, 24},
			{"rain days", m.RainDays, 0, 31},
			{"rain", m.Rain, 0, 5000},
			{"spread between days", m.Spread, 0, 20},
			{"persistence", m.Persistence, -0.5, 0.95},
			{"spread of the range", m.RangeSpread, 0, 20},
			{"correlation of sun and temperature", m.SunWarmth, -0.95, 0.95},
			{"shape of the wind's distribution", m.WindShape, 0, 10},
		} {
			if !(c.v >= c.low && c.v <= c.high) { // catches NaN as well
				return fmt.Errorf("%w: %s: %s %.4g, accepted: %.4g to %.4g", ErrNormals, name, c.what, c.v, c.low, c.high)
			}
		}
		if m.High-m.Low < 0.5 {
			return fmt.Errorf("%w: %s: mean daily low %.1f °C and high %.1f °C, accepted: a high at least 0.5 K above the low", ErrNormals, name, m.Low, m.High)
		}
		if m.RelHumidity == 0 && m.DewPoint > m.middle() {
			return fmt.Errorf("%w: %s: dew point %.1f °C above the mean temperature %.1f °C", ErrNormals, name, m.DewPoint, m.middle())
		}
		if m.RelHumidity > 0 && m.RelHumidity < 0.03 {
			return fmt.Errorf("%w: %s: relative humidity %.4g, accepted: a fraction from 0.03 to 1", ErrNormals, name, m.RelHumidity)
		}
	}
	return nil
}

// dewPointLiquid returns the dew point over liquid water, also below 0 °C [°C],
// of a vapour pressure [Pa]: that of the Magnus form of the World Meteorological
// Organization (WMO-No. 8), improved by Newton's method to 1e-6 K.
func dewPointLiquid(pv float64) float64 {
	if pv <= 0 {
		return -100
	}
	y := math.Log(pv / 611.2)
	t := 243.12 * y / (17.62 - y)
	for range 2 {
		p := air.SaturationPressureLiquid(t)
		tK := t + 273.15
		// Clausius-Clapeyron with a latent heat that falls with temperature, good to
		// 0.3 %, is slope enough (the integral is in "The computation of equivalent
		// potential temperature", Monthly Weather Review 108, 1980; from memory).
		t -= math.Log(p/pv) * tK * tK / (6743.769 - 4.8451*tK)
	}
	return max(t, -100)
}

// yardDay is one whole day of a Series as the normals see it.
type yardDay struct {
	date                   time.Time
	mean, low, high        float64 // [°C]
	dew                    float64 // over liquid water [°C]
	humidity               float64 // [-]
	wind, windSquare       float64 // [m/s], [m²/s²]
	sun                    float64 // [Wh/m²]
	clearness              float64 // share of the radiation outside the air, NaN in the polar night [-]
	rain                   float64 // [mm]
	residual, sunAnomaly   float64 // from the season's course [K], [-]
	rangeAnomaly, pressure float64 // [K], [Pa]
}

// wholeDays returns the whole days of local standard time.
func (s *Series) wholeDays() []yardDay {
	local := s.Start.In(s.Location())
	first := 0
	if h := local.Hour(); h > 0 {
		first = 24 - h
	}
	var days []yardDay
	for i := first; i+24 <= len(s.Hours); i += 24 {
		d := yardDay{date: local.Add(time.Duration(i) * time.Hour), low: math.Inf(1), high: math.Inf(-1)}
		for j := i; j < i+24; j++ {
			h := &s.Hours[j]
			d.mean += h.TempAir / 24
			d.low = min(d.low, h.TempAir)
			d.high = max(d.high, h.TempAir)
			d.humidity += h.RelHumidity / 24
			d.dew += dewPointLiquid(h.RelHumidity*air.SaturationPressureLiquid(h.TempAir)) / 24
			d.wind += h.WindSpeed / 24
			d.windSquare += h.WindSpeed * h.WindSpeed / 24
			d.sun += h.GlobalHorizontal
			d.rain += h.Rain
			d.pressure += h.Pressure / 24
		}
		d.clearness = d.sun / s.outsideDay(d.date)
		if math.IsInf(d.clearness, 0) || d.clearness > 1 {
			d.clearness = math.NaN()
		}
		days = append(days, d)
	}
	return days
}

// outsideDay returns the radiation outside the air on the horizontal over one
// day [Wh/m²].
func (s *Series) outsideDay(date time.Time) float64 {
	e := sun.At(date.Add(12 * time.Hour))
	return sun.ExtraterrestrialDaily(e.Extraterrestrial(), s.Latitude, e.Declination) / 3600
}

// NormalsOf returns the normals of a series over its whole days. All optional
// fields are filled, except that rain stays unknown unless the series has it, and
// SunHours stays 0 beside Sun.
//
// Spread and Persistence are those of the days' means about the smooth course of
// the monthly means. That course follows the months of a short record, which
// takes away part of the spread; with y months of n days and correlation r the
// loss is put right by the variance of a mean of n days of a first-order
// autoregressive series, 1/(n y) (1+r)/(1-r) of the variance, and the
// correlation by its bias of (1 + 4 r)/(n y) ("Note on bias in the estimation of
// autocorrelation", Biometrika 41, 1954, DOI 10.1093/biomet/41.3-4.403; from
// memory).
//
// A series in which a month has less than 20 whole days is an error.
func NormalsOf(s *Series) (Normals, error) {
	n := Normals{Name: s.Name, Source: "computed from " + s.Source, HasRain: s.HasRain}
	days := s.wholeDays()
	var count, clear [12]float64
	var sums [12]struct{ mean, low, high, dew, humidity, wind, windSquare, sun, rain, rainDays, clearness float64 }
	for i := range days {
		d := &days[i]
		m := d.date.Month() - 1
		t := &sums[m]
		count[m]++
		t.mean += d.mean
		t.low += d.low
		t.high += d.high
		t.dew += d.dew
		t.humidity += d.humidity
		t.wind += d.wind
		t.windSquare += d.windSquare
		t.sun += d.sun
		t.rain += d.rain
		if d.rain >= wetDay {
			t.rainDays++
		}
		if !math.IsNaN(d.clearness) {
			t.clearness += d.clearness
			clear[m]++
		}
	}
	var means, clearness [12]float64
	for m := range 12 {
		if count[m] < 20 {
			return Normals{}, fmt.Errorf("climate: normals of %s: %s has %.0f whole days, needed: 20", s.Name, time.Month(m+1), count[m])
		}
		t, c := &sums[m], count[m]
		means[m] = t.mean / c
		clearness[m] = t.clearness / max(clear[m], 1)
		n.Months[m] = MonthNormals{Low: t.low / c, High: t.high / c, RelHumidity: t.humidity / c,
			MeanAbove: t.mean/c - (t.low+t.high)/2/c, DewPoint: t.dew / c, Wind: t.wind / c, Sun: t.sun / c}
		if s.HasRain {
			length := float64(monthStart[m+1] - monthStart[m])
			n.Months[m].Rain, n.Months[m].RainDays = t.rain/c*length, t.rainDays/c*length
		}
		if mean := t.wind / c; mean > 0 {
			deviation := math.Sqrt(max(t.windSquare/c-mean*mean, 0))
			n.Months[m].WindShape = min(max(weibullShape(deviation/mean), 0.8), 10)
		}
	}
	n.anomalies(days, means, clearness)
	return n, nil
}

// anomalies finds how the days spread about the season's course.
func (n *Normals) anomalies(days []yardDay, means, clearness [12]float64) {
	course, clearCourse := smoothMonths(means, false), smoothMonths(clearness, false)
	var count, pairs, clear [12]float64
	var square, lagged, ranges, clearSquare, cross, warmSquare [12]float64
	for i := range days {
		d := &days[i]
		m := d.date.Month() - 1
		c := calendarDay(d.date)
		d.residual = d.mean - course[c]
		d.rangeAnomaly = d.high - d.low - (n.Months[m].High - n.Months[m].Low)
		count[m]++
		square[m] += d.residual * d.residual
		ranges[m] += d.rangeAnomaly * d.rangeAnomaly
		if !math.IsNaN(d.clearness) {
			d.sunAnomaly = d.clearness - clearCourse[c]
			clear[m]++
			clearSquare[m] += d.sunAnomaly * d.sunAnomaly
			warmSquare[m] += d.residual * d.residual
			cross[m] += d.sunAnomaly * d.residual
		}
		// Months of a typical year come from different years: no pair spans two.
		if i > 0 && days[i-1].date.Month() == d.date.Month() && d.date.Sub(days[i-1].date) == 24*time.Hour {
			pairs[m]++
			lagged[m] += d.residual * days[i-1].residual
		}
	}
	// The correlation in one month of one year is known to 0.13 at best. Months lean
	// on the year's as if they had seen leaning more days of it.
	const leaning = 90
	year, all := 0.0, 0.0
	for m := range 12 {
		if square[m] > 0 && pairs[m] > 0 {
			year += lagged[m] / (square[m] / count[m])
			all += pairs[m]
		}
	}
	if all > 0 {
		year /= all
	}
	for m := range 12 {
		o := &n.Months[m]
		variance := square[m] / count[m]
		if variance > 0 && pairs[m] > 0 {
			r := lagged[m] / pairs[m] / variance
			r = (count[m]*r + leaning*year) / (count[m] + leaning)
			r = min(max((r+1/count[m])/(1-4/count[m]), 0.01), 0.95)
			o.Persistence = r
			o.Spread = math.Sqrt(variance / (1 - min((1+r)/(1-r)/count[m], 0.5)))
		}
		o.RangeSpread = math.Sqrt(ranges[m] / count[m])
		if clearSquare[m] > 0 && warmSquare[m] > 0 {
			o.SunWarmth = min(max(cross[m]/math.Sqrt(clearSquare[m]*warmSquare[m]), -0.9), 0.9)
		}
	}
}

// weibullShape returns the shape of the Weibull distribution with a ratio of
// standard deviation to mean: (deviation/mean)^-1.086, within 1 % for shapes of
// 1 to 10 ("Methods for estimating wind speed frequency distributions", Journal
// of Applied Meteorology 17, 1978; from memory).
func weibullShape(variation float64) float64 {
	return math.Pow(max(variation, 1e-6), -1.086)
}
