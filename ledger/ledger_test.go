package ledger

import (
	"context"
	"encoding/json"
	"fmt"
	"io/fs"
	"math"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"hackle/climate"
	"hackle/colony"
	"hackle/comb"
	"hackle/examples"
	"hackle/hive"
	"hackle/quantity"
	"hackle/season"
)

// sample is a run of ten days, from 25 January 06:00 on, with numbers that can be
// summed by hand. It is -10 °C from 27 January to 2 February and 0 °C otherwise.
func sample() *season.Trace {
	const hours = 240
	start := time.Date(2026, 1, 25, 6, 0, 0, 0, time.FixedZone("UTC-05:00", -5*3600))
	tr := &season.Trace{Start: start, Hours: hours}
	tr.Hive = hive.Hive{Name: "Sample", Openings: []hive.Opening{{Name: "entrance"}, {Name: "vent"}}}
	add := func(name string, f func(h int, at time.Time) float64) {
		v := make([]float64, hours)
		for h := range v {
			v[h] = f(h, tr.Time(h))
		}
		tr.Channels = append(tr.Channels, season.Channel{Name: name, Unit: "-", Values: v})
	}
	cold := func(at time.Time) bool {
		return !at.Before(time.Date(2026, 1, 27, 0, 0, 0, 0, start.Location())) && at.Before(time.Date(2026, 2, 3, 0, 0, 0, 0, start.Location()))
	}
	pick := func(yes bool, a, b float64) float64 {
		if yes {
			return a
		}
		return b
	}
	only := func(hour int, a, b float64) func(int, time.Time) float64 {
		return func(h int, _ time.Time) float64 { return pick(h == hour, a, b) }
	}
	add("outdoor.temp", func(_ int, at time.Time) float64 { return pick(cold(at), -10, 0) })
	add("bees.heat", func(h int, at time.Time) float64 { return pick(h == 200, 30, pick(cold(at), 12, 8)) })
	add("bees.limit_share", func(h int, at time.Time) float64 { return pick(h == 200, 0.5, pick(cold(at), 0.2, 0.1)) })
	add("bees.mass", func(h int, _ time.Time) float64 { return 2 - 0.001*float64(h) })
	add("honey.eaten", func(int, time.Time) float64 { return 0.002 })
	add("honey.left", func(h int, _ time.Time) float64 { return 10 - 0.002*float64(h+1) })
	add("honey.reach", func(h int, _ time.Time) float64 { return pick(h == 100, 0.5, pick(h == 50, 4, 9)) })
	add("bees.confined", func(h int, _ time.Time) float64 { return pick(h >= 50 && h < 110 || h == 5, 1, 0) })
	add("bees.isolated", func(h int, _ time.Time) float64 { return pick(h >= 98 && h < 110, 1, 0) })
	add("air.under_lid", func(h int, at time.Time) float64 { return pick(h == 60, -3, pick(cold(at), 2, 6)) })
	add("air.at_cluster", only(61, -4, 5))
	add("air.at_floor", only(0, 1, 1))
	add("air.warm_depth", only(0, 0.2, 0.2))
	add("co2.at_cluster", only(7, 0.03, 0.01))
	dry := season.FaceAir{Face: "lid over the cluster", Height: 0.5, Temp: 9, DewPoint: 4, Over: true}
	tr.Wet = []season.FirstWet{
		{At: tr.Time(20), FaceAir: season.FaceAir{Face: "left wall", Height: 0.1, Temp: 2, DewPoint: 3}, Others: []season.FaceAir{dry}},
		{At: tr.Time(30), FaceAir: season.FaceAir{Face: "lid over the cluster", Height: 0.5, Temp: 1, DewPoint: 1.5, Over: true}, Others: []season.FaceAir{{Face: "floor", Temp: 0, DewPoint: -2}}},
	}
	add("water.inside_shell", func(h int, _ time.Time) float64 { return pick(h == 77, 0.03, pick(h > 70, 0.02, 0.0005)) })
	add("water.overhead", func(h int, _ time.Time) float64 { return pick(h == 30, 0.004, pick(h > 30 && h < 34, 0.002, 0.001)) })
	heat := 8.*240*3600 + 4*168*3600 + 18*3600 // J: 8 W, 4 W more in the cold week, 18 W more in one cold hour
	tr.Totals = season.Totals{
		Seconds: hours * 3600, BeesHeat: heat, Sensible: 0.9 * heat, Latent: 0.02 * heat, Stored: 0.01 * heat,
		HoneyStart: 10, HoneyFed: 0.5, HoneyEaten: 0.48, HoneyEnd: 10.02,
		VapourMade: 0.3, VapourIn: 2, VapourOut: 2.2, VapourGain: 0.01, Drained: 0.05, WaterHeld: 0.03,
		Settled: season.Water{Lid: 0.1, Walls: 0.2, Floor: 0.01, Combs: 0.02}, Dried: season.Water{Lid: 0.24},
		Lying: season.Water{Lid: 0.01, Walls: 0.03}, Dripped: 0.02, DrippedCore: 0.015,
		CarbonMade: 1, CarbonIn: 1, CarbonOut: 2, AirIn: 100, AirOut: 100.1,
	}
	lost := 0.91 * heat
	tr.Totals.Lost = season.LossJ{
		Walls: [4]float64{0.1 * lost, 0.2 * lost, 0.15 * lost, 0.15 * lost}, Lid: 0.1 * lost, Floor: 0.05 * lost, Edges: 0.05 * lost,
		Openings: []float64{0.06 * lost, 0.04 * lost}, Cracks: 0.08 * lost, Mesh: 0.02 * lost,
	}
	tr.Events = []season.Event{{At: start.Add(48 * time.Hour), What: "wrap or tray changed"}}
	return tr
}

// starved is the sample in which the honey ran out in hour 120.
func starved() *season.Trace {
	tr := sample()
	for _, c := range tr.Channels {
		switch c.Name {
		case "bees.mass", "bees.heat", "bees.limit_share", "honey.left", "honey.eaten", "bees.confined", "bees.isolated", "honey.reach":
			clear(c.Values[120:])
		}
	}
	tr.Totals.HoneyEnd = 0
	return tr
}

