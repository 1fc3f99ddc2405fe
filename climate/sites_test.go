package climate

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"
)

func builtinSites(t testing.TB) []Site {
	t.Helper()
	sites, err := Sites()
	if err != nil {
		t.Fatal(err)
	}
	return sites
}

func TestSites(t *testing.T) {
	sites := builtinSites(t)
	if len(sites) < 30 {
		t.Fatalf("%d sites, fewer than 30", len(sites))
	}
	notice := BuiltinNotice()
	seen := map[string]bool{}
	south, tropics := 0, 0
	for _, s := range sites {
		if seen[s.Name] || s.Name == "" || strings.Trim(s.Name, "abcdefghijklmnopqrstuvwxyz-") != "" {
			t.Errorf("name %q: empty, twice, or with other marks than letters and -", s.Name)
		}
		seen[s.Name] = true
		if s.Place == "" || s.Climate == "" || s.Source == "" {
			t.Errorf("%s: place %q, climate %q, source %q", s.Name, s.Place, s.Climate, s.Source)
		}
		if !(math.Abs(s.Latitude) <= 66) || !(math.Abs(s.Longitude) <= 180) || !(s.Height >= -10 && s.Height < 3000) {
			t.Errorf("%s lies at %g, %g, %g m", s.Name, s.Latitude, s.Longitude, s.Height)
		}
		// No country's clock is set more than 2 h from the sun's, whole of China
		// aside, whose site lies near the clock's own meridian.
		if solar := s.Longitude / 15; math.Abs(solar-s.Zone.Hours()) > 2 {
			t.Errorf("%s: zone %v where the sun's is %.1f h", s.Name, s.Zone, solar)
		}
		if s.Latitude < 0 {
			south++
		}
		if math.Abs(s.Latitude) < 23.4 {
			tropics++
		}
		if s.Basis == TypicalYear || s.Basis == ComputedNormals || s.Basis == PartlyReadNormals {
			if !strings.Contains(notice, s.Name) {
				t.Errorf("%s is not in the notice", s.Name)
			}
		}
		switch s.Basis {
		case TypicalYear:
			if s.midOffset <= 0 || s.midOffset >= time.Hour {
				t.Errorf("%s: radiation at minute %v", s.Name, s.midOffset)
			}
		case ComputedNormals, PartlyReadNormals:
			checkNormals(t, s)
			checkOrigins(t, s)
		default:
			t.Errorf("%s: basis %q", s.Name, s.Basis)
		}
	}
	if south < 5 || tropics < 2 {
		t.Errorf("%d sites in the south and %d in the tropics do not span the world", south, tropics)
	}
	if !slices.IsSortedFunc(sites, func(a, b Site) int { return strings.Compare(a.Name, b.Name) }) {
		t.Error("not in the order of names")
	}
	rows, err := normalRows()
	if err != nil {
		t.Fatal(err)
	}
	twice := map[string]bool{}
	for _, row := range rows {
		if !seen[row.site] {
			t.Errorf("normals of %q, which is no site", row.site)
		}
		if key := row.site + ", " + row.quantity; twice[key] {
			t.Errorf("%s twice", key)
		} else {
			twice[key] = true
		}
	}
}

