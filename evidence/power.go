package evidence

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// TTestPower returns the probability that a two-sided t test of two samples of n
// values each at significance alpha finds a true difference delta of means when
// values scatter with sd (same unit). n > 1 need not be whole. Noncentral t; both
// tails count.
func TTestPower(n, delta, sd, alpha float64) float64 {
	df := 2 * (n - 1)
	shift := math.Sqrt(n/2) * math.Abs(delta) / sd
	limit := distuv.StudentsT{Sigma: 1, Nu: df}.Quantile(1 - alpha/2)
	const sure = 30 // beyond it the distribution function underflows; the power is 1
	if shift > limit+sure {
		return 1
	}
	if shift == 0 {
		return alpha
	}
	dist := distuv.NoncentralT{Nu: df, Mu: shift}
	power := 1 - dist.CDF(limit)
	if shift < 5 { // else under 1e-11
		power += dist.CDF(-limit)
	}
	return power
}

// TTestSize returns the number of values in each of two samples, not rounded,
// that gives TTestPower the power asked for; +Inf when ten million would not do.
func TTestSize(power, delta, sd, alpha float64) float64 {
	return size(1.0001, power, func(n float64) float64 { return TTestPower(n, delta, sd, alpha) })
}

// ProportionPower returns the probability that a two-sided test of two
// proportions p1 and p2, n in each sample, is significant at alpha; normal
// approximation with the pooled variance under no difference, the far tail left
// out.
func ProportionPower(n, p1, p2, alpha float64) float64 {
	mean := (p1 + p2) / 2
	none := math.Sqrt(2 * mean * (1 - mean))
	own := math.Sqrt(p1*(1-p1) + p2*(1-p2))
	return normalCDF((math.Sqrt(n)*math.Abs(p1-p2) - normalQuantile(1-alpha/2)*none) / own)
}

// ProportionSize returns the number in each of two samples, not rounded, that
// gives ProportionPower the power asked for; +Inf when the proportions are alike.
func ProportionSize(power, p1, p2, alpha float64) float64 {
	return size(1e-6, power, func(n float64) float64 { return ProportionPower(n, p1, p2, alpha) })
}

func size(least, power float64, of func(float64) float64) float64 {
	const most = 1e7
	hi := 2 * math.Max(1, least)
	for of(hi) < power {
		if hi *= 2; hi > most {
			return math.Inf(1)
		}
	}
	if of(least) >= power {
		return least
	}
	return bisect(least, hi, func(n float64) float64 { return of(n) - power })
}

// FisherPower returns the probability that Fisher's two-sided exact test comes
// out at or under alpha with n1 and n2 hives whose true proportions are p1 and
// p2; both binomials are enumerated. Time grows with n1·n2; for some hundreds.
func FisherPower(n1, n2 int, p1, p2, alpha float64) float64 {
	first, second := binomialProbs(n1, p1), binomialProbs(n2, p2)
	power := 0.0
	// Tables with the same number of events share one distribution.
	for events := 0; events <= n1+n2; events++ {
		lo, hi := max(0, events-n2), min(events, n1)
		d := conditionOne(Table{A: lo, B: events - lo, C: n1 - lo, D: n2 - events + lo})
		for k := lo; k <= hi; k++ {
			p := 0.0
			for _, l := range d.logW {
				if l <= d.logW[k-lo]+1e-7 {
					p += math.Exp(l)
				}
			}
			// p of exactly alpha must not hang on rounding.
			if p <= alpha*(1+1e-12) {
				power += first[k] * second[events-k]
			}
		}
	}
	return power
}

func binomialProbs(n int, p float64) []float64 {
	probs := make([]float64, n+1)
	dist := distuv.Binomial{N: float64(n), P: p}
	for k := range probs {
		switch {
		case p <= 0 || p >= 1:
			if (p <= 0 && k == 0) || (p >= 1 && k == n) {
				probs[k] = 1
			}
		default:
			probs[k] = dist.Prob(float64(k))
		}
	}
	return probs
}

// DesignEffect returns how many times more records are needed when they come in
// groups of m that are alike with intraclass correlation icc [-]: 1 + (m-1) icc.
// For groups of unequal size m is the mean weighted by size, sum m²/sum m.
func DesignEffect(m, icc float64) float64 { return 1 + (m-1)*icc }

// Clusters returns the whole number of groups of m that holds n records once
// inflated by the design effect, and the inflated number itself.
func Clusters(n, m, icc float64) (records float64, clusters int) {
	records = n * DesignEffect(m, icc)
	return records, int(math.Ceil(records/m - 1e-9))
}

// IntraclassFromDesign returns the intraclass correlation that explains a design
// effect in groups of m > 1.
func IntraclassFromDesign(effect, m float64) float64 { return (effect - 1) / (m - 1) }
