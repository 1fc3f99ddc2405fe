package logger

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"
)

// Sink takes what a file holds. Sensor is called once for each sensor, before its
// first reading, and returns the number by which Add knows it.
type Sink interface {
	Sensor(name string, q Quantity) (int, error)
	Add(sensor int, r Reading) error
}

// Report tells what a file held.
type Report struct {
	File      string
	Rows      int // that hold a row, faulty ones too
	Readings  int
	BadRows   int     // left out, for their time or their form
	BadValues int     // no numbers
	Examples  []Fault // the first of both
	Sensors   []SensorReport
	Notes     []string // on the clock
}

// SensorReport tells of one sensor of a file.
type SensorReport struct {
	Name     string
	Quantity Quantity
	Readings int
	Missing  int // rows without a value
	Faults   int // fault codes and values that cannot be
	First    int64
	Last     int64
}

// Fault is a row or value that could not be read.
type Fault struct {
	Line  int
	Field string
	Found string
	Done  string
}

// FileError is what makes a file unusable.
type FileError struct {
	File     string
	Line     int
	Field    string
	Found    string
	Accepted string
}

func (e *FileError) Error() string {
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
	mostExamples = 20
	longestLine  = 1 << 20
	badShare     = 0.02 // of the rows; beyond it the map is taken to be wrong
)

// Read reads one file of any length with a map, a row at a time, and hands every
// reading to the sink in the order of the file. Name stands in messages.
//
// Rules:
//   - a row whose time cannot be read, or that is too short: left out;
//   - a value that is no number, none of the missing texts and no fault code: left out;
//   - fault codes and values that cannot be (temperature outside -60 to 100 °C,
//     humidity outside 0 to 110 %, weight outside -20 to 1,000 kg, CO2 above 30 %):
//     left out and counted by sensor; humidity from 100 to 110 % is set to 100 %;
//   - an hour that the clock shows twice in autumn: a row is taken for the first
//     pass, in summer time, unless that would put it before the device's row before;
//   - a time that the clock skips in spring: read as if it had not yet been put
//     forward.
//
// More than 2 % of rows or values that cannot be read refuse the file: the map does
// not fit it. The error is a *[FileError] unless the reader, the sink or the
// context fails. Then the sink holds readings of part of the file and must forget
// them.
func Read(ctx context.Context, name string, r io.Reader, m *Map, sink Sink) (*Report, error) {
	p, err := m.compile()
	if err != nil {
		return nil, fmt.Errorf("map for %s: %w", name, err)
	}
	in := &lines{r: bufio.NewReaderSize(r, 1<<18)}
	f := &file{plan: p, report: &Report{File: name}, sink: sink, devices: map[string]*device{}}
	for range p.skipLines {
		if _, err := in.next(); err != nil {
			break
		}
	}
	head, err := in.next()
	switch {
	case errors.Is(err, errLong):
		return nil, &FileError{File: name, Line: in.line, Found: "a line longer than 1 MiB", Accepted: "column names"}
	case errors.Is(err, io.EOF):
		return nil, &FileError{File: name, Found: "the end of the file", Accepted: fmt.Sprintf("column names on line %d", p.skipLines+1)}
	case err != nil:
		return nil, fmt.Errorf("reading %s: %w", name, err)
	}
	if err := f.header(in.line, head); err != nil {
		return nil, err
	}
	for {
		if in.line&0xffff == 0 {
			if err := ctx.Err(); err != nil {
				return nil, err
			}
		}
		l, err := in.next()
		if errors.Is(err, io.EOF) {
			break
		}
		if errors.Is(err, errLong) {
			f.bad(in.line, "row", "a line longer than 1 MiB", "left out")
			f.report.Rows++
			f.report.BadRows++
			continue
		}
		if err != nil {
			return nil, fmt.Errorf("reading %s, line %d: %w", name, in.line, err)
		}
		if len(l) == 0 || len(bytes.TrimSpace(l)) == 0 {
			continue
		}
		if err := f.row(in.line, l); err != nil {
			return nil, err
		}
	}
	return f.report, f.finish(in.line)
}

var errLong = errors.New("logger: line too long")

// lines reads lines without their ends.
type lines struct {
	r    *bufio.Reader
	line int
	long []byte
}

