package climate

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"strings"
	"time"
	"unicode/utf8"
)

// typicalYear is the calendar year that the hours of a typical year are dated
// in. It is no leap year; [Series.Window] moves them to real years.
const typicalYear = 2001

// epwColumns is the number of fields of a full data row; epwNeeded is how many
// a row must have (up to wind speed, the last that every hour needs).
const (
	epwColumns = 35
	epwNeeded  = 22
)

// epwField says which field of a data row fills a column of the table.
type epwField struct {
	column  int // of the table
	index   int // 0-based, in the row
	missing float64
	factor  float64 // to the unit of the table
}

// epwFields follows the data dictionary of the EPW layout, with its codes for
// a missing value. A value at or above its code counts as missing. Cloud cover
// takes the opaque one, and the total where that is missing.
var epwFields = [...]epwField{
	{tempAir, 6, 99.9, 1},
	{dewPoint, 7, 99.9, 1},
	{relHumidity, 8, 999, 0.01},
	{pressure, 9, 999999, 1},
	{skyLongWave, 12, 9999, 1}, // Wh/m² over one hour is W/m²
	{globalHorizontal, 13, 9999, 1},
	{directNormal, 14, 9999, 1},
	{diffuseHorizontal, 15, 9999, 1},
	{windFrom, 20, 999, 1},
	{windSpeed, 21, 999, 1},
	{cloudCover, 22, 99, 0.1},
	{cloudCover, 23, 99, 0.1},
	{snowDepth, 30, 999, 0.01},
	{rain, 33, 999, 1},
}

// ReadEPW reads a weather file in the open EPW layout: eight header lines, then
// one row an hour of 35 fields separated by commas. name stands in messages.
//
// Hour 1 is the hour that ends at 01:00 local standard time; minute must be 0
// or 60, which mean the same. Files of several rows an hour, as their header
// says (their minutes end at 60, or begin at 0), are averaged: means, the mean
// vector for wind direction, the sum for rain; an hour with less than half of its rows counts as
// missing. The header's daylight saving period is not used: the layout keeps
// standard time.
//
// Of a file with several data periods that do not touch, the longest is read,
// and the Repairs name the others; [ReadEPWPeriods] reads them all.
//
// A file is a typical year when its years do not follow each other like a
// calendar's (months from different years), or when its header says so. Its
// months are joined as they are; it must hold all of 1 January to 31 December.
// Its 29 February, if any, is left out, so that it has 8,760 hours. Any other
// file is a record of real hours, of any length. A leap year of a record that
// lacks 29 February gets a copy of the day before.
//
// Rows must follow in time. A second row of the same hour is left out, as is a
// row that is not understood; a file with more than 2 % of such rows is
// refused. The rules for missing and impossible values are in the package
// comment. A file without global radiation is refused. The error is a
// *[FileError] unless r fails.
//
// Source of the layout: the auxiliary programs documentation of the public
// building-energy weather format ("EPW data dictionary"), from memory.
func ReadEPW(name string, r io.Reader) (*Series, error) {
	text, err := readAll(name, r)
	if err != nil {
		return nil, err
	}
	return readEPW(name, text)
}

func readEPW(name string, text []byte) (*Series, error) {
	if len(text) == 0 {
		return nil, &FileError{File: name, Found: "an empty file", Accepted: "weather in the EPW layout"}
	}
	series, err := readEPWPeriods(name, text)
	if err != nil {
		return nil, err
	}
	return longestPeriod(series), nil
}

// epwHead is what later steps need of the header.
type epwHead struct {
	typical          bool
	endMonth, endDay int // of the last of DATA PERIODS, 0 when not understood
	perHour          int // rows an hour
	periods          int
	periodNames      []string
	leap             string // what the header says of leap years, in capitals
}

// typicalWords mark a made year in the source or the comments of a header: the
// short names of the public typical-year data sets.
var typicalWords = []string{"TMY", "TYPICAL", "IWEC", "CWEC", "WYEC", "RMY", "TRY"}

func hasTypicalWord(s string) bool {
	for _, w := range strings.FieldsFunc(strings.ToUpper(s), func(c rune) bool { return (c < 'A' || c > 'Z') }) {
		for _, t := range typicalWords {
			if w == t {
				return true
			}
		}
	}
	return false
}

