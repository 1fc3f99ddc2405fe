package wall

import (
	"math"
	"math/rand/v2"
	"testing"

	"hackle/air"
)

func TestSaturation13788(t *testing.T) {
	for temp := -30.0; temp <= 50; temp++ {
		p := Saturation13788(temp)
		limit := 3e-3
		if temp < -12 {
			limit = 0.011
		}
		if exact := air.SaturationPressure(temp); math.Abs(p-exact) > limit*exact {
			t.Errorf("%v °C: %v Pa, exact %v", temp, p, exact)
		}
		if got := DewPoint13788(p); math.Abs(got-temp) > 1e-9 {
			t.Errorf("dew point %v, want %v", got, temp)
		}
	}
}

func TestInterstitialCondensationErrors(t *testing.T) {
	good := []VapourLayer{{1, 1}, {0.1, 100}}
	for name, tt := range map[string]struct {
		layers   []VapourLayer
		rsi, rse float64
	}{
		"no layer":       {nil, 0.1, 0.04},
		"no sd":          {[]VapourLayer{{1, 0}}, 0.1, 0.04},
		"negative":       {[]VapourLayer{{-1, 1}}, 0.1, 0.04},
		"negative film":  {good, -0.1, 0.04},
		"not a number":   {good, math.NaN(), 0.04},
		"nothing at all": {[]VapourLayer{{0, 1}}, 0, 0},
	} {
		if _, err := InterstitialCondensation(tt.layers, tt.rsi, tt.rse, make([]VapourPeriod, 1)); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

// Random walls in random climates: pressures stay below saturation, no plane
// holds less than nothing, and what enters less what leaves is what is stored.
func TestInterstitialCondensationHolds(t *testing.T) {
	rng := rand.New(rand.NewPCG(13, 788))
	wet := 0
	for trial := range 2000 {
		layers := make([]VapourLayer, 1+rng.IntN(6))
		for i := range layers {
			layers[i] = VapourLayer{Resistance: 2 * rng.Float64(), Sd: math.Exp(8*rng.Float64() - 3)}
		}
		periods := make([]VapourPeriod, 12)
		for i := range periods {
			tIn, tOut := 15+10*rng.Float64(), -15+40*rng.Float64()
			periods[i] = VapourPeriod{Duration: 30 * 86400, TIn: tIn, PvIn: rng.Float64() * Saturation13788(tIn),
				TOut: tOut, PvOut: rng.Float64() * Saturation13788(tOut)}
		}
		got, err := InterstitialCondensation(layers, 0.13, 0.04, periods)
		if err != nil {
			t.Fatalf("trial %d: %v", trial, err)
		}
		n := len(layers)
		before := 0.0
		for k, m := range got {
			after := 0.0
			for i, stored := range m.Stored {
				after += stored
				if stored < 0 {
					t.Fatalf("trial %d: %v kg/m² stored", trial, stored)
				}
				if stored > 0 {
					wet++
				}
				if i > 0 && i < n && m.Pressure[i] > Saturation13788(m.Temp[i])*(1+1e-9) {
					t.Fatalf("trial %d: above saturation", trial)
				}
			}
			in := AirPermeability / layers[0].Sd * (m.Pressure[0] - m.Pressure[1])
			out := AirPermeability / layers[n-1].Sd * (m.Pressure[n-1] - m.Pressure[n])
			d := periods[k].Duration*(in-out) - (after - before)
			if scale := periods[k].Duration*(math.Abs(in)+math.Abs(out)) + after; math.Abs(d) > 1e-9*scale {
				t.Fatalf("trial %d: %v kg/m² lost of %v", trial, d, scale)
			}
			before = after
		}
	}
	if wet < 1000 {
		t.Errorf("only %d planes were wet", wet)
	}
}

// The transient chain in a steady winter gathers what the steady method gives.
func TestMoistChainAgreesWithMonthlyMethod(t *testing.T) {
	wool := Layer{Thickness: 0.1, Conductivity: 0.04, Density: 40, SpecificHeat: 1030}
	board := Layer{Thickness: 0.01, Conductivity: 0.13, Density: 600, SpecificHeat: 1600}
	layers := []Layer{wool, board}
	moist := []Moist{{MuDry: 1.5}, {MuDry: 800}}
	const tIn, tOut = 20.0, -5.0
	pIn, pOut := 0.5*air.SaturationPressure(tIn), 0.8*air.SaturationPressure(tOut)
	const days = 60
	want, err := InterstitialCondensation([]VapourLayer{{wool.resistance(), 0.15}, {board.resistance(), 8}}, 0, 0,
		[]VapourPeriod{{Duration: days * 86400, TIn: tIn, PvIn: pIn, TOut: tOut, PvOut: pOut}})
	if err != nil {
		t.Fatal(err)
	}
	grid := Grid{MinCells: 40}
	heat := mustChain(t, layers, grid)
	m := mustMoist(t, layers, moist, grid)
	temp, content := make([]float64, m.Cells()), make([]float64, m.Cells())
	heat.FillSteady(temp, tIn, tOut)
	m.FillHumidity(content, 0.4, temp)
	var work MoistWork
	for range days * 24 {
		m.Condense(3600, content, temp, math.Inf(1), pOut, &work)
		m.Advance(content, pIn, &work)
	}
	// Half a cell of 2.5 mm moves the plane by 1 % of the way.
	if got := m.Water(content); math.Abs(got-want[0].Stored[1]) > 0.025*got {
		t.Errorf("%v kg/m² gathered, monthly method %v", got, want[0].Stored[1])
	}
}
