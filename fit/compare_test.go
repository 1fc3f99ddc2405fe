package fit

import (
	"context"
	"errors"
	"math"
	"testing"

	"hackle/air"
	"hackle/logger"
	"hackle/season"
)

// TestComputedAtPlaces reads a run at every kind of place, and refuses what a run
// does not have.
func TestComputedAtPlaces(t *testing.T) {
	in := winterRun(t, 1)
	tr, err := season.Run(context.Background(), in, nil)
	if err != nil {
		t.Fatal(err)
	}
	at := func(q logger.Quantity, place string, height float64, column string) []float64 {
		t.Helper()
		v, _, err := ComputedAt(tr, &Series{Name: "s", Quantity: q, Place: place, Height: height, Column: column})
		if err != nil {
			t.Fatal(err)
		}
		if len(v) != tr.Hours {
			t.Fatalf("%d of %d hours", len(v), tr.Hours)
		}
		return v
	}
	outdoors, lid := tr.Get("outdoor.temp"), tr.Get("humidity.under_lid")
	air0 := at(logger.Temperature, Outdoors, 0, "")
	humid := at(logger.Humidity, Inside, 0.48, "flank")
	low, mid, high := at(logger.Temperature, Inside, 0.05, "flank"), at(logger.Temperature, Inside, 0.25, "flank"), at(logger.Temperature, Inside, 0.45, "flank")
	co2 := at(logger.CO2, Inside, 0.3, "core")
	for i := 1; i < tr.Hours; i++ {
		if want := (outdoors[i-1] + outdoors[i]) / 2; math.Abs(air0[i]-want) > 1e-12 {
			t.Fatalf("outdoors, hour %d: %g, wanted the mean of both ends %g", i, air0[i], want)
		}
		// Over water a frosty hygrometer reads less than over ice, else the same.
		if humid[i] > math.Max(lid[i], lid[i-1])+1e-9 || co2[i] <= 0 {
			t.Fatalf("hour %d: humidity %g of %g, CO2 %g", i, humid[i], lid[i], co2[i])
		}
	}
	mean := func(v []float64) float64 {
		s := 0.0
		for _, x := range v {
			s += x / float64(len(v))
		}
		return s
	}
	if !(mean(low) < mean(mid) && mean(mid) < mean(high)) {
		t.Errorf("air at 50, 250 and 450 mm: %.2f, %.2f, %.2f °C", mean(low), mean(mid), mean(high))
	}
	if f := air.SaturationPressure(-10) / air.SaturationPressureLiquid(-10); f >= 1 {
		t.Errorf("over ice and over water at -10 °C: ratio %g", f)
	}
	// A scale loses what is eaten and breathed out.
	kg := at(logger.Weight, Scale, 0, "")
	if d := kg[tr.Hours-1] - kg[0]; d > -0.1 || d < -2 {
		t.Errorf("in a week the hive changes by %.2f kg", d)
	}
	for _, s := range []Series{
		{Quantity: logger.Weight, Place: Inside}, {Quantity: logger.Power, Place: Inside}, {Quantity: logger.CO2, Place: Outdoors}, {Quantity: logger.Temperature, Place: "cellar"},
	} {
		if _, _, err := ComputedAt(tr, &s); !errors.Is(err, ErrData) {
			t.Errorf("%v %s: %v", s.Quantity, s.Place, err)
		}
	}
	// A column that the hive does not have gives way to one it has, with a word.
	if _, notes, err := ComputedAt(tr, &Series{Name: "s", Quantity: logger.Temperature, Place: Inside, Height: 0.05, Column: "beyond"}); err != nil || len(notes) == 0 {
		t.Errorf("beyond: %q %v", notes, err)
	}
	if _, err := Compare(tr, []Series{{Name: "s", Quantity: logger.Temperature, Place: Outdoors, Values: make([]float64, 3)}}); !errors.Is(err, ErrData) {
		t.Errorf("another number of hours: %v", err)
	}
}
