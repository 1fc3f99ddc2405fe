package season

import (
	"context"
	"testing"
	"time"

	"hackle/climate"
	"hackle/colony"
	"hackle/hive"
	"hackle/material"
	"hackle/wall"
)

// The tests of this file hold what practitioners report of hives in winter
// against the engine: common practice, no source. None of it is built in; each
// would fail with a wrong sign in the physics.

func find(t *testing.T, name string) material.Material {
	t.Helper()
	table, err := material.Standard()
	if err != nil {
		t.Fatal(err)
	}
	m, err := table.Find(name)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// twoDeep is a thin-walled hive of two deep boxes with one low entrance, in an
// invented yard.
func twoDeep(t *testing.T) hive.Plan {
	t.Helper()
	h, err := hive.New("stacked-10", "deep", "deep")
	if err != nil {
		t.Fatal(err)
	}
	var p hive.Plan
	p.Hive = h
	e := hive.Opening{Name: "entrance", Face: hive.Front, Width: 0.075, Height: 0.0095, Count: 1, Depth: 0.019, Shape: hive.Slot}
	p.Hive.Openings = []hive.Opening{e}
	p.Colony = hive.Colony{Bees: 1.8, Honey: 32, BroodStart: hive.Day{Month: 2, Day: 1}}
	p.Site.Exposure = hive.Hedged
	return p
}

func vent(sill float64) hive.Opening {
	return hive.Opening{Name: "vent", Face: hive.Front, Sill: sill, Width: 0.025, Height: 0.02, Count: 1, Depth: 0.019, Shape: hive.Slot}
}

// insulateWalls and insulateLid add a coat outside, as wraps and lid inserts do.
func insulateWalls(t *testing.T, p *hive.Plan, thickness float64) {
	foam := hive.Layer{Material: find(t, "XPS"), Thickness: thickness}
	for i := range p.Hive.Bodies {
		for f := range p.Hive.Bodies[i].Walls {
			p.Hive.Bodies[i].Walls[f] = append([]hive.Layer{foam}, p.Hive.Bodies[i].Walls[f]...)
		}
	}
}

func insulateLid(t *testing.T, p *hive.Plan, thickness float64) {
	wool := hive.Layer{Material: find(t, "sheep wool"), Thickness: thickness}
	p.Hive.Lid.Layers = append(p.Hive.Lid.Layers, wool)
}

func heated(t *testing.T, p hive.Plan) *HeaterResult {
	t.Helper()
	r, err := Heater(HeaterInput{Plan: p, Date: time.Date(2026, 1, 15, 0, 0, 0, 0, time.UTC), Watts: 12, Outside: -5, Humidity: 0.8, Height: 0.2, Size: 0.22}, &wall.Cache{})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func winter(t *testing.T, p hive.Plan, place string, from, to time.Month) *Trace {
	t.Helper()
	w, err := climate.Builtin(place)
	if err != nil {
		t.Fatal(err)
	}
	year := 2025
	a := time.Date(year, from, 1, 0, 0, 0, 0, w.Location())
	if to < from {
		year++
	}
	win, err := w.Window(a, time.Date(year, to, 1, 0, 0, 0, 0, w.Location()))
	if err != nil {
		t.Fatal(err)
	}
	tr, err := Run(context.Background(), Input{Plan: p, Weather: win, Biology: colony.DefaultBiology()}, nil)
	if err != nil {
		t.Fatal(err)
	}
	return tr
}

func TestFactsExplore(t *testing.T) {
	show := func(name string, p hive.Plan) *HeaterResult {
		r := heated(t, p)
		at := func(f float64) float64 { return airAt(r.Levels, f*p.Hive.Height()) + 5 }
		t.Logf("%-28s lid %.2f 75%% %.2f 50%% %.2f 25%% %.2f floor %.2f mean %.2f wd %.0f openings %+v loss %.2f G %.2f", name, r.UnderLid+5, at(.75), at(.5), at(.25), at(.03), r.MeanAir+5, r.WarmDepth*1000, r.Openings, r.Loss, r.Conductance)
		return r
	}
	thin := twoDeep(t)
	show("thin closed", thin)
	a := thin.Clone()
	a.Hive.Openings = append(a.Hive.Openings, vent(a.Hive.Height()-.03))
	show("thin top vent", a)
	b := thin.Clone()
	b.Hive.Openings = append(b.Hive.Openings, vent(a.Hive.Height()/2))
	show("thin mid vent", b)
	ins := thin.Clone()
	insulateWalls(t, &ins, .038)
	insulateLid(t, &ins, .076)
	show("insulated closed", ins)
	c := ins.Clone()
	c.Hive.Openings = append(c.Hive.Openings, vent(a.Hive.Height()-.03))
	show("insulated top vent", c)
	d := ins.Clone()
	d.Hive.Openings = append(d.Hive.Openings, vent(a.Hive.Height()/2))
	show("insulated mid vent", d)
	lidOnly := thin.Clone()
	insulateLid(t, &lidOnly, .076)
	wallsOnly := thin.Clone()
	insulateWalls(t, &wallsOnly, .038)
	for _, x := range []struct {
		n string
		p hive.Plan
	}{{"thin", thin}, {"thin vent", a}, {"insulated", ins}, {"insulated vent", c}, {"lid only", lidOnly}, {"walls only", wallsOnly}} {
		for _, place := range []string{"minneapolis-mn", "portland-or"} {
			tr := winter(t, x.p, place, time.November, time.April)
			T := tr.Totals
			over := 0
			for _, v := range tr.Get("water.overhead") {
				if v > 1e-3 {
					over++
				}
			}
			t.Logf("%-15s %-15s eaten %.2f settled %+.2f lying %.2f over hours %d dripped %.2f unready %d closure %+.1e", x.n, place, T.HoneyEaten, T.Settled, T.Lying, over, T.Dripped, tr.Stats.Unready, T.Closure())
		}
	}
}
