package air

import (
	"math"
	"math/rand/v2"
	"testing"
)

func TestMassRatioAgreesWithMolarMasses(t *testing.T) {
	if want := MolarMassWater / MolarMassDry; !near(MassRatio, want, 1e-6) { // six digits printed
		t.Errorf("MassRatio = %g, molar masses give %g", MassRatio, want)
	}
	if want := GasConstant / MolarMassDry; !near(GasConstantDry, want, 1e-2) {
		t.Errorf("GasConstantDry = %g, molar masses give %g", GasConstantDry, want)
	}
	if want := GasConstant / MolarMassWater; !near(GasConstantVapour, want, 1e-2) {
		t.Errorf("GasConstantVapour = %g, molar masses give %g", GasConstantVapour, want)
	}
}

func TestRoundTrips(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 6))
	for range 20000 {
		temp := -50 + 110*random.Float64()
		p := 60000 + 45000*random.Float64()
		rh := 0.02 + 0.97*random.Float64()
		pv := rh * SaturationPressure(temp)
		w := HumidityRatio(pv, p)
		if got := VapourPressure(w, p); !near(got, pv, 1e-12*pv) {
			t.Fatalf("vapour pressure %g came back as %g", pv, got)
		}
		if got := RelHumidity(temp, pv); !near(got, rh, 1e-12) {
			t.Fatalf("relative humidity %g came back as %g", rh, got)
		}
		if got := TemperatureFromEnthalpy(Enthalpy(temp, w), w); !near(got, temp, 1e-9) {
			t.Fatalf("temperature %g came back as %g", temp, got)
		}
		tw := WetBulb(temp, w, p)
		if got := RatioFromWetBulb(temp, tw, p); !near(got, w, 1e-12) {
			t.Fatalf("t %g w %g p %g: wet bulb %g gives back w %g", temp, w, p, tw, got)
		}
		if dew := DewPoint(pv); !(dew <= tw+1e-9 && tw <= temp+1e-9) {
			t.Fatalf("t %g w %g p %g: dew point %g, wet bulb %g out of order", temp, w, p, dew, tw)
		}
		if got := DryDensity(temp, p, w) * SpecificVolume(temp, w, p); !near(got, 1, 1e-14) {
			t.Fatalf("dry density times specific volume is %g", got)
		}
		if got := CarbonDioxideFraction(CarbonDioxideDensity(rh, temp, p), temp, p); !near(got, rh, 1e-14) {
			t.Fatalf("carbon dioxide fraction %g came back as %g", rh, got)
		}
	}
}

func TestDensityFallsWithHeatAndHumidity(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 8))
	for range 5000 {
		temp := -40 + 100*random.Float64()
		p := 60000 + 45000*random.Float64()
		w := 0.05 * random.Float64()
		density := Density(temp, p, w)
		if damper := Density(temp, p, w+1e-4); !(damper < density) {
			t.Fatalf("t %g p %g w %g: more vapour changes density from %g to %g", temp, p, w, density, damper)
		}
		if warmer := Density(temp+0.01, p, w); !(warmer < density) {
			t.Fatalf("t %g p %g w %g: more heat changes density from %g to %g", temp, p, w, density, warmer)
		}
		if stale := DensityRespired(temp, p, w, 0.01); !(stale > density) {
			t.Fatalf("t %g p %g w %g: carbon dioxide changes density from %g to %g", temp, p, w, density, stale)
		}
	}
	// Partial densities of two ideal gases, from the molar masses alone.
	pv := 3000.0
	tK := 30 + ZeroCelsius
	want := ((StandardPressure-pv)*MolarMassDry + pv*MolarMassWater) / (GasConstant * tK)
	if got := Density(30, StandardPressure, HumidityRatio(pv, StandardPressure)); !near(got, want, 2e-5*want) {
		t.Errorf("density of moist air %g, partial densities give %g", got, want)
	}
	// One percent of oxygen turned into carbon dioxide, dry.
	want = StandardPressure / (GasConstant * tK) * (MolarMassDry + 0.01*(MolarMassCarbonDioxide-MolarMassOxygen))
	if got := DensityRespired(30, StandardPressure, 0, 0.01); !near(got, want, 2e-5*want) {
		t.Errorf("density of respired air %g, molar masses give %g", got, want)
	}
}

