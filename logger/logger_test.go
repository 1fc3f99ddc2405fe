package logger

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"
	"time"
)

// kept is a sink that keeps everything.
type kept struct {
	names    []string
	readings [][]Reading
}

func (k *kept) Sensor(name string, _ Quantity) (int, error) {
	k.names = append(k.names, name)
	k.readings = append(k.readings, nil)
	return len(k.names) - 1, nil
}

func (k *kept) Add(s int, r Reading) error {
	k.readings[s] = append(k.readings[s], r)
	return nil
}

func (k *kept) of(t *testing.T, name string) []Reading {
	t.Helper()
	for i, n := range k.names {
		if n == name {
			return k.readings[i]
		}
	}
	t.Fatalf("no sensor %q among %q", name, k.names)
	return nil
}

func mustMap(t testing.TB, text string) *Map {
	t.Helper()
	m, err := ParseMap([]byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func read(t *testing.T, m *Map, text string) (*kept, *Report) {
	t.Helper()
	k := &kept{}
	r, err := Read(context.Background(), "log.csv", strings.NewReader(text), m, k)
	if err != nil {
		t.Fatal(err)
	}
	return k, r
}

func TestReadWideFile(t *testing.T) {
	m := mustMap(t, `
version: 1
separator: ";"
decimal: ","
skip lines: 1
time: {columns: [Date, Time], layout: DD.MM.YYYY hh:mm, zone: "+01:00"}
columns:
  - {column: "T top", sensor: oak top, quantity: temperature, unit: °F}
  - {column: RH, sensor: oak humidity, quantity: humidity, unit: "%", faults: [-100]}
  - {column: kg, sensor: oak scale, quantity: weight, unit: kg, faults: [-0.17]}
`)
	k, r := read(t, m, "made by a logger\n\ufeffDate;Time;T top;RH;\"kg\"\n"+
		"01.02.2025;00:00;50,0;88,5;41,25\n01.02.2025;00:05;;-100;-0,17\n01.02.2025;00:10;-400;104;41,30\n")
	top := k.of(t, "oak top")
	if len(top) != 1 || top[0].At != time.Date(2025, 1, 31, 23, 0, 0, 0, time.UTC).Unix() || math.Abs(top[0].Value-10) > 1e-12 {
		t.Errorf("top %v", top)
	}
	if rh := k.of(t, "oak humidity"); len(rh) != 2 || rh[0].Value != 0.885 || rh[1].Value != 1 {
		t.Errorf("humidity %v", rh)
	}
	if kg := k.of(t, "oak scale"); len(kg) != 2 || kg[1].Value != 41.3 {
		t.Errorf("scale %v", kg)
	}
	if r.Rows != 3 || r.Readings != 5 || r.Sensors[0].Missing != 1 || r.Sensors[0].Faults != 1 || r.Sensors[1].Faults != 1 || r.Sensors[2].Faults != 1 {
		t.Errorf("report %+v", r)
	}
}

func TestReadDevices(t *testing.T) {
	m := mustMap(t, `
version: 1
time: {column: at, layout: iso, zone: UTC}
device: Device
columns:
  - {column: temp, quantity: temperature, unit: °C}
  - {column: kg, sensor: scale, quantity: weight, unit: kg}
`)
	k, _ := read(t, m, "at,Device,temp,kg\n2025-01-01T00:00:00Z,A,1.5,30\n2025-01-01 00:00,B,2.5,\n2025-01-01T01:05:00.250+01:00,A,3.5,31\n")
	a := k.of(t, "A temperature")
	if len(a) != 2 || a[1].At-a[0].At != 300 || a[1].Value != 3.5 {
		t.Errorf("A %v", a)
	}
	if b := k.of(t, "B temperature"); len(b) != 1 {
		t.Errorf("B %v", b)
	}
	if s := k.of(t, "A scale"); len(s) != 2 {
		t.Errorf("scale %v", s)
	}
}

// TestDaylightSaving: a logger whose clock follows Berlin writes the hour before
// three twice on 26 October 2025 and leaves one out on 30 March; instants stay even.
func TestDaylightSaving(t *testing.T) {
	berlin, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	m := mustMap(t, `
version: 1
time: {column: t, layout: YYYY-MM-DD hh:mm, zone: Europe/Berlin}
columns: [{column: v, sensor: s, quantity: temperature, unit: °C}]
`)
	for name, start := range map[string]time.Time{"autumn": time.Date(2025, 10, 25, 22, 0, 0, 0, time.UTC), "spring": time.Date(2025, 3, 29, 22, 0, 0, 0, time.UTC)} {
		for _, step := range []time.Duration{5 * time.Minute, time.Hour} {
			var b strings.Builder
			b.WriteString("t,v\n")
			var want []int64
			for at := start; at.Before(start.Add(8 * time.Hour)); at = at.Add(step) {
				fmt.Fprintf(&b, "%s,1\n", at.In(berlin).Format("2006-01-02 15:04"))
				want = append(want, at.Unix())
			}
			k, r := read(t, m, b.String())
			for i, x := range k.of(t, "s") {
				if x.At != want[i] {
					t.Fatalf("%s, %v: row %d at %v, wanted %v", name, step, i, time.Unix(x.At, 0).UTC(), time.Unix(want[i], 0).UTC())
				}
			}
			if name == "autumn" && (len(r.Notes) != 1 || !strings.Contains(r.Notes[0], "twice")) {
				t.Errorf("notes %q", r.Notes)
			}
		}
	}
	// A clock that does not follow summer time: an offset does it.
	m.Time.Zone = "+01:00"
	k, _ := read(t, m, "t,v\n2025-07-01 12:00,1\n")
	if at := k.readings[0][0].At; at != time.Date(2025, 7, 1, 11, 0, 0, 0, time.UTC).Unix() {
		t.Errorf("summer in standard time: %v", time.Unix(at, 0).UTC())
	}
}

func TestClockShifts(t *testing.T) {
	m := mustMap(t, `
version: 1
time:
  column: t
  layout: YYYY-MM-DD hh:mm
  zone: UTC
  shifts: [{from: 2025-03-02 10:00, add: -58 min}, {from: 2025-03-03 00:00, add: 0 min}]
columns: [{column: v, sensor: s, quantity: temperature, unit: °C}]
`)
	k, _ := read(t, m, "t,v\n2025-03-02 09:00,1\n2025-03-02 10:58,2\n2025-03-03 00:00,3\n")
	for i, want := range []string{"2025-03-02 09:00", "2025-03-02 10:00", "2025-03-03 00:00"} {
		if got := time.Unix(k.readings[0][i].At, 0).UTC().Format("2006-01-02 15:04"); got != want {
			t.Errorf("row %d at %s, wanted %s", i, got, want)
		}
	}
	_, r := read(t, m, "t,v\n2025-03-01 09:00,1\n2025-03-01 10:00,2\n2025-03-01 09:30,3\n2025-03-01 10:30,3\n")
	if len(r.Notes) != 1 || !strings.Contains(r.Notes[0], "line 4: the clock was set back by 30m") {
		t.Errorf("notes %q", r.Notes)
	}
}

func TestReadRefuses(t *testing.T) {
	const good = "version: 1\ntime: {column: t, zone: UTC}\ncolumns: [{column: v, sensor: s, quantity: temperature, unit: °C}]\n"
	m := mustMap(t, good)
	for want, text := range map[string]string{
		"log.csv: found the end of the file":          "",
		"log.csv:1: column names: found \"a\", \"b\"": "a,b\n",
		"found \"v\" twice":                           "t,v,v\n2025-01-01T00:00,1,2\n",
		"no row after the column names":               "t,v\n",
		"3 of 3 rows":                                 "t,v\n1,2\n2,3\n4,5\n",
		"the first, on line 2: s \"x\"":               "t,v\n2025-01-01T00:00,x\n",
		"of 2 rows and 0 of":                          "t,v\n2025-01-01T00:00\n2025-13-01T00:00,1\n",
		"not UTF-8":                                   "t,v\xff\n",
		"a quote without its end on the same line":    "t,v\n\"2025-01-01T00:00,1\n",
	} {
		_, err := Read(context.Background(), "log.csv", strings.NewReader(text), m, &kept{})
		var fe *FileError
		if !errors.As(err, &fe) && !strings.Contains(want, "quote") {
			t.Errorf("%q: %v", text, err)
			continue
		}
		if want == "a quote without its end on the same line" {
			continue // told among the examples
		}
		if !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, wanted %q in it", text, err, want)
		}
	}
	for want, text := range map[string]string{
		"the map is empty":  "",
		"version 2":         "version: 2\n",
		"field colums":      strings.Replace(good, "columns", "colums", 1),
		"no zone":           strings.Replace(good, ", zone: UTC", ", zone: \"\"", 1),
		"quantity \"heat\"": strings.Replace(good, "temperature", "heat", 1),
		"columns[1]: unit":  strings.Replace(good, "°C", "kg", 1),
		"no sensor":         strings.Replace(good, "sensor: s, ", "", 1),
		"layout \"YYYY\"":   strings.Replace(good, "zone: UTC", "zone: UTC, layout: YYYY", 1),
		"place of the IANA": strings.Replace(good, "zone: UTC", "zone: Europe/Nowhere", 1),
	} {
		if _, err := ParseMap([]byte(text)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, wanted %q in it", text, err, want)
		}
	}
}

func TestLongLinesAndCancel(t *testing.T) {
	m := mustMap(t, "version: 1\ntime: {column: t, zone: UTC}\ncolumns: [{column: v, sensor: s, quantity: temperature, unit: °C}]\n")
	var b strings.Builder
	b.WriteString("t,v,note\n")
	for i := range 200 {
		fmt.Fprintf(&b, "%s,1,\n", time.Unix(int64(i)*60, 0).UTC().Format("2006-01-02T15:04"))
	}
	at := time.Unix(200*60, 0).UTC().Format("2006-01-02T15:04")
	b.WriteString(at + ",1," + strings.Repeat("x", 500_000) + "\n") // longer than the buffer, read
	b.WriteString(at + ",1," + strings.Repeat("x", 2_000_000) + "\n")
	k, r := read(t, m, b.String())
	if r.BadRows != 1 || len(k.readings[0]) != 201 {
		t.Errorf("%d bad rows, %d readings", r.BadRows, len(k.readings[0]))
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Read(ctx, "x", strings.NewReader("t,v\n2025-01-01T00:00,1\n"), m, k); err != nil && !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
}

func someReadings(rng *rand.Rand, q Quantity, n int) []Reading {
	at := rng.Int64N(2e9)
	v := 20.0
	if q == Humidity || q == CO2 {
		v = 0.05
	}
	var out []Reading
	for range n {
		at += 300
		if rng.IntN(50) == 0 {
			at += rng.Int64N(86400)
		}
		v += 0.001 * v * rng.NormFloat64()
		out = append(out, Reading{at, q.Round(v)})
	}
	return out
}

func TestPackComesBack(t *testing.T) {
	p, err := NewPacker()
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(1, 2))
	for _, q := range Quantities() {
		for _, n := range []int{0, 1, 2, 3, 1000} {
			want := someReadings(rng, q, n)
			data, err := p.Pack(q, want)
			if err != nil {
				t.Fatal(err)
			}
			got, err := p.Unpack(nil, data)
			if err != nil || len(got) != len(want) || n > 0 && !reflect.DeepEqual(got, want) {
				t.Fatalf("%v, %d readings come back as %d, %v", q, n, len(got), err)
			}
			hours := Hours(want)
			data, err = p.PackHours(q, hours)
			if err != nil {
				t.Fatal(err)
			}
			back, err := p.UnpackHours(nil, data)
			if err != nil || len(back) != len(hours) {
				t.Fatalf("%v hours: %v", q, err)
			}
			for i := range back {
				a, b := back[i], hours[i]
				if a.At != b.At || a.Count != b.Count || math.Abs(a.Mean-b.Mean) > q.Resolution() || a.Least != b.Least || a.Most != b.Most {
					t.Fatalf("%v hour %+v comes back as %+v", q, b, a)
				}
			}
		}
	}
	for _, bad := range [][]Reading{{{5, 1}, {5, 2}}, {{5, 1}, {4, 2}}, {{1, math.NaN()}}, {{1, math.Inf(1)}}} {
		if _, err := p.Pack(Temperature, bad); err == nil {
			t.Errorf("packed %v", bad)
		}
	}
}

// TestPackedSize: ten years of readings every five minutes, to a tenth of a degree,
// must not need ten bytes each.
func TestPackedSize(t *testing.T) {
	p, err := NewPacker()
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(1, 2))
	var month []Reading
	for i := range 8640 {
		v := 5 + 4*math.Sin(2*math.Pi*float64(i)/288) + 0.05*rng.NormFloat64()
		month = append(month, Reading{int64(i) * 300, math.Round(v*10) / 10})
	}
	data, err := p.Pack(Temperature, month)
	if err != nil {
		t.Fatal(err)
	}
	each := float64(len(data)) / float64(len(month))
	t.Logf("%.2f bytes a reading", each)
	if each > 1.5 {
		t.Errorf("%.2f bytes a reading", each)
	}
}

