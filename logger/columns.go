package logger

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"time"

	"go.yaml.in/yaml/v3"

	"hackle/climate"
	"hackle/quantity"
)

// Map says what the columns of a logger's files are. As a file it is YAML:
//
//	version: 1
//	separator: ";"              # default a comma; "tab" for tabs
//	decimal: ","                # default .
//	skip lines: 3               # lines before the column names; default 0
//	missing: ["", NA, "---"]    # texts that stand for no value; default "", NA, NaN, null, -
//	time:
//	  column: Timestamp         # or columns: [Date, Time]
//	  layout: DD.MM.YYYY hh:mm  # YYYY YY MM DD hh mm ss AM Zone; default iso; or unix
//	  zone: Europe/Berlin       # of the logger's clock: a place with its summer time, an offset, or UTC
//	  shifts:                   # where the clock was wrong: what to add, from a time it showed on
//	    - {from: 2025-03-02 10:00, add: -58 min}
//	device: Device              # a column that names the device of a row, if there is one
//	columns:
//	  - {column: "T1 (°F)", sensor: oak top, quantity: temperature, unit: °F, faults: [-196.6]}
//	  - {column: Weight, sensor: oak scale, quantity: weight, unit: kg, faults: [-0.17]}
//
// Quantities are temperature, humidity, weight, carbon dioxide and power. Faults
// are numbers of the file that stand for a failed reading. With a device column the
// sensor of a reading is "DEVICE SENSOR", so that one map serves every logger of a
// kind; then sensor may be left out where a device measures one thing of a quantity.
type Map struct {
	Separator byte // 0 for ','
	Decimal   byte // 0 for '.'
	SkipLines int
	Missing   []string
	Time      TimeColumn
	Device    string
	Columns   []Column
}

// TimeColumn says how the time of a row is written.
type TimeColumn struct {
	Columns []string // their texts are joined by a blank
	Layout  string   // "" for iso
	Zone    string   // see climate.NewClock
	Shifts  []Shift  // rising in From
}

// Shift is a correction of a clock that was wrong.
type Shift struct {
	From int64         // time shown by the clock, as if it were UTC, from which it holds [s]
	Add  time.Duration // to what the clock showed
}

// Column is one column of readings.
type Column struct {
	Name     string
	Sensor   string
	Quantity Quantity
	Unit     string
	Faults   []float64 // in Unit
}

type mapFile struct {
	Version   int      `yaml:"version"`
	Separator string   `yaml:"separator"`
	Decimal   string   `yaml:"decimal"`
	SkipLines int      `yaml:"skip lines"`
	Missing   []string `yaml:"missing"`
	Time      struct {
		Column  string   `yaml:"column"`
		Columns []string `yaml:"columns"`
		Layout  string   `yaml:"layout"`
		Zone    string   `yaml:"zone"`
		Shifts  []struct {
			From string `yaml:"from"`
			Add  string `yaml:"add"`
		} `yaml:"shifts"`
	} `yaml:"time"`
	Device  string `yaml:"device"`
	Columns []struct {
		Column   string    `yaml:"column"`
		Sensor   string    `yaml:"sensor"`
		Quantity string    `yaml:"quantity"`
		Unit     string    `yaml:"unit"`
		Faults   []float64 `yaml:"faults"`
	} `yaml:"columns"`
}

