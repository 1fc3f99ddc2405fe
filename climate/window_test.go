package climate

import (
	"math"
	"strings"
	"testing"
	"time"
)

func date(s *Series, year int, month time.Month, day, hour int) time.Time {
	return time.Date(year, month, day, hour, 0, 0, 0, s.Location())
}

func TestWindowTypical(t *testing.T) {
	s, err := Builtin("minneapolis-mn")
	if err != nil {
		t.Fatal(err)
	}
	w, err := s.Window(date(s, 2023, time.October, 1, 0), date(s, 2024, time.April, 1, 0))
	if err != nil {
		t.Fatal(err)
	}
	// October to March with the leap day of 2024.
	if want := 24 * (31 + 30 + 31 + 31 + 29 + 31); len(w.Hours) != want {
		t.Fatalf("%d hours, want %d", len(w.Hours), want)
	}
	if w.Typical || !w.Start.Equal(date(s, 2023, time.October, 1, 0)) || !w.End().Equal(date(s, 2024, time.April, 1, 0)) {
		t.Errorf("typical %v, %s to %s", w.Typical, w.Start, w.End())
	}
	if w.Hours[0] != s.Hours[hourOfYear(10, 1, 0)] || w.Hours[len(w.Hours)-1] != s.Hours[hourOfYear(3, 31, 23)] {
		t.Error("ends differ from the typical year")
	}
	join := 24 * (31 + 30 + 31)
	if w.Hours[join-1] != s.Hours[8759] || w.Hours[join] != s.Hours[0] {
		t.Error("31 December is not followed by 1 January")
	}
	if !hasRepair(w, "date", "31 December 2023 joined to 1 January 2024") {
		t.Errorf("no note of the join: %+v", w.Repairs)
	}
	if hasRepair(s, "date", "joined to") {
		t.Error("the note went into the typical year itself")
	}
	leap := int(date(s, 2024, time.February, 29, 0).Sub(w.Start) / time.Hour)
	for i := range 24 {
		if w.Hours[leap+i] != s.Hours[hourOfYear(2, 28, i)] || w.Hours[leap+24+i] != s.Hours[hourOfYear(3, 1, i)] {
			t.Fatalf("hour %d of the leap day", i)
		}
	}
	if !hasRepair(w, "date", "29 February 2024") {
		t.Error("no note of the leap day")
	}
	if got := w.MidHour(join); !got.Equal(date(s, 2024, time.January, 1, 0).Add(30 * time.Minute)) {
		t.Errorf("middle of the first hour of the year: %s", got)
	}
}

// Whatever the span, each hour must carry the typical year's hour of the same
// date: no hour lost or doubled at an end, a join, a leap day, or where other
// clocks change to daylight saving time.
func TestWindowEveryHour(t *testing.T) {
	s, err := Builtin("portland-or")
	if err != nil {
		t.Fatal(err)
	}
	newYork, err := time.LoadLocation("America/New_York")
	if err != nil {
		t.Skip("no zone data on this machine:", err)
	}
	for _, c := range []struct{ from, to time.Time }{
		{date(s, 2019, 6, 15, 7), date(s, 2025, 2, 3, 19)},
		{date(s, 2024, 2, 29, 5), date(s, 2024, 2, 29, 6)},
		{date(s, 2023, 12, 31, 23), date(s, 2024, 1, 1, 1)},
		{time.Date(2024, 3, 9, 12, 0, 0, 0, newYork), time.Date(2024, 11, 4, 12, 0, 0, 0, newYork)},
		{date(s, 2024, 5, 1, 0).Add(20 * time.Minute), date(s, 2024, 5, 3, 0).Add(time.Minute)},
	} {
		w, err := s.Window(c.from, c.to)
		if err != nil {
			t.Fatal(err)
		}
		if w.Start.After(c.from) || c.from.Sub(w.Start) >= time.Hour || w.End().Before(c.to) || w.End().Sub(c.to) >= time.Hour {
			t.Errorf("%s to %s gives %s to %s", c.from, c.to, w.Start, w.End())
		}
		if _, offset := w.Start.Zone(); offset != -8*3600 {
			t.Errorf("starts in zone %s", w.Start.Location())
		}
		for i := range w.Hours {
			at := w.Start.Add(time.Duration(i) * time.Hour)
			day := at.Day()
			if at.Month() == time.February && day == 29 {
				day = 28
			}
			if w.Hours[i] != s.Hours[hourOfYear(int(at.Month()), day, at.Hour())] {
				t.Fatalf("%s carries another hour", at)
			}
		}
	}
}

func TestWindowRecord(t *testing.T) {
	s, err := read(asRecord(builtinLines(t, "burlington-vt"), 2015))
	if err != nil {
		t.Fatal(err)
	}
	w, err := s.Window(date(s, 2015, 3, 1, 0), date(s, 2015, 3, 3, 0))
	if err != nil {
		t.Fatal(err)
	}
	if len(w.Hours) != 48 || w.Hours[5] != s.Hours[59*24+5] || !w.Start.Equal(date(s, 2015, 3, 1, 0)) {
		t.Errorf("%d hours from %s", len(w.Hours), w.Start)
	}
	if whole, err := s.Window(s.Start, s.End()); err != nil || len(whole.Hours) != 8760 {
		t.Errorf("the whole record: %v", err)
	}
	_, err = s.Window(date(s, 2015, 10, 1, 0), date(s, 2016, 4, 1, 0))
	if err == nil || !strings.Contains(err.Error(), "2015-01-01 00:00 to 2016-01-01 00:00") {
		t.Errorf("outside: %v", err)
	}
	if _, err := s.Window(s.End(), s.Start); err == nil || !strings.Contains(err.Error(), "empty") {
		t.Errorf("backwards: %v", err)
	}
	typical, err := Builtin("burlington-vt")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := typical.Window(date(s, 1000, 1, 1, 0), date(s, 2000, 1, 1, 0)); err == nil {
		t.Error("a thousand years are given")
	}
}

