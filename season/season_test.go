package season

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"
	"time"

	"hackle/air"
	"hackle/airflow"
	"hackle/climate"
	"hackle/colony"
	"hackle/hive"
	"hackle/wall"
)

func examples(t *testing.T) map[string]hive.Plan {
	t.Helper()
	out := map[string]hive.Plan{}
	for _, name := range []string{"two-deep-low-entrance", "two-deep-top-vent", "two-deep-wool-lid", "insulated-walls", "long-hive", "national-mesh-floor", "warre"} {
		p, err := hive.DecodeFile("../examples/" + name + ".yaml")
		if err != nil {
			t.Fatal(err)
		}
		out[name] = p
	}
	return out
}

// spell is a window of a built-in place.
func spell(t testing.TB, place string, from time.Time, days int) *climate.Series {
	t.Helper()
	w, err := climate.Builtin(place)
	if err != nil {
		t.Fatal(err)
	}
	from = time.Date(from.Year(), from.Month(), from.Day(), 0, 0, 0, 0, w.Location())
	win, err := w.Window(from, from.AddDate(0, 0, days))
	if err != nil {
		t.Fatal(err)
	}
	return win
}

func date(year int, month time.Month, day int) time.Time {
	return time.Date(year, month, day, 0, 0, 0, 0, time.UTC)
}

// TestBalancesClose runs every example over weeks with wraps, feeds and brood
// and asks each balance to close to a tenth of a per cent of its throughput.
func TestBalancesClose(t *testing.T) {
	for name, p := range examples(t) {
		for _, start := range []time.Time{date(2025, 10, 20), date(2026, 1, 10), date(2026, 3, 20)} {
			p.Colony.Feeds = []hive.Feed{{Day: hive.Day{Month: start.Month(), Day: start.Day() + 2}, Kind: "syrup", Honey: 2}}
			tr, err := Run(context.Background(), Input{Plan: p, Weather: spell(t, "burlington-vt", start, 21), Biology: colony.DefaultBiology()}, nil)
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			c := tr.Totals.Closure()
			for what, r := range map[string]float64{"heat": c.Heat, "vapour": c.Vapour, "CO2": c.CO2, "air": c.Air, "honey": c.Honey} {
				if !(math.Abs(r) < 1e-3) {
					t.Errorf("%s from %s: %s does not close: %.2g of its throughput", name, start.Format("2 Jan"), what, r)
				}
			}
			if tr.Totals.HoneyFed != 2 {
				t.Errorf("%s: fed %.1f kg", name, tr.Totals.HoneyFed)
			}
			for _, ch := range tr.Channels {
				for i, v := range ch.Values {
					if math.IsNaN(v) || math.IsInf(v, 0) {
						t.Fatalf("%s: %s is %g in hour %d", name, ch.Name, v, i)
					}
				}
			}
		}
	}
}

// TestHoneyAddsUp checks the ledger's sources against each other: what left the
// combs is what the hours say was eaten, and heat times energy explains most.
func TestHoneyAddsUp(t *testing.T) {
	p := examples(t)["two-deep-low-entrance"]
	tr, err := Run(context.Background(), Input{Plan: p, Weather: spell(t, "burlington-vt", date(2025, 12, 1), 30), Biology: colony.DefaultBiology()}, nil)
	if err != nil {
		t.Fatal(err)
	}
	hourly, heat := 0.0, 0.0
	for i, v := range tr.Get("honey.eaten") {
		hourly += v
		heat += tr.Get("bees.heat")[i] * 3600
	}
	if math.Abs(hourly-tr.Totals.HoneyEaten) > 1e-9 {
		t.Errorf("hours %.6f kg, total %.6f kg", hourly, tr.Totals.HoneyEaten)
	}
	if want := heat / colony.DefaultBiology().HoneyEnergy; math.Abs(want-hourly) > 0.02*hourly {
		t.Errorf("heat explains %.3f kg of %.3f kg eaten in a broodless month", want, hourly)
	}
	if left := tr.Get("honey.left")[tr.Hours-1]; math.Abs(left+hourly-tr.Totals.HoneyStart) > 1e-9 {
		t.Errorf("start %.3f kg, eaten %.3f kg, left %.3f kg", tr.Totals.HoneyStart, hourly, left)
	}
}

