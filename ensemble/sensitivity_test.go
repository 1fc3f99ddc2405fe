package ensemble

import (
	"math"
	"math/rand/v2"
	"testing"
)

// ishigami is the published test function sin x1 + 7 sin² x2 + 0.1 x3⁴ sin x1 on
// (-π, π)³ ("An importance quantification technique in uncertainty analysis for
// computer models", ISUMA 1990).
func ishigami(u []float64) float64 {
	var x [3]float64
	for i := range x {
		x[i] = math.Pi * (2*u[i] - 1)
	}
	return math.Sin(x[0]) + 7*math.Pow(math.Sin(x[1]), 2) + 0.1*math.Pow(x[2], 4)*math.Sin(x[0])
}

// ishigamiShares follow from integration with a = 7, b = 0.1: V1 = (1 + bπ⁴/5)²/2,
// V2 = a²/8, V13 = 8 b²π⁸/225; 0.3139, 0.4424, 0 and total 0.5576, 0.4424, 0.2437.
func ishigamiShares() (first, total [3]float64) {
	const a, b = 7.0, 0.1
	p4 := math.Pow(math.Pi, 4)
	v1, v2, v13 := math.Pow(1+b*p4/5, 2)/2, a*a/8, 8*b*b*p4*p4/225
	v := v1 + v2 + v13
	return [3]float64{v1 / v, v2 / v, 0}, [3]float64{(v1 + v13) / v, v2 / v, v13 / v}
}

func answersOf(count int, point func(int) []float64, f func([]float64) float64) []float64 {
	var y []float64
	for i := range count {
		y = append(y, f(point(i)))
	}
	return y
}

// TestSharesOfIshigami against the closed form.
func TestSharesOfIshigami(t *testing.T) {
	first, total := ishigamiShares()
	if math.Abs(first[0]-0.3139) > 5e-5 || math.Abs(first[1]-0.4424) > 5e-5 || math.Abs(total[0]-0.5576) > 5e-5 || math.Abs(total[2]-0.2437) > 5e-5 {
		t.Fatalf("closed form %v %v is not the published one", first, total)
	}
	s := Shares{Dimensions: 3, Rows: 4096, Seed: 1}
	if err := s.Check(); err != nil {
		t.Fatal(err)
	}
	for k, got := range s.Indices(answersOf(s.Count(), s.Point, ishigami)) {
		if math.Abs(got.First.Value-first[k]) > 0.01 || math.Abs(got.Total.Value-total[k]) > 0.01 {
			t.Errorf("x%d: first %.4f, published %.4f; total %.4f, published %.4f", k+1, got.First.Value, first[k], got.Total.Value, total[k])
		}
	}
}

// TestSharesOfG against the closed form of the g-function ("Theorems and examples on
// high dimensional model representation", Reliability Engineering & System Safety 79
// (2003) 187): V_i = 1/(3 (1+a_i)²).
func TestSharesOfG(t *testing.T) {
	a := []float64{0, 1, 4.5, 9, 99, 99, 99, 99}
	g := func(x []float64) float64 {
		y := 1.0
		for j := range a {
			y *= (math.Abs(4*x[j]-2) + a[j]) / (1 + a[j])
		}
		return y
	}
	all := 1.0
	var v []float64
	for _, aj := range a {
		v = append(v, 1/(3*(1+aj)*(1+aj)))
		all *= 1 + v[len(v)-1]
	}
	variance := all - 1
	s := Shares{Dimensions: 8, Rows: 4096, Seed: 3}
	for k, got := range s.Indices(answersOf(s.Count(), s.Point, g)) {
		first := v[k] / variance
		total := v[k] * all / (1 + v[k]) / variance
		if math.Abs(got.First.Value-first) > 0.015 || math.Abs(got.Total.Value-total) > 0.015 {
			t.Errorf("x%d: first %.4f, published %.4f; total %.4f, published %.4f", k+1, got.First.Value, first, got.Total.Value, total)
		}
	}
	// Groups: the two strong ones and the rest make up a first-order sum and totals
	// that follow from the same product.
	s = Shares{Dimensions: 8, Rows: 4096, Seed: 4, Groups: [][]int{{0, 1}, {2, 3, 4, 5, 6, 7}}}
	strong := (1+v[0])*(1+v[1]) - 1
	weak := all/(1+strong) - 1
	got := s.Indices(answersOf(s.Count(), s.Point, g))
	for k, want := range []float64{strong / variance, weak / variance} {
		if math.Abs(got[k].First.Value-want) > 0.015 {
			t.Errorf("group %d: first %.4f, closed form %.4f", k+1, got[k].First.Value, want)
		}
	}
}

