package climate

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"
	"time"
)

var chicago = Station{Name: "Chicago O'Hare", Latitude: 41.96, Longitude: -87.93, Height: 205, Zone: -6 * time.Hour}

func isdText(t testing.TB) []byte {
	t.Helper()
	packed, err := os.ReadFile("testdata/isd_lite_725300_winter.txt.gz")
	if err != nil {
		t.Fatal(err)
	}
	text, err := plainText("isd", packed)
	if err != nil {
		t.Fatal(err)
	}
	return text
}

func TestISDLite(t *testing.T) {
	text := isdText(t)
	for _, noSun := range []string{"", "cloud cover", "overcast"} {
		s, err := ReadISDLite("725300", bytes.NewReader(text), chicago, noSun)
		if err != nil {
			t.Fatal(err)
		}
		checkComplete(t, s)
		// December 2016 to February 2017 in UTC is 90 days, which begin at 18:00.
		if len(s.Hours) != 2160 || s.Start.Format(time.RFC3339) != "2016-11-30T18:00:00-06:00" {
			t.Fatalf("%d hours from %s", len(s.Hours), s.Start)
		}
		// The first row: 2016 12 01 00, to be read back from the file itself.
		var year, month, day, hour, temp, dew, sea, from, wind int
		if _, err := fmt.Sscan(string(text[:60]), &year, &month, &day, &hour, &temp, &dew, &sea, &from, &wind); err != nil {
			t.Fatal(err)
		}
		h := s.Hours[0]
		if math.Abs(h.TempAir-float64(temp)/10) > 1e-9 || math.Abs(h.WindSpeed-float64(wind)/10) > 1e-9 || h.WindFrom != float64(from%360) {
			t.Errorf("first hour %+v, file %d %d %d", h, temp, wind, from)
		}
		// 205 m of cold air weigh about 2.5 %: 205/(287·(T+273)/9.81).
		if ratio := h.Pressure / float64(sea*10); math.Abs(ratio-(1-205*9.80665/(287.05*(h.TempAir+273.15)))) > 5e-4 {
			t.Errorf("pressure over that at the sea %.4f", ratio)
		}
		energy := 0.0
		for _, h := range s.Hours {
			energy += h.GlobalHorizontal / 1000 / 90
		}
		// The typical year of the same airport has 1.9 kWh/m² a day in these months
		// (built-in chicago-il); either rule may be a third off.
		low, high := 1.5, 2.6
		if noSun == "overcast" {
			low, high = 0.4, 1.0 // a quarter of a clear sky
		}
		if energy < low || energy > high {
			t.Errorf("%q: %.2f kWh/m² a day, want %.1f to %.1f", noSun, energy, low, high)
		}
		if !hasRepair(s, "global horizontal radiation", "no sun in the file") || !hasRepair(s, "station pressure", "given at sea level") {
			t.Errorf("repairs %+v", s.Repairs)
		}
	}
}

func TestISDLiteFaults(t *testing.T) {
	lines := strings.Split(strings.TrimRight(string(isdText(t)), "\n"), "\n")
	join := func(l []string) string { return strings.Join(l, "\n") }
	swapped := append([]string(nil), lines...)
	swapped[40], swapped[41] = swapped[41], swapped[40]
	s, err := ReadISDLite("t", strings.NewReader(join(swapped)), chicago, "")
	if err != nil || !hasRepair(s, "time", "after a later row") {
		t.Errorf("swapped rows: %v", err)
	}
	doubled := append(append([]string(nil), lines[:41]...), lines[40:]...)
	s, err = ReadISDLite("t", strings.NewReader(join(doubled)), chicago, "")
	if err != nil || !hasRepair(s, "time", "for the second time") || len(s.Hours) != 2160 {
		t.Errorf("a row twice: %v", err)
	}
	var third []string
	for i := 0; i < len(lines); i += 3 {
		third = append(third, lines[i])
	}
	s, err = ReadISDLite("t", strings.NewReader(join(third)), chicago, "cloud cover")
	if err != nil || !hasRepair(s, "time", "rows 3h0m0s apart") || len(s.Hours) != 2157 {
		t.Errorf("three-hourly: %v", err)
	}
	for _, c := range []struct{ name, text, noSun, want string }{
		{"no row", "", "", "no row"},
		{"words", strings.Repeat("a b c\n", 9), "", "9 of 9 rows cannot be used"},
		{"gap", join(append(append([]string(nil), lines[:100]...), lines[110:]...)), "", "10 h missing"},
		{"rule", join(lines), "bright", "accepted: daily range, cloud cover or overcast"},
	} {
		if _, err := ReadISDLite("t", strings.NewReader(c.text), chicago, c.noSun); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
	}
	if _, err := ReadISDLite("t", strings.NewReader(join(lines)), Station{}, ""); err == nil || !strings.Contains(err.Error(), "no place") {
		t.Errorf("no place: %v", err)
	}
}

func FuzzReadISDLite(f *testing.F) {
	lines := strings.SplitAfter(string(isdText(f)), "\n")
	f.Add(strings.Join(lines[:30], ""), uint8(0))
	f.Add(lines[0]+lines[3]+lines[2]+lines[2]+lines[5], uint8(1))
	f.Add("2016 12 01 00 1 1 1 1 1\n2016 12 01 02 1 1 1 1 1 9 -1 -1\n", uint8(2))
	rules := []string{"", "cloud cover", "overcast"}
	f.Fuzz(func(t *testing.T, text string, rule uint8) {
		s, err := ReadISDLite("fuzz", strings.NewReader(text), chicago, rules[int(rule)%len(rules)])
		if err == nil {
			checkComplete(t, s)
		}
	})
}