// TestMirror: the mirror image of a hive gives the mirrored answer.
func TestMirror(t *testing.T) {
	p := twoDeep(t)
	foam := hive.Layer{Material: find(t, "XPS"), Thickness: 0.03}
	p.Hive.Bodies[1].Walls[hive.Left] = append([]hive.Layer{foam}, p.Hive.Bodies[1].Walls[hive.Left]...)
	p.Hive.Openings = append(p.Hive.Openings, hive.Opening{Name: "side hole", Face: hive.Left, Sill: 0.3, Width: 0.02, Height: 0.02, Count: 1, Depth: 0.02, Shape: hive.Round})
	m := p
	m.Hive = p.Hive.Mirrored()
	a, b := heated(t, p), heated(t, m)
	if math.Abs(a.UnderLid-b.UnderLid) > 1e-6 || math.Abs(a.MeanAir-b.MeanAir) > 1e-6 {
		t.Errorf("under the lid %.6f and %.6f °C", a.UnderLid, b.UnderLid)
	}
	if math.Abs(a.Loss.Walls[hive.Left]-b.Loss.Walls[hive.Right]) > 1e-6 || math.Abs(a.Loss.Walls[hive.Right]-b.Loss.Walls[hive.Left]) > 1e-6 {
		t.Errorf("walls lose %v and %v", a.Loss.Walls, b.Loss.Walls)
	}
	if a.Loss.Walls[hive.Left] > a.Loss.Walls[hive.Right]-0.1 {
		t.Errorf("the insulated side loses %.2f W, the plain one %.2f W", a.Loss.Walls[hive.Left], a.Loss.Walls[hive.Right])
	}
}

// TestNoHeatNoExcess: without a source everything rests at outdoor temperature.
func TestNoHeatNoExcess(t *testing.T) {
	for name, p := range examples(t) {
		r, err := Heater(HeaterInput{Plan: p, Date: date(2026, 1, 1), Watts: 0, Outside: -12, Humidity: 0.8}, &wall.Cache{})
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		for _, l := range r.Levels {
			if math.Abs(l.Core+12) > 1e-6 || math.Abs(l.Flank+12) > 1e-6 {
				t.Errorf("%s: %.6f °C at %.0f mm", name, l.Core, l.Height*1000)
			}
		}
		for _, o := range r.Openings {
			if o.In > 1e-9 || o.Out > 1e-9 {
				t.Errorf("%s: %s moves %.2g m³/s", name, o.Name, o.Out)
			}
		}
	}
}

