package fetch

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"strconv"
	"time"

	"hackle/climate"
)

// answer is the JSON object of the package comment.
type answer struct {
	Latitude  *float64                   `json:"latitude"`
	Longitude *float64                   `json:"longitude"`
	Elevation *float64                   `json:"elevation"`
	Offset    *float64                   `json:"utc_offset_seconds"`
	Units     map[string]string          `json:"hourly_units"`
	Hourly    map[string]json.RawMessage `json:"hourly"`
}

// column is a quantity of the answer and the field of package climate it is.
type column struct {
	name   string
	field  string
	edge   bool // an hour at either end that lacks it is left off
	values []float64
	unit   string
}

// columns lists the quantities in the order they are handed on.
func columns() []column {
	return []column{
		{name: "temperature_2m", field: "air temperature", edge: true},
		{name: "relative_humidity_2m", field: "relative humidity"},
		{name: "dew_point_2m", field: "dew point"},
		{name: "surface_pressure", field: "station pressure", edge: true},
		{name: "wind_speed_10m", field: "wind speed", edge: true},
		{name: "wind_direction_10m", field: "wind direction", edge: true},
		{name: "shortwave_radiation", field: "global horizontal radiation", edge: true},
		{name: "direct_normal_irradiance", field: "direct normal radiation"},
		{name: "diffuse_radiation", field: "diffuse horizontal radiation"},
		{name: "cloud_cover", field: "cloud cover"},
		{name: "precipitation", field: "rain"},
		{name: "snow_depth", field: "snow depth"},
	}
}

// snowPerWater is the depth of fresh snow that the service counts for a depth of
// water: 7 cm of snow to 10 mm of water (its documentation, from memory) [cm/mm].
const snowPerWater = 0.7

// farthest is how far the point of a grid may lie from the place asked for [deg].
const farthest = 1.0

// weather turns the text of an answer into weather.
func (c *Client) weather(r *Request, q *query, body []byte, fetched time.Time) (*Weather, error) {
	refuse := func(field, found, accepted string) error {
		return &Error{Address: q.address, Field: field, Found: found, Accepted: accepted}
	}
	var a answer
	if err := json.Unmarshal(body, &a); err != nil {
		return nil, &Error{Address: q.address, Field: jsonField(err), Found: "text that is not the JSON described", Accepted: "an object with hourly and hourly_units", Err: jsonCause(err)}
	}
	switch {
	case a.Latitude == nil || a.Longitude == nil:
		return nil, refuse("latitude, longitude", "none", "those of the point the values belong to")
	case math.Abs(*a.Latitude-r.Latitude) > farthest || math.Abs(math.Remainder(*a.Longitude-r.Longitude, 360)) > farthest/max(math.Cos(r.Latitude*math.Pi/180), 0.01):
		return nil, refuse("latitude, longitude", fmt.Sprintf("%.2f, %.2f", *a.Latitude, *a.Longitude), fmt.Sprintf("within %g° of the place asked for, %s, %s", farthest, degrees(r.Latitude), degrees(r.Longitude)))
	}
	height := 0.0
	switch {
	case r.Height != nil:
		height = *r.Height
	case a.Elevation != nil:
		height = *a.Elevation
	default:
		return nil, refuse("elevation", "none", "the height of the point; or give the yard's height")
	}
	ends, err := a.times(q)
	if err != nil {
		return nil, err
	}
	cols, err := a.columns(q, len(ends))
	if err != nil {
		return nil, err
	}

	// Of an archive, only the hours asked for.
	first, last := 0, len(ends)
	if !r.forecast() {
		first, last = -1, -1
		for i, at := range ends {
			if at >= q.from.Unix() && at <= q.to.Unix() {
				if first < 0 {
					first = i
				}
				last = i + 1
			}
		}
		if first < 0 {
			return nil, refuse("hourly.time", "none of the hours asked for", fmt.Sprintf("%s to %s", q.from.Format(time.RFC3339), q.to.Format(time.RFC3339)))
		}
	}
	wanted := last - first
	for first < last && lacks(cols, first) {
		first++
	}
	for first < last && lacks(cols, last-1) {
		last--
	}
	if first == last {
		return nil, refuse("hourly", fmt.Sprintf("no hour of %d that has every needed value", wanted), "temperature, wind, pressure and radiation in the same hours")
	}

	m := climate.ColumnMap{
		Name: r.Name, Latitude: r.Latitude, Longitude: r.Longitude, Height: height, Zone: r.Zone,
		Source:  source(r, q, &a, fetched),
		Time:    climate.TimeColumn{Columns: []string{"time"}, Layout: "unix", Stamp: "end"},
		Columns: make(map[string]climate.Column, len(cols)),
	}
	if m.Name == "" {
		m.Name = degrees(r.Latitude) + ", " + degrees(r.Longitude)
	}
	for _, col := range cols {
		m.Columns[col.field] = climate.Column{Name: col.name, Unit: col.unit}
	}
	s, err := climate.ReadCSV("the answer", bytes.NewReader(table(ends, cols, first, last)), m)
	var faulty *climate.FileError
	switch {
	case errors.As(err, &faulty):
		if faulty.Line > 1 {
			faulty.Line += first - 1 // the line of column names
		}
		return nil, &Error{Address: q.address, Err: faulty}
	case err != nil:
		return nil, &Error{Address: q.address, Err: err}
	}
	for i := range s.Repairs {
		if s.Repairs[i].Line > 1 {
			s.Repairs[i].Line += first - 1
		}
	}
	if off := wanted - (last - first); off > 0 {
		s.Repairs = append(s.Repairs, climate.Repair{Field: "time", Found: fmt.Sprintf("%d of %d hours at the ends without every needed value", off, wanted),
			Done: fmt.Sprintf("left off: the weather runs from %s to %s", s.Start.Format("2006-01-02 15:04"), s.End().Format("2006-01-02 15:04"))})
	}
	return &Weather{Series: s, Forecast: r.forecast(), Fetched: fetched}, nil
}

