package climate

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"time"
)

// ghcnElement says what an element of the GHCN-Daily layouts fills.
type ghcnElement struct {
	field  int
	factor float64 // to the unit of Day
}

// ghcnElements lists the elements that are read, with the units of the data
// set's description ("GHCN-Daily readme", section III, from memory). Others are
// passed over.
var ghcnElements = map[string]ghcnElement{
	"TMAX": {dayTempMax, 0.1},      // tenths of °C
	"TMIN": {dayTempMin, 0.1},      // tenths of °C
	"ADPT": {dayDewPoint, 0.1},     // tenths of °C
	"RHAV": {dayRelHumidity, 0.01}, // per cent
	"ASTP": {dayPressure, 10},      // tenths of hPa, at the station
	"AWND": {dayWindSpeed, 0.1},    // tenths of m/s
	"AWDR": {dayWindFrom, 1},       // degrees
	"TSUN": {daySunHours, 1.0 / 60},
	"PSUN": {daySunShare, 0.01},
	"ACMC": {dayCloudCover, 0.01}, // per cent, midnight to midnight
	"PRCP": {dayRain, 0.1},        // tenths of mm
	"SNWD": {daySnowDepth, 0.001}, // mm
}

// ReadGHCNDaily reads a station's daily record in one of the open layouts of the
// GHCN-Daily data set: the fixed-width .dly file, the CSV file by station with a
// row an element and day, or the CSV file with a row a day, named columns and
// their attributes. name stands in messages.
//
// Read are TMAX, TMIN, ADPT, RHAV, ASTP, AWND, AWDR, TSUN, PSUN, ACMC, PRCP and
// SNWD; other elements are passed over. A value with a quality flag counts as
// missing, and is reported; a trace of rain is 0. Days run from midnight to
// midnight of local standard time here, whatever hour the observer read the
// thermometers at: the layouts seldom say, and a morning reading gives its
// highest temperature to the day after. The Repairs say so.
//
// A row that is not understood, or a second value of the same day, is left out
// and reported; a file with more than 2 % of such rows is refused. Values that
// are impossible (see the package comment) count as missing.
//
// Of the layouts only the one with named columns carries the place: give a zero
// Station to take it from there, with the zone nearest to the sun's time. The
// error is a *[FileError] unless r fails.
func ReadGHCNDaily(name string, r io.Reader, at Station) (*Daily, error) {
	text, err := readAll(name, r)
	if err != nil {
		return nil, err
	}
	return readGHCNDaily(name, text, at)
}

func readGHCNDaily(name string, text []byte, at Station) (*Daily, error) {
	text = bytes.TrimPrefix(text, []byte("\ufeff"))
	rd := &dayReader{}
	rd.file = name
	lines := &splitter{rest: text}
	first, _ := cutLine(text)
	var err error
	switch layoutOf(first) {
	case layoutDly:
		err = rd.dly(lines)
	case layoutByStation:
		err = rd.byStation(lines)
	case layoutDayRows:
		err = rd.dayRows(lines, &at)
	default:
		err = &FileError{File: name, Line: 1, Found: quote(first), Accepted: "a GHCN-Daily record: .dly, or CSV by station or by day"}
	}
	if err != nil {
		return nil, err
	}
	if err := at.check(name); err != nil {
		return nil, err
	}
	d, err := rd.days()
	if err != nil {
		return nil, err
	}
	if at.Name == "" {
		at.Name = rd.station
	}
	d.place(at)
	d.Source = "GHCN-Daily, station " + rd.station
	d.Repairs = append(d.Repairs, Repair{Field: "date", Found: "days that the observer's hour bounds", Done: "taken from midnight to midnight of local standard time"})
	return d, nil
}

type dailyLayout int

const (
	layoutUnknown dailyLayout = iota
	layoutDly
	layoutByStation
	layoutDayRows
)

// layoutOf tells the GHCN-Daily layouts apart by the first line.
func layoutOf(first []byte) dailyLayout {
	plain := strings.ToUpper(strings.ReplaceAll(string(first), `"`, ""))
	piece := strings.Split(plain, ",")
	switch {
	case len(piece) >= 6 && piece[0] == "STATION" && slices.Contains(piece, "DATE"):
		return layoutDayRows
	case len(piece) >= 4 && piece[0] == "ID":
		return layoutByStation
	case len(piece) >= 4 && len(piece[0]) == 11 && len(piece[1]) == 8 && len(piece[2]) == 4:
		return layoutByStation
	case len(first) >= dlyShortest && isElement(first[17:21]):
		if _, ok := fixedInt(first[11:17]); ok {
			return layoutDly
		}
	}
	return layoutUnknown
}

