package evidence

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// TTest is the outcome of a t test on a difference of means.
type TTest struct {
	Difference float64  // mean of the first sample less that of the second, unit of the samples
	StdError   float64  // of Difference, unit of the samples
	T          float64  // [-]
	DF         float64  // degrees of freedom [-]
	P          float64  // [-] two-sided
	Interval   Interval // of Difference, unit of the samples
}

func tTest(difference, stdError, df, level float64) TTest {
	dist := distuv.StudentsT{Sigma: 1, Nu: df}
	t := difference / stdError
	half := dist.Quantile((1+level)/2) * stdError
	r := TTest{difference, stdError, t, df, 2 * dist.CDF(-math.Abs(t)), Interval{difference - half, difference + half}}
	if stdError == 0 {
		// All values alike in each sample: any difference is beyond chance.
		r.P = 0
		if difference == 0 {
			r.T, r.P = 0, 1
		}
	}
	return r
}

func twoOrMore(samples ...[]float64) error {
	for i, s := range samples {
		if len(s) < 2 {
			return fmt.Errorf("evidence: sample %d holds %d values, at least two are needed", i+1, len(s))
		}
	}
	return nil
}

// Welch compares the means of x and y without supposing equal variances; degrees
// of freedom by Welch and Satterthwaite. Each sample needs two values.
func Welch(x, y []float64, level float64) (TTest, error) {
	if err := twoOrMore(x, y); err != nil {
		return TTest{}, err
	}
	mx, vx := stat.MeanVariance(x, nil)
	my, vy := stat.MeanVariance(y, nil)
	a, b := vx/float64(len(x)), vy/float64(len(y))
	df := (a + b) * (a + b) / (a*a/float64(len(x)-1) + b*b/float64(len(y)-1))
	if a+b == 0 {
		df = float64(len(x) + len(y) - 2)
	}
	return tTest(mx-my, math.Sqrt(a+b), df, level), nil
}

// Pooled compares the means of x and y supposing equal variances. Each sample
// needs two values.
func Pooled(x, y []float64, level float64) (TTest, error) {
	if err := twoOrMore(x, y); err != nil {
		return TTest{}, err
	}
	mx, vx := stat.MeanVariance(x, nil)
	my, vy := stat.MeanVariance(y, nil)
	nx, ny := float64(len(x)), float64(len(y))
	df := nx + ny - 2
	pooled := ((nx-1)*vx + (ny-1)*vy) / df
	return tTest(mx-my, math.Sqrt(pooled*(1/nx+1/ny)), df, level), nil
}

// Paired compares x and y pair by pair; they need the same length, two or more.
func Paired(x, y []float64, level float64) (TTest, error) {
	if len(x) != len(y) {
		return TTest{}, fmt.Errorf("evidence: %d values cannot be paired with %d", len(x), len(y))
	}
	if err := twoOrMore(x); err != nil {
		return TTest{}, err
	}
	d := make([]float64, len(x))
	for i := range x {
		d[i] = x[i] - y[i]
	}
	mean, variance := stat.MeanVariance(d, nil)
	n := float64(len(d))
	return tTest(mean, math.Sqrt(variance/n), n-1, level), nil
}

// RankTest is the outcome of an exact rank test.
type RankTest struct {
	Statistic float64 // signed-rank sum V or Mann-Whitney U of the first sample [-]
	P         float64 // [-] two-sided, twice the smaller tail
	PLess     float64 // [-] first sample tends to be smaller
	PGreater  float64 // [-] first sample tends to be larger
}

// midranks returns twice the rank of each value, ties sharing their mean rank,
// so that every rank is whole.
func midranks(values []float64) []int {
	order := make([]int, len(values))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case values[a] < values[b]:
			return -1
		case values[a] > values[b]:
			return 1
		}
		return 0
	})
	ranks := make([]int, len(values))
	for i := 0; i < len(order); {
		j := i
		for j+1 < len(order) && values[order[j+1]] == values[order[i]] {
			j++
		}
		for k := i; k <= j; k++ {
			ranks[order[k]] = i + j + 2
		}
		i = j + 1
	}
	return ranks
}

// rankTails sums a distribution of doubled rank sums up to and from the one seen.
func rankTails(prob []float64, seen int) RankTest {
	var r RankTest
	for s, p := range prob {
		if s <= seen {
			r.PLess += p
		}
		if s >= seen {
			r.PGreater += p
		}
	}
	r.PLess, r.PGreater = math.Min(1, r.PLess), math.Min(1, r.PGreater)
	r.P = math.Min(1, 2*math.Min(r.PLess, r.PGreater))
	return r
}

// SignedRank is the exact Wilcoxon signed-rank test of paired differences. Zeros
// are left out; tied sizes share their ranks and the distribution is that of the
// shared ranks. Without a nonzero difference every probability is 1.
//
// Source: Individual comparisons by ranking methods, Biometrics Bulletin 1
// (1945), 80-83; from memory.
func SignedRank(differences []float64) RankTest {
	var size []float64
	var up []bool
	for _, d := range differences {
		if d != 0 {
			size = append(size, math.Abs(d))
			up = append(up, d > 0)
		}
	}
	ranks := midranks(size)
	total, seen := 0, 0
	for i, r := range ranks {
		total += r
		if up[i] {
			seen += r
		}
	}
	prob := make([]float64, total+1)
	prob[0] = 1
	for _, r := range ranks {
		for s := total; s >= 0; s-- {
			from := 0.0
			if s >= r {
				from = prob[s-r]
			}
			prob[s] = (prob[s] + from) / 2
		}
	}
	t := rankTails(prob, seen)
	t.Statistic = float64(seen) / 2
	return t
}

// MannWhitney is the exact Wilcoxon rank-sum test of x against y. Ties share
// their ranks and the distribution is that of the shared ranks over all ways of
// dealing them. Time grows with len(x)·n³, n being the count of all values: for some
// hundreds of values.
//
// Source: On a test of whether one of two random variables is stochastically
// larger than the other, Annals of Mathematical Statistics 18 (1947), 50-60;
// from memory.
func MannWhitney(x, y []float64) RankTest {
	ranks := midranks(append(slices.Clone(x), y...))
	total, seen := 0, 0
	for i, r := range ranks {
		total += r
		if i < len(x) {
			seen += r
		}
	}
	// ways[k][s]: probability that a random draw of the values so far has taken k
	// of them with doubled rank sum s, when all draws of len(x) are alike.
	ways := make([][]float64, len(x)+1)
	for k := range ways {
		ways[k] = make([]float64, total+1)
	}
	ways[0][0] = 1
	for i, r := range ranks {
		left := float64(len(ranks) - i)
		for k := min(i, len(x)); k >= 0; k-- {
			take := (float64(len(x)) - float64(k)) / left
			for s := total; s >= 0; s-- {
				p := ways[k][s]
				if p == 0 {
					continue
				}
				if k < len(x) {
					ways[k+1][s+r] += p * take
				}
				ways[k][s] = p * (1 - take)
			}
		}
	}
	t := rankTails(ways[len(x)], seen)
	t.Statistic = float64(seen)/2 - float64(len(x)*(len(x)+1))/2
	return t
}
