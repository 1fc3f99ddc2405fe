package climate

import (
	"bytes"
	"math"
	"strings"
	"testing"
	"time"
)

const someNormals = `version: 1
name: Hilltop yard
source: invented
latitude: 44.5
longitude: -73.2
height: 361 ft
zone: "-05:00"
months:
  daily low: {unit: °F, values: [10.4, 12.2, 23, 33.8, 44.6, 55.4, 59, 57.2, 50, 39.2, 30.2, 17.6]}
  daily high: {unit: °C, values: [-2, -1, 5, 13, 20, 25, 27, 26, 21, 14, 7, 1]}
  relative humidity: {unit: "%", values: [69, 67, 65, 62, 62, 66, 67, 71, 73, 70, 71, 72]}
  wind speed: {unit: km/h, values: [14.4, 14.4, 14.4, 14.4, 14.4, 14.4, 14.4, 14.4, 14.4, 14.4, 14.4, 14.4]}
  sun hours: {unit: h/month, values: [124, 140, 170, 185, 235, 255, 285, 255, 200, 150, 95, 95]}
  rain days: {unit: d, values: [14, 11, 13, 12, 14, 13, 12, 12, 11, 13, 14, 15]}
  rain: {unit: in, values: [2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2]}
`

func TestParseNormals(t *testing.T) {
	n, err := ParseNormals([]byte(someNormals))
	if err != nil {
		t.Fatal(err)
	}
	jan := n.Months[0]
	for _, c := range []struct {
		what      string
		got, want float64
	}{
		{"height [m]", n.Height, 361 * 0.3048}, {"low", jan.Low, -12}, {"high", jan.High, -2}, {"humidity", jan.RelHumidity, 0.69}, {"wind", jan.Wind, 4},
		{"sun hours a day", jan.SunHours, 4}, {"rain days", jan.RainDays, 14}, {"rain [mm]", jan.Rain, 50.8}, {"mean", jan.MeanAbove, 0},
	} {
		if math.Abs(c.got-c.want) > 1e-9 { // rounding
			t.Errorf("%s %g, want %g", c.what, c.got, c.want)
		}
	}
	if n.Zone != -5*time.Hour || n.Name != "Hilltop yard" || n.Source != "invented" || !n.HasRain || n.Latitude != 44.5 || n.Longitude != -73.2 {
		t.Errorf("%+v", n)
	}
	withMean := strings.Replace(someNormals, "  wind speed", "  daily mean: {unit: °C, values: [-6, -5, 1, 8, 14, 19, 21, 20, 16, 9, 4, -3]}\n  wind speed", 1)
	if n, err = ParseNormals([]byte(withMean)); err != nil || math.Abs(n.Months[0].MeanAbove-1) > 1e-9 {
		t.Errorf("mean above the middle %g K, %v; want 1", n.Months[0].MeanAbove, err)
	}
	for unit, want := range map[string]float64{"kWh/m²/day": 2000, "MJ/m²/day": 2000 / 3.6, "W/m²": 48} {
		text := strings.Replace(someNormals, "sun hours: {unit: h/month, values: [124, ", "radiation: {unit: "+unit+", values: [2, ", 1)
		text = strings.Replace(text, "140, 170, 185, 235, 255, 285, 255, 200, 150, 95, 95", "2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2", 1)
		if n, err = ParseNormals([]byte(text)); err != nil || math.Abs(n.Months[0].Sun-want) > 1e-9 {
			t.Errorf("2 %s is %g Wh/m² a day (%v), want %g", unit, n.Months[0].Sun, err, want)
		}
	}
}

func TestParseNormalsRefuses(t *testing.T) {
	for name, c := range map[string]struct{ old, with, says string }{
		"empty":           {someNormals, "", "empty"},
		"version":         {"version: 1", "version: 2", "version 2"},
		"unknown key":     {"source:", "sauce:", "sauce"},
		"no latitude":     {"latitude: 44.5\n", "", "latitude"},
		"height":          {"361 ft", "361", "height"},
		"zone":            {`"-05:00"`, "east", "zone"},
		"eleven":          {"[-2, ", "[", "daily high: 11 values"},
		"no low":          {"  daily low", "  daily mean", "daily low"},
		"unknown month":   {"  daily low", "  nightly low", "nightly low"},
		"no humidity":     {"  relative humidity: {unit: \"%\"", "  persistence: {unit: \"1\"", "no humidity"},
		"humidity 0":      {"[69", "[0", "January"},
		"humidity high":   {"[69", "[169", "January"},
		"no unit":         {"unit: °C, ", "", "daily high: no unit"},
		"wrong unit":      {"unit: km/h", "unit: km", "wind speed"},
		"own unit":        {"unit: h/month", "unit: h", `unit "h"`},
		"low above":       {"[-2,", "[-20,", "January: mean daily low"},
		"rain alone":      {"  rain days: {unit: d, values: [14, 11, 13, 12, 14, 13, 12, 12, 11, 13, 14, 15]}\n", "", "rain without rain days"},
		"not a number":    {"[-2,", "[warm,", "warm"},
		"a text":          {someNormals, "weather", "normals"},
		"no finite value": {"[-2,", "[.nan,", "January"},
	} {
		text := strings.Replace(someNormals, c.old, c.with, 1)
		if _, err := ParseNormals([]byte(text)); err == nil || !strings.Contains(err.Error(), c.says) || !strings.HasPrefix(err.Error(), "normals: ") {
			t.Errorf("%s: %v, want a word of %q", name, err, c.says)
		}
	}
}

