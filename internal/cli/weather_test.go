package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"encoding/xml"
	"errors"
	"fmt"
	"image/png"
	"io"
	"math"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"hackle/climate"
)

// done fails unless the command ended well.
func done(t *testing.T, r result) result {
	t.Helper()
	if r.code != Done || r.errOut != "" {
		t.Fatalf("code %d: %s", r.code, r.errOut)
	}
	return r
}

// refused fails unless the command was refused in one line that says something.
func refused(t *testing.T, r result, says string) {
	t.Helper()
	if r.code != BadInput || r.out != "" || strings.Count(r.errOut, "\n") != 1 || !strings.Contains(r.errOut, says) {
		t.Errorf("code %d, out %.80q, %q; want a refusal that says %q", r.code, r.out, r.errOut, says)
	}
}

// near compares two numbers.
func nearTo(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s: %g, want %g within %g", what, got, want, within)
	}
}

func TestWeatherShowMore(t *testing.T) {
	dir := t.TempDir()
	v := tree(t, done(t, run(t, "weather", "show", "burlington-vt", "--json")).out)
	need(t, v, "summary.cooling_degree_days_kd", "summary.dew_point_exceeded_1_percent_c", "summary.confinements.0.days", "summary.doubts.0.why", "files", "has_rain")
	cooler := tree(t, done(t, run(t, "weather", "show", "burlington-vt", "--flight", "54F", "--json")).out)
	if a, b := num(t, v, "summary.flying_days"), num(t, cooler, "summary.flying_days"); !(b < a) {
		t.Errorf("%g days reach 10 °C, %g reach 12.2 °C", a, b)
	}
	text := done(t, run(t, "weather", "show", "burlington-vt"))
	narrow(t, text.out)
	for _, word := range []string{"degree-days", "K·d", "dew point", "flight", "frost", "next, of a week or more", "Assumed, missing or doubtful"} {
		if !strings.Contains(text.out, word) {
			t.Errorf("no %q in\n%s", word, text.out)
		}
	}
	picture := filepath.Join(dir, "year.svg")
	drawn := done(t, run(t, "weather", "show", "burlington-vt", "--picture", picture))
	if !strings.Contains(drawn.out, "Written: ") {
		t.Errorf("nothing is said of the picture:\n%s", drawn.out)
	}
	svg, err := os.ReadFile(picture)
	if err != nil || xml.Unmarshal(svg, new(struct{ XMLName xml.Name })) != nil || !bytes.Contains(svg, []byte("<svg")) {
		t.Errorf("the picture is no SVG (%v): %.80s", err, svg)
	}
	refused(t, run(t, "weather", "show", "burlington-vt", "--picture", picture), "--force")
	done(t, run(t, "weather", "show", "burlington-vt", "--picture", picture, "--force"))
	only(t, dir, "year.svg")
	refused(t, run(t, "weather", "show", "burlington-vt", "--picture", filepath.Join(dir, "none", "a.svg")), "cannot write")
	refused(t, run(t, "weather", "show", "burlington-vt", "--picture", filepath.Join(dir, "year.jpg")), ".svg or .png")
	pixels := filepath.Join(dir, "year.PNG")
	done(t, run(t, "weather", "show", "burlington-vt", "--picture", pixels))
	file, err := os.Open(pixels)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	if img, err := png.Decode(file); err != nil || img.Bounds().Dx() != pngWidth {
		t.Errorf("the PNG picture: %v", err)
	}
	refused(t, run(t, "weather", "show", filepath.Join(dir, "no.epw")), "no file")
	if a, b := done(t, run(t, "weather", "sites", "--sources")), done(t, run(t, "weather", "list")); len(a.out) <= len(b.out) || !strings.Contains(a.out, "44.47° N") {
		t.Error("--sources adds nothing")
	} else {
		narrow(t, a.out)
	}
}