func (t *table) epwHeader(lines *splitter) (epwHead, error) {
	var h epwHead
	var header [8]string
	for i := range header {
		l, ok := lines.next()
		if !ok {
			return h, &FileError{File: t.file, Line: lines.line, Found: fmt.Sprintf("the end after %d lines", i), Accepted: "eight header lines, LOCATION to DATA PERIODS, then the hours"}
		}
		if !utf8.Valid(l) {
			runes := make([]rune, len(l))
			for j, c := range l {
				runes[j] = rune(c)
			}
			header[i] = string(runes)
			t.repair(lines.line, "header", "text that is not UTF-8", "read as Latin-1")
		} else {
			header[i] = string(l)
		}
	}

	loc := strings.Split(header[0], ",")
	if !strings.EqualFold(strings.TrimSpace(loc[0]), "LOCATION") {
		return h, &FileError{File: t.file, Line: 1, Found: quote([]byte(header[0])), Accepted: "LOCATION and nine fields, the first line of the EPW layout"}
	}
	if len(loc) < 10 {
		return h, &FileError{File: t.file, Line: 1, Field: "LOCATION", Found: fmt.Sprintf("%d fields", len(loc)), Accepted: "10: city, state, country, source, station number, latitude, longitude, zone, height"}
	}
	var numbers [4]float64
	for i, n := range [...]struct {
		name      string
		low, high float64
		accepted  string
	}{
		{"latitude", -90, 90, "-90 to 90 degrees, north positive"},
		{"longitude", -180, 180, "-180 to 180 degrees, east positive"},
		{"time zone", -12, 14, "-12 to 14 hours ahead of UTC"},
		{"height", -450, 9000, "-450 to 9000 m above the sea"},
	} {
		text := strings.TrimSpace(loc[6+i])
		v, ok := parseFloat([]byte(text))
		if !ok || v < n.low || v > n.high {
			return h, &FileError{File: t.file, Line: 1, Field: n.name, Found: quote([]byte(text)), Accepted: n.accepted}
		}
		numbers[i] = v
	}
	t.series.Latitude, t.series.Longitude, t.series.Height = numbers[0], numbers[1], numbers[3]
	t.series.Zone = time.Duration(math.Round(numbers[2]*60)) * time.Minute
	t.series.MidOffset = 30 * time.Minute
	t.series.Name = joinNonEmpty(", ", loc[1], loc[2], loc[3])
	t.series.Source = joinNonEmpty(", ", loc[4], "station "+strings.TrimSpace(loc[5]))
	h.typical = hasTypicalWord(loc[4])
	for i, c := range header[5:7] {
		if _, rest, ok := strings.Cut(c, ","); ok {
			h.typical = h.typical || hasTypicalWord(rest)
			if i == 0 {
				t.series.Source = joinNonEmpty("; ", t.series.Source, strings.Trim(rest, " -,\""))
			}
		}
	}

	// The dates of DATA PERIODS are "month/day", with blanks inside at times,
	// and "month/day/year" in a record of real years.
	period := strings.Split(header[7], ",")
	if !strings.EqualFold(strings.TrimSpace(period[0]), "DATA PERIODS") || len(period) < 7 {
		return h, &FileError{File: t.file, Line: 8, Found: quote([]byte(header[7])), Accepted: "DATA PERIODS, number of periods, rows an hour, name, first weekday, first date, last date"}
	}
	var ok bool
	if h.perHour, ok = parseInt([]byte(period[2])); !ok || h.perHour < 1 || h.perHour > 60 || 60%h.perHour != 0 {
		return h, &FileError{File: t.file, Line: 8, Field: "rows an hour", Found: quote([]byte(period[2])), Accepted: "1, or a number that divides 60"}
	}
	if h.periods, ok = parseInt([]byte(period[1])); !ok || h.periods < 1 || h.periods > 366 {
		return h, &FileError{File: t.file, Line: 8, Field: "data periods", Found: quote([]byte(period[1])), Accepted: "1 to 366"}
	}
	for i := 3; i+3 < len(period); i += 4 { // name, first weekday, first date, last date
		h.periodNames = append(h.periodNames, strings.TrimSpace(period[i]))
	}
	if holidays := strings.Split(header[4], ","); len(holidays) > 1 {
		h.leap = strings.ToUpper(strings.TrimSpace(holidays[1]))
	}
	end := strings.Split(strings.TrimSpace(period[len(period)-1]), "/")
	if len(end) == 2 || len(end) == 3 {
		m, okM := parseInt([]byte(end[0]))
		d, okD := parseInt([]byte(end[1]))
		if okM && okD && m >= 1 && m <= 12 && d >= 1 && d <= daysOfMonth(2000, m) {
			h.endMonth, h.endDay = m, d
		}
		if len(end) == 3 { // a year: real hours, whatever the comments say
			h.typical = false
		}
	}
	return h, nil
}

