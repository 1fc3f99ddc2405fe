package climate

import (
	"bytes"
	"fmt"
	"io"
	"math"
)

// Columns of the ISD-Lite layout after year, month, day and hour (its
// "readme", from memory).
const (
	isdTemp     = iota // tenths of °C
	isdDewPoint        // tenths of °C
	isdSeaLevel        // pressure at sea level, tenths of hPa
	isdFrom            // degrees
	isdWind            // tenths of m/s
	isdSky             // code of the cloud cover
	isdRain1           // depth of one hour, tenths of mm, -1 for a trace
	isdRain6           // depth of six hours
	isdColumns
)

// isdCover turns the code of the sky into cloud cover [-]: 0 to 8 oktas, sky
// hidden, then few, scattered, broken and overcast in steps of the old code.
var isdCover = [...]float64{
	0, 1.0 / 8, 2.0 / 8, 3.0 / 8, 4.0 / 8, 5.0 / 8, 6.0 / 8, 7.0 / 8, 1, // oktas
	1, 0.5, // hidden, partly hidden
	3.0 / 8, 3.0 / 8, 3.0 / 8, // scattered: thin, plain, dark
	6.0 / 8, 6.0 / 8, 6.0 / 8, // broken
	1, 1, 1, // overcast
}

// ReadISDLite reads hourly station weather in the open ISD-Lite layout: rows of
// year, month, day, hour UTC and eight whole numbers. Files of several years may
// be joined one after another. name stands in messages.
//
// The layout has no radiation: noSun says what to assume, as in a [ColumnMap]:
// "cloud cover" (where the sky is known in half of a day's daylight, else that
// day's range of temperature), "daily range" or "overcast". Many stations see
// clouds by an instrument that ends at 3,700 m, so that thin high cloud passes
// for a clear sky. "" stands for "daily range".
//
// Pressure is brought from sea level to the station with its height and the air
// temperature of the hour. The depth of rain over six hours is not used. Calm
// hours without a direction take it from the hours around; rows up to three
// hours apart are resampled. Rules for faulty rows are those of [ReadCSV]. The
// error is a *[FileError] unless r fails.
func ReadISDLite(name string, r io.Reader, at Station, noSun string) (*Series, error) {
	text, err := readAll(name, r)
	if err != nil {
		return nil, err
	}
	return readISDLite(name, text, at, noSun)
}

func readISDLite(name string, text []byte, at Station, noSun string) (*Series, error) {
	if err := at.check(name); err != nil {
		return nil, err
	}
	plan := &csvPlan{siteZone: at.Zone, stamp: stampInstant, columns: []csvColumn{
		{field: tempAir, factor: 0.1}, {field: dewPoint, factor: 0.1}, {field: pressure, factor: 10},
		{field: windFrom, factor: 1}, {field: windSpeed, factor: 0.1}, {field: cloudCover, factor: 1}, {field: rain, factor: 0.1},
	}}
	t := &table{file: name}
	switch noSun {
	case "", "daily range":
		t.noSun = dailyRange
	case "cloud cover":
		t.noSun = fromClouds
	case "overcast":
		t.noSun = overcast
	default:
		return nil, fmt.Errorf("no sun: %q, accepted: daily range, cloud cover or overcast", noSun)
	}
	t.series = Series{Name: at.Name, Latitude: at.Latitude, Longitude: at.Longitude, Height: at.Height, Zone: at.Zone,
		Source: "ISD-Lite, " + name}
	if t.series.Name == "" {
		t.series.Name = name
	}
	rows, values := t.isdRows(&splitter{rest: bytes.TrimPrefix(text, []byte("\ufeff"))}, plan)
	if len(rows) == 0 {
		if err := t.checkBadRows(); err != nil {
			return nil, err
		}
		return nil, &FileError{File: name, Found: "no row", Accepted: "rows of year, month, day, hour and eight numbers"}
	}
	rows = t.order(rows)
	if err := t.checkBadRows(); err != nil {
		return nil, err
	}
	if err := plan.toHours(t, rows, values); err != nil {
		return nil, err
	}
	t.stationPressure(at.Height)
	t.calmDirections()
	return t.finish()
}

