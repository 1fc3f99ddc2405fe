package climate

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"

	"go.yaml.in/yaml/v3"

	"hackle/quantity"
)

// ColumnMap says what the columns of a CSV weather file are. As a file it is
// YAML (or JSON, which is YAML):
//
//	version: 1
//	name: Yard behind the barn
//	source: own logger, 2024
//	latitude: 44.5            # degrees, north positive
//	longitude: -73.2          # degrees, east positive
//	height: 110 m             # above the sea
//	zone: "-05:00"            # the site's standard time, ahead of UTC
//	typical: true             # the rows are one typical year, which repeats
//	separator: ","            # default; "tab" for tabs
//	decimal: "."              # default; or ","
//	skip lines: 0             # lines before the column names
//	missing: ["", NA, "-999"] # texts that stand for no value; default "", "NA", "NaN", "null", "-"
//	time:
//	  column: Timestamp       # or columns: [Date, Time]
//	  layout: DD.MM.YYYY hh:mm
//	  zone: UTC               # of the clock that wrote it; default the site's;
//	                          # or a place such as Europe/Berlin, with its summer time
//	  stamp: end              # the row covers the time up to its stamp; start, or instant (a spot reading)
//	columns:
//	  air temperature: {column: "T out", unit: °F}
//	  relative humidity: {column: RH, unit: "%"}
//	  wind speed: {constant: 2 m/s}
//	  wind direction: {constant: 270 deg}
//	  global horizontal radiation: {column: Solar, unit: W/m²}
//	no sun: overcast          # only when there is no radiation column
//
// Needed are air temperature, relative humidity or dew point, wind speed, wind
// direction, and global horizontal radiation; a constant counts as given.
// Further fields: station pressure, direct normal radiation, diffuse horizontal
// radiation, sky long wave, cloud cover (unit oktas, tenths or %), rain, snow
// depth.
//
// In a layout YYYY or YY, MM, DD, hh (with AM or PM: the 12-hour clock), mm and
// ss stand for the parts of the date; everything else stands for itself. Zone
// in a layout reads an offset such as +01:00 or Z from the text. "iso" stands
// for YYYY-MM-DDThh:mm:ss with or without seconds, T or blank, and offset;
// "unix" for seconds since 1970 UTC.
//
// A clock has a fixed offset, or it follows the daylight saving time of a place
// named as in the IANA time zone database (built in). Where such a clock goes
// back, an hour is written twice: a row is taken for the first pass, in summer
// time, unless that would put it before the row that came before it. Times that
// the clock skips in spring are read as if it had not yet been put forward.
// Both are reported by line. A zone in the text of a row outranks this.
//
// With typical the rows are a typical year: all hours of 1 January to 31
// December, of which the calendar years do not count, so that months may come from
// different ones; 29 February is left out. A typical year repeats and takes any
// calendar year.
//
// Without any radiation the file is refused unless NoSun says what to assume:
// "overcast" takes every day as fully clouded, a quarter of a clear sky's sun
// (Kasten-Czeplak); "daily range" estimates each day's sun from its
// temperature range (FAO Irrigation and Drainage Paper 56, equation 50, with
// 0.16 for inland sites), which needs whole days; "cloud cover" computes it from
// a column of cloud cover (Kasten-Czeplak), with the daily range on days whose
// clouds are known in less than half of the daylight. Each stands in the Repairs.
type ColumnMap struct {
	Name      string
	Source    string
	Latitude  float64       // north positive [deg]
	Longitude float64       // east positive [deg]
	Height    float64       // above sea level [m]
	Zone      time.Duration // the site's local standard time ahead of UTC
	Separator byte          // 0 for ','
	Decimal   byte          // 0 for '.'
	SkipLines int           // lines before the column names
	Typical   bool          // a typical year, which repeats
	Missing   []string      // texts that stand for no value; nil for the default
	Time      TimeColumn
	Columns   map[string]Column // by field name, such as "air temperature"
	NoSun     string            // "", "overcast", "daily range" or "cloud cover"
}

