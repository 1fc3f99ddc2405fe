package store

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"hackle/logger"
)

func loggerMap(t testing.TB, columns string) *logger.Map {
	t.Helper()
	m, err := logger.ParseMap([]byte("version: 1\ntime: {column: time, zone: UTC}\ncolumns:\n" + columns))
	if err != nil {
		t.Fatal(err)
	}
	return m
}

const oneColumn = "  - {column: T, sensor: top, quantity: temperature, unit: °C}\n"

// rowsOf writes a row every step from a time on.
func rowsOf(from time.Time, n int, step time.Duration, value func(i int) float64) string {
	var b strings.Builder
	b.WriteString("time,T\n")
	for i := range n {
		fmt.Fprintf(&b, "%s,%.2f\n", from.Add(time.Duration(i)*step).Format("2006-01-02T15:04"), value(i))
	}
	return b.String()
}

func take(t *testing.T, s *Store, text string, m *logger.Map, o ImportOptions) *Imported {
	t.Helper()
	r, err := s.ImportReadings(t.Context(), "log.csv", strings.NewReader(text), m, o)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func sensorNamed(t *testing.T, s *Store, name string) Sensor {
	t.Helper()
	all, err := s.Sensors(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, v := range all {
		if v.Name == name {
			return v
		}
	}
	t.Fatalf("no sensor %q", name)
	return Sensor{}
}

func TestImportMergesOverlappingPeriods(t *testing.T) {
	s := open(t, Options{})
	m := loggerMap(t, oneColumn)
	start := time.Date(2025, 1, 20, 0, 0, 0, 0, time.UTC)
	value := func(i int) float64 { return float64(i%500) / 10 }
	const step = 5 * time.Minute
	late := rowsOf(start.Add(3000*step), 6000, step, func(i int) float64 { return value(i + 3000) })
	if r := take(t, s, late, m, ImportOptions{}); r.Added != 6000 || len(r.NewSensors) != 1 {
		t.Fatalf("%+v", r)
	}
	if r := take(t, s, rowsOf(start, 5000, step, value), m, ImportOptions{}); r.Added != 3000 || r.Same != 2000 || r.Differing != 0 || len(r.NewSensors) != 0 {
		t.Fatalf("%+v", r)
	}
	if r := take(t, s, late, m, ImportOptions{}); r.Added != 0 || r.Same != 6000 {
		t.Fatalf("the same file again: %+v", r)
	}
	// Another value for what is there: kept as it was, or replaced when asked.
	other := rowsOf(start.Add(10*step), 1, step, func(int) float64 { return -5 })
	if r := take(t, s, other, m, ImportOptions{}); r.Differing != 1 {
		t.Fatalf("%+v", r)
	}
	v := sensorNamed(t, s, "top")
	all, err := s.Readings(t.Context(), v.ID, 0, math.MaxInt64)
	if err != nil {
		t.Fatal(err)
	}
	if len(all) != 9000 || v.Readings != 9000 || v.First != start.Unix() || v.Last != start.Add(8999*step).Unix() {
		t.Fatalf("%d readings, sensor %+v", len(all), v)
	}
	for i, r := range all {
		if r.At != start.Add(time.Duration(i)*step).Unix() || r.Value != value(i) {
			t.Fatalf("reading %d is %+v", i, r)
		}
	}
	take(t, s, other, m, ImportOptions{Replace: true})
	some, err := s.Readings(t.Context(), v.ID, start.Add(10*step).Unix(), start.Add(11*step).Unix())
	if err != nil || len(some) != 1 || some[0].Value != -5 {
		t.Fatalf("%v %v", some, err)
	}
	hours, err := s.HoursOf(t.Context(), []int64{v.ID}, start.Unix(), start.Add(2*time.Hour).Unix())
	if err != nil || len(hours[0]) != 2 || hours[0][0].Count != 12 || hours[0][0].Least != -5 || hours[0][0].Most != 1.1 {
		t.Fatalf("%+v %v", hours, err)
	}
	files, err := s.LoggerFiles(t.Context())
	if err != nil || len(files) != 5 {
		t.Errorf("%d files, %v", len(files), err)
	}
}

func TestImportIsWholeOrNothing(t *testing.T) {
	s := open(t, Options{})
	m := loggerMap(t, oneColumn)
	start := time.Date(2025, 1, 20, 0, 0, 0, 0, time.UTC)
	good := rowsOf(start, 5000, time.Minute, func(int) float64 { return 1 })
	for name, r := range map[string]io.Reader{
		"rubbish at the end":  strings.NewReader(good + strings.Repeat("x,y\n", 500)),
		"a reader that fails": io.MultiReader(strings.NewReader(good), failing{}),
	} {
		if _, err := s.ImportReadings(t.Context(), name, r, m, ImportOptions{}); err == nil {
			t.Errorf("%s: taken in", name)
		}
	}
	ctx, cancel := context.WithCancel(t.Context())
	_, err := s.ImportReadings(ctx, "cancelled", io.MultiReader(strings.NewReader(good), cancelling{cancel}), m, ImportOptions{})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
	all, err := s.Sensors(t.Context())
	if err != nil || len(all) != 0 {
		t.Errorf("%d sensors left, %v", len(all), err)
	}
}

type failing struct{}

func (failing) Read([]byte) (int, error) { return 0, errors.New("the stick was pulled out") }

type cancelling struct{ cancel context.CancelFunc }

func (c cancelling) Read([]byte) (int, error) { c.cancel(); return 0, io.EOF }

func TestLiveReadings(t *testing.T) {
	s := open(t, Options{})
	start := time.Date(2025, 3, 1, 0, 0, 0, 0, time.UTC)
	live := func(i int) Live {
		return Live{"oak", logger.Weight, logger.Reading{At: start.Add(time.Duration(i) * time.Minute).Unix(), Value: 40 + float64(i)/100}}
	}
	for i := 0; i < longestTail+100; i += 50 {
		var some []Live
		for j := i; j < i+50; j++ {
			some = append(some, live(j))
		}
		for range 2 { // sent twice
			if err := s.AddLive(t.Context(), some); err != nil {
				t.Fatal(err)
			}
		}
	}
	v := sensorNamed(t, s, "oak")
	want := (longestTail + 100 + 49) / 50 * 50
	got, err := s.Readings(t.Context(), v.ID, 0, math.MaxInt64)
	if err != nil || len(got) != want || v.Readings != int64(want) {
		t.Fatalf("%d readings, sensor %+v, %v, wanted %d", len(got), v, err, want)
	}
	// A file with what came in live already adds nothing twice.
	m := loggerMap(t, "  - {column: T, sensor: oak, quantity: weight, unit: kg}\n")
	take(t, s, rowsOf(start, want+10, time.Minute, func(i int) float64 { return 40 + float64(i)/100 }), m, ImportOptions{})
	v = sensorNamed(t, s, "oak")
	if v.Readings != int64(want+10) {
		t.Errorf("%d readings, wanted %d", v.Readings, want+10)
	}
	if err := s.AddLive(t.Context(), []Live{live(5)}); err != nil {
		t.Fatal(err)
	}
	if v = sensorNamed(t, s, "oak"); v.Readings != int64(want+10) {
		t.Errorf("a late message counts twice: %d", v.Readings)
	}
	hours, err := s.HoursOf(t.Context(), []int64{v.ID}, start.Unix(), start.Unix()+3600)
	if err != nil || len(hours[0]) != 1 || hours[0][0].Count != 60 {
		t.Errorf("%+v %v", hours, err)
	}
}

func TestPlacements(t *testing.T) {
	s := open(t, Options{})
	_, hives, _ := furnish(t, s)
	take(t, s, rowsOf(time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC), 10, time.Hour, func(int) float64 { return 1 }), loggerMap(t, oneColumn), ImportOptions{})
	v := sensorNamed(t, s, "top")
	inside := Placement{Since: 1000, Hive: hives[0].ID, Place: Inside, Height: 0.42, Column: "core"}
	for _, p := range []Placement{inside, {Since: 2000, Place: Outdoors}, {Since: 1000, Hive: hives[1].ID, Place: OnScale}} {
		if err := s.PlaceSensor(t.Context(), v.ID, p); err != nil {
			t.Fatal(err)
		}
	}
	v = sensorNamed(t, s, "top")
	if len(v.Places) != 2 || v.Places[0].Place != OnScale {
		t.Errorf("%+v", v.Places)
	}
	if p, ok := v.At(1500); !ok || p.Place != OnScale {
		t.Errorf("at 1500: %+v", p)
	}
	if _, ok := v.At(500); ok {
		t.Error("a place before the first")
	}
	for name, p := range map[string]Placement{
		"inside nothing":   {Place: Inside, Column: "core"},
		"no column":        {Place: Inside, Hive: hives[0].ID},
		"too high":         {Place: Inside, Hive: hives[0].ID, Column: "core", Height: 5},
		"an unknown place": {Place: "cellar"},
		"a hive not there": {Place: OnScale, Hive: newID(t)},
		"height outdoors":  {Place: Outdoors, Height: 1},
	} {
		if err := s.PlaceSensor(t.Context(), v.ID, p); err == nil {
			t.Errorf("%s: taken", name)
		}
	}
	if err := s.PlaceSensor(t.Context(), 999, inside); !errors.Is(err, NotFound) {
		t.Errorf("no sensor: %v", err)
	}
	if err := s.RenameSensor(t.Context(), v.ID, "under the lid"); err != nil {
		t.Fatal(err)
	}
	if err := s.RemoveSensor(t.Context(), sensorNamed(t, s, "under the lid").ID); err != nil {
		t.Fatal(err)
	}
	if err := s.RemoveSensor(t.Context(), v.ID); !errors.Is(err, NotFound) {
		t.Errorf("removed twice: %v", err)
	}
	var left int
	if err := s.read.QueryRow("SELECT (SELECT count(*) FROM reading_block) + (SELECT count(*) FROM hour_block) + (SELECT count(*) FROM placement)").Scan(&left); err != nil || left != 0 {
		t.Errorf("%d rows left, %v", left, err)
	}
}

func TestLoggerMaps(t *testing.T) {
	s := open(t, Options{})
	const text = "version: 1\ntime: {column: t, zone: UTC}\ncolumns: [{column: v, sensor: s, quantity: temperature, unit: °C}]\n"
	if err := s.SetLoggerMap(t.Context(), "barn", text); err != nil {
		t.Fatal(err)
	}
	if err := s.SetLoggerMap(t.Context(), "bad", "version: 9\n"); !errors.Is(err, Refused) {
		t.Errorf("a map that cannot be read with: %v", err)
	}
	got, err := s.LoggerMap(t.Context(), "Barn")
	if err != nil || got != text {
		t.Errorf("%q %v", got, err)
	}
	if _, err := s.LoggerMap(t.Context(), "none"); !errors.Is(err, NotFound) {
		t.Errorf("%v", err)
	}
	if names, err := s.LoggerMaps(t.Context()); err != nil || len(names) != 1 {
		t.Errorf("%q %v", names, err)
	}
}

// TestWrittenReadingsComeBack: what is written as CSV is read back without loss.
func TestWrittenReadingsComeBack(t *testing.T) {
	s := open(t, Options{})
	take(t, s, rowsOf(time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC), 3000, 7*time.Minute, func(i int) float64 { return float64(i%77)/7 - 3 }), loggerMap(t, oneColumn), ImportOptions{})
	v := sensorNamed(t, s, "top")
	var out bytes.Buffer
	if err := s.WriteReadings(t.Context(), &out, v, 0, math.MaxInt64); err != nil {
		t.Fatal(err)
	}
	m := loggerMap(t, "  - {column: \"value [°C]\", sensor: again, quantity: temperature, unit: °C}\n")
	if r := take(t, s, out.String(), m, ImportOptions{}); r.Added != 3000 {
		t.Fatalf("%+v", r)
	}
	a, err := s.Readings(t.Context(), v.ID, 0, math.MaxInt64)
	if err != nil {
		t.Fatal(err)
	}
	b, err := s.Readings(t.Context(), sensorNamed(t, s, "again").ID, 0, math.MaxInt64)
	if err != nil || len(a) != len(b) {
		t.Fatal(len(a), len(b), err)
	}
	for i := range a {
		if a[i] != b[i] {
			t.Fatalf("%+v comes back as %+v", a[i], b[i])
		}
	}
}

