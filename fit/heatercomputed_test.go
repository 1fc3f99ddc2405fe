package fit

import (
	"context"
	"math"
	"math/rand/v2"
	"os"
	"testing"
	"time"

	"hackle/hive"
	"hackle/quantity"
	"hackle/season"
	"hackle/wall"
)

var joints = &wall.Cache{} // shared, so that thermal bridges are solved once

func example(t testing.TB, name string) hive.Plan {
	t.Helper()
	f, err := os.Open("../examples/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	p, err := hive.Decode(name, f)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// computedTest is the log of a heater test of a hive as the engine has it: steady
// air at each thermometer, with noise.
func computedTest(t testing.TB, rng *rand.Rand, in season.HeaterInput, heights []float64, hours int, noise float64, phase string, start time.Time) []HeaterRow {
	t.Helper()
	r, err := season.Heater(in, joints)
	if err != nil {
		t.Fatal(err)
	}
	var rows []HeaterRow
	for i := range hours * 12 {
		warm := 1 - math.Exp(-float64(i)/24) // settles within some hours
		row := HeaterRow{At: start.Add(time.Duration(i) * 5 * time.Minute), Watts: in.Watts, Outside: in.Outside + noise*rng.NormFloat64(), Phase: phase}
		for _, z := range heights {
			row.Inside = append(row.Inside, in.Outside+warm*excessAt(r.Levels, z, in.Outside)+noise*rng.NormFloat64())
		}
		rows = append(rows, row)
	}
	return rows
}

// TestHeaterFindsTheShell: a test of a hive whose shell conducts a quarter more
// than its description says finds that quarter.
func TestHeaterFindsTheShell(t *testing.T) {
	plan := example(t, "two-deep-low-entrance.yaml")
	in := season.HeaterInput{Plan: plan, Date: time.Date(2026, 1, 15, 0, 0, 0, 0, time.UTC), Watts: 15, Outside: 2, Humidity: 0.8, Wind: 1}
	truth := in
	truth.Plan = Factors{1.25, 1, 1}.Plan(plan)
	heights := []float64{0.03, 0.15, 0.3, 0.42, 0.49}
	rng := rand.New(rand.NewPCG(5, 5))
	log := &HeaterLog{Heights: heights, Rows: computedTest(t, rng, truth, heights, 84, 0.05, "", testStart)}
	a, err := AnalyseHeater(log, HeaterOptions{Height: plan.Hive.Height(), SensorError: 0.02, PowerError: 0.001})
	if err != nil {
		t.Fatal(err)
	}
	c, err := CompareHeater(context.Background(), &a.Phases[0], in, joints)
	if err != nil {
		t.Fatal(err)
	}
	t.Log(c.Text)
	if !c.Shell.Interval.Contains(1.25) || c.Shell.Interval.Width() > 0.1 {
		t.Errorf("shell %.3f (%.3f to %.3f), wanted 1.25", c.Shell.Value, c.Shell.Interval.Lo, c.Shell.Interval.Hi)
	}
	if c.Ratio.Interval.Contains(1) {
		t.Errorf("ratio %.3f does not stand clear of 1", c.Ratio.Value)
	}
}

// TestTopThermometerOnTheEngine: the statement of the trade that one thermometer
// under the lid hardly tells a vented from an unvented thin-walled hive while
// several do, asked of the engine by way of the analysis (common practice, no
// source).
func TestTopThermometerOnTheEngine(t *testing.T) {
	shut := example(t, "two-deep-top-vent.yaml")
	open := shut.Clone()
	vent := -1
	for i, o := range shut.Hive.Openings {
		if o.Sill > 0.2 {
			vent = i
		}
	}
	if vent < 0 {
		t.Fatal("the example has no upper vent")
	}
	shut.Hive.Openings[vent].Schedule = []hive.OpeningState{{From: hive.Day{Month: 1, Day: 1}, Width: 0}}
	open.Hive.Openings[vent].Schedule = nil
	heights := []float64{0.03, 0.15, 0.3, 0.42, 0.49}
	rng := rand.New(rand.NewPCG(6, 6))
	in := season.HeaterInput{Plan: shut, Date: time.Date(2026, 1, 15, 0, 0, 0, 0, time.UTC), Watts: 12, Outside: 0, Humidity: 0.8, Wind: 0.5, Height: 0.2, Empty: true}
	rows := computedTest(t, rng, in, heights, 80, 0.05, "vent shut", testStart)
	in.Plan = open
	rows = append(rows, computedTest(t, rng, in, heights, 80, 0.05, "vent open", testStart.Add(80*time.Hour))...)
	a, err := AnalyseHeater(&HeaterLog{Heights: heights, Rows: rows}, HeaterOptions{Height: shut.Hive.Height()})
	if err != nil {
		t.Fatal(err)
	}
	c := a.Changes[0]
	t.Log(c.Text)
	for i, e := range c.Alone {
		t.Logf("%.0f mm: %+.3f W/K", heights[i]*1000, e.Value)
	}
	if !c.All.Tells() || c.All.Value <= 0 {
		t.Errorf("all thermometers: %+.3f W/K (%.3f to %.3f)", c.All.Value, c.All.Interval.Lo, c.All.Interval.Hi)
	}
	if top := c.Alone[len(c.Alone)-1].Value; top > c.All.Value {
		t.Errorf("the topmost shows %+.3f W/K, all %+.3f", top, c.All.Value)
	}
}

func TestProtocol(t *testing.T) {
	plan := example(t, "two-deep-low-entrance.yaml")
	in := season.HeaterInput{Plan: plan, Date: time.Date(2026, 1, 15, 0, 0, 0, 0, time.UTC), Outside: 2, Humidity: 0.8, Wind: 1, Empty: true}
	p, err := Protocol(in, quantity.Metric, joints)
	if err != nil {
		t.Fatal(err)
	}
	in.Watts = p.Watts
	r, err := season.Heater(in, joints)
	if err != nil {
		t.Fatal(err)
	}
	if x := r.MeanAir - in.Outside; x < 12 || x > 18 {
		t.Errorf("%.0f W warm the hive by %.1f K, wanted about 15", p.Watts, x)
	}
	if p.Hours < 72 || p.Settle > p.Hours {
		t.Errorf("%.0f h, of them %.0f to settle", p.Hours, p.Settle)
	}
	for i, z := range p.Heights {
		if z <= 0 || z >= plan.Hive.Height() || i > 0 && z <= p.Heights[i-1] {
			t.Errorf("thermometers at %v", p.Heights)
		}
	}
}
