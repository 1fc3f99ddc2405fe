package climate

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"
)

// pirie are the annual maximum sea levels at Port Pirie, 1923 to 1987 [m]: An
// Introduction to Statistical Modeling of Extreme Values (2001), example 1.1.
var pirie = []float64{
	4.03, 3.83, 3.65, 3.88, 4.01, 4.08, 4.18, 3.80, 4.36, 3.96, 3.98, 4.69, 3.85, 3.96, 3.85, 3.93,
	3.75, 3.63, 3.57, 4.25, 3.97, 4.05, 4.24, 4.22, 3.73, 4.37, 4.06, 3.71, 3.96, 4.06, 4.55, 3.79,
	3.89, 4.11, 3.85, 3.86, 3.86, 4.21, 4.01, 4.11, 4.24, 3.96, 4.21, 3.74, 3.85, 3.88, 3.66, 4.11,
	3.71, 4.18, 3.90, 3.78, 3.91, 3.72, 4.00, 3.66, 3.62, 4.33, 4.55, 3.75, 4.08, 3.90, 3.88, 3.94, 4.33,
}

// TestFitGEVPublished holds the fit against section 3.4.1 of the book (pages 59
// and 60) and, to more digits, the printout of a statistics package for the same
// data.
func TestFitGEVPublished(t *testing.T) {
	f, err := FitGEV(pirie)
	if err != nil {
		t.Fatal(err)
	}
	// The interval of the profile likelihood is of the same section, from memory.
	low10, high10, err := f.Interval(10, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	low100, high100, err := f.Interval(100, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		what                 string
		got, want, tolerance float64 // half a unit of the last digit printed, or what two optimisers may differ by
	}{
		{"location", f.Location, 3.87474692, 1e-5},
		{"scale", f.Scale, 0.19804120, 1e-5},
		{"shape", f.Shape, -0.05008773, 5e-5},
		{"log-likelihood", f.LogLikelihood, 4.339058, 1e-6},
		{"variance of the location", f.Covariance[0][0], 0.000780, 0.0000006},
		{"covariance of location and scale", f.Covariance[0][1], 0.000197, 0.0000006},
		{"covariance of location and shape", f.Covariance[0][2], -0.00107, 0.000006},
		{"variance of the scale", f.Covariance[1][1], 0.000410, 0.0000006},
		{"covariance of scale and shape", f.Covariance[1][2], -0.000778, 0.0000006},
		{"variance of the shape", f.Covariance[2][2], 0.00965, 0.000006},
		{"10-year level", f.ReturnLevel(10), 4.30, 0.005},
		{"100-year level", f.ReturnLevel(100), 4.69, 0.005},
		{"variance of the 10-year level", f.ReturnLevelVariance(10), 0.00303, 0.00001},
		{"10-year level, low end", low10, 4.21, 0.01},
		{"10-year level, high end", high10, 4.45, 0.01},
		{"100-year level, low end", low100, 4.50, 0.01},
		{"100-year level, high end", high100, 5.27, 0.01},
	} {
		if !(math.Abs(c.got-c.want) <= c.tolerance) {
			t.Errorf("%s: got %.6g, published %.6g, tolerance %g", c.what, c.got, c.want, c.tolerance)
		}
	}
}

// TestLMomentsPublished holds L-moments and the fit from them against the
// printout and the tests of a package of routines for L-moments.
func TestLMomentsPublished(t *testing.T) {
	values := []float64{2.0, 3.0, 4.0, 2.4, 5.5, 1.2, 5.4, 2.2, 7.1, 1.3, 1.5}
	l1, l2, skewness := LMoments(values)
	g, err := FitGEVByLMoments(values)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		what                 string
		got, want, tolerance float64
	}{
		{"first", l1, 3.2363636363636363, 1e-14},
		{"second", l2, 1.1418181818181818, 1e-14},
		{"skewness", skewness, 0.27388535031847133, 1e-14},
		// Printed to seven digits, solved for there to about 1e-6.
		{"location", g.Location, 2.1792884, 2e-6},
		{"scale", g.Scale, 1.3956404, 2e-6},
		{"shape", g.Shape, 0.1555609, 2e-6},
		{"quantile at 0.2", g.Quantile(0.2), 1.539112, 2e-6},
		{"quantile at 0.8", g.Quantile(0.8), 4.537048, 2e-6},
		{"probability of 5", g.CDF(5), 0.8415637, 1e-6},
		{"log-likelihood", g.logLikelihood(values), -21.2807575, 1e-5},
	} {
		if !(math.Abs(c.got-c.want) <= c.tolerance) {
			t.Errorf("%s: got %.9g, published %.9g", c.what, c.got, c.want)
		}
	}
}

