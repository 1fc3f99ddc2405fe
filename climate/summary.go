package climate

import (
	"math"
	"slices"
	"time"

	"hackle/air"
)

const (
	// FlightTemp is the air temperature from which bees fly [°C]: University of
	// Maine Cooperative Extension, "from about 10 °C" (read at second hand).
	FlightTemp = 10.0
	// HeatingBase is the base of the heating degree-days [°C]: 65 °F, the custom
	// of United States degree-day tables (from memory).
	HeatingBase = 18.3
)

// Summary is what a keeper wants to know of a year's weather. Names end in the
// unit. Days are those of local standard time; only whole days count.
type Summary struct {
	Hours  int          `json:"hours"`
	Days   int          `json:"days"`
	Months []MonthMeans `json:"months"` // of each calendar month in the data, all its years together
	// Whole is the same over all days; its Month is 0.
	Whole MonthMeans `json:"whole"`
	// HeatingDegreeDaysKD sums HeatingBase minus the day's mean where that is
	// positive [K·d]; of data longer than a year it is the mean year's.
	HeatingDegreeDaysKD float64 `json:"heating_degree_days_kd"`
	// Coldest and hottest seven days by mean temperature; no Days when the data
	// are shorter.
	ColdestWeek Spell `json:"coldest_week"`
	HottestWeek Spell `json:"hottest_week"`
	// Confinement is the longest run of days whose highest temperature stays
	// below FlightTemp, so that no bee flies.
	Confinement Spell `json:"confinement"`
	// Hourly temperatures that are exceeded in the named share of the hours, the
	// way design temperatures are stated in the ASHRAE Handbook, Fundamentals,
	// chapter "Climatic Design Information" (from memory).
	Exceeded996C float64 `json:"exceeded_99_6_percent_c"`
	Exceeded99C  float64 `json:"exceeded_99_percent_c"`
	Exceeded1C   float64 `json:"exceeded_1_percent_c"`
	Exceeded04C  float64 `json:"exceeded_0_4_percent_c"`
	LowestC      float64 `json:"lowest_c"`
	HighestC     float64 `json:"highest_c"`
}

// MonthMeans are means of one calendar month.
type MonthMeans struct {
	Month       time.Month `json:"month"`
	Days        int        `json:"days"`
	MeanC       float64    `json:"mean_c"`
	DailyHighC  float64    `json:"daily_high_c"` // mean of the days' highest hours
	DailyLowC   float64    `json:"daily_low_c"`  // mean of the days' lowest hours
	DewPointC   float64    `json:"dew_point_c"`  // mean of the hours' dew points, over ice below 0 °C
	VapourHPa   float64    `json:"vapour_pressure_hpa"`
	RelHumidity float64    `json:"relative_humidity"` // share of one
	PressureHPa float64    `json:"pressure_hpa"`
	WindMS      float64    `json:"wind_m_s"`
	SunKWhM2Day float64    `json:"sun_kwh_m2_day"` // global, on the horizontal
	FlyingDays  int        `json:"flying_days"`    // days that reach FlightTemp
}

// Spell is a run of days.
type Spell struct {
	First    time.Time `json:"first"` // midnight that begins the first day
	Last     time.Time `json:"last"`  // midnight that begins the last day
	Days     int       `json:"days"`
	MeanC    float64   `json:"mean_c"`
	LowestC  float64   `json:"lowest_c"`
	HighestC float64   `json:"highest_c"`
}

// day is one whole day.
type day struct {
	begin                 time.Time
	mean, lowest, highest float64 // [°C]
}

