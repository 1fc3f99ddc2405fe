// Package climate holds hourly weather and reads it from open file layouts.
//
// A [Series] is complete: every hour carries every quantity. The readers
// [ReadEPW], [ReadCSV] and [ReadISDLite] fill, compute or refuse what a file
// lacks by the rules below, and tell in [Series.Repairs] what they did. Daily
// station records ([ReadGHCNDaily], [ReadNetherlandsDaily]) become hours by
// [Daily.Hourly] and then pass the same rules.
//
//   - Temperature, humidity, pressure, wind: a gap of at most 6 h is bridged by
//     linear interpolation (wind direction along the shorter arc). A longer
//     gap, or more than 2 % of the hours missing, refuses the file.
//   - Humidity comes from the dew point in hours that have one, else from the
//     relative humidity. Both are over liquid water, also in frost.
//   - Pressure that no row has is taken from the standard atmosphere at the
//     height of the site.
//   - An impossible value counts as missing: air temperature outside -90 to
//     60 °C, relative humidity below 0 or above 110 %, pressure outside 45 to
//     110 kPa, wind above 75 m/s, a direction outside 0 to 360°, radiation
//     below -20 or above 1,500 W/m². Humidity from 100 to 110 % is set to 100 %,
//     below 1 % to 1 %; radiation from -20 to 0 W/m² (the night offset of a
//     pyranometer) to 0.
//   - Direct and diffuse radiation missing beside a global value are split from
//     it by Erbs. A missing global value is the sum of its parts when both are
//     there; it is 0 when the sun is down; a gap of at most 6 h is bridged by
//     interpolating the clearness index.
//   - Missing long wave is computed from dew point and cloud cover; where cloud
//     cover is missing too it is judged from the day's sun against a clear sky.
//   - Rain and snow depth that are missing are 0; see [Series.HasRain].
//   - The centre of the daily radiation is compared with the sun's own
//     (see [Series.NoonOffset]); more than half an hour apart is reported as doubtful.
//     Nothing is shifted.
//
// The limits are common practice, no source, except that those of temperature
// are the wide side of the records of the World Meteorological Organization
// (-89.2 and 56.7 °C, from memory).
package climate

import "time"

// Hour is the weather of one hour: the state at, and for sums the hour that
// ends at, its time. Missing values never reach here; readers refuse or fill
// them by stated rule and tell so in Series.Repairs.
type Hour struct {
	TempAir           float64 // dry bulb at 2 m [°C]
	RelHumidity       float64 // over liquid water, 0 to 1 [-]
	Pressure          float64 // station pressure [Pa]
	WindSpeed         float64 // at 10 m in the open [m/s]
	WindFrom          float64 // direction the wind comes from, clockwise from north [deg]
	GlobalHorizontal  float64 // mean over the hour [W/m²]
	DirectNormal      float64 // mean over the hour [W/m²]
	DiffuseHorizontal float64 // mean over the hour [W/m²]
	SkyLongWave       float64 // downwelling long wave on the horizontal [W/m²]
	Rain              float64 // depth over the hour, 0 when unknown [mm]
	SnowDepth         float64 // 0 when unknown [m]
}

// Series is weather at equal steps of one hour.
type Series struct {
	Name      string
	Latitude  float64       // north positive [deg]
	Longitude float64       // east positive [deg]
	Height    float64       // above sea level [m]
	Zone      time.Duration // local standard time ahead of UTC
	// Start is the beginning of the first hour; Hours[i] covers
	// [Start+i·1h, Start+(i+1)·1h). Its zone is fixed and equals Zone.
	Start time.Time
	// MidOffset is the instant within an hour that its radiation stands for,
	// counted from the hour's beginning: 30 min for hourly means, less for a
	// file of spot readings. See [Series.MidHour].
	MidOffset time.Duration
	Hours     []Hour
	Typical   bool     // a made or typical year that may repeat: 8,760 hours from 1 January
	HasRain   bool     // rain is known in at least 95 % of the hours
	HasSnow   bool     // snow depth is known in at least 95 % of the hours
	Repairs   []Repair // what was filled or doubtful, in file order
	Source    string   // where the data come from, for the report
}

// Repair tells what a reader did to a faulty value.
type Repair struct {
	Line  int // 1-based line in the file, 0 when it concerns the whole file
	Field string
	Found string
	Done  string
}

// End returns the end of the last hour, which is Start when there is none.
func (s *Series) End() time.Time {
	return s.Start.Add(time.Duration(len(s.Hours)) * time.Hour)
}

// Location returns the fixed zone of the site's local standard time. Build
// local dates in it; daylight saving time never enters a Series.
func (s *Series) Location() *time.Location { return fixedZone(s.Zone) }

// MidHour returns the instant that the radiation of hour i stands for; take the
// sun's position then. Any i is allowed, also outside the series.
func (s *Series) MidHour(i int) time.Time {
	return s.Start.Add(time.Duration(i)*time.Hour + s.MidOffset)
}

// fixedZone names a fixed offset from UTC the way it is written in dates.
func fixedZone(offset time.Duration) *time.Location {
	if offset == 0 {
		return time.UTC
	}
	return time.FixedZone(zoneName(offset), int(offset/time.Second))
}

func zoneName(offset time.Duration) string {
	sign := byte('+')
	if offset < 0 {
		sign, offset = '-', -offset
	}
	h, m := int(offset/time.Hour), int(offset/time.Minute)%60
	return string([]byte{'U', 'T', 'C', sign, byte('0' + h/10%10), byte('0' + h%10), ':', byte('0' + m/10), byte('0' + m%10)})
}
