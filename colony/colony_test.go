package colony

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"hackle/hive"
)

func TestParametersLieInTheirRanges(t *testing.T) {
	seen := map[string]bool{}
	for _, p := range Parameters() {
		if seen[p.Name] {
			t.Errorf("%s appears twice", p.Name)
		}
		seen[p.Name] = true
		if !(p.Low <= p.Default && p.Default <= p.High) {
			t.Errorf("%s: default %g outside %g to %g", p.Name, p.Default, p.Low, p.High)
		}
		if p.Unit == "" || p.Source == "" || p.Meaning == "" {
			t.Errorf("%s lacks unit, source or meaning", p.Name)
		}
	}
	b := DefaultBiology()
	for _, p := range Parameters() {
		if got := *p.Value(&b); got != p.Default {
			t.Errorf("%s: default biology has %g, table %g", p.Name, got, p.Default)
		}
	}
}

// TestStoichiometry recomputes water, CO2 and heat of honey from its sugars:
// 81 % hexose equivalents of 180.16 g/mol and 17.5 % water.
func TestStoichiometry(t *testing.T) {
	const hexose, water, co2 = 180.16, 18.015, 44.010 // g/mol
	made := 0.81 * 6 * water / hexose
	if got := 0.175 + made; math.Abs(got-WaterPerHoney) > 0.005 {
		t.Errorf("water per honey %.3f, constant %.3f", got, WaterPerHoney)
	}
	if got := 0.81 * 6 * co2 / hexose; math.Abs(got-CO2PerHoney) > 0.005 {
		t.Errorf("CO2 per honey %.3f, constant %.3f", got, CO2PerHoney)
	}
	// Heat of combustion of hexose 2805 kJ/mol (handbook, from memory).
	if got := 0.81 * 2805e3 / hexose * 1e3; math.Abs(got/DefaultBiology().HoneyEnergy-1) > 0.02 {
		t.Errorf("energy %.3g J/kg, default %.3g", got, DefaultBiology().HoneyEnergy)
	}
}

// TestHeatOfMeasuredClusters holds the heat at 2 °C to the published allometry
// VO2 = 22.69 m^-0.479 mL/(g·h) (m in g), 5.79 W/kg per mL/(g·h). Source:
// Allometric relations, metabolism and heat conductance in clusters of honey
// bees at cool temperatures, J Comp Physiol B 156 (1985), 143-149.
func TestHeatOfMeasuredClusters(t *testing.T) {
	b := DefaultBiology()
	for _, mass := range []float64{0.5, 1.0, 1.2} {
		want := 22.69 * math.Pow(mass*1000, -0.479) * 5.79 * mass
		if got := b.Heat(mass, 0, 2, 2).Power; math.Abs(got/want-1) > 0.2 {
			t.Errorf("%.1f kg: %.2f W, published %.2f W ± 20 %%", mass, got, want)
		}
	}
}

// TestHeatStaysPhysical goes through random colonies, surroundings and biology
// and asks for what must hold of any of them.
func TestHeatStaysPhysical(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 20000 {
		b := DefaultBiology()
		for _, p := range Parameters() {
			*p.Value(&b) = p.Low + r.Float64()*(p.High-p.Low)
		}
		mass, brood := 0.1+5*r.Float64(), 30000*r.Float64()*r.Float64()
		air := -45 + 90*r.Float64()
		d := b.Heat(mass, brood, air, air-5*r.Float64())
		for name, v := range map[string]float64{"power": d.Power, "slope": d.Slope, "core": d.Core, "mantle": d.Mantle, "radius": d.Radius, "spread": d.Spread} {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				t.Fatalf("%s is %g for %g kg, %g cells, %g °C", name, v, mass, brood, air)
			}
		}
		if d.Power < 0 || d.Power > b.SustainedPower*mass*(1+1e-9) {
			t.Fatalf("power %g W of %g kg lies outside 0 to the sustained limit", d.Power, mass)
		}
		if d.Slope > 0 {
			t.Fatalf("slope %g W/K is positive", d.Slope)
		}
		if d.Core < d.Mantle-1e-9 || d.Mantle < math.Min(air, b.MantleFloor)-1e-9 {
			t.Fatalf("core %.1f, mantle %.1f in air of %.1f °C", d.Core, d.Mantle, air)
		}
		if d.Spread < 0 || d.Spread > 1 {
			t.Fatalf("spread share %g", d.Spread)
		}
	}
}

