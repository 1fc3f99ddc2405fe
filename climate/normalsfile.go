package climate

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"time"

	"go.yaml.in/yaml/v3"

	"hackle/quantity"
)

// PlacedNormals are monthly normals with their place, as a file holds them. The
// file is YAML (or JSON, which is YAML):
//
//	version: 1
//	name: Hilltop yard
//	source: national weather service, normals of 1991 to 2020
//	latitude: 44.5            # degrees, north positive
//	longitude: -73.2          # degrees, east positive
//	height: 110 m             # above the sea
//	zone: "-05:00"            # standard time, ahead of UTC
//	months:                   # twelve values each, January first
//	  daily low: {unit: °C, values: [-12, -11, -5, 1, 7, 13, 15, 14, 10, 4, -1, -8]}
//	  daily high: {unit: °C, values: [-2, -1, 5, 13, 20, 25, 27, 26, 21, 14, 7, 1]}
//	  relative humidity: {unit: "%", values: [69, 67, 65, 62, 62, 66, 67, 71, 73, 70, 71, 72]}
//	  wind speed: {unit: m/s, values: [4, 4, 4, 4, 4, 4, 3.5, 3.5, 3.5, 4, 4, 4]}
//	  sun hours: {unit: h/month, values: [125, 140, 170, 185, 235, 255, 285, 255, 200, 150, 95, 95]}
//	  rain days: {unit: d, values: [14, 11, 13, 12, 14, 13, 12, 12, 11, 13, 14, 15]}
//
// Needed are the mean daily low and high, and relative humidity or dew point. What
// else there may be, with the units beside those that package quantity takes:
//
//   - daily mean: temperature over all hours, where it is not the middle of low and
//     high
//   - wind speed, at 10 m in the open
//   - sun hours: h/day or h/month; or radiation, global on the horizontal:
//     kWh/m²/day, MJ/m²/day or W/m²
//   - rain days, of at least 1 mm: d; and rain, depth in the month
//   - spread between days and spread of range: a difference of temperature
//   - persistence, sun and warmth, wind shape: 1
//
// [MonthNormals] says what each is and what stands in where it is left out.
type PlacedNormals struct {
	Normals
	Latitude  float64       // north positive [deg]
	Longitude float64       // east positive [deg]
	Height    float64       // above sea level [m]
	Zone      time.Duration // local standard time ahead of UTC
}

// normalsFile is the written form.
type normalsFile struct {
	Version   int        `yaml:"version"`
	Name      string     `yaml:"name"`
	Source    string     `yaml:"source"`
	Latitude  *float64   `yaml:"latitude"`
	Longitude *float64   `yaml:"longitude"`
	Height    string     `yaml:"height"`
	Zone      string     `yaml:"zone"`
	Months    monthTable `yaml:"months"`
}

type monthTable struct {
	Low         *monthRow `yaml:"daily low,omitempty"`
	High        *monthRow `yaml:"daily high,omitempty"`
	Mean        *monthRow `yaml:"daily mean,omitempty"`
	RelHumidity *monthRow `yaml:"relative humidity,omitempty"`
	DewPoint    *monthRow `yaml:"dew point,omitempty"`
	Wind        *monthRow `yaml:"wind speed,omitempty"`
	SunHours    *monthRow `yaml:"sun hours,omitempty"`
	Radiation   *monthRow `yaml:"radiation,omitempty"`
	RainDays    *monthRow `yaml:"rain days,omitempty"`
	Rain        *monthRow `yaml:"rain,omitempty"`
	Spread      *monthRow `yaml:"spread between days,omitempty"`
	Persistence *monthRow `yaml:"persistence,omitempty"`
	RangeSpread *monthRow `yaml:"spread of range,omitempty"`
	SunWarmth   *monthRow `yaml:"sun and warmth,omitempty"`
	WindShape   *monthRow `yaml:"wind shape,omitempty"`
}

type monthRow struct {
	Unit   string    `yaml:"unit"`
	Values []float64 `yaml:"values,flow"`
}

// plainKind marks rows without a quantity's unit.
const plainKind = quantity.Kind(-1)

// monthField ties a row to the normals.
type monthField struct {
	name string
	row  **monthRow
	to   func(m *MonthNormals) *float64
	kind quantity.Kind
	// units are those of the row's own, with the factor to the unit of the normals.
	units map[string]float64
	// write is the unit that Write takes, and shown the factor to it.
	write    string
	shown    float64
	decimals int
}