// ParseMap reads the written form of a map. Unknown keys are errors, so that a
// misspelt one is not passed over.
func ParseMap(text []byte) (*Map, error) {
	var f mapFile
	dec := yaml.NewDecoder(bytes.NewReader(text))
	dec.KnownFields(true)
	if err := dec.Decode(&f); err != nil {
		if errors.Is(err, io.EOF) {
			return nil, errors.New("the map is empty")
		}
		return nil, err
	}
	if f.Version != 1 {
		return nil, fmt.Errorf("version %d, accepted: 1", f.Version)
	}
	m := &Map{SkipLines: f.SkipLines, Missing: f.Missing, Device: f.Device}
	switch {
	case f.Separator == "tab":
		m.Separator = '\t'
	case len(f.Separator) == 1:
		m.Separator = f.Separator[0]
	case f.Separator != "":
		return nil, fmt.Errorf("separator %q, accepted: one character, or tab", f.Separator)
	}
	switch f.Decimal {
	case "", ".", ",":
		if f.Decimal != "" {
			m.Decimal = f.Decimal[0]
		}
	default:
		return nil, fmt.Errorf("decimal %q, accepted: . or ,", f.Decimal)
	}
	m.Time = TimeColumn{Columns: f.Time.Columns, Layout: f.Time.Layout, Zone: f.Time.Zone}
	if f.Time.Column != "" {
		if len(f.Time.Columns) > 0 {
			return nil, errors.New("time: column and columns, accepted: one of them")
		}
		m.Time.Columns = []string{f.Time.Column}
	}
	for i, s := range f.Time.Shifts {
		from, err := shownTime(s.From)
		if err != nil {
			return nil, fmt.Errorf("time: shifts[%d]: from %q, accepted: such as 2025-03-02 10:00", i+1, s.From)
		}
		add, err := quantity.Parse(s.Add, quantity.Duration)
		if err != nil {
			return nil, fmt.Errorf("time: shifts[%d]: add: %w", i+1, err)
		}
		m.Time.Shifts = append(m.Time.Shifts, Shift{from, time.Duration(math.Round(add)) * time.Second})
	}
	for i, c := range f.Columns {
		q, err := ParseQuantity(c.Quantity)
		if err != nil {
			return nil, fmt.Errorf("columns[%d]: %w", i+1, err)
		}
		m.Columns = append(m.Columns, Column{c.Column, strings.TrimSpace(c.Sensor), q, c.Unit, c.Faults})
	}
	if _, err := m.compile(); err != nil {
		return nil, err
	}
	return m, nil
}

func shownTime(text string) (int64, error) {
	for _, layout := range []string{"2006-01-02 15:04:05", "2006-01-02 15:04", "2006-01-02T15:04:05", "2006-01-02T15:04", "2006-01-02"} {
		if t, err := time.Parse(layout, text); err == nil {
			return t.Unix(), nil
		}
	}
	return 0, fmt.Errorf("%q is no time", text)
}

// plan is a checked map, ready to read one file with.
type plan struct {
	separator    byte
	decimalComma bool
	skipLines    int
	missing      []string
	clock        *climate.Clock
	shifts       []Shift
	layout       layout
	timeNames    []string
	timeIndex    []int
	deviceName   string
	deviceIndex  int // -1: none
	columns      []planned
	last         int // highest index that is read
}

type planned struct {
	Column
	index          int
	factor, offset float64 // to the unit of the quantity
}

func (m *Map) compile() (*plan, error) {
	p := &plan{separator: m.Separator, decimalComma: m.Decimal == ',', skipLines: m.SkipLines, missing: m.Missing, shifts: m.Time.Shifts, deviceName: m.Device, deviceIndex: -1}
	if p.separator == 0 {
		p.separator = ','
	}
	if p.separator == '"' || p.separator == '\n' || p.separator == '\r' || p.separator >= 0x80 {
		return nil, fmt.Errorf("separator %q, accepted: a comma, semicolon, tab or another mark", p.separator)
	}
	if p.decimalComma && p.separator == ',' {
		return nil, errors.New("a comma as separator and as decimal mark, accepted: one of them")
	}
	if m.SkipLines < 0 || m.SkipLines > 1000 {
		return nil, fmt.Errorf("skip lines %d, accepted: 0 to 1000", m.SkipLines)
	}
	if p.missing == nil {
		p.missing = []string{"", "NA", "NaN", "null", "-"}
	}
	var err error
	if p.layout, err = compileLayout(m.Time.Layout); err != nil {
		return nil, fmt.Errorf("time: %w", err)
	}
	switch {
	case m.Time.Zone == "" && !p.layout.absolute():
		return nil, errors.New("time: no zone, accepted: UTC, an offset such as +01:00, or a place such as Europe/Berlin, whose clock the logger follows")
	case m.Time.Zone != "":
		if p.clock, err = climate.NewClock(m.Time.Zone); err != nil {
			return nil, fmt.Errorf("time: %w", err)
		}
	default:
		p.clock, _ = climate.NewClock("UTC")
	}
	if !slices.IsSortedFunc(p.shifts, func(a, b Shift) int { return int(a.From - b.From) }) {
		return nil, errors.New("time: shifts out of order, accepted: rising in time")
	}
	if len(m.Time.Columns) == 0 {
		return nil, errors.New("time: no column")
	}
	p.timeNames = m.Time.Columns
	p.timeIndex = make([]int, len(p.timeNames))
	if len(m.Columns) == 0 {
		return nil, errors.New("columns: none, accepted: one or more")
	}
	if len(m.Columns) > 1000 {
		return nil, fmt.Errorf("columns: %d, accepted: 1000", len(m.Columns))
	}
	seen := map[string]int{}
	for i, c := range m.Columns {
		at := fmt.Sprintf("columns[%d]", i+1)
		if c.Name == "" {
			return nil, fmt.Errorf("%s: no column", at)
		}
		if !c.Quantity.Valid() {
			return nil, fmt.Errorf("%s: no quantity", at)
		}
		if c.Sensor == "" && m.Device == "" {
			return nil, fmt.Errorf("%s: no sensor, accepted: a name for what hangs on column %q", at, c.Name)
		}
		key := c.Sensor
		if key == "" {
			key = "\x00" + c.Quantity.String()
		}
		if j, ok := seen[key]; ok {
			return nil, fmt.Errorf("%s: sensor %q stands for columns[%d] too, accepted: a name for each", at, c.Sensor, j)
		}
		seen[key] = i + 1
		q := planned{Column: c, index: -1}
		if c.Quantity.Kind() == quantity.Fraction && c.Unit == "1" {
			q.factor = 1
		} else if c.Quantity == CO2 && c.Unit == "ppm" {
			q.factor = 1e-6
		} else {
			if c.Unit == "" {
				return nil, fmt.Errorf("%s: no unit, accepted: such as %s", at, c.Quantity.Kind().Unit())
			}
			zero, err := quantity.Parse("0 "+c.Unit, c.Quantity.Kind())
			if err != nil {
				return nil, fmt.Errorf("%s: unit: %w", at, err)
			}
			hundred, err := quantity.Parse("100 "+c.Unit, c.Quantity.Kind())
			if err != nil {
				return nil, fmt.Errorf("%s: unit: %w", at, err)
			}
			q.factor, q.offset = (hundred-zero)/100, zero
		}
		p.columns = append(p.columns, q)
	}
	return p, nil
}

