package climate

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"

	"hackle/air"
)

// csvTime is the column of times that WriteCSV writes.
const csvTime = "time"

// written is how a field is written: its column, and the factor and decimals of
// its unit there.
var written = [...]struct {
	field    int
	unit     string
	factor   float64 // from Hour's unit
	decimals int
	of       func(h *Hour) float64
}{
	{tempAir, "°C", 1, 2, func(h *Hour) float64 { return h.TempAir }},
	{relHumidity, "%", 100, 2, func(h *Hour) float64 { return h.RelHumidity }},
	{pressure, "Pa", 1, 0, func(h *Hour) float64 { return h.Pressure }},
	{windSpeed, "m/s", 1, 2, func(h *Hour) float64 { return h.WindSpeed }},
	{windFrom, "deg", 1, 0, func(h *Hour) float64 { return h.WindFrom }},
	{globalHorizontal, "W/m²", 1, 1, func(h *Hour) float64 { return h.GlobalHorizontal }},
	{directNormal, "W/m²", 1, 1, func(h *Hour) float64 { return h.DirectNormal }},
	{diffuseHorizontal, "W/m²", 1, 1, func(h *Hour) float64 { return h.DiffuseHorizontal }},
	{skyLongWave, "W/m²", 1, 1, func(h *Hour) float64 { return h.SkyLongWave }},
	{rain, "mm", 1, 2, func(h *Hour) float64 { return h.Rain }},
	{snowDepth, "cm", 100, 1, func(h *Hour) float64 { return h.SnowDepth }},
}

// unknown tells whether the zeros of a field of the series stand for hours in
// which it is not known.
func (s *Series) unknown(field int) bool {
	return field == rain && !s.HasRain || field == snowDepth && !s.HasSnow
}

// unknownThroughout tells whether a field is known in no hour of the series.
func (s *Series) unknownThroughout(field int) bool {
	if !s.unknown(field) {
		return false
	}
	for i := range s.Hours {
		if field == rain && s.Hours[i].Rain > 0 || field == snowDepth && s.Hours[i].SnowDepth > 0 {
			return false
		}
	}
	return true
}

// WriteCSV writes the hours of a record as CSV, a row for the beginning of each
// hour in local standard time, and returns the column map with which [ReadCSV]
// reads them back: put it beside the file as [ColumnMap.Write] writes it. Values
// come back to the decimals written, at worst 0.005 K, 0.01 % of relative humidity
// and half a degree of wind direction. Rain and snow depth that are not known are
// left empty, hours without them as well. The Repairs are not in the file.
//
// The readings of the file that s came from may stand for another instant of the
// hour than its middle or its beginning (see [Series.MidOffset]); the nearer of
// these two is written.
//
// A typical year is written with the dates of 2001, and its map says that it is
// typical.
func WriteCSV(w io.Writer, s *Series) (ColumnMap, error) {
	m := ColumnMap{
		Name: s.Name, Source: s.Source, Latitude: s.Latitude, Longitude: s.Longitude, Height: s.Height, Zone: s.Zone,
		Time:    TimeColumn{Columns: []string{csvTime}, Layout: "iso", Stamp: "start"},
		Typical: s.Typical,
		Columns: map[string]Column{},
	}
	if len(s.Hours) == 0 {
		return m, fmt.Errorf("climate: writing %s: no hour of weather", s.Name)
	}
	if s.MidOffset < 15*time.Minute {
		m.Time.Stamp = "instant"
	}
	b := bufio.NewWriterSize(w, 1<<16)
	var left [fieldCount]bool
	b.WriteString(csvTime) // errors of b stay and come out of Flush
	for i := range written {
		o := &written[i]
		if left[o.field] = s.unknownThroughout(o.field); left[o.field] {
			continue
		}
		name := fields[o.field].name
		m.Columns[name] = Column{Name: name + " [" + o.unit + "]", Unit: o.unit}
		b.WriteString("," + m.Columns[name].Name)
	}
	b.WriteByte('\n')
	at := s.Start.In(s.Location())
	var row []byte
	for i := range s.Hours {
		row = at.AppendFormat(row[:0], "2006-01-02T15:04")
		at = at.Add(time.Hour)
		for k := range written {
			o := &written[k]
			if left[o.field] {
				continue
			}
			row = append(row, ',')
			if v := o.of(&s.Hours[i]); v != 0 || !s.unknown(o.field) {
				row = appendNumber(row, v*o.factor, o.decimals)
			}
		}
		row = append(row, '\n')
		b.Write(row)
	}
	if err := b.Flush(); err != nil {
		return m, fmt.Errorf("writing %s: %w", s.Name, err)
	}
	return m, nil
}

// appendNumber writes a number without a minus before zero.
func appendNumber(b []byte, v float64, decimals int) []byte {
	scale := math.Pow10(decimals)
	if math.Round(v*scale) == 0 {
		v = 0
	}
	return strconv.AppendFloat(b, v, 'f', decimals, 64)
}

