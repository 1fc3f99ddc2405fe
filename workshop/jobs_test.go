package workshop

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"hackle/hive"
	"hackle/material"
	"hackle/price"
	"hackle/quantity"
	"hackle/season"
	"hackle/wall"
)

func plan(t *testing.T, typ string, bodies ...string) hive.Plan {
	t.Helper()
	h, err := hive.New(typ, bodies...)
	if err != nil {
		t.Fatal(err)
	}
	return hive.Plan{Hive: h}
}

func mustMake(t *testing.T, p hive.Plan, s Spec) Job {
	t.Helper()
	j, err := Make(p, s, DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	return j
}

func part(t *testing.T, j Job, name string) Part {
	t.Helper()
	for _, p := range j.Parts {
		if p.Name == name {
			return p
		}
	}
	t.Fatalf("%s has no part %q", j.Title, name)
	return Part{}
}

// misfits are findings about preset hives themselves, not about what is made for
// them: recalled heights that leave more or less than bee space.
var misfits = map[string]string{
	"dadant-12 body":  "space to the frames above",
	"dadant-10 body":  "space to the frames above",
	"long-deep floor": "space under the frames",
}

// TestEveryKindFitsEveryType makes everything for every preset type, puts the
// parts together with the hive, and holds sizes against the solids.
func TestEveryKindFitsEveryType(t *testing.T) {
	types, err := hive.Types()
	if err != nil {
		t.Fatal(err)
	}
	made := 0
	for _, ty := range types {
		if ty.Name == hive.Custom {
			continue
		}
		for _, k := range Kinds() {
			p := plan(t, ty.Name)
			if k.Name == "floor-tray" {
				p.Hive.Floor.Mesh, p.Hive.Floor.MeshArea = true, 0.05
			}
			j, err := Make(p, Spec{Kind: k.Name}, DefaultOptions())
			if err != nil {
				var pe *PartError
				if !errors.As(err, &pe) || pe.Part == "" {
					t.Errorf("%s %s: %v names no part", ty.Name, k.Name, err)
				}
				switch ty.Name + " " + k.Name {
				case "warre frame-wires", "top-bar frame-wires", "top-bar entrance-reducer", "warre top-board":
				default:
					t.Errorf("%s %s: %v", ty.Name, k.Name, err)
				}
				continue
			}
			made++
			for _, c := range j.Checks {
				if !c.OK && misfits[ty.Name+" "+k.Name] != c.Name {
					t.Errorf("%s %s: %s: %s, wanted %s", ty.Name, k.Name, c.Name, c.Found, c.Wanted)
				}
			}
			if len(j.Steps) == 0 || len(j.Cautions) == 0 || j.Purpose == "" {
				t.Errorf("%s %s: steps, cautions or purpose are missing", ty.Name, k.Name)
			}
			for _, p := range j.Parts {
				holdSolid(t, ty.Name+" "+k.Name, p)
			}
			// What the engine is given can be written and read again.
			var file bytes.Buffer
			if err := hive.Encode(&file, j.Plan, quantity.Metric); err != nil {
				t.Errorf("%s %s: writing the changed hive: %v", ty.Name, k.Name, err)
				continue
			}
			if _, err := hive.Decode("changed", &file); err != nil {
				t.Errorf("%s %s: reading the changed hive: %v", ty.Name, k.Name, err)
			}
		}
	}
	if made < 120 {
		t.Errorf("only %d jobs were made", made)
	}
}

// holdSolid compares a part's sizes with the solid it is placed as: the same box
// round it, and the same volume when rebates and notches are taken off.
func holdSolid(t *testing.T, job string, p Part) {
	t.Helper()
	for _, s := range p.At {
		if len(s) == 0 {
			continue
		}
		b := s.Bounds()
		got := []float64{b.Max.X - b.Min.X, b.Max.Y - b.Min.Y, b.Max.Z - b.Min.Z}
		used := [3]bool{}
		sizes := []float64{p.Length, p.Width, p.Thickness}
		if p.Name == "bar" && strings.HasSuffix(job, "follower-board") {
			continue // its lugs lie in the walls' rests
		}
		if p.Soft {
			continue
		}
		for _, want := range sizes {
			found := false
			for i, g := range got {
				if !used[i] && math.Abs(g-want) < 1e-6 {
					used[i], found = true, true
					break
				}
			}
			if !found {
				t.Errorf("%s, %s: size %.4f m is not among those of its solid %v", job, p.Name, want, got)
			}
		}
		var holes float64 // round and square openings are not cut out of the solid of a panel
		for _, f := range p.Features {
			if f.Kind == Hole {
				holes += math.Pi / 4 * f.Diameter * f.Diameter * p.Thickness
			}
			if f.Kind == Notch && f.Note != "medium" {
				holes += f.Length * f.Width * p.Thickness
			}
		}
		volume := p.Mass()/p.Material.Density + holes
		if strings.Contains(job, "entrance-reducer") {
			continue // the notch of the other edge is cut but not placed
		}
		if math.Abs(volume-s.Volume()) > 2e-7+0.002*volume {
			t.Errorf("%s, %s: %.1f cm³ by its sizes, %.1f cm³ as placed", job, p.Name, volume*1e6, s.Volume()*1e6)
		}
	}
}

// TestOverlapIsSeen breaks a job on purpose: the check of the assembly can fail.
func TestOverlapIsSeen(t *testing.T) {
	p := plan(t, "stacked-10")
	j := mustMake(t, p, Spec{Kind: "lid-insulation"})
	b := bench{job: &j, opt: DefaultOptions(), h: p.Hive, spec: Spec{Kind: "lid-insulation"}}
	j.Checks = nil
	for i := range j.Parts {
		for k := range j.Parts[i].At {
			for n := range j.Parts[i].At[k] {
				j.Parts[i].At[k][n].Min.Z -= 0.002
			}
		}
	}
	b.assembly()
	if len(j.Checks) != 1 || j.Checks[0].OK || !strings.Contains(j.Checks[0].Found, "top board overlap") {
		t.Errorf("parts sunk 2 mm into the top board pass: %+v", j.Checks)
	}
}

// TestBodySizes holds the stacked ten-frame body against the published drawing of
// extension services: outside 505 × 413 mm, inside 467 × 375, rests 16 mm high and
// 9.5 mm (3/8 in) wide (rests from memory).
func TestBodySizes(t *testing.T) {
	j := mustMake(t, plan(t, "stacked-10"), Spec{Kind: "body"})
	front, side := part(t, j, "front and back"), part(t, j, "side")
	if front.Length != 0.413 || math.Abs(side.Length-0.486) > 1e-9 || front.Width != 0.244 {
		t.Errorf("front %v × %v, side %v", front.Length, front.Width, side.Length)
	}
	all := front.At[0].Bounds()
	back := front.At[1].Bounds()
	if d := back.Max.Y - all.Min.Y; math.Abs(d-0.505) > 1e-9 {
		t.Errorf("outside %v from front to back", d)
	}
	for _, f := range front.Features {
		if f.Note == "frame rest" && (math.Abs(f.Depth-0.0095) > 1e-9 || math.Abs(f.Width-0.0175) > 1e-9) {
			t.Errorf("rest %v deep, %v high", f.Depth, f.Width)
		}
	}
	// BS 1300:1960 gives the National 460 × 460 mm outside.
	j = mustMake(t, plan(t, "national"), Spec{Kind: "body"})
	if s := part(t, j, "side"); math.Abs(s.Length-0.460) > 0.001 || s.Thickness != 0.019 {
		t.Errorf("National side %v × %v", s.Length, s.Thickness)
	}
	if f := part(t, j, "front and back"); math.Abs(f.Length-0.441) > 0.001 {
		t.Errorf("National set-in board %v", f.Length)
	}
	// Published plans of the top-bar hive: boards 300 mm wide, sides at 120 degrees.
	j = mustMake(t, plan(t, "top-bar"), Spec{Kind: "body"})
	if s := part(t, j, "sloping side"); math.Abs(s.Width-0.300) > 0.001 {
		t.Errorf("top-bar side %v wide, published boards have 300 mm", s.Width)
	}
}

func TestBadSpecs(t *testing.T) {
	p := plan(t, "stacked-10")
	for name, c := range map[string]struct {
		spec Spec
		opt  func(*Options)
		want string
	}{
		"unknown kind":       {Spec{Kind: "canoe"}, nil, "lid-insulation"},
		"negative clearance": {Spec{Kind: "lid-insulation"}, func(o *Options) { o.Clearance = -0.001 }, "insulated lid insert, all parts: clearance of -1 mm"},
		"rigid in a press":   {Spec{Kind: "lid-insulation", Material: "XPS", Thickness: 0.05, Cavity: 0.04}, nil, "insulation: XPS of 50 mm does not go into a space of 40 mm"},
		"crushed":            {Spec{Kind: "lid-insulation", Thickness: 0.1, Cavity: 0.04}, nil, "less than half"},
		"unknown material":   {Spec{Kind: "wall-panels", Material: "moon dust"}, nil, "panel: "},
		"soft panel":         {Spec{Kind: "wall-panels", Material: "sheep wool"}, nil, "panel: sheep wool is soft"},
		"no such body":       {Spec{Kind: "frame-wires", Body: 7}, nil, "the hive has 2"},
		"no mesh":            {Spec{Kind: "floor-tray"}, nil, "tray: the floor of this hive has no mesh"},
		"too many frames":    {Spec{Kind: "follower-board", Frames: 10}, nil, "board: 10 frames"},
		"bad pattern":        {Spec{Kind: "frame-wires", Pattern: "spaghetti"}, nil, "crossed wires"},
		"thickness NaN":      {Spec{Kind: "wall-panels", Thickness: math.NaN()}, nil, "thickness"},
	} {
		o := DefaultOptions()
		if c.opt != nil {
			c.opt(&o)
		}
		_, err := Make(p, c.spec, o)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q in it", name, err, c.want)
		}
	}
}