func TestMerge(t *testing.T) {
	old := []Reading{{1, 1}, {3, 3}, {5, 5}}
	got, m := Merge(old, []Reading{{2, 2}, {3, 3}, {5, 9}, {6, 6}}, 0.001, false)
	if !reflect.DeepEqual(got, []Reading{{1, 1}, {2, 2}, {3, 3}, {5, 5}, {6, 6}}) || m != (Merged{2, 1, 1}) {
		t.Errorf("%v %+v", got, m)
	}
	got, m = Merge([]Reading{{1, 1}, {3, 3}}, []Reading{{3, 4}}, 0.001, true)
	if !reflect.DeepEqual(got, []Reading{{1, 1}, {3, 4}}) || m.Differing != 1 {
		t.Errorf("%v %+v", got, m)
	}
}

// scaleYear is a scale through a year: bees eat and gather, it has known steps, and
// the hive is lifted off for some minutes.
func scaleYear(step int64) (readings []Reading, steps []Step, truth []float64) {
	rng := rand.New(rand.NewPCG(9, 9))
	start := time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC).Unix()
	at := func(month time.Month, day, hour int) int64 {
		return time.Date(2025, month, day, hour, 0, 0, 0, time.UTC).Unix()
	}
	steps = []Step{{Delta: 9.5, From: at(5, 3, 14)}, {Delta: -2.2, From: at(6, 10, 11)}, {Delta: -24, From: at(7, 20, 15)}, {Delta: 12, From: at(8, 5, 18)}}
	bees := 40.0
	total := 0.0
	next := 0
	for t := start; t < start+365*86400; t += step {
		day := float64(t-start) / 86400
		rate := -0.05 // kg a day
		if day > 120 && day < 190 {
			rate = 1.2
			if h := t / 3600 % 24; h >= 9 && h < 18 {
				rate = 3.5
			}
		}
		bees += rate * float64(step) / 86400
		if next < len(steps) && t > steps[next].From {
			total += steps[next].Delta
			next++
		}
		v := bees + total + 0.02*rng.NormFloat64()
		if next < len(steps) && t > steps[next].From-15*60 && t <= steps[next].From {
			v = 3 * rng.Float64() // lifted off
		}
		readings = append(readings, Reading{t, v})
		truth = append(truth, bees)
	}
	return readings, steps, truth
}

