package climate

import (
	"bytes"
	"fmt"
	"math"
	"reflect"
	"runtime"
	"strings"
	"testing"
	"time"
)

// TestClockInstant asks for the instants around the changes of two places: the
// dates and offsets are those of the law (European Union: last Sundays of March
// and October at 01:00 UTC; New South Wales: first Sundays of October and April).
func TestClockInstant(t *testing.T) {
	for _, c := range []struct {
		place, shown, want string
		again              int32
		skipped            bool
	}{
		{"Europe/Berlin", "2023-01-15 12:00", "2023-01-15 11:00", 0, false},
		{"Europe/Berlin", "2023-07-15 12:00", "2023-07-15 10:00", 0, false},
		{"Europe/Berlin", "2023-03-26 01:59", "2023-03-26 00:59", 0, false},
		{"Europe/Berlin", "2023-03-26 02:30", "2023-03-26 01:30", 0, true},
		{"Europe/Berlin", "2023-03-26 03:00", "2023-03-26 01:00", 0, false},
		{"Europe/Berlin", "2023-10-29 01:59", "2023-10-28 23:59", 0, false},
		{"Europe/Berlin", "2023-10-29 02:30", "2023-10-29 00:30", 3600, false},
		{"Europe/Berlin", "2023-10-29 03:00", "2023-10-29 02:00", 0, false},
		{"Australia/Sydney", "2024-04-07 02:30", "2024-04-06 15:30", 3600, false},
		{"Australia/Sydney", "2024-10-06 02:30", "2024-10-05 16:30", 0, true},
		{"Australia/Lord_Howe", "2024-04-07 01:45", "2024-04-06 14:45", 1800, false}, // half an hour
	} {
		place, err := time.LoadLocation(c.place)
		if err != nil {
			t.Fatal(err)
		}
		shown, err := time.Parse("2006-01-02 15:04", c.shown)
		if err != nil {
			t.Fatal(err)
		}
		for _, warm := range []string{"", "2023-07-01 00:00", "2023-12-01 00:00"} { // the remembered span must not matter
			k := clock{place: place}
			if warm != "" {
				w, err := time.Parse("2006-01-02 15:04", warm)
				if err != nil {
					t.Fatal(err)
				}
				k.instant(w.Unix())
			}
			at, again, skipped := k.instant(shown.Unix())
			if got := time.Unix(at, 0).UTC().Format("2006-01-02 15:04"); got != c.want || again != c.again || skipped != c.skipped {
				t.Errorf("%s %s: %s, again %d, skipped %v; want %s, %d, %v", c.place, c.shown, got, again, skipped, c.want, c.again, c.skipped)
			}
		}
	}
}

// TestClockAgainstTime compares every quarter of an hour of two years with what
// package time shows for the instants.
func TestClockAgainstTime(t *testing.T) {
	for _, name := range []string{"America/New_York", "Europe/London", "Pacific/Auckland", "Asia/Kolkata", "America/St_Johns"} {
		place, err := time.LoadLocation(name)
		if err != nil {
			t.Fatal(err)
		}
		k := clock{place: place}
		for at := time.Date(2022, 1, 1, 0, 0, 0, 0, time.UTC); at.Year() < 2024; at = at.Add(15 * time.Minute) {
			_, offset := at.In(place).Zone()
			got, again, skipped := k.instant(at.Unix() + int64(offset))
			if skipped || got != at.Unix() && got+int64(again) != at.Unix() {
				t.Fatalf("%s: %v read as %v (again %d, skipped %v)", name, at, time.Unix(got, 0).UTC(), again, skipped)
			}
		}
	}
}

const placeMap = `
version: 1
name: field
latitude: 52.5
longitude: 13.4
height: 40 m
zone: "+01:00"
time: {column: time, layout: YYYY-MM-DD hh:mm, zone: Europe/Berlin, stamp: start}
columns:
  air temperature: {column: t, unit: °C}
  relative humidity: {constant: 70 %}
  wind speed: {constant: 2 m/s}
  wind direction: {constant: 270 deg}
no sun: overcast
`