func (s *lines) next() ([]byte, error) {
	l, err := s.r.ReadSlice('\n')
	s.line++
	if errors.Is(err, bufio.ErrBufferFull) {
		s.long = append(s.long[:0], l...)
		for errors.Is(err, bufio.ErrBufferFull) {
			l, err = s.r.ReadSlice('\n')
			if len(s.long) < longestLine {
				s.long = append(s.long, l...)
			}
		}
		if len(s.long) >= longestLine {
			return nil, errLong
		}
		l = s.long
	}
	if err != nil && (!errors.Is(err, io.EOF) || len(l) == 0) {
		return nil, err
	}
	l = bytes.TrimSuffix(l, []byte("\n"))
	return bytes.TrimSuffix(l, []byte("\r")), nil
}

// device is one clock of a file, with its sensors.
type device struct {
	last     int64 // instant of the row before
	lastSeen int64 // what the clock showed then
	step     int64 // between the last two rows that rose [s]
	any      bool
	sensors  []int // of the sink, by column, -1: none yet
	reports  []int
	back     int // rows before the one before them
	backLine int
	backBy   int64 // the furthest
}

type file struct {
	*plan
	report  *Report
	sink    Sink
	devices map[string]*device
	recent  *device
	name    string // of recent
	fields  [][]byte
	stamp   []byte
	number  []byte

	twice, skips           int
	twiceLine, skippedLine int
}

func (f *file) bad(line int, field, found, done string) {
	if len(f.report.Examples) < mostExamples {
		f.report.Examples = append(f.report.Examples, Fault{line, field, found, done})
	}
}

func quoted(b []byte) string {
	if len(b) > 60 {
		b = append(slices.Clone(b[:57]), "..."...)
	}
	return strconv.Quote(string(bytes.ToValidUTF8(b, []byte("?"))))
}

func (f *file) header(line int, head []byte) error {
	head = bytes.TrimPrefix(head, []byte("\ufeff"))
	if !utf8.Valid(head) {
		return &FileError{File: f.report.File, Line: line, Field: "column names", Found: quoted(head) + ", not UTF-8", Accepted: "UTF-8 text; save the file with that encoding"}
	}
	var names []string
	fields, err := f.split(head, nil)
	if err != nil {
		return &FileError{File: f.report.File, Line: line, Field: "column names", Found: quoted(head), Accepted: "names, quotes closed on the same line"}
	}
	for _, b := range fields {
		names = append(names, string(b))
	}
	find := func(name string) (int, error) {
		at := slices.Index(names, name)
		if at < 0 {
			var have []string
			for _, n := range names[:min(len(names), 12)] {
				have = append(have, strconv.Quote(n))
			}
			return 0, &FileError{File: f.report.File, Line: line, Field: "column names", Found: strings.Join(have, ", "), Accepted: fmt.Sprintf("a column %q, as the map says (separator %q)", name, f.separator)}
		}
		if slices.Index(names[at+1:], name) >= 0 {
			return 0, &FileError{File: f.report.File, Line: line, Field: "column names", Found: fmt.Sprintf("%q twice", name), Accepted: "each mapped column once"}
		}
		f.last = max(f.last, at)
		return at, nil
	}
	for i, n := range f.timeNames {
		if f.timeIndex[i], err = find(n); err != nil {
			return err
		}
	}
	if f.deviceName != "" {
		if f.deviceIndex, err = find(f.deviceName); err != nil {
			return err
		}
	}
	for i := range f.columns {
		if f.columns[i].index, err = find(f.columns[i].Name); err != nil {
			return err
		}
	}
	return nil
}

var errOpenQuote = errors.New("a quote without its end on the same line")

// split cuts a row at the separator; a quoted field loses its quotes, any field the
// blanks around it.
func (f *file) split(l []byte, into [][]byte) ([][]byte, error) {
	for {
		at := bytes.IndexByte(l, f.separator)
		if quote := bytes.IndexByte(l, '"'); quote >= 0 && (at < 0 || quote < at) && len(bytes.TrimLeft(l[:quote], " ")) == 0 {
			l = l[quote+1:]
			var piece []byte
			for {
				end := bytes.IndexByte(l, '"')
				if end < 0 {
					return into, errOpenQuote
				}
				if end+1 < len(l) && l[end+1] == '"' {
					piece = append(append(piece, l[:end]...), '"')
					l = l[end+2:]
					continue
				}
				if piece == nil {
					piece = l[:end]
				} else {
					piece = append(piece, l[:end]...)
				}
				l = l[end+1:]
				break
			}
			into = append(into, trim(piece))
			if at = bytes.IndexByte(l, f.separator); at < 0 {
				return into, nil
			}
			l = l[at+1:]
			continue
		}
		if at < 0 {
			return append(into, trim(l)), nil
		}
		into = append(into, trim(l[:at]))
		l = l[at+1:]
	}
}

