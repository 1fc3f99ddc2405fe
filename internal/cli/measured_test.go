package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"testing"
	"time"

	"hackle/climate"
	"hackle/colony"
	"hackle/fit"
	"hackle/internal/answer"
	"hackle/logger"
	"hackle/season"
)

// measuredYard writes what a keeper has after four weeks, all of it invented: the
// hive file, the weather of those days, and a logger's file made by the engine with
// another shell and bees than described, every half hour.
func measuredYard(t *testing.T) (hiveFile string) {
	t.Helper()
	text, err := os.ReadFile(example(t, 0))
	if err != nil {
		t.Fatal(err)
	}
	t.Chdir(t.TempDir())
	write := func(name string, b []byte) {
		t.Helper()
		if err := os.WriteFile(name, b, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	write("oak.yaml", text)
	plan, _, err := answer.ReadHive("oak.yaml", bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	w, err := climate.Load("burlington-vt")
	if err != nil {
		t.Fatal(err)
	}
	from := time.Date(2025, 11, 20, 0, 0, 0, 0, w.Location())
	if w, err = w.Window(from, from.AddDate(0, 0, 21)); err != nil {
		t.Fatal(err)
	}
	w.Typical = false
	var epw bytes.Buffer
	if err := climate.WriteEPW(&epw, w); err != nil {
		t.Fatal(err)
	}
	write("weather.epw", epw.Bytes())
	truth := fit.Factors{Shell: 1.25, Leak: 1, Bees: 0.9}
	tr, err := season.Run(context.Background(), season.Input{Plan: truth.Plan(plan), Weather: w, Biology: truth.Biology(colony.DefaultBiology())}, nil)
	if err != nil {
		t.Fatal(err)
	}
	sensors := []fit.Series{
		{Name: "low", Quantity: logger.Temperature, Place: fit.Inside, Height: 0.05, Column: "flank"},
		{Name: "top", Quantity: logger.Temperature, Place: fit.Inside, Height: 0.48, Column: "flank"},
		{Name: "kg", Quantity: logger.Weight, Place: fit.Scale},
	}
	rng := rand.New(rand.NewPCG(1, 1))
	var values [3][]float64
	for i := range sensors {
		if values[i], _, err = fit.ComputedAt(tr, &sensors[i]); err != nil {
			t.Fatal(err)
		}
	}
	var b strings.Builder
	b.WriteString("Time;T low;T top;Weight\n")
	eastern, err := time.LoadLocation("America/New_York")
	if err != nil {
		t.Fatal(err)
	}
	for k := range tr.Hours * 2 {
		h := k / 2
		kg := values[2][h] + 31 + 0.02*rng.NormFloat64()
		if h >= 300 {
			kg += 4.5 // fondant and a rim, put on
		}
		fmt.Fprintf(&b, "%s;%.1f;%.1f;%.2f\n", w.Start.Add(time.Duration(k)*30*time.Minute).In(eastern).Format("02.01.2006 15:04"),
			values[0][h]*1.8+32+0.3*rng.NormFloat64(), values[1][h]*1.8+32+0.3*rng.NormFloat64(), kg)
	}
	write("oak.csv", []byte(b.String()))
	write("map.yaml", []byte(`version: 1
separator: ";"
time: {column: Time, layout: DD.MM.YYYY hh:mm, zone: America/New_York}
columns:
  - {column: T low, sensor: low, quantity: temperature, unit: °F}
  - {column: T top, sensor: top, quantity: temperature, unit: °F, faults: [-196.6]}
  - {column: Weight, sensor: kg, quantity: weight, unit: kg}
`))
	return "oak.yaml"
}

// TestMeasuredAndFit goes the way of a keeper: take in the logs, say where the
// sensors hang, compare, fit, keep, run again.
func TestMeasuredAndFit(t *testing.T) {
	file := measuredYard(t)
	t.Setenv("XDG_DATA_HOME", t.TempDir())
	do := func(args ...string) string {
		t.Helper()
		r := run(t, args...)
		if r.code != Done || r.errOut != "" {
			t.Fatalf("%v: code %d, %s", args, r.code, r.errOut)
		}
		return r.out
	}
	refuse := func(want string, args ...string) {
		t.Helper()
		if r := run(t, args...); r.code != BadInput || !strings.Contains(r.errOut, want) {
			t.Errorf("%v: code %d, %q; wanted %q", args, r.code, r.errOut, want)
		}
	}
	do("yard", "add", "yard", "Invented orchard")
	do("yard", "add", "hive", "Oak", "--build", file, "--from", "2025-10-01")
	refuse("no such map (none is saved), and no such file", "logger", "import", "oak.csv", "--map", "oak")
	do("logger", "map", "oak", "map.yaml")
	if out := do("logger", "import", "oak.csv", "--map", "oak"); !strings.Contains(out, "3024 new") || !strings.Contains(out, "New sensors: low, top and kg") {
		t.Errorf("taken in: %s", out)
	}
	if out := do("logger", "import", "oak.csv", "--map", "oak"); !strings.Contains(out, "0 new, 3024 there already") {
		t.Errorf("taken in again: %s", out)
	}
	refuse("column names: found \"version: 1\"", "logger", "import", file, "--map", "map.yaml")
	refuse("no sensor \"tap\"", "logger", "place", "tap", "outdoors")
	refuse("accepted: inside with its height", "logger", "place", "top", "inside")
	do("logger", "place", "low", "inside 50 mm flank", "--hive", "Oak")
	do("logger", "place", "top", "inside 480 mm flank", "--hive", "Oak")
	do("logger", "place", "kg", "scale", "--hive", "Oak")
	if out := do("logger", "list"); !strings.Contains(out, "inside 480 mm flank, Oak") {
		t.Errorf("listed: %s", out)
	}
	if out := do("logger", "steps", "kg"); !strings.Contains(out, "+4.5 kg  something put on") {
		t.Errorf("steps: %s", out)
	}
	if out := do("logger", "view", "top", "--from", "2025-11-21", "--to", "2025-11-22"); strings.Count(out, "\n") != 4 {
		t.Errorf("viewed: %s", out)
	}
	if out := do("logger", "export", "top"); !strings.HasPrefix(out, "time,value [°C]\n2025-11-20T05:00:00Z,") {
		t.Errorf("exported: %.60s", out)
	}
	refuse("a typical year", "measured", "--hive", "Oak", "--weather", "burlington-vt")
	refuse("lies before", "measured", "--hive", "Oak", "--weather", "weather.epw", "--from", "2025-11-20", "--to", "2025-11-19")
	days := []string{"--weather", "weather.epw", "--from", "2025-11-20", "--to", "2025-12-10"}

	var doc answer.MeasuredHive
	out := do(append([]string{"measured", "--hive", "Oak", "--picture", "oak.svg", "--json"}, days...)...)
	if err := json.Unmarshal([]byte(out), &doc); err != nil {
		t.Fatal(err)
	}
	if len(doc.Sensors) != 3 || len(doc.Steps) != 1 || math.Abs(doc.Steps[0].Change-4.5) > 0.1 || len(doc.Hints) == 0 {
		t.Errorf("compared: %s", out)
	}
	if svg, err := os.ReadFile("oak.svg"); err != nil || !bytes.Contains(svg, []byte("<title")) || bytes.Contains(svg, []byte("NaN")) {
		t.Errorf("picture of %d bytes, %v", len(svg), err)
	}
	// The same by reading the log directly.
	direct := do(append([]string{"measured", file, "--log", "oak.csv", "--map", "map.yaml", "--sensor", "low = inside 50 mm flank", "--sensor", "top=inside 480 mm flank", "--sensor", "kg=scale", "--json"}, days...)...)
	var second answer.MeasuredHive
	if err := json.Unmarshal([]byte(direct), &second); err != nil {
		t.Fatal(err)
	}
	for i := range doc.Sensors {
		a, b := doc.Sensors[i], second.Sensors[slicesIndex(second.Sensors, doc.Sensors[i].Name)]
		if math.Abs(a.RMSE-b.RMSE) > 1e-3 {
			t.Errorf("%s: %g by the yard file, %g by the log", a.Name, a.RMSE, b.RMSE)
		}
	}
	out = do(append([]string{"fit", file, "--hive", "Oak", "--keep", "--json"}, days...)...)
	if err := json.Unmarshal([]byte(out), &doc); err != nil {
		t.Fatal(err)
	}
	for i, want := range []float64{1.25, 1, 0.9} {
		f := doc.Fit.Factors[i]
		if f.Low > want || f.High < want {
			t.Errorf("%s %.3f (%.3f to %.3f), made with %g", f.Name, f.Value, f.Low, f.High, want)
		}
	}
	text, err := os.ReadFile(file)
	if err != nil || !bytes.Contains(text, []byte("\nmeasured:\n  shell: ")) {
		t.Errorf("%v: %s", err, text)
	}
	if out := do("year", file, "--weather", "weather.epw", "--from", "2025-11-20", "--to", "2025-11-22"); !strings.Contains(strings.Join(strings.Fields(out), " "), "runs with its own measured numbers: shell 1") {
		t.Errorf("a run of the fitted hive: %s", out)
	}
	if out := do("logger", "remove", "low", "--sure"); !strings.Contains(out, "1008 readings") {
		t.Errorf("removed: %s", out)
	}
}

func slicesIndex(list []answer.MatchedSensor, name string) int {
	for i, v := range list {
		if v.Name == name {
			return i
		}
	}
	return -1
}

// TestHeaterLog analyses an invented test, keeps its result, and refuses what does
// not fit together.
func TestHeaterLog(t *testing.T) {
	text, err := os.ReadFile(example(t, 0))
	if err != nil {
		t.Fatal(err)
	}
	t.Chdir(t.TempDir())
	if err := os.WriteFile("h.yaml", text, 0o644); err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(2, 2))
	var b strings.Builder
	b.WriteString("time,heater [W],outside [°C],inside 50 mm [°C],inside 240 mm [°C],inside 480 mm [°C],phase\n")
	for i := range 80 * 12 {
		warm := 1 - math.Exp(-float64(i)/30)
		fmt.Fprintf(&b, "%s,20.0,%.2f", testDay.Add(time.Duration(i)*5*time.Minute).Format("2006-01-02 15:04"), 1+0.05*rng.NormFloat64())
		for _, x := range []float64{2.5, 6.5, 11} {
			fmt.Fprintf(&b, ",%.2f", 1+x*warm+0.05*rng.NormFloat64())
		}
		b.WriteString(",plain\n")
	}
	if err := os.WriteFile("test.csv", []byte(b.String()), 0o644); err != nil {
		t.Fatal(err)
	}
	r := run(t, "heater", "h.yaml", "--log", "test.csv", "--json", "--keep")
	if r.code != Done {
		t.Fatal(r.errOut)
	}
	var doc answer.HeaterTest
	if err := json.Unmarshal([]byte(r.out), &doc); err != nil {
		t.Fatal(err)
	}
	p := doc.Phases[0]
	// The three stand for 145, 215 and the rest of 498 mm.
	want := 20 / ((2.5*145 + 6.5*215 + 11*138) / 498)
	if math.Abs(p.Conductance.Value/want-1) > 0.01 || p.Sensors[2].Alone == nil || p.Sensors[2].Alone.Value > 0.8*p.Conductance.Value {
		t.Errorf("%+v, wanted %.3f", p.Conductance, want)
	}
	plain := run(t, "heater", "h.yaml", "--log", "test.csv")
	if plain.code != Done || !strings.Contains(strings.Join(strings.Fields(plain.out), " "), "The topmost thermometer alone would have said") {
		t.Error(plain.out, plain.errOut)
	}
	kept, err := os.ReadFile("h.yaml")
	if err != nil || !bytes.Contains(kept, []byte("heater test plain")) || !bytes.HasPrefix(kept, text[:200]) {
		t.Errorf("%v: %s", err, kept)
	}
	if r := run(t, "heater", "h.yaml", "--protocol", "--empty"); r.code != Done || !strings.Contains(r.out, "no flame") {
		t.Error(r.out, r.errOut)
	}
	for want, args := range map[string][]string{
		"give --log alone":    {"--log", "test.csv", "--watts", "5"},
		"give --log too":      {"--watts", "5", "--outside", "2C", "--keep"},
		"accepted: one of":    {"--log", "test.csv", "--protocol"},
		"--phase \"x\"":       {"--log", "test.csv", "--keep", "--phase", "x"},
		"--sensor-error 50 K": {"--log", "test.csv", "--sensor-error", "50 K"},
		"no such file":        {"--log", "none.csv"},
	} {
		if r := run(t, append([]string{"heater", "h.yaml"}, args...)...); r.code != BadInput || !strings.Contains(r.errOut, want) {
			t.Errorf("%v: code %d, %q; wanted %q", args, r.code, r.errOut, want)
		}
	}
}

var testDay = time.Date(2026, 1, 20, 18, 0, 0, 0, time.UTC)