// TestWellMixedLimit makes the air of an empty box conduct so well that it is of
// one temperature, and compares with the closed form of a heated box with a low
// and a high opening.
func TestWellMixedLimit(t *testing.T) {
	layer := []hive.Layer{{Thickness: 0.02, Resistance: 1/1.5 - 1.0/25}}
	b := hive.Body{Length: 0.465, Width: 0.37, Height: 0.48}
	for i := range b.Walls {
		b.Walls[i] = layer
	}
	plan := hive.Plan{Hive: hive.Hive{Bodies: []hive.Body{b}, Floor: hive.Floor{Layers: layer}, Lid: hive.Lid{Layers: layer}, Openings: []hive.Opening{
		{Name: "low", Face: hive.Front, Sill: 0.01, Width: 0.06, Height: 0.01, Depth: 1e-6, Count: 1, Shape: hive.Slot, Discharge: 0.6},
		{Name: "high", Face: hive.Front, Sill: 0.46, Width: 0.03, Height: 0.01, Depth: 1e-6, Count: 1, Shape: hive.Slot, Discharge: 0.6},
	}}}
	ideal := Ideal{NoRadiation: true, NoEdges: true, Tight: true, OuterFilm: 25}
	x, err := compile(plan, date(2026, 1, 1), nest{breadth: 0.08, power: 12, slab: heaterSlab}, ideal, &wall.Cache{})
	if err != nil {
		t.Fatal(err)
	}
	for i := range x.still {
		if x.still[i] > 0 {
			x.still[i] = 1e7
		}
	}
	e := newEngine(x, ideal)
	o := outdoors{temp: 5, pressure: 101325}
	for i := range sides {
		o.film[i], o.feels[i] = 25, o.temp
	}
	e.start(o)
	const watts = 12.0
	if _, err := e.step(math.Inf(1), &o, 500, 1e-9, func() { clear(e.source); e.source[0] = watts }); err != nil {
		t.Fatal(err)
	}
	// The inner films stand between air and shell: give the closed form the
	// conductance that the box has.
	loss, open, _ := e.losses(&o)
	excess := e.temp[0] - o.temp
	fabric := (loss.Total() - loss.Openings) / excess
	got := open[1].Out * e.cond.Density[len(e.cells)-1]
	// m = sqrt(2 g H Δρ / (1/(ρo (Cd A1)²) + 1/(ρi (Cd A2)²))): the closed form of
	// topic 06, solved with the heat balance by bisection.
	flow := func(t float64) float64 {
		ro, ri := air.Density(o.temp, o.pressure, 0), air.Density(t, o.pressure, 0)
		a1, a2 := 0.6*0.06*0.01, 0.6*0.03*0.01
		return math.Sqrt(2 * airflow.Gravity * 0.45 * (ro - ri) / (1/(ro*a1*a1) + 1/(ri*a2*a2)))
	}
	low, high := o.temp, o.temp+watts/fabric
	for range 80 {
		mid := (low + high) / 2
		if fabric*(mid-o.temp)+flow(mid)*dryHeat*(mid-o.temp) < watts {
			low = mid
		} else {
			high = mid
		}
	}
	if math.Abs(low-e.temp[0]) > 0.1 {
		t.Errorf("inside %.3f °C, closed form %.3f °C", e.temp[0], low)
	}
	if want := flow(low); math.Abs(got/want-1) > 0.02 {
		t.Errorf("flow %.4g kg/s, closed form %.4g kg/s", got, want)
	}
}

// TestDeterministicAndParallel: equal inputs give equal results to the last bit,
// also when runs go on side by side and share the memory of joints.
func TestDeterministicAndParallel(t *testing.T) {
	p := examples(t)["two-deep-top-vent"]
	w := spell(t, "burlington-vt", date(2026, 1, 10), 5)
	joints := &wall.Cache{}
	results := make([]*Trace, 4)
	done := make(chan error)
	for i := range results {
		go func() {
			tr, err := Run(context.Background(), Input{Plan: p, Weather: w, Biology: colony.DefaultBiology(), Joints: joints}, nil)
			results[i] = tr
			done <- err
		}()
	}
	for range results {
		if err := <-done; err != nil {
			t.Fatal(err)
		}
	}
	for _, r := range results[1:] {
		if !reflect.DeepEqual(r.Totals, results[0].Totals) || !reflect.DeepEqual(r.Channels, results[0].Channels) {
			t.Error("two equal runs differ")
		}
	}
}

func TestCancel(t *testing.T) {
	p := examples(t)["two-deep-top-vent"]
	ctx, cancel := context.WithCancel(context.Background())
	calls := 0
	_, err := Run(ctx, Input{Plan: p, Weather: spell(t, "burlington-vt", date(2026, 1, 10), 30), Biology: colony.DefaultBiology()}, func(done, total int) {
		calls++
		if done > total/10 {
			cancel()
		}
	})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("error %v, want the context's", err)
	}
	if calls > 30 {
		t.Errorf("went on for %d reports of progress", calls)
	}
}

