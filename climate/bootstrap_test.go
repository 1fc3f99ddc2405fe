package climate

import (
	"math"
	"slices"
	"testing"
	"time"
)

// madeRecord is a record of years by chance, for tests that need many.
func madeRecord(t testing.TB, name string, seed uint64, years int) (*Series, Normals) {
	t.Helper()
	s, n := builtinNormals(t, name)
	made, err := Make(n, s.Latitude, s.Longitude, s.Height, s.Zone, seed, years)
	if err != nil {
		t.Fatal(err)
	}
	return made, n
}

func TestResampleYears(t *testing.T) {
	record, _ := madeRecord(t, "burlington-vt", 4, 12)
	const block, years = 10, 24
	got, err := Resample([]*Series{record}, block, 1, years)
	if err != nil {
		t.Fatal(err)
	}
	checkComplete(t, got)
	if want := years*8760 + years/4*24; len(got.Hours) != want || got.Typical {
		t.Fatalf("%d hours, want %d; typical %v", len(got.Hours), want, got.Typical)
	}

	// Away from joins each hour is a copy of the same date in one of the years.
	sources, err := sourceYears([]*Series{record})
	if err != nil {
		t.Fatal(err)
	}
	if len(sources) != 12 {
		t.Fatalf("%d source years", len(sources))
	}
	copies, days := 0, 0
	for d := 0; 24*d < len(got.Hours); d++ {
		days++
		at := got.Start.AddDate(0, 0, d)
		noon := got.Hours[24*d+12]
		for k := range sources {
			day := sources[k].day(at)
			if day[12].GlobalHorizontal == noon.GlobalHorizontal && day[12].WindFrom == noon.WindFrom {
				if day[12] == noon {
					copies++
				}
				break
			}
			if k == len(sources)-1 {
				t.Fatalf("%s comes from no year", at)
			}
		}
	}
	// Of ten days at least eight lie beyond 24 h of a join, but for short first
	// blocks.
	if share := float64(copies) / float64(days); share < 0.7 || share > 0.95 {
		t.Errorf("%.2f of the days are copies", share)
	}

	// No hour steps more than the record's do, but for a little of the join.
	steps := func(s *Series) (largest float64) {
		for i := 1; i < len(s.Hours); i++ {
			largest = max(largest, math.Abs(s.Hours[i].TempAir-s.Hours[i-1].TempAir))
		}
		return largest
	}
	if a, b := steps(got), steps(record); a > b+1 {
		t.Errorf("a step of %.1f K in an hour, in the record at most %.1f K", a, b)
	}

	// The climate stays: means, and the spread between days, of which the smoothing
	// takes a little.
	from, to := normalsOf(t, record), normalsOf(t, got)
	for m := range 12 {
		a, b := &to.Months[m], &from.Months[m]
		// The record's own mean of 12 years, drawn 24·3 times: three standard errors.
		chance := 3 * b.Spread * math.Sqrt((1+b.Persistence)/(1-b.Persistence)/30/years) * 1.2
		for _, c := range []struct {
			what                 string
			got, want, tolerance float64
		}{
			{"low", a.Low, b.Low, chance},
			{"high", a.High, b.High, chance},
			{"humidity", a.RelHumidity, b.RelHumidity, 0.03},
			{"spread", a.Spread, b.Spread, 0.2 * b.Spread},
		} {
			if math.Abs(c.got-c.want) > c.tolerance {
				t.Errorf("month %d: %s %.3f, record %.3f, tolerance %.3f", m+1, c.what, c.got, c.want, c.tolerance)
			}
		}
	}

	again, err := Resample([]*Series{record}, block, 1, years)
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(again.Hours, got.Hours) {
		t.Error("the same seed gives other hours")
	}
	other, err := Resample([]*Series{record}, block, 2, years)
	if err != nil {
		t.Fatal(err)
	}
	if slices.Equal(other.Hours, got.Hours) {
		t.Error("another seed gives the same hours")
	}
}

// TestResampleTypical mixes typical years, which have no 29 February.
func TestResampleTypical(t *testing.T) {
	s, n := builtinNormals(t, "portland-or")
	var years []*Series
	for seed := range uint64(3) {
		made, err := MakeTypical(n, s.Latitude, s.Longitude, s.Height, s.Zone, seed)
		if err != nil {
			t.Fatal(err)
		}
		years = append(years, made)
	}
	got, err := Resample(years, 365, 3, 4)
	if err != nil {
		t.Fatal(err)
	}
	leap, err := got.Window(date(got, 2004, time.February, 28, 0), date(got, 2004, time.March, 1, 0))
	if err != nil {
		t.Fatal(err)
	}
	for h := range 24 { // the sun is not touched by joins
		if leap.Hours[h].GlobalHorizontal != leap.Hours[24+h].GlobalHorizontal {
			t.Fatalf("29 February, hour %d: %.1f W/m², 28 February %.1f", h, leap.Hours[24+h].GlobalHorizontal, leap.Hours[h].GlobalHorizontal)
		}
	}
}

func TestSmoothJoins(t *testing.T) {
	hours := make([]Hour, 96)
	for i := range hours {
		hours[i] = Hour{TempAir: 0, RelHumidity: 0.9, WindSpeed: 0.5, SkyLongWave: 250, Pressure: 1e5}
		if i >= 48 {
			hours[i].TempAir, hours[i].RelHumidity, hours[i].WindSpeed = 12, 1, 9
		}
	}
	if got := smoothJoins(hours, []int{48}); got != 12 {
		t.Errorf("largest step %g K", got)
	}
	for i := 1; i < len(hours); i++ {
		if step := hours[i].TempAir - hours[i-1].TempAir; step < 0 || step > 0.2501 {
			t.Errorf("hour %d: a step of %.3f K", i, step)
		}
		if hours[i].RelHumidity > 1 || hours[i].WindSpeed < 0 {
			t.Errorf("hour %d: %+v", i, hours[i])
		}
	}
	if hours[23].TempAir != 0 || hours[72].TempAir != 12 {
		t.Errorf("beyond 24 h: %.3f, %.3f", hours[23].TempAir, hours[72].TempAir)
	}
}

func TestResampleFaults(t *testing.T) {
	a, _ := builtinNormals(t, "portland-or")
	b, _ := builtinNormals(t, "phoenix-az")
	part, err := a.Window(date(a, 2023, time.March, 1, 0), date(a, 2024, time.December, 1, 0))
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		years   []*Series
		days, n int
	}{
		"none":        {nil, 10, 1},
		"nil":         {[]*Series{a, nil}, 10, 1},
		"one year":    {[]*Series{a}, 10, 1},
		"no whole":    {[]*Series{part}, 10, 1},
		"two places":  {[]*Series{a, b}, 10, 1},
		"short block": {[]*Series{a, a}, 1, 1},
		"long block":  {[]*Series{a, a}, 400, 1},
		"no years":    {[]*Series{a, a}, 10, 0},
		"many years":  {[]*Series{a, a}, 10, 1000},
	} {
		if _, err := Resample(c.years, c.days, 1, c.n); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}