func joinNonEmpty(sep string, parts ...string) string {
	var kept []string
	for _, p := range parts {
		if p = strings.TrimSpace(p); p != "" && p != "-" {
			kept = append(kept, p)
		}
	}
	return strings.Join(kept, sep)
}

// epwRow is one data row.
type epwRow struct {
	line, year, month, day, hour int // hour 1 to 24
	minute                       int
	value                        [fieldCount]float64
}

func (t *table) epwRows(lines *splitter, perHour int) ([]epwRow, error) {
	rows := make([]epwRow, 0, 1+len(lines.rest)/150) // 150: a short row
	var field [epwColumns][]byte
	for {
		l, ok := lines.next()
		if !ok {
			break
		}
		l = bytes.TrimRight(l, "\x1a \t\r") // 0x1A ended text files once
		if len(l) == 0 {
			continue
		}
		t.rows++
		n := splitComma(l, field[:])
		if n < epwNeeded {
			t.badRow(lines.line, "row", fmt.Sprintf("%d fields in %s", n, quote(l)), fmt.Sprintf("left out: a row has %d fields, at least %d", epwColumns, epwNeeded))
			continue
		}
		row := epwRow{line: lines.line}
		bad := -1
		for i, to := range [...]*int{&row.year, &row.month, &row.day, &row.hour, &row.minute} {
			v, ok := parseInt(field[i])
			if !ok {
				f, okF := parseFloat(trim(field[i])) // some writers print 1.0
				if !okF || f != math.Trunc(f) || f < 0 || f > 1e6 {
					bad = i
					break
				}
				v = int(f)
			}
			*to = v
		}
		names := [...]string{"year", "month", "day", "hour", "minute"}
		switch {
		case bad >= 0:
		case row.year < 1 || row.year > 9999:
			bad = 0
		case row.month < 1 || row.month > 12:
			bad = 1
		case row.day < 1 || row.day > daysOfMonth(2000, row.month):
			bad = 2
		case row.hour < 1 || row.hour > 24:
			return nil, &FileError{File: t.file, Line: lines.line, Field: "hour", Found: quote(field[3]), Accepted: "1 to 24, the hour that ends then"}
		case row.minute > 60 || row.minute%(60/perHour) != 0:
			accepted := "0 or 60 (hourly rows)"
			if perHour > 1 {
				accepted = fmt.Sprintf("0 to 60 in steps of %d (%d rows an hour)", 60/perHour, perHour)
			}
			return nil, &FileError{File: t.file, Line: lines.line, Field: "minute", Found: quote(field[4]), Accepted: accepted}
		}
		if bad >= 0 {
			t.badRow(lines.line, names[bad], quote(field[bad]), "row left out: the date is not understood")
			continue
		}
		for f := range row.value {
			row.value[f] = math.NaN()
		}
		faulty := false
		for _, f := range epwFields {
			if f.index >= n {
				continue
			}
			b := trim(field[f.index])
			if len(b) == 0 {
				continue
			}
			v, ok := parseFloat(b)
			if !ok {
				if !faulty { // one bad row however many of its values are
					t.badRow(lines.line, fields[f.column].name, quote(b), "no number, treated as missing")
					faulty = true
				}
				continue
			}
			if v >= f.missing || f.column == tempAir && v == -99.9 {
				continue
			}
			row.value[f.column] = v * f.factor
		}
		rows = append(rows, row)
	}
	return rows, nil
}

// splitComma cuts a row at its commas and returns how many fields it has; those
// beyond len(into) are counted but not kept.
func splitComma(l []byte, into [][]byte) int {
	n := 0
	for {
		i := bytes.IndexByte(l, ',')
		piece := l
		if i >= 0 {
			piece = l[:i]
		}
		if n < len(into) {
			into[n] = piece
		}
		n++
		if i < 0 {
			return n
		}
		l = l[i+1:]
	}
}

// followCalendar tells whether the years of the rows follow each other as real
// time does: never back, and on to another year only from December to January.
func followCalendar(rows []epwRow) bool {
	for i := 1; i < len(rows); i++ {
		a, b := &rows[i-1], &rows[i]
		if a.year == b.year {
			continue
		}
		if b.year != a.year+1 || a.month != 12 || b.month != 1 {
			return false
		}
	}
	return true
}