// What is written comes back, and makes the same weather.
func TestWriteNormalsReadsBack(t *testing.T) {
	year, err := Builtin("burlington-vt")
	if err != nil {
		t.Fatal(err)
	}
	computed, err := NormalsOf(year)
	if err != nil {
		t.Fatal(err)
	}
	site, err := siteNamed("ankara-tr")
	if err != nil {
		t.Fatal(err)
	}
	recalled, err := site.Normals()
	if err != nil {
		t.Fatal(err)
	}
	read, err := ParseNormals([]byte(someNormals))
	if err != nil {
		t.Fatal(err)
	}
	dew := read
	for i := range dew.Months {
		dew.Months[i].RelHumidity, dew.Months[i].DewPoint = 0, dew.Months[i].Low-1
	}
	dew.HasRain = false
	for i := range dew.Months {
		dew.Months[i].Rain, dew.Months[i].RainDays = 0, 0
	}
	for _, n := range []PlacedNormals{{computed, year.Latitude, year.Longitude, year.Height, year.Zone}, {recalled, site.Latitude, site.Longitude, site.Height, site.Zone}, read, dew} {
		var text bytes.Buffer
		if err := n.Write(&text); err != nil {
			t.Fatal(err)
		}
		back, err := ParseNormals(text.Bytes())
		if err != nil {
			t.Fatalf("%v in\n%s", err, text.String())
		}
		if back.Name != n.Name || back.Source != n.Source || back.Zone != n.Zone || back.HasRain != n.HasRain || back.Height != n.Height || back.Latitude != n.Latitude {
			t.Errorf("%+v came back as %+v", n, back)
		}
		for i := range n.Months {
			got, want := back.Months[i], n.Months[i]
			for _, c := range []struct {
				what              string
				got, want, within float64
			}{
				{"low", got.Low, want.Low, 0.005}, {"high", got.High, want.High, 0.005}, {"mean", got.MeanAbove, want.MeanAbove, 0.015},
				{"humidity", got.RelHumidity, want.RelHumidity, 0.0005}, {"wind", got.Wind, want.Wind, 0.005}, {"sun", got.Sun, want.Sun, 0.5},
				{"rain days", got.RainDays, want.RainDays, 0.05}, {"rain", got.Rain, want.Rain, 0.05}, {"spread", got.Spread, want.Spread, 0.005},
				{"persistence", got.Persistence, want.Persistence, 0.005}, {"range", got.RangeSpread, want.RangeSpread, 0.005},
				{"sun and warmth", got.SunWarmth, want.SunWarmth, 0.005}, {"wind shape", got.WindShape, want.WindShape, 0.005},
			} {
				if !(math.Abs(c.got-c.want) <= c.within*1.001) {
					t.Errorf("%s: %s of month %d: %g, want %g", n.Name, c.what, i+1, c.got, c.want)
				}
			}
			if want.RelHumidity == 0 && math.Abs(got.DewPoint-want.DewPoint) > 0.005 {
				t.Errorf("dew point %g, want %g", got.DewPoint, want.DewPoint)
			}
		}
	}
	if err := (PlacedNormals{}).Write(&bytes.Buffer{}); err == nil {
		t.Error("normals without a month are written")
	}
	if err := read.Write(fullDisk{}); err == nil {
		t.Error("a full disk goes unnoticed")
	}
}

func FuzzParseNormals(f *testing.F) {
	f.Add([]byte(someNormals))
	f.Add([]byte("version: 1\nmonths: {rain: {unit: in, values: [1]}}"))
	f.Fuzz(func(t *testing.T, text []byte) {
		n, err := ParseNormals(text)
		if err != nil {
			return
		}
		var b bytes.Buffer
		if err := n.Write(&b); err != nil {
			t.Fatalf("what was read is not written: %v", err)
		}
	})
}