// layout is how a time is written, as a list of parts.
type layout struct {
	unix  bool
	iso   bool
	parts []part
	zoned bool
	shown string
}

type part struct {
	kind    byte // 'Y' year, 'y' two digits of it, 'M', 'D', 'h', 'm', 's', 'A' half of the day, 'Z' offset, 0 literal
	literal byte
}

func (l *layout) absolute() bool { return l.unix || l.zoned }

func compileLayout(text string) (layout, error) {
	switch text {
	case "", "iso":
		return layout{iso: true, shown: "2024-12-31T23:00"}, nil
	case "unix":
		return layout{unix: true, shown: "seconds since 1970"}, nil
	}
	l := layout{shown: text}
	words := []struct {
		word string
		kind byte
	}{{"YYYY", 'Y'}, {"YY", 'y'}, {"MM", 'M'}, {"DD", 'D'}, {"hh", 'h'}, {"mm", 'm'}, {"ss", 's'}, {"AM", 'A'}, {"PM", 'A'}, {"Zone", 'Z'}}
	seen := map[byte]bool{}
outer:
	for rest := text; rest != ""; {
		for _, w := range words {
			if strings.HasPrefix(rest, w.word) {
				l.parts = append(l.parts, part{kind: w.kind})
				seen[w.kind] = true
				rest = rest[len(w.word):]
				continue outer
			}
		}
		c := rest[0]
		if c >= '0' && c <= '9' || c != 'T' && (c|0x20 >= 'a' && c|0x20 <= 'z') {
			return l, fmt.Errorf("layout %q: %q is no part of a date; write YYYY, MM, DD, hh, mm, ss", text, c)
		}
		l.parts = append(l.parts, part{literal: c})
		rest = rest[1:]
	}
	if !seen['Y'] && !seen['y'] || !seen['M'] || !seen['D'] || !seen['h'] {
		return l, fmt.Errorf("layout %q, accepted: with year, month, day and hour, such as DD.MM.YYYY hh:mm", text)
	}
	l.zoned = seen['Z']
	return l, nil
}

var isoParts = []part{{kind: 'Y'}, {literal: '-'}, {kind: 'M'}, {literal: '-'}, {kind: 'D'}, {literal: 'T'}, {kind: 'h'}, {literal: ':'}, {kind: 'm'}}

