package evidence

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// ClopperPearson returns the exact interval of a proportion from x events among
// n, 0 <= x <= n: the ends at which the binomial tails are (1-level)/2 each. It
// never covers less than level. With n = 0 it is 0 to 1.
//
// Source: The use of confidence or fiducial limits illustrated in the case of
// the binomial, Biometrika 26 (1934), 404-413; beta form, from memory.
func ClopperPearson(x, n int, level float64) Interval {
	v := Interval{0, 1}
	tail := (1 - level) / 2
	if x > 0 {
		v.Lo = distuv.Beta{Alpha: float64(x), Beta: float64(n - x + 1)}.Quantile(tail)
	}
	if x < n {
		v.Hi = distuv.Beta{Alpha: float64(x + 1), Beta: float64(n - x)}.Quantile(1 - tail)
	}
	return v
}

// Wilson returns the score interval of a proportion from x events among n,
// without continuity correction; x and n need not be whole, so that counts
// reduced by a design effect can be used. It covers level on average over
// proportions. With n = 0 it is 0 to 1.
//
// Source: Probable inference, the law of succession, and statistical inference,
// Journal of the American Statistical Association 22 (1927), 209-212; from memory.
func Wilson(x, n, level float64) Interval {
	if n <= 0 {
		return Interval{0, 1}
	}
	z := upperZ(level)
	p, z2 := x/n, z*z
	middle := (p + z2/(2*n)) / (1 + z2/n)
	half := z / (1 + z2/n) * math.Sqrt(p*(1-p)/n+z2/(4*n*n))
	v := Interval{middle - half, middle + half}
	if x <= 0 {
		v.Lo = 0
	}
	if x >= n {
		v.Hi = 1
	}
	return v
}

// LogitInterval returns the interval of a proportion that is symmetric in log
// odds, logit(x/n) ± z/sqrt(x(n-x)/n), as a logistic regression with an
// intercept alone prints it; n smaller by a design effect widens it. It needs
// 0 < x < n and is 0 to 1 otherwise.
func LogitInterval(x, n, level float64) Interval {
	if x <= 0 || x >= n {
		return Interval{0, 1}
	}
	centre, half := logit(x/n), upperZ(level)/math.Sqrt(x*(n-x)/n)
	return Interval{logistic(centre - half), logistic(centre + half)}
}

// BinomialTest returns the two-sided exact probability of an outcome no more
// probable than x events among n when the true proportion is p0.
func BinomialTest(x, n int, p0 float64) float64 {
	dist := distuv.Binomial{N: float64(n), P: p0}
	// As probable, to the rounding of log-gamma.
	limit := dist.Prob(float64(x)) * (1 + 1e-7)
	sum := 0.0
	for k := range n + 1 {
		if q := dist.Prob(float64(k)); q <= limit {
			sum += q
		}
	}
	return math.Min(1, sum)
}

// Newcombe returns the interval of the difference of two independent
// proportions x1/n1 - x2/n2 by the hybrid score method (method 10, without
// continuity correction). Counts need not be whole.
//
// Source: Interval estimation for the difference between independent
// proportions, Statistics in Medicine 17 (1998), 873-890; from memory.
func Newcombe(x1, n1, x2, n2, level float64) Interval {
	if n1 <= 0 || n2 <= 0 {
		return Interval{-1, 1}
	}
	p1, p2 := x1/n1, x2/n2
	w1, w2 := Wilson(x1, n1, level), Wilson(x2, n2, level)
	return Interval{
		Lo: p1 - p2 - math.Hypot(p1-w1.Lo, w2.Hi-p2),
		Hi: p1 - p2 + math.Hypot(w1.Hi-p1, p2-w2.Lo),
	}
}

// McNemarResult compares paired yes-or-no outcomes by their discordant pairs.
type McNemarResult struct {
	ChiSquare          float64 // [-] one degree of freedom
	P                  float64 // [-] of ChiSquare
	ChiSquareCorrected float64 // [-] with continuity correction
	PCorrected         float64 // [-] of ChiSquareCorrected
	PExact             float64 // [-] two-sided, binomial
}

// McNemar tests b pairs that changed one way against c that changed the other.
// Without discordant pairs every probability is 1.
//
// Source: Note on the sampling error of the difference between correlated
// proportions or percentages, Psychometrika 12 (1947), 153-157; from memory.
func McNemar(b, c int) McNemarResult {
	n := float64(b + c)
	if n == 0 {
		return McNemarResult{P: 1, PCorrected: 1, PExact: 1}
	}
	gap := math.Abs(float64(b - c))
	corrected := math.Max(0, gap-1)
	r := McNemarResult{
		ChiSquare:          gap * gap / n,
		ChiSquareCorrected: corrected * corrected / n,
		PExact:             BinomialTest(b, b+c, 0.5),
	}
	r.P, r.PCorrected = chiSquareTail(r.ChiSquare), chiSquareTail(r.ChiSquareCorrected)
	return r
}