func TestWeatherNear(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "yard.epw")
	args := []string{"weather", "near", "--latitude", "44.3", "--longitude", "72.6W", "--height", "300m"}
	v := tree(t, done(t, run(t, with(args, "--out", path, "--json")...)).out)
	need(t, v, "site.basis", "site.source", "warnings.0", "weather.files.0", "weather.summary.months.11.mean_c")
	if site, _ := at(v, "site.name"); site != "burlington-vt" {
		t.Errorf("nearest is %v", site)
	}
	nearTo(t, "distance [km]", num(t, v, "distance_km"), 48, 1)
	nearTo(t, "step [m]", num(t, v, "height_step_m"), 199, 0.5)
	base := tree(t, done(t, run(t, "weather", "show", "burlington-vt", "--json")).out)
	// 199 m at the mean of the year's lapse rates, 6.8 K/km.
	mean := num(t, v, "weather.summary.whole.mean_c")
	nearTo(t, "mean [°C]", mean, num(t, base, "summary.whole.mean_c")-0.199*6.8, 0.1)
	// What was written is what was shown, still a typical year, and runs.
	back := tree(t, done(t, run(t, "weather", "show", path, "--json")).out)
	nearTo(t, "mean read back [°C]", num(t, back, "summary.whole.mean_c"), mean, 0.001)
	if typical, _ := at(back, "typical"); typical != true {
		t.Error("the file is no typical year")
	}
	done(t, run(t, "year", example(t, 0), "--weather", path, "--from", "2026-01-15", "--to", "2026-01-16"))
	before, _ := os.ReadFile(path)
	refused(t, run(t, with(args, "--out", path)...), "--force")
	table := filepath.Join(dir, "yard.csv")
	done(t, run(t, with(args, "--out", table)...))
	again := tree(t, done(t, run(t, "weather", "show", table, "--json")).out)
	nearTo(t, "mean read back from CSV [°C]", num(t, again, "summary.whole.mean_c"), mean, 0.001)
	if typical, _ := at(again, "typical"); typical != true {
		t.Error("the CSV is no typical year")
	}
	refused(t, run(t, with(args, "--out", filepath.Join(dir, "yard.txt"))...), ".epw")
	if after, _ := os.ReadFile(path); !bytes.Equal(before, after) {
		t.Error("the file was replaced without --force")
	}
	text := done(t, run(t, with(args, "--out", path, "--force", "--units", "us")...))
	narrow(t, strings.ReplaceAll(text.out, dir, "."))
	if !strings.Contains(text.out, "mi away") || !strings.Contains(text.out, "Written: ") {
		t.Errorf("text:\n%s", text.out)
	}
	only(t, dir, "yard.csv", "yard.csv.map.yaml", "yard.epw")
	far := done(t, run(t, "weather", "near", "--latitude", "47", "--longitude", "20", "--height", "100"))
	if !strings.Contains(far.out, "example of a climate") || !strings.Contains(far.out, "Nothing was written") || strings.Count(far.out, "example of") != 1 {
		t.Errorf("far away:\n%s", far.out)
	}
	lost := done(t, run(t, "weather", "near", "--latitude", "45", "--longitude", "8", "--height", "100", "--out", filepath.Join(dir, "po.epw")))
	if !strings.Contains(lost.out, "11 min after") {
		t.Errorf("nothing is said of the instant of the sun:\n%s", lost.out)
	}
}

// meanOf reads a mean of a year that a command made.
func meanOf(t *testing.T, key string, args ...string) float64 {
	t.Helper()
	return num(t, tree(t, done(t, run(t, with(args, "--json")...)).out), "summary.whole."+key)
}

func TestWeatherAt(t *testing.T) {
	for _, c := range []struct {
		what, key string
		args      []string
		low, high float64 // change
	}{
		{"height", "mean_c", []string{"--height", "1101m"}, -7.5, -6},
		{"hollow", "daily_low_c", []string{"--hollow", "6K"}, -4, -0.5},
		{"windbreak", "wind_m_s", []string{"--windbreak", "180-360, 3 m, 10 m, 40 %"}, -4, -0.3},
		{"bare windbreak", "wind_m_s", []string{"--windbreak", "180-360, 3 m, 10 m, 40 %, 70 %"}, -4, -0.1},
		{"shade", "sun_kwh_m2_day", []string{"--shade", "90-270, 30 deg, solid"}, -3, -0.5},
		{"deciduous", "sun_kwh_m2_day", []string{"--shade", "90-270, 30 deg, deciduous"}, -3, -0.1},
	} {
		plain := meanOf(t, c.key, "weather", "show", "burlington-vt")
		if d := meanOf(t, c.key, with([]string{"weather", "at", "burlington-vt"}, c.args...)...) - plain; d < c.low || d > c.high {
			t.Errorf("%s changes %s by %g, want %g to %g", c.what, c.key, d, c.low, c.high)
		}
	}
	v := tree(t, done(t, run(t, "weather", "at", "winnipeg-ca", "--snow", "--json")).out)
	if snow := num(t, v, "summary.snow_days"); snow < 60 {
		t.Errorf("snow lies on %g days of a Winnipeg year", snow)
	}
	refused(t, run(t, "weather", "at", "po-valley-it", "--snow"), "does not know")
	for says, args := range map[string][]string{
		"what is the yard like":   {},
		"9000 m":                  {"--height", "10000m"},
		"20 K":                    {"--hollow", "-4K"},
		"3 parts":                 {"--windbreak", "240-300, 3 m, 10 m"},
		"range of bearings":       {"--windbreak", "north, 3 m, 10 m, 40 %"},
		"height":                  {"--windbreak", "0-90, 3, 10 m, 40 %"},
		"open share":              {"--windbreak", "0-90, 3 m, 10 m, 140 %"},
		"distance":                {"--windbreak", "0-90, 3 m, -10 m, 40 %"},
		"2 parts":                 {"--shade", "0-90, 20 deg"},
		"0-400":                   {"--shade", "0-400, 20 deg, solid"},
		"0 to 90 degrees":         {"--shade", "0-90, 95 deg, solid"},
		"evergreen, deciduous":    {"--shade", "0-90, 20 deg, palm"},
		"a snow depth of its own": {"--snow"},
		"a temperature diff":      {"--hollow", "4"},
		"no such file or dir":     {"--height", "3m", "--out", "/nowhere/at/all.epw"},
		"is the file that the w":  {"--height", "3m", "--out", "SELF"},
	} {
		path := file(t, "yard.epw", weatherText(t))
		for i := range args {
			args[i] = strings.ReplaceAll(args[i], "SELF", path)
		}
		refused(t, run(t, with([]string{"weather", "at", path}, args...)...), says)
	}
}

