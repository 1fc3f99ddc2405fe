package climate

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"strings"
	"testing"
	"time"

	"hackle/air"
)

var testStation = Station{Name: "made", Latitude: 44.47, Longitude: -73.15, Height: 104, Zone: -5 * time.Hour}

// daysOf takes the days of hourly weather as a station would report them.
func daysOf(s *Series) []Day {
	var days []Day
	for i := 0; i+24 <= len(s.Hours); i += 24 {
		d := noDay()
		d.TempMax, d.TempMin = math.Inf(-1), math.Inf(1)
		d.Rain, d.WindSpeed, d.Radiation = 0, 0, 0
		for _, h := range s.Hours[i : i+24] {
			d.TempMax, d.TempMin = max(d.TempMax, h.TempAir), min(d.TempMin, h.TempAir)
			d.WindSpeed += h.WindSpeed / 24
			d.Radiation += h.GlobalHorizontal * 3600
			d.Rain += h.Rain
		}
		days = append(days, d)
	}
	return days
}

func tenths(v float64) int { return int(math.Round(10 * v)) }

// writeDly writes days from 1 January of a year in the fixed-width layout.
func writeDly(year int, days []Day) string {
	var b strings.Builder
	for month := 1; month <= 12; month++ {
		for _, e := range []struct {
			name string
			of   func(Day) int
		}{
			{"TMAX", func(d Day) int { return tenths(d.TempMax) }},
			{"TMIN", func(d Day) int { return tenths(d.TempMin) }},
			{"PRCP", func(d Day) int { return tenths(d.Rain) }},
			{"AWND", func(d Day) int { return tenths(d.WindSpeed) }},
			{"WESD", func(Day) int { return 7 }}, // passed over
		} {
			fmt.Fprintf(&b, "USW00099999%04d%02d%s", year, month, e.name)
			for day := 1; day <= 31; day++ {
				v := -9999
				at := time.Date(year, time.Month(month), day, 0, 0, 0, 0, time.UTC)
				if i := at.YearDay() - 1; int(at.Month()) == month && i < len(days) {
					v = e.of(days[i])
				}
				fmt.Fprintf(&b, "%5d  W", v)
			}
			b.WriteByte('\n')
		}
	}
	return b.String()
}

func writeByStation(year int, days []Day) string {
	var b strings.Builder
	for i, d := range days {
		date := time.Date(year, 1, 1+i, 0, 0, 0, 0, time.UTC).Format("20060102")
		fmt.Fprintf(&b, "USW00099999,%s,TMAX,%d,,,W,2400\n", date, tenths(d.TempMax))
		fmt.Fprintf(&b, "USW00099999,%s,TMIN,%d,,,W,2400\n", date, tenths(d.TempMin))
		fmt.Fprintf(&b, "USW00099999,%s,PRCP,%d,T,,W,2400\n", date, tenths(d.Rain))
		fmt.Fprintf(&b, "USW00099999,%s,AWND,%d,,,W,\n", date, tenths(d.WindSpeed))
	}
	return b.String()
}

func writeDayRows(year int, days []Day) string {
	var b strings.Builder
	b.WriteString(`"STATION","DATE","LATITUDE","LONGITUDE","ELEVATION","NAME","PRCP","PRCP_ATTRIBUTES","TMAX","TMAX_ATTRIBUTES","TMIN","TMIN_ATTRIBUTES","AWND","AWND_ATTRIBUTES","WT01"` + "\n")
	for i, d := range days {
		fmt.Fprintf(&b, `"USW00099999","%s","44.47","-73.15","104.0","SOMEWHERE, US","%5d",",,W,2400","%5d",",,W","%5d",",,W","%5d",",,W",""`+"\n",
			time.Date(year, 1, 1+i, 0, 0, 0, 0, time.UTC).Format(time.DateOnly), tenths(d.Rain), tenths(d.TempMax), tenths(d.TempMin), tenths(d.WindSpeed))
	}
	return b.String()
}

