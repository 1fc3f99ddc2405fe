package cutaway

import (
	"bytes"
	"encoding/json"
	"testing"
)

// A year that was kept is drawn, told and sent as it was.
func TestKeptYears(t *testing.T) {
	for _, y := range years(t) {
		kept, err := y.MarshalBinary()
		if err != nil {
			t.Fatal(err)
		}
		var back Year
		if err := back.UnmarshalBinary(kept); err != nil {
			t.Fatal(err)
		}
		a, err := json.Marshal(y)
		if err != nil {
			t.Fatal(err)
		}
		if b, err := json.Marshal(&back); err != nil || !bytes.Equal(a, b) {
			t.Errorf("%s: sent otherwise (%v)", y.hive.Name, err)
		}
		for _, s := range Sections() {
			for _, hour := range []int{0, y.Hours() / 2, y.Hours() - 1} {
				a, err := y.Draw(hour, Options{Section: s, Dimensions: true, Names: true})
				if err != nil {
					t.Fatal(err)
				}
				if b, err := back.Draw(hour, Options{Section: s, Dimensions: true, Names: true}); err != nil || !bytes.Equal(a, b) {
					t.Errorf("%s, %s, hour %d: drawn otherwise (%v)", y.hive.Name, s, hour, err)
				}
				if y.Describe(hour, 0) != back.Describe(hour, 0) {
					t.Errorf("%s, hour %d: told otherwise", y.hive.Name, hour)
				}
			}
		}
		// What is damaged is refused and leaves the year as it was.
		for _, bad := range [][]byte{nil, kept[:len(kept)/2], []byte("no year")} {
			if err := back.UnmarshalBinary(bad); err == nil || back.Hours() != y.Hours() {
				t.Errorf("%d bytes of %d: %v, %d hours", len(bad), len(kept), err, back.Hours())
			}
		}
	}
}
