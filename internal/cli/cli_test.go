package cli

import (
	"bytes"
	"compress/gzip"
	"context"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/spf13/cobra"

	"hackle/examples"
	"hackle/internal/answer"
	"hackle/internal/verify"
	"hackle/ledger"
	"hackle/season"
)

// Two weeks in January, which most tests run.
var fortnight = []string{"--weather", "burlington-vt", "--from", "2026-01-15", "--to", "2026-01-28"}

// result of one command line.
type result struct {
	code        int
	out, errOut string
}

func run(t *testing.T, args ...string) result {
	t.Helper()
	return runIn(t, context.Background(), args...)
}

func runIn(t *testing.T, ctx context.Context, args ...string) result {
	t.Helper()
	var out, errOut bytes.Buffer
	code := Run(ctx, args, strings.NewReader(""), &out, &errOut)
	return result{code, out.String(), errOut.String()}
}

// with joins arguments.
func with(args []string, more ...string) []string { return append(slices.Clone(args), more...) }

// example writes one of the invented hives into a folder of the test.
func example(t *testing.T, i int) string {
	t.Helper()
	name := examples.Order()[i]
	text, err := fs.ReadFile(examples.Files(), name)
	if err != nil {
		t.Fatal(err)
	}
	return file(t, name, string(text))
}

func file(t *testing.T, name, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// weatherText is a typical year in the EPW layout.
func weatherText(t *testing.T) string {
	t.Helper()
	f, err := os.Open("../../climate/weather/burlington-vt.epw.gz")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	z, err := gzip.NewReader(f)
	if err != nil {
		t.Fatal(err)
	}
	text, err := io.ReadAll(z)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// tree decodes JSON and fails on what is none.
func tree(t *testing.T, text string) map[string]any {
	t.Helper()
	var v map[string]any
	if err := json.Unmarshal([]byte(text), &v); err != nil {
		t.Fatalf("no JSON: %v in %.300s", err, text)
	}
	return v
}

// at walks keys and list positions, such as "honey.by_month.0.kg".
func at(v any, path string) (any, bool) {
	for key := range strings.SplitSeq(path, ".") {
		switch x := v.(type) {
		case map[string]any:
			y, ok := x[key]
			if !ok {
				return nil, false
			}
			v = y
		case []any:
			i, err := strconv.Atoi(key)
			if err != nil || i >= len(x) {
				return nil, false
			}
			v = x[i]
		default:
			return nil, false
		}
	}
	return v, true
}

func need(t *testing.T, v any, paths ...string) {
	t.Helper()
	for _, path := range paths {
		if _, ok := at(v, path); !ok {
			t.Errorf("the JSON has no %s", path)
		}
	}
}

// num is a finite number of the JSON.
func num(t *testing.T, v any, path string) float64 {
	t.Helper()
	x, _ := at(v, path)
	f, ok := x.(float64)
	if !ok || math.IsNaN(f) || math.IsInf(f, 0) {
		t.Errorf("%s is %v, no finite number", path, x)
	}
	return f
}

// narrow fails on lines that do not fit the page; commands to copy may be longer.
func narrow(t *testing.T, text string) {
	t.Helper()
	for line := range strings.Lines(text) {
		if utf8.RuneCountInString(line) > ledger.Width+1 && !strings.HasPrefix(line, "  hackle ") && !strings.Contains(line, ".yaml:") {
			t.Errorf("a line of %d characters: %q", utf8.RuneCountInString(line)-1, line)
		}
	}
}

func TestYearJSON(t *testing.T) {
	r := run(t, with(fortnight, "year", example(t, 1), "--json")...)
	if r.code != Done || r.errOut != "" {
		t.Fatalf("code %d: %s", r.code, r.errOut)
	}
	v := tree(t, r.out)
	need(t, v, "honey.burned_kg", "honey.left_kg", "honey.by_month.0.month", "honey.by_month.0.kg",
		"bees.heat_mean_W", "bees.heat_peak_W", "bees.peak_at", "bees.peak_share_of_limit",
		"warmth.under_lid_mean_C", "warmth.cluster_air_mean_C", "warmth.floor_mean_C", "warmth.warm_depth_mean_mm",
		"water.produced_kg", "water.vented_kg", "water.stored_kg", "water.condensed_kg.lid", "water.condensed_kg.walls", "water.condensed_kg.floor", "water.overhead_hours",
		"co2_peak_percent", "loss_kWh.lid", "reach_min_days",
		"closure.heat", "closure.vapour", "closure.co2", "closure.air", "closure.honey",
		"answer", "uncertainty", "readings.0.text", "notes", "weather.name", "file")
	for _, n := range ledger.Lines() {
		if x, ok := at(v, n.Key); ok {
			if _, isNumber := x.(float64); isNumber {
				num(t, v, n.Key)
			}
		}
	}
	if got := num(t, v, "hours"); got != 14*24 {
		t.Errorf("%g hours, want 14 whole days", got)
	}
	start, burned, left := num(t, v, "honey.start_kg"), num(t, v, "honey.burned_kg"), num(t, v, "honey.left_kg")
	if math.Abs(start-burned-left) > 1e-6 || !(burned > 0.1 && burned < 5) {
		t.Errorf("%g kg at the start, %g burned, %g left", start, burned, left)
	}
	// What the bees gave is what left and what was stored, within the closure.
	gave := num(t, v, "heat.bees_kWh")
	sum := num(t, v, "heat.with_vapour_kWh") + num(t, v, "heat.stored_kWh")
	losses, _ := at(v, "loss_kWh")
	for way := range losses.(map[string]any) {
		sum += num(t, v, "loss_kWh."+way)
	}
	if math.Abs(gave-sum) > (math.Abs(num(t, v, "closure.heat"))+1e-9)*gave {
		t.Errorf("bees gave %g kWh, %g kWh are accounted for", gave, sum)
	}
}

func TestYearText(t *testing.T) {
	hiveFile := example(t, 0)
	for _, units := range []string{"metric", "us"} {
		r := run(t, with(fortnight, "year", hiveFile, "--units", units)...)
		if r.code != Done || r.errOut != "" {
			t.Fatalf("code %d: %s", r.code, r.errOut)
		}
		narrow(t, r.out)
		if us := units == "us"; us != strings.Contains(r.out, " lb") || us == strings.Contains(r.out, " kg") {
			t.Errorf("--units %s prints\n%s", units, r.out)
		}
		if !strings.Contains(r.out, "14 January 2026") && !strings.Contains(r.out, "15 January 2026 to 28 January 2026") {
			t.Errorf("the days are not told:\n%s", r.out)
		}
	}
}

// Colony flags change the run, and are read with their units.
func TestYearColony(t *testing.T) {
	hiveFile := example(t, 0)
	args := with(fortnight, "year", hiveFile, "--json", "--to", "2026-01-17")
	for _, c := range []struct {
		bees, honey   string
		kgBees, kgHon float64
	}{
		{"2kg", "25kg", 2, 25},
		{"4 lb", "50 lb", 4 * 0.45359237, 50 * 0.45359237},
		{"5 frames", "10 kg", 5 * 2430 * 0.11e-3, 10},
	} {
		v := tree(t, run(t, with(args, "--bees", c.bees, "--honey", c.honey)...).out)
		// Bees are told after the first hour; none die in it.
		if got := num(t, v, "bees.mass_start_kg"); math.Abs(got-c.kgBees) > 0.02*c.kgBees {
			t.Errorf("--bees %q runs %g kg, want %g", c.bees, got, c.kgBees)
		}
		if got := num(t, v, "honey.start_kg"); math.Abs(got-c.kgHon) > 1e-9 {
			t.Errorf("--honey %q runs %g kg, want %g", c.honey, got, c.kgHon)
		}
	}
}

func TestFailOn(t *testing.T) {
	args := with(fortnight, "year", example(t, 0))
	for _, c := range []struct {
		name string
		more []string
		code int
		says string
	}{
		{"starves, asked", []string{"--honey", "0.1 kg", "--fail-on", "starve,wet"}, BadNews, "starves on"},
		{"starves, not asked", []string{"--honey", "0.1 kg"}, Done, ""},
		{"does not starve", []string{"--fail-on", "starve"}, Done, ""},
		{"unknown word", []string{"--fail-on", "rain"}, BadInput, "starve, isolated and wet"},
	} {
		r := run(t, with(args, c.more...)...)
		if r.code != c.code || !strings.Contains(r.errOut, c.says) || (c.says == "") != (r.errOut == "") {
			t.Errorf("%s: code %d, %q; want %d, %q", c.name, r.code, r.errOut, c.code, c.says)
		}
		if c.code == BadNews && !strings.HasPrefix(r.out, "No: ") {
			t.Errorf("%s: bad news without the ledger", c.name)
		}
	}
	l := ledger.Ledger{Hive: "x"}
	l.Water.OverheadHours, l.Confinement.Isolation = 3, 4
	for _, word := range []string{"wet", "isolated"} {
		f := seasonFlags{failOn: wordsFlag{words: []string{word}}}
		if exitCode(f.verdict(l)) != BadNews || f.verdict(ledger.Ledger{}) != nil {
			t.Errorf("--fail-on %s does not tell %+v apart", word, l)
		}
	}
}

func TestTrace(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "hours.csv")
	r := run(t, with(fortnight, "year", example(t, 1), "--trace", path)...)
	if r.code != Done {
		t.Fatalf("code %d: %s", r.code, r.errOut)
	}
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) != 1+14*24 {
		t.Fatalf("%d rows, want a header and 336 hours", len(rows))
	}
	if rows[0][0] != "time" || !slices.Contains(rows[0], "bees.heat [W]") || !slices.Contains(rows[0], "outdoor.temp [°C]") {
		t.Errorf("header %v", rows[0])
	}
	for i, row := range rows[1:] {
		when, err := time.Parse(time.RFC3339, row[0])
		if want := time.Date(2026, 1, 15, 5+i, 0, 0, 0, time.UTC); err != nil || !when.Equal(want) {
			t.Fatalf("row %d begins %s, want %v", i, row[0], want)
		}
		for j, cell := range row[1:] {
			if x, err := strconv.ParseFloat(cell, 64); err != nil || math.IsNaN(x) || math.IsInf(x, 0) {
				t.Fatalf("row %d: %s is %q", i, rows[0][j+1], cell)
			}
		}
	}
	only(t, dir, "hours.csv")
}