// TestColdCostsMore: in the cold, colder is dearer, and the larger colony uses
// less for each kilogram of its bees.
func TestColdCostsMore(t *testing.T) {
	b := DefaultBiology()
	for air := -40.0; air < -6; air++ {
		if a, c := b.Heat(1.8, 0, air, air).Power, b.Heat(1.8, 0, air+1, air+1).Power; a <= c {
			t.Errorf("%.0f °C costs %.2f W, %.0f °C %.2f W", air, a, air+1, c)
		}
	}
	if small, large := b.Heat(1, 0, 0, 0).Power, b.Heat(3, 0, 0, 0).Power/3; large >= small {
		t.Errorf("per kilogram: 1 kg uses %.2f W, 3 kg %.2f W", small, large)
	}
}

// TestMildCostsMoreAgain: above its least use a broodless colony uses more as the
// air warms (field trend of PLoS ONE 16 (2021), e0258398).
func TestMildCostsMoreAgain(t *testing.T) {
	b := DefaultBiology()
	if mild, cool := b.Heat(1.8, 0, 20, 20).Power, b.Heat(1.8, 0, 2, 2).Power; mild <= cool {
		t.Errorf("20 °C: %.2f W, 2 °C: %.2f W", mild, cool)
	}
}

func TestBroodCostsHeat(t *testing.T) {
	b := DefaultBiology()
	for air := -30.0; air <= 12; air++ {
		with, without := b.Heat(1.8, 5000, air, air).Power, b.Heat(1.8, 0, air, air).Power
		if with < without-1e-9 || air >= 0 && with <= without {
			t.Errorf("at %.0f °C: %.2f W with brood, %.2f W without", air, with, without)
		}
	}
}

func TestCourse(t *testing.T) {
	at := func(month time.Month, day int) time.Time { return time.Date(2026, month, day, 0, 0, 0, 0, time.UTC) }
	for _, c := range []struct {
		name     string
		colony   hive.Colony
		latitude float64
		coldest  float64
		day      time.Time
		low      float64
		high     float64
	}{
		{"cold place in January", hive.Colony{}, 45, -8, at(1, 25), 0, 0},
		{"mild place in late January", hive.Colony{}, 50, 5, at(1, 25), 100, 2000},
		{"first of June", hive.Colony{}, 45, -8, at(6, 10), 17000, 18000},
		{"late October", hive.Colony{}, 45, -8, at(11, 20), 0, 0},
		{"southern June is winter", hive.Colony{}, -38, 5, at(6, 20), 0, 0},
		{"southern December is summer", hive.Colony{}, -38, 5, at(12, 5), 15000, 18000},
		{"keeper's own start", hive.Colony{BroodStart: hive.Day{Month: 3, Day: 1}}, 45, 5, at(3, 5), 0, 0},
		{"keeper's own peak", hive.Colony{BroodPeak: 9000}, 45, 5, at(6, 10), 8500, 9000},
	} {
		got := CourseFor(c.colony, c.day, c.latitude, c.coldest).Sealed(c.day)
		if got < c.low || got > c.high {
			t.Errorf("%s: %.0f sealed cells, want %.0f to %.0f", c.name, got, c.low, c.high)
		}
	}
}

// TestWinterLosses: without brood the default colony loses about a third in 150
// days; with brood it grows.
func TestWinterLosses(t *testing.T) {
	b := DefaultBiology()
	s := Strength{Adults: 1.8}
	for range 150 {
		if cost := s.Day(&b, 0, 0); cost != 0 {
			t.Fatal("rearing cost without brood")
		}
	}
	if lost := 1 - s.Adults/1.8; lost < 0.28 || lost > 0.36 {
		t.Errorf("lost %.0f %% in 150 days", 100*lost)
	}
	grown := Strength{Adults: 1.2}
	cost := 0.0
	for range 60 {
		cost += grown.Day(&b, 12000, 0.3)
	}
	if grown.Adults <= 1.2 || cost <= 0 {
		t.Errorf("60 days of brood: %.2f kg of bees, %.2f kg of honey", grown.Adults, cost)
	}
	if grown.Sealed > b.BroodPerBee*grown.Adults/b.BeeMass*(1+1e-9) {
		t.Errorf("%.0f cells are more than the bees can cover", grown.Sealed)
	}
}

func BenchmarkHeat(b *testing.B) {
	bio := DefaultBiology()
	for i := 0; b.Loop(); i++ {
		bio.Heat(1.8, 2000, float64(i%40)-20, 5)
	}
}
