package rank

import (
	"math"
	"math/rand/v2"
	"slices"
)

// Range is a mean with its spread.
type Range struct {
	Mean float64 `json:"mean"`
	// Low and High hold the middle eight tenths of the draws: one year or colony in
	// ten lies below, one above.
	Low  float64 `json:"p10"`
	High float64 `json:"p90"`
	// Error is the standard error of the mean over the draws, 0 for fewer than two.
	Error float64 `json:"standard_error"`
}

// rangeOf summarises draws; none give zeros.
func rangeOf(x []float64) Range {
	if len(x) == 0 {
		return Range{}
	}
	var r Range
	for _, v := range x {
		r.Mean += v / float64(len(x))
	}
	sorted := slices.Clone(x)
	slices.Sort(sorted)
	r.Low, r.High = quantile(sorted, 0.1), quantile(sorted, 0.9)
	if len(x) > 1 {
		sum := 0.0
		for _, v := range x {
			sum += (v - r.Mean) * (v - r.Mean)
		}
		r.Error = math.Sqrt(sum / float64(len(x)-1) / float64(len(x)))
	}
	return r
}

// quantile of sorted values, linear between them (type 7 of "Sample quantiles in
// statistical packages", The American Statistician 50, 361, 1996, from memory).
func quantile(sorted []float64, p float64) float64 {
	at := p * float64(len(sorted)-1)
	i := int(at)
	if i+1 >= len(sorted) {
		return sorted[len(sorted)-1]
	}
	return sorted[i] + (at-float64(i))*(sorted[i+1]-sorted[i])
}

// resamples of the bootstrap, and its seed: the same draws always give the same
// interval.
const (
	resamples = 2000
	seed      = 20260101
)

// meanBetween is the interval that holds the mean of the draws in eight of ten
// cases, by the percentile bootstrap.
func meanBetween(x []float64) (low, high float64) {
	if len(x) == 0 {
		return 0, 0
	}
	source := rand.New(rand.NewPCG(seed, uint64(len(x))))
	means := make([]float64, resamples)
	for i := range means {
		for range x {
			means[i] += x[source.IntN(len(x))] / float64(len(x))
		}
	}
	slices.Sort(means)
	return quantile(means, 0.1), quantile(means, 0.9)
}

// clear reports whether a mean difference stands clear of zero, by twice its
// standard error (about 95 %).
func (r Range) clear() bool { return math.Abs(r.Mean) > 2*r.Error }
