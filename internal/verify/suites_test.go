package verify

import (
	"context"
	"testing"
)

// TestSuites holds every check of every topic to its tolerance. Reports of
// measured hives may miss; they must still be finite and have rows.
func TestSuites(t *testing.T) {
	checks, err := Run(context.Background(), nil)
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]bool{}
	for _, c := range checks {
		if seen[c.ID] {
			t.Errorf("%s appears twice", c.ID)
		}
		seen[c.ID] = true
		if len(c.Rows) == 0 && c.Left == "" {
			t.Errorf("%s compares nothing and does not say why", c.ID)
		}
		if c.Source == "" || c.What == "" {
			t.Errorf("%s lacks its source or its sentence", c.ID)
		}
		for _, r := range c.Rows {
			if r.Computed != r.Computed {
				t.Errorf("%s: %s is not a number", c.ID, r.Quantity)
			}
			if r.Miss() && !c.Report {
				t.Errorf("%s: %s: computed %.6g %s, expected %.6g within %.3g", c.ID, r.Quantity, r.Computed, r.Unit, r.Expected, r.Tolerance)
			}
		}
	}
}

// TestRunStops checks that a cancelled run ends early with the context's error.
func TestRunStops(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Run(ctx, nil); err == nil {
		t.Error("a cancelled run returned no error")
	}
}