func TestStepsOfAScale(t *testing.T) {
	readings, want, truth := scaleYear(300)
	got, net := Steps(readings, StepOptions{})
	if len(got) != len(want) {
		t.Fatalf("found %+v", got)
	}
	for i, s := range got {
		if math.Abs(s.Delta-want[i].Delta) > 0.15 || s.From > want[i].From || s.To < want[i].From {
			t.Errorf("step %d: %+.2f kg between %v and %v, wanted %+.2f at %v", i, s.Delta, time.Unix(s.From, 0).UTC(), time.Unix(s.To, 0).UTC(), want[i].Delta, time.Unix(want[i].From, 0).UTC())
		}
		if s.Guess() == "" {
			t.Error("no guess")
		}
	}
	// What is left is what the bees did.
	at := map[int64]float64{}
	for i, r := range readings {
		at[r.At] = truth[i]
	}
	worst := 0.0
	for _, r := range net {
		worst = math.Max(worst, math.Abs(r.Value-at[r.At]))
	}
	if worst > 0.4 {
		t.Errorf("the net weight is up to %.2f kg off", worst)
	}
	if len(net) < len(readings)-4*6 {
		t.Errorf("%d of %d readings left", len(net), len(readings))
	}
	// Without steps nothing is taken off, not even in the best flow.
	calm := make([]Reading, len(readings))
	for i, r := range readings {
		calm[i] = Reading{r.At, truth[i]}
	}
	if s, _ := Steps(calm, StepOptions{}); len(s) != 0 {
		t.Errorf("steps %+v in a year without any", s)
	}
	// Every twelve hours only the large ones can be told from a flow.
	coarse, _, _ := scaleYear(12 * 3600)
	if s, _ := Steps(coarse, StepOptions{}); len(s) != 3 {
		t.Errorf("every twelve hours: %+v", s)
	}
}

