package sun

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"
)

// near reports whether got lies within tolerance of want.
func near(got, want, tolerance float64) bool { return math.Abs(got-want) <= tolerance }

// turnBetween returns the angle between two azimuths [deg].
func turnBetween(a, b float64) float64 { return math.Abs(halfTurn(a - b)) }

func TestAt(t *testing.T) {
	// Worked examples of "Astronomical Algorithms", 25.a (1992-10-13 00:00
	// terrestrial time, 69 s later than here in universal time) and 28.a, from
	// memory.
	e := At(time.Date(1992, 10, 13, 0, 0, 0, 0, time.UTC).Add(-69 * time.Second))
	for _, row := range []struct {
		name                 string
		got, want, tolerance float64
	}{
		{"declination", e.Declination, -7.78507, 1e-4},
		{"right ascension", e.RightAscension, 198.38083, 1e-4},
		{"distance", e.Distance, 0.99766, 1e-5},
		{"equation of time", e.EquationOfTime, 13 + 42.6/60, 0.02}, // 13 min 42.6 s
	} {
		if !near(row.got, row.want, row.tolerance) {
			t.Errorf("%s = %.6f, want %.6f", row.name, row.got, row.want)
		}
	}
	// The equation of time and the hour angle come from different formulas:
	// mean longitude and sidereal time.
	for n := range 1000 {
		at := time.Date(2000, 1, 1, 12, 0, 0, 0, time.UTC).Add(time.Duration(n) * 311 * time.Hour)
		e := At(at)
		clock := float64(at.Hour())*15 + float64(at.Minute())/4 - 180
		if off := turnBetween(e.HourAngle(0), clock+e.EquationOfTime/4); off > 2e-3 {
			t.Fatalf("%v: hour angle %g and equation of time %g min disagree by %g°", at, e.HourAngle(0), e.EquationOfTime, off)
		}
	}
}

func TestPositionAt(t *testing.T) {
	random := rand.New(rand.NewPCG(21, 22))
	for range 20000 {
		latitude := -90 + 180*random.Float64()
		declination := -23.45 + 46.9*random.Float64()
		hour := -180 + 360*random.Float64()
		p := PositionAt(latitude, declination, hour)
		cosine := sinDeg(latitude)*sinDeg(declination) + cosDeg(latitude)*cosDeg(declination)*cosDeg(hour)
		if !near(cosDeg(p.Zenith), cosine, 1e-12) || !near(p.Elevation+p.Zenith, 90, 1e-12) {
			t.Fatalf("zenith of latitude %g, declination %g, hour angle %g is %g", latitude, declination, hour, p.Zenith)
		}
		if p.Azimuth < 0 || p.Azimuth > 360 {
			t.Fatalf("azimuth %g", p.Azimuth)
		}
		if forenoon := hour < 0; forenoon != (p.Azimuth < 180) && math.Abs(hour) > 1e-6 {
			t.Fatalf("at hour angle %g the azimuth is %g", hour, p.Azimuth)
		}
		mirror := PositionAt(-latitude, -declination, hour)
		if !near(mirror.Zenith, p.Zenith, 1e-9) || (p.Zenith > 0.01 && turnBetween(mirror.Azimuth, 180-p.Azimuth) > 1e-9) {
			t.Fatalf("the other hemisphere does not mirror: %v and %v", p, mirror)
		}
	}
	if p := PositionAt(20, 20, 0); !near(p.Zenith, 0, 1e-9) {
		t.Errorf("the sun over its own latitude has zenith %g", p.Zenith)
	}
}

func TestRefracted(t *testing.T) {
	for _, row := range []struct{ elevation, want, tolerance float64 }{
		// Usual refraction at the horizon and half way up, from memory.
		{-0.5667, 0.5667, 0.05},
		{10, 0.09, 0.005},
		{45, 0.0165, 0.001},
	} {
		p := Pos{Elevation: row.elevation, Zenith: 90 - row.elevation}
		got := p.Refracted(101000, 10)
		if !near(got.Elevation-row.elevation, row.want, row.tolerance) || !near(got.Elevation+got.Zenith, 90, 1e-12) {
			t.Errorf("refraction at %g° is %g°, want %g°", row.elevation, got.Elevation-row.elevation, row.want)
		}
	}
	down := Pos{Elevation: -10, Zenith: 100, Azimuth: 20}
	if got := down.Refracted(101000, 10); got != down {
		t.Errorf("refraction of a sun that is down gives %v", got)
	}
}