func (t *monthTable) fields() []monthField {
	one := map[string]float64{"": 1, "1": 1}
	return []monthField{
		{"daily low", &t.Low, func(m *MonthNormals) *float64 { return &m.Low }, quantity.Temperature, nil, "°C", 1, 2},
		{"daily high", &t.High, func(m *MonthNormals) *float64 { return &m.High }, quantity.Temperature, nil, "°C", 1, 2},
		{"daily mean", &t.Mean, func(m *MonthNormals) *float64 { return &m.MeanAbove }, quantity.Temperature, nil, "°C", 1, 2},
		{"relative humidity", &t.RelHumidity, func(m *MonthNormals) *float64 { return &m.RelHumidity }, quantity.Fraction, one, "%", 100, 1},
		{"dew point", &t.DewPoint, func(m *MonthNormals) *float64 { return &m.DewPoint }, quantity.Temperature, nil, "°C", 1, 2},
		{"wind speed", &t.Wind, func(m *MonthNormals) *float64 { return &m.Wind }, quantity.Speed, nil, "m/s", 1, 2},
		{"sun hours", &t.SunHours, func(m *MonthNormals) *float64 { return &m.SunHours }, plainKind, map[string]float64{"h/day": 1, "h/d": 1, "h/month": 0}, "h/day", 1, 2},
		{"radiation", &t.Radiation, func(m *MonthNormals) *float64 { return &m.Sun }, plainKind,
			map[string]float64{"kWh/m²/day": 1000, "kWh/m2/day": 1000, "MJ/m²/day": 1e6 / 3600, "MJ/m2/day": 1e6 / 3600, "W/m²": 24, "W/m2": 24}, "kWh/m²/day", 1e-3, 3},
		{"rain days", &t.RainDays, func(m *MonthNormals) *float64 { return &m.RainDays }, plainKind, map[string]float64{"": 1, "d": 1, "days": 1}, "d", 1, 1},
		{"rain", &t.Rain, func(m *MonthNormals) *float64 { return &m.Rain }, quantity.Length, nil, "mm", 1, 1},
		{"spread between days", &t.Spread, func(m *MonthNormals) *float64 { return &m.Spread }, quantity.TemperatureDifference, nil, "K", 1, 2},
		{"persistence", &t.Persistence, func(m *MonthNormals) *float64 { return &m.Persistence }, plainKind, one, "1", 1, 2},
		{"spread of range", &t.RangeSpread, func(m *MonthNormals) *float64 { return &m.RangeSpread }, quantity.TemperatureDifference, nil, "K", 1, 2},
		{"sun and warmth", &t.SunWarmth, func(m *MonthNormals) *float64 { return &m.SunWarmth }, plainKind, one, "1", 1, 2},
		{"wind shape", &t.WindShape, func(m *MonthNormals) *float64 { return &m.WindShape }, plainKind, one, "1", 1, 2},
	}
}

// scale gives value = written·factor + offset in the unit of the normals, for a
// month of a number of days.
func (f *monthField) scale(unit string, days float64) (factor, offset float64, err error) {
	if v, ok := f.units[unit]; ok {
		if v == 0 { // h/month
			v = 1 / days
		}
		return v, 0, nil
	}
	if f.kind == plainKind {
		return 0, 0, fmt.Errorf("unit %q, accepted: %s", unit, f.write)
	}
	if unit == "" {
		return 0, 0, fmt.Errorf("no unit, accepted: such as %s", f.write)
	}
	if offset, err = quantity.Parse("0 "+unit, f.kind); err != nil {
		return 0, 0, err
	}
	hundred, err := quantity.Parse("100 "+unit, f.kind)
	if err != nil {
		return 0, 0, err
	}
	factor = (hundred - offset) / 100
	if f.kind == quantity.Length {
		factor *= 1000 // m to mm
	}
	return factor, offset, nil
}

// ParseNormals reads the written form of normals. Unknown keys are errors, so that
// a misspelt one is not passed over, and so is what no climate has.
func ParseNormals(text []byte) (PlacedNormals, error) {
	n, err := parseNormals(text)
	if err != nil {
		return PlacedNormals{}, fmt.Errorf("normals: %w", err)
	}
	return n, nil
}

