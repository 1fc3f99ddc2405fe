package climate

import (
	"fmt"
	"math"
	"time"

	"hackle/air"
	"hackle/sun"
)

// HumidityRule tells what stays of the humidity where a temperature is moved.
type HumidityRule int

const (
	// KeepRelative keeps the relative humidity, so that warmer air holds more
	// vapour: what observations and models of warming show on the whole ("Water
	// vapor feedback and global warming", Annual Review of Energy and the
	// Environment 25, 2000, DOI 10.1146/annurev.energy.25.1.441; from memory). Land
	// far from the sea tends to dry a little beyond that.
	KeepRelative HumidityRule = iota
	// KeepVapour keeps the vapour pressure, and with it the dew point, up to
	// saturation: warmer air is drier.
	KeepVapour
)

// ShiftOptions are the choices of [Series.Shift].
type ShiftOptions struct {
	Humidity HumidityRule
}

// largestShift bounds a monthly change of temperature [K]: beyond any projection
// for this century.
const largestShift = 15

// Shift returns the weather of a climate that is warmer by deltas [K], January
// first. Each hour is moved by a smooth course through the year whose monthly
// means are the deltas; it does not alter how days differ or how they run. The
// humidity follows the rule of the options, and the long wave what the air and
// its vapour send: it is multiplied by the change of the clear sky's
// emissivity (Clark-Allen) and of the black body, so that clouds keep their share.
// Sun, wind, rain, pressure and snow stay as they are.
//
// A delta that is no number or beyond ±15 K, a rule that does not exist and a
// series without hours are errors.
func (s *Series) Shift(deltas [12]float64, options ShiftOptions) (*Series, error) {
	for m, d := range deltas {
		if !(math.Abs(d) <= largestShift) {
			return nil, fmt.Errorf("climate: shift of %s by %v K, accepted: -%d to %d K", time.Month(m+1), d, largestShift, largestShift)
		}
	}
	if options.Humidity != KeepRelative && options.Humidity != KeepVapour {
		return nil, fmt.Errorf("climate: humidity rule %d does not exist", options.Humidity)
	}
	if len(s.Hours) == 0 {
		return nil, fmt.Errorf("climate: shift of %s: no hour of weather", s.Name)
	}
	course := smoothMonths(deltas, false)
	ring := betweenNoons(course[:], true)
	shifted := *s
	shifted.Hours = make([]Hour, len(s.Hours))
	at := s.Start.In(s.Location())
	for i := range s.Hours {
		shifted.Hours[i] = s.Hours[i].warmed(ring[24*calendarDay(at)+at.Hour()], options.Humidity)
		at = at.Add(time.Hour)
	}
	kept := "relative humidity kept"
	if options.Humidity == KeepVapour {
		kept = "vapour pressure kept"
	}
	low, high := deltas[0], deltas[0]
	for _, d := range deltas {
		low, high = min(low, d), max(high, d)
	}
	shifted.Repairs = append(append([]Repair(nil), s.Repairs...), Repair{Field: fields[tempAir].name, Found: "another climate asked for",
		Done: fmt.Sprintf("moved by %+.1f to %+.1f K by month, %s, long wave computed anew; snow, rain, sun and wind as they were", low, high, kept)})
	shifted.Source = s.Source + ", shifted to another climate"
	return &shifted, nil
}

// warmed returns the hour with its temperature moved by delta [K].
func (h Hour) warmed(delta float64, rule HumidityRule) Hour {
	if delta == 0 {
		return h
	}
	pv := h.RelHumidity * air.SaturationPressureLiquid(h.TempAir)
	before := sun.ClarkAllenSky(air.DewPoint(pv)) * sun.BlackBody(h.TempAir)
	h.TempAir += delta
	saturated := air.SaturationPressureLiquid(h.TempAir)
	if rule == KeepVapour {
		h.RelHumidity = min(max(pv/saturated, fields[relHumidity].setLow), 1)
	}
	after := sun.ClarkAllenSky(air.DewPoint(h.RelHumidity*saturated)) * sun.BlackBody(h.TempAir)
	h.SkyLongWave *= after / before
	return h
}