// TestGHCNLayouts reads the same days from the three layouts.
func TestGHCNLayouts(t *testing.T) {
	year, err := Builtin("burlington-vt")
	if err != nil {
		t.Fatal(err)
	}
	days := daysOf(year)
	for i := range days {
		days[i].Rain = 0
		if i%4 == 0 {
			days[i].Rain = float64(i%17) + 0.3
		}
	}
	for name, text := range map[string]string{"dly": writeDly(2015, days), "by station": writeByStation(2015, days), "day rows": writeDayRows(2015, days)} {
		at := testStation
		if name == "day rows" {
			at = Station{}
		}
		d, err := ReadGHCNDaily(name, strings.NewReader(text), at)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if len(d.Days) != 365 || d.Start.Format(time.RFC3339) != "2015-01-01T00:00:00-05:00" || d.Latitude != 44.47 || d.Height != 104 {
			t.Errorf("%s: %d days from %s at %+v", name, len(d.Days), d.Start, d.Station)
			continue
		}
		for i, got := range d.Days {
			want := days[i]
			wantRain := want.Rain
			if name == "by station" { // written with the mark of a trace
				wantRain = 0
			}
			if math.Abs(got.TempMax-want.TempMax) > 0.0501 || math.Abs(got.TempMin-want.TempMin) > 0.0501 ||
				math.Abs(got.Rain-wantRain) > 1e-9 || math.Abs(got.WindSpeed-want.WindSpeed) > 0.0501 || !math.IsNaN(got.SnowDepth) {
				t.Errorf("%s: day %d %+v, want %+v", name, i, got, want)
				break
			}
		}
		for _, r := range d.Repairs {
			if r.Line > 0 && r.Field != "time zone" {
				t.Errorf("%s: repair %+v", name, r)
			}
		}
	}
}

func TestGHCNFaults(t *testing.T) {
	// Two years, so that a fault stays under the share that refuses.
	days := make([]Day, 365)
	for i := range days {
		days[i] = noDay()
		days[i].TempMax, days[i].TempMin, days[i].Rain, days[i].WindSpeed = 12, 3, 1, 2
	}
	base := strings.Split(strings.TrimRight(writeDayRows(2015, days), "\n"), "\n")
	for _, c := range []struct {
		name, old, new string
		line           int // of the file
		field, found   string
		tmax           bool // the day's highest temperature stays
	}{
		{"quality flag", `"  120",",,W"`, `"  120",",I,W"`, 10, "highest temperature", "quality flag 'I'", false},
		{"impossible", `"  120"`, `"  999"`, 10, "highest temperature", "99.9 °C on 2015-01-09", false},
		{"no number", `"  120"`, `"1 2 0"`, 10, "TMAX", `"1 2 0"`, false},
		{"missing", `"  120"`, `""`, 10, "", "", false},
		{"missing code", `"  120"`, `"-9999"`, 10, "", "", false},
		{"second", `2015-01-09`, `2015-01-08`, 10, "rain", "a second value for 2015-01-08", false},
		{"no such day", `2015-01-09`, `2015-01-39`, 10, "date", `"2015-01-39"`, false},
		{"above", `"   30"`, `"  130"`, 10, "lowest temperature", "above the highest", false},
	} {
		lines := append([]string(nil), base...)
		if lines[9] = strings.Replace(lines[9], c.old, c.new, 1); lines[9] == base[9] {
			t.Fatalf("%s: nothing replaced in %s", c.name, base[9])
		}
		d, err := ReadGHCNDaily("t", strings.NewReader(strings.Join(lines, "\n")), Station{})
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if got := d.Days[8].TempMax; math.IsNaN(got) == c.tmax {
			t.Errorf("%s: highest temperature %v", c.name, got)
		}
		told := c.field == ""
		for _, r := range d.Repairs {
			if r.Line == c.line && r.Field == c.field && strings.Contains(r.Found, c.found) {
				told = true
			}
		}
		if !told {
			t.Errorf("%s: no note of line %d, %s, %s in %+v", c.name, c.line, c.field, c.found, d.Repairs)
		}
		s, err := d.Hourly(Assumptions{})
		if err != nil {
			t.Errorf("%s: hourly: %v", c.name, err)
			continue
		}
		checkComplete(t, s)
	}
	bad := func(f func([]string) []string) string { return strings.Join(f(append([]string(nil), base...)), "\n") }
	dly := writeDly(2015, days)
	for _, c := range []struct {
		name, text string
		at         Station
		line       int
		want       string
	}{
		{"too many bad rows", bad(func(l []string) []string {
			for i := 20; i < 30; i++ {
				l[i] = strings.Replace(l[i], "2015-", "2015/", 1)
			}
			return l
		}), Station{}, 21, "10 of 365 rows cannot be used"},
		{"two stations", bad(func(l []string) []string { l[7] = strings.Replace(l[7], "9999", "9998", 1); return l }), Station{}, 8, "the rows of one station"},
		{"no place", dly, Station{}, 0, "no place"},
		{"impossible place", dly, Station{Latitude: 95}, 0, "latitude"},
		{"another file", "a,b,c\n1,2,3\n", testStation, 1, "a GHCN-Daily record"},
		{"empty", "", testStation, 1, "a GHCN-Daily record"},
	} {
		_, err := ReadGHCNDaily("t", strings.NewReader(c.text), c.at)
		var refused *FileError
		if !errors.As(err, &refused) || refused.Line != c.line || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want line %d, %q", c.name, err, c.line, c.want)
		}
	}
	// A gap that Hourly refuses, and the stretch beside it.
	d, err := ReadGHCNDaily("t", strings.NewReader(bad(func(l []string) []string { return append(l[:101:101], l[106:]...) })), Station{})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := d.Hourly(Assumptions{}); err == nil || !strings.Contains(err.Error(), "5 days missing from 2015-04-11") {
		t.Errorf("gap: %v", err)
	}
	u := d.Unbroken()
	if len(u.Days) != 260 || u.Start.Format(time.DateOnly) != "2015-04-16" {
		t.Errorf("unbroken: %d days from %s", len(u.Days), u.Start)
	}
	if s, err := u.Hourly(Assumptions{}); err != nil || len(s.Hours) != 24*260 {
		t.Errorf("unbroken: %v", err)
	}
	w, err := d.Window(d.Start.AddDate(0, 0, 2), d.Start.AddDate(0, 0, 5))
	if err != nil || len(w.Days) != 3 {
		t.Errorf("window: %+v, %v", w, err)
	}
	if _, err := d.Window(d.Start, d.End().AddDate(0, 0, 1)); err == nil {
		t.Error("a window beyond the end")
	}
}

