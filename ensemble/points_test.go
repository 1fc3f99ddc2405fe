package ensemble

import (
	"fmt"
	"math"
	"slices"
	"testing"
)

// TestDirectionNumbers: the first ten points of the unscrambled sequence in three
// dimensions are those that the authors of the table print for their own program
// (from memory).
func TestDirectionNumbers(t *testing.T) {
	v, err := standardDirections()
	if err != nil {
		t.Fatal(err)
	}
	at := func(i uint32, j int) float64 { return float64(v.digits(i, j)) / (1 << 32) }
	// In the order of Gray's code, as printed there; the set of the first 2ᵏ points is
	// the same in either order.
	gray := func(i uint32) uint32 { return i ^ i>>1 }
	want := [][]float64{
		{0, 0, 0}, {0.5, 0.5, 0.5}, {0.75, 0.25, 0.25}, {0.25, 0.75, 0.75}, {0.375, 0.375, 0.625},
		{0.875, 0.875, 0.125}, {0.625, 0.125, 0.875}, {0.125, 0.625, 0.375}, {0.1875, 0.3125, 0.9375}, {0.6875, 0.8125, 0.4375},
	}
	for i, row := range want {
		for j, x := range row {
			if got := at(gray(uint32(i)), j); got != x {
				t.Errorf("point %d, dimension %d: %g, published %g", i, j+1, got, x)
			}
		}
	}
	// Every column of a generator matrix has its leading digit, so that each
	// dimension alone is a permutation of equal steps.
	for j := range MostDimensions {
		seen := map[uint32]bool{}
		for i := range uint32(1024) {
			seen[v.digits(i, j)>>22] = true
		}
		if len(seen) != 1024 {
			t.Fatalf("dimension %d: %d of 1024 cells hit", j+1, len(seen))
		}
	}
	if _, err := readDirections("2,1,0,1\n3,2,1,1"); err == nil {
		t.Error("a cut table is taken")
	}
}

// TestStratified: points of either design fall once into each slice of each number;
// those of the sequence also into each cell of pairs of leading numbers.
func TestStratified(t *testing.T) {
	const n = 256
	for _, m := range []Method{Sobol, LatinHypercube} {
		p := Points{Method: m, Seed: 7, Dimensions: 60, Count: n}
		if err := p.Check(); err != nil {
			t.Fatal(err)
		}
		for j := range p.Dimensions {
			seen := make([]bool, n)
			for i := range n {
				x := p.At(i, j)
				if !(x > 0 && x < 1) {
					t.Fatalf("%s: number %d of point %d is %g", m, j, i, x)
				}
				seen[int(x*n)] = true
			}
			if slices.Contains(seen, false) {
				t.Fatalf("%s, number %d: a slice was left empty", m, j)
			}
		}
	}
	p := Points{Method: Sobol, Seed: 3, Dimensions: 2}
	var cells [16][16]int
	for i := range n {
		cells[int(p.At(i, 0)*16)][int(p.At(i, 1)*16)]++
	}
	for _, row := range cells {
		for _, c := range row {
			if c != 1 {
				t.Fatalf("16 × 16 cells of the first two numbers do not hold one point each: %v", cells)
			}
		}
	}
	// The latin hypercube keeps to any number of points, not powers of two alone.
	p = Points{Method: LatinHypercube, Seed: 1, Dimensions: 3, Count: 37}
	seen := make([]bool, 37)
	for i := range 37 {
		seen[int(p.At(i, 2)*37)] = true
	}
	if slices.Contains(seen, false) {
		t.Error("37 points leave a slice empty")
	}
}

// starDiscrepancy of points in the unit square, exact.
func starDiscrepancy(points [][]float64) float64 {
	n := float64(len(points))
	xs, ys := []float64{1}, []float64{1}
	for _, p := range points {
		xs, ys = append(xs, p[0]), append(ys, p[1])
	}
	worst := 0.0
	for _, x := range xs {
		for _, y := range ys {
			open, closed := 0.0, 0.0
			for _, p := range points {
				if p[0] < x && p[1] < y {
					open++
				}
				if p[0] <= x && p[1] <= y {
					closed++
				}
			}
			worst = math.Max(worst, math.Max(x*y-open/n, closed/n-x*y))
		}
	}
	return worst
}