// warm is a run of 60 days from 1 March, in hours of which one thing each
// happens: 46 days of it are winter, to 15 April.
func warm() *season.Trace {
	const hours = 60 * 24
	start := time.Date(2026, 3, 1, 0, 0, 0, 0, time.FixedZone("UTC-05:00", -5*3600))
	tr := &season.Trace{Start: start, Hours: hours}
	tr.Hive = hive.Hive{Name: "Warm", Bodies: []hive.Body{{}, {}}}
	add := func(name string, every float64, at map[int]float64) {
		v := make([]float64, hours)
		for h := range v {
			v[h] = every
		}
		for h, x := range at {
			v[h] = x
		}
		tr.Channels = append(tr.Channels, season.Channel{Name: name, Unit: "-", Values: v})
	}
	add("bees.mass", 3, nil)
	add("bees.heat", 20, nil)
	add("bees.sealed", 5000, map[int]float64{1100: 100})
	// Hour 1100 has no brood to speak of and does not count.
	add("bees.core", 34.5, map[int]float64{1100: 45, 1200: 36.5, 1201: 37.2, 1202: 38.4, 1203: 37.9, 1204: 36})
	add("bees.outside", 0, map[int]float64{1201: 0.009, 1202: 0.3, 1203: 0.2})
	add("bees.fanned", 0.0008, map[int]float64{1202: 0.004})
	add("comb.warmest", 30, map[int]float64{1203: 41})
	add("honey.eaten", 0.01, nil)
	add("honey.left", 8, map[int]float64{900: 5.5, 46*24 - 1: 6})
	add("nectar.unripe", 0, map[int]float64{1250: 3, hours - 1: 0.5})
	// Two days with more than 0.1 L: the 50th of 1.2 L and the 51st of 0.3 L.
	add("water.hauled", 0, map[int]float64{49*24 + 12: 0.7, 49*24 + 13: 0.5, 50*24 + 12: 0.3, 51*24 + 12: 0.08})
	add("water.walls", 0, map[int]float64{7: 0.11})
	// Water for brood at noon of two days: the first finds all of it, the second none.
	add("water.wanted", 0, map[int]float64{12: 0.05, 36: 0.07})
	add("water.drunk", 0, map[int]float64{12: 0.05})
	add("humidity.at_cluster", 0.6, map[int]float64{40: 0.49, 41: 0.3, 1100: 0.2})
	add("honey.open_water", 0.18, map[int]float64{500: 0.215})
	add("honey.ferments", 0, map[int]float64{500: 1, 501: 1})
	tr.Totals = season.Totals{
		Seconds: hours * 3600, BeesHeat: 20 * hours * 3600, Sensible: 20 * hours * 3600,
		HoneyStart: 10, HoneyGained: 12, HoneyEaten: 14.4, HoneyEnd: 7.6,
		Nectar: 26, NectarDried: 13.5, WaterHauled: 1.58, VapourMade: 20, Drunk: 0.2, VapourOut: 21, VapourIn: 2, Drained: 0.4,
		Settled: season.Water{Walls: 9, Combs: 1}, Dried: season.Water{Walls: 8.5, Combs: 1}, RanDown: 0.45, Lying: season.Water{Walls: 0.03, Floor: 0.02},
		RainSoaked: 0.1, Through: 0.35, WoodGain: 0.1,
	}
	tr.Totals.Lost = season.LossJ{Lid: -1e6, Openings: []float64{20*hours*3600 + 1e6}}
	result := func(t, low, mid, high float64, class comb.Class) comb.Result {
		return comb.Result{Temperature: t, Utilisation: comb.Range{Low: low, Mid: mid, High: high}, Class: class, Place: comb.AtTop}
	}
	tr.Combs = []season.CombPeak{
		{Body: 0, Column: "core", At: tr.Time(1210), Worst: result(38, 0.2, 0.4, 0.7, comb.Holds), Class: comb.Holds, Honey: 1, Frames: 4, FramesInBody: 10, Warmest: 39.5, WarmestAt: tr.Time(1211), HoneyThen: 0.9},
		{Body: 1, Column: "flank", At: tr.Time(1203), Worst: result(41, 0.2, 0.3, 1.1, comb.Near), Class: comb.Near, Honey: 2, Nectar: 0.8, Frames: 6, FramesInBody: 10, Warmest: 42, WarmestAt: tr.Time(1204), HoneyThen: 2.1},
	}
	return tr
}

// warmInput is what warm was run from: water 300 m away.
func warmInput() season.Input {
	in := season.Input{Biology: colony.DefaultBiology()}
	in.Plan.Colony = hive.Colony{WaterNear: 300, Flows: []hive.Flow{{}, {}}}
	return in
}

func TestSummerCountsByHand(t *testing.T) {
	tr := warm()
	l := FromRun(warmInput(), tr)
	s := &l.Summer
	at := func(what string, got time.Time, hour int) {
		t.Helper()
		if !got.Equal(tr.Time(hour)) {
			t.Errorf("%s = %v, want %v", what, got, tr.Time(hour))
		}
	}
	near(t, "above 36", s.Above36, 4)
	near(t, "above 37", s.Above37, 3)
	near(t, "above 38", s.Above38, 1)
	near(t, "nest", s.NestMax, 38.4)
	at("nest", s.NestMaxAt, 1202)
	near(t, "comb", s.CombMax, 41)
	at("comb", s.CombMaxAt, 1203)
	near(t, "outside", s.Outside, 2)
	near(t, "share outside", s.OutsideMost, 0.3)
	at("outside", s.OutsideAt, 1202)
	// One bee fans 0.08 L/s: ten bees in every hour but one, in which it is fifty.
	near(t, "fanning", s.Fanning, 1439*10+50)
	near(t, "fanning, worst day", s.FanningDay, 23*10+50)
	near(t, "hauled", s.Hauled, 1.58)
	near(t, "hauled, worst day", s.HauledDay, 1.2)
	near(t, "days", s.HauledDays, 2)
	for what, c := range map[string][2]string{"fanning": {s.FanningDayOn.Format(dateForm), "2026-04-20"}, "hauled": {s.HauledDayOn.Format(dateForm), "2026-04-19"}} {
		if c[0] != c[1] {
			t.Errorf("worst day of %s %s, want %s", what, c[0], c[1])
		}
	}
	// 25 mg a flight; 600 m at 6.5 m/s and 480 s at both ends.
	near(t, "flights", s.Flights, 1.58/25e-6)
	near(t, "flight hours", s.FlightHours, 1.58/25e-6*(600/6.5+480)/3600)
	near(t, "to put out", s.PutOut, 1.5)
	near(t, "within", s.PutOutWithin, 300)
	near(t, "flows", s.FlowsNamed, 2)
	near(t, "gained", l.Honey.Gained, 12)
	near(t, "least", l.Honey.Least, 5.5)
	at("least", l.Honey.LeastAt, 900)
	near(t, "nectar", l.Nectar.Carried, 26)
	near(t, "dried", l.Nectar.Dried, 13.5)
	near(t, "still to dry", l.Nectar.Unripe, 0.5)
	near(t, "most to dry", l.Nectar.UnripeMost, 3)
	at("most to dry", l.Nectar.UnripeMostAt, 1250)
	near(t, "water from honey", l.Water.FromHoney, 20-13.5-1.58-0.2)
	w := &l.Water
	near(t, "sources", w.FromHoney+w.FromNectar+w.Spread+w.Drunk, w.Produced)
	near(t, "budget", w.Vented+w.Stored+w.Drained+w.Drunk+w.InShell+w.ThroughShell, w.Produced+w.Rain)
	near(t, "most on walls", w.LyingMost.Walls, 0.11)
	near(t, "lying", w.LyingTotal, 0.05)
	near(t, "ran down", w.RanDown, 0.45)
	if l.Winter == nil || l.Winter.From.Format(dateForm) != "2026-03-01" || l.Winter.To.Format(dateForm) != "2026-04-15" {
		t.Fatalf("winter %+v, want 1 March to 15 April", l.Winter)
	}
	near(t, "burned in winter", l.Winter.Burned, 46*24*0.01)
	near(t, "left after winter", l.Winter.Left, 6)
	// The comb that may fall, not the one with the higher load.
	if l.Comb == nil || l.Comb.Body != 2 || l.Comb.Class != "near" || len(l.Combs) != 2 {
		t.Fatalf("comb %+v of %v", l.Comb, l.Combs)
	}
	near(t, "warmest of the outer combs", l.Combs[1].Warmest, 42)
	near(t, "outer combs", l.Combs[1].Frames, 6)
	if text := l.text(quantity.Metric); !strings.Contains(text, "body 2, outer 6 of 10") || !strings.Contains(text, "42 °C") {
		t.Errorf("the text does not tell of the combs of each body:\n%s", text)
	}
	// What the sun gave through the lid over the run is a gain, and no honey.
	for _, line := range strings.Split(l.text(quantity.Metric), "\n") {
		if strings.Contains(line, "lid and its vents") && (!strings.Contains(line, "gained") || strings.Contains(line, "-") || strings.Contains(line, "honey")) {
			t.Errorf("heat gained is told as %q", line)
		}
	}
	if !l.Hot() || !l.Overheated() || l.Year() {
		t.Errorf("hot %v, overheated %v, a year %v", l.Hot(), l.Overheated(), l.Year())
	}
	far := warmInput()
	far.Plan.Colony.WaterNear = 2000
	near(t, "within, of far water", FromRun(far, tr).Summer.PutOutWithin, 500)
	near(t, "within, of unknown water", From(tr).Summer.PutOutWithin, 500)
	// In the south March is no winter, and April half of one.
	far.Plan.Site = hive.Site{HasPlace: true, Latitude: -40}
	if got := FromRun(far, tr).Winter; got != nil {
		t.Errorf("in the south the winter of March and April is %+v", got)
	}
}

