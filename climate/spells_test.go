package climate

import (
	"errors"
	"math"
	"slices"
	"strings"
	"testing"
	"time"
)

func TestSpells(t *testing.T) {
	// The truth is known from many years of the same maker: the level that one year
	// in twenty exceeds.
	long, n := madeRecord(t, "chicago-il", 100, 120)
	record, err := Make(n, long.Latitude, long.Longitude, long.Height, long.Zone, 3, 40)
	if err != nil {
		t.Fatal(err)
	}
	const days, once = 5, 20.0
	for _, c := range []struct {
		name  string
		build func(*Series, int, float64) (*ExtremeSpell, error)
		sign  float64
		month []time.Month
	}{
		{"hot spell", HotSpell, 1, []time.Month{time.May, time.June, time.July, time.August, time.September}},
		{"cold snap", ColdSnap, -1, []time.Month{time.November, time.December, time.January, time.February, time.March}},
	} {
		e, err := c.build(record, days, once)
		if err != nil {
			t.Fatal(err)
		}
		spells, _ := long.yearSpells(days, c.sign)
		var means []float64
		for _, s := range spells {
			means = append(means, c.sign*s.mean)
		}
		slices.Sort(means)
		truth := c.sign * means[len(means)-len(means)/int(once)]
		if !(e.Low < truth && truth < e.High) || !(e.Low < e.Mean && e.Mean < e.High) {
			t.Errorf("%s: %.2f °C (%.2f to %.2f), by the 120 years %.2f", c.name, e.Mean, e.Low, e.High, truth)
		}
		if e.High-e.Low > 10 {
			t.Errorf("%s: the interval is %.1f K wide", c.name, e.High-e.Low)
		}
		if want := 40 - int(max(-c.sign, 0)); e.Years != want { // one winter less than years
			t.Errorf("%s: %d years, want %d", c.name, e.Years, want)
		}
		if !slices.Contains(c.month, e.First.Month()) {
			t.Errorf("%s begins on %s", c.name, e.First)
		}
		if math.Abs(e.Analogue+e.Moved-e.Mean) > 1e-9 {
			t.Errorf("%s: %.2f moved by %.2f is not %.2f", c.name, e.Analogue, e.Moved, e.Mean)
		}
		if len(e.Warnings) != 0 {
			t.Errorf("%s: warnings %q", c.name, e.Warnings)
		}
		// The hours have the mean asked for, and join the record's.
		w := e.Weather
		checkPhysical(t, w)
		spell, err := w.Window(e.First, e.First.AddDate(0, 0, days))
		if err != nil {
			t.Fatal(err)
		}
		if len(spell.Hours) != 24*days || len(w.Hours) != 24*(days+2*leadDays) {
			t.Fatalf("%s: %d hours of %d", c.name, len(spell.Hours), len(w.Hours))
		}
		mean := 0.0
		for _, h := range spell.Hours {
			mean += h.TempAir / float64(len(spell.Hours))
		}
		if math.Abs(mean-e.Mean) > 1e-6 {
			t.Errorf("%s: hours with a mean of %.3f °C, want %.3f", c.name, mean, e.Mean)
		}
		from := int(w.Start.Sub(record.Start) / time.Hour)
		if w.Hours[0] != record.Hours[from] || w.Hours[len(w.Hours)-1] != record.Hours[from+len(w.Hours)-1] {
			t.Errorf("%s: the hours far from the spell are not the record's", c.name)
		}
		for i := 1; i < len(w.Hours); i++ {
			step := (w.Hours[i].TempAir - record.Hours[from+i].TempAir) - (w.Hours[i-1].TempAir - record.Hours[from+i-1].TempAir)
			if math.Abs(step) > math.Abs(e.Moved)/(24*rampDays)+1e-9 {
				t.Errorf("%s, hour %d: the move steps by %.3f K", c.name, i, step)
			}
		}
		// Rarer is farther out, with a wider interval.
		rarer, err := c.build(record, days, 60)
		if err != nil {
			t.Fatal(err)
		}
		if c.sign*(rarer.Mean-e.Mean) <= 0 || rarer.High-rarer.Low <= e.High-e.Low {
			t.Errorf("%s: once in 60 years %.2f (%.2f to %.2f), once in 20 %.2f (%.2f to %.2f)", c.name, rarer.Mean, rarer.Low, rarer.High, e.Mean, e.Low, e.High)
		}
	}
}

func TestSpellLimits(t *testing.T) {
	record, _ := madeRecord(t, "portland-or", 8, 12)
	e, err := HotSpell(record, 3, 100)
	if err != nil {
		t.Fatal(err)
	}
	if all := strings.Join(e.Warnings, "\n"); !strings.Contains(all, "extrapolation") || !strings.Contains(all, "12 years") {
		t.Errorf("warnings %q", e.Warnings)
	}
	typical, _ := builtinNormals(t, "portland-or")
	for name, call := range map[string]func() (*ExtremeSpell, error){
		"absurd":       func() (*ExtremeSpell, error) { return HotSpell(record, 3, 1000) },
		"one year":     func() (*ExtremeSpell, error) { return HotSpell(record, 3, 1) },
		"not a number": func() (*ExtremeSpell, error) { return ColdSnap(record, 3, math.NaN()) },
		"no days":      func() (*ExtremeSpell, error) { return HotSpell(record, 0, 10) },
		"many days":    func() (*ExtremeSpell, error) { return HotSpell(record, 90, 10) },
		"typical":      func() (*ExtremeSpell, error) { return HotSpell(typical, 3, 10) },
		"empty":        func() (*ExtremeSpell, error) { return ColdSnap(&Series{}, 3, 10) },
	} {
		if _, err := call(); !errors.Is(err, ErrExtremes) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// TestYearSpellsSplit puts cold spells on either side of the new year and hot ones
// of the year's middle: each must count once.
func TestYearSpellsSplit(t *testing.T) {
	zone := fixedZone(0)
	for _, latitude := range []float64{50, -40} {
		s := &Series{Latitude: latitude, Start: time.Date(2001, time.March, 1, 6, 0, 0, 0, zone)}
		end := time.Date(2005, time.March, 1, 0, 0, 0, 0, zone)
		cold, hot := time.January, time.July
		if latitude < 0 {
			cold, hot = hot, cold
		}
		for at := s.Start; at.Before(end); at = at.Add(time.Hour) {
			h := Hour{TempAir: 10}
			// Four days about the first of the month.
			for m, v := range map[time.Month]float64{cold: -20, hot: 35} {
				first := time.Date(at.Year(), m, 1, 0, 0, 0, 0, zone)
				if at.Month() == time.December {
					first = time.Date(at.Year()+1, m, 1, 0, 0, 0, 0, zone)
				}
				if d := at.Sub(first); d >= -48*time.Hour && d < 48*time.Hour {
					h.TempAir = v
				}
			}
			s.Hours = append(s.Hours, h)
		}
		for sign, want := range map[float64]float64{1: 35, -1: -20} {
			spells, offset := s.yearSpells(4, sign)
			if offset != 18 || len(spells) != 3 {
				t.Errorf("latitude %g: %d years of sign %g from hour %d", latitude, len(spells), sign, offset)
			}
			for _, sp := range spells {
				if math.Abs(sp.mean-want) > 1e-9 {
					t.Errorf("latitude %g: a spell of %.1f °C, want %g: cut by the year's end", latitude, sp.mean, want)
				}
			}
		}
	}
}
