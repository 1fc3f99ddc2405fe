package season

import (
	"context"
	"math"
	"testing"
	"time"

	"hackle/climate"
	"hackle/colony"
	"hackle/hive"
	"hackle/wall"
)

// TestWaterIsKept: over a year with phase changes, wood, rain, bees that drink and
// a wrap put on and off, water closes to a tenth of a per cent.
func TestWaterIsKept(t *testing.T) {
	p := twoDeep(t)
	p.Colony.Flows = []hive.Flow{{From: hive.Day{Month: 5, Day: 10}, To: hive.Day{Month: 8, Day: 1}, Nectar: 2.5, Sugar: 0.4}}
	p.Colony.WaterNear = 200
	p.Hive.Wraps = []hive.Wrap{{Name: "coat", Faces: []hive.Face{hive.Front, hive.Back}, Layers: []hive.Layer{{Material: find(t, "XPS"), Thickness: 0.03}},
		On: hive.Day{Month: 11, Day: 20}, Off: hive.Day{Month: 3, Day: 20}}}
	w := spell(t, "burlington-vt", date(2025, 10, 1), 364)
	wet := *w
	wet.Hours = append([]climate.Hour(nil), w.Hours...)
	for i := range wet.Hours {
		if i%97 == 0 {
			wet.Hours[i].Rain = 3
		}
	}
	tr, err := Run(context.Background(), Input{Plan: p, Weather: &wet, Biology: colony.DefaultBiology()}, nil)
	if err != nil {
		t.Fatal(err)
	}
	n := tr.Totals
	c := n.Closure()
	for what, r := range map[string]float64{"heat": c.Heat, "vapour": c.Vapour, "CO2": c.CO2, "air": c.Air, "honey": c.Honey} {
		if !(math.Abs(r) < 1e-3) {
			t.Errorf("%s does not close: %.2g", what, r)
		}
	}
	if left := n.ShellStart + n.WoodGain + n.PartsWater - n.ShellEnd; math.Abs(left) > 1e-6 {
		t.Errorf("the shell: %.4f kg and %.4f gained and %.4f put on do not make %.4f", n.ShellStart, n.WoodGain, n.PartsWater, n.ShellEnd)
	}
	if n.PartsWater == 0 || n.StoresTook == 0 {
		t.Errorf("parts brought %g kg, stores took %g kg", n.PartsWater, n.StoresTook)
	}
	if n.RainSoaked <= 0 || n.Drunk <= 0 || n.Absorbed <= 0 || n.Through <= 0 {
		t.Errorf("rain %.3f, drunk %.3f, absorbed %.3f, through the shell %.3f kg", n.RainSoaked, n.Drunk, n.Absorbed, n.Through)
	}
}

// TestWoodSoftensWater: wood that takes up vapour leaves less to condense than a
// shell that does not.
func TestWoodSoftensWater(t *testing.T) {
	p := twoDeep(t)
	run := func(ideal Ideal) *Trace {
		tr, err := Run(context.Background(), Input{Plan: p, Weather: spell(t, "minneapolis-mn", date(2025, 12, 1), 40), Biology: colony.DefaultBiology(), Ideal: ideal}, nil)
		if err != nil {
			t.Fatal(err)
		}
		return tr
	}
	wood, tight := run(Ideal{}), run(Ideal{NoSorption: true})
	if a, b := wood.Totals.Settled.Walls, tight.Totals.Settled.Walls; a > 0.8*b {
		t.Errorf("%.2f kg settle on wood, %.2f kg on a tight shell", a, b)
	}
	if wood.Totals.Absorbed < 0.1 || tight.Totals.Absorbed != 0 {
		t.Errorf("absorbed %.3f and %.3f kg", wood.Totals.Absorbed, tight.Totals.Absorbed)
	}
}

// TestTiltedBoard: water under a sloping board runs to its low edge and does not
// drip on the bees.
func TestTiltedBoard(t *testing.T) {
	level := twoDeep(t)
	insulateWalls(t, &level, 0.038)
	level.Hive.LeakArea = 0
	tilted := level.Clone()
	tilted.Hive.Tilt = 12
	run := func(p hive.Plan) Totals {
		tr, err := Run(context.Background(), Input{Plan: p, Weather: spell(t, "minneapolis-mn", date(2025, 12, 1), 60), Biology: colony.DefaultBiology(), Ideal: Ideal{NoSorption: true}}, nil)
		if err != nil {
			t.Fatal(err)
		}
		return tr.Totals
	}
	a, b := run(level), run(tilted)
	if a.DrippedCore <= 0 {
		t.Fatal("nothing drips from the level board; the test shows nothing")
	}
	if b.Dripped != 0 || b.RanDown <= 0 {
		t.Errorf("from the tilted board %.3f kg drip and %.3f kg run down", b.Dripped, b.RanDown)
	}
}