func TestSummerAnswers(t *testing.T) {
	change := func(channel string, f func(h int, v float64) float64) func(*season.Trace) {
		return func(tr *season.Trace) {
			for _, c := range tr.Channels {
				if c.Name == channel {
					for h := range c.Values {
						c.Values[h] = f(h, c.Values[h])
					}
				}
			}
		}
	}
	death := func(tr *season.Trace) {
		for _, name := range []string{"bees.mass", "honey.left"} {
			change(name, func(h int, v float64) float64 {
				if h >= 1300 {
					return 0
				}
				return v
			})(tr)
		}
	}
	for _, c := range []struct {
		name   string
		change func(*season.Trace)
		in     season.Input
		want   string
	}{
		{"as it is", nil, warmInput(), "Yes: in this run the colony burns 11 kg of the 10 kg of honey in winter and has 6 kg left on 15 April 2026; stores are lowest on 7 April 2026, with 5.5 kg; over the whole run it gains 12 kg of honey, burns 14.4 kg and has 7.6 kg left on 29 April 2026. In summer the brood nest overheats: for 3 hours it is above 37 °C, 38.4 °C at most, on 20 April 2026; outer combs of body 2 may give way, worst on 20 April 2026 at 41 °C; bees hang outside for 2 hours, 30 % of them at most, and 1.58 L of water are hauled."},
		{"fed", func(tr *season.Trace) { tr.Totals.HoneyFed = 2 }, warmInput(), "over the whole run it is fed 2 kg, gains 12 kg"},
		{"strained", change("bees.core", func(_ int, v float64) float64 { return min(v, 37.5) }), warmInput(), "the brood nest is strained: for 3 hours it is above 37 °C, 37.5 °C at most"},
		{"holds", change("bees.core", func(_ int, v float64) float64 { return min(v, 36.2) }), warmInput(), "In summer the brood nest holds, 36.2 °C at most"},
		{"no combs", func(tr *season.Trace) { tr.Combs = nil }, warmInput(), "; combs are at most 41 °C warm; "},
		{"combs hold", func(tr *season.Trace) { tr.Combs = tr.Combs[:1] }, warmInput(), "; the combs hold, at most 41 °C warm; "},
		{"combs fall", func(tr *season.Trace) { tr.Combs[0].Class = comb.Falls }, warmInput(), "; middle combs of body 1 give way, worst on 20 April 2026 at 38 °C; "},
		{"no water", func(tr *season.Trace) {
			tr.Totals.WaterHauled = 0
			change("water.hauled", func(int, float64) float64 { return 0 })(tr)
		}, season.Input{Biology: colony.DefaultBiology()}, "no water is hauled, as the hive file names none."},
		{"cut off", func(tr *season.Trace) {
			v := make([]float64, tr.Hours)
			v[3] = 1
			tr.Channels = append(tr.Channels, season.Channel{Name: "bees.isolated", Values: v})
		}, warmInput(), "Not surely: in this run it is for an hour too cold to move with no honey left in contact; the colony burns"},
		{"starves in summer", func(tr *season.Trace) { death(tr); tr.Totals.HoneyGained = 0 }, season.Input{Biology: colony.DefaultBiology()},
			"No: in this run the colony burns 11 kg of honey in winter and has 6 kg left on 15 April 2026, but the last of it is eaten on 24 April 2026, 5.8 days before the end: the hive file names no nectar flow to live on in summer."},
		{"starves all the same", death, warmInput(), "5.8 days before the end."},
	} {
		tr := warm()
		if c.change != nil {
			c.change(tr)
		}
		l := FromRun(c.in, tr)
		got := l.Answer(quantity.Metric)
		if !strings.Contains(got, c.want) || c.name == "as it is" && got != c.want {
			t.Errorf("%s:\n%q lacks\n%q", c.name, got, c.want)
		}
		if dead := strings.HasPrefix(c.name, "starves"); dead != (l.Verdict() == "winter") || dead == strings.Contains(got, "In summer ") {
			t.Errorf("%s: verdict %s, %q", c.name, l.Verdict(), got)
		}
	}
	// What hangs in a dead hive is not told.
	tr := warm()
	death(tr)
	tr.Combs[1].At = tr.Time(1400)
	if l := FromRun(warmInput(), tr); l.Comb == nil || l.Comb.Body != 1 || len(l.Combs) != 2 {
		t.Errorf("the comb in most danger is %+v", l.Comb)
	}
}

// A winter is told without a word of summer.
func TestWinterIsNotToldOfSummer(t *testing.T) {
	for name, c := range map[string]struct {
		tr  *season.Trace
		hot bool
	}{"winter": {sample(), false}, "summer": {warm(), true}} {
		l := From(c.tr)
		var b strings.Builder
		if err := l.WriteText(&b, quantity.Metric); err != nil {
			t.Fatal(err)
		}
		for _, word := range []string{"\nSummer\n", "\nComb\n", "nectar carried in", "burned in winter", "from nectar", "In summer ", "Put out "} {
			if strings.Contains(b.String(), word) != c.hot {
				t.Errorf("%s: %q is told: %v", name, word, !c.hot)
			}
		}
	}
	d := Difference(From(sample()), From(sample()))
	if d.Summer != "" || slices.ContainsFunc(d.Rows, func(r Row) bool { return strings.HasPrefix(r.Key, "summer.") }) {
		t.Errorf("two winters compare summers: %q, %v", d.Summer, d.Rows)
	}
	if text, err := json.Marshal(From(sample())); err != nil || !strings.Contains(string(text), `"nest_above_36_hours":0`) {
		t.Errorf("the JSON of a winter lacks the keys of summer (%v)", err)
	}
}

