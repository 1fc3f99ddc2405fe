package verify

import "testing"

func TestRegression(t *testing.T) {
	checks, err := regressionChecks(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	rows := 0
	for _, c := range checks {
		for _, r := range c.Rows {
			rows++
			if r.Miss() {
				t.Errorf("%s, %s: %.15g, certified %.15g", c.ID, r.Quantity, r.Computed, r.Expected)
			}
		}
	}
	if rows != 2*2+2+2*7+2 {
		t.Errorf("%d rows", rows)
	}
}