// TestPressed holds pressed light wool against the published resistances of one
// glass batt: R-19 at 6-1/4 in, 18 at 5-1/2 in, 13 to 14 at 3-1/2 in (trade
// magazine, "the R-value of compressed batts", read). The constant was set by the
// first and the last; the middle is the check.
func TestPressed(t *testing.T) {
	const inch, r = 0.0254, 0.1761
	batt := material.Material{Name: "light glass batt", Density: 7.3, Conductivity: 6.25 * inch / (19 * r)}
	for _, c := range []struct{ depth, low, high float64 }{{5.5, 17.3, 18.5}, {3.5, 13, 14.2}} {
		p := Pressed(batt, 6.25*inch, c.depth*inch)
		got := c.depth * inch / p.Conductivity / r
		if got < c.low || got > c.high {
			t.Errorf("in %v in: R-%.1f, published %v to %v", c.depth, got, c.low, c.high)
		}
	}
	if p := Pressed(batt, 0.1, 0.1); p != batt {
		t.Error("an unpressed batt changed")
	}
}

// TestPressedReachesTheEngine: a batt pressed into a thinner space gives the
// computed hive less resistance than its label says.
func TestPressedReachesTheEngine(t *testing.T) {
	p := plan(t, "stacked-10")
	full := mustMake(t, p, Spec{Kind: "lid-insulation", Thickness: 0.1})
	pressed := mustMake(t, p, Spec{Kind: "lid-insulation", Thickness: 0.1, Cavity: 0.075})
	before, a, b := resistance(p.Hive.Lid.Layers), resistance(full.Plan.Hive.Lid.Layers), resistance(pressed.Plan.Hive.Lid.Layers)
	if !(b > before+1 && b < a-0.3) {
		t.Errorf("lid resistance %.2f before, %.2f with the batt, %.2f pressed", before, a, b)
	}
	if len(pressed.Plan.Materials) != 1 || !strings.Contains(pressed.Plan.Materials[0].Name, "pressed from 100 to 75 mm") {
		t.Errorf("materials of the plan: %+v", pressed.Plan.Materials)
	}
	// The plan that was given stays as it was.
	if resistance(p.Hive.Lid.Layers) != before || len(p.Materials) != 0 {
		t.Error("the plan given was changed")
	}
}