// Codes for a missing value of the fields that an Hour does not have, and what
// stands for the source and uncertainty of each value.
const (
	epwFlags       = "?9?9?9?9?9?9?9?9?9?9?9?9?9?9?9?9?9?9?9?9?9"
	epwNoSunTop    = ",9999,9999"
	epwNoLight     = ",999999,999999,999999,9999"
	epwNoSky       = ",99,99,9999,99999,9,999999999,999,.999"
	epwNoSnow      = "999"
	epwNoGround    = ",99,999"
	epwNoRain      = "999"
	epwNoRainHours = ",99"
)

// WriteEPW writes a series in the open EPW layout, from which [ReadEPW] reads it
// back: a typical year as such, a record with the dates of its hours. Values come
// back to the decimals written, relative humidity, which the reader takes from the
// dew point, to 0.1 %. Quantities that an Hour does not have carry their
// codes for missing, as do rain and snow depth in hours without them where they are
// not known, and the
// Repairs stand in the comments as far as they concern the whole file. The layout
// takes the sun's values for means over the hour: a MidOffset other than 30 min is
// lost. A comma in a name divides town, region and country.
func WriteEPW(w io.Writer, s *Series) error {
	if len(s.Hours) == 0 {
		return fmt.Errorf("climate: writing %s: no hour of weather", s.Name)
	}
	place := strings.Split(plainLine(s.Name), ", ")
	for len(place) < 3 {
		place = append(place, "")
	}
	place = append(place[:2], strings.Join(place[2:], "; "))
	for i := range place {
		place[i] = strings.ReplaceAll(place[i], ",", ";")
		if place[i] == "" {
			place[i] = "-"
		}
	}
	first := s.Start.In(s.Location())
	last := s.End().In(s.Location()).Add(-time.Hour)
	from, to, leap, kind := first.Format("1/2/2006"), last.Format("1/2/2006"), "Yes", "hours of a record"
	if s.Typical {
		from, to, leap, kind = "1/1", "12/31", "No", "typical year, which repeats"
	}
	var told []string
	for _, r := range s.Repairs {
		if r.Line == 0 {
			told = append(told, r.Field+": "+r.Found+": "+r.Done)
		}
	}
	b := bufio.NewWriterSize(w, 1<<16)
	fmt.Fprintf(b, "LOCATION,%s,-,-,%.5f,%.5f,%.4f,%.1f\n", strings.Join(place, ","), s.Latitude, s.Longitude, s.Zone.Hours(), s.Height)
	b.WriteString("DESIGN CONDITIONS,0\nTYPICAL/EXTREME PERIODS,0\nGROUND TEMPERATURES,0\n")
	fmt.Fprintf(b, "HOLIDAYS/DAYLIGHT SAVINGS,%s,0,0,0\n", leap)
	fmt.Fprintf(b, "COMMENTS 1,%s\n", strings.TrimPrefix(plainLine(s.Source), epwNoStation))
	fmt.Fprintf(b, "COMMENTS 2,%s. %s\n", kind, plainLine(strings.Join(told, ". ")))
	fmt.Fprintf(b, "DATA PERIODS,1,1,Data,%s,%s,%s\n", first.Weekday(), from, to)

	at := first
	var row []byte
	number := func(v float64, decimals int) { row = appendNumber(append(row, ','), v, decimals) }
	for i := range s.Hours {
		h := &s.Hours[i]
		row = at.AppendFormat(row[:0], "2006,1,2,")
		row = strconv.AppendInt(row, int64(at.Hour()+1), 10)
		row = append(row, ",60,"+epwFlags...)
		at = at.Add(time.Hour)
		number(h.TempAir, 2)
		number(dewPointLiquid(h.RelHumidity*air.SaturationPressureLiquid(h.TempAir)), 2)
		number(h.RelHumidity*100, 1)
		number(h.Pressure, 0)
		row = append(row, epwNoSunTop...)
		number(h.SkyLongWave, 1)
		number(h.GlobalHorizontal, 1)
		number(h.DirectNormal, 1)
		number(h.DiffuseHorizontal, 1)
		row = append(row, epwNoLight...)
		number(h.WindFrom, 0)
		number(h.WindSpeed, 2)
		row = append(row, epwNoSky...)
		if s.HasSnow || h.SnowDepth > 0 {
			number(min(h.SnowDepth*100, 998), 1) // 999 is the code for missing
		} else {
			row = append(row, ","+epwNoSnow...)
		}
		row = append(row, epwNoGround...)
		if s.HasRain || h.Rain > 0 {
			number(h.Rain, 2)
		} else {
			row = append(row, ","+epwNoRain...)
		}
		row = append(row, epwNoRainHours...)
		row = append(row, '\n')
		b.Write(row)
	}
	if err := b.Flush(); err != nil {
		return fmt.Errorf("writing %s: %w", s.Name, err)
	}
	return nil
}

// epwNoStation is how ReadEPW begins the source of a file that names none.
const epwNoStation = "station -; "

// plainLine makes one line of a text.
func plainLine(s string) string { return strings.Join(strings.Fields(s), " ") }