// only fails when a folder holds anything but the names.
func only(t *testing.T, dir string, names ...string) {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, e := range entries {
		got = append(got, e.Name())
	}
	slices.Sort(names)
	if !slices.Equal(got, names) {
		t.Errorf("%s holds %v, want %v", dir, got, names)
	}
}

func TestTraceThatCannotBeWritten(t *testing.T) {
	hiveFile := example(t, 0)
	dir := t.TempDir()
	taken := filepath.Join(dir, "taken")
	if err := os.Mkdir(taken, 0o755); err != nil {
		t.Fatal(err)
	}
	for name, path := range map[string]string{"no such folder": filepath.Join(dir, "none", "hours.csv"), "a folder": taken, "the hive file": hiveFile} {
		before, err := os.ReadFile(hiveFile)
		if err != nil {
			t.Fatal(err)
		}
		r := run(t, with(fortnight, "year", hiveFile, "--trace", path)...)
		if r.code != BadInput || r.out != "" || strings.Count(r.errOut, "\n") != 1 {
			t.Errorf("%s: code %d, out %q, err %q", name, r.code, r.out, r.errOut)
		}
		if after, err := os.ReadFile(hiveFile); err != nil || !bytes.Equal(before, after) {
			t.Errorf("%s: the hive file is changed", name)
		}
	}
	only(t, dir, "taken")
	only(t, taken)
	// A run that fails leaves the old trace as it was.
	old := filepath.Join(dir, "old.csv")
	if err := os.WriteFile(old, []byte("kept"), 0o600); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(context.Background(), 150*time.Millisecond)
	defer cancel()
	r := runIn(t, ctx, "year", hiveFile, "--weather", "burlington-vt", "--from", "2026-01-01", "--to", "2060-01-01", "--trace", old)
	if text, err := os.ReadFile(old); r.code != Interrupted || err != nil || string(text) != "kept" {
		t.Errorf("code %d, the old trace is %q (%v)", r.code, text, err)
	}
	only(t, dir, "taken", "old.csv")
}

