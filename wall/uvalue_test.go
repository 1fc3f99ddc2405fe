package wall

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

func TestCombinedTransmittanceErrors(t *testing.T) {
	whole := []Part{{Fraction: 1, Thickness: 0.1, Conductivity: 0.1}}
	for _, tt := range []struct {
		name     string
		layers   [][]Part
		rsi, rse float64
		want     string
	}{
		{"no layer", nil, 0.13, 0.04, "no layer"},
		{"gap in the area", [][]Part{whole, {{Fraction: 0.9, Resistance: 1}}}, 0.13, 0.04, "layer 2"},
		{"no resistance", [][]Part{{{Fraction: 1}}}, 0.13, 0.04, "layer 1"},
		{"no conductivity", [][]Part{{{Fraction: 1, Thickness: 1}}}, 0.13, 0.04, "layer 1"},
		{"negative surface", [][]Part{whole}, -0.1, 0.04, "surface"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			if _, err := CombinedTransmittance(tt.layers, tt.rsi, tt.rse); err == nil || !strings.Contains(err.Error(), tt.want) {
				t.Errorf("error %v, want one with %q", err, tt.want)
			}
		})
	}
}

// The lower limit is never above the upper, they agree without bridges, and
// order of layers does not matter.
func TestCombinedTransmittanceLimits(t *testing.T) {
	rng := rand.New(rand.NewPCG(6, 6))
	for range 200 {
		var layers, back [][]Part
		bridged := false
		for range 1 + rng.IntN(4) {
			f := rng.Float64()
			parts := []Part{{Fraction: f, Thickness: 0.05, Conductivity: 0.03 + rng.Float64()}, {Fraction: 1 - f, Resistance: 0.1 + rng.Float64()}}
			if rng.IntN(2) == 0 {
				parts = []Part{{Fraction: 1, Resistance: rng.Float64() + 0.1}}
			} else {
				bridged = true
			}
			layers = append(layers, parts)
			back = append([][]Part{parts}, back...)
		}
		got, err := CombinedTransmittance(layers, 0.13, 0.04)
		if err != nil {
			t.Fatal(err)
		}
		turned, err := CombinedTransmittance(back, 0.13, 0.04)
		if err != nil {
			t.Fatal(err)
		}
		if got.Lower > got.Upper*(1+1e-12) || (!bridged && math.Abs(got.Upper-got.Lower) > 1e-12) {
			t.Fatalf("limits %v and %v", got.Lower, got.Upper)
		}
		if math.Abs(got.U-turned.U) > 1e-12 {
			t.Fatalf("U %v, turned %v", got.U, turned.U)
		}
	}
}

// The closed forms against the mean of 1/R over the plane: strips of equal
// resistance have a width that is constant over a rectangle and rises from the
// apex of a triangle.
func TestTaperedAgainstIntegration(t *testing.T) {
	for _, ratio := range []float64{1e-7, 9.9e-6, 1.01e-5, 9.9e-4, 1.01e-3, 0.1, 1, 4, 50} {
		const r0 = 0.6
		r1 := ratio * r0
		var rectangle, thick, thin float64
		const n = 20000
		for i := range n {
			x := (float64(i) + 0.5) / n // share of the full taper
			u := 1 / (r0 + r1*x) / n
			rectangle += u
			thick += 2 * (1 - x) * u
			thin += 2 * x * u
		}
		for _, q := range []struct {
			name      string
			got, want float64
		}{
			{"rectangle", TaperedRectangle(r0, r1), rectangle},
			{"thick apex", TaperedThickApex(r0, r1), thick},
			{"thin apex", TaperedThinApex(r0, r1), thin},
		} {
			// 1e-6: error of the midpoint rule at the largest ratio; 1e-9 of the series.
			if math.Abs(q.got-q.want) > 1e-6*q.want {
				t.Errorf("%s, R1/R0 = %g: %v, want %v", q.name, ratio, q.got, q.want)
			}
		}
	}
}

func TestAirLayerContinuous(t *testing.T) {
	// Where conduction gives way to convection the printed forms meet.
	for _, tt := range []struct {
		direction HeatDirection
		at        float64
	}{{Upward, 0.025 / 1.95}, {Horizontal, 0.025 / 1.25}} {
		a, b := AirLayerConductance(tt.at*0.999, tt.direction), AirLayerConductance(tt.at*1.001, tt.direction)
		if math.Abs(a-b) > 0.002*a {
			t.Errorf("direction %v: %v and %v W/(m²·K)", tt.direction, a, b)
		}
	}
	if AirLayerConductance(0.1, Downward) >= AirLayerConductance(0.1, Upward) {
		t.Error("heat flows down through air as easily as up")
	}
}

func TestDynamicErrors(t *testing.T) {
	for _, tt := range []struct {
		name   string
		layers []Layer
		period float64
		want   string
	}{
		{"no layer", nil, 3600, "no layer"},
		{"bad layer", []Layer{pine, {}}, 3600, "layer 2"},
		{"no period", []Layer{pine}, 0, "period"},
		{"period not a number", []Layer{pine}, math.NaN(), "period"},
	} {
		if _, err := Dynamic(tt.layers, 0.13, 0.04, tt.period); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: error %v, want one with %q", tt.name, err, tt.want)
		}
	}
}

func TestDynamicLimits(t *testing.T) {
	// A slow wave is steady heat, and stores what the wall holds.
	d, err := Dynamic([]Layer{pine, gap, foam}, 0.13, 0.04, 3e8)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(d.Decrement-1) > 1e-6 || math.Abs(d.Y11-d.U) > 1e-6 {
		t.Errorf("slow wave: decrement %v, Y11 %v, U %v", d.Decrement, d.Y11, d.U)
	}
	if heat := pine.capacity() + foam.capacity(); d.Kappa1+d.Kappa2 < 0.5*heat || d.Kappa1+d.Kappa2 > heat {
		t.Errorf("areal capacities %v and %v of %v J/(m²·K)", d.Kappa1, d.Kappa2, heat)
	}
	// A wall of massless layers does not delay.
	d, err = Dynamic([]Layer{gap}, 0.13, 0.04, 3600)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(d.LeadY12) > 1e-9 || math.Abs(d.Y12-1/0.32) > 1e-12 {
		t.Errorf("massless: lag %v s, Y12 %v", d.LeadY12, d.Y12)
	}
	// A fast wave in a thick solid sees the solid's effusivity alone:
	// Y = √(ω λ ρ c) with a lead of an eighth of the period.
	thick := Layer{Thickness: 1, Conductivity: 1, Density: 1000, SpecificHeat: 1000}
	d, err = Dynamic([]Layer{thick}, 0, 0, 3600)
	if err != nil {
		t.Fatal(err)
	}
	if want := math.Sqrt(2 * math.Pi / 3600 * 1e6); math.Abs(d.Y11-want) > 1e-9*want || math.Abs(d.LeadY11-450) > 1e-6 {
		t.Errorf("thick: Y11 %v, want %v; lead %v s, want 450", d.Y11, want, d.LeadY11)
	}
}
