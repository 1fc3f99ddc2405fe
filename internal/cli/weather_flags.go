package cli

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"hackle/climate"
	"hackle/quantity"
)

// coordinate is a flag that takes degrees, with a sign or a letter for the side.
type coordinate struct {
	positive, negative string // letters of the sides, such as N and S
	most               float64
	value              float64 // [deg]
	given              bool
}

func (c *coordinate) String() string {
	if !c.given {
		return ""
	}
	return strconv.FormatFloat(c.value, 'f', -1, 64)
}

func (c *coordinate) Set(s string) error {
	text := strings.ToUpper(strings.TrimSpace(s))
	sign := 1.0
	if t, ok := strings.CutSuffix(text, c.negative); ok {
		text, sign = t, -1
	} else {
		text = strings.TrimSuffix(text, c.positive)
	}
	lettered := text != strings.ToUpper(strings.TrimSpace(s))
	text = strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(text), "°"))
	text = strings.Replace(text, "−", "-", 1)
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || !(math.Abs(v) <= c.most) || lettered && v < 0 {
		return fmt.Errorf("%q is no such angle: %g to %g degrees, %s positive, such as 44.5 or 44.5%s", s, -c.most, c.most, c.positive, c.positive)
	}
	c.value, c.given = sign*v, true
	return nil
}

func (c *coordinate) Type() string { return "degrees" }

// placeFlags say where a yard or station is.
type placeFlags struct {
	latitude, longitude coordinate
	height              amount
	zone                zoneFlag
}

func newPlaceFlags() *placeFlags {
	return &placeFlags{latitude: coordinate{positive: "N", negative: "S", most: 90}, longitude: coordinate{positive: "E", negative: "W", most: 180},
		height: amount{kind: quantity.Length, bare: "m"}}
}

func (f *placeFlags) flags(c *cobra.Command) {
	c.Flags().Var(&f.latitude, "latitude", "north of the equator, such as 44.5 or 33.9S")
	c.Flags().Var(&f.longitude, "longitude", "east of Greenwich, such as 7.4 or 73.2W")
	c.Flags().Var(&f.height, "height", "above the sea, such as 110m or 360ft")
}

// zoned adds a time zone to the flags.
func (f *placeFlags) zoned(c *cobra.Command) {
	f.flags(c)
	c.Flags().Var(&f.zone, "zone", "standard time ahead of UTC, such as -05:00 (default the whole hour nearest to the sun's time)")
}

// need wants latitude and longitude.
func (f *placeFlags) need() error {
	if !f.latitude.given || !f.longitude.given {
		return fmt.Errorf("which place? Give --latitude and --longitude in degrees, such as --latitude 44.5 --longitude 73.2W")
	}
	return nil
}

// time zone of the place.
func (f *placeFlags) offset() time.Duration {
	if f.zone.given {
		return f.zone.value
	}
	return time.Duration(math.Round(f.longitude.value/15)) * time.Hour
}

// station of the place; the zero one when none of it was given.
func (f *placeFlags) station(name string) (climate.Station, error) {
	if !f.latitude.given && !f.longitude.given && !f.height.given {
		if name != "" || f.zone.given {
			return climate.Station{}, fmt.Errorf("a name or a zone without a place: give --latitude, --longitude and --height as well")
		}
		return climate.Station{}, nil
	}
	if err := f.need(); err != nil {
		return climate.Station{}, err
	}
	if !f.height.given {
		return climate.Station{}, fmt.Errorf("how high is the station? Give --height, such as --height 110m")
	}
	return climate.Station{Name: name, Latitude: f.latitude.value, Longitude: f.longitude.value, Height: f.height.value, Zone: f.offset()}, nil
}

// zoneFlag takes an offset from UTC.
type zoneFlag struct {
	value time.Duration
	text  string
	given bool
}

func (z *zoneFlag) String() string { return z.text }

func (z *zoneFlag) Set(s string) error {
	bad := fmt.Errorf("%q is no offset from UTC in standard time, -12 to 14 hours, such as -05:00 or 5:30", s)
	text := strings.Replace(strings.TrimPrefix(strings.TrimSpace(s), "UTC"), "−", "-", 1)
	if text == "" && s != "" {
		text = "0" // UTC itself
	}
	sign := time.Duration(1)
	switch {
	case strings.HasPrefix(text, "-"):
		sign, text = -1, text[1:]
	case strings.HasPrefix(text, "+"):
		text = text[1:]
	}
	hours, minutes, hasMinutes := strings.Cut(text, ":")
	h, err := strconv.ParseUint(hours, 10, 8)
	if err != nil || h > 14 {
		return bad
	}
	m := uint64(0)
	if hasMinutes {
		if m, err = strconv.ParseUint(minutes, 10, 8); err != nil || m > 59 {
			return bad
		}
	}
	v := sign * (time.Duration(h)*time.Hour + time.Duration(m)*time.Minute)
	if v < -12*time.Hour || v > 14*time.Hour {
		return bad
	}
	z.value, z.text, z.given = v, s, true
	return nil
}

