package air

import (
	"math"
	"math/rand/v2"
	"testing"
)

func TestTransportProperties(t *testing.T) {
	// Air at 300 K and 100 kPa from handbook tables, from memory; 1 % for the
	// fits against a real gas.
	const temp, p = 300 - ZeroCelsius, 1e5
	for _, row := range []struct {
		name      string
		got, want float64
	}{
		{"viscosity", Viscosity(temp), 184.6e-7},
		{"conductivity", Conductivity(temp), 0.0263},
		{"kinematic viscosity", KinematicViscosity(temp, p), 15.89e-6},
		{"thermal diffusivity", ThermalDiffusivity(temp, p), 22.5e-6},
		{"Prandtl number", Prandtl(temp), 0.707},
		{"vapour diffusivity at 25 °C", VapourDiffusivity(25, StandardPressure), 2.5e-5},
	} {
		if !near(row.got, row.want, 0.01*row.want) {
			t.Errorf("%s = %g, want %g", row.name, row.got, row.want)
		}
	}
	if got, want := VapourDiffusivity(10, 50000), 2*VapourDiffusivity(10, 100000); !near(got, want, 1e-12*want) {
		t.Errorf("half the pressure gives diffusivity %g, want twice that at full, %g", got, want)
	}
}

func TestLatentHeats(t *testing.T) {
	// Steam tables (IAPWS), from memory [kJ/kg].
	for _, row := range []struct{ temp, want float64 }{
		{0.01, 2500.9}, {10, 2477.2}, {20, 2453.5}, {30, 2429.8}, {50, 2382.0},
	} {
		if got := LatentEvaporation(row.temp) / 1000; !near(got, row.want, 2) {
			t.Errorf("LatentEvaporation(%g) = %g kJ/kg, want %g", row.temp, got, row.want)
		}
	}
	for temp := -30.0; temp <= 50; temp += 5 {
		if got := EnthalpyLiquid(temp) + LatentEvaporation(temp) - EnthalpyVapour(temp); !near(got, 0, 1e-6) {
			t.Errorf("evaporation at %g °C leaves %g J/kg over", temp, got)
		}
		if got := EnthalpyIce(temp) + LatentSublimation(temp) - EnthalpyVapour(temp); !near(got, 0, 1e-6) {
			t.Errorf("sublimation at %g °C leaves %g J/kg over", temp, got)
		}
		if got, want := EnthalpyLiquid(temp), SpecificHeatWater*temp; !near(got, want, 0.01*math.Abs(want)+1e-6) {
			t.Errorf("EnthalpyLiquid(%g) = %g J/kg, water has %g", temp, got, want)
		}
		if got, want := EnthalpyIce(temp), -LatentFusion+SpecificHeatIce*temp; !near(got, want, 1e-6) {
			t.Errorf("EnthalpyIce(%g) = %g J/kg, want %g", temp, got, want)
		}
	}
}

func TestLewisVapourCoefficient(t *testing.T) {
	for temp := -60.0; temp <= 80; temp += 0.5 {
		for _, p := range []float64{70000, StandardPressure} {
			want := RatioTransferCoefficient(4, LewisNumber(temp)) * MassRatio / p
			if got := LewisVapourCoefficient(4, temp, p); !near(got, want, 1e-4*want) {
				t.Errorf("LewisVapourCoefficient(4, %g, %g) = %g, the full expression gives %g", temp, p, got, want)
			}
		}
	}
	// Standards for buildings use 7e-9 times the film; diffusivities differ by 8 %.
	if got := LewisVapourCoefficient(1, 20, StandardPressure); !near(got, 7e-9, 0.08*7e-9) {
		t.Errorf("vapour coefficient of a film of 1 W/(m²·K) is %g, want about 7e-9", got)
	}
}