func parseNormals(text []byte) (PlacedNormals, error) {
	var n PlacedNormals
	var f normalsFile
	dec := yaml.NewDecoder(bytes.NewReader(text))
	dec.KnownFields(true)
	if err := dec.Decode(&f); err != nil {
		if errors.Is(err, io.EOF) {
			return n, errors.New("the file is empty")
		}
		return n, err
	}
	if f.Version != 1 {
		return n, fmt.Errorf("version %d, accepted: 1", f.Version)
	}
	if f.Latitude == nil || f.Longitude == nil {
		return n, errors.New("latitude and longitude are needed, in degrees")
	}
	n.Name, n.Source, n.Latitude, n.Longitude = f.Name, f.Source, *f.Latitude, *f.Longitude
	var err error
	if n.Height, err = quantity.Parse(f.Height, quantity.Length); err != nil {
		return n, fmt.Errorf("height: %w", err)
	}
	if n.Zone, err = parseZone(f.Zone); err != nil {
		return n, fmt.Errorf("zone: %w", err)
	}
	t := &f.Months
	switch {
	case t.Low == nil || t.High == nil:
		return n, errors.New("daily low and daily high are needed")
	case t.RelHumidity == nil && t.DewPoint == nil:
		return n, errors.New("no humidity: give relative humidity or dew point")
	case t.RelHumidity != nil && t.DewPoint != nil:
		return n, errors.New("relative humidity and dew point, accepted: one of them")
	case t.SunHours != nil && t.Radiation != nil:
		return n, errors.New("sun hours and radiation, accepted: one of them")
	case t.Rain != nil && t.RainDays == nil:
		return n, errors.New("rain without rain days")
	}
	n.HasRain = t.RainDays != nil
	for _, field := range t.fields() {
		row := *field.row
		if row == nil {
			continue
		}
		if len(row.Values) != 12 {
			return n, fmt.Errorf("%s: %d values, accepted: 12, January first", field.name, len(row.Values))
		}
		for i, v := range row.Values {
			factor, offset, err := field.scale(row.Unit, float64(monthStart[i+1]-monthStart[i]))
			if err != nil {
				return n, fmt.Errorf("%s: %w", field.name, err)
			}
			*field.to(&n.Months[i]) = v*factor + offset
		}
	}
	for i := range n.Months {
		m := &n.Months[i]
		if t.Mean != nil {
			m.MeanAbove -= m.middle()
		}
		if t.RelHumidity != nil && m.RelHumidity == 0 {
			return n, fmt.Errorf("relative humidity: 0 in %s, accepted: 3 %% to 100 %%", time.Month(i+1))
		}
	}
	if err := n.validate(); err != nil {
		return n, errors.New(err.Error()[len(ErrNormals.Error()+": "):])
	}
	return n, nil
}

// Write writes the normals in the form that [ParseNormals] reads, rounded to what
// normals are worth: 0.01 K, 0.1 % of relative humidity, 1 Wh/m². Rows that are 0
// in every month are left out, as not known.
func (n PlacedNormals) Write(w io.Writer) error {
	if err := n.validate(); err != nil {
		return err
	}
	f := normalsFile{Version: 1, Name: n.Name, Source: n.Source, Latitude: &n.Latitude, Longitude: &n.Longitude,
		Height: quantity.FormatExact(n.Height, quantity.Length), Zone: writtenZone(n.Zone)}
	humid := n.Months[0].RelHumidity > 0
	for _, field := range f.Months.fields() {
		row := &monthRow{Unit: field.write, Values: make([]float64, 12)}
		known := field.row == &f.Months.Low || field.row == &f.Months.High
		for i := range n.Months {
			m := n.Months[i]
			v := *field.to(&m)
			if v != 0 || field.row == &f.Months.RainDays && n.HasRain {
				known = true
			}
			if field.row == &f.Months.Mean {
				v += m.middle()
			}
			scale := math.Pow10(field.decimals)
			if row.Values[i] = math.Round(v*field.shown*scale) / scale; row.Values[i] == 0 {
				row.Values[i] = 0 // no minus
			}
		}
		switch field.row {
		case &f.Months.DewPoint:
			known = !humid
		case &f.Months.SunHours:
			known = known && n.Months[5].Sun+n.Months[11].Sun == 0
		case &f.Months.Rain:
			known = known && n.HasRain
		}
		if known {
			*field.row = row
		}
	}
	enc := yaml.NewEncoder(w)
	enc.SetIndent(2)
	if err := enc.Encode(f); err != nil {
		return fmt.Errorf("writing the normals: %w", err)
	}
	return enc.Close()
}