func TestWeatherNormalsAndMake(t *testing.T) {
	dir := t.TempDir()
	path, made := filepath.Join(dir, "n.yaml"), filepath.Join(dir, "made.epw")
	v := tree(t, done(t, run(t, "weather", "normals", "burlington-vt", "--out", path, "--json")).out)
	need(t, v, "months.11.daily_low_c", "latitude_deg", "files.0")
	refused(t, run(t, "weather", "normals", "burlington-vt", "--out", path), "--force")
	printed := done(t, run(t, "weather", "normals", "burlington-vt"))
	if text, err := os.ReadFile(path); err != nil || string(text) != printed.out {
		t.Errorf("the file is not what is printed (%v):\n%s", err, printed.out)
	}
	if r := done(t, run(t, "weather", "normals", "ankara-tr")); !strings.Contains(r.out, "from memory") {
		t.Errorf("the source hides that the figures are recalled:\n%s", r.out)
	}
	done(t, run(t, "weather", "make", "--normals", path, "--out", made))
	like := done(t, run(t, "weather", "make", "--like", "burlington-vt", "--json"))
	back := tree(t, done(t, run(t, "weather", "show", made, "--json")).out)
	for i := range 12 {
		low := fmt.Sprintf("summary.months.%d.daily_low_c", i)
		want := num(t, v, fmt.Sprintf("months.%d.daily_low_c", i))
		nearTo(t, low, num(t, back, low), want, 0.3) // as near as made years come, see package climate
		nearTo(t, low+" like", num(t, tree(t, like.out), low), want, 0.3)
	}
	if again := done(t, run(t, "weather", "make", "--like", "burlington-vt", "--json")); again.out != like.out {
		t.Error("the same seed makes other weather")
	}
	if other := done(t, run(t, "weather", "make", "--like", "burlington-vt", "--seed", "2", "--json")); other.out == like.out {
		t.Error("another seed makes the same weather")
	}
	// Years with dates, as CSV: they come back.
	csv := filepath.Join(dir, "two.csv")
	two := tree(t, done(t, run(t, "weather", "make", "--like", "burlington-vt", "--years", "2", "--out", csv, "--json")).out)
	read := tree(t, done(t, run(t, "weather", "show", csv, "--json")).out)
	for _, key := range []string{"mean_c", "daily_high_c", "dew_point_c", "wind_m_s", "sun_kwh_m2_day", "pressure_hpa"} {
		nearTo(t, key, num(t, read, "summary.whole."+key), num(t, two, "summary.whole."+key), 0.01) // rounding of the file
	}
	if num(t, read, "summary.days") != 730 {
		t.Errorf("%g days", num(t, read, "summary.days"))
	}
	only(t, dir, "made.epw", "n.yaml", "two.csv", "two.csv.map.yaml")
	notes, err := os.ReadFile(csv + mapTail)
	if err != nil || !strings.Contains(string(notes), "made from normals") {
		t.Errorf("the map tells nothing of the making (%v):\n%s", err, notes)
	}
	good, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct{ old, with, says string }{
		"empty":    {string(good), "", "n.yaml: normals: the file is empty"},
		"eleven":   {"[-12.19, ", "[", "daily low: 11 values"},
		"crossed":  {"[-12.19, ", "[12, ", "January"},
		"unit":     {"unit: m/s", "unit: knotz", "wind speed"},
		"no place": {"latitude: 44.47\n", "", "latitude"},
		"place":    {"latitude: 44.47\n", "latitude: 144.47\n", "no such place"},
		"huge":     {string(good), strings.Repeat("# far too long\n", 80000), "1 MB"},
	} {
		bad := file(t, "n.yaml", strings.Replace(string(good), c.old, c.with, 1))
		t.Run(name, func(t *testing.T) { refused(t, run(t, "weather", "make", "--normals", bad), c.says) })
	}
	for says, args := range map[string][]string{
		"normals from where":        {},
		"from where":                {"--normals", path, "--like", "burlington-vt"},
		"0 years":                   {"--like", "burlington-vt", "--years", "0"},
		"201 years":                 {"--like", "burlington-vt", "--years", "201"},
		"no built-in weather":       {"--like", "nowhere"},
		"no such file":              {"--normals", filepath.Join(dir, "none.yaml")},
		"invalid argument":          {"--like", "burlington-vt", "--seed", "-1"},
		"unknown command \"stray\"": {"stray"},
	} {
		refused(t, run(t, with([]string{"weather", "make"}, args...)...), says)
	}
}

