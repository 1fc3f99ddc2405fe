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
		{"starves", starved(), "No: ", "6 days before its end"},
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

// Every key of the JSON is described, every description has its key, and the two
// hold the same number.
func TestLinesDescribeTheJSON(t *testing.T) {
	tr := starved()
	tr.Warnings = []string{"doubtful"}
	l := From(tr)
	found := decoded(t, l)
	seen := map[string]bool{}
	for _, n := range Lines() {
		if seen[n.Key] {
			t.Errorf("%s stands twice", n.Key)
		}
		seen[n.Key] = true
		v, ok := found[n.Key]
		if !ok {
			t.Errorf("%s is described but not in the JSON", n.Key)
			continue
		}
		if n.Unit == "" || n.Meaning == "" || n.Section != "" && (n.Label == "" || n.value == nil || n.reading == nil) {
			t.Errorf("%s lacks unit, meaning, label, value or reading", n.Key)
		}
		if x, ok := n.Value(&l); ok {
			if got, isNumber := v.(float64); !isNumber || got != x {
				t.Errorf("%s is %v in the JSON and %v in the table", n.Key, v, x)
			}
		}
	}
	for key := range found {
		if !seen[key] {
			t.Errorf("%s is in the JSON but not described", key)
		}
	}
	// A unit in the last part of a name is the line's unit.
	for _, n := range Lines() {
		for suffix, unit := range map[string]string{"_kg": "kg", "_C": "°C", "_W": "W", "_kWh": "kWh", "_mm": "mm", "_percent": "%", "_days": "d", "_hours": "h"} {
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
	for name, tr := range map[string]*season.Trace{"sample": sample(), "starved": starved(), "empty": {}} {
		l := From(tr)
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
		"water.overhead_hours":            "Water or ice hung above the cluster for 4 hours, at most 4 g on 26 January 2026; 15 g dripped on it.",
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
		for _, tr := range []*season.Trace{tr, starved(), sample()} {
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
