package hive

import (
	"bytes"
	"math"
	"strings"
	"testing"

	"hackle/quantity"
)

// TestAirGaps reads layers of still air and holds their resistance against EN ISO
// 6946:2007, Table 2 (25 mm: 0.16 up, 0.18 level, 0.19 down, m²·K/W) and, with foil on
// one side, against its equation: 1/(ha + hr), ha 1.25 level, hr 5.15·E with
// 1/E = 1/0.036 + 1/0.9 - 1.
func TestAirGaps(t *testing.T) {
	const file = `version: 1
hive:
  type: stacked-10
  bodies: [deep]
  walls: [softwood 10 mm, air gap 25 mm, softwood 10 mm]
  floor: {layers: [softwood 10 mm, still air 25 mm, softwood 10 mm]}
  lid: {layers: [galvanised steel 0.4 mm, softwood 10 mm, air space 25 mm, plywood 6 mm]}
  wraps:
    - {faces: [sides], layers: [aluminium foil, air gap 25 mm], on: 1 Nov, off: 1 Apr}
`
	p, err := Decode("gaps", strings.NewReader(file))
	if err != nil {
		t.Fatal(err)
	}
	r := func(l Layer) float64 { return l.Thickness / l.Material.Conductivity }
	hr := 4 * 5.67e-8 * math.Pow(283.15, 3) / (1/0.036 + 1/0.9 - 1)
	for _, c := range []struct {
		what          string
		got, want, by float64
	}{
		{"wall", r(p.Hive.Bodies[0].Walls[Front][1]), 0.18, 0.005},
		{"floor", r(p.Hive.Floor.Layers[1]), 0.19, 0.01},
		{"lid", r(p.Hive.Lid.Layers[2]), 0.16, 0.005},
		{"foil wrap", r(p.Hive.Wraps[0].Layers[1]), 1 / (1.25 + hr), 0.001},
	} {
		if math.Abs(c.got-c.want) > c.by {
			t.Errorf("%s: %.4f m²·K/W, want %.4f", c.what, c.got, c.want)
		}
	}
	if foil := r(p.Hive.Wraps[0].Layers[1]); foil < 3*0.18 {
		t.Errorf("foil leaves %.3f m²·K/W", foil)
	}
	var b bytes.Buffer
	if err := Encode(&b, p, quantity.Metric); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(b.String(), "air gap 25 mm") {
		t.Errorf("written as\n%s", b.String())
	}
	_, err = Decode("edge", strings.NewReader("version: 1\nhive:\n  type: stacked-10\n  bodies: [deep]\n  walls: [softwood 19 mm, air gap 20 mm]\n"))
	if err == nil || !strings.Contains(err.Error(), "air gap at the edge") {
		t.Errorf("an air gap inside the wall: %v", err)
	}
}