func isElement(b []byte) bool {
	for _, c := range b {
		if (c < 'A' || c > 'Z') && (c < '0' || c > '9') {
			return false
		}
	}
	return len(b) == 4
}

// Columns of the .dly layout: identifier 1 to 11, year 12 to 15, month 16 to
// 17, element 18 to 21, then 31 times a value of 5 and three flags of one.
const (
	dlyHead     = 21
	dlyDay      = 8
	dlyShortest = dlyHead + dlyDay
)

func (rd *dayReader) dly(lines *splitter) error {
	for {
		l, ok := lines.next()
		if !ok {
			return nil
		}
		if len(trim(l)) == 0 {
			continue
		}
		rd.rows++
		if len(l) < dlyShortest {
			rd.badRow(lines.line, "row", quote(l), "left out: shorter than one day of the layout")
			continue
		}
		if err := rd.sameStation(lines.line, string(bytes.ToValidUTF8(l[:11], []byte("?")))); err != nil {
			return err
		}
		year, okYear := fixedInt(l[11:15])
		month, okMonth := fixedInt(l[15:17])
		if _, ok := dayOf(year, month, 1); !okYear || !okMonth || !ok || !isElement(l[17:21]) {
			rd.badRow(lines.line, "row", quote(l[11:21]), "left out: no year, month and element")
			continue
		}
		element, ok := ghcnElements[string(l[17:21])]
		if !ok {
			continue
		}
		faulty := false
		for i := range 31 {
			at := dlyHead + i*dlyDay
			if at+5 > len(l) {
				break // writers cut blanks and missing days off the end
			}
			v, ok := fixedInt(l[at : at+5])
			if ok && v == -9999 {
				continue
			}
			number, isDate := dayOf(year, month, i+1)
			if !ok || !isDate {
				if !faulty {
					faulty = true
					rd.badRow(lines.line, fmt.Sprintf("%s of day %d", l[17:21], i+1), quote(l[at:at+5]), "no number, or no such day; treated as missing")
				}
				continue
			}
			var mark, quality byte = ' ', ' '
			if at+6 < len(l) {
				mark, quality = l[at+5], l[at+6]
			}
			rd.addGHCN(lines.line, number, string(l[17:21]), element, float64(v), mark, quality)
		}
	}
}

// addGHCN takes a value with its measurement and quality flags, a blank or 0
// for none.
func (rd *dayReader) addGHCN(line int, number int32, name string, e ghcnElement, v float64, mark, quality byte) {
	if quality != ' ' && quality != 0 {
		rd.repair(line, dayFields[e.field].name, fmt.Sprintf("%s %g on %s with quality flag %q", name, v, dateOf(number).Format(time.DateOnly), quality), "treated as missing")
		rd.readings = append(rd.readings, dayReading{number, int32(line), int32(e.field), math.NaN()})
		return
	}
	if mark == 'T' {
		v = 0
	}
	rd.add(line, number, e.field, v*e.factor)
}

// byStation reads rows of identifier, date, element, value and flags.
func (rd *dayReader) byStation(lines *splitter) error {
	comma := &csvPlan{separator: ','}
	var piece [][]byte
	for {
		l, ok := lines.next()
		if !ok {
			return nil
		}
		if len(trim(l)) == 0 || lines.line == 1 && bytes.HasPrefix(bytes.TrimLeft(l, `"`), []byte("ID")) && layoutOf(l) == layoutByStation && bytes.Contains(l, []byte("ELEMENT")) {
			continue
		}
		rd.rows++
		var err error
		piece, err = comma.split(l, piece[:0])
		if err != nil || len(piece) < 4 {
			rd.badRow(lines.line, "row", quote(l), "left out: not station, date, element, value and flags")
			continue
		}
		if err := rd.sameStation(lines.line, string(bytes.ToValidUTF8(piece[0], []byte("?")))); err != nil {
			return err
		}
		number, ok := dateNumber(piece[1])
		if !ok {
			rd.badRow(lines.line, "date", quote(piece[1]), "row left out: not of the form YYYYMMDD")
			continue
		}
		element, ok := ghcnElements[string(piece[2])]
		if !ok {
			if !isElement(piece[2]) {
				rd.badRow(lines.line, "element", quote(piece[2]), "row left out: an element has four letters")
			}
			continue
		}
		v, ok := parseFloat(piece[3])
		if !ok {
			rd.badRow(lines.line, string(piece[2]), quote(piece[3]), "no number, treated as missing")
			continue
		}
		if v == -9999 {
			continue
		}
		rd.addGHCN(lines.line, number, string(piece[2]), element, v, flagOf(piece, 4), flagOf(piece, 5))
	}
}