func TestDaylight(t *testing.T) {
	zone := time.FixedZone("", 3600)
	random := rand.New(rand.NewPCG(23, 24))
	for range 300 {
		latitude, longitude := -60+120*random.Float64(), -180+360*random.Float64()
		local := time.FixedZone("", int(longitude/15)*3600)
		date := time.Date(2024, 1, 1+random.IntN(366), random.IntN(24), 0, 0, 0, local)
		day := Daylight(date, latitude, longitude)
		for name, at := range map[string]time.Time{"rise": day.Rise, "set": day.Set} {
			p := PositionAt(latitude, At(at).Declination, At(at).HourAngle(longitude))
			if !near(p.Elevation, -rim, 1e-3) {
				t.Errorf("%v, latitude %g: at %s the sun stands at %g°", date, latitude, name, p.Elevation)
			}
		}
		if !near(At(day.Transit).HourAngle(longitude), 0, 1e-6) {
			t.Errorf("%v: at transit the hour angle is %g", date, At(day.Transit).HourAngle(longitude))
		}
		if !day.Rise.Before(day.Transit) || !day.Transit.Before(day.Set) || day.Length != day.Set.Sub(day.Rise) {
			t.Errorf("%v, latitude %g: %v is out of order", date, latitude, day)
		}
		if y, m, d := day.Transit.In(local).Date(); y != date.Year() || m != date.Month() || d != date.Day() {
			t.Errorf("%v: transit is on another day, %v", date, day.Transit)
		}
	}
	if day := Daylight(time.Date(2024, 6, 21, 0, 0, 0, 0, zone), 75, 15); day.Length != 24*time.Hour || !day.Rise.IsZero() || !day.Set.IsZero() {
		t.Errorf("midsummer in the far north is %v", day)
	}
	if day := Daylight(time.Date(2024, 12, 21, 0, 0, 0, 0, zone), 75, 15); day.Length != 0 || !day.Rise.IsZero() {
		t.Errorf("midwinter in the far north is %v", day)
	}
}

func TestAlmanac(t *testing.T) {
	// The simple series against the ephemeris, with the error each states.
	for n := 1; n <= 365; n++ {
		at := time.Date(2023, 1, n, 12, 0, 0, 0, time.UTC)
		if got, want := CooperDeclination(float64(n)), Declination(at); !near(got, want, 1.1) {
			t.Errorf("day %d: declination %g, ephemeris %g", n, got, want)
		}
		if got, want := SpencerEquationOfTime(float64(n)), EquationOfTime(at); !near(got, want, 0.7) {
			t.Errorf("day %d: equation of time %g, ephemeris %g", n, got, want)
		}
		if got, want := ExtraterrestrialOnDay(float64(n)), At(at).Extraterrestrial(); !near(got, want, 0.003*want) {
			t.Errorf("day %d: extraterrestrial %g, ephemeris %g", n, got, want)
		}
	}
	// The energy of a day against a sum over it.
	const latitude, declination = 43, 9.4
	sum := 0.0
	for i := range 24 * 600 {
		p := PositionAt(latitude, declination, HourAngleAt((float64(i)+0.5)/600))
		sum += 6 * Constant * math.Max(0, cosDeg(p.Zenith))
	}
	if got := ExtraterrestrialDaily(Constant, latitude, declination); !near(got, sum, 1e-6*sum) {
		t.Errorf("energy of a day %g, summed %g", got, sum)
	}
	for _, row := range []struct{ latitude, declination, want float64 }{{0, 23, 90}, {80, 23, 180}, {80, -23, 0}} {
		if got := SunsetHourAngle(row.latitude, row.declination); !near(got, row.want, 1e-9) {
			t.Errorf("SunsetHourAngle(%g, %g) = %g, want %g", row.latitude, row.declination, got, row.want)
		}
	}
}

func BenchmarkPosition(b *testing.B) {
	at := time.Date(2024, 3, 1, 12, 0, 0, 0, time.UTC)
	b.ReportAllocs()
	sum := 0.0
	for b.Loop() {
		at = at.Add(time.Hour)
		sum += Position(at, 45, 8).Elevation
	}
	if math.IsNaN(sum) {
		b.Fatal("NaN")
	}
}

func BenchmarkPerezOnPlane(b *testing.B) {
	pos := PositionAt(45, 10, 30)
	sky := Sky{Global: 600, Beam: 550, Diffuse: 150, Extraterrestrial: 1360, Albedo: 0.2}
	plane := Plane{Tilt: 90, Azimuth: 180}
	b.ReportAllocs()
	sum := 0.0
	for b.Loop() {
		sum += Perez1990.OnPlane(plane, pos, sky).Total()
	}
	if math.IsNaN(sum) {
		b.Fatal("NaN")
	}
}