// TimeColumn says how the time of a row is written.
type TimeColumn struct {
	Columns []string // their texts are joined by a blank
	Layout  string   // "" for "iso"
	// Zone of the clock ahead of UTC where the text carries no offset; nil for
	// the site's.
	Zone *time.Duration
	// Place whose daylight saving time the clock follows, such as
	// "Europe/Berlin", instead of Zone; "" for none.
	Place string
	Stamp string // "start", "end" or "instant"; "" for "instant"
}

// Column says where the values of one field are: a column with a unit, or a
// constant for all hours.
type Column struct {
	Name     string // of the column
	Unit     string // as package quantity takes it; "1" for a share
	Constant string // a quantity with its unit, instead of a column
}

// mapFile is the written form of a ColumnMap.
type mapFile struct {
	Version   int      `yaml:"version"`
	Name      string   `yaml:"name,omitempty"`
	Source    string   `yaml:"source,omitempty"`
	Latitude  *float64 `yaml:"latitude"`
	Longitude *float64 `yaml:"longitude"`
	Height    string   `yaml:"height"`
	Zone      string   `yaml:"zone"`
	Separator string   `yaml:"separator,omitempty"`
	Decimal   string   `yaml:"decimal,omitempty"`
	Typical   bool     `yaml:"typical,omitempty"`
	SkipLines int      `yaml:"skip lines,omitempty"`
	Missing   []string `yaml:"missing"`
	Time      struct {
		Column  string   `yaml:"column,omitempty"`
		Columns []string `yaml:"columns,omitempty"`
		Layout  string   `yaml:"layout,omitempty"`
		Zone    string   `yaml:"zone,omitempty"`
		Stamp   string   `yaml:"stamp,omitempty"`
	} `yaml:"time"`
	Columns map[string]mapColumn `yaml:"columns"`
	NoSun   string               `yaml:"no sun,omitempty"`
}

type mapColumn struct {
	Column   string `yaml:"column,omitempty"`
	Unit     string `yaml:"unit,omitempty"`
	Constant string `yaml:"constant,omitempty"`
}

// ParseColumnMap reads the written form of a column map. Unknown keys are
// errors, so that a misspelt one is not passed over.
func ParseColumnMap(text []byte) (ColumnMap, error) {
	var m ColumnMap
	var f mapFile
	dec := yaml.NewDecoder(bytes.NewReader(text))
	dec.KnownFields(true)
	if err := dec.Decode(&f); err != nil {
		if errors.Is(err, io.EOF) {
			return m, errors.New("the column map is empty")
		}
		return m, fmt.Errorf("column map: %w", err)
	}
	if f.Version != 1 {
		return m, fmt.Errorf("column map: version %d, accepted: 1", f.Version)
	}
	if f.Latitude == nil || f.Longitude == nil {
		return m, errors.New("column map: latitude and longitude are needed, in degrees")
	}
	height, err := quantity.Parse(f.Height, quantity.Length)
	if err != nil {
		return m, fmt.Errorf("column map: height: %w", err)
	}
	zone, err := parseZone(f.Zone)
	if err != nil {
		return m, fmt.Errorf("column map: zone: %w", err)
	}
	m = ColumnMap{
		Name: f.Name, Source: f.Source, Latitude: *f.Latitude, Longitude: *f.Longitude, Height: height, Zone: zone,
		SkipLines: f.SkipLines, Typical: f.Typical, Missing: f.Missing, NoSun: f.NoSun,
		Time:    TimeColumn{Columns: f.Time.Columns, Layout: f.Time.Layout, Stamp: f.Time.Stamp},
		Columns: make(map[string]Column, len(f.Columns)),
	}
	switch {
	case f.Separator == "tab":
		m.Separator = '\t'
	case len(f.Separator) == 1:
		m.Separator = f.Separator[0]
	case f.Separator != "":
		return m, fmt.Errorf("column map: separator %q, accepted: one character or tab", f.Separator)
	}
	switch {
	case len(f.Decimal) == 1:
		m.Decimal = f.Decimal[0]
	case f.Decimal != "":
		return m, fmt.Errorf("column map: decimal %q, accepted: . or ,", f.Decimal)
	}
	if f.Time.Column != "" {
		if len(f.Time.Columns) > 0 {
			return m, errors.New("column map: time: column and columns, accepted: one of them")
		}
		m.Time.Columns = []string{f.Time.Column}
	}
	switch z, err := parseZone(f.Time.Zone); {
	case f.Time.Zone == "":
	case err == nil:
		m.Time.Zone = &z
	case strings.Contains(f.Time.Zone, "/"): // compile looks the place up
		m.Time.Place = f.Time.Zone
	default:
		return m, fmt.Errorf("column map: time: zone: %w, or a place such as Europe/Berlin", err)
	}
	for name, c := range f.Columns {
		m.Columns[name] = Column{Name: c.Column, Unit: c.Unit, Constant: c.Constant}
	}
	if _, err := m.compile(); err != nil {
		return m, fmt.Errorf("column map: %w", err)
	}
	return m, nil
}