func trim(b []byte) []byte {
	for len(b) > 0 && (b[0] == ' ' || b[0] == '\t') {
		b = b[1:]
	}
	for len(b) > 0 && (b[len(b)-1] == ' ' || b[len(b)-1] == '\t') {
		b = b[:len(b)-1]
	}
	return b
}

func (f *file) row(line int, l []byte) error {
	f.report.Rows++
	var err error
	if f.fields, err = f.split(l, f.fields[:0]); err != nil {
		f.report.BadRows++
		f.bad(line, "row", quoted(l), "left out: "+err.Error())
		return nil
	}
	if len(f.fields) <= f.last {
		f.report.BadRows++
		f.bad(line, "row", fmt.Sprintf("%d fields in %s", len(f.fields), quoted(l)), fmt.Sprintf("left out: the mapped columns need %d", f.last+1))
		return nil
	}
	stamp := f.fields[f.timeIndex[0]]
	if len(f.timeIndex) > 1 {
		f.stamp = append(f.stamp[:0], stamp...)
		for _, i := range f.timeIndex[1:] {
			f.stamp = append(append(f.stamp, ' '), f.fields[i]...)
		}
		stamp = f.stamp
	}
	shown, zoned, ok := f.layout.parse(stamp)
	if !ok {
		f.report.BadRows++
		f.bad(line, "time", quoted(stamp), "left out: not of the form "+f.layout.shown)
		return nil
	}
	d, err := f.deviceOf()
	if err != nil {
		return err
	}
	for i := len(f.shifts) - 1; i >= 0; i-- {
		if shown >= f.shifts[i].From {
			shown += int64(f.shifts[i].Add / time.Second)
			break
		}
	}
	at := shown
	if !zoned {
		var again int64
		var skipped bool
		if at, again, skipped = f.clock.Instant(shown); again != 0 {
			if f.twice++; f.twiceLine == 0 {
				f.twiceLine = line
			}
			// The second pass: the first would not lie after the row before. Rows finer than
			// the hour may write the same time again without one.
			if d.any && at <= d.last && at+again > d.last && (shown != d.lastSeen || d.step >= again) {
				at += again
			}
		}
		if skipped {
			if f.skips++; f.skippedLine == 0 {
				f.skippedLine = line
			}
		}
	}
	if d.any && at < d.last {
		d.back++
		if d.backLine == 0 {
			d.backLine = line
		}
		d.backBy = max(d.backBy, d.last-at)
	}
	if d.any && at > d.last {
		d.step = at - d.last
	}
	d.last, d.lastSeen, d.any = at, shown, true
	for i := range f.columns {
		if err := f.value(line, d, i, at); err != nil {
			return err
		}
	}
	return nil
}

// deviceOf finds the device of the row in f.fields.
func (f *file) deviceOf() (*device, error) {
	if f.deviceIndex < 0 {
		if f.recent == nil {
			f.recent = f.newDevice("")
		}
		return f.recent, nil
	}
	b := f.fields[f.deviceIndex]
	if f.recent != nil && string(b) == f.name {
		return f.recent, nil
	}
	d, ok := f.devices[string(b)]
	if !ok {
		const mostDevices = 10000
		if len(f.devices) == mostDevices {
			return nil, &FileError{File: f.report.File, Field: f.deviceName, Found: fmt.Sprintf("over %d devices", mostDevices), Accepted: "a column with the name of the device"}
		}
		d = f.newDevice(string(b))
	}
	f.recent, f.name = d, string(b)
	return d, nil
}

func (f *file) newDevice(name string) *device {
	d := &device{sensors: make([]int, len(f.columns)), reports: make([]int, len(f.columns))}
	for i := range d.sensors {
		d.sensors[i] = -1
		s := f.columns[i].Sensor
		switch {
		case name == "":
		case s == "":
			s = name + " " + f.columns[i].Quantity.String()
		default:
			s = name + " " + s
		}
		if s == "" {
			s = f.columns[i].Quantity.String()
		}
		d.reports[i] = len(f.report.Sensors)
		f.report.Sensors = append(f.report.Sensors, SensorReport{Name: s, Quantity: f.columns[i].Quantity})
	}
	f.devices[name] = d
	return d
}