// TestVentedLidKeepsItsSpace: the air space that a lid's vents need stays, and a
// job that would fill it fails its check.
func TestVentedLidKeepsItsSpace(t *testing.T) {
	p := plan(t, "national") // a lid with vents over 25 mm of air
	j := mustMake(t, p, Spec{Kind: "lid-insulation", Thickness: 0.05})
	h := j.Plan.Hive
	if h.Lid.Space != p.Hive.Lid.Space || h.Lid.Vents != p.Hive.Lid.Vents {
		t.Errorf("space %v and vents %v became %v and %v", p.Hive.Lid.Space, p.Hive.Lid.Vents, h.Lid.Space, h.Lid.Vents)
	}
	frame, batt := part(t, j, "frame side"), part(t, j, "insulation")
	top := frame.At[0].Bounds().Max.Z
	if free := top - batt.At[0].Bounds().Max.Z; math.Abs(free-p.Hive.Lid.Space) > 1e-9 {
		t.Errorf("%v of air above the batt", free)
	}
	if resistance(h.TopBoard.Layers) < resistance(p.Hive.TopBoard.Layers)+1 {
		t.Error("the engine is not told of the batt")
	}
}

// TestPanelsWeighTheBareBelt: the engine's panels let through as much heat as the
// covered and the bare part of the wall together.
func TestPanelsWeighTheBareBelt(t *testing.T) {
	p := plan(t, "stacked-10")
	j := mustMake(t, p, Spec{Kind: "wall-panels"})
	panel := part(t, j, "front panel")
	z0, z1 := panel.At[0].Bounds().Min.Z, panel.At[0].Bounds().Max.Z
	for i, body := range p.Hive.Bodies {
		base := p.Hive.BodyBase(i)
		share := (min(z1, base+body.Height) - max(z0, base)) / body.Height
		bare := resistance(body.Walls[hive.Front]) + films
		covered := bare + 0.038/0.035 + 0.006/0.13
		want := share/covered + (1-share)/bare
		got := 1 / (resistance(j.Plan.Hive.Bodies[i].Walls[hive.Front]) + films)
		if math.Abs(got-want) > 1e-6 {
			t.Errorf("body %d: U %.4f, want %.4f", i+1, got, want)
		}
	}
	if u := len(j.Plan.Hive.Bodies[0].Walls[hive.Front]); u != 3 {
		t.Errorf("%d layers", u)
	}
}

