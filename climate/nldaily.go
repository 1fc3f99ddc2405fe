package climate

import (
	"bytes"
	"fmt"
	"io"
	"strings"
)

// netherlandsColumns lists the columns that are read of the Dutch daily layout,
// with the units that its own header states.
var netherlandsColumns = map[string]ghcnElement{
	"TX":    {dayTempMax, 0.1},
	"TN":    {dayTempMin, 0.1},
	"UG":    {dayRelHumidity, 0.01},
	"PG":    {dayPressure, 10}, // at sea level
	"FG":    {dayWindSpeed, 0.1},
	"DDVEC": {dayWindFrom, 1},
	"Q":     {dayRadiation, 1e4}, // J/cm²
	"SQ":    {daySunHours, 0.1},
	"SP":    {daySunShare, 0.01},
	"NG":    {dayCloudCover, 1.0 / 8},
	"RH":    {dayRain, 0.1}, // rain here, not humidity
	"DR":    {dayRainHours, 0.1},
}

// ReadNetherlandsDaily reads a station's daily record in the layout in which the
// national weather service of the Netherlands publishes its open data: notes,
// then a line of column names that begins with STN,YYYYMMDD, then rows of whole
// numbers separated by commas. name stands in messages.
//
// Read are TX, TN, UG, PG, FG, DDVEC, Q, SQ, SP, NG, RH and DR. The marks for a
// value below half a unit (-1) are 0, a wind direction of 0 (calm or variable)
// is missing, a sky that cannot be seen (cloud cover 9) counts as covered. The
// pressure is brought from sea level to the station by the standard atmosphere.
// Days run from midnight to midnight UTC, so the record's zone is UTC whatever
// that of at.
//
// Older files do not say where the station is; a zero Station is allowed when
// the notes hold the line of place. Faulty rows and the error are as with
// [ReadGHCNDaily]. Passing the data on asks for naming their source, which
// stands in [Daily.Source].
func ReadNetherlandsDaily(name string, r io.Reader, at Station) (*Daily, error) {
	text, err := readAll(name, r)
	if err != nil {
		return nil, err
	}
	return readNetherlandsDaily(name, text, at)
}

const netherlandsHead = "STN,YYYYMMDD"

// netherlandsNames returns the column names when the line is the one that holds
// them.
func netherlandsNames(l []byte) ([]string, bool) {
	l = bytes.TrimLeft(l, "# ")
	if !bytes.HasPrefix(l, []byte(netherlandsHead)) {
		return nil, false
	}
	names := strings.Split(string(l), ",")
	for i := range names {
		names[i] = strings.TrimSpace(names[i])
	}
	return names, true
}

func readNetherlandsDaily(name string, text []byte, at Station) (*Daily, error) {
	rd := &dayReader{}
	rd.file = name
	lines := &splitter{rest: bytes.TrimPrefix(text, []byte("\ufeff"))}
	var names []string
	placed := at != Station{}
	placeNext := false
	for names == nil {
		l, ok := lines.next()
		if !ok {
			return nil, &FileError{File: name, Line: lines.line, Found: "the end of the file", Accepted: "a line of column names that begins with " + netherlandsHead}
		}
		if n, ok := netherlandsNames(l); ok {
			names = n
			break
		}
		fields := strings.Fields(strings.Trim(string(bytes.ToValidUTF8(l, []byte("?"))), "# :"))
		switch {
		case placeNext && !placed && len(fields) >= 5:
			longitude, okLongitude := parseFloat([]byte(fields[1]))
			latitude, okLatitude := parseFloat([]byte(fields[2]))
			height, okHeight := parseFloat([]byte(fields[3]))
			if okLongitude && okLatitude && okHeight {
				at = Station{Name: strings.Join(fields[4:], " "), Latitude: latitude, Longitude: longitude, Height: height}
				placed = true
			}
		case len(fields) >= 4 && fields[0] == "STN" && strings.HasPrefix(fields[1], "LON"):
			placeNext = true
		}
	}
	if err := at.check(name); err != nil {
		return nil, err
	}
	headLine := lines.line
	elements := make([]*ghcnElement, len(names))
	found := 0
	for i, n := range names {
		if e, ok := netherlandsColumns[n]; ok {
			elements[i] = &e
			found++
		}
	}
	if found == 0 {
		return nil, &FileError{File: name, Line: headLine, Field: "column names", Found: strings.Join(names, ","), Accepted: "columns such as TX and TN"}
	}
	atSea := StandardPressure(at.Height) / StandardPressure(0)
	comma := &csvPlan{separator: ','}
	var piece [][]byte
	for {
		l, ok := lines.next()
		if !ok {
			break
		}
		l = trim(l)
		if len(l) == 0 || l[0] == '#' {
			continue
		}
		rd.rows++
		var err error
		piece, err = comma.split(l, piece[:0])
		if err != nil || len(piece) < 2 {
			rd.badRow(lines.line, "row", quote(l), "left out: no station and date")
			continue
		}
		if err := rd.sameStation(lines.line, string(bytes.ToValidUTF8(piece[0], []byte("?")))); err != nil {
			return nil, err
		}
		number, ok := dateNumber(piece[1])
		if !ok {
			rd.badRow(lines.line, "date", quote(piece[1]), "row left out: not of the form YYYYMMDD")
			continue
		}
		faulty := false
		for i, e := range elements {
			if e == nil || i >= len(piece) || len(piece[i]) == 0 {
				continue
			}
			v, ok := parseFloat(piece[i])
			if !ok {
				if !faulty {
					faulty = true
					rd.badRow(lines.line, names[i], quote(piece[i]), "no number, treated as missing")
				}
				continue
			}
			switch e.field {
			case dayRain, daySunHours, dayRainHours:
				if v == -1 {
					v = 0
				}
			case dayCloudCover:
				if v == 9 {
					v = 8
				}
			case dayWindFrom:
				if v == 0 {
					continue
				}
			case dayPressure:
				v *= atSea
			}
			rd.add(lines.line, number, e.field, v*e.factor)
		}
	}
	d, err := rd.days()
	if err != nil {
		return nil, err
	}
	if at.Name == "" {
		at.Name = "Netherlands, station " + rd.station
	}
	at.Zone = 0
	d.place(at)
	d.Source = fmt.Sprintf("Royal Netherlands Meteorological Institute (KNMI), daily data of station %s", rd.station)
	d.Repairs = append(d.Repairs, Repair{Field: "date", Found: "days of UTC", Done: "kept: the zone of this weather is UTC"})
	return d, nil
}
