package verify

import (
	"context"
	"testing"
)

func TestSamplingChecks(t *testing.T) {
	checks, err := samplingChecks(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	if len(checks) != 3 {
		t.Errorf("%d checks", len(checks))
	}
	for _, c := range checks {
		for _, r := range c.Rows {
			if r.Miss() {
				t.Errorf("%s, %s: %g, expected %g within %g", c.ID, r.Quantity, r.Computed, r.Expected, r.Tolerance)
			}
		}
	}
}