// TestDiscrepancy: the discrepancy of 128 scrambled points in the square stays
// below that of independent ones, and below the bound for a (0,m,2)-net in base 2,
// N D* <= m/3 + 19/9 (Random Number Generation and Quasi-Monte Carlo Methods, CBMS-NSF
// 63, 1992, theorem 4.7 with its tabled constants; from memory; a bound for every
// net, scrambled or not).
func TestDiscrepancy(t *testing.T) {
	const n, m = 128, 7
	for seed := range uint64(5) {
		get := func(method Method) [][]float64 {
			p := Points{Method: method, Seed: seed, Dimensions: 2, Count: n}
			var out [][]float64
			for i := range n {
				out = append(out, p.Point(i))
			}
			return out
		}
		net, plain := starDiscrepancy(get(Sobol)), starDiscrepancy(get(Plain))
		if bound := (m/3.0 + 19/9.0) / n; net > bound {
			t.Errorf("seed %d: discrepancy %.4f, bound for a net %.4f", seed, net, bound)
		}
		if net > plain/2 {
			t.Errorf("seed %d: discrepancy %.4f, of independent points %.4f", seed, net, plain)
		}
	}
}

// TestIntegration: the integral of the g-function (product of (|4x-2|+a)/(1+a)) is 1
// in any dimension, a standard test of numerical integration; scrambled points come
// nearer than independent ones, and the error of either is unbiased over seeds.
func TestIntegration(t *testing.T) {
	a := []float64{0, 1, 4.5, 9, 99, 99, 99, 99}
	f := func(x []float64) float64 {
		y := 1.0
		for j, aj := range a {
			y *= (math.Abs(4*x[j]-2) + aj) / (1 + aj)
		}
		return y
	}
	const n, seeds = 256, 20
	rms := map[Method]float64{}
	for _, m := range Methods() {
		bias := 0.0
		for seed := range uint64(seeds) {
			p := Points{Method: m, Seed: seed, Dimensions: len(a), Count: n}
			sum := 0.0
			for i := range n {
				sum += f(p.Point(i))
			}
			e := sum/n - 1
			rms[m] += e * e / seeds
			bias += e / seeds
		}
		rms[m] = math.Sqrt(rms[m])
		if math.Abs(bias) > 4*rms[m]/math.Sqrt(seeds) {
			t.Errorf("%s: mean error %.5f with a spread of %.5f", m, bias, rms[m])
		}
	}
	if rms[Sobol] > rms[Plain]/8 || rms[LatinHypercube] > rms[Plain]/2 {
		t.Errorf("errors of integration: %v", rms)
	}
}

// TestPointsArePure: a point depends on nothing but seed and index.
func TestPointsArePure(t *testing.T) {
	p := Points{Method: Sobol, Seed: 11, Dimensions: 12}
	var forward, back []string
	for i := range 50 {
		forward = append(forward, fmt.Sprint(p.Point(i)))
	}
	for i := 49; i >= 0; i-- {
		back = append(back, fmt.Sprint(p.Point(i)))
	}
	slices.Reverse(back)
	if !slices.Equal(forward, back) {
		t.Error("the order of asking changes the points")
	}
	other := Points{Method: Sobol, Seed: 12, Dimensions: 12}
	if p.At(3, 4) == other.At(3, 4) {
		t.Error("the seed changes nothing")
	}
	for _, bad := range []Points{{Method: Sobol}, {Method: Sobol, Dimensions: 257}, {Method: LatinHypercube, Dimensions: 2}, {Method: "halton", Dimensions: 2}, {Method: Plain, Dimensions: 2, Count: -1}} {
		if bad.Check() == nil {
			t.Errorf("%+v is taken", bad)
		}
	}
}