// placeRows writes days of rows whose temperature counts the steps from an
// instant, with the times that a clock in Berlin shows.
func placeRows(t testing.TB, from time.Time, n int, step time.Duration) []string {
	t.Helper()
	place, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	rows := []string{"time,t"}
	for i := range n {
		at := from.Add(time.Duration(i) * step)
		rows = append(rows, fmt.Sprintf("%s,%.2f", at.In(place).Format("2006-01-02 15:04"), float64(i)/100))
	}
	return rows
}

func TestCSVDaylightSaving(t *testing.T) {
	autumn := time.Date(2023, 10, 28, 0, 0, 0, 0, time.UTC)
	spring := time.Date(2023, 3, 25, 0, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		name  string
		from  time.Time
		step  time.Duration
		alter func([]string) []string
		note  string // of the repairs, "" for none of the clock's
		line  int
	}{
		{"spring", spring, time.Hour, nil, "", 0},
		{"autumn, hourly", autumn, time.Hour, nil, "2 rows of an hour that the clock shows twice", 26},
		{"autumn, ten minutes", autumn, 10 * time.Minute, nil, "12 rows of an hour that the clock shows twice", 146},
		{"autumn, newest first", autumn, time.Hour, func(r []string) []string {
			out := []string{r[0]}
			for i := len(r) - 1; i > 0; i-- {
				out = append(out, r[i])
			}
			return out
		}, "2 rows of an hour that the clock shows twice", 49},
		{"autumn, the second pass left out", autumn, time.Hour, func(r []string) []string { return append(r[:26:26], r[27:]...) },
			"1 rows of an hour that the clock shows twice, but only one pass of it", 26},
	} {
		n := int(72 * time.Hour / c.step)
		rows := placeRows(t, c.from, n, c.step)
		if c.alter != nil {
			rows = c.alter(rows)
		}
		s, err := readRows(t, placeMap, rows)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if len(s.Hours) != 72 || !s.Start.Equal(c.from) {
			t.Errorf("%s: %d hours from %v", c.name, len(s.Hours), s.Start)
			continue
		}
		perHour := float64(time.Hour / c.step)
		for i, h := range s.Hours {
			want := (float64(i)*perHour + (perHour-1)/2) / 100
			if math.Abs(h.TempAir-want) > 1e-9 {
				t.Errorf("%s: hour %d has %.4f, want %.4f", c.name, i, h.TempAir, want)
				break
			}
		}
		found := Repair{}
		for _, r := range s.Repairs {
			if r.Field == "time" && strings.Contains(r.Found, "shows twice") {
				found = r
			}
		}
		if !strings.HasPrefix(found.Found, c.note) || c.note == "" && found.Found != "" || found.Line != c.line {
			t.Errorf("%s: note %+v, want %q on line %d", c.name, found, c.note, c.line)
		}
	}

	// A clock that was put forward late: its skipped hour is read as before, and
	// the hour written again on top of it is left out.
	rows := placeRows(t, spring, 72, time.Hour)
	rows = append(rows[:26:26], append([]string{"2023-03-26 02:00,0.25"}, rows[27:]...)...)
	s, err := readRows(t, placeMap, rows)
	if err != nil {
		t.Fatal(err)
	}
	if !hasRepair(s, "time", "skips in spring; 1 such rows") || math.Abs(s.Hours[25].TempAir-0.25) > 1e-9 {
		t.Errorf("skipped hour: %v, repairs %+v", s.Hours[25].TempAir, s.Repairs)
	}
}

func TestColumnMapPlaces(t *testing.T) {
	for _, c := range []struct{ zone, want string }{
		{"Europe/Nowhere", "IANA time zone database"},
		{"CET", "or a place such as Europe/Berlin"},
		{"../etc/passwd", "IANA time zone database"},
	} {
		_, err := ParseColumnMap([]byte(strings.Replace(placeMap, "Europe/Berlin", c.zone, 1)))
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.zone, err, c.want)
		}
	}
}