const netherlands = "../../climate/testdata/netherlands_260_2010_2012.txt.gz"

func TestWeatherDaily(t *testing.T) {
	dir := t.TempDir()
	csv := filepath.Join(dir, "bilt.csv")
	refused(t, run(t, "weather", "daily", netherlands), "give --latitude, --longitude and --height")
	placed := []string{"weather", "daily", netherlands, "--latitude", "52.1", "--longitude", "5.18", "--height", "2m"}
	r := done(t, run(t, with(placed, "--name", "De Bilt", "--out", csv)...))
	for _, word := range []string{"De Bilt: days from 1 January 2010", "sine by day", "wind speed: no hourly values", "completed by rule", "Written: "} {
		if !strings.Contains(r.out, word) {
			t.Errorf("no %q in\n%s", word, r.out)
		}
	}
	back := done(t, run(t, "weather", "show", csv))
	if !strings.Contains(back.out, "completed by rule") {
		t.Errorf("read back, the hours pass for measured ones:\n%s", back.out)
	}
	only(t, dir, "bilt.csv", "bilt.csv.map.yaml")
	// A record with its place, of which only the temperatures are known.
	var text strings.Builder
	text.WriteString("STATION,NAME,LATITUDE,LONGITUDE,ELEVATION,DATE,TMAX,TMAX_ATTRIBUTES,TMIN,TMIN_ATTRIBUTES\n")
	for i := range 40 {
		date := time.Date(2021, 3, 1+i, 0, 0, 0, 0, time.UTC)
		fmt.Fprintf(&text, "XX000001,\"HILL, VT\",44.5,-73.2,110.0,%s,%d,\",,W\",%d,\",,W\"\n", date.Format(time.DateOnly), 80+i, -20+i)
	}
	hill := file(t, "hill.csv", text.String())
	v := tree(t, done(t, run(t, "weather", "daily", hill, "--wind", "2", "--wind-from", "90", "--json")).out)
	nearTo(t, "wind [m/s]", num(t, v, "summary.whole.wind_m_s"), 2, 0.001)
	nearTo(t, "zone [h]", num(t, v, "zone_hours"), -5, 0)
	if days := num(t, v, "summary.days"); days != 40 {
		t.Errorf("%g days", days)
	}
	for says, args := range map[string][]string{
		"one file":                    {},
		"how high":                    {netherlands, "--latitude", "52", "--longitude", "5"},
		"which place":                 {netherlands, "--height", "5m"},
		"a name or a zone without":    {netherlands, "--name", "here"},
		"up to 30 m/s":                {hill, "--wind", "31"},
		"0 to 360 degrees":            {hill, "--wind-from", "-4"},
		"a station record":            {file(t, "text.csv", "a,b\n1,2\n")},
		"no such file":                {filepath.Join(dir, "none.dly")},
		"offset from UTC":             {hill, "--zone", "east"},
		"is the file that the weathe": {hill, "--out", hill},
	} {
		refused(t, run(t, with([]string{"weather", "daily"}, args...)...), says)
	}
}