// source names where the weather comes from, for the report.
func source(r *Request, q *query, a *answer, fetched time.Time) string {
	kind := "past weather"
	if r.forecast() {
		kind = "forecast"
	}
	return fmt.Sprintf("%s of the point %.2f, %.2f from %s, fetched %s", kind, *a.Latitude, *a.Longitude, q.url.Host, fetched.UTC().Format("2006-01-02 15:04 UTC"))
}

// times returns the ends of the hours as Unix time [s].
func (a *answer) times(q *query) ([]int64, error) {
	refuse := func(found, accepted string) error {
		return &Error{Address: q.address, Field: "hourly.time", Found: found, Accepted: accepted}
	}
	raw, ok := a.Hourly["time"]
	if !ok {
		return nil, refuse("none", "an array of times such as \"2024-01-01T00:00\"")
	}
	var texts []string
	if err := json.Unmarshal(raw, &texts); err != nil {
		return nil, refuse("other values than texts", "an array of times such as \"2024-01-01T00:00\"")
	}
	switch {
	case len(texts) == 0:
		return nil, refuse("an empty array", "at least one hour")
	case len(texts) > q.most:
		return nil, refuse(fmt.Sprintf("%d hours", len(texts)), fmt.Sprintf("at most the %d that were asked for", q.most))
	}
	offset := 0.0
	if a.Offset != nil {
		offset = *a.Offset
	}
	if !(math.Abs(offset) <= 14*3600) || offset != math.Trunc(offset) {
		return nil, &Error{Address: q.address, Field: "utc_offset_seconds", Found: fmt.Sprintf("%g", offset), Accepted: "0, as asked for, or at most 14 h"}
	}
	ends := make([]int64, len(texts))
	for i, text := range texts {
		at, err := time.Parse("2006-01-02T15:04", text)
		if err != nil {
			return nil, refuse(fmt.Sprintf("%s at place %d", shown(text), i+1), "times such as \"2024-01-01T00:00\"")
		}
		ends[i] = at.Unix() - int64(offset)
	}
	return ends, nil
}

// columns reads the quantities that the answer has.
func (a *answer) columns(q *query, hours int) ([]column, error) {
	refuse := func(field, found, accepted string) error {
		return &Error{Address: q.address, Field: field, Found: found, Accepted: accepted}
	}
	read := func(name string) (values []float64, known bool, err error) {
		raw, ok := a.Hourly[name]
		if !ok || string(raw) == "null" {
			return nil, false, nil
		}
		values, err = numbers(raw)
		if err != nil {
			return nil, false, refuse("hourly."+name, err.Error(), "an array of numbers and null")
		}
		if len(values) != hours {
			return nil, false, refuse("hourly."+name, fmt.Sprintf("%d values for %d times", len(values), hours), "one value for each time")
		}
		for _, v := range values {
			known = known || !math.IsNaN(v)
		}
		return values, known, nil
	}
	var cols []column
	have := map[string]bool{}
	for _, col := range columns() {
		values, known, err := read(col.name)
		if err != nil {
			return nil, err
		}
		if !known {
			continue
		}
		unit, ok := unitName(a.Units[col.name])
		if !ok {
			return nil, refuse("hourly_units."+col.name, shown(a.Units[col.name]), "the unit of the values, such as °C, %, hPa, m/s, °, W/m², mm, m")
		}
		col.values, col.unit = values, unit
		cols = append(cols, col)
		have[col.name] = true
	}
	for _, needed := range []string{"temperature_2m", "wind_speed_10m", "wind_direction_10m", "shortwave_radiation"} {
		if !have[needed] {
			return nil, refuse("hourly."+needed, "no value", "an array of numbers and null")
		}
	}
	if !have["relative_humidity_2m"] && !have["dew_point_2m"] {
		return nil, refuse("hourly.relative_humidity_2m", "no value, nor of dew_point_2m", "an array of numbers and null")
	}
	return cols, a.meltSnow(cols, read)
}