func TestBadHives(t *testing.T) {
	text, err := fs.ReadFile(examples.Files(), examples.Order()[0])
	if err != nil {
		t.Fatal(err)
	}
	good := string(text)
	utf16 := []byte{0xff, 0xfe}
	for _, r := range good[:40] {
		utf16 = append(utf16, byte(r), 0)
	}
	change := func(old, new string) string {
		if !strings.Contains(good, old) {
			t.Fatalf("the example holds no %q", old)
		}
		return strings.Replace(good, old, new, 1)
	}
	for name, c := range map[string]struct{ text, says string }{
		"empty":        {"", "an empty file"},
		"binary":       {"\x7fELF\x02\x01\x00\x00", "no text"},
		"truncated":    {change("bodies: [deep, deep]", "bodies: [deep, de"), ":"},
		"huge":         {good + strings.Repeat("# no hive needs this much\n", 50000), "1 MiB"},
		"UTF-16":       {string(utf16), "UTF-16"},
		"Latin-1":      {change("Invented.", "Erfund\xe9n."), "UTF-8"},
		"geometry":     {change("bodies: [deep, deep]", "bodies: [{box: deep, length: 200 mm}]"), "length"},
		"material":     {change("  front looks to: SE", "  walls: [unobtainium 19 mm]\n  front looks to: SE"), "unobtainium"},
		"not a number": {change("honey: 30 kg", "honey: NaN kg"), "colony.honey"},
		"infinite":     {change("honey: 30 kg", "honey: .inf"), "colony.honey"},
		"no unit":      {change("honey: 30 kg", "honey: 30"), "unit"},
	} {
		path := file(t, "hive.yaml", c.text)
		for _, args := range [][]string{with(fortnight, "year", path), {"check", path}, {"heater", path, "--watts", "12", "--outside", "-5C"}, with(fortnight, "compare", path, path)} {
			r := run(t, args...)
			if r.code != BadInput || !strings.Contains(r.out+r.errOut, c.says) || strings.Contains(r.errOut, "goroutine") || !strings.Contains(r.out+r.errOut, path) {
				t.Errorf("%s, %s: code %d, out %.200q, err %.200q; want 2 and %q", name, strings.Join(args[len(args)-1:], " "), r.code, r.out, r.errOut, c.says)
			}
		}
	}
	for _, args := range [][]string{with(fortnight, "year", "none.yaml"), {"check", "none.yaml"}, {"check", t.TempDir()}, with(fortnight, "year", t.TempDir())} {
		if r := run(t, args...); r.code != BadInput || r.errOut == "" {
			t.Errorf("%v: code %d, %q", args, r.code, r.errOut)
		}
	}
}