// parse reads a time as seconds as if the clock showed UTC. With zoned the offset
// was in the text and is taken off already.
func (l *layout) parse(b []byte) (shown int64, zoned, ok bool) {
	if l.unix {
		if dot := bytes.IndexByte(b, '.'); dot > 0 {
			b = b[:dot]
		}
		n, rest := int64(0), b
		for ; len(rest) > 0 && rest[0] >= '0' && rest[0] <= '9' && n < 1e12; rest = rest[1:] {
			n = n*10 + int64(rest[0]-'0')
		}
		return n, true, len(b) > 0 && len(rest) == 0 && n < 7258118400
	}
	parts := l.parts
	if l.iso {
		parts = isoParts
	}
	year, month, day, hour, minute, second := 0, 0, 0, 0, 0, 0
	half, offset := byte(0), int64(0)
	for _, p := range parts {
		if p.kind == 0 {
			if len(b) == 0 || b[0] != p.literal && !(l.iso && p.literal == 'T' && (b[0] == ' ' || b[0] == 't')) {
				return 0, false, false
			}
			b = b[1:]
			continue
		}
		most := 2
		switch p.kind {
		case 'Y':
			most = 4
		case 'A':
			if len(b) < 2 || b[1]|0x20 != 'm' {
				return 0, false, false
			}
			if half = b[0] | 0x20; half != 'a' && half != 'p' {
				return 0, false, false
			}
			b = b[2:]
			continue
		case 'Z':
			if offset, b, ok = parseOffset(b); !ok {
				return 0, false, false
			}
			zoned = true
			continue
		}
		n, digits := 0, 0
		for digits < most && digits < len(b) && b[digits] >= '0' && b[digits] <= '9' {
			n = n*10 + int(b[digits]-'0')
			digits++
		}
		if digits == 0 || most == 4 && digits != 4 {
			return 0, false, false
		}
		b = b[digits:]
		switch p.kind {
		case 'Y':
			year = n
		case 'y':
			year = 2000 + n
			if n >= 70 {
				year -= 100
			}
		case 'M':
			month = n
		case 'D':
			day = n
		case 'h':
			hour = n
		case 'm':
			minute = n
		case 's':
			second = n
		}
	}
	if l.iso {
		if len(b) >= 3 && b[0] == ':' && b[1] >= '0' && b[1] <= '5' && b[2] >= '0' && b[2] <= '9' {
			second = int(b[1]-'0')*10 + int(b[2]-'0')
			b = b[3:]
			if len(b) > 0 && (b[0] == '.' || b[0] == ',') {
				for b = b[1:]; len(b) > 0 && b[0] >= '0' && b[0] <= '9'; {
					b = b[1:]
				}
			}
		}
		if len(b) > 0 {
			if offset, b, ok = parseOffset(b); !ok {
				return 0, false, false
			}
			zoned = true
		}
	}
	if half != 0 {
		if hour < 1 || hour > 12 {
			return 0, false, false
		}
		hour %= 12
		if half == 'p' {
			hour += 12
		}
	}
	if len(b) != 0 || year < 1800 || year > 2200 || month < 1 || month > 12 || day < 1 || day > daysOf(year, month) || hour > 24 || minute > 59 || second > 60 || hour == 24 && minute+second > 0 {
		return 0, false, false
	}
	return dayNumber(year, month, day)*86400 + int64(hour)*3600 + int64(minute)*60 + int64(second) - offset, zoned, true
}

func parseOffset(b []byte) (int64, []byte, bool) {
	if len(b) > 0 && (b[0] == 'Z' || b[0] == 'z') {
		return 0, b[1:], true
	}
	if len(b) < 3 || b[0] != '+' && b[0] != '-' {
		return 0, b, false
	}
	sign := int64(1)
	if b[0] == '-' {
		sign = -1
	}
	b = b[1:]
	two := func() (int64, bool) {
		if len(b) < 2 || b[0] < '0' || b[0] > '9' || b[1] < '0' || b[1] > '9' {
			return 0, false
		}
		n := int64(b[0]-'0')*10 + int64(b[1]-'0')
		b = b[2:]
		return n, true
	}
	h, ok := two()
	if !ok || h > 14 {
		return 0, b, false
	}
	m := int64(0)
	if len(b) > 0 {
		if b[0] == ':' {
			b = b[1:]
		}
		if m, ok = two(); !ok || m > 59 {
			return 0, b, false
		}
	}
	return sign * (h*3600 + m*60), b, true
}

func daysOf(year, month int) int {
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

// dayNumber counts days from 1 January 1970 in the Gregorian calendar: years from
// March, so that the leap day is the last.
func dayNumber(year, month, day int) int64 {
	y, m := int64(year), int64(month)
	if m <= 2 {
		y--
		m += 12
	}
	era := y / 400
	of := y - era*400
	doy := (153*(m-3)+2)/5 + int64(day) - 1
	return era*146097 + of*365 + of/4 - of/100 + doy - 719468
}
