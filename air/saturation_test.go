package air

import (
	"math"
	"math/rand/v2"
	"testing"
)

// near reports whether got lies within tolerance of want.
func near(got, want, tolerance float64) bool { return math.Abs(got-want) <= tolerance }

func TestSaturationPressure(t *testing.T) {
	// Column 2: ASHRAE Handbook Fundamentals (2017), chapter 1, table 3. It
	// rests on later formulations than the equations, hence the tolerance.
	for _, row := range []struct{ temp, want, share float64 }{
		{-60, 1.08, 5e-3}, // printed with three digits
		{-20, 103.24, 3e-4},
		{-5, 401.74, 3e-4},
		{5, 872.6, 3e-4},
		{25, 3169.7, 3e-4},
		{50, 12351.3, 3e-4},
		{100, 101418, 1e-3},
	} {
		if got := SaturationPressure(row.temp); !near(got, row.want, row.share*row.want) {
			t.Errorf("SaturationPressure(%g) = %g Pa, want %g", row.temp, got, row.want)
		}
	}
	if ice, water := SaturationPressure(-10), SaturationPressureLiquid(-10); ice >= water {
		t.Errorf("at -10 °C ice has %g Pa, not below supercooled water with %g Pa", ice, water)
	}
	ice, water := saturationIce(TriplePoint), SaturationPressureLiquid(TriplePoint)
	if !near(ice, water, 1e-8*water) || ice > water {
		t.Errorf("at the triple point ice has %.9g Pa and water %.9g Pa", ice, water)
	}
	if ice != triplePressure {
		t.Errorf("triplePressure = %v, want %v", triplePressure, ice)
	}
}

func TestSaturationRises(t *testing.T) {
	for _, f := range []struct {
		name string
		f    func(float64) float64
	}{
		{"exact", SaturationPressure},
		{"fast", SaturationPressureFast},
		{"liquid", SaturationPressureLiquid},
	} {
		previous := f.f(-100)
		for i := 1; i <= 30000; i++ {
			temp := -100 + float64(i)*0.01
			got := f.f(temp)
			if got <= previous {
				t.Fatalf("%s: %g Pa at %g °C is not above %g Pa one hundredth of a degree below", f.name, got, temp, previous)
			}
			previous = got
		}
	}
}

func TestSaturationSlope(t *testing.T) {
	const step = 1e-3 // central difference: truncation 1e-9, rounding 1e-9 of the value
	for temp := -80.5; temp < 120; temp++ {
		want := (SaturationPressure(temp+step) - SaturationPressure(temp-step)) / (2 * step)
		if got := SaturationSlope(temp); !near(got, want, 1e-7*want) {
			t.Errorf("SaturationSlope(%g) = %g, want %g Pa/K", temp, got, want)
		}
	}
}

// TestClausiusClapeyron checks the slope against the latent heat, which comes
// from other sources: L = R T² d ln(p)/dt holds for an ideal gas of negligible
// liquid volume, within 0.5 % in this range.
func TestClausiusClapeyron(t *testing.T) {
	for temp := -40.0; temp <= 40; temp += 2.5 {
		tK := temp + ZeroCelsius
		got := GasConstantVapour * tK * tK * SaturationSlope(temp) / SaturationPressure(temp)
		want := LatentEvaporation(temp)
		if temp <= TriplePoint {
			want = LatentSublimation(temp)
		}
		if !near(got, want, 5e-3*want) {
			t.Errorf("at %g °C the saturation line implies %g J/kg, latent heat is %g", temp, got, want)
		}
	}
}

func TestSaturationFast(t *testing.T) {
	var worst, worstSlope float64
	for i := 0; i <= 140000; i++ {
		temp := -60 + float64(i)*0.001
		want, wantSlope := SaturationPressure(temp), SaturationSlope(temp)
		got, slope := SaturationFast(temp)
		if got != SaturationPressureFast(temp) {
			t.Fatalf("the two fast forms differ at %g °C", temp)
		}
		worst = math.Max(worst, math.Abs(got/want-1))
		worstSlope = math.Max(worstSlope, math.Abs(slope/wantSlope-1))
	}
	t.Logf("largest relative error: pressure %.3g, slope %.3g", worst, worstSlope)
	if !(worst < 2e-7) {
		t.Errorf("fast pressure is off by %g of its value, stated 2e-7", worst)
	}
	if !(worstSlope < 1e-6) {
		t.Errorf("fast slope is off by %g of its value, stated 1e-6", worstSlope)
	}
	for _, temp := range []float64{-75, -60.001, 80.001, 120} {
		got, slope := SaturationFast(temp)
		if got != SaturationPressure(temp) || slope != SaturationSlope(temp) || SaturationPressureFast(temp) != got {
			t.Errorf("outside its range the fast form at %g °C differs from the exact one", temp)
		}
	}
	if p, slope := SaturationFast(math.NaN()); !math.IsNaN(p) || !math.IsNaN(slope) {
		t.Errorf("SaturationFast(NaN) = %g, %g", p, slope)
	}
}