func TestBadWeather(t *testing.T) {
	hiveFile := example(t, 0)
	text := weatherText(t)
	var packed bytes.Buffer
	z := gzip.NewWriter(&packed)
	if _, err := io.WriteString(z, text); err != nil {
		t.Fatal(err)
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	utf16 := []byte{0xff, 0xfe}
	for _, r := range text[:400] {
		utf16 = append(utf16, byte(r), 0)
	}
	for name, c := range map[string]struct{ text, says string }{
		"empty":         {"", "an empty file"},
		"binary":        {"\x7fELF\x00\x01", "binary"},
		"truncated":     {text[:len(text)/2], "line"},
		"truncated zip": {packed.String()[:packed.Len()/2], "cut short"},
		"UTF-16":        {string(utf16), "UTF-16"},
		"header alone":  {strings.Join(strings.SplitAfter(text, "\n")[:8], ""), ":"},
		"no weather":    {"a,b\n1,2\n", "LOCATION"},
	} {
		path := file(t, "weather.epw", c.text)
		for _, args := range [][]string{{"year", hiveFile, "--weather", path}, {"weather", "show", path}} {
			r := run(t, args...)
			if r.code != BadInput || r.out != "" || !strings.Contains(r.errOut, c.says) || strings.Count(r.errOut, "\n") != 1 {
				t.Errorf("%s, %s: code %d, err %q; want 2 and %q", name, args[0], r.code, r.errOut, c.says)
			}
		}
	}
	for _, c := range []struct{ weather, says string }{{"nowhere", "nowhere"}, {"", "is burlington-vt"}, {t.TempDir(), "a directory"}} {
		if r := run(t, "year", hiveFile, "--weather", c.weather); r.code != BadInput || !strings.Contains(r.errOut, c.says) {
			t.Errorf("--weather %q: code %d, %q", c.weather, r.code, r.errOut)
		}
	}
}

func TestHugeWeather(t *testing.T) {
	if testing.Short() {
		t.Skip("reads 200 MB")
	}
	path := file(t, "weather.epw", "LOCATION")
	if err := os.Truncate(path, 200<<20+1); err != nil {
		t.Skip("no room for a large sparse file")
	}
	if r := run(t, "weather", "show", path); r.code != BadInput || !strings.Contains(r.errOut, "200 MB") {
		t.Errorf("code %d, %q", r.code, r.errOut)
	}
}

func TestDatesOfTheWeather(t *testing.T) {
	const yard = "../../climate/testdata/yard.csv" // 27 February to 1 March 2024
	hiveFile := example(t, 0)
	for _, c := range []struct {
		args []string
		code int
		says string
	}{
		{nil, BadInput, "2024-02-27 to 2024-03-01"},
		{[]string{"--from", "2024-02-20", "--to", "2024-02-29"}, BadInput, "2024-02-27"},
		{[]string{"--from", "2024-02-28", "--to", "2024-02-29"}, Done, "28 February 2024 to 29 February 2024"},
		{[]string{"--from", "28 Feb", "--to", "1 Mar"}, Done, "28 February 2024 to 1 March 2024"},
		{[]string{"--from", "2024-02-29", "--to", "2024-02-27"}, BadInput, "before"},
		{[]string{"--from", "yesterday"}, BadInput, "yesterday"},
		{[]string{"--from", "29 Feb"}, BadInput, "29 Feb"},
	} {
		r := run(t, with([]string{"year", hiveFile, "--weather", yard}, c.args...)...)
		if r.code != c.code || !strings.Contains(r.out+r.errOut, c.says) {
			t.Errorf("%v: code %d, out %.200q, err %q; want %d and %q", c.args, r.code, r.out, r.errOut, c.code, c.says)
		}
	}
}

func TestClosedHiveIsComputedAndTold(t *testing.T) {
	text, err := fs.ReadFile(examples.Files(), examples.Order()[0])
	if err != nil {
		t.Fatal(err)
	}
	path := file(t, "hive.yaml", strings.Replace(string(text), "width: medium", "width: closed", 1))
	r := run(t, with(fortnight, "year", path, "--to", "2026-01-17")...)
	if r.code != Done || !strings.Contains(r.out, "suffocate") {
		t.Errorf("code %d, err %q, out %.500q", r.code, r.errOut, r.out)
	}
	if r := run(t, "check", path); r.code != Done || !strings.Contains(r.out, "warning: ") {
		t.Errorf("check: code %d, %q", r.code, r.out)
	}
}

func TestCheck(t *testing.T) {
	good := example(t, 1)
	bad := file(t, "bad.yaml", "version: 1\nhive:\n  type: stacked-10\n  bodies: [deep]\n  stand: tall\n")
	r := run(t, "check", good)
	if r.code != Done || r.errOut != "" {
		t.Fatalf("code %d: %s", r.code, r.errOut)
	}
	narrow(t, r.out)
	for _, word := range []string{"body 2", "L, ", "U ", "R ", "top vent", "heaviest part", "No faults"} {
		if !strings.Contains(r.out, word) {
			t.Errorf("no %q in\n%s", word, r.out)
		}
	}
	if us := run(t, "check", good, "--units", "us"); !strings.Contains(us.out, "gal") || !strings.Contains(us.out, "R-") || !strings.Contains(us.out, " in ") {
		t.Errorf("in US units:\n%s", us.out)
	}
	r = run(t, "check", good, bad, "missing.yaml", "--json")
	if r.code != BadInput || !strings.Contains(r.errOut, "2 of 3") {
		t.Errorf("code %d, err %q", r.code, r.errOut)
	}
	v := tree(t, r.out)
	need(t, v, "files.0.hive.volume_L", "files.0.hive.bodies.1.name", "files.0.hive.shell.0.transmittance_W_per_m2_K", "files.0.hive.openings.1.area_cm2",
		"files.0.hive.empty_mass_kg", "files.1.faults.0.hint", "files.2.error")
	if got, _ := at(v, "files.1.faults.0.line"); got != 5. {
		t.Errorf("the fault is told in line %v, not 5", got)
	}
	if _, ok := at(v, "files.1.hive"); ok {
		t.Error("a hive with faults is described")
	}
	// 19 mm of softwood at 0.13 W/(m·K) between 0.13 and 0.04 m²·K/W.
	want := 1 / (0.13 + 0.04 + 0.019/0.13)
	if got := num(t, v, "files.0.hive.shell.0.transmittance_W_per_m2_K"); math.Abs(got-want) > 0.02*want { // the preset's board is a nominal inch
		t.Errorf("U of the walls %g, want about %g", got, want)
	}
	if got := num(t, v, "files.0.hive.openings_cm2"); math.Abs(got-num(t, v, "files.0.hive.openings.0.area_cm2")-num(t, v, "files.0.hive.openings.1.area_cm2")) > 1e-9 {
		t.Errorf("openings sum to %g cm²", got)
	}
	if r := run(t, "check", bad); !strings.Contains(r.out, bad+":5:") || r.code != BadInput {
		t.Errorf("code %d, %q", r.code, r.out)
	}
}

func TestHeater(t *testing.T) {
	hiveFile := example(t, 1)
	r := run(t, "heater", hiveFile, "--watts", "12", "--outside", "-5C", "--json")
	if r.code != Done {
		t.Fatalf("code %d: %s", r.code, r.errOut)
	}
	v := tree(t, r.out)
	need(t, v, "levels.0.height_mm", "levels.0.core_C", "levels.0.flank_C", "under_lid_C", "warm_depth_mm", "openings.1.name", "openings.0.in_L_per_s",
		"openings.0.out_L_per_s", "openings.0.heat_W", "loss_W.walls", "loss_W.lid", "loss_W.floor", "loss_W.openings", "loss_W.cracks", "conductance_W_per_K", "closure_W")
	losses, _ := at(v, "loss_W")
	sum := num(t, v, "closure_W")
	for way := range losses.(map[string]any) {
		sum += num(t, v, "loss_W."+way)
	}
	if math.Abs(sum-12) > 1e-9 {
		t.Errorf("losses and closure sum to %g W, not 12", sum)
	}
	if c := num(t, v, "closure_W"); math.Abs(c) > 1e-3 {
		t.Errorf("closure %g W", c)
	}
	walls := num(t, v, "walls_W.front") + num(t, v, "walls_W.back") + num(t, v, "walls_W.left") + num(t, v, "walls_W.right")
	if math.Abs(walls-num(t, v, "loss_W.walls")) > 1e-9 {
		t.Errorf("the walls sum to %g W", walls)
	}
	if got, want := num(t, v, "conductance_W_per_K"), 12/(num(t, v, "mean_C")+5); math.Abs(got-want) > 1e-9 {
		t.Errorf("conductance %g, want %g", got, want)
	}
	if !(num(t, v, "under_lid_C") > -5) {
		t.Error("no warmth under the lid")
	}
	// The same asked in other words gives the same numbers.
	for _, args := range [][]string{{"--watts", "12 W", "--outside", "23F"}, {"--watts=0.012kW", "--outside=-5 °C"}, {"--watts", "12", "--outside", "-5C", "--wind", "0"}} {
		if again := run(t, with([]string{"heater", hiveFile, "--json"}, args...)...); again.code != Done || math.Abs(num(t, tree(t, again.out), "under_lid_C")-num(t, v, "under_lid_C")) > 1e-3 {
			t.Errorf("%v: code %d %s, another result", args, again.code, again.errOut)
		}
	}
	empty := tree(t, run(t, "heater", hiveFile, "--watts", "12", "--outside", "-5C", "--empty", "--height", "240mm", "--size", "80mm", "--json").out)
	if num(t, empty, "levels.0.core_C") != num(t, empty, "levels.0.flank_C") {
		t.Error("an empty hive has a core")
	}
	text := run(t, "heater", hiveFile, "--watts", "12", "--outside", "-5C", "--units", "us")
	narrow(t, text.out)
	if !strings.Contains(text.out, "°F") || strings.Contains(text.out, "°C") {
		t.Errorf("in US units:\n%s", text.out)
	}
	for _, c := range []struct {
		args []string
		says string
	}{
		{nil, "--watts"},
		{[]string{"--watts", "NaN", "--outside", "-5C"}, "NaN"},
		{[]string{"--watts", "-3", "--outside", "-5C"}, "--watts"},
		{[]string{"--watts", "12", "--outside", "-5"}, "unit"},
		{[]string{"--watts", "12", "--outside", "-500C"}, "-500C"},
		{[]string{"--watts", "12", "--outside", "-5C", "--height", "2m"}, "outside the hive"},
		{[]string{"--watts", "12", "--outside", "-5C", "--size", "3m"}, "does not fit"},
		{[]string{"--watts", "12", "--outside", "-5C", "--wind", "100"}, "--wind"},
		{[]string{"--watts", "12 kg", "--outside", "-5C"}, "12 kg"},
		{[]string{"--watts", "9kW", "--outside", "-5C"}, "2000 W"},
	} {
		if r := run(t, with([]string{"heater", hiveFile}, c.args...)...); r.code != BadInput || !strings.Contains(r.errOut, c.says) || r.out != "" {
			t.Errorf("%v: code %d, %q; want 2 and %q", c.args, r.code, r.errOut, c.says)
		}
	}
}

func TestCompare(t *testing.T) {
	args := with(fortnight, "compare", example(t, 0), example(t, 1), example(t, 2))
	r := run(t, with(args, "--json")...)
	if r.code != Done || r.errOut != "" {
		t.Fatalf("code %d: %s", r.code, r.errOut)
	}
	v := tree(t, r.out)
	need(t, v, "weather.name", "hives.2.honey.burned_kg", "differences.1.honey", "differences.1.overhead_water", "differences.0.rows.0.key")
	for i := range 2 {
		rows, _ := at(v, fmt.Sprintf("differences.%d.rows", i))
		for j := range rows.([]any) {
			row := fmt.Sprintf("differences.%d.rows.%d.", i, j)
			key, _ := at(v, row+"key")
			if d := num(t, v, row+"b") - num(t, v, row+"a"); d != num(t, v, row+"difference") {
				t.Errorf("%v: the difference is not %g", key, d)
			}
			if a, ok := at(v, fmt.Sprintf("hives.%d.%s", i+1, key)); !ok || a != num(t, v, row+"b") {
				t.Errorf("%v of hive %d is %v, in the row %v", key, i+1, a, num(t, v, row+"b"))
			}
		}
	}
	// Side by side gives what one by one gives.
	alone := tree(t, run(t, with(fortnight, "year", args[len(args)-1], "--json")...).out)
	if a, b := num(t, alone, "honey.burned_kg"), num(t, v, "hives.2.honey.burned_kg"); a != b {
		t.Errorf("alone it burns %.17g kg, in company %.17g", a, b)
	}
	text := run(t, args...)
	narrow(t, text.out)
	if !strings.Contains(text.out, "B - A") || !strings.Contains(text.out, "wet over") {
		t.Errorf("text:\n%s", text.out)
	}
	if r := run(t, with(fortnight, "compare", args[len(args)-1])...); r.code != BadInput {
		t.Errorf("one file: code %d", r.code)
	}
}

func TestFarWeatherIsTold(t *testing.T) {
	r := run(t, "year", example(t, 0), "--weather", "minneapolis-mn", "--from", "2026-01-15", "--to", "2026-01-16", "--json")
	notes, _ := at(tree(t, r.out), "notes")
	all := fmt.Sprint(notes)
	if !strings.Contains(all, "1584 km") && !strings.Contains(all, "km from the site") || !strings.Contains(all, "92 days off") {
		t.Errorf("notes %v", notes)
	}
}

// Without days the run is a whole year, with --winter the winter.
func TestYearIsWhole(t *testing.T) {
	hiveFile := summerExample(t)
	for _, c := range []struct {
		flags []string
		days  float64
		says  string
		holds bool
	}{
		{nil, 365, "In summer ", true},
		{[]string{"--winter"}, 183, "In summer ", false},
		{[]string{"--winter", "--to", "20 Oct"}, 6, "In summer ", false},
	} {
		r := run(t, with([]string{"year", hiveFile, "--weather", "burlington-vt", "--json"}, c.flags...)...)
		if r.code != Done {
			t.Fatalf("%v: code %d, %s", c.flags, r.code, r.errOut)
		}
		v := tree(t, r.out)
		if got := num(t, v, "hours") / 24; got != c.days {
			t.Errorf("%v: %g days, want %g", c.flags, got, c.days)
		}
		if from, _ := at(v, "from"); from != "2025-10-15" {
			t.Errorf("%v: begins on %v, not on the colony's date", c.flags, from)
		}
		answer, _ := at(v, "answer")
		if strings.Contains(fmt.Sprint(answer), c.says) != c.holds {
			t.Errorf("%v: %v", c.flags, answer)
		}
		if notes, _ := at(v, "notes"); len(notes.([]any)) > 0 {
			t.Errorf("%v: notes %v", c.flags, notes)
		}
		if !c.holds {
			continue
		}
		start, gained := num(t, v, "honey.start_kg"), num(t, v, "honey.gained_kg")
		if left := start + gained - num(t, v, "honey.burned_kg") - num(t, v, "honey.left_kg"); math.Abs(left) > 1e-6 || !(gained > start) {
			t.Errorf("%g kg at the start, %g gained: %g kg of honey unaccounted for", start, gained, left)
		}
		if w := num(t, v, "winter.honey_burned_kg"); !(w > 5 && w < num(t, v, "honey.burned_kg")/2) {
			t.Errorf("%g kg burned in winter", w)
		}
		water := num(t, v, "water.from_honey_kg") + num(t, v, "water.from_nectar_kg") + num(t, v, "water.spread_kg") + num(t, v, "water.drunk_kg")
		if math.Abs(water-num(t, v, "water.produced_kg")) > 1e-6 {
			t.Errorf("%g kg of water by source, %g in all", water, num(t, v, "water.produced_kg"))
		}
		// Honey pays for heat at 12.7 MJ/kg and sets 0.66 of its mass free as water.
		if got, want := num(t, v, "water.from_honey_kg"), 0.66*num(t, v, "honey.for_heat_kg")-num(t, v, "water.held_by_bees_kg"); math.Abs(got-want) > 0.005*want {
			t.Errorf("%g kg of water from honey, want %g", got, want)
		}
	}
}

func summerExample(t *testing.T) string {
	t.Helper()
	i := slices.Index(examples.Order(), demoSummer)
	if i < 0 {
		t.Fatalf("no example %s", demoSummer)
	}
	return example(t, i)
}

// A hot spell of a typical year, with water near and with none.
func TestHotSpell(t *testing.T) {
	hiveFile := summerExample(t)
	text, err := os.ReadFile(hiveFile)
	if err != nil {
		t.Fatal(err)
	}
	dry := file(t, "dry.yaml", strings.Replace(strings.Replace(string(text), "  water within: 150 m\n", "", 1), "name: Deep box", "name: Dry box", 1))
	days := []string{"--weather", "burlington-vt", "--from", "2026-06-28", "--to", "2026-07-04", "--bees", "4 kg"}
	r := run(t, with(days, "compare", hiveFile, dry, "--json")...)
	if r.code != Done {
		t.Fatalf("code %d: %s", r.code, r.errOut)
	}
	v := tree(t, r.out)
	need(t, v, "hives.0.summer.nest_max_at", "hives.0.summer.comb_max_at", "hives.0.summer.water_worst_day", "hives.0.comb.class", "hives.0.combs.3.share_of_strength", "differences.0.summer")
	hauled, worst := num(t, v, "hives.0.summer.water_hauled_L"), num(t, v, "hives.0.summer.water_worst_day_L")
	if !(hauled > 0.5 && worst > hauled/7 && worst <= hauled) || num(t, v, "hives.1.summer.water_hauled_L") != 0 {
		t.Errorf("%g L hauled, %g on the worst day", hauled, worst)
	}
	if put := num(t, v, "hives.0.summer.water_to_put_out_L"); put < worst || put >= worst+0.5 || num(t, v, "hives.0.summer.water_within_m") != 150 {
		t.Errorf("%g L to put out for %g", put, worst)
	}
	if a, b := num(t, v, "hives.0.summer.nest_above_36_hours"), num(t, v, "hives.1.summer.nest_above_36_hours"); !(b > a) {
		t.Errorf("the nest is above 36 °C for %g hours with water and %g without", a, b)
	}
	if rows, _ := at(v, "differences.0.rows"); !strings.Contains(fmt.Sprint(rows), "summer.outside_hours") {
		t.Error("the comparison has no row of bees outside")
	}
	for _, units := range []string{"metric", "us"} {
		text := run(t, with(days, "year", hiveFile, "--units", units)...)
		narrow(t, text.out)
		if !strings.Contains(text.out, "\nSummer\n") || !strings.Contains(text.out, "Put out ") || regexp.MustCompile(`\d m?L\b`).MatchString(text.out) == (units == "us") {
			t.Errorf("--units %s:\n%s", units, text.out)
		}
		text = run(t, with(days, "compare", hiveFile, dry, "--units", units)...)
		narrow(t, text.out)
		if !strings.Contains(text.out, "In summer, Dry box") || !strings.Contains(text.out, "warmest") {
			t.Errorf("--units %s compares\n%s", units, text.out)
		}
	}
}

func TestWeatherShow(t *testing.T) {
	r := run(t, "weather", "show", "burlington-vt", "--json")
	v := tree(t, r.out)
	need(t, v, "name", "source", "from", "to", "summary.months.11.mean_c", "summary.coldest_week.days", "repairs.0.done")
	if num(t, v, "summary.hours") != 8760 || num(t, v, "latitude_deg") < 44 {
		t.Errorf("%.300s", r.out)
	}
	text := run(t, "weather", "show", "burlington-vt", "--units", "us")
	narrow(t, text.out)
	if !strings.Contains(text.out, "73.15° W") || !strings.Contains(text.out, "°F") || !strings.Contains(text.out, "Repaired or doubtful") {
		t.Errorf("text:\n%s", text.out)
	}
	part := tree(t, run(t, "weather", "show", "burlington-vt", "--from", "2025-12-01", "--to", "2026-01-31", "--json").out)
	if num(t, part, "summary.days") != 62 {
		t.Errorf("December and January have %v days", num(t, part, "summary.days"))
	}
	yard := run(t, "weather", "show", "../../climate/testdata/yard.csv", "--from", "28 Feb", "--to", "29 Feb", "--json")
	if yard.code != BadInput { // hive days know no yearless 29 February
		t.Errorf("29 Feb: code %d", yard.code)
	}
	yard = run(t, "weather", "show", "../../climate/testdata/yard.csv", "--from", "28 Feb", "--to", "1 Mar", "--json")
	if yard.code != Done || num(t, tree(t, yard.out), "summary.days") != 3 {
		t.Errorf("code %d, %.300s", yard.code, yard.errOut)
	}
	if out := run(t, "weather", "show", "../../climate/testdata/yard.csv", "--from", "2024-01-01"); out.code != BadInput || !strings.Contains(out.errOut, "2024-02-27") {
		t.Errorf("outside: code %d, %q", out.code, out.errOut)
	}
	if l := run(t, "weather", "list"); l.code != Done || !strings.Contains(l.out, "\nburlington-vt       Burlington") {
		t.Errorf("list: %q", l.out)
	} else {
		narrow(t, l.out)
	}
	need(t, tree(t, run(t, "weather", "list", "--json").out), "sites.0.name", "sites.0.basis", "notice")
	if l := run(t, "weather", "list", "--notice"); l.code != Done || !strings.Contains(l.out, "NREL") {
		t.Errorf("notice: %q", l.out)
	}
}

// The whole of it takes as long as all checks together.
func TestVerify(t *testing.T) {
	if testing.Short() {
		t.Skip("recomputes every check")
	}
	r := run(t, "verify", "moist air", "FILMS", "--json")
	if r.code != Done || r.errOut != "" {
		t.Fatalf("code %d: %s", r.code, r.errOut)
	}
	v := tree(t, r.out)
	need(t, v, "checks.0.id", "checks.0.source", "checks.0.rows.0.computed", "checks.0.rows.0.expected", "checks.0.rows.0.tolerance", "misses", "compared", "report_misses")
	topics := map[any]bool{}
	checks, _ := at(v, "checks")
	for i := range checks.([]any) {
		topic, _ := at(v, fmt.Sprintf("checks.%d.topic", i))
		topics[topic] = true
	}
	if len(topics) != 2 {
		t.Errorf("topics %v", topics)
	}
	if r := run(t, "verify", "--fail-on", "rain"); r.code != BadInput {
		t.Errorf("unknown --fail-on: code %d", r.code)
	}
}

// someChecks are two checks, the second with a miss.
func someChecks() []verify.Check {
	printed := 1.5
	return []verify.Check{
		{ID: "AB-01", Topic: "Apples", What: "One | two", Source: "a book", FromMemory: true, Left: "the core", Rows: []verify.Row{{Quantity: "mass", Unit: "kg", Computed: 1, Expected: 1, Tolerance: 0.1, Published: &printed, Note: "weighed"}}},
		{ID: "BB-01", Topic: "Bees", What: "Three", Source: "a paper", Rows: []verify.Row{{Quantity: "heat", Unit: "W", Computed: 2, Expected: 1, Tolerance: 0.1}}},
	}
}

func TestReportOfChecks(t *testing.T) {
	report := func(topics []string, markdown string, failOnMiss bool) result {
		var out bytes.Buffer
		p := &program{stdout: &out}
		err := p.report(someChecks(), topics, markdown, failOnMiss)
		return result{exitCode(err), out.String(), fmt.Sprint(err)}
	}
	for _, c := range []struct {
		topics     []string
		failOnMiss bool
		code       int
		holds      string
	}{
		{nil, true, BadNews, "2 numbers of 2 checks"},
		{nil, false, Done, "MISS"},
		{[]string{"apples"}, true, Done, "AB-01"},
		{[]string{"bb"}, true, BadNews, "BB-01"},
		{[]string{"a", "b"}, false, Done, "BB-01"},
	} {
		if r := report(c.topics, "", c.failOnMiss); r.code != c.code || !strings.Contains(r.out, c.holds) {
			t.Errorf("%v: code %d, out %q; want %d and %q", c.topics, r.code, r.out, c.code, c.holds)
		}
	}
	if r := report([]string{"apples"}, "", true); strings.Contains(r.out, "BB-01") || !strings.Contains(r.out, "printed in the source: 1.5") || !strings.Contains(r.out, "recalled") || !strings.Contains(r.out, "the core") {
		t.Errorf("apples print %q", r.out)
	}
	if r := report([]string{"astrology"}, "", true); r.code != BadInput || !strings.Contains(r.errOut, "Apples and Bees") {
		t.Errorf("unknown topic: code %d, %q", r.code, r.errOut)
	}
	// Only what lies between the marks is replaced, and twice gives the same.
	path := filepath.Join(t.TempDir(), "verification.md")
	if r := report(nil, path, false); r.code != Done {
		t.Fatalf("code %d: %s", r.code, r.errOut)
	}
	whole, err := os.ReadFile(path)
	if err != nil || !strings.HasPrefix(string(whole), "# ") || !strings.Contains(string(whole), "## Bees") || !strings.Contains(string(whole), "| mass | kg | 1 | 1 | 0.1 | 1.5 | weighed |") || !strings.Contains(string(whole), `One \| two`) {
		t.Errorf("tables (%v):\n%s", err, whole)
	}
	framed := "# Ours\n\nProse.\n" + tablesBegin + "\nold\n" + tablesEnd + "\nMore prose.\n"
	if err := os.WriteFile(path, []byte(framed), 0o644); err != nil {
		t.Fatal(err)
	}
	var before []byte
	for range 2 {
		if r := report(nil, path, false); r.code != Done {
			t.Fatalf("code %d: %s", r.code, r.errOut)
		}
		after, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if !strings.HasPrefix(string(after), "# Ours\n\nProse.\n") || !strings.HasSuffix(string(after), "\nMore prose.\n") || strings.Contains(string(after), "\nold\n") || !strings.Contains(string(after), "| Computed |") {
			t.Errorf("framed tables:\n%s", after)
		}
		if before != nil && !bytes.Equal(before, after) {
			t.Error("the second writing differs from the first")
		}
		before = after
	}
	if r := report(nil, filepath.Join(t.TempDir(), "none", "v.md"), false); r.code != BadInput || r.out != "" {
		t.Errorf("a path that cannot be written: code %d", r.code)
	}
}

func TestMissesAreMarked(t *testing.T) {
	row := verify.Row{Quantity: "q", Unit: "W", Computed: 2, Expected: 1, Tolerance: 0.1}
	infinite := verify.Row{Quantity: "ratio", Unit: "-", Computed: math.Inf(1), Expected: math.Inf(1)}
	v := gather([]verify.Check{{ID: "A", Topic: "T", Rows: []verify.Row{row, infinite}}, {ID: "B", Topic: "T", Report: true, Rows: []verify.Row{row}}})
	if v.Misses != 1 || v.ReportMisses != 1 || v.Compared != 3 {
		t.Fatalf("%+v", v)
	}
	var b bytes.Buffer
	v.text(&b)
	if strings.Count(b.String(), "MISS") != 1 || strings.Count(b.String(), "differs") != 1 {
		t.Errorf("marks in\n%s", b.String())
	}
	narrow(t, b.String())
	b.Reset()
	if err := v.tables(&b); err != nil || strings.Count(b.String(), "MISS") != 1 {
		t.Errorf("%v, marks in\n%s", err, b.String())
	}
	if text, err := json.Marshal(v); err != nil || !strings.Contains(string(text), `"inf"`) {
		t.Errorf("JSON of an unbounded figure: %s, %v", text, err)
	}
}

func TestDemo(t *testing.T) {
	dir := t.TempDir()
	began := time.Now()
	r := run(t, "demo", "--once", "--into", dir)
	if r.code != Done || r.errOut != "" {
		t.Fatalf("code %d: %s", r.code, r.errOut)
	}
	t.Logf("the demo took %v", time.Since(began))
	narrow(t, strings.ReplaceAll(r.out, dir, "."))
	only(t, dir, "demo-yard")
	only(t, filepath.Join(dir, "demo-yard"), examples.Order()...)
	for _, word := range []string{"What to try next", "hackle year " + filepath.Join(dir, "demo-yard"), "comes", "invented", "15 October 2025 to 15 April 2026", "In summer the brood nest"} {
		if !strings.Contains(r.out, word) {
			t.Errorf("no %q in\n%s", word, r.out)
		}
	}
	// The second takes the next name, also beside a file, and touches nothing.
	if err := os.WriteFile(filepath.Join(dir, "demo-yard-2"), []byte("mine"), 0o644); err != nil {
		t.Fatal(err)
	}
	mine := filepath.Join(dir, "demo-yard", examples.Order()[0])
	if err := os.WriteFile(mine, []byte("changed"), 0o644); err != nil {
		t.Fatal(err)
	}
	again := run(t, "demo", "--once", "--into", dir, "--json")
	if again.code != Done {
		t.Fatalf("code %d: %s", again.code, again.errOut)
	}
	only(t, dir, "demo-yard", "demo-yard-2", "demo-yard-3")
	if text, err := os.ReadFile(mine); err != nil || string(text) != "changed" {
		t.Errorf("the first yard is %q (%v)", text, err)
	}
	v := tree(t, again.out)
	need(t, v, "folder", "files.6", "hives.6.honey.burned_kg", "differences.5.honey", "summer", "next.0")
	if got, _ := at(v, "folder"); got != filepath.Join(dir, "demo-yard-3") {
		t.Errorf("folder %v", got)
	}
	for _, name := range examples.Order() {
		text, err := fs.ReadFile(examples.Files(), name)
		if err != nil {
			t.Fatal(err)
		}
		if written, err := os.ReadFile(filepath.Join(dir, "demo-yard-3", name)); err != nil || !bytes.Equal(written, text) {
			t.Errorf("%s is not the example (%v)", name, err)
		}
		if !bytes.Contains(text, []byte("Invented.")) {
			t.Errorf("%s does not say that it is invented", name)
		}
	}
	for _, into := range []string{filepath.Join(dir, "none"), filepath.Join(dir, "demo-yard-2")} {
		if r := run(t, "demo", "--once", "--into", into); r.code != BadInput {
			t.Errorf("--into %s: code %d", into, r.code)
		}
	}
	only(t, dir, "demo-yard", "demo-yard-2", "demo-yard-3")
}

func TestExamplesAreInOrder(t *testing.T) {
	names, err := fs.Glob(examples.Files(), "*.yaml")
	if err != nil {
		t.Fatal(err)
	}
	order := slices.Sorted(slices.Values(examples.Order()))
	if !slices.Equal(names, order) {
		t.Errorf("the order names %v, the folder has %v", order, names)
	}
}

func TestCancelled(t *testing.T) {
	dir := t.TempDir()
	hiveFile := example(t, 0)
	done, cancel := context.WithCancel(context.Background())
	cancel()
	if r := runIn(t, done, "version"); r.code != Interrupted || r.out != "" {
		t.Errorf("before it began: code %d", r.code)
	}
	for _, args := range [][]string{
		{"demo", "--once", "--into", dir},
		{"year", hiveFile, "--weather", "burlington-vt", "--from", "2026-01-01", "--to", "2060-01-01", "--trace", filepath.Join(dir, "hours.csv")},
		{"compare", hiveFile, hiveFile, "--weather", "burlington-vt", "--from", "2026-01-01", "--to", "2060-01-01"},
	} {
		ctx, cancel := context.WithTimeout(context.Background(), 200*time.Millisecond)
		r := runIn(t, ctx, args...)
		cancel()
		if r.code != Interrupted || r.out != "" || !strings.Contains(r.errOut, "stopped") || strings.Count(r.errOut, "\n") != 1 {
			t.Errorf("%s: code %d, out %.100q, err %q", args[0], r.code, r.out, r.errOut)
		}
	}
	only(t, dir)
}

// broken fails or panics when written to.
type broken struct{ panics bool }

func (b broken) Write([]byte) (int, error) {
	if b.panics {
		panic("boom")
	}
	return 0, errors.New("no room")
}

func TestFaultsOfTheProgram(t *testing.T) {
	for _, out := range []broken{{false}, {true}} {
		var errOut bytes.Buffer
		code := Run(context.Background(), []string{"version"}, strings.NewReader(""), out, &errOut)
		if code != Internal || strings.Count(errOut.String(), "\n") != 1 || strings.Contains(errOut.String(), "goroutine") {
			t.Errorf("%+v: code %d, %q", out, code, errOut.String())
		}
	}
}

func TestExitCodes(t *testing.T) {
	for _, c := range []struct {
		err  error
		code int
	}{
		{nil, Done},
		{errors.New("a file is not there"), BadInput},
		{fmt.Errorf("%w: no bees", season.ErrInput), BadInput},
		{fmt.Errorf("wrapped: %w", &answer.Fault{Err: errors.New("singular")}), Internal},
		{context.Canceled, Interrupted},
		{fmt.Errorf("wrapped: %w", badNews("wet")), BadNews},
	} {
		if got := exitCode(c.err); got != c.code {
			t.Errorf("%v: code %d, want %d", c.err, got, c.code)
		}
	}
}

func TestUsage(t *testing.T) {
	for _, args := range [][]string{{"fly"}, {"year"}, {"year", "a", "b"}, {"--no-such"}, {"check"}, {"compare"}, {"version", "x"}, {"weather", "x"}, {"check", "x", "--units", "imperial"}, {"demo", "x"}} {
		if r := run(t, args...); r.code != BadInput || r.out != "" || strings.Count(r.errOut, "\n") != 1 || !strings.HasPrefix(r.errOut, "hackle: ") {
			t.Errorf("%v: code %d, out %.100q, err %q", args, r.code, r.out, r.errOut)
		}
	}
	if r := run(t); r.code != Done || !strings.Contains(r.out, "Examples:") {
		t.Errorf("no arguments: code %d, %q", r.code, r.out)
	}
	v := tree(t, run(t, "version", "--json").out)
	need(t, v, "version", "go", "revision")
	keys := run(t, "year", "--keys")
	narrow(t, keys.out)
	if keys.code != Done || !strings.Contains(keys.out, "honey.burned_kg [kg]") {
		t.Errorf("--keys: code %d, %.200q", keys.code, keys.out)
	}
}

func TestEveryCommandHasHelp(t *testing.T) {
	p := &program{stdin: strings.NewReader(""), stdout: io.Discard, stderr: io.Discard}
	found := map[string]bool{}
	var walk func(c *cobra.Command)
	walk = func(c *cobra.Command) {
		path := strings.Fields(c.CommandPath())[1:]
		r := run(t, append(path, "--help")...)
		if r.code != Done || !strings.Contains(r.out, "Examples:\n  ") || !strings.Contains(r.out, "hackle "+strings.Join(path, " ")) {
			t.Errorf("hackle %s --help: code %d, out\n%s", strings.Join(path, " "), r.code, r.out)
		}
		if c.Long == "" {
			t.Errorf("hackle %s explains nothing", strings.Join(path, " "))
		}
		narrow(t, c.Long)
		found[strings.Join(path, " ")] = true
		for _, s := range c.Commands() {
			walk(s)
		}
	}
	walk(p.root())
	for _, name := range []string{"demo", "check", "year", "compare", "heater", "weather show", "verify", "completion", "version"} {
		if !found[name] {
			t.Errorf("no command %s", name)
		}
		if name == "completion" {
			continue
		}
		c, _, err := p.root().Find(strings.Fields(name))
		if err != nil || c.Flags().Lookup("json") == nil || c.Flags().Lookup("units") == nil {
			t.Errorf("%s lacks --json or --units (%v)", name, err)
		}
	}
	if r := run(t, "completion", "bash"); r.code != Done || !strings.Contains(r.out, "hackle") {
		t.Errorf("completion: code %d", r.code)
	}
}

// Running twice gives the same bytes.
func TestSameInputSameOutput(t *testing.T) {
	args := with(fortnight, "compare", example(t, 0), example(t, 2), "--json", "--to", "2026-01-18")
	if a, b := run(t, args...), run(t, args...); a.out != b.out || a.code != Done {
		t.Errorf("two runs differ, codes %d and %d", a.code, b.code)
	}
}
