package season

import (
	"context"
	"math"
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

// excess is the layer mean over outdoors at a share of the height. [K]
func excess(p hive.Plan, r *HeaterResult, share float64) float64 {
	return airAt(r.Levels, share*p.Hive.Height()) + 5
}

// TestVentOfThinHive: in a thin-walled hive with a low entrance a small top vent
// hardly moves a thermometer under the lid, while heat is really lost: it shows
// lower down and in the vent's own heat. A vent half way down leaves the air
// above it warm and cools what lies below.
func TestVentOfThinHive(t *testing.T) {
	thin := twoDeep(t)
	closed := heated(t, thin)
	top := thin.Clone()
	top.Hive.Openings = append(top.Hive.Openings, vent(thin.Hive.Height()-0.03))
	vented := heated(t, top)
	middle := thin.Clone()
	middle.Hive.Openings = append(middle.Hive.Openings, vent(thin.Hive.Height()/2))
	half := heated(t, middle)

	lid := (vented.UnderLid + 5) / (closed.UnderLid + 5)
	if lid < 0.9 || lid > 1.1 {
		t.Errorf("under the lid the excess changes to %.0f %% with a top vent", 100*lid)
	}
	low := excess(top, vented, 0.25) / excess(thin, closed, 0.25)
	if low > lid-0.05 {
		t.Errorf("low air keeps %.0f %% of its excess, air under the lid %.0f %%", 100*low, 100*lid)
	}
	if mean := (vented.MeanAir + 5) / (closed.MeanAir + 5); mean > 0.98 || mean > lid {
		t.Errorf("mean air keeps %.0f %% of its excess", 100*mean)
	}
	if heat := vented.Openings[1].Heat; heat < 0.03*12 {
		t.Errorf("the vent carries out %.2f W of 12 W", heat)
	}
	above, below := excess(middle, half, 0.9)/excess(thin, closed, 0.9), excess(middle, half, 0.2)/excess(thin, closed, 0.2)
	if above < 0.95 || below > above-0.02 {
		t.Errorf("vent half way: air above keeps %.0f %%, below %.0f %%", 100*above, 100*below)
	}
	// Sensors at several heights tell the vented hive from the other more clearly
	// than one at the top.
	if spread := excess(thin, closed, 0.25) - excess(top, vented, 0.25); spread < math.Abs(vented.UnderLid-closed.UnderLid) {
		t.Errorf("low sensor sees %.2f K, the one under the lid %.2f K", spread, vented.UnderLid-closed.UnderLid)
	}
}

// TestVentGrowsWithInsulation: the heat of a vent grows as the shell gets better
// insulated, as a share of the heat put in.
func TestVentGrowsWithInsulation(t *testing.T) {
	last := 0.0
	for _, foam := range []float64{0, 0.019, 0.038, 0.076} {
		p := twoDeep(t)
		if foam > 0 {
			insulateWalls(t, &p, foam)
			insulateLid(t, &p, 2*foam)
		}
		p.Hive.Openings = append(p.Hive.Openings, vent(p.Hive.Height()-0.03))
		share := heated(t, p).Openings[1].Heat / 12
		if share <= last {
			t.Errorf("with %.0f mm of foam the vent takes %.1f %%, with less %.1f %%", foam*1000, 100*share, 100*last)
		}
		last = share
	}
}

func overheadHours(tr *Trace) int {
	n := 0
	for _, v := range tr.Get("water.overhead") {
		if v > 0.001 {
			n++
		}
	}
	return n
}

// TestWaterGoesWhereInsulationIsLeast: 38 mm in the walls and 76 mm in the lid
// put water on the walls and not over the bees; a plain lid over insulated walls
// does the reverse; so does an insulated lid over plain walls the first.
func TestWaterGoesWhereInsulationIsLeast(t *testing.T) {
	both, wallsOnly, lidOnly := twoDeep(t), twoDeep(t), twoDeep(t)
	insulateWalls(t, &both, 0.038)
	insulateLid(t, &both, 0.076)
	insulateWalls(t, &wallsOnly, 0.038)
	insulateLid(t, &lidOnly, 0.076)
	b := winter(t, both, "minneapolis-mn", time.December, time.February)
	w := winter(t, wallsOnly, "minneapolis-mn", time.December, time.February)
	l := winter(t, lidOnly, "minneapolis-mn", time.December, time.February)
	if x := b.Totals.Settled; x.Lid > 0.05*x.Walls {
		t.Errorf("insulated all round: %.2f kg on the lid, %.2f kg on the walls", x.Lid, x.Walls)
	}
	if x := l.Totals.Settled; x.Lid > 0.05*x.Walls {
		t.Errorf("insulated lid: %.2f kg on the lid, %.2f kg on the walls", x.Lid, x.Walls)
	}
	if lid, other := w.Totals.Settled.Lid, b.Totals.Settled.Lid; lid < 0.15 || lid < 20*other {
		t.Errorf("plain lid over insulated walls: %.2f kg on the lid, insulated %.2f kg", lid, other)
	}
	if plain, good := overheadHours(w), overheadHours(b); plain < 80 || good > 2 {
		t.Errorf("hours of water overhead: %d with a plain lid, %d with an insulated one", plain, good)
	}
}

// TestInsulationSavesInTheCold: in a cold winter the better insulated colony
// burns less honey. In a mild one the sign may be either; nothing is asked.
func TestInsulationSavesInTheCold(t *testing.T) {
	good := twoDeep(t)
	insulateWalls(t, &good, 0.038)
	insulateLid(t, &good, 0.076)
	plain := winter(t, twoDeep(t), "minneapolis-mn", time.December, time.March).Totals.HoneyEaten
	saved := plain - winter(t, good, "minneapolis-mn", time.December, time.March).Totals.HoneyEaten
	if saved < 0.03*plain {
		t.Errorf("of %.2f kg insulation saves %.2f kg", plain, saved)
	}
}