func TestClean(t *testing.T) {
	var rh []Reading
	for i := range 2000 {
		v := 0.9 + 0.01*math.Sin(float64(i)/20)
		switch {
		case i == 100:
			v = 0.42 // -100 % averaged into good values
		case i >= 600 && i < 1400:
			v = 1
		}
		rh = append(rh, Reading{int64(i) * 300, v})
	}
	out, doubts := Clean(Humidity, rh)
	if len(out) != 2000-1-800 || len(doubts) != 2 {
		t.Errorf("%d left, doubts %+v", len(out), doubts)
	}
	var same []Reading
	for i := range 1000 {
		same = append(same, Reading{int64(i) * 600, 4.5})
	}
	out, doubts = Clean(Temperature, same)
	if len(out) != 1000 || len(doubts) != 1 || doubts[0].LeftOut {
		t.Errorf("%d left, doubts %+v", len(out), doubts)
	}
}

func FuzzRead(f *testing.F) {
	f.Add("version: 1\ntime: {column: t, zone: Europe/Berlin}\ncolumns: [{column: v, sensor: s, quantity: temperature, unit: °F}]\n", "t,v\n2025-10-26 02:30,1\n")
	f.Add("version: 1\nseparator: tab\ndecimal: \",\"\ndevice: d\ntime: {columns: [t, u], layout: DD.MM.YY hh:mm AM, zone: +05:30, shifts: [{from: 2025-01-01, add: 1 h}]}\ncolumns: [{column: v, quantity: carbon dioxide, unit: ppm}]\n", "t\tu\td\tv\n01.02.25\t12:01 PM\tx\t800,5\n")
	f.Fuzz(func(t *testing.T, maps, text string) {
		m, err := ParseMap([]byte(maps))
		if err != nil {
			return
		}
		k := &kept{}
		r, err := Read(context.Background(), "x", strings.NewReader(text), m, k)
		if err != nil {
			return
		}
		n := 0
		for _, s := range k.readings {
			for _, x := range s {
				if math.IsNaN(x.Value) || math.IsInf(x.Value, 0) {
					t.Fatalf("reading %v", x)
				}
				n++
			}
		}
		if n != r.Readings {
			t.Fatalf("%d readings, report says %d", n, r.Readings)
		}
	})
}

