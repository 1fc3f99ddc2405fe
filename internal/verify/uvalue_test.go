package verify

import (
	"context"
	"testing"
)

// assertThermalChecks fails on any row outside its tolerance, on a case without rows
// and on a case of the file that is not computed.
func assertThermalChecks(t *testing.T, file string, run func(context.Context) ([]Check, error)) {
	t.Helper()
	cases, err := loadCases(file)
	if err != nil {
		t.Fatal(err)
	}
	checks, err := run(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]bool{}
	for _, c := range checks {
		seen[c.ID] = true
		if c.What == "" || c.Source == "" || c.Topic == "" {
			t.Errorf("%s lacks a title, source or topic", c.ID)
		}
		if len(c.Rows) == 0 {
			t.Errorf("%s has no row", c.ID)
		}
		for _, r := range c.Rows {
			if r.Unit == "" || !(r.Tolerance > 0) {
				t.Errorf("%s %s: unit %q, tolerance %v", c.ID, r.Quantity, r.Unit, r.Tolerance)
			}
			if r.Miss() {
				t.Errorf("%s %s: %v, want %v ± %v %s", c.ID, r.Quantity, r.Computed, r.Expected, r.Tolerance, r.Unit)
			}
		}
	}
	for id := range cases {
		if !seen[id] {
			t.Errorf("%s is not computed", id)
		}
	}
}

func TestUvalueChecks(t *testing.T) {
	assertThermalChecks(t, "02_iso6946_uvalue.json", uvalueChecks)
}

func TestUvalueChecksStopWhenCancelled(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := uvalueChecks(ctx); err == nil {
		t.Error("no error from a cancelled context")
	}
}