func flagOf(piece [][]byte, i int) byte {
	if i < len(piece) && len(piece[i]) > 0 {
		return piece[i][0]
	}
	return ' '
}

// dateNumber reads YYYYMMDD or YYYY-MM-DD.
func dateNumber(b []byte) (int32, bool) {
	if len(b) == 10 && b[4] == '-' && b[7] == '-' {
		b = slices.Concat(b[:4], b[5:7], b[8:])
	}
	if len(b) != 8 {
		return 0, false
	}
	year, okYear := parseInt(b[:4])
	month, okMonth := parseInt(b[4:6])
	dayOfMonth, okDay := parseInt(b[6:])
	if !okYear || !okMonth || !okDay {
		return 0, false
	}
	return dayOf(year, month, dayOfMonth)
}

// dayRows reads rows of one day with named columns; an element's flags stand in
// its column of attributes, separated by commas.
func (rd *dayReader) dayRows(lines *splitter, at *Station) error {
	comma := &csvPlan{separator: ','}
	l, _ := lines.next()
	head, err := comma.split(l, nil)
	if err != nil {
		return &FileError{File: rd.file, Line: 1, Field: "column names", Found: quote(l), Err: err}
	}
	column := map[string]int{}
	for i, h := range head {
		column[strings.ToUpper(string(h))] = i
	}
	type elementColumn struct {
		name              string
		index, attributes int
		element           ghcnElement
		marked            bool // it has attributes
	}
	var elements []elementColumn
	for i, h := range head {
		e, ok := ghcnElements[strings.ToUpper(string(h))]
		if !ok {
			continue
		}
		a, marked := column[strings.ToUpper(string(h))+"_ATTRIBUTES"]
		elements = append(elements, elementColumn{name: strings.ToUpper(string(h)), index: i, attributes: a, element: e, marked: marked})
	}
	if len(elements) == 0 {
		return &FileError{File: rd.file, Line: 1, Field: "column names", Found: quote(l), Accepted: "columns of elements, such as TMAX and TMIN"}
	}
	var piece [][]byte
	placed := *at != Station{}
	for {
		l, ok := lines.next()
		if !ok {
			return nil
		}
		if len(trim(l)) == 0 {
			continue
		}
		rd.rows++
		piece, err = comma.split(l, piece[:0])
		if err != nil || len(piece) <= column["DATE"] {
			rd.badRow(lines.line, "row", quote(l), "left out: no date")
			continue
		}
		if err := rd.sameStation(lines.line, string(bytes.ToValidUTF8(piece[0], []byte("?")))); err != nil {
			return err
		}
		number, ok := dateNumber(piece[column["DATE"]])
		if !ok {
			rd.badRow(lines.line, "date", quote(piece[column["DATE"]]), "row left out: not of the form YYYY-MM-DD")
			continue
		}
		if !placed {
			placed = rd.placeFrom(lines.line, column, piece, at)
		}
		faulty := false
		for _, e := range elements {
			if e.index >= len(piece) || len(piece[e.index]) == 0 {
				continue
			}
			v, ok := parseFloat(piece[e.index])
			if !ok {
				if !faulty {
					faulty = true
					rd.badRow(lines.line, e.name, quote(piece[e.index]), "no number, treated as missing")
				}
				continue
			}
			if v == -9999 || v == 9999 {
				continue
			}
			var mark, quality byte
			if e.marked && e.attributes < len(piece) {
				flags := bytes.Split(piece[e.attributes], []byte(","))
				mark, quality = flagOf(flags, 0), flagOf(flags, 1)
			}
			rd.addGHCN(lines.line, number, e.name, e.element, v, mark, quality)
		}
	}
}

// placeFrom takes the place from the first row that has it.
func (rd *dayReader) placeFrom(line int, column map[string]int, piece [][]byte, at *Station) bool {
	number := func(name string) (float64, bool) {
		i, ok := column[name]
		if !ok || i >= len(piece) {
			return 0, false
		}
		return parseFloat(piece[i])
	}
	latitude, okLatitude := number("LATITUDE")
	longitude, okLongitude := number("LONGITUDE")
	height, okHeight := number("ELEVATION")
	if !okLatitude || !okLongitude || !okHeight || math.Abs(longitude) > 180 {
		return false
	}
	at.Latitude, at.Longitude, at.Height = latitude, longitude, height
	at.Zone = zoneByLongitude(longitude)
	if i, ok := column["NAME"]; ok && i < len(piece) {
		at.Name = string(bytes.ToValidUTF8(piece[i], []byte("?")))
	}
	rd.repair(line, "time zone", "none in the file", zoneName(at.Zone)+", the nearest to the sun's time")
	return true
}
