package fit

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"hackle/quantity"
)

// HeaterLog is the record of a heater test.
type HeaterLog struct {
	Heights []float64 // of the thermometers inside, above the floor, rising [m]
	Rows    []HeaterRow
	Notes   []string // what was left out on reading
}

// HeaterRow is one reading of all instruments. NaN stands for a missing value.
type HeaterRow struct {
	At      time.Time
	Watts   float64   // drawn by the heater [W]
	Outside float64   // air outdoors, in the shade [°C]
	Inside  []float64 // air inside, in the order of HeaterLog.Heights [°C]
	Phase   string    // what was different: "vent shut", "vent open"; empty: one phase
}

// LogError tells what is wrong with a heater log and where.
type LogError struct {
	File     string
	Line     int // 1-based
	Field    string
	Found    string
	Accepted string
}

func (e *LogError) Error() string {
	at := e.File
	if e.Line > 0 {
		at += ":" + strconv.Itoa(e.Line)
	}
	if e.Field != "" {
		at += ": " + e.Field
	}
	return fmt.Sprintf("%s: found %s, accepted: %s", at, e.Found, e.Accepted)
}

const (
	mostHeaterRows  = 2_000_000
	mostHeaterLines = 1 << 16 // bytes of a line
)

// ReadHeaterLog reads the log of a heater test from CSV. The first line names the
// columns, in any order; the unit stands in brackets:
//
//	time,heater [W],outside [°C],inside 20 mm [°C],inside 240 mm [°C],phase
//	2026-01-20 18:00,12,2.1,2.3,2.4,vent shut
//
// Needed are time, heater, outside and at least one column "inside HEIGHT", the
// height above the floor; phase may be left out. The separator is a comma,
// semicolon or tab, whichever the first line has most of; with the others a comma
// may be the decimal mark. Times are written 2026-01-20 18:00, with seconds and an
// offset if liked, and rise; an empty field is a missing value. Rows that cannot be
// read are an error, because a test is short enough to mend.
func ReadHeaterLog(name string, r io.Reader) (*HeaterLog, error) {
	in := bufio.NewScanner(r)
	in.Buffer(make([]byte, 0, 4096), mostHeaterLines)
	if !in.Scan() {
		if err := in.Err(); err != nil {
			return nil, fmt.Errorf("reading %s: %w", name, err)
		}
		return nil, &LogError{File: name, Found: "an empty file", Accepted: "a line of column names, then a row a reading"}
	}
	head := strings.TrimPrefix(in.Text(), "\ufeff")
	separator := ","
	for _, s := range []string{";", "\t"} {
		if strings.Count(head, s) > strings.Count(head, separator) {
			separator = s
		}
	}
	p, err := readHeads(name, strings.Split(head, separator))
	if err != nil {
		return nil, err
	}
	log := &HeaterLog{Heights: p.heights}
	for line := 2; in.Scan(); line++ {
		text := strings.TrimSpace(in.Text())
		if text == "" {
			continue
		}
		if len(log.Rows) == mostHeaterRows {
			return nil, &LogError{File: name, Line: line, Found: "still more rows", Accepted: fmt.Sprintf("at most %d", mostHeaterRows)}
		}
		row, err := p.row(name, line, strings.Split(in.Text(), separator), separator != ",")
		if err != nil {
			return nil, err
		}
		if n := len(log.Rows); n > 0 && !row.At.After(log.Rows[n-1].At) {
			return nil, &LogError{File: name, Line: line, Field: "time", Found: row.At.Format(time.DateTime), Accepted: "a time after that of the row before, " + log.Rows[n-1].At.Format(time.DateTime)}
		}
		log.Rows = append(log.Rows, row)
	}
	if err := in.Err(); err != nil {
		if errors.Is(err, bufio.ErrTooLong) {
			return nil, &LogError{File: name, Found: "a line longer than 64 KiB", Accepted: "a row a reading"}
		}
		return nil, fmt.Errorf("reading %s: %w", name, err)
	}
	if len(log.Rows) == 0 {
		return nil, &LogError{File: name, Found: "no row after the column names", Accepted: "a row a reading"}
	}
	return log, nil
}

// logPlan says where the fields of a heater log stand.
type logPlan struct {
	time, watts, outside, phase int
	inside                      []int // columns in the order of heights
	heights                     []float64
	unit                        map[int]string // of the columns with one
	width                       int
}

const headsAccepted = `time, heater [W], outside [°C], inside 240 mm [°C] (one for each thermometer, with its height above the floor), phase`

