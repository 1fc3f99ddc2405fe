package climate

import (
	"math"
	"slices"
	"testing"
	"time"

	"hackle/air"
	"hackle/sun"
)

func TestShift(t *testing.T) {
	s, before := builtinNormals(t, "worcester-ma")
	deltas := [12]float64{3.5, 3.2, 2.8, 2.4, 2.2, 2.3, 2.5, 2.6, 2.5, 2.4, 2.7, 3.2}
	for _, rule := range []HumidityRule{KeepRelative, KeepVapour} {
		warm, err := s.Shift(deltas, ShiftOptions{Humidity: rule})
		if err != nil {
			t.Fatal(err)
		}
		checkComplete(t, warm)
		if !warm.Typical || len(warm.Hours) != len(s.Hours) || !warm.Start.Equal(s.Start) {
			t.Fatalf("rule %d: %d hours from %s, typical %v", rule, len(warm.Hours), warm.Start, warm.Typical)
		}
		after := normalsOf(t, warm)
		for m := range 12 {
			a, b := &after.Months[m], &before.Months[m]
			// Hours run straight between noons, days are those of local time: 0.02 K.
			if got := a.middle() + a.MeanAbove - b.middle() - b.MeanAbove; math.Abs(got-deltas[m]) > 0.02 {
				t.Errorf("rule %d, month %d: warmer by %.3f K, want %.3f", rule, m+1, got, deltas[m])
			}
			if got := a.Spread; math.Abs(got-b.Spread) > 0.02 {
				t.Errorf("rule %d, month %d: spread %.3f K, was %.3f", rule, m+1, got, b.Spread)
			}
		}
		for i := range s.Hours {
			a, b := &warm.Hours[i], &s.Hours[i]
			va := a.RelHumidity * air.SaturationPressureLiquid(a.TempAir)
			vb := b.RelHumidity * air.SaturationPressureLiquid(b.TempAir)
			if rule == KeepRelative && a.RelHumidity != b.RelHumidity || rule == KeepVapour && a.RelHumidity > 0.0101 && math.Abs(va/vb-1) > 1e-9 {
				t.Fatalf("rule %d, hour %d: humidity %.4f of %.1f Pa, was %.4f of %.1f Pa", rule, i, a.RelHumidity, va, b.RelHumidity, vb)
			}
			if a.GlobalHorizontal != b.GlobalHorizontal || a.WindSpeed != b.WindSpeed || a.Pressure != b.Pressure || a.Rain != b.Rain {
				t.Fatalf("rule %d, hour %d: more than temperature and humidity moved", rule, i)
			}
			// The sky's share of a black body at the air's temperature grows with the dew
			// point alone.
			emissivity, was := a.SkyLongWave/sun.BlackBody(a.TempAir), b.SkyLongWave/sun.BlackBody(b.TempAir)
			if want := sun.ClarkAllenSky(air.DewPoint(va)) / sun.ClarkAllenSky(air.DewPoint(vb)); math.Abs(emissivity/was/want-1) > 1e-9 {
				t.Fatalf("rule %d, hour %d: emissivity %.4f, was %.4f", rule, i, emissivity, was)
			}
			if rule == KeepVapour && math.Abs(emissivity/was-1) > 1e-9 && a.RelHumidity > 0.0101 {
				t.Fatalf("hour %d: the sky's emissivity moved without vapour", i)
			}
			if i > 0 {
				if step := (a.TempAir - b.TempAir) - (warm.Hours[i-1].TempAir - s.Hours[i-1].TempAir); math.Abs(step) > 0.005 {
					t.Fatalf("hour %d: the shift steps by %.4f K", i, step)
				}
			}
		}
	}
	// A computed long wave stays a computed one: the same cover gives the same ratio.
	h := Hour{TempAir: 4, RelHumidity: 0.7}
	dew := func(h Hour) float64 { return air.DewPoint(h.RelHumidity * air.SaturationPressureLiquid(h.TempAir)) }
	h.SkyLongWave = sun.SkyLongWave(h.TempAir, dew(h), 0.6)
	if w := h.warmed(3, KeepRelative); math.Abs(w.SkyLongWave-sun.SkyLongWave(w.TempAir, dew(w), 0.6)) > 1e-9 {
		t.Errorf("long wave %.3f W/m², computed %.3f", w.SkyLongWave, sun.SkyLongWave(w.TempAir, dew(w), 0.6))
	}
	// No vapour comes out of air cooled below its dew point: it is saturated.
	if w := (Hour{TempAir: 4, RelHumidity: 0.9, SkyLongWave: 300}).warmed(-5, KeepVapour); w.RelHumidity != 1 {
		t.Errorf("cooled air has a humidity of %.3f", w.RelHumidity)
	}
	same, err := s.Shift([12]float64{}, ShiftOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(same.Hours, s.Hours) {
		t.Error("no shift moves hours")
	}
}

func TestShiftFaults(t *testing.T) {
	s, _ := builtinNormals(t, "worcester-ma")
	for name, call := range map[string]func() error{
		"not a number": func() error { _, err := s.Shift([12]float64{math.NaN()}, ShiftOptions{}); return err },
		"too far":      func() error { _, err := s.Shift([12]float64{5: 40}, ShiftOptions{}); return err },
		"rule":         func() error { _, err := s.Shift([12]float64{}, ShiftOptions{Humidity: 7}); return err },
		"empty":        func() error { _, err := (&Series{}).Shift([12]float64{}, ShiftOptions{}); return err },
	} {
		if call() == nil {
			t.Errorf("%s: no error", name)
		}
	}
	// A record that spans a leap year and begins within a day.
	w, err := s.Window(date(s, 2023, time.December, 3, 5), date(s, 2024, time.April, 2, 7))
	if err != nil {
		t.Fatal(err)
	}
	warm, err := w.Shift([12]float64{1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1}, ShiftOptions{})
	if err != nil {
		t.Fatal(err)
	}
	for i := range w.Hours {
		if got := warm.Hours[i].TempAir - w.Hours[i].TempAir; math.Abs(got-1) > 1e-9 {
			t.Fatalf("hour %d: %.6f K, want 1", i, got)
		}
	}
}