// tenYears writes ten years of readings every five minutes: one file a sensor.
func tenYears(b *testing.B, dir string, sensor int) string {
	b.Helper()
	path := filepath.Join(dir, fmt.Sprintf("sensor-%d.csv", sensor))
	f, err := os.Create(path)
	if err != nil {
		b.Fatal(err)
	}
	w := bufio.NewWriterSize(f, 1<<20)
	fmt.Fprintln(w, "time,T")
	at := time.Date(2015, 1, 1, 0, 0, 0, 0, time.UTC)
	for i := range 10 * 365 * 288 {
		day, year := float64(i)/288, float64(i)/288/365.25
		v := 10 - 10*math.Cos(2*math.Pi*year) + 4*math.Sin(2*math.Pi*day) + 0.3*math.Sin(float64(i*(sensor+7)%9973))
		fmt.Fprintf(w, "%s,%.1f\n", at.Format("2006-01-02T15:04"), v)
		at = at.Add(5 * time.Minute)
	}
	if err := errors.Join(w.Flush(), f.Close()); err != nil {
		b.Fatal(err)
	}
	return path
}

// BenchmarkTenYears takes in ten years of readings every five minutes of twenty
// sensors, 21 million rows, and then reads the year view: the hours of one year of
// all sensors. It needs 600 MB beside it and takes half a minute; run it with
// -benchtime 1x.
func BenchmarkTenYears(b *testing.B) {
	const sensors = 20
	files := make([]string, sensors)
	dir := b.TempDir()
	for i := range files {
		files[i] = tenYears(b, dir, i)
	}
	for b.Loop() {
		s, err := Open(b.Context(), filepath.Join(b.TempDir(), "yard.sqlite"), Options{})
		if err != nil {
			b.Fatal(err)
		}
		rows := 0
		begin := time.Now()
		for i, path := range files {
			f, err := os.Open(path)
			if err != nil {
				b.Fatal(err)
			}
			m := loggerMap(b, fmt.Sprintf("  - {column: T, sensor: sensor %d, quantity: temperature, unit: °C}\n", i))
			r, err := s.ImportReadings(b.Context(), path, f, m, ImportOptions{})
			if err != nil {
				b.Fatal(err)
			}
			f.Close()
			rows += r.Rows
		}
		b.ReportMetric(float64(rows)/time.Since(begin).Seconds(), "rows/s")
		b.ReportMetric(float64(rows), "rows")
		s.Close()
		// The view is opened as a user opens it: a fresh start of the program's store.
		begin = time.Now()
		if s, err = Open(b.Context(), s.Path(), Options{Existing: true}); err != nil {
			b.Fatal(err)
		}
		all, err := s.Sensors(b.Context())
		if err != nil {
			b.Fatal(err)
		}
		ids := make([]int64, len(all))
		for i, v := range all {
			ids[i] = v.ID
		}
		from := time.Date(2022, 1, 1, 0, 0, 0, 0, time.UTC)
		hours, err := s.HoursOf(b.Context(), ids, from.Unix(), from.AddDate(1, 0, 0).Unix())
		if err != nil {
			b.Fatal(err)
		}
		view := time.Since(begin)
		n := 0
		for _, h := range hours {
			n += len(h)
		}
		if n != sensors*8760 {
			b.Fatalf("%d hours", n)
		}
		b.ReportMetric(float64(view.Microseconds())/1000, "ms/view")
		info, err := os.Stat(s.Path())
		if err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(float64(info.Size())/float64(rows), "bytes/row")
		s.Close()
	}
}