func readHeads(name string, heads []string) (*logPlan, error) {
	p := &logPlan{time: -1, watts: -1, outside: -1, phase: -1, unit: map[int]string{}, width: len(heads)}
	type place struct {
		column int
		height float64
	}
	var places []place
	once := func(at *int, i int, what string) error {
		if *at >= 0 {
			return &LogError{File: name, Line: 1, Field: "column names", Found: fmt.Sprintf("%q twice", what), Accepted: "each once"}
		}
		*at = i
		return nil
	}
	for i, text := range heads {
		what := strings.ToLower(strings.Trim(strings.TrimSpace(text), `"`))
		if before, after, ok := strings.Cut(what, "["); ok {
			unit, _, closed := strings.Cut(after, "]")
			if !closed {
				return nil, &LogError{File: name, Line: 1, Field: "column names", Found: strconv.Quote(text), Accepted: "the unit in brackets, such as outside [°C]"}
			}
			what, p.unit[i] = strings.TrimSpace(before), strings.TrimSpace(unit)
		}
		var err error
		height, isInside := strings.CutPrefix(what, "inside")
		kind := quantity.Temperature
		switch {
		case what == "time":
			err = once(&p.time, i, what)
			delete(p.unit, i)
		case what == "phase":
			err = once(&p.phase, i, what)
			delete(p.unit, i)
		case what == "heater":
			kind = quantity.Power
			err = once(&p.watts, i, what)
		case what == "outside":
			err = once(&p.outside, i, what)
		case isInside:
			z, e := quantity.Parse(strings.TrimSpace(height), quantity.Length)
			if e != nil || !(z >= 0 && z < 3) {
				return nil, &LogError{File: name, Line: 1, Field: "column names", Found: strconv.Quote(text), Accepted: "inside with the height above the floor, such as inside 240 mm [°C]"}
			}
			places = append(places, place{i, z})
		default:
			return nil, &LogError{File: name, Line: 1, Field: "column names", Found: strconv.Quote(text), Accepted: headsAccepted}
		}
		if err != nil {
			return nil, err
		}
		if i != p.time && i != p.phase {
			if p.unit[i] == "" {
				return nil, &LogError{File: name, Line: 1, Field: "column names", Found: strconv.Quote(text), Accepted: "a unit in brackets, such as " + what + " [" + kind.Unit() + "]"}
			}
			if _, err := quantity.Parse("1 "+p.unit[i], kind); err != nil {
				return nil, &LogError{File: name, Line: 1, Field: "column names", Found: strconv.Quote(text), Accepted: fmt.Sprintf("a unit of %s, such as %s", kind, kind.Unit())}
			}
		}
	}
	for _, need := range []struct {
		at   int
		what string
	}{{p.time, "time"}, {p.watts, "heater"}, {p.outside, "outside"}} {
		if need.at < 0 {
			return nil, &LogError{File: name, Line: 1, Field: "column names", Found: "no column " + need.what, Accepted: headsAccepted}
		}
	}
	if len(places) == 0 {
		return nil, &LogError{File: name, Line: 1, Field: "column names", Found: "no thermometer inside", Accepted: headsAccepted}
	}
	slices.SortFunc(places, func(a, b place) int {
		switch {
		case a.height < b.height:
			return -1
		case a.height > b.height:
			return 1
		}
		return a.column - b.column
	})
	for i, pl := range places {
		if i > 0 && pl.height == places[i-1].height {
			return nil, &LogError{File: name, Line: 1, Field: "column names", Found: fmt.Sprintf("two thermometers at %g mm", pl.height*1000), Accepted: "one a height; give their mean"}
		}
		p.inside = append(p.inside, pl.column)
		p.heights = append(p.heights, pl.height)
	}
	return p, nil
}

var heaterTimes = []string{
	"2006-01-02 15:04", "2006-01-02 15:04:05", "2006-01-02T15:04", "2006-01-02T15:04:05",
	"2006-01-02T15:04Z07:00", "2006-01-02T15:04:05Z07:00", "2006-01-02 15:04Z07:00", "2006-01-02 15:04:05Z07:00",
}

func (p *logPlan) row(name string, line int, fields []string, commaDecimal bool) (HeaterRow, error) {
	row := HeaterRow{Inside: make([]float64, len(p.inside))}
	if len(fields) != p.width {
		return row, &LogError{File: name, Line: line, Found: fmt.Sprintf("%d fields", len(fields)), Accepted: fmt.Sprintf("%d, as many as column names", p.width)}
	}
	for i := range fields {
		fields[i] = strings.Trim(strings.TrimSpace(fields[i]), `"`)
	}
	ok := false
	for _, layout := range heaterTimes {
		if at, err := time.Parse(layout, fields[p.time]); err == nil {
			row.At, ok = at, at.Year() >= 1900 && at.Year() < 2300
			break
		}
	}
	if !ok {
		return row, &LogError{File: name, Line: line, Field: "time", Found: strconv.Quote(fields[p.time]), Accepted: "such as 2026-01-20 18:00"}
	}
	value := func(column int, what string, kind quantity.Kind, low, high float64) (float64, error) {
		text := fields[column]
		if text == "" {
			return math.NaN(), nil
		}
		number := text
		if commaDecimal {
			number = strings.Replace(number, ",", ".", 1)
		}
		v, err := quantity.Parse(number+" "+p.unit[column], kind)
		if err != nil || !(v >= low && v <= high) {
			return 0, &LogError{File: name, Line: line, Field: what, Found: strconv.Quote(text), Accepted: fmt.Sprintf("a number that gives %g to %g %s, or nothing", low, high, kind.Unit())}
		}
		return v, nil
	}
	var err error
	if row.Watts, err = value(p.watts, "heater", quantity.Power, 0, 2000); err != nil {
		return row, err
	}
	if row.Outside, err = value(p.outside, "outside", quantity.Temperature, -60, 60); err != nil {
		return row, err
	}
	for i, c := range p.inside {
		if row.Inside[i], err = value(c, "inside", quantity.Temperature, -60, 120); err != nil {
			return row, err
		}
	}
	if p.phase >= 0 {
		row.Phase = fields[p.phase]
	}
	return row, nil
}