func near(t *testing.T, what string, got, want float64) {
	t.Helper()
	if !(math.Abs(got-want) <= 1e-9*math.Max(1, math.Abs(want))) { // sums of a few hundred float64
		t.Errorf("%s = %.12g, want %.12g", what, got, want)
	}
}

func TestFromCountsByHand(t *testing.T) {
	tr := sample()
	l := From(tr)
	at := func(what string, got time.Time, hour int) {
		t.Helper()
		if !got.Equal(tr.Time(hour)) {
			t.Errorf("%s = %v, want %v", what, got, tr.Time(hour))
		}
	}
	near(t, "burned", l.Honey.Burned, 0.48)
	near(t, "left", l.Honey.Left, 10.02)
	near(t, "start", l.Honey.Start, 10)
	near(t, "fed", l.Honey.Fed, 0.5)
	// 162 hours of January from the 25th at 06:00, 78 of February.
	if want := []Month{{"2026-01", 0.324}, {"2026-02", 0.156}}; len(l.Honey.ByMonth) != 2 || l.Honey.ByMonth[0].Month != want[0].Month || l.Honey.ByMonth[1].Month != want[1].Month {
		t.Errorf("months %v, want %v", l.Honey.ByMonth, want)
	} else {
		near(t, "January", l.Honey.ByMonth[0].Mass, 0.324)
		near(t, "February", l.Honey.ByMonth[1].Mass, 0.156)
	}
	heat := 8.*240*3600 + 4*168*3600 + 18*3600
	near(t, "heat mean", l.Bees.HeatMean, heat/3600/240)
	near(t, "honey for heat", l.Honey.ForHeat, heat/12.7e6)
	near(t, "honey for other", l.Honey.ForOther, 0.48-heat/12.7e6)
	near(t, "peak", l.Bees.HeatPeak, 30)
	at("peak", l.Bees.PeakAt, 200)
	near(t, "peak share", l.Bees.PeakShare, 0.5)
	// Hour 200 lies on 2 February: 23 hours of 12 W and one of 30 W.
	near(t, "peak day", l.Bees.HeatPeakDay, (23*12+30)/24.)
	if got := l.Bees.PeakDay.Format(dateForm); got != "2026-02-02" {
		t.Errorf("peak day %s, want 2026-02-02", got)
	}
	near(t, "peak day share", l.Bees.PeakDayShare, (23*0.2+0.5)/24)
	at("hardest", l.Bees.HardestAt, 200)
	near(t, "heat given", l.Heat.Bees, heat/3.6e6)
	near(t, "heat with vapour", l.Heat.WithVapour, 0.08*heat/3.6e6)
	near(t, "heat lost", l.Heat.Lost, 0.91*heat/3.6e6)
	near(t, "sum of losses", l.LossHeat.Sum(), 0.91*heat/3.6e6)
	near(t, "back wall", l.LossHeat.Back, 0.2*0.91*heat/3.6e6)
	near(t, "lid as honey", l.LossHoney.Lid, 0.1*0.91*heat/12.7e6)
	if len(l.Openings) != 2 || l.Openings[1].Name != "vent" {
		t.Fatalf("openings %v", l.Openings)
	}
	near(t, "vent", l.Openings[1].LossHeat, 0.04*0.91*heat/3.6e6)
	near(t, "openings", l.LossHeat.Openings, l.Openings[0].LossHeat+l.Openings[1].LossHeat)
	near(t, "outdoors", l.Warmth.Outdoors, -10*168/240.)
	near(t, "under lid", l.Warmth.UnderLid, (6*72+2*168-5)/240.)
	near(t, "under lid, lowest", l.Warmth.UnderLidMin, -3)
	at("under lid, lowest", l.Warmth.UnderLidAt, 60)
	near(t, "cluster", l.Warmth.Cluster, (5*239-4)/240.)
	at("cluster, lowest", l.Warmth.ClusterAt, 61)
	near(t, "warm depth", l.Warmth.WarmDepth, 200)
	near(t, "vented", l.Water.Vented, 0.2)
	near(t, "stored", l.Water.Stored, 0.05)
	near(t, "water balance", l.Water.Vented+l.Water.Stored+l.Water.Drained, l.Water.Produced)
	near(t, "condensed on walls", l.Water.Condensed.Walls, 0.2)
	// Hours 30 to 33; 1 g itself is not more than 1 g.
	near(t, "overhead hours", l.Water.OverheadHours, 4)
	near(t, "overhead, most", l.Water.OverheadMost, 0.004)
	at("overhead, most", l.Water.OverheadAt, 30)
	near(t, "dripped", l.Water.DrippedBees, 0.015)
	near(t, "CO2", l.CO2Peak, 3)
	at("CO2", l.CO2PeakAt, 7)
	near(t, "reach", l.ReachMin, 0.5)
	at("reach", l.ReachMinAt, 100)
	near(t, "confined", l.Confinement.Longest, 60)
	at("confined from", l.Confinement.From, 50)
	at("confined to", l.Confinement.To, 110)
	near(t, "reach at start", l.Confinement.ReachAtStart, 4)
	near(t, "isolated", l.Confinement.Isolation, 12)
	w := l.ColdestWeek
	if w == nil || w.From.Format(dateForm) != "2026-01-27" || w.To.Format(dateForm) != "2026-02-02" {
		t.Fatalf("coldest week %+v, want 27 January to 2 February", w)
	}
	near(t, "week outdoors", w.Outdoors, -10)
	near(t, "week heat", w.Heat, (167*12+30)/168.)
	near(t, "week honey", w.Honey, 168*0.002)
	// The week begins in hour 42; confinement lasts from 50 to 109.
	near(t, "week confined", w.Confined, 60)
	near(t, "air closure", l.Closure.Air, -0.001)
	if l.Died() || l.Starved() || !l.Wet() || !l.Cut() || l.Verdict() != "unsure" {
		t.Errorf("died %v starved %v wet %v cut %v verdict %s", l.Died(), l.Starved(), l.Wet(), l.Cut(), l.Verdict())
	}
	if len(l.Events) != 1 || l.From.Format(dateForm) != "2026-01-25" || l.To.Format(dateForm) != "2026-02-04" {
		t.Errorf("events %v from %v to %v", l.Events, l.From, l.To)
	}
}

func TestOnlyWholeDaysCount(t *testing.T) {
	tr := sample()
	tr.Hours = 18 + 24 + 23 // to 23:00 on 27 January, which is the colder day
	l := From(tr)
	if got := l.Bees.PeakDay.Format(dateForm); got != "2026-01-26" {
		t.Errorf("peak day %s, want 2026-01-26, the one whole day", got)
	}
	near(t, "its heat", l.Bees.HeatPeakDay, 8)
	if l.ColdestWeek != nil {
		t.Errorf("a coldest week in %d hours", tr.Hours)
	}
}