// TestPanelLeavesOpenings: an upper hole is cut out of the panel before it.
func TestPanelLeavesOpenings(t *testing.T) {
	p := plan(t, "stacked-10")
	p.Hive.Openings = append(p.Hive.Openings, hive.Opening{Name: "upper hole", Face: hive.Front, Sill: 0.20, Width: 0.019, Height: 0.019, Shape: hive.Round, Count: 1, Offset: 0.06, Depth: 0.019})
	j := mustMake(t, p, Spec{Kind: "wall-panels"})
	panel := part(t, j, "front panel")
	if len(panel.Features) != 1 {
		t.Fatalf("cut-outs %+v", panel.Features)
	}
	f := panel.Features[0]
	middle := f.X + f.Length/2 - panel.Length/2
	if math.Abs(middle-0.06) > 1e-9 || f.Length < 0.019 {
		t.Errorf("cut-out %v from the middle, %v wide", middle, f.Length)
	}
	if !j.Fits() {
		t.Errorf("checks: %+v", j.Checks)
	}
}

func TestWires(t *testing.T) {
	p := plan(t, "stacked-10")
	for pattern, want := range map[hive.Support]struct {
		part  string
		holes int
	}{hive.SupportCrossed: {"side bar", 2}, hive.SupportLevel: {"side bar", 4}, hive.SupportUpright: {"bottom bar", 4}} {
		j := mustMake(t, p, Spec{Kind: "frame-wires", Pattern: pattern})
		if n := len(part(t, j, want.part).Features); n != want.holes {
			t.Errorf("%s: %d holes, want %d", pattern, n, want.holes)
		}
		if j.Plan.Hive.Bodies[0].Frames.Support != pattern {
			t.Errorf("%s is not told to the engine", pattern)
		}
		if !j.Fits() {
			t.Errorf("%s: %+v", pattern, j.Checks)
		}
	}
	// Two diagonals of a deep frame: hypot(448, 232-19-9-50) mm each, the upright
	// between the holes, and 200 mm of ends.
	j := mustMake(t, p, Spec{Kind: "frame-wires"})
	want := 2*math.Hypot(0.448, 0.154) + 0.154 + 0.2
	if !strings.Contains(j.Items[0].Note, quantity.Format(want, quantity.Length, quantity.Metric)) {
		t.Errorf("%q, want %.3f m a frame", j.Items[0].Note, want)
	}
}