// TestColumnMapWrite reads written maps back.
func TestColumnMapWrite(t *testing.T) {
	hour := time.Hour
	fromCode := mapOf(t, hourlyMap)
	fromCode.Time.Zone = &hour
	fromCode.Separator, fromCode.Decimal, fromCode.SkipLines = '\t', ',', 3
	fromCode.Height = 0.1 + 0.2
	fromCode.Missing = []string{}
	fromCode.Time.Columns = []string{"Date", "Time of day: start"}
	for name, m := range map[string]ColumnMap{"hourly": mapOf(t, hourlyMap), "place": mapOf(t, placeMap), "code": fromCode} {
		var out bytes.Buffer
		if err := m.Write(&out); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		got, err := ParseColumnMap(out.Bytes())
		if err != nil {
			t.Fatalf("%s: %v\n%s", name, err, out.String())
		}
		if m.Missing == nil {
			m.Missing = defaultMissing()
		}
		if !reflect.DeepEqual(got, m) {
			t.Errorf("%s: %+v\nback as %+v\n%s", name, m, got, out.String())
		}
	}
	faulty := mapOf(t, hourlyMap)
	faulty.Latitude = 91
	if err := faulty.Write(&bytes.Buffer{}); err == nil {
		t.Error("a faulty map was written")
	}
}

func TestCSVResample(t *testing.T) {
	// A temperature that is a straight line in time must come back as its means
	// over the hours, whatever the times of the readings; rain in full.
	m := strings.Replace(placeMap, "Europe/Berlin, stamp: start", "UTC", 1) + "\n"
	m = strings.Replace(m, "no sun", "  rain: {column: p, unit: mm}\nno sun", 1)
	start := time.Date(2024, 1, 1, 0, 0, 0, 0, time.UTC)
	minutes := []int{0, 7, 50, 61, 95, 130, 200, 260, 275, 301, 360, 480, 500, 545, 605, 660, 700, 745, 801, 850, 900, 1020, 1080, 1200}
	rows := []string{"time,t,p"}
	fallen := 0.0
	for i, min := range minutes {
		p := float64(i%3) / 2
		if i > 0 {
			fallen += p
		}
		rows = append(rows, fmt.Sprintf("%s,%.4f,%.1f", start.Add(time.Duration(min)*time.Minute).Format("2006-01-02 15:04"), float64(min)/60, p))
	}
	s, err := readRows(t, m, rows)
	if err != nil {
		t.Fatal(err)
	}
	if len(s.Hours) != 20 || !s.HasRain || s.MidOffset != 30*time.Minute {
		t.Fatalf("%d hours, rain known %v, middle %v", len(s.Hours), s.HasRain, s.MidOffset)
	}
	total := 0.0
	for i, h := range s.Hours {
		if math.Abs(h.TempAir-(float64(i)+0.5)) > 1e-4 { // rows are written to four decimals
			t.Errorf("hour %d: %.5f, want %.1f", i, h.TempAir, float64(i)+0.5)
		}
		total += h.Rain
	}
	if math.Abs(total-fallen) > 1e-9 {
		t.Errorf("rain %.3f mm, fallen %.3f mm", total, fallen)
	}
	if !hasRepair(s, "time", "rows at irregular times") {
		t.Errorf("repairs %+v", s.Repairs)
	}

	// Three-hourly means hold over the interval that they end.
	rows = []string{"time,t,p"}
	for i := range 40 {
		rows = append(rows, fmt.Sprintf("%s,%d,3", start.Add(time.Duration(3*i)*time.Hour).Format("2006-01-02 15:04"), i))
	}
	s, err = readRows(t, strings.Replace(m, "zone: UTC", "zone: UTC, stamp: end", 1), rows)
	if err != nil {
		t.Fatal(err)
	}
	if len(s.Hours) != 117 {
		t.Fatalf("%d hours", len(s.Hours))
	}
	for i, h := range s.Hours {
		if h.TempAir != float64(i/3+1) || math.Abs(h.Rain-1) > 1e-12 {
			t.Fatalf("hour %d: %v °C, %v mm", i, h.TempAir, h.Rain)
		}
	}

	// A wind that turns through north.
	m = strings.Replace(m, "{constant: 270 deg}", "{column: w, unit: deg}", 1)
	rows = []string{"time,t,p,w"}
	for i := range 40 {
		rows = append(rows, fmt.Sprintf("%s,1,0,%d", start.Add(time.Duration(2*i)*time.Hour).Format("2006-01-02 15:04"), (350+20*(i%2))%360))
	}
	s, err = readRows(t, m, rows)
	if err != nil {
		t.Fatal(err)
	}
	for i, h := range s.Hours {
		if math.Abs(math.Remainder(h.WindFrom, 360)) > 10 {
			t.Fatalf("hour %d: wind from %.1f", i, h.WindFrom)
		}
	}
}

