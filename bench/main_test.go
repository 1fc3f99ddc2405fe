package main

import (
	"math"
	"testing"
	"time"
)

// TestDiffer takes the measures of the table on numbers done by hand.
func TestDiffer(t *testing.T) {
	rms, most := differ([]float64{1, 2, 3, 4}, []float64{1, 4, 3, 0})
	if math.Abs(rms-math.Sqrt(5)) > 1e-12 || most != 4 {
		t.Errorf("%g and %g", rms, most)
	}
}

// TestVariantsAgree runs two winter days: a finer step and grid change the air by
// less than a kelvin, and by something.
func TestVariantsAgree(t *testing.T) {
	traces, err := task{"two-deep-low-entrance", "burlington-vt", time.Date(2026, 1, 5, 0, 0, 0, 0, time.UTC), 2}.run(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for i, tr := range traces[:3] {
		if rms, _ := differ(tr.Get("air.mean"), traces[3].Get("air.mean")); rms == 0 || rms > 1 {
			t.Errorf("variant %d differs by %g K", i, rms)
		}
	}
}