func TestWeatherYears(t *testing.T) {
	dir := t.TempDir()
	record, winters := filepath.Join(dir, "record.csv"), filepath.Join(dir, "winters")
	done(t, run(t, "weather", "make", "--like", "burlington-vt", "--years", "3", "--out", record))
	args := []string{"weather", "years", record, "--count", "2", "--seed", "5"}
	v := tree(t, done(t, run(t, with(args, "--out-dir", winters, "--out", filepath.Join(dir, "all.csv"), "--json")...)).out)
	need(t, v, "years.1.file", "years.1.coldest_week.mean_c", "years.0.confinement.days", "notes.0.found", "files.5")
	only(t, winters, "winter-01.csv", "winter-01.csv.map.yaml", "winter-02.csv", "winter-02.csv.map.yaml")
	all := tree(t, done(t, run(t, "weather", "show", filepath.Join(dir, "all.csv"), "--json")).out)
	for i, name := range []string{"winter-01.csv", "winter-02.csv"} {
		w := tree(t, done(t, run(t, "weather", "show", filepath.Join(winters, name), "--json")).out)
		from, _ := at(w, "from")
		to, _ := at(w, "to")
		if from != fmt.Sprintf("200%d-07-01T00:00:00-05:00", i+1) || to != fmt.Sprintf("200%d-07-01T00:00:00-05:00", i+2) {
			t.Errorf("%s from %v to %v", name, from, to)
		}
		nearTo(t, name, num(t, w, "summary.whole.mean_c"), num(t, v, fmt.Sprintf("years.%d.mean_c", i)), 0.001)
	}
	if days := num(t, all, "summary.days"); days != 730 {
		t.Errorf("all together have %g days", days)
	}
	done(t, run(t, "year", example(t, 0), "--weather", filepath.Join(winters, "winter-02.csv"), "--from", "1 Jan", "--to", "2 Jan"))
	a, b := done(t, run(t, args...)), done(t, run(t, args...))
	narrow(t, a.out)
	if a.out != b.out || !strings.Contains(a.out, "Nothing was written") {
		t.Errorf("the same seed draws other years, or:\n%s", a.out)
	}
	if c := done(t, run(t, "weather", "years", record, "--count", "2", "--seed", "6")); c.out == a.out {
		t.Error("another seed draws the same years")
	}
	// One file that is there stops all.
	fresh := filepath.Join(dir, "fresh")
	if err := os.Mkdir(fresh, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(fresh, "winter-02.csv"), []byte("mine"), 0o644); err != nil {
		t.Fatal(err)
	}
	refused(t, run(t, with(args, "--out-dir", fresh)...), "winter-02.csv is there already")
	only(t, fresh, "winter-02.csv")
	// Typical years count as years, in the south from January on.
	south := tree(t, done(t, run(t, "weather", "years", "melbourne-au", "melbourne-au", "--count", "1", "--json")).out)
	if from, _ := at(south, "years.0.from"); from != "2001-01-01T00:00:00+10:00" {
		t.Errorf("a southern year begins %v", from)
	}
	for says, args := range map[string][]string{
		"at least one":     {},
		"2 or more":        {"burlington-vt"},
		"not of one place": {"burlington-vt", "chicago-il"},
		"--count 0":        {record, "--count", "0"},
		"--count 200":      {record, "--count", "200"},
		"blocks of 1 days": {record, "--block", "1"},
		"is the file that": {record, "--out", record},
		"cannot write":     {record, "--out-dir", filepath.Join(record, "x")},
	} {
		refused(t, run(t, with([]string{"weather", "years"}, args...)...), says)
	}
}

func TestWeatherSpell(t *testing.T) {
	dir := t.TempDir()
	record, hot := filepath.Join(dir, "record.csv"), filepath.Join(dir, "hot.csv")
	done(t, run(t, "weather", "make", "--like", "burlington-vt", "--years", "12", "--out", record))
	v := tree(t, done(t, run(t, "weather", "spell", record, "--hot", "--days", "3", "--return", "20", "--out", hot, "--json")).out)
	level := num(t, v, "mean_c")
	if num(t, v, "record_years") != 12 || !(num(t, v, "low_95_percent_c") < level) {
		t.Errorf("level %g of %g years, from %g on", level, num(t, v, "record_years"), num(t, v, "low_95_percent_c"))
	}
	need(t, v, "fit.shape", "analogue_moved_k", "warnings.0", "high_95_percent_c")
	// The hours written have the level as their mean.
	first, _ := at(v, "first")
	day, err := time.Parse(time.RFC3339, first.(string))
	if err != nil {
		t.Fatal(err)
	}
	part := meanOf(t, "mean_c", "weather", "show", hot, "--from", day.Format(time.DateOnly), "--to", day.AddDate(0, 0, 2).Format(time.DateOnly))
	nearTo(t, "mean of the spell's hours", part, level, 0.01) // rounding of the file
	cold := done(t, run(t, "weather", "spell", record, "--cold", "--days", "14", "--return", "30"))
	narrow(t, cold.out)
	for _, word := range []string{"cold snap of 14 days", "or less", "95 % interval", "11 whole years", "Nothing was written"} {
		if !strings.Contains(cold.out, word) {
			t.Errorf("no %q in\n%s", word, cold.out)
		}
	}
	for says, args := range map[string][]string{
		"which spell":            {record},
		"Give --hot or --cold":   {record, "--hot", "--cold"},
		"knows no extremes":      {"burlington-vt", "--hot"},
		"0 days":                 {record, "--hot", "--days", "0"},
		"more than 1 year":       {record, "--hot", "--return", "1"},
		"at most 240 years":      {record, "--hot", "--return", "1000"},
		"0 whole years":          {hot, "--cold"},
		"one weather file":       {},
		"--force":                {record, "--hot", "--out", hot},
		"comes from; give anoth": {record, "--hot", "--out", record},
	} {
		refused(t, run(t, with([]string{"weather", "spell"}, args...)...), says)
	}
	// Open ends of an interval.
	if bounded(math.Inf(1)) != nil || *bounded(3) != 3 {
		t.Error("infinite numbers are no JSON")
	}
	low := 30.0
	for want, s := range map[string]spellBuilt{"open above": {Low: &low}, "open below": {High: &low}, "both ends": {}} {
		var b bytes.Buffer
		s.text(&b, 0)
		if !strings.Contains(b.String(), want) {
			t.Errorf("no %q in\n%s", want, b.String())
		}
	}
}

