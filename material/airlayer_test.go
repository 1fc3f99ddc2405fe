package material

import (
	"math"
	"testing"
)

// EN ISO 6946 table for surfaces of high emissivity, rows in millimetres.
func airLayerTable() (thickness []float64, rows map[Direction][]float64) {
	return []float64{0, 5, 7, 10, 15, 25, 50, 100, 300}, map[Direction][]float64{
		Up:         {0, 0.11, 0.13, 0.15, 0.16, 0.16, 0.16, 0.16, 0.16},
		Horizontal: {0, 0.11, 0.13, 0.15, 0.17, 0.18, 0.18, 0.18, 0.18},
		Down:       {0, 0.11, 0.13, 0.15, 0.17, 0.19, 0.21, 0.22, 0.23},
	}
}

func TestAirLayerResistance(t *testing.T) {
	thickness, rows := airLayerTable()
	for direction, row := range rows {
		for i, mm := range thickness {
			if got := AirLayerResistance(mm/1000, direction); math.Abs(got-row[i]) > 1e-12 {
				t.Errorf("%g mm, direction %d: %g, table %g", mm, direction, got, row[i])
			}
			// The equations round to the table's two decimals.
			if got := AirLayerResistanceOf(mm/1000, direction, 0.9, 0.9, 10, 5); math.Abs(got-row[i]) > 0.0051 {
				t.Errorf("%g mm, direction %d: computed %g, table %g", mm, direction, got, row[i])
			}
		}
	}
	for _, test := range []struct {
		thickness float64
		direction Direction
		want      float64
	}{
		{0.006, Up, 0.12},
		{0.020, Down, 0.18},
		{0.075, Down, 0.215},
		{0.0025, Horizontal, 0.055},
		{2, Down, 0.23}, // held at 300 mm
	} {
		if got := AirLayerResistance(test.thickness, test.direction); math.Abs(got-test.want) > 1e-12 {
			t.Errorf("%g m, direction %d: %g, want %g", test.thickness, test.direction, got, test.want)
		}
	}
}

// Computed apart from this package by the same equations, to nine digits.
func TestAirLayerResistanceOf(t *testing.T) {
	for _, test := range []struct {
		thickness, up, horizontal, down float64
	}{
		{0.005, 0.108547864, 0.108547864, 0.108547864},
		{0.010, 0.148975219, 0.148975219, 0.148975219},
		{0.025, 0.162271126, 0.183065497, 0.191845574},
		{0.300, 0.162271126, 0.183065497, 0.226431519},
	} {
		for direction, want := range map[Direction]float64{Up: test.up, Horizontal: test.horizontal, Down: test.down} {
			if got := AirLayerResistanceOf(test.thickness, direction, 0.9, 0.9, 10, 0); math.Abs(got-want) > 1e-7 {
				t.Errorf("%g m, direction %d: %.9f, want %.9f", test.thickness, direction, got, want)
			}
		}
	}
	// By hand: foil of 0.05 against 0.9 at 10 °C, level, 25 mm: E = 1/(20 + 1/0.9 − 1)
	// = 0.049724; hr = 0.049724·5.148643 = 0.25601; R = 1/(1.25 + 0.25601) = 0.66401.
	if got := AirLayerResistanceOf(0.025, Horizontal, 0.05, 0.9, 10, 5); math.Abs(got-0.66401) > 2e-5 {
		t.Errorf("foil: %g", got)
	}
	// By hand: mirror, 50 mm, downward, 20 K: 1/(0.09·1.75103·3.73640) = 1.6983.
	if got := AirLayerResistanceOf(0.05, Down, 0, 0.9, 10, 20); math.Abs(got-1.6983) > 1e-4 {
		t.Errorf("20 K: %g", got)
	}
	// Perfect mirrors leave conduction and convection.
	if got := AirLayerResistanceOf(0.01, Up, 0, 0.9, 10, 5); math.Abs(got-1/2.5) > 1e-12 {
		t.Errorf("mirror: %g", got)
	}
}

// What must hold of any air layer.
func TestAirLayerProperties(t *testing.T) {
	for _, d := range []float64{0.002, 0.006, 0.013, 0.04, 0.2} {
		up := AirLayerResistanceOf(d, Up, 0.9, 0.9, 10, 5)
		level := AirLayerResistanceOf(d, Horizontal, 0.9, 0.9, 10, 5)
		down := AirLayerResistanceOf(d, Down, 0.9, 0.9, 10, 5)
		if !(up <= level && level <= down) {
			t.Errorf("%g m: up %g, level %g, down %g", d, up, level, down)
		}
		for _, direction := range []Direction{Up, Horizontal, Down} {
			plain := AirLayerResistanceOf(d, direction, 0.9, 0.9, 10, 5)
			if foil := AirLayerResistanceOf(d, direction, 0.9, 0.05, 10, 5); foil <= plain {
				t.Errorf("%g m: foil %g, plain %g", d, foil, plain)
			}
			if swapped := AirLayerResistanceOf(d, direction, 0.05, 0.9, 10, -5); swapped != AirLayerResistanceOf(d, direction, 0.9, 0.05, 10, 5) {
				t.Errorf("%g m: faces are not alike", d)
			}
			if hot := AirLayerResistanceOf(d, direction, 0.9, 0.9, 10, 30); hot > plain+1e-12 {
				t.Errorf("%g m: 30 K %g, 5 K %g", d, hot, plain)
			}
			// The two sets of equations meet at 5 K within the digits of
			// their coefficients; the worst is 0.09·5^0.187 = 0.1216 for 0.12.
			above := AirLayerResistanceOf(d, direction, 0.9, 0.9, 10, 5.000001)
			if math.Abs(above/plain-1) > 0.005 {
				t.Errorf("%g m, direction %d: jump at 5 K from %g to %g", d, direction, plain, above)
			}
		}
	}
	for _, got := range []float64{
		AirLayerResistance(-0.01, Up), AirLayerResistance(math.NaN(), Up), AirLayerResistance(0.01, Direction(9)), AirLayerResistance(1, Direction(9)),
		AirLayerResistanceOf(-0.01, Up, 0.9, 0.9, 10, 5), AirLayerResistanceOf(0.01, Up, 1.1, 0.9, 10, 5),
		AirLayerResistanceOf(0.01, Up, 0.9, -0.1, 10, 5), AirLayerResistanceOf(0.01, Up, 0.9, 0.9, -300, 5),
		AirLayerResistanceOf(0.01, Direction(9), 0.9, 0.9, 10, 5), AirLayerResistanceOf(0, Direction(9), 0.9, 0.9, 10, 5),
		AirLayerResistanceOf(0.01, Up, 0.9, 0.9, 10, math.NaN()),
	} {
		if !math.IsNaN(got) {
			t.Errorf("impossible layer has resistance %g", got)
		}
	}
}