func TestSummary(t *testing.T) {
	s, err := Builtin("burlington-vt")
	if err != nil {
		t.Fatal(err)
	}
	sum := s.Summary()
	if sum.Hours != 8760 || sum.Days != 365 || len(sum.Months) != 12 || sum.Whole.Days != 365 {
		t.Fatalf("%d hours, %d days, %d months", sum.Hours, sum.Days, len(sum.Months))
	}
	// The header of the file states the design temperatures of the station's long
	// record: 99.6 % -22.4 and 99 % -19.7 °C, 0.4 % 31.3 and 1 % 29.6 °C. One
	// typical year lies within 2.5 K of them.
	for _, c := range []struct{ got, want float64 }{
		{sum.Exceeded996C, -22.4}, {sum.Exceeded99C, -19.7}, {sum.Exceeded1C, 29.6}, {sum.Exceeded04C, 31.3},
	} {
		if math.Abs(c.got-c.want) > 2.5 {
			t.Errorf("exceeded temperature %g, header %g °C", c.got, c.want)
		}
	}
	flying := 0
	hdd := 0.0
	for d := range 365 {
		high, mean := math.Inf(-1), 0.0
		for _, h := range s.Hours[24*d : 24*d+24] {
			high = max(high, h.TempAir)
			mean += h.TempAir / 24
		}
		if high >= 10 {
			flying++
		}
		hdd += max(0, 18.3-mean)
	}
	if sum.Whole.FlyingDays != flying || math.Abs(sum.HeatingDegreeDaysKD-hdd) > 1e-6 {
		t.Errorf("flying days %d, want %d; degree-days %g, want %g", sum.Whole.FlyingDays, flying, sum.HeatingDegreeDaysKD, hdd)
	}
	c := sum.Confinement
	if c.Days < 30 || c.HighestC >= FlightTemp || c.First.Month() != time.December || c.Last.Month() != time.March || c.Last.Year() != c.First.Year()+1 {
		t.Errorf("confinement over the year's end: %+v", c)
	}
}

// A made record whose answers are known: 30 days at 15 °C, but for a cold week,
// a hot week, and five days below flight.
func TestSummaryMade(t *testing.T) {
	zone := time.FixedZone("", 3600)
	s := &Series{Zone: time.Hour, Start: time.Date(2022, 5, 31, 18, 0, 0, 0, zone), MidOffset: 30 * time.Minute}
	for i := range 6 + 30*24 + 3 {
		h := Hour{TempAir: 15, RelHumidity: 0.5, Pressure: 1e5, WindSpeed: 3, GlobalHorizontal: 100}
		switch d := (i - 6) / 24; {
		case i < 6:
			h.TempAir = -50 // part of a day: counts for nothing
		case d >= 2 && d < 9:
			h.TempAir = 11
		case d >= 12 && d < 17:
			h.TempAir = 9.9
		case d >= 20 && d < 27:
			h.TempAir = 30
		}
		s.Hours = append(s.Hours, h)
	}
	sum := s.Summary()
	if sum.Days != 30 || len(sum.Months) != 1 || sum.Months[0].Month != time.June || sum.LowestC != -50 {
		t.Fatalf("%+v", sum)
	}
	june := sum.Months[0]
	if want := (7*11 + 5*9.9 + 7*30 + 11*15) / 30; math.Abs(june.MeanC-want) > 1e-9 || math.Abs(june.SunKWhM2Day-2.4) > 1e-9 || june.FlyingDays != 25 {
		t.Errorf("June %+v, mean %g", june, want)
	}
	for _, c := range []struct {
		name        string
		got         Spell
		first, days int
		mean        float64
	}{
		{"coldest", sum.ColdestWeek, 3, 7, 11}, // five days of 9.9 with two of 15 °C are warmer
		{"hottest", sum.HottestWeek, 21, 7, 30},
		{"confinement", sum.Confinement, 13, 5, 9.9},
	} {
		if c.got.First.Day() != c.first || c.got.Days != c.days || math.Abs(c.got.MeanC-c.mean) > 1e-9 || !c.got.Last.Equal(c.got.First.AddDate(0, 0, c.days-1)) {
			t.Errorf("%s: %+v, want %d days from June %d", c.name, c.got, c.days, c.first)
		}
	}
	if want := 7*(18.3-11) + 5*(18.3-9.9) + 11*(18.3-15); math.Abs(sum.HeatingDegreeDaysKD-want) > 1e-9 {
		t.Errorf("degree-days %g, want %g", sum.HeatingDegreeDaysKD, want)
	}
	if empty := (&Series{}).Summary(); empty.Hours != 0 || empty.Days != 0 || empty.Months != nil {
		t.Errorf("of nothing: %+v", empty)
	}
}

func BenchmarkSummary(b *testing.B) {
	s, err := Builtin("burlington-vt")
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		s.Summary()
	}
}