func TestOrder(t *testing.T) {
	prices, err := price.Standard()
	if err != nil {
		t.Fatal(err)
	}
	p := plan(t, "stacked-10")
	o := DefaultOptions()
	var jobs []Job
	for _, k := range []string{"lid-insulation", "wall-panels", "entrance-reducer"} {
		jobs = append(jobs, mustMake(t, p, Spec{Kind: k}))
	}
	order, err := NewOrder(jobs, 2, prices, o)
	if err != nil {
		t.Fatal(err)
	}
	pieces := 0
	var sum float64
	for _, g := range order.Groups {
		checkNesting(t, g.Nesting, g.Pieces, g.Blanks)
		pieces += len(g.Pieces)
		sum += g.Cost
	}
	want := 0
	for _, j := range jobs {
		for _, p := range j.Parts {
			want += 2 * p.Count
		}
	}
	if pieces != want {
		t.Errorf("%d pieces nested, want %d", pieces, want)
	}
	for _, i := range order.Items {
		sum += i.Cost
	}
	if math.Abs(sum-order.Cost) > 1e-9 || order.CostUsed > order.Cost || order.CostUsed <= 0 {
		t.Errorf("cost %v, sum %v, used %v", order.Cost, sum, order.CostUsed)
	}
	if !order.Invented {
		t.Error("the built-in prices are not marked as invented")
	}
	// The mass is that of the parts by density.
	mass := 0.0
	for _, j := range jobs {
		mass += 2 * j.Mass()
	}
	if math.Abs(mass-order.Mass) > 1e-9 {
		t.Errorf("mass %v, want %v", order.Mass, mass)
	}
}

func TestOrderRefuses(t *testing.T) {
	prices, err := price.Standard()
	if err != nil {
		t.Fatal(err)
	}
	p := plan(t, "stacked-10")
	j := mustMake(t, p, Spec{Kind: "wall-panels", Material: "softboard", Thickness: 0.018})
	if _, err := NewOrder([]Job{j}, 1, prices, DefaultOptions()); err == nil || !strings.Contains(err.Error(), "front panel: no stock of softboard") {
		t.Errorf("unknown stock: %v", err)
	}
	small := *prices
	small.Stock = []price.Stock{{Material: "plywood", Form: price.Sheet, Thickness: 0.012, Width: 0.3, Lengths: []float64{0.4}, Price: price.Price{Amount: 1, Unit: price.Unit{Name: "piece", Per: price.Each, Size: 1}}},
		{Material: "softwood", Form: price.Board, Thickness: 0.019, Width: 0.2, Lengths: []float64{2}, Price: price.Price{Amount: 1, Unit: price.Unit{Name: "m", Per: price.Length, Size: 1}}}}
	f := mustMake(t, p, Spec{Kind: "follower-board"})
	_, err = NewOrder([]Job{f}, 1, &small, DefaultOptions())
	if err == nil || !strings.Contains(err.Error(), "follower board, board: 451 × 209 mm is larger than every blank of its stock: the largest is 400 × 300 mm") {
		t.Errorf("a sheet smaller than the part: %v", err)
	}
	if _, err := NewOrder([]Job{f}, 0, prices, DefaultOptions()); err == nil {
		t.Error("no copies were made")
	}
}

func TestMeasure(t *testing.T) {
	for _, c := range []struct {
		m      float64
		system quantity.System
		want   string
	}{
		{0.505, quantity.Metric, "505 mm"}, {0.0095, quantity.Metric, "9.5 mm"}, {0.01034, quantity.Metric, "10.5 mm"},
		{0.505, quantity.US, "19-7/8 in"}, {0.0254, quantity.US, "1 in"}, {0.00794, quantity.US, "5/16 in"}, {0.0008, quantity.US, "1/32 in"}, {0, quantity.US, "0 in"},
	} {
		if got := Measure(c.m, c.system); got != c.want {
			t.Errorf("%v: %q, want %q", c.m, got, c.want)
		}
	}
	// A fraction never lies more than half a division off.
	for mm := 1.0; mm < 600; mm += 0.37 {
		text := strings.TrimSuffix(Measure(mm/1000, quantity.US), " in")
		v, err := quantity.Parse(text+" in", quantity.Length)
		if err != nil || math.Abs(v-mm/1000) > 0.0254/64+1e-9 {
			t.Fatalf("%v mm: %q, %v", mm, text, err)
		}
	}
}