func TestGEVRoundTrips(t *testing.T) {
	for _, shape := range []float64{-0.6, -0.2, -1e-8, 0, 1e-8, 0.1, 0.4} {
		g := GEV{Location: 20, Scale: 3, Shape: shape}
		for _, p := range []float64{0.01, 0.3, 0.5, 0.9, 0.999} {
			if got := g.CDF(g.Quantile(p)); math.Abs(got-p) > 1e-12 {
				t.Errorf("shape %g: F(quantile(%g)) = %g", shape, p, got)
			}
		}
	}
	bounded, open := GEV{0, 1, -0.5}, GEV{0, 1, 0.5}
	if bounded.CDF(2.1) != 1 || open.CDF(-2.1) != 0 {
		t.Errorf("beyond the ends: %g above, %g below; want 1 and 0", bounded.CDF(2.1), open.CDF(-2.1))
	}
	if !math.IsNaN(open.ReturnLevel(1)) || !math.IsNaN(open.Quantile(0)) {
		t.Error("a return level of one year exists")
	}
	// L-moments of the distribution's own quantiles give it back; the grid's
	// coarseness leaves 1e-3.
	const n = 4000
	values := make([]float64, n)
	for i := range values {
		values[i] = GEV{20, 3, -0.2}.Quantile((float64(i) + 0.5) / n)
	}
	g, err := FitGEVByLMoments(values)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(g.Location-20) > 3e-3 || math.Abs(g.Scale-3) > 3e-3 || math.Abs(g.Shape+0.2) > 2e-3 {
		t.Errorf("from its own quantiles: %+v", g)
	}
}

// TestIntervalCovers draws samples from a known distribution and counts how
// often the 95 % interval holds the true 50-year level.
func TestIntervalCovers(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 11))
	truth := GEV{Location: 24, Scale: 1.6, Shape: -0.18} // like hot spells
	const samples, years = 250, 40
	held, sum := 0, 0.0
	for range samples {
		values := make([]float64, years)
		for i := range values {
			values[i] = truth.Quantile(rng.Float64())
		}
		f, err := FitGEV(values)
		if err != nil {
			t.Fatal(err)
		}
		low, high, err := f.Interval(50, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		level := f.ReturnLevel(50)
		if !(low < level && level < high) {
			t.Fatalf("interval %.2f to %.2f around %.2f", low, high, level)
		}
		sum += level / samples
		if want := truth.ReturnLevel(50); low <= want && want <= high {
			held++
		}
	}
	// Chance spreads the share by 0.014. With 40 years the profile interval is known
	// to hold a little less than its nominal share.
	if share := float64(held) / samples; share < 0.90 || share > 0.99 {
		t.Errorf("the 95 %% interval held the true level in %.3f of %d samples", share, samples)
	}
	if want := truth.ReturnLevel(50); math.Abs(sum-want) > 0.25 { // bias of maximum likelihood
		t.Errorf("mean level %.2f, true %.2f", sum, want)
	}
}

func TestFitGEVFaults(t *testing.T) {
	alike := make([]float64, 20)
	for name, values := range map[string][]float64{
		"few": pirie[:9], "alike": alike, "not a number": append([]float64{math.NaN()}, pirie...),
	} {
		if _, err := FitGEV(values); !errors.Is(err, ErrExtremes) {
			t.Errorf("%s: maximum likelihood: %v", name, err)
		}
		if _, err := FitGEVByLMoments(values); !errors.Is(err, ErrExtremes) {
			t.Errorf("%s: L-moments: %v", name, err)
		}
	}
	f, err := FitGEV(pirie)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range [][2]float64{{1, 0.95}, {math.NaN(), 0.95}, {10, 0.2}, {10, 1}} {
		if _, _, err := f.Interval(c[0], c[1]); !errors.Is(err, ErrExtremes) {
			t.Errorf("interval for %g years at %g: %v", c[0], c[1], err)
		}
	}
	// Values that end abruptly have no covariance.
	abrupt := make([]float64, 60)
	for i := range abrupt {
		abrupt[i] = GEV{20, 3, -0.8}.Quantile((float64(i) + 0.5) / 60)
	}
	if f, err = FitGEV(abrupt); err != nil {
		t.Fatal(err)
	}
	if f.Shape > -0.5 || f.Regular || !math.IsNaN(f.ReturnLevelVariance(10)) {
		t.Errorf("abrupt values: %+v regular %v", f.GEV, f.Regular)
	}
}

func BenchmarkFitGEV(b *testing.B) {
	for b.Loop() {
		if _, err := FitGEV(pirie); err != nil {
			b.Fatal(err)
		}
	}
}