func TestStarvation(t *testing.T) {
	tr := starved()
	l := From(tr)
	if !l.Starved() || !l.Honey.StarvedAt.Equal(tr.Time(120)) || !l.Bees.DiedAt.Equal(tr.Time(120)) || l.Verdict() != "no" {
		t.Errorf("starved at %v, died at %v, verdict %s; want hour 120", l.Honey.StarvedAt, l.Bees.DiedAt, l.Verdict())
	}
	// Means count living hours alone: 42 of 8 W, 78 of 12 W.
	near(t, "heat mean", l.Bees.HeatMean, (42*8+78*12)/120.)
	near(t, "reach", l.ReachMin, 0.5)
	answer := l.Answer(quantity.Metric)
	if !strings.HasPrefix(answer, "No: ") || !strings.Contains(answer, "30 January 2026") {
		t.Errorf("answer %q names no starvation on 30 January 2026", answer)
	}
	// A colony that dies with honey left has not starved.
	tr = starved()
	for _, c := range tr.Channels {
		if c.Name == "honey.left" {
			for h := range c.Values {
				c.Values[h] = 5
			}
		}
	}
	if l := From(tr); l.Starved() || !l.Died() || !strings.Contains(l.Answer(quantity.Metric), "dead from 30 January 2026") {
		t.Errorf("with honey left: %s", l.Answer(quantity.Metric))
	}
}

func TestAnswers(t *testing.T) {
	well := sample()
	for _, c := range well.Channels {
		if c.Name == "bees.isolated" {
			clear(c.Values)
		}
	}
	for _, c := range []struct {
		name  string
		tr    *season.Trace
		begin string
		holds string
	}{
		{"comes through", well, "Yes: ", "480 g of the 10 kg and the 500 g fed of honey by 4 February 2026"},
		{"cut off", sample(), "Not surely: ", "12 hours"},
		{"starves", starved(), "No: ", "5 days before its end"},
		{"no hours", &season.Trace{}, "There is nothing", ""},
	} {
		got := From(c.tr).Answer(quantity.Metric)
		if !strings.HasPrefix(got, c.begin) || !strings.Contains(got, c.holds) || strings.Count(got, ".")-strings.Count(got, ".0") > 2 {
			t.Errorf("%s: %q", c.name, got)
		}
	}
}

// leaves lists every value of decoded JSON under the key that Lines would give it.
func leaves(prefix string, v any, found map[string]any) {
	switch x := v.(type) {
	case map[string]any:
		for k, y := range x {
			key := k
			if prefix != "" {
				key = prefix + "." + k
			}
			leaves(key, y, found)
		}
	case []any:
		for _, y := range x {
			leaves(prefix+"[]", y, found)
		}
	default:
		found[prefix] = v
	}
}

func decoded(t *testing.T, l Ledger) map[string]any {
	t.Helper()
	text, err := json.Marshal(l)
	if err != nil {
		t.Fatal(err)
	}
	var v any
	if err := json.Unmarshal(text, &v); err != nil {
		t.Fatal(err)
	}
	found := map[string]any{}
	leaves("", v, found)
	return found
}

// TestWaterTold: where water first settled and why, when it hung overhead, what
// spring asked for, and what open honey took up.
func TestWaterTold(t *testing.T) {
	tr := sample()
	l := From(tr)
	if f := l.Water.First; f == nil || f.Face != "left wall" || f.Temp != 2 || f.DewPoint != 3 || len(f.Others) != 1 || f.Others[0].Temp != 9 {
		t.Errorf("first wet face %+v", f)
	}
	if f := l.Water.FirstOver; f == nil || !f.At.Equal(tr.Time(30)) || f.Others[0].Face != "floor" {
		t.Errorf("first wet face overhead %+v", f)
	}
	if w := l.Water; w.InsideMost != 0.03 || !w.InsideMostAt.Equal(tr.Time(77)) || !w.InsideFirst.Equal(tr.Time(71)) {
		t.Errorf("inside the shell %g kg at %v, from %v", w.InsideMost, w.InsideMostAt, w.InsideFirst)
	}
	if !l.Water.OverheadFirst.Equal(tr.Time(30)) || !l.Water.OverheadLast.Equal(tr.Time(33)) {
		t.Errorf("overhead from %v to %v", l.Water.OverheadFirst, l.Water.OverheadLast)
	}
	text := readFirstWet(&l, voice{quantity.Metric})
	for _, part := range []string{"left wall", "100 mm", "2 °C", "3 °C", "above the cluster it began on 26 January"} {
		if !strings.Contains(text, part) {
			t.Errorf("%q lacks %q", text, part)
		}
	}
	l = FromRun(warmInput(), warm())
	s := l.Water.Spring
	if s == nil || math.Abs(s.Wanted-0.12) > 1e-12 || s.Drunk != 0.05 || s.Days != 2 || s.DryDays != 1 || s.DryNestHours != 2 {
		t.Fatalf("spring %+v", s)
	}
	if text := readSpring(&l, voice{quantity.Metric}); !strings.Contains(text, "On 1 of 2 days the hive was too dry") {
		t.Error(text)
	}
	if h := l.Honey; h.OpenWater != 0.215 || h.FermentHours != 2 || !strings.Contains(readFerments(&l, voice{}), "21.5 %") {
		t.Errorf("open honey %g for %g h", h.OpenWater, h.FermentHours)
	}
	// In the south spring is September to November.
	in := warmInput()
	in.Plan.Site.HasPlace, in.Plan.Site.Latitude = true, -40
	if l := FromRun(in, warm()); l.Water.Spring != nil {
		t.Errorf("a southern spring in March: %+v", l.Water.Spring)
	}
}

// Every key of the JSON is described, every description has its key, and the two
// hold the same number.
func TestLinesDescribeTheJSON(t *testing.T) {
	dead := starved()
	dead.Warnings = []string{"doubtful"}
	cold, hot := From(dead), FromRun(warmInput(), warm())
	held := []map[string]any{decoded(t, cold), decoded(t, hot)}
	seen := map[string]bool{}
	for _, n := range Lines() {
		if seen[n.Key] {
			t.Errorf("%s stands twice", n.Key)
		}
		seen[n.Key] = true
		if n.Unit == "" || n.Meaning == "" || n.Section != "" && (n.Label == "" || n.value == nil || n.reading == nil) {
			t.Errorf("%s lacks unit, meaning, label, value or reading", n.Key)
		}
		some := false
		for i, l := range []*Ledger{&cold, &hot} {
			v, ok := held[i][n.Key]
			some = some || ok
			if x, told := n.Value(l); told {
				if got, isNumber := v.(float64); !isNumber || got != x {
					t.Errorf("%s of %s is %v in the JSON and %v in the table", n.Key, l.Hive, v, x)
				}
			}
		}
		if !some {
			t.Errorf("%s is described but not in the JSON", n.Key)
		}
	}
	for _, found := range held {
		for key := range found {
			if !seen[key] {
				t.Errorf("%s is in the JSON but not described", key)
			}
		}
	}
	// A unit in the last part of a name is the line's unit.
	for _, n := range Lines() {
		for suffix, unit := range map[string]string{"_kg": "kg", "_C": "°C", "_W": "W", "_kWh": "kWh", "_mm": "mm", "_percent": "%", "_days": "d", "_hours": "h", "_L": "L", "_m": "m"} {
			if strings.HasSuffix(n.Key, suffix) && n.Unit != unit {
				t.Errorf("%s has the unit %s", n.Key, n.Unit)
			}
		}
	}
}