func TestLoads(t *testing.T) {
	p := plan(t, "stacked-10")
	var deep float64
	for _, l := range Loads(p.Hive, 2) {
		if l.What == "body 1 deep, full of honey" {
			deep = l.Mass
			if !l.Heavy {
				t.Error("a full deep box is not called heavy")
			}
		}
	}
	// A full deep box: 36 to 41 kg (trade page).
	if deep < 34 || deep > 42 {
		t.Errorf("a full deep box weighs %.1f kg", deep)
	}
	j := mustMake(t, p, Spec{Kind: "lid-insulation"})
	if !strings.Contains(strings.Join(j.Cautions, " "), "lift with two") {
		t.Error("no caution about lifting")
	}
}

func ExampleMake() {
	h, _ := hive.New("stacked-10")
	j, err := Make(hive.Plan{Hive: h}, Spec{Kind: "entrance-reducer"}, DefaultOptions())
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, p := range j.Parts {
		fmt.Println(p.Count, p.Name, Measure(p.Length, quantity.Metric), Measure(p.Width, quantity.Metric), Measure(p.Thickness, quantity.Metric))
	}
	// Output:
	// 2 side block 148.5 mm 9.5 mm 19 mm
	// 2 middle block 23.5 mm 9.5 mm 19 mm
}

func planB(b *testing.B) hive.Plan {
	b.Helper()
	h, err := hive.New("stacked-10")
	if err != nil {
		b.Fatal(err)
	}
	return hive.Plan{Hive: h}
}

// TestEngineFeelsTheJob puts the changed hives before the engine: a heater in the
// box holds more warmth with wool in the lid, less when the same wool is pressed,
// and most with panels round the walls as well.
func TestEngineFeelsTheJob(t *testing.T) {
	p := plan(t, "stacked-10")
	conductance := func(p hive.Plan) float64 {
		t.Helper()
		r, err := season.Heater(season.HeaterInput{Plan: p, Date: time.Date(2026, 1, 15, 0, 0, 0, 0, time.UTC), Watts: 12, Outside: -5, Humidity: 0.8, Wind: 1, Empty: true}, &wall.Cache{})
		if err != nil {
			t.Fatal(err)
		}
		return r.Conductance
	}
	bare := conductance(p)
	full := conductance(mustMake(t, p, Spec{Kind: "lid-insulation", Thickness: 0.1}).Plan)
	pressed := conductance(mustMake(t, p, Spec{Kind: "lid-insulation", Thickness: 0.1, Cavity: 0.055}).Plan)
	panels := mustMake(t, mustMake(t, p, Spec{Kind: "lid-insulation", Thickness: 0.1}).Plan, Spec{Kind: "wall-panels"})
	walls := conductance(panels.Plan)
	t.Logf("conductance %.2f W/K bare, %.2f with wool, %.2f pressed, %.2f with panels", bare, full, pressed, walls)
	if !(full < pressed && pressed < bare && walls < 0.75*full) {
		t.Errorf("conductance %.3f W/K bare, %.3f with wool, %.3f pressed, %.3f with panels", bare, full, pressed, walls)
	}
}

// TestTurnedBodies: frames that hang parallel to the front fit as well, without a
// top board.
func TestTurnedBodies(t *testing.T) {
	p := plan(t, "stacked-10", "deep")
	p.Hive.Bodies[0].Turned = true
	p.Hive.TopBoard = nil
	p.Hive.Openings[0].Width = 0.2
	for _, k := range []string{"lid-insulation", "wall-panels", "wrap", "quilt", "entrance-reducer", "follower-board", "frame-wires", "body", "lid", "floor", "shade-board"} {
		j := mustMake(t, p, Spec{Kind: k})
		for _, c := range j.Checks {
			if !c.OK {
				t.Errorf("%s: %s: %s, wanted %s", k, c.Name, c.Found, c.Wanted)
			}
		}
		for _, x := range j.Parts {
			holdSolid(t, "turned "+k, x)
		}
	}
}
