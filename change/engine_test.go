package change

import (
	"testing"
	"time"

	"hackle/colony"
	"hackle/season"
	"hackle/wall"
)

// TestTheEngineTakesEveryChange runs half a winter day of every choice that applies
// to hives of four types.
func TestTheEngineTakesEveryChange(t *testing.T) {
	w := weather(t, "burlington-vt")
	site := Site{Weather: w}
	from := time.Date(2026, 1, 15, 0, 0, 0, 0, w.Location())
	w, err := w.Window(from, from.Add(12*time.Hour))
	if err != nil {
		t.Fatal(err)
	}
	joints := new(wall.Cache)
	for _, name := range []string{"two-deep-low-entrance.yaml", "national-mesh-floor.yaml", "long-hive.yaml", "warre.yaml"} {
		offers, err := Offers(plan(t, name), site)
		if err != nil {
			t.Fatal(err)
		}
		n := 0
		for _, o := range offers {
			if o.Not != nil {
				continue
			}
			n++
			in := season.Input{Plan: o.Result.Plan, Weather: o.Result.WeatherOf(w), Biology: colony.DefaultBiology(), Joints: joints}
			if _, err := season.Run(t.Context(), in, nil); err != nil {
				t.Errorf("%s on %s: %v", o.Change, name, err)
			}
		}
		if n < 20 {
			t.Errorf("only %d choices apply to %s", n, name)
		}
	}
}