func TestJSONKeepsItsKeys(t *testing.T) {
	found := decoded(t, From(sample()))
	for _, key := range []string{
		"honey.burned_kg", "honey.left_kg", "honey.by_month[].month", "honey.by_month[].kg",
		"bees.heat_mean_W", "bees.heat_peak_W", "bees.peak_at", "bees.peak_share_of_limit",
		"warmth.under_lid_mean_C", "warmth.cluster_air_mean_C", "warmth.floor_mean_C", "warmth.warm_depth_mean_mm",
		"water.produced_kg", "water.vented_kg", "water.stored_kg", "water.condensed_kg.lid", "water.condensed_kg.walls", "water.condensed_kg.floor", "water.overhead_hours",
		"co2_peak_percent", "loss_kWh.lid", "reach_min_days",
		"closure.heat", "closure.vapour", "closure.co2", "closure.air", "closure.honey",
		"honey.gained_kg", "nectar.carried_kg", "nectar.unripe_kg", "water.from_honey_kg", "water.from_nectar_kg", "water.spread_kg", "water.lying_kg.walls",
		"summer.nest_above_36_hours", "summer.nest_above_37_hours", "summer.nest_above_38_hours", "summer.nest_max_C", "summer.comb_max_C",
		"summer.fanning_bee_hours", "summer.water_hauled_L", "summer.water_worst_day_L", "summer.water_flights", "summer.water_flight_hours",
		"summer.outside_hours", "summer.outside_most_share", "summer.water_to_put_out_L", "summer.water_within_m",
	} {
		if _, ok := found[key]; !ok {
			t.Errorf("no %s", key)
		}
	}
}

func TestDateRoundTrip(t *testing.T) {
	for _, d := range []Date{{}, {time.Date(2026, 2, 3, 0, 0, 0, 0, time.UTC)}} {
		text, err := json.Marshal(d)
		if err != nil {
			t.Fatal(err)
		}
		var back Date
		if err := json.Unmarshal(text, &back); err != nil || !back.Equal(d.Time) {
			t.Errorf("%v became %v (%v) by way of %s", d, back, err, text)
		}
	}
	var d Date
	if err := json.Unmarshal([]byte(`"3 Feb"`), &d); err == nil {
		t.Error("a day in another form was read")
	}
}

func TestReadings(t *testing.T) {
	for name, tr := range map[string]*season.Trace{"sample": sample(), "starved": starved(), "warm": warm(), "empty": {}} {
		l := FromRun(warmInput(), tr)
		metric, us := l.Readings(quantity.Metric), l.Readings(quantity.US)
		for _, list := range [][]Reading{metric, us} {
			for _, r := range list {
				if !strings.HasSuffix(r.Text, ".") || strings.Contains(r.Text, "NaN") || strings.Contains(r.Text, "%!") || r.Text[0] >= 'a' && r.Text[0] <= 'z' {
					t.Errorf("%s: %s reads %q", name, r.Key, r.Text)
				}
			}
		}
		if name != "empty" && len(metric) < 60 {
			t.Errorf("%s has only %d readings", name, len(metric))
		}
	}
	l := From(sample())
	want := map[string]string{
		"coldest_week.outdoors_mean_C":    "Between 27 January and 2 February 2026 it was coldest, -10 °C on the mean; the bees ran at 12.1 W, about a fifth of what they can keep up, and burned 336 g of honey.",
		"confinement.longest_hours":       "Between 27 and 29 January 2026 bees could not move for 2.5 days; they began it with honey in contact for 4 days, and in all they sat without honey for 12 hours.",
		"water.overhead_hours":            "Overhead water hangs on lid or top board above the bees, where it chills them when it drips: there was some for 4 hours, at most 4 g on 26 January 2026; 15 g dripped on it.",
		"loss_kWh.lid":                    "0.2 kWh went through lid, top board and the vents of the lid, less the sun's gain, worth 67.3 g of honey.",
		"co2_peak_percent":                "The air beside the cluster was most stale on 25 January 2026 at 13:00, with 3 % of CO2.",
		"confinement.reach_at_start_days": "When it began, honey in contact was enough for 4 days, longer than it lasted.",
	}
	got := map[string]string{}
	for _, r := range l.Readings(quantity.Metric) {
		got[r.Key] = r.Text
	}
	for key, text := range want {
		if got[key] != text {
			t.Errorf("%s reads\n%q, want\n%q", key, got[key], text)
		}
	}
	want = map[string]string{
		"honey.gained_kg":            "It carried in 26 kg of nectar, which makes 12 kg of honey; 13.5 kg of water dried off and 500 g is still to dry.",
		"honey.least_kg":             "Stores were lowest on 7 April 2026, with 5.5 kg.",
		"winter.honey_burned_kg":     "In winter, from 1 March 2026 to 15 April 2026, it burned 11 kg and had 6 kg left.",
		"heat.lost_kWh":              "Heat left with the air, 29.1 kWh, and through floor and edges, 0.0 kWh; through the walls 0.0 kWh and through the lid by 0.3 kWh less than the sun gave.",
		"water.produced_kg":          "Bees and nectar gave off 20 kg of water (4.72 kg from honey eaten, 13.5 kg from nectar, 1.58 kg spread for cooling): 19 kg left with the air, 50 g is still in the hive, 400 g ran out, 200 g was drunk from wet faces, 100 g went into walls and lid, 350 g left through walls and lid; bare wood drew in 100 g of rain.",
		"water.condensed_kg.walls":   "9 kg of water settled on the walls in all, an amount that counts the same water each time it dries and settles again; at most 110 g lay there at once, and 30 g at the end.",
		"summer.nest_above_36_hours": "The brood nest was above 36 °C for 4 hours, above 37 °C for 3 hours and above 38 °C for an hour; it was hottest on 20 April 2026 at 02:00, 38.4 °C.",
		"summer.outside_hours":       "Bees hung outside for 2 hours, 30 % of them at most, on 20 April 2026 at 02:00.",
		"summer.fanning_bee_hours":   "Fanning against heat, damp and stale air took 14,000 hours of single bees, most on 20 April 2026, when 12 fanned on the mean of the day.",
		"summer.water_hauled_L":      "Bees hauled 1.58 L of water to cool the nest, 1.2 L of it on the worst day, 19 April 2026.",
		"summer.water_flight_hours":  "It took about 63,000 flights and 10,000 hours of foragers, which are lost to nectar and pollen.",
		"summer.water_to_put_out_L":  "Put out 1.5 L of water a day within 300 m and keep it filled through the heat: that is what the worst day takes, rounded up.",
		"comb.share_of_strength":     "The outer combs of body 2 may give way, should their wax be weak; at worst, on 20 April 2026 at 03:00, they are 41 °C warm with 2 kg of honey and 800 g of nectar each and bear 30 % of what they can (between about a fifth and 110 %, as the strength of warm wax is uncertain); the top attachment would go first.",
	}
	clear(got)
	l = FromRun(warmInput(), warm())
	for _, r := range l.Readings(quantity.Metric) {
		got[r.Key] = r.Text
	}
	for key, text := range want {
		if got[key] != text {
			t.Errorf("%s reads\n%q, want\n%q", key, got[key], text)
		}
	}
}

