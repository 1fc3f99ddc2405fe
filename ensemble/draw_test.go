package ensemble

import (
	"context"
	"math"
	"reflect"
	"testing"
	"time"

	"hackle/climate"
	"hackle/colony"
	"hackle/hive"
	"hackle/season"
	"hackle/wall"
)

func plan(t testing.TB) hive.Plan {
	t.Helper()
	p, err := hive.DecodeFile("../examples/two-deep-wool-lid.yaml")
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func weather(t testing.TB, from time.Time, days int) *climate.Series {
	t.Helper()
	w, err := climate.Builtin("burlington-vt")
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

func base(t testing.TB) season.Input {
	p := plan(t)
	p.Hive.Wraps = []hive.Wrap{{Name: "felt", Faces: []hive.Face{hive.Front}, Layers: p.Hive.Lid.Layers[:1], On: hive.Day{Month: 11, Day: 1}, Off: hive.Day{Month: 4, Day: 1}}}
	return season.Input{Plan: p, Biology: colony.DefaultBiology()}
}

// TestEveryInputActs: each input changes the case when it moves, within the range
// that it says, and leaves the base as it was; at its usual value nothing changes.
func TestEveryInputActs(t *testing.T) {
	b := base(t)
	before := b.Plan.Clone()
	d := Design{Seed: 1, Inputs: Inputs(b.Plan, Keeper{}), Years: []*climate.Series{weather(t, date(2025, 10, 15), 60)}}
	if err := d.Check(); err != nil {
		t.Fatal(err)
	}
	if want := len(colony.Parameters()); len(d.Inputs) < want+10 {
		t.Fatalf("%d inputs, the bees alone have %d", len(d.Inputs), want)
	}
	usual := d.Case(d.Usual(0), b)
	if usual.Biology != b.Biology || usual.Plan.Colony.Honey != b.Plan.Colony.Honey || !reflect.DeepEqual(usual.Plan.Hive.Lid, b.Plan.Hive.Lid) || usual.Plan.Hive.LeakArea != b.Plan.Hive.LeakArea || usual.Wax != 0.5 {
		t.Error("the usual draw is not the base")
	}
	for j, in := range d.Inputs {
		for _, u := range []float64{1e-6, 0.3, 0.999999} {
			if v := in.Value(u); !(v >= in.Low && v <= in.High) {
				t.Errorf("%s: %g outside %g to %g", in.Name, v, in.Low, in.High)
			}
		}
		if in.Meaning == "" || in.Source == "" || in.Measure == "" || in.Unit == "" {
			t.Errorf("%s lacks words: %+v", in.Name, in)
		}
		moved := false
		for _, end := range []float64{in.Low, in.High} {
			draw := d.Usual(0)
			draw.Values[j] = end
			c := d.Case(draw, b)
			c.Weather, usual.Weather = nil, nil
			if end != in.Usual && !reflect.DeepEqual(c, usual) {
				moved = true
			}
		}
		if !moved {
			t.Errorf("%s moves nothing", in.Name)
		}
	}
	if !reflect.DeepEqual(b.Plan, before) {
		t.Error("drawing altered the base")
	}
}

// TestShapes: the mean of each shape over even steps is that of its distribution,
// (low + usual + high)/3 for a triangle (textbooks).
func TestShapes(t *testing.T) {
	mean := func(in Input) float64 {
		const n = 20000
		sum := 0.0
		for i := range n {
			sum += in.Value((float64(i) + 0.5) / n)
		}
		return sum / n
	}
	for _, c := range []struct {
		in   Input
		want float64
	}{
		{Input{Low: 1, Usual: 2, High: 6, Shape: Triangular}, 3},
		{Input{Low: 1, Usual: 1, High: 4, Shape: Triangular}, 2},
		{Input{Low: 1, Usual: 2, High: 6, Shape: Uniform}, 3.5},
		{Input{Low: -1, Usual: 0, High: 1, Shape: Steps}, 0},
		{Input{Low: 5, Usual: 5, High: 5, Shape: Triangular}, 5},
	} {
		if got := mean(c.in); math.Abs(got-c.want) > 1e-3 {
			t.Errorf("%+v: mean %.5f, want %g", c.in, got, c.want)
		}
	}
	if got := (Input{Low: 0.25, Usual: 1, High: 4, Shape: LogTriangular}).Value(0.5); math.Abs(got-1) > 1e-12 {
		t.Errorf("middle of an even triangle in the logarithm is %g", got)
	}
}

// TestDrawsAreCommon: a draw depends on seed and index alone, years come equally
// often, and what was measured is drawn from a narrower range.
func TestDrawsAreCommon(t *testing.T) {
	b := base(t)
	years := []*climate.Series{weather(t, date(2025, 10, 15), 30), weather(t, date(2025, 11, 15), 30), weather(t, date(2025, 12, 15), 30), weather(t, date(2026, 1, 15), 30)}
	d := Design{Seed: 5, Inputs: Inputs(b.Plan, Keeper{}), Years: years}
	var count [4]int
	for i := range 64 {
		draw := d.Draw(i)
		if !reflect.DeepEqual(draw, d.Draw(i)) {
			t.Fatal("a draw differs from itself")
		}
		count[draw.Year]++
		other := b.Plan.Clone()
		other.Hive.Openings = nil
		x, y := d.Case(draw, b), d.Case(draw, season.Input{Plan: other, Biology: b.Biology})
		if x.Biology != y.Biology || x.Weather != y.Weather || x.Plan.Colony.Honey != y.Plan.Colony.Honey || x.Wax != y.Wax {
			t.Fatal("two variants get different draws")
		}
	}
	if count != [4]int{16, 16, 16, 16} {
		t.Errorf("years come %v times", count)
	}
	measured := b.Plan
	measured.Measured = hive.Measured{Shell: 1.1, Leak: 0.9, Bees: 1.2}
	wide, narrow := Inputs(b.Plan, Keeper{}), Inputs(measured, Keeper{HoneyWithin: 0.05})
	for _, name := range []string{"honey", "wood_conductivity", "leakage", "cluster_conductance"} {
		w, n := find(wide, name), find(narrow, name)
		if !(n.High-n.Low < 0.7*(w.High-w.Low)) {
			t.Errorf("%s: %g to %g, measured %g to %g", name, w.Low, w.High, n.Low, n.High)
		}
	}
	// A factor measured at the bees stays under a draw.
	warm := b
	warm.Biology.ClusterG *= 1.2
	draw := d.Draw(3)
	if got, want := d.Case(draw, warm).Biology.ClusterG, 1.2*d.Case(draw, b).Biology.ClusterG; math.Abs(got-want) > 1e-12 {
		t.Errorf("a measured factor of 1.2 gives %g, want %g", got, want)
	}
}

func find(list []Input, name string) Input {
	for _, in := range list {
		if in.Name == name {
			return in
		}
	}
	return Input{}
}

// TestDrawnHivesRun: hives drawn far apart run and close their balances: no draw is
// beyond what the engine can carry. Five days in the heat close less well than the
// tenth of a per cent that whole years are held to.
func TestDrawnHivesRun(t *testing.T) {
	b := base(t)
	d := Design{Seed: 2, Inputs: Inputs(b.Plan, Keeper{}), Years: []*climate.Series{weather(t, date(2025, 12, 28), 5), weather(t, date(2025, 7, 10), 5)}}
	joints := &wall.Cache{}
	n := 16
	if testing.Short() {
		n = 4
	}
	for i := range n {
		in := d.Case(d.Draw(i), b).Input
		in.Joints = joints
		tr, err := season.Run(context.Background(), in, nil)
		if err != nil {
			t.Fatalf("draw %d: %v", i, err)
		}
		if c := tr.Totals.Closure(); !(math.Abs(c.Heat) < 3e-3 && math.Abs(c.Vapour) < 1e-3 && math.Abs(c.Honey) < 1e-3) {
			t.Errorf("draw %d closes badly: %+v", i, c)
		}
	}
	t.Logf("%d joints solved", joints.Len())
}