// TestNetherlandsDaily reads three years of De Bilt and makes hours of them,
// whose days must give the readings back.
func TestNetherlandsDaily(t *testing.T) {
	d := netherlands(t)
	if len(d.Days) != 1096 || d.Start.Format(time.RFC3339) != "2010-01-01T00:00:00Z" || !strings.Contains(d.Source, "Royal Netherlands") {
		t.Fatalf("%d days from %s; %s", len(d.Days), d.Start, d.Source)
	}
	// Row 260,20100101 of the file, in its own units: TX 7, TN -63, UG 78, FG 38,
	// Q 318, SQ 42, RH -1 (a trace), PG 10026 at sea level, NG 4.
	first := d.Days[0]
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"TX", first.TempMax, 0.7}, {"TN", first.TempMin, -6.3}, {"UG", first.RelHumidity, 0.78}, {"FG", first.WindSpeed, 3.8},
		{"Q", first.Radiation, 3.18e6}, {"SQ", first.SunHours, 4.2}, {"RH", first.Rain, 0}, {"NG", first.CloudCover, 0.5}, {"DDVEC", first.WindFrom, 24},
		{"PG", first.Pressure, 100260 * StandardPressure(2) / StandardPressure(0)},
	} {
		if math.Abs(c.got-c.want) > 1e-9*math.Max(1, math.Abs(c.want)) {
			t.Errorf("%s %v, want %v", c.name, c.got, c.want)
		}
	}
	s, err := d.Hourly(Assumptions{})
	if err != nil {
		t.Fatal(err)
	}
	checkComplete(t, s)
	if len(s.Hours) != 24*1096 || !s.HasRain || s.HasSnow {
		t.Fatalf("%d hours, rain %v, snow %v", len(s.Hours), s.HasRain, s.HasSnow)
	}
	var offHigh, offHumid, fallen, rained float64
	for i, want := range d.Days {
		high, humid, wind, energy := math.Inf(-1), 0.0, 0.0, 0.0
		for _, h := range s.Hours[24*i : 24*i+24] {
			high = max(high, h.TempAir)
			humid += h.RelHumidity / 24
			wind += h.WindSpeed / 24
			energy += h.GlobalHorizontal * 3600
			rained += h.Rain
		}
		fallen += want.Rain
		offHigh += math.Abs(high-want.TempMax) / float64(len(d.Days))
		offHumid += (humid - want.RelHumidity) / float64(len(d.Days))
		if math.Abs(energy-want.Radiation) > 1 || math.Abs(wind-want.WindSpeed) > 1e-9 {
			t.Fatalf("day %d: %.0f J/m² and %.2f m/s, want %.0f and %.2f", i, energy, wind, want.Radiation, want.WindSpeed)
		}
	}
	// A frosty midnight may be warmer than the noon after it; else the highest
	// hour misses the highest minute by little.
	if offHigh > 0.35 {
		t.Errorf("highest hour off by %.2f K in the mean", offHigh)
	}
	// The vapour of neighbouring days is joined, and fog is capped.
	if math.Abs(offHumid) > 0.015 {
		t.Errorf("humidity off by %.4f in the mean", offHumid)
	}
	if math.Abs(rained-fallen) > 1e-6*fallen {
		t.Errorf("rain %.1f mm, want %.1f", rained, fallen)
	}
}