func TestWeatherShift(t *testing.T) {
	path := filepath.Join(t.TempDir(), "warm.epw")
	base := tree(t, done(t, run(t, "weather", "show", "burlington-vt", "--json")).out)
	warm := tree(t, done(t, run(t, "weather", "shift", "burlington-vt", "--by", "2C", "--out", path, "--json")).out)
	read := tree(t, done(t, run(t, "weather", "show", path, "--json")).out)
	for _, v := range []any{warm, read} {
		nearTo(t, "warmer by", num(t, v, "summary.whole.mean_c")-num(t, base, "summary.whole.mean_c"), 2, 0.001)
	}
	vapour := meanOf(t, "relative_humidity", "weather", "shift", "burlington-vt", "--by", "3.6F", "--humidity", "vapour")
	if kept := num(t, warm, "summary.whole.relative_humidity"); !(vapour < kept-0.03) {
		t.Errorf("humidity %g with the vapour kept, %g with the relative humidity kept", vapour, kept)
	}
	months := tree(t, done(t, run(t, "weather", "shift", "burlington-vt", "--by", "3K, 3K,2K,2K,2K,2K,1K,2K,2K,2K,2K,3K", "--json")).out)
	for i, want := range map[int]float64{0: 3, 6: 1} {
		key := fmt.Sprintf("summary.months.%d.mean_c", i)
		nearTo(t, key, num(t, months, key)-num(t, base, key), want, 0.05) // the course of the month's days is smooth
	}
	for says, args := range map[string][]string{
		"one weather file":     {},
		"by how much":          {"burlington-vt"},
		"has no unit":          {"burlington-vt", "--by", "2"},
		"holds 2 values":       {"burlington-vt", "--by", "2K,3K"},
		"accepted: -15":        {"burlington-vt", "--by", "20K"},
		"relative or vapour":   {"burlington-vt", "--by", "2K", "--humidity", "dry"},
		"no built-in weather":  {"nowhere", "--by", "2K"},
		"is there already":     {"burlington-vt", "--by", "2K", "--out", path},
		"file that the weathe": {path, "--by", "2K", "--out", path, "--force"},
	} {
		refused(t, run(t, with([]string{"weather", "shift"}, args...)...), says)
	}
}

// service answers as the documented weather service does, for the days asked.
func service(t *testing.T, hits *atomic.Int32) *httptest.Server {
	t.Helper()
	s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		hits.Add(1)
		q := r.URL.Query()
		if q.Get("latitude") != "44.52" || q.Get("longitude") != "-73.18" || strings.Contains(r.URL.RawQuery, "name") {
			t.Errorf("asked for %s", r.URL.RawQuery)
		}
		first, last := time.Now().UTC().Truncate(24*time.Hour), time.Now().UTC().Truncate(24*time.Hour).AddDate(0, 0, 2)
		if q.Get("start_date") != "" {
			first, _ = time.Parse(time.DateOnly, q.Get("start_date"))
			last, _ = time.Parse(time.DateOnly, q.Get("end_date"))
		} else if q.Get("forecast_days") != "3" {
			t.Errorf("a forecast of %s days", q.Get("forecast_days"))
		}
		hourly := map[string][]any{}
		for at := first; at.Before(last.AddDate(0, 0, 1)); at = at.Add(time.Hour) {
			hourly["time"] = append(hourly["time"], at.Format("2006-01-02T15:04"))
			for name, v := range map[string]float64{"temperature_2m": 7, "relative_humidity_2m": 80, "wind_speed_10m": 3, "wind_direction_10m": 270,
				"shortwave_radiation": math.Max(0, 500*math.Sin((float64(at.Hour())-11.4)/12*math.Pi)), "precipitation": 0.1} {
				hourly[name] = append(hourly[name], v)
			}
		}
		answer := map[string]any{"latitude": 44.5, "longitude": -73.2, "elevation": 101.0, "utc_offset_seconds": 0, "hourly": hourly,
			"hourly_units": map[string]string{"time": "iso8601", "temperature_2m": "°C", "relative_humidity_2m": "%", "wind_speed_10m": "m/s", "wind_direction_10m": "°",
				"shortwave_radiation": "W/m²", "precipitation": "mm"}}
		w.Header().Set("Content-Type", "application/json")
		if err := json.NewEncoder(w).Encode(answer); err != nil {
			t.Error(err)
		}
	}))
	t.Cleanup(s.Close)
	return s
}

