package fit

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"
)

// box is a hive as a network: air, combs, the wall's inner and outer half. Its
// conductance in the steady state is exact.
type box struct {
	film, wall, outer float64 // air to wall, through the wall, wall to outdoors [W/K]
	combFilm          float64 // air to combs [W/K]
	vent              float64 // air to outdoors [W/K]
	air, comb, wood   float64 // heat capacities, wood of each half [J/K]
	// share of the mean excess at each thermometer, rising with height.
	share []float64
}

func (b box) conductance() float64 {
	return b.vent + 1/(1/b.film+1/b.wall+1/b.outer)
}

var wooden = box{film: 3, wall: 5, outer: 9, combFilm: 8, vent: 0.25, air: 800, comb: 9000, wood: 7000, share: []float64{0.8, 1.0, 1.2}}

// run makes the log of a test: outdoors swings by day and wanders, thermometers
// carry an offset each and noise, and the meter a factor.
func (b box) run(rng *rand.Rand, hours, watts, swing, noise, offset, meter float64, phase string, start time.Time) []HeaterRow {
	const dt, every = 30.0, 300.0
	var rows []HeaterRow
	begin := 5 + swing*math.Sin(-2*math.Pi*0.4)
	t := [4]float64{begin, begin, begin, begin}
	wander := 0.0
	off := make([]float64, len(b.share)+1)
	for i := range off {
		off[i] = offset * rng.NormFloat64()
	}
	factor := 1 + meter*rng.NormFloat64()
	// The mean excess is that of the air node; the shares average to one.
	for s := 0.0; s < hours*3600; s += dt {
		wander = 0.9995*wander + 0.02*rng.NormFloat64()*math.Sqrt(dt/30)
		out := 5 + swing*math.Sin(2*math.Pi*(s/86400-0.4)) + wander
		flow := [4]float64{
			watts - b.film*(t[0]-t[2]) - b.combFilm*(t[0]-t[1]) - b.vent*(t[0]-out),
			b.combFilm * (t[0] - t[1]),
			b.film*(t[0]-t[2]) - b.wall*(t[2]-t[3]),
			b.wall*(t[2]-t[3]) - b.outer*(t[3]-out),
		}
		for i, c := range [4]float64{b.air, b.comb, b.wood, b.wood} {
			t[i] += dt * flow[i] / c
		}
		if math.Mod(s, every) == 0 {
			row := HeaterRow{At: start.Add(time.Duration(s) * time.Second), Watts: watts * factor, Outside: out + off[0] + noise*rng.NormFloat64(), Phase: phase}
			for i, f := range b.share {
				row.Inside = append(row.Inside, out+f*(t[0]-out)+off[i+1]+noise*rng.NormFloat64())
			}
			rows = append(rows, row)
		}
	}
	return rows
}

var (
	testHeights = []float64{0.1, 0.3, 0.5}
	testStart   = time.Date(2026, 1, 20, 18, 0, 0, 0, time.UTC)
)

