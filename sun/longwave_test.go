package sun

import (
	"math"
	"math/rand/v2"
	"testing"
)

func TestSkyTemperature(t *testing.T) {
	for temp := -60.0; temp <= 50; temp += 5 {
		if got := SkyTemperature(BlackBody(temp)); !near(got, temp, 1e-9) {
			t.Errorf("a black sky at %g °C reads as %g °C", temp, got)
		}
	}
	if got := SkyTemperature(-5); got != -ZeroCelsius {
		t.Errorf("a sky that takes gives %g °C", got)
	}
}

// TestSkyModelsAgree holds the clear-sky emissivities to each other: fits to
// different measurements, they agree within 0.06 in the range of weather, but
// for one that is known to stand above the rest in cold air.
func TestSkyModelsAgree(t *testing.T) {
	const water = 611.2 // Magnus form for the vapour pressure at the dew point [Pa]
	for dewPoint := -15.0; dewPoint <= 22; dewPoint++ {
		for _, depression := range []float64{2, 10} {
			tempAir := dewPoint + depression
			pv := water * math.Exp(17.62*dewPoint/(243.12+dewPoint))
			reference := BerdahlMartinSky(dewPoint)
			for _, row := range []struct {
				name           string
				got, tolerance float64
			}{
				{"Brutsaert", BrutsaertSky(pv, tempAir), 0.06},
				{"Berdahl-Fromberg", BerdahlFrombergNightSky(dewPoint), 0.06},
				{"Swinbank", BlackBody(SwinbankSkyTemp(tempAir)) / BlackBody(tempAir), 0.15}, // knows no humidity
				{"Clark-Allen", ClarkAllenSky(dewPoint), 0.11},
			} {
				if !near(row.got, reference, row.tolerance) {
					t.Errorf("%s emissivity at dew point %g °C, air %g °C is %g, Berdahl-Martin has %g", row.name, dewPoint, tempAir, row.got, reference)
				}
			}
		}
	}
}

func TestCloudsWarmTheSky(t *testing.T) {
	previous := 0.0
	for i := range 11 {
		got := SkyLongWave(10, 5, float64(i)/10)
		if got <= previous || got > BlackBody(10) {
			t.Errorf("cover %d/10 sends %g W/m², a tenth less %g", i, got, previous)
		}
		previous = got
	}
	previous = 0
	for i := range 11 {
		got := BerdahlMartinLongWave(10, 5, 12, float64(i)/10, 1000)
		if got <= previous || got > BlackBody(10) {
			t.Errorf("opaque cover %d/10 sends %g W/m², a tenth less %g", i, got, previous)
		}
		previous = got
	}
	if got := MartinBerdahlSky(0.7, 1, 0); !near(got, 1, 1e-15) {
		t.Errorf("fog on the ground has emissivity %g", got)
	}
	if high, low := MartinBerdahlSky(0.7, 1, 8000), MartinBerdahlSky(0.7, 1, 500); high >= low || high <= 0.7 {
		t.Errorf("high cloud has emissivity %g, low cloud %g", high, low)
	}
	if WaltonClouds(-1) != WaltonClouds(0) || WaltonClouds(2) != WaltonClouds(1) {
		t.Error("cover outside 0 to 1 is not held to its ends")
	}
}

func TestLongWaveGain(t *testing.T) {
	// All at one temperature: nothing flows, whatever the tilt.
	for tilt := 0.0; tilt <= 180; tilt += 15 {
		if got := (Plane{Tilt: tilt}).LongWaveGain(0.9, BlackBody(12), 12, 12); !near(got, 0, 1e-10) {
			t.Errorf("in balance at tilt %g the gain is %g W/m²", tilt, got)
		}
	}
	// Face down the sky does not count, face up the ground does not.
	if got, want := (Plane{Tilt: 180}).LongWaveGain(0.9, 100, 5, 20), RadiantExchange(0.9, 5, 20); !near(got, want, 1e-10) {
		t.Errorf("face down gains %g W/m², want %g", got, want)
	}
	if got, want := (Plane{}).LongWaveGain(0.9, BlackBody(-30), 5, 20), RadiantExchange(0.9, -30, 20); !near(got, want, 1e-10) {
		t.Errorf("face up gains %g W/m², want %g", got, want)
	}
}

func TestFace(t *testing.T) {
	random := rand.New(rand.NewPCG(33, 34))
	for range 5000 {
		f := Face{
			Plane:   Plane{Tilt: 180 * random.Float64()},
			TempAir: -30 + 70*random.Float64(), SkyLongWave: 100 + 300*random.Float64(), TempGround: -30 + 90*random.Float64(),
			Irradiance: 1200 * random.Float64(), Absorptance: random.Float64(), Emissivity: random.Float64(),
			Film: 30 * random.Float64(), Conductance: 5 * random.Float64(), TempInside: 35,
		}
		got := f.Temp()
		if q := f.Balance(got); !near(q, 0, 1e-6) {
			t.Fatalf("%+v at %g °C gains %g W/m²", f, got, q)
		}
		// The sol-air temperature says the same with a linear film.
		f.Emissivity, f.Conductance, f.Film = 0, 0, f.Film+1
		if got, want := f.Temp(), SolAir(f.TempAir, f.Absorptance, f.Irradiance, 0, f.Film); !near(got, want, 1e-9*(1+math.Abs(want))) {
			t.Fatalf("%+v is at %g °C, sol-air %g °C", f, got, want)
		}
	}
	if got := (Face{Irradiance: 500, Absorptance: 1}).Temp(); !math.IsNaN(got) {
		t.Errorf("a face that loses to nothing is at %g °C", got)
	}
}