// parseZone reads "UTC", "Z", "+01:00", "-5" or "5:30".
func parseZone(s string) (time.Duration, error) {
	bad := fmt.Errorf("found %q, accepted: UTC or an offset such as -05:00 (standard time, no daylight saving)", s)
	text := strings.TrimPrefix(strings.TrimSpace(s), "UTC")
	if text == "" && s != "" || text == "Z" {
		return 0, nil
	}
	sign := time.Duration(1)
	switch {
	case strings.HasPrefix(text, "-"):
		sign, text = -1, text[1:]
	case strings.HasPrefix(text, "+"):
		text = text[1:]
	}
	hours, minutes, _ := strings.Cut(text, ":")
	h, ok := parseInt([]byte(hours))
	if !ok || h > 14 {
		return 0, bad
	}
	m := 0
	if minutes != "" {
		if m, ok = parseInt([]byte(minutes)); !ok || m > 59 {
			return 0, bad
		}
	}
	return sign * (time.Duration(h)*time.Hour + time.Duration(m)*time.Minute), nil
}

type stampKind int

const (
	stampInstant stampKind = iota
	stampStart
	stampEnd
)

// csvColumn is one mapped column.
type csvColumn struct {
	field  int // of the table
	name   string
	index  int     // in a row
	factor float64 // to the unit of the table
	offset float64 // added after the factor
}

// csvPlan is a checked ColumnMap, ready to read with.
type csvPlan struct {
	separator    byte
	decimalComma bool
	skipLines    int
	typical      bool
	missing      []string
	siteZone     time.Duration
	clock        clock
	stamp        stampKind
	layoutShown  string
	layouts      []string // of package time, tried in turn; none for Unix seconds
	timeNames    []string
	timeIndex    []int
	columns      []csvColumn
	constant     [fieldCount]float64
	isConstant   [fieldCount]bool
	noSun        noSun
	width        int // fields a row must have
}

// fieldKinds gives the kind of quantity of each field and the factor from its
// unit to the table's.
var fieldKinds = [fieldCount]struct {
	kind   quantity.Kind
	factor float64
}{
	tempAir:           {quantity.Temperature, 1},
	dewPoint:          {quantity.Temperature, 1},
	relHumidity:       {quantity.Fraction, 1},
	pressure:          {quantity.Pressure, 1},
	windSpeed:         {quantity.Speed, 1},
	windFrom:          {quantity.Angle, 1},
	globalHorizontal:  {quantity.Irradiance, 1},
	directNormal:      {quantity.Irradiance, 1},
	diffuseHorizontal: {quantity.Irradiance, 1},
	skyLongWave:       {quantity.Irradiance, 1},
	cloudCover:        {quantity.Fraction, 1},
	rain:              {quantity.Length, 1000}, // m to mm
	snowDepth:         {quantity.Length, 1},
}

