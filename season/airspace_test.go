package season

import (
	"math"
	"testing"

	"hackle/hive"
	"hackle/material"
	"hackle/wall"
)

// spaceResistance is the resistance of the closed air space between top board and
// lid of a wide box, from the far face of the board to the inner face of the lid, with
// the roof held at one temperature and all else at another. [m²·K/W]
func spaceResistance(t *testing.T, depth float64, lidFace material.Material, roof, below float64) (r, difference, mean float64) {
	t.Helper()
	wood := find(t, "softwood")
	board := []hive.Layer{{Material: wood, Thickness: 0.01}}
	// A wide box, so that the rim takes little.
	b := hive.Body{Length: 4, Width: 4, Height: 0.2}
	for i := range b.Walls {
		b.Walls[i] = []hive.Layer{{Material: wood, Thickness: 0.1, Resistance: 50}}
	}
	plan := hive.Plan{Hive: hive.Hive{Bodies: []hive.Body{b}, Floor: hive.Floor{Layers: board}, TopBoard: &hive.TopBoard{Layers: board},
		Lid: hive.Lid{Layers: []hive.Layer{{Material: wood, Thickness: 0.01}, {Material: lidFace, Thickness: 0.0005}}, Space: depth}}}
	ideal := Ideal{NoEdges: true, Tight: true, NoSorption: true}
	x, err := compile(plan, date(2026, 7, 1), nest{breadth: 0.1, power: 1, slab: 0.1}, ideal, &wall.Cache{})
	if err != nil {
		t.Fatal(err)
	}
	e := newEngine(x, ideal)
	o := outdoors{temp: below, pressure: 101325}
	for i := range sides {
		o.film[i], o.feels[i], o.blown[i] = 50, below, 50
	}
	o.feels[roofSide] = roof
	e.start(o)
	if _, err := e.step(math.Inf(1), &o, 3000, 1e-9, func() { clear(e.source) }); err != nil {
		t.Fatal(err)
	}
	var upper, lower, flux float64
	for i := range e.faces {
		f := &e.faces[i]
		switch f.part {
		case partLid:
			upper = e.face[i]
			flux = e.law[i].g*e.face[i] - e.law[i].s // leaving to the roof
		case partBoard:
			lower = e.farFace[i]
		}
	}
	return (lower - upper) / flux, math.Abs(lower - upper), (lower + upper) / 2
}

// TestLidSpaceAgainstISO6946 holds the air space that the engine computes between top
// board and lid, with and without foil under the lid, heated from below as in winter
// and from above as by the sun, against EN ISO 6946, annex D. The standard gives one
// rough value for each direction; the engine's films are those of enclosures and
// plates. A seventh apart is taken for agreement.
func TestLidSpaceAgainstISO6946(t *testing.T) {
	wood, foil := find(t, "softwood"), find(t, "aluminium foil")
	for _, c := range []struct {
		name        string
		depth       float64
		face        material.Material
		roof, below float64
		direction   material.Direction
	}{
		{"wood, heat up", 0.025, wood, 0, 10, material.Up},
		{"foil, heat up", 0.025, foil, 0, 10, material.Up},
		{"wood, heat down", 0.025, wood, 50, 30, material.Down},
		{"foil, heat down", 0.025, foil, 50, 30, material.Down},
		{"foil, heat down, 50 mm", 0.05, foil, 50, 30, material.Down},
	} {
		got, difference, mean := spaceResistance(t, c.depth, c.face, c.roof, c.below)
		want := material.AirLayerResistanceOf(c.depth, c.direction, c.face.Emissivity, 0.9, mean, difference)
		t.Logf("%s: %.3f m²·K/W, ISO 6946 %.3f (%+.0f %%), %.1f K across", c.name, got, want, 100*(got/want-1), difference)
		if !(math.Abs(got/want-1) < 0.15) {
			t.Errorf("%s: %.3f m²·K/W, ISO 6946 %.3f", c.name, got, want)
		}
	}
}

// TestFoilUnderTheRoof: foil under a lid with an air space keeps the sun's heat off
// the combs; vents in that space do so too.
func TestFoilUnderTheRoof(t *testing.T) {
	p := hotHive(t)
	p.Hive.TopBoard = &hive.TopBoard{Layers: []hive.Layer{{Material: find(t, "plywood"), Thickness: 0.008}}}
	p.Hive.Lid.Space, p.Hive.Lid.Vents = 0.03, 0
	p.Hive.Lid.Layers = []hive.Layer{{Material: find(t, "galvanised steel"), Thickness: 0.0004}, {Material: find(t, "plywood"), Thickness: 0.01}}
	w := spellOf(t, "phoenix-az", 7, 10, 4)
	warmest := func(p hive.Plan) float64 { return highest(lived(t, p, w).Get("comb.warmest")) }
	plain := warmest(p)
	vented := p.Clone()
	vented.Hive.Lid.Vents = 0.006
	lined := p.Clone()
	lined.Hive.Lid.Layers = append(lined.Hive.Lid.Layers, hive.Layer{Material: find(t, "aluminium foil"), Thickness: 0.00005})
	foil, air := warmest(lined), warmest(vented)
	t.Logf("warmest comb %.1f °C under a plain lid, %.1f °C with foil, %.1f °C with vents", plain, foil, air)
	if !(foil < plain-0.2) || !(air < plain-0.2) {
		t.Errorf("warmest comb %.1f °C plain, %.1f °C with foil, %.1f °C with vents", plain, foil, air)
	}
}