func FuzzUnpack(f *testing.F) {
	p, err := NewPacker()
	if err != nil {
		f.Fatal(err)
	}
	data, _ := p.Pack(Weight, []Reading{{1, 2}, {3, 4}})
	f.Add(data)
	hours, _ := p.PackHours(Weight, Hours([]Reading{{1, 2}, {3, 4}}))
	f.Add(hours)
	f.Fuzz(func(t *testing.T, data []byte) {
		if r, err := p.Unpack(nil, data); err == nil && len(r) > 0 {
			if again, err := p.Pack(Quantity(data[1]), r); err == nil {
				if back, err := p.Unpack(nil, again); err != nil || len(back) != len(r) {
					t.Fatalf("%d readings come back as %d: %v", len(r), len(back), err)
				}
			}
		}
		_, _ = p.UnpackHours(nil, data)
	})
}

// BenchmarkRead reads a month of readings every five minutes from one sensor.
func BenchmarkRead(b *testing.B) {
	m := mustMap(b, "version: 1\ntime: {column: time, layout: YYYY-MM-DD hh:mm, zone: Europe/Berlin}\ncolumns: [{column: T, sensor: s, quantity: temperature, unit: °C}]\n")
	var text bytes.Buffer
	text.WriteString("time,T\n")
	start := time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC)
	const rows = 100_000
	for i := range rows {
		fmt.Fprintf(&text, "%s,%.1f\n", start.Add(time.Duration(i)*5*time.Minute).Format("2006-01-02 15:04"), 5+4*math.Sin(float64(i)/45))
	}
	b.SetBytes(int64(text.Len()))
	for b.Loop() {
		if _, err := Read(context.Background(), "x", bytes.NewReader(text.Bytes()), m, nothing{}); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(rows)*float64(b.N)/b.Elapsed().Seconds(), "rows/s")
}

type nothing struct{}

func (nothing) Sensor(string, Quantity) (int, error) { return 0, nil }
func (nothing) Add(int, Reading) error               { return nil }