// compile checks the map.
func (m *ColumnMap) compile() (*csvPlan, error) {
	p := &csvPlan{separator: m.Separator, skipLines: m.SkipLines, typical: m.Typical, missing: m.Missing, siteZone: m.Zone}
	if !(m.Latitude >= -90 && m.Latitude <= 90) {
		return nil, fmt.Errorf("latitude %g, accepted: -90 to 90 degrees", m.Latitude)
	}
	if !(m.Longitude >= -180 && m.Longitude <= 180) {
		return nil, fmt.Errorf("longitude %g, accepted: -180 to 180 degrees", m.Longitude)
	}
	if !(m.Height >= -450 && m.Height <= 9000) {
		return nil, fmt.Errorf("height %g m, accepted: -450 to 9000 m", m.Height)
	}
	if p.separator == 0 {
		p.separator = ','
	}
	if p.separator == '"' || p.separator == '\n' || p.separator == '\r' || p.separator >= 0x80 {
		return nil, fmt.Errorf("separator %q, accepted: a comma, semicolon, tab or another mark", p.separator)
	}
	switch m.Decimal {
	case 0, '.':
	case ',':
		p.decimalComma = true
		if p.separator == ',' {
			return nil, errors.New("a comma as separator and as decimal mark, accepted: one of them")
		}
	default:
		return nil, fmt.Errorf("decimal %q, accepted: . or ,", m.Decimal)
	}
	if m.SkipLines < 0 || m.SkipLines > 1000 {
		return nil, fmt.Errorf("skip lines %d, accepted: 0 to 1000", m.SkipLines)
	}
	if p.missing == nil {
		p.missing = defaultMissing()
	}
	if m.Zone < -12*time.Hour || m.Zone > 14*time.Hour || m.Zone%time.Minute != 0 {
		return nil, fmt.Errorf("zone %v, accepted: whole minutes from -12 h to 14 h ahead of UTC", m.Zone)
	}
	p.clock.offset = int64(m.Zone / time.Second)
	if m.Time.Zone != nil {
		if *m.Time.Zone < -12*time.Hour || *m.Time.Zone > 14*time.Hour {
			return nil, fmt.Errorf("time: zone %v, accepted: -12 h to 14 h ahead of UTC", *m.Time.Zone)
		}
		p.clock.offset = int64(*m.Time.Zone / time.Second)
	}
	if m.Time.Place != "" {
		if m.Time.Zone != nil {
			return nil, errors.New("time: an offset and a place, accepted: one of them")
		}
		place, err := time.LoadLocation(m.Time.Place)
		if err != nil || m.Time.Place == "Local" {
			return nil, fmt.Errorf("time: zone %q, accepted: an offset such as -05:00, or a place of the IANA time zone database such as America/New_York", m.Time.Place)
		}
		p.clock.place = place
	}
	switch m.Time.Stamp {
	case "", "instant":
		p.stamp = stampInstant
	case "start":
		p.stamp = stampStart
	case "end":
		p.stamp = stampEnd
	default:
		return nil, fmt.Errorf("time: stamp %q, accepted: start, end or instant", m.Time.Stamp)
	}
	if len(m.Time.Columns) == 0 {
		return nil, errors.New("time: no column")
	}
	p.timeNames = m.Time.Columns
	p.timeIndex = make([]int, len(p.timeNames))
	var err error
	if p.layouts, p.layoutShown, err = compileLayout(m.Time.Layout); err != nil {
		return nil, fmt.Errorf("time: %w", err)
	}
	switch m.NoSun {
	case "":
	case "overcast":
		p.noSun = overcast
	case "daily range":
		p.noSun = dailyRange
	case "cloud cover":
		p.noSun = fromClouds
	default:
		return nil, fmt.Errorf("no sun: %q, accepted: overcast, daily range or cloud cover", m.NoSun)
	}
	return p, m.compileColumns(p)
}

