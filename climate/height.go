package climate

import (
	"fmt"
	"math"
	"slices"
	"time"

	"hackle/air"
	"hackle/sun"
)

// lapseRates are how the air cools with height in each month of the northern
// half of the world [K/km], and vapourRates how fast the logarithm of its
// vapour pressure falls [1/km]: "Simple procedures for extrapolation of humidity
// variables in the mountainous western United States" (Journal of Climate 2,
// 1989), the first as repeated in the open code of a climate model (read), the
// second from memory of "A meteorological distribution system for
// high-resolution terrestrial modeling" (Journal of Hydrometeorology 7, 2006,
// DOI 10.1175/JHM486.1).
var (
	lapseRates  = [12]float64{4.4, 5.9, 7.1, 7.8, 8.1, 8.2, 8.1, 8.1, 7.7, 6.8, 5.5, 4.7}
	vapourRates = [12]float64{0.41, 0.42, 0.40, 0.39, 0.38, 0.36, 0.33, 0.33, 0.36, 0.37, 0.40, 0.40}
)

const (
	// Within the tropics one value serves all year: the lapse rate of the standard
	// atmosphere [K/km], and the mean of vapourRates [1/km].
	tropicLapse  = 6.5
	tropicVapour = 0.379
	tropics      = 23.4 // [deg]
	// farInHeight is the step in height from which the result is called doubtful
	// [m]. Common practice, no source.
	farInHeight = 500
)

// LapseRate returns how much colder the air gets with each metre of height [K/m]
// and how fast the logarithm of its vapour pressure falls [1/m], at a latitude
// [deg] and time of the year: monthly means of mountain country at middle
// latitudes, joined by straight lines between the middles of the months, half a
// year later in the south, and one value within the tropics. See [Series.AtHeight].
func LapseRate(latitude float64, t time.Time) (temperature, vapour float64) {
	if math.Abs(latitude) < tropics {
		return tropicLapse / 1000, tropicVapour / 1000
	}
	month := float64(t.YearDay()-1)/365.25*12 - 0.5
	if latitude < 0 {
		month += 6
	}
	i := int(math.Floor(month))
	x := month - float64(i)
	a, b := (i+12)%12, (i+13)%12
	return (lapseRates[a]*(1-x) + lapseRates[b]*x) / 1000, (vapourRates[a]*(1-x) + vapourRates[b]*x) / 1000
}

// AtHeight returns the weather moved to another height above the sea [m], in a
// new Series:
//
//   - air temperature and vapour pressure by [LapseRate], humidity at most 100 %;
//   - pressure by the weight of the air in between;
//   - sky long wave by the ratio that a clear sky's takes from both;
//   - sun, wind, rain and snow depth as they were, though rain, snow and wind
//     mostly grow with height.
//
// These are means over slopes and ridges; valleys on clear nights run the other
// way (see [FrostHollow]), and a step of more than 500 m is called doubtful in
// the Repairs. The same height gives a copy.
func (s *Series) AtHeight(height float64) *Series {
	w := s.altered()
	rise := height - s.Height
	if rise == 0 {
		return w
	}
	w.Height = height
	zone := s.Location()
	coldest, warmest := math.Inf(1), math.Inf(-1)
	var lapse, vapour float64
	for i := range w.Hours {
		if at := s.Start.Add(time.Duration(i) * time.Hour).In(zone); i == 0 || at.Hour() == 0 {
			lapse, vapour = LapseRate(s.Latitude, at)
		}
		h := &w.Hours[i]
		before := *h
		pv := before.RelHumidity * air.SaturationPressureLiquid(before.TempAir)
		h.TempAir -= lapse * rise
		coldest, warmest = min(coldest, h.TempAir-before.TempAir), max(warmest, h.TempAir-before.TempAir)
		saturated := air.SaturationPressureLiquid(h.TempAir)
		moved := min(pv*math.Exp(-vapour*rise), saturated)
		h.RelHumidity = max(moved/saturated, fields[relHumidity].setLow)
		h.Pressure *= barometric(rise, (h.TempAir+before.TempAir)/2)
		h.SkyLongWave *= sun.SkyLongWave(h.TempAir, air.DewPoint(moved), 0) / sun.SkyLongWave(before.TempAir, air.DewPoint(pv), 0)
	}
	done := fmt.Sprintf("air temperature moved by %+.1f to %+.1f K, vapour pressure, pressure and sky long wave with it", coldest, warmest)
	if math.Abs(rise) > farInHeight {
		done += "; doubtful over so large a step"
	}
	w.Repairs = append(w.Repairs, Repair{Field: "height", Found: fmt.Sprintf("weather of %.0f m wanted at %.0f m", s.Height, height), Done: done})
	return w
}

// altered returns a copy whose hours and notes may be changed.
func (s *Series) altered() *Series {
	w := *s
	w.Hours = slices.Clone(s.Hours)
	w.Repairs = slices.Clone(s.Repairs)
	return &w
}
