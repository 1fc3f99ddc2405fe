package climate

import (
	"bytes"
	"errors"
	"math"
	"strings"
	"testing"
	"time"
)

// recordToWrite is two days in March of a leap year, with every quantity.
func recordToWrite(rain, snow bool, mid time.Duration) *Series {
	zone := 5*time.Hour + 45*time.Minute
	s := &Series{Name: "Yard, behind, the, barn", Latitude: 27.71234, Longitude: 85.32, Height: 1337.5, Zone: zone, MidOffset: mid,
		Start: time.Date(2024, 2, 28, 3, 0, 0, 0, fixedZone(zone)), HasRain: rain, HasSnow: snow, Source: "own TRY of a logger, in the yard",
		Repairs: []Repair{{Field: "wind", Found: "none", Done: "assumed,\nevenly"}}}
	for i := range 60 {
		x := float64(i)
		h := Hour{TempAir: -0.004 + 11*math.Sin(x/4), RelHumidity: 0.505 + 0.494*math.Sin(x/7), Pressure: 86000.4 + x, WindSpeed: x / 7, WindFrom: math.Mod(x*37.3, 360),
			SkyLongWave: 250.04 + x, Rain: 0, SnowDepth: 0}
		if up := math.Sin((x - 3) / 24 * 2 * math.Pi); up > 0 {
			h.GlobalHorizontal, h.DirectNormal, h.DiffuseHorizontal = 600*up, 500.04*up, 210*up
		}
		if rain {
			h.Rain = math.Max(0, math.Sin(x)) * 3
		}
		if snow {
			h.SnowDepth = 0.4 + x/1000
		}
		s.Hours = append(s.Hours, h)
	}
	return s
}

// sameHours compares hours to the decimals that are written.
func sameHours(t *testing.T, name string, got, want []Hour, humidity float64) {
	t.Helper()
	if len(got) != len(want) {
		t.Fatalf("%s: %d hours, want %d", name, len(got), len(want))
	}
	for i := range want {
		g, w := got[i], want[i]
		for _, c := range []struct {
			what    string
			g, w, e float64
		}{
			{"temperature", g.TempAir, w.TempAir, 0.005}, {"humidity", g.RelHumidity, w.RelHumidity, humidity}, {"pressure", g.Pressure, w.Pressure, 0.5},
			{"wind", g.WindSpeed, w.WindSpeed, 0.005}, {"direction", math.Remainder(g.WindFrom-w.WindFrom, 360), 0, 0.5},
			{"global", g.GlobalHorizontal, w.GlobalHorizontal, 0.05}, {"direct", g.DirectNormal, w.DirectNormal, 0.05}, {"diffuse", g.DiffuseHorizontal, w.DiffuseHorizontal, 0.05},
			{"long wave", g.SkyLongWave, w.SkyLongWave, 0.05}, {"rain", g.Rain, w.Rain, 0.005}, {"snow", g.SnowDepth, w.SnowDepth, 0.0005},
		} {
			if !(math.Abs(c.g-c.w) <= c.e*1.001) {
				t.Fatalf("%s: hour %d: %s %g, want %g within %g", name, i, c.what, c.g, c.w, c.e)
			}
		}
	}
}

func TestWriteCSVReadsBack(t *testing.T) {
	for _, c := range []struct {
		rain, snow bool
		mid, back  time.Duration
	}{{true, true, 30 * time.Minute, 30 * time.Minute}, {false, true, 25 * time.Minute, 30 * time.Minute}, {true, false, 0, 0}, {false, false, 10 * time.Minute, 0}} {
		s := recordToWrite(c.rain, c.snow, c.mid)
		var text, written bytes.Buffer
		m, err := WriteCSV(&text, s)
		if err != nil {
			t.Fatal(err)
		}
		if err := m.Write(&written); err != nil {
			t.Fatal(err)
		}
		if m, err = ParseColumnMap(written.Bytes()); err != nil {
			t.Fatalf("%v in\n%s", err, written.String())
		}
		r, err := ReadCSV("yard.csv", &text, m)
		if err != nil {
			t.Fatal(err)
		}
		sameHours(t, "CSV", r.Hours, s.Hours, 0.00005)
		if !r.Start.Equal(s.Start) || r.Zone != s.Zone || r.MidOffset != c.back || r.Latitude != s.Latitude || r.Longitude != s.Longitude || r.Height != s.Height ||
			r.Name != s.Name || r.Source != s.Source || r.HasRain != s.HasRain || r.HasSnow != s.HasSnow || r.Typical {
			t.Errorf("read back %+v, want %+v", head(r), head(s))
		}
		for _, repair := range r.Repairs {
			if repair.Line > 0 {
				t.Errorf("a row was repaired: %+v", repair)
			}
		}
	}
}

