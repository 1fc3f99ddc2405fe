package ledger

import (
	"encoding/json"
	"testing"
	"time"
)

// A day that was written and read back begins where it began, once it is told whose
// clocks it follows.
func TestDayKeepsItsBeginning(t *testing.T) {
	zone := time.FixedZone("five behind", -5*3600)
	day := Date{time.Date(2026, 1, 26, 0, 0, 0, 0, zone)}
	text, err := json.Marshal(day)
	if err != nil {
		t.Fatal(err)
	}
	var back Date
	if err := json.Unmarshal(text, &back); err != nil {
		t.Fatal(err)
	}
	if got := back.In(zone); !got.Equal(day.Time) {
		t.Errorf("read back it begins at %s, want %s", got, day.Time)
	}
}
