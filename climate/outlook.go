package climate

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"hackle/air"
	"hackle/sun"
)

const (
	// CoolingBase is the base of the cooling degree-days [°C], 65 °F like
	// [HeatingBase].
	CoolingBase = HeatingBase
	// GrowingBase is the base of the growing degree-days [°C]: custom of growers'
	// tables (50 °F), from memory.
	GrowingBase = 10.0
	// longConfinement is how long a spell without flight must be to be listed [d].
	// Common practice, no source.
	longConfinement = 7
	// mostConfinements is how many of them are listed.
	mostConfinements = 10
	// rainDay is the rain of a day from which it counts as a day of rain [mm]:
	// practice of climate tables of the World Meteorological Organization, from memory.
	rainDay = 1.0
	// snowDay is the depth from which snow lies [m], from memory of the same.
	snowDay = 0.01
)

// Outlook is a [Summary] with what a keeper asks next. Names end in the unit.
// Counts and degree-days of data longer than a year are those of the mean year.
type Outlook struct {
	Summary
	FlightTempC         float64 `json:"flight_temp_c"` // the rule of the flying days here
	CoolingDegreeDaysKD float64 `json:"cooling_degree_days_kd"`
	GrowingDegreeDaysKD float64 `json:"growing_degree_days_kd"`
	FlyingDays          float64 `json:"flying_days"` // a year, that reach FlightTempC
	// FlyingHours are hours a year of daylight, at least FlightTempC and, where
	// rain is known, without it.
	FlyingHours float64 `json:"flying_hours"`
	FrostDays   float64 `json:"frost_days"` // a year, whose lowest hour is below 0 °C
	IceDays     float64 `json:"ice_days"`   // a year, whose highest hour is below 0 °C
	HotDays     float64 `json:"hot_days"`   // a year, whose highest hour is above 30 °C
	RainDays    float64 `json:"rain_days"`  // a year, of at least 1 mm; 0 when unknown
	RainMM      float64 `json:"rain_mm"`    // a year; 0 when unknown
	SnowDays    float64 `json:"snow_days"`  // a year, with at least 1 cm lying; 0 when unknown
	// Dew points exceeded in the named share of the hours, over liquid water.
	DewExceeded99C float64 `json:"dew_point_exceeded_99_percent_c"`
	DewExceeded1C  float64 `json:"dew_point_exceeded_1_percent_c"`
	DewExceeded04C float64 `json:"dew_point_exceeded_0_4_percent_c"`
	// Confinements are the runs of at least seven days that stay below
	// FlightTempC, the longest first, ten at most.
	Confinements []Spell `json:"confinements"`
	Doubts       []Doubt `json:"doubts"` // what is missing or doubtful
}

// Doubt is something that is missing or doubtful in weather, for a reader who
// will act on it.
type Doubt struct {
	What string `json:"what"`
	Why  string `json:"why"`
}

// Outlook computes an Outlook with the air temperature from which bees fly [°C],
// 0 for [FlightTemp]. Days are whole days of local standard time, spells of a
// typical year run on over its end, as in [Series.Summary].
func (s *Series) Outlook(flight float64) Outlook {
	if flight == 0 {
		flight = FlightTemp
	}
	o := Outlook{Summary: s.Summary(), FlightTempC: flight}
	o.Doubts = s.doubts()
	if o.Days == 0 {
		return o
	}
	local := s.Start.In(s.Location())
	first := 0
	if h := local.Hour(); h > 0 {
		first = 24 - h
	}
	var days []day
	dew := make([]float64, 0, len(s.Hours))
	for i := first; i+24 <= len(s.Hours); i += 24 {
		d := day{begin: local.Add(time.Duration(i) * time.Hour), lowest: math.Inf(1), highest: math.Inf(-1)}
		rained, lying := 0.0, 0.0
		for k, h := range s.Hours[i : i+24] {
			d.mean += h.TempAir / 24
			d.lowest, d.highest = min(d.lowest, h.TempAir), max(d.highest, h.TempAir)
			rained += h.Rain
			lying = max(lying, h.SnowDepth)
			dew = append(dew, dewPointLiquid(h.RelHumidity*air.SaturationPressureLiquid(h.TempAir)))
			if h.TempAir >= flight && h.Rain == 0 && sun.Position(s.MidHour(i+k), s.Latitude, s.Longitude).Elevation > 0 {
				o.FlyingHours++
			}
		}
		days = append(days, d)
		o.CoolingDegreeDaysKD += max(d.mean-CoolingBase, 0)
		o.GrowingDegreeDaysKD += max(d.mean-GrowingBase, 0)
		o.FlyingDays += count(d.highest >= flight)
		o.FrostDays += count(d.lowest < 0)
		o.IceDays += count(d.highest < 0)
		o.HotDays += count(d.highest > 30)
		if s.HasRain {
			o.RainMM += rained
			o.RainDays += count(rained >= rainDay)
		}
		if s.HasSnow {
			o.SnowDays += count(lying >= snowDay)
		}
	}
	if years := float64(len(days)) / 365.25; years > 1 {
		for _, v := range []*float64{&o.CoolingDegreeDaysKD, &o.GrowingDegreeDaysKD, &o.FlyingDays, &o.FlyingHours, &o.FrostDays, &o.IceDays, &o.HotDays, &o.RainDays, &o.RainMM, &o.SnowDays} {
			*v /= years
		}
	}
	slices.Sort(dew)
	exceeded := func(share float64) float64 { return dew[min(int((1-share)*float64(len(dew))), len(dew)-1)] }
	o.DewExceeded99C, o.DewExceeded1C, o.DewExceeded04C = exceeded(0.99), exceeded(0.01), exceeded(0.004)
	o.Confinement = longestBelow(days, s.Typical, flight)
	o.Confinements = runsBelow(days, s.Typical, flight)
	for i := range o.Months {
		o.Months[i].FlyingDays = 0
	}
	o.Whole.FlyingDays = 0
	for _, d := range days {
		if d.highest < flight {
			continue
		}
		o.Whole.FlyingDays++
		for i := range o.Months {
			if o.Months[i].Month == d.begin.Month() {
				o.Months[i].FlyingDays++
			}
		}
	}
	return o
}

