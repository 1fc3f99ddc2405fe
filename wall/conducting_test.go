package wall

import (
	"math"
	"testing"
)

// TestConducting: a chain whose cells conduct f times as well lets f times the heat
// through where nothing else resists, and a massless layer keeps its own share.
func TestConducting(t *testing.T) {
	pine := Layer{Thickness: 0.022, Conductivity: 0.13, Density: 500, SpecificHeat: 1600}
	space := Layer{Resistance: 0.17}
	alone := mustChain(t, []Layer{pine}, Grid{MinCells: 4})
	if same := alone.Conducting([]float64{1, 1, 1, 1}); math.Abs(same.Resistance()/alone.Resistance()-1) > 1e-12 {
		t.Errorf("factors of 1 change %g to %g m²·K/W", alone.Resistance(), same.Resistance())
	}
	if wet := alone.Conducting([]float64{2, 2, 2, 2}); math.Abs(wet.Resistance()/alone.Resistance()-0.5) > 1e-12 {
		t.Errorf("twice the conductivity: %g of the resistance", wet.Resistance()/alone.Resistance())
	}
	both := mustChain(t, []Layer{pine, space, pine}, Grid{MinCells: 4})
	wet := both.Conducting([]float64{2, 2, 2, 2, 1, 1, 1, 1})
	if want := both.Resistance() - 0.5*0.022/0.13; math.Abs(wet.Resistance()-want) > 1e-12 {
		t.Errorf("inner board soaked: %g m²·K/W, want %g", wet.Resistance(), want)
	}
	// The steady flux through the cells is that of the resistance.
	var work Work
	g, _ := wet.Condense(math.Inf(1), make([]float64, wet.Cells()), math.Inf(1), 0, &work)
	if math.Abs(g*wet.Resistance()-1) > 1e-9 {
		t.Errorf("%g W/(m²·K) through %g m²·K/W", g, wet.Resistance())
	}
}

// TestMoistWoodConducts holds the exponent for wood, 1.4 by mass, against the
// equation of the Wood Handbook (FPL-GTR-190) chapter 4 (from memory), from air dry
// to near fibre saturation, and mineral wool against exp(4 psi), EN ISO 10456:2007
// table 4 (from memory).
func TestMoistWoodConducts(t *testing.T) {
	const density = 450.0
	pine := []Layer{{Thickness: 0.022, Conductivity: 0.12, Density: density, SpecificHeat: 1600}}
	moist := []Moist{{MuDry: 50, MuWet: 20, Sorption: WoodIsotherm(density, 1), Conducts: 1.4 * 1000 / density}}
	m := mustMoist(t, pine, moist, Grid{})
	dry := moist[0].Sorption.Content(0.5, 10) / density // by mass
	content, factor := make([]float64, m.Cells()), make([]float64, m.Cells())
	for _, mass := range []float64{0.06, 0.09, 0.12, 0.16, 0.20, 0.24} {
		for i := range content {
			content[i] = mass * density
		}
		m.Conductivity(content, factor)
		want := WoodConductivity(density/1000, mass) / WoodConductivity(density/1000, dry)
		if math.Abs(factor[0]/want-1) > 0.03 {
			t.Errorf("%.0f %% moisture: factor %.3f, Wood Handbook %.3f", 100*mass, factor[0], want)
		}
	}
	wool := []Layer{{Thickness: 0.076, Conductivity: 0.036, Density: 40, SpecificHeat: 1030}}
	w := mustMoist(t, wool, []Moist{{MuDry: 1, Conducts: 4}}, Grid{})
	content, factor = make([]float64, w.Cells()), make([]float64, w.Cells())
	content[0] = 50 // a twentieth by volume
	if !w.Conductivity(content, factor) || math.Abs(factor[0]-math.Exp(4*0.05)) > 1e-9 || factor[1] != 1 {
		t.Errorf("mineral wool with 5 %% of water: factors %v", factor)
	}
	content[0] = 900
	if w.Conductivity(content, factor); factor[0] > soaked {
		t.Errorf("soaked wool conducts %g times as well", factor[0])
	}
}
