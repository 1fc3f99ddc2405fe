package verify

import (
	"context"
	"testing"
)

func TestAirflow(t *testing.T) {
	checks, err := airflowChecks(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	cases, err := loadCases("06_airflow.json")
	if err != nil {
		t.Fatal(err)
	}
	rows := 0
	for _, c := range checks {
		if _, ok := cases[c.ID]; !ok {
			t.Errorf("%s computed twice or not in the file", c.ID)
		}
		delete(cases, c.ID)
		if len(c.Rows) == 0 {
			t.Errorf("%s has no rows", c.ID)
		}
		for _, r := range c.Rows {
			rows++
			if r.Miss() {
				t.Errorf("%s %s: computed %g, expected %g ± %g %s", c.ID, r.Quantity, r.Computed, r.Expected, r.Tolerance, r.Unit)
			}
		}
	}
	for id := range cases {
		t.Errorf("%s not computed", id)
	}
	t.Logf("%d rows", rows)
}