func (m *ColumnMap) compileColumns(p *csvPlan) error {
	known := 0
	var have [fieldCount]bool
	for f := range fields { // in the order of the table, so that errors do not depend on the map's
		c, ok := m.Columns[fields[f].name]
		if !ok {
			continue
		}
		known++
		have[f] = true
		kind := fieldKinds[f]
		switch {
		case c.Constant != "" && c.Name != "":
			return fmt.Errorf("%s: a column and a constant, accepted: one of them", fields[f].name)
		case c.Constant != "":
			switch f {
			case globalHorizontal, directNormal, diffuseHorizontal:
				return fmt.Errorf("%s: a constant, accepted: a column (or \"no sun\")", fields[f].name)
			}
			v, err := quantity.Parse(c.Constant, kind.kind)
			if err != nil {
				return fmt.Errorf("%s: %w", fields[f].name, err)
			}
			v *= kind.factor
			if l := &fields[f]; v < l.low || v > l.high {
				return fmt.Errorf("%s: %s, accepted: %g to %g %s", l.name, c.Constant, l.low*l.shown, l.high*l.shown, l.unit)
			}
			p.constant[f], p.isConstant[f] = v, true
		case c.Name != "":
			factor, offset, err := unitScale(f, c.Unit)
			if err != nil {
				return fmt.Errorf("%s: %w", fields[f].name, err)
			}
			p.columns = append(p.columns, csvColumn{field: f, name: c.Name, factor: factor * kind.factor, offset: offset * kind.factor})
		default:
			return fmt.Errorf("%s: neither column nor constant", fields[f].name)
		}
	}
	if known < len(m.Columns) {
		for _, name := range sortedKeys(m.Columns) {
			if fieldNamed(name) < 0 {
				names := make([]string, fieldCount)
				for f := range fields {
					names[f] = fields[f].name
				}
				return fmt.Errorf("unknown field %q, accepted: %s", name, strings.Join(names, ", "))
			}
		}
	}
	switch {
	case !have[tempAir]:
		return errors.New("no air temperature: give a column")
	case !have[relHumidity] && !have[dewPoint]:
		return errors.New("no humidity: give a column of relative humidity or dew point")
	case !have[windSpeed]:
		return errors.New("no wind speed: give a column or a constant, such as {constant: 2 m/s}")
	case !have[windFrom]:
		return errors.New("no wind direction: give a column or a constant, such as {constant: 270 deg}")
	case !have[globalHorizontal] && !(have[directNormal] && have[diffuseHorizontal]) && p.noSun == refuseNoSun:
		return errors.New("no radiation: give a column of global horizontal radiation, or say \"no sun: overcast\" or \"no sun: daily range\"")
	case p.noSun == fromClouds && !have[cloudCover]:
		return errors.New("\"no sun: cloud cover\" without a column of cloud cover")
	case p.noSun != refuseNoSun && (have[globalHorizontal] || have[directNormal] || have[diffuseHorizontal]):
		return errors.New("\"no sun\" beside a radiation column, accepted: one of them")
	}
	return nil
}

func defaultMissing() []string { return []string{"", "NA", "NaN", "null", "-"} }

func sortedKeys(m map[string]Column) []string {
	return slices.Sorted(maps.Keys(m))
}

func fieldNamed(name string) int {
	for f := range fields {
		if fields[f].name == name {
			return f
		}
	}
	return -1
}

