package fit

import (
	"context"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"hackle/climate"
	"hackle/colony"
	"hackle/logger"
	"hackle/season"
)

// winterRun is some weeks of the example hive in a typical winter.
func winterRun(t testing.TB, weeks int) season.Input {
	t.Helper()
	w, err := climate.Load("burlington-vt")
	if err != nil {
		t.Fatal(err)
	}
	from := time.Date(2025, 11, 20, 0, 0, 0, 0, w.Location())
	w, err = w.Window(from, from.AddDate(0, 0, 7*weeks))
	if err != nil {
		t.Fatal(err)
	}
	return season.Input{Plan: example(t, "two-deep-low-entrance.yaml"), Weather: w, Biology: colony.DefaultBiology(), Joints: joints}
}

// engineMade measures a run of the engine with other factors: thermometers at five
// places and a scale, with offsets, noise that lasts for hours, gaps and a super
// put on.
func engineMade(t testing.TB, in season.Input, truth Factors, seed uint64) []Series {
	t.Helper()
	rng := rand.New(rand.NewPCG(seed, 3))
	made := in
	made.Plan = truth.Plan(in.Plan)
	made.Biology = truth.Biology(in.Biology)
	tr, err := season.Run(context.Background(), made, nil)
	if err != nil {
		t.Fatal(err)
	}
	series := []Series{
		{Name: "floor", Quantity: logger.Temperature, Place: Inside, Height: 0.03, Column: "flank"},
		{Name: "low side", Quantity: logger.Temperature, Place: Inside, Height: 0.2, Column: "flank"},
		{Name: "high side", Quantity: logger.Temperature, Place: Inside, Height: 0.42, Column: "flank"},
		{Name: "under the lid", Quantity: logger.Temperature, Place: Inside, Height: 0.49, Column: "core"},
		{Name: "stand", Quantity: logger.Weight, Place: Scale, Pieces: []int{tr.Hours / 2}},
	}
	for i := range series {
		s := &series[i]
		v, _, err := ComputedAt(tr, s)
		if err != nil {
			t.Fatal(err)
		}
		noise, offset := 0.25, 0.2*rng.NormFloat64()
		if s.Place == Scale {
			noise, offset = 0.02, 23.0
		}
		e := 0.0
		s.Values = make([]float64, len(v))
		for k := range v {
			e = 0.8*e + 0.6*noise*rng.NormFloat64()
			s.Values[k] = v[k] + offset + e
			if s.Place == Scale && k >= tr.Hours/2 {
				s.Values[k] += 6.4
			}
			if rng.IntN(40) == 0 {
				s.Values[k] = math.NaN()
			}
		}
	}
	return series
}

// TestHiveRecoversFactors: data made by the engine with a shell, a leak and a
// colony other than described give them back inside their intervals, and predict
// weeks that were held out.
func TestHiveRecoversFactors(t *testing.T) {
	in := winterRun(t, 4)
	truth := Factors{1.3, 2.2, 0.85}
	series := engineMade(t, in, truth, 1)
	f, err := Hive(context.Background(), in, series, HiveOptions{Joints: joints})
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []float64{truth.Shell, truth.Leak, truth.Bees} {
		v := f.Factors[i]
		t.Logf("%s %.3f (%.3f to %.3f), learnt %.2f; true %.2f", v.Name, v.Value, v.Interval.Lo, v.Interval.Hi, v.Learnt, want)
		if !v.Interval.Contains(want) {
			t.Errorf("%s %.3f (%.3f to %.3f), true %.2f", v.Name, v.Value, v.Interval.Lo, v.Interval.Hi, want)
		}
	}
	if !f.Factors[2].Told || f.Factors[2].Interval.Width() > 0.2 {
		t.Errorf("with a scale the heat of the bees is %+v", f.Factors[2])
	}
	t.Log(f.Predicts)
	t.Logf("%d runs; %s", f.Posterior.Runs, strings.Join(f.Cannot, " "))
	if !(f.HeldAfter < 0.7*f.HeldBefore) || f.Covered < 0.85 {
		t.Errorf("held out: %.2f before, %.2f after, %.2f covered", f.HeldBefore, f.HeldAfter, f.Covered)
	}
	if len(f.Held) != 1 {
		t.Errorf("%d weeks held out", len(f.Held))
	}
	if m := f.Measured(in.Weather.End(), "loggers"); FactorsOf(m).Bees == 1 {
		t.Errorf("kept %+v", m)
	}
	// Thermometers alone: less is told, and it is said.
	bare, err := Hive(context.Background(), in, series[:3], HiveOptions{Joints: joints})
	if err != nil {
		t.Fatal(err)
	}
	if bare.Factors[2].Learnt > f.Factors[2].Learnt || !strings.Contains(strings.Join(bare.Cannot, " "), "Without a scale") {
		t.Errorf("without a scale: %+v %q", bare.Factors[2], bare.Cannot)
	}
	for i, want := range []float64{truth.Shell, truth.Leak, truth.Bees} {
		v := bare.Factors[i]
		t.Logf("thermometers alone: %s %.3f (%.3f to %.3f), learnt %.2f", v.Name, v.Value, v.Interval.Lo, v.Interval.Hi, v.Learnt)
		if v.Value*1.5 < want || v.Value > want*3 {
			t.Errorf("%s %.3f, true %.2f", v.Name, v.Value, want)
		}
	}
	t.Log(strings.Join(bare.Cannot, " "))
}