// checkNormals holds the monthly figures of a site to what is physically
// possible; it would show a slip of the pen, not a wrong memory.
func checkNormals(t *testing.T, s Site) {
	t.Helper()
	n, err := siteNormals(s.Name)
	if err != nil {
		t.Error(err)
		return
	}
	_, sun := n[normalSunHours]
	_, radiation := n[normalRadiation]
	for _, needed := range []string{normalLow, normalHigh, normalHumidity, normalWind, normalRainDays} {
		if _, ok := n[needed]; !ok {
			t.Errorf("%s: no %s", s.Name, needed)
		}
	}
	if !sun && !radiation {
		t.Errorf("%s: neither sun hours nor radiation", s.Name)
	}
	for m := range 12 {
		low, high := n[normalLow][m], n[normalHigh][m]
		if !(high-low >= 3 && high-low <= 20) || low < -50 || high > 50 {
			t.Errorf("%s, month %d: daily low %g, high %g °C", s.Name, m+1, low, high)
		}
		// From one month to the next, the sharpest turns of the continents are 13 K.
		if step := math.Abs(n[normalHigh][(m+1)%12] - high); step > 14 {
			t.Errorf("%s, month %d: the high steps by %g K to the next", s.Name, m+1, step)
		}
		if rh := n[normalHumidity][m]; !(rh >= 15 && rh <= 95) {
			t.Errorf("%s, month %d: humidity %g %%", s.Name, m+1, rh)
		}
		if w := n[normalWind][m]; !(w >= 0.5 && w <= 9) {
			t.Errorf("%s, month %d: wind %g m/s", s.Name, m+1, w)
		}
		if spread, ok := n[normalSpread]; ok && !(spread[m] >= 0.5 && spread[m] <= 8) {
			t.Errorf("%s, month %d: spread %g K", s.Name, m+1, spread[m])
		}
		if p, ok := n[normalPersistence]; ok && !(p[m] >= 0.3 && p[m] < 0.95) {
			t.Errorf("%s, month %d: persistence %g", s.Name, m+1, p[m])
		}
		if r := n[normalRainDays][m]; !(r >= 0 && r <= 28) {
			t.Errorf("%s, month %d: %g rain days", s.Name, m+1, r)
		}
		day, extraterrestrial := dayLength(s.Latitude, m)
		if h := n[normalSunHours][m]; sun && !(h > 0.08*day && h < 0.9*day) {
			t.Errorf("%s, month %d: %g h of sun in a day of %.1f h", s.Name, m+1, h, day)
		}
		if q := n[normalRadiation][m]; radiation && !(q > 0.15*extraterrestrial && q < 0.8*extraterrestrial) {
			t.Errorf("%s, month %d: %g of %.2f kWh/(m²·d)", s.Name, m+1, q, extraterrestrial)
		}
	}
	warmest := 0
	for m := range 12 {
		if n[normalHigh][m] > n[normalHigh][warmest] {
			warmest = m
		}
	}
	if summer := warmest >= 4 && warmest <= 8; math.Abs(s.Latitude) > 23.4 && summer != (s.Latitude > 0) {
		t.Errorf("%s at latitude %g: the warmest month is %d", s.Name, s.Latitude, warmest+1)
	}
}

// checkOrigins holds what a site says of its figures to where each comes from.
func checkOrigins(t *testing.T, s Site) {
	t.Helper()
	rows, err := normalRows()
	if err != nil {
		t.Error(err)
		return
	}
	for _, r := range rows {
		if r.site != s.Name {
			continue
		}
		if recalled := slices.Contains(s.Recalled, r.quantity); recalled != (r.origin == originMemory) {
			t.Errorf("%s: %s is %s, said to be recalled: %v", s.Name, r.quantity, r.origin, recalled)
		}
		if s.Basis == ComputedNormals && r.origin != originComputed {
			t.Errorf("%s: %s is %s", s.Name, r.quantity, r.origin)
		}
		// Nobody's winter rests on temperatures that somebody recalled.
		if s.Basis == PartlyReadNormals && (r.quantity == normalLow || r.quantity == normalHigh) && r.origin != originRead {
			t.Errorf("%s: %s is %s", s.Name, r.quantity, r.origin)
		}
	}
	for _, quantity := range s.Recalled {
		if told := s.FullSource(); !strings.Contains(told, "from memory") || !strings.Contains(told, quantity) {
			t.Errorf("%s: the source hides that the %s is recalled: %s", s.Name, quantity, told)
		}
	}
	if (s.Basis == PartlyReadNormals) != (len(s.Recalled) > 0) {
		t.Errorf("%s: %s with recalled %v", s.Name, s.Basis, s.Recalled)
	}
}