// TestHeaterRecoversConductance: without noise both methods find the network's own
// conductance.
func TestHeaterRecoversConductance(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	log := &HeaterLog{Heights: testHeights, Rows: wooden.run(rng, 96, 15, 4, 0, 0, 0, "", testStart)}
	a, err := AnalyseHeater(log, HeaterOptions{Height: 0.6})
	if err != nil {
		t.Fatal(err)
	}
	p := a.Phases[0]
	want := wooden.conductance()
	// The shares of the three equal layers average to 1, so that the weighted mean
	// is the air node.
	if e := math.Abs(p.Average.Value/want - 1); e > 0.01 {
		t.Errorf("average method %.4f W/K, network %.4f, off by %.2g", p.Average.Value, want, e)
	}
	if e := math.Abs(p.Dynamic.Value/want - 1); e > 0.01 {
		t.Errorf("dynamic method %.4f W/K, network %.4f, off by %.2g", p.Dynamic.Value, want, e)
	}
	for _, c := range p.Criteria {
		t.Logf("%s %.3g (limit %g) met %v", c.Name, c.Found, c.Limit, c.Met)
	}
	// The storage, as seen through the air: every node's capacity times its share of
	// the air's excess in the steady state.
	g := 1 / (1/wooden.film + 1/wooden.wall + 1/wooden.outer)
	inner, outer := 1-g/wooden.film, g/wooden.outer
	storage := wooden.air + wooden.comb + wooden.wood*(inner+outer)
	// Steps of ten minutes stand for nodes of 2 to 30 minutes: a fifth is what can be
	// asked for.
	if e := math.Abs(p.Capacity/storage - 1); e > 0.2 {
		t.Errorf("storage %.0f J/K, network %.0f, off by %.2g", p.Capacity, storage, e)
	}
	// Single thermometers are off by their share.
	for i, s := range p.Sensors {
		if e := math.Abs(s.Alone.Value*wooden.share[i]/want - 1); e > 0.02 {
			t.Errorf("thermometer %d alone: %.3f W/K, wanted %.3f", i, s.Alone.Value, want/wooden.share[i])
		}
	}
}

// TestHeaterCoverage: over hundreds of tests with offsets, noise, a meter's error
// and wandering weather, the 95 % intervals hold the true conductance about as
// often as they say. Binomial scatter of 300 repeats: 92.3 to 97.3 %; intervals
// may be on the safe side.
func TestHeaterCoverage(t *testing.T) {
	const repeats = 300
	for _, c := range []struct {
		name  string
		hours float64
	}{{"four days", 96}, {"one night and day", 24}} {
		t.Run(c.name, func(t *testing.T) {
			want := wooden.conductance()
			count := map[string]int{}
			width := map[string]float64{}
			for i := range repeats {
				rng := rand.New(rand.NewPCG(uint64(i), 7))
				log := &HeaterLog{Heights: testHeights, Rows: wooden.run(rng, c.hours, 15, 3, 0.1, 0.14, 0.02, "", testStart)}
				// Thermometers of one kind: the mean of three against one outdoors
				// scatters by 0.14·√(1+1/3).
				a, err := AnalyseHeater(log, HeaterOptions{Height: 0.6, SensorError: 0.14 * math.Sqrt(4.0/3), PowerError: 0.02})
				if err != nil {
					t.Fatal(err)
				}
				p := a.Phases[0]
				for name, e := range map[string]Estimate{"average": p.Average, "dynamic": p.Dynamic, "best": p.Best} {
					if e.Interval.Contains(want) {
						count[name]++
					}
					width[name] += e.Interval.Width() / repeats / want
				}
			}
			for name, n := range count {
				share := float64(n) / repeats
				t.Logf("%s: covers %.3f, width %.3f of the value", name, share, width[name])
				if name == "average" && c.hours < 72 {
					continue // its conditions are not met; reported, not held
				}
				if share < 0.92 || share > 0.995 {
					t.Errorf("%s: interval covers %.3f, wanted about 0.95", name, share)
				}
			}
			if len(count) != 3 {
				t.Errorf("methods %v", count)
			}
		})
	}
}

// TestTopThermometerMisses: opening a vent that cools the lower air more than the
// top is seen by all thermometers and missed by the topmost alone.
func TestTopThermometerMisses(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	shut := wooden
	open := wooden
	open.vent += 0.25
	// The top keeps its excess: its share of the mean grows as the mean falls.
	ratio := open.conductance() / shut.conductance()
	open.share = []float64{3 - 1 - 1.2*ratio, 1, 1.2 * ratio}
	rows := shut.run(rng, 80, 15, 2, 0.05, 0, 0, "vent shut", testStart)
	rows = append(rows, open.run(rng, 80, 15, 2, 0.05, 0, 0, "vent open", testStart.Add(80*time.Hour))...)
	a, err := AnalyseHeater(&HeaterLog{Heights: testHeights, Rows: rows}, HeaterOptions{Height: 0.6})
	if err != nil {
		t.Fatal(err)
	}
	if len(a.Changes) != 1 {
		t.Fatalf("%d changes", len(a.Changes))
	}
	c := a.Changes[0]
	want := open.conductance() - shut.conductance()
	if !c.All.Tells() || !c.All.Interval.Contains(want) {
		t.Errorf("all thermometers: %+.3f (%.3f to %.3f), true %.3f", c.All.Value, c.All.Interval.Lo, c.All.Interval.Hi, want)
	}
	if top := c.Alone[2]; top.Tells() {
		t.Errorf("the topmost alone tells %+.3f (%.3f to %.3f)", top.Value, top.Interval.Lo, top.Interval.Hi)
	}
	if !strings.Contains(c.Text, "would have missed it") {
		t.Error(c.Text)
	}
}