// head of a series, to print.
func head(s *Series) Series {
	h := *s
	h.Hours, h.Repairs = nil, nil
	return h
}

func TestWriteEPWReadsBack(t *testing.T) {
	for _, flag := range []bool{true, false} {
		s := recordToWrite(flag, !flag, 30*time.Minute)
		var text bytes.Buffer
		if err := WriteEPW(&text, s); err != nil {
			t.Fatal(err)
		}
		r, err := ReadEPW("yard.epw", &text)
		if err != nil {
			t.Fatal(err)
		}
		sameHours(t, "record", r.Hours, s.Hours, 0.0015) // 0.01 K in the difference of air and dew point: 0.1 % of it
		if !r.Start.Equal(s.Start) || r.Zone != s.Zone || r.Latitude != s.Latitude || r.Height != s.Height || r.HasRain != flag || r.HasSnow == flag || r.Typical {
			t.Errorf("read back %+v, want %+v", head(r), head(s))
		}
		if r.Name != "Yard, behind, the; barn" || !strings.HasSuffix(r.Source, s.Source) {
			t.Errorf("name %q, source %q", r.Name, r.Source)
		}
	}
	// Twice over, a typical year stays one and keeps its source.
	s, err := Builtin("burlington-vt")
	if err != nil {
		t.Fatal(err)
	}
	source := ""
	for range 2 {
		var text bytes.Buffer
		if err := WriteEPW(&text, s); err != nil {
			t.Fatal(err)
		}
		rows := bytes.Split(bytes.TrimSpace(text.Bytes()), []byte("\n"))[8:]
		if n := bytes.Count(rows[0], []byte(",")); n != epwColumns-1 {
			t.Errorf("%d commas in %s", n, rows[0])
		}
		r, err := ReadEPW("burlington.epw", &text)
		if err != nil {
			t.Fatal(err)
		}
		sameHours(t, "typical year", r.Hours, s.Hours, 0.0015)
		if !r.Typical || r.Name != s.Name || source != "" && r.Source != source {
			t.Errorf("typical %v, %q from %q, want %q from %q", r.Typical, r.Name, r.Source, s.Name, source)
		}
		s, source = r, r.Source
	}
}

func TestWriteRefuses(t *testing.T) {
	// What is known of rain that is mostly unknown is kept.
	few := recordToWrite(false, false, 0)
	few.Hours[9].Rain = 2
	var text bytes.Buffer
	m, err := WriteCSV(&text, few)
	if err != nil {
		t.Fatal(err)
	}
	if r, err := ReadCSV("few.csv", &text, m); err != nil || r.HasRain || r.Hours[9].Rain != 2 || r.Hours[8].Rain != 0 {
		t.Errorf("one hour of known rain: %v", err)
	}
	if _, err := WriteCSV(&bytes.Buffer{}, &Series{}); err == nil {
		t.Error("CSV without an hour")
	}
	if err := WriteEPW(&bytes.Buffer{}, &Series{}); err == nil {
		t.Error("EPW without an hour")
	}
	s := recordToWrite(true, true, 0)
	if _, err := WriteCSV(fullDisk{}, s); !errors.Is(err, errFull) {
		t.Errorf("a full disk: %v", err)
	}
	if err := WriteEPW(fullDisk{}, s); !errors.Is(err, errFull) {
		t.Errorf("a full disk: %v", err)
	}
	if got := string(appendNumber(nil, -0.004, 2)); got != "0.00" {
		t.Errorf("a small negative number is written %q", got)
	}
}

var errFull = errors.New("no room")

type fullDisk struct{}

func (fullDisk) Write([]byte) (int, error) { return 0, errFull }