// unitScale gives value = text·factor + offset in the unit of the field's kind.
func unitScale(f int, unit string) (factor, offset float64, err error) {
	switch {
	case unit == "" && fieldKinds[f].kind != quantity.Fraction:
		return 0, 0, fmt.Errorf("no unit, accepted: such as %s", fieldKinds[f].kind.Unit())
	case fieldKinds[f].kind == quantity.Fraction && unit == "1":
		return 1, 0, nil
	case unit == "":
		return 0, 0, errors.New("no unit, accepted: % or 1")
	case f == cloudCover && (unit == "oktas" || unit == "okta"):
		return 1.0 / 8, 0, nil
	case f == cloudCover && (unit == "tenths" || unit == "tenth"):
		return 1.0 / 10, 0, nil
	}
	if offset, err = quantity.Parse("0 "+unit, fieldKinds[f].kind); err != nil {
		return 0, 0, err
	}
	hundred, err := quantity.Parse("100 "+unit, fieldKinds[f].kind)
	if err != nil {
		return 0, 0, err
	}
	return (hundred - offset) / 100, offset, nil
}

// compileLayout turns a layout into those of package time.
func compileLayout(layout string) (layouts []string, shown string, err error) {
	switch layout {
	case "", "iso":
		for _, t := range []string{"T", " "} {
			for _, s := range []string{":05", ""} {
				layouts = append(layouts, "2006-01-02"+t+"15:04"+s, "2006-01-02"+t+"15:04"+s+"Z07:00")
			}
		}
		return layouts, "2024-12-31T23:00", nil
	case "unix":
		return nil, "seconds since 1970", nil
	}
	twelve := strings.Contains(layout, "AM") || strings.Contains(layout, "PM")
	hour := "15"
	if twelve {
		hour = "3"
	}
	pairs := []struct{ token, form string }{
		{"YYYY", "2006"}, {"YY", "06"}, {"MM", "1"}, {"DD", "2"}, {"hh", hour}, {"mm", "4"}, {"ss", "5"},
		{"AM", "PM"}, {"PM", "PM"}, {"Zone", "Z07:00"},
	}
	var b strings.Builder
	seen := map[string]bool{}
	for rest := layout; rest != ""; {
		next := -1
		for i := range pairs {
			if strings.HasPrefix(rest, pairs[i].token) {
				next = i
				break
			}
		}
		if next >= 0 {
			b.WriteString(pairs[next].form)
			seen[pairs[next].token[:1]+pairs[next].token[1:2]] = true
			rest = rest[len(pairs[next].token):]
			continue
		}
		// Package time would read digits and letters as parts of a date.
		if c := rest[0]; c >= '0' && c <= '9' || c == '_' || c != 'T' && (c|0x20 >= 'a' && c|0x20 <= 'z') {
			return nil, "", fmt.Errorf("layout %q: %q is no part of a date; write YYYY, MM, DD, hh, mm, ss", layout, c)
		}
		b.WriteByte(rest[0])
		rest = rest[1:]
	}
	for _, need := range []string{"YY", "MM", "DD", "hh"} {
		if !seen[need] {
			return nil, "", fmt.Errorf("layout %q has no %s, accepted: such as DD.MM.YYYY hh:mm", layout, need)
		}
	}
	return []string{b.String()}, layout, nil
}

// parseTime reads a stamp as Unix time [s]; again and skipped are those of
// [clock.instant]. Years outside 1800 to 2200 are taken for misreadings.
func (p *csvPlan) parseTime(b []byte) (at int64, again int32, skipped, ok bool) {
	if len(p.layouts) == 0 {
		v, err := strconv.ParseInt(string(b), 10, 64)
		return v, 0, false, err == nil && v > -5364662400 && v < 7258118400 // 1800-01-01 and 2200-01-01
	}
	text := string(b)
	for i, layout := range p.layouts {
		t, err := time.Parse(layout, text)
		if err != nil {
			continue
		}
		if i > 0 { // the next rows are likely to be of the same form
			p.layouts[0], p.layouts[i] = p.layouts[i], p.layouts[0]
		}
		if ok = t.Year() >= 1800 && t.Year() < 2200; !ok {
			return 0, 0, false, false
		}
		if strings.Contains(layout, "Z07:00") {
			return t.Unix(), 0, false, true
		}
		at, again, skipped = p.clock.instant(t.Unix())
		return at, again, skipped, true
	}
	return 0, 0, false, false
}