// TestInsideCoat: a varnish on the inner faces keeps vapour out of the wood, and
// what the wood does not take lies on it. Without one the limit is the bare hive.
func TestInsideCoat(t *testing.T) {
	run := func(coat float64) Totals {
		p := twoDeep(t)
		p.Hive.InsideCoat = coat
		return winter(t, p, "minneapolis-mn", time.December, time.January).Totals
	}
	bare, thin, closed := run(0), run(0.3), run(30)
	if !(thin.Absorbed < bare.Absorbed && closed.Absorbed < 0.2*bare.Absorbed) {
		t.Errorf("absorbed: bare %.3f, varnished %.3f, closed %.3f kg", bare.Absorbed, thin.Absorbed, closed.Absorbed)
	}
	if !(closed.Settled.Sum() > bare.Settled.Sum()) {
		t.Errorf("settled: bare %.3f, closed %.3f kg", bare.Settled.Sum(), closed.Settled.Sum())
	}
	if k := closed.Closure(); math.Abs(k.Heat) > 1e-3 || math.Abs(k.Vapour) > 1e-3 {
		t.Errorf("closure %+v", k)
	}
}

// TestTopVentDriesQuiltHolds compares, over a cold winter in a thin-walled hive, a
// top vent, a mesh floor, a quilt of shavings over a cloth and a sealed hive.
// Common practice, no source.
func TestTopVentDriesQuiltHolds(t *testing.T) {
	run := func(change func(*hive.Plan)) Totals {
		p := twoDeep(t)
		change(&p)
		return winter(t, p, "minneapolis-mn", time.December, time.February).Totals
	}
	plain := run(func(*hive.Plan) {})
	vented := run(func(p *hive.Plan) { p.Hive.Openings = append(p.Hive.Openings, vent(p.Hive.Height()-0.03)) })
	mesh := run(func(p *hive.Plan) { p.Hive.Floor.Mesh, p.Hive.Floor.MeshArea = true, 0.09 })
	quilt := run(func(p *hive.Plan) {
		p.Hive.TopBoard = &hive.TopBoard{Layers: []hive.Layer{{Material: find(t, "wood shavings"), Thickness: 0.08}, {Material: find(t, "burlap"), Thickness: 0.001}}, Permeance: 1e-4}
		p.Hive.Lid.Space, p.Hive.Lid.Vents = 0.02, 0.002
	})
	sealed := run(func(p *hive.Plan) { p.Hive.LeakArea, p.Hive.Openings = 0, nil })
	if vented.Settled.Walls >= plain.Settled.Walls || mesh.Settled.Walls >= plain.Settled.Walls {
		t.Errorf("on the walls settle: plain %.2f, top vent %.2f, mesh floor %.2f kg", plain.Settled.Walls, vented.Settled.Walls, mesh.Settled.Walls)
	}
	if quilt.Dripped > plain.Dripped || quilt.DrippedCore > 0.01 {
		t.Errorf("under a quilt %.3f kg drip, plain %.3f kg", quilt.Dripped, plain.Dripped)
	}
	if a, b := sealed.Drained+sealed.Lying.Sum(), plain.Drained+plain.Lying.Sum(); a <= b {
		t.Errorf("liquid left in or run out of the sealed hive %.2f kg, the plain one %.2f kg", a, b)
	}
}

// TestSpringWater: water from the walls is used in spring, when brood is raised.
// Common practice, no source.
func TestSpringWater(t *testing.T) {
	p := twoDeep(t)
	p.Colony.BroodStart = hive.Day{Month: 1, Day: 20}
	tr := winter(t, p, "burlington-vt", time.January, time.May)
	spring, before := 0.0, 0.0
	for i, v := range tr.Get("water.drunk") {
		if tr.Time(i).Month() >= time.March {
			spring += v
		} else {
			before += v
		}
	}
	if spring <= before || spring < 0.05 {
		t.Errorf("bees drank %.3f kg from March, %.3f kg before", spring, before)
	}
}

// TestMouldNeedsDamp: a sealed thin hive grows mould sooner than a dry insulated
// one with a vent.
func TestMouldNeedsDamp(t *testing.T) {
	damp := twoDeep(t)
	damp.Hive.Openings[0].Width = 0.02
	dryHive := twoDeep(t)
	insulateWalls(t, &dryHive, 0.05)
	insulateLid(t, &dryHive, 0.1)
	dryHive.Hive.Openings = append(dryHive.Hive.Openings, vent(dryHive.Hive.Height()-0.03))
	a := highest(winter(t, damp, "portland-or", time.October, time.April).Get("mould.walls"))
	b := highest(winter(t, dryHive, "portland-or", time.October, time.April).Get("mould.walls"))
	if a <= b || a > 6 || b < 0 {
		t.Errorf("mould index %.2f in the damp hive, %.2f in the dry one", a, b)
	}
}