// dayLength returns the length of the day [h] and the extraterrestrial radiation
// on the horizontal [kWh/(m²·d)] in the middle of a month, by FAO Irrigation and
// Drainage Paper 56, equations 21, 23 to 25 and 34.
func dayLength(latitude float64, month int) (hours, radiation float64) {
	phi := latitude * math.Pi / 180
	day := float64(month)*30.4 + 15
	delta := 0.409 * math.Sin(2*math.Pi*day/365-1.39)
	far := 1 + 0.033*math.Cos(2*math.Pi*day/365)
	w := math.Acos(min(max(-math.Tan(phi)*math.Tan(delta), -1), 1))
	mj := 24 * 60 / math.Pi * 0.0820 * far * (w*math.Sin(phi)*math.Sin(delta) + math.Cos(phi)*math.Cos(delta)*math.Sin(w))
	return 24 / math.Pi * w, mj / 3.6
}

// Years made for sites keep their normals, their sun and their place; three
// climates stand for all.
func TestMadeSites(t *testing.T) {
	for _, name := range []string{"de-bilt-nl", "perth-au", "novosibirsk-ru"} {
		site, err := siteNamed(name)
		if err != nil {
			t.Fatal(err)
		}
		n, err := site.Normals()
		if err != nil {
			t.Fatal(err)
		}
		s, err := Load(name)
		if err != nil {
			t.Fatal(err)
		}
		checkComplete(t, s)
		if !s.Typical || len(s.Hours) != 8760 || s.Latitude != site.Latitude || s.Height != site.Height || s.Zone != site.Zone || s.Name != site.Place {
			t.Errorf("%s: %s, %d hours at %g, %g m, %v", name, s.Name, len(s.Hours), s.Latitude, s.Height, s.Zone)
		}
		sum := s.Summary()
		for m, want := range n.Months {
			got := sum.Months[m]
			// A year is tuned to its normals; half a degree is what they are rounded to.
			if math.Abs(got.DailyLowC-want.Low) > 0.25 || math.Abs(got.DailyHighC-want.High) > 0.25 || math.Abs(got.RelHumidity-want.RelHumidity) > 0.03 ||
				math.Abs(got.WindMS-want.Wind) > 0.3 {
				t.Errorf("%s, month %d: %.2f to %.2f °C, humidity %.2f, wind %.2f m/s; want %+v", name, m+1, got.DailyLowC, got.DailyHighC, got.RelHumidity, got.WindMS, want)
			}
			if want.Sun > 0 && math.Abs(got.SunKWhM2Day-want.Sun/1000) > 0.05*want.Sun/1000 {
				t.Errorf("%s, month %d: %.2f kWh/(m²·d) of sun, want %.2f", name, m+1, got.SunKWhM2Day, want.Sun/1000)
			}
		}
		if off, ok := s.NoonOffset(); !ok || math.Abs(off) > 0.1 {
			t.Errorf("%s: the centre of the radiation lies %.2f h after noon", name, off)
		}
		recalled := strings.Contains(s.Source, "from memory") && len(s.Repairs) > 0 && strings.Contains(s.Repairs[0].Found, "from memory")
		if recalled != (site.Basis == PartlyReadNormals) {
			t.Errorf("%s: basis %s, source %q", name, site.Basis, s.Source)
		}
		for _, quantity := range site.Recalled {
			if !strings.Contains(s.Source, quantity) || !strings.Contains(s.Repairs[0].Found, quantity) {
				t.Errorf("%s: hides that the %s is recalled: %q, %q", name, quantity, s.Source, s.Repairs[0].Found)
			}
		}
		again, err := Builtin(name)
		if err != nil || !slices.Equal(again.Hours, s.Hours) {
			t.Errorf("%s: another year the second time, %v", name, err)
		}
	}
	if _, err := builtinSites(t)[0].Normals(); err == nil {
		t.Error("a site of hours has normals")
	}
}