func (z *zoneFlag) Type() string { return "offset" }

// deltas takes one difference of temperature, or one for each month.
type deltas struct {
	values [12]float64 // [K]
	text   string
	given  bool
}

func (d *deltas) String() string { return d.text }

func (d *deltas) Set(s string) error {
	parts := strings.Split(s, ",")
	if len(parts) != 1 && len(parts) != 12 {
		return fmt.Errorf("%q holds %d values: one, or twelve with commas between, January first", s, len(parts))
	}
	for i := range d.values {
		part := strings.TrimSpace(parts[min(i, len(parts)-1)])
		v, err := quantity.Parse(part, quantity.TemperatureDifference)
		if err != nil {
			return err
		}
		d.values[i] = v
	}
	d.text, d.given = s, true
	return nil
}

func (d *deltas) Type() string { return "difference" }

// pieces cuts a flag's text at its commas.
func pieces(s string) []string {
	parts := strings.Split(s, ",")
	for i := range parts {
		parts[i] = strings.TrimSpace(parts[i])
	}
	return parts
}

// bearings reads "240-300", clockwise from north.
func bearings(s string) (from, to float64, err error) {
	a, b, ok := strings.Cut(s, "-")
	if ok {
		from, err = strconv.ParseFloat(strings.TrimSpace(a), 64)
		if err == nil {
			to, err = strconv.ParseFloat(strings.TrimSpace(b), 64)
		}
	}
	if !ok || err != nil || !(from >= 0 && from <= 360 && to >= 0 && to <= 360) {
		return 0, 0, fmt.Errorf("%q is no range of bearings: two angles from 0 to 360, clockwise from north, such as 240-300", s)
	}
	return from, to, nil
}

// windbreakIn reads "240-300, 3 m, 10 m, 40 %" with, last, the porosity without
// leaves where there are leaves to lose.
func windbreakIn(s string) (climate.Windbreak, error) {
	var w climate.Windbreak
	const accepted = "bearings, height, distance, open share and, if it loses its leaves, open share without them, such as \"240-300, 3 m, 10 m, 40 %, 70 %\""
	p := pieces(s)
	if len(p) != 4 && len(p) != 5 {
		return w, fmt.Errorf("windbreak %q: %d parts, accepted: %s", s, len(p), accepted)
	}
	var err error
	if w.From, w.To, err = bearings(p[0]); err != nil {
		return w, fmt.Errorf("windbreak: %w", err)
	}
	for i, field := range []struct {
		what string
		kind quantity.Kind
		high float64
		to   *float64
	}{
		{"height", quantity.Length, 100, &w.Height}, {"distance", quantity.Length, 5000, &w.Distance},
		{"open share", quantity.Fraction, 1, &w.Porosity}, {"open share without leaves", quantity.Fraction, 1, &w.BarePorosity},
	} {
		if i+1 >= len(p) {
			break
		}
		v, err := quantity.Parse(p[i+1], field.kind)
		if err != nil {
			return w, fmt.Errorf("windbreak: %s: %w", field.what, err)
		}
		if v < 0 || v > field.high || field.what == "height" && v == 0 {
			return w, fmt.Errorf("windbreak: %s %s, accepted: above 0, up to %s", field.what, p[i+1], quantity.Format(field.high, field.kind, quantity.Metric))
		}
		*field.to = v
	}
	return w, nil
}

// treesIn reads "90-200, 25 deg, deciduous".
func treesIn(s string) (climate.TreeLine, error) {
	var l climate.TreeLine
	p := pieces(s)
	if len(p) != 3 {
		return l, fmt.Errorf("shade %q: %d parts, accepted: bearings, elevation of the top and kind, such as \"90-200, 25 deg, deciduous\"", s, len(p))
	}
	var err error
	if l.From, l.To, err = bearings(p[0]); err != nil {
		return l, fmt.Errorf("shade: %w", err)
	}
	if l.Elevation, err = quantity.Parse(p[1], quantity.Angle); err != nil {
		return l, fmt.Errorf("shade: elevation: %w", err)
	}
	if !(l.Elevation >= 0 && l.Elevation <= 90) {
		return l, fmt.Errorf("shade: elevation %s, accepted: 0 to 90 degrees above the level", p[1])
	}
	switch p[2] {
	case "evergreen":
		l.Kind = climate.Evergreen
	case "deciduous":
		l.Kind = climate.Deciduous
	case "solid":
		l.Kind = climate.Solid
	default:
		return l, fmt.Errorf("shade: %q, accepted: evergreen, deciduous or solid (a house, a hill)", p[2])
	}
	return l, nil
}