// TestFastCoefficients computes the coefficients anew: Newton's divided
// differences through Chebyshev-Lobatto points, multiplied out.
func TestFastCoefficients(t *testing.T) {
	const degree = 6
	for _, row := range []struct {
		name      string
		low, high float64
		f         func(float64) float64
		have      [degree + 1]float64
	}{
		{"ice", fastLow, TriplePoint, saturationIce,
			[...]float64{fastIce0, fastIce1, fastIce2, fastIce3, fastIce4, fastIce5, fastIce6}},
		{"liquid", TriplePoint, fastHigh, SaturationPressureLiquid,
			[...]float64{fastLiquid0, fastLiquid1, fastLiquid2, fastLiquid3, fastLiquid4, fastLiquid5, fastLiquid6}},
	} {
		var u, d, want [degree + 1]float64
		for i := range u {
			u[i] = -math.Cos(math.Pi * float64(i) / degree)
			p := row.f(row.low + (u[i]+1)/2*(row.high-row.low))
			d[i] = math.Sqrt(math.Sqrt(math.Sqrt(p)))
		}
		for j := 1; j <= degree; j++ {
			for i := degree; i >= j; i-- {
				d[i] = (d[i] - d[i-1]) / (u[i] - u[i-j])
			}
		}
		want[0] = d[degree]
		for i := degree - 1; i >= 0; i-- {
			for k := degree - i; k >= 1; k-- {
				want[k] = want[k-1] - u[i]*want[k]
			}
			want[0] = d[i] - u[i]*want[0]
		}
		for k := range want {
			if !near(row.have[k], want[k], 1e-12) { // rounding of the differences
				t.Errorf("%s: coefficient %d is %v, want %v", row.name, k, row.have[k], want[k])
			}
		}
	}
}

func TestDewPoint(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	for range 20000 {
		temp := -100 + 300*random.Float64()
		if got := DewPoint(SaturationPressure(temp)); !near(got, temp, 1e-9) {
			t.Errorf("DewPoint(SaturationPressure(%v)) = %v", temp, got)
		}
		pv := math.Exp(-6 + 20*random.Float64()) // 0.0025 Pa to 1.2 MPa
		if got := SaturationPressure(DewPoint(pv)); !near(got, pv, 1e-10*pv) {
			t.Errorf("SaturationPressure(DewPoint(%v)) = %v", pv, got)
		}
	}
	for _, row := range []struct{ pv, want float64 }{
		{0, -100}, {-5, -100}, {1e-9, -100}, {math.Inf(1), 200}, {1e8, 200},
	} {
		if got := DewPoint(row.pv); got != row.want {
			t.Errorf("DewPoint(%g) = %g, want %g", row.pv, got, row.want)
		}
	}
	if got := DewPoint(math.NaN()); !math.IsNaN(got) {
		t.Errorf("DewPoint(NaN) = %g", got)
	}
}

func benchmarkTemps() []float64 {
	random := rand.New(rand.NewPCG(3, 4))
	temps := make([]float64, 1024)
	for i := range temps {
		temps[i] = -30 + 80*random.Float64()
	}
	return temps
}

func BenchmarkSaturationPressure(b *testing.B) { benchmarkOf(b, SaturationPressure) }

func BenchmarkSaturationPressureFast(b *testing.B) { benchmarkOf(b, SaturationPressureFast) }

func BenchmarkSaturationFast(b *testing.B) {
	benchmarkOf(b, func(t float64) float64 { p, slope := SaturationFast(t); return p + slope })
}

func BenchmarkSaturationExactWithSlope(b *testing.B) {
	benchmarkOf(b, func(t float64) float64 { return SaturationPressure(t) + SaturationSlope(t) })
}

func BenchmarkDewPoint(b *testing.B) {
	benchmarkOf(b, func(t float64) float64 { return DewPoint(1000 + 10*t) })
}

func BenchmarkWetBulb(b *testing.B) {
	benchmarkOf(b, func(t float64) float64 { return WetBulb(t, 0.001, StandardPressure) })
}

func BenchmarkLewisVapourCoefficient(b *testing.B) {
	benchmarkOf(b, func(t float64) float64 { return LewisVapourCoefficient(4, t, StandardPressure) })
}

func benchmarkOf(b *testing.B, f func(float64) float64) {
	temps := benchmarkTemps()
	b.ReportAllocs()
	sum := 0.0
	for i := 0; b.Loop(); i++ {
		sum += f(temps[i&1023])
	}
	if math.IsNaN(sum) {
		b.Fatal("NaN")
	}
}