func TestBuiltinNormalsRefused(t *testing.T) {
	if _, err := siteNormals("atlantis"); err == nil || !strings.Contains(err.Error(), "atlantis") {
		t.Errorf("no such site: %v", err)
	}
	if _, err := builtinTable(weatherDir+"normals.csv", "a", "b"); err == nil {
		t.Error("a table with other columns is taken")
	}
}

// The means of the file as published, computed by a separate program from the
// values before they were moved by an hour. The move brings one hour of a
// neighbour month in, which is worth up to 10 K/744 on a mean temperature and
// shifts the bounds of the days, worth more on their highs and lows.
func TestPoValley(t *testing.T) {
	s, err := Builtin("po-valley-it")
	if err != nil {
		t.Fatal(err)
	}
	months := s.Summary().Months
	for _, c := range []struct {
		month                               int
		mean, high, low, rh, wind, pressure float64
		sun                                 float64
	}{
		{1, 5.2, 9.27, 1.89, 84.4, 1.18, 999.9, 1.543},
		{4, 12.37, 16.59, 8.26, 79.8, 1.34, 996.3, 4.047},
	} {
		m := months[c.month-1]
		for _, v := range []struct {
			name                 string
			got, want, tolerance float64
		}{
			{"mean", m.MeanC, c.mean, 0.02}, {"high", m.DailyHighC, c.high, 0.1}, {"low", m.DailyLowC, c.low, 0.15},
			{"humidity", 100 * m.RelHumidity, c.rh, 0.5}, {"wind", m.WindMS, c.wind, 0.02},
			{"pressure", m.PressureHPa, c.pressure, 0.1}, {"sun", m.SunKWhM2Day, c.sun, 0.005},
		} {
			if !(math.Abs(v.got-v.want) <= v.tolerance) {
				t.Errorf("month %d: %s %.3f, want %.3f", c.month, v.name, v.got, v.want)
			}
		}
	}
	// In the zone of its header and at the minutes of its readings the sun is where
	// it belongs; the file as published is 0.6 h early.
	if off, ok := s.NoonOffset(); !ok || math.Abs(off) > 0.1 {
		t.Errorf("the centre of the radiation lies %.2f h after noon", off)
	}
	if s.Zone != time.Hour || !s.Typical {
		t.Errorf("zone %v, typical %v", s.Zone, s.Typical)
	}
}

func TestGreatCircle(t *testing.T) {
	const quarter = earthRadius * math.Pi / 2
	for _, c := range []struct{ lat1, lon1, lat2, lon2, want, tolerance float64 }{
		{0, 0, 0, 0, 0, 0},
		{90, 0, 0, 123, quarter, 1e-6},
		{0, -180, 0, 180, 0, 1e-6},
		{0, 179, 0, -179, quarter / 45, 1e-6},
		{30, 40, -30, -140, 2 * quarter, 1e-3}, // antipodes, where the formula is least exact
		{45, 7, 45.001, 7, quarter / 90000, 1e-6},
		// Kennedy to Heathrow, 5,540 km in timetables of great-circle distances (from
		// memory); the earth's flattening makes up to 0.5 %.
		{40.64, -73.78, 51.47, -0.45, 5540, 28},
	} {
		got := greatCircle(c.lat1, c.lon1, c.lat2, c.lon2)
		if !(math.Abs(got-c.want) <= c.tolerance) {
			t.Errorf("%v: %.6f km, want %.6f", c, got, c.want)
		}
		if back := greatCircle(c.lat2, c.lon2, c.lat1, c.lon1); math.Abs(back-got) > 1e-9 {
			t.Errorf("%v: %g km back", c, back)
		}
	}
}