func TestUnusableInput(t *testing.T) {
	p := twoDeep(t)
	w := spell(t, "burlington-vt", date(2026, 1, 10), 2)
	none := p
	none.Colony.Bees = 0
	exposed := p
	exposed.Site.Exposure = "moon"
	for name, in := range map[string]Input{
		"no weather":       {Plan: p, Biology: colony.DefaultBiology()},
		"no bees":          {Plan: none, Weather: w, Biology: colony.DefaultBiology()},
		"silly steps":      {Plan: p, Weather: w, Biology: colony.DefaultBiology(), StepsPerHour: -1},
		"unknown exposure": {Plan: exposed, Weather: w, Biology: colony.DefaultBiology()},
	} {
		if _, err := Run(context.Background(), in, nil); !errors.Is(err, ErrInput) {
			t.Errorf("%s: error %v", name, err)
		}
	}
	if _, err := Heater(HeaterInput{Plan: p, Watts: math.NaN()}, &wall.Cache{}); err == nil {
		t.Error("a heater of NaN watts passed")
	}
}

// TestStarvation: a colony with little honey starves on a date, the balance still
// closes, and the dead give no heat.
func TestStarvation(t *testing.T) {
	p := twoDeep(t)
	p.Colony.Honey = 0.5
	tr, err := Run(context.Background(), Input{Plan: p, Weather: spell(t, "minneapolis-mn", date(2026, 1, 5), 25), Biology: colony.DefaultBiology()}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if len(tr.Events) == 0 || len(tr.Warnings) == 0 {
		t.Fatal("nothing tells of the starvation")
	}
	if tr.Totals.HoneyEnd > 1e-9 || math.Abs(tr.Totals.HoneyEaten-0.5) > 1e-9 {
		t.Errorf("%.3f kg left, %.3f kg eaten", tr.Totals.HoneyEnd, tr.Totals.HoneyEaten)
	}
	if h := tr.Get("bees.heat")[tr.Hours-1]; h != 0 {
		t.Errorf("the dead give %.2f W", h)
	}
	if c := tr.Totals.Closure(); math.Abs(c.Heat) > 1e-3 || math.Abs(c.Vapour) > 1e-3 {
		t.Errorf("closure %+v", c)
	}
}

// TestClosedHive: with every opening shut and no cracks a hive is computed all the
// same, and its air goes bad.
func TestClosedHive(t *testing.T) {
	p := twoDeep(t)
	p.Hive.Openings = nil
	p.Hive.LeakArea = 0
	tr, err := Run(context.Background(), Input{Plan: p, Weather: spell(t, "burlington-vt", date(2026, 1, 5), 4), Biology: colony.DefaultBiology()}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if co2 := tr.Get("co2.at_cluster")[tr.Hours-1]; co2 < 0.2 {
		t.Errorf("after four days without air CO2 stands at %.1f %%", 100*co2)
	}
	if c := tr.Totals.Closure(); math.Abs(c.CO2) > 1e-3 || math.Abs(c.Heat) > 1e-3 {
		t.Errorf("closure %+v", c)
	}
}

// TestScheduleActs: a wrap that goes on in the middle of a run warms the hive, and
// the run says so.
func TestScheduleActs(t *testing.T) {
	plain := twoDeep(t)
	wrapped := plain.Clone()
	wrapped.Hive.Wraps = []hive.Wrap{{Name: "coat", Faces: []hive.Face{hive.Front, hive.Back, hive.Left, hive.Right},
		Layers: []hive.Layer{{Material: find(t, "XPS"), Thickness: 0.05}}, On: hive.Day{Month: 1, Day: 12}, Off: hive.Day{Month: 4, Day: 1}}}
	w := spell(t, "minneapolis-mn", date(2026, 1, 5), 16)
	a, err := Run(context.Background(), Input{Plan: plain, Weather: w, Biology: colony.DefaultBiology()}, nil)
	if err != nil {
		t.Fatal(err)
	}
	b, err := Run(context.Background(), Input{Plan: wrapped, Weather: w, Biology: colony.DefaultBiology()}, nil)
	if err != nil {
		t.Fatal(err)
	}
	mean := func(tr *Trace, from, to int) float64 {
		s := 0.0
		for _, v := range tr.Get("air.mean")[from:to] {
			s += v
		}
		return s / float64(to-from)
	}
	if d := mean(b, 0, 7*24) - mean(a, 0, 7*24); math.Abs(d) > 1e-9 {
		t.Errorf("the coat acts before its day: %.3g K", d)
	}
	if d := mean(b, 9*24, 16*24) - mean(a, 9*24, 16*24); d < 2 {
		t.Errorf("the coat warms the hive by %.2f K", d)
	}
	if len(b.Events) != 1 {
		t.Errorf("events %v", b.Events)
	}
}

// TestNeverRunsAway: a large colony with brood in a tight, well insulated hive in
// mild weather settles at temperatures that bees keep.
func TestNeverRunsAway(t *testing.T) {
	p := twoDeep(t)
	insulateWalls(t, &p, 0.08)
	insulateLid(t, &p, 0.15)
	p.Colony.Bees = 4
	tr, err := Run(context.Background(), Input{Plan: p, Weather: spell(t, "charlotte-nc", date(2026, 4, 1), 30), Biology: colony.DefaultBiology()}, nil)
	if err != nil {
		t.Fatal(err)
	}
	for i, v := range tr.Get("bees.air") {
		// Against warm days bees have water and the open air beside their wings,
		// which belong to the hot season.
		if outside := tr.Get("outdoor.temp")[i]; v > 46 || v > 40 && outside < 18 {
			t.Fatalf("air beside the cluster reaches %.1f °C at %s, outdoors %.1f °C", v, tr.Time(i).Format("2 Jan 15:04"), outside)
		}
	}
}

// TestStepIsFineEnough compares the default step with a tenth of it, in a thin hive
// and in a tight one, where bees fan against CO2.
func TestStepIsFineEnough(t *testing.T) {
	for _, name := range []string{"two-deep-low-entrance", "insulated-walls"} {
		p := examples(t)[name]
		w := spell(t, "burlington-vt", date(2026, 1, 5), 10)
		run := func(n int) *Trace {
			tr, err := Run(context.Background(), Input{Plan: p, Weather: w, Biology: colony.DefaultBiology(), StepsPerHour: n}, nil)
			if err != nil {
				t.Fatal(err)
			}
			return tr
		}
		a, b := run(DefaultStepsPerHour), run(10*DefaultStepsPerHour)
		sum := 0.0
		for i, v := range a.Get("air.mean") {
			d := v - b.Get("air.mean")[i]
			sum += d * d
		}
		if rms := math.Sqrt(sum / float64(a.Hours)); rms > 0.1 {
			t.Errorf("%s: hourly air temperature differs by %.3f K (RMS)", name, rms)
		}
		if d := a.Totals.HoneyEaten/b.Totals.HoneyEaten - 1; math.Abs(d) > 0.005 {
			t.Errorf("%s: honey differs by %.2f %%", name, 100*d)
		}
	}
}

// TestNoFrames: a colony without comb is refused in words; one empty body among
// others is not.
func TestNoFrames(t *testing.T) {
	p := twoDeep(t)
	run := func(p hive.Plan) error {
		_, err := Run(context.Background(), Input{Plan: p, Weather: spell(t, "burlington-vt", date(2026, 6, 5), 2), Biology: colony.DefaultBiology()}, nil)
		return err
	}
	for body := range 2 {
		one := p.Clone()
		one.Hive.Bodies[body].Frames.Count = 0
		if err := run(one); err != nil {
			t.Errorf("body %d empty: %v", body+1, err)
		}
	}
	for i := range p.Hive.Bodies {
		p.Hive.Bodies[i].Frames.Count = 0
	}
	if err := run(p); !errors.Is(err, ErrInput) || !strings.Contains(err.Error(), "no frames") {
		t.Errorf("no frames at all: %v", err)
	}
}

// TestFollowerInEitherBody: a board on the left shuts the left wall off from the
// bees' side, in whichever body it hangs, and the balance closes.
func TestFollowerInEitherBody(t *testing.T) {
	plain := heated(t, twoDeep(t))
	for body := range 2 {
		p := twoDeep(t)
		p.Hive.Followers = []hive.Follower{{Body: body, Frames: 6, Side: hive.Left, Gap: 0.008,
			Layers: []hive.Layer{{Material: find(t, "XPS"), Thickness: 0.03}, {Material: find(t, "plywood"), Thickness: 0.006}}}}
		r := heated(t, p)
		if math.Abs(r.Closure) > 1e-3 {
			t.Errorf("board in body %d: %.3g W unaccounted", body+1, r.Closure)
		}
		if r.Loss.Walls[hive.Left] >= r.Loss.Walls[hive.Right] {
			t.Errorf("board in body %d: left wall loses %.2f W, right %.2f W", body+1, r.Loss.Walls[hive.Left], r.Loss.Walls[hive.Right])
		}
		if r.Loss.Walls[hive.Left] >= plain.Loss.Walls[hive.Left] {
			t.Errorf("board in body %d does not shelter its wall: %.2f W, without %.2f W", body+1, r.Loss.Walls[hive.Left], plain.Loss.Walls[hive.Left])
		}
	}
}

// TestAnyHiveSettles heats random hives of every preset type, with random
// openings, shells and weather, and asks for a balanced answer each time.
func TestAnyHiveSettles(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 11))
	types, err := hive.Types()
	if err != nil {
		t.Fatal(err)
	}
	joints := &wall.Cache{}
	count := 400
	if testing.Short() {
		count = 60
	}
	for i := range count {
		info := types[r.IntN(len(types))]
		h, err := hive.New(info.Name)
		if err != nil || len(h.Bodies) == 0 {
			continue // a custom hive has no boxes of its own
		}
		p := hive.Plan{Hive: h}
		height := h.Height()
		for range r.IntN(4) {
			size := 0.005 + 0.03*r.Float64()
			p.Hive.Openings = append(p.Hive.Openings, hive.Opening{Name: "hole", Face: hive.Face(r.IntN(4)), Sill: r.Float64() * (height - size),
				Width: size * (1 + 4*r.Float64()), Height: size, Count: 1 + r.IntN(2), Depth: 0.02, Shape: []hive.Shape{hive.Slot, hive.Round}[r.IntN(2)]})
		}
		if r.IntN(3) == 0 {
			p.Hive.Floor.Mesh, p.Hive.Floor.MeshArea = true, 0.05*r.Float64()
		}
		if r.IntN(4) == 0 {
			p.Hive.LeakArea = 0
		}
		for b := range p.Hive.Bodies {
			p.Hive.Bodies[b].Frames.DrawnShare = r.Float64()
		}
		in := HeaterInput{Plan: p, Date: date(2026, time.Month(1+r.IntN(12)), 1+r.IntN(28)), Watts: 40 * r.Float64(), Outside: -40 + 80*r.Float64(),
			Humidity: r.Float64(), Wind: 6 * r.Float64() * float64(r.IntN(2)), Empty: r.IntN(3) == 0}
		res, err := Heater(in, joints)
		if err != nil {
			t.Fatalf("case %d, %s, %.1f W, %.1f °C, wind %.1f, empty %v: %v", i, info.Name, in.Watts, in.Outside, in.Wind, in.Empty, err)
		}
		if !(math.Abs(res.Closure) < 1e-3*math.Max(1, in.Watts)) {
			t.Errorf("case %d, %s: %.3g W of %.1f W unaccounted", i, info.Name, res.Closure, in.Watts)
		}
		if res.MeanAir < in.Outside-1e-3 || !(math.Abs(res.AirClosure) < 1e-6) {
			t.Errorf("case %d, %s: mean air %.2f °C outdoors %.2f °C, air closure %.2g kg/s", i, info.Name, res.MeanAir, in.Outside, res.AirClosure)
		}
	}
}

func BenchmarkHeater(b *testing.B) {
	p, err := hive.DecodeFile("../examples/two-deep-top-vent.yaml")
	if err != nil {
		b.Fatal(err)
	}
	joints := &wall.Cache{}
	for b.Loop() {
		if _, err := Heater(HeaterInput{Plan: p, Date: date(2026, 1, 1), Watts: 12, Outside: -5, Humidity: 0.8}, joints); err != nil {
			b.Fatal(err)
		}
	}
}