// meltSnow takes from the precipitation what fell as snow, which wets no hive.
func (a *answer) meltSnow(cols []column, read func(string) ([]float64, bool, error)) error {
	snow, known, err := read("snowfall")
	if err != nil || !known || a.Units["snowfall"] != "cm" {
		return err
	}
	for _, col := range cols {
		if col.name == "precipitation" && col.unit == "mm" {
			for i, s := range snow {
				if s > 0 { // false for NaN
					col.values[i] = max(col.values[i]-s/snowPerWater, 0)
				}
			}
		}
	}
	return nil
}

// unitName turns a unit as services write it into one that package quantity
// reads.
func unitName(unit string) (string, bool) {
	switch unit {
	case "°C", "°F", "K", "%", "hPa", "Pa", "kPa", "m/s", "km/h", "W/m²", "mm", "cm", "m", "ft", "mph":
		return unit, true
	case "°":
		return "deg", true
	case "inch":
		return "in", true
	case "mp/h":
		return "mph", true
	}
	return "", false
}

// lacks tells whether an hour lacks a needed value.
func lacks(cols []column, i int) bool {
	humid := false
	for _, col := range cols {
		missing := math.IsNaN(col.values[i])
		if col.edge && missing {
			return true
		}
		if !missing && (col.name == "relative_humidity_2m" || col.name == "dew_point_2m") {
			humid = true
		}
	}
	return !humid
}

// table writes the hours from first to last as separated columns, the form in
// which package climate reads weather by its rules.
func table(ends []int64, cols []column, first, last int) []byte {
	text := make([]byte, 0, (last-first+1)*(11+6*len(cols)))
	text = append(text, "time"...)
	for _, col := range cols {
		text = append(text, ',')
		text = append(text, col.name...)
	}
	text = append(text, '\n')
	for i := first; i < last; i++ {
		text = strconv.AppendInt(text, ends[i], 10)
		for _, col := range cols {
			text = append(text, ',')
			if v := col.values[i]; !math.IsNaN(v) {
				text = strconv.AppendFloat(text, v, 'g', -1, 64)
			}
		}
		text = append(text, '\n')
	}
	return text
}

// numbers reads an array of numbers and null, NaN for null, from text that is
// valid JSON.
func numbers(raw []byte) ([]float64, error) {
	rest := bytes.TrimSpace(raw)
	if len(rest) < 2 || rest[0] != '[' {
		return nil, errors.New("no array")
	}
	rest = bytes.TrimSpace(rest[1 : len(rest)-1])
	if len(rest) == 0 {
		return nil, nil
	}
	values := make([]float64, 0, 1+bytes.Count(rest, []byte(",")))
	for more := true; more; {
		var item []byte
		item, rest, more = bytes.Cut(rest, []byte(","))
		item = bytes.TrimSpace(item)
		if string(item) == "null" {
			values = append(values, math.NaN())
			continue
		}
		if len(item) == 0 || item[0] != '-' && (item[0] < '0' || item[0] > '9') {
			return nil, fmt.Errorf("%s at place %d", shown(string(item)), len(values)+1)
		}
		v, err := strconv.ParseFloat(string(item), 64)
		if err != nil { // beyond what a float64 holds
			return nil, fmt.Errorf("%s at place %d", shown(string(item)), len(values)+1)
		}
		values = append(values, v)
	}
	return values, nil
}

// jsonField names the field that package json stumbled over.
func jsonField(err error) string {
	var wrongType *json.UnmarshalTypeError
	if errors.As(err, &wrongType) {
		return wrongType.Field
	}
	return ""
}

// jsonCause tells where in the text, and what, in words without type names of
// the program.
func jsonCause(err error) error {
	var syntax *json.SyntaxError
	var wrongType *json.UnmarshalTypeError
	switch {
	case errors.As(err, &syntax):
		return fmt.Errorf("byte %d: %w", syntax.Offset, err)
	case errors.As(err, &wrongType):
		return fmt.Errorf("byte %d: a %s where something else belongs", wrongType.Offset, wrongType.Value)
	}
	return err
}