func TestSpokenForms(t *testing.T) {
	day := func(y int, m time.Month, d int) time.Time { return time.Date(y, m, d, 0, 0, 0, 0, time.UTC) }
	for _, c := range [][2]string{
		{span(day(2026, 1, 12), day(2026, 1, 18)), "12 and 18 January 2026"},
		{span(day(2026, 1, 30), day(2026, 2, 5)), "30 January and 5 February 2026"},
		{span(day(2025, 12, 29), day(2026, 1, 4)), "29 December 2025 and 4 January 2026"},
		{shareIn(0.2), "about a fifth"},
		{shareIn(0.51), "about half"},
		{shareIn(0.45), "45 %"},
		{shareIn(0.003), "less than a hundredth"},
		{shareIn(1), "all"},
		{shareIn(1.3), "130 %"},
		{hoursIn(1), "an hour"},
		{hoursIn(47), "47 hours"},
		{hoursIn(72), "3 days"},
		{daysIn(0.5), "12 hours"},
		{count(7), "7"},
		{count(63200), "63,000"},
		{count(1234567), "1,200,000"},
		{percent(0), "0 %"},
		{percent(1e-9), "less than 0.00001 %"},
		{percent(1.23e-4), "0.012 %"},
	} {
		if c[0] != c[1] {
			t.Errorf("got %q, want %q", c[0], c[1])
		}
	}
}

func TestTextFitsThePage(t *testing.T) {
	tr := sample()
	tr.Hive.Name = strings.Repeat("a hive with a long name ", 6)
	for _, system := range []quantity.System{quantity.Metric, quantity.US} {
		for _, tr := range []*season.Trace{tr, starved(), sample(), warm()} {
			l := From(tr)
			var b strings.Builder
			if err := l.WriteText(&b, system); err != nil {
				t.Fatal(err)
			}
			other := From(sample())
			if err := DifferenceIn(l, other, system).WriteText(&b, system); err != nil {
				t.Fatal(err)
			}
			if err := WriteOverview(&b, []Ledger{l, other}, system); err != nil {
				t.Fatal(err)
			}
			text := b.String()
			for line := range strings.Lines(text) {
				if n := utf8.RuneCountInString(strings.TrimRight(line, "\n")); n > Width {
					t.Errorf("a line of %d characters: %q", n, line)
				}
			}
			first, _, _ := strings.Cut(text, "\n\n")
			if got := strings.Join(strings.Fields(first), " "); got != l.Answer(system) {
				t.Errorf("the text begins with %q, not with the answer", got)
			}
			closure, how := strings.Index(text, "\nClosure\n"), strings.Index(text, "\nHow we know\n")
			if closure < 0 || how < closure || strings.Count(text, "one run of one year") != 1 {
				t.Error("closure and how we know, in this order, with the uncertainty once, are not there")
			}
			if us := system == quantity.US; us != strings.Contains(text, "°F") || us == strings.Contains(text, "°C") {
				t.Errorf("system %v: wrong units in\n%s", system, text)
			}
		}
	}
}

func TestDifference(t *testing.T) {
	a, b := From(sample()), From(sample())
	b.Hive = "Other"
	b.Honey.Burned, b.Honey.ForHeat = a.Honey.Burned-0.2, a.Honey.ForHeat-0.19
	b.Honey.ForOther = b.Honey.Burned - b.Honey.ForHeat
	b.Heat.Bees = a.Heat.Bees - 0.7
	b.LossHeat.Back = a.LossHeat.Back - 0.9
	b.LossHeat.Lid = a.LossHeat.Lid + 0.2
	b.Water.OverheadHours, b.Water.Condensed.Lid = 0, 0.05
	c := Difference(a, b)
	row := func(key string) Row {
		i := slices.IndexFunc(c.Rows, func(r Row) bool { return r.Key == key })
		if i < 0 {
			t.Fatalf("no row %s", key)
		}
		return c.Rows[i]
	}
	r := row("honey.burned_kg")
	near(t, "difference", r.Difference, -0.2)
	if r.A != a.Honey.Burned || r.B != b.Honey.Burned || r.Unit != "kg" || r.Name != "honey: burned" {
		t.Errorf("row %+v", r)
	}
	near(t, "lid", row("loss_kWh.lid").Difference, 0.2)
	names := map[string]bool{}
	for _, r := range c.Rows {
		if names[r.Name] {
			t.Errorf("two rows are called %q", r.Name)
		}
		names[r.Name] = true
	}
	want := "Other burns 200 g less than Sample (280 g against 480 g): bees and brood give 0.7 kWh less heat; of the ways out of the hive, 0.9 kWh less goes through the walls and 0.2 kWh more by all others together."
	if c.Honey != want {
		t.Errorf("honey: %q, want %q", c.Honey, want)
	}
	hot, cooler := FromRun(warmInput(), warm()), FromRun(warmInput(), warm())
	cooler.Hive = "Cooler"
	cooler.Summer.CombMax -= 2
	cooler.Summer.Above36, cooler.Summer.Outside, cooler.Summer.Hauled = 1, 0, 1
	cooler.Comb = &Comb{Class: "holds"}
	cooler.Winter = &Winter{hot.Winter.From, hot.Winter.To, hot.Winter.Burned - 1, 7}
	cooler.Honey.Burned -= 1.5
	e := Difference(hot, cooler)
	if want := "In summer, Cooler beside Warm: its warmest comb is 2 K cooler (39 °C against 41 °C); its brood nest is above 36 °C for an hour against 4 hours; bees hang outside for 0 hours against 2 hours; they haul 1 L of water against 1.58 L; its combs hold, where those of Warm may give way."; e.Summer != want {
		t.Errorf("summer: %q, want %q", e.Summer, want)
	}
	if want := "In winter, up to 15 April 2026, Cooler burns 1 kg less than Warm (10 kg against 11 kg). Over the whole run Cooler burns 1.5 kg less"; !strings.HasPrefix(e.Honey, want) {
		t.Errorf("honey: %q, want %q", e.Honey, want)
	}
	if i := slices.IndexFunc(e.Rows, func(r Row) bool { return r.Key == "summer.outside_hours" }); i < 0 || e.Rows[i].Difference != -2 {
		t.Errorf("no row of bees outside in %v", e.Rows)
	}
	// What one of the two has is compared with none, whichever it is.
	for _, d := range []Comparison{Difference(a, hot), Difference(hot, a)} {
		if !slices.ContainsFunc(d.Rows, func(r Row) bool { return r.Key == "summer.outside_hours" && math.Abs(r.Difference) == 2 }) {
			t.Errorf("%s and %s: no row of bees outside", d.A, d.B)
		}
	}
	want = "Other stays dry above the cluster, where Sample has water for 4 hours: 50 g settled overhead in all against 100 g, and the air carried out 200 g of water against 200 g."
	if c.Overhead != want {
		t.Errorf("overhead: %q, want %q", c.Overhead, want)
	}
	b.Honey.ForOther, b.Honey.ForHeat = a.Honey.ForOther-0.2, a.Honey.ForHeat
	for name, x := range map[string]struct{ got, holds string }{
		"flight":     {Difference(a, b).Honey, "most of that is flight and rearing, 200 g less"},
		"the same":   {Difference(a, a).Honey, "burn the same honey to within 50 g"},
		"one dies":   {Difference(a, From(starved())).Honey, "is dead from 30 January 2026 on"},
		"other dies": {Difference(From(starved()), a).Honey, "is dead from 30 January 2026 on"},
		"both die":   {Difference(From(starved()), From(starved())).Honey, "Both starve"},
		"wetter":     {Difference(b, a).Overhead, "where Other stays dry"},
		"as wet":     {Difference(a, a).Overhead, "equally long in both"},
		"one summer": {Difference(a, hot).Summer, "above 36 °C for 4 hours against 0 hours"},
		"summers":    {Difference(hot, hot).Summer, "do the same"},
		"dead":       {Difference(hot, From(starved())).Summer, "not compared"},
		"winters":    {Difference(hot, hot).Honey, "In winter, up to 15 April 2026, Warm and Warm burn the same honey"},
		"dry":        {Difference(b, b).Overhead, "stay dry above the cluster"},
	} {
		if !strings.Contains(x.got, x.holds) {
			t.Errorf("%s: %q lacks %q", name, x.got, x.holds)
		}
	}
	// A short run has no coldest week to compare.
	short := sample()
	short.Hours = 100
	d := Difference(a, From(short))
	if slices.ContainsFunc(d.Rows, func(r Row) bool { return strings.HasPrefix(r.Key, "coldest_week") }) {
		t.Error("a week is compared with none")
	}
}

