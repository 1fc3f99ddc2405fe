package verify

import (
	"context"
	"errors"
	"math"
	"testing"
)

func TestPsychrometrics(t *testing.T) {
	assertClimatic(t, "01_psychrometrics.json", psychrometricsChecks)
}

func TestPsychrometricsStopWhenCancelled(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := psychrometricsChecks(ctx); !errors.Is(err, context.Canceled) {
		t.Errorf("error of a cancelled run is %v", err)
	}
}

// assertClimatic fails on any miss, on a case of file that has no check, and on a
// check without rows.
func assertClimatic(t *testing.T, file string, run func(context.Context) ([]Check, error)) {
	t.Helper()
	cases, err := loadCases(file)
	if err != nil {
		t.Fatal(err)
	}
	checks, err := run(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, check := range checks {
		if _, ok := cases[check.ID]; !ok {
			t.Errorf("check %q stands for no case, or for one twice", check.ID)
		}
		delete(cases, check.ID)
		if len(check.Rows) == 0 {
			t.Errorf("%s compares nothing", check.ID)
		}
		for _, row := range check.Rows {
			if row.Published != nil && math.IsNaN(*row.Published) {
				t.Errorf("%s: %s: no published value", check.ID, row.Quantity)
			}
			if row.Miss() {
				t.Errorf("%s: %s: computed %.9g, expected %.9g ± %.3g %s", check.ID, row.Quantity, row.Computed, row.Expected, row.Tolerance, row.Unit)
			}
		}
	}
	for id := range cases {
		t.Errorf("case %s is not computed", id)
	}
}