func TestWeatherFetch(t *testing.T) {
	t.Setenv("XDG_CACHE_HOME", t.TempDir())
	t.Setenv(addressVariable, "")
	dir := t.TempDir()
	var hits atomic.Int32
	s := service(t, &hits)
	csv := filepath.Join(dir, "yard.csv")
	yard := []string{"weather", "fetch", "--latitude", "44.5164", "--longitude", "73.1812W", "--height", "110m"}
	past := with(yard, "--from", "2020-01-01", "--to", "2020-01-05")
	refused(t, run(t, past...), addressVariable)
	if hits.Load() != 0 {
		t.Fatal("asked without an address")
	}
	v := tree(t, done(t, run(t, with(past, "--address", s.URL, "--name", "Secret yard", "--out", csv, "--json")...)).out)
	if days := num(t, v, "weather.summary.days"); days != 5 || hits.Load() != 1 {
		t.Errorf("%g days, asked %d times", days, hits.Load())
	}
	nearTo(t, "zone [h]", num(t, v, "weather.zone_hours"), -5, 0)
	need(t, v, "fetched", "outdated", "weather.files.1")
	read := tree(t, done(t, run(t, "weather", "show", csv, "--json")).out)
	nearTo(t, "mean [°C]", num(t, read, "summary.whole.mean_c"), 7, 0.001)
	// A copy serves; --renew asks again; the variable serves as well.
	t.Setenv(addressVariable, s.URL)
	again := done(t, run(t, past...))
	narrow(t, again.out)
	if hits.Load() != 1 || !strings.Contains(again.out, "A copy kept") {
		t.Errorf("asked %d times:\n%s", hits.Load(), again.out)
	}
	done(t, run(t, with(past, "--renew")...))
	done(t, run(t, with(past, "--copy-only")...))
	refused(t, run(t, with(yard, "--from", "2019-01-01", "--to", "2019-01-02", "--copy-only")...), "no copy")
	if hits.Load() != 2 {
		t.Errorf("asked %d times, want 2", hits.Load())
	}
	forecast := done(t, run(t, with(yard, "--forecast", "--days", "3")...))
	if !strings.HasPrefix(forecast.out, "A forecast. Fetched on ") || hits.Load() != 3 {
		t.Errorf("asked %d times:\n%s", hits.Load(), forecast.out)
	}
	only(t, dir, "yard.csv", "yard.csv.map.yaml")
	for says, args := range map[string][]string{
		"which days":              yard,
		"which place":             {"weather", "fetch", "--forecast"},
		"need a year":             with(yard, "--from", "1 Jan", "--to", "2020-01-05"),
		"begins today":            with(yard, "--forecast", "--from", "2020-01-01"),
		"1 to 16":                 with(yard, "--forecast", "--days", "0"),
		"accepted: 1 to 16":       with(yard, "--forecast", "--days", "17"),
		"is for --forecast":       with(past, "--days", "3"),
		"give one of them":        with(past, "--renew", "--copy-only"),
		"a beginning before":      with(yard, "--from", "2020-01-05", "--to", "2020-01-01"),
		"ask for a forecast":      with(yard, "--from", "2199-01-01", "--to", "2199-01-05"),
		"https://host/path":       with(past, "--address", "ftp://here"),
		"yard.csv is there alrea": with(past, "--out", csv),
	} {
		refused(t, run(t, args...), says)
	}
	if hits.Load() != 3 {
		t.Errorf("a refusal asked the service: %d times in all", hits.Load())
	}
}

func TestWeatherFetchFails(t *testing.T) {
	t.Setenv("XDG_CACHE_HOME", t.TempDir())
	dir := t.TempDir()
	past := []string{"weather", "fetch", "--latitude", "44.5", "--longitude", "-73.2", "--from", "2020-01-01", "--to", "2020-01-05", "--out", filepath.Join(dir, "yard.epw")}
	for says, answer := range map[string]http.HandlerFunc{
		"parameter is out of": func(w http.ResponseWriter, _ *http.Request) {
			w.Header().Set("Content-Type", "application/json")
			w.WriteHeader(http.StatusBadRequest)
			io.WriteString(w, `{"error": true, "reason": "a parameter is out of range"}`)
		},
		"404": func(w http.ResponseWriter, r *http.Request) { http.NotFound(w, r) },
		"weather from http": func(w http.ResponseWriter, _ *http.Request) {
			io.WriteString(w, "<html>Sign in to the guest network</html>")
		},
	} {
		s := httptest.NewServer(answer)
		refused(t, run(t, with(past, "--address", s.URL)...), says)
		s.Close()
	}
	// An interrupt while the service is silent.
	gate := make(chan struct{})
	s := httptest.NewServer(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
		select {
		case <-gate:
		case <-r.Context().Done():
		}
	}))
	defer s.Close()
	defer close(gate)
	ctx, cancel := context.WithTimeout(context.Background(), 200*time.Millisecond)
	defer cancel()
	if r := runIn(t, ctx, with(past, "--address", s.URL)...); r.code != Interrupted || r.out != "" {
		t.Errorf("stopped: code %d, %q", r.code, r.errOut)
	}
	only(t, dir)
	// The service's own time-out is no interrupt.
	if err := fetchError(context.Background(), fmt.Errorf("4 attempts: %w", context.DeadlineExceeded)); exitCode(err) != BadInput || !strings.Contains(err.Error(), "4 attempts") {
		t.Errorf("a time-out: %v with code %d", err, exitCode(err))
	}
}