func TestDifferencesCarryTheirUnits(t *testing.T) {
	lines := map[string]Line{}
	for _, n := range Lines() {
		lines[n.Key] = n
	}
	for _, c := range []struct {
		key    string
		v      float64
		system quantity.System
		want   string
	}{
		{"warmth.floor_mean_C", 5, quantity.US, "+9 °F"},
		{"warmth.floor_mean_C", -5, quantity.Metric, "-5 K"},
		{"honey.burned_kg", 0.45359237, quantity.US, "+1 lb"},
		{"honey.burned_kg", -1.25, quantity.Metric, "-1.25 kg"},
		{"honey.burned_kg", 1e-9, quantity.Metric, "0 kg"},
		{"loss_kWh.lid", 0.001, quantity.Metric, "0.0 kWh"},
		{"bees.peak_share_of_limit", -1e-16, quantity.Metric, "0"},
		{"warmth.warm_depth_mean_mm", 25.4, quantity.US, "+1 in"},
		{"water.overhead_hours", 3, quantity.Metric, "+3 h"},
		{"summer.water_hauled_L", 2, quantity.Metric, "+2 L"},
		{"summer.water_hauled_L", 0, quantity.US, "0 fl oz"},
		{"summer.water_within_m", 152.4, quantity.US, "+500 ft"},
		{"summer.comb_max_C", -2, quantity.Metric, "-2 K"},
	} {
		n, ok := lines[c.key]
		if !ok {
			t.Fatalf("no line %s", c.key)
		}
		if got := n.FormatDifference(c.v, c.system); got != c.want {
			t.Errorf("%s %v: %q, want %q", c.key, c.v, got, c.want)
		}
	}
}

func TestWrap(t *testing.T) {
	for _, c := range []struct{ text, indent, want string }{
		{"", "  ", ""},
		{"one two three", "", "one two\nthree\n"},
		{"one two three", "  ", "  one two\n  three\n"},
		{"after 12 kg", "", "after\n12 kg\n"}, // a number keeps its unit
		{"extraordinarily long", "", "extraordinarily\nlong\n"},
		{"ends in 7", "", "ends in 7\n"},
	} {
		if got := Wrap(c.text, c.indent, 9); got != c.want {
			t.Errorf("%q: %q, want %q", c.text, got, c.want)
		}
	}
}

func TestHoneyEnergyIsTheBees(t *testing.T) {
	if got := colony.DefaultBiology().HoneyEnergy; got != HoneyEnergy {
		t.Errorf("bees take %g J/kg, the ledger %g", got, HoneyEnergy)
	}
}

// A real run: what the ledger sums must be what the bees gave.
func TestBalancesOfARun(t *testing.T) {
	text, err := fs.ReadFile(examples.Files(), examples.Order()[1])
	if err != nil {
		t.Fatal(err)
	}
	plan, err := hive.Decode("example", strings.NewReader(string(text)))
	if err != nil {
		t.Fatal(err)
	}
	w, err := climate.Builtin("burlington-vt")
	if err != nil {
		t.Fatal(err)
	}
	from := time.Date(2026, 1, 20, 0, 0, 0, 0, w.Location())
	w, err = w.Window(from, from.AddDate(0, 0, 10))
	if err != nil {
		t.Fatal(err)
	}
	tr, err := season.Run(context.Background(), season.Input{Plan: plan, Weather: w, Biology: colony.DefaultBiology()}, nil)
	if err != nil {
		t.Fatal(err)
	}
	l := From(tr)
	within := func(what string, got, want, share float64) {
		t.Helper()
		if !(math.Abs(got-want) <= share*math.Abs(want)+1e-9) {
			t.Errorf("%s: %.9g, want %.9g within %g", what, got, want, share)
		}
	}
	heat := math.Abs(l.Closure.Heat) + 1e-9
	within("heat", l.Heat.Lost+l.Heat.Stored+l.Heat.WithVapour, l.Heat.Bees, heat)
	within("ways", l.LossHeat.Sum(), l.Heat.Lost, 1e-9)
	within("ways as honey", l.LossHoney.Sum()*HoneyEnergy, l.LossHeat.Sum()*3.6e6, 1e-9)
	months := 0.0
	for _, m := range l.Honey.ByMonth {
		months += m.Mass
	}
	within("months", months, l.Honey.Burned, 1e-9)
	within("honey", l.Honey.Start+l.Honey.Fed-l.Honey.Burned, l.Honey.Left, math.Abs(l.Closure.Honey)+1e-9)
	if l.Hours != 240 || l.ColdestWeek == nil || !(l.Bees.HeatMean > 1) || !(l.Honey.Burned > 0.05) {
		t.Errorf("ten days in January: %+v", l)
	}
	for key, v := range decoded(t, l) {
		if x, ok := v.(float64); ok && (math.IsNaN(x) || math.IsInf(x, 0)) {
			t.Errorf("%s is %v", key, x)
		}
	}
}

func ExampleLedger_Answer() {
	l := Ledger{Hive: "Nine", Hours: 4392, Honey: Honey{Start: 25, Burned: 11.5, Left: 13.5}}
	l.To = Date{time.Date(2026, 4, 15, 0, 0, 0, 0, time.UTC)}
	fmt.Println(l.Answer(quantity.Metric))
	fmt.Println(l.Answer(quantity.US))
	// Output:
	// Yes: in this run the colony burns 11.5 kg of the 25 kg of honey by 15 April 2026 and has 13.5 kg left.
	// Yes: in this run the colony burns 25.4 lb of the 55.1 lb of honey by 15 April 2026 and has 29.8 lb left.
}

func BenchmarkFrom(b *testing.B) {
	tr := sample()
	for b.Loop() {
		From(tr)
	}
}