// Summary computes the figures of a Summary. In a typical year, spells run on
// over the year's end. Of a series without a whole day it has only Hours and the
// hourly temperatures.
func (s *Series) Summary() Summary {
	var sum Summary
	sum.Hours = len(s.Hours)
	if sum.Hours == 0 {
		return sum
	}
	sum.designTemps(s.Hours)

	local := s.Start.In(s.Location())
	first := 0
	if h := local.Hour(); h > 0 {
		first = 24 - h
	}
	var months [13]MonthMeans
	var days []day
	for i := first; i+24 <= len(s.Hours); i += 24 {
		d := day{begin: local.Add(time.Duration(i) * time.Hour), lowest: math.Inf(1), highest: math.Inf(-1)}
		var m MonthMeans
		for _, h := range s.Hours[i : i+24] {
			d.mean += h.TempAir / 24
			d.lowest = min(d.lowest, h.TempAir)
			d.highest = max(d.highest, h.TempAir)
			pv := h.RelHumidity * air.SaturationPressureLiquid(h.TempAir)
			m.DewPointC += air.DewPoint(pv) / 24
			m.VapourHPa += pv / 24 / 100
			m.RelHumidity += h.RelHumidity / 24
			m.PressureHPa += h.Pressure / 24 / 100
			m.WindMS += h.WindSpeed / 24
			m.SunKWhM2Day += h.GlobalHorizontal / 1000
		}
		m.Days = 1
		m.MeanC, m.DailyLowC, m.DailyHighC = d.mean, d.lowest, d.highest
		if d.highest >= FlightTemp {
			m.FlyingDays = 1
		}
		months[d.begin.Month()].add(m)
		sum.Whole.add(m)
		sum.HeatingDegreeDaysKD += max(HeatingBase-d.mean, 0)
		days = append(days, d)
	}
	sum.Days = len(days)
	if sum.Days == 0 {
		return sum
	}
	if years := float64(sum.Days) / 365.25; years > 1 {
		sum.HeatingDegreeDaysKD /= years
	}
	sum.Whole.divide()
	for month := range months {
		if months[month].Days > 0 {
			months[month].divide()
			months[month].Month = time.Month(month)
			sum.Months = append(sum.Months, months[month])
		}
	}
	sum.ColdestWeek = extremeWeek(days, s.Typical, -1)
	sum.HottestWeek = extremeWeek(days, s.Typical, 1)
	sum.Confinement = longestBelow(days, s.Typical, FlightTemp)
	return sum
}

func (m *MonthMeans) add(d MonthMeans) {
	m.Days += d.Days
	m.MeanC += d.MeanC
	m.DailyHighC += d.DailyHighC
	m.DailyLowC += d.DailyLowC
	m.DewPointC += d.DewPointC
	m.VapourHPa += d.VapourHPa
	m.RelHumidity += d.RelHumidity
	m.PressureHPa += d.PressureHPa
	m.WindMS += d.WindMS
	m.SunKWhM2Day += d.SunKWhM2Day
	m.FlyingDays += d.FlyingDays
}

func (m *MonthMeans) divide() {
	n := float64(m.Days)
	for _, v := range []*float64{&m.MeanC, &m.DailyHighC, &m.DailyLowC, &m.DewPointC, &m.VapourHPa, &m.RelHumidity, &m.PressureHPa, &m.WindMS, &m.SunKWhM2Day} {
		*v /= n
	}
}

func (sum *Summary) designTemps(hours []Hour) {
	temps := make([]float64, len(hours))
	for i, h := range hours {
		temps[i] = h.TempAir
	}
	slices.Sort(temps)
	exceeded := func(share float64) float64 {
		return temps[min(int((1-share)*float64(len(temps))), len(temps)-1)]
	}
	sum.Exceeded996C, sum.Exceeded99C = exceeded(0.996), exceeded(0.99)
	sum.Exceeded1C, sum.Exceeded04C = exceeded(0.01), exceeded(0.004)
	sum.LowestC, sum.HighestC = temps[0], temps[len(temps)-1]
}

// spell joins n days from the i-th on, round the end of a typical year.
func spell(days []day, i, n int) Spell {
	sp := Spell{First: days[i].begin, Last: days[i].begin.AddDate(0, 0, n-1), Days: n, LowestC: math.Inf(1), HighestC: math.Inf(-1)}
	for k := range n {
		d := &days[(i+k)%len(days)]
		sp.MeanC += d.mean / float64(n)
		sp.LowestC = min(sp.LowestC, d.lowest)
		sp.HighestC = max(sp.HighestC, d.highest)
	}
	return sp
}

// extremeWeek finds the seven days with the highest (sign 1) or lowest (-1)
// mean; of equal weeks the first.
func extremeWeek(days []day, circular bool, sign float64) Spell {
	const week = 7
	if len(days) < week {
		return Spell{}
	}
	starts := len(days) - week + 1
	if circular {
		starts = len(days)
	}
	best, bestMean := 0, math.Inf(-1)
	for i := range starts {
		mean := 0.0
		for k := range week {
			mean += sign * days[(i+k)%len(days)].mean
		}
		if mean > bestMean {
			best, bestMean = i, mean
		}
	}
	return spell(days, best, week)
}

// longestBelow finds the longest run of days whose highest temperature stays
// below a limit; of equal runs the first.
func longestBelow(days []day, circular bool, limit float64) Spell {
	n := len(days)
	span := n
	if circular {
		span = 2 * n
	}
	best, bestStart, run := 0, 0, 0
	for i := range span {
		if days[i%n].highest >= limit {
			run = 0
			continue
		}
		if run = min(run+1, n); run > best {
			best, bestStart = run, i-run+1
		}
	}
	if best == 0 {
		return Spell{}
	}
	return spell(days, bestStart%n, best)
}
