package airflow

import (
	"math"
	"testing"
)

// laws is one of each kind, of sizes met in boxes.
func laws() map[string]Law {
	series, err := InSeries(Mesh(0.01, 0.6, 0.0005), Orifice(0.01, 0.6, 0.02, 0.01))
	if err != nil {
		panic(err)
	}
	return map[string]Law{
		"seam":          Seam(9, 0.43, 0.01, 0.24),
		"blocked seam":  SeamBlocked(4, 0.43, 0.01, 0.24, 0.2),
		"sharp orifice": Orifice(1e-3, 0.61, 0, 0),
		"deep slot":     Orifice(0.15*0.015, 0.65, 0.022, 0.015),
		"crack":         Crack(1e-5, 0.65),
		"turbulent":     Crack(1e-5, 0.5),
		"laminar":       Crack(1e-5, 1),
		"slot crack":    SlotCrack(0.001, 0.4, 0.02, 1),
		"cloth":         Darcy(1e-10/0.01, 0.17),
		"mesh":          Mesh(0.1, 0.7, 0.0005),
		"mesh and slot": series,
	}
}

// Every law must be odd, rise strictly, be undone by Drop, and carry the slope and
// the integral that the solver relies on.
func TestLawProperties(t *testing.T) {
	const rho, mu = 1.25, 1.75e-5
	for name, law := range laws() {
		if err := law.check(); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		s := law.side(rho, mu)
		if _, slope, _ := s.flow(0); !(slope > 0) || math.IsInf(slope, 0) {
			t.Errorf("%s: slope at rest %g", name, slope)
		}
		before := 0.0
		for dp := 1e-9; dp < 200; dp *= 1.7 {
			q := law.Flow(dp, rho, mu)
			if !(q > before) {
				t.Errorf("%s: flow %g at %g Pa, %g below", name, q, dp, before)
			}
			before = q
			if back := law.Flow(-dp, rho, mu); back != -q {
				t.Errorf("%s: %g forward and %g back at %g Pa", name, q, back, dp)
			}
			if got := law.Drop(q, rho, mu); math.Abs(got-dp) > 1e-11*dp {
				t.Errorf("%s: drop %g of the flow at %g Pa", name, got, dp)
			}
			h := 1e-4 * dp
			qp, _, ip := s.flow(dp + h)
			qm, _, im := s.flow(dp - h)
			_, slope, _ := s.flow(dp)
			// Central differences: error of second order in 1e-4, and rounding of
			// the integral's constant near rest.
			if d := (qp - qm) / (2 * h); math.Abs(d-slope) > 1e-6*slope {
				t.Errorf("%s at %g Pa: slope %g, differences %g", name, dp, slope, d)
			}
			if d := (ip - im) / (2 * h); dp > 1e-4 && math.Abs(d-q) > 1e-6*q {
				t.Errorf("%s at %g Pa: integral's slope %g, flow %g", name, dp, d, q)
			}
		}
	}
}

func TestLawValues(t *testing.T) {
	const rho, mu = 1.2, 1.8e-5
	for _, tc := range []struct {
		name      string
		law       Law
		dp        float64
		want, tol float64 // [m³/s]; tol as a share
	}{
		// n w g³ dp/(12 mu L)
		{"seam", Seam(2, 0.4, 0.01, 0.2), 0.01, 2 * 0.4 * 1e-6 * 0.01 / (12 * mu * 0.2), 1e-12},
		{"half open", SeamBlocked(2, 0.4, 0.01, 0.2, 0.5), 0.01, 0.4 * 1e-6 * 0.01 / (12 * mu * 0.2), 1e-12},
		{"darcy", Darcy(2e-9, 0.1), 1, 2e-9 * 0.1 / mu, 1e-12},
		// Cd A sqrt(2 dp/rho), less 0.1 % for the linear end
		{"orifice", Orifice(1e-3, 0.6, 0, 0), 2, 0.6e-3 * math.Sqrt(4/rho), 1e-3},
		// pure friction in a deep narrow slot
		{"friction", Orifice(1e-4, 0.6, 0.1, 1e-3), 1e-3, 1e-4 * 1e-6 * 1e-3 / (12 * mu * 0.1), 2e-3},
	} {
		if got := tc.law.Flow(tc.dp, rho, mu); math.Abs(got-tc.want) > tc.tol*tc.want {
			t.Errorf("%s: %g m³/s, want %g", tc.name, got, tc.want)
		}
	}
}

func TestCrack(t *testing.T) {
	// In reference air the leakage area passes at 4 Pa what a nozzle passes.
	law := CrackFromLeakArea(1e-4, 0.65)
	want := 1e-4 * math.Sqrt(8/ReferenceDensity)
	if got := law.Flow(4, ReferenceDensity, ReferenceViscosity); math.Abs(got-want) > 1e-6*want {
		t.Errorf("leakage area: %g m³/s at 4 Pa, want %g", got, want)
	}
	// The bend is stated to take 0.2 % at 10 mPa and 0.002 % at 100 mPa.
	for dp, share := range map[float64]float64{0.01: 0.0018, 0.1: 1.8e-5} {
		pure := law.Coefficient * math.Pow(dp, 0.65)
		if got := 1 - law.Flow(dp, ReferenceDensity, ReferenceViscosity)/pure; math.Abs(got-share) > 0.1*share {
			t.Errorf("bend at %g Pa takes a share of %g, want %g", dp, got, share)
		}
	}
	// Exponent 1 is pure viscosity, 0.5 pure inertia.
	if a, b := Crack(1, 1).Flow(1, 1, ReferenceViscosity/2), Crack(1, 1).Flow(1, 1.2, ReferenceViscosity); math.Abs(a-2*b) > 1e-9 {
		t.Errorf("half viscosity moves %g, whole %g", a, b)
	}
	if a, b := Crack(1, 0.5).Flow(1, ReferenceDensity/4, 1e-5), Crack(1, 0.5).Flow(1, ReferenceDensity, 2e-5); math.Abs(a-2*b) > 1e-9 {
		t.Errorf("quarter density moves %g, whole %g", a, b)
	}
}

func TestInSeriesRejectsPowerLaw(t *testing.T) {
	if _, err := InSeries(Crack(1, 0.6), Seam(1, 1, 0.01, 1)); err == nil {
		t.Error("power law accepted")
	}
}

// The exact friction of laminar flow in a rectangle, by its series (Fourier), says
// how good SlotGap is.
func TestHydraulicGaps(t *testing.T) {
	for _, tc := range []struct{ ratio, tol float64 }{{1, 0.13}, {0.5, 0.01}, {0.2, 0.002}, {0.05, 0.001}} {
		sum := 0.0
		for n := 1.0; n < 60; n += 2 {
			sum += math.Tanh(n*math.Pi/(2*tc.ratio)) / math.Pow(n, 5)
		}
		exact := 1 - 192*tc.ratio/math.Pow(math.Pi, 5)*sum // (g/h)²
		got := SlotGap(tc.ratio, 1) / tc.ratio
		if math.Abs(got*got/exact-1) > tc.tol {
			t.Errorf("sides 1:%g: friction gap² %g of the side², exact %g", tc.ratio, got*got, exact)
		}
	}
	if got := 12 / math.Pow(RoundGap(1), 2); math.Abs(got-32) > 1e-12 {
		t.Errorf("round: 12/gap² = %g, want 32", got)
	}
}