func (f *file) value(line int, d *device, i int, at int64) error {
	c := &f.columns[i]
	s := &f.report.Sensors[d.reports[i]]
	b := f.fields[c.index]
	for _, m := range f.missing {
		if string(b) == m {
			s.Missing++
			return nil
		}
	}
	if f.decimalComma {
		f.number = append(f.number[:0], b...)
		if comma := bytes.IndexByte(f.number, ','); comma >= 0 {
			f.number[comma] = '.'
		}
		b = f.number
	}
	x, ok := number(b)
	if !ok {
		f.report.BadValues++
		f.bad(line, s.Name, quoted(f.fields[c.index]), "left out: no number")
		return nil
	}
	for _, code := range c.Faults {
		if x == code {
			s.Faults++
			return nil
		}
	}
	v, fault := c.Quantity.fault(x*c.factor + c.offset)
	if fault {
		s.Faults++
		return nil
	}
	if d.sensors[i] < 0 {
		id, err := f.sink.Sensor(s.Name, c.Quantity)
		if err != nil {
			return err
		}
		d.sensors[i] = id
		s.First, s.Last = at, at
	}
	s.Readings++
	f.report.Readings++
	s.First, s.Last = min(s.First, at), max(s.Last, at)
	return f.sink.Add(d.sensors[i], Reading{at, v})
}

// number reads a decimal number; ok is false when it is none.
func number(b []byte) (float64, bool) {
	rest := b
	negative := false
	if len(rest) > 0 && (rest[0] == '-' || rest[0] == '+') {
		negative = rest[0] == '-'
		rest = rest[1:]
	}
	digits, decimals, mantissa := 0, 0, int64(0)
	point := false
	for ; len(rest) > 0 && digits < 16; rest = rest[1:] {
		c := rest[0]
		if c == '.' && !point {
			point = true
			continue
		}
		if c < '0' || c > '9' {
			break
		}
		mantissa = mantissa*10 + int64(c-'0')
		digits++
		if point {
			decimals++
		}
	}
	if len(rest) == 0 && digits > 0 && mantissa < 1<<53 {
		v := float64(mantissa) / powers[decimals] // exact powers: rounded once, as it should be
		if negative {
			v = -v
		}
		return v, true
	}
	v, err := strconv.ParseFloat(string(b), 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		return 0, false
	}
	return v, true
}

var powers = [...]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16}

// finish judges the file as a whole.
func (f *file) finish(line int) error {
	r := f.report
	if r.Rows == 0 {
		return &FileError{File: r.File, Line: line, Found: "no row after the column names", Accepted: "a row a reading"}
	}
	values := r.Readings + r.BadValues
	for _, s := range r.Sensors {
		values += s.Missing + s.Faults
	}
	if float64(r.BadRows) > badShare*float64(r.Rows)+0.5 || float64(r.BadValues) > badShare*float64(values)+0.5 {
		e := r.Examples[0]
		found := fmt.Sprintf("%d of %d rows and %d of %d values that cannot be read; the first, on line %d: %s %s", r.BadRows, r.Rows, r.BadValues, values, e.Line, e.Field, e.Found)
		return &FileError{File: r.File, Found: found, Accepted: "at most 2 % of them; see whether the map fits the file"}
	}
	for _, s := range r.Sensors {
		const suspicious = 0.05 // of the values; loggers fail seldom
		if n := s.Readings + s.Faults; s.Faults > 20 && float64(s.Faults) > suspicious*float64(n) {
			r.Notes = append(r.Notes, fmt.Sprintf("%s: %d of %d values cannot be %s and are left out; see whether the unit in the map is right", s.Name, s.Faults, n, s.Quantity))
		}
	}
	if f.twice > 0 {
		r.Notes = append(r.Notes, fmt.Sprintf("line %d: %d rows of an hour that the clock shows twice, told apart by their order", f.twiceLine, f.twice))
	}
	if f.skips > 0 {
		r.Notes = append(r.Notes, fmt.Sprintf("line %d: %d rows of a time that the clock skips in spring, read as if it had not yet been put forward", f.skippedLine, f.skips))
	}
	backs, first, by := 0, 0, int64(0)
	for _, d := range f.devices {
		if d.back > 0 {
			backs += d.back
			if first == 0 || d.backLine < first {
				first = d.backLine
			}
			by = max(by, d.backBy)
		}
	}
	if backs == 1 {
		r.Notes = append(r.Notes, fmt.Sprintf("line %d: the clock was set back by %v or part of the file was written again; where the clock was wrong, give a shift in the map", first, time.Duration(by)*time.Second))
	} else if backs > 1 {
		r.Notes = append(r.Notes, fmt.Sprintf("from line %d: %d rows before the one before them, put in their places", first, backs))
	}
	return nil
}