// TestFreezeAndMelt: frost that settles, melts and dries gives back what it took:
// heat of melting goes out and comes in by the same mass, no faster than the face's
// hold on its temperature allows.
func TestFreezeAndMelt(t *testing.T) {
	r := &run{tot: &Totals{}}
	var l latentHeat
	ice, water := 0.0, 0.01
	r.freeze(water, &ice, 0.01, -3, 5, 600, &l) // settled as frost
	if ice != 0.01 || l.debt != 0 {
		t.Fatalf("frost: %g kg of ice, %g J", ice, l.debt)
	}
	r.freeze(water, &ice, 0, 0.5, 5, 600, &l) // could melt 5·0.5·600/334 kJ = 4.5 g
	if melted := 0.01 - ice; math.Abs(melted-5*0.5*600/fusion) > 1e-12 || math.Abs(l.debt+melted*fusion) > 1e-9 {
		t.Errorf("melted %g kg for %g J", melted, l.debt)
	}
	r.freeze(water, &ice, 0, 20, 5, 600, &l)
	if ice != 0 || math.Abs(l.debt+0.01*fusion) > 1e-9 {
		t.Errorf("all melted: %g kg of ice, %g J", ice, l.debt)
	}
	r.freeze(water, &ice, 0, -20, 50, 600, &l)
	if ice != 0.01 || math.Abs(l.debt) > 1e-9 || math.Abs(r.tot.Latent) > 1e-9 {
		t.Errorf("frozen again: %g kg of ice, %g J left over", ice, l.debt)
	}
	r.freeze(0, &ice, -0.01, -1, 5, 600, &l)
	if ice != 0 {
		t.Errorf("%g kg of ice on a dry face", ice)
	}
}

// TestDampWallsConduct: once a day the walls take the conductivity of the water in
// them, by what their materials say; a dry hive keeps that of the table.
func TestDampWallsConduct(t *testing.T) {
	resistance := func(humidity float64) float64 {
		r := &run{in: Input{Plan: twoDeep(t), Weather: spell(t, "burlington-vt", date(2026, 1, 5), 2), Biology: colony.DefaultBiology(), StepsPerHour: 2}, joints: &wall.Cache{}}
		bio := r.in.Biology
		r.bio, r.wetSeen = &bio, map[string]bool{}
		if err := r.begin(); err != nil {
			t.Fatal(err)
		}
		r.e.season(humidity)
		if err := r.day(r.trace.Start, true); err != nil {
			t.Fatal(err)
		}
		for i := range r.e.faces {
			if f := &r.e.faces[i]; f.part == partWall {
				return f.chain.Resistance()
			}
		}
		t.Fatal("no wall")
		return 0
	}
	air, damp := resistance(0.5), resistance(0.9)
	// Softwood goes from 9 to 20 % of moisture: exp(-1.4·0.11) of the resistance.
	if share := damp / air; share < 0.80 || share > 0.92 {
		t.Errorf("damp walls have %.3f of the resistance of dry ones", share)
	}
}

// TestClothDrinks: a cloth over the frames draws in the water that hangs on it, none
// of it lost; a board does not, nor a cloth under a varnish.
func TestClothDrinks(t *testing.T) {
	drawn := func(inner string, coat float64) (left, took float64) {
		p := twoDeep(t)
		p.Hive.InsideCoat = coat
		p.Hive.TopBoard = &hive.TopBoard{Layers: []hive.Layer{{Material: find(t, inner), Thickness: 0.004}}}
		r := &run{in: Input{Plan: p, Weather: spell(t, "burlington-vt", date(2026, 1, 5), 2), Biology: colony.DefaultBiology(), StepsPerHour: 2}, joints: &wall.Cache{}}
		bio := r.in.Biology
		r.bio, r.wetSeen = &bio, map[string]bool{}
		if err := r.begin(); err != nil {
			t.Fatal(err)
		}
		before, _ := r.e.inShell()
		hung := 0.0
		for i := range r.e.faces {
			if f := &r.e.faces[i]; f.part == partBoard {
				r.e.water[i] = 0.02 * f.area
				hung += r.e.water[i]
			}
		}
		r.absorb()
		for i := range r.e.faces {
			left += r.e.water[i]
		}
		after, _ := r.e.inShell()
		if math.Abs(hung-left-(after-before)) > 1e-9 || math.Abs(r.tot.DrawnIn-(hung-left)) > 1e-12 {
			t.Errorf("%s: of %g kg %g are left and %g in the shell", inner, hung, left, after-before)
		}
		return left, hung - left
	}
	if left, took := drawn("burlap", 0); took <= 0 || left > 1e-12 {
		t.Errorf("cloth draws in %.4f kg and leaves %.4f kg", took, left)
	}
	if _, took := drawn("plywood", 0); took != 0 {
		t.Errorf("a board draws in %.4f kg", took)
	}
	if _, took := drawn("burlap", 1); took != 0 {
		t.Errorf("a varnished cloth draws in %.4f kg", took)
	}
}

