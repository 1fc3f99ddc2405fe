package season_test

import (
	"context"
	"math"
	"testing"
	"time"

	"hackle/climate"
	"hackle/colony"
	"hackle/hive"
	"hackle/season"
	"hackle/wall"
)

// TestMadeWeatherWinter runs a winter on a shipped year and on years made from its
// monthly normals: the honey eaten from November to March must agree within 10 %,
// for a typical year and for the mean of chance years.
func TestMadeWeatherWinter(t *testing.T) {
	const tolerance = 0.10
	plan, err := hive.DecodeFile("../examples/two-deep-low-entrance.yaml")
	if err != nil {
		t.Fatal(err)
	}
	joints := &wall.Cache{}
	eaten := func(t *testing.T, s *climate.Series, year int) float64 {
		t.Helper()
		zone := s.Location()
		w, err := s.Window(time.Date(year, time.November, 1, 0, 0, 0, 0, zone), time.Date(year+1, time.April, 1, 0, 0, 0, 0, zone))
		if err != nil {
			t.Fatal(err)
		}
		trace, err := season.Run(context.Background(), season.Input{Plan: plan, Weather: w, Biology: colony.DefaultBiology(), Joints: joints}, nil)
		if err != nil {
			t.Fatal(err)
		}
		return trace.Totals.HoneyEaten
	}
	for _, c := range []struct {
		name    string
		winters int // by chance
	}{{"burlington-vt", 3}, {"minneapolis-mn", 0}, {"portland-or", 0}} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			real, err := climate.Builtin(c.name)
			if err != nil {
				t.Fatal(err)
			}
			normals, err := climate.NormalsOf(real)
			if err != nil {
				t.Fatal(err)
			}
			const year = 2025
			want := eaten(t, real, year)
			compare := func(what string, got float64) {
				t.Helper()
				t.Logf("%s: %.2f kg eaten, %.2f kg on the real year (%+.1f %%)", what, got, want, 100*(got/want-1))
				if !(math.Abs(got/want-1) <= tolerance) {
					t.Errorf("%s: %.2f kg eaten, %.2f kg on the real year: more than %.0f %% apart", what, got, want, 100*tolerance)
				}
			}
			typical, err := climate.MakeTypical(normals, real.Latitude, real.Longitude, real.Height, real.Zone, 1)
			if err != nil {
				t.Fatal(err)
			}
			compare("typical year", eaten(t, typical, year))
			if c.winters == 0 || testing.Short() {
				return
			}
			chance, err := climate.Make(normals, real.Latitude, real.Longitude, real.Height, real.Zone, 1, c.winters+1)
			if err != nil {
				t.Fatal(err)
			}
			mean := 0.0
			for y := range c.winters {
				mean += eaten(t, chance, chance.Start.Year()+y) / float64(c.winters)
			}
			compare("mean of chance winters", mean)
		})
	}
}
