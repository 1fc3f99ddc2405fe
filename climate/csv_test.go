package climate

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"hackle/sun"
)

const hourlyMap = `
version: 1
name: field
latitude: 44.5
longitude: -73.2
height: 110 m
zone: "-05:00"
time: {column: time, stamp: end}
columns:
  air temperature: {column: t, unit: °C}
  relative humidity: {column: rh, unit: "%"}
  wind speed: {column: v, unit: m/s}
  wind direction: {constant: 270 deg}
  global horizontal radiation: {column: sun, unit: W/m²}
`

func mapOf(t testing.TB, text string) ColumnMap {
	t.Helper()
	m, err := ParseColumnMap([]byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// hourlyRows makes days of hourly rows whose temperature counts the hours, with
// a sun that stands where it should.
func hourlyRows(days int) []string {
	rows := []string{"time,t,rh,v,sun"}
	start := time.Date(2023, 3, 1, 0, 0, 0, 0, time.FixedZone("", -5*3600))
	for i := range 24 * days {
		begin := start.Add(time.Duration(i) * time.Hour)
		up := max(0, math.Cos(sun.Position(begin.Add(30*time.Minute), 44.5, -73.2).Zenith*math.Pi/180))
		rows = append(rows, fmt.Sprintf("%s,%.2f,70,2.5,%.0f", begin.Add(time.Hour).Format("2006-01-02T15:04"), float64(i)/100, 600*up))
	}
	return rows
}

func readRows(t testing.TB, mapText string, rows []string) (*Series, error) {
	t.Helper()
	return ReadCSV("test.csv", strings.NewReader(strings.Join(rows, "\n")), mapOf(t, mapText))
}

func TestReadCSVHourly(t *testing.T) {
	for _, stamp := range []struct {
		stamp string
		start string
		mid   string
	}{
		{"end", "2023-03-01T00:00:00-05:00", "2023-03-01T00:30:00-05:00"},
		{"start", "2023-03-01T01:00:00-05:00", "2023-03-01T01:30:00-05:00"},
		{"instant", "2023-03-01T01:00:00-05:00", "2023-03-01T01:00:00-05:00"},
	} {
		s, err := readRows(t, strings.Replace(hourlyMap, "stamp: end", "stamp: "+stamp.stamp, 1), hourlyRows(10))
		if err != nil {
			t.Fatal(err)
		}
		if len(s.Hours) != 240 || s.Typical {
			t.Fatalf("%s: %d hours", stamp.stamp, len(s.Hours))
		}
		if got := s.Start.Format(time.RFC3339); got != stamp.start {
			t.Errorf("%s: start %s, want %s", stamp.stamp, got, stamp.start)
		}
		if got := s.MidHour(0).Format(time.RFC3339); got != stamp.mid {
			t.Errorf("%s: middle %s, want %s", stamp.stamp, got, stamp.mid)
		}
		for i, h := range s.Hours {
			if math.Abs(h.TempAir-float64(i)/100) > 0.0051 || math.Abs(h.RelHumidity-0.7) > 1e-12 || h.WindFrom != 270 {
				t.Fatalf("%s: hour %d %+v", stamp.stamp, i, h)
			}
		}
		checkComplete(t, s)
		if !hasRepair(s, "station pressure", "missing on every line") || !hasRepair(s, "wind direction", "no column") {
			t.Errorf("%s: repairs %+v", stamp.stamp, s.Repairs)
		}
	}
}

func TestReadCSVZones(t *testing.T) {
	rows := hourlyRows(3)
	want, err := readRows(t, hourlyMap, rows)
	if err != nil {
		t.Fatal(err)
	}
	// The same instants written by a clock of UTC, by one with its offset in the
	// text (here summer time), as seconds, and in the twelve-hour form.
	for _, c := range []struct{ time, form string }{
		{"zone: UTC, layout: YYYY-MM-DD hh:mm", "2006-01-02 15:04"},
		{"layout: iso", time.RFC3339},
		{"layout: unix", ""},
		{"zone: UTC, layout: MM/DD/YYYY hh:mm AM", "1/2/2006 3:04 PM"},
	} {
		moved := []string{rows[0]}
		for _, r := range rows[1:] {
			stamp, rest, _ := strings.Cut(r, ",")
			at, err := time.ParseInLocation("2006-01-02T15:04", stamp, time.FixedZone("", -5*3600))
			if err != nil {
				t.Fatal(err)
			}
			text := fmt.Sprint(at.Unix())
			switch {
			case strings.Contains(c.time, "UTC"):
				text = at.UTC().Format(c.form)
			case c.form != "":
				text = at.In(time.FixedZone("", -4*3600)).Format(c.form)
			}
			moved = append(moved, text+","+rest)
		}
		s, err := readRows(t, strings.Replace(hourlyMap, "stamp: end", "stamp: end, "+c.time, 1), moved)
		if err != nil {
			t.Errorf("%s: %v", c.time, err)
			continue
		}
		if !s.Start.Equal(want.Start) || len(s.Hours) != len(want.Hours) || s.Hours[40] != want.Hours[40] {
			t.Errorf("%s: starts %v, want %v", c.time, s.Start, want.Start)
		}
	}
}

func TestOpenCSV(t *testing.T) {
	s, err := Open("testdata/yard.csv")
	if err != nil {
		t.Fatal(err)
	}
	if len(s.Hours) != 96 || s.Name != "A yard by the hedge" || s.Start.Format(time.RFC3339) != "2024-02-27T00:00:00+01:00" {
		t.Fatalf("%d hours of %s from %s", len(s.Hours), s.Name, s.Start)
	}
	checkComplete(t, s)
	h := s.Hours[0]
	mean := 0.0
	for _, f := range yardColumn(t, 2)[:6] {
		mean += (f - 32) / 1.8 / 6
	}
	if math.Abs(h.TempAir-mean) > 1e-9 {
		t.Errorf("first hour %g °C, want %g", h.TempAir, mean)
	}
	// The wind swings between 350 and 10 degrees: its mean is north.
	if d := math.Abs(math.Remainder(h.WindFrom, 360)); d > 1e-6 {
		t.Errorf("wind from %g", h.WindFrom)
	}
	wind := 0.0
	for _, v := range yardColumn(t, 4)[:6] {
		wind += v / 3.6 / 6
	}
	if math.Abs(h.WindSpeed-wind) > 1e-9 {
		t.Errorf("wind %g m/s, want %g", h.WindSpeed, wind)
	}
	// Six rows of 0.02 in, four in one hour and two in the next: 3.048 mm.
	rain := 0.0
	for _, h := range s.Hours {
		rain += h.Rain
	}
	if math.Abs(rain-3.048) > 1e-9 || math.Abs(s.Hours[33].Rain-4*0.508) > 1e-9 {
		t.Errorf("rain %g mm, hour 33 %g mm", rain, s.Hours[33].Rain)
	}
	if !s.HasRain || s.HasSnow {
		t.Errorf("rain %v, snow %v", s.HasRain, s.HasSnow)
	}
	if off, ok := s.NoonOffset(); !ok || math.Abs(off) > 0.5 {
		t.Errorf("noon %g h", off)
	}
}

// yardColumn reads one column of the test file in its own units.
func yardColumn(t *testing.T, index int) []float64 {
	t.Helper()
	text, err := readFile("testdata/yard.csv")
	if err != nil {
		t.Fatal(err)
	}
	var values []float64
	for _, l := range strings.Split(strings.TrimSpace(string(text)), "\n")[2:] {
		v, ok := parseFloat([]byte(strings.Replace(strings.Split(l, ";")[index], ",", ".", 1)))
		if !ok {
			v = math.NaN()
		}
		values = append(values, v)
	}
	return values
}

func TestCSVRepairs(t *testing.T) {
	base := hourlyRows(10)
	clean, err := readRows(t, hourlyMap, base)
	if err != nil {
		t.Fatal(err)
	}
	edit := func(f func(rows []string) []string) *Series {
		t.Helper()
		s, err := readRows(t, hourlyMap, f(append([]string(nil), base...)))
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	same := func(what string, s *Series) {
		t.Helper()
		if len(s.Hours) != len(clean.Hours) || !s.Start.Equal(clean.Start) {
			t.Fatalf("%s: %d hours from %s", what, len(s.Hours), s.Start)
		}
		for i := range s.Hours {
			if math.Abs(s.Hours[i].TempAir-clean.Hours[i].TempAir) > 1e-9 { // the ramp interpolates to itself
				t.Fatalf("%s: hour %d %g °C, want %g", what, i, s.Hours[i].TempAir, clean.Hours[i].TempAir)
			}
		}
	}
	expect := func(s *Series, line int, field, found string) {
		t.Helper()
		for _, r := range s.Repairs {
			if r.Line == line && r.Field == field && strings.Contains(r.Found, found) {
				return
			}
		}
		t.Errorf("no repair {%d %s %s} among %+v", line, field, found, s.Repairs)
	}

	s := edit(func(r []string) []string { return append(r[:50:50], append([]string{r[49]}, r[50:]...)...) })
	same("second row", s)
	expect(s, 51, "time", "2023-03-03 06:00:00 UTC for the second time")

	s = edit(func(r []string) []string { r[50], r[51] = r[51], r[50]; return r })
	same("swapped rows", s)
	expect(s, 52, "time", "after a later row")

	s = edit(func(r []string) []string { return append(r[:50:50], r[53:]...) })
	same("gap of 3 h", s)
	expect(s, 51, "time", "no row for 3 h")

	s = edit(func(r []string) []string { r[60] = "2023-03-03T12:00,-9999"; return r })
	same("short row", s)
	expect(s, 61, "row", `2 fields`)

	s = edit(func(r []string) []string { r[60] = strings.Replace(r[60], "2023", "the year", 1); return r })
	same("time not understood", s)
	expect(s, 61, "time", `"the year-03-03T12:00"`)

	s = edit(func(r []string) []string {
		f := strings.Split(r[60], ",")
		f[1] = "12 C"
		r[60] = strings.Join(f, ",")
		return r
	})
	same("no number", s)
	expect(s, 61, "air temperature", `"12 C"`)

	s = edit(func(r []string) []string {
		for i, j := 1, len(r)-1; i < j; i, j = i+1, j-1 {
			r[i], r[j] = r[j], r[i]
		}
		return r
	})
	same("newest first", s)
	expect(s, 2, "time", "newest rows first")

	s = edit(func(r []string) []string {
		r[0] = "\ufeff" + r[0]
		r[5] = `"` + strings.ReplaceAll(r[5], ",", `","`) + `"`
		r[6] = strings.ReplaceAll(r[6], ",", " , ") + "\r"
		return append(r[:9:9], append([]string{"", "  "}, r[9:]...)...)
	})
	same("byte-order mark, quotes, blanks", s)
}

// An hour needs half of its rows; its rain is scaled to the whole hour.
func TestCSVPartHours(t *testing.T) {
	m := mapOf(t, strings.Replace(hourlyMap, "stamp: end", "stamp: start", 1))
	m.Columns["rain"] = Column{Name: "rain", Unit: "mm"}
	rows := []string{"time,t,rh,v,sun,rain"}
	at := time.Date(2023, 3, 1, 0, 0, 0, 0, time.UTC)
	for i := range 6 * 400 {
		temp := "10"
		switch h, k := i/6, i%6; {
		case h == 100 && k < 4: // two rows of six: the hour counts as missing
			continue
		case h == 100:
			temp = "20"
		case h == 200 && k < 3: // three of six are enough
			continue
		case h == 200:
			temp = "20"
		}
		rows = append(rows, fmt.Sprintf("%s,%s,70,2,0,0.5", at.Add(time.Duration(i)*10*time.Minute).Format("2006-01-02 15:04"), temp))
	}
	s, err := ReadCSV("test.csv", strings.NewReader(strings.Join(rows, "\n")), m)
	if err != nil {
		t.Fatal(err)
	}
	if got := s.Hours[100].TempAir; got != 10 {
		t.Errorf("hour of two rows %g °C, want that of its neighbours, 10", got)
	}
	if !hasRepair(s, "air temperature", "missing for 1 h from 2023-03-05 04:00") {
		t.Errorf("repairs %+v", s.Repairs)
	}
	if got := s.Hours[200]; got.TempAir != 20 || math.Abs(got.Rain-3) > 1e-9 {
		t.Errorf("hour of three rows %g °C and %g mm, want 20 and 3", got.TempAir, got.Rain)
	}
}

func TestCSVNoSun(t *testing.T) {
	rows := hourlyRows(20)
	m := mapOf(t, hourlyMap)
	delete(m.Columns, "global horizontal radiation")
	text := strings.Join(rows, "\n")
	if _, err := ReadCSV("test.csv", strings.NewReader(text), m); err == nil || !strings.Contains(err.Error(), "no radiation") {
		t.Errorf("without sun: %v", err)
	}
	m.NoSun = "overcast"
	s, err := ReadCSV("test.csv", strings.NewReader(text), m)
	if err != nil {
		t.Fatal(err)
	}
	checkComplete(t, s)
	if !hasRepair(s, "global horizontal radiation", "no sun in the file") {
		t.Errorf("repairs %+v", s.Repairs)
	}
	// Full cloud: a quarter of a clear sky, all of it diffuse. Haurwitz at the
	// noon of 10 March at 44.5° N, sun 41.3° high: 665 W/m² clear, so 166; the
	// hour's middle lies within half an hour of noon, 3 % lower at most.
	noon := s.Hours[9*24+11]
	if noon.DirectNormal != 0 || noon.DiffuseHorizontal != noon.GlobalHorizontal || math.Abs(noon.GlobalHorizontal-166) > 6 {
		t.Errorf("overcast noon %+v", noon)
	}
	if s.Hours[9*24].GlobalHorizontal != 0 {
		t.Error("sun at midnight")
	}
	if len(s.Hours) != 480 {
		t.Fatalf("%d hours", len(s.Hours))
	}

	// Days that range over 9 K: clearness 0.16·√9 = 0.48.
	warm := []string{rows[0]}
	for i, r := range rows[1:] {
		f := strings.Split(r, ",")
		f[1] = fmt.Sprint(float64(i%24) * 9 / 23)
		warm = append(warm, strings.Join(f, ","))
	}
	m.NoSun = "daily range"
	s, err = ReadCSV("test.csv", strings.NewReader(strings.Join(warm, "\n")), m)
	if err != nil {
		t.Fatal(err)
	}
	checkComplete(t, s)
	var got, outside float64
	for i, h := range s.Hours {
		e := sun.At(s.MidHour(i))
		got += h.GlobalHorizontal
		outside += e.Extraterrestrial() * max(0, math.Cos(e.Position(44.5, -73.2).Zenith*math.Pi/180))
	}
	if math.Abs(got/outside-0.48) > 1e-3 {
		t.Errorf("clearness %g, want 0.48", got/outside)
	}
}

func TestCSVFaults(t *testing.T) {
	base := hourlyRows(10)
	edit := func(f func(rows []string) []string) []string { return f(append([]string(nil), base...)) }
	for _, c := range []struct {
		name  string
		rows  []string
		line  int
		field string
		found string
	}{
		{"names only", base[:1], 1, "", "no data row"},
		{"no such column", edit(func(r []string) []string { r[0] = "time,temp,rh,v,sun"; return r }), 1, "column names", `"time", "temp"`},
		{"twice a column", edit(func(r []string) []string { r[0] = "time,t,t,v,sun"; return r }), 1, "column names", `"t" twice`},
		{"other separator", edit(func(r []string) []string {
			for i := range r {
				r[i] = strings.ReplaceAll(r[i], ",", ";")
			}
			return r
		}), 1, "column names", `"time;t;rh;v;sun"`},
		{"Latin-1 names", edit(func(r []string) []string { r[0] = "time,\xb0C,rh,v,sun"; return r }), 1, "column names", "not UTF-8"},
		{"gap of 7 h", edit(func(r []string) []string { return append(r[:50:50], r[57:]...) }), 50, "air temperature", "7 h missing from 2023-03-03 01:00"},
		{"6-hourly", edit(func(r []string) []string {
			out := r[:1]
			for i := 1; i < len(r); i += 6 {
				out = append(out, r[i])
			}
			return out
		}), 2, "time", "6h0m0s apart"},
		{"dates of another form", edit(func(r []string) []string {
			for i := range r {
				r[i] = strings.Replace(r[i], "2023-03-", "3/2023/", 1)
			}
			return r
		}), 2, "time", `240 of 240 rows`},
		{"3 % words", edit(func(r []string) []string {
			for i := 10; i < 18; i++ {
				f := strings.Split(r[i], ",")
				f[2] = "wet"
				r[i] = strings.Join(f, ",")
			}
			return r
		}), 11, "relative humidity", `"wet"; 8 of 240 rows`},
		{"a stray year", edit(func(r []string) []string { r[240] = strings.Replace(r[240], "2023", "2123", 1); return r }), 241, "time", "240 rows for"},
		{"open quotes", edit(func(r []string) []string {
			for i := 10; i < 18; i++ {
				r[i] = `"` + r[i]
			}
			return r
		}), 11, "row", "8 of 240 rows"},
		{"no humidity in the column", edit(func(r []string) []string {
			for i := 1; i < len(r); i++ {
				r[i] = strings.Replace(r[i], ",70,", ",,", 1)
			}
			return r
		}), 2, "relative humidity", "missing on every line"},
	} {
		_, err := readRows(t, hourlyMap, c.rows)
		var refused *FileError
		if !errors.As(err, &refused) {
			t.Errorf("%s: error %v, want a FileError", c.name, err)
			continue
		}
		if refused.Line != c.line || refused.Field != c.field || !strings.Contains(refused.Found, c.found) || refused.Accepted == "" {
			t.Errorf("%s: %v\n want line %d, field %q, found %q", c.name, err, c.line, c.field, c.found)
		}
	}
}

func TestColumnMapFaults(t *testing.T) {
	mapOf(t, hourlyMap)
	for _, c := range []struct{ name, from, to, want string }{
		{"misspelt key", "height:", "hight:", "hight"},
		{"version", "version: 1", "version: 2", "version 2"},
		{"no latitude", "latitude: 44.5", "", "latitude and longitude"},
		{"latitude", "latitude: 44.5", "latitude: 445", "latitude 445"},
		{"longitude", "longitude: -73.2", "longitude: -732", "longitude -732"},
		{"height without unit", "height: 110 m", "height: 110", "height"},
		{"zone with a name", `zone: "-05:00"`, "zone: EST", `"EST"`},
		{"unknown field", "wind speed:", "wind force:", `unknown field "wind force"`},
		{"unit of another kind", "unit: °C", "unit: kg", "air temperature"},
		{"no unit", ", unit: °C", "", "no unit"},
		{"no temperature", `  air temperature: {column: t, unit: °C}`, "", "no air temperature"},
		{"no humidity", `  relative humidity: {column: rh, unit: "%"}`, "", "no humidity"},
		{"no wind", `  wind speed: {column: v, unit: m/s}`, "", "no wind speed"},
		{"no direction", `  wind direction: {constant: 270 deg}`, "", "no wind direction"},
		{"no radiation", `  global horizontal radiation: {column: sun, unit: W/m²}`, "", "no radiation"},
		{"constant out of range", "constant: 270 deg", "constant: 400 deg", "400 deg"},
		{"column and constant", "constant: 270 deg", "constant: 270 deg, column: d", "one of them"},
		{"constant sun", "column: sun, unit: W/m²", "constant: 100 W/m²", "a constant"},
		{"stamp", "stamp: end", "stamp: middle", `"middle"`},
		{"layout without minutes' hour", "stamp: end", "layout: YYYY-MM-DD", "has no hh"},
		{"layout with a digit", "stamp: end", "layout: YYYY-MM-DD hh:00", "no part of a date"},
		{"layout with a word", "stamp: end", "layout: DD Mon YYYY hh:mm", "no part of a date"},
		{"no time column", "column: time, ", "", "no column"},
		{"two ways to name time", "column: time, ", "column: time, columns: [a, b], ", "one of them"},
		{"assumed and measured sun", "height:", "no sun: overcast\nheight:", "one of them"},
		{"assumption", "height:", "no sun: bright\nheight:", `"bright"`},
		{"separator", "height:", "separator: ab\nheight:", `"ab"`},
		{"two commas", "height:", "decimal: \",\"\nheight:", "one of them"},
		{"decimal", "height:", "decimal: x\nheight:", "accepted: . or ,"},
		{"skip lines", "height:", "skip lines: -1\nheight:", "skip lines -1"},
	} {
		text := strings.Replace(hourlyMap, c.from, c.to, 1)
		if text == hourlyMap {
			t.Errorf("%s: nothing altered", c.name)
		}
		if _, err := ParseColumnMap([]byte(text)); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want %q", c.name, err, c.want)
		}
	}
	if _, err := ParseColumnMap(nil); err == nil {
		t.Error("an empty map is taken")
	}
	if _, err := ReadCSV("x.csv", strings.NewReader("a,b\n"), ColumnMap{}); err == nil {
		t.Error("a zero map is taken")
	}
}

func TestParseZone(t *testing.T) {
	for _, c := range []struct {
		text string
		want time.Duration
		ok   bool
	}{
		{"UTC", 0, true}, {"Z", 0, true}, {"+01:00", time.Hour, true}, {"-5", -5 * time.Hour, true},
		{"UTC-08:00", -8 * time.Hour, true}, {"5:30", 5*time.Hour + 30*time.Minute, true}, {"-3:30", -3*time.Hour - 30*time.Minute, true},
		{"", 0, false}, {"EST", 0, false}, {"+25:00", 0, false}, {"1:75", 0, false}, {"--1", 0, false},
	} {
		got, err := parseZone(c.text)
		if (err == nil) != c.ok || got != c.want {
			t.Errorf("parseZone(%q) = %v, %v", c.text, got, err)
		}
	}
}

func TestParseFloat(t *testing.T) {
	for _, c := range []struct {
		text string
		want float64
		ok   bool
	}{
		{"0", 0, true}, {"-8.3", -8.3, true}, {"+1.5", 1.5, true}, {".999", .999, true}, {"5.", 5, true}, {"-0.00", 0, true},
		{"1e3", 1000, true}, {"0.1234567890123456789", 0.1234567890123456789, true}, {"123456789012345678", 123456789012345678, true},
		{"", 0, false}, {"-", 0, false}, {".", 0, false}, {"1.2.3", 0, false}, {"NaN", 0, false}, {"inf", 0, false}, {"0x10", 0, false}, {"1e999", 0, false}, {"1,5", 0, false}, {"1_000", 0, false},
	} {
		got, ok := parseFloat([]byte(c.text))
		if ok != c.ok || got != c.want {
			t.Errorf("parseFloat(%q) = %g, %v", c.text, got, ok)
		}
	}
}

func FuzzReadCSV(f *testing.F) {
	rows := strings.Join(hourlyRows(2), "\n")
	f.Add([]byte(rows), false)
	f.Add([]byte(strings.ReplaceAll(rows, "sun", "x")), true)
	f.Add([]byte("time,t,rh,v,sun\n2023-03-01T00:00,1,2,3,4\n"), false)
	f.Add([]byte("time,t,rh,v\n\"2023-03-01 00:00:30Z\",1,,3\n2023-03-01T00:00,x"), true)
	m := mapOf(f, hourlyMap)
	dark := mapOf(f, hourlyMap)
	delete(dark.Columns, "global horizontal radiation")
	dark.NoSun = "daily range"
	f.Fuzz(func(t *testing.T, text []byte, withoutSun bool) {
		use := m
		if withoutSun {
			use = dark
		}
		s, err := ReadCSV("fuzz.csv", bytes.NewReader(text), use)
		if err != nil {
			return
		}
		if len(s.Hours) == 0 {
			t.Fatal("no hours and no error")
		}
		checkComplete(t, s)
	})
}

func FuzzParseColumnMap(f *testing.F) {
	f.Add([]byte(hourlyMap))
	f.Add([]byte(`{"version": 1}`))
	f.Fuzz(func(t *testing.T, text []byte) {
		m, err := ParseColumnMap(text)
		if err != nil {
			return
		}
		if _, err := m.compile(); err != nil {
			t.Fatalf("accepted and then refused: %v", err)
		}
		var saved bytes.Buffer
		if err := m.Write(&saved); err != nil {
			t.Fatalf("not written: %v", err)
		}
		if _, err := ParseColumnMap(saved.Bytes()); err != nil {
			t.Fatalf("not read back: %v\n%s", err, saved.String())
		}
	})
}

// thirtyYears is a file of thirty years of hours.
func thirtyYears() []byte {
	var text bytes.Buffer
	text.WriteString("time,t,rh,v,sun\n")
	at := time.Date(1991, 1, 1, 0, 0, 0, 0, time.UTC)
	for i := range 30 * 8766 {
		up := max(0, math.Cos(2*math.Pi*(float64(i%24)-17)/24))
		fmt.Fprintf(&text, "%s,%.1f,%d,%.1f,%.0f\n", at.Add(time.Duration(i)*time.Hour).Format("2006-01-02T15:04"), 10+8*math.Sin(float64(i)/1000), 50+i%40, float64(i%9), 500*up)
	}
	return text.Bytes()
}

// BenchmarkReadCSV reads thirty years of hours.
func BenchmarkReadCSV(b *testing.B) {
	text := thirtyYears()
	m := mapOf(b, hourlyMap)
	m.Time.Zone = new(time.Duration)
	b.SetBytes(int64(len(text)))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := ReadCSV("b", bytes.NewReader(text), m); err != nil {
			b.Fatal(err)
		}
	}
}