// TestSplash: a wall a step above the ground gets wet from below, one on a stand of
// 300 mm does not.
func TestSplash(t *testing.T) {
	low := &surface{level: 0.05}
	if s := splash(low, 6, 0); math.Abs(s-splashShare*6*(1-0.05/0.3)) > 1e-12 {
		t.Errorf("splash %g mm", s)
	}
	if s := splash(low, 6, 0.3); s != 0 {
		t.Errorf("splash %g mm on a stand of 300 mm", s)
	}
}

// TestOpenHoneyFollowsTheAir: what stands open in still cells comes to the published
// balance of honey with air, with a time constant of days, and the honey's own
// humidity is that of the table.
func TestOpenHoneyFollowsTheAir(t *testing.T) {
	for _, p := range honeyBalance {
		if phi, _ := honeyHumidity(p[0]); math.Abs(phi-p[1]) > 1e-9 {
			t.Errorf("honey of %.1f %% water: humidity %.3f, published %.3f", 100*p[0], phi, p[1])
		}
	}
	p := twoDeep(t)
	r := &run{in: Input{Plan: p, Weather: spell(t, "burlington-vt", date(2026, 1, 5), 2), Biology: colony.DefaultBiology(), StepsPerHour: 2}, joints: &wall.Cache{}}
	bio := r.in.Biology
	r.bio, r.wetSeen = &bio, map[string]bool{}
	if err := r.begin(); err != nil {
		t.Fatal(err)
	}
	e := r.e
	e.pressure = 101325
	const phi = 0.75
	hours := 0.0
	for i := range e.comb {
		e.comb[i], e.temp[e.combs[i].cell] = 10, 10
		e.ratio[e.combs[i].cell] = phi * saturation(10) * molarRatio / e.pressure // as the engine has it, to first order
	}
	e.readCombs()
	first, _ := r.outerHoney()
	aim := HoneyWater(phi)
	reached := 0.0
	for range 24 * 90 {
		e.openLarders(3600)
		r.fillLarders(3600)
		hours++
		if w, _ := r.outerHoney(); reached == 0 && w > first+0.632*(aim-first) {
			reached = hours / 24
		}
	}
	if w, _ := r.outerHoney(); math.Abs(w-aim) > 0.003 {
		t.Errorf("after 90 days %.3f of water, balance %.3f", w, aim)
	}
	if reached < 2 || reached > 15 {
		t.Errorf("two thirds of the way in %.1f days", reached)
	}
	if w := r.pollenWater(); w < 0.15 || w > 0.25 {
		t.Errorf("pollen in air of 75 %% has %.3f of water", w)
	}
}

// TestHoneyWater holds the balance of honey with air to the published points and
// to rising everywhere.
func TestHoneyWater(t *testing.T) {
	for _, p := range [][2]float64{{0.52, 0.161}, {0.58, 0.174}, {0.66, 0.215}, {0.76, 0.289}, {0.81, 0.339}} {
		if got := HoneyWater(p[0]); math.Abs(got-p[1]) > 1e-9 {
			t.Errorf("at %.0f %% humidity %.3f, published %.3f", 100*p[0], got, p[1])
		}
	}
	for phi := 0.3; phi < 1; phi += 0.01 {
		if HoneyWater(phi) >= HoneyWater(phi+0.01) {
			t.Fatalf("does not rise at %.2f", phi)
		}
	}
}

// TestFirstWaterTellsWhy: a face on which water first settles is not warmer than
// the dew point of the air before it by more than an hour's change.
func TestFirstWaterTellsWhy(t *testing.T) {
	tr := winter(t, twoDeep(t), "minneapolis-mn", time.December, time.January)
	if len(tr.Wet) == 0 {
		t.Fatal("no face got wet")
	}
	for i, w := range tr.Wet {
		if w.Temp > w.DewPoint+3 {
			t.Errorf("%s wet at %.1f °C with a dew point of %.1f °C", w.Face, w.Temp, w.DewPoint)
		}
		if i > 0 && w.At.Before(tr.Wet[i-1].At) {
			t.Error("not in order of time")
		}
	}
}