// TestHiveOfItself: a hive measured as computed gives factors whose intervals hold
// one, and nothing is found that predicts better.
func TestHiveOfItself(t *testing.T) {
	in := winterRun(t, 3)
	f, err := Hive(context.Background(), in, engineMade(t, in, NoFactors(), 2), HiveOptions{Joints: joints})
	if err != nil {
		t.Fatal(err)
	}
	// One draw of three intervals may miss: three standard deviations are asked for.
	for i, v := range f.Factors {
		if d := math.Abs(math.Log(v.Value)); d > 3*f.Posterior.StdDev[i] {
			t.Errorf("%s %.3f (%.3f to %.3f)", v.Name, v.Value, v.Interval.Lo, v.Interval.Hi)
		}
	}
	if strings.HasPrefix(f.Predicts, "The fit predicts") && f.HeldAfter < 0.85*f.HeldBefore {
		t.Error(f.Predicts)
	}
}

func TestHiveRefuses(t *testing.T) {
	in := winterRun(t, 1)
	n := len(in.Weather.Hours)
	empty := make([]float64, n)
	for i := range empty {
		empty[i] = math.NaN()
	}
	for name, s := range map[string][]Series{
		"nothing":        nil,
		"no hours":       {{Name: "x", Quantity: logger.Temperature, Place: Inside, Column: "core", Values: empty}},
		"other hours":    {{Name: "x", Quantity: logger.Temperature, Place: Inside, Column: "core", Values: empty[:5]}},
		"outdoors alone": {{Name: "x", Quantity: logger.Temperature, Place: Outdoors, Values: empty}},
	} {
		if f, err := Hive(context.Background(), in, s, HiveOptions{Joints: joints}); err == nil {
			t.Errorf("%s: fitted %+v", name, f.Factors)
		}
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Hive(ctx, in, engineMade(t, in, NoFactors(), 1), HiveOptions{Joints: joints}); err == nil {
		t.Error("a cancelled fit went on")
	}
}

// TestCompareHints: misfits of a known kind are told in words.
func TestCompareHints(t *testing.T) {
	in := winterRun(t, 3)
	tr, err := season.Run(context.Background(), in, nil)
	if err != nil {
		t.Fatal(err)
	}
	change := func(seed uint64, f func(s *Series)) string {
		rng := rand.New(rand.NewPCG(seed, 8))
		series := []Series{
			{Name: "low", Quantity: logger.Temperature, Place: Inside, Height: 0.03, Column: "flank"},
			{Name: "top", Quantity: logger.Temperature, Place: Inside, Height: 0.48, Column: "flank"},
			{Name: "stand", Quantity: logger.Weight, Place: Scale},
		}
		for i := range series {
			v, _, err := ComputedAt(tr, &series[i])
			if err != nil {
				t.Fatal(err)
			}
			series[i].Values = append([]float64(nil), v...)
			for k := range series[i].Values {
				series[i].Values[k] += 0.05 * rng.NormFloat64()
			}
			f(&series[i])
		}
		c, err := Compare(tr, series)
		if err != nil {
			t.Fatal(err)
		}
		return strings.Join(c.Hints, " ")
	}
	for want, f := range map[string]func(*Series){
		"as warm as computed": func(*Series) {},
		"3.0 K warmer than computed at all heights": func(s *Series) {
			if s.Place == Inside {
				for k := range s.Values {
					s.Values[k] += 3
				}
			}
		},
		"warm air escapes above": func(s *Series) {
			if s.Name == "top" {
				for k := range s.Values {
					s.Values[k] -= 3
				}
			}
		},
		"top follows the run best when taken as 2 h late": func(s *Series) {
			if s.Name == "top" {
				copy(s.Values[2:], append([]float64(nil), s.Values...))
			}
		},
		"g a day more than computed": func(s *Series) {
			if s.Place == Scale {
				for k := range s.Values {
					s.Values[k] -= 0.06 * float64(k) / 24
				}
			}
		},
	} {
		if got := change(1, f); !strings.Contains(got, want) {
			t.Errorf("wanted %q in %q", want, got)
		}
	}
}

// TestSensorInTheCluster: hours in which the cluster sits round a sensor are left
// out of a comparison and nothing else, and a fit reads air there and not nothing.
func TestSensorInTheCluster(t *testing.T) {
	in := winterRun(t, 1)
	tr, err := season.Run(context.Background(), in, nil)
	if err != nil {
		t.Fatal(err)
	}
	middle, radius := tr.Get("bees.height"), tr.Get("bees.radius")
	s := Series{Name: "seam", Quantity: logger.Temperature, Place: Inside, Height: middle[0] + radius[0]/2, Column: "core"}
	seen, notes, err := ComputedAt(tr, &s)
	if err != nil {
		t.Fatal(err)
	}
	all, _, err := computedAt(tr, &s, false)
	if err != nil {
		t.Fatal(err)
	}
	left := 0
	for i := range all {
		inside := math.Abs(s.Height-middle[i]) < radius[i]
		if math.IsNaN(all[i]) || all[i] == 0 || math.IsNaN(seen[i]) != inside || !inside && seen[i] != all[i] {
			t.Fatalf("hour %d: %g and %g, in the cluster %v", i, seen[i], all[i], inside)
		}
		if inside {
			left++
		}
	}
	if left == 0 || len(notes) != 1 {
		t.Errorf("%d hours in the cluster, notes %q", left, notes)
	}
}

func TestAlign(t *testing.T) {
	start := time.Date(2025, 1, 1, 0, 0, 0, 0, time.FixedZone("", -5*3600))
	got := Align(start, 3, []logger.Hour{{At: start.Unix() - 3600, Mean: 1}, {At: start.Unix(), Mean: 2}, {At: start.Unix() + 7200, Mean: 4}, {At: start.Unix() + 10800, Mean: 5}})
	if got[0] != 2 || !math.IsNaN(got[1]) || got[2] != 4 {
		t.Errorf("%v", got)
	}
}