// TestShareIntervals: bootstrap intervals of the total index of a rough run hold the
// closed form in about 95 of 100 repetitions, not far fewer.
func TestShareIntervals(t *testing.T) {
	_, total := ishigamiShares()
	held, repeats := 0, 60
	for seed := range repeats {
		s := Shares{Dimensions: 3, Rows: 128, Seed: uint64(seed) * 77}
		for k, got := range s.Indices(answersOf(s.Count(), s.Point, ishigami)) {
			if got.Total.Low <= total[k] && total[k] <= got.Total.High {
				held++
			}
		}
	}
	if share := float64(held) / float64(3*repeats); share < 0.87 {
		t.Errorf("intervals hold the truth in %.0f %%", 100*share)
	} else {
		t.Logf("intervals hold the truth in %.0f %%", 100*share)
	}
}

// morris is the test function of the paper of 1991: twenty numbers, w = 2(x - ½) but
// for the third, fifth and seventh, w = 2(1.1x/(x + 0.1) - ½), with the published
// coefficients; those left to chance there are drawn with a fixed seed.
func morris() func([]float64) float64 {
	rng := rand.New(rand.NewPCG(1991, 1))
	var b1 [20]float64
	var b2 [20][20]float64
	for i := range 20 {
		b1[i] = rng.NormFloat64()
		if i < 10 {
			b1[i] = 20
		}
		for j := i + 1; j < 20; j++ {
			b2[i][j] = rng.NormFloat64()
			if i < 6 && j < 6 {
				b2[i][j] = -15
			}
		}
	}
	return func(x []float64) float64 {
		var w [20]float64
		for i := range w {
			w[i] = 2 * (x[i] - 0.5)
			if i == 2 || i == 4 || i == 6 {
				w[i] = 2 * (1.1*x[i]/(x[i]+0.1) - 0.5)
			}
		}
		y := 0.0
		for i := range 20 {
			y += b1[i] * w[i]
			for j := i + 1; j < 20; j++ {
				y += b2[i][j] * w[i] * w[j]
				for l := j + 1; l < 5 && j < 5; l++ {
					y += -10 * w[i] * w[j] * w[l]
					for s := l + 1; s < 4 && l < 4; s++ {
						y += 5 * w[i] * w[j] * w[l] * w[s]
					}
				}
			}
		}
		return y
	}
}

// TestScreeningOfMorris: the picture of the paper's figure 1: the first ten numbers
// stand apart from the others; eight, nine and ten act straight (effects of about 40
// with little spread); the first seven act unevenly; the last ten hardly act.
func TestScreeningOfMorris(t *testing.T) {
	s := Screening{Dimensions: 20, Walks: 40, Levels: 4, Seed: 2}
	if err := s.Check(); err != nil {
		t.Fatal(err)
	}
	effects := s.Effects(answersOf(s.Count(), s.Point, morris()))
	weakest, strongest := math.Inf(1), 0.0
	for j, e := range effects {
		switch {
		case j < 7:
			if e.Spread < 15 {
				t.Errorf("x%d: spread %.1f, the paper finds it uneven", j+1, e.Spread)
			}
		case j < 10:
			if math.Abs(e.Mean-40) > 6 || e.Spread > 12 {
				t.Errorf("x%d: mean %.1f and spread %.1f, the paper finds 40 and little", j+1, e.Mean, e.Spread)
			}
		}
		if j < 10 {
			weakest = math.Min(weakest, e.Size.Value)
		} else {
			strongest = math.Max(strongest, e.Size.Value)
		}
	}
	if !(weakest > 1.5*strongest) {
		t.Errorf("weakest of the first ten %.1f, strongest of the others %.1f", weakest, strongest)
	}
}

// TestScreeningIsExactOnAPlane: straight functions have their slopes as effects.
func TestScreeningIsExactOnAPlane(t *testing.T) {
	s := Screening{Dimensions: 5, Walks: 3, Inside: true, Seed: 8}
	slopes := []float64{3, -2, 0, 10, 0.5}
	y := answersOf(s.Count(), s.Point, func(x []float64) float64 {
		sum := 1.0
		for j := range slopes {
			if !(x[j] > 0.1 && x[j] < 0.9) {
				t.Fatalf("a number stands at the end: %v", x)
			}
			sum += slopes[j] * x[j]
		}
		return sum
	})
	y[7] = math.NaN() // one run failed
	for j, e := range s.Effects(y) {
		if math.Abs(e.Mean-slopes[j]) > 1e-9 || math.Abs(e.Size.Value-math.Abs(slopes[j])) > 1e-9 || e.Spread > 1e-9 {
			t.Errorf("x%d: %+v, slope %g", j+1, e, slopes[j])
		}
	}
}