func netherlands(t testing.TB) *Daily {
	t.Helper()
	packed, err := os.ReadFile("testdata/netherlands_260_2010_2012.txt.gz")
	if err != nil {
		t.Fatal(err)
	}
	text, err := plainText("netherlands", packed)
	if err != nil {
		t.Fatal(err)
	}
	d, err := ReadNetherlandsDaily("netherlands", bytes.NewReader(text), Station{Name: "De Bilt", Latitude: 52.1, Longitude: 5.18, Height: 2, Zone: time.Hour})
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// TestHourlyAgainstHours takes the days of typical years and compares the hours
// made of them with the true ones. The tolerances: single hours about 2.5 K,
// what fronts do to a smooth course (inland winters most); the mean half a
// degree, because the lowest of a calendar day often comes at its end; months
// a degree; radiation from the range of temperature 6 % and vapour 8 % over the
// year, save in the desert, where both relations are known to fail (sun -20 %,
// vapour +50 %).
func TestHourlyAgainstHours(t *testing.T) {
	for _, c := range []struct {
		name string
		rain float64 // of a year, climate normals, from memory [mm]
	}{{"burlington-vt", 940}, {"phoenix-az", 190}, {"portland-or", 910}, {"minneapolis-mn", 800}, {"houston-tx", 1260}} {
		name := c.name
		truth, err := Builtin(name)
		if err != nil {
			t.Fatal(err)
		}
		days := daysOf(truth)
		for i := range days {
			days[i].Rain = c.rain / 365
		}
		d := &Daily{Station: Station{Name: name, Latitude: truth.Latitude, Longitude: truth.Longitude, Height: truth.Height, Zone: truth.Zone},
			Start: time.Date(2015, 1, 1, 0, 0, 0, 0, truth.Location()), Days: days}
		for _, bare := range []bool{false, true} {
			for i := range days {
				if bare {
					days[i].Radiation = math.NaN()
				}
			}
			s, err := d.Hourly(Assumptions{})
			if err != nil {
				t.Fatal(err)
			}
			checkComplete(t, s)
			square, bias, sunTrue, sunMade, squareSun := 0.0, 0.0, 0.0, 0.0, 0.0
			var month [13]float64
			var pvTrue, pvMade float64
			for i, h := range s.Hours {
				w := truth.Hours[i]
				e := h.TempAir - w.TempAir
				square += e * e / 8760
				bias += e / 8760
				month[s.Start.Add(time.Duration(i)*time.Hour).Month()] += e / 730
				sunTrue += w.GlobalHorizontal
				sunMade += h.GlobalHorizontal
				squareSun += (h.GlobalHorizontal - w.GlobalHorizontal) * (h.GlobalHorizontal - w.GlobalHorizontal) / 8760
				pvTrue += w.RelHumidity * air.SaturationPressureLiquid(w.TempAir) / 8760
				pvMade += h.RelHumidity * air.SaturationPressureLiquid(h.TempAir) / 8760
			}
			worst := 0.0
			for _, m := range month {
				worst = max(worst, math.Abs(m))
			}
			sunError, vapourError, rms := sunMade/sunTrue-1, pvMade/pvTrue-1, math.Sqrt(square)
			t.Logf("%s bare %v: rms %.2f K, bias %+.2f K, worst month %.2f K; sun %+.1f %%, rms %.0f W/m²; vapour %+.1f %%",
				name, bare, rms, bias, worst, 100*sunError, math.Sqrt(squareSun), 100*vapourError)
			sunLimit, vapourLimit := 0.06, 0.08
			if name == "phoenix-az" {
				sunLimit, vapourLimit = 0.20, 0.50
			}
			if !bare {
				sunLimit = 1e-3 // what is lost where the sun of the day stands at another noon
			}
			if rms > 2.6 || math.Abs(bias) > 0.5 || worst > 1.1 || math.Abs(sunError) > sunLimit || math.Abs(vapourError) > vapourLimit {
				t.Errorf("%s bare %v: too far from the hours", name, bare)
			}
		}
	}
}

// TestDewPointFromLowest recomputes the relation of 1997 by hand: 15 °C and 28 °C
// with E = 0.005 give 288.15·(-0.127 + 1.121·0.996084 + 0.0078) = 287.404 K.
func TestDewPointFromLowest(t *testing.T) {
	for _, c := range []struct{ lowest, highest, e, want float64 }{
		{15, 28, 0.005, 14.254}, {27, 41, 0.04, 15.218}, {0, 10, 0, 0.919}, {0, 10, 5, dewPointFromLowest(0, 10, 0.1)},
	} {
		if got := dewPointFromLowest(c.lowest, c.highest, c.e); math.Abs(got-c.want) > 2e-3 {
			t.Errorf("%g to %g °C, E %g: %.3f, want %.3f", c.lowest, c.highest, c.e, got, c.want)
		}
	}
}

func FuzzReadGHCNDaily(f *testing.F) {
	days := make([]Day, 5)
	for i := range days {
		days[i] = noDay()
		days[i].TempMax, days[i].TempMin, days[i].Rain, days[i].WindSpeed = 12, 3, 1, 2
	}
	f.Add(writeDly(2015, days))
	f.Add(writeByStation(2016, days))
	f.Add(writeDayRows(2015, days))
	f.Add("ID,DATE,ELEMENT,DATA_VALUE,M_FLAG,Q_FLAG,S_FLAG,OBS_TIME\nA,20200101,TMAX,1,,,,\n")
	f.Fuzz(func(t *testing.T, text string) { fuzzDaily(t, text, ReadGHCNDaily) })
}

func FuzzReadNetherlandsDaily(f *testing.F) {
	f.Add("# STN,YYYYMMDD,TN,TX,RH\n  260,20100101,  -42,   7,  -1\n  260,20100102,  -42,   7,  -1\n")
	f.Add("# STN LON(east) LAT(north) ALT(m) NAME\n# 260: 5.18 52.1 1.9 DE BILT\nSTN,YYYYMMDD,TN,TX,Q,SQ,UG\n260,20100101,1,2,3,4,5\n")
	f.Fuzz(func(t *testing.T, text string) { fuzzDaily(t, text, ReadNetherlandsDaily) })
}

func fuzzDaily(t *testing.T, text string, read func(string, io.Reader, Station) (*Daily, error)) {
	d, err := read("fuzz", strings.NewReader(text), testStation)
	if err != nil {
		return
	}
	if len(d.Days) == 0 {
		t.Fatal("no days and no error")
	}
	if len(d.Days) > 5000 {
		return // time, not sense
	}
	s, err := d.Unbroken().Hourly(Assumptions{})
	if err != nil {
		return
	}
	checkComplete(t, s)
}