func TestPlaceFlags(t *testing.T) {
	for text, want := range map[string]float64{"44.5": 44.5, "-44.5": -44.5, "44.5N": 44.5, "44.5 s": -44.5, "33.9° S": -33.9, "−12": -12, "90": 90, "0": 0} {
		c := coordinate{positive: "N", negative: "S", most: 90}
		if err := c.Set(text); err != nil || c.value != want {
			t.Errorf("%q is %g (%v), want %g", text, c.value, err, want)
		}
	}
	for _, text := range []string{"", "north", "91", "44.5E", "-44.5S", "NaN", "44,5", "44.5NN", "Inf"} {
		c := coordinate{positive: "N", negative: "S", most: 90}
		if err := c.Set(text); err == nil || c.given {
			t.Errorf("%q is taken for %g", text, c.value)
		}
	}
	for text, want := range map[string]time.Duration{"UTC": 0, "UTC+1": time.Hour, "-05:00": -5 * time.Hour, "5:30": 330 * time.Minute, "−3": -3 * time.Hour, "14": 14 * time.Hour} {
		var z zoneFlag
		if err := z.Set(text); err != nil || z.value != want {
			t.Errorf("%q is %v (%v), want %v", text, z.value, err, want)
		}
	}
	for _, text := range []string{"", "15", "-13", "1:60", "Berlin", "1:", "+", "1:2:3", "--1"} {
		var z zoneFlag
		if err := z.Set(text); err == nil {
			t.Errorf("zone %q is taken for %v", text, z.value)
		}
	}
}

// A file that fails on its way leaves nothing behind, and what was there stays.
func TestWeatherThatCannotBeWritten(t *testing.T) {
	dir := t.TempDir()
	w, err := climate.Builtin("burlington-vt")
	if err != nil {
		t.Fatal(err)
	}
	record, err := w.Window(time.Date(2025, 1, 1, 0, 0, 0, 0, w.Location()), time.Date(2025, 1, 3, 0, 0, 0, 0, w.Location()))
	if err != nil {
		t.Fatal(err)
	}
	csv := filepath.Join(dir, "a.csv")
	if err := os.Mkdir(csv+mapTail, 0o755); err != nil { // no place for the map
		t.Fatal(err)
	}
	if _, err := writeWeather(csv, record); err == nil {
		t.Error("a folder is written over")
	}
	only(t, dir, "a.csv.map.yaml")
	if err := os.Remove(csv + mapTail); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(csv, []byte("mine"), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := writeWeather(csv, &climate.Series{Name: "nothing"}); err == nil || !strings.Contains(err.Error(), "no hour") {
		t.Errorf("weather without an hour as CSV: %v", err)
	}
	if text, err := os.ReadFile(csv); err != nil || string(text) != "mine" {
		t.Errorf("what was there is %.80q (%v)", text, err)
	}
	only(t, dir, "a.csv")
	if err := free(filepath.Join(csv, "x.epw"), false); err == nil || errors.Is(err, os.ErrNotExist) {
		t.Errorf("a file in a file: %v", err)
	}
}

// The file of normals that the documentation shows is one.
func TestNormalsOfTheDocumentation(t *testing.T) {
	doc, err := os.ReadFile("../../docs/weather.md")
	if err != nil {
		t.Fatal(err)
	}
	for block := range strings.SplitSeq(string(doc), "```") {
		if text, ok := strings.CutPrefix(block, "yaml\n"); ok && strings.Contains(text, "daily low") {
			r := done(t, run(t, "weather", "make", "--normals", file(t, "n.yaml", text), "--json"))
			nearTo(t, "January's low [°C]", num(t, tree(t, r.out), "summary.months.0.daily_low_c"), -12, 0.3) // as near as made years come
			return
		}
	}
	t.Error("docs/weather.md shows no normals")
}