func TestNearest(t *testing.T) {
	for _, c := range []struct {
		name                        string
		latitude, longitude, height float64
		site                        string
		unlike                      bool
		warnings                    []string
	}{
		{"at the station", 44.47, -73.15, 101, "burlington-vt", false, nil},
		{"near", 44.5, -72.6, 250, "burlington-vt", false, []string{"coast"}},
		{"on the mountain", 44.5, -72.9, 900, "burlington-vt", true, []string{"799 m above", "coast"}},
		{"in the sea's middle", 45, -35, 0, "dublin-ie", true, []string{"km away", "from memory", "coast"}},
		{"town partly from memory", 51.48, -0.45, 25, "london-gb", false, []string{"from memory"}},
		{"across the date line", -43, -176, 50, "christchurch-nz", true, []string{"km away", "from memory", "coast"}},
		// Death Valley's floor: Las Vegas is nearer than Phoenix in any sense.
		{"below the sea", 36.46, -116.87, -60, "las-vegas-nv", true, []string{"km away", "708 m below", "coast"}},
	} {
		m, err := Nearest(c.latitude, c.longitude, c.height)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if m.Site.Name != c.site || m.Unlike() != c.unlike || len(m.Warnings) != len(c.warnings) {
			t.Errorf("%s: %s, %.0f km, %+.0f m, unlike %v, %q", c.name, m.Site.Name, m.Kilometres, m.HeightStep, m.Unlike(), m.Warnings)
			continue
		}
		for i, w := range c.warnings {
			if !strings.Contains(m.Warnings[i], w) {
				t.Errorf("%s: warning %q, want %q in it", c.name, m.Warnings[i], w)
			}
		}
	}
	sites := builtinSites(t)
	for _, s := range sites {
		if m, err := Nearest(s.Latitude, s.Longitude, s.Height); err != nil || m.Site.Name != s.Name || m.Kilometres != 0 {
			t.Errorf("at %s: %s, %v", s.Name, m.Site.Name, err)
		}
	}
	// Half way between the desert and the high desert, height decides.
	for height, want := range map[float64]string{300: "phoenix-az", 1600: "albuquerque-nm"} {
		if m, err := Nearest(34.25, -109.3, height); err != nil || m.Site.Name != want {
			t.Errorf("at %g m: %s, %v, want %s", height, m.Site.Name, err, want)
		}
	}
	for _, bad := range [][3]float64{{91, 0, 0}, {math.NaN(), 0, 0}, {0, 181, 0}, {0, math.NaN(), 0}, {0, 0, 9001}, {0, 0, math.Inf(-1)}} {
		if _, err := Nearest(bad[0], bad[1], bad[2]); err == nil || !strings.Contains(err.Error(), "accepted") {
			t.Errorf("%v: %v", bad, err)
		}
	}
}

func TestMatchSeries(t *testing.T) {
	at, err := Builtin("burlington-vt")
	if err != nil {
		t.Fatal(err)
	}
	for _, height := range []float64{at.Height, at.Height + 400} {
		m, err := Nearest(44.5, -72.9, height)
		if err != nil {
			t.Fatal(err)
		}
		s, err := m.Series()
		if err != nil {
			t.Fatal(err)
		}
		checkComplete(t, s)
		if m.Site.Name != "burlington-vt" || s.Height != height || s.Latitude != at.Latitude {
			t.Errorf("at %g m: %s, %g m, %g", height, m.Site.Name, s.Height, s.Latitude)
		}
		// Mean lapse rates of the year lie between 4 and 7 K/km, by month and climate.
		cooler := at.Summary().Whole.MeanC - s.Summary().Whole.MeanC
		if step := (height - at.Height) / 1000; cooler < 4*step-1e-9 || cooler > 7*step+1e-9 {
			t.Errorf("at %g m: %.2f K cooler", height, cooler)
		}
		noted := 0
		for _, r := range s.Repairs {
			if r.Field == "site" {
				noted++
			}
		}
		if noted == 0 || noted != len(m.Warnings) {
			t.Errorf("at %g m: %d of %d warnings noted", height, noted, len(m.Warnings))
		}
	}
}