func TestReadHeaterLog(t *testing.T) {
	const text = "time;heater [W];inside 10 in [°F];outside [°C];inside 20 mm [°C];phase\n" +
		"2026-01-20 18:00;12,5;68;2,25;5,5;shut\n2026-01-20 18:05;12,5;;2,2;5,6;shut\n"
	log, err := ReadHeaterLog("log.csv", strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	if len(log.Heights) != 2 || log.Heights[0] != 0.02 || math.Abs(log.Heights[1]-0.254) > 1e-12 {
		t.Fatalf("heights %v", log.Heights)
	}
	r := log.Rows[0]
	if r.Watts != 12.5 || r.Outside != 2.25 || r.Inside[0] != 5.5 || math.Abs(r.Inside[1]-20) > 1e-9 || r.Phase != "shut" {
		t.Errorf("row %+v", r)
	}
	if !math.IsNaN(log.Rows[1].Inside[1]) {
		t.Error("an empty field is no missing value")
	}
	for want, bad := range map[string]string{
		"empty file":               "",
		"no column heater":         "time,outside [°C],inside 1 mm [°C]\n",
		"\"inside [°c]\"":          "time,heater [W],outside [°C],inside [°C]\n",
		"\"outside\"":              "time,heater [W],outside,inside 1 mm [°C]\n",
		":3: time":                 "time,heater [W],outside [°C],inside 1 mm [°C]\n2026-01-20 18:00,1,2,3\n2026-01-20 18:00,1,2,3\n",
		":2: heater: found \"x\"":  "time,heater [W],outside [°C],inside 1 mm [°C]\n2026-01-20 18:00,x,2,3\n",
		":2: found 3 fields":       "time,heater [W],outside [°C],inside 1 mm [°C]\n2026-01-20 18:00,1,2\n",
		"two thermometers at 1 mm": "time,heater [W],outside [°C],inside 1 mm [°C],inside 1 mm [°C]\n",
	} {
		_, err := ReadHeaterLog("log.csv", strings.NewReader(bad))
		if err == nil || !strings.Contains(strings.ToLower(err.Error()), strings.ToLower(want)) {
			t.Errorf("%q: error %v, wanted %q in it", bad, err, want)
		}
	}
}

func FuzzReadHeaterLog(f *testing.F) {
	f.Add("time,heater [W],outside [°C],inside 1 mm [°C],phase\n2026-01-20 18:00,1,2,3,x\n")
	f.Add("time;heater [W];inside 10 in [°F];outside [°C]\n2026-01-20 18:00;12,5;68;2,25\n")
	f.Fuzz(func(t *testing.T, text string) {
		log, err := ReadHeaterLog("x", strings.NewReader(text))
		if err != nil {
			return
		}
		for i, r := range log.Rows {
			if len(r.Inside) != len(log.Heights) || i > 0 && !r.At.After(log.Rows[i-1].At) {
				t.Fatalf("row %d of %q: %+v", i, text, r)
			}
		}
		if a, err := AnalyseHeater(log, HeaterOptions{}); err == nil && !(a.Phases[0].Best.Value > 0 || a.Phases[0].Best.Value <= 0) {
			t.Fatalf("no number from %q", text)
		}
	})
}