// layTypical lays the rows on the 8,760 hours of the typical year.
func (t *table) layTypical(rows []epwRow) error {
	t.series.Typical = true
	t.series.Start = time.Date(typicalYear, 1, 1, 0, 0, 0, 0, fixedZone(t.series.Zone))
	t.grow(8760)
	last, leap := -1, 0
	for i := range rows {
		row := &rows[i]
		if row.month == 2 && row.day == 29 {
			if leap == 0 {
				t.repair(row.line, "date", "29 February", "left out: a typical year has 365 days here")
			}
			leap++
			continue
		}
		at := hourOfYear(row.month, row.day, row.hour-1)
		if at == last {
			t.badRow(row.line, "date", fmt.Sprintf("a second row for %s", t.at(at)), "left out")
			continue
		}
		if at < last {
			return t.outOfOrder(row, at, last)
		}
		t.put(at, row)
		t.years[row.month] = row.year
		last = at
	}
	if first := firstHour(t.line); first > longestGap || last < 8760-1-longestGap {
		return &FileError{File: t.file, Line: rows[len(rows)-1].line, Field: "date",
			Found:    fmt.Sprintf("a typical year from %s to %s", t.at(max(first, 0)), t.at(last)),
			Accepted: "all hours of 1 January to 31 December"}
	}
	return nil
}

func firstHour(line []int32) int {
	for i, l := range line {
		if l > 0 {
			return i
		}
	}
	return -1
}

// layRecord lays the rows of real hours on the time axis.
func (t *table) layRecord(rows []epwRow) error {
	first := &rows[0]
	zone := fixedZone(t.series.Zone)
	t.series.Start = time.Date(first.year, time.Month(first.month), first.day, first.hour-1, 0, 0, 0, zone)
	for i := range rows {
		row := &rows[i]
		if row.day > daysOfMonth(row.year, row.month) {
			t.badRow(row.line, "day", fmt.Sprintf("29 February %d", row.year), "row left out: no leap year")
			continue
		}
		begin := time.Date(row.year, time.Month(row.month), row.day, row.hour-1, 0, 0, 0, zone)
		at := int(begin.Sub(t.series.Start) / time.Hour)
		if at == t.n-1 {
			t.badRow(row.line, "date", fmt.Sprintf("a second row for %s", t.at(at)), "left out")
			continue
		}
		if at < t.n {
			return t.outOfOrder(row, at, t.n-1)
		}
		if gap := at - t.n; gap > 0 {
			if gap == 24 && row.month == 3 && row.day == 1 && row.hour == 1 && t.n >= 24 {
				t.grow(24)
				for f := range t.column {
					copy(t.column[f][t.n-24:], t.column[f][t.n-48:t.n-24])
				}
				t.repair(row.line, "date", fmt.Sprintf("no 29 February %d", row.year), "copied from 28 February")
			} else if gap > longestGap {
				return &FileError{File: t.file, Line: row.line, Field: "date",
					Found:    fmt.Sprintf("%d h missing from %s", gap, t.at(t.n)),
					Accepted: fmt.Sprintf("gaps of at most %d h", longestGap)}
			} else {
				t.repair(row.line, "date", fmt.Sprintf("no row for %d h from %s", gap, t.at(t.n)), "values bridged")
				t.grow(gap)
			}
		}
		t.grow(1)
		t.put(at, row)
	}
	return nil
}

func (t *table) put(at int, row *epwRow) {
	t.line[at] = int32(row.line)
	for f, v := range row.value {
		t.column[f][at] = v
	}
}

func (t *table) outOfOrder(row *epwRow, at, last int) error {
	return &FileError{File: t.file, Line: row.line, Field: "date",
		Found:    fmt.Sprintf("%s after %s", t.at(at), t.at(last)),
		Accepted: "rows in the order of time"}
}

// daysBefore counts the days of a common year before each month.
var daysBefore = [13]int{0, 0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334}

// hourOfYear returns the index of an hour (0 to 23) in a year of 365 days.
func hourOfYear(month, day, hour int) int {
	return 24*(daysBefore[month]+day-1) + hour
}

func daysOfMonth(year, month int) int {
	switch month {
	case 4, 6, 9, 11:
		return 30
	case 2:
		if year%4 == 0 && (year%100 != 0 || year%400 == 0) {
			return 29
		}
		return 28
	}
	return 31
}