func (t *table) isdRows(lines *splitter, plan *csvPlan) ([]csvRow, []float64) {
	var rows []csvRow
	var values []float64
	for {
		l, ok := lines.next()
		if !ok {
			return rows, values
		}
		if len(trim(l)) == 0 {
			continue
		}
		t.rows++
		var number [4 + isdColumns]int
		n := 0
		for rest := l; n < len(number); n++ {
			rest = trim(rest)
			end := bytes.IndexAny(rest, " \t")
			if end < 0 {
				end = len(rest)
			}
			v, ok := fixedInt(rest[:end])
			if !ok {
				break
			}
			number[n] = v
			rest = rest[end:]
		}
		if n < 4+isdWind+1 {
			t.badRow(lines.line, "row", quote(l), fmt.Sprintf("left out: not year, month, day, hour and %d whole numbers", isdColumns))
			continue
		}
		for ; n < len(number); n++ {
			number[n] = -9999
		}
		day, isDate := dayOf(number[0], number[1], number[2])
		if !isDate || number[3] < 0 || number[3] > 23 {
			t.badRow(lines.line, "time", fmt.Sprintf("%d-%d-%d %d h", number[0], number[1], number[2], number[3]), "row left out: no such hour")
			continue
		}
		rows = append(rows, csvRow{at: int64(day)*daySeconds + int64(number[3])*3600, line: int32(lines.line), row: int32(len(rows))})
		for k, from := range [...]int{isdTemp, isdDewPoint, isdSeaLevel, isdFrom, isdWind, isdSky, isdRain1} {
			v := float64(number[4+from])
			switch {
			case v == -9999:
				v = math.NaN()
			case from == isdSky && v >= 0 && int(v) < len(isdCover):
				v = isdCover[int(v)]
			case from == isdSky:
				v = math.NaN()
			case from == isdRain1 && v == -1: // a trace
				v = 0
			}
			values = append(values, v*plan.columns[k].factor)
		}
	}
}

// stationPressure brings the pressure from sea level to a height [m], with the
// law of an isothermal column at the hour's temperature.
func (t *table) stationPressure(height float64) {
	known := 0
	for i, p := range t.column[pressure] {
		if math.IsNaN(p) {
			continue
		}
		known++
		temp := t.column[tempAir][i]
		if math.IsNaN(temp) {
			temp = 15
		}
		t.column[pressure][i] = p * barometric(height, temp)
	}
	switch {
	case known == 0:
		return
	case known == t.n:
		t.repair(0, fields[pressure].name, "given at sea level", fmt.Sprintf("brought to %.0f m", height))
		return
	}
	// A station misses it here and there, and it hardly changes in some hours:
	// every gap is bridged, to the nearest value at the ends.
	last := -1
	for i := 0; i <= t.n; i++ {
		if i < t.n && math.IsNaN(t.column[pressure][i]) {
			continue
		}
		for j := last + 1; j < i; j++ {
			switch {
			case last < 0:
				t.column[pressure][j] = t.column[pressure][i]
			case i == t.n:
				t.column[pressure][j] = t.column[pressure][last]
			default:
				x := float64(j-last) / float64(i-last)
				t.column[pressure][j] = t.column[pressure][last]*(1-x) + t.column[pressure][i]*x
			}
		}
		last = i
	}
	t.repair(0, fields[pressure].name, fmt.Sprintf("given at sea level, missing in %d of %d hours", t.n-known, t.n), fmt.Sprintf("brought to %.0f m, gaps interpolated", height))
}

// calmDirections gives a wind below variableWind that has no direction the one before
// it, or the first that is known.
func (t *table) calmDirections() {
	col := t.column[windFrom]
	last := math.NaN()
	for _, v := range col {
		if !math.IsNaN(v) {
			last = v
			break
		}
	}
	set := 0
	for i, v := range col {
		if !math.IsNaN(v) {
			last = v
			continue
		}
		if t.column[windSpeed][i] < variableWind && !math.IsNaN(last) {
			col[i] = last
			set++
		}
	}
	if set > 0 {
		t.repair(0, fields[windFrom].name, fmt.Sprintf("missing in %d hours of calm or variable wind", set), "that of the hour before")
	}
}

// variableWind is the speed below which a station may call the direction
// variable [m/s]: 6 kn, practice of aviation weather reports, from memory.
const variableWind = 3.2

// barometric returns the pressure at a height above another level over that at
// the level [-], for a column of air at one temperature [°C]: exp(-g z/(R T)).
func barometric(rise, temp float64) float64 {
	const (
		gravity = 9.80665 // [m/s²], standard
		gas     = 287.055 // of dry air [J/(kg·K)]
	)
	return math.Exp(-gravity * rise / (gas * (temp + 273.15)))
}