func TestWetSurface(t *testing.T) {
	random := rand.New(rand.NewPCG(11, 12))
	for range 2000 {
		temp := -30 + 70*random.Float64()
		s := WetSurface{
			TempAir:        temp,
			VapourPressure: random.Float64() * SaturationPressure(temp),
			Pressure:       70000 + 35000*random.Float64(),
			Film:           1 + 20*random.Float64(),
			Driving:        Driving(random.IntN(2)),
		}
		if random.IntN(2) == 1 {
			other := -20 + 60*random.Float64()
			s.Gain = func(t float64) float64 { return 5 * (other - t) }
		}
		got := s.Temp()
		if math.IsNaN(got) {
			t.Fatalf("%+v has no temperature", s)
		}
		if got == 0 { // ice that melts
			if !(s.balance(0, false) <= 0 && s.balance(0, true) >= 0) {
				t.Fatalf("%+v melts with %g W/m² as water and %g W/m² as ice", s, s.balance(0, false), s.balance(0, true))
			}
			continue
		}
		if q := s.Balance(got); !near(q, 0, 1e-5) { // 1e-9 K times 1e3 W/(m²·K) or less
			t.Fatalf("%+v at %g °C gains %g W/m²", s, got, q)
		}
		if s.Gain == nil && got > temp {
			t.Fatalf("%+v evaporates and is warmer than the air: %g °C", s, got)
		}
	}
	// Water cannot be in balance with air that brings more than boiling takes.
	oven := WetSurface{TempAir: 20, VapourPressure: 1000, Pressure: StandardPressure, Film: 5, Gain: func(float64) float64 { return 1e7 }}
	if got := oven.Temp(); !math.IsNaN(got) {
		t.Errorf("a surface that boils has temperature %g °C", got)
	}
}

func TestStefanFluxTendsToFick(t *testing.T) {
	fick := FickFlux(20, StandardPressure, 0.1, 20, 10)
	if got := StefanFlux(20, StandardPressure, 0.1, 20, 10); !near(got, fick, 2e-4*fick) { // half the mole fraction
		t.Errorf("at small vapour pressure the Stefan flux is %g, Fick's %g", got, fick)
	}
	if got := StefanFlux(60, StandardPressure, 0.1, 19946, 0); !(got > 1.05*FickFlux(60, StandardPressure, 0.1, 19946, 0)) {
		t.Errorf("at 60 °C the Stefan flux %g is not well above Fick's", got)
	}
	if got := StefanFlux(110, StandardPressure, 0.1, 143000, 0); !math.IsInf(got, 1) {
		t.Errorf("the flux of boiling water is %g", got)
	}
}

func TestVentilatedRatio(t *testing.T) {
	const start, inlet, source, flow, mass = 0.004, 0.005, 2e-6, 2e-4, 0.06
	// The derivative must satisfy the balance at every time.
	for _, time := range []float64{10, 100, 300, 1000} {
		const step = 0.01
		rate := (VentilatedRatio(start, inlet, source, flow, mass, time+step) - VentilatedRatio(start, inlet, source, flow, mass, time-step)) / (2 * step)
		w := VentilatedRatio(start, inlet, source, flow, mass, time)
		if got, want := mass*rate, source-flow*(w-inlet); !near(got, want, 1e-6*source) {
			t.Errorf("after %g s stored vapour grows by %g kg/s, balance says %g", time, got, want)
		}
	}
	if got := VentilatedRatio(start, inlet, source, flow, mass, 0); got != start {
		t.Errorf("at the start the ratio is %g, want %g", got, start)
	}
	slow, none := VentilatedRatio(start, inlet, source, 1e-12, mass, 600), VentilatedRatio(start, inlet, source, 0, mass, 600)
	if !near(slow, none, 1e-6) {
		t.Errorf("nearly no flow gives %g, no flow %g", slow, none)
	}
	if got := VentilatedSteadyRatio(inlet, 0, 0); got != inlet {
		t.Errorf("no source and no flow tends to %g", got)
	}
	if got := VentilatedSteadyRatio(inlet, source, 0); !math.IsInf(got, 1) {
		t.Errorf("a source and no flow tends to %g", got)
	}
}

func TestOpenWaterEvaporation(t *testing.T) {
	// 0.089 + 0.0782 · 0.1 = 0.09682 kW/(m²·kPa), over 1 kPa at 0 °C.
	if got, want := OpenWaterEvaporation(0, 2000, 1000, 0.1), 0.09682/2501; !near(got, want, 1e-12) {
		t.Errorf("OpenWaterEvaporation = %g, want %g", got, want)
	}
}
