package evidence

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// UniformPrior returns the prior of a proportion under which all shares are alike.
func UniformPrior() distuv.Beta { return distuv.Beta{Alpha: 1, Beta: 1} }

// JeffreysPrior returns the prior of a proportion that stays the same when the
// proportion is written another way.
func JeffreysPrior() distuv.Beta { return distuv.Beta{Alpha: 0.5, Beta: 0.5} }

// BetaPosterior returns what is known of a proportion after x events among n,
// given a prior. Counts need not be whole.
func BetaPosterior(prior distuv.Beta, x, n float64) distuv.Beta {
	return distuv.Beta{Alpha: prior.Alpha + x, Beta: prior.Beta + n - x}
}

// JeffreysInterval returns the equal-tailed posterior interval of a proportion
// from x events among n with the Jeffreys prior. The ends are quantiles: with
// x = 0 the lower end is not 0.
func JeffreysInterval(x, n int, level float64) Interval {
	return quantileInterval(BetaPosterior(JeffreysPrior(), float64(x), float64(n)).Quantile, level)
}

func quantileInterval(quantile func(float64) float64, level float64) Interval {
	return Interval{quantile((1 - level) / 2), quantile((1 + level) / 2)}
}

// ProbDifference returns the probability that b exceeds a by more than by
// [-], for two independent proportions known as beta distributions. Quadrature in
// log odds, good to 1e-9.
func ProbDifference(b, a distuv.Beta, by float64) float64 {
	// In log odds the density is log-concave and smooth, so the trapezium rule
	// on a step well under its breadth is exact to rounding.
	centre := math.Log(b.Alpha / b.Beta)
	step := math.Sqrt((b.Alpha+b.Beta)/(b.Alpha*b.Beta)) / 12
	logDensity := func(y float64) float64 {
		return -b.Alpha*logOnePlusExp(-y) - b.Beta*logOnePlusExp(y)
	}
	top := logDensity(centre)
	var total, part float64
	add := func(y float64) bool {
		l := logDensity(y) - top
		w := math.Exp(l)
		total += w
		part += w * a.CDF(clamp(logistic(y)-by, 0, 1))
		return l > -40
	}
	add(centre)
	for k := 1; add(centre + float64(k)*step); k++ {
	}
	for k := 1; add(centre - float64(k)*step); k++ {
	}
	return part / total
}

// DifferenceInterval returns the equal-tailed posterior interval of b - a [-] for
// two independent proportions known as beta distributions.
func DifferenceInterval(b, a distuv.Beta, level float64) Interval {
	return quantileInterval(func(p float64) float64 {
		return bisect(-1, 1, func(d float64) float64 { return 1 - p - ProbDifference(b, a, d) })
	}, level)
}

// NormalPosterior returns what is known of a mean, in its own unit, after n values with mean
// xbar and known standard deviation sd, given a normal prior.
func NormalPosterior(prior distuv.Normal, xbar, sd float64, n int) distuv.Normal {
	before, data := 1/(prior.Sigma*prior.Sigma), float64(n)/(sd*sd)
	return distuv.Normal{
		Mu:    (prior.Mu*before + xbar*data) / (before + data),
		Sigma: 1 / math.Sqrt(before+data),
	}
}

// PredictiveSD returns the standard deviation of the next value, in its unit,
// when the mean is known as posterior and values scatter about it with sd.
func PredictiveSD(posterior distuv.Normal, sd float64) float64 {
	return math.Hypot(posterior.Sigma, sd)
}

// ReferencePosterior returns what is known of a mean, in its own unit, after n >= 2 values with
// mean xbar and sample standard deviation s under the reference prior, uniform
// in the mean and in the log of the unknown standard deviation.
func ReferencePosterior(xbar, s float64, n int) distuv.StudentsT {
	return distuv.StudentsT{Mu: xbar, Sigma: s / math.Sqrt(float64(n)), Nu: float64(n - 1)}
}