func count(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

// runsBelow lists the runs of at least longConfinement days below a limit, the
// longest first, equal ones by date.
func runsBelow(days []day, circular bool, limit float64) []Spell {
	n := len(days)
	begin := 0
	if circular { // begin after a day that flies, so that no run is cut
		for begin < n && days[begin].highest < limit {
			begin++
		}
		if begin == n { // never a flight
			return []Spell{spell(days, 0, n)}
		}
	}
	var spells []Spell
	run := 0
	for k := 0; k <= n; k++ {
		i := begin + k
		if k < n && days[i%n].highest < limit {
			run++
			continue
		}
		if run >= longConfinement {
			spells = append(spells, spell(days, (i-run)%n, run))
		}
		run = 0
	}
	slices.SortStableFunc(spells, func(a, b Spell) int { return b.Days - a.Days })
	return spells[:min(len(spells), mostConfinements)]
}

// doubts lists what is missing or doubtful.
func (s *Series) doubts() []Doubt {
	var d []Doubt
	add := func(what, why string) { d = append(d, Doubt{what, why}) }
	switch {
	case s.Typical:
		add("extremes", "a typical year: hard winters and hot summers are harder than this")
	case len(s.Hours) < 8760:
		add("length", fmt.Sprintf("%.0f days only, not a year", float64(len(s.Hours))/24))
	}
	if !s.HasRain {
		add("rain", "not in the file: counted as none")
	}
	if !s.HasSnow {
		why := "not in the file: counted as none"
		if s.HasRain {
			why += "; it can be computed from rain and temperature"
		}
		add("snow depth", why)
	}
	if n := len(s.Hours); s.HasSnow && n > 0 {
		frost, lies := 0, false
		for _, h := range s.Hours {
			lies = lies || h.SnowDepth > 0
			frost += int(count(h.TempAir < 0))
		}
		if !lies && frost >= 60*24 {
			add("snow depth", fmt.Sprintf("0 in every hour, with %d hours of frost: doubtful", frost))
		}
	}
	if n := len(s.Hours); n > 0 {
		same := true
		for _, h := range s.Hours {
			same = same && h.WindFrom == s.Hours[0].WindFrom
		}
		if same && n > 24 {
			add("wind direction", "the same in every hour")
		}
	}
	byLine := map[string]int{}
	for _, r := range s.Repairs {
		told := r.Found + " " + r.Done
		switch {
		case r.Field == fields[rain].name && !s.HasRain, r.Field == fields[snowDepth].name && !s.HasSnow: // said above
		case r.Line == 0 || strings.Contains(told, "doubtful") || strings.Contains(told, "may be far off"):
			add(r.Field, r.Found+": "+r.Done)
		default:
			byLine[r.Field]++
		}
	}
	for _, field := range sortedFields(byLine) {
		word := "notes"
		if byLine[field] == 1 {
			word = "note"
		}
		add(field, fmt.Sprintf("%d %s on single lines, in the list of repairs", byLine[field], word))
	}
	return d
}

func sortedFields(m map[string]int) []string {
	names := make([]string, 0, len(m))
	for name := range m {
		names = append(names, name)
	}
	slices.Sort(names)
	return names
}