// TestCSVSunFromClouds compares days of one cloud cover with a clear one: by
// Kasten-Czeplak 1 - 0.75·N^3.4 is left, 0.929 at half and 0.25 at full cover.
func TestCSVSunFromClouds(t *testing.T) {
	m := strings.Replace(placeMap, "Europe/Berlin", "UTC", 1)
	m = strings.Replace(m, "no sun: overcast", "  cloud cover: {column: n, unit: oktas}\nno sun: cloud cover", 1)
	energy := map[string]float64{}
	for _, oktas := range []string{"0", "4", "8", ""} {
		rows := []string{"time,t,n"}
		for i := range 48 {
			n := oktas
			if i%3 == 1 && oktas != "" { // every third hour is filled between the others
				n = ""
			}
			rows = append(rows, fmt.Sprintf("%s,%d,%s", time.Date(2023, 6, 9, 23+i, 0, 0, 0, time.UTC).Format("2006-01-02 15:04"), 10+i%24/2, n))
		}
		s, err := readRows(t, m, rows)
		if err != nil {
			t.Fatal(err)
		}
		checkComplete(t, s)
		for _, h := range s.Hours {
			energy[oktas] += h.GlobalHorizontal
		}
		want := "computed from cloud cover on 2 days"
		if oktas == "" {
			want = "computed from cloud cover on 0 days"
		}
		told := false
		for _, r := range s.Repairs {
			told = told || strings.Contains(r.Done, want)
		}
		if !told {
			t.Errorf("%q: repairs %+v", oktas, s.Repairs)
		}
	}
	for oktas, want := range map[string]float64{"4": 1 - 0.75*math.Pow(0.5, 3.4), "8": 0.25} {
		if got := energy[oktas] / energy["0"]; math.Abs(got-want) > 1e-6 {
			t.Errorf("%s oktas: %.4f of a clear sky, want %.4f", oktas, got, want)
		}
	}
	// The range of temperature gives the two days without clouds their sun.
	if energy[""] <= energy["8"] || energy[""] >= 1.1*energy["0"] {
		t.Errorf("without clouds: %.0f, clear %.0f", energy[""], energy["0"])
	}
	if _, err := ParseColumnMap([]byte(strings.Replace(placeMap, "no sun: overcast", "no sun: cloud cover", 1))); err == nil || !strings.Contains(err.Error(), "without a column of cloud cover") {
		t.Errorf("no column: %v", err)
	}
}

// TestReadCSVMemory bounds what thirty years of hours take: all that is
// allocated, and so the peak too, stays under 200 MB.
func TestReadCSVMemory(t *testing.T) {
	text := thirtyYears()
	m := mapOf(t, hourlyMap)
	m.Time.Zone = new(time.Duration)
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	s, err := ReadCSV("b", bytes.NewReader(text), m)
	if err != nil {
		t.Fatal(err)
	}
	runtime.ReadMemStats(&after)
	if len(s.Hours) != 30*8766 {
		t.Fatalf("%d hours", len(s.Hours))
	}
	if allocated := after.TotalAlloc - before.TotalAlloc; allocated > 200e6 {
		t.Errorf("%d bytes allocated", allocated)
	}
}

func FuzzReadCSVPlace(f *testing.F) {
	start := time.Date(2023, 10, 28, 20, 0, 0, 0, time.UTC)
	f.Add([]byte(strings.Join(placeRows(f, start, 12, time.Hour), "\n")), uint8(0))
	f.Add([]byte("time,t\n2023-03-26 02:30,1\n2023-03-26 03:30,1\n2023-03-26 05:00,2\n"), uint8(1))
	f.Add([]byte("time,t\n2023-10-29 02:30,1\n2023-10-29 02:10,1\n2023-10-29 02:30,2\n2023-10-29 05:30,2\n"), uint8(2))
	stamps := []string{"start", "end", "instant"}
	m := mapOf(f, placeMap)
	f.Fuzz(func(t *testing.T, text []byte, stamp uint8) {
		m.Time.Stamp = stamps[int(stamp)%len(stamps)]
		s, err := ReadCSV("fuzz", bytes.NewReader(text), m)
		if err == nil {
			checkComplete(t, s)
		}
	})
}
