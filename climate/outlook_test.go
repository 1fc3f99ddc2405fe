package climate

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// constantDays is weather of days with a given highest temperature, 6 K above
// the lowest, at 45° north.
func constantDays(highs []float64) *Series {
	s := &Series{Name: "made", Latitude: 45, Start: time.Date(2015, 1, 1, 0, 0, 0, 0, time.UTC), MidOffset: 30 * time.Minute, HasRain: true}
	for _, high := range highs {
		for h := range 24 {
			temp := high - 3 - 3*math.Cos(2*math.Pi*float64(h-1)/24)
			s.Hours = append(s.Hours, Hour{TempAir: temp, RelHumidity: 0.5, Pressure: 1e5, WindSpeed: 2, WindFrom: float64(h)})
		}
	}
	return s
}

func TestOutlook(t *testing.T) {
	// 20 days that fly, 10 in frost, 15 that fly, 8 cool, 5 that fly, 3 cool.
	var highs []float64
	for _, run := range []struct {
		days int
		high float64
	}{{20, 14}, {10, -2}, {15, 34}, {8, 5}, {5, 14}, {3, 5}} {
		for range run.days {
			highs = append(highs, run.high)
		}
	}
	s := constantDays(highs)
	for i := 30 * 24; i < 31*24; i++ {
		s.Hours[i].Rain = 0.5
	}
	o := s.Outlook(0)
	// Daily means are the highest less 3 K: 34 - 3 - 18.3 on 15 days.
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"days", float64(o.Days), 61}, {"flying days", o.FlyingDays, 40}, {"frost days", o.FrostDays, 10 + 8 + 3}, {"ice days", o.IceDays, 10},
		{"hot days", o.HotDays, 15}, {"cooling", o.CoolingDegreeDaysKD, 15 * (31 - 18.3)}, {"growing", o.GrowingDegreeDaysKD, 15*21 + 25*1},
		{"rain days", o.RainDays, 1}, {"rain", o.RainMM, 12}, {"confinement", float64(o.Confinement.Days), 10}, {"January flying days", float64(o.Months[0].FlyingDays), 21},
	} {
		if math.Abs(c.got-c.want) > 1e-6 {
			t.Errorf("%s %g, want %g", c.name, c.got, c.want)
		}
	}
	if len(o.Confinements) != 2 || o.Confinements[0].Days != 10 || o.Confinements[1].Days != 8 || o.Confinements[0].First.Format(time.DateOnly) != "2015-01-21" {
		t.Errorf("confinements %+v", o.Confinements)
	}
	if got := s.Outlook(5).FlyingDays; got != 51 {
		t.Errorf("from 5 °C: %g flying days", got)
	}
	// Half a saturation at 34 °C: dew point 22 °C by any table of moist air.
	if math.Abs(o.DewExceeded04C-22) > 0.3 {
		t.Errorf("dew point %g", o.DewExceeded04C)
	}
	// Flying hours are daylight hours at and above the rule, without the rainy day.
	if o.FlyingHours <= 0 || o.FlyingHours > 40*12 {
		t.Errorf("flying hours %g", o.FlyingHours)
	}
	whats := map[string]string{}
	for _, d := range o.Doubts {
		whats[d.What] = d.Why
	}
	if !strings.Contains(whats["length"], "61 days") || !strings.Contains(whats["snow depth"], "computed from rain") || whats["rain"] != "" {
		t.Errorf("doubts %+v", o.Doubts)
	}

	// A typical year: a spell over the year's end is one, and counts agree with
	// the Summary's.
	year, err := Builtin("burlington-vt")
	if err != nil {
		t.Fatal(err)
	}
	o, sum := year.Outlook(0), year.Summary()
	if len(o.Confinements) == 0 || o.Confinements[0].Days != sum.Confinement.Days || !o.Confinements[0].First.Equal(sum.Confinement.First) || o.Whole.FlyingDays != sum.Whole.FlyingDays || o.FlyingDays != float64(sum.Whole.FlyingDays) {
		t.Errorf("outlook %+v beside summary %+v", o.Confinements, sum.Confinement)
	}
	for i := 1; i < len(o.Confinements); i++ {
		if o.Confinements[i].Days > o.Confinements[i-1].Days {
			t.Error("confinements out of order")
		}
	}
	// Two such years have the mean year's counts.
	two, err := year.Window(time.Date(2021, 1, 1, 0, 0, 0, 0, year.Location()), time.Date(2023, 1, 1, 0, 0, 0, 0, year.Location()))
	if err != nil {
		t.Fatal(err)
	}
	if got := two.Outlook(0); math.Abs(got.FlyingDays-o.FlyingDays) > 0.3 || math.Abs(got.CoolingDegreeDaysKD/o.CoolingDegreeDaysKD-1) > 2e-3 {
		t.Errorf("two years: %g flying days, one has %g", got.FlyingDays, o.FlyingDays)
	}
	if empty := (&Series{}).Outlook(0); empty.Days != 0 {
		t.Error("an empty outlook")
	}
}

func TestOpenStation(t *testing.T) {
	dir := t.TempDir()
	days := make([]Day, 365)
	for i := range days {
		days[i] = noDay()
		days[i].TempMax, days[i].TempMin, days[i].Rain, days[i].WindSpeed = 12, 3, 1, 2
	}
	for name, c := range map[string]struct {
		text  string
		hours int
	}{
		"a.dly":     {writeDly(2015, days), 8760},
		"by.csv":    {writeByStation(2015, days), 8760},
		"rows.csv":  {writeDayRows(2015, days), 8760},
		"nl.txt":    {"SOURCE: somebody\n\n# STN,YYYYMMDD,   TN,   TX\n  260,20100101,  -42,   7\n  260,20100102,  -42,   7\n", 48},
		"isd":       {string(isdText(t)), 2160},
		"other.txt": {"1 2 3\n", 0},
	} {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(c.text), 0o600); err != nil {
			t.Fatal(err)
		}
		s, err := OpenStation(path, testStation, Assumptions{}, "")
		if c.hours == 0 {
			if err == nil || !strings.Contains(err.Error(), "a station record") {
				t.Errorf("%s: %v", name, err)
			}
			continue
		}
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if len(s.Hours) != c.hours {
			t.Errorf("%s: %d hours", name, len(s.Hours))
		}
		checkComplete(t, s)
	}
}