func TestWetBulbRises(t *testing.T) {
	for temp := -40.0; temp <= 60; temp += 2.5 {
		full := SaturationRatio(temp, StandardPressure)
		previous := math.Inf(-1)
		for i := 0; i <= 1000; i++ {
			tw := WetBulb(temp, full*float64(i)/1000, StandardPressure)
			if !(tw > previous) {
				t.Fatalf("at %g °C wet bulb %g °C at ratio %d/1000 is not above %g °C", temp, tw, i, previous)
			}
			previous = tw
		}
		if !near(previous, temp, 1e-9) {
			t.Errorf("wet bulb of saturated air at %g °C is %g °C", temp, previous)
		}
		if got := WetBulb(temp, full+0.01, StandardPressure); got != temp {
			t.Errorf("wet bulb of a fog at %g °C is %g °C", temp, got)
		}
	}
}

func TestWetBulbEdges(t *testing.T) {
	// Hot dry air, above the boiling point: below 100 °C and consistent.
	tw := WetBulb(150, 0.02, StandardPressure)
	if got := RatioFromWetBulb(150, tw, StandardPressure); !near(got, 0.02, 1e-10) || tw > 100 {
		t.Errorf("wet bulb of 150 °C and 20 g/kg is %g °C, which gives %g", tw, got)
	}
	if got := WetBulb(math.NaN(), 0.01, StandardPressure); !math.IsNaN(got) {
		t.Errorf("wet bulb of NaN is %g", got)
	}
	// The iced bulb holds below 0 °C only, and the wet one from 0 °C on.
	atZero := RatioFromWetBulb(5, 0, StandardPressure)
	if got := WetBulb(5, atZero+1e-9, StandardPressure); !near(got, 0, 1e-4) || got < 0 {
		t.Errorf("just above the ratio of a wet bulb at 0 °C the wet bulb is %g °C", got)
	}
	if got := WetBulb(5, atZero-1e-9, StandardPressure); !(got < 0 && got > -1) {
		t.Errorf("just below the ratio of a wet bulb at 0 °C the wet bulb is %g °C", got)
	}
}

func TestSaturatedAirBoils(t *testing.T) {
	if got := HumidityRatio(StandardPressure, StandardPressure); !math.IsInf(got, 1) {
		t.Errorf("humidity ratio of pure vapour is %g", got)
	}
	if got := SaturationRatio(120, StandardPressure); !math.IsInf(got, 1) {
		t.Errorf("saturation ratio at 120 °C is %g", got)
	}
}

func TestPressureAtHeight(t *testing.T) {
	// ASHRAE Handbook Fundamentals (2017), chapter 1, table 1, in kPa.
	for _, row := range []struct{ height, want float64 }{
		{-500, 107.478}, {0, 101.325}, {500, 95.461}, {1000, 89.875}, {2000, 79.495}, {4000, 61.640}, {10000, 26.436},
	} {
		if got := PressureAtHeight(row.height) / 1000; !near(got, row.want, 2e-3) { // rounding of the table and its 5.2559
			t.Errorf("PressureAtHeight(%g) = %g kPa, want %g", row.height, got, row.want)
		}
	}
	if got := PressureAtHeight(50000); got != 0 {
		t.Errorf("PressureAtHeight(50 km) = %g", got)
	}
}

func TestMixConserves(t *testing.T) {
	random := rand.New(rand.NewPCG(9, 10))
	for range 2000 {
		var parts [4]Stream
		var mass, vapour, enthalpy float64
		for i := range parts {
			parts[i] = Stream{DryMassFlow: random.Float64(), Temp: -20 + 60*random.Float64(), HumidityRatio: 0.03 * random.Float64()}
			mass += parts[i].DryMassFlow
			vapour += parts[i].DryMassFlow * parts[i].HumidityRatio
			enthalpy += parts[i].DryMassFlow * Enthalpy(parts[i].Temp, parts[i].HumidityRatio)
		}
		got := Mix(parts[:]...)
		if !near(got.DryMassFlow, mass, 1e-12) || !near(got.DryMassFlow*got.HumidityRatio, vapour, 1e-12) ||
			!near(got.DryMassFlow*Enthalpy(got.Temp, got.HumidityRatio), enthalpy, 1e-8) {
			t.Fatalf("mixing %v to %v loses something", parts, got)
		}
	}
	if got := Mix(); !math.IsNaN(got.Temp) {
		t.Errorf("mixing nothing gives %v", got)
	}
}
